"""Sensor location: the places in a common vent where a sensor may stand, in the order of what they cost.

What a sensor reads at one of them, and its error, is `sensor_reading`; what comes of it for the vent, `sensor_held`.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from ventcalc.door import door
from ventcalc.draft.error_spread import Errors, errors
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.sensor_error import seen
from ventcalc.draft.sensor_reading import FACING, PLAIN, Leg, Tap, cap_branch
from ventcalc.units import Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.words import Remark

# How much of the pipe's diameter the narrow inlet of a fan or other device leaves (common practice, no source).
USUAL_NARROWING = 0.75


def farthest(plant: Plant) -> str:
    """The appliance with the longest way to the termination."""
    return max(plant.appliances, key=lambda a: sum(s.length.m_as("m") for s in plant.path(a.name))).name


def taps(plant: Plant) -> tuple[Tap, ...]:
    """The places of a common vent where a sensor is found, end of the header first; for a plant of one run those of it.

    The cap ahead of the header, the wall of its first section, the farthest outlet's connector, the wall of its last
    section, a tube there that faces the gas, the wall behind a reducer there (`USUAL_NARROWING`, as of a fan's
    inlet), the wall close behind the elbow into the stack, and the stack halfway up. Walls and the tube are tapped
    halfway along their sections.
    """
    first = plant.section(end_of_header.far_end(plant))
    shared = [s for s in plant.path(farthest(plant)) if len(plant.serves(s.name)) == len(plant.appliances)]
    last, top = shared[0], shared[-1]
    found = [Tap("end cap", first.name, capped=True)] if cap_branch(plant, first.name) else []
    found += [
        Tap("wall of the header, at its end", first.name, 0.5),
        Tap("connector at the far outlet", plant.feeds[_index(plant, farthest(plant))]),
        Tap("wall of the header at the stack", last.name, 0.5),
        Tap("tube facing the gas at the stack", last.name, 0.5, FACING),
        Tap("behind a reducer", last.name, 1.0, narrowed=USUAL_NARROWING * last.diameter),
    ]
    if top.name != last.name:
        found.append(Tap("behind the elbow into the stack", top.name))
    found.append(Tap("halfway up the stack", top.name, 0.5))
    return tuple(found)


def _index(plant: Plant, appliance: str) -> int:
    return [a.name for a in plant.appliances].index(appliance)


def rank(
    scan: Scan, places: Iterable[Tap] | None = None, legs: Sequence[Leg] = (PLAIN,), target: str = HEADER
) -> tuple[Errors, ...]:
    """Every place with every leg, the least spread of error first. ``places`` None: those of `taps`."""
    found = [errors(scan, tap, leg, target) for tap in (places or taps(scan.plant)) for leg in legs]
    return tuple(sorted(found, key=lambda e: (e.spread, abs(e.shift))))


@door(plain={"within": "Pa"}, at_least={"within": 0.0})
def reason(found: Errors, within: float) -> Remark:
    """What a place costs, why, and whether moving the set point cures it ``within`` so many Pa."""
    if found.cured(within):
        code = "move_set_point" if abs(found.shift) > found.left else "set_point_stays"
    else:
        code = f"by_{found.cause}"
    figures = {name: Q_(getattr(found, name), "Pa") for name in ("spread", "shift", "left")}
    return Remark("draft", "sensor_location", code, figures)


def shares_seen(pressure: np.ndarray, low: float, high: float) -> float:
    """Share of the states that count in which a transducer of that range [Pa] sees a pressure. Plain arrays."""
    counted = pressure[~np.isnan(pressure)]
    return float(np.mean(seen(counted, low, high) == counted))
