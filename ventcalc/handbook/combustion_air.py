"""Combustion air: the chapter's boiler room behind a kitchen, its live controls, questions, checks and figures."""

import re
from dataclasses import dataclass, replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.building import (
    code_rules,
    combustion_air_verdicts,
    depressurization,
    leakage,
    orifice_flow,
    room_pressure,
)
from ventcalc.building import combustion_air as air
from ventcalc.building.room_air import Exhaust, Leakage, Opening, RoomAir
from ventcalc.building.room_pressure import Coupled
from ventcalc.checked import Check, compare
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.common_vent import draft_text
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, WIDTH
from ventcalc.show.questions import load
from ventcalc.show.sketch import sketch
from ventcalc.show.sources import by_source
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.states import States

# --- The boiler room -----------------------------------------------------------------------------------------

EXCESS = 0.5  # of the hoods' burners
WINTER = Season("winter", Q_(10, "degF"), Q_(70, "degF"))
MILD = Season("mild", Q_(55, "degF"), Q_(70, "degF"))
SEASONS = (WINTER, MILD)
KITCHEN = Exhaust("kitchen hood", Q_(1500, "cfm"))


@cache
def plant(altitude: float = 150.0) -> Plant:
    """Two hooded boilers of 400 MBH on one vent of 32 ft; altitude [m]."""
    gas, wall = fuel("natural gas"), material("Type B gas vent")
    level = FiringLevel("on", Q_(400, "MBH"), EXCESS, Q_(400, "degF"))
    boilers = tuple(
        Appliance(f"Boiler {i}", gas, "I", (level,), outlet_diameter=Q_(9, "inch"), outlet_height=Q_(6, "ft"),
                  window=(Q_(-0.12, "inH2O"), Q_(0, "inH2O")), kind="draft hood")
        for i in (1, 2)
    )  # fmt: skip

    def piece(name, length, rise, inches, into, **more):
        return Section(name, Q_(length, "ft"), Q_(rise, "ft"), Q_(inches, "inch"), wall, into, **more)

    pieces = (
        piece("connector 1", 5, 2, 9, "header", fittings=("elbow 90",)),
        piece("connector 2", 4, 2, 9, "stack", fittings=("elbow 90",), junction="lateral"),
        piece("header", 5, 0, 12, "stack"),
        piece("stack", 24, 24, 12, "roof", fittings=("elbow 90",)),
    )
    feeds, roof = ("connector 1", "connector 2"), Termination("roof", "low-resistance cap")
    return Plant("boiler room", Q_(altitude, "m"), Q_(1, "ft"), boilers, feeds, pieces, (roof,))


def louvers(free: Quantity = Q_(200, "inch**2")) -> tuple[Opening, Opening]:
    """One metal louver high and one low, each with that free area."""
    gross = free / code_rules.figure("combustion_air", "metal louver")
    return tuple(
        Opening(f"{place} louver", gross, louver="metal", smallest=Q_(15, "inch"), place=place, level=Q_(level, "ft"))
        for place, level in (("high", 9.0), ("low", 1.0))
    )


def room(free: Quantity = Q_(200, "inch**2"), changes: float = 2.0, **more) -> RoomAir:
    """The boiler room of 3000 ft3: two louvers of that free area, leaking ``changes`` an hour at 50 Pa."""
    volume = Q_(3000, "ft**3")
    usual = {"leakage": Leakage.of_changes(Q_(changes, "1/hour"), volume), "exhausts": (KITCHEN,)}
    return RoomAir(volume, louvers(free), **usual | more)


def with_supply(supply: Quantity) -> RoomAir:
    """The boiler room with a supply fan that runs with the kitchen hood and keeps the burners off without it."""
    return replace(room(), supply=supply, interlocked=True)


def more_opening(area: Quantity) -> RoomAir:
    """The boiler room with one more opening of that free area, at the plant's opening height."""
    return replace(room(), openings=(*louvers(), Opening("make-up opening", area)))


@cache
def states() -> Scan:
    """The boiler room's vent in all its firing states, winter and mild, each once: the room decides the rest."""
    return firing_states.scan(plant(), SEASONS).first


@cache
def solved(share: float = 1.0) -> Coupled:
    """The boiler room with its vents in all states, the kitchen hood at that share of its flow when burners light."""
    return room_pressure.from_idle(plant(), SEASONS, states().states, room(), share)


@cache
def boilers_first() -> Coupled:
    """The same with the kitchen hood switched on over vents that draw already."""
    return room_pressure.coupled(plant(), SEASONS, states().states, room(), 1.0, solved(0.0).standing)


def state_of(firing: int, season: int = 0, cold: bool = False) -> int:
    """The state of `states` in which that many boilers fire."""
    s = states().states
    codes = np.array([1 if i < firing else 0 for i in range(2)])[:, None]
    fits = (s.codes == codes).all(axis=0) & (s.season == season) & (s.cold == cold)
    return int(np.flatnonzero(fits)[0])


def balance_table(found: Coupled, state: int, system: str) -> str:
    """What comes into the room and what goes out, in one state."""
    doors = [(f"through the {o.name}", q[state]) for o, q in zip(found.doors, found.openings, strict=True)]
    rows = [*doors, ("by leakage", found.leakage[state]), ("by a supply fan", found.supply[state])]
    rows += [(e.name, -q[state]) for e, q in zip(found.room.exhausts, found.exhausts, strict=True)]
    rows += [("burners' own air", -found.burners[:, state].sum()), ("into the draft hoods", -_draws(found, state))]
    rows += [("sum", found.gap[state])]
    return table((f"room air, {label('mass flow', system)}", "in", "out"), [_in_or_out(*row, system) for row in rows])


def _draws(found: Coupled, state: int) -> float:
    return float(found.solution.drawn[:, state].sum())


def _in_or_out(words: str, flow: float, system: str) -> tuple[str, str, str]:
    text = show(Q_(abs(flow), "kg/s"), system).split()[0]
    return (words, text, "") if flow >= 0.0 else (words, "", text)


def outlets_table(found: Coupled, state: int, system: str) -> str:
    """Every hood in one state: its outlet's pressure, what it draws or spills, and its window."""
    rows = []
    for i, a in enumerate(found.solution.plant.appliances):
        drawn, pressure = found.solution.drawn[i, state], found.solution.outlet_pressure[i, state]
        spills = drawn < -REVERSAL_FLOW
        flow = f"{'spills' if spills else 'draws'} {show(Q_(abs(drawn), 'kg/s'), system)}"
        window = " to ".join(show(edge, system) for edge in a.window)
        rows.append((a.name, draft_text(pressure, system), window, flow))
    return table(("outlet", "pressure", "window", "hood"), rows)


# --- What the chapter stands on ------------------------------------------------------------------------------


def _combined_as_printed() -> str:
    """The printed form of the reduction, if the library's function follows it."""
    ratios = np.linspace(0.0, 1.0, 11)
    ours = air.outdoor_share(Q_(ratios, "ft**3"), Q_(1.0, "ft**3")).m
    return "1 - Va/Vr" if np.allclose(ours, 1.0 - ratios) else "another form"


_AREAS = {"outdoor, horizontal ducts": "horizontal duct", "outdoor, single opening": "single",
          "outdoor, vertical ducts or direct": "direct"}  # fmt: skip


def checks() -> tuple[Check, ...]:
    """Every published row on combustion air, and those on leakage, openings and limits of depressurisation."""
    one, hour = Q_(1.0, "MBH"), Q_(1.0, "1/hour")
    per_area = {k: (one / air.opening_area(one, w)).m_as("Btu/hour/inch**2") for k, w in
                (("A051", "direct"), ("A052", "horizontal duct"), ("A053", "single"))}  # fmt: skip
    big, fifty, cfm = Q_(1e4, "MBH"), Q_(50.0, "Pa"), Q_(1.0, "cfm")
    hole = orifice_flow.opening_flow(Q_(0.05, "inH2O"), Q_(2.0, "ft**2"), Q_(0.075, "lb/ft**3"), 1.0)
    leak = Leakage(Q_(1200, "cfm"))
    ours = {
        "A001": air.standard_volume(one).m_as("ft**3"),
        "A002": air.infiltration_volume(one, 0 * one, 0.5 * hour).m_as("ft**3") * 0.5,
        "A003": air.infiltration_volume(0 * one, one, 0.5 * hour).m_as("ft**3") * 0.5,
        "A004": _most_infiltration(),
        **per_area,
        "A050": air.standard_volume(Q_(96, "MBH")),
        "A054": (big / air.opening_area(big, "same storey")).m_as("Btu/hour/inch**2"),
        "A055": air.opening_area(one, "other storey").m_as("inch**2"),
        "A056": air.mechanical_supply(one).m_as("cfm"),
        "A057": air.free_area(Q_(1.0, "ft**2"), "metal").m_as("ft**2"),
        "A058": air.free_area(Q_(1.0, "ft**2"), "wood").m_as("ft**2"),
        "A059": code_rules.figure("combustion_air", "smallest dimension"),
        "A060": _combined_as_printed(),
        "R001": 1.0 / leakage.leakage_area(cfm, fifty).m_as("inch**2"),
        "R002": 1.0 / leakage.leakage_area(cfm, fifty, at=Q_(10.0, "Pa"), coefficient=0.61).m_as("inch**2"),
        "R003": (hole / Q_(2.0, "ft**2")).m_as("fpm"),
        "R004": hole.m_as("cfm"),
        "R005": (leak.flow / Q_(18000, "ft**3")).to("1/hour"),
        "R006": code_rules.figure("combustion_air", "limit, water heater alone"),
        "R007": code_rules.figure("combustion_air", "limit, natural draft shared"),
        "R008": code_rules.figure("combustion_air", "limit, natural draft alone"),
        "R009": code_rules.figure("combustion_air", "limit, fan alone"),
        "R010": code_rules.figure("combustion_air", "limit, sealed"),
    }
    for row in tables.read("combustion_air_checks"):
        if row["method"] == "known infiltration" and row["ach"]:
            other, fan = (Q_(float(row[f"input_{k}_btu_h"] or 0.0), "Btu/hour") for k in ("other", "fan"))
            ours[row["id"]] = air.infiltration_volume(other, fan, float(row["ach"]) * hour)
        elif row["method"] in _AREAS:
            ours[row["id"]] = air.opening_area(Q_(float(row["input_total_btu_h"]), "Btu/hour"), _AREAS[row["method"]])
    order = [row["id"] for row in tables.read("combustion_air_checks")]
    return compare("combustion_air_checks", {key: ours[key] for key in order})


def _most_infiltration() -> float:
    """Largest infiltration [1/h] that the library lets anyone use, found by asking it."""
    for rate in np.arange(0.05, 2.0, 0.05):
        try:
            air.infiltration_volume(Q_(1, "MBH"), Q_(1, "MBH"), Q_(rate, "1/hour"))
        except ValueError:
            return round(rate - 0.05, 2)
    raise AssertionError("no limit found")


def checked_tables() -> str:
    """The checks gathered by their source, with the case of each row."""
    words = by_source(checks(), "combustion_air_checks")
    return re.sub(r"input (other|fan|total) btu h (\d+)", r"\1 input \2 Btu/h", words).replace(", ach ", ", ACH ")


# --- Figures -------------------------------------------------------------------------------------------------


_BOILERS, _STACK = (2.7, 5.9), 7.9  # where they stand in the drawing


def room_drawing(system: str, found: Coupled | None = None, state: int = 0) -> Figure:
    """The boiler room behind the kitchen; with a solution, the flows of one state as arrows and numbers."""
    figure = sketch("boiler_room")
    if found is not None:
        _draw_flows(figure.axes[0], found, state, system)
    return figure


def _draw_flows(axes, found: Coupled, state: int, system: str) -> None:
    for flow, y in zip(found.openings[:, state], (4.3, 0.7), strict=True):
        _arrow(axes, (-0.9, y), (1.0, 0.0), flow, BLUE)
        axes.text(-1.1, y + 0.35, _flow_text(flow, system), size=SIZE, ha="right", va="center", color=BLUE)
    hood = found.exhausts[0, state]
    if hood > 0.0:
        _arrow(axes, (10.7, 3.6), (1.0, 0.0), hood, RUST)
    axes.text(11.3, 4.15, _flow_text(hood, system), size=SIZE, ha="center", va="center", color=RUST)
    for i, x in enumerate(_BOILERS):
        drawn = found.solution.drawn[i, state]
        _arrow(axes, (x - 0.35, 1.95), (0.5, 0.25), drawn, BLUE if drawn >= 0.0 else RUST)
        axes.text(x + 0.15, 2.75, _flow_text(drawn, system), size=SIZE, ha="right", va="center",
                  color=BLUE if drawn >= 0.0 else RUST)  # fmt: skip
    stack = found.solution.flow[found.solution.row("stack"), state]
    _arrow(axes, (_STACK, 7.75), (0.0, 0.55), stack, INK)
    axes.text(
        _STACK + 0.3,
        7.2,
        f"{_flow_text(stack, system)} {'up' if stack >= 0.0 else 'down'} the vent",
        size=SIZE,
        va="center",
    )
    pressure = draft_text(found.pressure[state], system)
    axes.text(5.3, 4.4, f"room at {pressure}", size=SIZE, ha="center", weight="bold")


def _flow_text(flow: float, system: str) -> str:
    return show(Q_(abs(flow), "kg/s"), system)


def _arrow(axes, at, along, flow: float, color: str) -> None:
    """An arrow in the direction of a flow; none where it is still."""
    if abs(flow) < REVERSAL_FLOW:
        return
    back = 1.0 if flow > 0.0 else -1.0
    start = at if back > 0.0 else (at[0] + along[0], at[1] + along[1])
    end = (start[0] + back * along[0], start[1] + back * along[1])
    axes.annotate("", end, start, arrowprops={"arrowstyle": "-|>", "color": color, "lw": 2.2})


def altitude_chart(system: str) -> Figure:
    """Air for 1000 Btu/h: the burner's alone by altitude, with three excess airs, and the rule's one number."""
    figure, (axes,) = row_of_axes(height=3.3)
    heights = np.linspace(0.0, 3300.0, 60)
    pressure = atmosphere.standard_pressure.bare(heights)
    per_kw = _per_heat(system)
    for excess, style in ((0.2, ":"), (0.5, "-"), (1.0, "--")):
        need = air.burner_air.bare(fuel("natural gas"), excess, 1.0, 288.15, pressure)
        axes.plot(number(heights, "m", "height", system), need * per_kw, style, color=BLUE, lw=2,
                  label=f"burner, {excess:.0%} excess air")  # fmt: skip
    axes.axhline(float(air.mechanical_supply.bare(1.0)) * per_kw, color=RUST, lw=2, label="the rule, at any altitude")
    axes.set_ylim(bottom=0.0)
    axes.legend(frameon=False, fontsize=SIZE, ncols=2, loc="lower right")
    plain(axes, f"altitude, {label('height', system)}", {"US": "cfm per MBH", "SI": "L/s per kW"}[system])
    return figure


def _per_heat(system: str) -> float:
    """From m3/s per W to what the chart shows."""
    return float(Q_(1.0, "m**3/s/W").m_as({"US": "cfm/MBH", "SI": "liter/s/kW"}[system]))


@dataclass(frozen=True)
class Curves:
    """What exhaust [m3/s] every room pressure [Pa] would balance, and what the hoods draw there [kg/s].

    In three rows: nothing firing, the vent drafting; so many boilers firing, drafting; the same, turned over. ``drawn``
    has the appliances before the rows.
    """

    pressure: np.ndarray
    exhaust: np.ndarray
    drawn: np.ndarray

    def near(self, row: int, exhaust: float) -> tuple[np.ndarray, np.ndarray, bool]:
        """Room pressure and flow drawn on a row, as near as it comes to an exhaust on the way down from no pressure.

        Where the vent turns over just before that exhaust is reached, the last point that still drafts, and True.
        """
        enough = np.flatnonzero(self.exhaust[row] >= exhaust)
        k = int(enough[0]) if enough.size else len(self.pressure) - 1
        j = max(k - 1, 0)
        before, after = self.drawn[:, row, j], self.drawn[:, row, k]
        rise = self.exhaust[row, k] - self.exhaust[row, j]
        turns = bool(before.sum() * after.sum() < 0.0)
        share = 0.0 if turns or rise <= 0.0 else np.clip((exhaust - self.exhaust[row, j]) / rise, 0.0, 1.0)
        pressure = (1.0 - share) * self.pressure[j] + share * self.pressure[k]
        return np.array([pressure]), ((1.0 - share) * before + share * after)[:, None], turns


_POINTS = 25
_DEEPEST = -60.0  # Pa, to which the curves are drawn


def curves(site: Plant, season: Season, own: RoomAir, firing: int) -> Curves:
    """The boiler room's exhaust over its pressure, stack hot under boilers that fire and cold under idle ones."""
    pressure = np.tile(_DEEPEST * np.linspace(0.0, 1.0, _POINTS) ** 1.4, 3)
    codes = np.array([[1.0 if i < firing else 0.0] for i in range(2)])
    rows = np.repeat([0, 1, 2], _POINTS)
    batch = States(
        codes * (rows > 0), np.zeros(rows.size, int), np.where(rows > 0, 0.0, 1.0), np.zeros(rows.size, bool)
    )
    start = np.tile(np.where(rows == 2, -0.1, 0.05), (2, 1))
    exhaust, found = room_pressure.exhaust_at(site, (season,), batch, own, pressure, start)
    return Curves(pressure[:_POINTS], exhaust.reshape(3, -1), found.drawn.reshape(2, 3, -1))


def fan_chart(
    lines: Curves, now: float, exhaust: float, limit: float | None, system: str, height: float = 3.1
) -> Figure:
    """Room pressure over the exhaust [m3/s], vent drafting and turned over, and where the room stands ``now`` [Pa].

    ``limit`` [Pa]: that of the house tests, None where they have none for the appliance.
    """
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.135, 0.19, 0.83, 0.76))
    most = max(2.0 * exhaust, 1.2)
    for row, style, color, name in ((1, "-", BLUE, "vent drafting"), (2, "--", RUST, "vent turned over: it spills")):
        fits = lines.drawn[:, row].sum(axis=0) >= 0.0 if row == 1 else lines.drawn[:, row].sum(axis=0) < 0.0
        shown = (lines.exhaust[row] <= 1.1 * most) & fits
        x = number(lines.exhaust[row][shown], "m**3/s", "volume flow", system)
        axes.plot(x, number(lines.pressure[shown], "Pa", "draft", system), style, color=color, lw=2.2, label=name)
    spot = number(exhaust, "m**3/s", "volume flow", system), number(now, "Pa", "draft", system)
    axes.plot(*spot, "D", color=INK, ms=8, zorder=5, clip_on=False, ls="none", label="the room now")
    if limit is not None:
        axes.axhline(number(limit, "Pa", "draft", system), color=GREY, lw=1.4, ls=":", label="limit from houses")
    axes.set_xlim(0.0, number(most, "m**3/s", "volume flow", system))
    axes.legend(frameon=False, fontsize=SIZE, loc="lower left")
    plain(axes, f"exhaust, {label('volume flow', system)}", f"room against outdoors, {label('draft', system)}")
    return figure


# --- Live controls -------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """The boiler room: louvers, walls, supply, weather, what fires, and the kitchen hood."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name; values plain SI."""
    us = system == "US"
    flows = [Q_(v, "cfm") for v in range(0, 3001, 250)] if us else [Q_(v, "m**3/s") for v in np.arange(0.0, 1.5, 0.1)]
    areas = [Q_(v, "inch**2") for v in (0, 50, 100, 150, 200, 300, 400, 600, 1000)] if us else [
        Q_(v, "cm**2") for v in (0, 300, 600, 900, 1300, 2000, 2600, 4000, 6500)]  # fmt: skip
    warmth = [Q_(v, "degF") for v in range(-20, 81, 10)] if us else [Q_(v, "degC") for v in range(-30, 31, 5)]
    heights = [Q_(v, "ft") for v in range(0, 10001, 1000)] if us else [Q_(v, "m") for v in range(0, 3001, 500)]

    def listed(quantities, unit, kind):
        return [(show(q, system, kind), float(q.m_as(unit))) for q in quantities]

    return {
        "exhaust": slider("Kitchen hood", listed(flows, "m**3/s", "volume flow"), 0.708),
        "free": slider("Free area, each", listed(areas, "m**2", "area"), 0.129),
        "changes": slider("Leakage at 50 Pa", [(f"{v:g} changes/h", v) for v in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)], 2.0),
        "supply": slider("Supply fan", listed(flows, "m**3/s", "volume flow"), 0.0),
        "firing": choice("Boilers firing", [("both", 2), ("one", 1), ("none", 0)], 2),
        "order": choice("Which ran first", [("the kitchen hood", "hood"), ("the boilers", "boilers")], "hood"),
        "outdoor": slider("Outdoors", listed(warmth, "K", "temperature"), 283.15),
        "altitude": slider("Altitude", listed(heights, "m", "height"), 0.0),
    }


def explorer_answer(
    system: str,
    *,
    exhaust: float,
    free: float,
    changes: float,
    supply: float,
    firing: int,
    order: str,
    outdoor: float,
    altitude: float,
) -> tuple[str, bytes]:
    """Balance of the room, its outlets, and both over the exhaust flow; plain SI."""
    season, site = (Season("now", Q_(outdoor, "K"), WINTER.room),), plant(altitude)
    volume = Q_(3000, "ft**3")
    own = RoomAir(
        volume,
        louvers(Q_(free, "m**2")) if free > 0.0 else (),
        Leakage.of_changes(Q_(changes, "1/hour"), volume),
        (Exhaust("kitchen hood", Q_(exhaust, "m**3/s")),),
        Q_(supply, "m**3/s"),
    )
    lines = curves(site, season[0], own, firing)
    found = _stands(lines, site, season, own, firing, order)
    limit = depressurization.depressurization_limit(site, "Boiler 1", own).limit
    chart = fan_chart(lines, float(found.pressure[0]), exhaust, None if limit is None else float(limit.m), system)
    return _words(found, own, system), picture(chart)


def _stands(lines: Curves, site: Plant, season: tuple[Season], own: RoomAir, firing: int, order: str) -> Coupled:
    """Where the room comes to rest, as by `combustion_air.from_idle` or `coupled`, sought from the curves."""
    exhaust = own.exhausts[0].flow.m_as("m**3/s")
    row = 1
    if order == "hood":
        *idle, turns = lines.near(0, exhaust)
        if turns:  # too near to tell from the curve
            idle = room_pressure.coupled(site, season, _one(0, 1.0), own, before=tuple(idle)).standing
        row = 2 if idle[1].sum() < 0.0 else 1
    return room_pressure.coupled(site, season, _one(firing, 0.0), own, before=lines.near(row, exhaust)[:2])


def _one(firing: int, cold: float) -> States:
    codes = np.array([[1.0 if i < firing else 0.0] for i in range(2)])
    return States(codes, np.array([0]), np.array([cold]), np.array([False]))


def _words(found: Coupled, own: RoomAir, system: str) -> str:
    if not found.balanced[0]:
        return paragraph(
            "The room is so tight that nothing balances this exhaust: the fan would stall or a door fly open."
        )
    rule = next(
        (v for v in combustion_air_verdicts.judge(found.solution.plant, own) if "one opening high" in v.rule), None
    )
    said = f"By the rule of two openings: {rule.verdict}. " if rule else "No opening to outdoors. "
    said += f"The room stands at {draft_text(found.pressure[0], system)} against outdoors. "
    spills = (found.solution.drawn[:, 0] < -REVERSAL_FLOW).any()
    fires = (found.solution.states.codes[:, 0] > 0).any()
    if spills:
        said += (
            "FLUE GAS ENTERS THE ROOM." if fires else "Cold air comes down the vent: a boiler that lights will spill."
        )
    else:
        said += "Both hoods draw."
    return paragraph(said) + balance_table(found, 0, system) + outlets_table(found, 0, system)


# --- Questions -----------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("combustion_air", (louver, altitude, hood, tight_room), system, seed)


def louver(heat: Quantity) -> dict[str, Quantity]:
    """The face of a metal louver at the end of a horizontal duct."""
    free, leaves = air.opening_area(heat, "horizontal duct"), code_rules.figure("combustion_air", "metal louver")
    wrong = {"direct": air.opening_area(heat, "direct") / leaves, "times": free * leaves}
    return {"answer": free / leaves, "free": free, **wrong}


def altitude(heat: Quantity, high: Quantity, warm: Quantity) -> dict[str, Quantity]:
    """What the burners take in thin air."""
    sea, answer = (
        air.burner_air(fuel("natural gas"), 0.5, heat, warm, atmosphere.standard_pressure(z)) for z in (0 * high, high)
    )
    ratio = answer / sea
    told = {"ratio": ratio, "thinner": 1.0 / ratio, "rule": air.mechanical_supply(heat)}
    return {"answer": answer.to("m**3/s"), "sea": sea, **told, "upside_down": sea / ratio}


def hood(flow: Quantity, free: Quantity, cold: Quantity) -> dict[str, Quantity]:
    """Where a room stands whose exhaust comes in through one opening."""
    answer = -orifice_flow.opening_pressure(flow, free, cold)
    wrong = {"wrong_sign": -answer, "whole_area": 0.36 * answer, "twice": answer / 0.36}
    return {"answer": answer, "jet": flow / (0.6 * free), **wrong}


def tight_room(measured: Quantity, part: str) -> dict[str, Quantity | float | int]:
    """Where a room stands whose exhaust comes in through its cracks."""
    count, at = {"A half": 2, "A third": 3, "A quarter": 4}[part], Q_(50.0, "Pa")
    power = (1.0 / count) ** (1.0 / leakage.LEAKAGE_EXPONENT)
    told = {"at": at, "exhaust": measured / count, "count": count, "power": power, "size": at * power}
    wrong = {"wrong_sign": at * power, "linear": -at / count, "square": -at / count**2}
    return {"answer": -at * power, **told, **wrong}
