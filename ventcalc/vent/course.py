"""Course: what burners and weather do in time, and the steady state that comes before.

What `transient` follows. A course is a set of knots with straight lines between them; a `Start` is the usual one: a
call, a purge, a light-off. `Inputs` turns a course into what enters the vent, time after time, and `beginning` says how
gas, walls and flows stand at first. Plain SI arrays, the last axis is the runs.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.gas import streams
from ventcalc.gas.streams import TRACE
from ventcalc.vent import gas_content
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.gas_column import Beginning
from ventcalc.vent.gas_content import CONTENTS, GAS, MASS
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

_STILL = 1e-8  # kg/s; gas of a section that flows less is that of its surroundings when a run begins


@dataclass(frozen=True)
class Moves:
    """From which codes to which a run goes in every stretch between two knots, straight in what flows.

    ``begin`` and ``end`` (appliances, stretches, runs) are codes; ``low`` and ``high`` (stretches, runs) the shares of
    the way at the stretch's two ends, since a move may take longer than one. What is sent then mixes by mass between
    the two, whatever codes lie between them: a burner that stops runs down from where it was.
    """

    begin: np.ndarray
    end: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True)
class Course:
    """What happens in every run (last axis): straight lines between the knots ``time`` (knots) [s], the first at 0.

    ``codes`` (appliances, knots, runs) and ``windy`` (knots, runs) as in `States`; ``season`` (runs). ``start``: the
    steady states in which the runs begin, their walls as ``cold`` says; None: all gas at rest at the temperature
    of its surroundings. ``moves``: None where codes go straight between the knots, through all that lie between. Raises
    ValueError for shapes that do not fit and times that do not rise from 0.
    """

    time: np.ndarray
    codes: np.ndarray
    season: np.ndarray
    windy: np.ndarray
    start: States | None = None
    moves: Moves | None = None

    def __post_init__(self):
        knots, runs = self.codes.shape[1:]
        if self.time.shape != (knots,) or knots < 2 or self.time[0] != 0.0 or not (np.diff(self.time) > 0.0).all():
            raise ValueError(f"course: times {self.time} must be {knots}, at least 2, and rise from 0 s")
        if self.season.shape != (runs,) or self.windy.shape != (knots, runs):
            raise ValueError(f"course: season {self.season.shape} and windy {self.windy.shape} must fit {runs} runs")
        if self.start is not None and self.start.codes.shape != (len(self.codes), runs):
            raise ValueError(f"course: start has codes {self.start.codes.shape}, must be {(len(self.codes), runs)}")

    def states(self, time: np.ndarray) -> States:
        """The states at the given times, time after time (times x runs in one axis)."""
        knot = np.clip(np.searchsorted(self.time, time, side="right") - 1, 0, self.time.size - 2)
        share = np.clip((time - self.time[knot]) / np.diff(self.time)[knot], 0.0, 1.0)[:, None]
        codes = (1.0 - share) * self.codes[:, knot] + share * self.codes[:, knot + 1]
        windy = (1.0 - share) * self.windy[knot] + share * self.windy[knot + 1]
        season = np.tile(self.season, time.size)
        # A code that should be whole must not miss it by rounding: it would be one level short.
        codes = np.where(np.abs(codes - np.round(codes)) < 1e-9, np.round(codes), codes)
        return States(codes.reshape(len(codes), -1), season, np.zeros(season.size), windy.ravel())

    def between(self, time: np.ndarray) -> tuple[States, States | None, np.ndarray | None]:
        """Two states for every time, and the share of the way from one to the other; `states` alone without moves."""
        states = self.states(time)
        if self.moves is None:
            return states, None, None
        knot = np.clip(np.searchsorted(self.time, time, side="right") - 1, 0, self.time.size - 2)
        local = np.clip((time - self.time[knot]) / np.diff(self.time)[knot], 0.0, 1.0)[:, None]
        moves, count = self.moves, len(states.codes)
        share = moves.low[knot] + local * (moves.high[knot] - moves.low[knot])
        ends = (replace(states, codes=codes[:, knot].reshape(count, -1)) for codes in (moves.begin, moves.end))
        return *ends, share.ravel()


@dataclass(frozen=True)
class Start:
    """One change of what the appliances do, from the call at 0 s.

    Codes ``before`` and ``after``, one an appliance, as in `States`. An appliance that lights (off before, firing
    after) and can purge does so for ``purge`` [s], its fan coming up within ``fan`` [s]; at light-off, the purge being
    over, every appliance goes to its new code within ``ramp`` [s]. ``season``, ``windy`` and ``cold``: those of the
    steady state before, with its walls, as in `States`. What an appliance sends goes straight from one code to the next
    (`Moves`).
    """

    before: tuple[float, ...]
    after: tuple[float, ...]
    purge: float = 0.0
    fan: float = 2.0
    ramp: float = 2.0
    season: int = 0
    windy: float = 0.0
    cold: float = 1.0

    @property
    def light_off(self) -> float:
        """When the burners light [s]."""
        return self.fan + self.purge if self.purge > 0.0 else 0.0

    def codes(self, plant: Plant) -> tuple[np.ndarray, np.ndarray]:
        """Knots [s] and what every appliance does there (appliances, knots)."""
        lit = self.light_off
        if lit == 0.0:
            return np.array([0.0, self.ramp]), np.array([self.before, self.after], float).T
        held = [
            1.0 if "purge" in a.states and b == 0.0 and c > 1.0 else b
            for a, b, c in zip(plant.appliances, self.before, self.after, strict=True)
        ]
        return np.array([0.0, self.fan, lit, lit + self.ramp]), np.array([self.before, held, held, self.after], float).T


@door(plain={"duration": "s"}, above={"duration": 0.0})
def course_of(plant: Plant, changes: Sequence[Start], duration: float) -> Course:
    """The course in which every run is one of ``changes``, for a ``duration`` [s].

    Raises ValueError where a ramp or a fan takes no time, or a start is not over within the duration.
    """
    for change in changes:
        if not (change.ramp > 0.0 and change.fan > 0.0 and change.light_off + change.ramp < duration):
            raise ValueError(f"start: {change} needs a ramp and fan above 0 s and must be over within {duration:g} s")
    courses = [change.codes(plant) for change in changes]
    time = np.unique(np.concatenate([[duration], *(t for t, _ in courses)]))
    codes = np.array([[np.interp(time, t, own) for own in c] for t, c in courses]).transpose(1, 2, 0)
    season = np.array([c.season for c in changes])
    windy, cold = (np.array([getattr(c, name) for c in changes], float) for name in ("windy", "cold"))
    before = States(np.array([c.before for c in changes], float).T, season, cold, windy)
    wind = np.broadcast_to(windy, (time.size, windy.size))
    return Course(time, codes, season, wind, before, moves_of(time, courses))


def moves_of(time: np.ndarray, courses: Sequence[tuple[np.ndarray, np.ndarray]]) -> Moves:
    """Moves of runs with knots and codes (appliances, knots) as in ``courses``, between the knots ``time`` of all."""
    begin, end, low, high = [], [], [], []
    for own, codes in courses:
        codes = np.concatenate([codes, codes[:, -1:]], axis=1)  # what it has come to it keeps
        own = np.concatenate([own, [max(time[-1], own[-1]) + 1.0]])
        at = np.searchsorted(own, time[:-1] + 1e-9, side="right") - 1
        length = np.diff(own)[at]
        begin.append(codes[:, at])
        end.append(codes[:, at + 1])
        low.append((time[:-1] - own[at]) / length)
        high.append((time[1:] - own[at]) / length)
    begin, end = (np.array(c).transpose(1, 2, 0) for c in (begin, end))
    return Moves(begin, end, np.array(low).T, np.clip(np.array(high).T, 0.0, 1.0))


class Inputs:
    """What appliances and weather bring, for a chunk of times; arrays (times, runs) or (..., times, runs)."""

    def __init__(self, network: Network, grid: Grid, states: States, towards: States | None = None, share=None):
        """What comes in ``states``, or ``share`` of the way ``towards`` others: mixed by mass, contents by volume."""
        self.feed = Boundary(network, states)
        self.prescribed, self.content = _sent(network, grid, states, self.feed)
        if towards is None:
            return
        other = Boundary(network, towards)
        prescribed, content = _sent(network, grid, towards, other)
        flows = (1.0 - share) * self.prescribed, share * prescribed
        volumes = [(flow + TRACE) / c[MASS] for flow, c in zip(flows, (self.content, content), strict=True)]
        total = sum(volumes)
        self.prescribed = sum(flows)
        self.content = (volumes[0] * self.content + volumes[1] * content) / total
        # An outlet that is shut at either end of the way is shut on it.
        before, after = np.array(self.feed.resistance), np.array(other.resistance)
        on_way = np.where(share > 0.0, np.maximum(before, after), before)
        self.feed.resistance = list(np.where(share < 1.0, on_way, after))


def _sent(network: Network, grid: Grid, states: States, feed: Boundary) -> tuple[np.ndarray, np.ndarray]:
    """What the appliances send [kg/s], and what a volume of it holds (contents, appliances, states)."""
    prescribed, pressure = np.array(feed.prescribed), network.pressure
    held = np.empty((CONTENTS, *prescribed.shape))
    for a in range(len(prescribed)):
        flue = _flue_share(network, a, states, prescribed[a])
        gas = np.concatenate([feed.gas[a], flue[None]])
        heat = streams.enthalpy(gas, feed.temperature[a], pressure)
        local = grid.pressure[grid.first[grid.fed[a]]]
        held[:, a] = gas_content.content(gas, feed.temperature[a], heat, local, pressure)
    return prescribed, held


def _flue_share(network: Network, a: int, states: States, prescribed):
    """Share of what an appliance sends that is flue gas, not air."""
    firing = np.array([name not in ("off", "purge") for name in network.plant.appliances[a].states], float)
    code = states.codes[a].astype(int)
    between = states.codes[a] - code
    following = code + (between > 0.0)
    table = network.prescribed[a] * firing
    flue = (1.0 - between) * table[states.season, code] + between * table[states.season, following]
    return flue / np.maximum(prescribed, TRACE)


# --- Where a run begins ---------------------------------------------------------------------------------------


def beginning(grid: Grid, course: Course, around, air) -> tuple[Beginning, np.ndarray | None]:
    """Gas and walls to begin with, and what is drawn (None: all at rest)."""
    gas = np.repeat(air[:, None], grid.real.size, axis=1)
    if course.start is None:
        return Beginning(around.copy(), gas, np.zeros(course.season.size)), None
    solution = solve_network(grid.network, course.start)
    bad = ~solution.converged
    if bad.any():
        raise ValueError(f"course: {bad.sum()} of {bad.size} states to start from have no steady solution")
    temperature = around.copy()
    for i, own in enumerate(_steady_gas(grid, solution, air)):
        places = slice(grid.first[i] - 1, grid.last[i] + 2)
        count = grid.last[i] - grid.first[i] + 1
        share = np.concatenate(([0.0], (np.arange(count) + 0.5) / count, [1.0]))[:, None]
        near, far = solution.upstream[i], solution.downstream[i]
        flows = np.abs(solution.flow[i]) > _STILL
        temperature[places] = np.where(flows, _profile(near, far, around[grid.first[i]], share), temperature[places])
        gas[:, places] = np.where(flows, own, air)[:, None]
    return Beginning(temperature, gas, 1.0 - course.start.cold.astype(float)), solution.drawn


def _profile(near, far, around, share):
    """Gas that nears its surroundings exponentially between the temperatures of two ends."""
    one, other = near - around, far - around
    ratio = np.where(one * other > 0.0, other / np.where(one == 0.0, 1.0, one), 0.0)
    straight = one + share * (other - one)
    return around + np.where(ratio > 1e-6, one * np.maximum(ratio, 1e-6) ** share, straight)


def _room_air(network: Network, a: int, states: States) -> np.ndarray:
    """Air (rows, runs) of the room of appliance a: no flue gas in it."""
    room = network.place_gas[:, network.rooms[a], states.season]
    return np.concatenate([room, np.zeros((1, len(states)))])


def _steady_gas(grid: Grid, solution: Solution, air) -> list:
    """Gas (rows, runs) of every section in a steady state: down the flow, from the leaves and then from the root."""
    network, states = grid.network, solution.states
    sent = Inputs(network, grid, states)
    pipes, found = network.pipes, [None] * len(network.pipes)
    forward = np.maximum(solution.flow, 0.0)

    def mixed(legs):
        total = sum(m for m, _ in legs)
        return sum(m * g for m, g in legs) / np.maximum(total, TRACE)

    for i, pipe in enumerate(pipes):
        if pipe.appliance >= 0:
            a = pipe.appliance
            own = sent.content[GAS, a] / sent.content[MASS, a]
            legs = [(sent.prescribed[a], own), (np.maximum(solution.drawn[a], 0.0), _room_air(network, a, states))]
        else:
            legs = [(forward[c], found[c]) for c in pipe.children]
        found[i] = mixed(legs)
    for i in reversed(range(len(pipes))):
        back, parent = solution.flow[i] < 0.0, pipes[i].parent
        if not back.any():
            continue
        below = air
        if parent >= 0:
            others = [(forward[c], found[c]) for c in pipes[parent].children if c != i]
            below = mixed([(np.maximum(-solution.flow[parent], 0.0), found[parent]), *others])
        found[i] = np.where(back, below, found[i])
    return found
