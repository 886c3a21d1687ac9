"""Visible plume: whether flue gas that leaves a vent turns to mist while it mixes with outdoor air.

Gas and air mix along a line: with ``s`` the share of the gas, by moles,

    x = x_o + s (x_g - x_o),  T = T_o + s (T_g - T_o)

in vapor ``x`` and temperature, for the molar heats of flue gas and air differ little. Where that line passes above
saturation, at whatever share, water is mist there. Saturation is curved upward, so the line passes farthest above it
where both rise alike; from there outward it crosses saturation once, where the plume ends to be seen.
"""

import numpy as np

from ventcalc.gas.atmosphere import MOLAR_MASS, SATURATION_RANGE, log_saturation, saturation_pressure
from ventcalc.units import quantities

WATER = MOLAR_MASS["h2o"]  # kg/mol
_HALVINGS = 32  # of an interval of shares: far below what a temperature is known to
_MIXING = "adiabatic mixing of two streams: ASHRAE Handbook Fundamentals, ch. 1; saturation by IAPWS"


def _excess(share, outdoor, gas, outdoor_vapor, gas_vapor, pressure):
    """Vapor pressure over saturation [Pa] at a share of the gas."""
    temperature = outdoor + share * (gas - outdoor)
    vapor = (outdoor_vapor + share * (gas_vapor - outdoor_vapor)) * pressure
    return vapor - saturation_pressure.bare(np.clip(temperature, *SATURATION_RANGE))


def _densest_share(outdoor, gas, outdoor_vapor, gas_vapor, pressure):
    """Share of the gas at which the mixing line stands farthest above saturation."""
    rise = (gas_vapor - outdoor_vapor) * pressure
    low, high = np.zeros(rise.shape), np.ones(rise.shape)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        kelvin = np.clip(outdoor + middle * (gas - outdoor), *SATURATION_RANGE)
        log_pressure, slope = log_saturation(kelvin)
        before = rise > np.exp(log_pressure) * slope * (gas - outdoor)  # the line still gains on saturation
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    return 0.5 * (low + high)


_MIXED = {"outdoor": "K", "gas": "K", "outdoor_vapor": "", "gas_vapor": "", "pressure": "Pa"}
_SOUND = {
    "at_least": {"outdoor_vapor": 0.0, "gas_vapor": 0.0},
    "at_most": {"outdoor_vapor": 1.0, "gas_vapor": 1.0},
    "above": {"pressure": 0.0, "outdoor": SATURATION_RANGE[0], "gas": SATURATION_RANGE[0]},
}


@quantities("Pa", **_MIXED, **_SOUND, source=_MIXING)
def over_saturation(outdoor, gas, outdoor_vapor, gas_vapor, pressure):
    """Most by which the vapor of flue gas mixed with outdoor air exceeds saturation; above 0 the plume is seen.

    outdoor and gas: temperatures, K; outdoor_vapor and gas_vapor: mole fractions of water, of the gas all of it, mist
    that it carries included; pressure: absolute, Pa; numbers or arrays that broadcast. Over ice below 273.16 K, which
    asks for less vapor than supercooled droplets do: it finds a plume rather too often.

    In fog outdoors, at 100 % humidity and more, every plume counts. Heat that the mist gives up does not decide
    whether there is any. The straight line in temperature is within 1 K of mixing by enthalpy for flue gas of 60 degC
    (tests).
    """
    values = np.broadcast_arrays(*(np.asarray(v, float) for v in (outdoor, gas, outdoor_vapor, gas_vapor, pressure)))
    return _excess(_densest_share(*values), *values)[()]


@quantities("", **_MIXED, **_SOUND, source=_MIXING)
def clearing_dilution(outdoor, gas, outdoor_vapor, gas_vapor, pressure):
    """Dilution at which a visible plume has cleared: moles of the mixture over those of flue gas in it.

    outdoor and gas: temperatures, K; outdoor_vapor and gas_vapor: mole fractions of all water; pressure: absolute, Pa;
    numbers or arrays that broadcast, as of `over_saturation`. 1 where nothing is seen, infinite in outdoor air that is
    saturated itself: there the mist goes over into the fog.
    """
    values = np.broadcast_arrays(*(np.asarray(v, float) for v in (outdoor, gas, outdoor_vapor, gas_vapor, pressure)))
    high = _densest_share(*values)
    seen, low = _excess(high, *values) > 0.0, np.zeros(high.shape)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        mist = _excess(middle, *values) > 0.0
        low, high = np.where(mist, low, middle), np.where(mist, middle, high)
    with np.errstate(divide="ignore"):
        found = np.where(low > 0.0, 1.0 / high, np.inf)
    return np.where(seen, found, 1.0)[()]
