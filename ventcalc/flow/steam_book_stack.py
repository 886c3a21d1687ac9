"""Steam book, stacks: the stack rules of the public-domain steam book of 1919-1922.

History, kept because its tables are a check that anyone may read; `stack_effect` and `friction` are the general form.
Its flue gas rules stand in `steam_book`.
"""

import numpy as np

from ventcalc.flow.stack_effect import STEAM_BOOK
from ventcalc.gas.atmosphere import DRY_AIR_MOLAR_MASS
from ventcalc.units import GAS_CONSTANT, GRAVITY, Q_, ZERO_CELSIUS, quantities

_STACK_FRICTION_UNIT = Q_(1.0, "inH2O*ft**4*s**2/lb**2").to("Pa*m**4*s**2/kg**2").magnitude


@quantities(
    "Pa",
    mass_flow="kg/s",
    height="m",
    diameter="m",
    friction_constant="",
    at_least={"mass_flow": 0.0, "height": 0.0, "friction_constant": 0.0},
    above={"diameter": 0.0},
    source=f"{STEAM_BOOK}, formula (26)",
)
def steam_book_stack_friction(mass_flow, height, diameter, friction_constant):
    """Friction of a stack by the steam book's formula (26), ``dD = f W^2 C H / A^3``.

    W in lb/s, C perimeter in ft, H in ft, A area in ft2, dD in in. w.c. there; here mass_flow [kg/s],
    height and diameter [m]. friction_constant is the book's f: 0.0015 at 600 F and 0.0011 at 350 F for
    steel, 0.0020 and 0.0015 for brick, at sea level; its Table 53 (500 F, steel) follows from 0.0014. That is
    Darcy's f of 0.08, about five times a clean steel stack's; friction with the velocity head that leaves at the
    top would cost as much on average over that table. `friction.pressure_loss` is the general form.
    """
    perimeter, area = np.pi * diameter, np.pi * diameter**2 / 4.0
    return _STACK_FRICTION_UNIT * friction_constant * mass_flow**2 * perimeter * height / area**3


@quantities(
    "m",
    available_draft="Pa",
    draft_constant="Pa/m",
    above={"available_draft": 0.0, "draft_constant": 0.0},
    source=f"{STEAM_BOOK}, formula (30)",
)
def steam_book_height(available_draft, draft_constant):
    """Stack height by the steam book, ``H = D' / (0.8 K)``: the stack keeps 80 % of its theoretical draft.

    available_draft D' [Pa], draft_constant K [Pa per m of height; book: in. w.c. per ft], which is
    `stack_effect.steam_book_draft` over its height. Example: 1.2 in. w.c. and the book's K = 0.0071 at 550 F: 211 ft in
    the book, 211.3 here. Raises where either is not positive.
    """
    return available_draft / (0.8 * draft_constant)


_BOILER_HORSEPOWER = Q_(1.0, "boiler_horsepower").m_as("W")
_INCH, _FOOT = 0.0254, 0.3048  # m, exact


@quantities(
    "m",
    boiler_power="W",
    above={"boiler_power": 0.0},
    source=f"{STEAM_BOOK}, formulas (28) and (29)",
)
def steam_book_diameter(boiler_power, lined: bool = False):
    """Stack diameter by the steam book, ``4.68 hp^(2/5)`` in. unlined steel, ``4.92 hp^(2/5)`` in. lined.

    boiler_power [W; book: boiler horsepower], lined True for a masonry lining. Example: 2000 hp: the book reads
    96 and 102 in. from its chart; 97.9 and 102.9 here. Raises for a power that is not positive.
    """
    return (4.92 if lined else 4.68) * (boiler_power / _BOILER_HORSEPOWER) ** 0.4 * _INCH


@quantities(
    "W",
    height="m",
    diameter="m",
    above={"height": 0.0, "diameter": 0.0},
    source=f"{STEAM_BOOK}, Table 55 (Kent)",
)
def kent_boiler_power(height, diameter):
    """Boiler power that a stack serves by Kent's formula, ``hp = 3.33 (A - 0.6 sqrt(A)) sqrt(H)``.

    A in ft2 and H in ft there, 5 lb of coal per horsepower hour; here height and diameter [m]. Raises where
    either is not positive, and for a stack below 0.36 ft2 (8 in.), where the formula gives no power.
    """
    area = np.pi * (diameter / _FOOT) ** 2 / 4.0
    if np.any(area <= 0.36):
        raise ValueError(f"kent_boiler_power: diameter = {np.min(diameter):.4g} m must be above 0.206 m (0.36 ft2)")
    return 3.33 * (area - 0.6 * np.sqrt(area)) * np.sqrt(height / _FOOT) * _BOILER_HORSEPOWER


# The book's Table 54 starts from 30.00 inHg at sea level. How it falls is not said; air at the freezing point
# throughout meets every row within 0.01 inHg. The standard atmosphere is `atmosphere.standard_pressure`.
STEAM_BOOK_SEA_LEVEL = Q_(30.0, "inHg").m_as("Pa")
_SCALE_HEIGHT = GAS_CONSTANT * ZERO_CELSIUS / (DRY_AIR_MOLAR_MASS * GRAVITY)  # m, of air at 0 degC


@quantities(
    "Pa",
    altitude="m",
    at_least={"altitude": 0.0},
    at_most={"altitude": 3048.0},
    source=f"{STEAM_BOOK}, Table 54; isothermal air at 0 degC, inferred from the table",
)
def steam_book_barometer(altitude):
    """Barometric pressure [absolute] by the steam book's Table 54, ``30 inHg exp(-z / 7996 m)``.

    altitude z [m], 0 to 3048 (the table's 10,000 ft); scalars or arrays. Raises outside. History, kept for the
    table's sake: up to 3 % above the standard atmosphere.
    """
    return STEAM_BOOK_SEA_LEVEL * np.exp(-altitude / _SCALE_HEIGHT)


@quantities(
    ("", ""),
    barometer="Pa",
    above={"barometer": 0.0},
    source=f"{STEAM_BOOK}, Table 54",
)
def steam_book_altitude_factors(barometer):
    """What to multiply a sea-level stack's height and diameter by: ``R`` and ``R^(2/5)``, R = 30 inHg / B.

    barometer B [Pa absolute], scalar or array. Example: 25.76 inHg at 4000 ft: 1.165 and 1.063 in the book and
    here. Raises for a pressure that is not positive.
    """
    ratio = STEAM_BOOK_SEA_LEVEL / barometer
    return ratio, ratio**0.4
