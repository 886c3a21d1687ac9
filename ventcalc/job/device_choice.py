"""Device choice: the fan and the damper to prefer for what is needed in every state, of those in the tables."""

import numpy as np

from ventcalc.door import door
from ventcalc.draft import damper_leakage, damper_sizing, dampers, fan_limits, fan_selection, held_pressure
from ventcalc.draft.damper_sizing import Duties
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.fan_selection import Candidate
from ventcalc.draft.held_pressure import HEADER, Control, Held, Ideal
from ventcalc.flow import friction
from ventcalc.job.device_duty import DAMPER_TOLERANCE, NothingHeld
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import FALLS_SHORT, NO_FAN_FITS
from ventcalc.job.vent_changes import with_free_end
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States

# Times as hot (in kelvin) as another fan that fits: one made for that costs more (common practice, no source).
DEARER = 1.3
# Dampers that are tried in the stack: opposed blades about so wide, in a square inside or around the duct, and a
# butterfly; all of a leakage class that the trade sells for control (EN 1751).
BLADE_WIDTH = Q_(100.0, "mm")
BLADES = (2, 6)  # for which square frames' losses are published
BLADE_THICKNESS = Q_(6.0, "mm")
LEAKAGE = damper_leakage.leakage_class("EN class 2")


@door(set_point="Pa")
def needed_in_stack(
    job: Job, plant: Plant, set_point: Quantity, states: States, section: str | None = None, start=None
) -> Held:
    """What an ideal device would have to add in every state, in a section or (None) where the header's vent ends."""
    section = section or held_pressure.before_termination(plant)
    return held_pressure.hold(plant, job.seasons, states, (Control(section, Ideal(), HEADER, set_point),), start)


def end_kind(plant: Plant) -> tuple[str, Plant]:
    """The kind of fan that suits the vent's end, and the plant without a cap where a roof fan takes its place."""
    top = plant.section(held_pressure.before_termination(plant))
    upright = top.rise.m_as("m") > 0.5 * top.length.m_as("m")
    return ("roof", with_free_end(plant)) if upright else ("in-line", plant)


def fan_for(job: Job, plant: Plant, kind: str, needed: Held, fan: Fan | None = None) -> dict:
    """The fan given, or the one to prefer for what is needed in every state.

    As ``fan``, ``unfit``, ``smallest`` and ``wet`` of a `Remedy`. Raises `NothingHeld` where gas never passes it.
    """
    row = needed.solution.row(needed.controls[0].section)
    area, pick = plant.section(needed.controls[0].section).area, np.flatnonzero(needed.acts[0] & (needed.flow[0] > 0.0))
    if not pick.size:
        raise NothingHeld
    flow, density, added = needed.flow[0, pick], needed.density[0, pick], needed.added[0, pick]
    cold = float(compile_network(plant, job.seasons).outdoor_density.max())
    static = added - friction.velocity_head.bare(density, flow / area)
    hot = needed.solution.downstream[row, pick]
    # What settles on the wall of the section before a fan settles on the fan.
    wet = bool(needed.solution.wet[row, pick].any())
    kind, among = (kind, None) if fan is None else (fan.kind, [fan])
    chosen = fan_selection.select.bare(flow, static, density, hot, cold, kind, among, area=area, wet=wet)
    if chosen.fitting:
        coolest = min(float(c.fan.highest_temperature.m_as("K")) for c in chosen.fitting)
        best = min(chosen.fitting, key=lambda c: _too_much(c, DEARER * coolest)).fan
        smallest = fan is None and best.free_flow <= min(c.fan.free_flow for c in chosen.fitting)
        return {"fan": _drive(best, cold), "unfit": "", "smallest": smallest, "wet": wet}
    unfit = NO_FAN_FITS if fan is None else FALLS_SHORT
    return {"fan": _drive(chosen.rejected[0].fan, cold), "unfit": unfit, "smallest": False, "wet": wet}


def _too_much(candidate: Candidate, dear: float) -> tuple[bool, bool, float]:
    """What fans that fit are sorted by: a tenth of speed to spare, not made for gas as hot as ``dear`` [K], then what
    they make too much at least speed."""
    hot = float(candidate.fan.highest_temperature.m_as("K")) > dear
    return candidate.margin < fan_selection.LEAST_MARGIN, hot, float(np.maximum(candidate.excess, 0.0).mean())


def _drive(fan: Fan, cold: float) -> Drive:
    """The speeds at which a fan may turn: from its least to what its motor carries in the coldest air [kg/m3]."""
    return Drive(fan, fan.least_speed, max(fan.least_speed, float(fan_limits.motor_speed_limit.bare(fan, cold))))


@door(diameter="m", plain={"actuator_step": ""}, above={"diameter": 0.0}, at_least={"actuator_step": 0.0})
def damper_for(diameter: Quantity, duties: Duties, actuator_step: float = damper_sizing.ACTUATOR_STEP) -> Damper:
    """The damper to prefer in a round vent; where none of those tried fits, the one that fails least."""
    around = int(np.clip(round(float((diameter / BLADE_WIDTH).m_as(""))), *BLADES))
    inside = int(np.clip(round(around / np.sqrt(2.0)), *BLADES))
    tried = (
        dampers.square_in_round(diameter, "around", "opposed", around, LEAKAGE, BLADE_THICKNESS),
        dampers.square_in_round(diameter, "inside", "opposed", inside, LEAKAGE, BLADE_THICKNESS),
        Damper("butterfly", diameter, diameter, LEAKAGE),
    )
    return damper_sizing.size(duties, tried, DAMPER_TOLERANCE, actuator_step=actuator_step)[0].damper
