"""Weather: hour by hour what stands around a building: temperature, humidity and wind, of a file or invented."""

from dataclasses import dataclass, fields

import numpy as np

from ventcalc.units import quantities

HOURS_A_DAY = 24
DAYS_OF_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
HOURS_A_YEAR = HOURS_A_DAY * sum(DAYS_OF_MONTH)  # 8,760; a file of a leap year has a day more
# What a building's vent may be asked to bear (`network.Season`), and no weather station reads beyond (from memory).
COLDEST, HOTTEST, WINDIEST = 213.15, 333.15, 60.0  # K, K, m/s


@dataclass(frozen=True, eq=False)
class Weather:
    """Hours in a row, plain SI arrays of one length.

    ``month`` 1 to 12, ``day`` of the month, ``hour`` of the day that begins, 0 to 23; ``temperature`` [K],
    ``humidity`` relative, ``wind`` [m/s] at the height of the station's anemometer and its ``direction`` [degree from
    north by east, NaN where not told]. ``altitude`` of the station [m]. ``source`` says where it comes from;
    ``invented`` where it is nobody's weather.
    """

    name: str
    month: np.ndarray
    day: np.ndarray
    hour: np.ndarray
    temperature: np.ndarray
    humidity: np.ndarray
    wind: np.ndarray
    direction: np.ndarray
    altitude: float
    source: str
    invented: bool

    def __post_init__(self):
        if len({getattr(self, name).shape for name in _ARRAYS}) > 1 or self.temperature.ndim != 1:
            raise ValueError(f"weather {self.name!r}: its columns must be of one length")
        limits = (("temperature", COLDEST, HOTTEST, "K"), ("humidity", 0.0, 1.0, ""), ("wind", 0.0, WINDIEST, "m/s"))
        for name, low, high, unit in limits:
            bad = ~((getattr(self, name) >= low) & (getattr(self, name) <= high))  # NaN is bad
            if bad.any():
                at = int(np.flatnonzero(bad)[0])
                found = f"{name} of hour {at} = {getattr(self, name)[at]:g} {unit}".rstrip()
                raise ValueError(f"weather {self.name!r}: {found} must be {low:g} to {high:g}")

    def __len__(self) -> int:
        return self.temperature.size

    def __getitem__(self, pick) -> "Weather":
        parts = {f.name: getattr(self, f.name) for f in fields(self)}
        return Weather(**parts | {name: parts[name][pick] for name in _ARRAYS})

    @property
    def day_count(self) -> int:
        """How many whole days it holds."""
        return len(self) // HOURS_A_DAY

    def by_day(self, values: np.ndarray) -> np.ndarray:
        """Values of the hours as (days, 24); hours of a last day that is not whole are left out."""
        return values[: self.day_count * HOURS_A_DAY].reshape(-1, HOURS_A_DAY)


_ARRAYS = ("month", "day", "hour", "temperature", "humidity", "wind", "direction")


def calendar(years: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Month, day and hour of every hour of so many years of 365 days."""
    month = np.repeat(np.arange(1, 13), DAYS_OF_MONTH)
    day = np.concatenate([np.arange(1, n + 1) for n in DAYS_OF_MONTH])
    hours = np.arange(HOURS_A_DAY)
    one = np.repeat(month, HOURS_A_DAY), np.repeat(day, HOURS_A_DAY), np.tile(hours, month.size)
    return tuple(np.tile(a, years) for a in one)


@quantities(
    "delta_degC*day",
    temperature="K",
    base="K",
    shapes={"temperature": "list", "base": "one"},
    source="the sum that defines them, by the hour: ASHRAE Handbook Fundamentals, ch. 14 (from memory)",
)
def degree_days(temperature, base):
    """Heating degree-days of hours in a row: the sum of what each is below the base, over 24.

    temperature: of every hour, K, array; base: outdoor temperature from which a building needs no heat, K. By the hour
    and not by the day's mean, which counts fewer in spring and fall.
    """
    return np.maximum(base - np.asarray(temperature, float), 0.0).sum() / HOURS_A_DAY


def coldest_day(weather: Weather) -> int:
    """The day of the lowest mean temperature, counted from 0."""
    return int(weather.by_day(weather.temperature).mean(axis=1).argmin())


def windiest_day(weather: Weather) -> int:
    """The day of the highest mean wind, counted from 0."""
    return int(weather.by_day(weather.wind).mean(axis=1).argmax())
