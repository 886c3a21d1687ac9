"""Damper sizing: dampers rated over the duties of all states, with the reasons why one does not fit."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.draft.dampers import Damper
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.words import Remark

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
    tolerated. ``reasons`` why it does not fit; empty where it does.
    """

    damper: Damper
    duties: Duties
    position: np.ndarray
    error: np.ndarray
    step: np.ndarray
    burden: float
    reasons: tuple[Remark, ...]

    @property
    def fits(self) -> bool:
        """Whether it does all its duties within what is tolerated."""
        return not self.reasons

    @property
    def smallest(self) -> tuple[float, int]:
        """The smallest opening it needs, and in which duty."""
        return float(self.position.min()), int(self.position.argmin())


@door(
    tolerance="Pa",
    plain={"least_opening": "", "actuator_step": ""},
    above={"tolerance": 0.0},
    at_least={"least_opening": 0.0, "actuator_step": 0.0},
)
def size(
    duties: Duties,
    candidates: Sequence[Damper],
    tolerance: Quantity,
    least_opening: float = 0.0,
    actuator_step: float = ACTUATOR_STEP,
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
    rated = [_rate(d, duties, allowed, least_opening, actuator_step) for d in candidates]
    return tuple(sorted(rated, key=lambda r: (not r.fits, r.burden)))


def _rate(damper: Damper, duties: Duties, allowed: float, least_opening: float, move: float) -> Rating:
    wanted = np.maximum(duties.destroy, 0.0)
    position = damper.position_for(wanted, duties.flow, duties.density)
    lost = damper.loss(position) * damper.head(duties.flow, duties.density)
    error = lost - wanted
    # Half a step each way: the ends of the stroke are flat, and a step from there is what counts.
    ends = (damper.loss(np.clip(position + s * move / 2.0, damper.least, damper.most)) for s in (-1.0, 1.0))
    step = np.abs(np.subtract(*ends)) * damper.head(duties.flow, duties.density)
    burden = float(max(np.abs(error).max(), step.max()) / allowed)
    rating = Rating(damper, duties, position, error, step, burden, ())
    return replace(rating, reasons=tuple(_reasons(rating, allowed, least_opening, move)))


def _reasons(r: Rating, allowed: float, least_opening: float, move: float) -> Iterator[Remark]:
    """Where a rating goes beyond what is ``allowed`` [Pa], each with its worst duty."""

    def said(code: str, k: int, **figures) -> Remark:
        return Remark("draft", "damper_sizing", code, {"flow": Q_(float(r.duties.flow[k]), "m**3/s"), **figures})

    short, costly = int(r.error.argmin()), int(r.error.argmax())
    coarse, small = int(r.step.argmax()), int(r.position.argmin())
    if r.error[short] < -allowed:
        wanted = Q_(max(float(r.duties.destroy[short]), 0.0), "Pa")
        yield said("leaks", short, lets=Q_(float(-r.error[short]), "Pa"), wanted=wanted)
    if r.error[costly] > allowed:
        yield said("costs", costly, costs=Q_(float(r.error[costly]), "Pa"))
    if r.step[coarse] > allowed:
        moves, position = Q_(float(r.step[coarse]), "Pa"), float(r.position[coarse])
        yield said("coarse", coarse, move=move, moves=moves, position=position)
    if r.position[small] < least_opening:
        yield said("near_shut", small, position=float(r.position[small]))
