"""Sight line: how high a terminal may end and not be seen from a place, over roof edge, parapet and screen.

From an eye at height ``ze`` a thing of height ``h`` at the share ``s`` of the way in plan to the terminal hides there
what lies below

    z = ze + (h - ze) / s

down to the same line past its foot; a building hides all under its roof. Where several hide, what they hide together
from the terminal's foot up without a gap counts. The way is looked at to the axis and to both sides of the terminal,
and the least of the three holds. Trees, fences with gaps and windows are not things of a scene. Source: geometry.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.building.clearance_rules import climb, ground_of
from ventcalc.building.plan_geometry import inside
from ventcalc.building.roof_scene import EXACT, Scene, meters
from ventcalc.building.terminal import Terminal
from ventcalc.units import Q_, Quantity


@dataclass(frozen=True, eq=False)
class Viewpoint:
    """An eye at ``x``, ``y`` in plan and a height ``eye`` [length], in the frame of the scene.

    Raises ValueError or `UnitsError` naming what is no finite length.
    """

    name: str
    x: Quantity
    y: Quantity
    eye: Quantity

    def __post_init__(self):
        for part in ("x", "y", "eye"):
            meters(getattr(self, part), f"{part} of view {self.name!r}")

    @property
    def at(self) -> np.ndarray:
        """Place in plan (2,) [m]."""
        return np.array([meters(self.x, "x"), meters(self.y, "y")])


@dataclass(frozen=True, eq=False)
class Sight:
    """A terminal from a ``view``: it is ``hidden_below`` a height, by the thing ``behind`` ("" for none), and ``shows``
    so much of itself over that (0: it is not seen)."""

    view: str
    hidden_below: Quantity
    behind: str
    shows: Quantity

    @property
    def seen(self) -> bool:
        return self.shows.m > 0.0


def sight(scene: Scene, terminal: Terminal, view: Viewpoint) -> Sight:
    """What of a terminal, up to its highest discharge opening, is seen from a view.

    It is looked at along four lines: to its axis, to both sides, and to its near rim, which shows first. It begins at
    the roof that it passes through; through a wall, its diameter under its lowest discharge opening. The
    roof right over one through a wall hides nothing: it may be an eave. From right over or under it nothing does.
    """
    eye, way = meters(view.eye, "eye"), terminal.at[0] - view.at
    share = terminal.radius / max(float(np.hypot(*way)), terminal.radius)
    across, near = share * np.array([-way[1], way[0]]), -min(share, 1.0 - _NEAR) * way
    roof = float(ground_of(scene, terminal.at, terminal.radius).height[0])
    foot = roof if terminal.through == "roof" and np.isfinite(roof) else terminal.low - 2.0 * terminal.radius
    line, behind = min((_hidden(scene, terminal, view.at, eye, way + side, foot)
                        for side in (0.0, across, -across, near)), key=lambda found: found[0])  # fmt: skip
    shows = meters(terminal.outlet, "outlet") - line
    return Sight(view.name, Q_(line, "m"), behind, Q_(shows if shows > EXACT else 0.0, "m"))


def _hidden(scene: Scene, terminal: Terminal, start, eye: float, way, foot: float) -> tuple[float, str]:
    """Height [m] up to which all is hidden on one way from the eye, and by what."""
    names, low, high = [], [], []
    for plane in scene.planes:
        for begin, end in _crossed(start, way, plane.shape, closed=True):
            if terminal.through == "wall" and end >= 1.0:
                continue
            shares = np.array([begin, end])
            names.append(plane.name)
            low.append(-np.inf)
            high.append(np.max(eye + (plane.height(start + shares[:, None] * way) - eye) / shares))
    for thing in scene.obstacles:
        for begin, end in _crossed(start, way, thing.shape, thing.closed):
            bottom, top = (eye + (h - eye) / np.array([begin, end]) for h in thing.span)
            names.append(thing.name)
            low.append(bottom.min() - 2.0 * EXACT)  # what stands on another leaves no gap
            high.append(top.max())
    if not names:
        return foot, ""
    line = float(climb(np.array(low)[:, None], np.array(high)[:, None], np.array([foot]))[0])
    return line, names[int(np.argmin(np.abs(np.array(high) - line)))] if line > foot else ""


_NEAR = 1e-9  # share of the way that counts as the eye itself


def _crossed(start, way, shape, closed: bool) -> list[tuple[float, float]]:
    """Shares of a way in plan, from ``start`` along ``way``, over which it lies in a shape, or at which it meets it."""
    if len(shape) < 2:
        return []
    ends = np.roll(shape, -1, axis=0) if closed else shape[1:]
    begins = shape if closed else shape[:-1]
    edge, off = ends - begins, begins - start
    turn = way[0] * edge[:, 1] - way[1] * edge[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (off[:, 0] * edge[:, 1] - off[:, 1] * edge[:, 0]) / turn
        along = (off[:, 0] * way[1] - off[:, 1] * way[0]) / turn
    meets = np.isfinite(share) & (along >= 0.0) & (along <= 1.0)
    shares = np.unique(np.clip(share[meets], 0.0, 1.0))
    if not closed:
        return [(s, s) for s in shares.tolist() if _NEAR < s < 1.0]
    shares = np.unique([0.0, *shares, 1.0])
    middles = 0.5 * (shares[:-1] + shares[1:])
    within = inside(start + middles[:, None] * way, shape)
    return [(max(a, _NEAR), b) for a, b, w in zip(shares, shares[1:], within, strict=False) if w]
