"""``keys``: every key of a job file with its usual value and what it means; ``--schema`` prints the JSON Schema."""

import argparse
import json
import sys

HELP = "every key of a job file: usual value and meaning"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("table", metavar="TABLE", nargs="?", help="one table alone, such as appliance.level")
    parser.add_argument("--schema", action="store_true", help="the JSON Schema, for editors")


def run(options: argparse.Namespace) -> int:
    """0 where there was something to tell, 2 where there is no such table."""
    from ventcalc.command import job_problems
    from ventcalc.job import job_keys, job_schema

    if options.schema:
        print(json.dumps(job_schema.schema(), indent=1, ensure_ascii=False))
        return 0
    every = job_keys.all_keys()
    told = [key for key in every if options.table in (None, key.table)]
    if not told:
        known = sorted({key.table for key in every if key.table})
        print(f"no table {options.table!r}; choose one of {', '.join(known)}", file=sys.stderr)
        return job_problems.REFUSED
    table = None
    for key in told:
        if key.table != table:
            table = key.table
            print(f"\n[{table or 'the whole file'}]")
        value = " ".join(filter(None, (f'e.g. "{key.example}"' if key.example else "", _usual(key))))
        print(f"  {key.name:<20} {value:<34} {key.meaning}")
    return 0


def _usual(key) -> str:
    if key.usual in ("", "required"):
        return key.usual
    return f"({key.usual})"
