"""Clearance rules: the heights that each form of rule forbids: above the roof, the 10 ft rule, around a window, away.

Every requirement, seen from a place in plan, forbids a span of heights: below two feet over a ridge that is near, or
between four feet under a window and one foot over it. So one sum answers both questions: whether a terminal stands
where it may (`clearances.judge`), and how low it may be (`least_height`).

Distances in plan are taken from the outside of the vent, heights from its lowest discharge opening; only "below a
window" is taken from its highest one. What stands exactly at a limit has met it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ventcalc.building.clearance_table import Rule
from ventcalc.building.plan_geometry import highest_within, nearest
from ventcalc.building.roof_scene import EXACT, Mark, Placed, Scene, meters
from ventcalc.building.terminal import Terminal
from ventcalc.door import door


@dataclass(frozen=True, eq=False)
class Span:
    """Heights (low, high) [m] of the lowest discharge opening that one thing forbids at N places, and why.

    ``gap`` [m] in plan from the vent's outside (negative: overlapping), ``reach`` [m] at which the requirement ends
    (None: no move cures it), ``at`` (N, 3) the governing point. Nothing is forbidden where high is minus infinity.
    """

    thing: str
    low: np.ndarray
    high: np.ndarray
    gap: np.ndarray
    reach: float | None
    at: np.ndarray


@dataclass(frozen=True, eq=False)
class Ground:
    """What stands under a terminal at N places: highest point of its passage, its thing, steepest pitch, next wall."""

    height: np.ndarray
    at: np.ndarray
    thing: np.ndarray
    pitch: np.ndarray
    wall: np.ndarray


@door(plain={"radius": "m"}, at_least={"radius": 0.0})
def ground_of(scene: Scene, p: np.ndarray, radius: float) -> Ground:
    """What stands under a vent of that outside ``radius`` [m] at places ``p`` (N, 2) [m]."""
    count = len(p)
    height, at = np.full(count, -np.inf), np.zeros((count, 2))
    thing, pitch = np.full(count, "", object), np.zeros(count)

    def rise(found, where, name):
        higher = found > height
        height[higher], at[higher], thing[higher] = found[higher], where[higher], name

    for plane in scene.planes:
        found, where = highest_within(plane, p, radius)
        pitch[:] = np.where(np.isfinite(found), np.maximum(pitch, plane.pitch), pitch)
        rise(found, where, plane.name)
    for obstacle in scene.obstacles:
        distance, _ = nearest(p, obstacle.shape, obstacle.closed)
        rise(np.where(distance < radius, obstacle.span[1], -np.inf), p, obstacle.name)
    wall = np.full(count, np.inf)
    for obstacle in scene.obstacles:
        distance, _ = nearest(p, obstacle.shape, obstacle.closed)
        stands_up = obstacle.span[1] > height
        wall = np.where(stands_up, np.minimum(wall, distance - radius), wall)
    return Ground(height, at, thing, pitch, wall)


@dataclass(frozen=True, eq=False)
class View:
    """One kind of terminal seen at N places of a scene."""

    scene: Scene
    terminal: Terminal
    p: np.ndarray
    ground: Ground

    def objects(self, rule: Rule) -> list[Placed]:
        """Things of the scene that a rule names."""
        return [t for t in self.scene.placed if set(t.labels) & set(rule.objects)]

    def all(self, value: float) -> np.ndarray:
        """One value for every place (N,)."""
        return np.full(len(self.p), value)


def view_of(scene: Scene, terminal: Terminal, p: np.ndarray) -> View:
    """A terminal seen at places ``p`` (N, 2) [m]."""
    return View(scene, terminal, p, ground_of(scene, p, terminal.radius))


def _above_roof(view: View, rule: Rule) -> list[Span]:
    """Below ``value`` over the highest point where it passes through the roof: three feet for a chimney."""
    g = view.ground
    names = np.unique(g.thing.astype(str))
    name = str(names[0]) if len(names) == 1 else "roof"
    at = np.column_stack([g.at, np.where(np.isfinite(g.height), g.height, 0.0)])
    over = bool(np.isfinite(g.height).any())
    return [Span(name, view.all(-np.inf), g.height + rule.value, view.all(0.0), None, at)] if over else []


def _above_anything(view: View, rule: Rule) -> list[Span]:
    """The 10 ft rule: below ``value`` over the highest point of anything nearer than ``within``, roof or obstacle."""
    reach, r = rule.within, view.terminal.radius
    found = []
    for plane in view.scene.planes:
        height, where = highest_within(plane, view.p, reach + r - EXACT)
        at = np.column_stack([where, np.where(np.isfinite(height), height, 0.0)])
        gap = np.hypot(*(where - view.p).T) - r
        found.append(Span(plane.name, view.all(-np.inf), height + rule.value, gap, reach, at))
    return found + [_over(view, obstacle, rule) for obstacle in view.scene.obstacles]


def _seen(view: View, thing: Placed) -> tuple[np.ndarray, np.ndarray]:
    """Gap (N,) and the governing place (N, 2): the nearest point, or right beside the axis inside an area."""
    distance, where = nearest(view.p, thing.shape, thing.closed)
    return distance - view.terminal.radius, np.where((distance < 0.0)[:, None], view.p, where)


def _over(view: View, thing: Placed, rule: Rule) -> Span:
    """Heights below ``value`` over the top of a thing nearer than ``within``."""
    gap, where = _seen(view, thing)
    top = thing.span[1]
    high = np.where(gap < rule.within - EXACT, top + rule.value, -np.inf)
    return Span(thing.name, view.all(-np.inf), high, gap, rule.within, np.column_stack([where, view.all(top)]))


def _above(view: View, rule: Rule) -> list[Span]:
    """Below ``value`` over the things named that are nearer than ``within``."""
    return [_over(view, thing, rule) for thing in view.objects(rule)]


def _around(view: View, rule: Rule) -> list[Span]:
    """Nearer than ``beside``: from ``below`` under the things named to ``value`` over them."""
    found = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        near = gap < rule.beside - EXACT
        bottom, top = thing.span
        low = np.where(near, bottom - rule.below - view.terminal.cap, np.inf)
        high = np.where(near, top + rule.value, -np.inf)
        level = np.clip(view.terminal.low, bottom, top)
        found.append(Span(thing.name, low, high, gap, rule.beside, np.column_stack([where, view.all(level)])))
    return found


def _away(view: View, rule: Rule) -> list[Span]:
    """Nearer in space than ``value`` to the things named."""
    found = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        bottom, top = thing.span
        rise = np.sqrt(np.maximum(rule.value**2 - np.maximum(gap, 0.0) ** 2, 0.0))
        near = gap < rule.value - EXACT
        low = np.where(near, bottom - rise - view.terminal.cap, np.inf)
        high = np.where(near, top + rise, -np.inf)
        level = np.clip(view.terminal.low, bottom, top)
        found.append(Span(thing.name, low, high, gap, rule.value, np.column_stack([where, view.all(level)])))
    return found


def _beside(view: View, rule: Rule) -> list[Span]:
    """Nearer in plan than ``value`` to the things named, whatever the height."""
    found = []
    for thing in view.objects(rule):
        gap, where = _seen(view, thing)
        # A corner or meter ends somewhere if its top is given; a lot line, a building and a walkway reach up for ever.
        end = thing.span[1] if isinstance(thing, Mark) and thing.kind != "walkway" else np.inf
        high = np.where(gap < rule.value - EXACT, end, -np.inf)
        level = min(end, view.terminal.low)
        found.append(
            Span(thing.name, view.all(-np.inf), high, gap, rule.value, np.column_stack([where, view.all(level)]))
        )
    return found


def _above_grade(view: View, rule: Rule) -> list[Span]:
    """Below ``value`` over finished ground."""
    level = view.scene.ground
    at = np.column_stack([view.p, view.all(level)])
    return [Span("finished ground", view.all(-np.inf), view.all(level + rule.value), view.all(0.0), None, at)]


def _above_outlet(view: View, rule: Rule) -> list[Span]:
    """Below ``value`` over the highest connected draft hood or collar."""
    if view.terminal.hood is None or view.terminal.hooded is False:
        return []
    level = meters(view.terminal.hood, "hood")
    at = np.column_stack([view.p, view.all(level)])
    name = "draft hood or collar"
    return [Span(name, view.all(-np.inf), view.all(level + rule.value), view.all(0.0), None, at)]


_SPANS: dict[str, Callable[[View, Rule], list[Span]]] = {
    "above roof": _above_roof,
    "above anything": _above_anything,
    "above": _above,
    "around": _around,
    "away": _away,
    "beside": _beside,
    "above grade": _above_grade,
    "above outlet": _above_outlet,
}


def spans(view: View, rule: Rule) -> list[Span]:
    """What a row forbids at the places of a view, a span for each thing; its conditions do not count here."""
    return _SPANS[rule.form](view, rule)


def names_kind(rule: Rule, terminal: Terminal) -> bool:
    """Whether a rule is for one of the kinds that a terminal counts as."""
    return bool(set(terminal.kinds) & set(rule.kinds))


def gate_holds(view: View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's conditions on the vent's size and the next wall hold."""
    size, wall = 2.0 * view.terminal.radius, view.ground.wall
    holds = view.all(1.0).astype(bool)
    if rule.diameter_to is not None:
        holds &= size <= rule.diameter_to + EXACT
    if rule.wall_from is not None:
        holds &= wall >= rule.wall_from - EXACT
    if rule.diameter_over is not None or rule.wall_nearer is not None:
        large = rule.diameter_over is not None and size > rule.diameter_over + EXACT
        holds &= large | (wall < (rule.wall_nearer or -np.inf) - EXACT)
    return holds


def row_fits(view: View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's range of pitch and of heat input is the one that counts."""
    fits = view.all(1.0).astype(bool)
    if rule.pitch is not None:
        over, to = (edge + EXACT for edge in rule.pitch)
        fits &= (view.ground.pitch > over) & (view.ground.pitch <= to)
    if rule.input is not None:
        given = view.terminal.input
        fits &= given is not None and rule.input[0] < given <= rule.input[1]
    return fits


def row_reaches(view: View, rule: Rule) -> np.ndarray:
    """Where (N,) a row's figure is the least asked for: also beyond its end, and where the input is not given."""
    reaches = view.all(1.0).astype(bool)
    if rule.pitch is not None:
        reaches &= view.ground.pitch > rule.pitch[0] + EXACT
    if rule.input is not None and view.terminal.input is not None:
        reaches &= rule.input[0] < view.terminal.input
    return reaches


def climb(low: np.ndarray, high: np.ndarray, z: np.ndarray) -> np.ndarray:
    """From heights ``z`` (N,) up to the first that lies in none of the spans ``low`` to ``high`` (K, N)."""
    for _ in range(len(low)):
        caught = (low + EXACT < z) & (z < high - EXACT)
        climbed = np.where(caught, high, -np.inf).max(axis=0, initial=-np.inf)
        if not (climbed > z).any():
            break
        z = np.maximum(z, climbed)
    return z
