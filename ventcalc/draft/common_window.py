"""Common window: the header pressures that put every running outlet in its window, in every state.

One header pressure sets all outlets at once: outlet i stands d above it, by the losses and the draft of its own way to
the end of the header. A header pressure p suits every running outlet where

    low_i - d_i <= p <= high_i - d_i        for every outlet i that runs, in every state

so the windows, each shifted by its own d, must overlap. Where they do not, no header control helps.

Pressures are gauge against the room at the same height; negative is draft. Plain SI inside.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.draft.held_pressure import HEADER, Control, Device, Held, Ideal, before_termination, hold
from ventcalc.units import Q_
from ventcalc.vent.end_of_header import header_pressure
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.worst_state import SAME_PRESSURE, worst

EITHER = Ideal()


@dataclass(frozen=True)
class CommonWindow:
    """The outlets' windows as header pressures [Pa]; plain SI.

    ``lowest`` and ``highest`` (appliances, states) are the header pressures that put an outlet at the two edges
    of its window: -inf and +inf where its appliance does not run. ``scan`` is what they were taken from.
    """

    scan: Scan
    lowest: np.ndarray
    highest: np.ndarray

    @property
    def low(self) -> float:
        """The least header pressure that lets no running outlet fall below its window in any state."""
        return float(self.lowest.max())

    @property
    def high(self) -> float:
        """The greatest header pressure that lets no running outlet rise above its window in any state."""
        return float(self.highest.min())

    @property
    def lacking(self) -> float:
        """By how much [Pa] the windows miss each other; 0 where one set point serves all."""
        return max(self.low - self.high, 0.0)

    @property
    def best(self) -> float:
        """The set point whose worst margin is largest, or, where none serves all, whose worst excursion is least."""
        return 0.5 * (self.low + self.high)

    @property
    def ends(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """(appliance, state) that sets the lower end, and the one that sets the upper."""
        first = (worst(end.ravel(), SAME_PRESSURE) for end in (self.lowest, -self.highest))
        low, high = (np.unravel_index(at, self.lowest.shape) for at in first)
        return (int(low[0]), int(low[1])), (int(high[0]), int(high[1]))

    @property
    def in_each_state(self) -> tuple[np.ndarray, np.ndarray]:
        """The range for every state by itself: what a set point that follows the state could use."""
        return self.lowest.max(axis=0), self.highest.min(axis=0)

    @property
    def conflicts(self) -> np.ndarray:
        """States in which the running outlets agree on no header pressure, not even one chosen for that state."""
        low, high = self.in_each_state
        return np.flatnonzero(low > high)

    def of(self, appliance: int) -> tuple[float, float]:
        """The header pressures that suit one outlet in all states; the first is above the second where none does."""
        return float(self.lowest[appliance].max()), float(self.highest[appliance].min())

    def within_reach(self, floor=-np.inf, ceiling=np.inf) -> tuple[float, float]:
        """Least and greatest set point [Pa] that serve all outlets in all states with a device that has limits.

        In a state the header cannot be brought below ``floor`` [Pa] (a damper wide open: what the vent draws by itself)
        nor above ``ceiling`` (a fan at its least speed); numbers or arrays (states,). The first is above the second
        where no set point serves. Without limits they are `low` and `high`.
        """
        lowest, highest = self.in_each_state
        if np.any(floor > highest) or np.any(ceiling < lowest):
            return np.inf, -np.inf
        least = float(np.where(floor >= lowest, -np.inf, lowest).max())
        most = float(np.where(ceiling <= highest, np.inf, highest).min())
        # Where no state sets an end, any set point beyond the device's own reach does the same as the end of it.
        known = np.isfinite(lowest)
        if not np.isfinite(least):
            least = min(float(np.min(np.broadcast_to(floor, lowest.shape)[known])), most)
        if not np.isfinite(most):
            most = max(float(np.max(np.broadcast_to(ceiling, lowest.shape)[known])), least)
        return least, most

    def missed(self, pressure: float) -> np.ndarray:
        """Where a running outlet is outside its window while the header stands at ``pressure`` [Pa]."""
        return (pressure < self.lowest) | (pressure > self.highest)


def offsets(of: Scan) -> np.ndarray:
    """d: outlet pressure less header pressure [Pa] (appliances, states); NaN where the appliance does not run."""
    runs = of.states.codes > 0
    return np.where(runs, of.solution.outlet_pressure - header_pressure(of), np.nan)


def common_window(of: Scan, d: np.ndarray | None = None) -> CommonWindow:
    """The windows of a plant's outlets as header pressures, from a scan of it; ``d`` are its `offsets` where known.

    Where all flows are forced and idle outlets are tight, d does not depend on the header's pressure and the result
    is exact. Where idle appliances leak or hoods draw it does, a little: take the scan of a plant whose header is
    held near the answer (`held_common_window`).
    """
    d = offsets(of) if d is None else d
    runs = of.states.codes > 0
    edges = np.array([[float(w.m_as("Pa")) for w in a.window] for a in of.plant.appliances])
    lowest = np.where(runs, edges[:, :1] - d, -np.inf)
    highest = np.where(runs, edges[:, 1:] - d, np.inf)
    return CommonWindow(of, lowest, highest)


def held_common_window(of: Scan) -> CommonWindow:
    """As `common_window`, with the header held at the best set point of the scan as it is: near the answer."""
    return common_window(hold_header(of, common_window(of).best).scan(of))


@door(plain={"pressure": "Pa"})
def hold_header(of: Scan, pressure: float, device: Device = EITHER) -> Held:
    """The plant of a scan with its header held at a ``pressure`` [Pa] by a device before the termination.

    Sought from the vent as the scan has it, and from what its header lacks there.
    """
    lacks = np.nan_to_num(header_pressure(of) - pressure)[None]
    at = of.solution.drawn, of.solution.outlets
    return hold(of.plant, of.seasons, of.states, (header_control(of.plant, pressure, device),), lacks, *at)


@door(plain={"pressure": "Pa"})
def header_control(plant: Plant, pressure: float, device: Device) -> Control:
    """The control that holds the end of the header at a ``pressure`` [Pa] by a device before the termination."""
    return Control(before_termination(plant), device, HEADER, Q_(float(pressure), "Pa"))
