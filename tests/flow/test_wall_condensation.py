"""Wall condensation at one place: coefficients, flux and the wall's balance."""

import cantera
import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st

from ventcalc.flow.wall_condensation import (
    ackermann_factor,
    condensation_flux,
    lewis_number,
    mass_transfer_coefficient,
    settling_flux,
    vapor_diffusivity,
    wall_temperature,
)
from ventcalc.gas.flue_gas import Gas
from ventcalc.handbook.condensation import wall_checks
from ventcalc.units import Q_

ATMOSPHERE = 101325.0
# Natural gas burnt to 8.5 % of carbon dioxide in the dry gas.
LOW_FIRE = Gas(co2=0.0725, h2o=0.147, n2=0.72, o2=0.0605)


def humid_air(kelvin, humidity):
    return Gas.humid_air(HAPropsSI("Y", "T", kelvin, "P", ATMOSPHERE, "R", humidity))


@pytest.mark.parametrize("kelvin", [273.15, 298.15, 323.15, 373.15])
def test_diffusivity_against_another_correlation(kelvin):
    # Massman, Atmos. Environ. 32 (1998) 1111: 0.2178 cm2/s (T/273.15)^1.81 at 1 atm, read in public code. Its power is
    # lower: found -4 % at the freezing point, 0 % at 50 degC, +4 % at 100 degC.
    other = 0.2178e-4 * (kelvin / 273.15) ** 1.81
    assert vapor_diffusivity.bare(kelvin, ATMOSPHERE) == pytest.approx(other, rel=0.045)
    assert vapor_diffusivity.bare(kelvin, 0.5 * ATMOSPHERE) == pytest.approx(
        2.0 * vapor_diffusivity.bare(kelvin, ATMOSPHERE)
    )


def test_public_functions_take_any_units():
    assert vapor_diffusivity(Q_(77, "degF"), Q_(1, "atm")).m_as("cm**2/s") == pytest.approx(0.25, rel=0.01)
    coefficient = mass_transfer_coefficient(
        Q_(1.0, "Btu/(hour*ft**2*delta_degF)"), Q_(0.25, "Btu/(lb*delta_degF)"), 1.0
    )
    assert coefficient.m_as("lb/(hour*ft**2)") == pytest.approx(4.0)
    with pytest.raises(ValueError, match="film"):
        mass_transfer_coefficient(Q_(0.0, "W/(m**2*K)"), Q_(1000.0, "J/(kg*K)"), 0.8)


def test_lewis_number_of_humid_air():
    # 0.85 to 0.87 for dilute vapor in air at 25 degC (any text on psychrometry; with CoolProp's air).
    k, cp = (PropsSI(name, "T", 298.15, "P", ATMOSPHERE, "Air") for name in ("L", "C"))
    rho = PropsSI("D", "T", 298.15, "P", ATMOSPHERE, "Air")
    found = lewis_number.bare(k, rho, cp, vapor_diffusivity.bare(298.15, ATMOSPHERE))
    assert found == pytest.approx(0.86, abs=0.03)


def test_settling_is_stefans_and_dilute_vapor_ficks():
    assert settling_flux.bare(0.01, 0.1, 0.02) == pytest.approx(0.01 * np.log(0.98 / 0.90))
    assert settling_flux.bare(0.01, 0.0102, 0.0100) == pytest.approx(0.01 * 0.0002, rel=0.02)
    assert settling_flux.bare(0.01, 0.02, 0.05) < 0.0


def test_ackermann_factor_closes_the_balance_of_the_film():
    # What the wall receives less what the bulk loses is what the vapor gives up: m'' cp (T - Tw), whatever the flux.
    flux, film, heat = np.array([-2e-3, -1e-9, 0.0, 1e-9, 1e-4, 2e-3]), 6.0, 1880.0
    at_wall = ackermann_factor.bare(flux, film, heat)
    from_bulk = at_wall * np.exp(-flux * heat / film)
    assert film * (at_wall - from_bulk) == pytest.approx(flux * heat, abs=1e-9)
    assert at_wall[2] == 1.0 and np.all(np.diff(at_wall) >= 0.0)


@pytest.mark.parametrize(("celsius", "humidity"), [(20.0, 0.3), (30.0, 0.5), (45.0, 0.2), (45.0, 0.9), (60.0, 0.6)])
def test_a_wetted_wall_that_passes_no_heat_has_the_wet_bulb_temperature(celsius, humidity):
    # CoolProp's wet bulb is ASHRAE's, of adiabatic saturation. That of a wetted wall comes near it since Le^(-2/3) of
    # humid air is near the ratio of its specific heat to that of dry air: found within 4 % of the depression, colder in
    # dry air (0.5 K at 45 degC and 20 %), warmer by 0.06 K at 45 degC and 90 %.
    kelvin = celsius + 273.15
    air = humid_air(kelvin, humidity)
    wall = wall_temperature.bare(air, kelvin, kelvin, ATMOSPHERE, 20.0, 1e9, wetted=True)
    wet_bulb = HAPropsSI("B", "T", kelvin, "P", ATMOSPHERE, "R", humidity)
    assert wall == pytest.approx(wet_bulb, abs=0.04 * (kelvin - wet_bulb))


def test_the_wall_above_a_roof_at_low_fire_by_hand():
    # 65 degC, 14.7 % of vapor, -20 degC outdoors, films of 6 and 23 W/(m2 K): a dry wall would stand at -2 degC. With
    # water it is 34 degC: 180 + 1,060 W/m2 arrive, 23 * 54.4 = 1,250 leave, and 1.6 kg/(m2 h) settle. Here the balance
    # is gone through with properties by Cantera (gas) and CoolProp (water), and Massman's diffusivity.
    film, outside = 6.0, 1 / 23.0
    wall = wall_temperature.bare(LOW_FIRE, 338.15, 253.15, ATMOSPHERE, film, outside)
    assert wall - (253.15 + 85.0 * outside / (outside + 1 / film)) > 35.0
    gas = cantera.Solution("gri30.yaml")
    middle = 0.5 * (338.15 + wall)
    gas.TPX = middle, ATMOSPHERE, {"CO2": 0.0725, "H2O": 0.147, "N2": 0.72, "O2": 0.0605}
    diffusivity = 0.2178e-4 * (middle / 273.15) ** 1.81
    lewis = gas.thermal_conductivity / (gas.density * gas.cp_mass * diffusivity)
    saturated = PropsSI("P", "T", wall, "Q", 0, "Water") / ATMOSPHERE
    dry = (0.0725 * 44.01 + 0.72 * 28.013 + 0.0605 * 31.998) / 0.853
    in_bulk, at_wall = (x * 18.015 / (x * 18.015 + (1 - x) * dry) for x in (0.147, saturated))
    by_hand = film / gas.cp_mass / lewis ** (2 / 3) * np.log((1 - at_wall) / (1 - in_bulk))
    # Cantera averages the conductivity of such a mixture 6 % above Mason and Saxena's rule: 4.1 % in the flux.
    assert condensation_flux.bare(LOW_FIRE, 338.15, wall, ATMOSPHERE, film) == pytest.approx(by_hand, rel=0.05)
    latent = PropsSI("H", "T", wall, "Q", 1, "Water") - PropsSI("H", "T", wall, "Q", 0, "Water")
    moved = by_hand * 1880.0 / film
    arrives = film * moved / (1.0 - np.exp(-moved)) * (338.15 - wall) + by_hand * latent
    assert (wall - 253.15) / outside == pytest.approx(arrives, rel=0.05)


def test_a_dry_gas_leaves_the_wall_where_resistances_put_it():
    gas = Gas.dry_air()
    wall = wall_temperature.bare(gas, 400.0, 260.0, ATMOSPHERE, 8.0, 0.1)
    assert wall == pytest.approx(260.0 + 140.0 * 0.1 / (0.1 + 1 / 8.0), abs=1e-9)


def test_nothing_jumps_where_the_wall_passes_the_dew_point():
    dew = 273.15 + 53.0
    outside = np.linspace(0.05, 0.6, 4001)  # from well below to well above
    wall = wall_temperature.bare(LOW_FIRE, 360.0, 290.0, ATMOSPHERE, 6.0, outside)
    flux = np.maximum(condensation_flux.bare(LOW_FIRE, 360.0, wall, ATMOSPHERE, 6.0), 0.0)
    assert wall.min() < dew < wall.max()
    assert np.abs(np.diff(wall)).max() < 0.05 and np.abs(np.diff(flux)).max() < 0.01 * flux.max()


@given(
    kelvin=st.floats(280.0, 450.0),
    around=st.floats(230.0, 310.0),
    film=st.floats(1.0, 60.0),
    resistance=st.floats(0.01, 2.0),
    water=st.floats(0.0, 0.2),
)
def test_the_wall_lies_between_dry_wall_and_dew_point(kelvin, around, film, resistance, water):
    gas = Gas(co2=0.08, h2o=water, n2=0.88 - water, o2=0.04)
    wall = wall_temperature.bare(gas, kelvin, around, ATMOSPHERE, film, resistance)
    dry = around + (kelvin - around) * resistance / (resistance + 1.0 / film)
    assert wall >= min(dry, kelvin) - 1e-6
    assert wall <= max(kelvin, around) + 1e-6
    if wall > dry + 1e-3:
        assert condensation_flux.bare(gas, kelvin, wall, ATMOSPHERE, film) > 0.0


# --- data/flow/wall_condensation_checks.csv ---

CHECKS = {c.id: c for c in wall_checks()}
DIFFUSIVITY = [k for k, c in CHECKS.items() if c.quantity.startswith("diffusivity")]


@pytest.mark.parametrize("key", [k for k in CHECKS if k not in DIFFUSIVITY])
def test_published_value(key):
    # The row's tolerance is that of the source's own equation. Nothing is widened: what lies outside it is named, with
    # the reason, in data/flow/flow_remarks.csv, and is by no more than here (wet side: more water).
    c = CHECKS[key]
    by = {"WD015": -0.04, "WD018": 0.034, "WD022": 0.021, "WD023": 0.021, "WD026": 0.031, "WD028": -0.124,
          "WD029": 0.14, "WD030": 0.026, "WD031": 0.017, "WD033": -0.049, "WD036": 0.013}  # fmt: skip
    assert c.agrees != (key in by), c.verdict
    if key in by:
        assert c.difference / c.published == pytest.approx(by[key], abs=0.002) and c.remark


@pytest.mark.parametrize("key", DIFFUSIVITY)
def test_diffusivity_among_the_published(key):
    # Marrero and Mason against five other fits and an experiment: 4 % below to 1 % above up to 300 K, and rising above
    # the oldest table beyond, 5 % at 350 K and 11 % at 400 K (the water that settles goes with its power 2/3).
    c = CHECKS[key]
    above = c.difference / c.published
    if key == "WD001":
        assert c.agrees
    elif key in ("WD012", "WD013"):
        assert 0.05 < above < 0.11
    else:
        assert -0.042 < above < 0.01
