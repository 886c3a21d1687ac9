"""Weather: what it refuses, its calendar and hardest days, degree-days against sums by hand."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from ventcalc.building import climate, weather
from ventcalc.units import Q_

YEAR = climate.year("temperate")


def test_a_year_has_8760_hours_in_the_order_of_the_calendar():
    month, day, hour = weather.calendar()
    assert month.size == weather.HOURS_A_YEAR == 8760
    begin = datetime.datetime(2023, 1, 1)  # no leap year; the standard library knows the calendar
    for h in range(0, 8760, 37):
        at = begin + datetime.timedelta(hours=h)
        assert (month[h], day[h], hour[h]) == (at.month, at.day, at.hour)
    assert weather.calendar(2)[0].size == 2 * 8760


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_degree_days_are_the_sum_by_hand(unit):
    # Sum of differences by a plain loop over the hours of a January, over 24.
    kelvin = YEAR.temperature[: 31 * 24]
    by_hand = sum(max(291.15 - t, 0.0) for t in kelvin.tolist()) / 24.0
    given = Q_(kelvin, "K").to(unit), Q_(291.15, "K").to(unit)
    found = weather.degree_days(*given)
    assert found.m_as("delta_degC*day") == pytest.approx(by_hand, rel=1e-9)
    assert found.m_as("delta_degF*day") == pytest.approx(1.8 * by_hand, rel=1e-9)


def test_no_degree_days_where_it_is_warm():
    assert weather.degree_days.bare(np.full(48, 300.0), 291.15) == 0.0


def test_hardest_days_are_those_of_the_means():
    days = [YEAR.temperature[24 * d : 24 * d + 24].mean() for d in range(365)]
    winds = [YEAR.wind[24 * d : 24 * d + 24].mean() for d in range(365)]
    assert weather.coldest_day(YEAR) == days.index(min(days))
    assert weather.windiest_day(YEAR) == winds.index(max(winds))


def test_some_hours_are_weather_too():
    day = YEAR[24:48]
    assert len(day) == 24 and day.day_count == 1 and day.name == YEAR.name
    assert np.array_equal(day.temperature, YEAR.temperature[24:48]) and set(day.day) == {2}


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [("temperature", 20.0, "213.15 to 333.15"), ("humidity", 1.2, "0 to 1"), ("wind", -1.0, "0 to 60"),
     ("wind", np.nan, "0 to 60")],
)  # fmt: skip
def test_what_is_no_weather_is_refused_with_its_hour(name, value, told):
    values = getattr(YEAR, name).copy()
    values[7] = value
    with pytest.raises(ValueError, match=f"{name} of hour 7 = .*{told}"):
        replace(YEAR, **{name: values})
    with pytest.raises(ValueError, match="of one length"):
        replace(YEAR, wind=YEAR.wind[:-1])
