"""Records of readings on site: the swimming hall's sheet, filled from what the library itself expects, with errors."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
from sample_studies import STUDIES

from ventcalc.job import performance_test, study
from ventcalc.job.performance_test import KINDS, OUTLET, PRESSURE, SENSOR, UNITS, Expected, Place, Weather
from ventcalc.job.site_record import Reading, Record
from ventcalc.show import record_sheet, spreadsheet
from ventcalc.units import Q_, shown_unit, unit_text

DAY = Weather(Q_(40.0, "degF"), Q_(70.0, "degF"))
GAUGE_OFF = float(Q_(0.02, "inH2O").m_as("Pa"))
LOW_FOR_HIGH = "all at their highest"  # the condition in which Boiler 1 stays at low


@cache
def hall() -> study.Study:
    """The swimming hall as drawn, with the remedy that its file names."""
    return STUDIES["swim_hall"]


@cache
def expected() -> tuple[Expected, ...]:
    """What is expected of it on the day."""
    return performance_test.expected(hall(), DAY)


def filled(read: Callable[[Expected], float | None], rows=None, weather: Weather = DAY) -> Record:
    """A record of ``read`` [SI] for every line; None leaves it out."""
    values = {e.asked.key: read(e) for e in rows or expected()}
    readings = {key: Reading(value, line) for line, (key, value) in enumerate(values.items(), 2) if value is not None}
    return Record(weather, readings)


def with_noise(seed: int, size: float = 1.0) -> Callable[[Expected], float]:
    """Readings as good as the instruments: off by no more than ``size`` times their errors."""
    rng = np.random.default_rng(seed)
    return lambda e: e.value + size * e.error * rng.uniform(-1.0, 1.0)


def with_offset_sensor(off: float) -> study.Study:
    """The hall with a sensor at the header that reads so much too high [Pa]: its control then holds that much less."""
    offered = hall().offered
    remedy = offered.outcome.remedy
    controls = tuple(replace(c, offset=off) for c in remedy.controls)
    outcome = replace(offered.outcome, remedy=replace(remedy, controls=controls))
    return replace(hall(), offered=replace(offered, outcome=outcome))


def at_low() -> study.Study:
    """The hall with a Boiler 1 whose high fire is no more than its low."""
    offered = hall().offered
    job, remedy = offered.design.job, offered.outcome.remedy
    first, *others = remedy.plant.appliances
    low, high = first.levels
    stuck = replace(first, levels=(low, replace(low, name=high.name)))
    plant = replace(remedy.plant, appliances=(stuck, *others))
    remedy = replace(remedy, plant=plant)
    design = replace(offered.design, job=job, remedy=remedy)
    return replace(hall(), offered=replace(offered, design=design, outcome=replace(offered.outcome, remedy=remedy)))


@cache
def planted() -> Record:
    """Three errors at once: swapped tubes at Boiler 2, a sensor that reads 0.02 in. w.c. too high, and a condition that
    was not reached. Each as the vent would then do, by the solver, not by arithmetic on what is expected."""
    true = {e.asked.key: e for e in performance_test.expected(with_offset_sensor(GAUGE_OFF), DAY)}
    stuck = {e.asked.key: e for e in performance_test.expected(_stuck_and_off(), DAY)}

    def read(e: Expected) -> float:
        source = stuck if e.asked.condition.name == LOW_FOR_HIGH else true
        value = source[e.asked.key].value
        if e.asked.place == Place(OUTLET, "Boiler 2") and e.asked.quantity == PRESSURE:
            return -value
        return value + (GAUGE_OFF if e.asked.place == Place(SENSOR) else 0.0)

    return filled(read)


def _stuck_and_off() -> study.Study:
    """Both at once."""
    stuck = at_low()
    remedy = stuck.offered.outcome.remedy
    controls = tuple(replace(c, offset=GAUGE_OFF) for c in remedy.controls)
    outcome = replace(stuck.offered.outcome, remedy=replace(remedy, controls=controls))
    return replace(stuck, offered=replace(stuck.offered, outcome=outcome))


def blank_filled(system: str, written: str) -> tuple[str, dict[tuple[str, str, str], float]]:
    """A blank's CSV filled with what is expected on the day, and these values [SI].

    ``written`` "bare", "with its unit", or "in the other system" than the sheet's.
    """
    other = {"US": "SI", "SI": "US"}[system] if written == "in the other system" else system
    values = {e.asked.key: float(f"{e.value:.9g}") for e in expected()}
    days = {
        ("weather of the day", "outdoors", "temperature"): (DAY.outdoor, "temperature"),
        ("weather of the day", "boiler room", "temperature"): (DAY.room, "temperature"),
    }
    told = {key: (Q_(value, UNITS[key[2]]), KINDS[key[2]]) for key, value in values.items()} | days

    def cell(key, old):
        if key not in told:
            return old
        value, kind = told[key]
        unit = shown_unit(kind, other)
        return f"{float(value.m_as(unit)):.9g}" + (f" {unit_text(unit)}" if written != "bare" else "")

    return csv_filled(_blank(system), cell), values


@cache
def _blank(system: str) -> str:
    return spreadsheet.csv_text(record_sheet.blank(hall(), system))


def csv_filled(text: str, read: Callable[[tuple[str, str, str], str], str]) -> str:
    """A record's CSV with every measured cell by the key of its row and what stood there."""
    header, *rows = csv.reader(io.StringIO(text, newline=""))
    at, out = header.index("measured"), io.StringIO(newline="")
    csv.writer(out).writerows([header, *([*row[:at], read(tuple(row[:3]), row[at]), *row[at + 1 :]] for row in rows)])
    return out.getvalue()


def codes(judged):
    """Of everything found in a judged record."""
    return [f.code for f in judged.judgement.findings]


def only(judged, code):
    """The one finding of that code."""
    (found,) = [f for f in judged.judgement.findings if f.code == code]
    return found


def at(place, off, quantity=PRESSURE):
    """Readings as expected, but for one place that is so much off."""
    return lambda e: e.value + (off if (e.asked.place, e.asked.quantity) == (place, quantity) else 0.0)
