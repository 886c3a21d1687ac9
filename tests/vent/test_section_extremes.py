"""Section extremes: they hold in every state."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc import tables
from ventcalc.units import Q_
from ventcalc.vent import firing_states, pieces, reversal, section_extremes
from ventcalc.vent.common_vent import solve

JOBS = tables.DATA / "jobs"


def test_section_extremes_hold_in_every_state(swim_hall):
    solution = swim_hall.solution
    for row, met in enumerate(section_extremes.extremes(swim_hall)):
        flowing = (np.abs(solution.flow[row]) > reversal.REVERSAL_FLOW) & swim_hall.any_running
        velocity = np.abs(solution.velocity[row, flowing])
        assert met.velocity == (velocity.min(), velocity.max())
        assert met.gas[1] <= Q_(150, "degF").m_as("K") + 1e-6  # nothing is hotter than the hottest flue gas
        assert met.gas[1] == pytest.approx(
            max(solution.upstream[row, flowing].max(), solution.downstream[row, flowing].max())
        )
        assert 0.0 <= met.condensing <= 1.0


def test_pressure_under_a_cap_is_the_caps_own_loss(swim_hall):
    """Hand check: static pressure under the cap is K velocity heads; outdoors it is against outdoor air."""
    row = swim_hall.solution.row("stack")
    calm = ~swim_hall.states.windy & (swim_hall.solution.flow[row] > 0)
    _, under_cap = section_extremes.static_against_surroundings(swim_hall, row)
    solution = swim_hall.solution
    # The stored head is at the section's mean temperature; the cap sees the outlet's: compare by temperature.
    mean_head = solution.head[row, calm]
    ratio = under_cap[calm] / mean_head
    assert np.all((ratio > 0.35) & (ratio < 0.55))


class Conditions(Made):
    """States of a made-up scan."""

    def __len__(self):
        return len(self.cold)


class OneSection(Made):
    """A plant of one section."""

    __hash__ = object.__hash__

    def section(self, name):
        return self.order[0]

    def upstream(self, name):
        return () if name == "stack" else (*self.order, "what joins it in a tee")

    def row(self, name):
        return 0


def made_up(into="cap", **changed):
    """One section outdoors in five states: at rest, two on a hot stack, one on a cold one, and one with nothing lit."""
    rows = {
        "flow": [0.0, 0.2, -0.3, 0.4, 0.5],
        "velocity": [0.0, 2.0, -3.0, 4.0, 9.0],
        "upstream": [900.0, 450.0, 400.0, 420.0, 990.0],
        "downstream": [200.0, 380.0, 460.0, 290.0, 100.0],
        "wall": [100.0, 330.0, 318.15, 290.0, 100.0],
        "vapor": [0.5, 0.1, 0.1, 0.1, 0.5],
        "wet": [True, False, True, True, True],
        "drained": [9.0, 0.0, 2e-4, 7e-4, 9.0],
        "frozen": [9.0, 0.0, 1e-5, 3e-5, 9.0],
        "pressure_up": [99.0, -4.0, -6.0, -2.0, 99.0],
        "pressure_down": [-99.0, 5.0, -9.0, 1.0, -99.0],
        "head_up": [0.0, 1.0, 1.0, 1.0, 0.0],
        "head_down": [0.0, 2.0, 2.0, 2.0, 0.0],
        "added": [0.0, 0.0, 0.0, 0.0, 0.0],
    } | changed
    solution = Made(barometric=123520.0, **{name: np.array([row]) for name, row in rows.items()})
    plant = OneSection(order=[Made(name="stack", place="outdoors", into=into)], terminations=[Made(name="cap")])
    running = np.array([True, True, True, True, False])
    states = Conditions(cold=np.array([False, False, False, True, False]))
    return Made(solution=solution, plant=plant, any_running=running, states=states, count=len)


def test_what_a_section_meets_by_hand():
    (met,) = section_extremes.extremes(made_up(into="tee"))
    # Of the states in which gas flows and something runs: the second, third and fourth.
    assert met.velocity == (2.0, 4.0)
    assert met.gas == (290.0, 460.0)  # at either end
    # 0.1 of 123.52 kPa of water: 50 degC by any table of steam. Only a hot stack is asked for its dew point.
    assert met.dew_point == pytest.approx(323.15, abs=0.02)
    assert (met.nearest_wall, met.wall_state) == (318.15, 2)
    assert met.condensing == pytest.approx(1.0 / 2.0)
    assert (met.condensate, met.condensate_state, met.ice) == (2e-4, 2, 1e-5)
    # Static pressure, head taken off: -5, -7, -3 at the lower end, 3, -11, -1 at the upper.
    assert met.pressure == (-11.0, 3.0) and met.pressure_state == 1


def test_right_under_a_cap_its_own_loss_is_no_pressure_in_the_section():
    (met,) = section_extremes.extremes(made_up(into="cap"))
    assert met.pressure == (-7.0, -3.0) and met.pressure_state == 3


def test_a_fan_at_the_end_is_not_in_the_pressure_before_it():
    (met,) = section_extremes.extremes(made_up(into="tee", added=[0.0, 8.0, 0.0, 0.0, 0.0]))
    assert met.pressure == (-11.0, -1.0)


def test_on_a_stack_that_is_never_hot_the_cold_one_counts():
    scan = made_up()
    scan.states.cold[:] = True
    (met,) = section_extremes.extremes(scan)
    assert met.condensing == 0.0 and met.condensate == 7e-4 and met.ice == 3e-5


def test_a_damper_within_a_piece_parts_what_stands_before_it_from_what_lies_behind():
    """A stack cut at its foot, 30 Pa taken there: the foot is looked at before the damper, the rise right behind it."""
    plant = row_plant(2)
    kept = [s for s in plant.sections if s.name != "header 2"]
    joined = tuple(replace(s, into="stack") if s.into == "header 2" else s for s in kept)
    cut = pieces.with_foot(replace(plant, sections=joined))
    scan = firing_states.scan(cut, SEASONS[:1])
    foot, rise = cut.row("foot of stack"), cut.row("stack")
    bare = section_extremes.static_against_surroundings(scan, foot)[0]
    for row in (foot, rise):  # without a damper all of it is one piece, looked at from its lower end
        assert section_extremes.static_below_cap(scan, row)[0] == pytest.approx(bare)
    added = np.zeros((len(cut.order), len(scan.states)))
    added[foot] = -30.0
    held = replace(scan, solution=solve(cut, SEASONS[:1], scan.states, added))
    before, at_foot = (section_extremes.static_below_cap(held, row)[0] for row in (foot, rise))
    on = held.any_running
    # What is lost on the foot's own diameter of way and taken by the damper, less the draft that it makes.
    by_hand = 30.0 + held.solution.loss[foot] - held.solution.draft[foot]
    assert (before - at_foot)[on] == pytest.approx(by_hand[on], abs=0.1)
