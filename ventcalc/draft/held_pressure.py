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

from ventcalc.units import Quantity, magnitude, ureg
from ventcalc.vent import coming_to_rest, pieces, roots
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end, far_end_pressure
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.pressure_balance import TOLERANCE as FLOW_TOLERANCE
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

HEADER = "header"

# Share of the set point below which draft counts as proved: that of the usual settings of `start_sequence`.
PROVED = 0.4  # common practice, no source

TOLERANCE = 0.02  # Pa, of a sensor against its set point
MOST_STEPS = 60
_STEEPEST, _FLATTEST = 400.0, 0.02  # Pa per Pa: how strongly a sensor and its device may answer each other
_LONGEST = 2000.0  # Pa, of one step
# While devices are searched for, the flows are solved no nearer than that: Pa at first, then a share of what was left a
# step before, nearer where devices answer steeply, and wholly before a search ends.
_FIRST_FLOWS = 5.0
_FLOWS = 1e-4
_SHARED_ANEW = 6  # times that a fan and a damper share anew what they add
_PATIENCE = 12  # steps after which they are halved, in case two controls push each other to and fro


class Device(Protocol):
    """What can stand at the downstream end of a section and change its pressure, between two limits.

    What it does at a setting, in time, is `final_element.FinalElement`.
    """

    def limits(self, flow: np.ndarray, density: np.ndarray, area: float) -> tuple[np.ndarray, np.ndarray]:
        """Least and most total pressure [Pa] that it can add at a flow [m3/s] of gas of a density [kg/m3].

        ``area`` [m2] is that of its section. Less than nought is a loss.
        """


@dataclass(frozen=True)
class Varied:
    """A ``device`` that differs from season to season, as in `varied_network`: ``share`` (seasons) of its pressure."""

    device: Device
    share: np.ndarray


@dataclass(frozen=True)
class Second:
    """A further device of a control, at the downstream end of another ``section``: a damper beside a fan.

    It stands at its most, wide open, until the first is at its least and still adds too much; then it moves.
    """

    section: str
    device: Device


@dataclass(frozen=True)
class Control:
    """One sensor, one device, one set point.

    ``device``, or one that is `Varied`, stands at the downstream end of ``section``. ``sensor`` is "header", the static
    pressure at the end of the header (`end_of_header.far_end`), or the name of an appliance, the pressure at its
    outlet; both gauge
    against the room there. ``offset`` [Pa] is what the sensor reads too much, one number or one a state. ``second`` is
    a device that helps the first, both moved in turn by one controller.

    ``holds``: whether its device is moved at all. A fan that turns at one speed, or a fixed damper, holds nothing: it
    stands where it is, and its set point does not matter.

    A control acts while what its sensor belongs to runs: its appliance, or for the header anything at all.
    """

    section: str
    device: Device
    sensor: str
    set_point: Quantity
    offset: float | np.ndarray = 0.0
    second: Second | None = None
    holds: bool = True


@dataclass(frozen=True)
class Held:
    """A plant whose controls have come to rest. Arrays (controls, states), plain SI.

    ``added`` [Pa] by each control's device, ``second`` by its second (0 where it has none); ``flow`` [m3/s] and
    ``density`` [kg/m3] at the first; ``error`` [Pa] of the true pressure at its sensor against the set point, NaN where
    the control does not act; ``at`` -1 where it stands at the least it can add, +1 at the most, 0 between and where
    both are one; ``settled`` (states) where all have come to rest. ``released`` (states), where
    that was looked at: whether draft is proved from idle, or a fan can bring it about, so that a burner is let start.
    """

    controls: tuple[Control, ...]
    solution: Solution
    added: np.ndarray
    second: np.ndarray
    flow: np.ndarray
    density: np.ndarray
    error: np.ndarray
    at: np.ndarray
    settled: np.ndarray
    released: np.ndarray | None = None

    def scan(self, of: Scan) -> Scan:
        """The scan that was held, with these solutions: for `outlet_envelope.envelopes` and the like."""
        return replace(of, plant=self.solution.plant, solution=self.solution)

    @property
    def acts(self) -> np.ndarray:
        """Where a control acts (controls, states)."""
        return ~np.isnan(self.error)

    @property
    def missed(self) -> np.ndarray:
        """Where a control acts and cannot hold its set point, by what its sensor reads, within `TOLERANCE`."""
        read = np.array([e + np.asarray(c.offset) for c, e in zip(self.controls, self.error, strict=True)])
        holds = np.array([c.holds for c in self.controls])[:, None]
        return self.acts & holds & (np.abs(np.where(self.acts, read.reshape(self.error.shape), 0.0)) > TOLERANCE)


def hold(
    plant: Plant,
    seasons: tuple[Season, ...],
    states: States,
    controls: tuple[Control, ...],
    start: np.ndarray | None = None,
    drawn: np.ndarray | None = None,
    outlets: np.ndarray | None = None,
) -> Held:
    """Solve a plant in many states with its controls at rest.

    The unknown of each control is what its device adds; the more it adds, the lower stands its sensor. Found by
    secants on all states at once, those that have come to rest left alone. Where the damper or fan is at a
    limit, that limit moves with the flow, and so does the answer. ``start`` (controls, states) [Pa] is where to begin;
    near the answer it saves time. ``drawn`` (appliances, states) [kg/s] is what the vent draws then, which decides
    where it ends if it has several roots (`roots`), ``outlets`` (sections, states) [K] about where gas leaves every
    section. Devices in one section stand in series. Raises ValueError for a
    section or a sensor that the plant does not have, and where two controls share a sensor: what each adds would be
    left to chance.
    """
    return hold_network(compile_network(plant, tuple(seasons)), states, controls, start, drawn, outlets)


def hold_network(
    network: Network,
    states: States,
    controls: tuple[Control, ...],
    start: np.ndarray | None = None,
    drawn: np.ndarray | None = None,
    outlets: np.ndarray | None = None,
    within: float = 0.5 * TOLERANCE,
    most_steps: int = MOST_STEPS,
) -> Held:
    """As `hold`, on a plant that is compiled already; sensors come ``within`` so many Pa of what their devices can.

    What has not come to rest after ``most_steps`` is not settled.
    """
    if len({c.sensor for c in controls}) < len(controls):
        raise ValueError("two controls share a sensor; give one of them both devices, the other as its second")
    search = _Search(network, states, controls, start, drawn, outlets)
    left = search.follow_gaps(within, most_steps)
    search.solve_wholly(left)
    if any(c.second for c in controls):
        search.share_anew(within)
    return _held(controls, search.places, search.found, search.added, search.second)


def worse_from_idle(plant: Plant, seasons: tuple[Season, ...], states: States, held: Held) -> Held:
    """What was held, but lit from idle in those states in which more gas then enters the room.

    The vent stood idle, or at rest, with its devices as they are before a burner is released (`before_release`), and
    was lit where draft was proved so (`is_proved`). Then the controls come to rest anew.
    """
    network = compile_network(plant, tuple(seasons))
    if not any(np.isfinite(r).any() for r in network.resistance):
        return held
    added, was = before_release(held), held.solution.drawn
    stood = roots.idle(network, states, added)
    lit = coming_to_rest.follow(network, states, roots.lit_from_idle(network, states, stood), added)
    proved = is_proved(held.controls, far_end_pressure(stood.solution, network)[stood.column])
    held = replace(held, released=proved | _helps(held))
    turned = ((lit.drawn < was - coming_to_rest.SAME * np.abs(was).max(axis=0)) & (lit.drawn < 0.0)).any(axis=0)
    other = np.flatnonzero(turned & proved)
    if not other.size:
        return held
    offsets = [np.broadcast_to(np.asarray(c.offset, float), (len(states),))[other] for c in held.controls]
    controls = tuple(replace(c, offset=o) for c, o in zip(held.controls, offsets, strict=True))
    begun = hold(plant, seasons, states[other], controls, (held.added + held.second)[:, other], lit.drawn[:, other])
    # The search for what the devices do may have jumped to a vent that drafts: where a hood or a regulator can hold
    # it turned over, the vent is followed once more from idle with what they do there, without a jump.
    if any(a.kind != "forced" for a in plant.appliances):
        ended = coming_to_rest.follow(network, states[other], lit.drawn[:, other], begun.solution.added)
        places = [_Place(network, c, states[other]) for c in controls]
        error = np.array([np.where(p.acts, p.error(ended), np.nan) for p in places])
        begun = replace(begun, solution=ended, error=error, settled=begun.settled & ended.converged)
    into_room = np.maximum(-begun.solution.drawn, 0.0).sum(axis=0) - np.maximum(-was[:, other], 0.0).sum(axis=0)
    worse = into_room > REVERSAL_FLOW
    arrays = ("added", "second", "flow", "density", "error", "at", "settled")
    changed = {name: getattr(held, name).copy() for name in arrays}
    for name, values in changed.items():
        values[..., other[worse]] = getattr(begun, name)[..., worse]
    solution = held.solution.put(other[worse], begun.solution.columns(worse))
    return replace(held, solution=solution, **changed)


def before_release(held: Held) -> np.ndarray:
    """What devices add [Pa] (sections, states) while nothing runs and draft is being proved.

    A damper stands open and costs next to nothing at so little flow; a fan turns at its least speed against a vent at
    rest, in the lighter of the airs outdoors and in the boiler room. An ideal device (`Ideal`) adds what it adds in the
    end, but does not hinder.
    """
    plant, found = held.solution.plant, np.zeros_like(held.solution.added)
    network = compile_network(plant, held.solution.seasons)
    density = np.minimum(network.outdoor_density, network.room_density)[held.solution.states.season]
    for control, added in zip(held.controls, held.added, strict=True):
        if isinstance(control.device, Ideal):
            least = added
        else:
            least, _ = control.device.limits(np.zeros_like(density), density, plant.section(control.section).area)
        found[plant.row(control.section)] += np.maximum(least, 0.0)
    return found


def _helps(held: Held) -> bool:
    """Whether the header's control has a device that can add pressure: a fan speeds up until draft is proved."""
    for control, density in zip(held.controls, held.density, strict=True):
        if control.sensor == HEADER:
            area = held.solution.plant.section(control.section).area
            return bool((control.device.limits(np.zeros_like(density), density, area)[1] > TOLERANCE).any())
    return False


def is_proved(controls: tuple[Control, ...], pressure: np.ndarray) -> np.ndarray:
    """Whether draft counts as proved, and burners are released, at a ``pressure`` [Pa] at the end of the header.

    Below `PROVED` of a set point that is negative; where the set point is not, or nothing holds the header, always.
    """
    points = [float(c.set_point.m_as("Pa")) for c in controls if c.sensor == HEADER and c.holds]
    return pressure <= PROVED * points[0] if points and points[0] < 0.0 else np.ones(pressure.shape, bool)


class _Place:
    """A control where it stands in a network."""

    def __init__(self, network: Network, control: Control, states: States):
        plant = network.plant
        names = [a.name for a in plant.appliances]
        self.devices = [_Standing(network, control.section, control.device)]
        if control.second is not None:
            self.devices.append(_Standing(network, control.second.section, control.second.device))
        self.set_point = float(magnitude(control.set_point, ureg.Unit("Pa"), f"set point in {control.section}"))
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
        """Least and most [Pa] that its devices can add together."""
        ends = [d.limits(solution) for d in self.devices]
        return sum(least for least, _ in ends), sum(most for _, most in ends)

    def gap(self, solution: Solution, which: np.ndarray, added: np.ndarray) -> np.ndarray:
        """How much more [Pa] the devices should add, or can; 0 where the control does not act."""
        wanted = added + self.error(solution) + self.offset[which]
        return np.where(self.acts[which], np.clip(wanted, *self.limits(solution)) - added, 0.0)

    def shares(self, solution: Solution, pick: np.ndarray, added: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What the first and the second device add of all that is added, in the picked states of a solution."""
        if len(self.devices) == 1:
            return added, np.zeros_like(added)
        (least, most), (_, open_) = ([e[pick] for e in d.limits(solution)] for d in self.devices)
        first = np.where(added == 0.0, 0.0, np.clip(added - open_, least, most))
        return first, added - first


class _Search:
    """What the devices add in every state, and the vent with that, while they are sought.

    ``added`` by the first and ``second`` by the second device of each control [Pa] (controls, states); ``found``: the
    vent as it was solved last in every state.
    """

    def __init__(self, network: Network, states: States, controls: tuple[Control, ...], start, drawn, outlets):
        self.network, self.states = network, states
        self.places = [_Place(network, c, states) for c in controls]
        self.added = np.zeros((len(controls), len(states))) if start is None else np.array(start, float)
        self.second = np.zeros_like(self.added)
        self.begun, self.found = (drawn, outlets), None

    def solve(self, which, **nearly) -> Solution:
        """The vent in some states with what the devices add now, from where it was solved last."""
        begun = self.begun if self.found is None else (self.found.drawn, self.found.outlets)
        near = (None if flows is None else flows[:, which] for flows in begun)
        put = _in_sections(self.network, self.places, self.added[:, which], self.second[:, which])
        solution = solve_network(self.network, self.states[which], put, *near, **nearly)
        if self.found is None:
            self.found = solution
        else:
            self.found.overwrite(which, solution)
        return solution

    def follow_gaps(self, within: float, most_steps: int) -> np.ndarray:
        """Move what is added by secants until every sensor stands ``within`` [Pa] of what can be; states left over."""
        before = gap_before = None
        nearly, todo = np.full(len(self.states), _FIRST_FLOWS), np.arange(len(self.states))
        for step in range(most_steps):
            solution = self.solve(todo, within=nearly[todo])
            total = self.added[:, todo] + self.second[:, todo]
            gap = self._gaps(solution, todo, total)
            open_ = (np.abs(gap) > within).any(axis=0) | (nearly[todo] > FLOW_TOLERANCE)
            todo, gap, total = todo[open_], gap[:, open_], total[:, open_]
            if not todo.size:
                break
            slope = np.full(gap.shape, 1.0)
            if before is not None:
                slope = _slope(total - before[:, open_], gap_before[:, open_] - gap)
            change = np.clip(gap / slope, -_LONGEST, _LONGEST) * (0.5 if step > _PATIENCE else 1.0)
            before, gap_before = total, gap
            steep = np.maximum(slope.max(axis=0, initial=1.0), 1.0)
            nearly[todo] = np.maximum(_FLOWS * np.abs(gap).max(axis=0, initial=0.0) / steep, FLOW_TOLERANCE)
            for k, place in enumerate(self.places):
                self.added[k, todo], self.second[k, todo] = place.shares(solution, open_, (total + change)[k])
        return todo

    def _gaps(self, solution: Solution, which: np.ndarray, total: np.ndarray) -> np.ndarray:
        found = [p.gap(solution, which, a) for p, a in zip(self.places, total, strict=True)]
        return np.array(found).reshape(total.shape)

    def solve_wholly(self, todo: np.ndarray) -> None:
        """Solve the flows as near as may be in states left over, and where they were not found."""
        left = ~self.found.converged
        left[todo] = True
        if left.any():
            self.solve(left)

    def share_anew(self, within: float) -> None:
        """Two devices add together what is right, while their shares may still be those of a step before."""
        every = np.arange(len(self.states))
        for _ in range(_SHARED_ANEW):
            total = self.added + self.second
            shares = [p.shares(self.found, every, a) for p, a in zip(self.places, total, strict=True)]
            first, other = (np.array(part).reshape(total.shape) for part in zip(*shares, strict=True))
            moved = (np.abs(first - self.added) > within).any(axis=0)
            if not moved.any():
                break
            self.added[:, moved], self.second[:, moved] = first[:, moved], other[:, moved]
            self.solve(moved)


def _slope(moved: np.ndarray, risen: np.ndarray) -> np.ndarray:
    """How strongly sensors answer [Pa per Pa]: what their gaps have closed over what the devices were moved."""
    still = np.abs(moved) < 1e-9
    return np.where(still, 1.0, np.clip(risen / np.where(still, 1.0, moved), _FLATTEST, _STEEPEST))


class _Standing:
    """A device where it stands."""

    def __init__(self, network: Network, section: str, device: Device):
        self.row = _known([s.name for s in network.plant.order], section, "section")
        self.device, self.area = device, network.pipes[self.row].area

    def limits(self, solution: Solution) -> tuple[np.ndarray, np.ndarray]:
        """Least and most that it can add [Pa]."""
        density = solution.density[self.row]
        device, share = self.device, 1.0
        if isinstance(device, Varied):
            device, share = device.device, device.share[solution.states.season]
        area = self.area if np.ndim(self.area) == 0 else self.area[solution.states.season]
        ends = tuple(share * end for end in device.limits(solution.flow[self.row] / density, density, area))
        return np.minimum(*ends), np.maximum(*ends)  # a damper turns round with the flow


def _in_sections(network: Network, places: list[_Place], added: np.ndarray, second: np.ndarray) -> np.ndarray:
    """What the devices add, in the order of all sections."""
    found = np.zeros((len(network.pipes), added.shape[1]))
    for place, first, other in zip(places, added, second, strict=True):
        for device, own in zip(place.devices, (first, other), strict=False):
            found[device.row] += own
    return found


def _held(controls, places: list[_Place], solution: Solution, added: np.ndarray, second: np.ndarray) -> Held:
    every, total = np.arange(added.shape[1]), added + second
    gaps = np.array([p.gap(solution, every, a) for p, a in zip(places, total, strict=True)])
    shares = [p.shares(solution, every, a)[0] - own for p, a, own in zip(places, total, added, strict=True)]
    at_rest = (np.abs(gaps) <= TOLERANCE).all(axis=0) & (np.abs(shares) <= TOLERANCE).all(axis=0)
    ends = [p.limits(solution) for p in places]
    rows = [p.devices[0].row for p in places]
    return Held(
        controls=tuple(controls),
        solution=solution,
        added=added,
        second=second,
        flow=np.array([solution.flow[row] / solution.density[row] for row in rows]),
        density=np.array([solution.density[row] for row in rows]),
        error=np.array([np.where(p.acts, p.error(solution), np.nan) for p in places]),
        at=np.array([
            np.where(p.acts, (a >= most - TOLERANCE).astype(int) - (a <= least + TOLERANCE), 0)
            for p, a, (least, most) in zip(places, total, ends, strict=True)
        ]),
        settled=at_rest & solution.converged,
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


def stack_base(plant: Plant) -> str:
    """The first section that carries all that the end of the header carries in the end, the last piece of it: a damper
    at its end stands before the rise, so that the rise behind it is under draft, not under pressure. Where that section
    is the rise itself the first piece of it, its foot (`pieces.with_foot`)."""
    whole = pieces.one_piece(plant, pieces.first_common(plant))
    return whole[0 if pieces.is_upright(whole[0]) else -1].name
