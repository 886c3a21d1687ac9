"""Chance conditions: those that decide, found the fast way, against all conditions in all variants."""

from dataclasses import replace

import numpy as np
import pytest
from sample_chances import drawn_outcome, fast_and_full, missed, offered_outcome, outcome_of, variants
from sample_jobs import job_of

from ventcalc.job import chance_conditions
from ventcalc.job.chance import chance
from ventcalc.job.chance_conditions import Solved, deciding, left_out, nearest, solve_draws, worst_of
from ventcalc.job.input_draws import draws, points
from ventcalc.job.uncertain_inputs import inputs
from ventcalc.vent import reversal
from ventcalc.vent.network import compile_network


@pytest.mark.parametrize("seed", [1, 3, 8])
def test_random_jobs_lose_no_condition_that_matters(seed):
    job = job_of(seed)
    decide, full = fast_and_full(job, outcome_of(job))
    assert not missed(decide, full)
    assert decide.coverage >= 1.0 - 2.0 / 32


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lodge", "masonry_retrofit"])
def test_demo_jobs_lose_no_condition_that_matters(name):
    decide, full = fast_and_full(*drawn_outcome(name))
    assert not missed(decide, full)
    assert decide.columns.size < decide.total


@pytest.mark.slow
def test_a_chance_in_the_conditions_that_decide_is_that_in_all():
    job, outcome = drawn_outcome("masonry_retrofit")
    few, every = chance(job, outcome, 256), chance(job, outcome, 256, everywhere=True)
    assert few.flue_gas.failed == pytest.approx(every.flue_gas.failed, abs=3)
    assert few.window.failed == pytest.approx(every.window.failed, abs=3)
    assert every.deciding.coverage == 1.0 and every.deciding.columns.size == every.deciding.total


@pytest.mark.sweep
def test_of_many_conditions_a_choice_loses_none_that_matters():
    """The hall, as if its 897 conditions were too many to solve all: scouted near the edges, proved in a sample."""
    job, outcome = drawn_outcome("swim_hall")
    near = nearest(outcome, 256)
    decide, full = fast_and_full(job, outcome, 128, most=256)
    assert near.size < 0.7 * decide.total and decide.looked == 256
    assert not missed(decide, full) and decide.coverage >= 1.0 - 2.0 / 32


def test_a_choice_holds_the_worst_as_solved_and_what_was_not():
    _, outcome = drawn_outcome("swim_hall")
    near = nearest(outcome, 256)
    ends = {e.low_state for e in outcome.envelopes} | {e.high_state for e in outcome.envelopes}
    assert ends <= set(near.tolist())
    lost = int(np.setdiff1d(np.arange(len(outcome.scan.states)), near)[0])
    converged = outcome.scan.solution.converged.copy()
    converged[lost] = False
    scan = replace(outcome.scan, solution=replace(outcome.scan.solution, converged=converged))
    assert lost in nearest(replace(outcome, scan=scan), 256)
    assert nearest(outcome).tolist() == list(range(len(outcome.scan.states)))


def solved(margin):
    margin = np.asarray(margin, float)[None]
    return Solved(margin, np.full(margin.shape, np.nan), np.zeros(margin.shape, bool), np.ones(margin.shape[1:], bool))


def test_the_worst_of_any_variant_is_kept():
    found = solved([[3.0, 1.0, 2.0, np.nan], [3.0, 1.0, 0.5, np.nan]])
    assert worst_of(found).tolist() == [1, 2]


def test_what_was_left_out_is_named():
    found = solved([[3.0, 1.0, 2.0], [3.0, 1.0, 0.5], [3.0, 1.0, 0.97]])
    wrong, which = left_out(found, np.array([0, 1]))
    assert wrong.tolist() == [False, True, False] and which.tolist() == [2]  # 0.03 Pa cannot be read


def test_what_was_not_solved_is_looked_at():
    found = solved([[3.0, 1.0], [3.0, 1.0]])
    found.settled[1, 0] = False
    assert worst_of(found).tolist() == [0, 1]
    wrong, which = left_out(found, np.array([1]))
    assert wrong.tolist() == [False, True] and which.tolist() == [0]


def test_a_proof_adds_what_the_scout_missed(monkeypatch):
    """The scout is blind to a column; the first proof names it, the second has nothing to add."""
    job, outcome = drawn_outcome("masonry_retrofit")
    seen = worst_of(solve_draws(outcome, variants(job, outcome, 64, 1, 2.0), np.arange(len(outcome.scan.states))))
    monkeypatch.setattr(chance_conditions, "worst_of", lambda s: seen[:1])
    found = deciding(outcome, variants(job, outcome, 8, 1), [variants(job, outcome, 32, s) for s in (2, 3, 4)])
    assert len(found.missed) > 0 and set(found.missed) <= set(found.columns.tolist())
    assert found.coverage > 0.9


@pytest.mark.slow
def test_a_damper_that_stops_a_step_off_moves_its_outlets_by_that_step():
    job, outcome = offered_outcome("swim_hall")
    own = inputs(job, outcome)
    rows = np.full((2, len(own)), 0.5)
    rows[1, next(k for k, i in enumerate(own) if i.kind.key == "actuator")] = 1.0
    one = draws(compile_network(outcome.remedy.plant, job.seasons), outcome.held.controls, own, rows)
    columns = np.arange(100, 140)
    found = solve_draws(outcome, one, columns)
    step = chance_conditions.actuator_steps(outcome)[0, columns]
    moved = np.abs(found.margin[:, 1] - found.margin[:, 0])
    known = ~np.isnan(moved)
    assert step.max() > 1.0
    assert (moved <= step[None] + 1e-6)[known].all() and moved[known].max() == pytest.approx(step.max(), rel=0.5)


@pytest.mark.slow
def test_better_sensors_leave_less_scatter_of_a_held_vent():
    job, outcome = offered_outcome("swim_hall")
    own = [i for i in inputs(job, outcome) if i.kind.key in {"sensor", "set_point"}]
    network, at = compile_network(outcome.remedy.plant, job.seasons), points(len(own), 16, 1)
    scatter = []
    for share in (1.0, 0.2):
        given = [replace(i, spread=share * i.spread) for i in own]
        found = solve_draws(outcome, draws(network, outcome.held.controls, given, at), np.array([300]))
        assert found.settled.all()
        scatter.append(np.nanmax(found.margin.std(axis=1)))
    assert scatter[1] == pytest.approx(0.2 * scatter[0], rel=0.1) and scatter[0] > 0.5


def test_an_outlet_that_runs_in_no_column_misses_nothing():
    nan = np.nan
    wrong, which = left_out(solved([[nan, nan], [1.0, 2.0]]), np.array([0]))
    assert not wrong.any() and not which.size


def at_their_middle(job, outcome, count=1):
    """The inputs of a design, and points at which all are in their middle, junctions by the formula as drawn."""
    own = inputs(job, outcome)
    return own, np.array([[0.0 if i.kind.distribution == "choice" else 0.5 for i in own]] * count)


def test_what_pushes_gas_back_is_a_hoods_backflow_and_a_forced_outlets_pressure():
    """The vent as it was solved: more than nought where flue gas enters (`reversal`), and nowhere else: air with which
    a neighbor purges pushes nothing."""
    job, outcome = drawn_outcome("school")
    scan, (own, rows) = outcome.scan, at_their_middle(job, outcome)
    every = np.arange(len(scan.states))
    found = solve_draws(outcome, draws(compile_network(job.plant, job.seasons), (), own, rows), every)
    pushed, back = found.pushed[:, 0], reversal.flue_gas_enters(scan)
    known = ~np.isnan(pushed)
    assert (found.back[:, 0] == back).all() and (pushed[back] > 0.0).all() and not (pushed[known & ~back] > 0.0).any()
    hood = [a.kind for a in job.plant.appliances].index("draft hood")
    assert known[hood].sum() > 200
    there = known[hood] & (back[hood] | (scan.solution.drawn[hood] > 0.0))
    assert pushed[hood, there] == pytest.approx(-scan.solution.drawn[hood, there], abs=1e-6)
    forced = np.flatnonzero(known[1] & (back[1] | (scan.solution.outlet_pressure[1] < 0.0)))
    assert forced.size > 50 and pushed[1, forced] == pytest.approx(scan.solution.outlet_pressure[1, forced], abs=1e-3)
    # Boiler 1 idle, and purge air with pressure behind it.
    purge = known & reversal.gas_in_room(scan) & ~back & (scan.solution.outlet_pressure > 0.0)
    assert purge.any() and (pushed[purge] == 0.0).all()


def test_a_damper_that_stops_short_moves_what_pushes_gas_back_by_its_step():
    """Where a damper stops a step off, every outlet it governs stands that step higher."""
    job, outcome = offered_outcome("swim_hall")
    own, rows = at_their_middle(job, outcome, 2)
    rows[1, next(k for k, i in enumerate(own) if i.kind.key == "actuator")] = 1.0
    one = draws(compile_network(outcome.remedy.plant, job.seasons), outcome.held.controls, own, rows)
    columns = np.arange(100, 140)
    pushed = solve_draws(outcome, one, columns).pushed
    moved, step = pushed[:, 1] - pushed[:, 0], chance_conditions.actuator_steps(outcome)[0, columns]
    known = ~np.isnan(moved)
    assert one.stops[0].tolist() == [0.0, 1.0] and step.max() > 1.0
    assert moved[known] == pytest.approx(np.broadcast_to(step, moved.shape)[known])
