"""Studies of the demo jobs, each worked out once in a test run, when it is first asked for.

The workers of a run share what they find through files in the run's own temporary folder, named by a hash of the
library's sources and of its data, jobs included. Who comes second waits for the first and reads.
"""

import fcntl
import hashlib
import os
import pickle
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pint

import ventcalc
from ventcalc import tables, units
from ventcalc.job import job_file, remedy_outcome, steps, study
from ventcalc.vent import firing_states

ALL_JOBS = {path.stem: path for path in sorted((tables.DATA / "jobs").glob("*.toml"))}
HEAVY = {"condensing_row", "hospital"}  # long to study: only tests that name one ask for it
JOBS = {name: path for name, path in ALL_JOBS.items() if name not in HEAVY}

SHARED: list[Path] = []  # the folder that the workers of this run share, once it is known (conftest)

pint.set_application_registry(units.ureg)  # pickled quantities are read back in it


@cache
def _digest() -> str:
    """Of the library's source and of its tables."""
    files = [*Path(ventcalc.__file__).parent.rglob("*.py"), *tables.DATA.rglob("*")]
    return hashlib.sha256(b"".join(f.read_bytes() for f in sorted(files) if f.is_file())).hexdigest()


def once(name: str, work: Callable[[], Any]) -> Any:
    """What ``work`` returns, worked out by the first process of the run that asks for ``name``."""
    if not SHARED:
        return work()
    file = SHARED[0] / f"{hashlib.sha256((name + _digest()).encode()).hexdigest()}.pickle"
    with file.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # given back when the file is closed, by a crash too
        if not file.exists():
            made = file.with_suffix(f".{os.getpid()}")
            made.write_bytes(pickle.dumps(work()))
            made.replace(file)
    return pickle.loads(file.read_bytes())


@cache
def scanned(name: str) -> firing_states.Scan:
    """A demo job as drawn in all its states."""
    one = job_file.demonstration(name)
    return firing_states.scan(one.plant, one.seasons)


@cache
def studied(name: str) -> study.Study:
    """The study of a demo job, with all its remedies."""
    return once(f"study {name}", lambda: study.study(job_file.demonstration(name)))


@cache
def compared(name: str) -> tuple[firing_states.Scan, tuple[remedy_outcome.Outcome, ...]]:
    """Scan of a demo job, and all its remedies in all states."""

    def work():
        return scanned(name), study.compare(job_file.demonstration(name), scanned(name), every=True)

    return once(f"compared {name}", work)


def known(one: job_file.Job, told: steps.Told = steps.nobody, draws: int = 0) -> study.Study:
    """The study of a job that is one of the demo jobs, as `study.study` finds it; ``told`` hears that it is done."""
    assert not draws, "a chance is not kept"
    told("done", 1.0)
    return studied(next(name for name in JOBS if job_file.demonstration(name).digest == one.digest))


class _Studies(dict):
    """Studies by name; a name that is looked up for the first time is worked out."""

    def __missing__(self, name):
        self[name] = studied(name)
        return self[name]

    def items(self):
        return [(name, self[name]) for name in JOBS]

    def values(self):
        return [self[name] for name in JOBS]

    def __iter__(self):
        return iter(JOBS)

    def __len__(self):
        return len(JOBS)


STUDIES = _Studies()
