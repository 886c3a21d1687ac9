"""Combustion air: the chapter's boiler room behind a kitchen, its figures, live controls and questions."""

from dataclasses import replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.building import (
    code_rules,
    combustion_air_verdicts,
    combustion_air_words,
    depressurization,
    leakage,
    makeup_air,
    orifice_flow,
    room_pressure,
)
from ventcalc.building import combustion_air as air
from ventcalc.building.room_air import Exhaust, Leakage, Opening, RoomAir
from ventcalc.building.room_pressure import Coupled
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.common_vent import draft_text
from ventcalc.handbook.room_curves import curves, draw_fan, stands
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, steps, table
from ventcalc.show.plots import BLUE, INK, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.sketch import sketch
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season
from ventcalc.vent.reversal import REVERSAL_FLOW

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


def stands_so(found: Coupled, state: int, system: str) -> HTML:
    """The room's balance and its outlets in one state."""
    return HTML(balance_table(found, state, system) + outlets_table(found, state, system))


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


def verdicts_told(system: str) -> HTML:
    """What all rules say of the room, a paragraph each."""
    told = combustion_air_verdicts.judge(plant(), room())
    return HTML("".join(paragraph(combustion_air_words.verdict_sentence(v, system)) for v in told))


def effects_told(effects, cure: makeup_air.Cure, system: str) -> HTML:
    """What the exhaust does to each outlet over all firing states, and what would cure it."""
    return HTML("".join(map(paragraph, combustion_air_words.sentences(effects, cure, system))))


def orders_told(season: int, system: str) -> HTML:
    """Room and hoods with both boilers firing, by what ran first."""
    state, rows = state_of(2, season), []
    for words, found in (("the kitchen hood", solved(1.0)), ("the boilers", boilers_first())):
        drawn = _draws(found, state)
        does = f"{'spill' if drawn < 0.0 else 'draw'} {show(Q_(abs(drawn), 'kg/s'), system)}"
        rows.append((words, draft_text(found.pressure[state], system), does))
    header = (f"{SEASONS[season].name}: what ran first", "room against outdoors", "both hoods together")
    return HTML(table(header, rows))


# --- Figures -------------------------------------------------------------------------------------------------


_BOILERS, _STACK = (2.7, 5.9), 7.9  # where they stand in the drawing


def room_drawing(system: str, found: Coupled | None = None, state: int = 0) -> Figure:
    """The boiler room behind the kitchen; with a solution, the flows of one state as arrows and numbers."""
    figure = sketch("boiler_room")
    if found is not None:
        _draw_flows(figure.axes[0], found, state, system)
    return figure


def _draw_flows(axes, found: Coupled, state: int, system: str) -> None:
    flows = found.openings[:, state] if len(found.openings) else (0.0, 0.0)  # both louvers shut
    for flow, y in zip(flows, (4.3, 0.7), strict=True):
        _arrow(axes, (-0.9, y), (1.0, 0.0), flow, BLUE)
        axes.text(-1.1, y + 0.35, _flow_text(flow, system), size=SIZE, ha="right", va="center", color=BLUE)
    hood = found.exhausts[0, state]
    if hood > 0.0:
        _arrow(axes, (9.4, 1.6), (1.3, 0.0), hood, RUST)  # from the room into the kitchen, and out above its roof
        _arrow(axes, (12.1, 6.1), (0.0, 0.7), hood, RUST)
    axes.text(11.8, 6.45, _flow_text(hood, system), size=SIZE, ha="right", va="center", color=RUST)
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


# --- Live controls -------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """The boiler room: louvers, walls, supply, weather, what fires, and the kitchen hood."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name; values plain SI."""
    flows = steps("volume flow", system, range(0, 3001, 250), np.arange(0.0, 1.5, 0.1))
    us, si = (0, 50, 100, 150, 200, 300, 400, 600, 1000), (0, 300, 600, 900, 1300, 2000, 2600, 4000, 6500)
    warmth = steps("temperature", system, range(-20, 81, 10), range(-30, 31, 5))
    heights = steps("height", system, range(0, 10001, 1000), range(0, 3001, 500))
    return {
        "exhaust": slider("Kitchen hood", flows, 0.0),
        "free": slider("Free area, each", steps("area", system, us, si), 0.129),
        "changes": slider("Leakage at 50 Pa", [(f"{v:g} changes/h", v) for v in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)], 2.0),
        "supply": slider("Supply fan", flows, 0.0),
        "firing": choice("Boilers firing", [("both", 2), ("one", 1), ("none", 0)], 2),
        "order": choice("Which ran first", [("the kitchen hood", "hood"), ("the boilers", "boilers")], "hood"),
        "outdoor": slider("Outdoors", warmth, 283.15),
        "altitude": slider("Altitude", heights, 0.0),
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
    found = stands(lines, site, season, own, firing, order)
    limit = depressurization.depressurization_limit(site, "Boiler 1", own).limit
    figure = room_drawing(system, found if found.balanced[0] else None)
    most = None if limit is None else float(limit.m)
    draw_fan(_axes_below(figure), lines, float(found.pressure[0]), exhaust, most, system)
    return _words(found, own, system), picture(figure)


def _axes_below(figure: Figure, height: float = 2.6) -> Axes:
    """Axes of that height [inch] under what a figure has."""
    (drawn,), above = figure.axes, figure.get_size_inches()[1]
    total = above + height
    figure.set_size_inches(WIDTH, total)
    x, y, wide, high = drawn.get_position().bounds
    drawn.set_position((x, (y * above + height) / total, wide, high * above / total))
    return figure.add_axes((0.135, 0.5 / total, 0.83, (height - 0.65) / total))


def _words(found: Coupled, own: RoomAir, system: str) -> str:
    if not found.balanced[0]:
        return paragraph(
            "The room is so tight that nothing balances this exhaust: the fan would stall or a door fly open."
        )
    rule = next(
        (v for v in combustion_air_verdicts.judge(found.solution.plant, own) if "one opening high" in v.rule), None
    )
    said = f"By the rule of two openings: {rule.verdict}. " if rule else "No opening to outdoors. "
    said += f"The room is at {draft_text(found.pressure[0], system)} against outdoors. "
    spills = (found.solution.drawn[:, 0] < -REVERSAL_FLOW).any()
    fires = (found.solution.states.codes[:, 0] > 0).any()
    if spills:
        said += (
            "FLUE GAS ENTERS THE ROOM." if fires else "Cold air comes down the vent: a boiler that lights will spill."
        )
    else:
        said += "Both hoods draw."
    return paragraph(said) + balance_table(found, 0, system) + outlets_table(found, 0, system)


# --- Prediction, and what is to be written -------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a hood switched on over boilers that run."""
    return predict("combustion_air", which_ran_first, system)


def which_ran_first(outdoor: Quantity, exhaust: Quantity) -> dict[str, Quantity | int]:
    """What both draft hoods do under the kitchen hood, boilers lit before it and after it."""
    season = (Season("now", outdoor, MILD.room),)
    own = room(exhausts=(replace(KITCHEN, flow=exhaust),))
    lines = curves(plant(), season[0], own, 2)
    lit, hooded = (stands(lines, plant(), season, own, 2, order) for order in ("boilers", "hood"))
    holds, turned = _draws(lit, 0), _draws(hooded, 0)
    return {
        "right": 0 if holds < 0.0 else 1 if turned < 0.0 else 2,
        "figure": Q_(holds, "kg/s"),
        "held": Q_(float(lit.pressure[0]), "Pa"),
        "turned": Q_(abs(turned), "kg/s"),
        "after": Q_(float(hooded.pressure[0]), "Pa"),
    }


def writing(system: str = "US") -> Writing:
    """What an opening takes for the air through it, to be written by the reader."""
    return load_writing("combustion_air", through_an_opening, system)


STANDARD_AIR = Q_(0.075, "lb/ft**3")  # of the trade: the air whose velocity pressure is (v/4005)²


def through_an_opening(flow: Quantity, free: Quantity, density: Quantity) -> dict[str, Quantity]:
    """Pressure across an opening, and what it becomes by the slips that are made with it."""
    answer, whole = orifice_flow.opening_pressure(flow, free, density), orifice_flow.OPENING_COEFFICIENT**2
    by_density = (density / STANDARD_AIR).to("")
    return {
        "answer": answer,
        "whole_area": answer * whole,
        "after_squaring": answer * orifice_flow.OPENING_COEFFICIENT,
        "standard_air": answer / by_density,
        "density_squared": answer * by_density,
    }


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
