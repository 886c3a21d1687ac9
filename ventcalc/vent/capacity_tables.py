"""Capacity tables: the code's look-up procedure, over cells that a reader supplies.

The procedure is the same for every edition: find the lines beside the vent's height and its lateral (or its
connector's rise), interpolate between them, never beyond; then apply the `capacity_rules`. The cells themselves are the
reader's: `read_cells` reads a CSV file with the columns of ``data/vent/vent_capacity_checks.csv``, whose sampled cells
are `sampled`. A cell that is not there is said to be not there. Which lines a table has stands in
``data/vent/capacity_tables.csv``.

Check the edition that your jurisdiction has adopted.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ventcalc import tables
from ventcalc.door import door
from ventcalc.units import Quantity, magnitude, ureg
from ventcalc.words import Remark

KINDS = ("FAN", "NAT")  # category I: fan-assisted, draft hood


# Columns of values, as the file names them, and what they hold.
COLUMNS = {
    "FAN min": "fan_min_MBH",
    "FAN max": "fan_max_MBH",
    "NAT max": "nat_max_MBH",
    "FAN+FAN": "common_fan_fan_MBH",
    "FAN+NAT": "common_fan_nat_MBH",
    "NAT+NAT": "common_nat_nat_MBH",
}


class OutsideTable(ValueError):
    """The vent lies beyond the table's first or last line: no extrapolation."""


class NotAllowed(ValueError):
    """The code does not allow this vent: its cell says NA, or a rule forbids it."""


class MissingCell(ValueError):
    """The table has this line, but it is not among the cells given."""


@dataclass(frozen=True)
class Table:
    """Lines and columns of one code table: for each height [ft] its laterals or rises [ft], its diameters [in]."""

    number: str
    serves: str
    second: str
    lines: Mapping[float, tuple[float, ...]]
    diameters: tuple[float, ...]
    areas: tuple[float, ...]
    kinds: tuple[str, ...]
    source: str
    status: str


def _numbers(text: str) -> tuple[float, ...]:
    return tuple(float(t) for t in text.split())


@cache
def table(number: str) -> Table:
    """The lines of a table by its number, such as "504.2(1)"; ValueError lists the known ones."""
    row = tables.row("capacity_tables", number, "table")
    lines = dict(part.split(":") for part in row["entries"].split(";"))
    return Table(
        number=number,
        serves=row["serves"],
        second=row["second"],
        lines={float(h): _numbers(seconds) for h, seconds in lines.items()},
        diameters=_numbers(row["diameters_in"]),
        areas=_numbers(row["areas_in2"]),
        kinds=tuple(row["kinds"].split()),
        source=row["source"],
        status=row["status"],
    )


def numbers() -> tuple[str, ...]:
    """Numbers of the known tables."""
    return tuple(row["table"] for row in tables.read("capacity_tables"))


@dataclass(frozen=True)
class Cell:
    """One line of a table in one column of diameter [in] or flue area [in2]; heights and laterals [ft].

    ``second`` is the lateral or the connector's rise, None for a common vent; ``values`` [MBH] by the names of
    `COLUMNS`, None where the table says NA.
    """

    id: str
    table: str
    height: float
    second: float | None
    diameter: float | None
    area: float | None
    values: Mapping[str, float | None]
    source: str
    status: str


def cells(rows: Iterable[Mapping[str, str]]) -> tuple[Cell, ...]:
    """Cells from rows of text, as a CSV file holds them; rows that are no table cell are left out."""
    return tuple(c for row in rows if (c := _cell(row)) is not None)


def _cell(row: Mapping[str, str]) -> Cell | None:
    values = {name: _value(row[column]) for name, column in COLUMNS.items() if row.get(column, "").strip()}
    if row["table"] not in numbers() or not values or not row["height_ft"] or "interpolated" in row.get("quantity", ""):
        return None
    second = row.get(_SECONDS[table(row["table"]).second])
    area = row.get("min_chimney_area_in2")
    return Cell(
        id=row.get("id", ""),
        table=row["table"],
        height=float(row["height_ft"]),
        second=float(second) if second else None,
        diameter=float(row["diameter_in"]) if row["diameter_in"] else None,
        area=float(area) if area else None,
        values=values,
        source=row["source"],
        status=row.get("status", ""),
    )


_SECONDS = {"lateral": "lateral_ft", "rise": "connector_rise_ft"}


def _value(text: str) -> float | None:
    return None if text.strip().upper() == "NA" else float(text)


def read_cells(path: str | Path) -> tuple[Cell, ...]:
    """Cells of a reader's own file: the columns of ``data/vent/vent_capacity_checks.csv``, any of the value columns.

    ``#`` lines are comments; heights, laterals and rises in ft, diameters in inch, areas in square inch, capacities in
    MBH, "NA" where the table does not allow it. Raises ValueError naming missing columns, unreadable numbers, unknown
    tables, and cells that lie on no line of their table.
    """
    with Path(path).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    needed = {"table", "height_ft", "diameter_in", "source"}
    if not rows or needed - set(rows[0]):
        raise ValueError(
            f"{path}: needs rows with the columns {', '.join(sorted(needed))} and values such as nat_max_MBH"
        )
    problems = [p for i, row in enumerate(rows, 1) if (p := _row_problem(row)) and (p := f"row {i}: {p}")]
    if problems:
        raise ValueError(f"{path}: " + "; ".join(problems))
    return cells(rows)


def _row_problem(row: Mapping[str, str]) -> str | None:
    if row["table"] not in numbers():
        return f"unknown table {row['table']!r}; known are {', '.join(numbers())}"
    try:
        cell = _cell(row)
    except (ValueError, TypeError) as error:
        return f"not a number: {error}"
    if cell is None:
        return f"no capacity in any of {', '.join(COLUMNS.values())}"
    lines = table(cell.table).lines
    if cell.height not in lines or (cell.second is not None and cell.second not in lines[cell.height]):
        return f"table {cell.table} has no line for height {cell.height:g} ft and {cell.second} ft"
    return None


@cache
def sampled() -> tuple[Cell, ...]:
    """The sampled cells of ``data/vent/vent_capacity_checks.csv``: facts for checks, not a table to build from."""
    return cells(tables.read("vent_capacity_checks"))


@dataclass(frozen=True)
class Found:
    """A capacity from a table: ``value`` [MBH], the ``ids`` of the cells it came from, and ``how``, step by step."""

    value: float
    ids: tuple[str, ...]
    how: tuple[Remark, ...]


@door(
    height="m",
    second="m",
    diameter="m",
    area="m**2",
    above={"height": 0.0, "diameter": 0.0, "area": 0.0},
    at_least={"second": 0.0},
)
def look_up(
    given: Sequence[Cell],
    number: str,
    column: str,
    height: Quantity,
    second: Quantity | None,
    diameter: Quantity | None = None,
    area: Quantity | None = None,
) -> Found:
    """One capacity of a table, interpolated in height and in lateral or rise, never extrapolated.

    ``given``: the cells; ``column`` of `COLUMNS`; ``second``: lateral or connector rise (None: common vent);
    ``diameter`` of the vent or connector, one that the table has, or ``area`` of a masonry flue, for a common vent.

    Raises `OutsideTable`, `NotAllowed` or `MissingCell`; ValueError for an unknown column or diameter.
    """
    chosen = table(number)
    if column not in COLUMNS:
        raise ValueError(f"column {column!r}; choose {', '.join(COLUMNS)}")
    own = feet(height, "height")
    size = _size(chosen, diameter, area)
    low, high = _beside(tuple(chosen.lines), own, "height", number)
    ends = [_at_height(given, chosen, column, h, second, size) for h in dict.fromkeys((low, high))]
    return _between(ends, low, high, own, "height")


def feet(value: Quantity, name: str) -> float:
    """A length in feet, as a plain number."""
    # Rounded: 12 ft given as 3.6576 m is 12 ft.
    return round(float(magnitude(value, ureg.Unit("ft"), name)), 9)


def _size(chosen: Table, diameter: Quantity | None, area: Quantity | None) -> tuple[str, float]:
    if (diameter is None) == (area is None):
        raise ValueError("give a diameter or, for a common masonry flue, its area: one of the two")
    if diameter is not None:
        inch = round(float(magnitude(diameter, ureg.Unit("inch"), "diameter")), 6)
        if inch not in chosen.diameters:
            known = ", ".join(f"{d:g}" for d in chosen.diameters)
            raise ValueError(f"diameter {inch:g} in. is no column of table {chosen.number}; it has {known} in.")
        return "diameter", inch
    square = float(magnitude(area, ureg.Unit("inch**2"), "area"))
    fits = [a for a in chosen.areas if a <= square + 1e-9]
    if not fits:
        least = f"{chosen.areas[0]:g} in2" if chosen.areas else "no area at all"
        raise OutsideTable(f"flue area {square:.4g} in2: table {chosen.number} begins at {least}")
    return "area", fits[-1]


def _beside(known: Sequence[float], value: float, what: str, number: str, where: str = "") -> tuple[float, float]:
    """The lines on both sides of a value, the same one twice where it is a line itself."""
    if value < known[0] or value > known[-1]:
        raise OutsideTable(
            f"{what} {value:g} ft{where}: table {number} runs from {known[0]:g} to {known[-1]:g} ft and may not be "
            "extrapolated"
        )
    return max(k for k in known if k <= value), min(k for k in known if k >= value)


def _at_height(given, chosen: Table, column: str, height: float, second: Quantity | None, size) -> Found:
    if second is None:
        return _take(given, chosen, column, height, None, size)
    own, lines = feet(second, chosen.second), chosen.lines[height]
    if own < 0.0:
        raise ValueError(f"{chosen.second} {own:g} ft must not be negative")
    if chosen.second == "lateral" and own > 0.0:
        lines = tuple(s for s in lines if s > 0.0)  # a lateral of 0 is a straight vent without elbows: no neighbor
        own = max(own, lines[0])
    if chosen.second == "rise":
        own = min(own, lines[-1])  # more rise draws better than the last line says
    low, high = _beside(lines, own, chosen.second, chosen.number, f" (at height {height:g} ft)")
    ends = [_take(given, chosen, column, height, s, size) for s in dict.fromkeys((low, high))]
    return _between(ends, low, high, own, chosen.second)


def _take(given, chosen: Table, column: str, height: float, second: float | None, size) -> Found:
    kind, amount = size
    where = f"height {height:g} ft" + ("" if second is None else f", {chosen.second} {second:g} ft")
    unit = "in." if kind == "diameter" else "in2"
    where += f", {amount:g} {unit}"
    found = [
        c
        for c in given
        if (c.table, c.height, c.second, getattr(c, kind)) == (chosen.number, height, second, amount)
        and column in c.values
    ]
    if not found:
        raise MissingCell(
            f"table {chosen.number} has a line for {where}, but its {column} is not among the cells given; add the row "
            "from your code book"
        )
    value = found[0].values[column]
    if value is None:
        raise NotAllowed(f"table {chosen.number}, {where}: {column} is NA, not permitted")
    line = {"table": chosen.number, "height": height, "size": amount, "unit": unit, "column": column, "value": value}
    if second is None:
        return Found(value, (found[0].id,), (Remark("vent", "capacity", "line_common", line),))
    told = line | {"what": chosen.second, "second": second}
    return Found(value, (found[0].id,), (Remark("vent", "capacity", "line", told),))


def _between(ends: Sequence[Found], low: float, high: float, at: float, what: str) -> Found:
    ids, how = sum((e.ids for e in ends), ()), sum((e.how for e in ends), ())
    if len(ends) == 1:
        return ends[0]
    share = (at - low) / (high - low)
    value = ends[0].value + share * (ends[1].value - ends[0].value)
    between = {"what": what, "at": at, "share": share, "low": low, "high": high, "value": value}
    return Found(value, ids, (*how, Remark("vent", "capacity", "between", between)))
