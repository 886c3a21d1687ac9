"""Limit switches: pressure limits with their delays, and when one of them trips.

Draft control is no safety control: limits stand apart from the loop, with a way of their own to the burners.
"""

from dataclasses import dataclass
from math import inf

import numpy as np

from ventcalc.units import Q_, Quantity, magnitude, seconds, ureg


@dataclass(frozen=True)
class Limits:
    """Limit switches at one place: one trips when the pressure has been beyond it for its delay without a break.

    ``delay`` is that of the high limit, ``low_delay`` that of the low one (None: the same).
    """

    low: Quantity = Q_(-inf, "Pa")
    high: Quantity = Q_(inf, "Pa")
    delay: Quantity = Q_(0.0, "s")
    low_delay: Quantity | None = None

    def __post_init__(self):
        low, high = self.plain
        _ = self.delays
        if not low < high:
            raise ValueError(f"limits: {self.low:~P} to {self.high:~P} must run from lower to higher")

    @property
    def plain(self) -> tuple[float, float]:
        """Low and high [Pa]."""
        low, high = (
            float(magnitude(v, ureg.Unit("Pa"), f"limits: {n}")) for n, v in (("low", self.low), ("high", self.high))
        )
        return low, high

    @property
    def delays(self) -> tuple[float, float]:
        """Delay of the low and of the high limit [s]."""
        high = seconds(self.delay, "limits: delay")
        return high if self.low_delay is None else seconds(self.low_delay, "limits: low_delay"), high

    def acts(self, lasted: list[np.ndarray]) -> np.ndarray:
        """Where the low or the high limit has been passed for longer than its delay; ``lasted`` [s] of each."""
        return np.any([time > delay for time, delay in zip(lasted, self.delays, strict=True)], axis=0)


@dataclass(frozen=True)
class Trip:
    """A limit that tripped: ``where``, ``at`` [s], the pressure there [Pa], what it ``stopped``.

    ``nuisance``: with the loop at rest in that very instant, the pressure there would have been inside the limits.
    """

    where: str
    at: float
    pressure: float
    stopped: tuple[str, ...]
    nuisance: bool


def lasting(true: np.ndarray, step: float, before: float) -> np.ndarray:
    """How long [s] something has been true without a break at each step; ``before`` [s] it was so when they began.

    ``true``: steps, or (steps, runs).
    """
    if not true.any():  # most limits are never passed
        return np.zeros(true.shape)
    place = np.arange(len(true)).reshape(-1, *[1] * (true.ndim - 1))
    broken = np.maximum.accumulate(np.where(true, -1, place), axis=0)
    return np.where(true, step * (place - broken) + np.where(broken < 0, before, 0.0), 0.0)
