"""Materials: what a vent is made of, what it is listed for, and whether it may carry this gas here.

A listing says for which standards a product was tested, for which fuels and categories, and where it may run. Plain
plastic plumbing pipe is not a listed vent; it is allowed only where the appliance's own listing names it. The listing
of the product bought, the appliance's instructions and the local code govern: the ratings here are a kind's usual
ones.

`objections` says as records what speaks against a material in its `Service`; `sentence` puts one in words. The layers
of the wall say what it weighs and holds: heat loss asks for it when a stack warms up.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from ventcalc import tables
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.words import meant, say, sentences

FUELS = ("gas", "liquid")  # kinds of `fuels.Fuel`
PLACES = ("room", "concealed", "outdoors")  # concealed: any place indoors but the room where the appliances stand

HEAT_ALLOWANCE = 0.01  # K, what rounding may add to a rating that is written in degF
PRESSURE_ALLOWANCE = Q_(0.1, "Pa")  # what rounding may add to a rating; no gauge of the trade shows it


@dataclass(frozen=True)
class Layer:
    """One layer of a wall, as a row of ``data/flow/walls.csv``: what it is made of, how thick, and what heat does in
    it."""

    what: str
    thickness: Quantity
    conductivity: Quantity
    density: Quantity
    specific_heat: Quantity


@dataclass(frozen=True)
class Material:
    """A kind of vent, as a row of ``data/flow/materials.csv`` or as a job file gives it; ratings as quantities.

    ``standards`` it is listed to; ``built_to`` what stands in place of a listing; ``named_only``: allowed only where
    the listing of the appliance names it. ``fuels`` of `FUELS`, ``places`` of `PLACES` and ``categories`` that it may
    serve. ``layers`` of its wall from the inside out.
    """

    name: str
    standards: tuple[str, ...]
    named_only: bool
    built_to: str
    fuels: tuple[str, ...]
    places: tuple[str, ...]
    roughness: Quantity
    wall_resistance: Quantity
    diameter_ratio: float
    max_temperature: Quantity
    max_pressure: Quantity
    condensate: bool
    categories: tuple[str, ...]
    layers: tuple[Layer, ...]
    source: str
    status: str
    note: str

    def __post_init__(self):
        for what, given, known in (
            ("fuels", self.fuels, FUELS),
            ("places", self.places, PLACES),
            ("categories", self.categories, tuple(CATEGORIES)),
        ):
            unknown = [g for g in given if g not in known]
            if unknown or not given:
                found = ", ".join(map(repr, unknown)) or "none"
                raise ValueError(f"{self.name}: {what} {found}; choose from {', '.join(known)}")
        if not self.layers:
            raise ValueError(f"{self.name}: a wall needs at least one layer")
        kelvin = magnitude(self.max_temperature, ureg.Unit("K"), f"{self.name}: max_temperature")
        if not _COOLEST <= kelvin <= _HOTTEST:
            raise ValueError(f"{self.name}: max_temperature {self.max_temperature:.4g~P} must be 30 to 1400 degC")
        pascal = magnitude(self.max_pressure, ureg.Unit("Pa"), f"{self.name}: max_pressure")
        if not pascal >= 0.0:
            raise ValueError(f"{self.name}: max_pressure {self.max_pressure:.4g~P} must be 0 (draft only) or above")
        if not 0.0 < magnitude(self.roughness, ureg.Unit("m"), f"{self.name}: roughness") <= _ROUGHEST:
            raise ValueError(f"{self.name}: roughness {self.roughness:.4g~P} must be above 0, up to 10 mm")
        asked = [CATEGORIES[c] for c in self.categories]
        if any(c.positive for c in asked) and not pascal > 0.0:
            raise ValueError(f"{self.name}: categories III and IV push: give a max_pressure above 0")
        if any(c.condensing for c in asked) and not self.condensate:
            raise ValueError(f"{self.name}: categories II and IV condense: it must be made for condensate")

    @property
    def listing(self) -> str:
        """What it is listed to in words, such as "UL 103 and UL 1738", "none" and what stands in its place."""
        return " and ".join(self.standards) or f"none ({self.built_to})".replace(" ()", "")


# Bounds of what a material can be, wide enough for every vent; beyond them a figure is a slip of the pen.
_COOLEST, _HOTTEST = 303.15, 1673.15  # K
_ROUGHEST = 0.01  # m; masonry of brick has 5 mm by EN 13384-1 annex B


def names() -> tuple[str, ...]:
    """Names of the known materials."""
    return tuple(row["name"] for row in tables.read("materials"))


@cache
def material(name: str) -> Material:
    """The material of that name; ValueError lists the known names."""
    if name not in names():
        raise ValueError(f"unknown material {name!r}; {meant(name, names())}")
    row = tables.row("materials", name, "name")
    return Material(
        name=name,
        standards=tuple(s for s in row["standards"].split(";") if s),
        named_only=row["named_only"] == "yes",
        built_to=row["built_to"],
        fuels=tuple(row["fuels"].split()),
        places=tuple(row["places"].split()),
        roughness=Q_(float(row["roughness_mm"]), "mm"),
        wall_resistance=Q_(float(row["wall_resistance_m2K_W"]), "m**2*K/W"),
        diameter_ratio=float(row["outer_over_inner_diameter"]),
        max_temperature=Q_(float(row["max_temperature_C"]), "degC"),
        max_pressure=Q_(float(row["max_pressure_Pa"]), "Pa"),
        condensate=row["condensate"] == "yes",
        categories=tuple(row["categories"].split()),
        layers=_layers(name),
        source=row["source"],
        status=row["status"],
        note=row["note"],
    )


def layers(name: str) -> tuple[Layer, ...]:
    """The layers of that material's wall, from the inside out; ValueError lists the known names."""
    return material(name).layers


def substance(what: str) -> tuple[Quantity, Quantity, Quantity] | None:
    """Conductivity, density and specific heat of a layer of that name in ``data/flow/walls.csv``.

    None where there is none, or where its rows differ, as those of air spaces of several widths do.
    """
    found = {(part.conductivity, part.density, part.specific_heat)
             for name in names() for part in layers(name) if part.what == what}  # fmt: skip
    return found.pop() if len(found) == 1 else None


def _layers(name: str) -> tuple[Layer, ...]:
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


# --- What speaks against a material -----------------------------------------------------------------------


@dataclass(frozen=True)
class Service:
    """What a section asks of its material.

    ``categories`` (of oil none) and kinds of fuel (`FUELS`) of the appliances it carries; the ``place`` it runs
    through, "room", "outdoors" or any other, which counts as concealed; ``hottest`` gas temperature,
    ``highest_pressure`` (gauge, against its surroundings) and whether water condenses in it. ``named``: the listings of
    all its appliances name this material.
    """

    section: str
    categories: tuple[str, ...]
    fuels: tuple[str, ...]
    place: str
    hottest: Quantity
    highest_pressure: Quantity
    condensing: bool
    named: bool = False

    def __post_init__(self):
        unknown = [f for f in self.fuels if f not in FUELS]
        if unknown or not self.fuels:
            raise ValueError(f"section {self.section}: fuels {self.fuels}; choose from {', '.join(FUELS)}")


@dataclass(frozen=True)
class Objection:
    """One thing that speaks against the material of a section: its ``code``, and the ``figures`` behind it.

    Codes are the keys of `CODES`, which say what figures each has: quantities, or tuples of names.
    """

    code: str
    section: str
    material: str
    figures: Mapping[str, Any]


# What can be said against a material, and the figures that say it.
CODES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "material_category": ("may", "refused"),
        "material_fuel": ("may", "refused"),
        "material_place": ("may", "refused"),
        "material_hot": ("gas", "rated"),
        "material_pressure": ("pressure", "rated"),
        "material_wet": (),
        "material_unlisted": (),
    }
)


def objections(material: Material, service: Service) -> tuple[Objection, ...]:
    """What speaks against a material in its service, by `CODES`; empty where nothing does.

    Pressure within 0.1 Pa and gas within 0.01 K of the rating count as met.
    """
    place = service.place if service.place in PLACES else "concealed"
    found = [
        _refusal("material_category", material.categories, service.categories),
        _refusal("material_fuel", material.fuels, service.fuels),
        _refusal("material_place", material.places, (place,)),
    ]
    if service.hottest.m_as("K") > material.max_temperature.m_as("K") + HEAT_ALLOWANCE:
        found.append(("material_hot", {"gas": service.hottest, "rated": material.max_temperature}))
    if service.highest_pressure.m_as("Pa") > (material.max_pressure + PRESSURE_ALLOWANCE).m_as("Pa"):
        found.append(("material_pressure", {"pressure": service.highest_pressure, "rated": material.max_pressure}))
    if service.condensing and not material.condensate:
        found.append(("material_wet", {}))
    if material.named_only and not service.named:
        found.append(("material_unlisted", {}))
    return tuple(
        Objection(code, service.section, material.name, dict(figures)) for code, figures in filter(None, found)
    )


def _refusal(code: str, may: tuple[str, ...], asked: tuple[str, ...]):
    """A code and its figures where something asked for is not among what a material may; else None."""
    refused = tuple(a for a in dict.fromkeys(asked) if a not in may)
    return (code, {"may": may, "refused": refused}) if refused else None


def sentence(objection: Objection, system: str = "US") -> str:
    """An objection in words, without a full stop; ``system`` sets the units."""
    named = sentences("flow")["named"]
    said = {
        name: value if isinstance(value, Quantity) else ", ".join(named.get(v, v) for v in value)
        for name, value in objection.figures.items()
    }
    return say("flow", "materials", objection.code, system, material=objection.material, **said)
