"""Climate: invented years keep to the figures of their recipe, and are the same for ever."""

import numpy as np
import pytest
from scipy import stats

from ventcalc import tables
from ventcalc.building import climate

NAMES = ("cold", "temperate", "hot", "high")


@pytest.fixture(scope="module")
def years():
    return {name: [climate.year(name, n) for n in range(climate.YEARS)] for name in NAMES}


def figures(name):
    return {
        k: float(v) for k, v in tables.row("climates", name, "name").items() if k not in ("name", "source", "status")
    }


def test_there_are_four_and_each_is_marked_invented(years):
    assert climate.names() == NAMES
    for name in NAMES:
        assert all(w.invented and "invented" in w.source and len(w) == 8760 for w in years[name])
        assert years[name][0].altitude == climate.altitude(name) == figures(name)["altitude_m"]
    with pytest.raises(ValueError, match="choose cold, temperate, hot, high"):
        climate.year("lunar")
    with pytest.raises(ValueError, match="need 0 to 9999"):
        climate.year("cold", -1)


@pytest.mark.parametrize("name", NAMES)
def test_temperatures_keep_to_the_recipe(years, name):
    of = figures(name)
    celsius = np.array([w.temperature - 273.15 for w in years[name]]).reshape(climate.YEARS, 365, 24)
    # The mean of 20 years of days that remember: its own deviation is that of a day over the root of independent days.
    apart = climate.YEARS * 365 * (1 - of["memory"]) / (1 + of["memory"])
    assert celsius.mean() == pytest.approx(of["mean_C"], abs=4.0 * of["winter_K"] / np.sqrt(apart))
    # Half the swing of a mean day, and of a mean year by its first harmonic. Noise: a few tenths of a kelvin.
    day = celsius.mean(axis=(0, 1))
    assert 0.5 * np.ptp(day) == pytest.approx(of["daily_K"], rel=0.03)
    season = np.fft.rfft(celsius.mean(axis=(0, 2)))[1] / 365 * 2
    assert abs(season) == pytest.approx(of["season_K"], abs=0.6)
    # Days about that season: their deviation lies between those of summer and winter, and remembers as told.
    means = celsius.mean(axis=2)
    about = means - means.mean(axis=0)
    assert of["summer_K"] < about.std() < of["winter_K"]
    winter, summer = np.r_[0:45, 345:365], np.arange(160, 230)
    assert about[:, winter].std() > about[:, summer].std()
    noons = celsius[:, :, 11:13].mean(axis=2)  # where no straight line smooths it
    noons = noons - noons.mean(axis=0)
    told = np.mean([np.corrcoef(row[:-1], row[1:])[0, 1] for row in noons])
    assert told == pytest.approx(of["memory"], abs=0.04)


@pytest.mark.parametrize("name", NAMES)
def test_wind_is_that_of_its_weibull_distribution(years, name):
    of = figures(name)
    wind = np.concatenate([w.wind for w in years[name]])
    known = stats.weibull_min(of["wind_shape"], scale=of["wind_m_s"])
    assert wind.mean() == pytest.approx(known.mean(), rel=0.02)
    assert np.quantile(wind, 0.99) == pytest.approx(known.ppf(0.99), rel=0.04)


@pytest.mark.parametrize("name", NAMES)
def test_dew_points_stay_below_the_mean_of_the_day(years, name):
    for w in years[name]:
        assert w.humidity.min() > 0.0 and w.humidity.max() <= 1.0
    # Drier by day than by night.
    noon, night = (np.mean([w.humidity[w.hour == h].mean() for w in years[name]]) for h in (15, 4))
    assert noon < night - 0.05


def test_the_same_number_gives_the_same_year_and_another_another():
    one, again, other = climate.year("high", 3), climate.year("high", 3), climate.year("high", 4)
    assert np.array_equal(one.temperature, again.temperature) and np.array_equal(one.wind, again.wind)
    assert not np.array_equal(one.temperature, other.temperature)
    # A regression pin, so that invented years of a report can be made again.
    assert [round(float(t) - 273.15, 1) for t in climate.year("cold", 0).temperature[[0, 4000, 8759]]] == [
        -13.2,
        23.1,
        -12.3,
    ]


def test_a_typical_year_is_made_of_the_months_nearest_to_the_mean(years):
    found = climate.typical_year("cold")
    for month in range(1, 13):
        here = found.month == month
        means = np.array([w.temperature[here].mean() for w in years["cold"]])
        nearest = np.abs(means - means.mean()).min()
        assert abs(found.temperature[here].mean() - means.mean()) == pytest.approx(nearest, abs=1e-9)
    assert found.invented and len(found) == 8760
    # It is no design year: the coldest day of all twenty is colder than its own.
    coldest = min(w.by_day(w.temperature).mean(axis=1).min() for w in years["cold"])
    assert coldest < found.by_day(found.temperature).mean(axis=1).min() - 1.0
