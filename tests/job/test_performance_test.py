"""Functional performance test: conditions, and what is expected in them against the solver asked directly."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_records import DAY, expected, hall
from sample_remedies import designed, job_of, natural_job

from ventcalc.gas import combustion
from ventcalc.job import performance_test, remedy_outcome, study
from ventcalc.job.performance_test import (
    FOOT,
    GAUGE,
    MOST_CONDITIONS,
    OUTLET,
    OXYGEN,
    POSITION,
    PRESSURE,
    SENSOR,
    SPEED,
    TEMPERATURE,
    Place,
    Weather,
)
from ventcalc.job.remedy import as_drawn
from ventcalc.units import Q_, UnitsError
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

COLD = Weather(Q_(-3.0, "degC"), Q_(21.0, "degC"))


def by_key(rows):
    return {e.asked.key: e for e in rows}


def drawn_alone(job):
    """The study of a vent as drawn, without what takes long."""
    return study.assess(job, remedy_outcome.outcome(job, as_drawn(job)), briefly=True)


def solved_directly(plant, season, conditions, added=None):
    """Each condition by the solver itself, on a hot stack in calm."""
    codes = np.array([[a.states.index(level) for a, level in zip(plant.appliances, c.levels, strict=True)]
                      for c in conditions]).T  # fmt: skip
    still = np.zeros(len(conditions))
    return solve(plant, (season,), States(codes, still.astype(int), still.astype(bool), still.astype(bool)), added)


def header_of(plant, solution):
    """Static pressure where the header begins, against the room at its height: worked from the drawing."""
    row = solution.row(plant.far_end)
    height = plant.heights[plant.far_end][0]
    gauge = solution.room_gauge[0] + (height - float(plant.appliances[0].outlet_height.m_as("m"))) * _lighter(solution)
    return solution.pressure_up[row] - solution.head_up[row] - gauge


def _lighter(solution):
    """How much lighter [Pa/m] the room's air is than outdoor air, by the ideal gas law with the humidity left out: the
    two carry the same, so that their ratio is that of the temperatures to a part in a thousand."""
    season = solution.seasons[0]
    outdoors, room = (solution.barometric / (287.05 * float(t.m_as("K"))) for t in (season.outdoor, season.room))
    return 9.80665 * (outdoors - room)


# --- Conditions ---


def test_conditions_run_from_all_off_to_all_high():
    plant = hall().job.plant
    found = performance_test.conditions(plant)
    assert 6 <= len(found) <= MOST_CONDITIONS
    assert [c.levels for c in found[:5]] == [
        ("off", "off", "off"),
        ("off", "off", "low"),  # the smallest alone at low
        ("high", "off", "off"),  # the largest alone at high
        ("low", "low", "low"),
        ("high", "high", "high"),
    ]
    assert ("off", "high", "high") in [c.levels for c in found]


@pytest.mark.parametrize("count", [1, 2, 3, 10])
def test_every_condition_stands_once_and_can_be_named(count):
    found = performance_test.conditions(row_plant(count))
    assert len({c.levels for c in found}) == len({c.name for c in found}) == len(found) <= MOST_CONDITIONS
    assert len(found) >= {1: 3, 2: 6, 3: 6, 10: 6}[count]  # one appliance of two levels has three states in all


# --- What is expected ---


def test_pressures_of_a_vent_as_drawn_are_the_solvers_own():
    """Nothing controls it: one call of the solver, with the day as the season, must give the same."""
    one = designed("as drawn")
    plant, rows = one.job.plant, performance_test.expected(one, COLD)
    conditions = performance_test.conditions(plant)
    season = replace(one.job.seasons[0], outdoor=COLD.outdoor, room=COLD.room, wind=Q_(0.0, "m/s"))
    solution = solved_directly(plant, season, conditions)
    assert solution.converged.all()
    found = by_key(rows)
    for k, c in enumerate(conditions):
        for i, a in enumerate(plant.appliances):
            e = found[c.name, Place(OUTLET, a.name).name, PRESSURE]
            assert e.value == pytest.approx(solution.outlet_pressure[i, k], abs=1e-6)
        header = header_of(plant, solution)[k]
        # The room's air by hand: 0.1 % of its lightness over a meter is 0.002 Pa.
        assert found[c.name, Place(GAUGE).name, PRESSURE].value == pytest.approx(header, abs=0.01)


@pytest.mark.slow
def test_pressures_of_a_held_vent_are_those_at_which_a_damper_found_by_halving_holds_it():
    """What the damper takes is found here by halving, from calls of the solver alone."""
    one = designed("damper")
    plant, remedy = one.job.plant, one.outcome.remedy
    rows = by_key(performance_test.expected(one, COLD))
    condition = next(c for c in performance_test.conditions(plant) if c.code == "all_low")
    season = replace(one.job.seasons[0], outdoor=COLD.outdoor, room=COLD.room, wind=Q_(0.0, "m/s"))
    row, want = plant.row(remedy.controls[0].section), float(remedy.set_point.m_as("Pa"))
    low, high = 0.0, 60.0  # Pa that it takes
    for _ in range(40):
        added = np.zeros((len(plant.order), 1))
        added[row] = -0.5 * (low + high)
        solution = solved_directly(plant, season, [condition], added)
        strong = header_of(plant, solution)[0] < want
        low, high = (0.5 * (low + high), high) if strong else (low, 0.5 * (low + high))
    assert 0.1 < low < 59.0
    for i, a in enumerate(plant.appliances):
        e = rows[condition.name, Place(OUTLET, a.name).name, PRESSURE]
        assert e.held and e.value == pytest.approx(solution.outlet_pressure[i, 0], abs=0.05)  # its search's tolerance
    assert rows[condition.name, Place(GAUGE).name, PRESSURE].value == pytest.approx(want, abs=0.03)


def test_oxygen_and_temperature_are_those_told_of_the_burner():
    """Natural gas at 25 % excess air: 4.5 % oxygen in the dry gas by the rule O2 = 0.209 e / (e + 0.91) (from memory;
    combustion practice), to a tenth of a percent."""
    one = designed("as drawn")
    rows = by_key(performance_test.expected(one, COLD))
    assert rows["all at their highest", "outlet of Boiler A", OXYGEN].value == pytest.approx(0.045, abs=0.001)
    hot = rows["all at their highest", "outlet of Boiler A", TEMPERATURE]
    assert hot.value == pytest.approx(353.15) and hot.band >= 15.0
    a = one.job.plant.appliances[0]
    given = combustion.products.bare(a.fuel, a.levels[0].excess_air).o2_dry
    assert rows["all at their lowest", "outlet of Boiler A", OXYGEN].value == pytest.approx(float(given), abs=1e-9)


def test_what_is_asked_is_what_the_design_has():
    held, free = expected(), performance_test.expected(designed("as drawn"), COLD)
    assert {SPEED, POSITION} <= {e.asked.quantity for e in held}
    assert not {SPEED, POSITION} & {e.asked.quantity for e in free}
    assert Place(SENSOR) in {e.asked.place for e in held} and Place(SENSOR) not in {e.asked.place for e in free}
    assert len({e.asked.key for e in held}) == len(held)
    for rows in (held, free):
        off = [e for e in rows if e.asked.condition.code == "all_off"]
        assert {e.asked.quantity for e in off} == {PRESSURE}
        assert all(np.isfinite([e.value, e.band]).all() and e.band >= e.error > 0.0 for e in rows)


def test_a_band_holds_instrument_and_a_quarter_of_the_loss():
    """By hand for one outlet of an uncontrolled vent. All loss on its way, junctions and cap too, is the total pressure
    at its beginning and the draft made on the way (energy; gas that cools gives back less than a tenth). On top come
    15 K of flue gas, some 5 % of draft and loss, and a kelvin outdoors.
    """
    one = designed("as drawn")
    plant = one.job.plant
    conditions = performance_test.conditions(plant)
    season = replace(one.job.seasons[0], outdoor=COLD.outdoor, room=COLD.room, wind=Q_(0.0, "m/s"))
    solution = solved_directly(plant, season, conditions)
    k = next(n for n, c in enumerate(conditions) if c.code == "all_high")
    way = [plant.row(s.name) for s in plant.path("Boiler A")]
    lost = solution.pressure_up[way[0], k] + solution.draft[way, k].sum()
    e = by_key(performance_test.expected(one, COLD))["all at their highest", "outlet of Boiler A", PRESSURE]
    gauge = 0.002 * 249.089 + 0.01 * abs(e.value)  # 1 in. w.c. = 249.089 Pa: NIST SP 811
    assert e.error == pytest.approx(gauge, rel=1e-3)
    assert 0.9 * 0.25 * lost + gauge < e.band < 1.1 * 0.25 * lost + gauge + 0.1 * lost


@pytest.mark.slow
def test_a_hood_that_reads_positive_is_expected_from_hot():
    one = natural_job()
    rows = performance_test.expected(drawn_alone(one), COLD)
    high = by_key(rows)["all at their highest", f"outlet of {one.plant.appliances[0].name}", TEMPERATURE]
    made = float(one.plant.appliances[0].levels[-1].flue_temperature.m_as("K"))
    assert 294.15 < high.value < made  # thinned by air from the room


# --- Weather ---


def test_colder_air_draws_more_and_the_walls_know():
    one = drawn_alone(job_of(row_plant(2, stack_height=10.0)))
    warm, cold = (
        by_key(performance_test.expected(one, Weather(Q_(t, "degC"), Q_(20.0, "degC")))) for t in (15.0, -15.0)
    )
    for key in (("all off", "header by a gauge", PRESSURE), ("all at their lowest", "outlet of B1", PRESSURE)):
        assert cold[key].value < warm[key].value
    foot = ("all at their lowest", Place(FOOT).name, TEMPERATURE)
    assert cold[foot].value <= warm[foot].value + 0.5


def test_a_lower_barometer_draws_less():
    """Draft goes with the density of air, and that with the barometer: 3 % less pressure is 3 % less draft at rest (gas
    law); temperatures of the walls shift it by less than half a percent."""
    one = drawn_alone(job_of(row_plant(2, stack_height=10.0)))
    usual = Q_(100.13, "kPa")  # about that at 100 m
    rows = [
        by_key(performance_test.expected(one, replace(COLD, barometer=share * usual)))["all off", "header by a gauge",
                                                                                       PRESSURE]
        for share in (1.0, 0.97)
    ]  # fmt: skip
    assert rows[1].value / rows[0].value == pytest.approx(0.97, abs=0.005)


def test_wind_that_is_told_widens_the_band_and_moves_nothing():
    calm, windy = expected(), performance_test.expected(hall(), replace(DAY, wind=Q_(10.0, "mph")))
    assert [e.value for e in windy] == pytest.approx([e.value for e in calm], abs=0.03, nan_ok=True)
    pressures = [(c.band, w.band) for c, w in zip(calm, windy, strict=True) if c.asked.condition.code == "all_off"]
    assert all(w > c + 1.0 for c, w in pressures)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"outdoor": Q_(90.0, "degC")}, "outdoor temperature"),
        ({"wind": Q_(90.0, "m/s")}, "wind"),
        ({"barometer": Q_(5.0, "m")}, "barometer"),
        ({"outdoor": Q_(3.0, "Pa")}, "outdoor"),
    ],
)
def test_weather_that_cannot_be_is_refused(given, said):
    with pytest.raises((ValueError, UnitsError), match=said):
        replace(DAY, **given)


def test_a_barometer_reduced_to_sea_level_is_refused():
    """At 5280 ft the standard has 24.9 in. Hg (published: US Standard Atmosphere 1976); a forecast says about 30."""
    one = designed("as drawn")
    plant = replace(one.job.plant, altitude=Q_(5280.0, "ft"))
    assert Weather(Q_(5, "degC"), Q_(20, "degC"), Q_(24.5, "inHg")).at(plant).altitude > plant.altitude
    with pytest.raises(ValueError, match="not reduced to sea level"):
        Weather(Q_(5, "degC"), Q_(20, "degC"), Q_(30.0, "inHg")).at(plant)


def test_the_rest_of_a_day_is_that_of_the_nearest_season():
    job = hall().job
    near = performance_test.nearest_season(job, Q_(80.0, "degF"))
    assert near.name == "summer"
    day = DAY.season(near)
    assert isinstance(day, Season) and day.relative_humidity == near.relative_humidity
    assert (day.outdoor, day.room, day.wind.m) == (DAY.outdoor, DAY.room, 0.0)
    assert performance_test.likely_weather(job).outdoor == job.seasons[1].outdoor


def test_gas_at_a_forced_outlet_may_be_fifteen_kelvin_off_and_what_the_thermometer_is():
    """By hand: nothing thins or cools it there, so that 15 K of the burner (common practice, no source) and the
    instrument's own limits are all."""
    rows = [e for e in expected() if e.asked.place.kind == "outlet" and e.asked.quantity == TEMPERATURE]
    own = performance_test.instruments()[TEMPERATURE]
    assert len(rows) > 10
    assert [e.band for e in rows] == pytest.approx([15.0 + float(own.off(e.value)) for e in rows], abs=0.01)


def test_what_gas_at_the_foot_may_differ_by_is_a_share_of_what_it_lost_on_its_way():
    """Streams that meet at 400 and 500 K, two to one by mass, come at 433.3 K: the rest is cooling."""
    plant = row_plant(2)
    feeds = [plant.row(f) for f in plant.feeds]
    flow, upstream, downstream = (np.zeros((len(plant.order), 1)) for _ in range(3))
    flow[feeds, 0], upstream[feeds, 0] = [2.0, 1.0], [400.0, 500.0]
    downstream[:, 0] = 420.0
    solution = SimpleNamespace(flow=flow, upstream=upstream, downstream=downstream)
    of = SimpleNamespace(plant=plant, scan=SimpleNamespace(solution=solution))
    values, doubt, _ = performance_test._Solved.foot_temperature(of, None)
    assert values == pytest.approx([420.0])
    assert doubt == pytest.approx([performance_test.COOLING_DOUBT * (1300.0 / 3.0 - 420.0)])
