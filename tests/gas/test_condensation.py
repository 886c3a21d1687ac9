"""Condensation: dew points of flue gas, latent heat against IAPWS-95, balance of what condenses."""

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.gas import atmosphere, condensation
from ventcalc.gas.atmosphere import MOLAR_MASS, saturation_pressure
from ventcalc.gas.combustion import products
from ventcalc.gas.condensation import (
    MMHG,
    acid_dew_point,
    acid_dew_point_okkes,
    acid_dew_point_zarenezhad,
    condensate_rate,
    dew_point,
    effective_specific_heat,
    latent_heat,
    saturated,
)
from ventcalc.gas.flue_gas import Gas, enthalpy, specific_heat
from ventcalc.gas.fuels import fuel, gas_fuel
from ventcalc.units import Q_, OutOfRangeWarning, UnitsError

CHECKS = [row for row in tables.read("combustion_checks") if "dew point" in row["quantity"]]
FUELS = {"methane (natural gas)": gas_fuel("methane", {"CH4": 1.0}), "propane": fuel("propane")}
WET = products.bare(fuel("natural gas"), 0.2).gas
ATMOSPHERE = 101325.0  # Pa


@pytest.mark.parametrize("row", CHECKS, ids=lambda row: row["id"])
def test_dew_point_of_flue_gas(row):
    # Stoichiometry with the CRC vapor-pressure table. Found within 0.1 degF of every row; 1.0 was suggested.
    gas = products(FUELS[row["fuel"]], Q_(float(row["excess_air_pct"]), "percent")).gas
    found = dew_point(gas, Q_(float(row["pressure_kPa"]), "kPa")).m_as("degF")
    assert found == pytest.approx(float(row["value"]), abs=0.1)


def test_there_are_dew_point_rows():
    assert len(CHECKS) == 8


@pytest.mark.parametrize(("celsius", "humidity"), [(20, 0.5), (30, 0.8), (5, 0.9), (-5, 0.7)])
def test_dew_and_frost_point_of_air_against_coolprop(celsius, humidity):
    # CoolProp's humid air as the source of the mole fraction and of the dew point. It counts that air raises the
    # saturation pressure by 0.4 %: 0.06 K here.
    t = celsius + 273.15
    vapor = coolprop.HAPropsSI("Y", "T", t, "P", ATMOSPHERE, "R", humidity)
    found = dew_point.bare(Gas.humid_air(vapor), ATMOSPHERE)
    assert found == pytest.approx(coolprop.HAPropsSI("Tdp", "T", t, "P", ATMOSPHERE, "R", humidity), abs=0.1)


def test_dew_point_falls_with_altitude():
    assert dew_point.bare(WET, 75000.0) < dew_point.bare(WET, ATMOSPHERE) - 5


def test_dew_point_of_dry_gas_is_the_end_of_the_range():
    assert dew_point.bare(Gas.dry_air(), ATMOSPHERE) == 173.15
    mixed = dew_point.bare(Gas.humid_air(np.array([0.0, 0.02])), ATMOSPHERE)
    assert mixed[0] == 173.15 and 285 < mixed[1] < 295


def test_dew_point_of_steam_beyond_the_range_is_refused():
    assert dew_point.bare(Gas.humid_air(1.0), ATMOSPHERE) == pytest.approx(373.12, abs=0.02)  # boiling at 1 atm
    with pytest.raises(ValueError, match="water vapor pressure"):
        dew_point(Gas.humid_air(1.0), Q_(2e6, "Pa"))


def test_acid_dew_point_worked_example():
    # Public note on acid dew points: 93.44 mmHg of water (12 %), 0.0024917 mmHg of SO3: 402 K, 129 degC, 264 degF.
    # The example rounds both logarithms, hence 0.5 K.
    found = acid_dew_point(Q_(93.44, "mmHg"), Q_(0.0024917, "mmHg"))
    assert found.m_as("K") == pytest.approx(402, abs=0.5)


def test_acid_dew_point_second_example():
    # Public calculation sheet: ln pw = 3.64048603, ln ps = -6.9338821 in mmHg: 383.525 K. The sheet takes 760 mmHg
    # as 1 atm exactly, as here.
    found = acid_dew_point.bare(np.exp(3.64048603) * 101325 / 760, np.exp(-6.9338821) * 101325 / 760)
    assert found == pytest.approx(383.52498618, abs=1e-3)


def test_okkes_by_hand():
    # 10 % water and 10 ppm SO3 at 1 atm: logarithms -1 and -5, so 203.25 - 27.6 - 54.15 + 1.06 x 3^2.19 = 133.25 degC.
    found = acid_dew_point_okkes(Q_(0.1, "atm"), Q_(1e-5, "atm")).m_as("degC")
    assert found == pytest.approx(203.25 - 27.6 - 54.15 + 1.06 * 3**2.19, abs=1e-9)
    assert found == pytest.approx(133.25, abs=0.05)


def test_three_correlations_lie_near_one_another():
    # What flue gas of oil holds, 5 to 20 % water and 0.5 to 50 ppm SO3: within 10 K of one another (7 found).
    water, acid = np.meshgrid(np.linspace(0.05, 0.2, 7) * ATMOSPHERE, np.geomspace(0.5e-6, 50e-6, 9) * ATMOSPHERE)
    found = [f.bare(water, acid) for f in (acid_dew_point, acid_dew_point_okkes, acid_dew_point_zarenezhad)]
    assert np.max(np.ptp(found, axis=0)) < 10
    # ZareNezhad's by hand, logarithms 4.5 and -6 in mmHg: 150 - 69.984 + 36.598 + 10.347 = 126.96 degC.
    by_hand = acid_dew_point_zarenezhad(Q_(np.exp(4.5) * MMHG, "Pa"), Q_(np.exp(-6.0) * MMHG, "Pa"))
    assert by_hand.m_as("degC") == pytest.approx(126.96, abs=0.01)


@pytest.mark.parametrize("function", [acid_dew_point_okkes, acid_dew_point_zarenezhad])
def test_other_acid_dew_points_outside_their_range(function):
    with pytest.warns(OutOfRangeWarning, match="so3_pressure"):
        function(Q_(10, "kPa"), Q_(200, "Pa"))
    with pytest.raises(ValueError, match="so3_pressure"):
        function(Q_(10, "kPa"), Q_(0, "Pa"))
    same = function(Q_(1.5, "psi"), Q_(1e-4, "psi")).m, function(Q_(10342.136, "Pa"), Q_(0.68947573, "Pa")).m
    assert same[0] == pytest.approx(same[1], abs=1e-4)


def test_acid_condenses_above_water():
    # Common practice: some ppm of SO3 put the dew point of oil's flue gas at 110 to 150 degC.
    gas = products.bare(fuel("no. 2 oil"), 0.2)
    so3 = 0.03 * gas.so2_wet * ATMOSPHERE
    acid = acid_dew_point.bare(gas.gas.h2o * ATMOSPHERE, so3)
    assert 383 < acid < 423 and acid > dew_point.bare(gas.gas, ATMOSPHERE) + 50


@given(st.floats(1e3, 3e4), st.floats(0.01, 20), st.floats(1.05, 3))
def test_acid_dew_point_rises_with_water_and_acid(water, acid, more):
    base = acid_dew_point.bare(water, acid)
    assert acid_dew_point.bare(water, acid * more) > base
    assert acid_dew_point.bare(water * more, acid) > base


def test_acid_dew_point_outside_its_range():
    with pytest.warns(OutOfRangeWarning, match="so3_pressure"):
        acid_dew_point(Q_(10, "kPa"), Q_(200, "Pa"))
    with pytest.raises(ValueError, match="so3_pressure"):
        acid_dew_point(Q_(10, "kPa"), Q_(0, "Pa"))


def test_latent_heat_against_coolprop():
    # IAPWS-95; the auxiliary equations reach its latent heat within 0.02 %.
    temperature = np.linspace(273.16, 473.15, 30)
    reference = [
        coolprop.PropsSI("H", "T", t, "Q", 1, "Water") - coolprop.PropsSI("H", "T", t, "Q", 0, "Water")
        for t in temperature
    ]
    np.testing.assert_allclose(latent_heat.bare(temperature), reference, rtol=2e-4)


def densities(temperature):
    """Saturated liquid and vapor [kg/m3] by the constants of the library and the release's equations 2 and 3."""
    tau = 1.0 - temperature / atmosphere.CRITICAL_TEMPERATURE
    liquid = 1.0 + sum(b * tau**n for b, n in condensation._LIQUID_DENSITY)
    vapor = np.exp(sum(c * tau**n for c, n in condensation._VAPOUR_DENSITY))
    return condensation.CRITICAL_DENSITY * liquid, condensation.CRITICAL_DENSITY * vapor


@pytest.mark.parametrize(("kelvin", "liquid", "vapor"), [(273.16, 999.789, 0.00485426), (373.1243, 958.365, 0.597586)])
def test_densities_are_the_check_values_of_the_release(kelvin, liquid, vapor):
    """IAPWS SR1-86(1992), its table of check values (from memory: all six digits agree)."""
    assert densities(kelvin) == (pytest.approx(liquid, rel=1e-6), pytest.approx(vapor, rel=1e-6))


def test_densities_against_coolprop():
    # IAPWS-95, from the triple point to 200 degC: each term counts, for latent heat hardly feels the liquid's.
    for kelvin in np.linspace(273.17, 473.15, 9):
        found = [coolprop.PropsSI("D", "T", kelvin, "Q", quality, "Water") for quality in (0, 1)]
        assert densities(kelvin) == (pytest.approx(found[0], rel=5e-5), pytest.approx(found[1], rel=5e-4))


def test_latent_heat_of_frost():
    # Sublimation at the triple point: 2834.4 kJ/kg (IAPWS R10-06, from memory); liquid 2500.9.
    assert latent_heat.bare(273.15) == pytest.approx(2834.4e3, rel=1e-3)
    assert latent_heat.bare(273.16) == pytest.approx(2500.9e3, rel=2e-4)
    # ASHRAE Handbook, water at saturation, -20 degC: 2838.4 kJ/kg (from memory).
    assert latent_heat.bare(253.15) == pytest.approx(2838.4e3, rel=1e-3)


def test_latent_heat_in_us_units_and_range():
    # Keenan and Keyes: 970.3 Btu/lb at 212 degF (from memory; steam tables since print 970.1 to 970.3).
    assert latent_heat(Q_(212, "degF")).m_as("Btu/lb") == pytest.approx(970.2, abs=0.2)
    assert latent_heat(Q_(100, "degC")).m == pytest.approx(latent_heat(Q_(212, "degF")).m, rel=1e-9)
    with pytest.raises(ValueError, match="temperature"):
        latent_heat(Q_(500, "K"))


def test_saturated_gas_by_hand():
    # 1 mol with 20 % vapor at 40 degC, 1 atm: CRC vapor pressure 7.3814 kPa; 0.8 mol dry carries
    # 0.8 x 7.3814 / (101.325 - 7.3814) = 0.06286 mol; 0.13714 mol condenses. 0.1 %: the vapor pressure.
    gas = Gas(0.1, 0.2, 0.7, 0.0, 0.0)
    left, condensed = saturated(gas, Q_(40, "degC"), Q_(1, "atm"))
    assert condensed * gas.molar_mass / MOLAR_MASS["h2o"] == pytest.approx(0.13714, rel=1e-3)
    assert left.h2o == pytest.approx(7.3814 / 101.325, rel=1e-3)
    assert left.co2 / left.n2 == pytest.approx(1 / 7, rel=1e-12)


gases = st.builds(lambda x, e: Gas(0.1 * (1 - x), x, 0.8 * (1 - x), 0.1 * (1 - x), 0.0), st.floats(0, 0.9), st.just(0))


@given(gases, st.floats(180, 600), st.floats(5e4, 1.1e5))
def test_condensing_keeps_every_mole(gas, temperature, pressure):
    left, condensed = saturated.bare(gas, temperature, pressure)
    mass = 1 - condensed  # of gas left, per kg as it came
    before, after = gas.mass_fractions, left.mass_fractions
    assert condensed >= 0
    for species in ("co2", "n2", "o2"):
        assert mass * after[species] == pytest.approx(before[species], rel=1e-11)
    assert mass * after["h2o"] + condensed == pytest.approx(before["h2o"], abs=1e-12)
    if temperature < 473 and condensed > 0:
        assert left.h2o * pressure == pytest.approx(saturation_pressure.bare(temperature), rel=1e-9)
        # What is left is just saturated.
        assert dew_point.bare(left, pressure) == pytest.approx(temperature, abs=1e-6)
    again = saturated.bare(left, temperature, pressure)
    assert again[1] == pytest.approx(0, abs=1e-12)


@given(st.floats(275, 400), st.floats(0.1, 20))
def test_colder_condenses_more(temperature, step):
    warm, cold = (saturated.bare(WET, t, ATMOSPHERE)[1] for t in (temperature, temperature - step))
    assert cold >= warm
    assert (warm > 0) == (temperature < dew_point.bare(WET, ATMOSPHERE))


def test_hot_gas_does_not_condense():
    left, condensed = saturated.bare(WET, np.array([400.0, 900.0, 1500.0]), ATMOSPHERE)
    assert np.all(condensed == 0)
    np.testing.assert_allclose(left.h2o, WET.h2o, rtol=1e-14)
    # Not even pure steam above its boiling point; below it all of it does.
    assert saturated.bare(Gas.humid_air(1.0), 380.0, ATMOSPHERE)[1] == 0


def test_condensate_rate():
    # 1000 lb/h at 90 degF, same case in SI.
    flow = condensate_rate(WET, Q_(1000, "lb/hour"), Q_(90, "degF"), Q_(29.92, "inHg"))
    same = condensate_rate(WET, Q_(1000 * 0.45359237 / 3600, "kg/s"), Q_(305.372222, "K"), Q_(29.92 * 3386.38864, "Pa"))
    assert flow.m == pytest.approx(same.m, rel=1e-6)
    share = saturated(WET, Q_(90, "degF"), Q_(29.92, "inHg"))[1]
    assert flow.m_as("lb/hour") == pytest.approx(1000 * share)
    # Common practice: a condensing gas appliance gives up to about 0.9 gallon per 100,000 Btu (complete
    # condensation of 9.5 lb); at 90 degF three quarters of it.
    assert 0.6 < share / WET.mass_fractions["h2o"] < 0.9
    with pytest.raises(ValueError, match="mass_flow"):
        condensate_rate(WET, Q_(-1, "kg/s"), Q_(300, "K"), Q_(1, "atm"))


def test_effective_specific_heat_is_the_slope_of_the_energy_balance():
    # Gas left, and condensate that stays and cools along with it: enthalpy of vapor less latent heat. Its slope
    # has the heat of that water in it, w x 4.19 kJ/(kg K), which the function leaves out. 0.2 %: the difference of
    # the real latent heat's slope from that of the ideal vapor.
    vapor = Gas(0.0, 1.0, 0.0, 0.0, 0.0)

    def heat(t):
        left, condensed = saturated.bare(WET, t, ATMOSPHERE)
        water = enthalpy.bare(vapor, t) - latent_heat.bare(t)
        return (1 - condensed) * enthalpy.bare(left, t) + condensed * water

    for t in (280.0, 300.0, 313.15, 323.15, 328.0):
        slope = (heat(t + 0.01) - heat(t - 0.01)) / 0.02
        kept = saturated.bare(WET, t, ATMOSPHERE)[1] * 4190
        assert effective_specific_heat.bare(WET, t, ATMOSPHERE) + kept == pytest.approx(slope, rel=2e-3)


def test_effective_specific_heat_of_humid_air_against_coolprop():
    # Saturated humid air, slope of CoolProp's enthalpy at saturation (condensate left out but for its own heat, 4.19
    # kJ/(kg K) times the water lost is below 1 %), per kg of dry air and so on to per kg as it came.
    t = 313.15
    vapor = coolprop.HAPropsSI("Y", "T", t, "P", ATMOSPHERE, "R", 1.0)
    gas = Gas.humid_air(vapor)
    h = [coolprop.HAPropsSI("Hda", "T", t + dt, "P", ATMOSPHERE, "R", 1.0) for dt in (-0.05, 0.05)]
    w = [coolprop.HAPropsSI("W", "T", t + dt, "P", ATMOSPHERE, "R", 1.0) for dt in (-0.05, 0.05)]
    liquid = 4190 * (t - 273.15)  # what each kilogram lost takes with it
    slope = (h[1] - h[0] - (w[1] - w[0]) * liquid) / 0.1
    ratio = coolprop.HAPropsSI("W", "T", t, "P", ATMOSPHERE, "R", 1.0)
    # 1 %: real air holds 0.4 % more vapor.
    assert effective_specific_heat.bare(gas, t - 0.1, ATMOSPHERE) * (1 + ratio) == pytest.approx(slope, rel=0.01)


@given(st.floats(273.2, 370), st.floats(0, 1))
def test_condensing_gas_holds_more_heat(temperature, excess):
    gas = products.bare(fuel("natural gas"), excess).gas
    found = effective_specific_heat.bare(gas, temperature, ATMOSPHERE)
    if temperature > dew_point.bare(gas, ATMOSPHERE):
        assert found == pytest.approx(specific_heat.bare(gas, temperature), rel=1e-12)
    else:
        assert found > 1.2 * specific_heat.bare(gas, temperature)


def test_effective_specific_heat_in_us_units_and_arrays():
    us = effective_specific_heat(WET, Q_(104, "degF"), Q_(14.695949, "psi"))
    assert us.m == pytest.approx(effective_specific_heat.bare(WET, 313.15, ATMOSPHERE), rel=1e-6)
    together = effective_specific_heat.bare(WET, np.array([313.15, 450.0, 900.0]), ATMOSPHERE)
    assert together[0] == pytest.approx(us.m, rel=1e-6)
    assert together[2] == pytest.approx(specific_heat.bare(WET, 900.0), rel=1e-12)
    with pytest.raises(ValueError, match="200 to 1600 K"):
        effective_specific_heat(WET, Q_(150, "K"), Q_(1, "atm"))


def test_units_are_checked_by_name():
    with pytest.raises(UnitsError, match="pressure"):
        dew_point(WET, Q_(5, "m"))
    same = dew_point(WET, Q_(14.695949, "psi")).m, dew_point(WET, Q_(101325, "Pa")).m
    assert same[0] == pytest.approx(same[1], abs=1e-5)
    same = acid_dew_point(Q_(1.5, "psi"), Q_(1e-4, "psi")).m, acid_dew_point.bare(1.5 * 6894.757, 0.6894757)
    assert same[0] == pytest.approx(same[1], abs=1e-4)
