"""Error spread: a sensor's error over all states, how far it swings, and whether an offset cures it.

An error that is the same in all firing states costs nothing: move the set point by it. What cannot be cured so
is the **spread** of the error over the states, since it moves the pressure that matters as if nobody held it.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.sensor_reading import PLAIN, Leg, Reading, Tap, read
from ventcalc.vent import worst_state
from ventcalc.vent.firing_states import Scan

PARTS = ("place", "velocity", "leg")


@dataclass(frozen=True)
class Errors:
    """A sensor's error over all states that count [Pa], the hole's doubt included, and the states at its ends.

    ``cause`` is the part of the error (one of `PARTS`) that changes most from state to state.
    """

    tap: Tap
    leg: Leg
    target: str
    low: float
    high: float
    mean: float
    low_state: int
    high_state: int
    cause: str

    @property
    def spread(self) -> float:
        """Highest less lowest error [Pa]: what no offset takes away."""
        return self.high - self.low

    @property
    def shift(self) -> float:
        """How far the set point must move so that what matters lies about it evenly [Pa]."""
        return 0.5 * (self.low + self.high)

    @property
    def left(self) -> float:
        """How far what matters still lies off, either way, when the set point has been moved so [Pa]."""
        return 0.5 * self.spread

    def cured(self, within: float) -> bool:
        """Whether moving the set point keeps what matters ``within`` so many Pa of where it should be."""
        return self.left <= within


def errors(scan: Scan, tap: Tap, leg: Leg = PLAIN, target: str = HEADER) -> Errors:
    """A sensor's errors over a whole scan; arguments and what is raised as in `read`.

    States count in which the target counts; where there are none, ValueError.
    """
    return over_states(read(scan, tap, leg, target), tap, leg, target)


def over_states(found: Reading, tap: Tap, leg: Leg = PLAIN, target: str = HEADER) -> Errors:
    """The errors of a reading that is at hand; see `errors`."""
    counted = np.flatnonzero(~np.isnan(found.wanted))
    if counted.size == 0:
        raise ValueError(f"{target} runs in none of the {found.wanted.size} states")
    error, doubt = found.error[counted], found.doubt[counted]
    same = worst_state.SAME_PRESSURE
    low, high = (worst_state.worst(end, same) for end in (doubt - error, error + doubt))
    swings = {part: float(np.ptp(getattr(found, part)[counted])) for part in PARTS}
    swings["velocity"] += 2.0 * float(doubt.max())
    return Errors(
        tap=tap,
        leg=leg,
        target=target,
        low=float(error[low] - doubt[low]),
        high=float(error[high] + doubt[high]),
        mean=float(error.mean()),
        low_state=int(counted[low]),
        high_state=int(counted[high]),
        cause=max(PARTS, key=swings.get),
    )
