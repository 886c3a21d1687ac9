"""Demo jobs that are started, failed and judged in every way."""

from dataclasses import replace

from ventcalc.job import findings, job_file, judgement, study, surroundings

HALL, LODGE, SCHOOL = (job_file.demonstration(name) for name in ("swim_hall", "lodge", "school"))


def judged_with(found: study.Study, around: surroundings.Surroundings) -> findings.Judgement:
    """The judgement of a study with other surroundings."""
    return judgement.judge(replace(found, around=around))
