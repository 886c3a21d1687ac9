"""Pieces: which sections of a drawing are one piece of vent, in however many it is drawn."""

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
