"""Device remedies: a fan, a damper, both in turn, or a damper at every outlet; each at the set points that serve."""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.draft import common_window, held_pressure, outlet_control
from ventcalc.draft.common_window import CommonWindow
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import HEADER, Control, Held, Second
from ventcalc.job import job_building, vent_changes
from ventcalc.job.device_choice import LEAKAGE, damper_for, end_kind, fan_for, needed_in_stack
from ventcalc.job.device_duty import damper_duties, if_held
from ventcalc.job.governing_scan import GoverningScan
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.job.vent_changes import STILL, tried
from ventcalc.units import Q_, Quantity
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.states import States

SHORTENED = 0.5  # of the last upright section, where a fan shall let it be seen less
NEAR = 1.0  # Pa; what is needed at a set point so near to another is known well enough to choose devices by


@dataclass(frozen=True)
class Helping:
    """A fan beside a damper: kept so fast that it never resists, since throttling is the damper's work.

    A fan at its least speed in a strong draft would resist, and put the stack before it under pressure.
    """

    drive: Drive

    def limits(self, flow, density, area):
        """Least and most total pressure [Pa] that it adds; the least is not below nought where it can add."""
        least, most = self.drive.limits(flow, density, area)
        return np.maximum(least, np.minimum(most, 0.0)), most


@door(set_point="Pa")
def fan_in_stack(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    fan: Fan | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A fan where the header's vent ends, its speed set to hold the header: the one given, or the one to prefer.

    Where none in the table fits it is the one that comes nearest, and ``unfit`` says so. ``needed`` is what an ideal
    device there would add, where that is known.
    """
    kind, plant = end_kind(plant)
    needed = needed or needed_in_stack(job, plant, set_point, states)
    chosen = fan_for(job, plant, kind, needed, fan)
    control = replace(needed.controls[0], device=chosen["fan"])
    return Remedy("fan", plant, controls=(control,), set_point=set_point, start=needed.added, **chosen)


@door(set_point="Pa")
def damper_in_stack(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    damper: Damper | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A modulating damper at the base of the stack, set to hold the header: the one given, or the one to prefer.

    ``needed`` is what an ideal device at the vent's end would add, where that is known: little else is asked here.
    """
    base = plant.section(held_pressure.stack_base(plant))
    start = None if needed is None else needed.added
    needed = needed_in_stack(job, plant, set_point, states, base.name, start)
    damper = damper or damper_for(base.diameter, damper_duties(needed, base.name, -needed.added[0]), job.actuator_step)
    control, start = Control(base.name, damper, HEADER, set_point), np.minimum(needed.added, 0.0)
    return Remedy("damper", plant, controls=(control,), damper=damper, set_point=set_point, start=start)


@door(set_point="Pa")
def fan_and_damper(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    fan: Fan | None = None,
    damper: Damper | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A fan at the vent's end, and a damper at the base of the stack for what the fan at its least makes too much.

    One controller moves both in turn (`held_pressure.Second`). The fan is chosen to overcome the damper's own loss wide
    open as well; ``needed`` and what happens where none fits are as in `fan_in_stack`.
    """
    kind, plant = end_kind(plant)
    base = plant.section(held_pressure.stack_base(plant))
    needed = needed or needed_in_stack(job, plant, set_point, states)
    drive = fan_for(job, plant, kind, needed, fan)["fan"]
    area = plant.section(needed.controls[0].section).area
    idle, _ = Helping(drive).limits(needed.flow[0], needed.density[0], area)
    duties = damper_duties(needed, base.name, idle - needed.added[0])
    damper = damper or damper_for(base.diameter, duties, job.actuator_step)
    costs = np.zeros(len(states))
    costs[duties.states] = damper.loss(damper.most) * damper.head(duties.flow, duties.density)
    chosen = fan_for(job, plant, kind, replace(needed, added=needed.added + costs), fan)
    control = replace(needed.controls[0], device=Helping(chosen["fan"]), second=Second(base.name, damper))
    held = {"set_point": set_point, "damper": damper, "start": needed.added}
    return Remedy("fan and damper", plant, controls=(control,), **held, **chosen)


def _shorter(job: Job, window: CommonWindow, states: States, near: Held) -> list[Remedy]:
    """A fan on a stack that is shorter than drawn, so that it is seen less and makes less draft of its own; none where
    the stack cannot be cut, or the fan would hold nothing."""
    plant = tried(vent_changes.with_top, job.plant, SHORTENED)
    if plant is None:
        return []
    plant = job_building.in_the_wind(job.roof, job.plant, plant)
    low, high = serve = serving(window)
    serves = low <= job.set_point.m_as("Pa") <= high
    set_point = Q_((low + high) / 2.0, "Pa") if low <= high and not serves else job.set_point
    needed = needed_in_stack(job, end_kind(plant)[1], set_point, states, None, near.added)
    made = if_held(fan_in_stack, job, plant, set_point, states, needed=needed)
    return [replace(fan, kind="shorter stack with a fan", drawn=job.plant, serve=serve) for fan in made]


def fans_on_liner(few: GoverningScan, plant: Plant) -> list[Remedy]:
    """A fan on the ``plant`` with its flue lined: the liner keeps the masonry dry, and the fan makes it draw.

    At the job's set point, and at the middle of those that serve.
    """
    job, scan = few.job, few.natural(plant)
    needed = needed_in_stack(job, end_kind(plant)[1], job.set_point, scan.states)
    window = common_window.common_window(needed.scan(scan))
    serve, found = serving(window), []
    for set_point in _set_points(job, window, serve, both=False):
        moved = set_point is not job.set_point
        for each in if_held(fan_in_stack, job, plant, set_point, scan.states, needed=None if moved else needed):
            found.append(replace(each, kind="liner and a fan", drawn=job.plant, moved=moved, serve=serve))
    return found


@door(set_point="Pa")
def outlet_dampers(job: Job, scan: Scan, set_point: Quantity | None = None, fan: Fan | None = None) -> list[Remedy]:
    """A damper at every outlet whose burner forces its flow: on the vent's own draft, and with a fan.

    The fan holds the header where every damper can hold its outlet, but no higher than keeps flue gas from idle
    appliances: then at the job's set point, where that is low enough.
    """
    devices = outlet_control.round_dampers(job.plant, LEAKAGE)
    shut = outlet_control.with_shut_dampers(job.plant, devices)
    names = tuple(devices)
    alone = Remedy("damper at each outlet", shut, controls=outlet_control.controls(shut, devices), outlets=names)
    _, plant = end_kind(shut)
    # What leaks through idle appliances moves a little with the header: so it is held near the answer first.
    first = set_point or Q_(outlet_control.header_needed(scan, devices), "Pa")
    needed = needed_in_stack(job, plant, first, scan.states)
    header = set_point or Q_(outlet_control.header_needed(needed.scan(scan), devices), "Pa")
    if set_point is None and (ceiling := idle_ceiling(needed.scan(scan))) < header.m_as("Pa"):
        header = Q_(min(ceiling, float(job.set_point.m_as("Pa"))), "Pa")
    moved = float((first - header).m_as("Pa"))
    if moved:
        needed = needed_in_stack(job, plant, header, scan.states, start=needed.added + moved)
    drawn = fan_in_stack(job, shut, header, scan.states, fan, needed)
    own = outlet_control.controls(drawn.plant, devices)
    start = np.concatenate([drawn.start, np.zeros((len(own), len(scan.states)))])
    acting = {"controls": (*drawn.controls, *own), "outlets": names, "start": start}
    return [alone, replace(drawn, kind="damper at each outlet and a fan", **acting)]


def of_devices(few: GoverningScan) -> list[Remedy]:
    """Remedies with something that moves, on the vent as drawn: at the job's set point, and at the middle of those that
    serve with that device, where there are any. What would hold its pressure in no state is none."""
    job, scan, found = few.job, few.scan, []
    by_itself = end_of_header.header_pressure(scan)
    _, bare = end_kind(job.plant)
    near = Q_(common_window.common_window(scan).best, "Pa")
    first = needed_in_stack(job, bare, near, scan.states, start=np.nan_to_num(by_itself - near.m_as("Pa"))[None])
    window = common_window.common_window(first.scan(scan))
    known = {float(near.m_as("Pa")): first}

    def need(set_point: Quantity) -> Held:
        key = float(set_point.m_as("Pa"))
        closest = min(known, key=lambda other: abs(other - key))
        if abs(closest - key) > NEAR:
            known[key] = needed_in_stack(job, bare, set_point, scan.states, None, known[closest].added + closest - key)
            closest = key
        held = known[closest]
        return replace(held, controls=(replace(held.controls[0], set_point=set_point),))

    for make, reach in (
        (fan_in_stack, {"ceiling": np.where(np.isnan(by_itself), np.inf, by_itself)}),
        (damper_in_stack, {"floor": np.where(np.isnan(by_itself), -np.inf, by_itself)}),
        (fan_and_damper, {}),
    ):
        serve = serving(window, **reach)
        for set_point in _set_points(job, window, serve, make is fan_and_damper):
            made = if_held(make, job, job.plant, set_point, scan.states, needed=need(set_point))
            found += [replace(each, moved=set_point is not job.set_point, serve=serve) for each in made]
    found += _shorter(job, window, scan.states, first)
    if governs(job.plant):
        found += [each for both in if_held(outlet_dampers, job, scan) for each in both]
    return found


def serving(window: CommonWindow, **reach) -> tuple[float, float]:
    """Least and greatest set point [Pa] with which every outlet stays in its window, and no idle one above the room.

    ``reach``: how far the device can bring the header, as in `CommonWindow.within_reach`.
    """
    low, high = window.within_reach(**reach)
    return low, min(high, idle_ceiling(window.scan))


def idle_ceiling(scan: Scan) -> float:
    """The highest header pressure [Pa] with which no idle appliance that leaks stands above its room; inf where none
    leaks."""
    leaks = np.array([a.idle == "leaking" for a in scan.plant.appliances])[:, None]
    below = end_of_header.header_pressure(scan) - scan.solution.outlet_pressure
    idle = leaks & (scan.states.codes == 0) & scan.any_firing
    return float(np.where(idle, below, np.inf).min())


def _set_points(job: Job, window: CommonWindow, serve: tuple[float, float], both: bool) -> list[Quantity]:
    """The job's set point, and the middle of those that serve; where none does but both devices act, the one that
    leaves least."""
    if serve[0] <= serve[1]:
        middle = 0.5 * sum(serve)
    elif both:
        middle = window.best
    else:
        return [job.set_point]
    near = abs(middle - job.set_point.m_as("Pa")) <= STILL
    return [job.set_point] if near else [job.set_point, Q_(float(middle), "Pa")]


def governs(plant: Plant) -> bool:
    """Whether dampers at the outlets are a remedy of their own."""
    return len(plant.appliances) > 1 and any(a.kind == "forced" for a in plant.appliances)
