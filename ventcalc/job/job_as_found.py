"""Job as found: a job with what a survey found of its vent written into its drawing, as if it had been drawn so.

`changed_network` solves many variants of a vent on a survey's days; a study goes through a drawing: its remedies, its
starts, its failures. What a cause changes is told here in the drawing's own terms, so that both come to the same.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ventcalc.flow.materials import Material
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.appliance import DISCHARGE, Appliance, FiringLevel, Leak
from ventcalc.job.job_file import Job
from ventcalc.job.survey_causes import Cause, blockage_loss, common, outlet_area
from ventcalc.job.uncertain_inputs import BOILER_ROOM
from ventcalc.units import Q_
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import Season

# Pressure [Pa] and density of the room's air [kg/m3] at which what an idle appliance leaks is told; what it leaks at
# others follows.
_STILL_OPEN, _ROOM_AIR = 25.0, 1.2


def as_found(job: Job, causes: Sequence[Cause], values: Sequence[float]) -> tuple[Job, tuple[Cause, ...]]:
    """A job with what ``causes`` change at their ``values`` [SI] in its drawing, and those that no drawing can have.

    A control's sensor that reads wrong is none of the vent; wind that presses onto one of several terminals cannot be
    told apart from the others. The alternates of the job are changed alike, as far as they have what is changed.
    """
    left = []
    for cause, value in zip(causes, values, strict=True):
        changed = _CHANGES[cause.code](job, cause.subject, float(value))
        if changed is None:
            left.append(cause)
        else:
            job = changed
    return job, tuple(left)


def in_alternates(job: Job, causes: Sequence[Cause], values: Sequence[float]) -> Job:
    """A job with the alternates' own jobs as found."""
    found = []
    for a in job.alternates:
        there = [(c, v) for c, v in zip(causes, values, strict=True) if _has(a.job.plant, c)]
        changed, _ = as_found(a.job, *zip(*there, strict=True)) if there else (a.job, ())
        found.append(replace(a, job=changed))
    return replace(job, alternates=tuple(found))


def _has(plant: Plant, cause: Cause) -> bool:
    """Whether what a cause is about stands in a plant."""
    if cause.kind.each in ("appliance", "forced appliance", "regulator"):
        return cause.subject in {a.name for a in plant.appliances}
    if cause.kind.each in ("section", "low point"):
        return cause.subject in {s.name for s in plant.sections}
    return True


Change = Callable[[Job, str, float], Job | None]


def _plant(job: Job, **changes) -> Job:
    return replace(job, plant=replace(job.plant, **changes))


def _of_section(change: Callable[[Section, float], Section]) -> Change:
    def changed(job: Job, name: str, value: float) -> Job:
        own = (change(s, value) if s.name == name else s for s in job.plant.sections)
        return _plant(job, sections=tuple(own))

    return changed


def _of_appliance(change: Callable[[Appliance, float], Appliance]) -> Change:
    def changed(job: Job, name: str, value: float) -> Job:
        own = (change(a, value) if a.name == name else a for a in job.plant.appliances)
        return _plant(job, appliances=tuple(own))

    return changed


# --- Sections and terminals ------------------------------------------------------------------------------------------


def _blocked(section: Section, value: float) -> Section:
    return replace(section, obstruction=section.obstruction + float(blockage_loss(np.array(value))))


def _narrow(section: Section, value: float) -> Section:
    return replace(section, diameter=section.diameter * value)


def _longer(section: Section, value: float) -> Section:
    return replace(section, length=section.length * value, obstruction=section.obstruction + (value - 1) * section.loss)


def _terminal_blocked(job: Job, name: str, value: float) -> Job:
    """What blocks a terminal stands at the end of the section that leads there."""
    return _of_section(_blocked)(job, next(s.name for s in job.plant.sections if s.into == name), value)


def _header_small(job: Job, _: str, value: float) -> Job:
    for name in common(job.plant):
        job = _of_section(_narrow)(job, name, value)
    return job


def _insulation_lost(job: Job, name: str, value: float) -> Job:
    """Every layer lets through more, so that a stack that warms up loses as much as one that is hot."""

    def bare(m: Material) -> Material:
        layers = (replace(layer, conductivity=layer.conductivity / value) for layer in m.layers)
        return replace(m, wall_resistance=m.wall_resistance * value, layers=tuple(layers))

    own = (replace(s, material=bare(s.material)) if s.material.name == name else s for s in job.plant.sections)
    return _plant(job, sections=tuple(own))


# --- Appliances ------------------------------------------------------------------------------------------------------


def _joint_leak(a: Appliance, value: float) -> Appliance:
    return replace(a, joint=a.joint + Q_(value * outlet_area(a), "m**2"))


def _idle_open(a: Appliance, value: float) -> Appliance:
    """What it leaked before and the flap that stands open, side by side."""
    opening = Q_(DISCHARGE * value * outlet_area(a) * np.sqrt(2.0 * _STILL_OPEN / _ROOM_AIR), "m**3/s")
    before = Q_(0.0, "m**3/s")
    if a.idle == "leaking":
        before = a.leak.flow * np.sqrt(_STILL_OPEN / float(a.leak.pressure.m_as("Pa")))
    return replace(a, idle="leaking", leak=Leak(before + opening, Q_(_STILL_OPEN, "Pa")))


def _stuck(a: Appliance, value: float) -> Appliance:
    return replace(a, opening=a.opening * value)


def _more_air(a: Appliance, value: float) -> Appliance:
    def leaner(level: FiringLevel) -> FiringLevel:
        oxygen = float(combustion.products(a.fuel, level.excess_air).o2_dry) + value
        excess = float(combustion_analysis.excess_air_from_o2(a.fuel, Q_(oxygen, "")).m_as(""))
        return replace(level, excess_air=excess)

    return replace(a, levels=tuple(leaner(level) for level in a.levels))


def _input(a: Appliance, value: float) -> Appliance:
    return replace(a, levels=tuple(replace(level, heat_input=level.heat_input * value) for level in a.levels))


# --- Room, wind and fan ----------------------------------------------------------------------------------------------


def _room_negative(job: Job, name: str, value: float) -> Job:
    def lower(season: Season) -> Season:
        if name == BOILER_ROOM:
            return replace(season, room_pressure=season.room_pressure - Q_(value, "Pa"))
        own = (replace(p, pressure=p.pressure - Q_(value, "Pa")) if p.name == name else p for p in season.places)
        return replace(season, places=tuple(own))

    return replace(job, seasons=tuple(lower(season) for season in job.seasons))


def _wind_onto_terminal(job: Job, _: str, value: float) -> Job | None:
    """A pressure at the one terminal is as if all rooms stood lower by it."""
    if len(job.plant.terminations) > 1:
        return None
    for room in (BOILER_ROOM, *(p.name for p in job.plant.places)):
        job = _room_negative(job, room, value)
    return job


def _fan_weak(job: Job, _: str, value: float) -> Job:
    drive = job.existing.drive
    weak = tuple(replace(p, pressure=p.pressure * value) for p in drive.fan.points)
    return replace(job, existing=replace(job.existing, drive=replace(drive, fan=replace(drive.fan, points=weak))))


_CHANGES: dict[str, Change] = {
    "terminal_blocked": _terminal_blocked,
    "section_blocked": _of_section(_blocked),
    "section_narrow": _of_section(_narrow),
    "section_longer": _of_section(_longer),
    "insulation_lost": _insulation_lost,
    "room_negative": _room_negative,
    "joint_leak": _of_appliance(_joint_leak),
    "idle_open": _of_appliance(_idle_open),
    "regulator_stuck": _of_appliance(_stuck),
    "fan_slow": _fan_weak,
    "fan_backward": _fan_weak,
    "sensor_offset": lambda job, name, value: None,
    "excess_air": _of_appliance(_more_air),
    "input_high": _of_appliance(_input),
    "input_low": _of_appliance(_input),
    "wind_onto_terminal": _wind_onto_terminal,
    "condensate_standing": _of_section(_blocked),
    "header_small": _header_small,
}
