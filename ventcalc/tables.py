"""Tables of ``data/``: one CSV file per subject, every row with its source and status.

A file starts with ``#`` lines that say what it holds and where it comes from; then a header; then
rows. Columns carry their unit in their name (``height_ft``). Every table that is used as a check has
the columns ``id``, ``value``, ``unit``, ``source`` and ``status``.
"""

import csv
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).parent

# In a wheel the tables are packed inside the package; in a checkout they stand beside it.
DATA = next(p for p in (_PACKAGE / "data", _PACKAGE.parent / "data") if p.is_dir())

# How far a number may be trusted; every status in data/ starts with one of these words.
STATUSES = ("published", "computed", "from memory", "common practice", "mixed", "invented")


@cache
def read(name: str) -> tuple[dict[str, str], ...]:
    """Rows of ``data/<name>.csv`` as dictionaries of text, in the order of the file."""
    path = DATA / f"{name}.csv"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in DATA.glob("*.csv")))
        raise ValueError(f"no table named {name!r} in data/; there are: {known}")
    with path.open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


def row(name: str, key: str, column: str = "id") -> dict[str, str]:
    """The one row of a table whose ``column`` holds ``key``."""
    found = [r for r in read(name) if r[column] == key]
    if len(found) != 1:
        known = ", ".join(r[column] for r in read(name)[:40])
        raise ValueError(f"{column} {key!r} stands {len(found)} times in data/{name}.csv; there are: {known}")
    return found[0]
