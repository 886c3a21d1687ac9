"""Streams: properties that a gas carries through a vent, and how they mix."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from ventcalc.gas import atmosphere, condensation, flue_gas, streams
from ventcalc.gas.combustion import products
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.gas.streams import (
    AIR_VISCOSITY,
    GAS_R,
    HEAT_0,
    HEAT_1,
    HEAT_2,
    PRANDTL,
    VISCOSITY,
    WATER,
    stream_properties,
)

BURNT = products.bare(fuel("natural gas"), 0.25).gas
AIR = flue_gas.Gas.humid_air(0.01)
VENT_TEMPERATURES = np.linspace(260.0, 600.0, 35)


def heat(properties, kelvin):
    return properties[HEAT_0] + kelvin * (properties[HEAT_1] + kelvin * properties[HEAT_2])


@pytest.mark.parametrize("gas", [BURNT, AIR, products.bare(fuel("no. 2 oil"), 0.3).gas], ids=["gas", "air", "oil"])
def test_a_stream_keeps_the_properties_of_its_gas(gas):
    # A quadratic in T has to serve from 230 to 900 K. Found in vents (260 to 600 K): specific heat
    # within 0.28 % (air at 260 K; 0.17 % for flue gas), viscosity 2.9 % (wet gas at 260 K; it sets only the Reynolds
    # number and the film), the Prandtl number, one value for all temperatures, 1.8 %.
    p = stream_properties(gas)
    assert p[GAS_R] == pytest.approx(gas.gas_constant)
    assert p[WATER] == pytest.approx(gas.mass_fractions["h2o"])
    assert heat(p, VENT_TEMPERATURES) == pytest.approx(flue_gas.specific_heat.bare(gas, VENT_TEMPERATURES), rel=3e-3)
    viscosity = p[VISCOSITY] * np.polyval(AIR_VISCOSITY, VENT_TEMPERATURES)
    assert viscosity == pytest.approx(flue_gas.viscosity.bare(gas, VENT_TEMPERATURES), rel=0.03)
    prandtl = p[PRANDTL] ** 1.5
    assert prandtl == pytest.approx(flue_gas.prandtl.bare(gas, VENT_TEMPERATURES), rel=0.02)


def test_streams_that_mix_by_mass():
    # Gas constant, water and specific heat mix by mass exactly; viscosity and Prandtl number nearly: within 1 %
    # of the true mixture's (Wilke, Mason and Saxena) at half air.
    one, other = stream_properties(BURNT), stream_properties(AIR)
    moles = 0.5 / BURNT.molar_mass, 0.5 / AIR.molar_mass
    mole_fractions = [
        (moles[0] * getattr(BURNT, s) + moles[1] * getattr(AIR, s)) / sum(moles) for s in flue_gas.SPECIES
    ]
    mixed = stream_properties(flue_gas.Gas(*mole_fractions))
    mean = 0.5 * (one + other)
    assert mean[[GAS_R, WATER]] == pytest.approx(mixed[[GAS_R, WATER]], rel=1e-9)
    assert heat(mean, VENT_TEMPERATURES) == pytest.approx(heat(mixed, VENT_TEMPERATURES), rel=1e-9)
    assert mean[[VISCOSITY, PRANDTL]] == pytest.approx(mixed[[VISCOSITY, PRANDTL]], rel=0.01)


def test_a_stream_without_its_water_and_the_water_make_the_stream():
    gas = streams.stream_properties(Gas(co2=0.08, h2o=0.15, n2=0.72, o2=0.05))
    left = np.empty_like(gas)
    streams.without_water(gas, 0.03, left)
    assert 0.97 * left + 0.03 * streams.STEAM == pytest.approx(gas, rel=1e-12)
    assert left[streams.WATER] == pytest.approx((gas[streams.WATER] - 0.03) / 0.97)
    several = np.empty((gas.size, 3))
    streams.without_water(np.repeat(gas[:, None], 3, 1), np.array([0.0, 0.03, 0.05]), several)
    assert several[:, 1] == pytest.approx(left) and several[:, 0] == pytest.approx(gas)
    # Its enthalpy is what is left of the whole: vapor of the same temperature goes.
    whole = streams.sensible(gas, 330.0)
    assert 0.97 * streams.sensible(left, 330.0) + 0.03 * streams.sensible(streams.STEAM, 330.0) == pytest.approx(whole)


def test_what_a_wall_holds_is_saturation_over_water_and_over_ice():
    # IAPWS R14-08 over ice by `atmosphere`, which has its own tests; the cubic is within 0.05 %.
    gas = streams.stream_properties(Gas(co2=0.08, h2o=0.15, n2=0.72, o2=0.05))
    wall = np.array([230.0, 250.0, 270.0, 273.15, 273.17, 290.0, 330.0])
    held, slope = streams.held_at_wall(gas[:, None], wall, 101325.0)
    pressure = atmosphere.saturation_pressure.bare(wall)
    moles = gas[streams.GAS_R] / streams.VAPOUR_CONSTANT - gas[streams.WATER]
    assert held == pytest.approx(moles * pressure / (101325.0 - pressure), rel=5e-4)
    apart = [streams.held_at_wall(gas[:, None], wall + d, 101325.0)[0] for d in (-1e-3, 1e-3)]
    assert slope == pytest.approx((apart[1] - apart[0]) / 2e-3, rel=1e-4)


def test_latent_heat_at_a_wall_has_fusion_in_it_below_freezing():
    # Within 0.3 % of Clapeyron's (`condensation.latent_heat`) but for the first kelvin of frost.
    wall = np.array([240.0, 260.0, 272.0, 274.0, 300.0, 330.0, 360.0])
    latent, slope = streams.latent_at_wall(wall)
    assert latent == pytest.approx(condensation.latent_heat.bare(wall), rel=3e-3)
    assert np.all(np.diff(streams.latent_at_wall(np.linspace(260.0, 280.0, 2001))[0]) <= 1e-6)
    assert streams.ice_share(np.array([272.0, 272.66, 273.2])) == pytest.approx([1.0, 0.5, 0.0])
    assert slope[4] == pytest.approx(streams.latent_at_wall(np.array([301.0]))[0][0] - latent[4])


def test_conductivity_of_a_stream_is_that_of_its_gas():
    gas = Gas(co2=0.08, h2o=0.15, n2=0.72, o2=0.05)
    for kelvin in (300.0, 370.0, 450.0):
        found = streams.conductivity(streams.stream_properties(gas), kelvin)
        assert found == pytest.approx(flue_gas.conductivity.bare(gas, kelvin), rel=0.03)


def test_a_gas_too_cold_for_any_vapor_holds_none():
    """A trial that takes fog for vapor may seem as cold as 40 K: saturation pressure only falls with temperature."""
    gas = stream_properties(Gas(co2=0.08, h2o=0.16, n2=0.73, o2=0.03))
    temperatures = np.array([20.0, 40.0, 80.0, 150.0, 200.0, 230.0, 260.0])
    held = np.array([streams.water_held(gas, t, 101_325.0) for t in temperatures])
    # Over ice at 200 K 0.16 Pa (IAPWS R14-08), over supercooled water not twice as much: 2e-6 kg/kg.
    assert np.all(np.diff(held) >= 0.0) and np.all(held[:5] < 3e-6)
    # Most of its water is fog: what is found from its enthalpy is the temperature that it had.
    for t in (250.0, 258.0, 270.0):
        total = streams.enthalpy(gas, t, 101_325.0)
        assert streams.foggy(gas, total, t + 5.0, 101_325.0)[0] == pytest.approx(t, abs=1e-3)
        clear = t
        for _ in range(3):
            clear -= (streams.sensible(gas, clear) - total) / streams.specific_heat(gas, clear)
        assert gas[WATER] > streams.water_held(gas, clear, 101_325.0)


def test_vapor_takes_what_steam_takes_as_an_ideal_gas():
    """Specific heat of water vapor at low pressure at 320 K: 1.868 kJ/(kg K) in CoolProp's IAPWS-95."""
    steam = PropsSI("CP0MASS", "T", 320.0, "P", 1000.0, "Water")
    assert steam == pytest.approx(streams.STEAM_HEAT, rel=5e-3)
