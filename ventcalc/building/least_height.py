"""Least height: how low a vent may end at a place, by all the rules at once, and which of them governs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.building.clearance_rules import (
    View,
    climb,
    gate_holds,
    ground_of,
    names_kind,
    row_reaches,
    spans,
    view_of,
)
from ventcalc.building.clearance_table import ROOF_FORMS, Rule, in_force
from ventcalc.building.clearances import Finding, judge
from ventcalc.building.code_rules import FAIL, READING
from ventcalc.building.roof_scene import EXACT, Scene
from ventcalc.building.terminal import Terminal, at_height
from ventcalc.door import door
from ventcalc.units import Q_, Quantity, magnitude, ureg


@dataclass(frozen=True, eq=False)
class Least:
    """The least height of the lowest discharge opening at a place, what governs it, and what is left to be read.

    ``height`` None: no height does, and ``finding`` says why. ``findings`` are those of the terminal at that height.
    """

    height: Quantity | None
    above_roof: Quantity | None
    finding: Finding | None
    findings: tuple[Finding, ...]

    @property
    def open_questions(self) -> tuple[Finding, ...]:
        return tuple(f for f in self.findings if f.verdict == READING)


def least_height(scene: Scene, terminal: Terminal, rules: Sequence[Rule] | None = None, habit: bool = False) -> Least:
    """The least height at which no rule fails, at the terminal's place in plan and from the roof (or grade) up.

    A requirement whose breach only needs a reading raises nothing; it is among ``open_questions``.
    """
    view = view_of(scene, terminal, terminal.at)
    low = float(_least(view, in_force(rules, habit))[0])
    if not np.isfinite(low):
        here = judge(scene, terminal, rules, habit)
        stuck = next(f for f in here if f.verdict == FAIL and f.raise_by is None)
        return Least(None, None, stuck, here)
    findings = judge(scene, at_height(terminal, Q_(low, "m")), rules, habit)
    governs = [f for f in findings if f.spare is not None and abs(f.spare.m_as("m")) < 2.0 * EXACT]
    roof = view.ground.height[0]
    above = Q_(low - roof, "m") if np.isfinite(roof) else None
    return Least(Q_(low, "m"), above, governs[0] if governs else None, findings)


@door(x="m", y="m", arrays=("x", "y"))
def least_heights(
    scene: Scene,
    terminal: Terminal,
    x: Quantity,
    y: Quantity,
    rules: Sequence[Rule] | None = None,
    habit: bool = False,
) -> Quantity:
    """`least_height` of one terminal at many places ``x``, ``y`` [length, same shape]; infinite where none does."""
    x, y = np.broadcast_arrays(magnitude(x, ureg.Unit("m"), "x"), magnitude(y, ureg.Unit("m"), "y"))
    p = np.column_stack([x.ravel(), y.ravel()])
    return Q_(_least(view_of(scene, terminal, p), in_force(rules, habit)).reshape(x.shape), "m")


def _least(view: View, rules: Sequence[Rule]) -> np.ndarray:
    """From the roof or the ground up to the first height that no rule forbids."""
    low, high = _forbidden(view, rules)
    z = np.where(np.isfinite(view.ground.height), view.ground.height, view.scene.ground)
    if view.terminal.through == "wall":
        z = view.all(view.scene.ground)
    return climb(low, high, z)


def _forbidden(view: View, rules: Sequence[Rule]) -> tuple[np.ndarray, np.ndarray]:
    """All spans (K, N) in which a rule fails."""
    lows, highs = [np.empty((0, len(view.p)))], [np.empty((0, len(view.p)))]
    for rule in rules:
        wall = rule.form in ROOF_FORMS and view.terminal.through == "wall"
        if rule.broken != FAIL or not names_kind(rule, view.terminal) or wall:
            continue
        counts = gate_holds(view, rule) & row_reaches(view, rule)
        if not counts.any():
            continue
        for span in spans(view, rule):
            lows.append(span.low[None, :])
            highs.append(np.where(counts, span.high, -np.inf)[None, :])
    return np.concatenate(lows), np.concatenate(highs)


def roof_height(scene: Scene, terminal: Terminal) -> Quantity:
    """Highest point of what the terminal passes through. Raises ValueError where it stands over no roof."""
    height = ground_of(scene, terminal.at, terminal.radius).height[0]
    if not np.isfinite(height):
        raise ValueError(f"terminal {terminal.name!r} stands over no roof of the scene")
    return Q_(height, "m")
