"""Light-off: every appliance on natural draft lit in every season, on a stack that stands as the records name.

Light-off in a vent that flows as it does at rest is that of `load_changes`, whose runs are handed in. From a stack full
of still air it is followed by `transient`; where the vent is one hood, its connector and one upright flue by
`cold_start.start_up` as well, for half an hour. The two differ where the vent may draw or turn over: `start_up` has the
connector warm at once and takes the larger flow, `transient` fills the connector first while the flue begins to fall,
and may not draw at all. Both are told, and the worse counts. Calm weather; a fan in the vent is not looked at. In SI.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import load_changes
from ventcalc.draft.load_changes import LEAST_SPILL, Change, Followed
from ventcalc.draft.oversized_flue import naturally_drafted
from ventcalc.draft.wall_lag import heavy
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.units import Q_
from ventcalc.vent import cold_start, pieces, single_vent, transient
from ventcalc.vent.cold_start import StartUp
from ventcalc.vent.course import course_of
from ventcalc.vent.layout import OUTDOORS, Plant
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import Transient

# How the vent stands at light-off: flowing steadily, up or down, with whatever ran before; or full of still air, walls
# and all as warm as what is around it, as the room, or colder than outdoors after a cold night.
STEADY, STILL, ROOM, NIGHT = STACKS = ("steady", "still", "room", "cold night")
HALF_HOUR = Q_(30.0, "minute")  # that `start_up` follows a start; `transient` does for `load_changes.AFTER`
COLD_NIGHT = Q_(25.0, "delta_degF")  # of masonry below the air of the morning after (common practice, no source)
FREEZING = 273.15  # K; a season below it is that of a cold night already
# Twice the usual step. Found on the school's hood and the lodge: at most 1.2 s later in drawing and 1 g more spilled
# than with the usual one, and the same starts fail.
METHOD = Method(step=0.1)


@dataclass(frozen=True)
class LightOff:
    """One start of one appliance in one season, from a ``stack`` that stands as one of `STACKS`.

    ``draws_after`` [s] from light-off: from then on no flue gas enters the room through any appliance, and the outlet
    of one without an open hood stands below the room's pressure; None: not within ``within`` [s]. ``spilled`` [kg] of
    flue gas since light-off, ``still`` [kg/s] of it at the end; ``condensed`` [kg] on the walls meanwhile. ``walls``
    [K]: air and walls outdoors at first. ``change``: index into the `Followed` handed in, None for other stacks.
    ``warm_connector``: by `cold_start.start_up`, which is kinder; else by `transient`.
    """

    appliance: str
    season: str
    stack: str
    walls: float
    draws_after: float | None
    spilled: float
    still: float
    condensed: float
    within: float
    change: int | None = None
    warm_connector: bool = False

    @property
    def fails(self) -> bool:
        """Whether it does not draw within the time it was followed."""
        return self.draws_after is None

    @property
    def spills(self) -> bool:
        """Whether more flue gas enters the room than a puff at light-off."""
        return self.spilled > LEAST_SPILL


def light_offs(plant: Plant, seasons: tuple[Season, ...], followed: Followed | None = None) -> tuple[LightOff, ...]:
    """Every appliance on natural draft lit in every season, from every stack that the plant can stand with.

    ``followed`` as in `natural_draft`. A stack as warm as the room and one cold of the night are looked at where some
    of it stands outdoors; a cold night only where such a wall is `heavy` and the season not below freezing.
    """
    rows = naturally_drafted(plant)
    if not rows:
        return ()
    known = {i for i in rows if followed and _lit(followed.changes, i)}
    missing = tuple(i for i in rows if i not in known)
    found = [_of_change(followed, k, i, STEADY, k) for i in sorted(known) for k, _ in _lit(followed.changes, i)]
    if missing:
        changes = load_changes.usual(plant, seasons, only=missing)
        lit = tuple(c for c in changes if any(_lights(c, i) for i in missing))
        alone = load_changes.follow(plant, seasons, lit)
        found += [_of_change(alone, k, i, STEADY, None) for i in missing for k, _ in _lit(lit, i)]
    return (*found, *_still(plant, seasons, rows, followed))


def _lights(change: Change, i: int) -> bool:
    return change.start.before[i] == 0.0 < change.start.after[i]


def _lit(changes: Sequence[Change], i: int) -> list[tuple[int, Change]]:
    """The changes, with their places, in which appliance ``i`` is lit."""
    return [(k, c) for k, c in enumerate(changes) if _lights(c, i)]


def _stands(plant: Plant, season: Season) -> dict[str, float]:
    """Temperature [K] of air and outdoor walls of every still stack that is looked at in a season."""
    outside = [s for s in plant.order if s.place == OUTDOORS]
    outdoor = float(season.outdoor.m_as("K"))
    found = {STILL: outdoor}
    if outside:
        found[ROOM] = float(season.room.m_as("K"))
    if outdoor > FREEZING and any(heavy(s) for s in outside):
        found[NIGHT] = outdoor - float(COLD_NIGHT.m_as("delta_degC"))
    return found


def _still(plant: Plant, seasons, rows: tuple[int, ...], followed: Followed | None) -> tuple[LightOff, ...]:
    stands = [(k, stack, kelvin) for k, s in enumerate(seasons) for stack, kelvin in _stands(plant, s).items()]
    found = _side_by_side(plant, seasons, rows, stands, followed)
    flue = one_flue(plant)
    if flue is None:
        return found
    return (*found, *(_started(flue, seasons[k], stack, kelvin) for k, stack, kelvin in stands))


def one_flue(plant: Plant) -> Plant | None:
    """The vent as `cold_start.start_up` follows it: one hood, its connector, one upright flue, drawn in however many
    pieces; None where it is another."""
    if len(plant.appliances) != 1 or plant.appliances[0].kind != "draft hood":
        return None
    joined = single_vent.with_joined_rise(plant)
    upright = [s for s in joined.order if pieces.is_upright(s)]
    return joined if upright == [joined.order[-1]] else None


def _started(plant: Plant, season: Season, stack: str, kelvin: float) -> LightOff:
    """One hood on one flue, by `cold_start.start_up`."""
    start = None if stack == STILL else Q_(kelvin, "K")
    found: StartUp = cold_start.start_up(plant, season, HALF_HOUR, start=start)
    return LightOff(
        plant.appliances[0].name,
        season.name,
        stack,
        kelvin,
        found.draws_after,
        found.spilled,
        float(found.spill[-1]),
        float(found.condensed[-1]),
        float(found.time[-1]),
        warm_connector=True,
    )


def _side_by_side(plant: Plant, seasons, rows, stands, followed: Followed | None) -> tuple[LightOff, ...]:
    """Every appliance lit alone on every still stack, as runs of `transient` side by side.

    Air and outdoor walls of a stack are told to the network as its outdoor temperature, the air beside it by its
    density alone: walls near the stack's temperature for a minute, and air that falls down it is as cold as they are.
    """
    lit = _alone(plant, seasons, rows, followed)
    every = tuple(seasons[k] for k, _, _ in stands)
    network = replace(compile_network(plant, every), outdoor=np.array([kelvin for _, _, kelvin in stands]))
    changes = tuple(
        replace(c, start=replace(c.start, season=n))
        for n, (k, _, _) in enumerate(stands)
        for c in lit
        if c.start.season == k
    )
    starts = [c.start for c in changes]
    course = course_of(plant, starts, max(s.light_off for s in starts) + load_changes.AFTER)
    runs = transient.run_network(network, replace(course, start=None), method=METHOD)
    found = []
    for run, change in enumerate(changes):
        _, stack, kelvin = stands[change.start.season]
        found += [_of_run(runs, run, i, change.start, stack, kelvin) for i in rows if _lights(change, i)]
    return tuple(found)


def _alone(plant: Plant, seasons, rows, followed: Followed | None) -> tuple[Change, ...]:
    """The change of every appliance being lit with all others idle, with the purge that it has in ``followed``."""
    changes = dict.fromkeys((*(followed.changes if followed else ()), *load_changes.usual(plant, seasons, only=rows)))
    found: dict[tuple, Change] = {}
    for c in changes:
        lit = [i for i in rows if _lights(c, i)]
        if len(lit) == 1 and not any(c.start.before) and sum(code > 0.0 for code in c.start.after) == 1:
            found.setdefault((lit[0], c.start.season), c)
    return tuple(found.values())


def _of_change(followed: Followed, run: int, i: int, stack: str, change: int | None) -> LightOff:
    start = followed.changes[run].start
    outdoor = float(followed.runs.seasons[start.season].outdoor.m_as("K"))
    return _of_run(followed.runs, run, i, start, stack, outdoor, change)


def _of_run(runs: Transient, run: int, i: int, start, stack: str, walls: float, change: int | None = None) -> LightOff:
    """What a run in time says of the appliance ``i`` lit in it."""
    appliance, since = runs.plant.appliances[i], runs.time >= start.light_off - 1e-9
    time = runs.time[since] - start.light_off
    spilled = runs.spilled[:, since, run].sum(axis=0)
    rate = np.maximum(np.diff(runs.spilled[:, since, run], axis=1), 0.0).sum(axis=0) / np.diff(time)
    bad = np.concatenate([rate > REVERSAL_FLOW, rate[-1:] > REVERSAL_FLOW])
    if appliance.kind not in ENTRY_LOSS:
        # Under positive pressure a vent of category I leaks at its joints.
        bad |= runs.outlet_pressure[i, since, run] > 0.0
    last = np.flatnonzero(bad)
    after = 0.0 if last.size == 0 else None if bad[-1] else float(time[last[-1] + 1])
    settled = runs.mass_settled[since, run]
    return LightOff(
        appliance.name,
        runs.seasons[start.season].name,
        stack,
        walls,
        after,
        float(max(spilled[-1] - spilled[0], 0.0)),
        float(rate[-1]),
        float(max(settled[-1] - settled[0], 0.0)),
        float(time[-1]),
        change,
    )
