"""Draft margin: that of the solver; refusals; behind a draft hood as the handbook has it."""

from dataclasses import replace

import numpy as np
import pytest
from sample_single_vents import CASES, GAS, HOOD, PRESSURE, SPRING, WINTER, drawn_to, heater, on_vent

from ventcalc import tables
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.capacity_tables import FAN_RISE, HOOD_RISE
from ventcalc.units import Q_, UnitsError
from ventcalc.vent import draft_margin, vent_at_work, vent_sizing
from ventcalc.vent.common_vent import solve
from ventcalc.vent.states import States


@pytest.mark.parametrize("name", ["fan-assisted", "natural draft", "pressurized"])
def test_margin_is_what_the_solver_finds(name):
    plant = CASES[name]
    codes = np.array([[1]])
    solution = solve(plant, (WINTER,), States(codes, np.array([0]), np.array([False]), np.array([False])))
    spare = plant.appliances[0].window[1].m_as("Pa") - solution.outlet_pressure[0, 0]
    assert draft_margin.margin(plant, WINTER).m_as("Pa") == pytest.approx(spare, abs=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_sizes_in_arrays_are_sizes_on_the_drawing(name):
    plant = CASES[name]
    sizes = {
        "diameter": Q_(np.array([5.0, 6.0, 9.0]), "inch"),
        "height": Q_(np.array([10.0, 33.0, 60.0]), "ft"),
        "run": Q_(np.array([2.0, 11.0, 40.0]), "ft"),
        "heat_input": Q_(np.array([60.0, 130.0, 400.0]), "MBH"),
    }
    if plant is not PRESSURE:
        sizes["flue_temperature"] = Q_(np.array([300.0, 380.0, 420.0]), "degF")
    together = draft_margin.margin(plant, WINTER, **sizes).m_as("Pa")
    for k in range(3):
        one = drawn_to(plant, **{n: v[k] for n, v in sizes.items()})
        assert together[k] == pytest.approx(draft_margin.margin(one, WINTER).m_as("Pa"), rel=1e-8, abs=1e-7)


def test_colder_weather_draws_better():
    assert vent_sizing.capacity(HOOD, WINTER) > vent_sizing.capacity(HOOD, SPRING)


def test_category_not_allowed_in_that_vent():
    condensing = heater("forced", "IV", (-10.0, 60.0), degf=140.0)
    with pytest.raises(ValueError, match="serves category I, not IV"):
        vent_sizing.capacity(on_vent(condensing), SPRING)
    with pytest.raises(ValueError, match="hotter than"):
        vent_sizing.capacity(on_vent(heater("forced", degf=600.0)), SPRING)
    with pytest.raises(ValueError, match="not a listed vent"):
        vent_sizing.capacity(on_vent(condensing, vent="CPVC pipe"), SPRING)
    named = replace(condensing, named_materials=("CPVC pipe",))
    assert vent_sizing.capacity(on_vent(named, vent="CPVC pipe"), SPRING).m_as("MBH") > 0.0


@pytest.mark.parametrize("ask", [draft_margin.margin, vent_sizing.capacity, vent_at_work.operate])
def test_vent_narrower_than_the_outlet(ask):
    with pytest.raises(ValueError, match="3 in wide, less than the outlet of Heater, 4 in"):
        ask(on_vent(heater(), inch=3.0), SPRING)


def test_narrow_diameter_among_many():
    with pytest.raises(ValueError, match="less than the outlet"):
        vent_sizing.capacity(HOOD, SPRING, diameter=Q_(np.array([6.0, 3.0]), "inch"))


@pytest.mark.parametrize(
    ("name", "value"),
    [("heat_input", Q_(0.0, "MBH")), ("heat_input", Q_(-5.0, "MBH")), ("height", Q_(0.0, "ft")),
     ("run", Q_(-1.0, "ft")), ("diameter", Q_(np.nan, "inch"))],
)  # fmt: skip
def test_zero_flow_and_other_impossible_sizes(name, value):
    with pytest.raises(ValueError, match=name):
        draft_margin.margin(HOOD, SPRING, **{name: value})


def test_flue_temperature_below_its_dew_point():
    with pytest.raises(ValueError, match="dew point"):
        draft_margin.margin(HOOD, SPRING, flue_temperature=Q_(90.0, "degF"))
    # One of many is enough, at either end.
    for odd, named in ((90.0, "32.22 "), (5000.0, "2760 ")):
        with pytest.raises(ValueError, match=f"flue_temperature = {named}.*dew point"):
            draft_margin.margin(HOOD, SPRING, flue_temperature=Q_([300.0, odd, 400.0], "degF"))


def test_what_is_asked_for_is_not_given_and_names_are_known():
    with pytest.raises(TypeError, match="leave it out"):
        vent_sizing.capacity(HOOD, SPRING, heat_input=Q_(1.0, "kW"))
    with pytest.raises(TypeError, match="unknown size lateral"):
        vent_sizing.capacity(HOOD, SPRING, lateral=Q_(1.0, "ft"))
    with pytest.raises(UnitsError, match="height"):
        vent_sizing.capacity(HOOD, SPRING, height=Q_(1.0, "kW"))


def test_flue_gas_thinner_than_the_hood_s():
    with pytest.raises(ValueError, match="thinner before its draft hood"):
        vent_sizing.capacity(on_vent(heater(excess=2.0)), SPRING)


HOODS = {row["id"]: row for row in tables.read("draft_hood_checks")}


@pytest.mark.parametrize(("key", "burned"), [("DH003", "natural gas"), ("DH004", "propane")])
def test_mass_flow_behind_a_hood_follows_from_its_co2(key, burned):
    # Both from memory, so that they hang together and prove no more: 1.54 lb per 1000 Btu at 5.3 % (DH001), 1.59 at
    # 6.0 % (DH002). A full balance of the elements gives 2.4 and 2.9 % more than the handbook's equation
    # (C039 to C041 of combustion_checks say the same, published): 0.04 and 0.05 lb, outside the 0.03 of the row.
    co2 = float(HOODS[{"DH003": "DH001", "DH004": "DH002"}[key]]["value"])
    gas = fuel(burned)
    excess = combustion_analysis.excess_air_from_co2(gas, Q_(co2, "percent"))
    ours = combustion.flue_gas_per_heat(gas, excess).m_as("lb/(MBH*hour)")
    assert 1.02 < ours / float(HOODS[key]["value"]) < 1.05


def test_conditions_that_sizing_takes_are_those_of_the_handbook():
    taken = {
        "DH001": 100.0 * draft_margin.HOOD_CO2,
        "DH005": 8.0,
        "DH006": HOOD_RISE.m_as("K"),
        "DH008": FAN_RISE.m_as("K"),
    }
    for key, ours in taken.items():
        assert ours == pytest.approx(float(HOODS[key]["value"]), abs=1e-9)


def test_a_hood_s_rise_is_that_of_its_gas_thinned_with_room_air():
    # DH006 and DH007: 165 K above the room behind a hood, 225 K without, both published, a mean over the vent. Gas
    # of 8 % CO2 (DH005) that stands 225 K above the room, thinned to 5.3 %, stands 149 K above it: heat over flow, 10 %
    # below 165, which the handbook rounds for vents of all kinds.
    excess = [
        combustion_analysis.excess_air_from_co2.bare(GAS, float(HOODS[k]["value"]) / 100.0) for k in ("DH005", "DH001")
    ]
    before, behind = (combustion.products.bare(GAS, e).mass_per_heat for e in excess)
    rise = float(HOODS["DH007"]["value"]) * before / behind
    assert rise == pytest.approx(float(HOODS["DH006"]["value"]), rel=0.11)


def test_draft_of_a_water_heater_in_order():
    # DH009: 0.02 to 0.04 in. w.c. at a gas water heater in order, a training page's order of size (50 %). Ours: 40 MBH
    # on 4 in. Type B, 12 ft high, two elbows, on a mild day.
    heater_vent = on_vent(heater(inch=3.0, mbh=40.0, degf=440.0), height=12.0, inch=4.0)
    draft = -vent_at_work.operate(heater_vent, SPRING).outlet_pressure.m_as("inH2O")
    assert 0.5 * float(HOODS["DH009"]["value"]) < draft < 1.5 * 2.0 * float(HOODS["DH009"]["value"])


def test_every_hood_row_is_used():
    assert set(HOODS) == {f"DH00{n}" for n in range(1, 10)}
