"""Record sheet: a functional performance test as a blank to fill in, and a record that was judged as plain data."""

from typing import Any

from ventcalc import __version__
from ventcalc.job import findings, performance_test, reading_verdicts
from ventcalc.job.performance_test import KINDS, UNITS, Expected, Weather, instruments
from ventcalc.job.reading_verdicts import Judged
from ventcalc.job.record_judgement import JudgedRecord
from ventcalc.job.site_record import COLUMNS, DAY
from ventcalc.job.study import Study
from ventcalc.show.numbers import number, of_number
from ventcalc.show.spreadsheet import Cell, Table, figure
from ventcalc.units import Q_, Quantity, shown_unit, unit_text
from ventcalc.words import say

DIGITS = 4  # that a blank tells of a number


def blank(study: Study, system: str, weather: Weather | None = None) -> Table:
    """The sheet to be filled in, a row a reading; the weather first, since all else hangs on it.

    What is expected stands there for a ``weather``, left out the likely one of the job; when it is read back it is
    worked out anew for the weather that was read.
    """
    weather = weather or _likely(study)
    told = (weather.outdoor, weather.room, weather.barometer, weather.wind)
    rows = [
        (*line.key, _digits(value, line.kind, system), None, _unit(line.kind, system), *(None,) * 4)
        for line, value in zip(DAY, told, strict=True)
    ]
    for e in performance_test.expected(study, weather):
        what = e.asked.quantity
        value, band = (_digits(v, kind, system, unit) for v, kind, unit in _number_and_band(what, e.value, e.band))
        tool = instruments()[what].name
        rows.append((*e.asked.key, value, band, _unit(KINDS[what], system), None, tool, None, None))
    return Table(say("show", "record_sheet", "title"), COLUMNS, tuple(rows))


def printed(study: Study, system: str) -> dict[str, Any]:
    """The sheet as it is handed in: what is expected in the likely ``weather``, ``readings`` one by one."""
    weather = _likely(study)
    readings = [_expected(e, system) for e in performance_test.expected(study, weather)]
    return {"weather": _weather(weather, system), "readings": readings}


def _likely(study: Study) -> Weather:
    return performance_test.likely_weather(performance_test.design(study).design.job)


def _number_and_band(quantity: str, value: float, band: float) -> tuple[tuple[float, str, str], ...]:
    """Each with its kind and SI unit: a band of temperatures is a difference."""
    kind, unit = KINDS[quantity], UNITS[quantity]
    difference = ("temperature difference", "delta_degC") if unit == "K" else (kind, unit)
    return (value, kind, unit), (band, *difference)


def _digits(value: Quantity | float | None, kind: str, system: str, unit: str = "") -> Cell:
    shown = None if value is None else figure(value, kind, system, unit)
    return None if shown is None else float(f"{shown:.{DIGITS}g}")


def _unit(kind: str, system: str) -> str:
    return unit_text(shown_unit(kind, system))


def records(judged: JudgedRecord, system: str) -> dict[str, Any]:
    """A judged record as plain data: the verdict, the weather, what was found, and every line."""
    tested = performance_test.design(judged.study)
    return {
        "ventcalc": __version__,
        "system": system,
        "job": {"name": judged.study.job.name, "sha256": judged.study.job.digest},
        "design": tested.outcome.remedy.name,
        "passed": judged.passed,
        "verdict": verdict(judged),
        "counts": {v: judged.count(v) for v in reading_verdicts.VERDICTS},
        "weather": _weather(judged.record.weather, system),
        "findings": [
            {
                "code": f.code,
                "weight": f.weight,
                "title": f.title,
                "sentence": findings.sentence(f, system),
                "todo": f.todo,
            }
            for f in judged.judgement.findings
        ],
        "readings": [_reading(line, system) for line in judged.lines],
    }


def _weather(weather: Weather, system: str) -> dict[str, Any]:
    return {
        "outdoor": number(weather.outdoor, "temperature", system),
        "room": number(weather.room, "temperature", system),
        "barometer": number(weather.barometer, "barometric pressure", system),
        "wind": number(weather.wind, "wind", system),
    }


def verdict(judged: JudgedRecord) -> str:
    """What came of it, in a sentence."""
    asked = len(judged.lines)
    if judged.passed:
        return say("show", "record_sheet", "passed", asked=asked)
    within, missing = judged.count(reading_verdicts.WITHIN), judged.count(reading_verdicts.MISSING)
    people = len(judged.judgement.of_weight("people"))
    name = "people" if people else of_number("failed", len(judged.judgement.against))
    return say("show", "record_sheet", name, asked=asked, within=within, missing=missing,
               against=len(judged.judgement.against))  # fmt: skip


def _reading(line: Judged, system: str) -> dict[str, Any]:
    what, r = line.expected.asked.quantity, line.reading
    return {
        **_expected(line.expected, system),
        "measured": number(None if r is None else Q_(r.value, UNITS[what]), KINDS[what], system),
        "verdict": line.verdict,
        "line": None if r is None else r.line,
        "instrument": "" if r is None else r.instrument,
        "who": "" if r is None else r.who,
        "when": "" if r is None else r.when,
    }


def _expected(e: Expected, system: str) -> dict[str, Any]:
    value, band = (number(Q_(v, unit) if unit else v, kind, system)
                   for v, kind, unit in _number_and_band(e.asked.quantity, e.value, e.band))  # fmt: skip
    return dict(zip(("condition", "place", "quantity"), e.asked.key, strict=True)) | {"expected": value, "band": band}
