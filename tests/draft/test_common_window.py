"""The common window: header set points tried one by one, and where no header pressure suits both."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_windows import HALL, MIXED, as_is, moved

from ventcalc.draft.common_window import CommonWindow, common_window, held_common_window, hold_header, offsets
from ventcalc.draft.held_pressure import TOLERANCE
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve
from ventcalc.vent.outlet_envelope import outside_window


def test_common_window_of_a_sealed_forced_vent_by_holding_it_at_many_set_points():
    scan = moved([(-30.0, 25.0), (-25.0, 40.0), (-20.0, 30.0)])
    found = common_window(scan)
    assert found.low < found.high and found.lacking == 0.0
    for pressure in (*np.linspace(found.low - 12.0, found.high + 12.0, 9), found.low + 0.2, found.high - 0.2):
        held = hold_header(scan, pressure).scan(scan)
        # Within the tolerance of the search no more can be said of a state right on its edge.
        sure = np.minimum(np.abs(pressure - found.lowest), np.abs(pressure - found.highest)) > 2 * TOLERANCE
        assert (outside_window(held) == found.missed(pressure))[sure].all()
        assert outside_window(held).any() == (not found.low <= pressure <= found.high)


@pytest.mark.slow
def test_common_window_of_the_swimming_hall_by_holding_it_at_many_set_points():
    # Idle boilers leak here, so that d moves a little with the header.
    scan = firing_states.scan(HALL.plant, HALL.seasons)
    found = held_common_window(scan)
    assert Q_(found.low, "Pa").m_as("inH2O") == pytest.approx(-0.034, abs=0.002)
    assert Q_(found.high, "Pa").m_as("inH2O") == pytest.approx(-0.002, abs=0.002)
    for pressure, fits in (
        (found.low - 0.4, False),
        (found.low + 0.4, True),
        (found.best, True),
        (found.high - 0.4, True),
        (found.high + 0.4, False),
    ):
        assert (not outside_window(hold_header(scan, pressure).scan(scan)).any()) == fits
    # The set point of the job lies below it: the small boiler is pulled out of its window while the large ones fire.
    outside = outside_window(hold_header(scan, HALL.set_point.m_as("Pa")).scan(scan))
    assert not outside[:2].any() and outside[2].any()
    assert outside[2].sum() == found.missed(HALL.set_point.m_as("Pa"))[2].sum()


EDGES = st.tuples(st.floats(-80.0, 40.0), st.floats(1.0, 80.0)).map(lambda w: (w[0], w[0] + w[1]))


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(st.tuples(EDGES, EDGES, EDGES), st.floats(0.0, 30.0))
def test_common_window_is_where_nothing_is_missed(windows, wider):
    scan = moved(windows)
    found = common_window(scan)
    d, runs = offsets(scan), scan.states.codes > 0

    def worst(pressure):
        """Worst excursion over running outlets and states, negative for a margin."""
        outlet = pressure + d
        low, high = np.array(windows).T[:, :, None]
        return float(np.where(runs, np.maximum(low - outlet, outlet - high), -np.inf).max())

    grid = np.linspace(found.best - 60.0, found.best + 60.0, 25)
    assert [not found.missed(p).any() for p in grid] == [worst(p) <= 0.0 for p in grid]
    assert worst(found.best) == pytest.approx((found.low - found.high) / 2.0, abs=1e-9)
    assert worst(found.best) <= min(worst(p) for p in grid) + 1e-9
    assert found.lacking == max(0.0, found.low - found.high)
    # Each state by itself is less strict than all together; wider windows never narrow the range.
    low, high = found.in_each_state
    assert low.max() == found.low and high.min() == found.high
    assert found.lacking > 0.0 or found.conflicts.size == 0
    more = common_window(moved([(a - wider, b + wider) for a, b in windows]))
    assert more.low == pytest.approx(found.low - wider) and more.high == pytest.approx(found.high + wider)
    # The ends are set by whom it says.
    (i, j), (k, m) = found.ends
    same = firing_states.SAME_PRESSURE  # equal ends are named by the first
    assert found.lowest[i, j] == pytest.approx(found.low, abs=same)
    assert found.highest[k, m] == pytest.approx(found.high, abs=same)
    assert runs[i, j] and runs[k, m]


@pytest.mark.slow
def test_no_header_pressure_suits_both_alternates_in_a_state_of_conflict():
    drawn = as_is()
    found = held_common_window(drawn)
    assert found.lacking > 0.0 and 0 < found.conflicts.size < len(drawn.states)
    # In the three conflicts that lack most, try every header pressure: at each some outlet is outside.
    low, high = found.in_each_state
    some = found.conflicts[np.argsort((high - low)[found.conflicts])[:3]]
    states = drawn.states[some]
    part = replace(drawn, solution=solve(MIXED, HALL.seasons, states))
    for pressure in np.linspace(high[some].min() - 10.0, low[some].max() + 10.0, 21):
        assert outside_window(hold_header(part, pressure).scan(part)).any(axis=0).all()
    # And one where they agree can be held.
    best = int(np.where(drawn.any_running, high - low, -np.inf).argmax())
    part = replace(drawn, solution=solve(MIXED, HALL.seasons, drawn.states[np.array([best])]))
    assert not outside_window(hold_header(part, 0.5 * (low[best] + high[best])).scan(part)).any()


def test_boiler_1_and_boiler_2_are_the_pair_that_conflict():
    drawn = as_is()
    (i, low_state), (k, high_state) = held_common_window(drawn).ends
    assert (MIXED.appliances[i].name, MIXED.appliances[k].name) == ("Boiler 1", "Boiler 2")
    # The one that wants to be positive is near idle, the other drives its full flow up its own connector.
    assert drawn.states.codes[i, low_state] < 3 and drawn.states.codes[k, high_state] == 3


def test_a_set_point_at_an_end_of_the_common_window_still_serves():
    # Outlets that want the header within -30 to 10 Pa and -20 to 25 Pa, and one that does not run: -20 to 10 Pa.
    lowest, highest = np.array([[-30.0], [-20.0], [-np.inf]]), np.array([[10.0], [25.0], [np.inf]])
    found = CommonWindow(None, lowest, highest)
    assert (found.low, found.high, found.best, found.lacking) == (-20.0, 10.0, -5.0, 0.0)
    assert [found.missed(p).any(axis=1).tolist() for p in (-20.0, 10.0)] == [[False] * 3] * 2
    beyond = [found.missed(p).any(axis=1).tolist() for p in (-20.1, 10.1, -31.0, 26.0)]
    assert beyond == [[False, True, False], [True, False, False], [True, True, False], [True, True, False]]


def test_one_outlet_s_window_is_what_suits_it_in_all_states():
    # From -30 to 10 Pa in one state and from -25 to 5 Pa in the other: -25 to 5 Pa. The other runs in one alone.
    found = CommonWindow(None, np.array([[-30.0, -25.0], [-np.inf, 8.0]]), np.array([[10.0, 5.0], [np.inf, 20.0]]))
    assert (found.of(0), found.of(1)) == ((-25.0, 5.0), (8.0, 20.0))
    # Together they agree in the first state alone.
    assert found.conflicts.tolist() == [1] and (found.low, found.high, found.lacking) == (8.0, 5.0, 3.0)


def test_a_device_that_cannot_reach_one_state_serves_none_by_hand():
    """Two states, each suited from -20 to -10 Pa: a damper wide open from which the header stands at -5 Pa cannot bring
    it down, nor a fan at its least speed that leaves it at -30 Pa up; either is enough."""
    window = CommonWindow(None, np.full((1, 2), -20.0), np.full((1, 2), -10.0))
    assert window.within_reach() == (-20.0, -10.0)
    for reach in ({"floor": np.array([-5.0, -40.0])}, {"ceiling": np.array([-30.0, 0.0])}):
        low, high = window.within_reach(**reach)
        assert low > high
    assert window.within_reach(floor=np.array([-15.0, -40.0])) == (-20.0, -10.0)
