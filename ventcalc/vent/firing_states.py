"""Firing states: which burners fire at which level, in which weather, on a hot or a cold stack.

A common vent is never in one state. `scan` solves every combination of what the appliances can be doing,
by season, hot and cold stack, in calm and in wind; the rest of this module reads what matters from it:
each outlet's swing and the states that cause it, flue gas driven back into the room, and what every
section meets.

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
from ventcalc.gas import atmosphere, combustion
from ventcalc.gas.combustion import Products
from ventcalc.units import show
from ventcalc.vent import roots
from ventcalc.vent.common_vent import Solution, States, solve
from ventcalc.vent.layout import OUTDOORS, Plant
from ventcalc.vent.network import Network, Season, compile_network, room_vapour

MOST_STATES = 40_000  # solved one by one; beyond it the scan samples and then searches for the worst
REVERSAL_FLOW = 1e-6  # kg/s, less is called still
SAME_PRESSURE = 1e-3  # Pa; what lies nearer to the worst differs by rounding, and by machine, not by anything real
SAME_TEMPERATURE = 1e-3  # K, likewise
SAME_SHARE = 1e-6  # of the worst itself, for what is no pressure
READABLE = 0.05  # Pa beyond the edge of a window; less no gauge of the trade can read (common practice, no source)


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
        return replace(self, solution=roots.columns(self.solution, slice(0, total)))

    @property
    def conditions(self) -> States:
        """Every condition once: what to solve to see another plant, or other devices, in the same."""
        return self.states[: int(self.condition.max(initial=-1)) + 1]

    def count(self, columns: np.ndarray) -> int:
        """How many conditions have some of the ``columns`` (a mask, or indices)."""
        return int(np.unique(self.condition[columns]).size)

    def describe(self, state: int, system: str = "US") -> str:
        """One column in words: what each appliance does, the season, the stack, the wind; where it matters the past."""
        states = self.states
        doing = ", ".join(
            f"{a.name} {a.states[c]}" for a, c in zip(self.plant.appliances, states.codes[:, state], strict=True)
        )
        season = self.seasons[states.season[state]]
        stack = "cold stack" if states.cold[state] else "hot stack"
        wind = f", wind {show(season.wind, system, 'wind')}" if states.windy[state] else ""
        if wind and states.wind_case is not None:
            wind += f" {CASES[states.wind_case[state]]}"
        others = np.count_nonzero(self.condition == self.condition[state]) > 1
        before = f", {roots.HISTORIES[self.history[state]]}" if others else ""
        rest = ", no state of rest" if self.restless[state] else ""
        return f"{doing}; {season.name} ({show(season.outdoor, system)}), {stack}{wind}{before}{rest}"

    @property
    def restless(self) -> np.ndarray:
        """Columns in which the vent has no state of rest: no steady flows were found by search nor on any way there.

        It flips between drafting and spilling, or the pressures jump where it stands still. Its flows are those, of all
        that it came by, that send most gas into the room (`roots.follow`). A vent whose flows are all given has rest.
        """
        states, network = self.states, compile_network(self.plant, self.seasons)
        ways = zip(network.resistance, states.codes.astype(int), strict=True)
        return ~self.solution.converged & np.any([np.isfinite(r[states.season, c]) for r, c in ways], axis=0)

    def describe_alike(self, columns: tuple[int, ...], system: str = "US") -> str:
        """What columns share, in words: what every appliance does, season, stack and wind; "any" where all differ."""
        states, at = self.states, np.asarray(columns)
        told = [
            f"{a.name} {_words([a.states[int(c)] for c in np.unique(states.codes[i, at])], len(a.states))}"
            for i, a in enumerate(self.plant.appliances)
        ]
        season = _words([self.seasons[int(j)].name for j in np.unique(states.season[at])], len(self.seasons))
        cold, windy = np.unique(states.cold[at]), np.unique(states.windy[at])
        stack = f"{_words(['cold' if c else 'hot' for c in cold], 2)} stack"
        wind = "" if windy.size == 1 and not windy[0] else f", {_words(['wind' if w else 'calm' for w in windy], 0)}"
        where = season if not season.startswith("any") else "any season"
        return f"{', '.join(told)}; {where}, {stack}{wind}"

    def purging(self, appliance: int) -> np.ndarray:
        """States in which an appliance's fan blows air through and its burner does not fire."""
        a, code = self.plant.appliances[appliance], self.states.codes[appliance]
        return (code > 0.0) & (code <= 1.0) if a.purge_flow is not None else np.zeros(code.size, bool)

    def running(self, appliance: int) -> np.ndarray:
        """States in which an appliance's burner or fan runs, so that its window counts."""
        return self.states.codes[appliance] > 0

    @property
    def any_running(self) -> np.ndarray:
        """States in which anything runs at all."""
        return (self.states.codes > 0).any(axis=0)

    @property
    def any_firing(self) -> np.ndarray:
        """States in which some burner fires, so that there is flue gas in the vent."""
        purging = np.array([a.purge_flow is not None for a in self.plant.appliances])
        return (self.states.codes > purging[:, None]).any(axis=0)


def _words(values: list[str], of: int) -> str:
    """ "low or high"; "at anything" where all of several values come."""
    return "any" if 1 < of == len(values) else " or ".join(values)


# --- Which is the worst -----------------------------------------------------------------------------------


def alike(values: np.ndarray, same: float = SAME_PRESSURE) -> np.ndarray:
    """Indices of the greatest of ``values`` (n) and of all that are not less by more than ``same``; NaN is never it.

    The first is the one to name as the worst: which of several equal ones is greatest by its last digit depends on the
    machine. Empty where every value is NaN or minus infinity.
    """
    known = np.where(np.isnan(values), -np.inf, values)
    greatest = known.max(initial=-np.inf)
    return np.flatnonzero(known >= greatest - same) if np.isfinite(greatest) else np.empty(0, int)


def alike_by_share(values: np.ndarray) -> np.ndarray:
    """As `alike`, with what is within `SAME_SHARE` of the greatest itself: flows, ratios, concentrations."""
    greatest = np.nanmax(values, initial=-np.inf)
    return alike(values, SAME_SHARE * abs(greatest) if np.isfinite(greatest) else 0.0)


def worst(values: np.ndarray, same: float | None = None) -> int:
    """Index of the greatest value, the first of those `alike` (by a pressure ``same``; None: `alike_by_share`)."""
    found = alike_by_share(values) if same is None else alike(values, same)
    return int(found[0]) if found.size else 0


def scan(plant: Plant, seasons: tuple[Season, ...], most: int = MOST_STATES, seed: int = 0) -> Scan:
    """Solve a plant in all its firing states; above ``most`` of them a sample and a search for the worst.

    The sample is uniform over all states (``seed`` fixes it); added to it are the states in which one appliance does
    one thing and all others another. From the worst of these for each end of each outlet, one appliance, season, stack
    or wind at a time is then changed for the worse, or two where no single one makes it worse, until none does. The
    worst found so need not be the worst there is.
    """
    sizes = _sizes(plant, seasons)
    possible = prod(sizes)
    if possible <= most:
        states = _states(np.arange(possible), sizes, plant, seasons)
        return of_states(plant, seasons, states, possible, True)
    sampled = np.random.default_rng(seed).integers(0, possible, most)
    picked = np.unique(np.concatenate([sampled, _all_but_one(sizes)]))
    sampled = Scan(
        plant, tuple(seasons), solve(plant, seasons, _states(picked, sizes, plant, seasons)), possible, False
    )
    worst = _search_worst(sampled, picked, sizes)
    return of_states(plant, seasons, _states(worst, sizes, plant, seasons), possible, False)


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


def _states(numbers: np.ndarray, sizes: tuple[int, ...], plant: Plant, seasons) -> States:
    *codes, weather, cold = np.unravel_index(numbers, sizes)
    season, windy, case = _weathers(plant, seasons)[weather].T
    case = None if plant.exposure is None else case
    return States(np.array(codes), season, cold.astype(bool), windy.astype(bool), case)


def _all_but_one(sizes: tuple[int, ...]) -> np.ndarray:
    """Numbers of the states in which one appliance does one thing and all others another, in any weather and stack."""
    *codes, weather, stack = sizes
    found = []
    for i, own in enumerate(codes):
        for here, there in product(range(own), range(max(codes))):
            doing = [min(there, size - 1) for size in codes]
            doing[i] = here
            found += [(*doing, w, s) for w in range(weather) for s in range(stack)]
    return np.ravel_multi_index(np.array(found).T, sizes)


def _search_worst(sampled: Scan, picked: np.ndarray, sizes: tuple[int, ...]) -> np.ndarray:
    """The sampled state numbers and those that a search by one change, or by two, finds to be worse."""
    numbers = set(picked.tolist())
    for i in range(len(sampled.plant.appliances)):
        pressure = np.where(sampled.running(i), sampled.solution.outlet_pressure[i], np.nan)
        for sign in (1.0, -1.0):
            if np.isnan(pressure).all():
                continue
            at = int(picked[worst(sign * pressure, SAME_PRESSURE)])
            best = np.nanmax(sign * pressure)
            changes = 1
            while changes <= 2:
                neighbours = _neighbours(at, sizes, changes)
                found = solve(
                    sampled.plant, sampled.seasons, _states(neighbours, sizes, sampled.plant, sampled.seasons)
                )
                value = np.where(found.states.codes[i] > 0, sign * found.outlet_pressure[i], -np.inf)
                numbers.update(neighbours.tolist())
                if value.max() <= best + SAME_PRESSURE:
                    changes += 1
                    continue
                at, best, changes = int(neighbours[worst(value, SAME_PRESSURE)]), value.max(), 1
    return np.array(sorted(numbers))


def _neighbours(number: int, sizes: tuple[int, ...], changes: int) -> np.ndarray:
    """Numbers of the states that differ in so many of the things that vary."""
    own = np.array(np.unravel_index(number, sizes))
    found = []
    for axes in combinations(range(len(sizes)), changes):
        for values in product(*([v for v in range(sizes[axis]) if v != own[axis]] for axis in axes)):
            other = own.copy()
            other[list(axes)] = values
            found.append(np.ravel_multi_index(other, sizes))
    return np.array(found, dtype=np.int64)


# --- What matters in a scan -----------------------------------------------------------------------------


def _beyond(by):
    """How far beyond the edge of a window [Pa]: nothing where it is no more than can be read."""
    return np.where(np.asarray(by) > READABLE, by, 0.0)[()]


@dataclass(frozen=True)
class Envelope:
    """Lowest and highest outlet pressure [Pa, gauge against the room] and the states that cause them.

    ``low_alike`` and ``high_alike`` are all the states that come to the same, the named one first. ``limits`` says what
    ``window`` is: that of firing, or an appliance's own of its "purge". Where it has none of its own, its purge is
    judged by the window of firing, and ``low_purging``, ``high_purging`` tell that it purges in the state named. Where
    it has, ``purge`` is the envelope over the states in which it purges, and this one is over those in which it fires.
    """

    appliance: str
    low: float
    high: float
    low_state: int
    high_state: int
    window: tuple[float, float]
    low_alike: tuple[int, ...] = ()
    high_alike: tuple[int, ...] = ()
    low_purging: bool = False
    high_purging: bool = False
    limits: str = "firing"
    purge: "Envelope | None" = None

    @property
    def swing(self) -> float:
        """Highest less lowest [Pa]."""
        return self.high - self.low

    @property
    def below(self) -> float:
        """How far it falls below its window [Pa], 0 where it does not."""
        return _beyond(self.window[0] - self.low)

    @property
    def above(self) -> float:
        """How far it rises above its window [Pa], 0 where it does not."""
        return _beyond(self.high - self.window[1])

    @property
    def margin(self) -> float:
        """Least distance to the edge of the window [Pa], in purge too; negative where it leaves it by what can be
        read."""
        least = float(min(self.low - self.window[0], self.window[1] - self.high))
        least = max(least, 0.0) if least >= -READABLE else least
        return least if self.purge is None else min(least, self.purge.margin)


def envelopes(scan: Scan) -> tuple[Envelope, ...]:
    """Envelope of every outlet over the states in which its appliance runs, with that of its purge where it has limits.

    Raises ValueError where an appliance runs in none of them; in a scan made by `scan` each runs in some.
    """
    return tuple(_envelope(scan, i) for i in range(len(scan.plant.appliances)))


def _envelope(scan: Scan, i: int) -> Envelope:
    a, running, purging = scan.plant.appliances[i], scan.running(i), scan.purging(i)
    if not running.any():
        raise ValueError(f"{a.name} runs in none of the scan's {len(scan.states)} states, so it has no envelope")
    if a.purge_pressure is None or not purging.any():
        return _ends(scan, i, running, a.window, "firing")
    purge = _ends(scan, i, purging, a.purge_pressure, "purge")
    firing = running & ~purging
    return replace(_ends(scan, i, firing, a.window, "firing"), purge=purge) if firing.any() else purge


def _ends(scan: Scan, i: int, during: np.ndarray, window, limits: str) -> Envelope:
    pressure = np.where(during, scan.solution.outlet_pressure[i], np.nan)
    low, high = (tuple(alike(sign * pressure).tolist()) for sign in (-1.0, 1.0))
    purging = scan.purging(i)
    return Envelope(
        appliance=scan.plant.appliances[i].name,
        low=float(np.nanmin(pressure)),
        high=float(np.nanmax(pressure)),
        low_state=low[0],
        high_state=high[0],
        window=tuple(float(w.m_as("Pa")) for w in window),
        low_alike=low,
        high_alike=high,
        low_purging=bool(purging[low[0]]),
        high_purging=bool(purging[high[0]]),
        limits=limits,
    )


def outside_window(scan: Scan) -> np.ndarray:
    """Where an appliance runs and its outlet is outside its window, or its limits in purge (appliances, states)."""
    found = np.zeros(scan.solution.outlet_pressure.shape, bool)
    for i, a in enumerate(scan.plant.appliances):
        pressure, purging = scan.solution.outlet_pressure[i], scan.purging(i)
        own, of_purge = (
            np.array([float(w.m_as("Pa")) for w in window]) for window in (a.window, a.purge_pressure or a.window)
        )
        low, high = np.where(purging, of_purge[:, None], own[:, None])
        found[i] = scan.running(i) & ((_beyond(low - pressure) > 0.0) | (_beyond(pressure - high) > 0.0))
    return found


def gas_in_room(scan: Scan) -> np.ndarray:
    """Where gas flows back into the room through an appliance while any burner fires (appliances, states).

    Of any kind: that it may be no more than air with which a neighbor purges is told by `flue_gas_in_room`.
    """
    return scan.any_firing & (-scan.solution.drawn > REVERSAL_FLOW)


def flue_gas_in_room(scan: Scan) -> tuple[np.ndarray, np.ndarray]:
    """Flue gas [kg/s] that flows back into the room through every appliance, and its mole share of all that does.

    Both (appliances, states). What an appliance makes itself comes back before anything out of the vent does, and is
    all flue gas while it fires. Of what comes out of the vent the carbon dioxide tells the share
    (`combustion.burnt_share_by_co2`), held against the flue gas of the appliance itself where it fires, else of the
    largest that does (`burning`).
    """
    entering = gas_in_room(scan)
    back, share = np.where(entering, -scan.solution.drawn, 0.0), np.zeros(entering.shape)
    for i, (a, feed) in enumerate(zip(scan.plant.appliances, scan.plant.feeds, strict=True)):
        row, at = scan.solution.row(feed), np.flatnonzero(entering[i])
        out_of_vent = np.clip(-scan.solution.flow[row, at], 0.0, back[i, at])
        fires = np.ceil(scan.states.codes[i, at]) >= len(a.states) - len(a.levels)
        # States that burn the same in the same air share one sum.
        burns = np.vstack([scan.states.codes[:, at], scan.states.season[at]])
        kinds, of_kind = np.unique(burns, axis=1, return_inverse=True)
        thinned = np.zeros(at.size)
        for k in range(kinds.shape[1]):
            here = np.flatnonzero(np.ravel(of_kind) == k)
            products, air = burning(scan, i, int(at[here[0]]))
            thinned[here] = combustion.burnt_share_by_co2.bare(scan.solution.co2_dry[row, at[here]], air, products)
        share[i, at] = ((back[i, at] - out_of_vent) * fires + out_of_vent * thinned) / back[i, at]
    return back * share, share


def burning(scan: Scan, own: int, state: int) -> tuple[Products, float]:
    """Flue gas of the appliance itself if it fires, else of the largest that does; and the water in the room's air."""
    room = scan.plant.appliances[own].room
    air = room_vapour(scan.seasons[scan.states.season[state]], scan.solution.barometric, room)
    fired = []
    for k, (a, code) in enumerate(zip(scan.plant.appliances, scan.states.codes[:, state], strict=True)):
        level = int(np.ceil(code)) - (len(a.states) - len(a.levels))
        if level >= 0:
            fired.append((k == own, float(a.levels[level].heat_input.m_as("W")), a.fuel, a.levels[level].excess_air))
    _, _, fuel, excess_air = max(fired, key=lambda f: f[:2])
    return combustion.products.bare(fuel, excess_air, air), air


@dataclass(frozen=True)
class Reversal:
    """Gas that goes into the room: through an idle appliance, or out of a draft hood while firing.

    The worst is that with most ``flue_gas`` [kg/s], in ``state``; ``flow`` [kg/s] is all that flows back in it, air of
    a neighbor's purge with it. ``states``: how many of the scan's conditions let flue gas in; in ``either`` of them the
    vent drafts as well, by what was before. ``most`` [kg/s] is the largest backflow of any gas, in ``most_state``, and
    ``most_states`` how many conditions have some. ``alike``: all states that come to the same, the named one first.
    """

    appliance: str
    kind: str  # "idle" or "spill"
    flow: float
    flue_gas: float
    state: int
    states: int
    either: int
    most: float
    most_state: int
    most_states: int
    alike: tuple[int, ...] = ()

    @property
    def dangerous(self) -> bool:
        """Whether flue gas enters the room; else it is air with which a neighbor purges."""
        return self.flue_gas > REVERSAL_FLOW


def reversals(scan: Scan) -> tuple[Reversal, ...]:
    """Every appliance through which gas flows back into the room in some state, while any burner fires."""
    found, entering, (flue_gas, _) = [], gas_in_room(scan), flue_gas_in_room(scan)
    for i, a in enumerate(scan.plant.appliances):
        into_room = np.where(entering[i], -scan.solution.drawn[i], 0.0)
        for kind, during in (("idle", ~scan.running(i)), ("spill", scan.running(i))):
            back = during & entering[i]
            if not back.any():
                continue
            bad = during & (flue_gas[i] > REVERSAL_FLOW)
            most = worst(np.where(back, into_room, np.nan))
            same = alike_by_share(np.where(bad, flue_gas[i], np.nan)) if bad.any() else np.array([most])
            state = int(same[0])
            well = scan.condition[~(flue_gas[i] > REVERSAL_FLOW)]
            found.append(
                Reversal(
                    appliance=a.name,
                    kind=kind,
                    flow=float(into_room[state]),
                    flue_gas=float(flue_gas[i, state]) if bad.any() else 0.0,
                    state=state,
                    states=scan.count(bad),
                    either=int(np.intersect1d(scan.condition[bad], well).size),
                    most=float(into_room[most]),
                    most_state=most,
                    most_states=scan.count(back),
                    alike=tuple(same.tolist()),
                )
            )
    return tuple(found)


@dataclass(frozen=True)
class Extremes:
    """What one section meets over all states in which gas flows in it; plain SI, with the causing states.

    ``velocity`` lowest and highest [m/s], ``gas`` coldest and hottest [K], ``coldest_wall`` [K] and the
    ``dew_point`` in that state, ``condensate`` [kg/s] that leaves the gas on the wall and ``ice`` [kg/s] of it that
    freezes there, each at its greatest with the stack hot, ``condensing`` share of the conditions with a hot stack in
    which the wall is below the dew point, in some root of each, ``pressure`` lowest and highest static against its
    surroundings [Pa] (where a section ends in a cap, at its lower end: right under a cap the cap's own loss always
    stands as positive pressure).
    """

    section: str
    velocity: tuple[float, float]
    gas: tuple[float, float]
    coldest_wall: float
    wall_state: int
    dew_point: float
    condensate: float
    condensate_state: int
    ice: float
    condensing: float
    pressure: tuple[float, float]
    pressure_state: int


def extremes(scan: Scan) -> tuple[Extremes, ...]:
    """What every section meets, in the order of ``plant.order``."""
    return tuple(_extremes(scan, row) for row in range(len(scan.plant.order)))


def dew_points(solution: Solution, row: int) -> np.ndarray:
    """Dew point [K] of the stream in one section, all its water counted, per state."""
    vapour = np.maximum(solution.vapour[row] * solution.barometric, 1.0)
    return atmosphere.saturation_temperature.bare(vapour)


def static_against_surroundings(scan: Scan, row: int) -> tuple[np.ndarray, np.ndarray]:
    """Static pressure [Pa] at the upstream and downstream end of a section against the air around it.

    The downstream end is looked at before a fan or damper that stands there.
    """
    solution, section = scan.solution, scan.plant.order[row]
    around = [np.zeros(len(scan.states))] * 2
    if section.place != OUTDOORS:
        network = compile_network(scan.plant, scan.seasons)
        place = network.pipes[row].around
        around = [network.room_at(z, scan.states, place) for z in scan.plant.heights[section.name]]
    return (
        solution.pressure_up[row] - solution.head_up[row] - around[0],
        solution.pressure_down[row] - solution.added[row] - solution.head_down[row] - around[1],
    )


def _extremes(scan: Scan, row: int) -> Extremes:
    solution = scan.solution
    flowing = np.flatnonzero((np.abs(solution.flow[row]) > REVERSAL_FLOW) & scan.any_running)
    if flowing.size == 0:
        flowing = np.arange(len(scan.states))
    velocity = np.abs(solution.velocity[row, flowing])
    ends = np.stack([solution.upstream[row, flowing], solution.downstream[row, flowing]])
    wall, dew = solution.wall[row, flowing], dew_points(solution, row)[flowing]
    hot = ~scan.states.cold[flowing]
    lasting = flowing[hot] if hot.any() else flowing
    water = solution.drained[row, lasting]
    up, down = (p[flowing] for p in static_against_surroundings(scan, row))
    if scan.plant.order[row].into in {t.name for t in scan.plant.terminations}:
        down = up
    pressure, lowest = np.maximum(up, down), np.minimum(up, down)
    clearance = np.where(hot, wall - dew, np.inf)
    coldest = worst(-clearance, SAME_TEMPERATURE)
    return Extremes(
        section=scan.plant.order[row].name,
        velocity=(float(velocity.min()), float(velocity.max())),
        gas=(float(ends.min()), float(ends.max())),
        coldest_wall=float(wall[coldest]),
        wall_state=int(flowing[coldest]),
        dew_point=float(dew[coldest]),
        condensate=float(water.max()),
        condensate_state=int(lasting[worst(water)]),
        ice=float(solution.frozen[row, lasting].max()),
        condensing=float(scan.count(flowing[clearance < 0.0]) / max(scan.count(flowing[hot]), 1)),
        pressure=(float(lowest.min()), float(pressure.max())),
        pressure_state=int(flowing[worst(pressure, SAME_PRESSURE)]),
    )


def far_end(plant: Plant) -> str:
    """The section at whose upstream end the header begins: of the sections that carry several appliances or
    take one in at a capped run, the farthest from the termination; for a single appliance its first section."""
    return plant.far_end


def header_pressure(scan: Scan) -> np.ndarray:
    """`far_end_pressure` of every state of a scan; NaN while nothing runs."""
    pressure = far_end_pressure(scan.solution, compile_network(scan.plant, scan.seasons))
    return np.where(scan.any_running, pressure, np.nan)


def far_end_pressure(solution: Solution, network: Network) -> np.ndarray:
    """Static pressure [Pa] at the end of the header against the room there, per state.

    It is that of the stream behind the first junction; a sensor in an end cap before it reads
    `junctions.end_cap_excess` velocity heads more, which is little in a header at full size.
    """
    row = solution.row(far_end(solution.plant))
    return solution.pressure_up[row] - solution.head_up[row] - far_end_room(network, solution.states)


def far_end_room(network: Network, states: States) -> np.ndarray:
    """Pressure [Pa] against outdoors of the room in which the end of the header is read, at its height, per state.

    Where it runs through a room in which an appliance stands, that room; else, as where it is outdoors or in a shaft,
    the boiler room, where its sensor is read.
    """
    plant, name = network.plant, far_end(network.plant)
    pipe = network.pipes[plant.row(name)]
    place = pipe.around if not pipe.outdoors and pipe.around in network.rooms else 0
    return network.room_at(plant.heights[name][0], states, place)
