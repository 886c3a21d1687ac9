"""CO alarms: when a residential alarm may sound and must, by the test points of its standard."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from ventcalc.building.co_limits import facts


@dataclass(frozen=True)
class AlarmBand:
    """When a residential alarm may sound at the ``earliest`` and must at the ``latest`` [s; infinite: never]."""

    standard: str
    earliest: float
    latest: float


@cache
def alarm_points(standard: str) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Test points of an alarm standard: for "earliest" and "latest" the ppm and the times [s], rising in ppm."""
    rows = [row for row in facts("alarm") if row["body"] == standard]
    if not rows:
        raise ValueError(f"standard {standard!r}: there are {', '.join(alarm_standards())}")
    points = {}
    for edge in ("earliest", "latest"):
        pairs = sorted((float(r["value"]), 60.0 * float(r["minutes"])) for r in rows if r["edge"] == edge)
        points[edge] = tuple(np.array(pairs).T)
    return points


def alarm_standards() -> tuple[str, ...]:
    """The alarm standards whose test points are known."""
    return tuple(dict.fromkeys(row["body"] for row in facts("alarm")))


_AT_ONCE = 1.0  # s: a test point without a least time


def alarm_band(times, co, standard: str = "UL 2034") -> AlarmBand:
    """When an alarm sounds on a history: times [s], rising; co [ppm] at it.

    A standard tests alarms at constant concentrations only. Assumed here for any other history: between test points the
    logarithm of the time is a straight line over that of the concentration, above the highest the time stays, below the
    lowest nothing happens, and every minute spends its share of the time; at a whole share the alarm sounds. For the
    latest alarm a fall below the lowest test point begins it all anew, as a trainer of alarm users says it does. At a
    constant concentration of the standard its own times come out. UL 2034 is said to rest on about 10 % COHb; its
    latest alarms are that for heavy work (`cohb.person`), which is another way to judge a rising concentration.
    Raises ValueError for an unknown standard.
    """
    points = alarm_points(standard)
    return AlarmBand(standard, *(_first_alarm(times, co, *points[edge], edge) for edge in ("earliest", "latest")))


def _first_alarm(times, co, levels, waits, edge: str) -> float:
    with np.errstate(divide="ignore"):
        wait = np.exp(np.interp(np.log(co), np.log(levels), np.log(np.maximum(waits, _AT_ONCE))))
    heard = co >= levels[0] * (1.0 - 1e-9)
    from scipy.integrate import cumulative_trapezoid  # slow to import

    share = cumulative_trapezoid(np.where(heard, 1.0 / wait, 0.0), times, initial=0.0)
    if edge == "latest":
        share = share - np.maximum.accumulate(np.where(heard, 0.0, share))
    done = int(np.argmax(share >= 1.0 - 1e-9))
    if share[done] < 1.0 - 1e-9:
        return np.inf
    return float(np.interp(1.0, share[done - 1 : done + 1], times[done - 1 : done + 1])) if done else float(times[0])
