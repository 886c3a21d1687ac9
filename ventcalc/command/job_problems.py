"""Job problems: what is said, on standard error, of a job file or a folder that a command cannot use."""

import sys
from pathlib import Path

REFUSED = 2  # exit code


def tell(path: Path | str, error: Exception, wanted: str) -> int:
    """Every problem of a job file that cannot be ``wanted`` ("studied"); the exit code."""
    print(f"{path}: this job cannot be {wanted}:", file=sys.stderr)
    for problem in error.problems:
        print(f"  {problem}", file=sys.stderr)
    return REFUSED


def unwritable(out: Path | str, error: OSError) -> int:
    """That a folder cannot be written; the exit code."""
    print(f"{out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
    return REFUSED
