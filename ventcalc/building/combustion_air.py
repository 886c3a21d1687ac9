"""Combustion air: what the code asks for, as room volume, openings, louvers and supply, and what a burner takes.

The code's rules know nothing of altitude, of the weather or of exhaust fans: what those do, `room_pressure` works out.
Every figure of a code: check what your jurisdiction adopted.
"""

import numpy as np

from ventcalc.building.code_rules import CHECK_EDITION, plain
from ventcalc.gas import atmosphere, combustion
from ventcalc.gas.fuels import Fuel
from ventcalc.units import quantities

_CODE = "NFPA 54 9.3, read as restated in adopted codes and appliance instructions; " + CHECK_EDITION


@quantities(
    "m**3",
    heat_input="W",
    infiltration="1/s",
    at_least={"heat_input": 0.0, "infiltration": 0.0},
    source=_CODE,
)
def standard_volume(heat_input, infiltration=None):
    """Room volume for all air from indoors, standard method: 50 ft3 per 1000 Btu/h.

    heat_input: of all appliances in the space that take air from it, W; infiltration: of the space where it is known,
    air changes per time. Numbers or arrays.

    Raises ValueError where the infiltration is known to be below 0.40 an hour: the method is not allowed there.
    Source: NFPA 54 9.3.2.
    """
    least = plain("combustion_air", "least infiltration", "1/s")
    if infiltration is not None and np.any(infiltration < least):
        raise ValueError(
            f"infiltration = {3600.0 * np.min(infiltration):.3g} an hour: below 0.40 the standard method is not "
            "allowed; use the known-infiltration method or air from outdoors"
        )
    return plain("combustion_air", "standard volume", "m**3/W") * heat_input


@quantities(
    "m**3",
    natural_input="W",
    fan_input="W",
    infiltration="1/s",
    at_least={"natural_input": 0.0, "fan_input": 0.0},
    above={"infiltration": 0.0},
    source=_CODE,
)
def infiltration_volume(natural_input, fan_input, infiltration):
    """Room volume for all air from indoors where the infiltration is known: (21 I_other + 15 I_fan) / (1000 ACH).

    In ft3 and Btu/h there. natural_input: of appliances without a fan, W; fan_input: of fan-assisted ones, W;
    infiltration: air changes per time, above 0. Numbers or arrays that broadcast.

    Raises ValueError above 0.60 an hour, which must not be used: enter 0.60. Source: NFPA 54 9.3.2.2.
    """
    if np.any(infiltration > plain("combustion_air", "most infiltration", "1/s") * (1.0 + 1e-9)):
        raise ValueError(
            f"infiltration = {3600.0 * np.max(infiltration):.3g} an hour: no more than 0.60 may be used, whatever it is"
        )
    other, fan = (plain("combustion_air", f"known infiltration, {kind}", "m**3/W/s") for kind in ("other", "fan"))
    return (other * natural_input + fan * fan_input) / infiltration


# The rule that each way of an opening falls under.
WAYS = {
    "direct": "two openings, direct or vertical",
    "vertical duct": "two openings, direct or vertical",
    "horizontal duct": "two openings, horizontal",
    "single": "one opening",
    "same story": "indoors, same story",
    "other story": "indoors, other story",
}
OUTDOOR_WAYS = ("direct", "vertical duct", "horizontal duct")


@quantities(
    "m**2",
    heat_input="W",
    connector_area="m**2",
    at_least={"heat_input": 0.0, "connector_area": 0.0},
    source=_CODE,
)
def opening_area(heat_input, way: str, connector_area=0.0):
    """Free area that each opening must have.

    heat_input: of all appliances in the space that take air from it, W; way: one of `WAYS`: of two openings "direct",
    by "vertical duct" or "horizontal duct"; a "single" one to outdoors; of two to rooms of the "same story", at least
    100 in2; those to an "other story" together. connector_area: sum of the vent connectors', m2, the least that a
    single opening may have. Numbers or arrays that broadcast.

    Raises ValueError for another way. Source: NFPA 54 9.3.2.3 and 9.3.3; the other story from memory.
    """
    if way not in WAYS:
        raise ValueError(f"way {way!r}; choose {', '.join(WAYS)}")
    if way == "other story":
        return plain("combustion_air", WAYS[way], "m**2/W") * heat_input
    area = heat_input / plain("combustion_air", WAYS[way], "W/m**2")
    if way == "single":
        return np.maximum(area, connector_area)
    if way == "same story":
        return np.maximum(area, plain("combustion_air", "indoors, same story, least", "m**2"))
    return area


@quantities("", available="m**3", required="m**3", at_least={"available": 0.0}, above={"required": 0.0}, source=_CODE)
def outdoor_share(available, required):
    """Factor on the outdoor openings where part of the volume is there: 1 - Va/Vr, not below 0.

    available: volume of the space and those joined to it, m3; required: that for all air from indoors, m3; numbers or
    arrays. Source: NFPA 54 9.3.4.
    """
    return np.maximum(1.0 - available / required, 0.0)


@quantities("m**3/s", heat_input="W", at_least={"heat_input": 0.0}, source=_CODE)
def mechanical_supply(heat_input):
    """Air that a fan must bring where it brings all of it: 0.35 cfm per 1000 Btu/h.

    heat_input: of all appliances in the space, W, number or array. What exhaust fans take must be brought besides, and
    every burner must be kept from firing while the supply does not run (9.3.6.1 and 9.3.6.2). Source: NFPA 54 9.3.6.
    """
    return plain("combustion_air", "mechanical supply", "m**3/s/W") * heat_input


LOUVERS = {"none": None, "metal": "metal louver", "wood": "wood louver"}


@quantities(
    "m**2",
    gross_area="m**2",
    free_share="",
    at_least={"gross_area": 0.0},
    source=_CODE,
)
def free_area(gross_area, louver: str = "none", free_share=None):
    """Area left free by a louver or grille: 75 % of metal, 25 % of wood, unless its own share is known.

    gross_area: of the opening, m2, number or array; louver: one of `LOUVERS`; free_share: of the design, where known,
    above 0 to 1. A screen must not be finer than 1/4 in.

    Raises ValueError for another louver or share. Source: NFPA 54 9.3.7.
    """
    if louver not in LOUVERS:
        raise ValueError(f"louver {louver!r}; choose {', '.join(LOUVERS)}")
    if free_share is not None and not (np.min(free_share) > 0.0 and np.max(free_share) <= 1.0):
        raise ValueError(f"free_share = {free_share} must be above 0 and at most 1")
    if free_share is None:
        free_share = 1.0 if LOUVERS[louver] is None else plain("combustion_air", LOUVERS[louver], "")
    return free_share * gross_area


@quantities(
    "m**3/s",
    excess_air="",
    heat_input="W",
    temperature="K",
    pressure="Pa",
    relative_humidity="",
    at_least={"excess_air": 0.0, "heat_input": 0.0, "relative_humidity": 0.0},
    above={"pressure": 0.0},
    at_most={"relative_humidity": 1.0},
    source="stoichiometry of complete combustion; ideal-gas law",
)
def burner_air(fuel: Fuel, excess_air, heat_input, temperature, pressure, relative_humidity=0.0):
    """Air that a burner itself takes, as a volume: heat times air per heat over its density.

    fuel: `Fuel`; excess_air: ratio, at least 0; heat_input: HHV, W; temperature: of that air, K; pressure: barometric,
    Pa; relative_humidity: 0 to 1. Numbers or arrays that broadcast.

    The mass is that of combustion and the same at any altitude; the volume is not. A draft hood takes more, which the
    vent decides (`Solution.drawn`). Source: stoichiometry.
    """
    vapor = atmosphere.water_vapor_fraction.bare(temperature, relative_humidity, pressure)
    burnt = combustion.products.bare(fuel, excess_air, vapor)
    return heat_input * burnt.air_per_heat / atmosphere.air_density.bare(temperature, pressure, relative_humidity)
