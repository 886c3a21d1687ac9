"""Studies of the demo jobs, each worked out once in a test process, when it is first asked for."""

from functools import cache

from ventcalc import job, study, tables

JOBS = {path.stem: path for path in sorted((tables.DATA / "jobs").glob("*.toml"))}


@cache
def studied(name: str) -> study.Study:
    """The study of a demo job, with all its remedies."""
    return study.study(job.load(JOBS[name]))


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
