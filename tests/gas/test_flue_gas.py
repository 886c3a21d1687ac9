"""Flue gas: the table and its fits against CoolProp, mixtures against Cantera, air against tables."""

import csv
import importlib.util

import cantera
import CoolProp
import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.gas import flue_gas
from ventcalc.gas.atmosphere import DRY_AIR_MOLAR_MASS, MOLAR_MASS, air_density
from ventcalc.gas.flue_gas import (
    SPECIES,
    Gas,
    conductivity,
    density,
    enthalpy,
    mix,
    mixing_rule,
    prandtl,
    specific_heat,
    transport,
    viscosity,
)
from ventcalc.units import Q_, UnitsError

FLUIDS = dict(zip(SPECIES, ("CarbonDioxide", "Water", "Nitrogen", "Oxygen", "Argon"), strict=True))
CANTERA_NAMES = dict(zip(SPECIES, ("CO2", "H2O", "N2", "O2", "AR"), strict=True))

# Typical flue gas: natural gas at no, 50 % and 200 % excess air, and oil at 30 % (mole fractions).
TYPICAL = {
    "gas, 0 %": Gas(0.096, 0.188, 0.707, 0.0, 0.009),
    "gas, 50 %": Gas(0.0664, 0.1312, 0.7304, 0.0628, 0.0092),
    "gas, 200 %": Gas(0.0343, 0.0678, 0.756, 0.1327, 0.0092),
    "oil, 30 %": Gas(0.1143, 0.1014, 0.7303, 0.0452, 0.0088),
}


def pure(species):
    return Gas(**{s: float(s == species) for s in SPECIES})


@pytest.fixture(scope="module")
def reference():
    """Cantera's gri30 mixture, mixture-averaged transport, 1 atm."""
    solution = cantera.Solution("gri30.yaml")
    solution.transport_model = "mixture-averaged"

    def at(gas, temperature):
        solution.TPX = temperature, 101325, {CANTERA_NAMES[s]: float(getattr(gas, s)) for s in SPECIES}
        return solution

    return at


def dilute(fluid, temperature):
    """Molar cp0, viscosity and conductivity at vanishing density straight from CoolProp."""
    state = CoolProp.AbstractState("HEOS", fluid)
    state.specify_phase(CoolProp.iphase_gas)
    state.update(CoolProp.DmolarT_INPUTS, 1e-6, temperature)
    return state.cp0molar(), state.viscosity(), state.conductivity()


# Between the points of the table too. 0.012 % is the worst of the fits; vapor's transport 0.06 % above 0 degC.
@pytest.mark.parametrize("species", SPECIES)
def test_pure_gases_against_coolprop(species):
    for temperature in (274.0, 287.3, 303.0, 333.0, 351.0, 450.0, 611.0, 805.0, 1150.0, 1599.0):
        heat, mu, k = dilute(FLUIDS[species], temperature)
        gas = pure(species)
        assert specific_heat.bare(gas, temperature) * MOLAR_MASS[species] == pytest.approx(heat, rel=1.2e-4)
        close = 2e-3 if species == "h2o" else 1.2e-4
        assert viscosity.bare(gas, temperature) == pytest.approx(mu, rel=close)
        assert conductivity.bare(gas, temperature) == pytest.approx(k, rel=close)


def test_vapor_near_330_kelvin_has_the_specific_heat_of_a_gas():
    # CoolProp's metastable "gas" at 330 K and 1 atm says 16.7 kJ/(kg K); the ideal gas is 1.87 (steam tables).
    assert specific_heat.bare(pure("h2o"), 330.0) == pytest.approx(1873, rel=2e-3)


@pytest.mark.parametrize("species", SPECIES)
@pytest.mark.parametrize(
    ("column", "power", "fit"),
    [
        ("cp0_J_per_mol_K", 0.0, flue_gas._SPECIFIC_HEAT),
        ("viscosity_Pa_s", 0.5, flue_gas._VISCOSITY),
        ("conductivity_W_per_m_K", 0.5, flue_gas._CONDUCTIVITY),
    ],
)
def test_fit_meets_every_point_of_its_table(species, column, power, fit):
    found = [row for row in tables.read("flue_gas") if row["species"] == species]
    temperature = np.array([float(row["temperature_K"]) for row in found])
    value = np.array([float(row[column]) for row in found])
    assert temperature[0] == 200 and temperature[-1] == 1600 and len(found) == 71
    fitted = flue_gas._polynomial(fit, flue_gas._scaled(temperature))[SPECIES.index(species)] * temperature**power
    np.testing.assert_allclose(fitted, value, rtol=1.8e-3 if species == "h2o" and power else 1.1e-4)


def test_table_is_what_its_script_builds():
    spec = importlib.util.spec_from_file_location("build_flue_gas", tables.DATA / "gas" / "build_flue_gas.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    stored = [list(row.values()) for row in tables.read("flue_gas")]
    built = list(csv.reader([",".join(f'"{v}"' for v in row) for row in script.rows()]))
    assert [row[:2] for row in built] == [row[:2] for row in stored]
    np.testing.assert_allclose(
        [[float(v) for v in row[2:5]] for row in built], [[float(v) for v in row[2:5]] for row in stored], rtol=1e-5
    )


@pytest.mark.parametrize("name", TYPICAL)
@pytest.mark.parametrize("temperature", [300, 350, 400, 500, 700, 1000, 1300, 1600])
def test_specific_heat_and_viscosity_against_cantera(name, temperature, reference):
    gas, other = TYPICAL[name], reference(TYPICAL[name], temperature)
    assert specific_heat.bare(gas, temperature) == pytest.approx(other.cp_mass, rel=3e-3)
    # Measured: -1.8 % at 300 K to +0.9 % at 1600 K, the spread of the pure viscosities behind the two.
    assert viscosity.bare(gas, temperature) == pytest.approx(other.viscosity, rel=0.02)
    assert density.bare(gas, temperature, 101325.0) == pytest.approx(other.density, rel=5e-5)


@pytest.mark.parametrize("name", TYPICAL)
def test_enthalpy_against_cantera(name, reference):
    gas = TYPICAL[name]
    zero = reference(gas, 298.15).enthalpy_mass
    for temperature in (320.0, 450.0, 700.0, 1200.0):
        assert enthalpy.bare(gas, temperature) == pytest.approx(
            reference(gas, temperature).enthalpy_mass - zero, rel=2e-3
        )


def pure_transport(reference, species, temperature):
    state = reference(pure(species), temperature)
    return state.viscosity, state.thermal_conductivity


# Conductivity of wet flue gas does not meet the 3 % hoped for against Cantera: it is 3 to 8 % lower. The
# cause is measured in the tests below: gri30's transport fit for water vapor conducts 22 to 42 % better than IAPWS,
# which is fitted to measurements, and for nitrogen 5 to 8 % better than Lemmon and Jacobsen above 1000 K. Cantera's own
# mixing rule on the IAPWS and Lemmon-Jacobsen gases meets ours within 1 %: the rules are not what differs.
@pytest.mark.parametrize("name", TYPICAL)
@pytest.mark.parametrize("temperature", [300, 400, 500, 700, 1000])
def test_conductivity_against_cantera(name, temperature, reference):
    ratio = conductivity.bare(TYPICAL[name], temperature) / reference(TYPICAL[name], temperature).thermal_conductivity
    assert 0.92 < ratio < 1.0


@pytest.mark.parametrize("temperature", [300, 400, 500, 700, 1000, 1300, 1600])
def test_conductivity_of_vapor_is_where_cantera_differs(temperature, reference):
    ratio = conductivity.bare(pure("h2o"), temperature) / reference(pure("h2o"), temperature).thermal_conductivity
    assert 0.70 < ratio < 0.87


@pytest.mark.parametrize(("temperature", "printed"), [(473.15, 0.0334), (573.15, 0.0435)])
def test_conductivity_of_vapor_against_steam_tables(temperature, printed, reference):
    # Steam at 1 bar in the VDI Heat Atlas, from memory. (A textbook, Incropera's table A.4, has 0.0339 at 500 K
    # and 0.0422 at 600 K, 5 to 9 % below: older than IAPWS, and further still from Cantera's.)
    assert conductivity.bare(pure("h2o"), temperature) == pytest.approx(printed, rel=0.03)
    assert reference(pure("h2o"), temperature).thermal_conductivity > 1.25 * printed


@pytest.mark.parametrize("name", TYPICAL)
@pytest.mark.parametrize("temperature", [300, 400, 500, 700, 1000])
def test_canteras_rule_on_measured_gases_meets_ours(name, temperature):
    single = np.array([conductivity.bare(pure(s), temperature) for s in SPECIES])
    x = TYPICAL[name].mole_fractions
    rule = 0.5 * (x @ single + 1.0 / (x @ (1.0 / single)))
    assert conductivity.bare(TYPICAL[name], temperature) == pytest.approx(rule, rel=0.01)


@pytest.mark.parametrize(("kelvin", "ratio"), [(333.15, 0.1), (353.15, 0.3), (363.15, 0.3), (372.0, 0.5)])
def test_humid_air_against_its_own_model(kelvin, ratio):
    # CoolProp's humid air, a rule of its own on the air of Lemmon and Jacobsen: ours is 1.7 to 3.8 % below, of which
    # dry air makes 1.5. What water does beyond that is within the 4 % to which conductivity of wet gas is known; a film
    # follows it with the power 0.6.
    share = ratio / 0.62198 / (1.0 + ratio / 0.62198)
    known = coolprop.HAPropsSI("K", "T", kelvin, "P", 101325, "W", ratio)
    assert conductivity.bare(Gas.humid_air(share), kelvin) == pytest.approx(0.97 * known, rel=0.015)


@pytest.mark.parametrize("name", TYPICAL)
@pytest.mark.parametrize("temperature", [300, 400, 600, 900, 1300])
def test_mixing_rule_for_conductivity_against_cantera(name, temperature, reference):
    # The same rule on Cantera's own pure values; Cantera averages (sum x k + 1 / sum x/k) / 2 instead. So
    # only the rules differ: within 3 % of each other.
    gas = TYPICAL[name]
    single = {s: pure_transport(reference, s, temperature) for s in SPECIES}
    found = 0.0
    for i in SPECIES:
        interaction = 0.0
        for j in SPECIES:
            mu, mass = single[i][0] / single[j][0], MOLAR_MASS[i] / MOLAR_MASS[j]
            interaction += getattr(gas, j) * (1 + mu**0.5 * mass**-0.25) ** 2 / (8 * (1 + mass)) ** 0.5
        found += getattr(gas, i) * single[i][1] / interaction
    assert found == pytest.approx(reference(gas, temperature).thermal_conductivity, rel=0.03)


@pytest.mark.parametrize("temperature", [250.0, 300.0, 400.0, 600.0, 1000.0, 1500.0])
def test_dry_air_against_its_own_correlation(temperature):
    # Lemmon and Jacobsen 2004 fitted air as one fluid (CoolProp's "Air"): a check of both mixing rules on
    # three gases. Both papers' fluids are stated to 2 % in conductivity; the rule comes out 1.5 % low at room
    # temperature and 2.1 % at 1500 K.
    _, mu, k = dilute("Air", temperature)
    air = Gas.dry_air()
    assert viscosity.bare(air, temperature) == pytest.approx(mu, rel=0.01)
    assert conductivity.bare(air, temperature) == pytest.approx(k, rel=0.025)


@pytest.mark.parametrize(
    ("kelvin", "heat", "mu", "k", "pr"),
    [
        (300, 1007, 184.6e-7, 26.3e-3, 0.707),
        (500, 1030, 270.1e-7, 40.7e-3, 0.684),
        (700, 1075, 338.8e-7, 52.4e-3, 0.695),
    ],
)
def test_air_against_a_heat_transfer_textbook(kelvin, heat, mu, k, pr):
    # Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, Table A.4, air at 1 atm (from memory).
    # Its conductivity at 500 K lies 1.9 % above the modern correlation for air (39.9), which the mixing rule
    # misses by 1.5 % more: 4 % on conductivity and Prandtl number. Viscosity 2 %.
    air = Gas.dry_air()
    assert specific_heat.bare(air, kelvin) == pytest.approx(heat, rel=3e-3)
    assert viscosity.bare(air, kelvin) == pytest.approx(mu, rel=0.02)
    assert conductivity.bare(air, kelvin) == pytest.approx(k, rel=0.04)
    assert prandtl.bare(air, kelvin) == pytest.approx(pr, rel=0.04)


@pytest.mark.parametrize("kelvin", [350.0, 400.0, 600.0])
def test_density_against_a_real_gas_mixture(kelvin):
    # GERG-type mixture of CoolProp at 1 atm: the ideal gas is within 0.05 % above the dew point.
    gas = TYPICAL["gas, 50 %"]
    mixture = "HEOS::" + "&".join(f"{FLUIDS[s]}[{getattr(gas, s)}]" for s in SPECIES)
    real = coolprop.PropsSI("D", "T|gas", kelvin, "P", 101325, mixture)
    assert density.bare(gas, kelvin, 101325.0) == pytest.approx(real, rel=5e-4)


def test_mixing_rule_on_pure_values_of_another_source():
    # CoolProp's pure gases through the rule, against the library's table through it: the fits' 0.06 %.
    gas = TYPICAL["gas, 50 %"]
    for kelvin in (300.0, 480.0, 1100.0):
        single = np.array([dilute(FLUIDS[s], kelvin) for s in SPECIES])
        mu, k = mixing_rule(gas.mole_fractions, single[:, 1], single[:, 2])
        assert transport.bare(gas, kelvin) == pytest.approx((mu, k), rel=1e-3)


@given(st.integers(0, 4), st.floats(200, 1600))
def test_mixing_rule_leaves_one_gas_alone(index, temperature):
    # phi_ii = 1: a "mixture" of one gas has that gas's own values.
    gas = pure(SPECIES[index])
    mu = flue_gas._polynomial(flue_gas._VISCOSITY, flue_gas._scaled(temperature))[index] * temperature**0.5
    assert viscosity.bare(gas, temperature) == pytest.approx(mu, rel=1e-12)


def test_dry_air_is_the_same_in_both_modules():
    assert Gas.dry_air().molar_mass == pytest.approx(DRY_AIR_MOLAR_MASS, rel=1e-14)
    assert density.bare(Gas.dry_air(), 300.0, 1e5) == pytest.approx(air_density.bare(300.0, 1e5), rel=1e-14)
    # International standard value 28.9647 g/mol for 400 ppm CO2 (CIPM-2007: 28.96546): 0.01 %.
    assert Gas.dry_air().molar_mass == pytest.approx(0.02896546, rel=1e-4)
    assert Gas.dry_air().gas_constant == pytest.approx(287.05, rel=1e-4)


def test_wet_flue_gas_is_lighter_than_air_at_one_temperature():
    assert TYPICAL["gas, 50 %"].molar_mass < Gas.dry_air().molar_mass < TYPICAL["oil, 30 %"].molar_mass


fractions = st.lists(st.floats(0.001, 1), min_size=5, max_size=5).map(lambda x: Gas(*(np.array(x) / sum(x))))
temperatures = st.floats(200, 1600)


@given(fractions, temperatures)
def test_specific_heat_is_the_slope_of_enthalpy(gas, temperature):
    low, high = max(200.0, temperature - 0.5), min(1600.0, temperature + 0.5)
    slope = (enthalpy.bare(gas, high) - enthalpy.bare(gas, low)) / (high - low)
    assert slope == pytest.approx(specific_heat.bare(gas, (low + high) / 2), rel=1e-6)


@given(fractions)
def test_enthalpy_is_zero_at_25_celsius_and_rises(gas):
    assert enthalpy.bare(gas, 298.15) == pytest.approx(0, abs=1e-6)
    assert np.all(np.diff(enthalpy.bare(gas, np.linspace(200, 1600, 100))) > 0)


@given(fractions, temperatures)
def test_mixture_lies_among_its_parts(gas, temperature):
    singles = [conductivity.bare(pure(s), temperature) for s in SPECIES]
    assert min(singles) * 0.95 <= conductivity.bare(gas, temperature) <= max(singles) * 1.05
    heats = [specific_heat.bare(pure(s), temperature) for s in SPECIES]
    assert min(heats) <= specific_heat.bare(gas, temperature) <= max(heats)
    assert sum(gas.mass_fractions.values()) == pytest.approx(1, abs=1e-12)


@given(fractions, fractions, st.floats(0, 10), st.floats(0.1, 10))
def test_mixing_keeps_moles_mass_and_enthalpy(first, second, a, b):
    mixed = mix([first, second], [a, b])
    assert mixed.mole_fractions.sum() == pytest.approx(1, abs=1e-12)
    mass = a * first.molar_mass + b * second.molar_mass
    assert (a + b) * mixed.molar_mass == pytest.approx(mass, rel=1e-12)
    heat = a * first.molar_mass * enthalpy.bare(first, 500.0) + b * second.molar_mass * enthalpy.bare(second, 500.0)
    assert mass * enthalpy.bare(mixed, 500.0) == pytest.approx(heat, rel=1e-11)


def test_arrays_of_gases_and_temperatures_agree_with_single_calls():
    vapor = np.array([0.0, 0.05, 0.1])
    gases = Gas.humid_air(vapor)
    temperature = np.array([[300.0], [700.0]])
    for function in (specific_heat, enthalpy, viscosity, conductivity, prandtl):
        together = function.bare(gases, temperature)
        assert together.shape == (2, 3)
        for i, t in enumerate((300.0, 700.0)):
            for j, x in enumerate(vapor):
                assert together[i, j] == pytest.approx(function.bare(Gas.humid_air(x), t), rel=1e-12)
    # One gas at many temperatures, and many gases at one.
    assert viscosity.bare(Gas.dry_air(), np.array([300.0, 400.0])).shape == (2,)
    assert viscosity.bare(gases, 300.0).shape == (3,)
    assert mix([gases, Gas.dry_air()], [1.0, vapor + 1]).h2o.shape == (3,)


@pytest.mark.parametrize("function", [specific_heat, enthalpy, viscosity, conductivity, prandtl, transport])
def test_temperature_outside_the_table_is_refused(function):
    for t in (199.9, 1600.1):
        with pytest.raises(ValueError, match="200 to 1600 K"):
            function(Gas.dry_air(), Q_(t, "K"))
        with pytest.raises(ValueError, match="200 to 1600 K"):
            function.bare(Gas.dry_air(), np.array([300.0, t]))
    function(Gas.dry_air(), Q_(np.array([200.0, 1600.0]), "K"))


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: Gas(0.1, 0.1, 0.7, 0.0), "sum to 0.9"),
        (lambda: Gas(-0.1, 0.2, 0.9, 0.0), "co2 = -0.1"),
        (lambda: Gas.humid_air(1.5), "= -"),
        (lambda: mix([Gas.dry_air()], [0.0]), "mole_amounts"),
        (lambda: mix([Gas.dry_air(), Gas.dry_air()], [2.0, -1.0]), "mole_amounts"),
        (lambda: density(Gas.dry_air(), Q_(300, "K"), Q_(-5, "Pa")), "pressure"),
    ],
)
def test_impossible_gases_are_refused(build, words):
    with pytest.raises(ValueError, match=words):
        build()


@pytest.mark.parametrize("function", [specific_heat, enthalpy, viscosity, conductivity, prandtl])
def test_same_case_in_si_and_us_units(function):
    gas = TYPICAL["oil, 30 %"]
    assert function(gas, Q_(200, "degC")).m == pytest.approx(function(gas, Q_(392, "degF")).m, rel=1e-9)
    with pytest.raises(UnitsError, match="temperature"):
        function(gas, Q_(392, "delta_degF"))


def test_density_in_us_units():
    # Common practice: standard air, 70 degF and 29.92 inHg, is 0.075 lb/ft3.
    found = density(Gas.dry_air(), Q_(70, "degF"), Q_(29.92, "inHg"))
    assert found.m_as("lb/ft**3") == pytest.approx(0.075, abs=0.0005)
    assert found.m == pytest.approx(density.bare(Gas.dry_air(), 294.26111, 101320.75), rel=1e-5)


def test_transport_gives_both_in_one_pass():
    gas = TYPICAL["gas, 0 %"]
    mu, k = transport(gas, Q_(500, "K"))
    assert (mu, k) == (viscosity(gas, Q_(500, "K")), conductivity(gas, Q_(500, "K")))
