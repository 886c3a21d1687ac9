"""Surveys of the demo jobs, invented by a recipe: a cause planted in a vent, everything uncertain drawn, honest noise.

.venv/bin/python tests/sample_demo_surveys.py      write the files of data/jobs/surveys anew
"""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from sample_studies import once

from ventcalc import tables
from ventcalc.job import job_file, survey_causes, survey_file, survey_plan
from ventcalc.job.diagnosis import Diagnosis, diagnose
from ventcalc.job.performance_test import FOOT, GAUGE, KINDS, OUTLET, PRESSURE, TEMPERATURE, Weather, instruments
from ventcalc.job.survey import ROOM, Condition, Place, Reading
from ventcalc.job.survey_file import Taken
from ventcalc.job.surveyed_vent import Read, SurveyedVent, joined
from ventcalc.units import Q_, shown_unit, unit_text

FOLDER = tables.DATA / "jobs" / "surveys"
DIGITS = {PRESSURE: 4, TEMPERATURE: 0}  # decimals that are written, in. w.c. and degF or percent


@dataclass(frozen=True)
class Recipe:
    """One invented survey: the ``cause`` by its key and ``subject`` with its ``value``, the ``weather``, the ``seed``
    of all that is uncertain and of the noise, and which of the plan's readings were ``wanted``."""

    job: str
    cause: str
    subject: str
    value: float
    weather: Weather
    seed: int
    wanted: tuple[tuple[Place, str], ...]
    remark: str


def _pressures(*outlets: str) -> tuple[tuple[Place, str], ...]:
    places = [Place(ROOM), *(Place(OUTLET, name) for name in outlets), Place(GAUGE), Place(FOOT)]
    return (*((p, PRESSURE) for p in places), (Place(FOOT), TEMPERATURE))


RECIPES = {
    "swim_hall_blocked_cap": Recipe(
        "swim_hall", "terminal_blocked", "roof", 0.52, Weather(Q_(41.0, "degF"), Q_(72.0, "degF")), 11,
        _pressures("Boiler 1", "Boiler 3"),
        "the cap of the swimming hall is half blocked, as by a nest",
    ),
    "school_room_negative": Recipe(
        "school", "room_negative", "the boiler room", 14.0, Weather(Q_(28.0, "degF"), Q_(68.0, "degF")), 7,
        _pressures("Water heater", "Boiler 1"),
        "exhaust fans pull the school's boiler room 14 Pa below what was assumed",
    ),
}  # fmt: skip


def readings(recipe: Recipe) -> tuple[Reading, ...]:
    """What is read: the vent with the cause and one draw of all its uncertain inputs, off by what instruments are."""
    job = job_file.load(tables.DATA / "jobs" / f"{recipe.job}.toml")
    asked = [
        (Condition(step.condition.levels, step.condition.cold, recipe.weather), place, quantity)
        for step in survey_plan.plan(job).steps
        for place, quantity in step.readings
        if (place, quantity) in recipe.wanted
    ]
    vent, rng = SurveyedVent(job, tuple(dict.fromkeys(a[0] for a in asked))), np.random.default_rng(recipe.seed)
    cause = next(c for c in survey_causes.causes(job) if (c.code, c.subject) == (recipe.cause, recipe.subject))
    inputs = vent.values(rng.standard_normal((len(vent.inputs), 1)))
    solved = vent.solve(joined(inputs, cause.change(job, np.array([recipe.value]))), 1)
    assert solved.settled.all()
    found = []
    for line, (condition, place, quantity) in enumerate(asked, 2):
        true = float(solved.read(Read(condition, place, quantity))[0])
        error = float(instruments()[quantity].deviation(true))
        found.append(Reading(condition, place, quantity, true + error * rng.standard_normal(), error, line))
    return tuple(found)


def text(job: job_file.Job, taken: Sequence[Reading], remark: str = "") -> str:
    """Readings as a file in US units, each with as many digits as a gauge shows."""
    heads, out = survey_file.columns(job), io.StringIO(newline="")
    if remark:
        out.write(f"# An invented survey of an invented job: {remark}. Made by tests/sample_demo_surveys.py.\r\n")
    writer, last = csv.writer(out), None
    writer.writerow(heads)
    for r in taken:
        told = {} if r.condition == last else _condition(job, r.condition)
        unit = shown_unit(KINDS[r.quantity], "US")
        value = Q_(r.value, "K" if r.quantity == TEMPERATURE else "Pa" if r.quantity == PRESSURE else "").m_as(unit)
        own = {
            "place": survey_file.name(r.place),
            "share": f"{r.place.share:.0%}" if r.place.kind == "tap" else "",
            "quantity": r.quantity,
            "value": f"{value:.{DIGITS.get(r.quantity, 1)}f}",
            "unit": unit_text(unit),
        }
        writer.writerow([(told | own).get(head, "") for head in heads])
        last = r.condition
    return out.getvalue()


def _condition(job: job_file.Job, condition: Condition) -> dict[str, str]:
    levels = zip(job.plant.appliances, condition.levels, strict=True)
    weather = {"outdoors": condition.weather.outdoor, "room": condition.weather.room}
    return (
        {survey_file.AT.format(a.name): level for a, level in levels}
        | {"stack": "cold" if condition.cold else "hot"}
        | {what: f"{value.m_as('degF'):.0f} °F" for what, value in weather.items()}
    )


def path(name: str) -> Path:
    """The file of a recipe."""
    return FOLDER / f"{name}.csv"


@cache
def demo(name: str) -> tuple[job_file.Job, Taken]:
    """A demo survey as its file tells it."""
    job = job_file.load(tables.DATA / "jobs" / f"{RECIPES[name].job}.toml")
    return job, survey_file.load(path(name), job)


@cache
def diagnosed(name: str) -> Diagnosis:
    """What a demo survey comes to, with all states of the calibrated vent."""
    return once(f"survey {name}", lambda: diagnose(demo(name)[1], study=True))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for key, one in RECIPES.items():
        job = job_file.load(tables.DATA / "jobs" / f"{one.job}.toml")
        path(key).write_text(text(job, readings(one), one.remark), encoding="utf-8", newline="")
