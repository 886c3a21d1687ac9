"""``survey JOB READINGS``: what explains the readings taken on a vent that stands; what to take: ``--form``.

``--blank`` writes the file to fill in. With ``--study`` the vent as calibrated is also solved in all its firing states,
as it stands and put right, and studied whole as it was found: its report goes into the folder ``as_found``.
"""

import argparse
import sys
from pathlib import Path

from ventcalc.units import SYSTEMS

HELP = "a form of readings to take on a vent that stands, and the cause that explains them"
MOST_SHOWN = 5  # explanations told on the screen


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("job", metavar="JOB", help="a job file: the vent as drawn")
    parser.add_argument("readings", metavar="READINGS", nargs="?", help="the readings taken, a CSV file")
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument("--out", metavar="FOLDER", help="where survey.html and survey.json go")
    way.add_argument("--blank", metavar="CSV", help="write a blank file of readings there, and judge nothing")
    way.add_argument("--form", metavar="HTML", help="write the form to take to site there, to be printed")
    parser.add_argument("--units", choices=SYSTEMS, help="units shown (default: those that the job file is written in)")
    parser.add_argument(
        "--study", action="store_true", help="also study the vent as found, whole, and as it would be once put right"
    )


def run(options: argparse.Namespace) -> int:
    """0 where the vent as drawn explains the readings, 1 where a cause or a danger was found, 2 where a file cannot be
    read or written."""
    from ventcalc.command import job_problems
    from ventcalc.job import job_file

    written = options.blank or options.form
    if (options.readings is None) == (written is None):
        print("give READINGS with --out FOLDER, or --blank CSV or --form HTML without READINGS", file=sys.stderr)
        return job_problems.REFUSED
    if written and Path(written).exists():
        print(f"{written}: is there already; choose another name", file=sys.stderr)
        return job_problems.REFUSED
    try:
        job = job_file.load(options.job)
    except job_file.JobError as error:
        return job_problems.tell(options.job, error, "surveyed")
    system = options.units or job.system
    return _to_take(job, options, system) if written else _explained(job, options, system)


def _to_take(job, options: argparse.Namespace, system: str) -> int:
    from ventcalc.command import job_problems
    from ventcalc.job import survey_plan
    from ventcalc.show import survey_form

    plan, path = survey_plan.plan(job), options.blank or options.form
    try:
        (survey_form.write_blank if options.blank else survey_form.write)(plan, path, system)
    except OSError as error:
        print(f"{path}: cannot be written ({error.strerror or error})", file=sys.stderr)
        return job_problems.REFUSED
    print(f"{'Blank' if options.blank else 'Form'}: {path} ({len(plan.steps)} conditions, {plan.minutes} minutes)")
    for condition in plan.unsafe:
        print(f"  not asked for, since flue gas may come into the room: {condition.name}")
    return 0


def _explained(job, options: argparse.Namespace, system: str) -> int:
    from ventcalc.command import job_problems
    from ventcalc.job import calibrated_study, diagnosis, site_csv, survey_file
    from ventcalc.show import progress, survey_page

    try:
        taken = survey_file.load(options.readings, job)
        found = diagnosis.diagnose(taken, options.study)
    except site_csv.SiteFileError as error:
        print(f"{options.readings}: these readings cannot be read:", file=sys.stderr)
        for problem in error.problems:
            print(f"  {problem}", file=sys.stderr)
        return job_problems.REFUSED
    except ValueError as error:
        print(f"{options.readings}: {error}", file=sys.stderr)
        return job_problems.REFUSED
    try:
        studied = None
        if options.study:
            with progress.bar() as told:
                studied = calibrated_study.calibrated_study(found, told)
        written = survey_page.write(found, options.out, system, studied)
    except OSError as error:
        return job_problems.unwritable(options.out, error)
    _tell(found, system, studied)
    print(f"Page: {written.page}")
    print(f"Numbers: {written.numbers}")
    return 0 if found.sound else 1


def _tell(found, system: str, studied) -> None:
    """Verdict, dangers, causes with their chances, how to put it right, and what to read next."""
    from ventcalc.show import survey_sheet

    told = survey_sheet.records(found, system, studied)
    print(f"{told['job']['name']}. {told['verdict']}")
    for sentence in told["dangers"]:
        print(f"  PEOPLE  {sentence}")
    for sentence in (*told["causes"], *told["cures"]):
        print(f"  {sentence}")
    for group in told["explanations"][:MOST_SHOWN]:
        print(f"  {group['chance']:6.1%}  {' / '.join(m['name'] for m in group['members'])}")
    if told["calibrated"]:
        print(told["calibrated"]["sentence"])
    if told["as_found"]:
        print(told["as_found"]["sentence"])
    print(told["next"]["sentence"])
