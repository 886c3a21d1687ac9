"""Stack discharge: NOx per heat, and what leaves the vent of a plant."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import GAS, SEASONS, row_plant
from sample_plumes import GASES

from ventcalc import tables
from ventcalc.building import stack_discharge
from ventcalc.gas import combustion
from ventcalc.units import Q_
from ventcalc.vent import firing_states

ROWS = {row["id"]: row for row in tables.read("re_entrainment_checks")}


def test_nox_per_heat():
    # RE28: 110 ppm at 3 % O2 is 0.13 lb per million Btu, by a page on boiler emissions; two digits.
    ours = stack_discharge.mass_per_heat(GAS, Q_(110.0, "ppm"))
    assert ours.m_as("lb/Btu") * 1e6 == pytest.approx(float(ROWS["RE28"]["value"]), abs=0.005)


def test_shares_in_ppm_and_as_ratios_agree():
    shares = (Q_(30, "ppm"), Q_(30e-6, ""))
    assert len({round(float(stack_discharge.in_wet_gas(GAS, 0.2, x).m), 12) for x in shares}) == 1
    assert len({round(float(stack_discharge.mass_per_heat(GAS, x).m), 18) for x in shares}) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"velocity": np.array([0.0])}, "velocity must be above 0"),
        ({"co": np.array([80.0])}, "co must be a mole fraction"),
    ],
)
def test_impossible_discharges_are_refused_by_name(change, words):
    with pytest.raises(ValueError, match=words):
        replace(GASES, **change)


@pytest.fixture(scope="module")
def scan():
    return firing_states.scan(row_plant(2, celsius=150.0), SEASONS)


def test_discharge_of_a_vent(scan):
    gas, pick = stack_discharge.discharge(scan, Q_(30, "ppm"), Q_(50, "ppm"))
    assert (pick == np.flatnonzero(scan.any_firing)).all()
    # Two equal forced boilers at one level: the CO2 of one.
    s = scan.states
    both = int(np.flatnonzero((s.codes[:, pick] == 2).all(axis=0))[0])
    burnt = combustion.products.bare(GAS, 0.25, vapor(scan, pick[both]))
    assert gas.co2[both] == pytest.approx(float(burnt.gas.co2), rel=1e-6)
    stated = stack_discharge.in_wet_gas.bare(GAS, 0.25, 30e-6)
    assert gas.nox[both] == pytest.approx(float(stated), rel=1e-9)
    # Continuity: velocity times area times density is the mass flow.
    flow = scan.solution.flow[-1, pick[both]]
    row = len(scan.plant.order) - 1
    area = np.pi / 4 * scan.plant.order[row].diameter.m_as("m") ** 2
    assert gas.velocity[both] * area * scan.solution.density[row, pick[both]] == pytest.approx(flow)


def vapor(scan, state):
    from ventcalc.gas.atmosphere import water_vapor_fraction

    season = scan.seasons[scan.states.season[state]]
    return float(
        water_vapor_fraction.bare(season.outdoor.m_as("K"), season.relative_humidity, scan.solution.barometric)
    )


def test_room_air_of_hoods_dilutes_before_the_roof():
    plain = firing_states.scan(row_plant(1, "forced", celsius=180.0), SEASONS[:1])
    hooded = firing_states.scan(row_plant(1, "draft hood", celsius=180.0), SEASONS[:1])
    one, other = (stack_discharge.discharge(s, Q_(30, "ppm"), Q_(50, "ppm"))[0] for s in (plain, hooded))
    assert other.co2.max() < 0.9 * one.co2.min()
    # By moles: what dilutes the burner's NOx to a share x brings outdoor air's CO2 with the rest of it.
    share = other.nox / one.nox
    outdoor = float(tables.row("re_entrainment", "outdoor CO2", "rule")["value"]) * 1e-6
    assert other.co2 == pytest.approx(share * one.co2 + (1.0 - share) * outdoor, rel=1e-6)
    assert other.co / one.co == pytest.approx(share, rel=1e-9)


def test_states_with_air_falling_down_are_refused(scan):
    solution = replace(scan.solution, flow=-scan.solution.flow)
    with pytest.raises(ValueError, match="falls down the vent"):
        stack_discharge.discharge(replace(scan, solution=solution), Q_(30, "ppm"), Q_(50, "ppm"))


def test_what_is_stated_dry_is_less_in_the_wet_gas_by_hand():
    """Methane with a quarter more air than it needs, by moles: 1 CO2, 2 H2O, 0.5 O2, 9.43 N2 (air: 3.773 to 1 of O2).

    So 0.5/10.93 = 4.57 % O2 dry and 2/12.93 water: 30 ppm at 3 % dry are 30 (20.95 - 4.57)/17.95 x 10.93/12.93 = 23.1
    ppm wet. Natural gas is not all methane: 1 %.
    """
    found = stack_discharge.in_wet_gas(GAS, 0.25, Q_(30.0, "ppm")).m_as("ppm")
    assert found == pytest.approx(30.0 * (20.95 - 4.57) / 17.95 * 10.93 / 12.93, rel=0.01)
