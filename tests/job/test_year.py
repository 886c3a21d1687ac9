"""Year: every hour solved with its devices; sums, hand checks of single hours."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import HALL
from sample_studies import ALL_JOBS

from ventcalc.building import climate, weather
from ventcalc.draft import held_pressure
from ventcalc.job import job_file, year
from ventcalc.job.design import Design, drawn
from ventcalc.job.year_hours import RUNNING
from ventcalc.vent.common_vent import solve

pytestmark = pytest.mark.slow  # whole studies


@pytest.fixture(scope="module")
def hall():
    """The hall as drawn in all its hours."""
    return year.year(drawn(HALL))


@pytest.fixture(scope="module")
def masonry():
    """A water heater with a draft hood on a chimney: its burner cycles, its wall is heavy."""
    job = job_file.load(ALL_JOBS["masonry_retrofit"])
    return year.year(drawn(job), climate.year("cold")[: 24 * 40])


@pytest.fixture(scope="module")
def held(offered):
    """The hall with the fan and the damper that its file offers, in all its hours."""
    return year.year(Design(HALL, offered.remedy))


def test_a_year_has_all_its_hours(held):
    assert len(held.hours) == 8760


def test_hours_sum_to_the_year(hall, held):
    for found in (hall, held):
        assert found.hours.share.sum() == pytest.approx(8760.0, abs=1e-9)
        for name in ("below", "above", "into_room", "wet", "ice", "icy_end", "plume", "unsettled", "outside"):
            part = getattr(found, name)
            assert part.shape[-1] == 8760 and part.min() >= 0.0 and part.max() <= 1.0 + 1e-12, name
        assert (found.bad_starts <= found.hours.starts).all()


def test_heat_of_the_year_is_the_load_by_hand(hall):
    plan, outdoor = HALL.year.load, climate.typical_year("cold").temperature
    by_hand = plan.base * 8760.0 + (plan.design - plan.base) * np.maximum(plan.limit - outdoor, 0.0).sum() / (
        plan.limit - plan.design_outdoor
    )
    assert hall.heat_input.sum() == pytest.approx(by_hand - hall.hours.firing.unmet.sum(), rel=1e-3)  # classes of 0.5 K


def test_one_hour_solved_alone_is_the_same(hall):
    hour = 500
    column = hall.hours.at[RUNNING, :, hour]
    states = hall.hours.states[column]
    one = hall.hours.seasons[states.season[0]]
    alone = solve(HALL.plant, (one,), replace(states, season=np.zeros(2, int)))
    for i, a in enumerate(HALL.plant.appliances):
        low = a.window[0].m_as("Pa")
        runs = states.codes[i] > 0.0
        under = bool((runs & (alone.outlet_pressure[i] < low - 1e-6)).any())
        assert bool(hall.below[i, hour]) == under
        if under and not hall.hours.starts[hour]:
            assert hall.beyond[i, hour] == pytest.approx((alone.outlet_pressure[i] - low).min(), abs=1e-3)
    assert hall.condensate[:, hour] == pytest.approx(3600.0 * alone.drained.mean(axis=1), rel=1e-9, abs=1e-15)


def test_walls_that_are_warm_again_wet_less(masonry):
    # The same cold morning with walls that have no past: more water settles than where the days before warmed them.
    design, own = masonry.design, masonry.hours.weather
    alone = year.year(design, own[24 * 39 :])
    assert alone.hours.coldness.on[-1, 0] > masonry.hours.coldness.on[-1, 24 * 39] + 0.1
    assert alone.condensate[-1, 0] > masonry.condensate[-1, 24 * 39]


def test_idle_heat_by_hand(masonry):
    """Room air that goes out through the idle hood, warmed from outdoors with 1006 J/(kg K)."""
    hours = masonry.hours
    hour = int(np.flatnonzero(hours.firing.rest[0] == 0.0)[10])
    rests = hours.at[1, :, hour]
    states = hours.states[rests]
    one = hours.seasons[states.season[0]]
    solved = solve(hours.plant, (one,), replace(states, season=np.zeros(2, int)))
    drawn_out = np.maximum(solved.drawn[0], 0.0).mean()
    watts = drawn_out * 1006.0 * (one.room.m_as("K") - one.outdoor.m_as("K"))
    share = 1.0 - hours.firing.share[hour]
    # From idle a hood may stand the other way too; in so cold an hour it drafts after either past.
    assert masonry.idle_heat[hour] == pytest.approx(3600.0 * share * watts, rel=0.02)
    assert share > 0.0 and watts > 0.0


def test_fan_energy_by_hand(held, offered):
    found = held
    hours, hour = found.hours, 4000
    column = hours.at[RUNNING, :, hour]
    states = hours.states[column]
    season = hours.seasons[states.season[0]]
    alone = held_pressure.hold(
        hours.plant, (season,), replace(states, season=np.zeros(2, int)), offered.remedy.controls
    )
    fan, watts = offered.remedy.fan.fan, []
    flow, power = ([getattr(p, part) for p in fan.rated] for part in ("flow", "power"))
    for k in (0, 1):
        n = _speed(offered, alone, k)
        rated = np.interp(alone.flow[0, k] / n, flow, power)
        watts.append(rated * n**3 * alone.density[0, k] / fan.density.m_as("kg/m**3"))
    # Straight lines between the points of the fan's table, motor and drive 0.7; the library's curve is smooth.
    assert found.fan_energy[hour] == pytest.approx(3600.0 * np.mean(watts) / 0.7, rel=0.03)
    assert found.fan_energy.min() >= 0.0 and found.hours.share.sum() == pytest.approx(8760.0)


def _speed(offered, alone, k):
    """Speed at which the fan's table gives what it adds, by the fan laws and bisection."""
    fan = offered.remedy.fan.fan
    section = offered.remedy.plant.section(alone.controls[0].section)
    head = 0.5 * alone.density[0, k] * (alone.flow[0, k] / section.area) ** 2
    wanted = (alone.added[0, k] - head) * fan.density.m_as("kg/m**3") / alone.density[0, k]
    flow, pressure = ([getattr(p, part) for p in fan.rated] for part in ("flow", "pressure"))
    low, high = offered.remedy.fan.least_speed, offered.remedy.fan.most_speed
    for _ in range(50):
        middle = 0.5 * (low + high)
        gives = np.interp(alone.flow[0, k] / middle, flow, pressure) * middle**2
        low, high = (middle, high) if gives < wanted else (low, middle)
    return 0.5 * (low + high)


def test_the_remedy_leaves_less(hall, held):
    found = held
    assert hall.outside.sum() > 1000.0 and hall.into_room.sum() > 100.0
    assert found.outside.sum() < 0.01 * hall.outside.sum() and found.into_room.sum() == 0.0
    assert found.unsettled.sum() < 10.0
    one, other = year.years([hall.design, found.design], hall.hours.weather[:48])
    assert np.array_equal(one.hours.load, other.hours.load) and (one.design, other.design) == (
        hall.design,
        found.design,
    )


def test_a_hood_is_judged_after_both_pasts(masonry):
    assert (masonry.either <= masonry.into_room + 1e-12).all()
    assert (masonry.hours.states.codes > 0.0).any()


def test_the_hardest_days_of_twenty_years(hall):
    coldest, windiest = year.hard_days(drawn(HALL))
    every = [climate.year("cold", n) for n in range(20)]
    least = min(w.by_day(w.temperature).mean(axis=1).min() for w in every)
    most = max(w.by_day(w.wind).mean(axis=1).max() for w in every)
    assert (coldest.kind, windiest.kind) == ("coldest", "windiest")
    assert coldest.year.hours.weather.temperature.mean() == pytest.approx(least)
    assert windiest.year.hours.weather.wind.mean() == pytest.approx(most)
    for day in (coldest, windiest):
        assert len(day.year.hours) == 24 and day.year.hours.share.sum() == pytest.approx(24.0)
        assert day.year.below.shape == (3, 24) and day.year.heat_input.shape == (24,)
    # Colder than any day of the typical year, and so with a heavier load; the walls have a past.
    days = hall.hours.weather.by_day(hall.hours.weather.temperature).mean(axis=1)
    assert least < days.min() and coldest.year.hours.load.mean() > hall.hours.load.max() * 0.99
    assert coldest.year.hours.coldness.on.max() < 0.5


def test_another_plan_and_a_file_of_weather_may_be_given():
    plan = replace(HALL.year, staging=replace(HALL.year.staging, order="parallel"))
    found = year.year(drawn(HALL), climate.year("temperate")[:24], plan)
    assert (found.hours.firing.codes > 0.0).all(axis=0).any()  # all three at once
    assert isinstance(found.hours.weather, weather.Weather) and found.hours.plan is plan


def test_plume_is_seen_over_wet_gas_in_winter_and_not_over_hot_gas_in_summer():
    # The laundry's gas leaves wet and cool; the lodge's is hot, and its summer noons are dry.
    laundry, lodge = (job_file.load(ALL_JOBS[name]) for name in ("laundry", "lodge"))
    cold = year.year(drawn(laundry), climate.year("cold")[:48])
    assert cold.plume.sum() == pytest.approx(cold.hours.share[RUNNING][cold.heat_input > 0.0].sum(), rel=0.2)
    summer = climate.year("hot")[24 * 200 + 13 : 24 * 200 + 17]
    assert year.year(drawn(lodge), summer).plume.sum() == 0.0
    assert year.year(drawn(lodge), climate.year("cold")[:24]).plume.sum() > 12.0


def test_what_hangs_on_the_past_alone_is_so_after_one_and_not_after_the_other_by_hand():
    """One hour of two parts, 0.75 and 0.25 of it, in two winds; four states, each solved after two pasts.

    So after both pasts it hangs on none of them; so after one alone it does, in the worse of both winds.
    """
    at = np.array([[[0], [1]], [[2], [3]]])  # (parts, winds, hours)
    hours = SimpleNamespace(states=range(4), at=at, share=np.array([[0.75], [0.25]]))
    count = year._Count(hours, SimpleNamespace(states=range(8)))
    after_hot, after_cold = np.array([True, False, False, False]), np.array([True, False, False, True])
    flags = np.concatenate([after_hot, after_cold])
    assert count.part(flags) == pytest.approx([1.0])
    assert count.by_past(flags) == pytest.approx([0.25])
    assert count.by_past(np.concatenate([after_hot, after_hot])) == pytest.approx([0.0])
    values = np.array([1.0, 3.0, 5.0, 7.0, 3.0, 5.0, 7.0, 9.0])
    assert count.mean(values) == pytest.approx([0.75 * 3.0 + 0.25 * 7.0])
