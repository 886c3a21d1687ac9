"""Carbon monoxide: rooms against a general integrator and conservation, limits, alarms, blood against its own integral.

Published figures stand in data/building/carbon_monoxide_checks.csv and are held by
tests/handbook/test_carbon_monoxide.py.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from ventcalc import tables
from ventcalc.building import carbon_monoxide as co
from ventcalc.gas import atmosphere, combustion, combustion_analysis
from ventcalc.gas.fuels import fuel
from ventcalc.job import job_file
from ventcalc.units import Q_, UnitsError
from ventcalc.vent import firing_states, reversal

GAS = combustion.products(fuel("natural gas"), 0.28)
SEA_LEVEL = Q_(1.0, "atm")
OFFICE = co.Neighbour("office", Q_(60.0, "m**3"), Q_(0.2, "1/hour"), Q_(0.02, "m**3/s"))
CASE = co.COCase(Q_(250.0, "m**3"), Q_(0.3, "1/hour"), Q_(2000.0, "ppm"), Q_(6.0, "hour"))
SPILL = Q_(0.0033, "kg/s")
_JOB = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
HALL = firing_states.scan(_JOB.plant, _JOB.seasons)

flows = st.floats(1e-4, 2.0)
volumes = st.floats(5.0, 5000.0)
ppm = st.floats(0.0, 5000.0)


def judged(case=CASE, spill=SPILL):
    return co.judge(case, spill, GAS, SEA_LEVEL)


# --- Conversions ---


def test_one_part_per_million_by_hand():
    # 28.010 g/mol over 24.465 L/mol (any chemistry text: ideal gas at 25 °C and one atmosphere).
    assert co.mass_concentration(Q_(1, "ppm"), Q_(25, "degC"), SEA_LEVEL).m == pytest.approx(28.010 / 24.465, rel=1e-4)


@given(ppm, st.floats(250.0, 330.0), st.floats(6e4, 1.1e5))
def test_conversion_there_and_back(level, kelvin, pascal):
    mass = co.mass_concentration.bare(level, kelvin, pascal)
    assert co.volume_concentration.bare(mass, kelvin, pascal) == pytest.approx(level, abs=1e-9)


def test_conversion_in_us_units():
    si = co.mass_concentration(Q_(50, "ppm"), Q_(20, "degC"), Q_(90, "kPa"))
    us = co.mass_concentration(Q_(50, "ppm"), Q_(68, "degF"), Q_(90 / 3.386389, "inHg"))
    assert us.m == pytest.approx(si.m, rel=1e-6)


@given(ppm, st.floats(0.0, 0.2))
def test_as_measured_undoes_air_free(level, oxygen):
    again = combustion_analysis.co_air_free.bare(co.as_measured.bare(level, oxygen), oxygen)
    assert again == pytest.approx(level, abs=1e-9)


def test_two_roads_to_air_free_meet():
    # O2 and CO2 of the same flue gas: they differ only by the CO2 of the air itself, left out by one of them.
    ultimate = combustion.ultimate_co2.bare(fuel("natural gas"))
    by_oxygen = combustion_analysis.co_air_free.bare(100.0, GAS.o2_dry)
    by_carbon = co.co_air_free_by_co2.bare(100.0, GAS.co2_dry, ultimate)
    # The dry gas shrinks as oxygen is used up, which the first one leaves out: 2 % apart for natural gas.
    assert by_carbon == pytest.approx(by_oxygen, rel=0.03)


def test_more_carbon_dioxide_than_can_be():
    with pytest.raises(ValueError, match=r"co2_dry = 13 % is more than the ultimate"):
        co.co_air_free_by_co2(Q_(100, "ppm"), Q_(13, "percent"), Q_(11.9, "percent"))


# --- Flue gas that goes astray ---


def test_spilled_by_moles():
    # 1 kg/s of this gas: moles of it and of the CO in it counted one by one.
    moles = 1.0 / GAS.gas.molar_mass
    dry = moles * (1.0 - GAS.gas.h2o)
    carbon_monoxide = 400e-6 * (0.2095 - GAS.o2_dry) / 0.2095 * dry
    flow, inside = co.spilled(Q_(1, "kg/s"), GAS, Q_(400, "ppm"), Q_(20, "degC"), SEA_LEVEL)
    assert flow.m == pytest.approx(moles * 8.314462618 * 293.15 / 101325.0, rel=1e-9)
    assert inside.m * flow.m * 1e-6 * 101325.0 / (8.314462618 * 293.15) == pytest.approx(carbon_monoxide, rel=1e-4)


def test_share_of_an_appliance_in_both_systems():
    si = co.spilled_share(Q_(586.142, "kW"), 0.01, GAS)
    assert co.spilled_share(Q_(2000, "MBH"), Q_(1, "percent"), GAS).m == pytest.approx(si.m, rel=1e-4)
    # Natural gas: 722 lb of air for a million Btu (handbook, from memory), 28 % more, and 43 lb of fuel: 0.416 kg/MJ.
    assert si.m == pytest.approx(0.01 * 0.586142 * 0.416, rel=0.02)


@given(st.floats(0.0, 1.0))
def test_burnt_share_of_a_mixture(share):
    mixed = share * GAS.gas.h2o + (1.0 - share) * 0.01
    assert co.burnt_share.bare(mixed, 0.01, GAS) == pytest.approx(share, abs=1e-9)


def test_burnt_share_needs_air_drier_than_flue_gas():
    with pytest.raises(ValueError, match="air_vapour = 0.2 is not below"):
        co.burnt_share(0.1, 0.2, GAS)


def test_worst_spill_is_not_the_largest_reversal():
    # The largest flow back through Boiler 1 is a neighbour's purge: nothing but air.
    biggest = {r.appliance: r for r in reversal.reversals(HALL)}
    found = {x.appliance: x for x in co.spills(HALL)}
    assert set(found) == set(biggest) == {"Boiler 1", "Boiler 2", "Boiler 3"}
    assert "Boiler 2 purge" in HALL.describe(biggest["Boiler 1"].most_state)
    assert found["Boiler 1"].flow.m < biggest["Boiler 1"].most
    assert "Boiler 2 high" in HALL.describe(found["Boiler 1"].state) and 0.7 < found["Boiler 1"].burnt <= 1.0
    entering = reversal.gas_in_room(HALL)
    assert all(entering[i, found[f"Boiler {i + 1}"].state] for i in range(3))


def test_thinned_by_a_purge_as_the_masses_say():
    # Boiler 3 breathes what Boiler 1's flue gas and Boiler 2's purge mix to: moles of both by their mass flows.
    state = next(r.most_state for r in reversal.reversals(HALL) if r.appliance == "Boiler 3")
    assert "Boiler 1 high, Boiler 2 purge" in HALL.describe(state)
    solved, season = HALL.solution, HALL.seasons[HALL.states.season[state]]
    outdoor = float(season.outdoor.m_as("K"))
    vapour = atmosphere.water_vapour_fraction.bare(outdoor, season.relative_humidity, solved.barometric)
    boiler = HALL.plant.appliances[0]
    burning = combustion.products(boiler.fuel, boiler.levels[-1].excess_air, float(vapour))
    burnt = solved.flow[solved.row("connector 1"), state] / burning.gas.molar_mass
    air = solved.flow[solved.row("connector 2"), state] / 0.0286  # kg/mol of humid summer air
    row = solved.row("connector 3")
    share = combustion_analysis.burnt_share_by_co2.bare(solved.co2_dry[row, state], float(vapour), burning)
    # By its water it would seem to hold less flue gas: some has drained on cold walls.
    assert co.burnt_share.bare(solved.vapour[row, state], float(vapour), burning) < share
    assert share == pytest.approx(burnt / (burnt + air), rel=0.01) and 0.3 < share < 0.8


def test_carbon_monoxide_goes_with_the_water_whatever_the_excess_air():
    # What `spills` rests on: one stream, read with products of other excess air, carries the same CO within 2 %.
    lean, rich = (combustion.products(fuel("natural gas"), e, 0.01) for e in (0.2, 0.6))
    carried = []
    for products in (lean, rich):
        share = co.burnt_share.bare(0.09, 0.01, products)
        carried.append(co.spilled.bare(1.0, products, 400.0, 293.15, 101325.0, share)[1])
    assert carried[0] == pytest.approx(carried[1], rel=0.02)


# --- One room ---


@given(volumes, flows, flows, ppm, ppm, ppm)
@settings(max_examples=30, deadline=None)
def test_room_against_a_general_integrator(volume, air, spill, inside, initial, outdoor):
    def slope(_, c):
        return (air * outdoor + spill * inside - (air + spill) * c) / volume

    end = 2.0 * volume / (air + spill)
    solved = solve_ivp(slope, (0.0, end), [initial], "DOP853", [0.3 * end, end], rtol=1e-10, atol=1e-10).y[0]
    ours = co.concentration.bare(np.array([0.3 * end, end]), volume, air, spill, inside, initial, outdoor)
    assert ours == pytest.approx(solved, rel=1e-7, abs=1e-7)


@given(volumes, flows, flows, st.floats(100.0, 5000.0), st.floats(0.05, 0.95))
def test_time_to_reach_is_the_inverse(volume, air, spill, inside, part):
    level = part * co.steady_state.bare(air, spill, inside)
    wait = co.time_to_reach.bare(level, volume, air, spill, inside)
    assert co.concentration.bare(wait, volume, air, spill, inside) == pytest.approx(level, rel=1e-9)


@given(flows, st.floats(100.0, 5000.0), st.floats(0.01, 0.9))
def test_spill_to_reach_is_the_inverse(air, inside, part):
    spill = co.spill_to_reach.bare(part * inside, air, inside)
    assert co.steady_state.bare(air, spill, inside) == pytest.approx(part * inside, rel=1e-9)


def test_levels_that_are_never_or_already_there():
    waits = co.time_to_reach.bare(np.array([10.0, 50.0, 99.0, 101.0]), 100.0, 0.9, 0.1, 1000.0, initial=50.0)
    assert waits[0] == waits[1] == 0.0 and np.isfinite(waits[2]) and waits[3] == np.inf
    assert co.spill_to_reach.bare(500.0, 1.0, 400.0) == np.inf
    assert co.spill_to_reach.bare(5.0, 1.0, 400.0, outdoor=9.0) == 0.0


def test_closed_room_keeps_what_it_has():
    assert co.concentration.bare(1e6, 50.0, 0.0, initial=70.0) == 70.0
    with pytest.raises(ValueError, match="no steady state"):
        co.steady_state(Q_(0, "cfm"), Q_(0, "cfm"), Q_(100, "ppm"))


def test_room_in_us_units_and_broadcast():
    air, spill, inside = Q_(50, "cfm"), Q_(6, "cfm"), Q_(1300, "ppm")
    us = co.concentration(Q_([1, 2], "hour"), Q_(9000, "ft**3"), air, spill, inside)
    si = co.concentration.bare(np.array([3600.0, 7200.0]), 254.8516, 50 * 0.000471947, 6 * 0.000471947, 1300.0)
    assert us.m == pytest.approx(si, rel=1e-5)
    grid = co.concentration.bare(np.ones((3, 1)), np.full(4, 50.0), 0.1, 0.01, 100.0)
    assert grid.shape == (3, 4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"volume": Q_(0, "m**3")}, "volume = 0 .* must be above 0"),
        ({"ventilation": Q_(-1, "cfm")}, "ventilation = .* must be at least 0"),
        ({"spill_co": Q_(-1, "ppm")}, "spill_co = -1 ppm must be at least 0"),
    ],
)
def test_impossible_rooms_are_refused(change, words):
    given = {"time": Q_(1, "hour"), "volume": Q_(50, "m**3"), "ventilation": Q_(10, "cfm")} | change
    with pytest.raises(ValueError, match=words):
        co.concentration(**given)


def test_wrong_units_are_refused():
    with pytest.raises(UnitsError, match="ventilation needs"):
        co.concentration(Q_(1, "hour"), Q_(50, "m**3"), Q_(3, "1/hour"))


# --- Several rooms, in stages ---

_RATES = {"allow_nan": False, "min_value": 0.0, "max_value": 1.0}


def test_one_room_of_several_is_the_closed_form():
    times = np.linspace(0.0, 20000.0, 50)
    ours = co.history.bare(times, 0.0, 250.0, 0.02, 0.0, 0.003, 1300.0, 5.0, 2.0)
    assert ours[0] == pytest.approx(co.concentration.bare(times, 250.0, 0.02, 0.003, 1300.0, 5.0, 2.0), rel=1e-10)


@given(
    st.lists(volumes, min_size=3, max_size=3),
    st.lists(st.floats(**_RATES), min_size=3, max_size=3),
    st.lists(st.floats(**_RATES), min_size=3, max_size=3),
    st.lists(ppm, min_size=3, max_size=3),
)
@settings(max_examples=25, deadline=None)
def test_rooms_in_two_stages_against_a_general_integrator(volume, air, swapped, initial):
    volume, air, initial = np.array(volume), np.array([air, air[::-1]]), np.array(initial)
    exchange = np.zeros((3, 3))
    exchange[np.triu_indices(3, 1)] = swapped
    exchange = exchange + exchange.T
    spill = np.array([[0.01, 0.0, 0.002], [0.0, 0.0, 0.0]])
    starts, times = np.array([0.0, 600.0]), np.array([0.0, 300.0, 600.0, 1800.0])

    def slope(now, c):
        k = int(now >= 600.0)
        swaps = exchange @ c - exchange.sum(axis=1) * c
        return (air[k] * 3.0 + spill[k] * 900.0 - (air[k] + spill[k]) * c + swaps) / volume

    first = solve_ivp(slope, (0.0, 600.0), initial, "LSODA", [300.0, 600.0 - 1e-9], rtol=1e-10, atol=1e-9).y
    second = solve_ivp(slope, (600.0, 1800.0), first[:, 1], "LSODA", [1800.0], rtol=1e-10, atol=1e-9).y
    ours = co.history.bare(times, starts, volume, air, exchange, spill, 900.0, initial, 3.0)
    expected = np.column_stack([initial, first, second])
    assert ours == pytest.approx(expected, rel=1e-5, abs=1e-4)


@given(st.lists(volumes, min_size=2, max_size=4), st.floats(0.0, 3.0), st.floats(0.0, 0.05))
@settings(deadline=None)
def test_closed_rooms_conserve_carbon_monoxide(volume, swapped, source):
    # A source of pure CO that pushes nothing out is the limit of a small flow: all of it stays in the house.
    volume = np.array(volume)
    n = volume.size
    exchange = swapped * (np.ones((n, n)) - np.eye(n))
    spill = np.zeros((1, n))
    spill[0, 0] = 1e-12 * source
    times = np.array([0.0, 1800.0, 7200.0])
    found = co.history.bare(times, 0.0, volume, 0.0, exchange, spill, 1e12, 40.0)
    held = (volume[:, None] * found).sum(axis=0)
    assert held == pytest.approx(40.0 * volume.sum() + source * times, rel=1e-6)


@given(flows, flows, st.floats(1e-3, 0.1))
def test_what_enters_leaves_in_the_end(air, swapped, spill):
    exchange = np.array([[0.0, swapped], [swapped, 0.0]])
    end = co.history.bare(
        np.array([1e9]), 0.0, [80.0, 300.0], [[air, 0.5 * air]], exchange, [[spill, 0.0]], 1000.0, 0.0, 4.0
    )[:, 0]
    left = (air + spill) * end[0] + 0.5 * air * end[1]
    assert left == pytest.approx(spill * 1000.0 + 1.5 * air * 4.0, rel=1e-6)
    assert end[1] <= end[0] + 1e-9


def test_stages_and_exchange_that_cannot_be():
    with pytest.raises(ValueError, match="the first stage begins at 0"):
        co.history.bare(np.array([0.0, 1.0]), [5.0], 50.0, 0.1, 0.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="same both ways"):
        co.history.bare(np.array([0.0]), 0.0, [50.0, 50.0], 0.1, [[0.0, 1.0], [0.0, 0.0]], 0.0, 0.0)


# --- Limits ---


def test_limits_carry_source_edition_status():
    found = co.limits()
    assert len(found) == 22
    for limit in found:
        assert limit.source and limit.edition and limit.status.startswith(tables.STATUSES)
        assert limit.level > 0.0 and limit.averaging in limit.name and limit.status in limit.cited


@given(st.floats(1.0, 30000.0), ppm)
def test_mean_of_what_stands_still(window, level):
    times = np.linspace(0.0, 40000.0, 37)
    assert co.running_mean.bare(times, np.full(37, level), window, level) == pytest.approx(level, abs=1e-6)


def test_running_mean_by_hand():
    # Two hours at 120 ppm, then clean: after eight hours the mean over eight is 30 ppm, at its most from hour two on.
    times = np.linspace(0.0, 12.0, 12 * 60 + 1) * 3600.0
    history = np.where(times <= 7200.0, 120.0, 0.0)
    mean = co.running_mean.bare(times, history, 8 * 3600.0)
    assert mean[times == 7200.0] == pytest.approx(30.0, rel=1e-9)
    assert mean[times == 8 * 3600.0] == pytest.approx(30.0, abs=0.15)  # one step of the fall is a ramp of a minute
    assert mean[-1] == pytest.approx(0.0, abs=1e-9)


@given(st.floats(60.0, 20000.0), st.floats(0.0, 50.0))
@settings(deadline=None)
def test_running_mean_against_quadrature(window, before):
    times = np.sort(np.r_[0.0, np.random.default_rng(3).uniform(0.0, 30000.0, 40)])
    values = 50.0 + 40.0 * np.sin(times / 3000.0)
    mean = co.running_mean.bare(times, values, window, before)
    for k in (5, 23, 40):
        low = times[k] - window

        def at(t):
            return np.interp(t, times, values) if t >= 0.0 else before

        breaks = [t for t in times if low < t < times[k]]
        expected = sum(quad(at, a, b)[0] for a, b in zip([low, *breaks], [*breaks, times[k]], strict=True)) / window
        assert mean[k] == pytest.approx(expected, rel=1e-6)


def test_limit_judged_three_ways():
    times = np.linspace(0.0, 4 * 3600.0, 241)
    by_hour = next(x for x in co.limits() if x.body == "EPA" and x.window == 3600.0)
    shift = next(x for x in co.limits() if x.body == "OSHA" and x.rule == "PEL")
    low, high = np.full(241, 34.9), np.full(241, 35.1)
    assert co.judge_limit("r", by_hour, times, low).verdict == "pass"
    above = co.judge_limit("r", by_hour, times, high)
    assert above.verdict == "fail" and above.by == pytest.approx(0.1) and above.over == pytest.approx(3600.0, abs=60.0)
    assert co.judge_limit("r", shift, times, low).verdict == "needs the authority's reading"
    assert "safe" not in {co.judge_limit("r", x, times, low).verdict for x in co.limits()}


# --- Alarms ---


@pytest.mark.parametrize("standard", co.alarm_standards())
def test_test_points_come_out(standard):
    points = co.alarm_points(standard)
    times = np.linspace(0.0, 60 * 86400.0, 60 * 24 * 60 + 1)
    for k, edge in enumerate(("earliest", "latest")):
        for level, wait in zip(*points[edge], strict=True):
            band = co.alarm_band(times, np.full(times.shape, level), standard)
            assert (band.earliest, band.latest)[k] == pytest.approx(max(wait, 1.0), rel=1e-6)


@pytest.mark.parametrize("standard", co.alarm_standards())
@given(level=st.floats(5.0, 2000.0))
@settings(max_examples=20, deadline=None)
def test_earliest_before_latest_and_more_is_sooner(standard, level):
    times = np.linspace(0.0, 86400.0, 1441)
    bands = [co.alarm_band(times, np.full(times.shape, x), standard) for x in (level, 1.2 * level)]
    assert bands[0].earliest <= bands[0].latest and bands[1].latest <= bands[0].latest
    assert bands[1].earliest <= bands[0].earliest


def test_below_the_lowest_point_no_alarm_must_sound():
    times = np.linspace(0.0, 86400.0, 1441)
    assert co.alarm_band(times, np.full(1441, 69.0)).latest == np.inf
    assert co.alarm_band(times, np.full(1441, 29.0)).earliest == np.inf


def test_latest_alarm_begins_anew_after_a_gap():
    # Three hours at 70 ppm, half an hour of clean air, three hours: neither part alone is four hours.
    times = np.linspace(0.0, 6.5 * 3600.0, 391)
    gap = (times >= 3 * 3600.0) & (times <= 3.5 * 3600.0)
    broken = co.alarm_band(times, np.where(gap, 0.0, 70.0))
    whole = co.alarm_band(times, np.full(391, 70.0))
    assert whole.latest == pytest.approx(4 * 3600.0, abs=60.0) and broken.latest == np.inf
    assert broken.earliest == whole.earliest


def test_latest_alarm_is_ten_percent_at_heavy_work():
    # UL 2034 is said to rest on about 10 % COHb. By the CFK equation that is heavy work, at every test point.
    levels, waits = co.alarm_points("UL 2034")["latest"]
    bound = [
        co.cohb.bare(np.array([0.0, t]), np.full(2, c), co.person("heavy work"))[-1]
        for c, t in zip(levels, waits, strict=True)
    ]
    assert bound == pytest.approx([0.10] * 3, abs=0.01)


def test_unknown_standard_lists_the_known():
    with pytest.raises(ValueError, match="UL 2034, EN 50291"):
        co.alarm_band(np.array([0.0, 1.0]), np.zeros(2), "UL 217")


# --- Blood ---


@pytest.mark.parametrize("activity", co.activities())
@given(level=st.floats(5.0, 3000.0), initial=st.floats(0.0, 0.3), hours=st.floats(0.2, 12.0))
@settings(max_examples=10, deadline=None)
def test_blood_against_the_integral_of_its_equation(activity, level, initial, hours):
    # dx/dt = F(x) has t = integral of dx/F(x): worked by quadrature, it must give the hours back.
    who = co.person(activity)
    end = float(co.cohb.bare(np.array([0.0, 3600.0 * hours]), np.full(2, level), who, initial)[-1])
    dry = 101325.0 - co.BODY_VAPOUR
    oxygen = 0.2095 * dry - co.OXYGEN_DROP

    def slope(x):
        taken = level * 1e-6 * dry - x * oxygen / (co.HALDANE * (1.0 - x))
        return (co.MADE + taken / who.resistance(101325.0)) / (co.BLOOD * co.CAPACITY)

    steady = float(co.steady_cohb.bare(level, who))
    assert slope(steady) * 3600.0 == pytest.approx(0.0, abs=1e-9)
    if abs(end - steady) > 0.02 * abs(initial - steady):  # near its end any time fits
        assert quad(lambda x: 1.0 / slope(x), initial, end)[0] == pytest.approx(3600.0 * hours, rel=2e-3)


@pytest.mark.parametrize("activity", co.activities())
def test_blood_ends_where_the_steady_form_says(activity):
    who = co.person(activity)
    levels = np.array([[0.0], [35.0], [400.0]])
    end = co.cohb.bare(np.array([0.0, 30 * 86400.0]), np.repeat(levels, 2, axis=1), who)[:, -1]
    assert end == pytest.approx(co.steady_cohb.bare(levels[:, 0], who), rel=1e-3)


def test_linear_form_for_little_and_its_half_life():
    who = co.person("sedentary")
    times = np.array([0.0, 1800.0, 7200.0])
    full = co.cohb.bare(times, np.full(3, 50.0), who)
    assert co.cohb_linear.bare(times, 50.0, who) == pytest.approx(full, rel=0.03)
    half = co.half_life.bare(who)
    rest = co.cohb_linear.bare(1e9, 0.0, who)
    fallen = co.cohb_linear.bare(half, 0.0, who, 0.1)
    assert fallen - rest == pytest.approx(0.5 * (0.1 - rest), rel=1e-9)
    # Above a tenth the linear form overshoots: half of all haemoglobin at 400 ppm and more.
    assert co.cohb_linear.bare(1e9, 1000.0, who) > 1.5 * co.steady_cohb.bare(1000.0, who)


def test_blood_in_oxygen_and_at_altitude():
    who = co.person("resting")
    assert co.half_life(who, oxygen=1.0) < 0.2 * co.half_life(who)
    # Less oxygen at 2400 m (75.6 kPa): the same ppm end at more COHb, though fewer milligrams are breathed.
    assert co.steady_cohb(Q_(50, "ppm"), who, Q_(75.6, "kPa")) > co.steady_cohb(Q_(50, "ppm"), who)


def test_a_pulse_is_not_stepped_over():
    times = np.array([0.0, 40000.0, 40060.0, 40360.0, 40420.0, 86400.0])
    pulse = np.array([0.0, 0.0, 3000.0, 3000.0, 0.0, 0.0])
    bound = co.cohb.bare(times, pulse, co.person("heavy work"))
    assert bound[4] > 0.15 and bound[5] < bound[4]


def test_shapes_and_units_of_blood():
    times, levels = Q_([0, 30, 60], "minute"), Q_([[0, 0, 0], [100, 100, 100]], "ppm")
    found = co.cohb(times, levels, co.person("light work"))
    assert found.shape == (2, 3) and found[1, -1] > found[0, -1]
    assert co.cohb(Q_([0, 0.5, 1], "hour"), levels, co.person("light work")).m == pytest.approx(found.m)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pressure": Q_(40, "kPa")}, "pressure = .* must be at least"),
        ({"oxygen": 0.1}, "oxygen = .* must be at least"),
        ({"initial": 1.0}, "initial = .* must be at most"),
        ({"co": Q_([-1, 0], "ppm")}, "co = -1 ppm must be at least"),
    ],
)
def test_blood_that_cannot_be(change, words):
    given = {"times": Q_([0, 1], "hour"), "co": Q_([0, 1], "ppm"), "who": co.person("resting")} | change
    with pytest.raises(ValueError, match=words):
        co.cohb(**given)


def test_unknown_activity_lists_the_known():
    with pytest.raises(ValueError, match="sedentary, light work, heavy work, resting"):
        co.person("running")


# --- A case, judged ---


def test_judged_case_holds_together():
    found = judged()
    room = {"volume": 250.0, "ventilation": 250.0 * 0.3 / 3600.0, "spill": found.flow, "spill_co": found.flow_co}
    assert found.co[0] == pytest.approx(co.concentration.bare(found.times, **room), rel=1e-9)
    assert found.steady[0] == pytest.approx(co.steady_state.bare(*list(room.values())[1:]), rel=1e-6)
    assert len(found.judged) == len(co.limits()) and found.stopped == np.inf
    assert found.failed and all(j.worst > j.limit.level for j in found.failed)


def test_neighbour_lags_behind_and_takes_from_the_room():
    alone, beside = judged(), judged(replace(CASE, neighbour=OFFICE))
    assert beside.co.shape[0] == 2 and (beside.co[1] <= beside.co[0] + 1e-9).all()
    assert (beside.co[0] <= alone.co[0] + 1e-9).all()
    assert {j.room for j in beside.judged} == {co.ROOM, "office"}


def test_monitor_stops_the_burners():
    found = judged(replace(CASE, monitor=Q_(50, "ppm"), monitor_delay=Q_(10, "minute")))
    rate = 250.0 * 0.3 / 3600.0
    reached = co.time_to_reach.bare(50.0, 250.0, rate, found.flow, found.flow_co)
    assert found.stopped == pytest.approx(reached + 600.0, abs=1.0)
    after = found.times > found.stopped
    assert (np.diff(found.co[0][after]) < 0.0).all()
    peak = co.concentration.bare(found.stopped, 250.0, rate, found.flow, found.flow_co)
    later = co.concentration.bare(found.times[-1] - found.stopped, 250.0, rate, initial=peak)
    assert found.co[0, -1] == pytest.approx(later, rel=1e-9)
    assert found.steady == judged().steady


def test_monitor_that_is_never_reached_or_already_passed():
    assert judged(replace(CASE, monitor=Q_(5000, "ppm"))).stopped == np.inf
    at_once = judged(replace(CASE, monitor=Q_(10, "ppm"), initial=Q_(20, "ppm")))
    assert at_once.stopped == 0.0 and (np.diff(at_once.co[0]) < 0.0).all()


def test_less_burnt_gas_is_less_carbon_monoxide():
    half = co.judge(CASE, SPILL, GAS, SEA_LEVEL, burnt=0.5)
    assert half.co[0] == pytest.approx(0.5 * judged().co[0], rel=1e-9)


def test_judged_blood_is_the_equation_raised():
    times = np.linspace(0.0, 3600.0, 61)
    ppm, who = np.full(61, 200.0), co.person("heavy work")
    plain = co.cohb.bare(times, ppm, who, pressure=101325.0)
    judged = co.judged_cohb(times, ppm, who, 101325.0)
    assert judged == pytest.approx(1.12 * plain)
    # Never more than all of it.
    assert co.judged_cohb(times, np.full(61, 1e5), who, 101325.0).max() <= 1.0


def test_no_spill_is_no_failure():
    found = judged(spill=Q_(0.0, "kg/s"))
    assert not found.failed and found.co.max() == 0.0
    words = " ".join(co.sentences(found))
    assert "No limit of the table fails" in words and "no leave to stay" in words


def test_sealed_room_without_any_air():
    found = judged(replace(CASE, air_changes=Q_(0.0, "1/hour")), Q_(0.0, "kg/s"))
    assert found.steady == (0.0,)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_sentences_say_what_they_must(system):
    found = judged(replace(CASE, neighbour=OFFICE, monitor=Q_(50, "ppm")))
    words = co.sentences(found, system)
    text = " ".join(words)
    assert words[-1] == co.CAUTION and "leave" in words[-1] and "check what your jurisdiction adopted" in words[-1]
    assert {"US": "lb/h", "SI": "kg/s"}[system] in words[0]
    assert "monitor stops the burners" in text and "office" in text and "UL 2034" in text and "COHb" in text
    assert not re.search(r"\bsafe\b", text.lower()) and "inf" not in text.split() and "nan" not in text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"room_volume": Q_(0, "ft**3")}, "room_volume = 0 ft³ must be above 0"),
        ({"room_volume": Q_(10, "ft**2")}, "room_volume needs"),
        ({"air_changes": Q_(-1, "1/hour")}, "air_changes = -1 1/h must be 0 or more"),
        ({"co_air_free": Q_(-5, "ppm")}, "co_air_free = -5 ppm must be 0 or more"),
        ({"co_air_free": Q_(2e6, "ppm")}, "more than all of the gas"),
        ({"hours": Q_(0, "hour")}, "hours = 0 h must be above 0"),
        ({"hours": Q_(5, "day")}, "at most 72 h"),
        ({"monitor": Q_(0, "ppm")}, "monitor = 0 ppm must be above 0"),
        ({"activity": "swimming"}, "choose one of sedentary"),
    ],
)
def test_cases_that_cannot_be(change, words):
    with pytest.raises((ValueError, UnitsError), match=words):
        replace(CASE, **change)


def test_neighbour_that_cannot_be():
    with pytest.raises(ValueError, match="neighbour 'office': exchange = -0.02 m³/s must be 0 or more"):
        replace(OFFICE, exchange=Q_(-0.02, "m**3/s"))


def test_clock_speaks():
    assert [co.clock(s) for s in (0, 59, 900, 3600, 4800, 28800)] == [
        "0 min",
        "1 min",
        "15 min",
        "1 h",
        "1 h 20 min",
        "8 h",
    ]


def test_facts_name_where_they_come_from():
    for kind in ("limit", "alarm", "interlock", "placement", "appliance", "uptake"):
        rows = co.facts(kind)
        assert rows and all(row["source"] and row["status"] for row in rows)


def test_a_guideline_of_air_is_told_apart_from_levels_that_harm():
    """12 ppm that stays is beyond the outdoor and indoor guidelines of 8 h (9 ppm, 10 mg/m3) and of a day; it is below
    every limit of a workplace (25 ppm the strictest over 8 h) and the level of serious harm (27 ppm, from memory)."""
    times = np.linspace(0.0, 24 * 3600.0, 1441)
    for level, harmful in ((12.0, False), (24.9, False), (27.5, True), (60.0, True)):
        failed = [x for x in co.limits() if co.judge_limit("r", x, times, np.full(times.size, level)).verdict == "fail"]
        assert failed and any(x.weight == "harm" for x in failed) is harmful
    assert {x.weight for x in co.limits()} == {"guideline", "harm"}
    assert all(x.weight == "guideline" for x in co.limits() if x.body.startswith(("EPA", "WHO")))
    assert all(x.weight == "harm" for x in co.limits() if x.whom == "workers")
