"""Roots: the several steady states that one vent can have, and which of them its past leads to.

A hood's vent may draft or be turned over, with the same burner lit in the same weather: warm gas in the flue holds the
one, outdoor air that falls down it holds the other. Which one comes depends on what was before, so what burns and how
the wind blows does not tell a state. `follow` goes from given flows to where the vent comes to rest, by

    sum over the sections on its way of (L/A) d(flow)/dt = mismatch of pressure at a way in from the room

in short implicit steps, so that it goes the way of the gas and does not jump as a search may. `reach` begins at every
past that a person can give a vent. `census` finds all roots of a state with one unknown flow by a scan of its mismatch,
`is_stable` says whether a root bears a disturbance.

Temperatures follow the flows at once (walls stay cold where `States.cold` says so). With one unknown flow `census`
finds every root but pairs closer than a step of its scan. `follow` may step over two roots that lie nearer to each
other than a sixth of an appliance's flow; where they lie farther apart it ended, in all plants of the tests, at the
next stable root on the side to which the mismatch points. With several unknown flows each root found is one, and its
stability is tested; that there are no others is not proved.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from ventcalc.units import GRAVITY
from ventcalc.vent.common_vent import (
    _OF_APPLIANCES,
    _OF_SECTIONS,
    _OF_STATES,
    BLOCK,
    TOLERANCE,
    Solution,
    States,
    _Feed,
    _store,
    _Sweep,
    solve_network,
)
from ventcalc.vent.network import Network

HISTORIES = (
    "the vent full of hot gas before",
    "the vent at rest before",
    "lit from idle",
    "after what ran before",
)
HOT, REST, IDLE, BEFORE = range(len(HISTORIES))

SAME = 5e-3  # of the vent's flows: roots nearer to each other are one
_CLOSE = 0.02  # Pa; nearer than that Newton's method takes over from `follow`
_MOST_STEPS = 200
_AROUND, _TURNS = 1.0, 4  # Pa, and turns to and fro: nearer than that, after so many, Newton's method is tried
_MOST_TURNS = 16  # then it flutters, about a jump of the mismatch or between two points
_STILL = 1e-6  # of the longest step: what goes to and fro by less stands at a jump
_FIRST_STEP, _LONGEST_STEP = 0.1, 100.0  # s
_GROWTH, _MOST_BOOST = 1.3, 30.0  # of one step to the next that goes the same way
_REACH = 0.15  # of an appliance's flow: how far one step may go
_USUAL = 0.3  # m/s in its outlet: where little flows, steps are taken by that
_LEAST_SCALE = 1e-4  # kg/s, of the flows of a vent that hardly flows
_TURNED = 3.0  # m/s of outdoor air down every way in: a gust, or an exhaust fan that ran
_BRISK, _MOST_FREE = 4.0, 6  # m/s at a way in, and the unknown flows, of `every_way`
_ROUNDS = 4  # of changes one after the other, in `reach`
_BACK = 1e-6  # kg/s, less is called still


# --- From given flows to rest --------------------------------------------------------------------------------


def follow(
    network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None, near: bool = False
) -> Solution:
    """Where a vent comes to rest from the flows ``drawn`` (appliances, states) [kg/s] through its ways in.

    ``added`` as in `common_vent.solve`. ``near``: they were at rest a moment ago, and Newton's method is tried at once.

    What finds no rest is marked as not converged: it flutters, or the mismatch jumps where it stands still. Of the
    flows it came by since it first turned round, it then holds those that send most gas into the room.
    """
    total, shape = len(states), (len(network.pipes), len(states))
    found = {name: np.empty(shape) for name in _OF_SECTIONS}
    found |= {name: np.empty((len(network.fed_by), total)) for name in _OF_APPLIANCES}
    found |= {name: np.empty(total) for name in _OF_STATES} | {"converged": np.empty(total, bool)}
    drawn = np.asarray(drawn, float)
    for start in range(0, total, BLOCK):
        _follow_block(network, states, added, drawn, np.arange(start, min(start + BLOCK, total)), found, near)
    return Solution(network.plant, network.seasons, states, network.pressure, **found)


def _follow_block(network: Network, states: States, added, drawn, todo: np.ndarray, found: dict, near: bool) -> None:
    """Follow the states ``todo`` and write them into their places of ``found``; those that have come to rest leave.

    Warming that drives the flow is held during a step in time, so that each goes where the mismatch points to, never to
    a point from which a vent flees. Near the point of rest Newton's method takes over, with steps of no length in time;
    where it goes astray or comes no nearer, the steps in time go on from where it began, to the end.
    """
    feed = _Feed(network, states[todo], None if added is None else added[:, todo])
    drawn = np.where(np.isfinite(feed.resistance), drawn[:, todo], 0.0)
    at, guess = _Walk(drawn, near), None
    for turn in range(_MOST_STEPS):
        sweep = _Sweep(network, feed, list(at.drawn), guess)
        error, guess = sweep.residual, [run.outlet for run in sweep.runs]
        usual = _usual(network, feed, at.drawn)
        at.look(error, usual)
        done = error <= TOLERANCE
        if done.any():
            _store(sweep, done, todo, found)
        stuck = at.stuck & ~done
        keep = ~(done | stuck)
        if stuck.any() or (turn == _MOST_STEPS - 1 and keep.any()):
            left = ~done if turn == _MOST_STEPS - 1 else stuck
            worst = _Sweep(network, feed.only(left), list(at.worst[:, left]))
            _store(worst, np.ones(int(left.sum()), bool), todo[left], found)
            found["converged"][todo[left]] = False
        if not keep.any():
            return
        newton = at.newton
        change = np.array(sweep.newton_step(np.where(newton, 1.0, 0.0), np.where(newton, 0.0, 1.0 / at.step)))
        at.go(change, usual)
        if not keep.all():
            feed, todo, guess = feed.only(keep), todo[keep], [a[keep] for a in guess]
            at.only(keep)


class _Walk:
    """Where the states of a block are on their way, one column each, and how they go on."""

    def __init__(self, drawn: np.ndarray, near: bool):
        total = drawn.shape[1]
        self.drawn, self.worst, self.before = drawn, drawn.copy(), np.zeros_like(drawn)
        self.step, self.boost = np.full(total, _FIRST_STEP), np.ones(total)
        self.turns, self.next_try = np.zeros(total, int), np.full(total, _TURNS)
        self.newton, self.back, self.stuck = np.full(total, near), np.zeros(total, bool), np.zeros(total, bool)
        self.error, self.close = np.full(total, np.inf), np.full(total, _CLOSE)
        self.begun, self.began = drawn.copy(), np.full(total, np.inf)  # where Newton's method began, how near

    def only(self, keep: np.ndarray) -> None:
        """Leave out what has come to rest."""
        for name, values in vars(self).items():
            setattr(self, name, values[..., keep])

    def look(self, error: np.ndarray, usual: np.ndarray) -> None:
        """Take in how far from rest the states are; begin Newton's method, or give it up."""
        more = (np.minimum(self.drawn, 0.0).sum(axis=0) < np.minimum(self.worst, 0.0).sum(axis=0)) | (self.turns == 0)
        self.worst = np.where(more, self.drawn, self.worst)
        strayed = (np.abs(self.drawn - self.begun) / usual).max(axis=0) > _REACH
        self.back = self.newton & ((error > 0.9 * self.error) | strayed)
        self.drawn = np.where(self.back, self.begun, self.drawn)
        self.close = np.where(self.back, np.minimum(0.1 * self.began, self.close), self.close)
        begins = ~self.newton & ((error <= self.close) | ((self.turns >= self.next_try) & (error <= _AROUND)))
        self.next_try = np.where(begins, self.turns + _TURNS, self.next_try)
        self.begun, self.began = np.where(begins, self.drawn, self.begun), np.where(begins, error, self.began)
        self.newton = (self.newton | begins) & ~self.back
        self.error = error

    def go(self, change: np.ndarray, usual: np.ndarray) -> None:
        """Go on by a ``change``: where steps go one way they grow, where they turn they begin small again.

        Where Newton's method was given up, the flows have gone back already, and the change is not theirs.
        """
        change = np.where(self.back, 0.0, change)
        far = np.maximum((np.abs(change) / (_REACH * usual)).max(axis=0), 1e-300)
        on = (change * self.before).sum(axis=0)
        turned, alone, in_time = on < 0.0, self.boost == 1.0, ~(self.newton | self.back)
        self.turns += in_time & turned
        still = (self.turns >= _TURNS) & (far < _STILL) & (self.error > 10.0 * TOLERANCE)
        self.stuck = in_time & (still | (self.turns > _MOST_TURNS))
        self.before = np.where(in_time, change, self.before)
        boost = np.where(on > 0.0, np.minimum(_GROWTH * self.boost, _MOST_BOOST), 1.0)  # to pass a narrow place
        self.boost = np.where(in_time, boost, 1.0)
        self.drawn = self.drawn + change * np.minimum(self.boost, 1.0 / far)
        step = np.clip(0.9 / far, 0.4, 3.0) * self.step
        step = np.minimum(np.where(turned & alone, 0.1, 1.0) * step, _LONGEST_STEP)
        self.step = np.where(in_time, step, self.step)


def scale(prescribed: Sequence[np.ndarray], drawn: np.ndarray) -> np.ndarray:
    """Size [kg/s] of a vent's flows, per state, by which two roots are near."""
    return np.maximum(sum(np.abs(d) + p for d, p in zip(drawn, prescribed, strict=True)), _LEAST_SCALE)


def _usual(network: Network, feed: _Feed, drawn: np.ndarray) -> np.ndarray:
    """Flow [kg/s] by which a step is short, per way in: its appliance's own, or that of a brisk vent."""
    own = np.array([np.abs(d) + p for d, p in zip(drawn, feed.prescribed, strict=True)])
    return np.maximum(own, _USUAL * network.outlet_area[:, None] * feed.outdoor_density)


def carried_over(network: Network, before: States, drawn: np.ndarray, states: States) -> np.ndarray:
    """What is drawn [kg/s] in the moment in which ``before`` becomes ``states``: the gas in the vent flows on.

    What a burner sends more, its hood draws less at first. A regulator, and a boiler that leaks, draws on.
    """
    was, now = _Feed(network, before), _Feed(network, states)
    found = np.array(drawn, float)
    for i in np.flatnonzero(network.on_total):
        found[i] += was.prescribed[i] - now.prescribed[i]
    return np.where(np.isfinite(now.resistance), found, 0.0)


# --- What a root is worth --------------------------------------------------------------------------------------


def inertance(network: Network) -> np.ndarray:
    """Sum of L/A [1/m] over the sections that two ways out share (appliances, appliances): inertia of the gas."""
    passed = np.zeros((len(network.fed_by), len(network.pipes)))
    for i, row in enumerate(network.fed_by):
        while row >= 0:
            passed[i, row] = 1.0
            row = network.pipes[row].parent
    return (passed * [p.length / p.area for p in network.pipes]) @ passed.T


def growth(network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None) -> np.ndarray:
    """Fastest growth [1/s] of a small disturbance of the flows ``drawn``, per state; negative where all die away.

    The greatest real part of the eigenvalues of inertance^-1 times the slopes of the mismatch, by central differences.
    """
    feed = _Feed(network, states, added)
    free, total = np.isfinite(feed.resistance), len(states)
    size = scale(feed.prescribed, drawn)
    slopes = np.zeros((total, *inertance(network).shape))
    for j in feed.free:
        ends = []
        for sign in (1.0, -1.0):
            moved = np.array(drawn, float)
            moved[j] += sign * 1e-5 * size * free[j]
            ends.append(_mismatch(network, feed, moved))
        slopes[:, :, j] = ((ends[0] - ends[1]) / (2e-5 * size)).T
    both = free.T[:, :, None] & free.T[:, None, :]
    own = np.eye(free.shape[0], dtype=bool) & ~both  # a way in that is shut bears anything
    mass = np.where(both, inertance(network), own)
    return np.linalg.eigvals(np.linalg.solve(mass, np.where(both, slopes, -1.0 * own))).real.max(axis=-1)


def is_stable(network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None) -> np.ndarray:
    """Where flows ``drawn`` come back by themselves after a small disturbance, per state."""
    return growth(network, states, drawn, added) < 0.0


def _mismatch(network: Network, feed: _Feed, drawn: np.ndarray) -> np.ndarray:
    """Mismatch [Pa] at every way in (appliances, states); 0 where it is shut."""
    sweep = _Sweep(network, feed, list(drawn))
    _ = sweep.residual
    nothing = np.zeros(feed.outdoor.size)
    return np.array([sweep.mismatch.get(i, nothing) for i in range(len(feed.prescribed))])


# --- All roots of a state with one unknown flow ------------------------------------------------------------------


@dataclass(frozen=True)
class Census:
    """All roots of states with one unknown flow: ``state`` of each, its ``drawn`` [kg/s], whether it is ``stable``.

    ``jumps`` tells the states in which the mismatch changes its sign by a jump, with the flow there in ``jump_drawn``:
    no flow balances it, and the vent stands still or flutters.
    """

    state: np.ndarray
    drawn: np.ndarray
    stable: np.ndarray
    jumps: np.ndarray
    jump_drawn: np.ndarray

    def of(self, state: int) -> np.ndarray:
        """The roots [kg/s] of one state, lowest first."""
        return np.sort(self.drawn[self.state == state])


def census(network: Network, states: States, added: np.ndarray | None = None, points: int = 400) -> Census:
    """Every root of every state, by a scan of the mismatch over the one unknown flow; sign changes are halved.

    ``points`` of the scan lie evenly between two flows beyond which the losses are greater than all that could drive.
    Two roots between two neighbouring points are missed. Raises ValueError where not just one flow is unknown.
    """
    feed = _Feed(network, states, added)
    free = np.isfinite(feed.resistance)
    if (free.sum(axis=0) != 1).any():
        raise ValueError(f"the census needs one unknown flow a state, here are up to {free.sum(axis=0).max()}")
    ends = _beyond(network, feed, free)
    grid = np.linspace(-ends - np.where(free, feed.prescribed, 0.0).sum(axis=0), ends, points)
    column = np.tile(np.arange(len(states)), points)
    value = _one_mismatch(network, states, added, column, grid.ravel()).reshape(grid.shape)
    at, which = np.nonzero(value[1:] * value[:-1] <= 0.0)
    low, high = grid[at, which], grid[at + 1, which]
    stable = value[at, which] > value[at + 1, which]
    for _ in range(50):
        middle = 0.5 * (low + high)
        below = (_one_mismatch(network, states, added, which, middle) > 0.0) == stable
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    left = [_one_mismatch(network, states, added, which, end) for end in (low, high)]
    jump = np.abs(left[1] - left[0]) > 10.0 * TOLERANCE
    return Census(which[~jump], low[~jump], stable[~jump], which[jump], low[jump])


def _one_mismatch(network: Network, states: States, added, which, flow) -> np.ndarray:
    """Mismatch [Pa] of states ``which`` at their one unknown flow."""
    found = np.empty(which.size)
    for start in range(0, which.size, BLOCK):
        part = slice(start, start + BLOCK)
        feed = _Feed(network, states[which[part]], None if added is None else added[:, which[part]])
        drawn = np.where(np.isfinite(feed.resistance), flow[part], 0.0)
        found[part] = _mismatch(network, feed, drawn).sum(axis=0)
    return found


def _beyond(network: Network, feed: _Feed, free) -> np.ndarray:
    """Flow [kg/s], either way, at which losses exceed twice what could drive: a vent full of nothing, wind and fans."""
    height = sum(abs(p.rise) for p in network.pipes)
    drive = GRAVITY * height * feed.outdoor_density + np.abs(feed.room_gauge).max(axis=0) + np.abs(feed.wind_head)
    drive = drive + max(network.threshold) + (0.0 if feed.added is None else np.abs(feed.added).sum(axis=0))
    flow = scale(feed.prescribed, np.zeros_like(feed.prescribed))
    for _ in range(60):
        up, down = (_mismatch(network, feed, np.where(free, sign * flow, 0.0)).sum(axis=0) for sign in (1.0, -1.0))
        short = (up > -2.0 * drive) | (down < 2.0 * drive)
        if not short.any():
            break
        flow = np.where(short, 1.5 * flow, flow)
    return flow


def every_way(network: Network, state: States, added: np.ndarray | None = None) -> np.ndarray:
    """Stable roots [kg/s] of one state (appliances, roots), followed from every pattern of flows forward and backward.

    A brisk flow one way or the other, or none, at each way in: 3^n starts. Raises ValueError where more than
    six flows are unknown. That no root has escaped is proved for one unknown flow only (`census`).
    """
    free = _Feed(network, state).free
    if len(state) != 1 or len(free) > _MOST_FREE:
        raise ValueError(f"every_way needs one state of at most {_MOST_FREE} unknown flows, here {len(free)}")
    ways = _BRISK * (np.indices([3] * len(free)).reshape(len(free), -1) - 1)
    many = state[np.zeros(ways.shape[1], int)]
    feed = _Feed(network, many)
    drawn = np.zeros((len(network.fed_by), ways.shape[1]))
    for i, way in zip(free, ways, strict=True):
        drawn[i] = way * network.outlet_area[i] * feed.outdoor_density - feed.prescribed[i]
    own = None if added is None else added[:, np.zeros(ways.shape[1], int)]
    ended = follow(network, many, drawn, own)
    good = ended.converged & is_stable(network, many, ended.drawn, own)
    found: list[np.ndarray] = []
    for k in np.flatnonzero(good):
        near = SAME * scale(feed.prescribed, ended.drawn)[k]
        if all(np.abs(ended.drawn[:, k] - other).max() > near for other in found):
            found.append(ended.drawn[:, k])
    return np.array(found).reshape(len(found), -1).T


# --- What a person's past reaches ----------------------------------------------------------------------------------


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
    idle, turned = _idle(network, states, added)
    rest = _still(network, states)
    lowest = np.minimum(idle, rest)  # going up from there, a vent comes to its lowest root
    found.try_from(order, lowest, np.where((idle < rest).any(axis=0), IDLE, REST))
    more = found.many | (np.abs(turned - idle) > _BACK).any(axis=0)
    tried, starts = [lowest], []
    for start, history in ((rest, REST), (idle, IDLE), (turned, IDLE)):
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
        feed = _Feed(network, states, added)
        self.prescribed = np.array(feed.prescribed)
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
        return sum(self._take(which[once], columns(found, once), history[once]) for once in _each_once(which))

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
            self._keep(which[new], columns(found, new), history[new])
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
        feed = _Feed(self.network, states[~stands], own)
        full = np.array(feed.first_guess(_Sweep(self.network, feed, feed.nothing_drawn())))
        again = follow(self.network, states[~stands], full, own)
        better = again.converged | ~self.first.converged[falls]
        places = falls[better]
        self.first = put(self.first, places, columns(again, better))
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
        total, extra = len(self.states), _joined(self.extra) if self.extra else None
        if extra is None:
            return
        of = self.condition[total:]
        lost = np.flatnonzero(~self.first.converged[of] & extra.converged)
        _, once = np.unique(of[lost], return_index=True)
        self.first = put(self.first, of[lost[once]], columns(extra, lost[once]))
        self.history[of[lost[once]]] = self.history[total:][lost[once]]
        near = SAME * scale(self.prescribed[:, of], extra.drawn)
        keep = (np.abs(self.first.drawn[:, of] - extra.drawn) > near).any(axis=0)
        self.extra = [columns(extra, keep)]
        self.condition = np.concatenate([self.condition[:total], of[keep]])
        self.history = np.concatenate([self.history[:total], self.history[total:][keep]])

    def reached(self) -> Reached:
        """All of it, the further roots behind the first of every condition, in the order of the conditions."""
        self._drop_twins()
        total = len(self.states)
        order = total + np.argsort(self.condition[total:], kind="stable")
        order = np.concatenate([np.arange(total), order])
        solution = columns(_joined([self.first, *self.extra]), order)
        return Reached(solution, self.condition[order], self.history[order])


def lit_from_idle(network: Network, states: States, added: np.ndarray | None = None) -> np.ndarray:
    """What is drawn [kg/s] when burners are lit under a vent at rest or as it stands idle, the lower at each way in."""
    return np.minimum(_idle(network, states, added)[0], _still(network, states))


def _idle(network: Network, states: States, added) -> tuple[np.ndarray, np.ndarray]:
    """What is drawn in the moment of lighting by a vent that stood idle and cold: from rest, and turned over before."""
    weather = replace(states, codes=np.zeros_like(states.codes), cold=np.ones(len(states)))
    cases = [] if states.wind_case is None else [states.wind_case]
    key = np.vstack([weather.season, weather.windy, *cases, *([] if added is None else added)])
    _, first, of = np.unique(key, axis=1, return_index=True, return_inverse=True)
    one, own = weather[first], None if added is None else added[:, first]
    down = [-_TURNED * network.outlet_area[i] * network.outdoor_density[one.season] for i in range(len(states.codes))]
    begin = np.concatenate([np.zeros_like(one.codes, float), np.array(down)], axis=1)
    twice = np.tile(np.arange(len(one)), 2)
    stood = follow(network, one[twice], begin, None if own is None else own[:, twice])
    at = [drawn[:, of.ravel()] for drawn in np.split(np.where(stood.converged, stood.drawn, 0.0), 2, axis=1)]
    return tuple(carried_over(network, weather, drawn, states) for drawn in at)


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
    changed = (states.codes != states.codes[:, [at]]).sum(axis=0) + weather + (states.cold != states.cold[at])
    return changed == 1


# --- Columns of solutions --------------------------------------------------------------------------------------------


def _arrays(solution: Solution) -> list[str]:
    return [f.name for f in fields(solution) if isinstance(getattr(solution, f.name), np.ndarray)]


def columns(solution: Solution, pick) -> Solution:
    """Some states of a solution: ``pick`` as an index into its last axis (a slice, indices or a mask)."""
    taken = {name: getattr(solution, name)[..., pick] for name in _arrays(solution)}
    return replace(solution, states=solution.states[pick], **taken)


def put(solution: Solution, places, columns: Solution) -> Solution:
    """A solution with other columns at some places."""
    found = {name: getattr(solution, name).copy() for name in _arrays(solution)}
    for name, values in found.items():
        values[..., places] = getattr(columns, name)
    return replace(solution, **found)


def _joined(parts: list[Solution]) -> Solution:
    """Solutions one behind the other."""
    found = {name: np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _arrays(parts[0])}
    states = [p.states for p in parts]
    names = [f.name for f in fields(States) if getattr(states[0], f.name) is not None]
    both = {name: np.concatenate([getattr(s, name) for s in states], axis=-1) for name in names}
    return replace(parts[0], states=States(**both), **found)
