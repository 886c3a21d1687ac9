"""CO limits: what several bodies allow as means over their averaging times, and a history of a room held against them.

Limits are facts of `data/building/carbon_monoxide.csv`, each with its source and edition: check what your jurisdiction
adopted.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.building.co_conversions import volume_concentration
from ventcalc.building.code_rules import FAIL, PASS, READING
from ventcalc.door import door
from ventcalc.units import Q_, quantities
from ventcalc.words import say

LIMIT_TEMPERATURE = Q_(25.0, "degC")  # at which limits in mg/m3 are read as ppm, with one standard atmosphere; the
LIMIT_PRESSURE = Q_(1.0, "atm")  # compiled list of limits that prints 1 ppm = 1.145 mg/m3 does so (O019)


@door(plain={"seconds": "s"}, at_least={"seconds": 0.0})
def clock(seconds: float) -> str:
    """A time as people say it: "15 min", "8 h", "1 h 20 min"."""
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{rest} min" if not hours else f"{hours} h" if not rest else f"{hours} h {rest} min"


@dataclass(frozen=True)
class Limit:
    """One limit: ``level`` [ppm] as a mean over ``window`` [s] (0: at any moment), and where it comes from.

    ``weight``: "harm" where the level harms people or is the most that a healthy adult may breathe at work, else
    "guideline", of air that everyone breathes.
    """

    body: str
    rule: str
    printed: str
    level: float
    window: float
    whom: str
    source: str
    edition: str
    status: str
    weight: str

    @property
    def averaging(self) -> str:
        """Its averaging time in words."""
        name = "mean" if self.window else "any_moment"
        return say("building", "carbon_monoxide", name, time=clock(self.window))

    @property
    def name(self) -> str:
        """Body, level as printed and averaging time."""
        return f"{self.body} {self.rule}, {self.printed}, {self.averaging}"

    @property
    def cited(self) -> str:
        """Its name with source, edition and status."""
        return f"{self.name} ({self.source}; {self.edition}; {self.status})"


def facts(kind: str) -> list[Mapping[str, str]]:
    """Rows of `data/building/carbon_monoxide.csv`: "limit", "alarm", "interlock", "placement", "appliance" or
    "uptake"."""
    return [row for row in tables.read("carbon_monoxide") if row["kind"] == kind]


@cache
def limits() -> tuple[Limit, ...]:
    """The limits of `data/building/carbon_monoxide.csv`, body by body; those in mg/m3 read at 25 °C and one
    atmosphere."""
    return tuple(_limit(row) for row in facts("limit"))


def _limit(row: Mapping[str, str]) -> Limit:
    given = Q_(float(row["value"]), row["unit"].replace("m3", "m**3"))
    if row["unit"] != "ppm":
        given = volume_concentration(given, LIMIT_TEMPERATURE, LIMIT_PRESSURE)
    words = (row["body"], row["rule"], f"{row['value']} {row['unit'].replace('m3', 'm³')}")
    where = (row["whom"], row["source"], row["edition"], row["status"], row["weight"])
    return Limit(*words, float(given.m_as("ppm")), 60.0 * float(row["minutes"]), *where)


@quantities(
    "ppm",
    times="s",
    co="ppm",
    window="s",
    before="ppm",
    at_least={"co": 0.0, "window": 0.0, "before": 0.0},
    shapes={"times": "list", "co": "array", "window": "one", "before": "one"},
    source="definition of a time-weighted mean",
)
def running_mean(times, co, window, before=0.0):
    """Mean of a history over the window that ends at each of its times, ppm, by the trapezium between them.

    times: s, rising, from the beginning of the history; co: ppm (..., times); window: s, 0 for the value itself;
    before: ppm that the room held before the history began, at most all of the window.
    """
    if window == 0.0:
        return co
    from scipy.integrate import cumulative_trapezoid  # slow to import

    dose = cumulative_trapezoid(co, times, axis=-1, initial=0.0)
    since = times - window
    # Between two times the concentration is a straight line, so its dose is a parabola.
    at = np.clip(np.searchsorted(times, since, side="right") - 1, 0, times.size - 2)
    step = np.clip(since - times[at], 0.0, None)
    slope = np.diff(co, axis=-1)[..., at] / np.diff(times)[at]
    earlier = dose[..., at] + step * (co[..., at] + 0.5 * slope * step)
    missing = np.clip(times[0] - since, 0.0, None)
    return (dose - np.where(missing > 0.0, 0.0, earlier) + before * missing) / window


@dataclass(frozen=True)
class Judged:
    """One limit held against one room: ``worst`` mean [ppm], when it first went ``over`` [s, infinite: never], verdict.

    ``verdict`` is "pass", "fail", or "needs the authority's reading" where the history is shorter than the averaging
    time of the limit and the mean so far is below it.
    """

    room: str
    limit: Limit
    worst: float
    over: float
    verdict: str

    @property
    def by(self) -> float:
        """How far above the limit [ppm], 0 where it is not."""
        return max(self.worst - self.limit.level, 0.0)


@door(plain={"before": "ppm"}, at_least={"before": 0.0})
def judge_limit(room: str, limit: Limit, times, co, before: float = 0.0) -> Judged:
    """Hold one limit against a history: times [s], co [ppm] of one room, before [ppm] what it held until then."""
    mean = running_mean.bare(times, co, limit.window, before)
    above = np.flatnonzero(mean > limit.level)
    if above.size:
        return Judged(room, limit, float(mean.max()), float(times[above[0]]), FAIL)
    short = times[-1] - times[0] < limit.window
    return Judged(room, limit, float(mean.max()), np.inf, READING if short else PASS)
