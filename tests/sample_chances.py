"""Demo jobs solved in every condition, as a chance begins with them, each once in a process; what decides, two ways."""

from dataclasses import replace
from functools import cache

import numpy as np

from ventcalc.job import job_file, remedies, remedy_outcome
from ventcalc.job.chance_conditions import Solved, deciding, left_out, solve_draws
from ventcalc.job.input_draws import draws, points, widened
from ventcalc.job.remedy import as_drawn
from ventcalc.job.uncertain_inputs import inputs
from ventcalc.vent import firing_states
from ventcalc.vent.network import compile_network

LEVEL = 0.01  # share of the variants of which a condition must be the worst to matter


@cache
def job_named(name):
    return job_file.demonstration(name)


@cache
def scanned(name):
    job = job_named(name)
    return firing_states.scan(job.plant, job.seasons)


def outcome_of(job):
    """A job as drawn, solved in every condition."""
    return remedy_outcome.outcome(job, as_drawn(job), firing_states.scan(job.plant, job.seasons))


@cache
def drawn_outcome(name):
    return job_named(name), remedy_outcome.outcome(job_named(name), as_drawn(job_named(name)), scanned(name))


@cache
def offered_outcome(name):
    return job_named(name), remedies.offered(job_named(name), scanned(name))


def variants(job, outcome, count, seed, wide=1.0):
    own = inputs(job, outcome)
    network = compile_network(outcome.remedy.plant, job.seasons)
    controls = () if outcome.held is None else outcome.held.controls
    return draws(network, controls, own, widened(points(len(own), count, seed), wide))


def fast_and_full(job, outcome, count=256, **how):
    """What the fast way keeps, and every condition in all variants."""
    scouts, proofs = variants(job, outcome, 64, 1, 2.0), (variants(job, outcome, 32, 2 + k) for k in range(3))
    decide = deciding(outcome, scouts, proofs, **how)
    return decide, solve_draws(outcome, variants(job, outcome, count, 9), np.arange(len(outcome.scan.states)))


def missed(decide, full):
    """Columns left out that are the worst of some range in `LEVEL` of the variants, by more than can be read."""
    found = set()
    for k in range(len(full.gaps)):
        one = Solved(full.margin[:0], full.pushed[:0], full.back[:0], full.settled)
        outlets = len(full.margin)
        if k < outlets:
            one = replace(one, margin=full.margin[k : k + 1])
        else:
            j = k - outlets
            one = replace(one, pushed=full.pushed[j : j + 1], back=full.back[j : j + 1])
        wrong, which = left_out(replace(one, settled=np.ones_like(full.settled)), decide.columns)
        if wrong.mean() >= LEVEL:
            found |= set(which.tolist())
    return found
