"""Fuels: what they are made of and the heat they give.

A `Fuel` is known by the elements in one kilogram of it and by its heating values. Gases are built
from mole fractions, liquids from mass fractions; three common fuels stand in `FUELS`. Heating values
are at 25 degC and constant pressure, per kilogram. The higher one (HHV) counts the heat of condensing
the water formed; every "per heat" figure of this library is on the HHV basis.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ventcalc import tables
from ventcalc.door import door
from ventcalc.gas.atmosphere import ATOMIC_MASS, MOLAR_MASS
from ventcalc.words import meant

# J/kg, enthalpy of vaporization of water at 25 degC: 44.013 kJ/mol, ISO 6976:2016 Table A.5.
VAPORIZATION_25C = 44013.0 / MOLAR_MASS["h2o"]

SUM_TOLERANCE = 0.001  # how far fractions may sum from 1; they are then scaled to it


@dataclass(frozen=True)
class Fuel:
    """A fuel: elements and heating values of one kilogram.

    carbon, hydrogen, oxygen, nitrogen, sulfur, water, inert: kg per kg of fuel; ``water`` is water as
    such (vapor in a gas, moisture in a liquid) and is in neither hydrogen nor oxygen; ``inert`` takes
    no part (ash).
    hhv, lhv: higher and lower heating value, J/kg.
    composition: as given, pairs of component and mole fraction (gas) or mass fraction (liquid).
    """

    name: str
    kind: str
    carbon: float
    hydrogen: float
    oxygen: float
    nitrogen: float
    sulfur: float
    water: float
    inert: float
    hhv: float
    lhv: float
    composition: tuple[tuple[str, float], ...]
    source: str

    def __post_init__(self):
        if not 0 < self.lhv <= self.hhv:
            raise ValueError(
                f"fuel {self.name!r}: heating values must be above zero and lhv at most hhv; "
                f"got hhv = {self.hhv:.6g} J/kg, lhv = {self.lhv:.6g} J/kg"
            )


def _normalized(name: str, fractions: Mapping[str, float], known, kind: str) -> dict[str, float]:
    """Fractions scaled to sum to 1; raises ValueError for unknown, negative or missing parts."""
    unknown = [part for part in fractions if part not in known]
    if unknown:
        raise ValueError(f"fuel {name!r}: unknown {', '.join(map(repr, unknown))}; known are {', '.join(known)}")
    for part, fraction in fractions.items():
        if not 0 <= fraction <= 1:
            raise ValueError(f"fuel {name!r}: {part} = {fraction} must be a {kind} fraction from 0 to 1")
    total = sum(fractions.values())
    if abs(total - 1) > SUM_TOLERANCE:
        raise ValueError(f"fuel {name!r}: {kind} fractions sum to {total:.5g}; they must sum to 1 within 0.1 %")
    return {part: fraction / total for part, fraction in fractions.items()}


def _components() -> dict[str, dict[str, float]]:
    """Atoms per molecule and enthalpy of combustion (J/mol) of each gas a fuel may hold."""
    return {
        row["component"]: {element: int(row[element]) for element in "CHONS"}
        | {"heat": 1000 * float(row["enthalpy_of_combustion_kJ_per_mol"])}
        for row in tables.read("fuels_components")
    }


def _lower(hhv: float, hydrogen: float, water: float) -> float:
    """Lower heating value of a fuel whose water, if any, enters as liquid, J/kg."""
    formed = hydrogen * MOLAR_MASS["h2o"] / (2 * ATOMIC_MASS["H"])
    return hhv - (formed + water) * VAPORIZATION_25C


def gas_fuel(name: str, composition: Mapping[str, float], source: str = "given by the user") -> Fuel:
    """A gaseous fuel from the mole fractions of its components: {"CH4": 0.95, "C2H6": 0.05}.

    Known components: CH4, C2H6, C3H8, n-C4H10, i-C4H10, C5H12, C6H14, C2H4, C3H6, H2, CO, H2S, CO2, N2,
    O2, H2O. Heating value per mole = sum x_i (-dHc_i), ideal gas, products at 25 degC. Water vapor of
    the fuel would condense too: its latent heat is part of the HHV.

    Raises ValueError for unknown components, fractions outside 0 to 1, or a sum off 1 by over 0.1 %.
    Source: enthalpies of combustion in data/gas/fuels_components.csv.
    """
    known = _components()
    parts = _normalized(name, composition, known, "mole")
    wet = parts.get("H2O", 0.0)
    moles = {e: sum(x * known[c][e] for c, x in parts.items() if c != "H2O") for e in "CHONS"}
    molar_mass = sum(n * ATOMIC_MASS[e] for e, n in moles.items()) + wet * MOLAR_MASS["h2o"]
    mass = {e: n * ATOMIC_MASS[e] / molar_mass for e, n in moles.items()}
    water = wet * MOLAR_MASS["h2o"] / molar_mass
    dry_hhv = sum(x * known[c]["heat"] for c, x in parts.items()) / molar_mass
    return Fuel(
        name,
        "gas",
        mass["C"],
        mass["H"],
        mass["O"],
        mass["N"],
        mass["S"],
        water,
        inert=0.0,
        hhv=dry_hhv + water * VAPORIZATION_25C,
        lhv=_lower(dry_hhv, mass["H"], water=0.0),
        composition=tuple(composition.items()),
        source=source,
    )


_LIQUID_PARTS = ("C", "H", "O", "N", "S", "H2O", "ash")


@door(plain={"hhv": "J/kg"}, above={"hhv": 0.0})
def oil_fuel(name: str, composition: Mapping[str, float], hhv: float, source: str = "given by the user") -> Fuel:
    """A liquid fuel from mass fractions {"C": 0.87, "H": 0.127, "S": 0.003} and its HHV in J/kg.

    Known parts: C, H, O, N, S, H2O (moisture), ash. LHV = HHV - (8.94 H + H2O) x 2.44 MJ/kg.
    hhv: measured higher heating value, J/kg of fuel as fired.

    Raises ValueError for unknown parts, fractions outside 0 to 1, or a sum off 1 by over 0.1 %.
    """
    parts = dict.fromkeys(_LIQUID_PARTS, 0.0) | _normalized(name, composition, _LIQUID_PARTS, "mass")
    return Fuel(
        name,
        "liquid",
        *parts.values(),
        hhv=hhv,
        lhv=_lower(hhv, parts["H"], parts["H2O"]),
        composition=tuple(composition.items()),
        source=source,
    )


def _from_table(name: str) -> Fuel:
    rows = [row for row in tables.read("fuels") if row["fuel"] == name]
    parts = {row["component"]: float(row["fraction"]) for row in rows}
    source = f"data/gas/fuels.csv: {rows[0]['source']} ({rows[0]['status']})"
    if rows[0]["kind"] == "gas":
        return gas_fuel(name, parts, source)
    hhv = parts.pop("hhv")
    return oil_fuel(name, parts, hhv, source)


FUELS: Mapping[str, Fuel] = MappingProxyType(
    {name: _from_table(name) for name in dict.fromkeys(row["fuel"] for row in tables.read("fuels"))}
)


def fuel(name: str) -> Fuel:
    """The fuel of that name in `FUELS`; raises ValueError that lists the known ones."""
    try:
        return FUELS[name.strip().lower()]
    except (KeyError, AttributeError):
        raise ValueError(
            f"no fuel named {name!r}; {meant(name, FUELS)}; another is told by its parts: gas_fuel or oil_fuel, in "
            "a job file [[fuel]]"
        ) from None
