"""Survey file: readings that were taken on a vent that stands, read from their CSV file.

A row is a reading. The first columns say what was going on: "Boiler 1 at" and so on, a column an appliance, with the
name of a level or "off"; whether the stack was hot or cold; and the weather. Where they are empty they are as on the
row above. Then come the place, what was read there, the value with its unit and how far the instrument may be off
either way; left out, that is usual of it (``data/job/instruments.csv``). A row without a value is one that was not
read. What cannot be read is refused with its line, all at once.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ventcalc.gas.appliance import Appliance
from ventcalc.job import site_csv
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import (
    CARBON_DIOXIDE,
    CARBON_MONOXIDE,
    FAN,
    FOOT,
    GAUGE,
    OFF_UNITS,
    ONE_SIGMA,
    OUTLET,
    OXYGEN,
    PRESSURE,
    SENSOR,
    SPEED,
    SURFACE,
    TEMPERATURE,
    UNITS,
    VELOCITY,
    Weather,
    instruments,
)
from ventcalc.job.remedy import as_drawn
from ventcalc.job.site_csv import Row, SiteFileError
from ventcalc.job.survey import ROOM, TAP, Condition, Place, Reading, Survey
from ventcalc.units import Q_, Quantity, UnitsError, magnitude, parse, ureg
from ventcalc.words import say

AT = "{} at"  # the column of an appliance
STACK, OUTDOORS, INDOORS, WIND, BAROMETER = "stack", "outdoors", "room", "wind", "barometer"
PLACE, SHARE, QUANTITY, VALUE, UNIT, ERROR, TIME = "place", "share", "quantity", "value", "unit", "error", "time"
STACKS = {"hot": False, "cold": True}

# What is read at each kind of place.
READ_AT = {
    OUTLET: (PRESSURE, TEMPERATURE, OXYGEN, CARBON_DIOXIDE, CARBON_MONOXIDE),
    TAP: (PRESSURE, TEMPERATURE, OXYGEN, CARBON_DIOXIDE, VELOCITY, SURFACE),
    FOOT: (PRESSURE, TEMPERATURE),
    GAUGE: (PRESSURE,),
    SENSOR: (PRESSURE,),
    FAN: (SPEED,),
    ROOM: (PRESSURE,),
}


@dataclass(frozen=True)
class Taken:
    """A ``survey`` as its file tells it, with the ``times`` of its readings as they were written, "" where not."""

    survey: Survey
    times: tuple[str, ...]


def columns(job: Job) -> tuple[str, ...]:
    """The columns of a job's file, in the order in which a blank has them."""
    weather = (OUTDOORS, INDOORS, WIND, BAROMETER)
    return (*_levels(job), STACK, *weather, PLACE, SHARE, QUANTITY, VALUE, UNIT, ERROR, TIME)


def _levels(job: Job) -> dict[str, Appliance]:
    """Appliances by their columns."""
    return {AT.format(a.name): a for a in job.plant.appliances}


def name(place: Place) -> str:
    """What the file calls a place; where in its section a tap is stands beside it."""
    subject = place.appliance or place.section
    if place.kind == ROOM and not subject:
        return say("job", "survey_place", "boiler_room")
    return say("job", "survey_place", place.kind, subject=subject)


def places(job: Job) -> dict[str, Place]:
    """Every place of a vent as it stands by its name, a tap at the upstream end of its section."""
    plant, drawn = job.plant, as_drawn(job)
    found = [Place(OUTLET, a.name) for a in plant.appliances]
    found += [Place(TAP, section=s.name) for s in plant.order]
    found += [Place(FOOT), Place(GAUGE), Place(SENSOR), Place(ROOM)]
    found += [Place(ROOM, a.name) for a in plant.appliances if a.room != "room"]
    found += [Place(FAN)] if drawn.fan else []
    return {name(place): place for place in found}


# --- Reading ----------------------------------------------------------------------------------------------------


def load(path: str | Path, job: Job) -> Taken:
    """Read the readings taken on a job's vent. Raises `SiteFileError` with everything that cannot be read."""
    return read(site_csv.load(path), job)


def read(data: bytes, job: Job) -> Taken:
    """As `load`, from the bytes of the file."""
    every = columns(job)
    needed = (*_levels(job), STACK, OUTDOORS, INDOORS, PLACE, QUANTITY, VALUE, UNIT)
    heads = {c.lower(): c for c in every}
    table = site_csv.rows(data, [c.lower() for c in needed], [c.lower() for c in every if c not in needed])
    told = [(line, {heads[key]: cell for key, cell in row.items() if key}) for line, row in table]
    reader = _Reader(job)
    for line, row in told:
        reader.take(line, row)
    if not reader.problems and not reader.readings:
        reader.problems.append("no reading: the column 'value' is empty; a survey needs one reading at least")
    if reader.problems:
        raise SiteFileError(reader.problems)
    return Taken(Survey(job, tuple(reader.readings)), tuple(reader.times))


@dataclass
class _Reader:
    """Rows one after the other; ``above`` is what was told of the ``condition`` so far, None where that was wrong."""

    job: Job
    readings: list[Reading] = field(default_factory=list)
    times: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    seen: dict[tuple, int] = field(default_factory=dict)
    above: Row = field(default_factory=dict)
    condition: Condition | None = None

    def __post_init__(self):
        self.levels, self.places = _levels(self.job), places(self.job)
        self.telling = (*self.levels, STACK, *_WEATHER)

    def take(self, line: int, row: Row) -> None:
        """One row: its reading, or what is wrong with it."""
        wrong: list[str] = []
        if not self.above or any(row.get(c) for c in self.telling):
            self.condition = self._condition(row, wrong)
        if row[VALUE]:
            found = [_tried(wrong, part, row) for part in (self._place, self._quantity, self._value, self._error)]
            if self.condition and not wrong:
                self._keep(Reading(self.condition, *found, line), row.get(TIME, ""), wrong)
        self.problems += [f"line {line}: {problem}" for problem in wrong]

    def _keep(self, reading: Reading, time: str, wrong: list[str]) -> None:
        key = reading.condition, reading.place, reading.quantity, time
        if key in self.seen:
            wrong.append(f"the same is read on line {self.seen[key]} already; tell another time, or leave one out")
        self.seen.setdefault(key, reading.line)
        self.readings.append(reading)
        self.times.append(time)

    def _condition(self, row: Row, wrong: list[str]) -> Condition | None:
        """What was going on; cells that are left out are those of the rows above."""
        firing = [*self.levels, STACK]
        lacking = [c for c in firing if not row[c]]
        if 0 < len(lacking) < len(firing) or (lacking and not self.above):
            wrong.append(f"{', '.join(map(repr, lacking))} empty; tell all of {', '.join(firing)}, or, below the first "
                         "row, none to leave them as above")  # fmt: skip
        self.above = {c: row.get(c) or self.above.get(c, "") for c in self.telling}
        if wrong:
            return None
        levels = [_tried(wrong, _level, c, self.above[c], a) for c, a in self.levels.items()]
        cold, weather = _tried(wrong, _cold, self.above[STACK]), _tried(wrong, self._weather, self.above)
        return None if wrong else Condition(tuple(levels), cold, weather)

    def _weather(self, told: Row) -> Weather:
        weather = Weather(*(_weather_cell(what, told[what]) for what in _WEATHER))
        weather.at(self.job.plant)
        return weather

    def _place(self, row: Row) -> Place:
        if row[PLACE] not in self.places:
            raise ValueError(site_csv.unknown(PLACE, row[PLACE], list(self.places), "the vent"))
        place, share = self.places[row[PLACE]], row.get(SHARE, "")
        if place.kind != TAP:
            if share:
                raise ValueError(f"share {share!r}: told of a tap in a section alone; leave it empty here")
            return place
        if not share:
            raise ValueError("share: empty; tell where in its section the tap is, from its upstream end, such as 50 %")
        along = site_csv.number({SHARE: share, UNIT: "%"}, SHARE, "")
        if not 0.0 <= along <= 1.0:
            raise ValueError(f"share {share!r}: must be 0 to 100 % of the section's length, from its upstream end")
        return Place(TAP, section=place.section, share=along)

    def _quantity(self, row: Row) -> str:
        place = self.places.get(row[PLACE])
        known = READ_AT[place.kind] if place else tuple(UNITS)
        if row[QUANTITY] not in known:
            raise ValueError(site_csv.unknown(QUANTITY, row[QUANTITY], known, row[PLACE] if place else "a survey"))
        return row[QUANTITY]

    def _value(self, row: Row) -> float:
        unit = UNITS.get(row[QUANTITY])
        if unit is None:  # told of already
            return 0.0
        value, tool = site_csv.number(row, VALUE, unit), instruments()[row[QUANTITY]]
        if not tool.least <= value <= tool.most:
            figures = {"measured": row[VALUE], "least": Q_(tool.least, unit), "most": Q_(tool.most, unit)}
            raise ValueError(say("job", "survey_file", "impossible", **figures))
        return value

    def _error(self, row: Row) -> float:
        quantity = row[QUANTITY]
        if quantity not in UNITS:  # told of already
            return 1.0
        tool = instruments()[quantity]
        if not row.get(ERROR):
            return tool.deviation(site_csv.number(row, VALUE, UNITS[quantity]))
        error = site_csv.number(row, ERROR, OFF_UNITS[quantity])
        if not 0.0 < error < tool.most - tool.least:
            raise ValueError(f"error {row[ERROR]!r}: must be above 0, and less than all that can be read")
        return ONE_SIGMA * error


def _tried(wrong: list[str], work, *told):
    """What ``work`` makes of what was told; None, and what is wrong, where it cannot be."""
    try:
        return work(*told)
    except (ValueError, UnitsError) as error:
        if str(error) not in wrong:
            wrong.append(str(error))
        return None


def _level(column: str, told: str, appliance: Appliance) -> str:
    if told not in appliance.states:
        raise ValueError(f"{column}: " + site_csv.unknown("level", told, appliance.states, appliance.name))
    return told


def _cold(told: str) -> bool:
    if told not in STACKS:
        raise ValueError(f"{STACK} {told!r}: write hot, or cold where it had not warmed up yet")
    return STACKS[told]


# What is told of the weather, in the order of `Weather`: its unit and an example of what must be there.
_WEATHER: Mapping[str, tuple[str, str]] = {
    OUTDOORS: ("K", "41 degF"),
    INDOORS: ("K", "72 degF"),
    BAROMETER: ("Pa", ""),
    WIND: ("m/s", ""),
}


def _weather_cell(what: str, told: str) -> Quantity | None:
    unit, example = _WEATHER[what]
    if not told:
        if example:
            raise ValueError(f"{what}: empty, and not told above; measure the temperature there, such as {example}")
        return None
    wanted = ureg.Unit(unit)
    try:
        value = parse(told.removeprefix("'"), wanted)
        magnitude(value, wanted, "it")
    except UnitsError as error:
        raise UnitsError(f"{what} {told!r}: {error}") from None
    return value


def said(place: Place) -> str:
    """A place as people say it."""
    if place.kind != TAP:
        return name(place)
    where = {0.0: "tap_beginning", 1.0: "tap_end"}.get(place.share, "tap_at")
    return say("job", "survey_place", where, section=place.section, share=place.share)
