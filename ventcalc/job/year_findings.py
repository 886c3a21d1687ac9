"""Year findings: which failure comes when: six hours in January, or every morning; and what a year costs.

Each failure of a `year.Year` is a record with its hours, days, months and hours of the day, and a pattern that follows
from them by stated bounds; nothing here reads a sentence.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.building.weather import HOURS_A_DAY, Weather
from ventcalc.job.year import Year
from ventcalc.words import say

# What a pattern is called by, all chosen here (common practice, no source).
FEW_HOURS = 24.0  # at most so many in a year are a few
MOST_DAYS = 0.9  # of all days: always
DAY_PART, SOME_DAYS, IN_PART = 5, 0.15, 0.75  # so much of it in so many hours of the clock, on so many of the days
TAIL, IN_TAIL = 0.25, 0.9  # so much of it in the coldest, warmest or windiest quarter of all hours
_PARTS = (("night", 22), ("morning", 5), ("midday", 10), ("afternoon", 13), ("evening", 17))  # and when they begin
PATTERNS = ("few", "always", "part of day", "cold", "warm", "windy", "scattered")


@dataclass(frozen=True, eq=False)
class Failure:
    """One thing that goes wrong in a year: its ``kind``, whom or what it concerns ("" for all), when, how bad.

    ``hours`` in all, on so many ``days``; ``months`` (12) and ``clock`` (24) are hours of each month and of each hour
    of the day; ``longest`` run of hours in each of which it comes. ``pattern`` is one of `PATTERNS`, ``day_part`` the
    part of the day where that is its pattern. ``temperature`` and ``wind`` [K, m/s] are the means while it lasts.
    """

    kind: str
    subject: str
    hours: float
    days: int
    months: np.ndarray
    clock: np.ndarray
    longest: int
    pattern: str
    day_part: str
    temperature: float
    wind: float

    def when(self, system: str = "US") -> str:
        """When it comes."""
        most = [int(m) for m in np.argsort(-self.months)[:2] if self.months[m] > 0.0]
        names = tuple(say("job", "months", str(m + 1)) for m in sorted(most))
        return say("job", "year_pattern", self.pattern, system, months=names, part=self.day_part)

    def words(self, system: str = "US") -> str:
        """The failure in a sentence."""
        when = self.when(system)
        figures = {"hours": f"{self.hours:,.0f}" if self.hours >= 1.0 else "less than 1", "days": self.days}
        return say("job", "year_failure", self.kind, system, subject=self.subject, when=when, **figures)


@dataclass(frozen=True)
class Totals:
    """What a year comes to; plain SI.

    ``hours`` in all, of them with an outlet ``outside`` its window, with flue gas in the room (``spill``, of them
    ``either`` only where the vent stood idle and cold before), with a wall
    ``wet``, with ``ice`` on a wall or at an end, with a visible ``plume``, and ``unsettled``; ``starts`` and of them
    ``bad_starts``; ``condensate`` [kg], ``fan_energy``, ``idle_heat`` and ``heat`` put in [J].
    """

    hours: float
    outside: float
    spill: float
    either: float
    wet: float
    ice: float
    plume: float
    unsettled: float
    starts: float
    bad_starts: float
    condensate: float
    fan_energy: float
    idle_heat: float
    heat: float


def totals(year: Year) -> Totals:
    """What a year of one design comes to."""
    return Totals(
        hours=float(year.hours.share.sum()),
        outside=float(year.outside.sum()),
        spill=float(year.into_room.max(axis=0).sum()),
        either=float(year.either.max(axis=0).sum()),
        wet=float(year.wet.max(axis=0).sum()),
        ice=float(np.maximum(year.ice.max(axis=0), year.icy_end).sum()),
        plume=float(year.plume.sum()),
        unsettled=float(year.unsettled.sum()),
        starts=float(year.hours.starts.sum()),
        bad_starts=float(year.bad_starts.sum()),
        condensate=float(year.condensate.sum()),
        fan_energy=float(year.fan_energy.sum()),
        idle_heat=float(year.idle_heat.sum()),
        heat=float(year.heat_input.sum() * 3600.0),
    )


def failures(year: Year) -> tuple[Failure, ...]:
    """All that goes wrong in a year of one design, people first, then windows, water, ice, plume and what is unsettled.

    Water on a wall that is made for it is no failure.
    """
    plant, weather = year.hours.plant, year.hours.weather
    found = []
    for kind, parts in (
        ("flue gas in room", year.into_room - year.either),
        ("flue gas in room from idle", year.either),
        ("above window", year.above),
        ("below window", year.below),
    ):
        found += [(kind, a.name, row) for a, row in zip(plant.appliances, parts, strict=True)]
    found.append(("start outside window", "", year.bad_starts))
    dry = [k for k, section in enumerate(plant.order) if not section.material.condensate]
    found += [("wet", plant.order[k].name, year.wet[k]) for k in dry]
    found += [("ice", section.name, year.ice[k]) for k, section in enumerate(plant.order)]
    found += [("ice at the end", "", year.icy_end), ("plume", "", year.plume), ("unsettled", "", year.unsettled)]
    return tuple(_failure(kind, subject, parts, weather) for kind, subject, parts in found if parts.sum() > 0.0)


@dataclass(frozen=True)
class Row:
    """Hours of one failure in a year of each of several designs, in their order."""

    kind: str
    subject: str
    hours: tuple[float, ...]


def side_by_side(years: Sequence[Year]) -> tuple[Row, ...]:
    """Every failure of any of several designs, with its hours in each."""
    each = [{(f.kind, f.subject): f.hours for f in failures(y)} for y in years]
    keys = dict.fromkeys(key for one in each for key in one)
    return tuple(Row(*key, tuple(one.get(key, 0.0) for one in each)) for key in keys)


def _failure(kind: str, subject: str, parts: np.ndarray, weather: Weather) -> Failure:
    comes = parts > 0.0
    months = np.bincount(weather.month - 1, parts, 12)
    clock = np.bincount(weather.hour, parts, HOURS_A_DAY)
    day = np.arange(len(weather)) // HOURS_A_DAY
    days = int(np.unique(day[comes]).size)
    pattern, part = _pattern(parts, clock, days / max(weather.day_count, 1), weather)
    total = float(parts.sum())
    return Failure(
        kind=kind,
        subject=subject,
        hours=total,
        days=days,
        months=months,
        clock=clock,
        longest=_longest(comes),
        pattern=pattern,
        day_part=part,
        temperature=float(parts @ weather.temperature / total),
        wind=float(parts @ weather.wind / total),
    )


def _longest(comes: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], comes.astype(int), [0]))))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def _pattern(parts: np.ndarray, clock: np.ndarray, days: float, weather: Weather) -> tuple[str, str]:
    """The pattern of something that takes ``parts`` of hours, on a share of all ``days``; and the part of the day."""
    total = parts.sum()
    if total <= FEW_HOURS:
        return "few", ""
    if days >= MOST_DAYS and total >= 0.5 * MOST_DAYS * len(weather):
        return "always", ""
    windows = np.array([np.take(clock, range(h, h + DAY_PART), mode="wrap") for h in range(HOURS_A_DAY)])
    begins = int(windows.sum(axis=1).argmax())
    window = windows[begins]
    if window.sum() >= IN_PART * total and days >= SOME_DAYS:
        middle = begins + round(float(window @ np.arange(DAY_PART) / window.sum()))
        return "part of day", _part(middle % HOURS_A_DAY)
    for name, size in (("cold", -weather.temperature), ("warm", weather.temperature), ("windy", weather.wind)):
        if parts[size >= np.quantile(size, 1.0 - TAIL)].sum() >= IN_TAIL * total:
            return name, ""
    return "scattered", ""


def _part(hour: int) -> str:
    """The part of the day that an hour belongs to."""
    return next((name for name, begins in reversed(_PARTS[1:]) if hour >= begins and hour < _PARTS[0][1]), "night")
