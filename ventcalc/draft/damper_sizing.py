"""Damper sizing: dampers rated over the duties of all states, with the reasons why one does not fit."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.draft.dampers import Damper
from ventcalc.units import Q_, Quantity, magnitude, show, ureg

# Smallest move that an actuator repeats, as a share of its stroke (common practice, no source).
ACTUATOR_STEP = 0.01


@dataclass(frozen=True)
class Duties:
    """What a damper must do, state by state; plain arrays of one length.

    ``flow`` [m3/s] and ``density`` [kg/m3] at it and the total pressure to ``destroy`` [Pa]. Where that is nought or
    less there is no draft to spare, and the damper should be wide open. ``states`` numbers them for their owner.

    Where a damper holds its set point all else in the vent is as it was, so that these duties are those of any damper.
    """

    flow: np.ndarray
    density: np.ndarray
    destroy: np.ndarray
    states: np.ndarray

    @classmethod
    def of(cls, held, control: int = 0) -> "Duties":
        """From a `held_pressure.Held` of an ideal device, in all states in which its control acts.

        Raises ValueError where some of them have not settled.
        """
        pick = np.flatnonzero(held.acts[control])
        if not held.settled[pick].all():
            raise ValueError(f"{(~held.settled[pick]).sum()} of {pick.size} states have not settled")
        values = (a[control, pick] for a in (held.flow, held.density, -held.added))
        return cls(*values, pick)


@dataclass(frozen=True)
class Rating:
    """How one damper does its duties; arrays are one value a duty.

    ``position``; ``error`` [Pa]: above 0 where it destroys too much even at its most, below 0 where it cannot destroy
    enough; ``step`` [Pa]: what one step of its actuator moves. ``burden``: the largest of these as a share of what is
    tolerated. ``reasons`` why it does not fit, one sentence each; empty where it does.
    """

    damper: Damper
    duties: Duties
    position: np.ndarray
    error: np.ndarray
    step: np.ndarray
    burden: float
    reasons: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether it does all its duties within what is tolerated."""
        return not self.reasons

    @property
    def smallest(self) -> tuple[float, int]:
        """The smallest opening it needs, and in which duty."""
        return float(self.position.min()), int(self.position.argmin())


def size(
    duties: Duties,
    candidates: Sequence[Damper],
    tolerance: Quantity,
    least_opening: float = 0.0,
    actuator_step: float = ACTUATOR_STEP,
    system: str = "US",
) -> tuple[Rating, ...]:
    """Candidates rated over every duty, the best first; where none fits the first is the one that fails least.

    ``tolerance``: how far from the wanted pressure a state may stay, and the most that one ``actuator_step`` (share of
    the stroke) may move. ``least_opening``: a smaller one is not trusted to be found again. The worst duty of a damper
    is the one with the least flow, not that with the most pressure: hence all states. Raises ValueError where there
    are no candidates or no duties.
    """
    allowed = float(magnitude(tolerance, ureg.Unit("Pa"), "tolerance"))
    if not allowed > 0:
        raise ValueError(f"tolerance {tolerance:.4g~P} must be above 0")
    if not len(candidates) or not duties.flow.size:
        raise ValueError("nothing to rate: give at least one candidate and one duty")
    rated = [_rate(d, duties, allowed, least_opening, actuator_step, system) for d in candidates]
    return tuple(sorted(rated, key=lambda r: (not r.fits, r.burden)))


def _rate(damper: Damper, duties: Duties, allowed: float, least_opening: float, move: float, system: str) -> Rating:
    wanted = np.maximum(duties.destroy, 0.0)
    position = damper.position_for(wanted, duties.flow, duties.density)
    lost = damper.loss(position) * damper.head(duties.flow, duties.density)
    error = lost - wanted
    # Half a step each way: the ends of the stroke are flat, and a step from there is what counts.
    ends = (damper.loss(np.clip(position + s * move / 2.0, damper.least, damper.most)) for s in (-1.0, 1.0))
    step = np.abs(np.subtract(*ends)) * damper.head(duties.flow, duties.density)
    burden = float(max(np.abs(error).max(), step.max()) / allowed)
    reasons = _reasons(duties, wanted, position, error, step, allowed, least_opening, move, system)
    return Rating(damper, duties, position, error, step, burden, reasons)


def _reasons(duties, wanted, position, error, step, allowed, least_opening, move, system) -> tuple[str, ...]:
    def pascal(value):
        return show(Q_(float(value), "Pa"), system, "draft")

    def at(k: int) -> str:
        return f"at {show(Q_(float(duties.flow[k]), 'm**3/s'), system)}"

    found = []
    short, costly, coarse, small = (int(i) for i in (error.argmin(), error.argmax(), step.argmax(), position.argmin()))
    if error[short] < -allowed:
        found.append(
            f"shut, it still lets {pascal(-error[short])} of {pascal(wanted[short])} through "
            f"{at(short)}: it leaks too much"
        )
    if error[costly] > allowed:
        found.append(f"open, it costs {pascal(error[costly])} too much {at(costly)}")
    if step[coarse] > allowed:
        found.append(
            f"one step of its actuator ({move:.1%} of the stroke) moves {pascal(step[coarse])} "
            f"{at(coarse)}, {position[coarse]:.0%} open: too coarse there"
        )
    if position[small] < least_opening:
        found.append(f"it must stand at {position[small]:.1%} open {at(small)}: too near shut")
    return tuple(found)
