"""Survey dangers: readings that tell of danger to people by themselves, whatever explains them.

Flue gas that may come into the room at an outlet, by the pressure there (`reading_verdicts`), and more carbon monoxide
in the flue than an appliance may make. A plant that does so is shut down first; why comes after.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ventcalc.gas import combustion_analysis
from ventcalc.job import performance_test, reading_verdicts, site_record
from ventcalc.job.performance_test import CARBON_MONOXIDE, OUTLET, OXYGEN, PRESSURE, Asked, Expected
from ventcalc.job.reading_verdicts import UNKNOWN, Judged
from ventcalc.job.survey import Reading, Survey

SPILLS, MONOXIDE = "spills", "monoxide"
MOST_MONOXIDE = 400e-6  # air-free: ANSI Z21 (CO48 in data/building/carbon_monoxide.csv, from memory: to be confirmed)
MOST_OXYGEN = 0.2  # beside which air-free still tells something: nearer to air it goes beyond all bounds


@dataclass(frozen=True)
class Danger:
    """A ``reading`` that tells of danger, and of which: `SPILLS` or `MONOXIDE`."""

    code: str
    reading: Reading


def dangers(survey: Survey) -> tuple[Danger, ...]:
    """Every reading that tells of danger, in their order."""
    return tuple(_each(survey))


def _each(survey: Survey) -> Iterator[Danger]:
    appliances = {a.name: a for a in survey.job.plant.appliances}
    for reading in survey.readings:
        if reading.place.kind != OUTLET:
            continue
        if reading.quantity == PRESSURE and reading_verdicts.to_people(_judged(reading), appliances):
            yield Danger(SPILLS, reading)
        if reading.quantity == CARBON_MONOXIDE and _air_free(reading, survey) > MOST_MONOXIDE:
            yield Danger(MONOXIDE, reading)


def _judged(reading: Reading) -> Judged:
    """A reading at an outlet as one of a performance test, of which nothing is expected."""
    condition = performance_test.Condition("", "", reading.condition.levels)
    asked = Asked(condition, performance_test.Place(OUTLET, reading.place.appliance), PRESSURE)
    expected = Expected(asked, np.nan, np.nan, reading.error, False)
    return Judged(expected, site_record.Reading(reading.value, reading.line), UNKNOWN)


def _air_free(reading: Reading, survey: Survey) -> float:
    """Carbon monoxide without the excess air that was read beside it; as read where none was."""
    beside = (
        r.value
        for r in survey.readings
        if r.quantity == OXYGEN and r.place == reading.place and r.condition == reading.condition
    )
    return float(combustion_analysis.co_air_free.bare(reading.value, min(next(beside, 0.0), MOST_OXYGEN)))
