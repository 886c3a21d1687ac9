"""Survey form: what to take to a vent that stands: cautions, where to drill, what to fire in which order, and blanks.

The blank file holds the same rows as the printed form; filled in, it is what `survey_file` reads.
"""

from pathlib import Path
from typing import Any

from ventcalc import __version__
from ventcalc.job import survey_file, survey_plan
from ventcalc.job.performance_test import KINDS
from ventcalc.job.survey import TAP, Place
from ventcalc.job.survey_plan import Plan, Step, Tap
from ventcalc.show import page, spreadsheet, whole_file
from ventcalc.show.numbers import number
from ventcalc.show.spreadsheet import Table
from ventcalc.units import shown_unit, unit_text
from ventcalc.words import say, sentences

HOT, COLD = "hot", "cold"


def blank(plan: Plan, system: str) -> Table:
    """The file to fill in, a row a reading; weather and levels stand on the first row of each condition."""
    heads = survey_file.columns(plan.job)
    rows = []
    for step in plan.steps:
        told = _told(plan, step)
        for place, quantity in step.readings:
            own = {
                survey_file.PLACE: survey_file.name(place),
                survey_file.SHARE: f"{place.share:.0%}" if place.kind == TAP else None,
                survey_file.QUANTITY: quantity,
                survey_file.UNIT: _unit(quantity, system),
            }
            rows.append(tuple((told | own).get(head) for head in heads))
            told = {}
    return Table(say("show", "survey_sheet", "title"), heads, tuple(rows))


def _told(plan: Plan, step: Step) -> dict[str, str]:
    """What the file tells of a condition; its weather is for who reads."""
    levels = zip(plan.job.plant.appliances, step.condition.levels, strict=True)
    firing = {survey_file.AT.format(a.name): level for a, level in levels}
    return firing | {survey_file.STACK: COLD if step.condition.cold else HOT}


def _unit(quantity: str, system: str) -> str:
    return unit_text(shown_unit(KINDS[quantity], system))


def write_blank(plan: Plan, path: str | Path, system: str) -> None:
    """Write the blank file, whole. OSError where that cannot be."""
    whole_file.write(Path(path), spreadsheet.csv_text(blank(plan, system)))


def records(plan: Plan, system: str) -> dict[str, Any]:
    """The form as plain data."""
    return {
        "ventcalc": __version__,
        "system": system,
        "job": {"name": plan.job.name, "sha256": plan.job.digest},
        "minutes": {"all": plan.minutes, "set_up": survey_plan.SET_UP, "longest": survey_plan.LONGEST},
        "cautions": list(sentences("show")["survey_cautions"].values()),
        "weather": [{"name": name, "unit": unit_text(shown_unit(kind, system))} for name, kind in _WEATHER],
        "taps": [_tap(k, tap, system) for k, tap in enumerate(plan.taps, 1)],
        "steps": [_step(k, step, plan, system) for k, step in enumerate(plan.steps, 1)],
        "unsafe": [c.name for c in plan.unsafe],
    }


_WEATHER = (
    ("outdoor temperature", "temperature"),
    ("room temperature", "temperature"),
    ("wind at roof height", "wind"),
    ("barometer at the site", "barometric pressure"),
)


def _tap(count: int, tap: Tap, system: str) -> dict[str, Any]:
    return {
        "name": f"P{count}",
        "place": survey_file.name(tap.place),
        "section": tap.section,
        "along": number(tap.along, "height", system),
        "pressed": tap.pressed,
        "how": say("show", "survey_sheet", "port" if tap.pressed else "hole"),
    }


def _step(count: int, step: Step, plan: Plan, system: str) -> dict[str, Any]:
    taps = {tap.place: f"P{k}" for k, tap in enumerate(plan.taps, 1)}
    return {
        "number": count,
        "name": step.asked.name,
        "levels": {a.name: level for a, level in zip(plan.job.plant.appliances, step.condition.levels, strict=True)},
        "cold": step.condition.cold,
        "wait": step.wait,
        "minutes": step.minutes,
        "readings": [_reading(place, quantity, taps, system) for place, quantity in step.readings],
    }


def _reading(place: Place, quantity: str, taps: dict[Place, str], system: str) -> dict[str, str]:
    return {
        "place": survey_file.name(place),
        "tap": taps.get(place, ""),
        "quantity": quantity,
        "unit": _unit(quantity, system),
    }


def html(form: dict[str, Any]) -> str:
    """The page of `records`, to be printed."""
    return page.TEMPLATES.get_template("form.html").render(r=form)


def write(plan: Plan, path: str | Path, system: str) -> None:
    """Write the form, whole. OSError where that cannot be."""
    whole_file.write(Path(path), html(records(plan, system)))
