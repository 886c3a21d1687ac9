"""Firing schedule: what burners, gusts and cold walls do over a time, whatever the loop does."""

from dataclasses import dataclass
from math import inf

import numpy as np

from ventcalc.door import door
from ventcalc.units import Q_, Quantity, seconds
from ventcalc.vent.layout import Plant
from ventcalc.vent.states import States

STEP = 0.05  # s, of the loop in time; it must be short against the fastest thing that moves
AT_ONCE = STEP  # s that a sudden change takes, where gas answers at once
SUDDEN = 0.5  # s that it takes in time: no blower or valve stops a column of gas faster (common practice, no source)


@dataclass(frozen=True)
class Turn:
    """An appliance goes over ``to`` another of its states from ``at`` on, in a straight line ``within`` a time."""

    appliance: str
    to: str
    at: Quantity
    within: Quantity = Q_(AT_ONCE, "s")


@door(at="s", purge="s", fan="s", ramp="s", at_least={"at": 0.0, "purge": 0.0, "fan": 0.0, "ramp": 0.0})
def start_up(
    appliance: str,
    at: Quantity,
    purge: Quantity,
    levels: tuple[tuple[str, Quantity], ...],
    fan: Quantity = Q_(2.0, "s"),
    ramp: Quantity = Q_(1.0, "s"),
) -> tuple[Turn, ...]:
    """The turns of a start: the burner's fan runs up within ``fan``, purges until ``purge`` is over, then lights.

    ``levels`` are (name, how long until it is called for, counted from light-off), each reached within ``ramp``.
    """
    for name, later in levels:
        seconds(later, f"levels: time of {name}")
    lit = at + purge
    return (
        Turn(appliance, "purge", at, fan),
        *(Turn(appliance, name, lit + later, ramp) for name, later in levels),
    )


@dataclass(frozen=True)
class Gust:
    """A gust at the termination from ``at`` on, ``1 - cos`` in shape; at most ``head`` times the season's wind head."""

    at: Quantity
    lasts: Quantity
    head: float = 1.0


@dataclass(frozen=True)
class Schedule:
    """What goes on for ``duration``, whatever the loop does.

    ``start``: the state of every appliance at time 0, in the plant's order. ``turns`` and ``gusts`` follow.
    ``season`` is an index, ``wind`` the steady share of its wind head. ``cold`` is how cold the walls are at time 0
    (1 as the surroundings, 0 warmed through). Where gas answers at once this share falls from the first fire on as
    ``exp(-t / warming)``, one time constant for the whole vent: an approximation (`warming_time`), and it does not rise
    again while nothing burns. In time the walls follow by themselves, and ``warming`` does not matter.
    """

    duration: Quantity
    start: tuple[str, ...]
    turns: tuple[Turn, ...] = ()
    gusts: tuple[Gust, ...] = ()
    season: int = 0
    wind: float = 0.0
    cold: float = 0.0
    warming: Quantity = Q_(300.0, "s")


@dataclass(frozen=True)
class FiringPath:
    """A schedule as plain numbers: for each appliance the corners of its path (times, codes)."""

    schedule: Schedule
    end: float
    corners: tuple[tuple[np.ndarray, np.ndarray], ...]
    lit: float  # first time at which a burner fires, inf where none does

    def states(self, times: np.ndarray) -> States:
        """What to solve at these times."""
        s = self.schedule
        codes = np.array([np.interp(times, t, c) for t, c in self.corners])
        windy = np.full(times.size, s.wind)
        for gust in s.gusts:
            share = (times - gust.at.m_as("s")) / gust.lasts.m_as("s")
            windy += np.where((share > 0.0) & (share < 1.0), 0.5 * gust.head * (1.0 - np.cos(2.0 * np.pi * share)), 0.0)
        burnt = np.maximum(times - self.lit, 0.0) if self.lit < inf else np.zeros(times.size)
        cold = s.cold * np.exp(-burnt / s.warming.m_as("s"))
        return States(codes, np.full(times.size, s.season), cold, windy)

    def knots(self, since: float) -> np.ndarray:
        """Times from ``since`` on between which everything goes in a line that is straight enough."""
        since = round(since, DIGITS)
        found = [np.array([since, self.end])]
        for times, codes in self.corners:
            found.append(times)
            for t0, t1, c0, c1 in zip(times, times[1:], codes, codes[1:], strict=False):
                if c0 != c1 and t1 - t0 > 1.5 * AT_ONCE:
                    # An idle outlet shuts the moment its fan starts, so the first step stands by itself.
                    found += [np.linspace(t0, t1, _RAMP_KNOTS + 1), [t0 + AT_ONCE]]
        if self.schedule.cold > 0.0 and self.lit < inf:
            share = np.linspace(1.0, 0.0, _WARMING_KNOTS, endpoint=False)
            found.append(self.lit - self.schedule.warming.m_as("s") * np.log(share))
        for gust in self.schedule.gusts:
            found.append(gust.at.m_as("s") + gust.lasts.m_as("s") * np.linspace(0.0, 1.0, _GUST_KNOTS))
        times = np.unique(np.round(np.concatenate(found), DIGITS))
        return times[(times >= since) & (times <= self.end)]


_RAMP_KNOTS, _WARMING_KNOTS, _GUST_KNOTS = 8, 16, 21
DIGITS = 6  # of a time in s: knots and corners that are the same must be so to the last bit


@door(plain={"sudden": "s"}, above={"sudden": 0.0})
def firing_path(plant: Plant, schedule: Schedule, sudden: float = AT_ONCE) -> FiringPath:
    """A schedule as plain numbers; no turn takes less than ``sudden`` [s]. Refuses what the plant cannot do."""
    names = [a.name for a in plant.appliances]
    if len(schedule.start) != len(names):
        raise ValueError(f"schedule: start names {len(schedule.start)} states for {len(names)} appliances")
    strangers = sorted({t.appliance for t in schedule.turns} - set(names))
    if strangers:
        raise ValueError(f"schedule: no appliance {', '.join(map(repr, strangers))}; there are {', '.join(names)}")
    end = seconds(schedule.duration, "schedule: duration", STEP)
    corners, lit = [], inf
    for a, state in zip(plant.appliances, schedule.start, strict=True):
        turns = sorted((t for t in schedule.turns if t.appliance == a.name), key=lambda t: t.at.m_as("s"))
        times, codes = _corners(a, state_code(a, state), turns, sudden)
        corners.append((times, codes))
        firing = codes > (1.0 if a.purge_flow is not None else 0.0)
        if firing.any():
            lit = min(lit, 0.0 if firing[0] else times[firing.argmax() - 1])
    return FiringPath(schedule, end, tuple(corners), lit)


def state_code(appliance, state: str) -> float:
    """The code of an appliance's state; ValueError names those that it has."""
    if state not in appliance.states:
        raise ValueError(f"schedule: {appliance.name} has no state {state!r}; it has {', '.join(appliance.states)}")
    return float(appliance.states.index(state))


def _corners(appliance, code: float, turns: list[Turn], sudden: float) -> tuple[np.ndarray, np.ndarray]:
    """Corners of one appliance's path; a turn that begins before the last has ended takes over from where it is."""
    times, codes = [0.0], [code]
    for turn in turns:
        what = f"turn of {turn.appliance} to {turn.to}"
        at, within = seconds(turn.at, f"{what}: at"), max(seconds(turn.within, f"{what}: within"), AT_ONCE)
        wanted, here = state_code(appliance, turn.to), float(np.interp(at, times, codes))
        if abs(wanted - here) > 1.0 + 1e-9 and within > AT_ONCE:
            way = ", ".join(appliance.states)
            raise ValueError(
                f"{what} passes other states ({way}): give them as turns of their own, or let it go at once"
            )
        kept = [(t, c) for t, c in zip(times, codes, strict=True) if t < at]
        within = max(within, sudden)
        times, codes = [t for t, _ in kept] + [at, at + within], [c for _, c in kept] + [here, wanted]
    return np.round(times, DIGITS), np.array(codes)
