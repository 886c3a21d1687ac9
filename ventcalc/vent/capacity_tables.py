"""Capacity tables: the code's look-up procedure, over cells that a reader supplies.

The procedure is the same for every edition: find the lines beside the vent's height and its lateral (or its
connector's rise), interpolate between them, never beyond; then take off what elbows, a corrugated liner, a long
connector or an offset cost. The cells themselves are the reader's: `read_cells` reads a CSV file with the columns of
``data/vent/vent_capacity_checks.csv``, whose sampled cells are `sampled`. A cell that is not there is said to be not
there.
Which lines a table has stands in ``data/vent/capacity_tables.csv``, the rules as numbers in
``data/vent/capacity_rules.csv``.

Check the edition that your jurisdiction has adopted.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import pi
from pathlib import Path
from typing import Any

from ventcalc import tables
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.vent import area_rule

KINDS = ("FAN", "NAT")  # category I: fan-assisted, draft hood
COMMON = ("FAN+FAN", "FAN+NAT", "NAT+NAT")

# Columns of values, as the file names them, and what they hold.
COLUMNS = {
    "FAN min": "fan_min_MBH",
    "FAN max": "fan_max_MBH",
    "NAT max": "nat_max_MBH",
    "FAN+FAN": "common_fan_fan_MBH",
    "FAN+NAT": "common_fan_nat_MBH",
    "NAT+NAT": "common_nat_nat_MBH",
}

ALTITUDE_RULE = (
    "Above sea level the maximum is held against the input at sea level, as on the rating plate, and the minimum "
    "against the derated input that the burner really has (IFGC 504.2.10 and 504.3.11, from memory)."
)
MULTI_STOREY = (
    "Several storeys on one vent (IFGC 504.3.13 on, from memory): each lower part is sized as a common vent of its "
    "own, whose height ends at the middle of the next connection above; the top part is counted from its highest "
    "outlet to the cap. Only category I appliances, none in a room that people live in."
)


class OutsideTable(ValueError):
    """The vent lies beyond the table's first or last line: no extrapolation."""


class NotAllowed(ValueError):
    """The code does not allow this vent: its cell says NA, or a rule forbids it."""


class MissingCell(ValueError):
    """The table has this line, but it is not among the cells given."""


# --- Tables and cells -----------------------------------------------------------------------------------


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


# --- Looking up -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Found:
    """A capacity from a table: ``value`` [MBH], the ``ids`` of the cells it came from, and in words ``how``."""

    value: float
    ids: tuple[str, ...]
    how: tuple[str, ...]


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
    feet = _feet(height, "height")
    size = _size(chosen, diameter, area)
    low, high = _beside(tuple(chosen.lines), feet, "height", number)
    ends = [_at_height(given, chosen, column, h, second, size) for h in dict.fromkeys((low, high))]
    return _between(ends, low, high, feet, "height")


def _feet(value: Quantity, name: str) -> float:
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
    feet, lines = _feet(second, chosen.second), chosen.lines[height]
    if feet < 0.0:
        raise ValueError(f"{chosen.second} {feet:g} ft must not be negative")
    if chosen.second == "lateral" and feet > 0.0:
        lines = tuple(s for s in lines if s > 0.0)  # a lateral of 0 is a straight vent without elbows: no neighbour
        feet = max(feet, lines[0])
    if chosen.second == "rise":
        feet = min(feet, lines[-1])  # more rise draws better than the last line says
    low, high = _beside(lines, feet, chosen.second, chosen.number, f" (at height {height:g} ft)")
    ends = [_take(given, chosen, column, height, s, size) for s in dict.fromkeys((low, high))]
    return _between(ends, low, high, feet, chosen.second)


def _take(given, chosen: Table, column: str, height: float, second: float | None, size) -> Found:
    kind, amount = size
    where = f"height {height:g} ft" + ("" if second is None else f", {chosen.second} {second:g} ft")
    where += f", {amount:g} {'in.' if kind == 'diameter' else 'in2'}"
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
    return Found(value, (found[0].id,), (f"table {chosen.number}, {where}: {column} {value:g} MBH",))


def _between(ends: Sequence[Found], low: float, high: float, at: float, what: str) -> Found:
    ids, how = sum((e.ids for e in ends), ()), sum((e.how for e in ends), ())
    if len(ends) == 1:
        return ends[0]
    share = (at - low) / (high - low)
    value = ends[0].value + share * (ends[1].value - ends[0].value)
    words = f"{what} {at:g} ft lies {share:.3g} of the way from {low:g} to {high:g} ft: {value:.4g} MBH"
    return Found(value, ids, (*how, words))


# --- One appliance ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Limits:
    """What a table allows: ``minimum`` (None: there is none) and ``maximum`` heat input, and in words ``how``."""

    minimum: Quantity | None
    maximum: Quantity
    ids: tuple[str, ...]
    how: tuple[str, ...]

    def allows(self, sea_level_input: Quantity, actual_input: Quantity | None = None) -> bool:
        """Whether an appliance may use the vent: the maximum counts for its input at sea level, the minimum for its
        input at its altitude (left out: the same)."""
        actual = sea_level_input if actual_input is None else actual_input
        for name, value in (("sea_level_input", sea_level_input), ("actual_input", actual)):
            if not magnitude(value, ureg.Unit("W"), name) > 0.0:
                raise ValueError(f"{name} = {value:.4g~P} must be above 0")
        enough = self.minimum is None or actual >= self.minimum
        return bool(enough and sea_level_input <= self.maximum)


def rule(name: str) -> float:
    """A rule's number from ``data/vent/capacity_rules.csv``, in its unit."""
    return float(tables.row("capacity_rules", name, "name")["value"])


def _less(name: str, times: int = 1) -> float:
    return 1.0 - times * rule(name) / 100.0


def single(
    given: Sequence[Cell],
    number: str,
    kind: str,
    height: Quantity,
    lateral: Quantity,
    diameter: Quantity,
    *,
    category: str = "I",
    outlet: Quantity | None = None,
    elbows: Sequence[float] | None = None,
    corrugated: bool = False,
    flue_area: Quantity | None = None,
) -> Limits:
    """Minimum and maximum input of one appliance on its vent, by the code's tables 504.2.

    ``kind`` "FAN" or "NAT"; ``diameter`` of the vent (of the connector, into masonry); ``outlet`` of the appliance
    (left out: as wide); ``elbows``: their angles [degree] (left out: the two of 90 degrees that the tables include,
    none on a lateral of 0); ``corrugated`` liner; ``flue_area`` of a masonry chimney.

    Raises `OutsideTable`, `NotAllowed` or `MissingCell`, each saying what is wrong; ValueError for unknown names.
    """
    chosen = table(number)
    _check_kind(chosen, kind, category)
    if elbows is None:
        elbows = (90.0, 90.0) if _feet(lateral, "lateral") > 0.0 else ()
    if _feet(lateral, "lateral") == 0.0 and len(elbows):
        raise NotAllowed("a lateral of 0 ft is a straight vent: it has no elbows; give the lateral it really has")
    maximum = look_up(given, number, f"{kind} max", height, lateral, diameter)
    minimum = look_up(given, number, "FAN min", height, lateral, diameter) if kind == "FAN" else None
    factors = [_elbow_factor(elbows), _narrow_factor(kind, height, diameter, outlet, chosen)]
    if corrugated:
        factors.append((_less("corrugated"), f"corrugated liner: {rule('corrugated'):g} % less"))
    if flue_area is not None:
        _check_flue_area(given, chosen, height, lateral, diameter, outlet or diameter, flue_area)
    return _limits(maximum, minimum, factors)


def _limits(maximum: Found, minimum: Found | None, factors) -> Limits:
    value, how, ids = maximum.value, list(maximum.how), list(maximum.ids)
    for factor, words in factors:
        if factor != 1.0:
            value *= factor
            how.append(f"{words}: {value:.4g} MBH")
    if minimum is not None:
        how += minimum.how
        ids += minimum.ids
    least = None if minimum is None else Q_(minimum.value, "MBH")
    return Limits(least, Q_(value, "MBH"), tuple(dict.fromkeys(ids)), tuple(how))


def _check_kind(chosen: Table, kind: str, category: str) -> None:
    if kind not in KINDS:
        raise ValueError(f"kind {kind!r}; choose {', '.join(KINDS)} (fan-assisted, draft hood)")
    if category != "I":
        raise NotAllowed(
            f"category {category}: the tables are for category I; the vent of a category {category} appliance follows "
            "its instructions"
        )
    if kind not in chosen.kinds:
        raise NotAllowed(f"table {chosen.number} serves {', '.join(chosen.kinds)} appliances only, not {kind}")


def _elbow_factor(angles: Sequence[float]) -> tuple[float, str]:
    """What elbows beyond two take off the maximum; the two widest are those that the tables include."""
    if any(not 0.0 < a <= 90.0 for a in angles):
        raise ValueError(
            f"elbows {', '.join(f'{a:g}' for a in angles)} degrees: each must be above 0, up to 90 degrees"
        )
    more = sorted(angles, reverse=True)[2:]
    small, large = sum(a <= 45.0 for a in more), sum(a > 45.0 for a in more)
    lost = small * rule("elbow to 45") + large * rule("elbow to 90")
    if lost >= 100.0:
        raise NotAllowed(f"{len(angles)} elbows leave no capacity at all")
    return 1.0 - lost / 100.0, f"{len(more)} elbow{'s' * (len(more) != 1)} beyond two: {lost:g} % less"


def _narrow_factor(kind: str, height, diameter, outlet, chosen: Table) -> tuple[float, str]:
    """The code's exception for a vent smaller than the outlet."""
    if outlet is None or outlet <= diameter:
        return 1.0, ""
    inch, own = (float(magnitude(d, ureg.Unit("inch"), "outlet")) for d in (outlet, diameter))
    at_most = 1 if inch <= rule("reduced outlet") else 2
    sizes = [d for d in chosen.diameters if own < d <= inch + 1e-9]
    if _feet(height, "height") < rule("reduced height"):
        raise NotAllowed(
            f"a vent of {own:g} in. on an outlet of {inch:g} in. must be at least {rule('reduced height'):g} ft high"
        )
    if len(sizes) > at_most:
        raise NotAllowed(
            f"a vent of {own:g} in. is {len(sizes)} sizes smaller than its outlet of {inch:g} in.; at most {at_most} "
            "is allowed"
        )
    if kind == "NAT" and inch <= rule("reduced hood") and own < rule("reduced hood"):
        raise NotAllowed(f"a draft hood of {rule('reduced hood'):g} in. may not lead into a vent of {own:g} in.")
    return (_less("reduced fan"), "vent smaller than the outlet: 10 % less") if kind == "FAN" else (1.0, "")


def _check_flue_area(given, chosen: Table, height, lateral, diameter, outlet, flue_area) -> None:
    """A masonry flue must be as large as the table says and no larger than the area rule allows."""
    inch = float(magnitude(diameter, ureg.Unit("inch"), "diameter"))
    least = {c.area for c in given if c.table == chosen.number and c.diameter == inch and c.area}
    square = float(magnitude(flue_area, ureg.Unit("inch**2"), "flue_area"))
    if least and square < min(least):
        raise NotAllowed(
            f"the flue is {square:.4g} in2; for a {inch:g} in. connector it must be {min(least):g} in2 at least"
        )
    if not area_rule.allows(flue_area, area_rule.round_area(outlet)):
        ratio = float(area_rule.area_ratio(flue_area, area_rule.round_area(outlet)).m_as(""))
        raise NotAllowed(
            f"the flue is {ratio:.3g} times the outlet's area; at most {area_rule.times():g} times is allowed"
        )


# --- Several appliances on a common vent --------------------------------------------------------------------


def connector(
    given: Sequence[Cell],
    number: str,
    kind: str,
    height: Quantity,
    rise: Quantity,
    diameter: Quantity,
    length: Quantity,
    *,
    outlet: Quantity,
    category: str = "I",
    elbows: Sequence[float] = (90.0, 90.0),
) -> Limits:
    """Minimum and maximum input of one appliance on its connector to a common vent, by the code's tables 504.3.

    ``height`` of the common vent, ``rise`` of the connector, its ``length`` along its axis; ``outlet``: the
    appliance's flue collar or draft hood, than which a connector may not be smaller (NFPA 54 A.12.11.3 as restated in
    a gas utility's guide; the code's exceptions for a smaller one are left out, on the safe side). Raises as `single`;
    a connector longer than three times what its diameter allows is `NotAllowed`.
    """
    chosen = table(number)
    _check_kind(chosen, kind, category)
    own, collar = (float(magnitude(d, ureg.Unit("inch"), n)) for d, n in ((diameter, "diameter"), (outlet, "outlet")))
    if own < collar - 1e-6:
        raise NotAllowed(f"a connector of {own:g} in. is smaller than the appliance's outlet of {collar:g} in.")
    maximum = look_up(given, number, f"{kind} max", height, rise, diameter)
    minimum = look_up(given, number, "FAN min", height, rise, diameter) if kind == "FAN" else None
    return _limits(maximum, minimum, [_elbow_factor(elbows), _length_factor(diameter, length)])


def _length_factor(diameter: Quantity, length: Quantity) -> tuple[float, str]:
    allowed = rule("connector length") * diameter
    times = float((length / allowed).m_as(""))
    for most, name in ((1.0, ""), (2.0, "connector to twice"), (3.0, "connector to three times")):
        if times <= most + 1e-9:
            words = f"connector of {length.to('ft'):.3g~P}, {allowed.to('ft'):.3g~P} allowed at full capacity"
            return (_less(name), f"{words}: {rule(name):g} % less") if name else (1.0, "")
    most = (3.0 * allowed).to("ft")
    raise NotAllowed(
        f"the connector is {length.to('ft'):.3g~P} long; one of {diameter.to('inch'):.3g~P} may run {most:.3g~P} at "
        "most"
    )


def common(
    given: Sequence[Cell],
    number: str,
    mix: str,
    height: Quantity,
    *,
    diameter: Quantity | None = None,
    flue_area: Quantity | None = None,
    smallest_outlet: Quantity | None = None,
    offset: Quantity | None = None,
    manifold: Quantity | None = None,
    elbows: Sequence[float] = (),
    corrugated: bool = False,
) -> Limits:
    """Greatest sum of inputs on a common vent of one ``diameter``, or on a masonry flue of one ``flue_area``.

    ``mix`` "FAN+FAN", "FAN+NAT" or "NAT+NAT"; ``smallest_outlet``: diameter of the smallest outlet, for the area rule;
    ``offset`` and ``manifold``: horizontal length of an offset and of a manifold, None without; ``elbows`` [degree] of
    the common vent, each of which counts. Raises as `single`; ValueError for an unknown mix.
    """
    if mix not in COMMON:
        raise ValueError(f"mix {mix!r}; choose {', '.join(COMMON)}")
    maximum = look_up(given, number, mix, height, None, diameter, flue_area)
    factors = [_elbow_factor((90.0, 90.0, *elbows))]
    if corrugated:
        factors.append((_less("corrugated"), f"corrugated liner: {rule('corrugated'):g} % less"))
    wide = diameter if diameter is not None else (4.0 / pi * flue_area) ** 0.5
    for run, name, longest in ((offset, "offset", "offset length"), (manifold, "manifold", "manifold length")):
        if run is None:
            continue
        most = (rule(longest) * wide).to("ft")
        if run > most:
            raise NotAllowed(f"the {name} runs {run.to('ft'):.3g~P}; this vent allows {most:.3g~P} at most")
        factors.append((_less(name), f"{name}: {rule(name):g} % less"))
    if smallest_outlet is not None:
        area = flue_area if flue_area is not None else area_rule.round_area(diameter)
        if not area_rule.allows(area, area_rule.round_area(smallest_outlet)):
            raise NotAllowed(f"the common vent is more than {area_rule.times():g} times the smallest outlet's area")
    return _limits(maximum, None, factors)


# --- Choosing a size --------------------------------------------------------------------------------------


def smallest(number: str, limits: Any, heat_input: Quantity, least: Quantity | None = None) -> tuple[Quantity, Limits]:
    """The smallest column of a table whose limits allow an input: ``limits`` is a function of the diameter.

    ``least``: no smaller than this. Columns that are not allowed are passed over; a missing cell raises. Raises
    `NotAllowed` where no column does.
    """
    passed = []
    for inch in table(number).diameters:
        if least is not None and inch < least.m_as("inch") - 1e-9:
            continue
        try:
            found = limits(Q_(inch, "inch"))
        except NotAllowed as error:
            passed.append(str(error))
            continue
        if found.allows(heat_input):
            return Q_(inch, "inch"), found
        passed.append(f"{inch:g} in. allows {found.maximum.m_as('MBH'):.4g} MBH at most")
    raise NotAllowed(f"no column of table {number} allows {heat_input.m_as('MBH'):.4g} MBH: {'; '.join(passed)}")
