"""Unit choice: the unit system that a reader chose, remembered from one chapter to the next.

It stands in a small file beside the chapters, `FILE`, which git ignores. Only a kernel that a notebook server started
for a reader looks there; wherever else a chapter is run (tests, tools, another front end) it begins in US units. The
variable `VARIABLE` of the environment wins over both.
"""

import os
from collections.abc import Mapping
from pathlib import Path

from ventcalc.units import SYSTEMS

VARIABLE = "VENTCALC_UNITS"
CHAPTERS = Path(__file__).parents[2] / "chapters"  # of the checkout; a wheel carries none
FILE = CHAPTERS / ".units"

_SESSION = "JPY_SESSION_NAME"  # set by a notebook server for the kernel of an open notebook, and by nobody else


def chosen(environment: Mapping[str, str] = os.environ, file: Path = FILE) -> str:
    """ "US" or "SI": by the environment, else as remembered, else "US". ValueError where the environment is neither."""
    told = environment.get(VARIABLE, "")
    if told:
        if told not in SYSTEMS:
            raise ValueError(f"{VARIABLE} is {told!r}; it must be {' or '.join(SYSTEMS)}")
        return told
    remembered = _read(file) if _SESSION in environment else ""
    return remembered if remembered in SYSTEMS else SYSTEMS[0]


def remember(system: str, environment: Mapping[str, str] = os.environ, file: Path = FILE) -> bool:
    """Remember a choice for the chapters opened next; whether that was possible."""
    if _SESSION not in environment or environment.get(VARIABLE):
        return False
    try:
        file.write_text(f"{system}\n", encoding="utf-8")
    except OSError:  # a folder that cannot be written, or a wheel, which carries no chapters
        return False
    return True


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").strip()
    except OSError:
        return ""
