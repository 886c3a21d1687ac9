"""Vent changes: the same vent with other sizes, junctions, heights, a liner or another cap; how much of it is new.

Every change makes a new `layout.Plant` of a drawn one. What differs between two (`differences`) and how much pipe has
to be made anew (`new_pipe`) is read from the drawings themselves. A section's **part** is what is changed together
with it: the runs of one size that single appliances have for themselves, the header, the stack.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.draft import held_pressure
from ventcalc.draft.wall_lag import heavy
from ventcalc.flow import fittings, materials
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.units import Q_, Quantity
from ventcalc.vent import area_rule, pieces
from ventcalc.vent.layout import OUTDOORS, Plant, Section
from ventcalc.vent.solution import Solution

# Round vents as they are sold (common practice, no source), inches and millimeters.
INCHES = (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 36, 40, 44, 48)
MILLIMETERS = (80, 100, 110, 125, 130, 140, 150, 160, 180, 200, 225, 250, 300, 350, 400, 450, 500, 550, 600, 700, 800)

SQUARE = ("straight tee", "boot tee")  # branches that enter at a right angle
# What a masonry flue is lined with, the first that may serve the categories (common practice, no source).
LINERS = ("Type B gas vent", "Type L vent", "stainless special gas vent single wall")
CAP = "low-resistance cap"  # the one that costs least and keeps rain out

# A new junction or cap counts as so many diameters of pipe (common practice, no source).
PIECE = 2.0

STILL = 1.0  # Pa; a change that brings less is none


# --- Which sections belong together -------------------------------------------------------------------------


def shared(plant: Plant) -> tuple[Section, ...]:
    """Header and stack: the sections that begin at a junction, and all behind them; of a single appliance, the vent."""
    if len(plant.appliances) == 1:
        return plant.order
    found: list[Section] = []
    for section in plant.order:
        upstream = plant.upstream(section.name)
        if any(u.junction or u in found for u in upstream):
            found.append(section)
    return tuple(found)


def connectors(plant: Plant) -> tuple[str, ...]:
    """Names of the sections that single appliances have for themselves beside what they share; none of a single one."""
    common = shared(plant)
    return tuple(s.name for s in plant.order if s not in common)


def parts(plant: Plant) -> dict[str, tuple[str, ...]]:
    """Names of the sections of every part: "connectors ..." by size, "header", "stack", "header and stack"; "vent".

    A single appliance has one part, its vent.
    """
    if len(plant.appliances) == 1:
        return {"vent": tuple(s.name for s in plant.order)}
    common = [s.name for s in shared(plant)]
    found: dict[str, tuple[str, ...]] = {}
    for name in connectors(plant):
        key = f"connectors of {plant.section(name).diameter.m_as('mm'):.0f} mm"
        found[key] = (*found.get(key, ()), name)
    base = held_pressure.stack_base(plant)  # the header's end, or where there is none the stack's own foot
    last = common.index(base) + (not _is_foot(plant, base)) if base in common else 0
    parted = {"header": tuple(common[:last]), "stack": tuple(common[last:]), "header and stack": tuple(common)}
    return found | {key: names for key, names in parted.items() if names}


def _is_foot(plant: Plant, base: str) -> bool:
    """Whether the section before which the header ends is the foot of the stack, no header's end."""
    return pieces.is_upright(plant.section(base))


# --- One change ---------------------------------------------------------------------------------------------


def tried(change: Callable[..., Plant], plant: Plant, *by) -> Plant | None:
    """The plant changed, or None where it cannot be."""
    try:
        return change(plant, *by)
    except ValueError:
        return None


def wider(plant: Plant, steps: int) -> Plant:
    """The plant with its shared sections that many sizes of their series larger.

    Raises ValueError where the series ends.
    """
    return sized(plant, tuple(s.name for s in shared(plant)), steps)


def sized(plant: Plant, names: tuple[str, ...], steps: int) -> Plant:
    """The plant with the sections named that many sizes of their series larger, or (``steps`` negative) smaller.

    Raises ValueError where the series ends, for a masonry flue that would have to grow, and where gas would then flow
    from a wider section into a narrower one that was not so before.
    """
    masonry = [s.name for s in plant.sections if s.name in names and heavy(s)]
    if masonry:
        raise ValueError(f"{masonry[0]} is of masonry: it can be lined, not made another size")
    changed = _with(plant, {n: {"diameter": size(plant.section(n).diameter, steps)} for n in names})
    before, after = _narrowings(plant), _narrowings(changed)
    worse = [name for name, ratio in after.items() if ratio > before.get(name, 1.0) * 1.001]
    if worse:
        into = changed.section(changed.section(worse[0]).into)
        raise ValueError(f"{worse[0]} would be wider than {into.name}, into which it leads")
    return changed


def _narrowings(plant: Plant) -> dict[str, float]:
    """Diameter of a section over that of the one it leads into, by its name, where that is narrower."""
    ends = {t.name for t in plant.terminations}
    ratios = {
        s.name: float((s.diameter / plant.section(s.into).diameter).m_as("")) for s in plant.order if s.into not in ends
    }
    return {name: ratio for name, ratio in ratios.items() if ratio > 1.001}


@door(diameter="m", above={"diameter": 0.0})
def size(diameter: Quantity, steps: int) -> Quantity:
    """A size of the series that the diameter is given in: inches where it is in inches or a whole number of them.

    ``steps`` above it, or below it where negative. Raises ValueError where the series ends.
    """
    inches = float(diameter.m_as("inch"))
    given_so = str(diameter.units) in ("inch", "foot") or abs(inches - round(inches)) < 0.01
    series, unit = (INCHES, "inch") if given_so else (MILLIMETERS, "mm")
    here = diameter.m_as(unit)
    on_side = [s for s in series if s > here * 1.001] if steps > 0 else [s for s in series if s < here * 0.999][::-1]
    if len(on_side) < abs(steps):
        where, end = ("above", series[-1]) if steps > 0 else ("below", series[0])
        raise ValueError(f"the series of vents ends at {end} {unit}: none {abs(steps)} {where} {diameter:.4g~P}")
    return Q_(float(on_side[abs(steps) - 1]), unit)


def with_laterals(plant: Plant) -> Plant:
    """The plant with a lateral wherever a branch now enters square, by a straight or a boot tee."""
    return _with(plant, {s.name: {"junction": "lateral"} for s in plant.sections if s.junction in SQUARE})


def with_top(plant: Plant, factor: float) -> Plant:
    """The plant with its last section so many times as high, in however many like pieces that is drawn; its foot, where
    a device may stand, stays as it is.

    Raises ValueError where that section does not stand upright, is of masonry and would grow, or is to be cut indoors,
    where the vent would then end.
    """
    whole = pieces.one_piece(plant, held_pressure.before_termination(plant))
    top = whole[-1]
    if not pieces.is_upright(top):
        raise ValueError(f"{top.name} does not rise upright: no stack to make taller or shorter")
    if factor < 1.0 and top.place != OUTDOORS:
        raise ValueError(f"{top.name} is indoors: cut shorter, the vent might end in the building")
    if heavy(top):
        raise ValueError(f"{top.name} is of masonry: its height stays")
    above = [s for s in whole if s.name != held_pressure.stack_base(plant)] or whole
    grows = (factor - 1.0) * sum(s.rise for s in whole) / sum(s.rise for s in above)
    more = {s.name: grows * s.rise for s in above}
    return _with(plant, {s.name: {"rise": s.rise + more[s.name], "length": s.length + more[s.name]} for s in above})


def with_free_end(plant: Plant) -> Plant:
    """The plant without the cap where its header ends: a roof fan stands there instead."""
    return _capped(plant, "open end")


def with_cap(plant: Plant) -> Plant:
    """The plant with the cap that costs least (`CAP`) where its header ends, in place of one that costs more."""
    end = plant.section(held_pressure.before_termination(plant)).into
    cap = next(t.cap for t in plant.terminations if t.name == end)
    upright = plant.section(held_pressure.before_termination(plant)).rise.m > 0.0
    better = fittings.fitting(cap).loss > fittings.fitting(CAP).loss and upright
    return _capped(plant, CAP) if better else plant


def _capped(plant: Plant, cap: str) -> Plant:
    end = plant.section(held_pressure.before_termination(plant)).into
    ends = tuple(replace(t, cap=cap) if t.name == end else t for t in plant.terminations)
    return replace(plant, terminations=ends)


@door(diameter="m", above={"diameter": 0.0})
def lined(plant: Plant, diameter: Quantity) -> Plant:
    """The plant with a liner of that diameter in its masonry flue.

    Raises ValueError where it has none, the liner does not go in, or is narrower than what leads into it.
    """
    masonry = [s for s in plant.order if heavy(s)]
    if not masonry:
        raise ValueError(f"{plant.name}: no flue of masonry to line")
    served = [a for s in masonry for a in plant.serves(s.name)]
    categories, fuels = {c for a in served for c in a.listed_categories}, {a.fuel.kind for a in served}
    kinds = [m for m in map(materials.material, LINERS) if categories <= {*m.categories} and fuels <= {*m.fuels}]
    if not kinds:
        words = f"categories {', '.join(sorted(categories))} and fuels {', '.join(sorted(fuels))}"
        raise ValueError(f"{plant.name}: no liner may serve {words}")
    if any(diameter.m_as("m") >= s.diameter.m_as("m") for s in masonry):
        raise ValueError(f"a liner of {diameter:.4g~P} does not go into {masonry[0].name}")
    changed = _with(plant, {s.name: {"diameter": diameter, "material": kinds[0]} for s in masonry})
    if set(_narrowings(changed)) - set(_narrowings(plant)):
        raise ValueError(f"a liner of {diameter:.4g~P} is narrower than what leads into it")
    return changed


def _with(plant: Plant, changes: dict[str, dict]) -> Plant:
    if not changes:
        return plant
    return replace(plant, sections=tuple(replace(s, **changes.get(s.name, {})) for s in plant.sections))


# --- Is it too large? ---------------------------------------------------------------------------------------


def natural(plant: Plant) -> bool:
    """Whether every appliance is made for a vent under draft: the vent is natural draft's, and may be too large."""
    return all(not CATEGORIES[a.category].positive for a in plant.appliances)


def stack_and_outlet(plant: Plant) -> tuple[Quantity, Quantity]:
    """Area of the stack, and of the smallest outlet, that `area_rule` is about."""
    stack = plant.section(held_pressure.before_termination(plant))
    smallest = min(float(a.outlet_diameter.m_as("m")) for a in plant.appliances)
    return Q_(stack.area, "m**2"), Q_(float(area_rule.round_area.bare(smallest)), "m**2")


def breaks_area_rule(plant: Plant) -> bool:
    """Whether the stack's area is more than the code's `area_rule.times` the smallest outlet's."""
    return not area_rule.allows(*stack_and_outlet(plant))


# --- Where the losses are -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Losses:
    """What an outlet's way to the open costs in one state [Pa], by the name of the section.

    ``own`` within each section, ``joining`` between its end and the next one's beginning: the junction, and the change
    of size. ``cap`` at the termination.
    """

    own: dict[str, float]
    joining: dict[str, float]
    cap: float


def losses(solution: Solution, appliance: str, state: int) -> Losses:
    """Where the losses of an outlet's way are, in one solved state."""
    plant = solution.plant
    path = plant.path(appliance)
    own, joining = {}, {}
    for section, following in zip(path, (*path[1:], None), strict=True):
        row = plant.row(section.name)
        own[section.name] = float(solution.loss[row, state])
        if following is not None:
            ahead = solution.pressure_up[plant.row(following.name), state]
            joining[section.name] = float(solution.pressure_down[row, state] - ahead)
    end = next(t for t in plant.terminations if t.name == path[-1].into)
    cap = fittings.fitting(end.cap).loss * float(solution.head_down[plant.row(path[-1].name), state])
    return Losses(own, joining, cap)


def relief(plant: Plant, changed: Plant, found: Losses) -> float:
    """About how much of an outlet's losses [Pa] a change would take away: what to look at first, and no result.

    Losses go with the diameter to the fourth power at one flow; a lateral takes about half of what a square branch
    costs (common practice, no source).
    """
    total = 0.0
    for section in changed.sections:
        was = plant.section(section.name)
        narrower = float((was.diameter / section.diameter).m_as("")) ** 4
        total += (1.0 - narrower) * found.own.get(section.name, 0.0)
        joining = max(found.joining.get(section.name, 0.0), 0.0)
        squared = was.junction in SQUARE and section.junction not in SQUARE
        total += joining * (0.5 if squared else 0.0)
        if section.into in {s.name for s in changed.sections}:
            into = float((plant.section(section.into).diameter / changed.section(section.into).diameter).m_as("")) ** 4
            total += 0.5 * joining * (1.0 - into)
    caps = [tuple(fittings.fitting(t.cap).loss for t in p.terminations) for p in (plant, changed)]
    lower = max((b - a for b, a in zip(*caps, strict=True)), default=0.0)
    return total + (found.cap if lower > 0.0 else 0.0)


# --- What differs ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Difference:
    """One thing that is built otherwise than drawn: ``kind``, the ``sections``, what it was and what it is.

    ``kind`` "size" (diameters), "junction" (names), "height" (rises), "material" (names) or "cap" (names; its
    "section" is the termination).
    """

    kind: str
    sections: tuple[str, ...]
    before: Quantity | str
    after: Quantity | str


def differences(drawn: Plant, plant: Plant) -> tuple[Difference, ...]:
    """What differs between two drawings of the same sections, those that change alike in one entry."""
    found: dict[tuple, list[str]] = {}
    for was, now in zip(drawn.sections, plant.sections, strict=True):
        for kind, name in (
            ("size", "diameter"),
            ("junction", "junction"),
            ("height", "rise"),
            ("material", "material"),
        ):
            before, after = (getattr(s, name) for s in (was, now))
            if kind == "material":
                before, after = before.name, after.name
            if before != after:
                found.setdefault((kind, str(before), str(after), before, after), []).append(was.name)
    for was, now in zip(drawn.terminations, plant.terminations, strict=True):
        if was.cap != now.cap:
            found.setdefault(("cap", was.cap, now.cap, was.cap, now.cap), []).append(was.name)
    return tuple(Difference(kind, tuple(names), before, after) for (kind, *_, before, after), names in found.items())


def new_pipe(drawn: Plant, plant: Plant) -> float:
    """Inner area [m2] of all pipe that has to be made anew; a new junction or cap counts as a `PIECE` of its size.

    Of a section that only grows, what is added; of one that is cut, a piece. What is of one bore is one in this, in
    however many pieces it is drawn.
    """
    total, added = 0.0, {}
    for was, now in zip(drawn.sections, plant.sections, strict=True):
        diameter, length = (float(getattr(now, n).m_as("m")) for n in ("diameter", "length"))
        anew = was.diameter != now.diameter or was.material != now.material
        if anew:
            total += np.pi * diameter * length
        elif was.length != now.length:
            added[diameter] = added.get(diameter, 0.0) + length - float(was.length.m_as("m"))
        if was.junction != now.junction:
            total += np.pi * diameter * PIECE * diameter
    total += sum(np.pi * diameter * max(length, PIECE * diameter) for diameter, length in added.items())
    for was, now in zip(drawn.terminations, plant.terminations, strict=True):
        if was.cap != now.cap:
            diameter = float(next(s for s in plant.sections if s.into == now.name).diameter.m_as("m"))
            total += np.pi * diameter * PIECE * diameter
    return float(total)


def rise_behind_header(plant: Plant) -> tuple[float, float]:
    """Rise [m] of all behind the header, and of the last section alone, in however many like pieces."""
    top = held_pressure.before_termination(plant)
    base = held_pressure.stack_base(plant)
    low, high = plant.heights[base][0 if _is_foot(plant, base) else 1], plant.heights[top][1]
    return high - low, float(sum(s.rise.m_as("m") for s in pieces.one_piece(plant, top)))
