"""Overdraft cured: a boiler house as it is, with a draft control at each boiler, and with one damper."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from IPython.display import HTML

from ventcalc.draft import (
    barometric_control,
    held_pressure,
)
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.flow.materials import material
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.dampers import BLADES, LEAKAGE, SHAFT
from ventcalc.show.panels import table
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import common_vent, section_extremes, solution
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

WINTER = Season("design winter", Q_(0.0, "degF"), Q_(65.0, "degF"))
MILD = Season("mild", Q_(50.0, "degF"), Q_(65.0, "degF"))
WANTED = Q_(-0.05, "inH2O")


def boiler_house(regulators: bool) -> Plant:
    """Two old boilers with fan burners on a tall insulated chimney, with or without regulators (invented)."""
    levels = (
        FiringLevel("low", Q_(300.0, "MBH"), 0.35, Q_(330.0, "degF")),
        FiringLevel("high", Q_(800.0, "MBH"), 0.25, Q_(420.0, "degF")),
    )
    kind = {"kind": "barometric", "regulator_draft": WANTED} if regulators else {"kind": "forced"}
    window = (Q_(-0.10, "inH2O"), Q_(-0.02, "inH2O"))
    boilers = tuple(
        Appliance(f"Boiler {i}", fuel("natural gas"), "I", levels, Q_(10.0, "inch"), Q_(5.0, "ft"), window, **kind)
        for i in (1, 2)
    )
    wall = material("insulated chimney")

    def piece(name, length, rise, diameter, into, **more):
        return Section(name, Q_(length, "ft"), Q_(rise, "ft"), Q_(diameter, "inch"), wall, into, **more)

    sections = (
        piece("connector 1", 6, 4, 10, "header", fittings=("elbow 90",)),
        piece("connector 2", 6, 4, 10, "breeching", junction="lateral", fittings=("elbow 90",)),
        piece("header", 6, 0, 14, "breeching"),
        piece("breeching", 4, 0, 14, "stack"),
        piece("stack", 60, 60, 14, "roof", place="outdoors", fittings=("elbow 90",)),
    )
    roof = (Termination("roof", "open end"),)
    return Plant(
        "boiler house", Q_(500.0, "ft"), Q_(1.0, "ft"), boilers, ("connector 1", "connector 2"), sections, roof
    )


def boiler_house_states() -> tuple[States, tuple[str, ...]]:
    """Winter and mild weather, both boilers at high and one at low, on a hot stack; and what to call them."""
    codes = np.array([[2, 1, 2, 1], [2, 0, 2, 0]])
    season = np.array([0, 0, 1, 1])
    names = ("winter, both high", "winter, one at low", "mild, both high", "mild, one at low")
    return States(codes, season, np.zeros(4), np.zeros(4)), names


@dataclass(frozen=True)
class Compared:
    """One way to cure the boiler house's overdraft, state by state: quantities with one value a state.

    ``draft`` at the outlet of Boiler 1 (negative), room air ``drawn`` by both, the ``heat`` to warm it from outdoors,
    ``gas`` temperature as it enters the stack, the ``wall`` at its top and the ``dew_point`` there, ``position`` of a
    damper (NaN without one), ``opening`` of the regulator at Boiler 1 (NaN without one).
    """

    way: str
    draft: Quantity
    drawn: Quantity
    heat: Quantity
    gas: Quantity
    wall: Quantity
    dew_point: Quantity
    position: np.ndarray
    opening: np.ndarray


@cache
def compared() -> tuple[Compared, ...]:
    """The boiler house as it is, with a draft control at each boiler, and with one damper at the foot of the stack."""
    seasons, (states, names) = (WINTER, MILD), boiler_house_states()
    bare, regulated = boiler_house(False), boiler_house(True)
    nothing = np.full(len(names), np.nan)
    as_it_is = common_vent.solve(bare, seasons, states)
    with_air = common_vent.solve(regulated, seasons, states)
    damper = Damper("opposed", Q_(14.0, "inch"), Q_(14.0, "inch"), leakage_class(LEAKAGE), BLADES, SHAFT)
    control = held_pressure.Control("breeching", damper, "Boiler 1", WANTED)
    held = held_pressure.hold(bare, seasons, states, (control,))
    position = damper.position_for(-held.added[0], held.flow[0], held.density[0])
    opening = barometric_control.regulated(with_air, "Boiler 1").opening
    return (
        _compared("as it is", as_it_is, nothing, nothing),
        _compared("a draft control at each boiler", with_air, nothing, opening),
        _compared("a damper at the foot of the stack", held.solution, position, nothing),
    )


AIR_HEAT = 1006.0  # J/(kg K), dry air (published in any table of air; 1005 to 1007)


def _compared(way: str, solved: solution.Solution, position: np.ndarray, opening: np.ndarray) -> Compared:
    drawn = np.maximum(solved.drawn, 0.0).sum(axis=0)
    seasons = np.array([(s.room - s.outdoor).m_as("delta_degC") for s in solved.seasons])[solved.states.season]
    return Compared(
        way,
        Q_(solved.outlet_pressure[0], "Pa"),
        Q_(drawn, "kg/s"),
        Q_(drawn * AIR_HEAT * seasons, "W"),
        Q_(solved.upstream[solved.row("stack")], "K"),
        Q_(solved.wall[solved.row("stack")], "K"),
        Q_(section_extremes.dew_points(solved, solved.row("stack")), "K"),
        position,
        opening,
    )


def cures_table(system: str = "US") -> HTML:
    """Draft, room air drawn, the heat for it and the gas into the stack, state by state and way by way."""
    rows, (_, names) = [], boiler_house_states()
    for i, name in enumerate(names):
        for way in compared():
            opening = way.position[i] if np.isfinite(way.position[i]) else way.opening[i]
            shown = (show(way.draft[i], system, "draft"), *(show(q[i], system) for q in (way.drawn, way.heat, way.gas)))
            rows.append((name, way.way, *shown, f"{opening:.0%}" if np.isfinite(opening) else ""))
    header = ("state", "way", "Boiler 1's outlet", "room air", "heat for it", "gas into the stack", "open")
    return HTML(table(header, rows))


def wet_table(system: str = "US") -> HTML:
    """The wall at the top of the stack beside the dew point there, with room air let in and with a damper."""
    rows, (_, names), ways = [], boiler_house_states(), compared()[1:]
    for i, name in enumerate(names):
        cells = []
        for way in ways:
            verdict = "wet" if way.wall[i] < way.dew_point[i] else "dry"
            cells.append(f"{show(way.wall[i], system)} / {show(way.dew_point[i], system)}: {verdict}")
        rows.append((name, *cells))
    return HTML(table(("wall at the top / dew point", *(way.way for way in ways)), rows))
