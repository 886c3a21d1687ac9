"""Reading verdicts: one reading on site against what was expected there, and against what its appliance allows.

A reading beyond the appliance's window stands before its band; where flue gas may enter the room that way it is a
danger to people.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.job.performance_test import OUTLET, OXYGEN, PRESSURE, TEMPERATURE, Asked, Expected
from ventcalc.job.site_record import Reading

WITHIN, OUTSIDE, BEYOND, MISSING, NOT_COMPARED, UNKNOWN = (
    "within",  # its band
    "outside",  # its band
    "beyond",  # the window of its appliance
    "missing",
    "not compared",  # its condition was not reached
    "unknown",  # what to expect: the vent was not solved
)
VERDICTS = (WITHIN, OUTSIDE, BEYOND, MISSING, NOT_COMPARED, UNKNOWN)


@dataclass(frozen=True)
class Judged:
    """One line: what was ``expected``, the ``reading`` (None where missing), and the verdict of it."""

    expected: Expected
    reading: Reading | None
    verdict: str

    @property
    def off(self) -> float:
        """Measured less expected."""
        return self.reading.value - self.expected.value

    @property
    def off_band(self) -> bool:
        """Whether it is off by more than its band."""
        return abs(self.off) > self.expected.band


def verdict(e: Expected, r: Reading | None, appliances: Mapping[str, Appliance], lost: set[str]) -> str:
    """One of `VERDICTS` of a reading; ``lost`` are the names of conditions that were not reached."""
    if r is None:
        return MISSING
    if beyond(e, r.value, appliances):
        return BEYOND
    if not np.isfinite(e.value + e.band):
        return UNKNOWN
    if e.asked.condition.name in lost and not tells_condition(e.asked):
        return NOT_COMPARED
    return WITHIN if abs(r.value - e.value) <= e.band else OUTSIDE


def tells_condition(asked: Asked) -> bool:
    """Whether a line is read at a firing appliance to see that its condition is reached."""
    return asked.place.kind == OUTLET and asked.quantity in (TEMPERATURE, OXYGEN)


def asked_level(asked: Asked, appliances: Mapping[str, Appliance]) -> str:
    """What the appliance at whose outlet a line is read should do then."""
    return asked.condition.levels[list(appliances).index(asked.place.appliance)]


def beyond(e: Expected, value: float, appliances: Mapping[str, Appliance]) -> float:
    """How far [Pa] an outlet's pressure lies beyond what its appliance allows, above 0 or below; 0 within."""
    if not (e.asked.place.kind == OUTLET and e.asked.quantity == PRESSURE):
        return 0.0
    low, high = allowed(e.asked, appliances)
    return max(value - high, 0.0) or min(value - low, 0.0)


def allowed(asked: Asked, appliances: Mapping[str, Appliance]) -> tuple[float, float]:
    """Lowest and highest pressure [Pa] that may stand at an outlet.

    A firing appliance's window, but not above the room's pressure where it has a hood or a regulator or is of a
    category that is made for draft. Idle and not shut tight it must be under draft while another fires.
    """
    a, level = appliances[asked.place.appliance], asked_level(asked, appliances)
    open_to_room = a.kind != "forced" or not CATEGORIES[a.category].positive
    if level != "off":
        low, high = (float(w.m_as("Pa")) for w in a.window)
        return low, min(high, 0.0) if open_to_room else high
    fires = any(level != "off" for level in asked.condition.levels)
    return -np.inf, 0.0 if fires and (a.idle == "leaking" or a.kind != "forced") else np.inf


def to_people(line: Judged, appliances: Mapping[str, Appliance]) -> bool:
    """Whether flue gas may enter the room at an outlet beyond what is allowed: above it, and maybe above the room's."""
    value, e = line.reading.value, line.expected
    return beyond(e, value, appliances) > 0.0 and value + e.error > 0.0


def may_be_beyond(line: Judged, appliances: Mapping[str, Appliance]) -> bool:
    """Whether a reading inside its window is so by less than its instrument can tell."""
    ends = (line.reading.value + sign * line.expected.error for sign in (1.0, -1.0))
    return any(beyond(line.expected, end, appliances) for end in ends)
