"""Year hours: each hour has its parts, its weather and its walls; classes of weather cost what is said."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI
from sample_commissioning import HALL, SCHOOL

from ventcalc.building import climate
from ventcalc.flow import wind
from ventcalc.job import staging, wall_memory, year_hours
from ventcalc.job.year_hours import RESTING, RUNNING, STARTING
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import PlaceAir, Season

WEATHER = climate.typical_year("cold")


@pytest.fixture(scope="module")
def hall():
    return year_hours.hours(HALL.plant, HALL.seasons, HALL.year, WEATHER)


@pytest.fixture(scope="module")
def school():
    """A plant with a burner that cannot modulate, so that it cycles."""
    return year_hours.hours(SCHOOL.plant, SCHOOL.seasons, SCHOOL.year, WEATHER[3000:5400])


def test_parts_of_all_hours_sum_to_the_year(hall, school):
    assert hall.share.sum() == pytest.approx(8760.0, abs=1e-9) and (hall.share >= 0.0).all()
    assert school.share.sum() == pytest.approx(2400.0, abs=1e-9)
    assert (school.share[RESTING] > 0.0).sum() > 100 and (school.share[STARTING] == 0.0).all()


def test_heat_put_in_is_the_load(hall, school):
    for hours in (hall, school):
        parts = zip(hours.plant.appliances, hours.firing.codes, hours.firing.rest, strict=True)
        heat = sum(
            hours.firing.share * staging.input_of(a, on) + (1.0 - hours.firing.share) * staging.input_of(a, off)
            for a, on, off in parts
        )
        assert np.allclose(heat + hours.firing.unmet, hours.load, rtol=1e-9)


def test_every_column_is_the_hour_it_stands_for(hall):
    states, at = hall.states, hall.at
    assert np.array_equal(states.codes[:, at[RUNNING, 0]], hall.firing.codes)
    outdoor = np.array([s.outdoor.m_as("K") for s in hall.seasons])[states.season[at]]
    assert np.abs(outdoor - WEATHER.temperature).max() <= 0.5 * year_hours.TEMPERATURE_STEP + 1e-9
    cold = states.cold[:, at[RUNNING, 0]]
    assert np.abs(cold - hall.coldness.on).max() <= 0.5 * year_hours.COLD_STEP + 1e-9
    # Wind of the station carried to the top of the vent, over the 10 m/s of every class, as a head.
    top = max(high for _, high in HALL.plant.heights.values())
    speed = wind.wind_at_height.bare(WEATHER.wind, top, "open")
    assert np.abs(states.windy[at[RUNNING, 0]] - (speed / 10.0) ** 2).max() <= 0.5 * year_hours.WIND_STEP + 1e-9
    # Against the vent and with it; in calm the same column.
    windy = states.windy[at[RUNNING, 0]] > 0.0
    cases = states.wind_case[at[RUNNING]]
    assert (cases[:, windy] == [[1], [2]]).all() and (at[RUNNING, 0] == at[RUNNING, 1])[~windy].all()
    assert len(hall.states) < 2 * 8760  # what is alike is solved once


def test_moisture_of_a_class_is_that_of_its_hours(hall):
    pressure = hall.barometric
    from_class = np.array([_vapor(s.outdoor.m_as("K"), s.relative_humidity, pressure) for s in hall.seasons])
    # 0.5 g/kg is 0.8 mmol/mol; a class colder than its hour may hold a little less still.
    assert np.abs(from_class[hall.states.season[hall.at[RUNNING, 0]]] - hall.outdoor_vapor).max() < 0.0012


def _vapor(kelvin, humidity, pressure):
    return HAPropsSI("Y", "T", kelvin, "P", pressure, "R", humidity)  # of moist air, by CoolProp


def test_rooms_follow_the_seasons_of_the_job(hall):
    known = sorted((s.outdoor.m_as("K"), s.room.m_as("K")) for s in HALL.seasons)
    for season in hall.seasons[::40]:
        expected = np.interp(season.outdoor.m_as("K"), *zip(*known, strict=True))
        assert season.room.m_as("K") == pytest.approx(expected)


def test_starts_are_counted(school):
    firing = school.firing
    burns = (firing.codes > 0.0) & (firing.share >= 1.0)
    held = burns[:, 1:] & burns[:, :-1]
    # Where all burners that burn did so all through both hours, none starts.
    quiet = (held == (firing.codes[:, 1:] > 0.0)).all(axis=0) & (firing.share[1:] >= 1.0)
    assert quiet.any() and (school.starts[1:][quiet] == 0.0).all()
    assert (school.starts[firing.cycles] > 0.0).all()


def test_classes_cost_no_more_than_is_said():
    """A hundred hours solved in their classes, and each in its own weather exactly: outlet pressures of the hall.

    Half a class of temperature moves the draft of the hall's 16 m by 0.4 Pa, half a class of wind (coefficients up to
    1) its head by 0.75 Pa, walls by 1 % of their way; most hours are nearer, and to either side alike.
    """
    pick = WEATHER[np.arange(0, 8760, 88)]
    coarse = year_hours.hours(HALL.plant, HALL.seasons, HALL.year, pick)
    steps = {"TEMPERATURE_STEP": 1e-4, "MOISTURE_STEP": 1e-7, "WIND_STEP": 1e-5, "COLD_STEP": 1e-6}
    with pytest.MonkeyPatch.context() as patch:
        for name, step in steps.items():
            patch.setattr(year_hours, name, step)
        exact = year_hours.hours(HALL.plant, HALL.seasons, HALL.year, pick)
    # The same load, and so the same fire: what is compared is the weather.
    exact = replace(exact, states=replace(exact.states, codes=_codes(exact, coarse)))
    one, other = (solve(h.plant, h.seasons, h.states).outlet_pressure[:, h.at[RUNNING]] for h in (coarse, exact))
    runs = coarse.firing.codes > 0.0
    apart = (one - other).transpose(1, 0, 2)[:, runs]
    assert np.abs(apart).max() < 2.0 and np.abs(apart).mean() < 0.4
    assert abs(apart.mean()) < 0.15  # Pa; to either side alike


def _codes(exact, coarse):
    codes = exact.states.codes.copy()
    for kind in (RUNNING, RESTING, STARTING):
        for case in (0, 1):
            codes[:, exact.at[kind, case]] = coarse.states.codes[:, coarse.at[kind, case]]
    return codes


def test_classes_of_weather_are_the_weather_but_for_half_a_step():
    classes, of_hour = year_hours._classes(HALL.plant, WEATHER)
    gap = np.abs(classes[0][of_hour] - WEATHER.temperature)
    assert gap.max() <= 0.5 * year_hours.TEMPERATURE_STEP + 1e-9 and 10 < classes.shape[1] < 8760


def test_of_seasons_of_one_outdoor_temperature_the_one_with_the_emptiest_place_counts():
    """The least pressure of any place is what lets flue gas in; the coldest season comes first."""
    air = [
        (PlaceAir("attic", Q_(20, "degC"), Q_(a, "Pa")), PlaceAir("shaft", Q_(20, "degC"), Q_(s, "Pa")))
        for a, s in ((-1.0, -2.0), (0.0, -9.0))
    ]
    mild, drawn = (
        Season(n, Q_(5, "degC"), Q_(20, "degC"), places=p) for n, p in zip(("mild", "drawn"), air, strict=True)
    )
    cold = Season("cold", Q_(-20, "degC"), Q_(20, "degC"))
    assert [s.name for s in year_hours._by_outdoor((mild, drawn, cold))] == ["cold", "drawn"]
    assert [s.name for s in year_hours._by_outdoor((drawn, cold, mild))] == ["cold", "drawn"]


def test_starts_of_hours_by_hand():
    """One burner, five hours: cold, whole, whole, off, and half an hour of cycles that end at rest."""
    firing = SimpleNamespace(
        codes=np.array([[1.0, 2.0, 2.0, 0.0, 1.0]]), rest=np.zeros((1, 5)), share=np.array([1.0, 1.0, 1.0, 1.0, 0.5])
    )
    found = year_hours._starts(firing, 6.0)
    assert found[:4].tolist() == [1.0, 0.0, 0.0, 0.0]
    assert found[4] == max(float(wall_memory.cycles(np.array([0.5]), 6.0)[0]), 1.0)


def test_walls_see_the_burners_before_them_alone():
    plant = SCHOOL.plant
    codes = np.eye(len(plant.appliances))  # one burner an hour
    _, on, rest = year_hours._walls(plant, SimpleNamespace(codes=codes, rest=np.zeros_like(codes)))
    for row, section in enumerate(plant.order):
        assert on[row].tolist() == [section in plant.path(a.name) for a in plant.appliances]
    assert not rest.any()
