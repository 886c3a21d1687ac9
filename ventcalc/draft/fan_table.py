"""Fan table: reading fans and their curves from a table, and the fans that come with this library."""

import csv
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from ventcalc import tables
from ventcalc.draft.fan_curve import KINDS, Fan, Point
from ventcalc.units import Q_, Quantity

_NUMBERS = {
    "outlet_diameter": {"in": "inch", "mm": "mm", "m": "m"},
    "rated_speed": {"rpm": "rpm"},
    "least_speed": {"rpm": "rpm"},
    "most_speed": {"rpm": "rpm"},
    "stall_flow": {"cfm": "cfm", "m3_s": "m**3/s", "m3_h": "m**3/hour"},
    "motor": {"hp": "horsepower", "W": "W", "kW": "kW"},
    "highest_temperature": {"F": "degF", "C": "degC"},
    "density": {"lb_ft3": "lb/ft**3", "kg_m3": "kg/m**3"},
    "stopped_loss": {"": ""},
    "speed": {"rpm": "rpm"},
    "flow": {"cfm": "cfm", "m3_s": "m**3/s", "m3_h": "m**3/hour"},
    "pressure": {"inwc": "inH2O", "Pa": "Pa"},
    "power": {"hp": "horsepower", "W": "W", "kW": "kW"},
}
_OF_A_POINT = ("speed", "flow", "pressure", "power")  # in every row; the rest in the first row of each fan
# column -> (what, unit)
_COLUMNS = {
    what + ("_" + suffix if suffix else ""): (what, unit)
    for what, suffixes in _NUMBERS.items()
    for suffix, unit in suffixes.items()
}
_WORDS = ("name", "kind", "condensate", "source", "status")
_AT_RATED = 5e-4  # a speed this near to the rated one is the rated one


class CurveError(ValueError):
    """A table of fans that cannot be used; ``problems`` holds one sentence a fault, with its line."""

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems


def read_curve(text_or_path: str | Path) -> tuple[Fan, ...]:
    """The fans of a table in the form of data/draft/fans.csv: its text, or the path of a file.

    One row a point. The columns about the fan itself are filled in its first row and left empty, or repeated, in the
    others. A column's name ends with its unit: flow_cfm, flow_m3_s or flow_m3_h; pressure_inwc or pressure_Pa;
    power_hp, power_W or power_kW; and so on. The column condensate (yes or no; no where it is left out) says
    whether the fan may be wet. Lines that begin with # are not read.

    Raises `CurveError` that names every fault with its line.
    """
    text = str(text_or_path)
    if isinstance(text_or_path, Path) or "\n" not in text:
        text = Path(text_or_path).read_text(encoding="utf-8-sig")
    lines = [(k, line) for k, line in enumerate(text.splitlines(), start=1) if line.strip() and line[0] != "#"]
    if len(lines) < 2:
        raise CurveError(["the table is empty: it needs a line of column names and a row a point"])
    header = [name.strip() for name in next(csv.reader([lines[0][1]]))]
    problems = _faults_of_header(header, lines[0][0])
    if problems:
        raise CurveError(problems)
    rows = [(k, [cell.strip() for cell in next(csv.reader([line]))]) for k, line in lines[1:]]
    groups: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for line, cells in rows:
        row = _row(header, line, cells, problems)
        if row:
            groups.setdefault(row["name"], []).append((line, row))
    fans = [_fan(name, group, problems) for name, group in groups.items()]
    if problems:
        raise CurveError(problems)
    return tuple(fans)


def _faults_of_header(header: list[str], line: int) -> list[str]:
    known = [*_WORDS, *_COLUMNS]
    found = [
        f"line {line}: unknown column {name!r}; did you mean {get_close_matches(name, known, 1, 0.0)[0]}?"
        for name in header
        if name not in known
    ]
    have = [_COLUMNS[name][0] if name in _COLUMNS else name for name in header if name in known]
    found += [f"line {line}: {what} stands in {have.count(what)} columns" for what in set(have) if have.count(what) > 1]
    for what in ("name", "kind", *_NUMBERS):
        if what not in have:
            ways = [what + ("_" + suffix if suffix else "") for suffix in _NUMBERS.get(what, {"": ""})]
            found.append(f"line {line}: no column {' or '.join(ways)}")
    return sorted(found)


def _row(header: list[str], line: int, cells: list[str], problems: list[str]) -> dict[str, Any]:
    """What a row says, in SI; empty cells left out, faults told."""
    if len(cells) != len(header):
        problems.append(f"line {line}: {len(cells)} cells under {len(header)} column names")
        return {}
    row: dict[str, Any] = {}
    for column, cell in zip(header, cells, strict=True):
        if column in _WORDS:
            row |= {column: cell} if cell else {}
            continue
        what, unit = _COLUMNS[column]
        if not cell:
            if what in _OF_A_POINT:
                problems.append(f"line {line}: {column} is empty")
            continue
        try:
            row[what] = Q_(float(cell), unit)
            if not np.isfinite(row[what].m):
                raise ValueError
        except ValueError:
            problems.append(f"line {line}: {column} = {cell!r} is not a number")
    if "name" not in row:
        problems.append(f"line {line}: the fan's name is missing")
        return {}
    return row


def _fan(name: str, group: list[tuple[int, dict[str, Any]]], problems: list[str]) -> Fan | None:
    """The fan of the rows that bear its name, or None where something is wrong; what, is told."""
    start, before = group[0][0], len(problems)
    first = group[0][1]
    for line, row in group[1:]:
        for what in set(row) - {"name", "source", "status", *_OF_A_POINT}:
            if row[what] != first.get(what):
                problems.append(f"line {line}: {what} of {name} is another than in line {start}")
    for what in ("kind", *_NUMBERS):
        if what not in first and what not in _OF_A_POINT:
            problems.append(f"line {start}: {what} of {name} is missing in its first row")
    if len(problems) > before or any(what not in row for _, row in group for what in _OF_A_POINT):
        return None
    if first.get("condensate", "no") not in ("yes", "no"):
        problems.append(f"line {start}: condensate of {name} = {first['condensate']!r}: choose yes or no")
        return None
    try:
        return _made(name, first, [row for _, row in group])
    except ValueError as error:
        problems.append(f"line {start}: {error}")
        return None


def _made(name: str, first: dict[str, Any], rows: list[dict[str, Any]]) -> Fan:
    def ratio(speed: Quantity) -> float:
        found = float((speed / first["rated_speed"]).m_as(""))
        return 1.0 if abs(found - 1.0) < _AT_RATED else found

    points = tuple(
        Point(
            ratio(r["speed"]),
            *(float(r[w].m_as(u)) for w, u in zip(_OF_A_POINT[1:], ("m**3/s", "Pa", "W"), strict=True)),
        )
        for r in rows
    )
    return Fan(
        name=name,
        kind=first["kind"],
        outlet_diameter=first["outlet_diameter"],
        rated_speed=first["rated_speed"],
        least_speed=ratio(first["least_speed"]),
        most_speed=ratio(first["most_speed"]),
        stall_flow=first["stall_flow"],
        motor_power=first["motor"],
        highest_temperature=first["highest_temperature"],
        density=first["density"],
        stopped_loss=float(first["stopped_loss"].m),
        points=points,
        source=first.get("source", ""),
        status=first.get("status", ""),
        condensate=first.get("condensate") == "yes",
    )


@cache
def _shipped() -> dict[str, Fan]:
    return {fan.name: fan for fan in read_curve(tables.names()["fans"])}


def names(kind: str | None = None) -> tuple[str, ...]:
    """Names of the fans of data/draft/fans.csv, all of them invented; of one kind ("roof", "in-line") where it is
    given."""
    if kind is not None and kind not in KINDS:
        raise ValueError(f"kind of fan {kind!r}: choose {' or '.join(KINDS)}")
    return tuple(name for name, each in _shipped().items() if kind in (None, each.kind))


def fan(name: str) -> Fan:
    """The fan of data/draft/fans.csv of that name; ValueError says which there are, and the most alike."""
    try:
        return _shipped()[name]
    except KeyError:
        nearest = get_close_matches(str(name), names(), 1, 0.0)[0]
        raise ValueError(f"no fan named {name!r}; did you mean {nearest!r}? There are: {', '.join(names())}") from None
