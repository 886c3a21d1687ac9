"""Load changes: what starts, turn-downs and stops bring at every outlet before the vent has come to rest.

A hot and a cold stack at rest bound neither. At light-off the vent is full of cool air, or of air that runs down it,
and for seconds the outlet has less draft than in any steady state; low fire just after full fire has the draft of a hot
stack and little gas to use it up. `usual` lists the changes that a plant goes through, `follow` runs them side by side
in time (`transient`), and `passages` says what each outlet met.

Calm weather; the room's pressure is that of the season. Between changes a real plant may stand anywhere: these begin
at rest, from idle and from full fire, and others may be worse.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft.start_settings import usual_setting
from ventcalc.vent import transient, worst_state
from ventcalc.vent.course import Start
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.transient import Transient
from ventcalc.words import say

AFTER = 60.0  # s that a change is followed after light-off: two to ten times what gas takes through a vent
# Usual times of a burner, as in data/draft/start_sequence.csv (common practice): its purge where nothing longer is
# asked for, its blower's run-up, from valve to steady flame. One that is turned down or off follows as fast as its
# blower.
PURGE, BLOWER, LIGHT = (float(usual_setting(n).m_as("s")) for n in ("least_purge", "blower", "main_light"))
LONGEST_PURGE = 30.0  # s; a longer purge finds the vent as this one left it
MOST = 240  # changes followed side by side
LEAST_SPILL = 1e-3  # kg in one change; less is a puff that no test for spillage would show (common practice, no source)


@dataclass(frozen=True)
class Change:
    """One load change: its ``kind``, the ``appliance`` that it is named after ("" for all), the `Start` that it is."""

    kind: str
    appliance: str
    start: Start

    @property
    def name(self) -> str:
        """What it is called, without its season."""
        return say("draft", "load_changes", self.kind, name=self.appliance)


def usual(
    plant: Plant,
    seasons: tuple[Season, ...],
    purges: Mapping[str, float] | None = None,
    only: tuple[int, ...] | None = None,
) -> tuple[Change, ...]:
    """The load changes of a plant, in every season.

    For each appliance (``only`` these rows, where given): lit at its lowest level, alone after all stood idle on cold
    walls, and while all others are at their highest; turned up, and turned down from highest to lowest alone and with
    all others going off. For the plant: all lit together from idle, all turned down from highest to lowest. ``purges``
    [s] by appliance, `PURGE` where it is not named; what cannot purge does not.
    """
    names = [a.name for a in plant.appliances]
    low, high = (tuple(float(_level(a, last)) for a in plant.appliances) for last in (False, True))
    off = (0.0,) * len(names)
    purges = {n: min((purges or {}).get(n, PURGE), LONGEST_PURGE) for n in names}
    found: dict[tuple, Change] = {}

    def add(kind, own, before, after, cold, lit=()):
        purge = max((purges[names[i]] for i in lit if "purge" in plant.appliances[i].states), default=0.0)
        for season in range(len(seasons)):
            start = Start(before, after, purge, BLOWER, LIGHT if lit else BLOWER, season, cold=cold)
            if before != after:
                found.setdefault((before, after, season), Change(kind, own, start))

    for i in range(len(names)) if only is None else only:
        own = names[i]
        add("lit_alone", own, off, _with(off, i, low[i]), 1.0, [i])
        if len(names) > 1:
            add("lit_beside", own, _with(high, i, 0.0), _with(high, i, low[i]), 0.0, [i])
            add("left_alone", own, high, _with(off, i, low[i]), 0.0)
        add("turned_up", own, _with(off, i, low[i]), _with(off, i, high[i]), 0.0)
        add("turned_down", own, _with(off, i, high[i]), _with(off, i, low[i]), 0.0)
    add("all_lit", "", off, low, 1.0, range(len(names)))
    add("all_turned_down", "", high, low, 0.0)
    return tuple(found.values())


def as_many_as_fit(plant: Plant, seasons: tuple[Season, ...], margins: tuple[float, ...]) -> tuple[int, ...]:
    """Rows of the appliances whose changes are followed: all, or of a large plant those of least ``margins`` [Pa]."""
    fits = max((MOST // len(seasons) - 2) // 5, 1)
    return tuple(sorted(np.argsort(margins, kind="stable")[:fits].tolist()))


def _level(appliance, last: bool) -> int:
    """Code of the highest or the lowest firing level."""
    return len(appliance.states) - (1 if last else len(appliance.levels))


def _with(codes: tuple[float, ...], i: int, code: float) -> tuple[float, ...]:
    return (*codes[:i], code, *codes[i + 1 :])


@dataclass(frozen=True)
class Followed:
    """Load changes in time: ``changes`` and their ``runs`` (one a change, in their order).

    ``codes`` (appliances, times, runs): what every appliance does.
    """

    changes: tuple[Change, ...]
    runs: Transient
    codes: np.ndarray

    def counts(self, appliance: int) -> np.ndarray:
        """Where an outlet's window counts (times, runs): while it runs, and not while its blower runs down to off."""
        stays = np.array([c.start.after[appliance] > 0.0 for c in self.changes])
        return (self.codes[appliance] > 0.0) & stays

    def purging(self, appliance: int) -> np.ndarray:
        """Where its blower runs and its burner does not fire (times, runs)."""
        code = self.codes[appliance]
        purges = self.runs.plant.appliances[appliance].purge_flow is not None
        return (code > 0.0) & (code <= 1.0) & purges

    def describe(self, change: int) -> str:
        """A change in words, with its season."""
        found = self.changes[change]
        return f"{found.name}; {self.runs.seasons[found.start.season].name}"


def follow(plant: Plant, seasons: tuple[Season, ...], changes: tuple[Change, ...]) -> Followed:
    """Follow the changes side by side until `AFTER` the last light-off."""
    duration = max(c.start.light_off for c in changes) + AFTER
    runs = transient.starts(plant, seasons, [c.start for c in changes], duration)
    codes = runs.course.states(runs.time).codes.reshape(len(plant.appliances), runs.time.size, -1)
    return Followed(changes, runs, codes)


@dataclass(frozen=True)
class Passage:
    """What one outlet met over all changes, while its appliance ran; pressures [Pa] gauge against the room, times [s].

    ``low`` and ``high`` with the change and the time from its call at which they were met (``low_change``, ``low_at``,
    ...); ``below`` and ``above``: the longest that one change has it on that side of its window. ``spilled`` [kg] of
    flue gas came into the room through it at most in one change, ``spill_change``, for ``spilling`` s, and ``still``
    [kg/s] at the end of the worst. Indices are into `Followed.changes`.

    ``limits``, ``low_purging``, ``high_purging`` and ``purge`` are as in `outlet_envelope.Envelope`: where an appliance
    has limits of its own for its purge, ``purge`` is the passage in it, and this one is that of its fire; gas into the
    room is counted once, in the latter.
    """

    appliance: str
    window: tuple[float, float]
    low: float
    low_at: float
    low_change: int
    high: float
    high_at: float
    high_change: int
    below: float
    above: float
    spilled: float
    spilling: float
    still: float
    spill_change: int
    low_purging: bool = False
    high_purging: bool = False
    limits: str = "firing"
    purge: "Passage | None" = None


def passages(followed: Followed) -> tuple[Passage, ...]:
    """What every outlet met, in the plant's order."""
    return tuple(_passage(followed, i) for i in range(len(followed.codes)))


def _passage(followed: Followed, i: int) -> Passage:
    runs, time = followed.runs, followed.runs.time
    appliance, step = runs.plant.appliances[i], float(time[1] - time[0])
    counts, purging = followed.counts(i), followed.purging(i)
    if appliance.purge_pressure is None or not (counts & purging).any():
        found = _met(followed, i, counts, appliance.window, "firing")
    else:
        purge = _met(followed, i, counts & purging, appliance.purge_pressure, "purge")
        found = replace(_met(followed, i, counts & ~purging, appliance.window, "firing"), purge=purge)
    spill = runs.spilled[i]
    worst = worst_state.worst(spill[-1])
    rate = np.diff(spill, axis=0) / step
    rate = np.where((rate > REVERSAL_FLOW) & (spill[-1] > LEAST_SPILL), rate, 0.0)
    return replace(
        found,
        spilled=float(spill[-1, worst]) if rate[:, worst].any() else 0.0,
        spilling=float((rate[:, worst] > 0.0).sum() * step),
        still=float(rate[-1].max()),
        spill_change=worst,
    )


def _met(followed: Followed, i: int, during: np.ndarray, window, limits: str) -> Passage:
    """What the outlet's pressure came to while ``during`` (times, runs) holds, and nothing of gas into the room."""
    runs, time = followed.runs, followed.runs.time
    step, (least, most) = float(time[1] - time[0]), (float(w.m_as("Pa")) for w in window)
    pressure = np.where(during, runs.outlet_pressure[i], np.nan)
    same = worst_state.SAME_PRESSURE
    low, high = (
        np.unravel_index(worst_state.worst(sign * pressure.ravel(), same), pressure.shape) for sign in (-1.0, 1.0)
    )
    purging = followed.purging(i)
    return Passage(
        appliance=runs.plant.appliances[i].name,
        window=(least, most),
        low=float(pressure[low]),
        low_at=float(time[low[0]]),
        low_change=int(low[1]),
        high=float(pressure[high]),
        high_at=float(time[high[0]]),
        high_change=int(high[1]),
        below=float((pressure < least).sum(axis=0).max() * step),
        above=float((pressure > most).sum(axis=0).max() * step),
        spilled=0.0,
        spilling=0.0,
        still=0.0,
        spill_change=0,
        low_purging=bool(purging[low]),
        high_purging=bool(purging[high]),
        limits=limits,
    )
