"""The command: ``python -m ventcalc study JOB --out FOLDER [--units US|SI] [--pdf]``, and
``python -m ventcalc handout CHAPTER --to slides|html|pdf [--out FOLDER]``.

Exit code 0 where nothing speaks against the design (the vent with the remedy that the job offers, else as drawn) or the
handout was made; 1 where something does; 2 where the job file, the chapter, the folder or the command cannot be used:
then nothing is written.
"""

import argparse
import sys
from collections.abc import Sequence

from ventcalc import __version__
from ventcalc.units import SYSTEMS

MOST_SHOWN = 8  # findings told on the screen
MOST_NAMED = 10  # unsolved states named on the screen


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    options = _options(arguments)
    return {"study": _study, "handout": _handout}[options.command](options)


# What a command needs is loaded in it, so that --help and --version answer at once.


def _study(options: argparse.Namespace) -> int:
    from ventcalc.job import job_file as jobs

    try:
        job = jobs.load(options.job)
    except jobs.JobError as error:
        print(f"{options.job}: this job cannot be studied:", file=sys.stderr)
        for problem in error.problems:
            print(f"  {problem}", file=sys.stderr)
        return 2
    from ventcalc.job import study
    from ventcalc.show import report

    found = study.study(job)
    try:
        written = report.write(found, options.out, options.units, options.pdf)
    except OSError as error:
        print(f"{options.out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
        return 2
    _tell(found, written, options)
    return 0 if (found.offered or found).buildable and not found.impossible else 1


def _handout(options: argparse.Namespace) -> int:
    from ventcalc.show import handout

    try:
        print(f"Handout: {handout.write(options.chapter, options.to, options.out)}")
    except handout.HandoutError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{options.out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
        return 2
    return 0


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m ventcalc", description="Executable vent calculations.")
    parser.add_argument("--version", action="version", version=f"ventcalc {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    study = commands.add_parser("study", help="study a whole job and write its report")
    study.add_argument("job", metavar="JOB", help="a job file, such as data/jobs/swim_hall.toml")
    study.add_argument("--out", required=True, metavar="FOLDER", help="where report.html and results.json go")
    study.add_argument("--units", choices=SYSTEMS, default="US", help="units shown (default US)")
    study.add_argument("--pdf", action="store_true", help="also print report.pdf, where a Chromium is installed")
    handout = commands.add_parser("handout", help="a chapter as slides, as a page or as a PDF, without its code")
    handout.add_argument("chapter", metavar="CHAPTER", help="a chapter's name or number, such as 14_common_vent or 14")
    handout.add_argument("--to", required=True, choices=("slides", "html", "pdf"), help="what to make of it")
    handout.add_argument("--out", default=".", metavar="FOLDER", help="where the file goes (default: here)")
    return parser.parse_args(arguments)


def _tell(found, written, options: argparse.Namespace) -> None:
    """The verdict, the gravest findings, states that did not converge, and where the report lies."""
    from ventcalc.job import findings
    from ventcalc.show import finding_records

    verdict = finding_records.verdict(found)
    print(f"{found.job.name}. {verdict['sentence']}")
    if verdict["offered"]:
        print(verdict["offered"])
    grave = found.judgement.against
    for f in grave[:MOST_SHOWN]:
        print(f"  {f.weight.upper()}  {f.title}: {findings.sentence(f, options.units)}")
    if len(grave) > MOST_SHOWN:
        print(f"  and {len(grave) - MOST_SHOWN} more in the report")
    if found.unsolved:
        print(f"  {found.unsolved} states did not converge, or have no state of rest:")
        for state in (~found.scan.solution.converged).nonzero()[0][:MOST_NAMED]:
            print(f"    {found.scan.describe(state, options.units)}")
    print(f"Report: {written.page}")
    print(f"Numbers: {written.numbers}")
    if written.pdf:
        print(f"PDF: {written.pdf}")
    elif options.pdf:
        print("No PDF: no Chromium was found, or it failed; open the report in a browser and print it.")


if __name__ == "__main__":
    sys.exit(main())
