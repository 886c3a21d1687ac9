"""Natural draft: does the flue fit the appliance by the area rule, does it draw when it is lit, and how wet it stays.

What a draft hood or an appliance of category I asks of its vent where no fan helps, as records without words:

- `AreaRule`: every upright section against the code's cap on its area (`area_rule`);
- `LightOff`: every such appliance lit in every season, on a stack that stands as the records name;
- `Wetting` and `Icing`: water that runs down each section and freezes on it, in the states of a scan;
- `Liner`: for a flue of heavy masonry that fails, the smallest liner that keeps the rule, carries the input and is dry.

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
from ventcalc.draft.load_changes import LEAST_SPILL, SPILL_FLOW, Change, Followed
from ventcalc.flow import heat_loss, materials, wall_rings
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.tables import row
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.vent import (
    area_rule,
    cold_start,
    nominal_sizes,
    section_extremes,
    single_vent,
    transient,
    vent_at_work,
    vent_sizing,
)
from ventcalc.vent.cold_start import StartUp
from ventcalc.vent.course import course_of
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import OUTDOORS, Plant, Section
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import Transient

# How the vent stands at light-off: flowing steadily, up or down, with whatever ran before; or full of still air, walls
# and all as warm as what is around it, as the room, or colder than outdoors after a cold night.
STEADY, STILL, ROOM, NIGHT = STACKS = ("steady", "still", "room", "cold night")

HALF_HOUR = Q_(30.0, "minute")  # that `start_up` follows a start; `transient` does for `load_changes.AFTER`
COLD_NIGHT = Q_(25.0, "delta_degF")  # of masonry below the air of the morning after (common practice, no source)
HEAVY = Q_(1.0, "hour")  # a wall that lags the weather by more stays cold into the morning, and wet under a burner
FREEZING = 273.15  # K; a season below it is that of a cold night already
DAY = 86_400.0  # s
WATER = 1000.0  # kg/m3
LINERS = ("Type B gas vent", "insulated chimney")  # what a flue of category I is lined with
# Twice the usual step. Found on the school's hood and the lodge: at most 1.2 s later in drawing and 1 g more spilled
# than with the usual one, and the same starts fail.
METHOD = Method(step=0.1)


@dataclass(frozen=True)
class AreaRule:
    """One upright ``section`` against the cap on its area, ``times`` that of the smallest outlet on it.

    Areas [m2]; ``rule`` is the row of ``data/vent/capacity_rules.csv``, with its ``source`` and ``status``.
    """

    section: str
    appliance: str
    flue_area: float
    outlet_area: float
    times: float
    rule: str
    source: str
    status: str

    @property
    def ratio(self) -> float:
        """Flue area over outlet area."""
        return self.flue_area / self.outlet_area

    @property
    def keeps(self) -> bool:
        """Whether the flue is no larger than the rule allows."""
        return area_rule.allows(Q_(self.flue_area, "m**2"), Q_(self.outlet_area, "m**2"), self.rule)


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


@dataclass(frozen=True)
class Wetting:
    """Water that runs down one section, at its worst over all states; by film and wall (`condensing_run`).

    ``hot`` [kg/s] with the walls at rest, ``cold`` with all walls as cold as what is around them, and the scan's
    columns in which they are met. ``starting``: mean of the first half hour of a cold flue behind a connector that is
    warm already, where `cold_start.start_up` followed it; else 0. ``heavy``: the wall stays nearer to cold than to hot
    through a usual firing. ``made_for_it``: whether its material bears condensate.
    """

    section: str
    hot: float
    hot_state: int
    cold: float
    cold_state: int
    starting: float
    heavy: bool
    made_for_it: bool

    @property
    def lasting(self) -> float:
        """The rate [kg/s] that may go on: of a heavy wall the largest, of a light one that of its hot wall."""
        return max(self.hot, self.cold, self.starting) if self.heavy else self.hot

    @property
    def a_day(self) -> float:
        """Water [m3] of a day in which the burner runs, at most: a heavy wall takes less once it has warmed."""
        return self.lasting * DAY / WATER


@dataclass(frozen=True)
class Icing:
    """Ice on one section: ``rate`` [kg/s] at most, on a ``wall`` [K], in the scan's column ``state``.

    ``hot``: with the walls at rest; else only while a heavy wall is still cold. ``terminal``: the termination at which
    the wall is below freezing and wet in some such state, None where it is at none.
    """

    section: str
    rate: float
    wall: float
    state: int
    hot: bool
    terminal: str | None


@dataclass(frozen=True)
class Liner:
    """A flue ``section`` lined with a ``material`` of a ``diameter`` [m]; each figure that of the season worst for it.

    ``ratio`` of areas against ``times`` allowed, ``capacity`` [W] as the liner is and ``needed`` where it may be
    corrugated (`capacity_rules`), ``clearance`` [K] of the coldest wall above the dew point, hot, and the water that
    ``drained`` [kg/s] runs down.
    """

    section: str
    material: str
    diameter: float
    ratio: float
    times: float
    capacity: float
    needed: float
    clearance: float
    drained: float

    @property
    def dry(self) -> bool:
        """Whether the whole wall stays above the dew point in every season."""
        return self.clearance >= 0.0

    @property
    def fits(self) -> bool:
        """Whether it keeps the rule, carries the input and is dry."""
        return self.ratio <= self.times * (1.0 + 1e-9) and self.capacity >= self.needed and self.dry


@dataclass(frozen=True)
class NaturalDraft:
    """All records of one plant; empty where nothing of it is served by natural draft, or nothing is wet."""

    areas: tuple[AreaRule, ...] = ()
    starts: tuple[LightOff, ...] = ()
    wettings: tuple[Wetting, ...] = ()
    icings: tuple[Icing, ...] = ()
    liners: tuple[Liner, ...] = ()

    @property
    def oversized(self) -> tuple[AreaRule, ...]:
        """Sections larger than the rule allows."""
        return tuple(a for a in self.areas if not a.keeps)

    def worst_starts(self) -> tuple[LightOff, ...]:
        """For every appliance and stack the start that spills longest, and of these most."""
        found: dict[tuple[str, str], LightOff] = {}
        for start in self.starts:
            key = start.appliance, start.stack
            if key not in found or _gravity(start) > _gravity(found[key]):
                found[key] = start
        return tuple(found.values())


def _gravity(start: LightOff) -> tuple[float, float]:
    return (np.inf if start.draws_after is None else start.draws_after), start.spilled


def natural_draft(scan: Scan, followed: Followed | None = None) -> NaturalDraft:
    """The records of a scanned plant, as drawn and without a fan.

    ``followed``: its load changes where they are solved already; starts that it does not hold are followed here.
    """
    areas, starts = areas_of(scan.plant), light_offs(scan.plant, scan.seasons, followed)
    wettings = wettings_of(scan, starts)
    wet = {w.section for w in wettings if w.lasting > 0.0}
    failing = {a.section for a in areas if not a.keeps} | wet
    liners = liners_of(scan.plant, scan.seasons, failing, any(s.fails for s in starts))
    return NaturalDraft(areas, starts, wettings, icings_of(scan), liners)


def naturally_drafted(plant: Plant) -> tuple[int, ...]:
    """Rows of the appliances that need draft: with a hood or a regulator, or of category I."""
    return tuple(i for i, a in enumerate(plant.appliances) if a.kind in ENTRY_LOSS or a.category == "I")


def lag(section: Section) -> float:
    """Time [s] in which a wall follows the weather: heat that its rings hold over what its outside film gives."""
    rings = wall_rings.rings(float(section.diameter.m_as("m")), materials.layers(section.material.name))
    return float(rings.capacity.sum() / (np.pi * rings.outer_diameter * heat_loss.OUTDOOR_FILM))


def heavy(section: Section) -> bool:
    """Whether a wall lags the weather, and its burner, by `HEAVY` or more: masonry."""
    return lag(section) >= HEAVY.m_as("s")


# --- The area rule --------------------------------------------------------------------------------------------


def areas_of(plant: Plant) -> tuple[AreaRule, ...]:
    """Every upright section that serves an appliance on natural draft, against the smallest outlet on it."""
    names = {plant.appliances[i].name for i in naturally_drafted(plant)}
    return tuple(
        _area(plant, section)
        for section in plant.order
        if single_vent.is_upright(section) and names & {a.name for a in plant.serves(section.name)}
    )


def _area(plant: Plant, section: Section) -> AreaRule:
    served = plant.serves(section.name)
    smallest = min(served, key=lambda a: a.outlet_diameter.m_as("m"))
    rule = "area" if len(served) > 1 else "area one appliance"
    told = row("capacity_rules", rule, "name")
    flue, outlet = (float(area_rule.round_area(s).m_as("m**2")) for s in (section.diameter, smallest.outlet_diameter))
    return AreaRule(
        section.name, smallest.name, flue, outlet, area_rule.times(rule), rule, told["source"], told["status"]
    )


# --- Light-off ------------------------------------------------------------------------------------------------


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
    if not _of_one_flue(plant):
        return found
    return (*found, *(_started(plant, seasons[k], stack, kelvin) for k, stack, kelvin in stands))


def _of_one_flue(plant: Plant) -> bool:
    """Whether the vent is one that `cold_start.start_up` follows: one hood, its connector, one upright flue."""
    upright = [s for s in plant.order if single_vent.is_upright(s)]
    hood = len(plant.appliances) == 1 and plant.appliances[0].kind == "draft hood"
    return hood and upright == [plant.order[-1]]


def _started(plant: Plant, season: Season, stack: str, kelvin: float) -> LightOff:
    """One hood on one flue, by chapter and verse of `area_rule`."""
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
        Change(c.name, replace(c.start, season=n))
        for n, (k, _, _) in enumerate(stands)
        for c in lit
        if c.start.season == k
    )
    starts = [c.start for c in changes]
    course = course_of(plant, starts, max(s.light_off for s in starts) + load_changes.AFTER)
    runs = transient.run_network(network, replace(course, start=None), method=METHOD)
    return tuple(
        _of_run(runs, run, i, s, stands[s.season][1], stands[s.season][2])
        for run, s in enumerate(starts)
        for i in rows
        if s.before[i] == 0.0 < s.after[i]
    )


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
    bad = np.concatenate([rate > SPILL_FLOW, rate[-1:] > SPILL_FLOW])
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


# --- Water and ice --------------------------------------------------------------------------------------------


def wettings_of(scan: Scan, starts: Sequence[LightOff] = ()) -> tuple[Wetting, ...]:
    """Sections that water runs down with hot walls, or with cold ones that are slow to warm; whatever they serve.

    ``starts``: the `light_offs` of the plant; without them a flue counts by the states of the scan alone.
    """
    flue = single_vent.rise_section(scan.plant).name if _of_one_flue(scan.plant) else None
    first = max((s.condensed / s.within for s in starts if s.warm_connector), default=0.0)
    found = (_wetting(scan, k, first if s.name == flue else 0.0) for k, s in enumerate(scan.plant.order))
    return tuple(w for w in found if w.lasting > 0.0)


def _flowing(scan: Scan, k: int) -> np.ndarray:
    """States in which gas flows in a section while something runs."""
    return (np.abs(scan.solution.flow[k]) > REVERSAL_FLOW) & scan.any_running


def _wetting(scan: Scan, k: int, starting: float) -> Wetting:
    section, cold = scan.plant.order[k], scan.states.cold.astype(bool)
    hot, hot_state = _most(scan.solution.drained[k], _flowing(scan, k) & ~cold)
    cool, cold_state = _most(scan.solution.drained[k], _flowing(scan, k) & cold)
    lags, bears = heavy(section), section.material.condensate
    return Wetting(section.name, hot, hot_state, cool, cold_state, starting, lags, bears)


def _most(values: np.ndarray, states: np.ndarray) -> tuple[float, int]:
    """The largest of the values in some states, and where; 0 in the first where there is none."""
    among = np.where(states, values, 0.0)
    at = int(among.argmax())
    return float(max(among[at], 0.0)), at


def icings_of(scan: Scan) -> tuple[Icing, ...]:
    """Sections on which ice forms with hot walls, or with cold ones that are slow to warm."""
    found = (_icing(scan, k) for k in range(len(scan.plant.order)))
    return tuple(i for i in found if i is not None)


def _icing(scan: Scan, k: int) -> Icing | None:
    section, solution, cold = scan.plant.order[k], scan.solution, scan.states.cold.astype(bool)
    counted = _flowing(scan, k) & (~cold | heavy(section))
    rate, at = _most(solution.frozen[k], counted & ~cold)
    if rate == 0.0:
        rate, at = _most(solution.frozen[k], counted)
    ends = np.flatnonzero(_freezes_at_its_end(scan, k) & counted)
    if rate == 0.0 and ends.size == 0:
        return None
    if rate == 0.0:
        at = int(ends[solution.wall[k, ends].argmin()])
    terminal = section.into if ends.size else None
    return Icing(section.name, rate, float(solution.wall[k, at]), at, not bool(cold[at]), terminal)


def _freezes_at_its_end(scan: Scan, k: int) -> np.ndarray:
    """States in which flue gas leaves by a termination whose wall is below freezing and below the dew point."""
    solution, found = scan.solution, np.zeros(len(scan.states), bool)
    if scan.plant.order[k].into in {t.name for t in scan.plant.terminations}:
        frosty = np.flatnonzero(scan.any_firing & (solution.flow[k] > 0.0) & (solution.wall[k] < FREEZING))
        found[frosty] = section_extremes.dew_points(solution, k)[frosty] > solution.wall[k, frosty]
    return found


# --- The liner ------------------------------------------------------------------------------------------------


def liners_of(
    plant: Plant, seasons: tuple[Season, ...], failing: set[str], cold_start: bool = False
) -> tuple[Liner, ...]:
    """Liners for the heavy flue of one hood, what fits first; empty where it does not fail, or there is no such flue.

    ``failing``: names of sections too large or wet; ``cold_start``: whether some start fails. One liner for each of
    `LINERS`: the smallest size sold, no smaller than the outlet, that carries the input in every season. A larger one
    would be wetter, so that where it is not dry none of that material is.
    """
    if not _of_one_flue(plant):
        return ()
    flue = single_vent.rise_section(plant)
    if not heavy(flue) or not (cold_start or flue.name in failing):
        return ()
    found = [_smallest(plant, seasons, materials.material(name)) for name in LINERS]
    return tuple(sorted((x for x in found if x), key=lambda x: (not x.fits, x.diameter)))


def _smallest(plant: Plant, seasons, material: materials.Material) -> Liner | None:
    unit, sizes = nominal_sizes.SIZES["US"]
    least = plant.appliances[0].outlet_diameter.m_as(unit) * (1.0 - 1e-9)
    most = single_vent.rise_section(plant).diameter.m_as(unit)
    for size in (s for s in sizes if least <= s <= most):
        found = lined(plant, seasons, Q_(float(size), unit), material)
        if found is None or found.ratio > found.times:
            continue
        if found.capacity >= found.needed:
            return found
    return None


def lined(plant: Plant, seasons: tuple[Season, ...], diameter: Quantity, material: materials.Material) -> Liner | None:
    """The flue of one appliance with a liner of a ``diameter``; None where in some season no input makes it draw."""
    magnitude(diameter, ureg.Unit("m"), "diameter of the liner")
    changed = cold_start.with_flue(plant, diameter, material)
    try:
        capacity = min(float(vent_sizing.capacity(changed, s).m_as("W")) for s in seasons)
    except vent_sizing.NoAnswer:
        return None
    runs = [vent_at_work.operate(changed, s) for s in seasons]
    section = single_vent.rise_section(changed)
    rule = _area(changed, section)
    spared = 1.0 - float(row("capacity_rules", "corrugated", "name")["value"]) / 100.0
    k = changed.row(section.name)
    return Liner(
        section.name,
        material.name,
        float(diameter.m_as("m")),
        rule.ratio,
        rule.times,
        capacity,
        float(plant.appliances[0].levels[-1].heat_input.m_as("W")) / spared,
        min(float((r.wall - r.dew_point).m_as("delta_degC")) for r in runs),
        max(float(r.solution.drained[k, 0]) for r in runs),
    )
