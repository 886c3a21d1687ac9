"""Damper leakage: what a shut damper passes, by its class, and the loss coefficient that this amounts to."""

from dataclasses import dataclass

import numpy as np

from ventcalc import tables
from ventcalc.flow import friction
from ventcalc.gas import atmosphere
from ventcalc.units import Q_, Quantity, magnitude, quantities, ureg

STANDARD_AIR = float(atmosphere.STANDARD_AIR.m_as("kg/m**3"))  # in which leakage is rated


@dataclass(frozen=True)
class Leakage:
    """What a shut damper leaks: ``velocity``, the flow of standard air over its face area, at a ``pressure``."""

    velocity: Quantity
    pressure: Quantity

    def __post_init__(self):
        for value, unit, what in ((self.velocity, "m/s", "leakage"), (self.pressure, "Pa", "pressure of the leakage")):
            if not magnitude(value, ureg.Unit(unit), what) > 0:
                raise ValueError(f"{what} {value:.4g~P} must be above 0")


def leakage_classes() -> tuple[str, ...]:
    """Names of the leakage classes of ``data/draft/dampers.csv``."""
    return tuple(r["name"] for r in tables.read("dampers") if r["kind"] == "leakage")


def leakage_class(name: str) -> Leakage:
    """The most that a shut damper of a class may leak; ValueError lists the known classes."""
    found = [r for r in tables.read("dampers") if (r["kind"], r["name"]) == ("leakage", name)]
    if not found:
        raise ValueError(f"leakage class {name!r}; known are: {', '.join(leakage_classes())}")
    return Leakage(Q_(float(found[0]["value"]), "m/s"), Q_(float(found[0]["pressure_Pa"]), "Pa"))


@quantities(
    "m/s",
    rated="m/s",
    rated_pressure="Pa",
    pressure="Pa",
    at_least={"rated": 0.0, "pressure": 0.0},
    above={"rated_pressure": 0.0},
    source="Leakage as through an orifice, with the root of the pressure: engineering page on EN 1751 classes",
)
def leakage_at(rated, rated_pressure, pressure):
    """Leakage over the face area at another pressure, ``v = v_rated sqrt(p / p_rated)``.

    rated [m/s] (m3/s per m2) at rated_pressure [Pa], wanted at pressure [Pa]; scalars or arrays, the same gas.
    Raises for a negative pressure.
    """
    return rated * np.sqrt(pressure / rated_pressure)


@quantities(
    "",
    leakage="m/s",
    pressure="Pa",
    above={"leakage": 0.0, "pressure": 0.0},
    source="Definition of a loss coefficient, in standard air in which leakage is rated",
)
def shut_loss(leakage, pressure):
    """Loss coefficient K [-] of a shut damper on the velocity head in its face, ``K = p / (rho v^2 / 2)``.

    leakage v [m/s], the leakage flow over the face area, at pressure p [Pa], rho that of standard air; scalars or
    arrays. Hot blades warp and seals age: a damper in a vent leaks more than on the test stand. Raises for values
    that are not positive.
    """
    return pressure / friction.velocity_head.bare(STANDARD_AIR, leakage)
