"""Scans: every state once, envelopes that are really the ends, hazards that are really there."""

from dataclasses import replace

import numpy as np
import pytest

from ventcalc import tables
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, section_extremes
from ventcalc.vent.network import compile_network

JOBS = tables.DATA / "jobs"


def test_every_combination_is_solved_once(swim_hall):
    # Four states an appliance (off, purge, low, high), seven weathers (two of three seasons have wind, against the vent
    # and with it), hot and cold stack.
    assert swim_hall.possible == 4**3 * 7 * 2 == len(swim_hall.conditions)

    def rows(states):
        return np.vstack([states.codes, states.season, states.cold, states.windy, states.wind_case])

    assert np.unique(rows(swim_hall.conditions), axis=1).shape[1] == swim_hall.possible
    # Further roots are of those conditions, with other flows.
    assert (rows(swim_hall.states) == rows(swim_hall.conditions)[:, swim_hall.condition]).all()
    drawn, further = swim_hall.solution.drawn, np.arange(swim_hall.possible, len(swim_hall.states))
    assert (np.abs(drawn[:, further] - drawn[:, swim_hall.condition[further]]).max(axis=0) > 1e-4).all()
    assert swim_hall.complete and swim_hall.solution.converged.all()


def test_ties_tell_what_they_share(swim_hall):
    states = swim_hall.states
    same = tuple(np.flatnonzero((states.codes[0] == 3) & (states.season == 2) & ~states.windy).tolist())
    said = swim_hall.describe_alike(same)
    assert said == "Boiler 1 high, Boiler 2 any, Boiler 3 any; summer, any stack"
    one = outlet_envelope.envelopes(swim_hall)[0]
    assert one.high_alike[0] == one.high_state and one.low_alike[0] == one.low_state


def test_a_sampled_scan_finds_the_same_ends_and_says_what_it_covers(swim_hall):
    sampled = firing_states.scan(swim_hall.plant, swim_hall.seasons, most=60)
    assert not sampled.complete and sampled.possible == 896
    # 560 conditions have one boiler do one thing and the others another, 60 are drawn by lot (some of them the same);
    # the search for six ends adds its neighbors, not all that are left.
    assert 560 < len(sampled.conditions) < 560 + 60 + (896 - 620) / 2
    for whole, part in zip(outlet_envelope.envelopes(swim_hall), outlet_envelope.envelopes(sampled), strict=True):
        assert part.low == pytest.approx(whole.low, abs=0.01) and part.high == pytest.approx(whole.high, abs=0.01)


def test_wind_is_judged_against_the_vent_and_with_it(swim_hall):
    """By hand: against and with the vent the outlets stand higher and lower than in calm, by their coefficients."""
    states, network = swim_hall.states, compile_network(swim_hall.plant, swim_hall.seasons)
    fits = (states.codes == 3).all(axis=0) & (states.season == 0) & ~states.cold
    calm, against, along = (int(np.flatnonzero(fits & (states.wind_case == case))[0]) for case in (0, 1, 2))
    outlet = swim_hall.solution.outlet_pressure
    gap = (network.terminal_wind.sum(axis=0) - network.room_wind)[1:] * network.wind_head[0]
    assert gap[0] > 0.0 > gap[1]
    # Nothing leaks while all run: flows are prescribed. The gas is pressed by the wind too: 0.1 Pa of 300 at most.
    for i in range(3):
        assert outlet[i, [against, along]] - outlet[i, calm] == pytest.approx(gap, abs=0.1)
    assert "wind 15 mph against the vent" in swim_hall.describe(against)
    assert "wind 15 mph with the vent" in swim_hall.describe(along) and "wind" not in swim_hall.describe(calm)
    # Header and section pressures are read against the room in that wind.
    header = end_of_header.header_pressure(swim_hall)
    assert header[[against, along]] - header[calm] == pytest.approx(gap, abs=0.1)
    up, _ = section_extremes.static_against_surroundings(swim_hall, swim_hall.solution.row("header 1"))
    assert up[[against, along]] - up[calm] == pytest.approx(gap, abs=0.1)


def test_without_exposure_wind_is_on_the_cap_alone(swim_hall):
    bare = firing_states.scan(replace(swim_hall.plant, exposure=None), swim_hall.seasons, most=60)
    assert bare.possible == 640 and bare.states.wind_case is None


def test_more_states_than_whole_numbers_of_64_bits_are_sampled():
    """Forty burners of four states, two weathers, two stacks: 4.8e24 states; each of equal chance in the sample."""
    sizes = (*(4,) * 40, 2, 2)
    drawn = firing_states._drawn(sizes, 4**42, 4000, 0)
    assert drawn.shape == (42, 4000)
    for size, values in zip(sizes, drawn, strict=True):
        counts = np.bincount(values, minlength=size)
        assert counts.size == size
        assert counts == pytest.approx(4000 / size, abs=5.0 * (4000 / size) ** 0.5)  # five standard deviations
