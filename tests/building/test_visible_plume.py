"""Visible plume: mist where flue gas mixes with outdoor air, held to CoolProp's real moist air."""

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI
from scipy.optimize import brentq

from ventcalc.building import visible_plume
from ventcalc.gas import atmosphere
from ventcalc.units import Q_

ATMOSPHERE = 101325.0
SHARES = tuple(np.linspace(1e-4, 1.0, 120))
RATIO = 0.621945  # of the molar masses of water and dry air (ASHRAE Handbook Fundamentals, ch. 1)


def mole(ratio):
    return ratio / (RATIO + ratio)


def mist(outdoor, humidity, gas, ratio, shares=SHARES):
    """Most by which the humidity ratio of a mixture exceeds saturation at its enthalpy [kg/kg], by CoolProp.

    Adiabatic mixing by mass of dry air, both streams real moist air.
    """
    w0, h0 = (HAPropsSI(of, "T", outdoor, "P", ATMOSPHERE, "R", humidity) for of in "WH")
    h1 = HAPropsSI("H", "T", gas, "P", ATMOSPHERE, "W", ratio)
    return max(
        w0 + s * (ratio - w0) - HAPropsSI("W", "H", h0 + s * (h1 - h0), "P", ATMOSPHERE, "R", 1.0) for s in shares
    )


@pytest.mark.parametrize(("outdoor", "humidity"), [(263.15, 0.8), (273.15, 0.5), (283.15, 0.7), (295.15, 0.4)])
@pytest.mark.parametrize("gas", [318.15, 335.15])
def test_the_least_vapor_that_shows_is_that_of_coolprop(outdoor, humidity, gas):
    """Gas of so much vapor that the mixing line just touches saturation.

    Tolerance 3 %: CoolProp's saturated air holds 0.4 % more vapor than Dalton's law (the enhancement factor), and the
    heat of the vapor bends its line, by up to 1 K at these temperatures.
    """
    full = HAPropsSI("W", "T", gas, "P", ATMOSPHERE, "R", 0.999)
    theirs = brentq(lambda w: mist(outdoor, humidity, gas, w), 1e-3, full, xtol=1e-6)
    vapor = atmosphere.water_vapor_fraction.bare(outdoor, humidity, ATMOSPHERE)

    def over(x):
        return float(visible_plume.over_saturation.bare(outdoor, gas, vapor, x, ATMOSPHERE))

    assert brentq(over, 1e-4, mole(full)) == pytest.approx(mole(theirs), rel=0.03)


def test_the_dilution_at_which_it_clears_is_that_of_coolprop():
    # Gas of 50 degC saturated, into air of 0 degC and 70 %: the last share of a fine row that is still mist.
    outdoor, humidity, gas = 273.15, 0.7, 323.15
    ratio = HAPropsSI("W", "T", gas, "P", ATMOSPHERE, "R", 1.0)
    last = brentq(lambda s: mist(outdoor, humidity, gas, ratio, (s,)), 1e-3, 0.5)
    # Shares of dry air, by mole of mixture to mole of gas.
    w0 = HAPropsSI("W", "T", outdoor, "P", ATMOSPHERE, "R", humidity)
    moles = (1.0 / last) * (1.0 + (w0 + last * (ratio - w0)) / RATIO) / (1.0 + ratio / RATIO)
    vapor = atmosphere.water_vapor_fraction.bare(outdoor, humidity, ATMOSPHERE)
    ours = visible_plume.clearing_dilution.bare(outdoor, gas, vapor, mole(ratio), ATMOSPHERE)
    assert ours == pytest.approx(moles, rel=0.10)  # where the line leaves saturation the two cross at a flat angle


def test_dry_gas_and_hot_dry_air_show_nothing():
    # 300 degC with 5 % vapor into 30 degC dry air.
    assert visible_plume.over_saturation.bare(303.15, 573.15, 0.005, 0.05, ATMOSPHERE) < 0.0
    assert visible_plume.clearing_dilution.bare(303.15, 573.15, 0.005, 0.05, ATMOSPHERE) == 1.0


def test_colder_and_wetter_air_shows_more():
    outdoor = np.linspace(253.15, 303.15, 26)
    vapor = atmosphere.water_vapor_fraction.bare(outdoor, 0.6, ATMOSPHERE)
    over = visible_plume.over_saturation.bare(outdoor, 323.15, vapor, 0.11, ATMOSPHERE)
    far = visible_plume.clearing_dilution.bare(outdoor, 323.15, vapor, 0.11, ATMOSPHERE)
    assert (np.diff(over) < 0.0).all() and (np.diff(far[over > 0.0]) < 0.0).all()
    assert over[0] > 0.0 > over[-1] and (far[over <= 0.0] == 1.0).all()


def test_in_fog_the_plume_goes_over_into_it():
    vapor = 1.01 * atmosphere.water_vapor_fraction.bare(278.15, 1.0, ATMOSPHERE)
    assert np.isinf(visible_plume.clearing_dilution.bare(278.15, 323.15, vapor, 0.11, ATMOSPHERE))


def test_the_same_in_us_units():
    si = visible_plume.over_saturation(Q_(0.0, "degC"), Q_(50.0, "degC"), Q_(0.004, ""), Q_(0.11, ""), Q_(101325, "Pa"))
    us = visible_plume.over_saturation(
        Q_(32.0, "degF"), Q_(122.0, "degF"), Q_(0.4, "percent"), Q_(11.0, "percent"), Q_(14.6959488, "psi")
    )
    assert us.m_as("Pa") == pytest.approx(si.m_as("Pa"), rel=1e-6)
    with pytest.raises(ValueError, match="pressure"):
        visible_plume.over_saturation(Q_(0.0, "degC"), Q_(50.0, "degC"), Q_(0.004, ""), Q_(0.11, ""), Q_(0.0, "Pa"))
