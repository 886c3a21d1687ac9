"""Kept: where on disk is kept what takes long to work out and never changes: machine code and the register of units."""

import os
import tempfile
from pathlib import Path

PACKAGE = Path(__file__).parent


def folder(name: str) -> Path | None:
    """The first folder of a name that can be written, made where it is not there; None where none can.

    In `NUMBA_CACHE_DIR` where that is set; else beside the package, or in the user's cache folder.
    """
    users = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or Path.home() / ".cache"
    asked = os.environ.get("NUMBA_CACHE_DIR")
    for base in [Path(asked)] if asked else [PACKAGE / "__pycache__", Path(users)]:
        found = base / name
        try:
            found.mkdir(parents=True, exist_ok=True)
            tempfile.TemporaryFile(dir=found).close()
        except OSError:
            continue
        return found
    return None
