"""Repeated: equal appliances and sections of a job file told once, with a ``count``.

``[[appliance]] name = "Boiler", count = 3`` stands for "Boiler 1" to "Boiler 3"; ``[[section]]`` likewise. Where a
counted thing leads into a counted section of the same number, each leads into its own: "Boiler 2" into "connector 2". A
counted section that leads into itself is a row, each piece into the next, and the last into what ``then`` names: a
header. Works on the plain data of a file, before it is validated.
"""

from collections.abc import Mapping
from typing import Any

MOST = 60  # of one kind: more is a slip of the pen
KEYS = ("count", "then")

Row = dict[str, Any]


class RepeatError(ValueError):
    """What of a file cannot be repeated, one sentence each, in ``problems``."""

    def __init__(self, problems: list[str]):
        super().__init__("; ".join(problems))
        self.problems = problems


def repeat(content: Mapping[str, Any]) -> dict[str, Any]:
    """The file with every counted appliance and section spelled out; one without a count is left as it is.

    Raises `RepeatError` with all that is wrong: a count that is no whole number from 1 to `MOST`, a row without
    ``then``, counts that do not match.
    """
    problems: list[str] = []
    counts: dict[str, int] = {}
    for kind in ("appliance", "section"):
        for row in _rows(content, kind):
            if "count" in row:
                count, name = row["count"], str(row.get("name", f"a {kind} without a name"))
                if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= MOST:
                    problems.append(f"{kind} {name!r}: count = {count!r} must be a whole number from 1 to {MOST}")
                elif kind == "section":
                    counts[name] = count
    if problems:
        raise RepeatError(problems)
    found = dict(content)
    for kind in ("appliance", "section"):
        if _rows(content, kind):
            found[kind] = [each for row in _rows(content, kind) for each in _each(kind, row, counts, problems)]
    if problems:
        raise RepeatError(problems)
    return found


def numbered(name: str, number: int) -> str:
    """The name of one of many: "Boiler 2"."""
    return f"{name} {number}"


def _rows(content: Mapping[str, Any], kind: str) -> list[Row]:
    rows = content.get(kind)
    return rows if isinstance(rows, list) and all(isinstance(row, dict) for row in rows) else []


def _each(kind: str, row: Row, counts: Mapping[str, int], problems: list[str]) -> list[Row]:
    """One row, or as many as it counts."""
    into = row.get("into")
    if "count" not in row:
        if into in counts:
            problems.append(
                f"{kind} {row.get('name')!r}: into = {into!r} is counted; name one of them, such as "
                f"{numbered(into, 1)!r}, or give this a count too"
            )
        return [row]
    count, name = row["count"], row.get("name")
    is_row = kind == "section" and into == name
    if is_row != ("then" in row):
        problems.append(
            f"{kind} {name!r}: it leads into itself, so say where the last of the row leads: then = ..." if is_row
            else f"{kind} {name!r}: then is for a row, a counted section that leads into itself"
        )  # fmt: skip
        return []
    if into in counts and not is_row and counts[into] != count:
        problems.append(f"{kind} {name!r}: count = {count}, but {into!r} into which it leads has {counts[into]}")
        return []
    rest = {key: value for key, value in row.items() if key not in KEYS}
    return [
        {**rest, "name": numbered(name, k), "into": _leads(row, k, is_row, into in counts)} for k in range(1, count + 1)
    ]


def _leads(row: Row, number: int, is_row: bool, counted: bool) -> Any:
    if is_row:
        return numbered(row["into"], number + 1) if number < row["count"] else row["then"]
    return numbered(row["into"], number) if counted else row.get("into")
