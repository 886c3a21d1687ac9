"""Survey plan: what to fire in which order on a vent that stands, and what to read where, within an hour.

Few conditions tell most: all off, all at their highest, the largest alone, then what time is left for. None is asked
for in which the vent as drawn lets flue gas into the room. All taps are inside the building, where nobody stands in
flue gas; where the vent as drawn stands above the pressure around a tap, it must be one that shuts.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import held_pressure
from ventcalc.job import performance_test, remedy_outcome
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import FAN, FOOT, GAUGE, OUTLET, OXYGEN, PRESSURE, SPEED, TEMPERATURE
from ventcalc.job.remedy import as_drawn
from ventcalc.job.survey import ROOM, Condition, Place
from ventcalc.units import Quantity
from ventcalc.vent import end_of_header, firing_states, reversal, section_extremes
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import OUTDOORS, Plant
from ventcalc.vent.states import States

# Minutes (common practice, no source): an hour is what a plant can be kept from its duty.
LONGEST = 60
SET_UP = 6  # weather, gauge at zero, taps opened
WARM = 10  # from a cold stack until the gas at its foot holds its temperature
SETTLE = 5  # from one condition to the next
READ = 1  # a reading

WORTH = ("all_off", "all_high", "all_low", "alone", "idle_beside")  # kinds of condition, what tells most first
MOST_OUTLETS = 4  # at which is read: both ends of the header, the largest and the smallest


@dataclass(frozen=True)
class Tap:
    """Where to drill: a ``place``, ``along`` its ``section`` from the upstream end; ``pressed`` where the vent as
    drawn stands above the air around it in some condition of the plan."""

    place: Place
    section: str
    along: Quantity
    pressed: bool


@dataclass(frozen=True)
class Step:
    """A condition to bring about and what to read in it: after ``wait`` [minutes], a minute a reading."""

    asked: performance_test.Condition
    condition: Condition
    wait: int
    readings: tuple[tuple[Place, str], ...]

    @property
    def minutes(self) -> int:
        """How long it takes."""
        return self.wait + READ * len(self.readings)


@dataclass(frozen=True)
class Plan:
    """An hour on site: ``taps``, and ``steps`` from all off to all at their highest.

    ``unsafe`` are conditions that are not asked for, since the vent as drawn lets flue gas into the room in them, or
    was not solved.
    """

    job: Job
    taps: tuple[Tap, ...]
    steps: tuple[Step, ...]
    unsafe: tuple[performance_test.Condition, ...]

    @property
    def minutes(self) -> int:
        """How long all of it takes."""
        return SET_UP + sum(step.minutes for step in self.steps)


def plan(job: Job) -> Plan:
    """The plan of a job's vent as it stands, by what it does as drawn in the middle one of its seasons."""
    asked = performance_test.conditions(job.plant)
    scan = _as_drawn(job, asked)
    bad = _unsafe(scan, len(asked))
    outlets = chosen_outlets(job.plant)
    safe = [c for k, c in enumerate(asked) if not bad[k]]
    steps = _within_the_hour(job, _by_worth(safe, job.plant), outlets)
    kept = [k for k, c in enumerate(asked) if c in {step.asked for step in steps}]
    taps = tuple(_taps(job.plant, scan, np.isin(scan.condition, kept), outlets))
    return Plan(job, taps, steps, tuple(c for k, c in enumerate(asked) if bad[k]))


def unsafe(job: Job) -> tuple[performance_test.Condition, ...]:
    """Conditions that nobody is to bring about: the vent as drawn lets flue gas into the room in them, or was not
    solved."""
    asked = performance_test.conditions(job.plant)
    return tuple(c for c, bad in zip(asked, _unsafe(_as_drawn(job, asked), len(asked)), strict=True) if bad)


def chosen_outlets(plant: Plant) -> tuple[str, ...]:
    """The appliances at whose outlets is read, in the plant's order."""
    every = plant.appliances
    by_size = sorted(every, key=lambda a: float(a.levels[-1].heat_input.m_as("W")))
    wanted = dict.fromkeys(a.name for a in (every[0], every[-1], by_size[-1], by_size[0]))
    names = [*wanted, *(a.name for a in every if a.name not in wanted)][:MOST_OUTLETS]
    return tuple(a.name for a in every if a.name in names)


def _as_drawn(job: Job, asked: Sequence[performance_test.Condition]) -> Scan:
    """The vent as drawn in the conditions, its stack hot, with every state that a past leads to."""
    weather = performance_test.likely_weather(job)
    season = weather.season(performance_test.nearest_season(job, weather.outdoor))
    codes = np.array([c.codes(job.plant) for c in asked]).T
    none = np.zeros(len(asked), int)
    states = States(codes, none, none.astype(bool), none.astype(bool), None if job.plant.exposure is None else none)
    scan = firing_states.of_states(job.plant, (season,), states, len(asked), True)
    own = as_drawn(job)
    if not own.controls:
        return scan
    return remedy_outcome.outcome(replace(job, seasons=(season,)), own, scan, rough=True).scan


def _unsafe(scan: Scan, count: int) -> np.ndarray:
    """Conditions in which flue gas enters the room from some past, or that were not solved."""
    gas = reversal.flue_gas_enters(scan).any(axis=0) | ~scan.solution.converged
    return np.isin(np.arange(count), scan.condition[gas])


def _by_worth(asked: Sequence[performance_test.Condition], plant: Plant) -> list[performance_test.Condition]:
    """Conditions in the order in which they are worth their time, the hotter of one kind first."""
    return sorted(asked, key=lambda c: (WORTH.index(c.code), -_heat(c, plant)))


def _within_the_hour(
    job: Job, wanted: Sequence[performance_test.Condition], outlets: tuple[str, ...]
) -> tuple[Step, ...]:
    """As many of the conditions, the worthiest first, as fit; in the order in which they are fired."""
    kept: list[performance_test.Condition] = []
    for condition in wanted:
        tried = _steps(job, [*kept, condition], outlets)
        if SET_UP + sum(step.minutes for step in tried) <= LONGEST:
            kept.append(condition)
    return _steps(job, kept, outlets)


def _steps(job: Job, asked: Sequence[performance_test.Condition], outlets: tuple[str, ...]) -> tuple[Step, ...]:
    """Steps from the least heat to the most; temperature and oxygen at an outlet are read in the last that fires it."""
    weather, found, last = performance_test.likely_weather(job), [], {}
    ordered = sorted(asked, key=lambda c: _heat(c, job.plant))
    for condition in ordered:
        last |= dict.fromkeys(_firing(condition, job.plant), condition)
    for condition in ordered:
        hot = bool(_firing(condition, job.plant))
        warmed = any(not step.condition.cold for step in found)
        wait = (SETTLE if warmed else WARM) if hot else 0
        tuned = [name for name in outlets if last.get(name) is condition]
        readings = tuple(_readings(job, hot, outlets, tuned))
        found.append(Step(condition, Condition(condition.levels, not hot, weather), wait, readings))
    return tuple(found)


def _firing(condition: performance_test.Condition, plant: Plant) -> list[str]:
    """The appliances that fire in a condition."""
    return [a.name for a, level in zip(plant.appliances, condition.levels, strict=True) if level != "off"]


def _heat(condition: performance_test.Condition, plant: Plant) -> float:
    """Heat input [W] of all that fires."""
    return sum(
        float(level.heat_input.m_as("W"))
        for a, name in zip(plant.appliances, condition.levels, strict=True)
        for level in a.levels
        if level.name == name
    )


def _readings(job: Job, hot: bool, outlets: Sequence[str], tuned: Sequence[str]) -> Iterator[tuple[Place, str]]:
    own = _sections(job.plant)
    pressures = [Place(ROOM), *(Place(OUTLET, name) for name in outlets), *own]
    yield from ((place, PRESSURE) for place in pressures)
    if hot and Place(FOOT) in own:
        yield Place(FOOT), TEMPERATURE
    for name in tuned:
        yield from ((Place(OUTLET, name), what) for what in (TEMPERATURE, OXYGEN))
    if hot and as_drawn(job).fan:
        yield Place(FAN), SPEED


def _sections(plant: Plant) -> dict[Place, tuple[str, int]]:
    """The end of the header and the foot of the stack as far as they are inside: the section, and at which of its ends.

    The header of a single appliance begins at its outlet, where is read anyhow.
    """
    found = {Place(FOOT): (held_pressure.stack_base(plant), 1)}
    if len(plant.appliances) > 1:
        found = {Place(GAUGE): (end_of_header.far_end(plant), 0)} | found
    return {place: at for place, at in found.items() if plant.section(at[0]).place != OUTDOORS}


def _taps(plant: Plant, scan: Scan, columns: np.ndarray, outlets: tuple[str, ...]) -> Iterator[Tap]:
    """Two diameters behind the outlets (common practice, no source), at the end of the header, at the stack's foot."""
    for i, (a, feed) in enumerate(zip(plant.appliances, plant.feeds, strict=True)):
        if a.name in outlets:
            section = plant.section(feed)
            pressed = bool((scan.solution.outlet_pressure[i, columns] > 0.0).any())
            yield Tap(Place(OUTLET, a.name), feed, min(2.0 * section.diameter, 0.5 * section.length), pressed)
    for place, (name, end) in _sections(plant).items():
        pressure = section_extremes.static_against_surroundings(scan, plant.row(name))[end]
        yield Tap(place, name, float(end) * plant.section(name).length, bool((pressure[columns] > 0.0).any()))
