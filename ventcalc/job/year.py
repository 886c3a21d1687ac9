"""Year: what one design does in every hour of a year of weather, with its own devices: the vent solved, and counted.

Nothing is judged here: `year_findings` says which failure comes when. A typical year is no design year; what the
coldest and the windiest day of many years bring is asked of those days (`hard_days`).

A part of an hour counts as bad where it is so in the worse of two winds, and where the vent may stand in one of two
states by what was before (hoods, regulators), in the worse of both; energy, water and heat are the mean of both winds.
Left out: purges, load changes within an hour, the exhaust fans of the room where they are not in its seasons, and heat
that a wall gives back to room air while it stands idle.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np

from ventcalc.building import climate, visible_plume
from ventcalc.building.weather import HOURS_A_DAY, Weather, coldest_day, windiest_day
from ventcalc.draft import held_pressure, light_off
from ventcalc.draft.held_pressure import Held
from ventcalc.job import remedy_outcome, staging, year_hours
from ventcalc.job.design import Design
from ventcalc.job.device_duty import MOTOR_EFFICIENCY, fan_work
from ventcalc.job.year_hours import RESTING, RUNNING, STARTING, Hours, YearPlan
from ventcalc.units import GAS_CONSTANT
from ventcalc.vent import coming_to_rest, outlet_envelope, reversal, roots
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import Itself, compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import Solution, joined

SECONDS = 3600.0  # of an hour
AIR_HEAT = 1006.0  # J/(kg K), of dry air at room temperature (ASHRAE Handbook Fundamentals, ch. 1, from memory)


@dataclass(frozen=True, eq=False)
class Year:
    """What a design does in every one of its ``hours``; plain SI arrays.

    Parts of an hour, 0 to 1, in which (appliances, hours) an outlet that runs is ``below`` or ``above`` its window, and
    flue gas comes ``into_room``, of which ``either`` where it does so only if the vent stood idle and cold before it
    was lit, and drafts if it was hot; (sections, hours) the wall is ``wet`` under flue gas, or takes ``ice``; (hours)
    ``icy_end``: a termination's wall is wet below freezing, ``plume``: mist is seen over one, ``unsettled``: the vent
    or its controls came to no rest. ``bad_starts`` of the hour's starts are those with an outlet outside its window.
    ``beyond`` [Pa] (appliances, hours) is how far an outlet leaves its window at most, starts included, positive above
    and negative below. ``flue_gas`` [kg/s] is the most that enters the room. ``condensate`` [kg] (sections, hours)
    drains; ``fan_energy`` [J] at the meter, ``idle_heat`` [J] that outdoor air must be warmed with for what idle
    appliances let out of the room (hours).
    """

    design: Design
    hours: Hours
    below: np.ndarray
    above: np.ndarray
    into_room: np.ndarray
    either: np.ndarray
    wet: np.ndarray
    ice: np.ndarray
    icy_end: np.ndarray
    plume: np.ndarray
    unsettled: np.ndarray
    bad_starts: np.ndarray
    beyond: np.ndarray
    flue_gas: np.ndarray
    condensate: np.ndarray
    fan_energy: np.ndarray
    idle_heat: np.ndarray

    @property
    def outside(self) -> np.ndarray:
        """Part of every hour in which some outlet that runs is outside its window."""
        return np.minimum((self.below + self.above).max(axis=0), 1.0)

    @property
    def heat_input(self) -> np.ndarray:
        """Heat input [W] of the burners in every hour, on average."""
        firing, plant = self.hours.firing, self.hours.plant
        parts = zip(plant.appliances, firing.codes, firing.rest, strict=True)
        inputs = (
            firing.share * staging.input_of(a, on) + (1.0 - firing.share) * staging.input_of(a, off)
            for a, on, off in parts
        )
        return sum(inputs)


def year(design: Design, weather: Weather | None = None, plan: YearPlan | None = None) -> Year:
    """Solve a design in every hour of a weather; without one in the typical year of its job's climate."""
    plan = plan or design.job.year
    weather = climate.typical_year(plan.climate) if weather is None else weather
    hours = year_hours.hours(design.built.plant, design.job.seasons, plan, weather)
    scan, held = _solved(design, hours)
    return _counted(design, hours, scan, held)


def years(designs: Sequence[Design], weather: Weather | None = None) -> tuple[Year, ...]:
    """The same year on several designs, such as the vent as drawn and each remedy."""
    return tuple(year(design, weather) for design in designs)


@dataclass(frozen=True, eq=False)
class HardDay:
    """The coldest or the windiest day of many years: ``kind``, and the ``year`` of its hours, the day alone."""

    kind: str
    year: Year


def hard_days(design: Design, of: Sequence[Weather] | None = None) -> tuple[HardDay, ...]:
    """What a design does on the coldest and on the windiest day of many years; left out: of the invented years.

    By the mean of a day. The day before is solved with it, so that walls have their past, and left out of the answer.
    """
    plan = design.job.year
    of = [climate.year(plan.climate, n) for n in range(climate.YEARS)] if of is None else of
    found = []
    for kind, pick, size, sign in (
        ("coldest", coldest_day, "temperature", -1.0),
        ("windiest", windiest_day, "wind", 1.0),
    ):
        means = [sign * w.by_day(getattr(w, size)).mean(axis=1)[pick(w)] for w in of]
        one = of[int(np.argmax(means))]
        day = pick(one)
        begin = max(day - 1, 0) * HOURS_A_DAY
        both = year(design, one[begin : (day + 1) * HOURS_A_DAY])
        found.append(HardDay(kind, _last_day(both)))
    return tuple(found)


def _last_day(whole: Year) -> Year:
    """The last 24 hours of a year's hours."""
    own = slice(-HOURS_A_DAY, None)
    hours = whole.hours
    firing, coldness = (
        replace(part, **{name: values[..., own] for name, values in vars(part).items()})
        for part in (hours.firing, hours.coldness)
    )
    arrays = ("load", "at", "share", "starts")
    cut = replace(
        hours, weather=hours.weather[own], firing=firing, coldness=coldness,
        **{name: getattr(hours, name)[..., own] for name in arrays},
    )  # fmt: skip
    return replace(whole, hours=cut, **{name: getattr(whole, name)[..., own] for name in _COUNTED})


_COUNTED = tuple(f.name for f in fields(Year) if f.name not in ("design", "hours"))


def _solved(design: Design, hours: Hours) -> tuple[Scan, Held | None]:
    """All states of the hours solved with the design's devices; of a vent with hoods, from hot and lit from idle.

    Where every burner forces its flow there is one state of rest, wherever the search begins.
    """
    plant, seasons, states = hours.plant, hours.seasons, hours.states
    controls, hoods = design.remedy.controls, not remedy_outcome.forced(plant)
    network = compile_network(plant, seasons)
    if controls:
        near = _near(design, hours)
        held = held_pressure.hold_network(network, states, controls, None, near.drawn, near.outlets)
        held = held_pressure.worse_from_idle(plant, seasons, states, held) if hoods else held
        return Scan(plant, seasons, held.solution, len(states), True), held
    hot = _without_devices(Itself(hours))
    if not hoods:
        return Scan(plant, seasons, hot, len(states), True), None
    stood = roots.idle(network, states)
    lit = coming_to_rest.follow(network, states, roots.lit_from_idle(network, states, stood))
    both = joined([hot, lit])
    history = np.repeat([roots.HOT, roots.IDLE], len(states))
    return Scan(plant, seasons, both, len(states), True, np.tile(np.arange(len(states)), 2), history), None


def _near(design: Design, hours: Hours) -> Solution:
    """Where the search for what devices add begins: their vent without them, from hot.

    Where every burner forces its flow there is one root, and the vent as drawn is as good, if only its end is another.
    """
    if remedy_outcome.forced(hours.plant) and hours.plant.sections == design.job.plant.sections:
        as_drawn = year_hours.hours(design.job.plant, design.job.seasons, hours.plan, hours.weather)
        if np.array_equal(as_drawn.states.codes, hours.states.codes):
            return _without_devices(Itself(as_drawn))
    return _without_devices(Itself(hours))


@lru_cache(maxsize=1)  # the search for what devices add begins there, for each design on the same vent
def _without_devices(hours: Itself) -> Solution:
    """The vent of some hours from hot, with nothing that moves."""
    own: Hours = hours.it
    return solve_network(compile_network(own.plant, own.seasons), own.states)


class _Count:
    """Values of a scan's columns gathered for the hours."""

    def __init__(self, hours: Hours, scan: Scan):
        self.hours, self.total = hours, len(hours.states)
        self.pasts = len(scan.states) // self.total

    def worst(self, values: np.ndarray) -> np.ndarray:
        """The largest value of each part of every hour, over winds and pasts (..., kinds, hours)."""
        pasts = values.reshape(*values.shape[:-1], self.pasts, self.total).max(axis=-2)
        return pasts[..., self.hours.at].max(axis=-2)

    def part(self, flags: np.ndarray) -> np.ndarray:
        """Part of every hour in which something is so (..., hours)."""
        return (self.worst(flags) * self.hours.share).sum(axis=-2)

    def by_past(self, flags: np.ndarray) -> np.ndarray:
        """Part of every hour in which something is so by what was before alone: in the worse wind, after one past and
        not after another (..., hours)."""
        pasts = flags.reshape(*flags.shape[:-1], self.pasts, self.total)
        some, all_ = (way(axis=-2)[..., self.hours.at].any(axis=-2) for way in (pasts.any, pasts.all))
        return ((some & ~all_) * self.hours.share).sum(axis=-2)

    def mean(self, values: np.ndarray) -> np.ndarray:
        """Mean over every hour, over both winds and all pasts (..., hours)."""
        pasts = values.reshape(*values.shape[:-1], self.pasts, self.total).mean(axis=-2)
        return (pasts[..., self.hours.at].mean(axis=-2) * self.hours.share).sum(axis=-2)


def _counted(design: Design, hours: Hours, scan: Scan, held: Held | None) -> Year:
    """What was solved, counted by the hour."""
    solution, count = scan.solution, _Count(hours, scan)
    below, above = outlet_envelope.sides(scan)
    into_room = reversal.flue_gas_in_room(scan)[0]
    settled = solution.converged if held is None else held.settled
    firing = scan.any_firing & (np.abs(solution.flow) > REVERSAL_FLOW)
    wet = firing & solution.wet
    outside = count.worst((below | above).any(axis=0))[STARTING]
    return Year(
        design=design,
        hours=hours,
        below=count.part(below),
        above=count.part(above),
        into_room=count.part(into_room > REVERSAL_FLOW),
        either=count.by_past(into_room > REVERSAL_FLOW),
        wet=count.part(wet),
        ice=count.part(firing & solution.icy),
        icy_end=count.part(_icy_end(scan, wet)),
        plume=_plume(hours, scan, count),
        unsettled=count.part(~settled),
        bad_starts=hours.starts * outside,
        beyond=_beyond(scan, count),
        flue_gas=count.worst(into_room.sum(axis=0)).max(axis=0),
        condensate=count.mean(solution.drained) * SECONDS,
        fan_energy=count.mean(_fan_power(design, scan, held)) * SECONDS,
        idle_heat=count.mean(_idle_heat(scan)) * SECONDS,
    )


def _ends(scan: Scan) -> list[int]:
    """Rows of the sections that lead into the open."""
    names = {t.name for t in scan.plant.terminations}
    return [k for k, section in enumerate(scan.plant.order) if section.into in names]


def _icy_end(scan: Scan, wet: np.ndarray) -> np.ndarray:
    """Where a termination's wall is wet below freezing under gas that leaves by it."""
    solution = scan.solution
    return np.any([
        wet[k] & (solution.flow[k] > 0.0) & (solution.wall[k] < light_off.FREEZING) for k in _ends(scan)
    ], axis=0)  # fmt: skip


def _beyond(scan: Scan, count: _Count) -> np.ndarray:
    """How far [Pa] every outlet leaves its window at most in every hour, positive above and negative below."""
    found = np.zeros((2, *scan.solution.outlet_pressure.shape))
    for i, pressure in enumerate(scan.solution.outlet_pressure):
        low, high = outlet_envelope.limits(scan, i)
        found[:, i] = np.where(scan.running(i), [low - pressure, pressure - high], 0.0)
    under, over = count.worst(np.maximum(found, 0.0)).max(axis=-2)
    return np.where(over >= under, over, -under)


def _plume(hours: Hours, scan: Scan, count: _Count) -> np.ndarray:
    """Part of every hour in which mist is seen over a termination, in that hour's own outdoor air."""
    outdoor, vapor = hours.weather.temperature, hours.outdoor_vapor
    parts = np.zeros(hours.share.shape, bool)
    for row in _ends(scan):
        leaving, gas = _water_at_end(scan.solution, row), scan.solution.downstream[row]
        blows = scan.any_firing & (scan.solution.flow[row] > REVERSAL_FLOW)
        for past in range(count.pasts):
            at = hours.at[[RUNNING, RESTING]] + past * count.total
            over = visible_plume.over_saturation.bare(outdoor, gas[at], vapor, leaving[at], hours.barometric)
            parts[[RUNNING, RESTING]] |= ((over > 0.0) & blows[at]).any(axis=1)
    return (parts * hours.share).sum(axis=0)


def _water_at_end(solution: Solution, row: int) -> np.ndarray:
    """Mole fraction of all water in what leaves a section: vapor and mist, less what has drained in it.

    The molar mass of the gas follows from its density there.
    """
    flow = np.maximum(np.abs(solution.flow[row]), REVERSAL_FLOW)
    molar_mass = solution.density[row] * GAS_CONSTANT * solution.downstream[row] / solution.barometric
    gone = solution.drained[row] / flow * molar_mass / visible_plume.WATER
    return np.clip((solution.vapor[row] - gone) / np.maximum(1.0 - gone, 0.1), 0.0, 1.0)


def _fan_power(design: Design, scan: Scan, held: Held | None) -> np.ndarray:
    """Power [W] at the meter that the fan takes in every column; it stands still where nothing runs."""
    power = np.zeros(len(scan.states))
    if design.remedy.fan is not None and held is not None:
        work = fan_work(design.remedy, held)
        power[work.states] = work.power / MOTOR_EFFICIENCY
    return power


def _idle_heat(scan: Scan) -> np.ndarray:
    """Heat [W] that goes out with room air through appliances that are off, in every column.

    What leaves the room comes in from outdoors and must be warmed to the room's temperature; nothing where it is as
    warm outdoors.
    """
    network, season = compile_network(scan.plant, scan.seasons), scan.states.season
    found = np.zeros(season.size)
    for i, place in enumerate(network.rooms):
        warmed = np.maximum(network.place_temperature[place, season] - network.outdoor[season], 0.0)
        out = np.where(scan.states.codes[i] == 0.0, np.maximum(scan.solution.drawn[i], 0.0), 0.0)
        found += out * AIR_HEAT * warmed
    return found
