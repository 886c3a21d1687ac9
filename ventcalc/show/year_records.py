"""Year records: how often a design fails, as plain data: hours, when they come, beside other designs, on hard days.

Hours are ``{"value", "unit": "h", "shown"}``, all else with a unit as in `numbers`. A year that is told is of one
weather; designs beside each other have been through the same one.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from ventcalc.draft import flue_wetting
from ventcalc.job import year_findings
from ventcalc.job.year import HardDay, Year
from ventcalc.job.year_compared import Compared
from ventcalc.job.year_findings import Failure, Totals
from ventcalc.show.numbers import number
from ventcalc.units import Q_
from ventcalc.words import say

_HOURS = ("outside", "spill", "either", "wet", "ice", "plume", "unsettled")  # of `Totals`
_STARTS = ("starts", "bad_starts")
_ENERGY = ("fan_energy", "idle_heat", "heat")


def of_study(years: Compared, system: str) -> dict[str, Any]:
    """The year of the design that a study reports on, beside its other designs."""
    beside = [y for k, y in enumerate(years.years) if k != years.reported]
    return records(years.own, system, beside, years.hard)


def records(own: Year, system: str, beside: Sequence[Year] = (), hard: Sequence[HardDay] = ()) -> dict[str, Any]:
    """The year of one design; ``beside`` it other designs in the same weather, and the ``hard`` days of many years.

    ``design`` by its name; ``weather`` and what the plant is asked for; ``words`` for page one; ``totals`` by code;
    ``failures``, people first, how ``often`` and ``when``; ``compared``: the totals and the failures of all
    ``designs``, this one first, a cell each; ``hard_days``; ``basis`` and ``cautions``, sentences.
    """
    every = (own, *beside)
    for other in beside:
        if not _alike(own, other):
            raise ValueError(
                f"{_name(other)}: its weather is {other.hours.weather.name!r}, not that of {_name(own)}, "
                f"{own.hours.weather.name!r}; only years of one weather stand beside each other"
            )
    found = [year_findings.totals(one) for one in every]
    return {
        "design": _name(own),
        "weather": _weather(own, system),
        "load": _load(own, system),
        "words": _words(every, found, hard, system),
        "totals": _totals(found[0], system),
        "failures": [_failure(failure, system) for failure in year_findings.failures(own)],
        "compared": _compared(every, found, system),
        "hard_days": [_hard_day(day, system) for day in hard],
        "basis": _basis(own),
        "cautions": [say("show", "year", code) for code in ("typical", "not in it", "walls")],
    }


def _alike(one: Year, other: Year) -> bool:
    """Whether two years are of the same weather."""
    pairs = ((getattr(y.hours.weather, size) for y in (one, other)) for size in ("temperature", "humidity", "wind"))
    return all(np.array_equal(*pair) for pair in pairs)


def _name(year: Year) -> str:
    return year.design.remedy.name


def _weather(own: Year, system: str) -> dict[str, Any]:
    weather = own.hours.weather
    return {
        "name": weather.name,
        "source": weather.source,
        "invented": weather.invented,
        "terrain": own.hours.plan.terrain,
        "coldest": number(float(weather.temperature.min()), "temperature", system),
        "warmest": number(float(weather.temperature.max()), "temperature", system),
        "windiest": number(float(weather.wind.max()), "wind", system),
    }


def _load(own: Year, system: str) -> dict[str, Any]:
    hours, plan = own.hours, own.hours.plan
    return {
        "design": number(plan.load.design, "heat rate", system),
        "design_outdoor": number(plan.load.design_outdoor, "temperature", system),
        "base": number(plan.load.base, "heat rate", system),
        "order": plan.staging.order,
        "unmet": _hours(float((hours.firing.unmet > 1e-9 * hours.load.max()).sum())),
    }


def _hours(value: float) -> dict[str, Any]:
    """Hours of a year; some that round to none are told as less than one."""
    shown = say("show", "year", "less than an hour") if 0.0 < value < 0.5 else f"{value:,.0f} h"
    return {"value": float(value), "unit": "h", "shown": shown}


def _totals(found: Totals, system: str) -> dict[str, Any]:
    """What a year comes to, in the order in which it is told."""
    told = {code: _hours(getattr(found, code)) for code in _HOURS}
    told |= {code: _count(getattr(found, code)) for code in _STARTS}
    told["condensate"] = number(found.condensate / flue_wetting.WATER, "water a year", system)
    return told | {code: number(getattr(found, code), "energy", system) for code in _ENERGY}


def _count(value: float) -> dict[str, Any]:
    return {"value": float(value), "unit": "", "shown": f"{value:,.0f}"}


def amount(kind: str, value: float) -> dict[str, Any]:
    """How often a failure comes: hours, or a number of starts."""
    return _count(value) if kind == "start outside window" else _hours(value)


def _failure(failure: Failure, system: str) -> dict[str, Any]:
    return {
        "kind": failure.kind,
        "subject": failure.subject,
        "title": title(failure.kind, failure.subject),
        "often": amount(failure.kind, failure.hours),
        "days": failure.days,
        "longest": failure.longest,
        "pattern": failure.pattern,
        "part_of_day": failure.day_part,
        "when": failure.when(system),
        "months": [float(v) for v in failure.months],
        "clock": [float(v) for v in failure.clock],
        "outdoors": number(failure.temperature, "temperature", system),
        "wind": number(failure.wind, "wind", system),
        "words": failure.words(system),
    }


def title(kind: str, subject: str) -> str:
    """What a failure is called in a table."""
    return say("show", "year_title", kind, subject=subject)


def _compared(every: Sequence[Year], found: Sequence[Totals], system: str) -> dict[str, Any]:
    each = [_totals(one, system) for one in found]
    totals = [
        {"code": code, "title": say("show", "year_total", code), "cells": [one[code] for one in each]}
        for code in each[0]
    ]
    failures = [
        {
            "kind": row.kind,
            "subject": row.subject,
            "title": title(row.kind, row.subject),
            "cells": [amount(row.kind, h) for h in row.hours],
        }
        for row in year_findings.side_by_side(every)
    ]
    return {"designs": [_name(one) for one in every], "totals": totals, "failures": failures}


def _words(every: Sequence[Year], found: Sequence[Totals], hard: Sequence[HardDay], system: str) -> list[str]:
    """What page one says: how often, against what else, and on the hard days."""
    own, least = found[0], found[0].hours
    often, past = _often(own.spill, least), ", by past" if own.either > 0.0 else ""
    told = [
        say("show", "year", f"window {_often(own.outside, least)}", hours=_plain(own.outside), all=_plain(least)),
        say("show", "year", f"flue gas {often}{past}", hours=_plain(own.spill), either=_plain(own.either)),
    ]
    for one, other in zip(every[1:], found[1:], strict=True):
        figures = {"outside": _plain(other.outside), "spill": _plain(other.spill)}
        told.append(say("show", "year", "beside", design=_name(one), **figures))
    return told + [_hard_words(day, system) for day in hard]


def _often(hours: float, of: float) -> str:
    return "never" if hours <= 0.0 else "always" if hours >= of - 0.5 else "some"


def _plain(hours: float) -> str:
    return say("show", "year", "less than one") if 0.0 < hours < 0.5 else f"{hours:,.0f}"


def _hard_day(day: HardDay, system: str) -> dict[str, Any]:
    weather, found = day.year.hours.weather, year_findings.totals(day.year)
    which, far = _farthest(day.year)
    return {
        "kind": day.kind,
        "of": weather.name,
        "date": _date(day),
        "outdoors": number(float(weather.temperature.mean()), "temperature", system),
        "wind": number(float(weather.wind.mean()), "wind", system),
        "outside": _hours(found.outside),
        "spill": _hours(found.spill),
        "ice": _hours(found.ice),
        "beyond": number(far, "draft", system),
        "appliance": which,
        "flue_gas": number(float(day.year.flue_gas.max()), "mass flow", system),
        "words": _hard_words(day, system),
    }


def _farthest(year: Year) -> tuple[str, float]:
    """The outlet that leaves its window farthest, and by how much [Pa], positive above; "" where none does."""
    i, hour = np.unravel_index(np.abs(year.beyond).argmax(), year.beyond.shape)
    far = float(year.beyond[i, hour])
    return (year.hours.plant.appliances[i].name, far) if far else ("", 0.0)


def _date(day: HardDay) -> str:
    weather = day.year.hours.weather
    return f"{say('job', 'months', str(int(weather.month[0])))} {int(weather.day[0])}"


def _hard_words(day: HardDay, system: str) -> str:
    weather, found = day.year.hours.weather, year_findings.totals(day.year)
    which, far = _farthest(day.year)
    figures = {
        "date": _date(day),
        "of": weather.name,
        "outdoors": Q_(float(weather.temperature.mean()), "K"),
        "wind": Q_(float(weather.wind.mean()), "m/s"),
        "outside": _plain(found.outside),
        "spill": _plain(found.spill),
        "appliance": which,
        "beyond": Q_(abs(far), "Pa"),
        "side": say("job", "side", "above" if far > 0.0 else "below"),
    }
    return say("show", "year_hard_day", f"{day.kind} {'out' if which else 'in'}", system, **figures)


def _basis(own: Year) -> str:
    weather, states = own.hours.weather, len(own.hours.states)
    code = "invented" if weather.invented else "of a file"
    return say("show", "year", code, weather=weather.name, source=weather.source, hours=len(weather), states=states)
