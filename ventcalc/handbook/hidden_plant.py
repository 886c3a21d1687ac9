"""A hidden plant: a vent that stands with something wrong that only its seed knows, to be read and named.

The lodge's vent as drawn, all that is uncertain of it drawn by the seed, and one cause planted, or none. Readings have
the noise of the usual instruments, the same whenever the same is read. A condition that lets gas into the room is not
read: the alarm sounds.
"""

import zlib
from dataclasses import dataclass
from functools import cache, cached_property
from html import escape
from itertools import product
from typing import Any

import ipywidgets as widgets
import numpy as np

from ventcalc.job import job_file, survey_causes, survey_file
from ventcalc.job.calibration import Calibration, calibrate
from ventcalc.job.changed_network import joined
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import (
    FOOT,
    GAUGE,
    ONE_SIGMA,
    OUTLET,
    OXYGEN,
    PRESSURE,
    TEMPERATURE,
    Weather,
    instruments,
)
from ventcalc.job.survey import ROOM, Condition, Place, Reading, Survey
from ventcalc.job.survey_causes import AS_DRAWN, Cause
from ventcalc.job.surveyed_vent import Read, Solved, SurveyedVent
from ventcalc.show import survey_sheet
from ventcalc.show.panels import choice, paragraph, table, with_static_text
from ventcalc.units import Q_
from ventcalc.words import say

DAY = Weather(Q_(41.0, "degF"), Q_(66.0, "degF"))

# What may be planted, by cause and subject: such as can be told apart from within the building.
PLANTED = (
    (AS_DRAWN, ""),
    ("terminal_blocked", "top"),
    ("section_blocked", "long run"),
    ("section_blocked", "connector A"),
    ("insulation_lost", "insulated chimney"),
    ("room_negative", "the boiler room"),
    ("idle_open", "Boiler B"),
    ("excess_air", "Boiler A"),
    ("input_low", "Boiler B"),
)
EXTENT = (0.35, 0.95)  # of its spread: less would hardly show


@cache
def lodge() -> Job:
    """The demo job of the mountain lodge."""
    return job_file.demonstration("lodge")


@cache
def conditions() -> tuple[Condition, ...]:
    """What can be brought about there: all off on a cold stack, every other on a hot one."""
    levels = [("off", *(level.name for level in a.levels)) for a in lodge().plant.appliances]
    return tuple(Condition(own, all(x == "off" for x in own), DAY) for own in product(*levels))


def asked(condition: Condition) -> tuple[tuple[Place, str], ...]:
    """What can be read in a condition."""
    names = [a.name for a in lodge().plant.appliances]
    pressures = [Place(ROOM), *(Place(OUTLET, name) for name in names), Place(GAUGE), Place(FOOT)]
    found = [(place, PRESSURE) for place in pressures]
    if condition.cold:
        return tuple(found)
    found.append((Place(FOOT), TEMPERATURE))
    firing = [name for name, level in zip(names, condition.levels, strict=True) if level != "off"]
    return (*found, *((Place(OUTLET, name), what) for name in firing for what in (TEMPERATURE, OXYGEN)))


def planted(code: str, subject: str) -> Cause | None:
    """The cause of that name; None for the vent as drawn. ValueError where the lodge cannot have it."""
    if code == AS_DRAWN:
        return None
    for cause in survey_causes.causes(lodge()):
        if (cause.code, cause.subject) == (code, subject):
            return cause
    raise ValueError(f"cause {code!r} of {subject!r}: the lodge has none; choose one of {PLANTED}")


def cause_name(code: str, subject: str) -> str:
    """A cause in few words."""
    return say("job", "survey_cause_name", code, subject=subject)


class AlarmSounds(ValueError):
    """A condition that lets gas into the room: nothing is read in it."""


@dataclass(frozen=True)
class HiddenPlant:
    """A vent whose ``cause`` (None: as drawn) and the ``value`` of it nobody who reads it is told."""

    seed: int
    cause: Cause | None
    value: float

    @property
    def name(self) -> str:
        """What is wrong with it."""
        return cause_name(AS_DRAWN, "") if self.cause is None else cause_name(self.cause.code, self.cause.subject)

    @cached_property
    def solved(self) -> Solved:
        """All that it does, everything uncertain as the seed draws it."""
        vent, rng = lodge_vent(), np.random.default_rng(self.seed)
        inputs = vent.values(rng.standard_normal((len(vent.inputs), 1)), float(rng.integers(vent.formulas)))
        changes = () if self.cause is None else (self.cause.change(lodge(), np.array([self.value])),)
        return vent.solve(joined(inputs, *changes), 1)

    def read(self, condition: Condition, place: Place, quantity: str) -> Reading:
        """One reading with the noise of its instrument.

        Raises `AlarmSounds` where gas comes into the room in that condition.
        """
        if self.solved.spills(condition)[0]:
            raise AlarmSounds(
                "the carbon monoxide alarm sounds: everybody out, the plant is shut down; nothing is read"
            )
        true = float(self.solved.read(Read(condition, place, quantity))[0])
        error = float(instruments()[quantity].deviation(true))
        own = zlib.crc32(repr((condition.levels, place, quantity)).encode())
        noise = np.random.default_rng([self.seed, own]).standard_normal()
        return Reading(condition, place, quantity, true + error * float(noise), error)


@cache
def lodge_vent() -> SurveyedVent:
    """The lodge's vent in all its conditions."""
    return SurveyedVent(lodge(), conditions())


@cache
def as_drawn() -> Solved:
    """What it should do."""
    vent = lodge_vent()
    return vent.solve(vent.values(np.zeros((len(vent.inputs), 1))), 1)


def hidden(seed: int) -> HiddenPlant:
    """The plant of a seed: each of `PLANTED` alike."""
    rng = np.random.default_rng([seed, len(PLANTED)])
    cause = planted(*PLANTED[int(rng.integers(len(PLANTED)))])
    return HiddenPlant(seed, cause, float("nan") if cause is None else float(cause.value(rng.uniform(*EXTENT))))


def explained(readings: tuple[Reading, ...]) -> Calibration:
    """What explains readings taken at the lodge."""
    return calibrate(Survey(lodge(), readings))


# --- Readings and chances, to be shown ------------------------------------------------------------------------------


def off_drawn(reading: Reading) -> float:
    """How far a reading is off the vent as drawn, in standard deviations of its instrument."""
    true = float(as_drawn().read(Read(reading.condition, reading.place, reading.quantity))[0])
    return (reading.value - true) / reading.error


def readings_table(readings: tuple[Reading, ...], system: str) -> str:
    """Readings beside what the vent as drawn would show."""
    rows = []
    for r in readings:
        drawn = float(as_drawn().read(Read(r.condition, r.place, r.quantity))[0])
        shown = (survey_sheet.reading_number(r.quantity, v, system)["shown"] for v in (r.value, drawn))
        words = survey_sheet.condition_words(r.condition, lodge())
        rows.append((words, survey_file.said(r.place), r.quantity, *shown, f"{off_drawn(r):+.1f}"))
    return table(("condition", "place", "quantity", "read", "as drawn", "off by, in errors of its instrument"), rows)


def chances_table(found: Calibration, most: int = 6) -> str:
    """The likeliest explanations; those on one line cannot be told apart."""
    rows = [
        (" / ".join(dict.fromkeys(survey_sheet.name(e) for e in members)), f"{chance:.0%}")
        for members, chance in found.groups[:most]
        if chance >= survey_sheet.LEAST_SHOWN
    ]
    return table(("explanation", "chance"), rows)


# --- The plant to be read -------------------------------------------------------------------------------------------

_STATIC = "The plant is live in JupyterLab: open this chapter there, choose Run, Run All Cells, and take readings."


class Troubleshooting(widgets.VBox):
    """A hidden plant to be read: choose what fires and where to read; weigh the causes, or name one and be marked."""

    def __init__(self, system: str, seed: int = 1):
        self.system = system
        self.seed = widgets.BoundedIntText(value=seed, min=1, max=9999, description="Plant no.")
        self.firing = choice("Fire", [(self._doing(c), c) for c in conditions()], conditions()[-1])
        self.place = widgets.Dropdown(description="Read")
        self.take = widgets.Button(description="Take the reading")
        self.weigh = widgets.Button(description="Weigh the causes", tooltip="takes some seconds")
        self.named = choice("It is", [(cause_name(*own), own) for own in PLANTED], PLANTED[0])
        self.tell = widgets.Button(description="Name it")
        self.taken, self.chances, self.verdict = (widgets.HTML() for _ in range(3))
        for name, shown in (("taken", self.taken), ("chances", self.chances), ("named", self.verdict)):
            shown.add_class(f"vc-{name}")
        super().__init__([
            widgets.HBox([self.seed, self.firing]),
            widgets.HBox([self.place, self.take, self.weigh]),
            self.taken,
            self.chances,
            widgets.HBox([self.named, self.tell]),
            self.verdict,
        ])  # fmt: skip
        self.seed.observe(lambda change: self.begin(), names="value")
        self.firing.observe(lambda change: self._offer(), names="value")
        self.take.on_click(lambda button: self.read())
        self.weigh.on_click(lambda button: self.weighed())
        self.tell.on_click(lambda button: self.mark())
        self._offer()
        self.begin()

    def _doing(self, condition: Condition) -> str:
        return survey_sheet.condition_words(condition, lodge())

    def begin(self) -> None:
        """Another plant, of which nothing was read."""
        self.plant, self.readings = hidden(self.seed.value), ()
        self.taken.value, self.chances.value = paragraph("Nothing was read yet."), ""
        self.verdict.value = ""

    def _offer(self) -> None:
        self.place.options = [(f"{survey_file.said(p)}, {what}", (p, what)) for p, what in asked(self.firing.value)]
        self.place.index = 0

    def read(self) -> None:
        """Take the reading that is chosen."""
        try:
            reading = self.plant.read(self.firing.value, *self.place.value)
        except AlarmSounds as error:
            self.verdict.value = f"<p><b>▲ {escape(str(error))}.</b></p>"
            return
        self.verdict.value = _PRESSED if pressed(reading) else ""
        if reading not in self.readings:
            self.readings = (*self.readings, reading)
        self.taken.value = readings_table(self.readings, self.system)

    def weighed(self) -> None:
        """Show what explains the readings so far."""
        if not self.readings:
            self.chances.value = paragraph("Take a reading first.")
            return
        self.chances.value = chances_table(explained(self.readings))

    def take_over(self, before: "Troubleshooting") -> None:
        """Go on from the same plant, with its readings, in the other unit system."""
        self.seed.value, self.firing.value = before.seed.value, before.firing.value
        self.place.index, self.named.value = before.place.index, before.named.value
        self.readings = before.readings
        if self.readings:
            self.taken.value = readings_table(self.readings, self.system)
        self.chances.value, self.verdict.value = before.chances.value, before.verdict.value

    def mark(self) -> None:
        """Mark the cause that is named."""
        self.verdict.value = marked(self.plant, *self.named.value, len(self.readings))

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return with_static_text(super()._repr_mimebundle_(**kwargs), _STATIC, paragraph(_STATIC))


_PRESSED = (
    "<p><b>▲ Pressure where there should be draft:</b> on site the plant is shut down and the room aired first.</p>"
)


def pressed(reading: Reading) -> bool:
    """Whether a reading in the vent stands above the room by more than its instrument may be off, while anything fires.

    The lodge's boilers are of category I: their vent is to be under draft everywhere.
    """
    fires = any(level != "off" for level in reading.condition.levels)
    surely = reading.value > reading.error / ONE_SIGMA
    return fires and reading.quantity == PRESSURE and reading.place.kind != ROOM and surely


def marked(plant: HiddenPlant, code: str, subject: str, count: int) -> str:
    """What is said to whoever names a cause after so many readings."""
    true = (AS_DRAWN, "") if plant.cause is None else (plant.cause.code, plant.cause.subject)
    if not count:
        return "<p><b>Not yet.</b> Take a reading first: a guess mends nothing.</p>"
    if (code, subject) == true:
        return f"<p><b>Right</b>, by {count} reading{'s' if count > 1 else ''}: {escape(plant.name)}.</p>"
    if code == true[0]:
        return "<p><b>Nearly.</b> The kind is right, the place is not: read on both sides of where you think it is.</p>"
    if true[0] == AS_DRAWN:
        return "<p><b>No.</b> Are these readings farther off than losses and burners usually are?</p>"
    return "<p><b>No.</b> Which reading would be otherwise if it were that? Take it.</p>"
