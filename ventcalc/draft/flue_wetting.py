"""Flue wetting: water that runs down each section of a plant and freezes on it, in the states of a scan."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.draft.light_off import FREEZING, LightOff, one_flue
from ventcalc.draft.wall_lag import heavy
from ventcalc.vent import pieces, single_vent
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import DROP_AN_HOUR

DAY = 86_400.0  # s
WATER = 1000.0  # kg/m3


@dataclass(frozen=True)
class Wetting:
    """Water that runs down one section, at its worst over all states; by film and wall (`condensing_run`).

    ``hot`` [kg/s] with the walls at rest, ``cold`` with all walls as cold as what is around them, and the scan's
    columns in which they are met. ``starting``: mean of the first half hour of a cold flue behind a connector that is
    warm already, where `cold_start.start_up` followed it; else 0. ``heavy``: the wall stays nearer to cold than to hot
    through a usual firing. ``made_for_it``: whether its material bears condensate.
    ``liquid`` [kg/s]: of the rate that may go on what does not freeze.
    """

    section: str
    hot: float
    hot_state: int
    cold: float
    cold_state: int
    starting: float
    heavy: bool
    liquid: float
    made_for_it: bool

    @property
    def lasting(self) -> float:
        """The rate [kg/s] that may go on: of a heavy wall the largest, of a light one that of its hot wall."""
        return max(self.hot, self.cold, self.starting) if self.heavy else self.hot

    @property
    def while_cold(self) -> bool:
        """Whether ``liquid`` is that of a heavy wall still cold, of which less is left once it is hot."""
        return self.liquid > self.hot

    @property
    def a_day(self) -> float:
        """Water [m3] of a day in which the burner runs, at most: a heavy wall takes less once it has warmed."""
        return self.liquid * DAY / WATER


@dataclass(frozen=True)
class Icing:
    """Ice on one section: ``rate`` [kg/s] at most, on a ``wall`` [K], in the scan's column ``state``.

    ``hot``: with the walls at rest; else only while a heavy wall is still cold. ``terminal``: the termination at which
    the wall is below freezing and wet in some such state, None where it is at none.
    """

    section: str
    rate: float
    wall: float
    state: int
    hot: bool
    terminal: str | None


def wettings_of(scan: Scan, starts: Sequence[LightOff] = ()) -> tuple[Wetting, ...]:
    """Sections that water runs down with hot walls, or with cold ones that are slow to warm; whatever they serve.

    ``starts``: the `light_offs` of the plant; without them a flue counts by the states of the scan alone.
    """
    first = max((s.condensed / s.within for s in starts if s.warm_connector), default=0.0)
    flue = one_flue(scan.plant) if first else None
    whole = single_vent.rise_section(flue).length.m_as("m") if flue else np.inf
    found = (
        _wetting(scan, k, first * s.length.m_as("m") / whole if pieces.is_upright(s) else 0.0)
        for k, s in enumerate(scan.plant.order)
    )
    return tuple(w for w in found if w.lasting >= DROP_AN_HOUR)


def _flowing(scan: Scan, k: int) -> np.ndarray:
    """States in which gas flows in a section while something runs."""
    return (np.abs(scan.solution.flow[k]) > REVERSAL_FLOW) & scan.any_running


def _wetting(scan: Scan, k: int, starting: float) -> Wetting:
    section, cold = scan.plant.order[k], scan.states.cold.astype(bool)
    hot, hot_state = _most(scan.solution.drained[k], _flowing(scan, k) & ~cold)
    cool, cold_state = _most(scan.solution.drained[k], _flowing(scan, k) & cold)
    lags, bears = heavy(section), section.material.condensate
    runs = scan.solution.drained[k] - scan.solution.frozen[k]
    liquid, _ = _most(runs, _flowing(scan, k) & (~cold | lags))
    liquid = max(liquid, starting) if lags else liquid
    return Wetting(section.name, hot, hot_state, cool, cold_state, starting, lags, liquid, bears)


def _most(values: np.ndarray, states: np.ndarray) -> tuple[float, int]:
    """The largest of the values in some states, and where; 0 in the first where there is none."""
    among = np.where(states, values, 0.0)
    at = int(among.argmax())
    return float(max(among[at], 0.0)), at


def icings_of(scan: Scan) -> tuple[Icing, ...]:
    """Sections on which ice forms with hot walls, or with cold ones that are slow to warm."""
    found = (_icing(scan, k) for k in range(len(scan.plant.order)))
    return tuple(i for i in found if i is not None)


def _icing(scan: Scan, k: int) -> Icing | None:
    section, solution, cold = scan.plant.order[k], scan.solution, scan.states.cold.astype(bool)
    counted = _flowing(scan, k) & (~cold | heavy(section))
    rate, at = _most(solution.frozen[k], counted & ~cold)
    if rate < DROP_AN_HOUR:
        rate, at = _most(solution.frozen[k], counted)
    ends = np.flatnonzero(_freezes_at_its_end(scan, k) & counted)
    if rate < DROP_AN_HOUR and ends.size == 0:
        return None
    if rate < DROP_AN_HOUR:
        at = int(ends[solution.wall[k, ends].argmin()])
    terminal = section.into if ends.size else None
    return Icing(section.name, rate, float(solution.wall[k, at]), at, not bool(cold[at]), terminal)


def _freezes_at_its_end(scan: Scan, k: int) -> np.ndarray:
    """States in which flue gas leaves by a termination whose wall is below freezing and wet."""
    solution = scan.solution
    if scan.plant.order[k].into in {t.name for t in scan.plant.terminations}:
        return scan.any_firing & (solution.flow[k] > 0.0) & (solution.wall[k] < FREEZING) & solution.wet[k]
    return np.zeros(len(scan.states), bool)
