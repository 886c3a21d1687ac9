"""Leakage: what walls, doors and ceiling let through by the power law, and the one hole that lets through as much."""

import numpy as np

from ventcalc.building.code_rules import plain
from ventcalc.units import quantities

LEAKAGE_EXPONENT = plain("combustion_air", "leakage exponent", "")
EFFECTIVE_AREA_PRESSURE = 4.0  # Pa, at which an effective leakage area is defined
LEAKAGE_AREA_AIR = 1.2  # kg/m3, in which leakage areas are stated
_POWER = "power law of leakage, Q = Q_ref (dp/dp_ref)^n; multizone air flow programs"


@quantities(
    "m**3/s",
    pressure="Pa",
    flow="m**3/s",
    reference="Pa",
    exponent="",
    at_least={"flow": 0.0},
    above={"reference": 0.0},
    valid={"exponent": (0.5, 1.0)},
    source=_POWER,
)
def leakage_flow(pressure, flow, reference, exponent=LEAKAGE_EXPONENT):
    """Leakage at a pressure from that measured at another: Q (dp / dp_ref)^n, with the sign of the pressure.

    pressure: dp, Pa; flow: Q measured, m3/s, at the reference, Pa (a blower door: 50 Pa); exponent: n, 0.5 to 1, 0.65
    where it was not measured. Numbers or arrays that broadcast.
    """
    return flow * np.sign(pressure) * (np.abs(pressure) / reference) ** exponent


@quantities(
    "m**2",
    flow="m**3/s",
    reference="Pa",
    exponent="",
    at="Pa",
    coefficient="",
    at_least={"flow": 0.0},
    above={"reference": 0.0, "at": 0.0, "coefficient": 0.0},
    source=_POWER,
)
def leakage_area(flow, reference, exponent=LEAKAGE_EXPONENT, at=EFFECTIVE_AREA_PRESSURE, coefficient=1.0):
    """Area of one hole that leaks as much at a pressure: Q(at) / (C sqrt(2 at / rho)) in air of 1.2 kg/m3.

    flow: measured, m3/s, at the reference, Pa; exponent: of the leakage; at: pressure of comparison, Pa; coefficient: C
    of the hole. At 4 Pa with C = 1: the effective leakage area. At 10 Pa with C = 0.61: the equivalent one. Two
    names, two areas, a factor of nearly two.
    """
    passing = leakage_flow.bare(at, flow, reference, exponent)
    return passing / (coefficient * np.sqrt(2.0 * at / LEAKAGE_AREA_AIR))
