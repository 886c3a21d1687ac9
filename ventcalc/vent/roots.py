"""Roots: the several steady states that one vent can have, and which of them its past leads to.

A hood's vent may draft or be turned over, with the same burner lit in the same weather: warm gas in the flue holds the
one, outdoor air that falls down it holds the other. Which one comes depends on what was before, so what burns and how
the wind blows does not tell a state. `reach` begins at every past that a person can give a vent and follows each until
it comes to rest (`coming_to_rest`). `root_census` finds all roots of a state with one unknown flow by a scan of its
mismatch, `stability` says whether a root bears a disturbance.

With one unknown flow the census finds every root but pairs closer than a step of its scan. `coming_to_rest.follow` may
step over two roots that lie nearer to each other than a sixth of an appliance's flow; where they lie farther apart it
ended, in all plants of the tests, at the next stable root on the side to which the mismatch points. With several
unknown flows each root found is one, and its stability is tested; that there are no others is not proved.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.coming_to_rest import SAME, carried_over, follow, scale
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.network import Network
from ventcalc.vent.pressure_balance import PressureBalance
from ventcalc.vent.solution import Solution, joined
from ventcalc.vent.stability import is_stable
from ventcalc.vent.states import States

HISTORIES = ("hot", "rest", "idle", "before")  # what was before; their words stand in data/vent/words.toml
HOT, REST, IDLE, BEFORE = range(len(HISTORIES))


_TURNED = 3.0  # m/s of outdoor air down every way in: a gust, or an exhaust fan that ran


_ROUNDS = 4  # of changes one after the other, in `reach`
_BACK = 1e-6  # kg/s, less is called still


@dataclass(frozen=True)
class Reached:
    """Roots that some past leads to: ``solution`` of first one column a condition, in their order, then the further
    roots; ``condition`` each column belongs to and its ``history``, an index into `HISTORIES`."""

    solution: Solution
    condition: np.ndarray
    history: np.ndarray


def reach(network: Network, states: States, added: np.ndarray | None = None, full: Solution | None = None) -> Reached:
    """The roots of every condition in ``states`` that its pasts lead to, each once.

    A vent full of hot gas (``full``, where that is solved already); a vent at rest, or as it stands with every burner
    off, walls cold, in the same weather, and then lit; where a hood or a regulator spills in all of these, a vent that
    drafted before one change of appliance, weather or wall; and from a root in which one spills, one such change after
    the other.
    """
    hot = full or solve_network(network, states, added)
    order = np.arange(len(states))
    if not any(np.isfinite(r).any() for r in network.resistance):
        return Reached(hot, order, np.full(order.size, HOT))
    found = _Found(network, states, added, hot)
    stood, turned = _when_lit(network, states, idle(network, states, added))
    rest = _still(network, states)
    lowest = np.minimum(stood, rest)  # going up from there, a vent comes to its lowest root
    found.try_from(order, lowest, np.where((stood < rest).any(axis=0), IDLE, REST))
    more = found.many | (np.abs(turned - stood) > _BACK).any(axis=0)
    tried, starts = [lowest], []
    for start, history in ((rest, REST), (stood, IDLE), (turned, IDLE)):
        new = more & np.all([(np.abs(start - other) > _BACK).any(axis=0) for other in tried], axis=0)
        tried.append(start)
        starts.append((np.flatnonzero(new), start[:, new], np.full(int(new.sum()), history)))
    found.try_from(*(np.concatenate(parts, axis=-1) for parts in zip(*starts, strict=True)))
    found.settle()
    found.draft_on()
    for _ in range(_ROUNDS):
        if not found.spread():
            break
    return found.reached()


class _Found:
    """Roots as they are gathered: a list of columns with the condition and history of each."""

    def __init__(self, network: Network, states: States, added, hot: Solution):
        self.network, self.states, self.added = network, states, added
        boundary = Boundary(network, states, added)
        self.prescribed = np.array(boundary.prescribed)
        self.first = hot
        self.extra: list[Solution] = []
        self.condition, self.history = np.arange(len(states)), np.full(len(states), HOT)
        self.drawn = hot.drawn.copy()
        # Most gas [kg/s] that a column without rest sends into the room, per condition; below nought: there is none.
        self.restless = np.where(hot.converged, -1.0, _into_room(hot.drawn))
        self.spread_from = 0  # columns before that one have been changed already
        self.hoods = np.array([a.kind != "forced" for a in network.plant.appliances])

    @property
    def many(self) -> np.ndarray:
        """Conditions with more than one root, or none that was found."""
        return (np.bincount(self.condition, minlength=len(self.states)) > 1) | ~self.first.converged

    def try_from(self, which: np.ndarray, drawn: np.ndarray, history: np.ndarray) -> int:
        """Follow conditions ``which`` from flows ``drawn``; keep what is new; how many were. One may come repeatedly.

        What comes to no rest is kept as well, where it sends more gas into the room than what is kept of its condition:
        the vent flutters, and no one may miss it.
        """
        if not which.size:
            return 0
        found = follow(self.network, self.states[which], drawn, None if self.added is None else self.added[:, which])
        return sum(self._take(which[once], found.columns(once), history[once]) for once in _each_once(which))

    def _take(self, which: np.ndarray, found: Solution, history: np.ndarray) -> int:
        """Keep what is new among roots of conditions ``which``, each once; how many are."""
        gas = _into_room(found.drawn)
        known = ~found.converged & (gas <= self.restless[which] * (1.0 + SAME))
        near = SAME * scale(self.prescribed[:, which], found.drawn)
        place = {c: k for k, c in enumerate(which.tolist())}
        for column in np.flatnonzero(np.isin(self.condition, which)):
            k = place[int(self.condition[column])]
            known[k] |= bool((np.abs(self.drawn[:, column] - found.drawn[:, k]) <= near[k]).all())
        new = ~known
        self.restless[which] = np.where(~found.converged & new, gas, self.restless[which])
        if new.any():
            self._keep(which[new], found.columns(new), history[new])
        return int(new.sum())

    def _keep(self, which, solution: Solution, history) -> None:
        self.extra.append(solution)
        self.condition = np.concatenate([self.condition, which])
        self.history = np.concatenate([self.history, history])
        self.drawn = np.concatenate([self.drawn, solution.drawn], axis=1)

    def settle(self) -> None:
        """Where what the search found from hot is no point of rest, or nothing: follow the vent full of hot gas."""
        doubtful = np.flatnonzero(self.many)
        if not doubtful.size:
            return
        own = None if self.added is None else self.added[:, doubtful]
        states = self.states[doubtful]
        stands = is_stable(self.network, states, self.drawn[:, doubtful], own) & self.first.converged[doubtful]
        falls, own = doubtful[~stands], None if own is None else own[:, ~stands]
        if not falls.size:
            return
        boundary = Boundary(self.network, states[~stands], own)
        full = PressureBalance(self.network, boundary, boundary.nothing_drawn()).first_guess()
        again = follow(self.network, states[~stands], full, own)
        better = again.converged | ~self.first.converged[falls]
        places = falls[better]
        self.first = self.first.put(places, again.columns(better))
        self.drawn[:, places] = again.drawn[:, better]

    def spread(self) -> int:
        """Go one change on from every root in which a hood or a regulator spills; how many roots are new."""
        source = np.arange(self.spread_from, self.drawn.shape[1])
        spills = (self.drawn[self.hoods][:, source] < -_BACK).any(axis=0)
        source, self.spread_from = source[spills], self.drawn.shape[1]
        known = {
            (int(c), *pattern) for c, pattern in zip(self.condition, self._patterns(self.drawn).tolist(), strict=True)
        }
        targets, starts = [], []
        for column in source.tolist():
            own = int(self.condition[column])
            near = np.flatnonzero(_one_change(self.states, own))
            there = np.broadcast_to(self.drawn[:, [column]], (self.drawn.shape[0], near.size))
            begin = carried_over(self.network, self.states[np.full(near.size, own)], there, self.states[near])
            for k, (condition, pattern) in enumerate(zip(near.tolist(), self._patterns(begin).tolist(), strict=True)):
                if (condition, *pattern) not in known:
                    known.add((condition, *pattern))
                    targets.append(condition)
                    starts.append(begin[:, k])
        return self.try_from(np.array(targets, int), np.array(starts).T, np.full(len(targets), BEFORE))

    def draft_on(self) -> int:
        """Come to conditions whose every known root spills from drafting ones a change away; how many roots are new.

        As a wind does that rises against a vent that drafts. Going down from the highest of them, a vent comes to its
        highest root.
        """
        spills = (self.drawn[self.hoods] < -_BACK).any(axis=0)
        drafting = np.flatnonzero(~spills)
        which, starts = [], []
        for condition in np.setdiff1d(self.condition[spills], self.condition[drafting]).tolist():
            near = drafting[np.isin(self.condition[drafting], np.flatnonzero(_one_change(self.states, condition)))]
            if near.size:
                before, here = self.states[self.condition[near]], self.states[np.full(near.size, condition)]
                which.append(condition)
                starts.append(carried_over(self.network, before, self.drawn[:, near], here).max(axis=1))
        return self.try_from(np.array(which, int), np.array(starts).T, np.full(len(which), BEFORE))

    def _patterns(self, drawn: np.ndarray) -> np.ndarray:
        """Which way every hood and regulator goes (columns, hoods)."""
        return (drawn[self.hoods] < -_BACK).T.astype(int)

    def _drop_twins(self) -> None:
        """Leave out further roots that the first of their condition has become; one takes the place of a lost first."""
        total, extra = len(self.states), joined(self.extra) if self.extra else None
        if extra is None:
            return
        of = self.condition[total:]
        lost = np.flatnonzero(~self.first.converged[of] & extra.converged)
        _, once = np.unique(of[lost], return_index=True)
        self.first = self.first.put(of[lost[once]], extra.columns(lost[once]))
        self.history[of[lost[once]]] = self.history[total:][lost[once]]
        near = SAME * scale(self.prescribed[:, of], extra.drawn)
        keep = (np.abs(self.first.drawn[:, of] - extra.drawn) > near).any(axis=0)
        self.extra = [extra.columns(keep)]
        self.condition = np.concatenate([self.condition[:total], of[keep]])
        self.history = np.concatenate([self.history[:total], self.history[total:][keep]])

    def reached(self) -> Reached:
        """All of it, the further roots behind the first of every condition, in the order of the conditions."""
        self._drop_twins()
        total = len(self.states)
        order = total + np.argsort(self.condition[total:], kind="stable")
        order = np.concatenate([np.arange(total), order])
        solution = joined([self.first, *self.extra]).columns(order)
        return Reached(solution, self.condition[order], self.history[order])


@dataclass(frozen=True)
class Idle:
    """A vent with every burner off and cold walls, in every weather once: ``solution`` where it comes to from rest, and
    behind that from turned over; ``column`` of either that each state belongs to."""

    solution: Solution
    column: np.ndarray

    @property
    def drawn(self) -> list[np.ndarray]:
        """What is drawn [kg/s] (appliances, states), from rest and from turned over; nothing where it finds no rest."""
        drawn = np.where(self.solution.converged, self.solution.drawn, 0.0)
        return [own[:, self.column] for own in np.split(drawn, 2, axis=1)]


def idle(network: Network, states: States, added: np.ndarray | None = None) -> Idle:
    """The vent as it stands with every burner off in the weather of each state."""
    weather = _idle_states(states)
    cases = [] if states.wind_case is None else [states.wind_case]
    key = np.vstack([weather.season, weather.windy, *cases, *([] if added is None else added)])
    _, first, of = np.unique(key, axis=1, return_index=True, return_inverse=True)
    one, own = weather[first], None if added is None else added[:, first]
    down = [-_TURNED * network.outlet_area[i] * network.outdoor_density[one.season] for i in range(len(states.codes))]
    begin = np.concatenate([np.zeros_like(one.codes, float), np.array(down)], axis=1)
    twice = np.tile(np.arange(len(one)), 2)
    return Idle(follow(network, one[twice], begin, None if own is None else own[:, twice]), of.ravel())


def _idle_states(states: States) -> States:
    return replace(states, codes=np.zeros_like(states.codes), cold=np.ones(len(states)))


def lit_from_idle(network: Network, states: States, stood: Idle) -> np.ndarray:
    """What is drawn [kg/s] when burners are lit under a vent at rest or as it stood idle, the lower at each way in."""
    return np.minimum(_when_lit(network, states, stood)[0], _still(network, states))


def _when_lit(network: Network, states: States, stood: Idle) -> tuple[np.ndarray, np.ndarray]:
    """What is drawn in the moment of lighting by a vent that stood idle and cold: from rest, and turned over before."""
    return tuple(carried_over(network, _idle_states(states), drawn, states) for drawn in stood.drawn)


def _still(network: Network, states: States) -> np.ndarray:
    """What is drawn while nothing flows in from the hoods: all that a burner sends goes out of its own.

    A breath goes down the vent, so that it is full of air. At the least flow upward it would be full of flue gas that
    has gone cold, heavier than air, and stop itself: a stay of no width, which `follow` steps over.
    """
    nothing = replace(states, codes=np.zeros_like(states.codes))
    breath = np.where(network.on_total, -_BACK, 0.0)[:, None]
    return carried_over(network, nothing, np.broadcast_to(breath, states.codes.shape), states)


def _into_room(drawn: np.ndarray) -> np.ndarray:
    """Gas [kg/s] that all ways in together send into the room."""
    return np.maximum(-drawn, 0.0).sum(axis=0)


def _each_once(which: np.ndarray) -> list[np.ndarray]:
    """Places of what comes several times in ``which``, in parts in which each comes once."""
    order = np.argsort(which, kind="stable")
    first = np.flatnonzero(np.diff(which[order], prepend=-1))
    rank = np.arange(which.size) - np.repeat(first, np.diff(first, append=which.size))
    return [np.sort(order[rank == r]) for r in range(int(rank.max(initial=-1)) + 1)]


def _one_change(states: States, at: int) -> np.ndarray:
    """States that differ from one by what one appliance does, or the weather, or the walls."""
    weather = (states.season != states.season[at]) | (states.windy != states.windy[at])
    if states.wind_case is not None:
        weather |= states.wind_case != states.wind_case[at]
    walls = states.cold != states.cold[..., [at]]
    walls = walls.any(axis=0) if walls.ndim > 1 else walls
    changed = (states.codes != states.codes[:, [at]]).sum(axis=0) + weather + walls
    return changed == 1
