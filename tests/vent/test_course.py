"""What burners and weather do in time: knots, starts, and what a run begins from."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.gas.streams import WATER
from ventcalc.units import Q_
from ventcalc.vent import column_grid
from ventcalc.vent.column_grid import grid
from ventcalc.vent.common_vent import solve
from ventcalc.vent.course import Course, Inputs, Start, beginning, course_of
from ventcalc.vent.gas_content import CONTENT_FLUE, MASS
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States

PLANT = row_plant(2)
ONE = Course(np.array([0.0, 2.0, 4.0]), np.array([[[0.0], [1.0], [2.0]], [[0.0], [0.0], [0.0]]]), np.array([1]),
             np.array([[0.0], [1.0], [1.0]]))  # fmt: skip


def test_between_its_knots_a_course_goes_straight():
    states = ONE.states(np.array([0.0, 1.0, 2.0, 3.0, 9.0]))
    assert states.codes[0] == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0])
    assert states.windy == pytest.approx([0.0, 0.5, 1.0, 1.0, 1.0])
    assert states.season.tolist() == [1] * 5


def test_a_whole_code_is_not_missed_by_rounding():
    """From 0 to 3 in steps that are no binary fractions: at a third of the way the code is 1, not a hair below."""
    ends = np.array([[[0.0], [3.0]]])
    for last in (0.3, 0.7, 1.1, 2.3, 4.9):
        course = Course(np.array([0.0, last]), ends, np.array([1]), np.zeros((2, 1)))
        for shift in (-1e-13, 0.0, 1e-13):
            assert course.states(last * (np.array([1.0, 2.0]) / 3.0 + shift)).codes[0].tolist() == [1.0, 2.0]


def test_what_enters_follows_the_codes():
    network = compile_network(PLANT, SEASONS)
    grid = column_grid.grid(network, 0.5)
    inputs = Inputs(network, grid, ONE.states(np.array([2.0, 3.0])))  # one run: a column a time
    table = network.prescribed[0][1]
    assert inputs.prescribed[:, 0] == pytest.approx([table[1], 0.0])
    assert inputs.prescribed[0, 1] == pytest.approx(0.5 * (table[1] + table[2]))
    # All that a burner sends is flue gas; an idle one would send air.
    assert inputs.content[CONTENT_FLUE, :, 0] / inputs.content[MASS, :, 0] == pytest.approx([1.0, 0.0])


def test_starts_of_many_kinds_share_one_course():
    changes = [Start((0, 0), (2, 0)), Start((2, 2), (1, 1), ramp=5.0, cold=0.0, season=2, windy=0.5)]
    course = course_of(PLANT, changes, 30.0)
    assert course.time.tolist() == [0.0, 2.0, 5.0, 30.0]
    assert course.codes[0].T.tolist() == [[0.0, 2.0, 2.0, 2.0], pytest.approx([2.0, 1.6, 1.0, 1.0])]
    assert course.season.tolist() == [0, 2] and course.start.cold.tolist() == [1.0, 0.0]
    assert course.start.codes.T.tolist() == [[0, 0], [2, 2]] and course.windy[:, 1].tolist() == [0.5] * 4


def test_a_run_begins_as_the_steady_state_stands():
    network = compile_network(PLANT, SEASONS)
    grid = column_grid.grid(network, 0.5)
    start = States(np.array([[2.0], [0.0]]), np.array([0]), np.zeros(1), np.zeros(1))
    course = Course(
        np.array([0.0, 1.0]), np.repeat(start.codes[:, None], 2, axis=1), np.array([0]), np.zeros((2, 1)), start
    )
    around = np.full((grid.real.size, 1), 293.15)
    air = np.concatenate([network.outdoor_gas[:, [0]], np.zeros((1, 1))])
    (temperature, gas, warm), drawn = beginning(grid, course, around, air)
    steady = solve(PLANT, SEASONS, start)
    row = steady.row("header 1")
    assert temperature[grid.first[row] - 1] == pytest.approx(steady.upstream[row])
    assert temperature[grid.last[row] + 1] == pytest.approx(steady.downstream[row])
    inside = temperature[grid.first[row] - 1 : grid.last[row] + 2, 0]
    assert (np.diff(inside) < 0.0).all()
    idle = steady.row("connector 2")
    assert temperature[grid.first[idle]] == pytest.approx(293.15)
    assert gas[WATER, grid.first[idle]] == pytest.approx(air[WATER])
    assert gas[WATER, grid.first[row]] > 5 * air[WATER]
    assert warm == 1.0 and drawn == pytest.approx(0.0)


def test_at_rest_everything_has_its_surroundings_temperature():
    network = compile_network(PLANT, SEASONS)
    grid = column_grid.grid(network, 0.5)
    around = np.linspace(270.0, 290.0, grid.real.size)[:, None]
    air = np.concatenate([network.outdoor_gas[:, [0]], np.zeros((1, 1))])
    (temperature, gas, warm), drawn = beginning(grid, ONE, around, air)
    assert (temperature == around).all() and (gas == air[:, None]).all() and warm == 0.0 and drawn is None


def test_a_burner_that_stops_runs_down_straight_whatever_lies_between():
    # From high fire to off within 4 s, beside a run with other knots: half way half of what was sent, in between no
    # purge air and no low fire (which this burner has, with other flows).
    plant = replace(PLANT, appliances=tuple(replace(a, purge_flow=Q_(0.2, "m**3/s")) for a in PLANT.appliances))
    network = compile_network(plant, SEASONS)
    off, high = (0.0,) * len(plant.appliances), (3.0,) * len(plant.appliances)
    course = course_of(plant, (Start(high, off, ramp=4.0), Start(off, high, purge=1.0, fan=1.0)), 10.0)
    sent = [
        Inputs(network, grid(network, 0.5), *course.between(np.array([t]))).prescribed[0, 0]
        for t in (0.0, 1.0, 2.0, 3.0, 4.0, 9.0)
    ]
    full = network.prescribed[0][0, 3]
    assert sent == pytest.approx(full * np.array([1.0, 0.75, 0.5, 0.25, 0.0, 0.0]), abs=1e-12)
    halfway = Inputs(network, grid(network, 0.5), *course.between(np.array([2.0])))
    whole = Inputs(network, grid(network, 0.5), *course.between(np.array([0.0])))
    assert halfway.content[:, 0, 0] == pytest.approx(whole.content[:, 0, 0], rel=1e-9)
