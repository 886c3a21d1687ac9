"""Firing states: which burners fire at which level, in which weather, on a hot or a cold stack.

A common vent is never in one state. `scan` solves every combination of what the appliances can be doing,
by season, hot and cold stack, in calm and in wind. What matters in it is read by `outlet_envelope`, `reversal`,
`section_extremes` and `end_of_header`; `worst_state` says which column is the worst.

Where the plant tells how its building stands in the wind (`layout.Plant.exposure`), wind is two cases, against the vent
and with it (`wind`); else it acts on the cap alone.

On a cold stack all walls are at the temperature of their surroundings, while gas fills the vent and flows at rest: not
the moment of light-off, but half a minute after it. On a hot stack the walls have come to rest too. Neither bounds what
a start or a turn-down brings (`load_changes`).

A vent with a hood may stand drafting or turned over in one and the same condition, by what was before (`roots`). The
scan holds every root that a past leads to, each in a column of its own; whatever is read from it judges the worst, and
counts conditions. Some conditions have no state of rest (`Scan.restless`).
"""

from dataclasses import dataclass, replace
from itertools import combinations, product
from math import prod

import numpy as np

from ventcalc.flow.wind import CASES
from ventcalc.vent import roots
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States
from ventcalc.vent.worst_state import SAME_PRESSURE, worst
from ventcalc.words import say, together

MOST_STATES = 40_000  # solved one by one; beyond it the scan samples and then searches for the worst
MOST_PAIRS = 2_000  # neighbors by two changes that a search for the worst looks at in one turn


@dataclass(frozen=True)
class Scan:
    """A solved scan: ``solution``, of how many ``possible`` conditions it holds some, ``complete`` where all.

    ``condition`` of each column of the solution, and its ``history``, an index into `roots.HISTORIES`: the conditions'
    first roots come first, one column each, further roots behind them. With a solution of another size, as of
    `conditions` solved anew, each column is a condition of its own.
    """

    plant: Plant
    seasons: tuple[Season, ...]
    solution: Solution
    possible: int
    complete: bool
    condition: np.ndarray | None = None
    history: np.ndarray | None = None

    def __post_init__(self):
        total = len(self.solution.states)
        if self.condition is None or self.condition.size != total:
            object.__setattr__(self, "condition", np.arange(total))
            object.__setattr__(self, "history", np.full(total, roots.HOT))

    @property
    def states(self) -> States:
        """What each column was solved in; a condition with several roots comes several times."""
        return self.solution.states

    @property
    def first(self) -> "Scan":
        """The scan with the first root of every condition alone."""
        total = int(self.condition.max(initial=-1)) + 1
        return replace(self, solution=self.solution.columns(slice(0, total)))

    @property
    def conditions(self) -> States:
        """Every condition once: what to solve to see another plant, or other devices, in the same."""
        return self.states[: int(self.condition.max(initial=-1)) + 1]

    def count(self, columns: np.ndarray) -> int:
        """How many conditions have some of the ``columns`` (a mask, or indices)."""
        return int(np.unique(self.condition[columns]).size)

    def describe(self, state: int, system: str = "US") -> str:
        """One column in words: what each appliance does, the season, the stack, the wind; where it matters the past."""
        states, season = self.states, self.seasons[self.states.season[state]]
        doing = [a.states[c] for a, c in zip(self.plant.appliances, states.codes[:, state], strict=True)]
        more = ""
        if states.windy[state]:
            case = None if states.wind_case is None else CASES[states.wind_case[state]]
            more += _told("wind" if case is None else "wind_case", system, wind=season.wind, case=case)
        if np.count_nonzero(self.condition == self.condition[state]) > 1:
            more += _told("before", history=say("vent", "histories", roots.HISTORIES[self.history[state]]))
        if self.restless[state]:
            more += _told("restless")
        stack = _told("cold" if states.cold[state] else "hot")
        told = {"doing": self._doing(doing), "season": season.name, "outdoor": season.outdoor}
        return _told("state", system, stack=stack, more=more, **told)

    def _doing(self, what: list[str]) -> str:
        told = together(zip((a.name for a in self.plant.appliances), what, strict=True))
        return ", ".join(_told("does", appliance=name, what=w) for name, w in told)

    @property
    def restless(self) -> np.ndarray:
        """Columns in which the vent has no state of rest: no steady flows were found by search nor on any way there.

        It flips between drafting and spilling, or the pressures jump where it stands still. Its flows are those, of all
        that it came by, that send most gas into the room (`coming_to_rest`). A vent whose flows are all given has rest.
        """
        states, network = self.states, compile_network(self.plant, self.seasons)
        ways = zip(network.resistance, states.codes.astype(int), strict=True)
        return ~self.solution.converged & np.any([np.isfinite(r[states.season, c]) for r, c in ways], axis=0)

    def describe_alike(self, columns: tuple[int, ...], system: str = "US") -> str:
        """What columns share, in words: what every appliance does, season, stack and wind; "any" where all differ."""
        states, at = self.states, np.asarray(columns)
        doing = [
            _either([a.states[int(c)] for c in np.unique(states.codes[i, at])], len(a.states))
            for i, a in enumerate(self.plant.appliances)
        ]
        seasons = [self.seasons[int(j)].name for j in np.unique(states.season[at])]
        cold, windy = np.unique(states.cold[at]), np.unique(states.windy[at])
        walls = _either([_told("walls_cold" if c else "walls_hot") for c in cold], 2)
        weather = [_told("weather_windy" if w else "weather_calm") for w in windy]
        season = _either(seasons, len(self.seasons))
        return _told(
            "alike",
            doing=self._doing(doing),
            season=_told("any_season") if season.startswith(_told("any")) else season,
            stack=_told("stack", walls=walls),
            more="" if windy.size == 1 and not windy[0] else _told("weather", weather=_either(weather, 0)),
        )

    def purging(self, appliance: int) -> np.ndarray:
        """States in which an appliance's fan blows air through and its burner does not fire."""
        a, code = self.plant.appliances[appliance], self.states.codes[appliance]
        return (code > 0.0) & (code <= 1.0) if a.purge_flow is not None else np.zeros(code.size, bool)

    def running(self, appliance: int) -> np.ndarray:
        """States in which an appliance's burner or fan runs, so that its window counts."""
        return self.states.codes[appliance] > 0

    def firing(self, appliance: int) -> np.ndarray:
        """States in which an appliance's burner fires."""
        return self.running(appliance) & ~self.purging(appliance)

    @property
    def any_running(self) -> np.ndarray:
        """States in which anything runs at all."""
        return (self.states.codes > 0).any(axis=0)

    @property
    def any_firing(self) -> np.ndarray:
        """States in which some burner fires, so that there is flue gas in the vent."""
        purging = np.array([a.purge_flow is not None for a in self.plant.appliances])
        return (self.states.codes > purging[:, None]).any(axis=0)


def _told(name: str, system: str = "US", /, **figures) -> str:
    return say("vent", "firing_states", name, system, **figures)


def _either(values: list[str], of: int) -> str:
    """ "low or high"; "any" where all of several values come."""
    return _told("any") if 1 < of == len(values) else " or ".join(values)


def scan(plant: Plant, seasons: tuple[Season, ...], most: int = MOST_STATES, seed: int = 0) -> Scan:
    """Solve a plant in all its firing states; above ``most`` of them a sample and a search for the worst.

    The sample is uniform over all states (``seed`` fixes it); added to it are the states in which one appliance does
    one thing and all others another. From the worst of these for each end of each outlet, one appliance, season, stack
    or wind at a time is then changed for the worse, or two (up to `MOST_PAIRS`) where no single one makes it worse,
    until none does. The worst found so need not be the worst there is.
    """
    sizes = _sizes(plant, seasons)
    possible = prod(sizes)
    if possible <= most:
        whole = np.array(np.unravel_index(np.arange(possible), sizes))
        return of_states(plant, seasons, _states(whole, plant, seasons), possible, True)
    picked = np.unique(np.hstack([_drawn(sizes, possible, most, seed), _all_but_one(sizes)]), axis=1)
    sampled = Scan(plant, tuple(seasons), solve(plant, seasons, _states(picked, plant, seasons)), possible, False)
    worst = _search_worst(sampled, picked, sizes)
    return of_states(plant, seasons, _states(worst, plant, seasons), possible, False)


def _drawn(sizes: tuple[int, ...], possible: int, most: int, seed: int) -> np.ndarray:
    """A uniform sample of states (things that vary, states); by their numbers while those fit 64 bits."""
    random = np.random.default_rng(seed)
    if possible <= np.iinfo(np.int64).max:
        return np.array(np.unravel_index(random.integers(0, possible, most), sizes))
    return np.array([random.integers(0, size, most) for size in sizes])


def of_states(plant: Plant, seasons: tuple[Season, ...], states: States, possible: int, complete: bool) -> Scan:
    """The scan of given conditions, with every root of each that a past leads to (`roots.reach`)."""
    found = roots.reach(compile_network(plant, tuple(seasons)), states)
    return Scan(plant, tuple(seasons), found.solution, possible, complete, found.condition, found.history)


def _weathers(plant: Plant, seasons) -> np.ndarray:
    """Rows (season, windy, wind case): every season in calm, and again in its wind where it has one."""
    cases = (0,) if plant.exposure is None else range(1, len(CASES))
    windy = [[(1, case) for case in cases] if s.wind.m_as("m/s") > 0.0 else [] for s in seasons]
    return np.array([(i, *w) for i, winds in enumerate(windy) for w in ((0, 0), *winds)])


def _sizes(plant: Plant, seasons) -> tuple[int, ...]:
    """How many values each thing that varies takes: every appliance, the weather, the stack."""
    return (*(len(a.states) for a in plant.appliances), len(_weathers(plant, seasons)), 2)


def _states(values: np.ndarray, plant: Plant, seasons) -> States:
    """States by the value of each thing that varies (things, states), as in `_sizes`."""
    *codes, weather, cold = values
    season, windy, case = _weathers(plant, seasons)[weather].T
    case = None if plant.exposure is None else case
    return States(np.array(codes), season, cold.astype(bool), windy.astype(bool), case)


def _all_but_one(sizes: tuple[int, ...]) -> np.ndarray:
    """States (things, states) where one appliance does one thing and all others another, in any weather and stack."""
    *codes, weather, stack = sizes
    found = []
    for i, own in enumerate(codes):
        for here, there in product(range(own), range(max(codes))):
            doing = [min(there, size - 1) for size in codes]
            doing[i] = here
            found += [(*doing, w, s) for w in range(weather) for s in range(stack)]
    return np.array(found).T


def _search_worst(sampled: Scan, picked: np.ndarray, sizes: tuple[int, ...]) -> np.ndarray:
    """The sampled states and those that a search by one change, or by two, finds to be worse; rising."""
    numbers = set(map(tuple, picked.T.tolist()))
    for i in range(len(sampled.plant.appliances)):
        pressure = np.where(sampled.running(i), sampled.solution.outlet_pressure[i], np.nan)
        for sign in (1.0, -1.0):
            if np.isnan(pressure).all():
                continue
            at = picked[:, worst(sign * pressure, SAME_PRESSURE)]
            best = np.nanmax(sign * pressure)
            changes = 1
            while changes <= 2:
                neighbors = _neighbors(at, sizes, changes)
                if changes == 2 and neighbors.shape[1] > MOST_PAIRS:
                    break
                found = solve(sampled.plant, sampled.seasons, _states(neighbors, sampled.plant, sampled.seasons))
                value = np.where(found.states.codes[i] > 0, sign * found.outlet_pressure[i], -np.inf)
                numbers.update(map(tuple, neighbors.T.tolist()))
                if value.max() <= best + SAME_PRESSURE:
                    changes += 1
                    continue
                at, best, changes = neighbors[:, worst(value, SAME_PRESSURE)], value.max(), 1
    return np.array(sorted(numbers)).T


def _neighbors(own: np.ndarray, sizes: tuple[int, ...], changes: int) -> np.ndarray:
    """The states (things, states) that differ from one in so many of the things that vary."""
    found = []
    for axes in combinations(range(len(sizes)), changes):
        for values in product(*([v for v in range(sizes[axis]) if v != own[axis]] for axis in axes)):
            other = own.copy()
            other[list(axes)] = values
            found.append(other)
    return np.array(found).T
