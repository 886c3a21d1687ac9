"""Changed network: variants joined and stacked, and pipes that have another bore."""

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.flow import fittings
from ventcalc.job import input_draws
from ventcalc.job.changed_network import changed, joined, stacked
from ventcalc.units import Q_
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


def test_a_narrow_bore_has_the_sizes_of_its_diameter_and_the_losses_of_what_it_meets():
    """Of 0.8 of the diameter: area by its square; no section narrower than drawn keeps its junction's coefficients."""
    row, values = DRAWN.plant.row("stack"), {("narrow", "stack"): np.array([1.0, 0.8])}
    many, _ = input_draws.with_values(DRAWN, (), values, 2, ())
    pipe, own = many.pipes[row], DRAWN.pipes[row]
    for name, power in (("diameter", 1), ("area", 2), ("surface", 1), ("relative_roughness", -1)):
        found = getattr(pipe, name)
        assert found[0] == pytest.approx(getattr(own, name))
        assert found[-1] == pytest.approx(getattr(own, name) * 0.8**power), name
    # The header's last piece narrows into it, by a reducer: 0.5 (1 - a) sin(30 deg) on the narrow head (Crane, from
    # memory), a = 0.64, on the header's own head 1/a^2 times as much.
    before = DRAWN.plant.row("header 2")
    more = many.pipes[before].fixed_loss[-1] - many.pipes[before].fixed_loss[0]
    stack, header = DRAWN.plant.section("stack"), DRAWN.plant.section("header 2")
    assert stack.diameter == header.diameter
    wanted = float(fittings.size_change(header.diameter, 0.8 * stack.diameter, Q_(60.0, "degree")).m_as(""))
    assert more == pytest.approx(wanted / 0.8**4)


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


def test_pressure_at_a_termination_stands_beside_the_wind_there():
    """Outdoor pressure that rises by 3 Pa at the end of the vent pushes back by as much, in every season."""
    row = DRAWN.plant.row("stack")
    calm, pushed = of("terminal pressure", "top", 0.0, 3.0).pipes[row].wind.reshape(2, -1)
    assert pushed - calm == pytest.approx([3.0, 3.0])
    assert calm == pytest.approx(DRAWN.pipes[row].wind * DRAWN.wind_head)


def test_a_cap_and_a_way_that_stands_open_cost_and_let_in_what_they_should():
    row = DRAWN.plant.row("stack")
    one, more = of("cap loss", "top", 0.0, 1.5).pipes[row].end_loss[:: len(SEASONS[:2])]
    assert more - one == pytest.approx(1.5)
    # An idle way of 10 cm2 lets in mu A sqrt(2 rho dp): R = dp / m2 by hand; while it fires it stands shut.
    open_way = of("idle", "B1", 1e-3).resistance[0]
    density = DRAWN.place_density[DRAWN.rooms[0]]
    flow = 0.6 * 1e-3 * np.sqrt(2.0 * density * 25.0)
    assert open_way[:, 0] * flow**2 == pytest.approx([25.0, 25.0]) and np.isinf(open_way[:, 1:]).all()
