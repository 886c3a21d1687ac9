"""Fan drive: a fan in a vent whose speed may be set, and the total pressure that it adds to its section."""

from dataclasses import dataclass

import numpy as np

from ventcalc.draft.fan_curve import Fan, static_pressure
from ventcalc.flow import friction


def own_head(fan: Fan, flow, density, area):
    """Velocity head [Pa] by which the total pressure that a fan adds to a section exceeds its static pressure.

    Of a roof fan that of its section, which leaves with the gas; of an in-line fan that of its own outlet. ``flow``
    [m3/s], ``density`` [kg/m3], ``area`` of the section [m2]; numbers or arrays. Flow that goes backwards has none.
    """
    return friction.velocity_head.bare(density, np.maximum(flow, 0.0) / own_area(fan, area))


def own_area(fan: Fan, area):
    """Area [m2] of that head: of a roof fan that of its section, of an in-line fan that of its outlets."""
    return area if fan.kind == "roof" else fan.abreast * fan.area


@dataclass(frozen=True)
class Drive:
    """A fan in a vent whose speed may be set between two ratios to the rated one; equal ones are a fixed setting.

    Raises ValueError where they are not in order or the fan may not turn so fast. A least speed of 0 lets it stand
    still.
    """

    fan: Fan
    least_speed: float
    most_speed: float

    def __post_init__(self):
        if not 0.0 <= self.least_speed <= self.most_speed <= self.fan.most_speed * (1.0 + 1e-12):
            raise ValueError(
                f"speeds {self.least_speed:.3g} to {self.most_speed:.3g} of {self.fan.name}: "
                f"need 0 <= least <= most <= {self.fan.most_speed:.3g}"
            )

    def limits(self, flow, density, area):
        """Least and most total pressure [Pa] it can add.

        At ``flow`` [m3/s] of gas of ``density`` [kg/m3], in a section of ``area`` [m2]; numbers or arrays.
        """
        head = own_head(self.fan, flow, density, area)
        speeds = (self.least_speed, self.most_speed)
        return tuple(static_pressure.bare(self.fan, flow, speed, density) + head for speed in speeds)
