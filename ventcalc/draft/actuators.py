"""Actuators: how fast a damper's motor, or a fan's drive and rotor, follows the controller's output."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf
from typing import Protocol

from ventcalc.units import Q_, Quantity, magnitude, seconds, ureg

Move = Callable[[float, float], float]


class Actuator(Protocol):
    """What moves the device: a damper's motor or a fan's drive and rotor."""

    def mover(self, step: float) -> Move:
        """(setting, wanted) -> the setting a ``step`` [s] later."""


@dataclass(frozen=True)
class Stroke:
    """A damper's motor: it runs at one speed, a full stroke in ``time``, until it stands where it should."""

    time: Quantity

    def __post_init__(self):
        seconds(self.time, "stroke: time")

    def mover(self, step: float) -> Move:
        """A step towards the wanted setting, at most the share of the stroke that fits in it."""
        time = float(self.time.m_as("s"))
        most = step / time if time > 0.0 else inf

        def move(setting: float, wanted: float) -> float:
            return setting + min(max(wanted - setting, -most), most)

        return move


@dataclass(frozen=True)
class Lag:
    """First-order: ``T ds/dt = wanted - s`` with the time ``constant`` T, a fan's speed in the small."""

    constant: Quantity

    def __post_init__(self):
        seconds(self.constant, "lag: time constant")

    def mover(self, step: float) -> Move:
        """Exact for an output that does not change within the step."""
        constant = float(self.constant.m_as("s"))
        left = exp(-step / constant) if constant > 0.0 else 0.0

        def move(setting: float, wanted: float) -> float:
            return wanted + left * (setting - wanted)

        return move


@dataclass(frozen=True)
class Rotor:
    """A fan's rotor on a drive: ``J dw/dt = torque of the motor - load (w / w_full)^2``.

    ``inertia`` J of wheel and motor, ``full_speed`` w_full, ``load`` the air's torque at full speed, ``torque`` the
    most and ``brake`` the most negative that the drive gives (0: the wheel coasts). The drive keeps the wanted speed
    as far as these let it. Raises ValueError unless inertia, full_speed, load and torque are positive and brake is
    not negative.
    """

    inertia: Quantity
    full_speed: Quantity
    load: Quantity
    torque: Quantity
    brake: Quantity = Q_(0.0, "N*m")

    def __post_init__(self):
        inertia, full, load, torque, brake = self.plain
        if not (min(inertia, full, load, torque) > 0.0 and brake >= 0.0):
            raise ValueError("rotor: inertia, full_speed, load and torque must be above 0, brake not negative")

    @property
    def plain(self) -> tuple[float, float, float, float, float]:
        """Inertia [kg m2], full speed [rad/s], load, torque and brake [N m]."""
        units = {"inertia": "kg*m**2", "full_speed": "rad/s", "load": "N*m", "torque": "N*m", "brake": "N*m"}
        return tuple(float(magnitude(getattr(self, n), ureg.Unit(u), f"rotor: {n}")) for n, u in units.items())

    def mover(self, step: float) -> Move:
        """As far towards the wanted speed as the torque brings it; the midpoint rule, good to the second order."""
        inertia, full, load, torque, brake = self.plain
        fast, slow, air = (step * t / (inertia * full) for t in (torque, -brake, load))

        def reached(speed: float, push: float) -> float:
            half = speed + 0.5 * (push - air * speed * speed)
            return speed + push - air * half * half

        def move(speed: float, wanted: float) -> float:
            if wanted > speed:
                return min(wanted, reached(speed, fast))
            return max(wanted, reached(speed, slow))

        return move
