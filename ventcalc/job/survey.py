"""Survey: what was read on a vent that stands: in which condition, where, what, and how far the instrument may be off.

A performance test asks whether a new vent does what it should (`performance_test`); a survey asks why one that stands
does not. Its readings are few, come from any condition that could be brought about, and each in the weather of its
time. `survey_causes` says what may have changed the vent, `calibration` which change explains the readings.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import DAMPER, FAN, FOOT, GAUGE, OUTLET, QUANTITIES, SENSOR, Weather
from ventcalc.vent.layout import Plant

TAP, ROOM = "tap", "room"
KINDS_OF_PLACE = (OUTLET, TAP, FOOT, GAUGE, SENSOR, DAMPER, FAN, ROOM)


@dataclass(frozen=True)
class Condition:
    """Something brought about on site: the ``levels`` of all appliances by name, in the plant's order, "off" for idle;
    whether the stack was still ``cold``; and the ``weather`` of that time."""

    levels: tuple[str, ...]
    cold: bool
    weather: Weather

    def __hash__(self):
        return hash((self.levels, self.cold))  # to hash a weather's quantities takes longer than to compare them

    def codes(self, plant: Plant) -> list[int]:
        """The index of each appliance's state. Raises ValueError naming a level that an appliance does not have."""
        if len(self.levels) != len(plant.appliances):
            raise ValueError(
                f"levels {self.levels}: the plant has {len(plant.appliances)} appliances, give one of each"
            )
        for a, level in zip(plant.appliances, self.levels, strict=True):
            if level not in a.states:
                raise ValueError(f"{a.name}: level {level!r}; choose {', '.join(a.states)}")
        return [a.states.index(level) for a, level in zip(plant.appliances, self.levels, strict=True)]


@dataclass(frozen=True)
class Place:
    """Where something is read: its ``kind``, and what belongs to it.

    "outlet" of an ``appliance``; "tap" in a ``section``, at a ``share`` of its length from its upstream end; "foot" of
    the stack; "gauge", the end of the header by a gauge of one's own; "sensor", the same as the control shows it;
    "damper" and "fan" in the stack; "room" of an ``appliance``, or "" for the boiler room, against outdoors at the
    height of its opening. Raises ValueError for another kind, or a share outside 0 to 1.
    """

    kind: str
    appliance: str = ""
    section: str = ""
    share: float = 0.0

    def __post_init__(self):
        if self.kind not in KINDS_OF_PLACE:
            raise ValueError(f"place {self.kind!r}; choose {', '.join(KINDS_OF_PLACE)}")
        if not 0.0 <= self.share <= 1.0:
            raise ValueError(f"share {self.share:g} of a section's length must be 0 to 1")


@dataclass(frozen=True)
class Reading:
    """One reading: ``value`` and ``error`` of the instrument as one standard deviation, both in the SI unit of its
    ``quantity`` (`performance_test.UNITS`); pressures against the room there, but that of a room against outdoors.

    ``line`` is where it stands in its file. Raises ValueError for a quantity that is none, a value that is no number,
    or an error that is not above nought.
    """

    condition: Condition
    place: Place
    quantity: str
    value: float
    error: float
    line: int = 0

    def __post_init__(self):
        if self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r}; choose {', '.join(QUANTITIES)}")
        if not np.isfinite(self.value):
            raise ValueError(f"{self.quantity}: value {self.value} must be a number")
        if not (np.isfinite(self.error) and self.error > 0.0):
            raise ValueError(f"{self.quantity}: error {self.error} of the instrument must be above 0")


@dataclass(frozen=True)
class Survey:
    """The ``readings`` taken on the vent of a ``job``."""

    job: Job
    readings: tuple[Reading, ...]

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition once, in the order of the readings."""
        return tuple(dict.fromkeys(r.condition for r in self.readings))

    @property
    def values(self) -> np.ndarray:
        """What was read [SI]."""
        return np.array([r.value for r in self.readings])

    @property
    def errors(self) -> np.ndarray:
        """One standard deviation of every instrument [SI]."""
        return np.array([r.error for r in self.readings])
