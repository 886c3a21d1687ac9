"""Oversized flue: every upright section of a plant against the code's cap on its area (`area_rule`)."""

from dataclasses import dataclass

from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.tables import row
from ventcalc.units import Q_
from ventcalc.vent import area_rule
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.pieces import is_upright


@dataclass(frozen=True)
class AreaRule:
    """One upright ``section`` against the cap on its area, ``times`` that of the smallest outlet on it.

    Areas [m2]; ``rule`` is the row of ``data/vent/capacity_rules.csv``, with its ``source`` and ``status``.
    """

    section: str
    appliance: str
    flue_area: float
    outlet_area: float
    times: float
    rule: str
    source: str
    status: str

    @property
    def ratio(self) -> float:
        """Flue area over outlet area."""
        return self.flue_area / self.outlet_area

    @property
    def keeps(self) -> bool:
        """Whether the flue is no larger than the rule allows."""
        return area_rule.allows(Q_(self.flue_area, "m**2"), Q_(self.outlet_area, "m**2"), self.rule)


def naturally_drafted(plant: Plant) -> tuple[int, ...]:
    """Rows of the appliances that need draft: with a hood or a regulator, or of category I."""
    return tuple(i for i, a in enumerate(plant.appliances) if a.kind in ENTRY_LOSS or a.category == "I")


def areas_of(plant: Plant) -> tuple[AreaRule, ...]:
    """Every upright section that serves an appliance on natural draft, against the smallest outlet on it."""
    names = {plant.appliances[i].name for i in naturally_drafted(plant)}
    return tuple(
        area_of(plant, section)
        for section in plant.order
        if is_upright(section) and names & {a.name for a in plant.serves(section.name)}
    )


def area_of(plant: Plant, section: Section) -> AreaRule:
    """One section against the cap, by the smallest outlet on it."""
    served = plant.serves(section.name)
    smallest = min(served, key=lambda a: a.outlet_diameter.m_as("m"))
    rule = "area" if len(served) > 1 else "area one appliance"
    told = row("capacity_rules", rule, "name")
    flue, outlet = (float(area_rule.round_area(s).m_as("m**2")) for s in (section.diameter, smallest.outlet_diameter))
    return AreaRule(
        section.name, smallest.name, flue, outlet, area_rule.times(rule), rule, told["source"], told["status"]
    )
