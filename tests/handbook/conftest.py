"""The chapter on remedies compares jobs as the library's own tests do: once in a run is enough."""

from functools import cache

import pytest
import sample_studies

from ventcalc.handbook import remedies as chapter
from ventcalc.job import job_file


@pytest.fixture(scope="session", autouse=True)
def jobs_compared_once(shared_folder):
    """`chapter.compared`, with what another worker may have found already."""

    @cache
    def compared(name):
        stem = chapter.JOBS[name]
        scan, outcomes = sample_studies.compared(stem)
        return chapter.Compared(job_file.load(sample_studies.JOBS[stem]), scan.first, outcomes)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chapter, "_compared", compared)
        yield
