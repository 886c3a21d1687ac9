"""Pressure sensor: a transducer's range, filter and sample, as the control loop sees the pressure through them."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf

from ventcalc.draft.held_pressure import HEADER
from ventcalc.units import Q_, Quantity, magnitude, seconds, ureg


@dataclass(frozen=True)
class Sensor:
    """A pressure sensor and its place.

    It reads from ``low`` to ``high`` and no further: beyond, it stands at the end of its range. The reading then passes
    a first-order ``filter`` (time constant) and is taken every ``sample``. ``where`` is "header", the header's far
    end, or the name of an appliance: its outlet. Raises ValueError for a range that does not rise, a negative
    filter, a sample that is not positive.
    """

    low: Quantity
    high: Quantity
    filter: Quantity = Q_(0.5, "s")
    sample: Quantity = Q_(0.1, "s")
    where: str = HEADER

    def __post_init__(self):
        low, high = self.range
        if not low < high:
            raise ValueError(f"sensor: range {self.low:~P} to {self.high:~P} must run from lower to higher")
        seconds(self.filter, "sensor: filter")
        seconds(self.sample, "sensor: sample", 1e-3)

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest reading, Pa."""
        return float(magnitude(self.low, ureg.Unit("Pa"), "sensor: low")), float(
            magnitude(self.high, ureg.Unit("Pa"), "sensor: high")
        )

    def filtered(self, step: float) -> Callable[[float, float, float], float]:
        """The filter over one ``step`` [s]: (reading, pressure before, pressure after) -> reading.

        ``T dy/dt = clip(p) - y``, exact for a pressure that goes in a straight line from one to the other.
        """
        low, high = self.range
        constant = float(self.filter.m_as("s"))
        ratio = step / constant if constant > 0.0 else inf
        left = exp(-ratio)
        mean = (1.0 - left) / ratio

        def follow(reading: float, before: float, after: float) -> float:
            before, after = min(max(before, low), high), min(max(after, low), high)
            return left * reading + (mean - left) * before + (1.0 - mean) * after

        return follow
