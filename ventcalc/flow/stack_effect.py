"""Stack effect: the draft that warm, light gas makes by standing beside cold, heavy air.

Theoretical draft is ``g * integral of (outdoor density - gas density) dz``, along rises only. The two
handbook shortcuts and the stack rules of the public-domain steam book stand beside the full form, so
that a number from either can be checked; the shortcuts take flue gas for air.
"""

import numpy as np

from ventcalc.compiled import either, law
from ventcalc.units import GRAVITY, Q_, quantities

STEAM_BOOK = "Steam, Its Generation and Use (public domain, 1919-1922 printings), Chimneys and Draft"


@quantities(
    "Pa",
    height="m",
    outdoor_density="kg/m**3",
    gas_density="kg/m**3",
    above={"outdoor_density": 0.0, "gas_density": 0.0},
    source="Hydrostatics: g * integral of density difference over height",
)
def theoretical_draft(height, outdoor_density, gas_density):
    """Theoretical draft of a rise, ``g H (rho_outdoor - rho_gas)``; positive pulls.

    height [m] is the rise (negative for a drop), outdoor_density and gas_density [kg/m3] are means over it
    (see `mean_gas_density`); scalars or arrays. Raises for densities that are not positive.
    """
    return GRAVITY * height * (outdoor_density - gas_density)


@quantities(
    "kg/m**3",
    pressure="Pa",
    gas_constant="J/(kg*K)",
    inlet="K",
    outlet="K",
    surroundings="K",
    above={"pressure": 0.0, "gas_constant": 0.0},
    source="Integral of p/(R T) over an exponential temperature profile",
)
def mean_gas_density(pressure, gas_constant, inlet, outlet, surroundings):
    """Mean density of gas that cools exponentially from inlet to outlet towards its surroundings.

    With ``T = Ta + (Tin - Ta) exp(-N x)`` the mean of ``1/T`` is exactly
    ``(1 + ln(Tout/Tin)/N) / Ta`` with ``N = ln((Tin - Ta)/(Tout - Ta))``; where gas is all but
    isothermal, ``2 / (Tin + Tout)``. pressure [Pa absolute], gas_constant [J/(kg K)], inlet, outlet and
    surroundings [K]; scalars or arrays. Raises where the outlet does not lie between surroundings and inlet.
    """
    if np.any((inlet - outlet) * (outlet - surroundings) < 0.0):
        raise ValueError(
            f"mean_gas_density: outlet = {outlet} K must lie between surroundings = {surroundings} K "
            f"and inlet = {inlet} K"
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        cooling = np.log(np.divide(inlet - surroundings, outlet - surroundings))
    cooling = np.where(np.isnan(cooling), 0.0, cooling)  # gas as warm as its surroundings: nothing cools
    return pressure / gas_constant * mean_inverse_temperature(inlet, outlet, surroundings, cooling)


@law
def mean_inverse_temperature(inlet, outlet, surroundings, cooling):
    """Mean of 1/T [1/K] over a run with cooling number ``cooling`` (N above); plain arrays, for the solver."""
    flat = cooling < 1e-6  # below it the quotient of two vanishing numbers loses its digits
    number = either(flat, 1.0, cooling)
    return either(flat, 2.0 / (inlet + outlet), (1.0 + np.log(outlet / inlet) / number) / surroundings)


@quantities(
    "m",
    draft="Pa",
    outdoor_density="kg/m**3",
    gas_density="kg/m**3",
    at_least={"draft": 0.0},
    above={"outdoor_density": 0.0, "gas_density": 0.0},
    source="Hydrostatics: theoretical draft solved for its height",
)
def height_for_draft(draft, outdoor_density, gas_density):
    """Height whose theoretical draft is ``draft``, ``H = D / (g (rho_outdoor - rho_gas))``; no loss is counted.

    draft [Pa], outdoor_density and gas_density [kg/m3]; scalars or arrays. Raises where the gas is not lighter than
    outdoor air: no height makes it draw. Example: 230 Pa, 1.2 and 0.79 kg/m3: 57.18 m in a public exercise sheet
    that takes g = 9.81; 57.20 here.
    """
    if np.any(gas_density >= outdoor_density):
        raise ValueError(
            f"height_for_draft: gas_density = {np.max(gas_density):.4g} kg/m3 must be below outdoor_density = "
            f"{np.min(outdoor_density):.4g} kg/m3"
        )
    return draft / (GRAVITY * (outdoor_density - gas_density))


@quantities(
    "m/s",
    draft="Pa",
    gas_density="kg/m**3",
    at_least={"draft": 0.0},
    above={"gas_density": 0.0},
    source="Bernoulli, no friction",
)
def frictionless_velocity(draft, gas_density):
    """Velocity at which all the draft leaves as velocity head, ``v = sqrt(2 D / rho)``: more than any vent reaches.

    draft [Pa], gas_density [kg/m3]; scalars or arrays. Raises for a negative draft or a density that is not positive.
    """
    return np.sqrt(2.0 * draft / gas_density)


def _shortcut(source: str):
    """A rule that takes the gas for air, of a height, a barometric pressure and two temperatures."""
    return quantities(
        "Pa",
        height="m",
        pressure="Pa",
        outdoor="K",
        gas="K",
        at_least={"height": 0.0},
        above={"pressure": 0.0},
        source=source,
    )


_STEAM_CONSTANT = Q_(0.52, "inH2O*degR/(ft*psi)").to("Pa*K/(m*Pa)").magnitude
_HANDBOOK_CONSTANT = Q_(0.2554, "inH2O*degR/(ft*inHg)").to("Pa*K/(m*Pa)").magnitude
HANDBOOK_CONSTANT_SI = 0.03413  # Pa K/(m Pa), the chimney chapter's SI form


@_shortcut(f"{STEAM_BOOK}, formula (24)")
def steam_book_draft(height, pressure, outdoor, gas):
    """Draft by the steam book's formula (24), ``D = 0.52 H P (1/T - 1/T1)``.

    H in ft, P in psia, T in degrees Rankine, D in in. w.c. there; here height [m], barometric pressure
    [Pa absolute], outdoor and gas temperature [K]. It takes the gas for air. The book adds 461 to
    degrees Fahrenheit; give temperatures made so to reproduce its last digit. Example: 100 ft, 14.7
    psia, 521 and 961 degrees Rankine: 0.67 in. w.c. in the book, 0.672 here.
    """
    return _STEAM_CONSTANT * height * pressure * (1.0 / outdoor - 1.0 / gas)


@_shortcut("ASHRAE Handbook HVAC Systems and Equipment, chimney chapter, theoretical draft (from memory)")
def handbook_draft(height, pressure, outdoor, gas):
    """Draft by the handbook's form, ``Dt = 0.2554 B H (1/To - 1/Tm)``.

    B in inHg, H in ft, T in degrees Rankine, Dt in in. w.c. there; here height [m], barometric pressure
    [Pa absolute], outdoor and mean gas temperature [K]. It takes the gas for air.
    """
    return _HANDBOOK_CONSTANT * height * pressure * (1.0 / outdoor - 1.0 / gas)


@_shortcut("ASHRAE Handbook HVAC Systems and Equipment 2016, ch. 35, SI form, as quoted in a public calculation sheet")
def handbook_draft_si(height, pressure, outdoor, gas):
    """Draft by the handbook's SI form, ``Dt = 0.03413 B H (1/To - 1/Tm)``.

    height [m], barometric pressure [Pa absolute], outdoor and mean gas temperature [K]. The constant is
    g/R of dry air, 0.034164, rounded down by 0.1 %. Example: 101325 Pa, 35 m, 288 K and 1253 K: 323.5
    Pa in the sheet, 323.6 here.
    """
    return HANDBOOK_CONSTANT_SI * height * pressure * (1.0 / outdoor - 1.0 / gas)
