"""Input draws: even points, and what each input does to vent and controls."""

import numpy as np
import pytest
from sample_chances import drawn_outcome, offered_outcome
from sample_plants import SEASONS, row_plant
from scipy.stats import norm, qmc

from ventcalc.flow import junctions
from ventcalc.job.input_draws import draws, points, widened, with_values
from ventcalc.job.uncertain_inputs import Input, inputs, table
from ventcalc.units import GRAVITY
from ventcalc.vent.network import compile_network


def of(name, outcome, at=None, only=None):
    """The draws of a design; all inputs in their middle but those ``at`` some point."""
    job, found = outcome(name)
    own = inputs(job, found)
    rows = np.full((3, len(own)), 0.5)
    for k, i in enumerate(own):
        if i.kind.key == only:
            rows[:, k] = at
    network = compile_network(found.remedy.plant, job.seasons)
    return network, draws(network, () if found.held is None else found.held.controls, own, rows)


def test_points_fill_the_cube_more_evenly_than_chance():
    found = points(8, 256, 3)
    assert qmc.discrepancy(found) < 0.3 * qmc.discrepancy(np.random.default_rng(0).random((256, 8)))
    assert not np.array_equal(found, points(8, 256, 4))


def test_widened_points_are_those_of_a_wider_spread():
    at = points(2, 128, 1)
    assert norm.ppf(widened(at, 2.0)) == pytest.approx(2.0 * norm.ppf(at))
    assert widened(at, 1.0) is at


def test_all_in_their_middle_is_the_vent_as_drawn_but_for_the_formula_chosen():
    network, found = of("lodge", drawn_outcome, [0.1, 0.5, 0.9], "junction_formula")
    seasons = len(network.seasons)
    assert found.network.place_pressure[:, :seasons] == pytest.approx(network.place_pressure)
    assert found.network.prescribed[0][:seasons] == pytest.approx(network.prescribed[0], rel=1e-9)
    for row, pipe in enumerate(network.pipes):
        many = found.network.pipes[row]
        assert many.relative_roughness == pytest.approx(pipe.relative_roughness)
        assert many.outside_resistance == pytest.approx(pipe.outside_resistance)
        if pipe.form is not None:
            branch = network.plant.order[pipe.children[-1]]
            ratio = float((branch.diameter / network.plant.order[row].diameter).m_as("")) ** 2
            for variant, author in enumerate(junctions.AUTHORS):
                form = junctions.by_author(author, junctions.junction(branch.junction), min(ratio, 1.0))
                assert [v[variant * seasons] for v in many.form] == pytest.approx(list(form))


@pytest.mark.slow
def test_a_sensor_reads_off_by_as_much_in_every_season_and_a_set_point_too():
    network, found = of("swim_hall", offered_outcome, [0.0, 0.5, 1.0], "sensor")
    off = found.controls[0].offset.reshape(3, -1)
    spread = next(i.spread for i in found.inputs if i.kind.key == "sensor")
    assert off == pytest.approx(np.outer([-spread, 0.0, spread], np.ones(len(network.seasons))), abs=1e-9)
    assert found.controls_in(np.array([0, 7]))[0].offset == pytest.approx([-spread, spread])


def test_a_fan_gives_more_or_less_than_its_curve():
    network, found = of("swim_hall", offered_outcome, norm.cdf([-1.0, 0.0, 1.0]), "fan")
    assert found.controls[0].device.share[:: len(network.seasons)] == pytest.approx([0.95, 1.0, 1.05])


def test_air_in_a_cold_tube_stands_heavier():
    """Hydrostatics of ideal gases: g h p/R (1/T_out - 1/T_room)."""
    job, outcome = offered_outcome("swim_hall")
    network = compile_network(outcome.remedy.plant, job.seasons)
    tube = Input(table()["tube"], "", 1.5)
    found = draws(network, outcome.held.controls, [tube], np.array([[0.0], [1.0]])).controls[0].offset
    lighter = network.pressure / 287.05 * (1.0 / network.outdoor - 1.0 / network.room)
    assert found.reshape(2, -1)[0] == pytest.approx(0.0)
    assert found.reshape(2, -1)[1] == pytest.approx(GRAVITY * 1.5 * lighter, rel=0.02)


@pytest.mark.parametrize("narrowed", ["connector 1", "header 1"])
def test_a_junction_meets_the_bores_that_are_left(narrowed):
    """By hand: a branch of nine tenths of its bore has 0.81 of its share of the combined area, and a combined leg of
    nine tenths makes that share 1/0.81; never more than all of it."""
    plant = row_plant(2, connector_mm=200.0)
    network = compile_network(plant, SEASONS)
    many, _ = with_values(network, (), {("narrow", narrowed): np.array([1.0, 0.9])}, 2, ())
    row, branch = plant.row("header 1"), plant.section("connector 1")
    drawn = float((branch.diameter / plant.section("header 1").diameter).m_as("")) ** 2
    shares = drawn, drawn * (0.81 if narrowed == branch.name else 1.0 / 0.81)
    assert max(shares) < 1.0
    form = junctions.junction(branch.junction)
    for variant, share in enumerate(shares):
        by_hand = junctions.by_author(junctions.AUTHORS[0], form, share)
        at = variant * len(network.seasons)
        assert [np.broadcast_to(v, len(many.outdoor))[at] for v in many.pipes[row].form] == pytest.approx(list(by_hand))
