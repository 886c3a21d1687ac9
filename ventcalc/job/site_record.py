"""Site record: the filled sheet of a functional performance test, read from its file.

The record is a CSV file (`site_csv`) with the columns of `COLUMNS`. What is missing is left to `record_judgement`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventcalc.job import performance_test, site_csv
from ventcalc.job.performance_test import (
    UNITS,
    Weather,
    instruments,
)
from ventcalc.job.site_csv import SiteFileError
from ventcalc.job.study import Study
from ventcalc.units import Q_, UnitsError
from ventcalc.words import say

COLUMNS = ("condition", "place", "quantity", "expected", "band", "unit", "measured", "instrument", "who", "when")
NEEDED = ("condition", "place", "quantity", "unit", "measured")

Key = tuple[str, str, str]  # condition, place and quantity, by their names


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
    """Read the record of a study's sheet. Raises `SiteFileError` with everything that cannot be read, by its line."""
    return read(site_csv.load(path), study)


def read(data: bytes, study: Study) -> Record:
    """As `load`, from the bytes of the file."""
    known = {asked.key: asked.quantity for asked in performance_test.sheet(performance_test.design(study))}
    days = {line.key: line for line in DAY}
    problems: list[str] = []
    readings: dict[Key, Reading] = {}
    seen: dict[Key, int] = {}
    for line, row in site_csv.rows(data, NEEDED):
        key = row["condition"], row["place"], row["quantity"]
        try:
            _known_key(key, [*known, *days])
            if key in seen:
                raise ValueError(f"stands on line {seen[key]} already")
            seen[key] = line
            if row["measured"]:
                value = site_csv.number(row, "measured", days[key].unit) if key in days else _value(row, known[key])
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
        raise SiteFileError(problems)
    return Record(_weather(day, study), readings)


def _known_key(key: Key, known: Sequence[Key]) -> None:
    """Raises ValueError where the sheet has no such line, naming the first part of it that is unknown."""
    for n, what in enumerate(("condition", "place in that condition", "quantity there")):
        here = list(dict.fromkeys(k[n] for k in known if k[:n] == key[:n]))
        if key[n] not in here:
            raise ValueError(site_csv.unknown(what, key[n], here, "the sheet"))


def _value(row: Mapping[str, str], quantity: str) -> float:
    """A measured number in SI. Raises ValueError or `UnitsError` where it is none, or none that can be read there."""
    unit, tool = UNITS[quantity], instruments()[quantity]
    value = site_csv.number(row, "measured", unit)
    if not tool.least <= value <= tool.most:
        figures = {"measured": row["measured"], "least": Q_(tool.least, unit), "most": Q_(tool.most, unit)}
        raise ValueError(say("job", "performance_test", "impossible", **figures))
    return value


def _weather(day: Mapping[DayLine, Reading], study: Study) -> Weather:
    """The day as read; raises `SiteFileError` with the line of what cannot be."""
    outdoor, room, barometer, wind = (Q_(day[d].value, d.unit) if d in day else None for d in DAY)
    lines = ", ".join(str(r.line) for r in day.values())
    try:
        found = Weather(outdoor, room, barometer, wind)
        found.at(performance_test.design(study).job.plant)
    except (ValueError, UnitsError) as error:
        raise SiteFileError([f"lines {lines}: {error}"]) from None
    return found
