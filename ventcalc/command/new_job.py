"""``new OUT.toml``: a commented starting file for a job, and its schema; nothing there is overwritten."""

import argparse
import sys
from pathlib import Path

from ventcalc.command import job_problems
from ventcalc.units import SYSTEMS

HELP = "a commented starting file for a job, with the schema that editors complete by"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("out", metavar="OUT", help="where the file goes, such as my_job.toml")
    parser.add_argument("--appliances", type=int, default=1, metavar="N", help="how many equal ones (default 1)")
    parser.add_argument("--kind", default="forced", help="forced, draft hood or barometric (default forced)")
    parser.add_argument("--units", choices=SYSTEMS, default="US", help="units it is written in (default US)")


def run(options: argparse.Namespace) -> int:
    """0 where it was written, 2 where it cannot be."""
    from ventcalc.job import job_schema, starting_file

    out = Path(options.out)
    try:
        text = starting_file.text(options.appliances, options.kind, options.units)
        with out.open("x", encoding="utf-8") as file:
            file.write(text)
        schema = job_schema.write(out.parent)
    except FileExistsError:
        print(f"{out}: is there already; choose another name", file=sys.stderr)
        return job_problems.REFUSED
    except ValueError as error:
        print(error, file=sys.stderr)
        return job_problems.REFUSED
    except OSError as error:
        print(f"{out}: cannot be written ({error.strerror or error})", file=sys.stderr)
        return job_problems.REFUSED
    print(f"Job: {out}")
    print(f"Schema: {schema} (read by editors with a TOML language server, such as Taplo or Even Better TOML)")
    return 0
