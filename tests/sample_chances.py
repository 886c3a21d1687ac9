"""Demo jobs solved in every condition, as a chance begins with them; each worked out once in a process."""

from functools import cache

from ventcalc import tables
from ventcalc.job import job_file, remedies, remedy_outcome
from ventcalc.job.remedy import as_drawn
from ventcalc.vent import firing_states


@cache
def job_named(name):
    return job_file.load(tables.DATA / "jobs" / f"{name}.toml")


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
