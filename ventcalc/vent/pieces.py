"""Pieces: which sections of a drawing are one piece of vent, in however many it is drawn."""

from dataclasses import replace
from functools import lru_cache

from ventcalc.vent.layout import Plant, Section

ALIKE = 1e-6  # of a rise per length: a slope that two drawings tell in other units


def is_upright(section: Section) -> bool:
    """Whether a section rises, and along nearly all of its length."""
    rise, length = section.rise.m_as("m"), section.length.m_as("m")
    return rise > 0.0 and rise >= 0.9 * length


def goes_on(lower: Section, upper: Section) -> bool:
    """Whether the upper of two sections is more of the lower: bore, material and what surrounds them are the same, no
    branch joins between them, and both are upright, or as steep as each other without a fitting where they meet."""
    same = all(getattr(lower, n) == getattr(upper, n) for n in ("diameter", "material", "place"))
    straight = (is_upright(lower) and is_upright(upper)) or (not upper.fittings and _as_steep(lower, upper))
    return same and lower.junction is None and straight


def _as_steep(*both: Section) -> bool:
    slopes = [float(s.rise.m_as("m")) / max(float(s.length.m_as("m")), 1e-9) for s in both]
    return abs(slopes[0] - slopes[1]) <= ALIKE


@lru_cache(maxsize=256)  # quantities take long to compare, and a vent is asked again and again
def one_piece(plant: Plant, name: str) -> tuple[Section, ...]:
    """All sections of the piece that the one named is of, the lowest first."""
    found, ends = [plant.section(name)], {t.name for t in plant.terminations}
    while len(before := plant.upstream(found[0].name)) == 1 and goes_on(before[0], found[0]):
        found.insert(0, before[0])
    while found[-1].into not in ends and len(plant.upstream(found[-1].into)) == 1:
        following = plant.section(found[-1].into)
        if not goes_on(found[-1], following):
            break
        found.append(following)
    return tuple(found)


def first_common(plant: Plant) -> str:
    """The first section that carries all that the end of the header carries in the end."""
    name, ends = plant.far_end, {t.name for t in plant.terminations}
    way = [name]
    while plant.section(way[-1]).into not in ends:
        way.append(plant.section(way[-1]).into)
    carried = [len(plant.serves(each)) for each in way]
    return way[carried.index(carried[-1])]


def with_foot(plant: Plant) -> Plant:
    """The plant with its stack cut one diameter above its foot, where appliances meet at the foot itself, or one stands
    right under it.

    A device at the foot stands at the end of a section: uncut, that would be the top of the stack. Where they meet in a
    level run nothing is cut, nor where a lone appliance has a riser of its own below its stack, nor a section that is
    hardly longer than such a foot.
    """
    base = plant.section(first_common(plant))
    share = float((base.diameter / base.length).m_as("")) if base.length.m > 0.0 else 1.0
    riser = len(plant.appliances) == 1 and base.into not in {t.name for t in plant.terminations}
    if riser or not is_upright(base) or share > 0.5:
        return plant
    name = f"foot of {base.name}"
    while name in _names(plant):
        name = f"lower {name}"
    foot = replace(base, name=name, length=share * base.length, rise=share * base.rise, into=base.name,
                   fittings=(), junction=None, obstruction=0.0)  # fmt: skip
    rest = replace(base, length=base.length - foot.length, rise=base.rise - foot.rise)
    moved = (rest if s is base else replace(s, into=name) if s.into == base.name else s for s in plant.sections)
    sections = [piece for s in moved for piece in ((foot, s) if s is rest else (s,))]
    feeds = tuple(name if f == base.name else f for f in plant.feeds)
    return replace(plant, sections=tuple(sections), feeds=feeds)


def _names(plant: Plant) -> set[str]:
    return {x.name for part in (plant.sections, plant.terminations, plant.appliances) for x in part}
