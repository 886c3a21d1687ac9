"""Climate: years of weather by a stated recipe, for four climates that are nobody's: cold, temperate, hot and high.

Temperature of an hour is the sum of four parts, with figures of ``data/building/climates.csv``,

    T = mean - season cos(2 pi (day - coldest) / 365) - daily cos(2 pi (hour - 4) / 24) + x,

``x`` the deviation of the weather: at noon of each day ``s z``, straight between noons, ``s`` from its winter to its
summer value with the season and ``z`` a sum that remembers the day before, ``z' = m z + sqrt(1 - m^2) e``, e normal.
The dew point of a day lies below its mean temperature by a spread that remembers likewise, at least half a kelvin;
humidity follows, at most 100 %. Wind has a Weibull distribution: its rank is that of a sum which remembers the hour
before; its direction swings about the prevailing one in the same way. Everything is told as a file would: 0.1 K, 1 %,
0.1 m/s, 10 degrees. The same climate and number give the same year for ever.
"""

from functools import lru_cache

import numpy as np
import scipy

from ventcalc import tables
from ventcalc.building.weather import HOURS_A_DAY, Weather, calendar
from ventcalc.compiled import loop
from ventcalc.gas import atmosphere
from ventcalc.units import ZERO_CELSIUS

YEARS = 20  # of which the typical one is made, and in which the coldest and the windiest day are looked for
_DAYS = 365
_COLDEST_HOUR = 4.0
_LEAST_SPREAD = 0.5  # K
_WIND_MEMORY = 0.93  # from one hour to the next (common practice, no source: weather turns within a day)
_DIRECTION_SWING = 60.0  # degree, standard deviation (invented)


def names() -> tuple[str, ...]:
    """The climates that there are."""
    return tuple(row["name"] for row in tables.read("climates"))


def altitude(name: str) -> float:
    """Height above the sea [m] of an invented climate."""
    return _figures(name)["altitude_m"]


@lru_cache(maxsize=YEARS)  # a typical year is made of them, and its hard days are theirs
def year(name: str, number: int = 0) -> Weather:
    """One invented year of 8,760 hours, by its number from 0; ValueError for another climate or number."""
    of, random = _figures(name), _random(name, number)
    month, day, hour = calendar()
    mean = _daily_means(of, random)
    temperature = _hourly(of, mean)
    spread = of["spread_K"] + of["spread_swing_K"] * _remembering(random, _DAYS, of["memory"])
    dew = _between_noons(mean - np.maximum(spread, _LEAST_SPREAD)) + ZERO_CELSIUS
    ratio = atmosphere.saturation_pressure.bare(dew) / atmosphere.saturation_pressure.bare(temperature)
    rank = scipy.special.ndtr(_remembering(random, month.size, _WIND_MEMORY))
    wind = of["wind_m_s"] * (-np.log1p(-rank)) ** (1.0 / of["wind_shape"])
    turn = _DIRECTION_SWING * _remembering(random, month.size, _WIND_MEMORY)
    return Weather(
        name=f"{name} climate, invented year {number}",
        month=month,
        day=day,
        hour=hour,
        temperature=temperature,
        humidity=np.round(np.minimum(ratio, 1.0), 2),
        wind=np.round(wind, 1),
        direction=np.round((of["prevailing_deg"] + turn) % 360.0, -1) % 360.0,
        altitude=of["altitude_m"],
        source="invented by the recipe of climate.py from climates.csv",
        invented=True,
    )


def typical_year(name: str, years: int = YEARS) -> Weather:
    """A year of typical months: of so many years each month whose mean temperature is nearest to the mean of them all.

    As typical years of weather services are put together, by temperature alone. It is no design year: the coldest and
    the windiest day of those years are not in it.
    """
    of = _figures(name)
    every = np.array([_hourly(of, _daily_means(of, _random(name, n))) for n in range(years)])
    month, day, hour = calendar()
    picked = np.empty(month.size, int)
    for each in range(1, 13):
        here = month == each
        means = every[:, here].mean(axis=1)
        picked[here] = int(np.abs(means - means.mean()).argmin())
    columns = {key: np.empty(month.size) for key in ("temperature", "humidity", "wind", "direction")}
    for number in np.unique(picked).tolist():
        for key, values in columns.items():
            values[picked == number] = getattr(year(name, number), key)[picked == number]
    title = f"{name} climate, typical of {years} invented years"
    first = year(name)
    return Weather(title, month, day, hour, **columns, altitude=first.altitude, source=first.source, invented=True)


def _figures(name: str) -> dict[str, float]:
    if name not in names():
        raise ValueError(f"climate {name!r}; choose {', '.join(names())}")
    row = tables.row("climates", name, "name")
    return {key: float(value) for key, value in row.items() if key not in ("name", "source", "status")}


def _random(name: str, number: int) -> np.random.Generator:
    if not 0 <= number < 10_000:
        raise ValueError(f"year {number} of climate {name!r}: need 0 to 9999")
    return np.random.default_rng([names().index(name), number])


def _hourly(of: dict[str, float], mean: np.ndarray) -> np.ndarray:
    """Temperature of every hour [K], of the daily means [degC]."""
    hour = calendar()[2]
    swing = of["daily_K"] * np.cos(2.0 * np.pi * (hour + 0.5 - _COLDEST_HOUR) / HOURS_A_DAY)
    return np.round(_between_noons(mean) - swing, 1) + ZERO_CELSIUS


def _between_noons(daily: np.ndarray) -> np.ndarray:
    """A value of every hour that goes straight from noon to noon."""
    noons = np.arange(_DAYS) * HOURS_A_DAY + HOURS_A_DAY / 2
    return np.interp(np.arange(_DAYS * HOURS_A_DAY) + 0.5, noons, daily)


def _daily_means(of: dict[str, float], random: np.random.Generator) -> np.ndarray:
    """Mean temperature of every day [degC]."""
    winter = np.cos(2.0 * np.pi * (np.arange(_DAYS) + 1 - of["coldest_day"]) / _DAYS)  # 1 at its depth, -1 in summer
    deviation = 0.5 * (of["winter_K"] + of["summer_K"]) + 0.5 * (of["winter_K"] - of["summer_K"]) * winter
    return of["mean_C"] - of["season_K"] * winter + deviation * _remembering(random, _DAYS, of["memory"])


def _remembering(random: np.random.Generator, count: int, memory: float) -> np.ndarray:
    """A normal series of mean 0 and deviation 1 that remembers: z' = m z + sqrt(1 - m^2) e."""
    noise = random.standard_normal(count)
    share = np.sqrt(1.0 - memory * memory)
    noise[0] /= share  # so that the first value too has deviation 1
    _remember(noise, memory, share)
    return noise


@loop
def _remember(series, memory, share):
    """Turn a series of noise into one that remembers, in place."""
    before = 0.0
    for k in range(series.size):
        before = memory * before + share * series[k]
        series[k] = before
