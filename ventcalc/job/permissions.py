"""Permissions: what a design needs somebody to say yes to, and who has said it.

Three kinds. A maker's consent to a **common vent** for an appliance of category II, III or IV, whose instructions
govern its vent. The **listing** of a pipe, by the name of the product and its standards, where a vent rests on more
than one standard or on what the job file says of it. The **authority**'s reading where appliances made for negative
and for positive vent pressure share a vent. What nobody has answered is open: nothing here takes silence for a yes.
A no counts wherever what it is about is in the plant, and so does a question that the file itself calls open, whether
or not these rules would have asked: a maker may refuse a common vent of category I, an authority any termination.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from ventcalc.flow import materials
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.vent.layout import Plant

KINDS = ("common vent", "listing", "authority")


@dataclass(frozen=True)
class Permission:
    """A permission: ``what``, one of `KINDS`, and what it is ``of``: an appliance, a material, a termination.

    ``granted``: True, False, or None while nobody has answered. ``by``: who answered, and in what paper.
    ``standards``: those that the listing of a pipe names.
    """

    what: str
    of: str
    granted: bool | None = None
    by: str = ""
    standards: tuple[str, ...] = ()

    def __post_init__(self):
        if self.what not in KINDS:
            raise ValueError(f"what {self.what!r}; choose {', '.join(KINDS)}")
        if self.granted is not None and not self.by.strip():
            raise ValueError(f"{self.what} of {self.of!r}: it is answered, but not by whom; give by, with the paper")
        if self.standards and self.what != "listing":
            raise ValueError(f"{self.what} of {self.of!r}: standards belong to a listing")


def needed(plant: Plant) -> tuple[Permission, ...]:
    """The permissions that a plant needs, all of them open."""
    return tuple(dict.fromkeys((*_consents(plant), *_listings(plant), *_readings(plant))))


def _consents(plant: Plant) -> Iterator[Permission]:
    for a in plant.appliances:
        if a.category != "I" and _shares(plant, a.name):
            yield Permission("common vent", a.name)


def _shares(plant: Plant, appliance: str) -> bool:
    """Whether an appliance leads into a vent that serves another as well."""
    return any(len(plant.serves(s.name)) > 1 for s in plant.path(appliance))


def _listings(plant: Plant) -> Iterator[Permission]:
    for m in (s.material for s in plant.order):
        if len(m.standards) > 1 or (m.standards and m.name not in materials.names()):
            yield Permission("listing", m.name, standards=m.standards)


def _readings(plant: Plant) -> Iterator[Permission]:
    for section in plant.order:
        served = plant.serves(section.name)
        if len({CATEGORIES[a.category].positive for a in served}) > 1:
            yield Permission("authority", plant.path(served[0].name)[-1].into)


def open_permissions(plant: Plant, given: tuple[Permission, ...]) -> tuple[Permission, ...]:
    """What the plant needs and nobody has answered among the ``given``, and what those call open themselves.

    A listing counts as answered where it names every standard that the material is taken to be listed to.
    """
    answered = {(p.what, p.of): p for p in given if p.granted is not None}
    missing = [n for n in needed(plant) if not _answers(answered.get((n.what, n.of)), n)]
    named = {(n.what, n.of) for n in missing}
    asked = [p for p in given if p.granted is None and (p.what, p.of) not in named and _concerns(p, plant)]
    return (*missing, *asked)


def _answers(answer: Permission | None, need: Permission) -> bool:
    if answer is None:
        return False
    return answer.granted is False or set(need.standards) <= set(answer.standards)


def refused_permissions(plant: Plant, given: tuple[Permission, ...]) -> tuple[Permission, ...]:
    """What somebody has said no to and the plant still has, needed by the rules or not."""
    return tuple(p for p in given if p.granted is False and _concerns(p, plant))


def _concerns(p: Permission, plant: Plant) -> bool:
    """Whether what a permission is about is in the plant: an appliance on a shared vent, a pipe, a termination."""
    if p.what == "common vent":
        return any(a.name == p.of and _shares(plant, a.name) for a in plant.appliances)
    if p.what == "listing":
        return any(s.material.name == p.of for s in plant.sections)
    return any(t.name == p.of for t in plant.terminations)
