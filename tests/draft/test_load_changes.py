"""Load changes: what a plant goes through, and how far beyond its steady states that takes an outlet."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.draft import load_changes
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

JOBS = Path(__file__).parents[2] / "data" / "jobs"


@lru_cache
def loaded(name):
    return job_file.load(JOBS / f"{name}.toml")


@lru_cache
def followed(name):
    plant, seasons = loaded(name).plant, loaded(name).seasons
    return load_changes.follow(plant, seasons, load_changes.usual(plant, seasons))


def at_rest(plant, seasons, codes, season, cold=False):
    one = np.ones(1)
    states = States(np.array(codes)[:, None], np.full(1, season), one * cold, 0.0 * one)
    return solve(plant, seasons, states)


def test_every_change_begins_and_ends_in_a_state_of_the_plant():
    plant = loaded("swim_hall").plant
    changes = load_changes.usual(plant, loaded("swim_hall").seasons, {"Boiler 1": 20.0, "Boiler 2": 300.0})
    # Five an appliance and two for all, in each of three seasons; none twice.
    assert len(changes) == (5 * 3 + 2) * 3 == len({(c.name, c.start.season) for c in changes})
    for c in changes:
        assert c.start.before != c.start.after
        for codes in (c.start.before, c.start.after):
            assert all(0 <= code < len(a.states) for code, a in zip(codes, plant.appliances, strict=True))
    purges = {c.name: c.start.purge for c in changes}
    assert purges["Boiler 1 lit, all idle before"] == 20.0
    assert purges["Boiler 2 lit, all idle before"] == load_changes.LONGEST_PURGE
    assert purges["Boiler 3 lit, all idle before"] == load_changes.PURGE
    assert purges["Boiler 1 turned down from highest to lowest"] == 0.0


def test_the_changes_of_one_and_of_two_burners_one_by_one():
    # (before, after) of both burners and how cold the walls are: walls are cold where all stood idle.
    first = row_plant(1).appliances[0]
    low, high = (float(first.states.index(s)) for s in ("low", "high"))
    two = {
        ((0.0, 0.0), (low, 0.0)): 1.0, ((0.0, high), (low, high)): 0.0, ((high, high), (low, 0.0)): 0.0,
        ((low, 0.0), (high, 0.0)): 0.0, ((high, 0.0), (low, 0.0)): 0.0,
        ((0.0, 0.0), (low, low)): 1.0, ((high, high), (low, low)): 0.0,
    }  # fmt: skip
    two |= {(before[::-1], after[::-1]): cold for (before, after), cold in two.items()}
    one = {((0.0,), (low,)): 1.0, ((low,), (high,)): 0.0, ((high,), (low,)): 0.0}
    for wanted, count in ((one, 1), (two, 2)):
        found = load_changes.usual(row_plant(count), SEASONS[:1])
        assert {(c.start.before, c.start.after): c.start.cold for c in found} == wanted and len(found) == len(wanted)


def test_one_appliance_of_one_level_is_only_lit():
    found = load_changes.usual(loaded("masonry_retrofit").plant, SEASONS)
    assert {c.name for c in found} == {"Water heater lit, all idle before"}


def test_changes_of_some_appliances_only():
    plant = row_plant(4)
    some = load_changes.usual(plant, SEASONS, only=(2,))
    assert {c.appliance for c in some} == {"B3", ""}
    assert set(some) < set(load_changes.usual(plant, SEASONS))


def test_of_a_large_plant_the_outlets_with_the_least_margin_are_followed():
    plant = row_plant(4)
    assert load_changes.as_many_as_fit(plant, SEASONS, (3.0, -1.0, 2.0, 0.0)) == (0, 1, 2, 3)
    assert load_changes.as_many_as_fit(plant, SEASONS * 6, (3.0, -1.0, 2.0, 0.0)) == (1, 3)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["swim_hall", "lodge"])
def test_neither_a_hot_nor_a_cold_stack_at_rest_bounds_a_change(name):
    # The finding that steady states cannot show: low fire just after full fire has more draft, and light-off less,
    # than the same burner has at rest on a hot or on a cold stack.
    run, plant, seasons = followed(name), loaded(name).plant, loaded(name).seasons
    lit, left = (
        next(i for i, c in enumerate(run.changes) if c.start.season == s and c.name == n)
        for n, s in (
            (f"{plant.appliances[0].name} lit, all idle before", len(seasons) - 1),
            (f"all at their highest before, {plant.appliances[0].name} alone left at its lowest", 0),
        )
    )
    after = run.changes[lit].start
    steady = [at_rest(plant, seasons, after.after, after.season, cold).outlet_pressure[0, 0] for cold in (False, True)]
    firing = run.runs.time >= after.light_off
    assert run.runs.outlet_pressure[0, firing, lit].max() > max(steady) + 2.0
    after = run.changes[left].start
    steady = [at_rest(plant, seasons, after.after, after.season, cold).outlet_pressure[0, 0] for cold in (False, True)]
    assert run.runs.outlet_pressure[0, :, left].min() < min(steady) - 10.0


@pytest.mark.slow
def test_a_passage_is_what_the_runs_hold():
    run = followed("swim_hall")
    for i, p in enumerate(load_changes.passages(run)):
        stays = [c.start.after[i] > 0.0 for c in run.changes]
        pressure = np.where((run.codes[i] > 0.0) & stays, run.runs.outlet_pressure[i], np.nan)
        assert p.low == np.nanmin(pressure) and p.high == np.nanmax(pressure)
        at = np.searchsorted(run.runs.time, p.high_at - 1e-9)
        assert pressure[at, p.high_change] == p.high
        step = run.runs.time[1]
        assert p.above == pytest.approx(max((column > p.window[1]).sum() for column in pressure.T) * step)
        assert p.below == pytest.approx(max((column < p.window[0]).sum() for column in pressure.T) * step)
        assert p.spilled == pytest.approx(run.runs.spilled[i, -1].max(), abs=load_changes.LEAST_SPILL)


def test_a_hood_whose_idle_vent_runs_down_spills_when_it_is_lit():
    # A room 3 Pa below outdoors on a mild day: the masonry flue runs backward while idle. Lit, the hood spills all that
    # burns, and a minute later still does.
    plant = loaded("masonry_retrofit").plant
    pulled = (Season("mild", Q_(60, "degF"), Q_(70, "degF"), room_pressure=Q_(-3, "Pa")),)
    (p,) = load_changes.passages(load_changes.follow(plant, pulled, load_changes.usual(plant, pulled)))
    burnt = float(firing_states.scan(plant, pulled).solution.flow.max())  # kg/s, no less than what burns
    assert 0.2 * burnt < p.still and p.spilled > 10 * p.still and p.spilling > 50.0
    open_room = (replace(pulled[0], room_pressure=Q_(0, "Pa"), outdoor=Q_(10, "degF")),)
    (q,) = load_changes.passages(load_changes.follow(plant, open_room, load_changes.usual(plant, open_room)))
    assert q.still == 0.0 and q.spilled < 0.1 * p.spilled


def test_a_purge_with_limits_of_its_own_is_a_passage_of_its_own():
    """By the traces themselves: purge while the code lies above 0 and not above 1, fire above it."""
    low, high = Q_(-200.0, "Pa"), Q_(200.0, "Pa")
    plain = row_plant(1)
    first = replace(plain.appliances[0], purge_flow=Q_(0.1, "m**3/s"))
    told = replace(first, purge_pressure=(low, high))
    runs = {}
    for name, boiler in (("plain", first), ("told", told)):
        plant = replace(plain, appliances=(boiler,))
        changes = load_changes.usual(plant, SEASONS[:1], {boiler.name: 10.0})[:1]
        runs[name] = load_changes.follow(plant, SEASONS[:1], changes)
    (own,), (marked,) = (load_changes.passages(runs[name]) for name in ("told", "plain"))
    assert marked.purge is None and marked.limits == "firing"
    code, pressure = runs["told"].codes[0], runs["told"].runs.outlet_pressure[0]
    purging, firing = (code > 0.0) & (code <= 1.0), code > 1.0
    assert purging.any() and firing.any()
    assert (own.purge.low, own.purge.high) == (pressure[purging].min(), pressure[purging].max())
    assert (own.low, own.high) == (pressure[firing].min(), pressure[firing].max())
    assert own.purge.limits == "purge" and own.purge.window == (-200.0, 200.0) and own.window != own.purge.window
    # Where nothing is open to the room nothing comes into it.
    assert (own.spilled, own.spilling, own.still) == (0.0, 0.0, 0.0)
    assert own.purge.spilled == 0.0 and own.purge.low_purging and own.purge.high_purging and not own.high_purging
    assert marked.low == pytest.approx(min(own.low, own.purge.low), abs=1e-9)
    at = "low" if own.purge.low < own.low else "high"
    assert getattr(marked, f"{at}_purging") is (getattr(own.purge, at) == getattr(marked, at))


def test_how_long_an_outlet_is_outside_is_the_run_s_share_of_it():
    # Times are even: of all their length as large a share as of all their number. A window in the midst of what is met.
    plain, season = row_plant(1), SEASONS[:1]
    (wide,) = load_changes.passages(load_changes.follow(plain, season, load_changes.usual(plain, season)))
    low, high = wide.low + 0.4 * (wide.high - wide.low), wide.low + 0.6 * (wide.high - wide.low)
    plant = replace(plain, appliances=(replace(plain.appliances[0], window=(Q_(low, "Pa"), Q_(high, "Pa"))),))
    run = load_changes.follow(plant, season, load_changes.usual(plant, season))
    (found,) = load_changes.passages(run)
    pressure = np.where(run.counts(0), run.runs.outlet_pressure[0], np.nan)
    each = (run.runs.time[-1] - run.runs.time[0]) / (run.runs.time.size - 1)
    above, below = ((pressure > high).sum(axis=0) * each, (pressure < low).sum(axis=0) * each)
    assert (found.above, found.below) == pytest.approx((above.max(), below.max()))
    assert min(found.above, found.below) > each and (found.low, found.high) == (wide.low, wide.high)
