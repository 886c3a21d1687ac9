"""Flue liner: for a flue of heavy masonry that fails, the smallest liner that keeps the rule, carries the input and is
dry.
"""

from dataclasses import dataclass

from ventcalc.door import door
from ventcalc.draft.light_off import one_flue
from ventcalc.draft.oversized_flue import area_of
from ventcalc.draft.wall_lag import heavy
from ventcalc.flow import materials
from ventcalc.tables import row
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.vent import cold_start, nominal_sizes, single_vent, vent_at_work, vent_sizing
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.pieces import is_upright

LINERS = ("Type B gas vent", "insulated chimney")  # what a flue of category I is lined with


@dataclass(frozen=True)
class Liner:
    """A flue ``section`` lined with a ``material`` of a ``diameter`` [m]; each figure that of the season worst for it.

    ``ratio`` of areas against ``times`` allowed, ``capacity`` [W] as the liner is and ``needed`` where it may be
    corrugated (`capacity_rules`), ``clearance`` [K] of the coldest wall above the dew point, hot, and the water that
    ``drained`` [kg/s] runs down.
    """

    section: str
    material: str
    diameter: float
    ratio: float
    times: float
    capacity: float
    needed: float
    clearance: float
    drained: float

    @property
    def dry(self) -> bool:
        """Whether the whole wall stays above the dew point in every season."""
        return self.clearance >= 0.0

    @property
    def fits(self) -> bool:
        """Whether it keeps the rule, carries the input and is dry."""
        return self.ratio <= self.times * (1.0 + 1e-9) and self.capacity >= self.needed and self.dry


def liners_of(
    plant: Plant, seasons: tuple[Season, ...], failing: set[str], cold_start: bool = False
) -> tuple[Liner, ...]:
    """Liners for the heavy flue of one hood, what fits first; empty where it does not fail, or there is no such flue.

    ``failing``: names of sections too large or wet; ``cold_start``: whether some start fails. One liner for each of
    `LINERS`: the smallest size sold, no smaller than the outlet, that carries the input in every season. A larger one
    would be wetter, so that where it is not dry none of that material is.
    """
    upright = {s.name for s in plant.order if is_upright(s)}
    plant = one_flue(plant)
    if plant is None:
        return ()
    if not heavy(single_vent.rise_section(plant)) or not (cold_start or upright & failing):
        return ()
    found = [_smallest(plant, seasons, materials.material(name)) for name in LINERS]
    return tuple(sorted((x for x in found if x), key=lambda x: (not x.fits, x.diameter)))


def _smallest(plant: Plant, seasons, material: materials.Material) -> Liner | None:
    unit, sizes = nominal_sizes.SIZES["US"]
    least = plant.appliances[0].outlet_diameter.m_as(unit) * (1.0 - 1e-9)
    most = single_vent.rise_section(plant).diameter.m_as(unit)
    for size in (s for s in sizes if least <= s <= most):
        found = lined(plant, seasons, Q_(float(size), unit), material)
        if found is None or found.ratio > found.times:
            continue
        if found.capacity >= found.needed:
            return found
    return None


@door(diameter="m", above={"diameter": 0.0})
def lined(plant: Plant, seasons: tuple[Season, ...], diameter: Quantity, material: materials.Material) -> Liner | None:
    """The flue of one appliance with a liner of a ``diameter``; None where in some season no input makes it draw."""
    magnitude(diameter, ureg.Unit("m"), "diameter of the liner")
    changed = cold_start.with_flue(plant, diameter, material)
    try:
        capacity = min(float(vent_sizing.capacity(changed, s).m_as("W")) for s in seasons)
    except vent_sizing.NoAnswer:
        return None
    runs = [vent_at_work.operate(changed, s) for s in seasons]
    section = single_vent.rise_section(changed)
    rule = area_of(changed, section)
    spared = 1.0 - float(row("capacity_rules", "corrugated", "name")["value"]) / 100.0
    k = changed.row(section.name)
    return Liner(
        section.name,
        material.name,
        float(diameter.m_as("m")),
        rule.ratio,
        rule.times,
        capacity,
        float(plant.appliances[0].levels[-1].heat_input.m_as("W")) / spared,
        min(float((r.wall - r.dew_point).m_as("delta_degC")) for r in runs),
        max(float(r.solution.drained[k, 0]) for r in runs),
    )
