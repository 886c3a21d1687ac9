"""Wall memory: how cold every wall of a vent is at its starts and while it burns, carried from hour to hour.

A wall that gas of a burner passes nears what it comes to with it, without it nears its surroundings, each by

    dw/dt = (1 - w) / tau  or  -w / tau,

``w`` how warm it is, 0 as its surroundings to 1 at rest with the gas, ``tau`` the time in which it follows the weather
(`wall_lag.lag`). Under a burner it warms faster than that, by the inside film: it is taken as slower, so colder and
wetter, than it is. A burner that cycles has its on and off times by the starts an hour,

    N = 4 N_most f (1 - f)

at the share ``f`` of the hour that it is on, the law of a thermostat whose droop is straight (common practice; as
residential thermostats are rated, from memory).
"""

from dataclasses import dataclass

import numpy as np

HOUR = 3600.0  # s


@dataclass(frozen=True, eq=False)
class Coldness:
    """How cold walls are, 1 as their surroundings to 0 at rest with the gas, (sections, hours).

    ``start``: at the coldest start of the hour; ``on`` and ``off``: on average while its burners burn, and while they
    rest.
    """

    start: np.ndarray
    on: np.ndarray
    off: np.ndarray


def cycles(share: np.ndarray, most: float) -> np.ndarray:
    """Starts in an hour of a burner that is on for a share of it: 4 N f (1 - f)."""
    return 4.0 * most * share * (1.0 - share)


def carry(lag: np.ndarray, burns: np.ndarray, burns_at_rest: np.ndarray, share: np.ndarray, most: float) -> Coldness:
    """Coldness of walls of ``lag`` [s] (sections) through a row of hours, all cold before the first.

    ``burns`` and ``burns_at_rest`` (sections, hours): whether gas of a burner passes in the part of an hour of which
    ``share`` (hours) is told, and in the rest of it; ``most`` starts an hour at half load. On and off follow each other
    exactly; through a cycle a wall goes by ``w' = q w + c``, so many cycles are one step.
    """
    on, off = _times(burns, burns_at_rest, share, most)
    tau = np.maximum(lag, 1e-6)[:, None]
    after_on, after_off = np.exp(-on / tau), np.exp(-off / tau)  # what is left of a difference
    whole = HOUR / (on + off)
    q = after_on * after_off
    settled = (1.0 - after_on) * after_off / np.where(q < 1.0, 1.0 - q, 1.0)  # at the start of a cycle, in the end
    left = q**whole
    first = np.empty(on.shape)
    now = np.zeros(lag.size)
    for hour in range(on.shape[1]):
        first[:, hour] = now
        now = settled[:, hour] + (now - settled[:, hour]) * left[:, hour]
    # Mean over the hour's cycles of how warm the wall is as one begins.
    several = (q < 1.0) & (whole > 1.0)  # a cycle may be longer than its hour
    fading = np.where(several, (1.0 - left) / (whole * np.where(several, 1.0 - q, 1.0)), 1.0)
    begins = settled + (first - settled) * fading
    ends = 1.0 - (1.0 - begins) * after_on
    mean_on = (1.0 - begins) * _mean_left(on, tau)
    mean_off = 1.0 - ends * _mean_left(off, tau)
    # A wall that gas passes all the time, or never, is the same in both parts.
    mean_on, mean_off = np.where(on > 0.0, mean_on, mean_off), np.where(off > 0.0, mean_off, mean_on)
    # Of the first cycle and the last one begun, the colder; the first alone where the hour has no more than one.
    last = settled + (first - settled) * q ** np.maximum(whole - 1.0, 0.0)
    return Coldness(1.0 - np.minimum(first, last), mean_on, mean_off)


def _times(burns, burns_at_rest, share, most) -> tuple[np.ndarray, np.ndarray]:
    """Time [s] with and without gas of a burner in one cycle of every wall's hour (sections, hours)."""
    starts = np.maximum(cycles(share, most), 1e-9)
    on, off = HOUR * share / starts, HOUR * (1.0 - share) / starts
    always, never = burns & burns_at_rest, ~burns & ~burns_at_rest
    whole = share >= 1.0
    on, off = np.where(whole, HOUR, on), np.where(whole, 0.0, off)
    with_gas = np.where(burns, on, off)  # a wall that only the rest of the hour heats has it the other way round
    return np.where(always, HOUR, np.where(never, 0.0, with_gas)), np.where(
        always, 0.0, np.where(never, HOUR, on + off - with_gas)
    )


def _mean_left(time, tau):
    """Mean over a time of what is left of a difference that fades by exp(-t/tau)."""
    ratio = np.where(time > 0.0, time / tau, 1.0)
    return np.where(time > 0.0, -np.expm1(-ratio) / ratio, 1.0)
