"""Changed network: variants joined and stacked, and pipes that have the loss of other bores."""

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.job.changed_network import changed, joined, stacked
from ventcalc.vent.network import compile_network
from ventcalc.vent.varied_network import unvaried, varied

DRAWN = compile_network(row_plant(2), SEASONS[:2])


def of(key, subject, *values):
    """A network in variants that differ by one change."""
    count = len(values)
    many = varied(DRAWN, unvaried(DRAWN, count))
    return changed(many, DRAWN, {(key, subject): np.array(values)}, count)


def test_nothing_changed_is_the_vent_as_drawn():
    same = of("loss", "stack", 0.0)
    for pipe, own in zip(same.pipes, DRAWN.pipes, strict=True):
        assert pipe.fixed_loss == pytest.approx(own.fixed_loss)
        assert pipe.outside_resistance == pytest.approx(own.outside_resistance)
    assert np.isinf(same.resistance[0]).all()  # sealed while idle
    top = same.pipes[DRAWN.plant.row("stack")]
    assert top.wind * same.wind_head == pytest.approx(DRAWN.pipes[DRAWN.plant.row("stack")].wind * DRAWN.wind_head)


def test_a_narrow_bore_has_the_friction_of_its_diameter_to_the_fifth():
    # Darcy and Weisbach at one mass flow: f L w^2 / D goes by D^-5 (textbook).
    pipe = of("narrow", "stack", 1.0, 0.8).pipes[DRAWN.plant.row("stack")]
    assert pipe.friction_scale[-1] / pipe.friction_scale[0] == pytest.approx(0.8**-5)
    own = DRAWN.pipes[DRAWN.plant.row("stack")].fixed_loss
    # Into it 0.5 (1 - a), out of it (1 - a)^2 (Borda and Carnot; textbook), a = 0.64, on the narrow head.
    assert pipe.fixed_loss[-1] == pytest.approx((own + 0.5 * 0.36 + 0.36**2) / 0.64**2)


def test_a_joint_that_stands_open_lets_in_what_an_orifice_does():
    found = of("joint", "B1", 0.0, 0.01).resistance[0]
    density = DRAWN.place_density[0]
    # m = C A sqrt(2 rho dp), C = 0.6 (textbook): at 10 Pa.
    flow = np.sqrt(10.0 / found[2, 0])
    assert flow == pytest.approx(0.6 * 0.01 * np.sqrt(2.0 * density[0] * 10.0))
    assert np.isinf(found[:2]).all() and np.isfinite(found[2:]).all()


def test_batches_stand_one_behind_the_other():
    values, total = stacked([({("loss", "a"): np.array([2.0])}, 1), ({("rate", "b"): np.array([0.5, 0.6])}, 2)])
    assert total == 3
    assert values["loss", "a"].tolist() == [2.0, 0.0, 0.0] and values["rate", "b"].tolist() == [1.0, 0.5, 0.6]


def test_factors_multiply_and_additions_add():
    both = joined({("rate", "b"): np.array([0.5])}, {("rate", "b"): np.array([0.4]), ("loss", "a"): np.array([1.0])})
    assert both["rate", "b"] == pytest.approx([0.2])
    assert joined(both, {("loss", "a"): np.array([2.0])})["loss", "a"] == pytest.approx([3.0])
