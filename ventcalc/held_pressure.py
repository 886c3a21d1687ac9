"""Held pressure: what a fan or a damper must do so that its sensor stands at its set point, in every state.

A control has one sensor, one device and one set point. In the steady state an ideal one adds just the
pressure that brings its sensor to the set point; where the device cannot, it stands at its limit, and what is
left is the error. With a device whose two limits are equal (a fan at one speed, a damper at one position) the
same search finds its operating point. How the loop gets there in time is `draft_control`.

Several controls act on one vent at once; each sees the others through the pressures.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from ventcalc.common_vent import Solution, States, solve_network
from ventcalc.firing_states import Scan, far_end, far_end_pressure
from ventcalc.layout import Plant
from ventcalc.network import Network, Season, compile_network
from ventcalc.units import Quantity, magnitude, ureg

HEADER = "header"

TOLERANCE = 0.02  # Pa, of a sensor against its set point
MOST_STEPS = 60
_STEEPEST, _FLATTEST = 400.0, 0.02  # Pa per Pa: how strongly a sensor and its device may answer each other
_LONGEST = 2000.0  # Pa, of one step
_PATIENCE = 12  # steps after which they are halved, in case two controls push each other to and fro


class Device(Protocol):
    """What can stand at the downstream end of a section and change its pressure."""

    def limits(self, flow: np.ndarray, density: np.ndarray, area: float) -> tuple[np.ndarray, np.ndarray]:
        """Least and most total pressure [Pa] that it can add at a flow [m3/s] of gas of a density [kg/m3].

        ``area`` [m2] is that of its section. Less than nought is a loss.
        """


@dataclass(frozen=True)
class Control:
    """One sensor, one device, one set point.

    ``device`` stands at the downstream end of ``section``. ``sensor`` is "header", the static pressure at the header's
    far end (`firing_states.far_end`), or the name of an appliance, the pressure at its outlet; both gauge against
    the room there. ``offset`` [Pa] is what the sensor reads too much, one number or one a state.

    A control acts while what its sensor belongs to runs: its appliance, or for the header anything at all.
    """

    section: str
    device: Device
    sensor: str
    set_point: Quantity
    offset: float | np.ndarray = 0.0


@dataclass(frozen=True)
class Held:
    """A plant whose controls have come to rest. Arrays (controls, states), plain SI.

    ``added`` [Pa] by each device; ``flow`` [m3/s] and ``density`` [kg/m3] at it; ``error`` [Pa] of the true pressure at
    its sensor against the set point, NaN where the control does not act; ``at`` -1 where the device stands at its
    least, +1 at its most, 0 between; ``settled`` (states) where all have come to rest.
    """

    controls: tuple[Control, ...]
    solution: Solution
    added: np.ndarray
    flow: np.ndarray
    density: np.ndarray
    error: np.ndarray
    at: np.ndarray
    settled: np.ndarray

    def scan(self, of: Scan) -> Scan:
        """The scan that was held, with these solutions: for `firing_states.envelopes` and all else read from a scan."""
        return replace(of, plant=self.solution.plant, solution=self.solution)

    @property
    def acts(self) -> np.ndarray:
        """Where a control acts (controls, states)."""
        return ~np.isnan(self.error)

    @property
    def missed(self) -> np.ndarray:
        """Where a control acts and cannot hold its set point within `TOLERANCE`."""
        return self.acts & (np.abs(np.where(self.acts, self.error, 0.0)) > TOLERANCE)


def hold(plant: Plant, seasons: tuple[Season, ...], states: States, controls: tuple[Control, ...]) -> Held:
    """Solve a plant in many states with its controls at rest.

    The unknown of each control is what its device adds; the more it adds, the lower stands its sensor. Found by
    secants on all states at once, those that have come to rest left alone. Where the damper or fan is at a
    limit, that limit moves with the flow, and so does the answer. Raises ValueError for a section or a sensor that
    the plant does not have, and for two devices in one section.
    """
    network = compile_network(plant, tuple(seasons))
    places = [_Place(network, c, states) for c in controls]
    if len({p.row for p in places}) < len(places):
        raise ValueError("two controls act in one section; give each its own, or put the devices in series as one")
    added = np.zeros((len(controls), len(states)))
    before = gap_before = None
    todo = np.arange(len(states))
    for step in range(MOST_STEPS):
        solution = solve_network(network, states[todo], _in_sections(places, added[:, todo], plant))
        gap = np.array([p.gap(solution, todo, a) for p, a in zip(places, added[:, todo], strict=True)])
        open_ = (np.abs(gap) > TOLERANCE / 2).any(axis=0)
        todo, gap, here = todo[open_], gap[:, open_], added[:, todo[open_]]
        if not todo.size:
            break
        slope = np.full(gap.shape, 1.0)
        if before is not None:
            moved = here - before[:, open_]
            risen = gap_before[:, open_] - gap
            still = np.abs(moved) < 1e-9
            slope = np.where(still, 1.0, np.clip(risen / np.where(still, 1.0, moved), _FLATTEST, _STEEPEST))
        change = np.clip(gap / slope, -_LONGEST, _LONGEST) * (0.5 if step > _PATIENCE else 1.0)
        before, gap_before = here, gap
        added[:, todo] = here + change
    solution = solve_network(network, states, _in_sections(places, added, plant))
    return _held(controls, places, solution, added)


class _Place:
    """A control where it stands in a network."""

    def __init__(self, network: Network, control: Control, states: States):
        plant = network.plant
        names = [a.name for a in plant.appliances]
        self.row = _known([s.name for s in plant.order], control.section, "section")
        self.set_point = float(magnitude(control.set_point, ureg.Unit("Pa"), f"set point in {control.section}"))
        self.device, self.area = control.device, network.pipes[self.row].area
        self.offset = np.broadcast_to(np.asarray(control.offset, float), (len(states),))
        if control.sensor == HEADER:
            self.acts = (states.codes > 0).any(axis=0)
            self.sensed: Callable[[Solution], np.ndarray] = lambda s: far_end_pressure(s, network)
        else:
            i = _known(names, control.sensor, "sensor", HEADER)
            self.acts = states.codes[i] > 0
            self.sensed = lambda s: s.outlet_pressure[i]

    def error(self, solution: Solution) -> np.ndarray:
        """True pressure [Pa] at the sensor against the set point."""
        return self.sensed(solution) - self.set_point

    def limits(self, solution: Solution) -> tuple[np.ndarray, np.ndarray]:
        """Least and most that the device can add [Pa]."""
        density = solution.density[self.row]
        ends = self.device.limits(solution.flow[self.row] / density, density, self.area)
        return np.minimum(*ends), np.maximum(*ends)  # a damper turns round with the flow

    def gap(self, solution: Solution, which: np.ndarray, added: np.ndarray) -> np.ndarray:
        """How much more [Pa] the device should add, or can; 0 where the control does not act."""
        wanted = added + self.error(solution) + self.offset[which]
        return np.where(self.acts[which], np.clip(wanted, *self.limits(solution)) - added, 0.0)


def _in_sections(places: list[_Place], added: np.ndarray, plant: Plant) -> np.ndarray:
    """What the devices add, in the order of all sections."""
    found = np.zeros((len(plant.order), added.shape[1]))
    for place, own in zip(places, added, strict=True):
        found[place.row] = own
    return found


def _held(controls, places: list[_Place], solution: Solution, added: np.ndarray) -> Held:
    every = np.arange(added.shape[1])
    gaps = np.array([p.gap(solution, every, a) for p, a in zip(places, added, strict=True)])
    ends = [p.limits(solution) for p in places]
    return Held(
        controls=tuple(controls),
        solution=solution,
        added=added,
        flow=np.array([solution.flow[p.row] / solution.density[p.row] for p in places]),
        density=np.array([solution.density[p.row] for p in places]),
        error=np.array([np.where(p.acts, p.error(solution), np.nan) for p in places]),
        at=np.array([
            np.where(p.acts, (a >= most - TOLERANCE).astype(int) - (a <= least + TOLERANCE), 0)
            for p, a, (least, most) in zip(places, added, ends, strict=True)
        ]),
        settled=(np.abs(gaps) <= TOLERANCE).all(axis=0) & solution.converged,
    )  # fmt: skip


def _known(names: list[str], name: str, what: str, *others: str) -> int:
    if name not in names:
        raise ValueError(f"{what} {name!r}: the plant has none of that name; choose {', '.join([*others, *names])}")
    return names.index(name)


@dataclass(frozen=True)
class Ideal:
    """A device that can add anything between two pressures [Pa], whatever flows: to ask what would be needed."""

    least: float = -1e4
    most: float = 1e4

    def limits(self, flow, density, area):
        return np.full(np.shape(flow), self.least), np.full(np.shape(flow), self.most)


def before_termination(plant: Plant) -> str:
    """The last section of the header's way out; at its downstream end stands a roof fan, or a damper in the stack."""
    name, ends = far_end(plant), {t.name for t in plant.terminations}
    while plant.section(name).into not in ends:
        name = plant.section(name).into
    return name
