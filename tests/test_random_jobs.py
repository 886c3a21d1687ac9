"""Random jobs: fifty files as a person might write them, the same on every run; each study consistent in itself."""

import os

import pytest
from sample_jobs import is_consistent, job_of

from ventcalc.job import findings, study

# Every fifth of them in an ordinary run; VENTCALC_RANDOM_JOBS=all runs all fifty (some minutes).
RANDOM = range(0, 50, 1 if os.environ.get("VENTCALC_RANDOM_JOBS") == "all" else 10)


@pytest.mark.parametrize("seed", RANDOM)
def test_random_jobs_are_consistent(seed):
    found = study.study(job_of(seed))
    is_consistent(found)
    for f in found.judgement.findings:
        for system in ("US", "SI"):
            said = findings.sentence(f, system)
            assert "{" not in said and ".." not in said
