"""Controller: the sampled PI(D) law of the loop, its gains, anti-windup, and taking over without a jump.

The controller's output is the setting of its device, 0 to 1: the speed of a fan or the opening of a damper. More of
either lowers the pressure; hence the error is pressure less set point.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from ventcalc.door import door
from ventcalc.units import Q_, Quantity, magnitude, seconds, ureg

# Ratio of the derivative's time to that of its filter; 2 to 20 are usual (Åström and Hägglund; from memory).
DERIVATIVE_FILTER = 8.0


@dataclass(frozen=True)
class Gains:
    """The controller: ``kp`` share of the setting per pressure (1/Pa), ``ti`` integral and ``td`` derivative time.

    ``u = kp (e + 1/ti int e dt + td dy/dt)``: the derivative acts on the reading alone, through a filter of time ``td
    / DERIVATIVE_FILTER``. ``tracking`` is the time in which back-calculation brings the integral back from beyond the
    output's limits; left out it is sqrt(ti td), or ti where td is 0 (Åström and Hägglund; from memory). An infinite
    ``ti`` leaves the integral out. Raises ValueError for values that are negative, and a ti or tracking of zero.
    """

    kp: Quantity
    ti: Quantity
    td: Quantity = Q_(0.0, "s")
    tracking: Quantity | None = None

    def __post_init__(self):
        if not self.plain[0] >= 0.0:
            raise ValueError(f"gains: kp = {self.kp:~P} must not be negative; more output lowers the pressure")

    @cached_property
    def plain(self) -> tuple[float, float, float, float]:
        """kp [1/Pa], ti, td and tracking [s]."""
        kp = float(magnitude(self.kp, ureg.Unit("1/Pa"), "gains: kp"))
        ti, td = seconds(self.ti, "gains: ti", 1e-3), seconds(self.td, "gains: td")
        usual = (ti * td) ** 0.5 if td > 0.0 else ti
        return kp, ti, td, usual if self.tracking is None else seconds(self.tracking, "gains: tracking", 1e-3)


class Memory(NamedTuple):
    """What a sampled controller remembers: its ``integral`` and ``derivative`` part and the ``last`` reading [Pa]."""

    integral: float
    derivative: float
    last: float


Control = Callable[[float, Memory], tuple[float, Memory]]


@door(plain={"sample": "s", "set_point": "Pa", "least": "", "most": ""}, above={"sample": 0.0})
def controller(gains: Gains, sample: float, set_point: float, least: float = 0.0, most: float = 1.0) -> Control:
    """The sampled controller: (reading [Pa], memory) -> (output, memory), called every ``sample`` [s].

    With ``e = reading - set_point`` [Pa], the output is ``kp e + integral + derivative`` between ``least`` and
    ``most``. The integral then gains ``kp sample/ti e``, and by back-calculation ``sample/tracking`` times what the
    limits cut off.
    """
    kp, ti, td, tracking = gains.plain
    gather, track = kp * sample / ti, min(sample / tracking, 1.0)
    keep = td / (td + DERIVATIVE_FILTER * sample)
    slope = kp * DERIVATIVE_FILTER * keep

    def control(reading: float, memory: Memory) -> tuple[float, Memory]:
        error = reading - set_point
        derivative = keep * memory.derivative + slope * (reading - memory.last)
        wanted = kp * error + memory.integral + derivative
        output = min(max(wanted, least), most)
        integral = memory.integral + gather * error + track * (output - wanted)
        return output, Memory(integral, derivative, reading)

    return control


@door(plain={"reading": "Pa", "set_point": "Pa", "output": ""})
def bumpless(gains: Gains, reading: float, set_point: float, output: float) -> Memory:
    """The memory with which a controller takes over at an ``output`` and a ``reading`` [Pa] without a jump."""
    return Memory(output - gains.plain[0] * (reading - set_point), 0.0, reading)
