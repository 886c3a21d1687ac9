"""Random jobs: fifty files as a person might write them, the same on every run; each study consistent in itself."""

import pytest
from sample_jobs import is_consistent, job_of

from ventcalc.job import findings, study

ORDINARY = (0, 30)  # of an ordinary run; pytest -m sweep takes all others (some minutes)
RANDOM = [seed if seed in ORDINARY else pytest.param(seed, marks=pytest.mark.sweep) for seed in range(50)]


@pytest.mark.slow
@pytest.mark.parametrize("seed", RANDOM)
def test_random_jobs_are_consistent(seed):
    found = study.study(job_of(seed))
    is_consistent(found)
    for f in found.judgement.findings:
        for system in ("US", "SI"):
            said = findings.sentence(f, system)
            assert "{" not in said and ".." not in said
