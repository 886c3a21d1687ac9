"""``record JOB RECORD``: what was read on site against what should be; ``--blank`` writes the sheet to fill in."""

import argparse
import sys
from pathlib import Path

from ventcalc.units import SYSTEMS

HELP = "a sheet of readings to be filled in on site, and the filled one judged"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("job", metavar="JOB", help="a job file")
    parser.add_argument("record", metavar="RECORD", nargs="?", help="the filled record, a CSV file")
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument("--out", metavar="FOLDER", help="where record.html and record.json go")
    way.add_argument("--blank", metavar="CSV", help="write a blank record there, and judge nothing")
    parser.add_argument("--units", choices=SYSTEMS, help="units shown (default: those that the job file is written in)")


def run(options: argparse.Namespace) -> int:
    """0 where every reading is there and within its band, 1 where not, 2 where a file cannot be read or written."""
    from ventcalc.command import job_problems
    from ventcalc.job import job_file, study
    from ventcalc.show import progress

    if (options.record is None) == (options.blank is None):
        print("give a filled RECORD with --out FOLDER, or --blank CSV without a RECORD", file=sys.stderr)
        return job_problems.REFUSED
    if options.blank and Path(options.blank).exists():
        print(f"{options.blank}: is there already; choose another name", file=sys.stderr)
        return job_problems.REFUSED
    if options.record and not Path(options.record).is_file():
        print(f"{options.record}: no record is there", file=sys.stderr)
        return job_problems.REFUSED
    try:
        job = job_file.load(options.job)
    except job_file.JobError as error:
        return job_problems.tell(options.job, error, "tested")
    progress.first_time()
    with progress.bar() as told:
        found = study.study(job, told=told)
    system = options.units or job.system
    return _blank(found, options.blank, system) if options.blank else _judged(found, options, system)


def _blank(found, path: str, system: str) -> int:
    from ventcalc.command import job_problems
    from ventcalc.show import record_sheet, spreadsheet, whole_file

    try:
        whole_file.write(Path(path), spreadsheet.csv_text(record_sheet.blank(found, system)))
    except OSError as error:
        print(f"{path}: cannot be written ({error.strerror or error})", file=sys.stderr)
        return job_problems.REFUSED
    print(f"Blank: {path}")
    return 0


def _judged(found, options: argparse.Namespace, system: str) -> int:
    from ventcalc.command import job_problems
    from ventcalc.job import findings, record_judgement, site_csv, site_record
    from ventcalc.show import record_page, record_sheet

    try:
        record = site_record.load(options.record, found)
    except site_csv.SiteFileError as error:
        print(f"{options.record}: this record cannot be read:", file=sys.stderr)
        for problem in error.problems:
            print(f"  {problem}", file=sys.stderr)
        return job_problems.REFUSED
    judged = record_judgement.judge(found, record)
    try:
        written = record_page.write(judged, options.out, system)
    except OSError as error:
        return job_problems.unwritable(options.out, error)
    print(f"{found.job.name}. {record_sheet.verdict(judged)}")
    for f in judged.judgement.findings:
        print(f"  {f.weight.upper()}  {f.title}: {findings.sentence(f, system)}")
    print(f"Page: {written.page}")
    print(f"Numbers: {written.numbers}")
    return 0 if judged.passed else 1
