"""Roots: all that a scan coded apart finds, hysteresis and its folds, stability, what a person's past leads to."""

from dataclasses import replace

import numpy as np
import pytest
from sample_hoods import at_room_pressures, in_every_season, one_hood
from sample_plants import SEASONS, random_tree, row_plant, some_states
from sample_studies import STUDIES

from ventcalc import tables
from ventcalc.draft import held_pressure
from ventcalc.job import findings, job_file, remedy_outcome, vent_changes
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_
from ventcalc.vent import firing_states, reversal, root_census, roots, stability
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.network import compile_network
from ventcalc.vent.solution import Solution

JOBS = tables.DATA / "jobs"


@pytest.mark.parametrize("seed", range(3))
def test_what_is_reached_is_a_root_is_stable_and_comes_once(seed):
    plant = random_tree(seed)
    states = some_states(plant, 40, seed)
    network = compile_network(plant, SEASONS)
    found = roots.reach(network, states)
    assert found.solution.converged.all()
    assert stability.is_stable(network, found.solution.states, found.solution.drawn).all()
    np.testing.assert_array_equal(found.condition[:40], np.arange(40))
    for c in np.unique(found.condition[40:]):
        own = found.solution.drawn[:, found.condition == c]
        assert np.abs(own[:, :, None] - own[:, None, :]).max(axis=0)[~np.eye(own.shape[1], dtype=bool)].min() > 1e-5
        again = solve_network(network, states[[c]], drawn=own[:, -1:])
        np.testing.assert_allclose(again.drawn[:, 0], own[:, -1], atol=1e-4)


def test_a_vent_without_a_way_in_costs_nothing_more(monkeypatch):
    plant = row_plant(3)
    network, states = compile_network(plant, SEASONS), some_states(plant, 30, 1)
    hot = solve_network(network, states)
    monkeypatch.setattr(roots, "solve_network", None)
    assert roots.reach(network, states, full=hot).solution is hot


def test_what_jumps_where_it_stands_still_has_no_rest_and_counts_as_the_worst():
    """A mismatch that falls through nought by a jump has no root: the walk ends there and says so."""
    plant = one_hood(0)
    seasons = at_room_pressures([-4.0])
    network, states = compile_network(plant, seasons), in_every_season([2], 1)
    hot = solve_network(network, states)
    broken = replace(hot, converged=np.zeros(1, bool), drawn=np.full((1, 1), -0.01))
    scan = firing_states.Scan(plant, seasons, broken, 1, True)
    assert scan.restless.all() and "no state of rest" in scan.describe(0)
    assert reversal.gas_in_room(scan).all() and not replace(scan, solution=hot).restless.any()
    forced = row_plant(1)
    given = solve_network(compile_network(forced, seasons), states)
    given = replace(given, converged=np.zeros(1, bool))
    assert not firing_states.Scan(forced, seasons, given, 1, True).restless.any()


def test_a_water_heater_alone_on_its_chimney_spills_when_it_is_lit_from_idle():
    """What the job's own head tells; solving room and vent together from idle gave 0.0175 kg/s.

    It is 0.0168 since a hood that blows out loses one velocity head of that gas, not of room air. With wind against the
    vent and with it, and without, the job has 28 conditions.
    """
    loaded = job_file.load(JOBS / "masonry_retrofit.toml")
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    kitchen = [s.name for s in loaded.seasons].index("mild, kitchen fan on")
    states, spill = scan.states, -scan.solution.drawn[0]
    for cold in (False, True):
        own = (states.codes[0] == 1) & (states.season == kitchen) & (states.cold == cold)
        assert own.sum() == 2 and spill[own].max() == pytest.approx(0.0168, abs=0.0003) and spill[own].min() < -0.01
        worst = int(np.flatnonzero(own)[spill[own].argmax()])
        assert scan.history[worst] == roots.IDLE and "lit from idle" in scan.describe(worst)
    found = STUDIES["masonry_retrofit"]
    told = [f for f in found.judgement.of_weight("people") if f.code == "spillage"]
    assert len(told) == 1 and not found.buildable
    assert (told[0].figures["conditions"], told[0].figures["total"]) == (8, 28)
    assert "The worse counts" in findings.sentence(told[0]) and "lit from idle" in findings.sentence(told[0])


@pytest.mark.slow
@pytest.mark.parametrize(("name", "every"), [("masonry_retrofit", 3), ("school", 41)])
def test_no_way_to_begin_leads_to_a_root_that_the_scan_has_not(name, every):
    loaded = job_file.load(JOBS / f"{name}.toml")
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    network = compile_network(loaded.plant, loaded.seasons)
    for condition in range(0, len(scan.conditions), every):
        held = scan.solution.drawn[:, scan.condition == condition]
        for root in root_census.every_way(network, scan.conditions[[condition]]).T:
            assert np.abs(held - root[:, None]).max(axis=0).min() < 0.01 * np.abs(root).max() + 1e-4


def test_no_remedy_is_a_cure_that_spills_when_lit_from_idle():
    """A liner alone mends nothing there; a fan that is proved before the burner lights does."""
    loaded = job_file.load(JOBS / "masonry_retrofit.toml")
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    as_drawn = remedy_outcome.outcome(loaded, Remedy("as drawn", loaded.plant), scan)
    lined = vent_changes.lined(loaded.plant, Q_(6.0, "inch"))
    natural = remedy_outcome.outcome(loaded, Remedy("liner", lined, loaded.plant), scan)
    assert as_drawn.gas_in_room == 8 and not as_drawn.holds
    assert natural.gas_in_room > 0 and not natural.holds and len(natural.scan.conditions) == 28
    fan = held_pressure.Control("flue", held_pressure.Ideal(least=0.0), held_pressure.HEADER, Q_(-10.0, "Pa"))
    states = scan.conditions
    held = held_pressure.hold(loaded.plant, loaded.seasons, states, (fan,))
    lit = held_pressure.worse_from_idle(loaded.plant, loaded.seasons, states, held)
    assert (held.solution.drawn[:, states.codes[0] == 1] > 0.0).all()
    np.testing.assert_array_equal(lit.solution.drawn, held.solution.drawn)
    still = replace(fan, device=held_pressure.Ideal(least=0.0, most=0.0))  # it stands: the vent is left to itself
    held = held_pressure.hold(loaded.plant, loaded.seasons, states, (still,))
    lit = held_pressure.worse_from_idle(loaded.plant, loaded.seasons, states, held)
    assert not (held.solution.drawn[:, states.codes[0] == 1] < 0.0).any()
    # Draft is not proved where it would spill, and no burner is let start there: the vent is no use, and that is told.
    unproved = ~lit.released & (states.codes[0] == 1)
    assert not (lit.solution.drawn < 0.0)[0, states.codes[0] == 1].any() and unproved.sum() >= 8 and lit.settled.all()


def test_without_a_proof_of_draft_what_spills_when_lit_from_idle_is_told(monkeypatch):
    """The same conditions spill in which a root with the flue turned over was found by the scan's pasts."""
    loaded = job_file.load(JOBS / "masonry_retrofit.toml")
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    states = scan.conditions
    still = held_pressure.Ideal(least=0.0, most=0.0)
    control = held_pressure.Control("flue", still, held_pressure.HEADER, Q_(-10.0, "Pa"))
    held = held_pressure.hold(loaded.plant, loaded.seasons, states, (control,))
    monkeypatch.setattr(held_pressure, "is_proved", lambda controls, pressure: np.ones(pressure.shape[-1], bool))
    lit = held_pressure.worse_from_idle(loaded.plant, loaded.seasons, states, held)
    spills = set(np.flatnonzero((lit.solution.drawn < 0.0).any(axis=0) & (states.codes[0] == 1)).tolist())
    turned = set(scan.condition[reversal.gas_in_room(scan).any(axis=0)].tolist())
    assert spills and spills == turned


@pytest.mark.slow
def test_conditions_are_counted_not_roots():
    loaded = job_file.load(JOBS / "school.toml")
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    assert scan.possible == 320 == len(scan.conditions) == len(scan.first.states) < len(scan.states)
    assert scan.count(np.ones(len(scan.states), bool)) == 320
    bad = reversal.gas_in_room(scan).any(axis=0)
    hot = reversal.gas_in_room(scan.first).any(axis=0)
    assert scan.count(bad) >= hot.sum() + 14
    own = scan.conditions
    rows = np.vstack([own.codes, own.season, own.cold, own.windy, own.wind_case])
    assert np.unique(rows, axis=1).shape[1] == 320
    for r in reversal.reversals(scan):
        assert r.states <= 320 and r.either <= r.states
    assert isinstance(scan.solution, Solution)
