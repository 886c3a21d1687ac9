"""``check JOB.toml``: what is wrong with a job file, all at once; with ``--out`` the vent that it tells, drawn."""

import argparse

HELP = "check a job file and draw its vent, without a study"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("job", metavar="JOB", help="a job file")
    parser.add_argument("--out", metavar="SVG", help="where the drawing goes, such as vent.svg")


def run(options: argparse.Namespace) -> int:
    """0 where the file can be studied, 2 where it cannot."""
    from ventcalc import words
    from ventcalc.command import job_problems
    from ventcalc.job import job_file
    from ventcalc.words import say

    try:
        job = job_file.load(options.job)
    except job_file.JobError as error:
        return job_problems.tell(options.job, error, "studied")
    counts = {"appliances": len(job.plant.appliances), "sections": len(job.plant.sections), "seasons": len(job.seasons)}
    print(say("job", "check", "told", job=job.name, system=job.system, **counts))
    for default in job.defaults:
        print(f"  taken: {default}")
    for remark in words.told(job.remarks, job.system):
        print(f"  look again: {remark}")
    if options.out:
        from ventcalc.show import drawing

        try:
            drawing.layout_drawing(job.plant, job.system).savefig(options.out, format="svg")
        except OSError as error:
            return job_problems.unwritable(options.out, error)
        print(f"Drawing: {options.out}")
    return 0
