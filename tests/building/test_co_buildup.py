"""CO build-up: rooms against a general integrator and conservation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from ventcalc.building import co_buildup
from ventcalc.units import Q_, UnitsError

flows = st.floats(1e-4, 2.0)
volumes = st.floats(5.0, 5000.0)
ppm = st.floats(0.0, 5000.0)


@given(volumes, flows, flows, ppm, ppm, ppm)
@settings(max_examples=30, deadline=None)
def test_room_against_a_general_integrator(volume, air, spill, inside, initial, outdoor):
    def slope(_, c):
        """Stream by stream: burners draw ``burners`` of room air; a part ``spill`` of their gas comes back."""
        burners = spill + 0.4 * air
        gas = inside + c  # the flame burns none of what it breathed
        leaks_out = (air + spill - burners) * c
        return (air * outdoor + spill * gas - burners * c - leaks_out) / volume

    end = 2.0 * volume / air
    solved = solve_ivp(slope, (0.0, end), [initial], "DOP853", [0.3 * end, end], rtol=1e-10, atol=1e-10).y[0]
    ours = co_buildup.concentration.bare(np.array([0.3 * end, end]), volume, air, spill, inside, initial, outdoor)
    assert ours == pytest.approx(np.minimum(solved, 1e6), rel=1e-7, abs=1e-7)


@given(volumes, flows, flows, ppm, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(1.0, 1.15))
@settings(max_examples=30, deadline=None)
def test_no_room_holds_more_than_is_told(volume, air, spill, inside, from_room, burnt, swollen):
    """Stream by stream: air in part from elsewhere, a flame that burns a part, gas of more volume than its air."""

    def slope(_, c):
        taken = from_room * spill / swollen  # by what spills; what goes up the vent takes its own away
        gas = inside + from_room / swollen * (1.0 - burnt) * c
        return (spill * gas - taken * c - (air + spill - taken) * c) / volume

    end = 3.0 * volume / air
    solved = solve_ivp(slope, (0.0, end), [0.0], "DOP853", [0.3 * end, end], rtol=1e-10, atol=1e-10).y[0]
    ours = co_buildup.concentration.bare(np.array([0.3 * end, end]), volume, air, spill, inside)
    assert (ours >= np.minimum(solved, 1e6) * (1.0 - 1e-7) - 1e-7).all()


def test_a_small_room_by_hand():
    """8 cfm with 600 ppm against 50 cfm of air: 8 x 600 / 50; thinned by the gas as well it would be 82.8, too low."""
    found = co_buildup.steady_state(Q_(50, "cfm"), Q_(8, "cfm"), Q_(600, "ppm"))
    assert found.m == pytest.approx(96.0)
    # Half of the rise after ln 2 changes of air: 9000 ft3 over 50 cfm are 180 min.
    half = co_buildup.time_to_reach(Q_(48, "ppm"), Q_(9000, "ft**3"), Q_(50, "cfm"), Q_(8, "cfm"), Q_(600, "ppm"))
    assert half.m_as("minute") == pytest.approx(180.0 * 0.693147, rel=1e-5)


def test_no_more_than_all_of_the_air():
    """Without outdoor air the gas gains at every pass; the flames go out long before."""
    assert co_buildup.concentration.bare(1e6, 50.0, 0.0, 0.1, 2e4) == 1e6
    assert co_buildup.history.bare(np.array([1e6]), 0.0, 50.0, 0.0, 0.0, 0.1, 2e4)[0, 0] == 1e6
    assert co_buildup.concentration.bare(100.0, 50.0, 0.0, 0.1, 2e4) == pytest.approx(0.1 * 2e4 * 100.0 / 50.0)


@given(volumes, flows, flows, st.floats(100.0, 5000.0), st.floats(0.05, 0.95))
def test_time_to_reach_is_the_inverse(volume, air, spill, inside, part):
    level = part * co_buildup.steady_state.bare(air, spill, inside)
    wait = co_buildup.time_to_reach.bare(level, volume, air, spill, inside)
    assert co_buildup.concentration.bare(wait, volume, air, spill, inside) == pytest.approx(level, rel=1e-9)


@given(flows, st.floats(100.0, 5000.0), st.floats(0.01, 0.9))
def test_spill_to_reach_is_the_inverse(air, inside, part):
    spill = co_buildup.spill_to_reach.bare(part * inside, air, inside)
    assert co_buildup.steady_state.bare(air, spill, inside) == pytest.approx(part * inside, rel=1e-9)


def test_levels_that_are_never_or_already_there():
    waits = co_buildup.time_to_reach.bare(np.array([10.0, 50.0, 99.0, 101.0]), 100.0, 1.0, 0.1, 1000.0, initial=50.0)
    assert waits[0] == waits[1] == 0.0 and np.isfinite(waits[2]) and waits[3] == np.inf
    assert co_buildup.spill_to_reach.bare(500.0, 1.0, 0.0) == np.inf
    assert co_buildup.spill_to_reach.bare(500.0, 1.0, 400.0) == 1.25  # the gas gains by every pass
    assert co_buildup.spill_to_reach.bare(5.0, 1.0, 400.0, outdoor=9.0) == 0.0


def test_closed_room_keeps_what_it_has():
    assert co_buildup.concentration.bare(1e6, 50.0, 0.0, initial=70.0) == 70.0
    with pytest.raises(ValueError, match="no steady state"):
        co_buildup.steady_state(Q_(0, "cfm"), Q_(0, "cfm"), Q_(100, "ppm"))


def test_room_in_us_units_and_broadcast():
    air, spill, inside = Q_(50, "cfm"), Q_(6, "cfm"), Q_(1300, "ppm")
    us = co_buildup.concentration(Q_([1, 2], "hour"), Q_(9000, "ft**3"), air, spill, inside)
    si = co_buildup.concentration.bare(np.array([3600.0, 7200.0]), 254.8516, 50 * 0.000471947, 6 * 0.000471947, 1300.0)
    assert us.m == pytest.approx(si, rel=1e-5)
    grid = co_buildup.concentration.bare(np.ones((3, 1)), np.full(4, 50.0), 0.1, 0.01, 100.0)
    assert grid.shape == (3, 4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"volume": Q_(0, "m**3")}, "volume = 0 .* must be above 0"),
        ({"ventilation": Q_(-1, "cfm")}, "ventilation = .* must be at least 0"),
        ({"spill_co": Q_(-1, "ppm")}, "spill_co = -1 ppm must be at least 0"),
    ],
)
def test_impossible_rooms_are_refused(change, words):
    given = {"time": Q_(1, "hour"), "volume": Q_(50, "m**3"), "ventilation": Q_(10, "cfm")} | change
    with pytest.raises(ValueError, match=words):
        co_buildup.concentration(**given)


def test_wrong_units_are_refused():
    with pytest.raises(UnitsError, match="ventilation needs"):
        co_buildup.concentration(Q_(1, "hour"), Q_(50, "m**3"), Q_(3, "1/hour"))


_RATES = {"allow_nan": False, "min_value": 0.0, "max_value": 1.0}


def test_one_room_of_several_is_the_closed_form():
    times = np.linspace(0.0, 20000.0, 50)
    ours = co_buildup.history.bare(times, 0.0, 250.0, 0.02, 0.0, 0.003, 1300.0, 5.0, 2.0)
    assert ours[0] == pytest.approx(
        co_buildup.concentration.bare(times, 250.0, 0.02, 0.003, 1300.0, 5.0, 2.0), rel=1e-10
    )


@given(
    st.lists(volumes, min_size=3, max_size=3),
    st.lists(st.floats(**_RATES), min_size=3, max_size=3),
    st.lists(st.floats(**_RATES), min_size=3, max_size=3),
    st.lists(ppm, min_size=3, max_size=3),
)
@settings(max_examples=25, deadline=None)
def test_rooms_in_two_stages_against_a_general_integrator(volume, air, swapped, initial):
    volume, air, initial = np.array(volume), np.array([air, air[::-1]]), np.array(initial)
    exchange = np.zeros((3, 3))
    exchange[np.triu_indices(3, 1)] = swapped
    exchange = exchange + exchange.T
    spill = np.array([[0.01, 0.0, 0.002], [0.0, 0.0, 0.0]])
    starts, times = np.array([0.0, 600.0]), np.array([0.0, 300.0, 600.0, 1800.0])

    def slope(now, c):
        k = int(now >= 600.0)
        swaps = exchange @ c - exchange.sum(axis=1) * c
        return (air[k] * (3.0 - c) + spill[k] * 900.0 + swaps) / volume

    first = solve_ivp(slope, (0.0, 600.0), initial, "LSODA", [300.0, 600.0 - 1e-9], rtol=1e-10, atol=1e-9).y
    second = solve_ivp(slope, (600.0, 1800.0), first[:, 1], "LSODA", [1800.0], rtol=1e-10, atol=1e-9).y
    ours = co_buildup.history.bare(times, starts, volume, air, exchange, spill, 900.0, initial, 3.0)
    expected = np.column_stack([initial, first, second])
    assert ours == pytest.approx(expected, rel=1e-5, abs=1e-4)


@given(st.lists(volumes, min_size=2, max_size=4), st.floats(0.0, 3.0), st.floats(0.0, 0.05))
@settings(deadline=None)
def test_closed_rooms_conserve_carbon_monoxide(volume, swapped, source):
    # A source of pure CO that pushes nothing out is the limit of a small flow: all of it stays in the house.
    volume = np.array(volume)
    n = volume.size
    exchange = swapped * (np.ones((n, n)) - np.eye(n))
    spill = np.zeros((1, n))
    spill[0, 0] = 1e-12 * source
    times = np.array([0.0, 1800.0, 7200.0])
    found = co_buildup.history.bare(times, 0.0, volume, 0.0, exchange, spill, 1e12, 40.0)
    held = (volume[:, None] * found).sum(axis=0)
    assert held == pytest.approx(40.0 * volume.sum() + source * times, rel=1e-6)


@given(flows, flows, st.floats(1e-3, 0.1))
def test_what_enters_leaves_in_the_end(air, swapped, spill):
    exchange = np.array([[0.0, swapped], [swapped, 0.0]])
    end = co_buildup.history.bare(
        np.array([1e9]), 0.0, [80.0, 300.0], [[air, 0.5 * air]], exchange, [[spill, 0.0]], 1000.0, 0.0, 4.0
    )[:, 0]
    left = air * end[0] + 0.5 * air * end[1]
    assert left == pytest.approx(spill * 1000.0 + 1.5 * air * 4.0, rel=1e-6)
    assert end[1] <= end[0] + 1e-9


def test_stages_and_exchange_that_cannot_be():
    with pytest.raises(ValueError, match="each later than the one before"):
        co_buildup.history.bare(np.array([0.0, 1.0]), [0.0, 5.0, 5.0], 50.0, 0.1, 0.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="the first stage begins at 0"):
        co_buildup.history.bare(np.array([0.0, 1.0]), [5.0], 50.0, 0.1, 0.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="same both ways"):
        co_buildup.history.bare(np.array([0.0]), 0.0, [50.0, 50.0], 0.1, [[0.0, 1.0], [0.0, 0.0]], 0.0, 0.0)
