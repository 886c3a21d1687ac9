"""Final control element: the fan or damper that a loop moves, and the pressure that it adds at a setting."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan, static_pressure
from ventcalc.draft.fan_drive import own_head


class FinalElement(Protocol):
    """A fan or damper at the downstream end of its section, whose setting a controller moves.

    What it can do at most, whatever its setting, is all that counts at rest: `held_pressure.Device`.
    """

    def added(self, flow: np.ndarray, density: np.ndarray, area: float, setting: np.ndarray) -> np.ndarray:
        """Total pressure [Pa] that it adds at a flow [m3/s] of gas of a density [kg/m3] in a section of an area [m2].

        ``setting`` 0 to 1 is the share of the full speed of a fan, or of the full opening of a damper.
        """


@dataclass(frozen=True)
class Linear:
    """A device that adds ``least`` [Pa] at setting 0 and ``most`` at 1, evenly between, whatever flows."""

    least: float
    most: float

    def added(self, flow, density, area, setting):
        """A straight line in the setting; flow, density and area do not matter to it."""
        return self.least + (self.most - self.least) * np.broadcast_arrays(setting, flow)[0]


@dataclass(frozen=True)
class FanSpeed:
    """A fan whose speed is set, as a share of the most it may turn."""

    fan: Fan

    def added(self, flow, density, area, setting):
        """Its static pressure at that speed and the velocity head that leaves with the gas (`fan_drive.own_head`)."""
        speed = np.asarray(setting) * self.fan.most_speed
        return static_pressure.bare(self.fan, flow, speed, density) + own_head(self.fan, flow, density, area)


@dataclass(frozen=True)
class DamperPosition:
    """A damper whose position is set, as far as its stops let it."""

    damper: Damper

    def added(self, flow, density, area, setting):
        """Less than nought: the loss at that position on the velocity head in its face, against the flow."""
        position = np.clip(setting, self.damper.least, self.damper.most)
        return -np.sign(flow) * self.damper.loss(position) * self.damper.head(flow, density)
