"""Permissions: what a design needs somebody to say yes to, and who has said it.

Three kinds. A maker's consent to a **common vent** for an appliance of category II, III or IV, whose instructions
govern its vent. The **listing** of a pipe, by the name of the product and its standards, where a vent rests on more
than one standard or on what the job file says of it. The **authority**'s reading where appliances made for negative
and for positive vent pressure share a vent. What nobody has answered is open: nothing here takes silence for a yes.
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
        if a.category != "I" and any(len(plant.serves(s.name)) > 1 for s in plant.path(a.name)):
            yield Permission("common vent", a.name)


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
    """What the plant needs and nobody has answered among the ``given``.

    A listing counts as answered where it names every standard that the material is taken to be listed to.
    """
    answered = {(p.what, p.of): p for p in given if p.granted is not None}
    return tuple(n for n in needed(plant) if not _answers(answered.get((n.what, n.of)), n))


def _answers(answer: Permission | None, need: Permission) -> bool:
    if answer is None:
        return False
    return answer.granted is False or set(need.standards) <= set(answer.standards)


def refused_permissions(plant: Plant, given: tuple[Permission, ...]) -> tuple[Permission, ...]:
    """What the plant needs and somebody has said no to."""
    wanted = {(n.what, n.of) for n in needed(plant)}
    return tuple(p for p in given if p.granted is False and (p.what, p.of) in wanted)
