"""Record sheet: a functional performance test as a blank to fill in, and what was read as one page and as numbers."""

import json
import secrets
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventcalc import __version__
from ventcalc.job import findings, performance_test, site_record
from ventcalc.job.performance_test import KINDS, UNITS, Weather, instruments
from ventcalc.job.site_record import COLUMNS, DAY, JudgedRecord
from ventcalc.job.study import Study
from ventcalc.show import page
from ventcalc.show.numbers import number, of_number
from ventcalc.show.spreadsheet import Cell, Table, figure
from ventcalc.units import Q_, Quantity, shown_unit, unit_text
from ventcalc.words import say

PAGE, NUMBERS = "record.html", "record.json"
DIGITS = 4  # that a blank tells of a number


@dataclass(frozen=True)
class Written:
    """What `write` left."""

    page: Path
    numbers: Path


def blank(study: Study, system: str, weather: Weather | None = None) -> Table:
    """The sheet to be filled in, a row a reading; the weather first, since all else hangs on it.

    What is expected stands there for a ``weather``, left out the likely one of the job; when it is read back it is
    worked out anew for the weather that was read.
    """
    weather = weather or performance_test.likely_weather(performance_test.design(study).design.job)
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
    weather = judged.record.weather
    return {
        "ventcalc": __version__,
        "system": system,
        "job": {"name": judged.study.job.name, "sha256": judged.study.job.digest},
        "design": tested.outcome.remedy.name,
        "passed": judged.passed,
        "verdict": verdict(judged),
        "counts": {v: judged.count(v) for v in site_record.VERDICTS},
        "weather": {
            "outdoor": number(weather.outdoor, "temperature", system),
            "room": number(weather.room, "temperature", system),
            "barometer": number(weather.barometer, "barometric pressure", system),
            "wind": number(weather.wind, "wind", system),
        },
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


def verdict(judged: JudgedRecord) -> str:
    """What came of it, in a sentence."""
    asked = len(judged.lines)
    if judged.passed:
        return say("show", "record_sheet", "passed", asked=asked)
    within, missing = judged.count(site_record.WITHIN), judged.count(site_record.MISSING)
    people = len(judged.judgement.of_weight("people"))
    name = "people" if people else of_number("failed", len(judged.judgement.against))
    return say("show", "record_sheet", name, asked=asked, within=within, missing=missing,
               against=len(judged.judgement.against))  # fmt: skip


def _reading(line: site_record.Judged, system: str) -> dict[str, Any]:
    e, r = line.expected, line.reading
    value, band = (number(Q_(v, unit) if unit else v, kind, system)
                   for v, kind, unit in _number_and_band(e.asked.quantity, e.value, e.band))  # fmt: skip
    condition, place, what = e.asked.key
    return {
        "condition": condition,
        "place": place,
        "quantity": what,
        "expected": value,
        "band": band,
        "measured": number(None if r is None else Q_(r.value, UNITS[what]), KINDS[what], system),
        "verdict": line.verdict,
        "line": None if r is None else r.line,
        "instrument": "" if r is None else r.instrument,
        "who": "" if r is None else r.who,
        "when": "" if r is None else r.when,
    }


def html(found: dict[str, Any]) -> str:
    """The page of `records`: conditions in its columns, places in its rows."""
    counts = Counter(r["condition"] for r in found["readings"])
    names = list(counts)
    fullest_first = sorted(found["readings"], key=lambda r: -counts[r["condition"]])
    rows = dict.fromkeys((r["place"], r["quantity"]) for r in fullest_first)
    rows = sorted(rows, key=lambda row: performance_test.QUANTITIES.index(row[1]))
    units = {what: _unit(kind, found["system"]) for what, kind in KINDS.items()}
    cells = {(r["place"], r["quantity"], r["condition"]): r for r in found["readings"]}
    who = {name: sorted({r[name] for r in found["readings"]} - {""}) for name in ("who", "when", "instrument")}
    return page.TEMPLATES.get_template("record.html").render(
        r=found, conditions=names, rows=rows, units=units, cells=cells, told=who, paper=""
    )


def write(judged: JudgedRecord, out_dir: str | Path, system: str) -> Written:
    """Write record.html and record.json into a folder, each whole or not at all. OSError where that cannot be."""
    out = Path(out_dir)
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is not a folder")
    out.mkdir(parents=True, exist_ok=True)
    found = records(judged, system)
    texts = {PAGE: html(found), NUMBERS: json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n"}
    for name, text in texts.items():
        write_whole(out / name, text)
    return Written(out / PAGE, out / NUMBERS)


def write_whole(path: Path, text: str) -> None:
    """Write a file so that it is never there in part."""
    making = path.with_name(f".{path.name}-{secrets.token_hex(6)}")
    try:
        making.write_text(text, encoding="utf-8", newline="")
        making.replace(path)
    finally:
        making.unlink(missing_ok=True)
