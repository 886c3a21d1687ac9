"""Site record: the filled sheet of a functional performance test, read from its file.

The record is a CSV file with the columns of `COLUMNS`, known by their names, in any order. A measured number may have
its unit; without one it is in that of its row. What cannot be read is refused with its line, all at once; what is
missing is left to `record_judgement`.
"""

import csv
import difflib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventcalc.job import performance_test
from ventcalc.job.performance_test import (
    UNITS,
    Weather,
    instruments,
)
from ventcalc.job.study import Study
from ventcalc.unit_names import number_and_unit
from ventcalc.units import Q_, UnitsError, magnitude, parse, ureg
from ventcalc.words import say

COLUMNS = ("condition", "place", "quantity", "expected", "band", "unit", "measured", "instrument", "who", "when")
NEEDED = ("condition", "place", "quantity", "unit", "measured")
MOST_BYTES = 1_000_000
MOST_CELL = 200  # characters


Key = tuple[str, str, str]  # condition, place and quantity, by their names


class RecordError(ValueError):
    """A record that cannot be read; ``problems`` holds one sentence each, with its line."""

    def __init__(self, problems: Sequence[str]):
        super().__init__("\n".join(problems))
        self.problems = list(problems)


@dataclass(frozen=True)
class DayLine:
    """A line that tells of the weather: where, what, its unit of reading and whether it must be there."""

    place: str
    quantity: str
    unit: str
    kind: str
    needed: bool
    example: str

    @property
    def key(self) -> Key:
        """What the record knows it by."""
        return say("job", "performance_test", "day"), say("job", "performance_place", self.place), self.quantity


DAY = (
    DayLine("outdoors", "temperature", "K", "temperature", True, "50 degF"),
    DayLine("room", "temperature", "K", "temperature", True, "70 degF"),
    DayLine("outdoors", "barometric pressure", "Pa", "barometric pressure", False, "29.9 inHg"),
    DayLine("outdoors", "wind", "m/s", "wind", False, "5 mph"),
)


@dataclass(frozen=True)
class Reading:
    """One measured ``value`` [SI] on its ``line`` of the file, and what stood beside it."""

    value: float
    line: int
    instrument: str = ""
    who: str = ""
    when: str = ""


@dataclass(frozen=True)
class Record:
    """What was read on site: the day's ``weather``, and the ``readings`` by their keys (`performance_test.Asked`)."""

    weather: Weather
    readings: Mapping[Key, Reading]


# --- Reading ----------------------------------------------------------------------------------------------------


def load(path: str | Path, study: Study) -> Record:
    """Read the record of a study's sheet. Raises `RecordError` with everything that cannot be read, by its line."""
    path = Path(path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        raise RecordError([f"{path.name}: cannot be read ({error.strerror}); give the path of a .csv record"]) from None
    if size > MOST_BYTES:
        raise RecordError([f"{path.name}: {size:,} bytes; a record has at most {MOST_BYTES:,}"])
    return read(data, study)


def read(data: bytes, study: Study) -> Record:
    """As `load`, from the bytes of the file."""
    known = {asked.key: asked.quantity for asked in performance_test.sheet(performance_test.design(study))}
    days = {line.key: line for line in DAY}
    problems: list[str] = []
    readings: dict[Key, Reading] = {}
    seen: dict[Key, int] = {}
    for line, row in _table(_text(data)):
        key = row["condition"], row["place"], row["quantity"]
        try:
            _known_key(key, [*known, *days])
            if key in seen:
                raise ValueError(f"stands on line {seen[key]} already")
            seen[key] = line
            if row["measured"]:
                value = _in_si(row, days[key].unit) if key in days else _value(row, known[key])
                readings[key] = Reading(value, line, *(row.get(name, "") for name in ("instrument", "who", "when")))
        except (ValueError, UnitsError) as error:
            problems.append(f"line {line}: {', '.join(filter(None, key)) or 'no condition'}: {error}")
            seen.setdefault(key, line)
            readings.setdefault(key, Reading(np.nan, line))  # told of already
    day = {d: readings.pop(d.key) for d in DAY if d.key in readings}
    problems += [
        f"{', '.join(d.key)}: missing; measure it, such as {d.example}" for d in DAY if d.needed and d not in day
    ]
    if problems:
        raise RecordError(problems)
    return Record(_weather(day, study), readings)


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at = data.count(b"\n", 0, error.start) + 1
        raise RecordError([f"line {at}: not UTF-8 text; save the record as CSV UTF-8"]) from None
    if "\0" in text:
        at = text.count("\n", 0, text.index("\0")) + 1
        raise RecordError([f"line {at}: not text; save the record as CSV, not as a workbook"])
    if not text.strip():
        raise RecordError(["line 1: the record is empty; start from a blank one"])
    return text


def _table(text: str) -> list[tuple[int, dict[str, str]]]:
    """Rows that hold anything, by the names of the columns, each with the line that it begins on."""
    lines, problems = _lines(text)
    (first, header), *rest = lines or [(1, [])]
    names = _header(header, first)
    for line, cells in rest:
        if len(cells) != len(names):
            problems.append(f"line {line}: {len(cells)} cells under {len(names)} headings; {_COMMAS}")
        elif any(len(cell) > MOST_CELL for cell in cells):
            problems.append(f"line {line}: a cell of more than {MOST_CELL} characters")
    if not rest and not problems:
        problems.append(f"line {first + 1}: no rows below the headings; start from a blank record")
    if problems:
        raise RecordError(problems)
    return [(line, dict(zip(names, cells, strict=True))) for line, cells in rest]


def _lines(text: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Lines that hold anything by their numbers, as cells; and what is wrong where they end too soon."""
    reader, found, line = csv.reader(io.StringIO(text, newline=""), strict=True), [], 1
    try:
        for cells in reader:
            if any(c.strip() for c in cells):
                found.append((line, [c.strip() for c in cells]))
            line = reader.line_num + 1
    except csv.Error as error:
        return found, [f"line {line}: not CSV ({error}); a cell in quotes ends with one"]
    return found, []


_COMMAS = "a cell with a comma stands in quotes, and numbers have a decimal point"


def _header(cells: list[str], line: int) -> list[str]:
    names = [c.lower() for c in cells]
    if len(names) == 1 and any(mark in names[0] for mark in (";", "\t")):
        raise RecordError([f"line {line}: columns are parted by commas; save the record as CSV with commas"])
    twice = [n for n in dict.fromkeys(names) if n and names.count(n) > 1]
    problems = [f"line {line}: the column {n!r} stands twice" for n in twice]
    for n in NEEDED:
        if n not in names:
            close = difflib.get_close_matches(n, names, 1)
            hint = f"; is {close[0]!r} meant for it?" if close else f"; needed are {', '.join(NEEDED)}"
            problems.append(f"line {line}: the column {n!r} is missing{hint}")
    if problems:
        raise RecordError(problems)
    return names


def _known_key(key: Key, known: Sequence[Key]) -> None:
    """Raises ValueError where the sheet has no such line, naming the first part of it that is unknown."""
    for n, what in enumerate(("condition", "place in that condition", "quantity there")):
        here = list(dict.fromkeys(k[n] for k in known if k[:n] == key[:n]))
        if key[n] not in here:
            close = difflib.get_close_matches(key[n], here, 1)
            hint = f"did you mean {close[0]!r}?" if close else f"the sheet has {', '.join(here)}"
            raise ValueError(f"no {what} {key[n]!r}; {hint}")


def _value(row: Mapping[str, str], quantity: str) -> float:
    """A measured number in SI. Raises ValueError or `UnitsError` where it is none, or none that can be read there."""
    unit, tool = UNITS[quantity], instruments()[quantity]
    value = _in_si(row, unit)
    if not tool.least <= value <= tool.most:
        figures = {"measured": row["measured"], "least": Q_(tool.least, unit), "most": Q_(tool.most, unit)}
        raise ValueError(say("job", "performance_test", "impossible", **figures))
    return value


def _in_si(row: Mapping[str, str], unit: str) -> float:
    """A measured cell, with its own unit or else that of its row, in an SI unit."""
    wanted, text = ureg.Unit(unit), row["measured"].removeprefix("'").strip()
    if "," in text:
        raise ValueError(f"measured {text!r}: write a decimal point, not a comma")
    alone = number_and_unit(text)
    try:
        value = parse(f"{text} {row['unit']}" if alone and not alone[1] else text, wanted)
        return float(magnitude(value, wanted, "it"))
    except UnitsError as error:
        raise UnitsError(f"measured {text!r}: {error}") from None


def _weather(day: Mapping[DayLine, Reading], study: Study) -> Weather:
    """The day as read; raises `RecordError` with the line of what cannot be."""
    outdoor, room, barometer, wind = (Q_(day[d].value, d.unit) if d in day else None for d in DAY)
    lines = ", ".join(str(r.line) for r in day.values())
    try:
        found = Weather(outdoor, room, barometer, wind)
        found.at(performance_test.design(study).job.plant)
    except (ValueError, UnitsError) as error:
        raise RecordError([f"lines {lines}: {error}"]) from None
    return found
