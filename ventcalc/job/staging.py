"""Staging: which burners carry a load, at what fire, and which of them start and stop while they do.

A plant climbs a ladder of rungs, each what every burner puts in. Between two rungs it modulates where every burner
whose fire changes modulates and burns at both; elsewhere it cycles: for a share of the hour on the upper rung, the rest
on the lower, so that the mean is the load. Three orders:

- lead-lag: the first burner goes to its highest fire before the next one starts; the one before then gives way by what
  the next one puts in at least, where both can.
- parallel: another burner starts as soon as all that then run can stay at low fire; all burn at the same share of
  their range.
- equal: all start and stop together, at the same share of their range.

What starts next may move on with time, so that all run alike (``rotation``).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.gas.appliance import Appliance

ORDERS = ("lead-lag", "parallel", "equal")
# Starts of a burner in an hour at half load, where most come (common practice, no source).
USUAL_STARTS = 6.0


@dataclass(frozen=True)
class StagingPlan:
    """How burners are staged: one of `ORDERS`, which of them modulate, after how many hours the lead moves on.

    ``rotation`` 0: the lead never changes. ``most_starts`` in an hour of a burner at half load.
    """

    order: str
    modulates: tuple[bool, ...]
    rotation: float = 0.0
    most_starts: float = USUAL_STARTS

    def __post_init__(self):
        if self.order not in ORDERS:
            raise ValueError(f"firing order {self.order!r}; choose {', '.join(ORDERS)}")
        if not self.rotation >= 0.0:
            raise ValueError(f"rotation of the lead {self.rotation:g} h must be at least 0")
        if not 0.0 < self.most_starts <= 60.0:
            raise ValueError(f"most starts {self.most_starts:g} an hour must be above 0, at most 60")


def usual(appliances: Sequence[Appliance]) -> StagingPlan:
    """Lead-lag; a forced burner of several levels modulates between them, all else steps (common practice)."""
    return StagingPlan("lead-lag", tuple(a.kind == "forced" and len(a.levels) > 1 for a in appliances))


@dataclass(frozen=True, eq=False)
class Firing:
    """What a plant does in a row of hours: ``share`` of each with burners at ``codes``, the rest of it at ``rest``.

    Codes (appliances, hours) as in `states.States`. ``unmet`` [W] is what the plant cannot put in.
    """

    codes: np.ndarray
    rest: np.ndarray
    share: np.ndarray
    unmet: np.ndarray

    @property
    def cycles(self) -> np.ndarray:
        """Hours in which some burner starts and stops."""
        return (self.share < 1.0) & (self.share > 0.0)


def inputs(appliance: Appliance) -> np.ndarray:
    """Heat input [W] of an appliance's levels, from the lowest."""
    return np.sort([float(level.heat_input.m_as("W")) for level in appliance.levels])


def codes_of(appliance: Appliance, heat: np.ndarray) -> np.ndarray:
    """Code at which an appliance puts in so much heat [W]; 0 where none. Between levels it lies between their codes."""
    watts = np.array([float(level.heat_input.m_as("W")) for level in appliance.levels])
    order = np.argsort(watts)
    first = len(appliance.states) - len(watts)
    if (np.diff(order) != 1).any():
        raise ValueError(f"{appliance.name}: firing levels must stand from the lowest heat input to the highest")
    return np.where(heat > 0.0, np.interp(heat, watts, first + np.arange(watts.size)), 0.0)


def input_of(appliance: Appliance, codes: np.ndarray) -> np.ndarray:
    """Heat input [W] at codes: nothing up to that before the first level, which is off or purge."""
    watts = inputs(appliance)
    first = len(appliance.states) - len(watts)
    return np.where(codes >= first, np.interp(codes, first + np.arange(watts.size), watts), 0.0)


def fire(appliances: Sequence[Appliance], plan: StagingPlan, load: np.ndarray, hour: np.ndarray) -> Firing:
    """What a plant does under loads [W] in hours counted from the beginning of its rotation."""
    count = len(appliances)
    lead = (hour // plan.rotation).astype(int) % count if plan.rotation else np.zeros(len(load), int)
    codes, rest = np.empty((count, len(load))), np.empty((count, len(load)))
    share, unmet = np.empty(len(load)), np.empty(len(load))
    for first in np.unique(lead):
        order = [(first + k) % count for k in range(count)]
        rungs = ladder([inputs(appliances[i]) for i in order], [plan.modulates[i] for i in order], plan.order)
        here = lead == first
        on, off, share[here], unmet[here] = _climb(rungs, np.array([plan.modulates[i] for i in order]), load[here])
        for k, i in enumerate(order):
            codes[i, here], rest[i, here] = codes_of(appliances[i], on[:, k]), codes_of(appliances[i], off[:, k])
    return Firing(codes, rest, share, unmet)


def ladder(levels: Sequence[np.ndarray], modulates: Sequence[bool], order: str) -> np.ndarray:
    """The rungs of a plant (rungs, burners) [W], from all off to all at their highest, in the order of starting."""
    build: dict[str, Callable] = {"lead-lag": _one_by_one, "parallel": _in_parallel, "equal": _together}
    return np.array(build[order](levels, modulates))


def _one_by_one(levels, modulates) -> list[np.ndarray]:
    count = len(levels)
    rungs, now = [np.zeros(count)], np.zeros(count)
    for k, own in enumerate(levels):
        if k and modulates[k] and modulates[k - 1] and levels[k - 1][-1] - own[0] >= levels[k - 1][0]:
            now[k], now[k - 1] = own[0], levels[k - 1][-1] - own[0]  # the one before gives way
            rungs.append(now.copy())
            now[k - 1] = levels[k - 1][-1]
        for watts in own:
            now[k] = watts
            rungs.append(now.copy())
    return rungs


def _in_parallel(levels, modulates) -> list[np.ndarray]:
    count, low = len(levels), np.array([own[0] for own in levels])
    rungs = [np.zeros(count)]
    for running in range(1, count + 1):
        at = np.arange(count) < running
        rungs.append(np.where(at, low, 0.0))
        following = low[: running + 1].sum() if running < count else np.inf
        rungs += [r for r in _all_up(levels, at) if rungs[-1].sum() < r.sum() <= following]
        if all(modulates[:running]) and rungs[-1].sum() < following < np.inf:
            most = np.where(at, [own[-1] for own in levels], 0.0)
            if most.sum() > following:
                rungs.append(_at_total(rungs[-1], most, following))
    return rungs


def _together(levels, modulates) -> list[np.ndarray]:
    everyone = np.ones(len(levels), bool)
    return [np.zeros(len(levels)), np.array([own[0] for own in levels]), *_all_up(levels, everyone)]


def _all_up(levels, at: np.ndarray) -> list[np.ndarray]:
    """Rungs on which all that run step up one level after another, each at the nearest to the same share."""
    steps = max(len(own) for own, runs in zip(levels, at, strict=True) if runs)
    found = []
    for step in range(1, steps):
        found.append(
            np.array([
                own[round(step * (len(own) - 1) / (steps - 1))] if runs else 0.0
                for own, runs in zip(levels, at, strict=True)
            ])
        )  # fmt: skip
    return found


def _at_total(low: np.ndarray, high: np.ndarray, total: float) -> np.ndarray:
    return low + (high - low) * (total - low.sum()) / (high.sum() - low.sum())


def _climb(rungs: np.ndarray, modulates: np.ndarray, load: np.ndarray):
    """Inputs on and off (loads, burners) [W], share of the hour on, and what is not met, on a ladder."""
    total = rungs.sum(axis=1)
    carried = np.clip(load, 0.0, total[-1])
    above = np.clip(np.searchsorted(total, carried, side="left"), 1, len(total) - 1)
    upper, lower = rungs[above], rungs[above - 1]
    width = total[above] - total[above - 1]
    part = np.where(width > 0.0, (carried - total[above - 1]) / np.where(width > 0.0, width, 1.0), 1.0)
    changes = upper != lower
    smooth = (~changes | (modulates & (lower > 0.0) & (upper > 0.0))).all(axis=1)[:, None]
    between = lower + part[:, None] * (upper - lower)
    on = np.where(smooth, between, upper)
    off = np.where(smooth, between, lower)
    share = np.where(smooth[:, 0], 1.0, part)
    return np.where(share[:, None] > 0.0, on, off), off, np.where(share > 0.0, share, 1.0), load - carried
