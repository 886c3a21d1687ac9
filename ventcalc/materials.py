"""Materials: what a vent is made of, and whether it may carry this gas.

Plain plastic plumbing pipe is not a listed vent; it is allowed only where the appliance's own listing
names it. The listing of the product bought, the appliance's instructions and the local code govern: the
ratings here are a kind's usual ones.

`layers` gives the wall of each, layer by layer, with what it weighs and holds: heat loss asks for it when a stack
warms up.
"""

from dataclasses import dataclass

from ventcalc import tables
from ventcalc.units import Q_, Quantity, show


@dataclass(frozen=True)
class Material:
    """One row of ``data/materials.csv``: ratings as quantities, ``categories`` it may serve."""

    name: str
    listing: str
    roughness: Quantity
    wall_resistance: Quantity
    diameter_ratio: float
    max_temperature: Quantity
    max_pressure: Quantity
    condensate: bool
    categories: tuple[str, ...]
    source: str
    status: str
    note: str


@dataclass(frozen=True)
class Layer:
    """One layer of a wall, as a row of ``data/walls.csv``: what it is made of, how thick, and what heat does in it."""

    what: str
    thickness: Quantity
    conductivity: Quantity
    density: Quantity
    specific_heat: Quantity


def names() -> tuple[str, ...]:
    """Names of the known materials."""
    return tuple(row["name"] for row in tables.read("materials"))


def material(name: str) -> Material:
    """The material of that name; ValueError lists the known names."""
    if name not in names():
        raise ValueError(f"unknown material {name!r}; known are: {', '.join(names())}")
    row = tables.row("materials", name, "name")
    return Material(
        name=name,
        listing=row["listing"],
        roughness=Q_(float(row["roughness_mm"]), "mm"),
        wall_resistance=Q_(float(row["wall_resistance_m2K_W"]), "m**2*K/W"),
        diameter_ratio=float(row["outer_over_inner_diameter"]),
        max_temperature=Q_(float(row["max_temperature_C"]), "degC"),
        max_pressure=Q_(float(row["max_pressure_Pa"]), "Pa"),
        condensate=row["condensate"] == "yes",
        categories=tuple(row["categories"].split()),
        source=row["source"],
        status=row["status"],
        note=row["note"],
    )


def layers(name: str) -> tuple[Layer, ...]:
    """The layers of that material's wall, from the inside out; ValueError lists the known names."""
    material(name)
    rows = sorted((r for r in tables.read("walls") if r["material"] == name), key=lambda r: int(r["layer"]))
    return tuple(
        Layer(
            what=row["what"],
            thickness=Q_(float(row["thickness_mm"]), "mm"),
            conductivity=Q_(float(row["conductivity_W_mK"]), "W/(m*K)"),
            density=Q_(float(row["density_kg_m3"]), "kg/m**3"),
            specific_heat=Q_(float(row["specific_heat_J_kgK"]), "J/(kg*K)"),
        )
        for row in rows
    )


def objections(
    material: Material,
    categories: tuple[str, ...],
    hottest: Quantity,
    highest_pressure: Quantity,
    condensing: bool,
    system: str = "US",
) -> tuple[str, ...]:
    """Why a material may not serve here, one sentence each; empty where nothing speaks against it.

    ``categories`` of the appliances it carries, ``hottest`` gas temperature, ``highest_pressure`` (gauge,
    against its surroundings) and whether water condenses in it. ``system`` sets the units of the
    sentences. Pressure within 0.1 Pa of the rating counts as met.
    """
    found = []
    refused = [c for c in dict.fromkeys(categories) if c not in material.categories]
    if refused:
        found.append(f"{material.name} may serve category {', '.join(material.categories)}, not {', '.join(refused)}")
    if hottest.m_as("K") > material.max_temperature.m_as("K"):
        rated = show(material.max_temperature, system)
        found.append(f"gas at {show(hottest, system)} is hotter than the {rated} it is rated for")
    if highest_pressure.m_as("Pa") > material.max_pressure.m_as("Pa") + 0.1:
        rated = show(material.max_pressure, system)
        found.append(f"pressure reaches {show(highest_pressure, system)}, above its class of {rated}")
    if condensing and not material.condensate:
        found.append("water condenses in it and it is not made for condensate")
    if material.listing.startswith("none") and set(categories) & {"II", "III", "IV"}:
        found.append("not a listed vent by itself: allowed only where the appliance's own listing names it")
    return tuple(found)
