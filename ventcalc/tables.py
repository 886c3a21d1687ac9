"""Tables of ``data/``: one CSV file per subject in the folder of its Part, every row with its source and status.

A file starts with ``#`` lines that say what it holds and where it comes from; then a header; then
rows. Columns carry their unit in their name (``height_ft``). Every table that is used as a check has
the columns ``id``, ``value``, ``unit``, ``source`` and ``status``.
"""

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

_PACKAGE = Path(__file__).parent

# In a wheel the tables are packed inside the package; in a checkout they stand beside it.
DATA = next(p for p in (_PACKAGE / "data", _PACKAGE.parent / "data") if p.is_dir())

# How far a number may be trusted; every status in data/ starts with one of these words.
STATUSES = ("published", "computed", "from memory", "common practice", "mixed", "invented")


@cache
def names() -> Mapping[str, Path]:
    """The file of every table by its name, which stands once in all of ``data/``, in alphabetical order."""
    return MappingProxyType({path.stem: path for path in sorted(DATA.glob("*/*.csv"), key=lambda path: path.stem)})


@cache
def read(name: str) -> tuple[dict[str, str], ...]:
    """Rows of the table ``name`` as dictionaries of text, in the order of the file."""
    if name not in names():
        raise ValueError(f"no table named {name!r} in data/; there are: {', '.join(names())}")
    with names()[name].open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


def row(name: str, key: str, column: str = "id") -> dict[str, str]:
    """The one row of a table whose ``column`` holds ``key``."""
    found = [r for r in read(name) if r[column] == key]
    if len(found) != 1:
        known = ", ".join(r[column] for r in read(name)[:40])
        raise ValueError(f"{column} {key!r} stands {len(found)} times in {name}.csv; there are: {known}")
    return found[0]
