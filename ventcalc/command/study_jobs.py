"""``study JOB... --out FOLDER``: study whole jobs, one or many, and write their reports.

One job file goes into the folder itself. Several files, or a folder of them, run side by side, each into a folder of
its name, with an index page; one broken job stops no other.
"""

import argparse
import sys
from pathlib import Path

from ventcalc.units import SYSTEMS

HELP = "study a whole job and write its report; several jobs side by side"
MOST_SHOWN = 8  # findings told on the screen
DRAWS, FEWEST_DRAWS = 1024, 64
MOST_CHANGES = 12  # told on the screen
MOST_NAMED = 10  # unsolved states named on the screen


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument(
        "jobs", metavar="JOB", nargs="+", help="a job file, such as data/jobs/swim_hall.toml, or a folder of job files"
    )
    parser.add_argument("--out", required=True, metavar="FOLDER", help="where report.html and results.json go")
    parser.add_argument("--units", choices=SYSTEMS, help="units shown (default: those that the job file is written in)")
    parser.add_argument("--pdf", action="store_true", help="also print report.pdf, where a Chromium is installed")
    parser.add_argument(
        "--since", metavar="RESULTS", help="results.json of an earlier revision of the job: tell what changed"
    )
    parser.add_argument(
        "--chance", type=_draws, metavar="DRAWS", nargs="?", const=DRAWS,
        help=f"also tell how sure the design is, by so many draws of what is uncertain (a power of two; {DRAWS})",
    )  # fmt: skip
    parser.add_argument(
        "--year", metavar="EPW", nargs="?", const="",
        help="also tell how often in a year: in the weather of an EPW file, or in the invented climate of the job",
    )  # fmt: skip
    parser.add_argument(
        "--workers", type=_at_least_one, metavar="N", help="how many jobs at a time (default: one a processor)"
    )


def _draws(text: str) -> int:
    count = int(text)
    if count < FEWEST_DRAWS or count & (count - 1):
        raise argparse.ArgumentTypeError(f"{count} draws: give a power of two, {FEWEST_DRAWS} or more")
    return count


def _at_least_one(text: str) -> int:
    count = int(text)
    if count < 1:
        raise argparse.ArgumentTypeError(f"{count} at a time: give at least 1")
    return count


def run(options: argparse.Namespace) -> int:
    """0 where nothing speaks against any design, 1 where something does, 2 where a job or the folder cannot be used."""
    if len(options.jobs) == 1 and not Path(options.jobs[0]).is_dir():
        return _one(options)
    if options.since or options.chance or options.year is not None:
        print("--since, --chance and --year are for one job at a time; give one JOB", file=sys.stderr)
        return 2
    return _many(options)


def _one(options: argparse.Namespace) -> int:
    from ventcalc.building import weather_file
    from ventcalc.command import job_problems
    from ventcalc.job import job_file, study

    try:
        job = job_file.load(options.jobs[0])
    except job_file.JobError as error:
        return job_problems.tell(options.jobs[0], error, "studied")
    from ventcalc.show import batch, changes, progress, report

    try:
        since = changes.read(options.since, job.name, job.document.project) if options.since else None
    except changes.Unlike as error:
        print(error, file=sys.stderr)
        return 2
    try:
        weather = weather_file.load(options.year) if options.year else None
    except weather_file.WeatherError as error:
        print(error, file=sys.stderr)
        return 2
    progress.first_time()
    with progress.bar() as told:
        found = study.study(job, told=told, draws=options.chance or 0)
    years = None if options.year is None else _years(found, weather)
    system = options.units or job.system
    try:
        written = report.write(found, options.out, system, options.pdf, since, years)
    except OSError as error:
        return job_problems.unwritable(options.out, error)
    _tell(found, written, options.pdf, system)
    if (sure := found.reported.sure) is not None:
        print(f"{found.reported.outcome.remedy.name}: {sure.page_one.window} {sure.page_one.flue_gas}")
    if years is not None:
        _tell_year(written)
    if since is not None:
        _tell_changes(written)
    return batch.status(found)


def _years(found, weather):
    """The year of the study's designs."""
    from ventcalc.job import year_compared
    from ventcalc.show import progress

    with progress.bar() as told:
        return year_compared.compared(found, weather, told)


def _tell_year(written) -> None:
    """How often the design reported on fails, as the report tells it."""
    import json

    told = json.loads(written.numbers.read_text(encoding="utf-8"))["year"]
    for sentence in (f"{told['design']}: {told['words'][0]}", *told["words"][1:]):
        print(sentence)


def _tell_changes(written) -> None:
    """What changed since an earlier revision, as the report tells it."""
    import json

    from ventcalc.show import changes

    told = changes.sentences(json.loads(written.numbers.read_text(encoding="utf-8"))["changes"])
    print("Changed:" if told else "Nothing changed.")
    for sentence in told[:MOST_CHANGES]:
        print(f"  {sentence}")
    if len(told) > MOST_CHANGES:
        print(f"  and {len(told) - MOST_CHANGES} more in the report")


def _many(options: argparse.Namespace) -> int:
    from ventcalc.command import job_problems
    from ventcalc.show import batch, progress

    try:
        files = batch.job_files(options.jobs)
        with progress.count(len(files), "job") as step:
            every = batch.run(
                files, options.out, options.units, options.pdf, options.workers, lambda done: step(done.name)
            )
    except FileNotFoundError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        return job_problems.unwritable(options.out, error)
    for done in every:
        print(f"{done.name}. {done.verdict or '; '.join(done.problems)}")
    print(f"Index: {Path(options.out) / batch.INDEX}")
    return max(done.status for done in every)


def _tell(found, written, pdf: bool, system: str) -> None:
    """The verdict, the gravest findings, conditions without a state of rest, and where the report lies."""
    from ventcalc import words
    from ventcalc.job import findings
    from ventcalc.show import finding_records

    verdict = finding_records.verdict(found)
    print(f"{found.job.name}. {verdict['sentence']}")
    for told in finding_records.remedy_verdicts(verdict):
        print(told)
    for remark in words.told(found.job.remarks, system):
        print(f"  Look again: {remark}")
    grave = found.judgement.against
    for f in grave[:MOST_SHOWN]:
        print(f"  {f.weight.upper()}  {f.title}: {findings.sentence(f, system)}")
    if len(grave) > MOST_SHOWN:
        print(f"  and {len(grave) - MOST_SHOWN} more in the report")
    if found.unsolved:
        print(f"  {finding_records.without_rest(found)}:")
        for state in finding_records.unsolved_columns(found)[:MOST_NAMED]:
            print(f"    {found.scan.describe(state, system)}")
    print(f"Report: {written.page}")
    print(f"Numbers: {written.numbers}")
    if written.pdf:
        print(f"PDF: {written.pdf}")
    elif pdf:
        print("No PDF: no Chromium was found, or it failed; open the report in a browser and print it.")
