"""Site record: the filled sheet of a functional performance test, read back and every reading judged.

The record is a CSV file with the columns of `COLUMNS`, known by their names, in any order. A measured number may have
its unit; without one it is in that of its row. What cannot be read is refused with its line, all at once; what is
missing is judged. A reading beyond the appliance's window stands first, whatever its band; where flue gas may enter the
room that way it is a danger to people. What readings have in common over several conditions is named as a likely
cause, never as more, and excuses nothing.
"""

import csv
import difflib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.job import findings, performance_test
from ventcalc.job.findings import Finding, Judgement, pascal
from ventcalc.job.performance_test import (
    GAUGE,
    KINDS,
    OUTLET,
    OXYGEN,
    PRESSURE,
    SENSOR,
    TEMPERATURE,
    UNITS,
    Asked,
    Condition,
    Expected,
    Place,
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

WITHIN, OUTSIDE, BEYOND, MISSING, NOT_COMPARED, UNKNOWN = (
    "within",  # its band
    "outside",  # its band
    "beyond",  # the window of its appliance
    "missing",
    "not compared",  # its condition was not reached
    "unknown",  # what to expect: the vent was not solved
)
VERDICTS = (WITHIN, OUTSIDE, BEYOND, MISSING, NOT_COMPARED, UNKNOWN)
FEW = 3  # conditions that must agree before something constant is named
NO_FIRE = 0.20  # oxygen in the dry gas above which no burner fires (air has 20.95 %)


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


@dataclass(frozen=True)
class Judged:
    """One line: what was ``expected``, the ``reading`` (None where missing), and the verdict of it."""

    expected: Expected
    reading: Reading | None
    verdict: str

    @property
    def off(self) -> float:
        """Measured less expected."""
        return self.reading.value - self.expected.value

    @property
    def off_band(self) -> bool:
        """Whether it is off by more than its band."""
        return abs(self.off) > self.expected.band


@dataclass(frozen=True)
class JudgedRecord:
    """A whole record: every line judged, and the ``judgement`` of all, the gravest finding first."""

    study: Study
    record: Record
    lines: tuple[Judged, ...]
    judgement: Judgement

    @property
    def passed(self) -> bool:
        """Whether every reading is there and within its band, and nothing was found against it."""
        return self.judgement.cured and all(line.verdict == WITHIN for line in self.lines)

    def count(self, verdict: str) -> int:
        """How many lines have a verdict."""
        return sum(line.verdict == verdict for line in self.lines)


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


# --- Judging ----------------------------------------------------------------------------------------------------


def judge(study: Study, record: Record) -> JudgedRecord:
    """Every reading against what is expected on that day, and what they say together."""
    rows = performance_test.expected(study, record.weather)
    appliances = {a.name: a for a in performance_test.design(study).job.plant.appliances}
    pairs = [(e, record.readings.get(e.asked.key)) for e in rows]
    constant = {key: off for key, off in _constants(pairs) if key[1] != PRESSURE}
    unreached = tuple(_unreached(pairs, appliances, constant))
    lost = {u.condition.name for u in unreached}
    lines = tuple(Judged(e, r, _verdict(e, r, appliances, lost)) for e, r in pairs)
    found = [
        *_against(lines, appliances, lost),
        *(u.finding for u in unreached),
        *_causes(lines, constant),
        *_missing(lines),
    ]
    return JudgedRecord(study, record, lines, findings.judgement(found))


def _verdict(e: Expected, r: Reading | None, appliances: Mapping[str, Appliance], lost: set[str]) -> str:
    if r is None:
        return MISSING
    if _beyond(e, r.value, appliances):
        return BEYOND
    if not np.isfinite(e.value + e.band):
        return UNKNOWN
    if e.asked.condition.name in lost and not _tells_condition(e.asked):
        return NOT_COMPARED
    return WITHIN if abs(r.value - e.value) <= e.band else OUTSIDE


def _tells_condition(asked: Asked) -> bool:
    """Whether a line is read at a firing appliance to see that its condition is reached."""
    return asked.place.kind == OUTLET and asked.quantity in (TEMPERATURE, OXYGEN)


def _level(asked: Asked, appliances: Mapping[str, Appliance]) -> str:
    return asked.condition.levels[list(appliances).index(asked.place.appliance)]


def _beyond(e: Expected, value: float, appliances: Mapping[str, Appliance]) -> float:
    """How far [Pa] an outlet's pressure lies beyond what its appliance allows, above 0 or below; 0 within."""
    if not (e.asked.place.kind == OUTLET and e.asked.quantity == PRESSURE):
        return 0.0
    low, high = _allowed(e.asked, appliances)
    return max(value - high, 0.0) or min(value - low, 0.0)


def _allowed(asked: Asked, appliances: Mapping[str, Appliance]) -> tuple[float, float]:
    """Lowest and highest pressure [Pa] that may stand at an outlet.

    A firing appliance's window, but not above the room's pressure where it has a hood or a regulator or is of a
    category that is made for draft. Idle and not shut tight it must be under draft while another fires.
    """
    a, level = appliances[asked.place.appliance], _level(asked, appliances)
    open_to_room = a.kind != "forced" or not CATEGORIES[a.category].positive
    if level != "off":
        low, high = (float(w.m_as("Pa")) for w in a.window)
        return low, min(high, 0.0) if open_to_room else high
    fires = any(level != "off" for level in asked.condition.levels)
    return -np.inf, 0.0 if fires and (a.idle == "leaking" or a.kind != "forced") else np.inf


def _to_people(line: Judged, appliances: Mapping[str, Appliance]) -> bool:
    """Whether flue gas may enter the room at an outlet beyond what is allowed: above it, and maybe above the room's."""
    value, e = line.reading.value, line.expected
    return _beyond(e, value, appliances) > 0.0 and value + e.error > 0.0


def _against(lines: Sequence[Judged], appliances: Mapping[str, Appliance], lost: set[str]) -> Iterator[Finding]:
    """What lies beyond a window, what is positive though its appliance is not made for it, what is outside its band.

    What tells that a condition is ``lost`` is told with that.
    """
    beyond = [line for line in lines if line.verdict == BEYOND]
    grave = [line for line in beyond if _to_people(line, appliances)]
    for code, own in (("record_gas_in_room", grave), ("record_window", [b for b in beyond if b not in grave])):
        if own:
            worst = max(own, key=lambda b: abs(_beyond(b.expected, b.reading.value, appliances)))
            yield Finding(code, _places(own), {
                "count": len(own),
                "worst": worst.expected.asked.place.name,
                "pressure": pascal(worst.reading.value),
                "beyond": pascal(abs(_beyond(worst.expected, worst.reading.value, appliances))),
                "condition": worst.expected.asked.condition.name,
            })  # fmt: skip
    for what in UNITS:
        own = [
            line
            for line in lines
            if line.verdict == OUTSIDE
            and line.expected.asked.quantity == what
            and line.expected.asked.condition.name not in lost
        ]
        if own:
            worst = max(own, key=lambda line: abs(line.off) / line.expected.band)
            e = worst.expected
            yield Finding(f"record_outside_{KINDS[what]}", _places(own), {
                "count": len(own),
                "quantity": what,
                "worst": e.asked.place.name,
                "measured": Q_(worst.reading.value, UNITS[what]),
                "expected": Q_(e.value, UNITS[what]),
                "band": Q_(e.band, "delta_degC" if UNITS[what] == "K" else UNITS[what]),
                "condition": e.asked.condition.name,
            })  # fmt: skip
    near = [line for line in lines if line.verdict in (WITHIN, OUTSIDE) and _may_be_beyond(line, appliances)]
    if near:
        yield Finding("record_near_window", _places(near), {"count": len(near)})
    unknown = [line for line in lines if line.verdict == UNKNOWN]
    if unknown:
        yield Finding("record_unknown", _places(unknown), {"count": len(unknown)})


def _may_be_beyond(line: Judged, appliances: Mapping[str, Appliance]) -> bool:
    """Whether a reading inside its window is so by less than its instrument can tell."""
    ends = (line.reading.value + sign * line.expected.error for sign in (1.0, -1.0))
    return any(_beyond(line.expected, end, appliances) for end in ends)


def _missing(lines: Sequence[Judged]) -> Iterator[Finding]:
    by: dict[str, list[Judged]] = {}
    for line in lines:
        by.setdefault(line.expected.asked.condition.name, []).append(line)
    whole = tuple(name for name, own in by.items() if all(line.verdict == MISSING for line in own))
    single = [line for name, own in by.items() if name not in whole for line in own if line.verdict == MISSING]
    if whole:
        yield Finding("record_condition_missing", whole, {"count": len(whole)})
    if single:
        told = tuple(f"{', '.join(line.expected.asked.key)}" for line in single)
        yield Finding("record_missing", told, {"count": len(single)})


def _places(lines: Sequence[Judged]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.expected.asked.place.name for line in lines))


# --- What readings say together ---------------------------------------------------------------------------------

Pair = tuple[Expected, Reading | None]


@dataclass(frozen=True)
class Unreached:
    """A condition that an ``appliance`` did not reach, and the level that it reads ``like``, "" for none."""

    condition: Condition
    appliance: str
    like: str

    @property
    def finding(self) -> Finding:
        """It, as it is told."""
        figures = {"condition": self.condition.name, "like": self.like, "odd": not self.like}
        return Finding("record_not_reached", (self.appliance,), figures)


def _unreached(
    pairs: Sequence[Pair], appliances: Mapping[str, Appliance], constant: Mapping[tuple[Place, str], float]
) -> Iterator[Unreached]:
    """Conditions in which an appliance that should fire reads, by its temperature or oxygen, like no such fire.

    Where it reads so by the same amount in all conditions, and not like another level, its instrument or its setting
    is more likely off.
    """
    known: dict[Key, Expected] = {}  # by appliance, level and quantity
    for e, _ in pairs:
        if _tells_condition(e.asked):
            known.setdefault((e.asked.place.appliance, _level(e.asked, appliances), e.asked.quantity), e)
    read: dict[tuple[str, str], list[tuple[Expected, Reading]]] = {}
    for e, r in pairs:
        if _tells_condition(e.asked) and r is not None and np.isfinite(e.value):
            read.setdefault((e.asked.condition.name, e.asked.place.appliance), []).append((e, r))
    for (_, name), own in read.items():
        out = [e for e, r in own if abs(r.value - e.value) > e.band]
        if not out:
            continue
        values = {e.asked.quantity: r.value for e, r in own}
        like = _like(name, _level(own[0][0].asked, appliances), values, known)
        if like or any((e.asked.place, e.asked.quantity) not in constant for e in out):
            yield Unreached(own[0][0].asked.condition, name, like)


def _like(name: str, asked: str, values: Mapping[str, float], known: Mapping[Key, Expected]) -> str:
    """The level other than what was asked whose temperature and oxygen an appliance shows, "off" for those of air; ""
    for none."""
    if values.get(OXYGEN, 0.0) >= NO_FIRE:
        return "off"
    for level in dict.fromkeys(level for who, level, _ in known if who == name and level != asked):
        own = {what: known[name, level, what] for what in values}
        if all(abs(value - own[what].value) <= own[what].band for what, value in values.items()):
            return level
    return ""


def _causes(lines: Sequence[Judged], constant: Mapping[tuple[Place, str], float]) -> Iterator[Finding]:
    """What may be behind readings outside their bands: a sign turned round, something constant. Likely, no more."""
    compared = [line for line in lines if line.verdict in (WITHIN, OUTSIDE, BEYOND)]
    turned = _turned(compared)
    for place, conditions in turned.items():
        yield Finding("record_sign", (place.name,), {"conditions": conditions, "everywhere": not conditions})
    straight = [line for line in compared if line.expected.asked.place not in turned]
    pressures = [(line.expected, line.reading) for line in straight if line.expected.asked.quantity == PRESSURE]
    apart = _apart(straight)
    offsets = dict(constant) | dict(_constants(pressures))
    if apart is not None:
        off, place = apart
        figures = {"off": pascal(abs(off)), "side": findings.Named("side", ("above" if off > 0.0 else "below",))}
        yield Finding("record_sensor", (place.name,) if place else (), figures)
        # What the control holds is off the other way, at every outlet.
        ours = {Place(GAUGE), Place(SENSOR)}
        offsets = {
            (p, what): by
            for (p, what), by in offsets.items()
            if p not in ours and (what != PRESSURE or place == Place(GAUGE) or by * off > 0.0)
        }
    for what in UNITS:
        own = {p: by for (p, q), by in offsets.items() if q == what}
        if own:
            most = max(own.values(), key=abs)
            figures = {"off": Q_(most, "delta_degC" if UNITS[what] == "K" else UNITS[what]), "quantity": what}
            yield Finding(f"record_offset_{KINDS[what]}", tuple(p.name for p in own), figures)


def _turned(lines: Sequence[Judged]) -> dict[Place, tuple[str, ...]]:
    """Places that read with the sign turned round: in every condition, (), or in those named.

    In every one where all readings that are not too near nought have the other sign, and that explains them better than
    something constant would: the tubes are swapped. In single ones where the other sign fits as near as the instrument
    tells: a minus was left out.
    """
    found: dict[Place, tuple[str, ...]] = {}
    for place, own in _by_place(lines).items():
        if not any(line.off_band for line in own):
            continue
        read, due, error = np.array([(ln.reading.value, ln.expected.value, ln.expected.error) for ln in own]).T
        clear = (np.abs(read) > error) & (np.abs(due) > error)
        other = (read * due < 0.0)[clear]
        if other.size >= FEW and other.all() and np.sqrt(np.mean((read + due) ** 2)) < np.std(read - due):
            found[place] = ()
            continue
        single = [ln for ln, left in zip(own, np.abs(read + due) <= error, strict=True) if left and ln.off_band]
        if single:
            found[place] = tuple(ln.expected.asked.condition.name for ln in single)
    return found


def _by_place(lines: Sequence[Judged]) -> dict[Place, list[Judged]]:
    by: dict[Place, list[Judged]] = {}
    for line in lines:
        if line.expected.asked.quantity == PRESSURE and np.isfinite(line.expected.value):
            by.setdefault(line.expected.asked.place, []).append(line)
    return by


def _apart(lines: Sequence[Judged]) -> tuple[float, Place | None] | None:
    """How much more [Pa] the control's sensor shows than a gauge beside it where that is constant over the conditions
    and more than both may be off; and which of them is off, None where that cannot be told.

    A control holds whatever its sensor shows, so that only conditions in which it holds nothing can tell.
    """
    by = {place: {line.expected.asked.condition.name: line for line in own} for place, own in _by_place(lines).items()}
    gauge, sensor = by.get(Place(GAUGE), {}), by.get(Place(SENSOR), {})
    both = [(sensor[name], gauge[name]) for name in sensor if name in gauge]
    if len(both) < FEW:
        return None
    off = np.array([s.reading.value - g.reading.value for s, g in both])
    allowed = max(s.expected.error + g.expected.error for s, g in both)
    if np.ptp(off) > 2.0 * allowed or abs(off.mean()) <= allowed:
        return None
    free = [(abs(s.off), abs(g.off)) for s, g in both if not s.expected.held]
    if not free:
        return float(off.mean()), None
    by_sensor, by_gauge = np.mean(free, axis=0)
    return float(off.mean()), Place(SENSOR if by_sensor > by_gauge else GAUGE)


def _constants(pairs: Sequence[Pair]) -> Iterator[tuple[tuple[Place, str], float]]:
    """Places that read off by the same amount in every condition, as an instrument does that is off: by how much [SI].

    The same within the instrument's error either way, in `FEW` conditions or more, and in some outside the band.
    """
    by: dict[tuple[Place, str], list[tuple[Expected, Reading]]] = {}
    for e, r in pairs:
        if r is not None and np.isfinite(e.value):
            by.setdefault((e.asked.place, e.asked.quantity), []).append((e, r))
    for key, own in by.items():
        off = np.array([r.value - e.value for e, r in own])
        out = np.abs(off) > [e.band for e, _ in own]
        if len(own) >= FEW and np.ptp(off) <= 2.0 * max(e.error for e, _ in own) and out.any():
            yield key, float(off.mean())
