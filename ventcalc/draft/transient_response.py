"""Transient response: what the vent answers to a device in time, with filling, warming walls and inertia.

What the burners do does not depend on the loop until something trips. So the vent is followed once through all of the
schedule (`transient`), at a row of settings of the device side by side, each held all the time. Where every flow is the
burners' own this is exact: a pascal more from the device is a pascal less before it. Where the vent draws room air,
what a setting has drawn in over the last seconds is that of the setting held, not of the way the loop came: an
approximation. So is that such a vent takes up a new setting without having to be accelerated.
"""

import numpy as np

from ventcalc.door import door
from ventcalc.draft.final_element import FinalElement
from ventcalc.draft.firing_schedule import AT_ONCE, DIGITS, SUDDEN, FiringPath, Schedule, firing_path
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.steady_response import respond_at_once
from ventcalc.draft.vent_response import SETTINGS, Response
from ventcalc.vent import course, moving_vent, time_step, transient
from ventcalc.vent.end_of_header import far_end
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.states import States

HELD_SETTINGS = np.linspace(0.0, 1.0, 16)  # those at which a vent that draws room air is followed in time
METHOD = time_step.Method(cell=1.0, films=4)  # within 1.5 Pa of much finer cells and steps
KNOT = 0.1  # s between the times at which a transient is read
FILL = 20.0  # s for which the device runs before the schedule begins, so that what it draws has filled the vent


@door(plain={"since": "s"})
def respond(
    plant: Plant,
    seasons: tuple[Season, ...],
    schedule: Schedule,
    section: str,
    device: FinalElement,
    where: str = HEADER,
    since: float = 0.0,
    at_once: bool = False,
) -> Response:
    """Follow the vent through a schedule, and find what it answers to every setting of a device.

    ``device`` stands at the downstream end of ``section``; ``where`` is the sensor's place; ``since`` [s] leaves out
    what came before. ``at_once``: gas answers at once (`steady_response`). Raises ValueError for a section or place
    that the plant does not have.
    """
    return respond_network(compile_network(plant, tuple(seasons)), schedule, section, device, where, since, at_once)


@door(plain={"since": "s"})
def respond_network(
    network: Network,
    schedule: Schedule,
    section: str,
    device: FinalElement,
    where: str,
    since: float = 0.0,
    at_once: bool = False,
) -> Response:
    """As `respond`, on a plant that is compiled already."""
    plant = network.plant
    names = [s.name for s in plant.order]
    places = [HEADER, *(a.name for a in plant.appliances)]
    if section not in names or where not in places:
        raise ValueError(
            f"section {section!r} of {', '.join(names)}, or sensor {where!r} of {', '.join(places)}: unknown"
        )
    path, row = firing_path(plant, schedule, AT_ONCE if at_once else SUDDEN), names.index(section)
    answered = respond_at_once if at_once else _respond_in_time
    return answered(network, path, row, device, where, since)


def _respond_in_time(
    network: Network, path: FiringPath, row: int, device: FinalElement, where: str, since: float
) -> Response:
    """The transient of a schedule, read every `KNOT`.

    Where nothing is drawn from the room flows do not depend on the device: one run does. Else there is one for each of
    `HELD_SETTINGS`, after `FILL` with the device on and nothing else changed.
    """
    free = any(np.isfinite(r).any() for r in network.resistance)
    setting, fill = (HELD_SETTINGS, FILL) if free else (SETTINGS, 0.0)
    runs, area = setting.size if free else 1, network.pipes[row].area
    knots = path.knots(0.0)
    states = path.states(knots)
    knots, pick = np.concatenate([[0.0], knots + fill]), np.concatenate([[0], np.arange(knots.size)])
    if not fill:
        knots, pick = knots[1:], pick[1:]

    def spread(values):
        return np.repeat(values[pick][:, None], runs, axis=1)

    season = np.full(runs, path.schedule.season)
    cold = np.full(runs, float(path.schedule.cold))
    codes = np.array([spread(c) for c in states.codes])
    start = States(codes[:, 0], season, cold, spread(states.windy)[0])
    whole = course.Course(knots, codes, season, spread(states.windy), start)
    sections = len(network.pipes)

    def held(now: moving_vent.Instant):
        """What the device adds at its settings, and how much less the more flows."""
        added, slope = np.zeros((sections, runs)), np.zeros((sections, runs))
        flow, density = now.flow[row], now.density[row]
        near = flow + 1e-3 * np.maximum(np.abs(flow), 0.01)
        added[row], more = device.added(np.array([flow, near]), density, area, setting)
        slope[row] = np.minimum((more - added[row]) / (near - flow), 0.0)
        return added, slope

    found = transient.run_network(network, whole, held if free else None, KNOT, METHOD)
    keep = found.time - fill >= max(since - KNOT, -1e-9)
    time = np.round(found.time[keep] - fill, DIGITS)
    places = [a.name for a in network.plant.appliances]
    sensor = found.header_pressure if where == HEADER else found.outlet_pressure[places.index(where)]
    sensor, outlets, added = sensor[keep], found.outlet_pressure[:, keep], found.added[row][keep]
    if not free:
        flow, density = found.flow_out[row][keep], found.density_out[row][keep]
        added = device.added(flow, density, area, setting)
        before = [network.plant.order[row].name in {s.name for s in network.plant.path(a)} for a in places]
        outlets = outlets - np.array(before)[:, None, None] * added
        seen = _before_device(network, row) if where == HEADER else before[places.index(where)]
        sensor = sensor - seen * added
    return Response(time, setting, sensor, outlets, added, path.states(time).codes)


def _before_device(network: Network, row: int) -> bool:
    """Whether the end of the header lies before the downstream end of a section."""
    plant, name = network.plant, far_end(network.plant)
    while name in {s.name for s in plant.order}:
        if name == plant.order[row].name:
            return True
        name = plant.section(name).into
    return False
