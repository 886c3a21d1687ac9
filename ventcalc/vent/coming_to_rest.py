"""Coming to rest: from given flows through a vent to the steady state that its gas goes to.

`follow` goes by

    sum over the sections on its way of (L/A) d(flow)/dt = mismatch of pressure at a way in from the room

in short implicit steps, so that it goes the way of the gas and does not jump as a search may (`common_vent`).
Temperatures follow the flows at once (walls stay cold where `States.cold` says so); `transient` follows them in time.
"""

from collections.abc import Sequence

import numpy as np

from ventcalc.vent import newton
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.common_vent import BLOCK
from ventcalc.vent.network import Network
from ventcalc.vent.pressure_balance import TOLERANCE, PressureBalance
from ventcalc.vent.solution import Solution, Table, empty, store
from ventcalc.vent.states import States

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


def follow(
    network: Network, states: States, drawn: np.ndarray, added: np.ndarray | None = None, near: bool = False
) -> Solution:
    """Where a vent comes to rest from the flows ``drawn`` (appliances, states) [kg/s] through its ways in.

    ``added`` as in `common_vent.solve`. ``near``: they were at rest a moment ago, and Newton's method is tried at once.

    What finds no rest is marked as not converged: it flutters, or the mismatch jumps where it stands still. Of the
    flows it came by since it first turned round, it then holds those that send most gas into the room.
    """
    total = len(states)
    found = empty(network, total)
    drawn = np.asarray(drawn, float)
    for start in range(0, total, BLOCK):
        _follow_block(network, states, added, drawn, np.arange(start, min(start + BLOCK, total)), found, near)
    return Solution(network.plant, network.seasons, states, network.pressure, **found.named)


def _follow_block(network: Network, states: States, added, drawn, todo: np.ndarray, found: Table, near: bool) -> None:
    """Follow the states ``todo`` and write them into their places of ``found``; those that have come to rest leave.

    Warming that drives the flow is held during a step in time, so that each goes where the mismatch points to, never to
    a point from which a vent flees. Near the point of rest Newton's method takes over, with steps of no length in time;
    where it goes astray or comes no nearer, the steps in time go on from where it began, to the end.
    """
    boundary = Boundary(network, states[todo], None if added is None else added[:, todo])
    drawn = np.where(np.isfinite(boundary.resistance), drawn[:, todo], 0.0)
    at, guess = _Walk(drawn, near), None
    for turn in range(_MOST_STEPS):
        balance = PressureBalance(network, boundary, at.drawn, guess)
        error, guess = balance.residual, balance.outlets
        usual = _usual(network, boundary, at.drawn)
        at.look(error, usual)
        done = error <= TOLERANCE
        if done.any():
            store(balance, done, todo, found)
        stuck = at.stuck & ~done
        keep = ~(done | stuck)
        if stuck.any() or (turn == _MOST_STEPS - 1 and keep.any()):
            left = ~done if turn == _MOST_STEPS - 1 else stuck
            worst = PressureBalance(network, boundary.only(left), at.worst[:, left])
            store(worst, np.ones(int(left.sum()), bool), todo[left], found)
            found.converged[todo[left]] = False
        if not keep.any():
            return
        searched = at.newton
        thermal, inertia = np.where(searched, 1.0, 0.0), np.where(searched, 0.0, 1.0 / at.step)
        change = newton.step(balance, thermal, inertia)
        at.go(change, usual)
        if not keep.all():
            boundary, todo, guess = boundary.only(keep), todo[keep], guess[:, keep]
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


def _usual(network: Network, boundary: Boundary, drawn: np.ndarray) -> np.ndarray:
    """Flow [kg/s] by which a step is short, per way in: its appliance's own, or that of a brisk vent."""
    own = np.array([np.abs(d) + p for d, p in zip(drawn, boundary.prescribed, strict=True)])
    return np.maximum(own, _USUAL * network.outlet_area[:, None] * boundary.outdoor_density)


def carried_over(network: Network, before: States, drawn: np.ndarray, states: States) -> np.ndarray:
    """What is drawn [kg/s] in the moment in which ``before`` becomes ``states``: the gas in the vent flows on.

    What a burner sends more, its hood draws less at first. A regulator, and a boiler that leaks, draws on.
    """
    was, now = Boundary(network, before), Boundary(network, states)
    found = np.array(drawn, float)
    for i in np.flatnonzero(network.on_total):
        found[i] += was.prescribed[i] - now.prescribed[i]
    return np.where(np.isfinite(now.resistance), found, 0.0)
