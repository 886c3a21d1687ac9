"""Two demo jobs that are started and failed in every way."""

from ventcalc import tables
from ventcalc.job import job_file

LODGE, SCHOOL = (job_file.load(tables.DATA / "jobs" / f"{name}.toml") for name in ("lodge", "school"))
