"""Single vent: the plant of one appliance on its own vent, and which of its sections rises and which runs."""

from dataclasses import replace

from ventcalc.door import door
from ventcalc.flow.materials import Material
from ventcalc.gas.appliance import Appliance
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.pieces import goes_on, is_upright


@door(
    height="m",
    diameter="m",
    run="m",
    connector_diameter="m",
    altitude="m",
    above={"height": 0.0, "diameter": 0.0, "connector_diameter": 0.0},
    at_least={"run": 0.0},
)
def single_vent(
    appliance: Appliance,
    height: Quantity,
    diameter: Quantity,
    material: Material,
    run: Quantity = Q_(0.0, "ft"),
    connector: Material | None = None,
    connector_diameter: Quantity | None = None,
    fittings: tuple[str, ...] = (),
    cap: str = "low-resistance cap",
    place: str = "room",
    altitude: Quantity = Q_(0.0, "ft"),
) -> Plant:
    """The plant of one appliance on a level ``run`` with its ``fittings`` and then a rise of ``height`` to the cap.

    ``height`` is from the outlet (or its draft hood) to the cap, as code tables count it; ``place`` is what surrounds
    the rise. A ``connector`` of its own material and diameter serves the run. The room is open to outdoors at the
    outlet's height.
    """
    level = Section(
        "run", run, Q_(0.0, "m"), connector_diameter or diameter, connector or material, "rise", fittings=fittings
    )
    rise = Section("rise", height, height, diameter, material, "top", place=place)
    return Plant(
        name=f"{appliance.name} on its vent",
        altitude=altitude,
        opening_height=appliance.outlet_height,
        appliances=(appliance,),
        feeds=("run",),
        sections=(level, rise),
        terminations=(Termination("top", cap),),
    )


def with_joined_rise(plant: Plant) -> Plant:
    """The plant with its last upright sections as one, where they follow each other and nothing tells them apart: bore,
    material and what surrounds them are the same. The one has the name of the lowest."""
    while len(way := path(plant)) > 1 and is_upright(way[-1]) and goes_on(*way[-2:]):
        lower, upper = way[-2:]
        one = replace(
            lower,
            length=lower.length + upper.length,
            rise=lower.rise + upper.rise,
            into=upper.into,
            fittings=lower.fittings + upper.fittings,
            obstruction=lower.obstruction + upper.obstruction,
        )
        others = tuple(s for s in plant.sections if s not in (lower, upper))
        plant = replace(plant, sections=(*others, one))
    return plant


def rise_section(plant: Plant) -> Section:
    """The last upright section before the termination: the one whose height is asked for."""
    upright = [s for s in path(plant) if is_upright(s)]
    if not upright:
        raise ValueError(f"{plant.name}: no section of the vent is upright; draw the one whose height is asked for")
    return upright[-1]


def run_section(plant: Plant) -> Section:
    """The longest section that is not upright: the one whose run is asked for."""
    level = [s for s in path(plant) if abs(s.rise.m_as("m")) < 0.9 * s.length.m_as("m") or s.length.m_as("m") == 0.0]
    if not level:
        raise ValueError(f"{plant.name}: every section of the vent is upright; draw the run that is asked for")
    return max(level, key=lambda s: s.length.m_as("m"))


def path(plant: Plant) -> tuple[Section, ...]:
    """The sections of a plant of one appliance, from its outlet on; ValueError where there are more."""
    if len(plant.appliances) != 1:
        raise ValueError(
            f"{plant.name} has {len(plant.appliances)} appliances; these questions are for one on its own vent "
            "(common_vent.solve takes many)"
        )
    return plant.path(plant.appliances[0].name)


@door(heat_input="W", above={"heat_input": 0.0})
def with_input(plant: Plant, heat_input: Quantity) -> Plant:
    """The plant with another heat input of its appliance's highest level; its flue gas stays as it is per heat."""
    appliance = plant.appliances[0]
    levels = (*appliance.levels[:-1], replace(appliance.levels[-1], heat_input=heat_input))
    return replace(plant, appliances=(replace(appliance, levels=levels),))
