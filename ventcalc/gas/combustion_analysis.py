"""Combustion analysis: what a flue gas analyzer's reading tells: excess air, carbon monoxide air-free, dilution."""

import numpy as np

from ventcalc.gas.atmosphere import DRY_AIR
from ventcalc.gas.combustion import (
    OXYGEN_IN_AIR,
    STOICHIOMETRY,
    Products,
    dry_gain,
    element_moles,
    oxygen_taken,
    ultimate_co2,
)
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import Fuel
from ventcalc.units import quantities

_LARGEST_OXYGEN = 0.209  # above it the analyzer sees air, not flue gas


@quantities("", co2_dry="", source=STOICHIOMETRY)
def excess_air_from_co2(fuel: Fuel, co2_dry):
    """Excess air from the CO2 measured in the dry flue gas.

    (nC + xa A) / (A + g) = CO2 solved for the dry air A, over the theoretical, less 1; g is what burning
    adds to the dry gas, xa the CO2 of the air itself.
    fuel: `Fuel`; co2_dry: mole fraction, number or array, above that of air (0.04 %) and at most the
    ultimate CO2.

    Raises ValueError outside that range, naming the ultimate CO2.
    Source: stoichiometry.
    """
    ultimate = ultimate_co2.bare(fuel)
    # A millionth of room lets the ultimate CO2 itself, printed and read back, count as zero excess air.
    if np.any(co2_dry > ultimate * (1 + 1e-6)) or np.any(co2_dry <= DRY_AIR["co2"]):
        worst = np.max(co2_dry) if np.any(co2_dry > ultimate) else np.min(co2_dry)
        raise ValueError(
            f"co2_dry = {100 * worst:.4g} %: dry flue gas of {fuel.name} holds more than {100 * DRY_AIR['co2']:g} % "
            f"and at most {100 * ultimate:.4g} % CO2 (its ultimate CO2)"
        )
    air = (element_moles(fuel)["C"] - co2_dry * dry_gain(fuel)) / (co2_dry - DRY_AIR["co2"])
    return np.maximum(air * OXYGEN_IN_AIR / oxygen_taken(fuel) - 1, 0.0)


@quantities("", o2_dry="", source=STOICHIOMETRY)
def excess_air_from_o2(fuel: Fuel, o2_dry):
    """Excess air from the O2 measured in the dry flue gas.

    (0.2095 A - O) / (A + g) = O2 solved for the dry air A, over the theoretical, less 1; O is the oxygen
    burned, g what burning adds to the dry gas.
    fuel: `Fuel`; o2_dry: mole fraction, number or array, 0 to 0.209.

    Raises ValueError outside that range.
    Source: stoichiometry.
    """
    if np.any(o2_dry < 0) or np.any(o2_dry > _LARGEST_OXYGEN):
        worst = np.max(o2_dry) if np.any(o2_dry > _LARGEST_OXYGEN) else np.min(o2_dry)
        raise ValueError(
            f"o2_dry = {100 * worst:.4g} %: dry flue gas holds 0 to 20.9 % O2 (and {fuel.name} at 0 % O2 "
            f"its ultimate CO2, {100 * ultimate_co2.bare(fuel):.4g} %)"
        )
    oxygen = oxygen_taken(fuel)
    air = (oxygen + o2_dry * dry_gain(fuel)) / (OXYGEN_IN_AIR - o2_dry)
    return np.maximum(air * OXYGEN_IN_AIR / oxygen - 1, 0.0)  # 0 % O2 may come out a rounding below zero


@quantities(
    "ppm",
    co="ppm",
    o2_dry="",
    at_least={"co": 0.0, "o2_dry": 0.0},
    at_most={"co": 1e6, "o2_dry": _LARGEST_OXYGEN},
    source="dilution by air of 20.95 % oxygen",
)
def co_air_free(co, o2_dry):
    """Carbon monoxide the dry flue gas would show without its excess air: CO 0.2095 / (0.2095 - O2).

    co: measured in the dry gas, ppm (bare: a number of ppm); o2_dry: measured beside it, mole fraction, 0
    to 0.209; numbers or arrays that broadcast.

    Codes print 20.9 for 20.95: at 5 % O2 that is 0.07 % more.
    Raises ValueError outside the ranges.
    """
    return co * OXYGEN_IN_AIR / (OXYGEN_IN_AIR - o2_dry)


@quantities("", co2_dry="", air_vapor="", source="mixing of two streams, by moles")
def burnt_share_by_co2(co2_dry, air_vapor, products: Products):
    """Mole share of flue gas in a stream of it and air, by the carbon dioxide in the dry gas, which no draining takes.

    With ``s = (c - ca) / (cf - ca)`` of the dry gas, and each dry part back with its own water: mole share
    ``s/(1-xf) / (s/(1-xf) + (1-s)/(1-xa))``. co2_dry c: mole fraction of CO2 in the dry stream (as
    `solution.Solution` has it); air_vapor xa: mole fraction of water in the air; products: of
    `products`, whose gas holds cf and xf. Kept within 0 and 1.
    """
    air = Gas.dry_air().co2
    share = np.clip((co2_dry - air) / (products.co2_dry - air), 0.0, 1.0)
    burnt, drawn = share / (1.0 - products.gas.h2o), (1.0 - share) / (1.0 - air_vapor)
    return burnt / (burnt + drawn)
