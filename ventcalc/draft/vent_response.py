"""Vent response: a table of what the vent answers to every setting of a device, over the time of a schedule.

How it is found: `transient_response` in time, `steady_response` where gas answers at once.
"""

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

SETTINGS = np.linspace(0.0, 1.0, 301)  # of the device, between which a response is interpolated


@dataclass(frozen=True)
class Response:
    """What the vent answers to a device, plain SI.

    ``time`` [s] (knots); ``setting`` (settings) of the device; ``pressure`` [Pa] at the sensor (knots, settings);
    ``outlets`` [Pa] of every appliance (appliances, knots, settings); ``added`` [Pa] by the device; ``codes``
    (appliances, knots) what the appliances do; ``unsolved`` number of states that did not converge.
    """

    time: np.ndarray
    setting: np.ndarray
    pressure: np.ndarray
    outlets: np.ndarray
    added: np.ndarray
    codes: np.ndarray
    unsolved: int = 0

    @classmethod
    def given(cls, time, disturbance, least: float, most: float) -> "Response":
        """That of a vent whose pressure [Pa] is a given ``disturbance`` in time less what a `Linear` device adds."""
        time, disturbance = np.asarray(time, float), np.asarray(disturbance, float)
        ends = np.array([0.0, 1.0])
        added = np.broadcast_to(least + (most - least) * ends, (time.size, 2))
        nothing = np.zeros((0, time.size))
        return cls(time, ends, disturbance[:, None] - added, np.zeros((0, time.size, 2)), added, nothing)

    def at(self, time: float) -> tuple[np.ndarray, np.ndarray]:
        """Pressure at the sensor and at the outlets (settings) in one instant."""
        i = min(max(bisect_right(self.time.tolist(), time) - 1, 0), self.time.size - 2)
        w = (time - self.time[i]) / (self.time[i + 1] - self.time[i])
        own = (1.0 - w) * self.pressure[i] + w * self.pressure[i + 1]
        return own, (1.0 - w) * self.outlets[:, i] + w * self.outlets[:, i + 1]

    def rest(self, time: float, set_point: float, least: float = 0.0, most: float = 1.0) -> float:
        """The setting at which the sensor stands at ``set_point`` [Pa] in one instant, or the limit that is nearest."""
        pressure, _ = self.at(time)
        above = np.flatnonzero(pressure > set_point)
        if not above.size:
            return least
        i = above[-1]
        if i == pressure.size - 1:
            return most
        share = (pressure[i] - set_point) / (pressure[i] - pressure[i + 1])
        return min(max(float(self.setting[i] + share * (self.setting[i + 1] - self.setting[i])), least), most)
