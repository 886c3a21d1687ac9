"""Section state: what a drawing of the vent in one solved state has to tell, as figures and in words."""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.show.path_plots import around_section, gas_and_wall
from ventcalc.show.plots import letters, number
from ventcalc.show.tags import FAN, SENSOR, Placed
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, reversal
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Section
from ventcalc.vent.network import Network, compile_network
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.words import say

INSIDE, ABOVE, BELOW, IDLE = "inside", "above", "below", "idle"  # where an outlet's pressure lies
SPILLS = "spills"  # what weighs more than where it lies


@dataclass(frozen=True)
class Outlet:
    """An appliance in the state: what it ``does``, its outlet's ``pressure`` [Pa against the room] and ``window``.

    ``verdict`` is one of `INSIDE`, `ABOVE`, `BELOW`, `IDLE`. ``drawn`` [kg/s] of room air through it, less than nought
    what comes ``back`` into the room; ``flue_gas`` [kg/s] of that.
    """

    letter: str
    name: str
    kind: str
    does: str
    runs: bool
    fires: bool
    pressure: float
    window: tuple[float, float]
    room: float
    drawn: float
    flue_gas: float
    back: float

    @property
    def margin(self) -> float:
        """How far inside its window it is [Pa], negative outside."""
        return min(self.pressure - self.window[0], self.window[1] - self.pressure)

    @property
    def verdict(self) -> str:
        """Where its pressure lies, as its window is judged everywhere: past an edge by what can be read."""
        if not self.runs:
            return IDLE
        if self.margin >= -READABLE:
            return INSIDE
        return ABOVE if self.pressure > self.window[1] else BELOW

    @property
    def sign(self) -> str:
        """What its sign tells: its verdict, unless flue gas comes into the room through it."""
        return SPILLS if self.flue_gas > reversal.REVERSAL_FLOW else self.verdict

    def words(self, system: str) -> str:
        """A sentence on it."""
        figures = {"name": self.name, "does": self.does, "pressure": Q_(self.pressure, "Pa")}
        bare = number([*self.window, abs(self.margin)], "Pa", "draft", system)  # the unit stands with the pressure
        figures |= dict(zip(("low", "high", "by"), map(float, bare), strict=True))
        told = say("show", "section_outlet", self.verdict, system, **figures)
        if self.back > reversal.REVERSAL_FLOW:
            gas = "flue_gas" if self.flue_gas > reversal.REVERSAL_FLOW else "air"
            told += say("show", "section_outlet", gas, system, flow=Q_(self.back, "kg/s"))
        return told


@dataclass(frozen=True)
class Piece:
    """A section in the state: gas [K] at its ``first`` (upstream) end and its ``last``, in the surroundings' air of
    ``around`` [K]; ``flow`` [kg/s], negative where it is reversed; ``wet`` where its wall is below the dew point."""

    number: int
    section: Section
    row: int
    first: float
    last: float
    around: float
    flow: float
    added: float
    wet: bool

    @property
    def reversed(self) -> bool:
        """Whether gas flows from the terminal toward the appliances."""
        return self.flow < -reversal.REVERSAL_FLOW

    @property
    def still(self) -> bool:
        """Whether next to nothing flows."""
        return abs(self.flow) <= reversal.REVERSAL_FLOW

    def words(self, system: str) -> str:
        """A sentence on it."""
        way = "reversed" if self.reversed else "still" if self.still else "forward"
        figures = {"first": Q_(self.first, "K"), "last": Q_(self.last, "K"), "flow": Q_(abs(self.flow), "kg/s")}
        told = say("show", "section_piece", way, system, number=self.number, section=self.section.name, **figures)
        return told + (say("show", "section_piece", "wet", system) if self.wet else "")


@dataclass(frozen=True)
class SectionState:
    """One solved state: its ``scan`` of that one column, its outlets, its sections in the order of the plant, and the
    pressure [Pa against the room] at the end of the header where several appliances share one."""

    scan: Scan
    outlets: tuple[Outlet, ...]
    pieces: tuple[Piece, ...]
    header: float | None

    @property
    def converged(self) -> bool:
        """Whether the state was solved."""
        return bool(self.scan.solution.converged[0])

    @property
    def nearest(self) -> Outlet:
        """The running outlet that is farthest out of its window, or nearest to its edge; the first where none runs."""
        return min(self.outlets, key=lambda o: (not o.runs, o.margin if o.runs else 0.0))

    def gas(self, piece: Piece, share: float) -> float:
        """Gas [K] at a share of a section's length."""
        return float(gas_and_wall(self.scan.solution, piece.row, 0, piece.around, share)[0])

    def header_words(self, system: str) -> str:
        """The sentence on the end of the header; "" where there is none."""
        if self.header is None:
            return ""
        return say("show", "section_drawing", "header", system, pressure=Q_(self.header, "Pa"))

    def words(self, system: str, devices: tuple[Placed, ...] = ()) -> str:
        """All that the drawing tells."""
        told = [say("show", "section_drawing", "title", system, plant=self.scan.plant.name)]
        told += [o.words(system) for o in self.outlets]
        told += [self.header_words(system)] if self.header is not None else []
        told += [p.words(system) for p in self.pieces]
        told += [f"{say('show', 'section_device', d.kind)} {self.device_words(d, system)}" for d in devices]
        warning = [] if self.converged else [say("show", "section_drawing", "not_converged", system)]
        return " ".join([*warning, *(say("show", "section_drawing", "sentence", told=t) for t in told)])

    def device_words(self, device: Placed, system: str) -> str:
        """What a device adds or takes where it stands, what a sensor reads."""
        if device.kind == SENSOR:
            read = next((o.pressure for o in self.outlets if o.name == device.appliance), self.far_end)
            return say("show", "section_device", "reads", system, tag=device.tag, pressure=Q_(read, "Pa"))
        added = self.pieces[self.scan.plant.row(device.section)].added
        name = "adds" if added > 0.0 or (device.kind == FAN and added == 0.0) else "takes"
        return say("show", "section_device", name, system, tag=device.tag, pressure=Q_(abs(added), "Pa"))

    @property
    def far_end(self) -> float:
        """Static pressure [Pa against the room] where the header begins, or the run of a single appliance."""
        return float(end_of_header.far_end_pressure(self.scan.solution, _network(self.scan))[0])


def read(scan: Scan, state: int = 0) -> SectionState:
    """What stands in one column of a scan."""
    one = replace(scan, solution=scan.solution.columns([state]), condition=None, history=None)
    found = SectionState(one, _outlets(one), _pieces(one), None)
    return replace(found, header=found.far_end) if len(one.plant.appliances) > 1 else found


def _network(scan: Scan) -> Network:
    return compile_network(scan.plant, scan.seasons)


def _outlets(scan: Scan) -> tuple[Outlet, ...]:
    plant, solution = scan.plant, scan.solution
    flue_gas, _ = reversal.flue_gas_in_room(scan)
    back = np.where(reversal.gas_in_room(scan), -solution.drawn, 0.0)
    found = []
    for i, (a, letter) in enumerate(zip(plant.appliances, letters(len(plant.appliances)), strict=True)):
        code = float(solution.states.codes[i, 0])
        found.append(
            Outlet(
                letter=letter,
                name=a.name,
                kind=a.kind,
                does=a.states[round(code)],
                runs=code > 0.0,
                fires=code > len(a.states) - len(a.levels) - 1,
                pressure=float(solution.outlet_pressure[i, 0]),
                window=tuple(float(w.m_as("Pa")) for w in a.window),
                room=float(solution.room_gauge[i, 0]),
                drawn=float(solution.drawn[i, 0]),
                flue_gas=float(flue_gas[i, 0]),
                back=float(back[i, 0]),
            )
        )
    return tuple(found)


def _pieces(scan: Scan) -> tuple[Piece, ...]:
    solution, season = scan.solution, scan.seasons[int(scan.solution.states.season[0])]
    found = []
    for row, section in enumerate(scan.plant.order):
        flow = float(solution.flow[row, 0])
        found.append(
            Piece(
                number=row + 1,
                section=section,
                row=row,
                first=float(solution.upstream[row, 0]),
                last=float(solution.downstream[row, 0]),
                around=around_section(season, section),
                flow=flow,
                added=float(solution.added[row, 0]),
                wet=bool(solution.wet[row, 0]) and abs(flow) > reversal.REVERSAL_FLOW,
            )
        )
    return tuple(found)
