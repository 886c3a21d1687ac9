"""The command: ``python -m ventcalc COMMAND``, with ``study``, ``handout`` and what else `COMMANDS` lists.

Exit code 0 where nothing speaks against what was asked, 1 where something does, 2 where a file, a folder or the command
cannot be used: then nothing is written. 130 where it was stopped, 141 where nobody reads what it says: then nothing
is half-written.
"""

import argparse
import os
import sys
from collections.abc import Sequence

from ventcalc import __version__
from ventcalc.command import check_job, make_handout, new_job, read_record, study_jobs, survey_vent, tell_keys

COMMANDS = {
    "new": new_job,
    "check": check_job,
    "keys": tell_keys,
    "study": study_jobs,
    "record": read_record,
    "survey": survey_vent,
    "handout": make_handout,
}
STOPPED = 130  # as a shell says of a program stopped from the keyboard
UNREAD = 141  # and of one that writes where nobody reads any more


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit code."""
    try:
        try:
            options = _options(arguments)
            return COMMANDS[options.command].run(options)
        finally:
            sys.stdout.flush()  # a few lines wait in the buffer: that nobody reads them shows here, not at exit
    except KeyboardInterrupt:
        print("stopped; nothing is half-written", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:  # whoever read along has seen enough, as in "| head"
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # what is left unsaid must not fail at the end
        return UNREAD


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m ventcalc", description="Executable vent calculations.")
    parser.add_argument("--version", action="version", version=f"ventcalc {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, module in COMMANDS.items():
        module.arguments(commands.add_parser(name, help=module.HELP, description=module.HELP))
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
