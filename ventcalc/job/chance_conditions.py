"""Chance conditions: a design's conditions solved in many variants, and which of them decide.

Of all conditions few are ever the worst of something: of an outlet's margin, or of what pushes gas back through an
appliance. A scout solves every condition in some variants, drawn twice as wide as they are spread, so that what is the
worst of few variants is seen; the worst of each are kept. Then other variants, drawn as they are spread, prove it:
solved in every condition, is their worst among those that were kept? What was missed is named and added, and the proof
begun anew.

Of very many conditions the scout looks at those alone that lie nearest to an edge as the design was solved, some of
every weather; the proof then at a sample of all.
"""

import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft import held_pressure
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import margins
from ventcalc.job.input_draws import Draws
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.steps import Told, nobody, within
from ventcalc.vent import coming_to_rest, reversal
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States
from ventcalc.vent.varied_network import of_variants

TOGETHER = 8_192  # columns solved between two words of progress
MOST_THREADS = 2
SCOUTS, WIDE = 64, 2.0  # variants of the scout, and how much wider than they are spread
PROOFS, MOST_PROOFS = 32, 3  # variants of a proof, and how many there are at most
MOST_LOOKED = 2_000  # columns in which each variant of a scout or a proof is solved; of more there is a choice
NEAREST = 8  # columns of each weather that are nearest to an end of some range: what a scout looks at then
MOST_STEPS = 24  # of a control's search; what has not settled by then flutters between two states of the vent


@dataclass(frozen=True)
class Solved:
    """Variants in some columns of a scan.

    ``margin`` [Pa] of every outlet to its window (appliances, variants, columns), NaN while it is off; ``pushed`` how
    much speaks for flue gas to come back through every appliance (the same axes): of a forced burner the pressure [Pa]
    in its outlet, of a hood or a regulator the flow [kg/s], NaN where nothing can come or fires, no more than nought
    where it is air with which a neighbor purges; ``back``: where flue gas does. ``settled`` (variants, columns): where
    vent and controls came to rest.
    """

    margin: np.ndarray
    pushed: np.ndarray
    back: np.ndarray
    settled: np.ndarray

    @property
    def gaps(self) -> np.ndarray:
        """What is the worse the lower it is (ranges, variants, columns), inf where a column does not count."""
        both = np.concatenate([self.margin, -self.pushed])
        return np.where(np.isnan(both), np.inf, both)


def solve_draws(outcome: Outcome, draws: Draws, columns: np.ndarray, told: Told = nobody) -> Solved:
    """Every variant in the given columns of a design's scan, each begun from what was found of it.

    A vent with several roots so stays at the one that its past led to.
    """
    many = len(outcome.remedy.plant.appliances), len(draws), columns.size
    margin, pushed, back = np.empty(many), np.empty(many), np.empty(many, bool)
    settled = np.empty(many[1:], bool)
    off = actuator_steps(outcome)
    each = max(TOGETHER // columns.size, 1)
    parts = [np.arange(start, min(start + each, len(draws))) for start in range(0, len(draws), each)]
    told("variants", 0.0)
    with ThreadPoolExecutor(min(os.cpu_count() or 1, MOST_THREADS)) as threads:
        found = threads.map(lambda which: _some(outcome, draws, which, columns, off), parts)
        for which, part in zip(parts, found, strict=True):
            margin[:, which], pushed[:, which], back[:, which] = part.margin, part.pushed, part.back
            settled[which] = part.settled
            told("variants", (which[-1] + 1) / len(draws))
    return Solved(margin, pushed, back, settled)


def actuator_steps(outcome: Outcome) -> np.ndarray:
    """What one step of the actuator of every control's damper moves [Pa] (controls, columns of the scan)."""
    controls = () if outcome.held is None else outcome.held.controls
    found = [margins.steps(outcome.scan, outcome.held, k, outcome.actuator_step) for k in range(len(controls))]
    return np.array(found).reshape(len(controls), len(outcome.scan.states))


def _shift(outcome: Outcome, draws: Draws, variant: np.ndarray, step: np.ndarray) -> np.ndarray:
    """How far every outlet is moved [Pa] (appliances, columns) by where the damper stops that governs it.

    The vent is held where its sensor has it, and moved from there by a part of a ``step`` (controls, columns): a damper
    that stops short of its place stands still there, whatever a search for the set point would do.
    """
    names = [a.name for a in outcome.remedy.plant.appliances]
    governing = margins.governing(draws.controls)
    found = np.zeros((len(names), variant.size))
    for i, name in enumerate(names):
        k = governing.get(name, governing.get(HEADER))
        if k is not None:
            found[i] = draws.stops[k][variant] * step[k]
    return found


def _some(outcome: Outcome, draws: Draws, which: np.ndarray, columns: np.ndarray, step: np.ndarray) -> Solved:
    shift = _shift(outcome, draws, np.repeat(which, columns.size), np.tile(step[:, columns], which.size))
    condition, variant = np.tile(columns, which.size), np.repeat(which, columns.size)
    states = of_variants(outcome.scan.states, variant, condition, draws.seasons)
    begun = tuple(there[:, condition] for there in (outcome.scan.solution.drawn, outcome.scan.solution.outlets))
    if outcome.held is None:
        solution = _settled(draws, states, *begun)
        settled = solution.converged
    else:
        start = (outcome.held.added + outcome.held.second)[:, condition]
        controls = draws.controls_in(states.season)
        held = held_pressure.hold_network(draws.network, states, controls, start, *begun, most_steps=MOST_STEPS)
        solution, settled = held.solution, held.settled
    shape = -1, which.size, columns.size
    found = (values.reshape(shape) for values in _of(outcome.scan, solution, draws.seasons, shift))
    return Solved(*found, settled.reshape(shape[1:]))


def _settled(draws: Draws, states: States, begun: np.ndarray, outlets: np.ndarray) -> Solution:
    """The vent without controls; what the search does not find is followed in time until it comes to rest."""
    found = solve_network(draws.network, states, None, begun, outlets)
    lost = np.flatnonzero(~found.converged)
    if not lost.size:
        return found
    return found.put(lost, coming_to_rest.follow(draws.network, states[lost], begun[:, lost], near=True))


def _of(scan: Scan, solution: Solution, seasons: int, shift) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Margin of every outlet, what pushes flue gas back through every appliance and where it comes, of solved columns.

    The share of flue gas in what comes back is reckoned with the burners as their sheets say.
    """
    states = replace(solution.states, season=solution.states.season % seasons)
    pressure = solution.outlet_pressure + shift
    moved = replace(solution, states=states, outlet_pressure=pressure)
    own = Scan(scan.plant, scan.seasons, moved, len(states), False)
    back = reversal.flue_gas_enters(own)
    forced = np.array([a.kind == "forced" for a in scan.plant.appliances])[:, None]
    pushed = np.where(forced, solution.outlet_pressure, -solution.drawn)
    pushed = np.where(back, pushed, np.minimum(pushed, 0.0)) + np.where(forced, shift, 0.0)
    open_way = own.any_firing & (solution.drawn != 0.0)
    # What a damper's stop moves beyond nought lets gas back, or keeps it.
    back = np.where(forced & (shift != 0.0), open_way & (pushed > 0.0), back)
    return margins.margins(own), np.where(open_way, pushed, np.nan), back


@dataclass(frozen=True)
class Deciding:
    """The ``columns`` of a scan that decide, of ``total``, and how that was proved.

    ``proved`` variants were solved in ``looked`` columns, all or a sample, and in ``covered`` of them nothing was worse
    in a column left out, margins by no more than can be read; ``missed`` are the columns that a proof found and that
    were added.
    """

    columns: np.ndarray
    total: int
    proved: int
    covered: int
    looked: int
    missed: tuple[int, ...] = ()

    @property
    def coverage(self) -> float:
        """Share of the proof's variants whose worst was among the columns kept."""
        return self.covered / self.proved if self.proved else 1.0


def everything(scan: Scan) -> Deciding:
    """All columns of a scan: nothing is left to prove."""
    every = np.arange(len(scan.states))
    return Deciding(every, every.size, 0, 0, every.size)


def deciding(
    outcome: Outcome, scouts: Draws, proofs: Iterable[Draws], told: Told = nobody, most: int = MOST_LOOKED
) -> Deciding:
    """The columns that decide, by a scout, and proved by other variants, batch after batch until one misses nothing.

    Each variant is solved in no more than about ``most`` columns.
    """
    total, near = len(outcome.scan.states), nearest(outcome, most)
    kept = near[worst_of(solve_draws(outcome, scouts, near, within(told, 0.0, 0.7)))]
    missed, looked, covered, proved = np.zeros(0, int), kept, 0, 0
    for k, draws in enumerate(proofs):
        looked = _sample(kept, total, most, k)
        part = (0.7 + 0.3 * share / MOST_PROOFS for share in (k, k + 1))
        found = solve_draws(outcome, draws, looked, within(told, *part))
        wrong, which = left_out(found, np.searchsorted(looked, kept))
        covered, proved = int((~wrong).sum()), len(draws)
        if not which.size:
            break
        missed, kept = np.union1d(missed, looked[which]), np.union1d(kept, looked[which])
    told("proof of the conditions that decide", 1.0)
    return Deciding(kept, total, proved, covered, looked.size, tuple(missed.tolist()))


def nearest(outcome: Outcome, most: int = MOST_LOOKED) -> np.ndarray:
    """All columns of a scan, or of more than ``most`` those `NEAREST` to an end of some range in each of its weathers.

    Ranges are the margin and the pressure of every outlet, up and down, and what pushes gas back through every
    appliance, as the design was solved; weathers are seasons, calm and wind, hot and cold stack. What was not solved is
    among them.
    """
    scan, states = outcome.scan, outcome.scan.states
    total = len(states)
    if total <= most:
        return np.arange(total)
    margin, pushed, _ = _of(scan, scan.solution, len(scan.seasons), 0.0)
    pressure = np.where(np.isnan(margin), np.nan, scan.solution.outlet_pressure)
    case = np.zeros(total) if states.wind_case is None else states.wind_case
    weather = np.unique(np.array([states.season, states.cold, states.windy, case]), axis=1, return_inverse=True)[1]
    found = [np.flatnonzero(~outcome.settled)]
    for same in (np.flatnonzero(weather == w) for w in range(weather.max() + 1)):
        for values in (*margin, *pressure, *-pressure, *-pushed):
            order = same[np.argsort(values[same], kind="stable")[:NEAREST]]  # NaN come last
            found.append(order[~np.isnan(values[order])])
    return np.unique(np.concatenate(found))


def _sample(kept: np.ndarray, total: int, most: int, seed: int) -> np.ndarray:
    """All columns, or of more than ``most`` those ``kept`` with as many others, drawn at random, as make up that."""
    if total <= most:
        return np.arange(total)
    others = np.setdiff1d(np.arange(total), kept)
    drawn = np.random.default_rng(seed).choice(others, max(most - kept.size, 0), replace=False)
    return np.union1d(kept, drawn)


def worst_of(solved: Solved) -> np.ndarray:
    """Columns that are the worst of some range in some variant, rising; with every one that was not solved in some."""
    kept = set(np.flatnonzero(~solved.settled.all(axis=0)).tolist())
    for values in solved.gaps:
        counted = np.isfinite(values).any(axis=1)
        kept |= set(values[counted].argmin(axis=1).tolist())
    return np.array(sorted(kept), int)


def left_out(found: Solved, kept: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Variants whose worst lies outside the columns kept, and the columns in which it lies there.

    A margin counts as missed where it is less by more than can be read, flue gas where it comes back at all and comes
    in no column kept; a column that was not solved where every one kept was.
    """
    gaps, wrong, which = found.gaps, np.zeros(len(found.settled), bool), set()
    outlets = len(found.margin)
    for row, values in enumerate(gaps):
        worst, own = values.argmin(axis=1), values[:, kept].min(axis=1)
        least = values.min(axis=1)
        missed = np.where(np.isfinite(least), own, least) > least + READABLE
        if row >= outlets:
            gas = found.back[row - outlets]
            missed = gas.any(axis=1) & ~gas[:, kept].any(axis=1)
        wrong |= missed
        which |= set(worst[missed].tolist())
    unsolved = (~found.settled).any(axis=1) & found.settled[:, kept].all(axis=1)
    if unsolved.any():
        which |= set(np.flatnonzero((~found.settled[unsolved]).any(axis=0)).tolist())
    return wrong | unsolved, np.array(sorted(which), int)
