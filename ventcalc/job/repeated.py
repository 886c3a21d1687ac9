"""Repeated: equal appliances and sections of a job file told once, with a ``count``.

``[[appliance]] name = "Boiler", count = 3`` stands for "Boiler 1" to "Boiler 3"; ``[[section]]`` likewise. Where a
counted thing leads into a counted section of the same number, each leads into its own: "Boiler 2" into "connector 2". A
counted section that leads into itself is a row, each piece into the next, and the last into what ``then`` names: a
header. Where that row rises, each connector rises as much more as the header does before it, and is as much longer.
Where a permission, an alternate or the room names "Boiler", it means all three. Works on the plain data of a
file, before it is validated.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from pint import DimensionalityError

from ventcalc.units import UnitsError, parse, ureg

MOST = 60  # of one kind: more is a slip of the pen
KEYS = {"appliance": ("count",), "section": ("count", "then")}

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
    counted = {kind: [row for row in _rows(content, kind) if "count" in row] for kind in KEYS}
    problems = [
        f"{_place(kind, row)}: count = {row['count']!r} must be a whole number from 1 to {MOST}"
        for kind, rows in counted.items()
        for row in rows
        if isinstance(row["count"], bool) or not isinstance(row["count"], int) or not 1 <= row["count"] <= MOST
    ]
    if problems:
        raise RepeatError(problems)
    counts = {row["name"]: row["count"] for row in counted["section"] if isinstance(row.get("name"), str)}
    pitches = {row["name"]: row["rise"] for row in counted["section"] if "rise" in row and row.get("name") in counts}
    found = dict(content)
    for kind in KEYS:
        if _rows(content, kind):
            found[kind] = [each for row in _rows(content, kind) for each in _each(kind, row, counts, problems)]
    if problems:
        raise RepeatError(problems)
    for row in counted["section"]:
        into = row.get("into")
        if isinstance(into, str) and into in pitches and into != row.get("name"):
            _meet(found["section"], row, pitches[into])
    return found | _naming(content)


def _meet(sections: list[Row], row: Row, pitch: Any) -> None:
    """Let each of a counted section meet the row that it leads into, each piece of which rises by ``pitch``."""
    before = {numbered(row.get("name"), k): k - 1 for k in range(2, row["count"] + 1)}
    for each in sections:
        if (times := before.get(each.get("name"))) is not None:
            longer = {"rise": each.get("rise", "0 m")} | {k: each[k] for k in ("length",) if k in each}
            each |= {key: _more(length, pitch, times) for key, length in longer.items()}


def _more(length: Any, pitch: Any, times: int) -> Any:
    """A length and so many times another, in the unit of the first; what is no length is left for whoever reads it."""
    try:
        first, other = (parse(text, ureg.Unit("m")) for text in (length, pitch))
        return f"{float((first + times * other).m_as(first.units)):.12g} {first.units}"
    except (UnitsError, ValueError, DimensionalityError):
        return length


def told_at(location: Sequence[str | int], content: Mapping[str, Any]) -> tuple[str | int, ...]:
    """Where a place of the file spelled out stands in the file as it is told: ("appliance", 7, "fuel") in its table."""
    kind, pieces = location[0], _pieces(content)
    rows = _rows(content, kind) if kind in (*KEYS, "permission") else []
    if len(location) < 2 or not isinstance(location[1], int) or not rows:
        return tuple(location)
    tables = [
        k
        for k, row in enumerate(rows)
        for _ in range(len(_all_of(row.get("name"), pieces)) if kind == "permission" else row.get("count", 1))
    ]
    return (kind, tables[location[1]], *location[2:])


def numbered(name: str, number: int) -> str:
    """The name of one of many: "Boiler 2"."""
    return f"{name} {number}"


def _rows(content: Mapping[str, Any], kind: str | int) -> list[Row]:
    rows = content.get(str(kind))
    return rows if isinstance(rows, list) and all(isinstance(row, dict) for row in rows) else []


def _place(kind: str, row: Row) -> str:
    return f'{kind} "{row["name"]}"' if isinstance(row.get("name"), str) else f"a {kind} without a name"


def _each(kind: str, row: Row, counts: Mapping[str, int], problems: list[str]) -> list[Row]:
    """One row, or as many as it counts."""
    name, into = row.get("name"), row.get("into")
    leads_to_many = isinstance(into, str) and into in counts
    is_row = kind == "section" and "count" in row and isinstance(name, str) and into == name
    if is_row != ("then" in row):
        problems.append(
            f"{_place(kind, row)}: it leads into itself, so say where the last of the row leads: then = ..." if is_row
            else f"{_place(kind, row)}: then is for a row, a counted section that leads into itself"
        )  # fmt: skip
        return []
    if "count" not in row:
        if leads_to_many:
            first = numbered(into, 1)
            problems.append(
                f'{_place(kind, row)}: into = "{into}" is counted; name one of them, such as "{first}", or give this a '
                "count too"
            )
        return [row]
    count = row["count"]
    if leads_to_many and not is_row and counts[into] != count:
        problems.append(f'{_place(kind, row)}: count = {count}, but "{into}" into which it leads has {counts[into]}')
        return []
    rest = {key: value for key, value in row.items() if key not in KEYS["section"]}
    if isinstance(name, str):
        rest = [rest | {"name": numbered(name, k)} for k in range(1, count + 1)]
    else:
        rest = [rest] * count
    return [each | _leads(row, k, is_row, leads_to_many) for k, each in enumerate(rest, start=1)]


def _leads(row: Row, number: int, is_row: bool, to_many: bool) -> Row:
    """Where one of many leads; nothing where the file does not say."""
    if is_row and number == row["count"]:
        return {"into": row["then"]}
    if is_row or to_many:
        return {"into": numbered(row["into"], number + 1 if is_row else number)}
    return {}


def _pieces(content: Mapping[str, Any]) -> dict[str, list[str]]:
    """The names that each counted appliance stands for."""
    return {
        row["name"]: [numbered(row["name"], k) for k in range(1, row["count"] + 1)]
        for row in _rows(content, "appliance")
        if "count" in row and isinstance(row.get("name"), str)
    }


def _all_of(name: Any, pieces: Mapping[str, list[str]]) -> list[Any]:
    return pieces.get(name, [name]) if isinstance(name, str) else [name]


def _naming(content: Mapping[str, Any]) -> dict[str, Any]:
    """Permissions, alternates and room with a counted appliance that they name as all that it stands for."""
    pieces, found = _pieces(content), {}

    def with_all(row: Row, key: str) -> Row:
        listed = row.get(key)
        return row | {key: [n for name in listed for n in _all_of(name, pieces)]} if isinstance(listed, list) else row

    if rows := _rows(content, "permission"):
        found["permission"] = [
            row | {"name": name} if name in pieces.get(row.get("name"), ()) else row
            for row in rows
            for name in _all_of(row.get("name"), pieces)
        ]
    if rows := _rows(content, "alternate"):
        found["alternate"] = [with_all(row, "appliances") for row in rows]
    if isinstance(content.get("room"), dict):
        found["room"] = with_all(content["room"], "sealed")
    return found
