"""Survey causes: what may have happened to a vent that stands, each a change of the vent as drawn with one number.

The table ``data/job/survey_causes.csv`` says how that number is spread and how often a survey finds the cause; `causes`
lists those that a job can have. What a cause changes is told as the inputs of `surveyed_vent`: what it cannot say
exactly it says so that losses and drafts come out: a narrow section keeps its junctions, a longer one its rise.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.job.job_file import Job
from ventcalc.job.uncertain_inputs import BOILER_ROOM
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import ROOM, Plant

AS_DRAWN, SOMETHING_ELSE = "as_drawn", "something_else"
_UNITS = {"-": "", "Pa": "Pa", "percent": ""}
# Rise over length below which water stands in a section that sags (common practice, no source: a quarter inch a foot).
LEVEL = 1.0 / 48.0

Values = dict[tuple[str, str], np.ndarray]  # what differs between variants, by its name and its subject


@dataclass(frozen=True)
class CauseKind:
    """A row of the table; ``least`` and ``most`` in the SI unit of its own, NaN where it has no number."""

    key: str
    each: str
    parameter: str
    least: float
    most: float
    unit: str
    weight: float
    source: str
    status: str


@dataclass(frozen=True)
class Cause:
    """One cause that a job can have: its ``kind``, its ``subject`` (a section, terminal, appliance or room by name, ""
    for the vent as a whole) and its ``prior`` chance against the other causes and against the vent as drawn."""

    kind: CauseKind
    subject: str
    prior: float

    @property
    def code(self) -> str:
        """The key of its kind: what sentences are found by."""
        return self.kind.key

    def value(self, points: np.ndarray) -> np.ndarray:
        """Its number at points from 0 to 1 of its spread."""
        return self.kind.least + (self.kind.most - self.kind.least) * np.asarray(points, float)

    def quantity(self, value: float) -> Quantity:
        """Its number with its unit."""
        return Q_(value, "Pa" if self.kind.unit == "Pa" else "dimensionless")

    def change(self, job: Job, value: np.ndarray) -> Values:
        """What it does to the vent where its number is ``value`` (variants)."""
        return _CHANGES[self.code](job.plant, self.subject, np.asarray(value, float))


@cache
def kinds() -> dict[str, CauseKind]:
    """Every row of the table by its key."""
    found = {}
    for r in tables.read("survey_causes"):
        unit = "dimensionless" if r["unit"] in ("", "-") else r["unit"]
        ends = (float(Q_(float(r[end] or "nan"), unit).m_as(_UNITS.get(r["unit"], ""))) for end in ("least", "most"))
        weight = float(r["weight"])
        told = (r["key"], r["each"], r["parameter"], *ends, r["unit"], weight, r["source"], r["status"])
        found[r["key"]] = CauseKind(*told)
    return found


def prior(key: str) -> float:
    """Chance of "as_drawn" or "something_else" before anything is read, against the causes of every job."""
    return kinds()[key].weight


def causes(job: Job) -> tuple[Cause, ...]:
    """Every cause that a job can have, in the order of the table; their weights are shared by all that each may be."""
    found = []
    for kind in kinds().values():
        subjects = list(_OF_EACH[kind.each](job)) if kind.key in _CHANGES else []
        found += [Cause(kind, subject, kind.weight / len(subjects)) for subject in subjects]
    return tuple(found)


def blockage_loss(blocked: np.ndarray) -> np.ndarray:
    """Loss coefficient, on the velocity head of the whole area, where a share of it is ``blocked`` by a sharp edge.

    K = (1 / (c a) - 1)^2 with a the share left and c = 0.62 + 0.38 a^3 the contraction of the jet behind it: the loss
    of a sudden expansion from the jet (Borda and Carnot, Weisbach's contraction; from memory, to be confirmed).
    """
    left = 1.0 - np.asarray(blocked, float)
    return (1.0 / ((0.62 + 0.38 * left**3) * left) - 1.0) ** 2


def _sections(plant: Plant, wanted: Callable = lambda section: True) -> list[str]:
    return [s.name for s in plant.order if wanted(s)]


def common(plant: Plant) -> list[str]:
    """Sections that serve several appliances."""
    return _sections(plant, lambda s: len(plant.serves(s.name)) > 1)


def _wet(plant: Plant) -> list[str]:
    """Sections of condensing appliances from which water does not run by itself."""

    def holds(section) -> bool:
        level = abs(float((section.rise / section.length).m_as(""))) <= LEVEL if section.length.m > 0.0 else False
        return level and any(CATEGORIES[a.category].condensing for a in plant.serves(section.name))

    return _sections(plant, holds)


def _rooms(plant: Plant) -> Iterator[str]:
    for place in dict.fromkeys(a.room for a in plant.appliances):
        yield BOILER_ROOM if place == ROOM else place


_OF_EACH: dict[str, Callable[[Job], list[str]]] = {
    "vent": lambda job: [""],
    "terminal": lambda job: [t.name for t in job.plant.terminations],
    "section": lambda job: _sections(job.plant),
    "insulating material": lambda job: list(
        dict.fromkeys(s.material.name for s in job.plant.order if float(s.material.wall_resistance.m) > 0.0)
    ),
    "room": lambda job: list(_rooms(job.plant)),
    "forced appliance": lambda job: [a.name for a in job.plant.appliances if a.kind == "forced"],
    "regulator": lambda job: [a.name for a in job.plant.appliances if a.kind == "barometric"],
    "existing fan": lambda job: [""] if job.existing else [],
    "header sensor": lambda job: [""],
    "appliance": lambda job: [a.name for a in job.plant.appliances],
    "low point": lambda job: _wet(job.plant),
    "common header": lambda job: [""] if common(job.plant) else [],
}


def outlet_area(a: Appliance) -> float:
    """Free area [m2] of an appliance's outlet."""
    return float(np.pi / 4.0 * a.outlet_diameter.m_as("m") ** 2)


def _area(plant: Plant, appliance: str) -> float:
    return outlet_area(next(a for a in plant.appliances if a.name == appliance))


def _insulation(plant: Plant, material: str, value: np.ndarray) -> Values:
    return {("wall left", name): value for name in _sections(plant, lambda s: s.material.name == material)}


_CHANGES: dict[str, Callable[[Plant, str, np.ndarray], Values]] = {
    "terminal_blocked": lambda plant, name, value: {("cap loss", name): blockage_loss(value)},
    "section_blocked": lambda plant, name, value: {("loss", name): blockage_loss(value)},
    "section_narrow": lambda plant, name, value: {("narrow", name): value},
    "section_longer": lambda plant, name, value: {("longer", name): value},
    "insulation_lost": _insulation,
    "room_negative": lambda plant, name, value: {("room_pressure", name): -value},
    "joint_leak": lambda plant, name, value: {("joint", name): value * _area(plant, name)},
    "idle_open": lambda plant, name, value: {("idle", name): value * _area(plant, name)},
    "regulator_stuck": lambda plant, name, value: {("hood", name): value},
    "fan_slow": lambda plant, name, value: {("fan", ""): value},
    "fan_backward": lambda plant, name, value: {("fan", ""): value},
    "sensor_offset": lambda plant, name, value: {("sensor read", ""): value},
    "excess_air": lambda plant, name, value: {("oxygen", name): value},
    "input_high": lambda plant, name, value: {("rate", name): value},
    "input_low": lambda plant, name, value: {("rate", name): value},
    "wind_onto_terminal": lambda plant, name, value: {("terminal pressure", name): value},
    "condensate_standing": lambda plant, name, value: {("loss", name): blockage_loss(value)},
    "header_small": lambda plant, name, value: {("narrow", s): value for s in common(plant)},
}
