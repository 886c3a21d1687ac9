"""Spillage: counted by moles, thinned by a purge, the worst of a plant."""

from types import SimpleNamespace as Made

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_exposures import GAS, SEA_LEVEL

from ventcalc.building import spillage
from ventcalc.gas import atmosphere, combustion, combustion_analysis
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_
from ventcalc.vent import reversal


def test_spilled_by_moles():
    # 1 kg/s of this gas: moles of it and of the CO in it counted one by one.
    moles = 1.0 / GAS.gas.molar_mass
    dry = moles * (1.0 - GAS.gas.h2o)
    carbon_monoxide = 400e-6 * (0.2095 - GAS.o2_dry) / 0.2095 * dry
    flow, inside = spillage.spilled(Q_(1, "kg/s"), GAS, Q_(400, "ppm"), Q_(20, "degC"), SEA_LEVEL)
    assert flow.m == pytest.approx(moles * 8.314462618 * 293.15 / 101325.0, rel=1e-9)
    assert inside.m * flow.m * 1e-6 * 101325.0 / (8.314462618 * 293.15) == pytest.approx(carbon_monoxide, rel=1e-4)


def test_share_of_an_appliance_in_both_systems():
    si = spillage.spilled_share(Q_(586.142, "kW"), 0.01, GAS)
    assert spillage.spilled_share(Q_(2000, "MBH"), Q_(1, "percent"), GAS).m == pytest.approx(si.m, rel=1e-4)
    # Natural gas: 722 lb of air for a million Btu (handbook, from memory), 28 % more, and 43 lb of fuel: 0.416 kg/MJ.
    assert si.m == pytest.approx(0.01 * 0.586142 * 0.416, rel=0.02)


@given(st.floats(0.0, 1.0))
def test_burnt_share_of_a_mixture(share):
    mixed = share * GAS.gas.h2o + (1.0 - share) * 0.01
    assert spillage.burnt_share.bare(mixed, 0.01, GAS) == pytest.approx(share, abs=1e-9)


def test_burnt_share_needs_air_drier_than_flue_gas():
    for air in (0.2, [0.01, 0.2]):  # one that is too moist is enough
        with pytest.raises(ValueError, match="air_vapor = 0.2 is not below"):
            spillage.burnt_share(0.1, air, GAS)
    with pytest.raises(ValueError, match="is not below"):  # nothing to tell them apart by
        spillage.burnt_share(0.1, GAS.gas.h2o, GAS)


def test_a_share_is_never_below_nothing_nor_above_the_whole():
    wet = GAS.gas.h2o  # a stream on a wet wall, and one that has drained, lie outside what air and flue gas can mix to
    assert spillage.burnt_share([1.2 * wet, 0.005], 0.01, GAS).m.tolist() == [1.0, 0.0]


def largest_backflow(scan, appliance):
    """The state in which most gas of any kind comes back through an appliance."""
    return int(np.where(reversal.gas_in_room(scan)[appliance], -scan.solution.drawn[appliance], 0.0).argmax())


def test_worst_spill_is_not_the_largest_reversal(swim_hall):
    # The largest flow back through Boiler 1 is a neighbor's purge: nothing but air.
    biggest = {r.appliance: r for r in reversal.reversals(swim_hall)}
    found = {x.appliance: x for x in spillage.spills(swim_hall)}
    assert set(found) == set(biggest) == {"Boiler 1", "Boiler 2", "Boiler 3"}
    assert "Boiler 2 purge" in swim_hall.describe(largest_backflow(swim_hall, 0))
    assert found["Boiler 1"].flow.m < biggest["Boiler 1"].most
    assert "Boiler 2 high" in swim_hall.describe(found["Boiler 1"].state) and 0.7 < found["Boiler 1"].burnt <= 1.0
    entering = reversal.gas_in_room(swim_hall)
    assert all(entering[i, found[f"Boiler {i + 1}"].state] for i in range(3))


def test_thinned_by_a_purge_as_the_masses_say(swim_hall):
    # Boiler 3 breathes what Boiler 1's flue gas and Boiler 2's purge mix to: moles of both by their mass flows.
    state = largest_backflow(swim_hall, 2)
    assert "Boiler 1 high, Boiler 2 purge" in swim_hall.describe(state)
    solved, season = swim_hall.solution, swim_hall.seasons[swim_hall.states.season[state]]
    outdoor = float(season.outdoor.m_as("K"))
    vapor = atmosphere.water_vapor_fraction.bare(outdoor, season.relative_humidity, solved.barometric)
    boiler = swim_hall.plant.appliances[0]
    burning = combustion.products(boiler.fuel, boiler.levels[-1].excess_air, float(vapor))
    burnt = solved.flow[solved.row("connector 1"), state] / burning.gas.molar_mass
    air = solved.flow[solved.row("connector 2"), state] / 0.0286  # kg/mol of humid summer air
    row = solved.row("connector 3")
    share = combustion_analysis.burnt_share_by_co2.bare(solved.co2_dry[row, state], float(vapor), burning)
    # By its water it would seem to hold less flue gas: some has drained on cold walls.
    assert spillage.burnt_share.bare(solved.vapor[row, state], float(vapor), burning) < share
    assert share == pytest.approx(burnt / (burnt + air), rel=0.01) and 0.3 < share < 0.8


def test_carbon_monoxide_goes_with_the_water_whatever_the_excess_air():
    # What `spills` rests on: one stream, read with products of other excess air, carries the same CO within 2 %.
    lean, rich = (combustion.products(fuel("natural gas"), e, 0.01) for e in (0.2, 0.6))
    carried = []
    for products in (lean, rich):
        share = spillage.burnt_share.bare(0.09, 0.01, products)
        carried.append(spillage.spilled.bare(1.0, products, 400.0, 293.15, 101325.0, share)[1])
    assert carried[0] == pytest.approx(carried[1], rel=0.02)


def test_half_a_gram_a_second_is_told_and_a_larger_purge_is_not_taken_for_it(monkeypatch):
    flue_gas, share = np.array([[0.0, 5e-4, 2e-4], [0.0, 0.0, 5e-7]]), np.array([[0.0, 0.25, 0.1], [0.0, 0.0, 1.0]])
    monkeypatch.setattr(reversal, "flue_gas_in_room", lambda scan: (flue_gas, share))
    monkeypatch.setattr(reversal, "burning", lambda scan, i, state: (GAS, None))
    drawn = np.array([[0.1, -2e-3, -9e-3], [0.1, 0.1, -5e-7]])
    scan = Made(plant=Made(appliances=[Made(name="A"), Made(name="B")]), solution=Made(drawn=drawn))
    (found,) = spillage.spills(scan)
    assert (found.appliance, found.state, found.flow, found.burnt) == ("A", 1, Q_(2e-3, "kg/s"), 0.25)
