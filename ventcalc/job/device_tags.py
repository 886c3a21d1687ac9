"""Device tags: what a remedy puts into a vent, named as on drawings and schedules: F-1, MD-1, BD-1, PT-1.

The letters are common practice, no source: F fan, MD modulating damper of the stack, BD balancing damper of an outlet,
PT pressure transmitter. A tag is given in one place, so that drawing, schedule, points list and sequence agree.
"""

from dataclasses import dataclass

from ventcalc.draft import held_pressure
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job.remedy import Remedy
from ventcalc.vent import end_of_header

FAN, DAMPER, OUTLET_DAMPER, SENSOR = "F", "MD", "BD", "PT"


@dataclass(frozen=True)
class Tagged:
    """One device: its ``tag``, the ``letters`` of its kind, the ``section`` at whose downstream end it stands (a sensor
    of the header at its upstream end), and the ``appliance`` whose own it is, "" where it serves all."""

    tag: str
    letters: str
    section: str
    appliance: str = ""


def tagged(remedy: Remedy) -> tuple[Tagged, ...]:
    """Everything that a remedy puts into the vent: fan, stack damper, outlet dampers, sensors; in this order."""
    found = []
    if remedy.fan:
        found.append((FAN, remedy.top, ""))
    if remedy.damper:
        found.append((DAMPER, held_pressure.stack_base(remedy.plant), ""))
    moved = [c for c in remedy.controls if c.holds]  # a fan that turns at one speed needs no sensor
    own = [c for c in moved if c.sensor != HEADER]
    found += [(OUTLET_DAMPER, c.section, c.sensor) for c in own]
    if len(own) < len(moved):
        found.append((SENSOR, end_of_header.far_end(remedy.plant), ""))
    found += [(SENSOR, c.section, c.sensor) for c in own]
    counts: dict[str, int] = {}
    tags = []
    for letters, section, appliance in found:
        counts[letters] = counts.get(letters, 0) + 1
        tags.append(Tagged(f"{letters}-{counts[letters]}", letters, section, appliance))
    return tuple(tags)
