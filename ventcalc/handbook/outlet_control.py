"""Outlet control, the chapter: the swimming hall under its alternates, figures, live controls, questions, checks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from ventcalc.checked import Check, compare
from ventcalc.draft import damper_leakage, damper_sizing, dampers, outlet_control
from ventcalc.draft.common_window import EITHER, CommonWindow, hold_header, offsets
from ventcalc.draft.common_window import common_window as window_of
from ventcalc.draft.fan_selection import power_text
from ventcalc.draft.held_pressure import HEADER, Control, Device, Held, Ideal, before_termination, hold
from ventcalc.draft.outlet_control import Arrangement, in_series, set_point, shut_leak, with_windows
from ventcalc.gas.appliance import Leak
from ventcalc.handbook.common_vent import DOES, Outlet, draft_text, outlet, swim_hall
from ventcalc.show import tags
from ventcalc.show.axes import label, number, picture
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, table
from ventcalc.show.plots import BLUE, INK, PALE, RUST, SIZE, WIDTH, plain_axes
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.section_drawing import section_drawing
from ventcalc.show.svg import Drawing
from ventcalc.show.tags import Placed
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show, shown_unit, unit_text
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, reversal
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, compile_network
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.states import States

# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Openings in series, and what a shut damper leaks at its rating and below."""
    square = dampers.Damper(
        "parallel", Q_(2.0, "ft"), Q_(2.0, "ft"), damper_leakage.leakage_class("4 cfm/ft2"), count=4
    )
    rated = shut_leak(square)
    # Behind its like it has half the pressure.
    halved = in_series(rated, rated)
    return compare(
        "outlet_control_checks", {"OC001": _area_in_series(10.0, 13.333), "OC002": _area_in_series(1.0, 1.0)}
    ) + compare("dampers_checks", {key: float(k.flow.m_as("cfm")) for key, k in (("DM014", rated), ("DM015", halved))})


def _area_in_series(inlet: float, outlet: float) -> float:
    """The one opening that passes as much as two behind each other; flows at one pressure are as the areas."""
    one, other = (Leak(Q_(area, "ft**3/s"), Q_(1.0, "Pa")) for area in (inlet, outlet))
    return float(in_series(one, other).flow.m_as("ft**3/s"))


# --- The swimming hall under its alternates -------------------------------------------------------------------

SPECIFIED = "as specified"
LEAKAGE = "EN class 3"  # of the outlets' dampers when shut
EXCHANGED = ("Boiler 1", "Boiler 2")  # the boilers for which alternates are named


@cache
def windows_offered() -> dict[str, tuple[Quantity, Quantity]]:
    """Outlet windows of the two large boilers by name: as specified, and those of the job's alternates."""
    hall = swim_hall()
    own = {SPECIFIED: hall.plant.appliances[0].window}
    return own | {a.name.partition(":")[0]: a.window for a in hall.alternates}


def with_makes(plant: Plant, *makes: str) -> Plant:
    """The swimming hall's vent with the windows of these makes for Boiler 1 and Boiler 2."""
    return with_windows(plant, {n: windows_offered()[m] for n, m in zip(EXCHANGED, makes, strict=True)})


def with_the_makes(of: Scan, *makes: str) -> Scan:
    """The same for a solved scan: other windows do not change what flows."""
    return replace(of, plant=with_makes(of.plant, *makes))


def makes_in_pairs() -> tuple[tuple[str, str], ...]:
    """What may stand as Boiler 1 and as Boiler 2: both alike, and the two alternates side by side."""
    a, b = (name for name in windows_offered() if name != SPECIFIED)
    return ((SPECIFIED, SPECIFIED), (a, a), (b, b), (a, b))


def real_dampers(plant: Plant) -> dict[str, Device]:
    """A butterfly in every connector, shut as tightly as its class."""
    return outlet_control.round_dampers(plant, damper_leakage.leakage_class(LEAKAGE))


def excursions(envelope: Envelope, system: str) -> str:
    """How far an outlet leaves its window on either side, plain numbers in the unit of draft."""
    decimals = 3 if system == "US" else 1
    sides = ((envelope.below, "below"), (envelope.above, "above"))
    found = [f"{float(number(by, 'Pa', 'draft', system)):.{decimals}f} {side}" for by, side in sides if by > 0.0]
    return ", ".join(found) or "inside"


def large_draft(pressure: Quantity, system: str) -> str:
    """A pressure far beyond any window, without digits that nobody needs."""
    return f"{pressure.m_as('inH2O'):.1f} in. w.c." if system == "US" else f"{pressure.m_as('Pa'):,.0f} Pa"


def small_flow(flow: Quantity, system: str) -> str:
    """A leak with the digits it needs."""
    unit = "cfm" if system == "US" else "L/s"
    return f"{float(flow.m_as(unit)):.3g} {unit}"


# --- Tables -------------------------------------------------------------------------------------------------


def windows_table(plant: Plant, system: str = "US") -> HTML:
    """The outlets and their windows."""
    rows = [(a.name, " to ".join(show(edge, system) for edge in a.window)) for a in plant.appliances]
    return HTML(table(("boiler", "window at its outlet"), rows))


def makes_table(scan: Scan, system: str = "US") -> HTML:
    """What one header control can do for each pair of makes; other windows do not change what flows."""
    rows = []
    for makes in makes_in_pairs():
        common = window_of(with_the_makes(scan, *makes))
        edges = draft_text(common.low, system), draft_text(common.high, system)
        verdict = f"lacks {draft_text(common.lacking, system)}" if common.lacking else "one set point suits all"
        rows.append((*makes, *edges, verdict, str(len(common.conflicts))))
    header = ("Boiler 1", "Boiler 2", "header not below", "not above", "verdict", "states that no set point suits")
    return HTML(table(header, rows))


def arrangements_table(arrangements: Sequence[Arrangement], system: str = "US") -> HTML:
    """Where each arrangement holds the header, its devices, and how far the outlets leave their windows."""
    rows = []
    for a in arrangements:
        at = "free" if a.set_point is None else draft_text(a.set_point, system)
        far = (excursions(e, system) for e in a.envelopes)
        rows.append((a.name, at, str(a.devices), str(a.missed.size), *far))
    unit = unit_text(shown_unit("draft", system))
    boilers = (f"{a.name}, {unit}" for a in arrangements[0].scan.plant.appliances)
    return HTML(table(("arrangement", "header", "devices", "states missed", *boilers), rows))


def idle_table(scans: Mapping[str, Scan], system: str = "US") -> HTML:
    """The most that passes an idle boiler either way in any state, without and with dampers."""
    rows = []
    for words, scan in scans.items():
        drawn = max(float(scan.solution.drawn.max()), 0.0)
        spilled = max((r.flow for r in reversal.reversals(scan)), default=0.0)
        rows.append((words, *(show(Q_(flow, "kg/s"), system) for flow in (drawn, spilled))))
    header = ("all states, no control", "most room air through an idle boiler", "most flue gas into the room")
    return HTML(table(header, rows))


def cost_table(arrangements: Mapping[str, Arrangement], system: str = "US") -> HTML:
    """What the device at the top has to add, and its power on the gas."""
    rows = []
    for words, a in arrangements.items():
        power = float(np.max(a.held.added[0] * a.held.flow[0]))
        adds = " to ".join(draft_text(added, system) for added in a.header_adds)
        held = draft_text(a.set_point, system)
        rows.append((words, str(a.devices), held, adds, power_text(power, system), str(a.missed.size)))
    header = (
        "arrangement",
        "devices",
        "header held at",
        "added at the top",
        "most power given to the gas",
        "states missed",
    )
    return HTML(table(header, rows))


def dampers_table(arrangement: Arrangement, system: str = "US") -> HTML:
    """What each outlet's damper is asked for over all states, and how finely it must be moved."""
    rows = []
    for k, asked in enumerate(arrangement.duties, start=1):
        device, duties = arrangement.held.controls[k].device, damper_sizing.Duties.of(arrangement.held, k)
        best = damper_sizing.size(duties, [device], Q_(0.01, "inH2O"))[0]
        range_ = f"{asked.loss[0]:.1f} to {asked.loss[1]:.1f}"
        takes, step = draft_text(asked.pressure, system), draft_text(float(best.step.max()), system)
        rows.append((asked.appliance, range_, takes, f"{best.smallest[0]:.0%}", step))
    header = (
        "boiler",
        "K, all states",
        "takes at most",
        "smallest opening",
        "1 % of the stroke moves the outlet by, at most",
    )
    return HTML(table(header, rows))


# --- Figures ------------------------------------------------------------------------------------------------


def windows_drawing(common: CommonWindow, system: str, damped: bool = False) -> Figure:
    """The outlets' windows as header pressures, and what they have in common or lack."""
    count = len(common.scan.plant.appliances)
    height = 1.35 + 0.42 * count
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.115, 0.56 / height, 0.86, (height - 0.86) / height))
    draw_windows(axes, common, system, damped)
    _legend(figure, damped)
    return figure


def _legend(figure: Figure, damped: bool) -> None:
    handles = [
        Patch(fc=BLUE, ec=INK, label="suits in every state"),
        Patch(fc=PALE, ec=INK, label="only in some states"),
        Patch(fc="white", ec=RUST, hatch="xxxx", label="no value suits every state"),
    ]
    if damped:
        handles = [*handles[:1], Patch(fc=PALE, ec=INK, label="damper open, yet too high in some states")]
    figure.legend(handles=handles, loc="upper center", ncols=3, frameon=False, fontsize=SIZE, borderaxespad=0.1)


def draw_windows(axes: Axes, common: CommonWindow, system: str, damped: bool = False) -> None:
    """One bar an outlet over the header pressures that suit it; with dampers only the upper end is left."""
    plant = common.scan.plant
    spans = [
        (number(common.of(i), "Pa", "draft", system), _reach(common, i, system)) for i in range(len(common.lowest))
    ]
    ends = np.array([[*inner, *outer] for inner, outer in spans])
    left, right = ends.min(), ends.max()
    left, right = left - 0.12 * (right - left), right + 0.06 * (right - left)
    low, high = (float(number(p, "Pa", "draft", system)) for p in (common.low, common.high))
    for y, ((first, last), (lowest, highest)) in enumerate(spans):
        start = left if damped else lowest
        axes.barh(y, highest - start, left=start, height=0.62, fc=PALE, ec=INK, lw=0.8, zorder=2)
        start = left if damped else first
        suits = last >= start
        style = {"fc": BLUE, "ec": INK} if suits else {"fc": "white", "ec": RUST, "hatch": "xxxx"}
        axes.barh(y, abs(last - start), left=min(start, last), height=0.36, lw=1.0, zorder=3, **style)
    if damped:
        axes.axvline(high, color=INK, lw=1.2, ls=(0, (4, 2)), zorder=5)
        words, at = f"at or below {draft_text(common.high, system)}", high
    else:
        look = {"fc": "none", "ec": INK if low <= high else RUST, "hatch": "////", "zorder": 1}
        axes.add_patch(Rectangle((min(low, high), -0.42), abs(high - low), len(spans) - 0.08, **look))
        does = f"one set point suits all: {draft_text(common.low, system)} to {draft_text(common.high, system)}"
        words = does if low <= high else f"they miss each other by {draft_text(common.lacking, system)}"
        at = 0.5 * (low + high)
    ground = {"fc": "white", "ec": "none", "pad": 1.5}
    axes.text(at, -0.66, words, size=SIZE, ha="center", va="center", bbox=ground, zorder=8)
    plain_axes(axes)
    axes.spines["left"].set_visible(False)
    axes.tick_params(left=False)
    axes.set_yticks(range(len(spans)), [a.name for a in plant.appliances])
    axes.set_ylim(len(spans) - 0.5, -0.95)
    axes.set_xlim(left, right)
    axes.set_xlabel(f"header pressure against the room, {label('draft', system)} (negative is draft)", size=SIZE)


def _reach(common: CommonWindow, i: int, system: str) -> np.ndarray:
    """From the least to the greatest header pressure that suits outlet i in any state."""
    runs = np.isfinite(common.lowest[i])
    return number((common.lowest[i, runs].min(), common.highest[i, runs].max()), "Pa", "draft", system)


def states_drawing(arrangements: Sequence[Arrangement], system: str) -> Figure:
    """Every outlet in every state under each arrangement: one thin mark a state on the box of its window."""
    count = len(arrangements[0].scan.plant.appliances)
    panel, below, legend = 0.34 * count + 0.34, 0.58, 0.34
    height = panel * len(arrangements) + below + legend
    figure = Figure((WIDTH, height))
    every = []
    for k, arrangement in enumerate(arrangements):
        bottom = (below + panel * (len(arrangements) - 1 - k)) / height
        axes = figure.add_axes((0.115, bottom, 0.86, (panel - 0.34) / height))
        _draw_states(axes, arrangement, system)
        every.append(axes)
    reach = max(np.abs(a.get_xlim()).max() for a in every)
    for axes in every:
        axes.set_xlim(-reach, reach)
        axes.tick_params(labelbottom=axes is every[-1])
    every[-1].set_xlabel(f"outlet pressure against the room, {label('draft', system)} (negative is draft)", size=SIZE)
    handles = [
        Patch(fc=PALE, ec=INK, label="window"),
        Line2D([], [], ls="", marker="|", ms=9, color=BLUE, label="a state inside"),
        Line2D([], [], ls="", marker="|", ms=14, mew=1.6, color=RUST, label="a state outside (taller)"),
    ]
    figure.legend(handles=handles, loc="upper center", ncols=3, frameon=False, fontsize=SIZE, borderaxespad=0.1)
    return figure


def _draw_states(axes: Axes, arrangement: Arrangement, system: str) -> None:
    scan = arrangement.scan
    outside = outlet_envelope.outside_window(scan)
    for y, a in enumerate(scan.plant.appliances):
        low, high = number([w.m_as("Pa") for w in a.window], "Pa", "draft", system)
        axes.add_patch(Rectangle((low, y - 0.42), high - low, 0.84, fc=PALE, ec=INK, lw=0.9, zorder=1))
        at = number(scan.solution.outlet_pressure[y], "Pa", "draft", system)
        for pick, half, style in (
            (scan.running(y) & ~outside[y], 0.2, {"color": BLUE, "lw": 0.7}),
            (outside[y], 0.4, {"color": RUST, "lw": 0.9}),
        ):
            axes.vlines(at[pick], y - half, y + half, zorder=3, **style)
    axes.axvline(0.0, color=INK, lw=0.8, zorder=2)
    plain_axes(axes)
    axes.spines["left"].set_visible(False)
    axes.tick_params(left=False)
    axes.set_yticks(range(len(outside)), [a.name for a in scan.plant.appliances])
    axes.set_ylim(len(outside) - 0.5, -0.5)
    axes.autoscale_view(scaley=False)
    missed = f"{arrangement.missed.size} of {len(scan.states)} states missed"
    axes.set_title(f"{arrangement.name}: {missed}", size=SIZE, weight="bold", loc="left", pad=3, color=INK)


# --- Live controls ------------------------------------------------------------------------------------------

NONE, IDEAL, ROUND = "none", "ideal", "butterfly"
FREE, FAN, BOTH = "nothing: natural draft", "a fan", "a fan and a damper"

_NEAR = {NONE: -0.03, IDEAL: -0.09, ROUND: -0.16}  # in. w.c. of the header, near what each fit wants


@dataclass(frozen=True, eq=False)
class Fitted:
    """The swimming hall with or without outlet dampers, in all states; plain arrays (appliances, states), Pa.

    ``free`` as nothing holds it, with the ``header`` (states) then; ``d`` of the outlets above the header, dampers
    open, ``free_d`` of the free vent and ``held_d`` while the header is held.
    """

    devices: Mapping[str, Device]
    network: Network
    free: Scan
    header: np.ndarray
    free_d: np.ndarray
    held_d: np.ndarray


def dampers_of(fit: str) -> Mapping[str, Device]:
    """The outlet dampers of one of the fits by the boiler's name."""
    plant = swim_hall().plant
    return {} if fit == NONE else real_dampers(plant) if fit == ROUND else outlet_control.ideal_dampers(plant)


@cache
def uncontrolled(fit: str) -> Scan:
    """Every state of the swimming hall with one of the fits: dampers of idle boilers shut, the others open."""
    hall = swim_hall()
    return firing_states.scan(outlet_control.with_shut_dampers(hall.plant, dampers_of(fit)), hall.seasons)


@cache
def fitted(fit: str) -> Fitted:
    """The swimming hall solved for one of the fits; its windows do not matter."""
    devices, free = dampers_of(fit), uncontrolled(fit)
    held = hold_header(free, Q_(_NEAR[fit], "inH2O").m_as("Pa")).scan(free)
    return Fitted(
        devices=devices,
        network=compile_network(free.plant, free.seasons),
        free=free,
        header=end_of_header.header_pressure(free),
        free_d=offsets(free) + outlet_control.open_losses(free, devices),
        held_d=offsets(held) + outlet_control.open_losses(held, devices),
    )


def common_window(fit: str, *makes: str) -> CommonWindow:
    """The windows of these makes as header pressures; open dampers shift them by what they cost."""
    case = fitted(fit)
    return window_of(with_the_makes(case.free, *makes), case.held_d)


def everywhere(makes: Sequence[str], fit: str, header: str, pressure: float, share: float) -> np.ndarray:
    """Where a running outlet misses its window (appliances, states), by d and the set points alone.

    ``pressure`` [Pa] is the header's set point, ``share`` where in its window each damper's stands.
    """
    case = fitted(fit)
    plant = with_makes(case.free.plant, *makes)
    at = {FREE: case.header, FAN: np.minimum(case.header, pressure), BOTH: np.full(case.header.shape, pressure)}[header]
    outlets = at + (case.free_d if header == FREE else case.held_d)
    if case.devices:
        outlets = np.maximum(outlets, [[set_point(a, share).m_as("Pa")] for a in plant.appliances])
    low, high = np.array([[w.m_as("Pa") for w in a.window] for a in plant.appliances]).T[:, :, None]
    runs = case.free.states.codes > 0
    return runs & ((outlets < low - outlet_envelope.READABLE) | (outlets > high + outlet_envelope.READABLE))


def acting(plant: Plant, devices: Mapping[str, Device], header: str, pressure: float, share: float):
    """The controls: one at each outlet that has a damper, and last the header's, which may be able to do nothing."""
    device = {FREE: Ideal(0.0, 0.0), FAN: outlet_control.ADDS, BOTH: EITHER}[header]
    top = Control(before_termination(plant), device, HEADER, Q_(pressure, "Pa"))
    return (*outlet_control.controls(plant, devices, share), top)


def explorer(system: str = "US") -> Panel:
    """Controls over makes, devices, set points and one state of the swimming hall."""
    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first the boilers as specified on one header control, one low, one high."""
    hall = swim_hall()
    found: dict[str, widgets.Widget] = {
        "first": choice("Boiler 1 is", windows_offered(), SPECIFIED),
        "second": choice("Boiler 2 is", windows_offered(), SPECIFIED),
        "fit": choice("Outlet dampers", [("none", NONE), ("ideal", IDEAL), ("butterflies", ROUND)], NONE),
        "header": choice("Header held by", (FREE, FAN, BOTH), BOTH),
        "pressure": slider(f"Header, {label('draft', system)}", _pressures(system), Q_(-0.025, "inH2O").m_as("Pa")),
        "share": slider("Outlets, in window", [(f"{k} %", k / 100) for k in range(10, 91, 10)], 0.5),
        "season": choice("Season", [(s.name, i) for i, s in enumerate(hall.seasons)], len(hall.seasons) - 1),
    }
    does = ("low", "high", "off")
    for boiler, state in zip(hall.plant.appliances, does, strict=True):
        found[DOES + boiler.name] = choice(boiler.name, boiler.states, state)
    return found


def _pressures(system: str) -> list[tuple[str, float]]:
    """(label, Pa) pairs of the header's set point; the unit stands beside the slider, whose label has no room."""
    unit, steps = ("inH2O", 0.005 * np.arange(-50, 9)) if system == "US" else ("Pa", 1.0 * np.arange(-62, 11))
    return [(f"{v:.{3 if system == 'US' else 0}f}", float(Q_(float(v), unit).m_as("Pa"))) for v in steps]


def explorer_answer(
    system: str, *, first: str, second: str, fit: str, header: str, pressure: float, share: float, season: int, **doing
) -> tuple[str, bytes, Drawing]:
    """Numbers, picture and drawing of one state, solved with its controls, and how many of all states are missed.

    ``pressure`` [Pa] of the header's set point, ``share`` of the window of the outlets', ``doing`` gives
    "does NAME" = what that appliance does.
    """
    case = fitted(fit)
    plant = with_makes(case.free.plant, first, second)
    codes = np.array([[a.states.index(doing[DOES + a.name])] for a in plant.appliances])
    states = States(codes, np.array([season]), np.array([False]), np.array([False]))
    held = hold(plant, case.free.seasons, states, acting(plant, case.devices, header, pressure, share))
    outlets = tuple(outlet(held.solution, i, 0) for i in range(len(plant.appliances)))
    common = common_window(fit, first, second)
    rows = [_row(held, o, system) for o in outlets]
    numbers = table(("outlet", "firing", "window", "pressure", "verdict", "its damper takes"), rows)
    missed = everywhere((first, second), fit, header, pressure, share)
    at = float(np.where(codes.any(), end_of_header.far_end_pressure(held.solution, case.network)[0], np.nan))
    numbers += paragraph(_said(held, header, at, int(missed.any(axis=0).sum()), missed.shape[1], system))
    if not held.settled[0]:
        numbers += paragraph("This state did not settle; do not use its numbers.")
    scan = Scan(plant, case.free.seasons, held.solution, 1, False)
    drawn = section_drawing(scan, 0, system, _stands(held, header))
    return numbers, picture(_explorer_picture(common, at, fit != NONE, system)), drawn


def _stands(held: Held, header: str) -> tuple[Placed, ...]:
    """The devices in the vent: dampers at outlets, and what holds the header with its sensor, a fan or its damper."""
    *own, last = held.controls
    found = [Placed(f"BD-{k}", tags.OUTLET_DAMPER, c.section, c.sensor) for k, c in enumerate(own, 1)]
    if header == FREE:
        return tuple(found)
    takes = header == BOTH and held.added[-1, 0] < 0.0
    device = Placed("MD-1", tags.DAMPER, last.section) if takes else Placed("F-1", tags.FAN, last.section)
    return (*found, device, Placed("PT-1", tags.SENSOR, end_of_header.far_end(held.solution.plant)))


def _row(held: Held, o: Outlet, system: str) -> tuple[str, ...]:
    window = " to ".join(draft_text(w, system) for w in o.window)
    return (o.name, o.state, window, draft_text(o.pressure, system), o.words(system), _taken(held, o.name, system))


def _taken(held: Held, name: str, system: str) -> str:
    """What an outlet's damper takes, and its loss coefficient."""
    found = [k for k, c in enumerate(held.controls) if c.sensor == name]
    if not found:
        return "none"
    if not held.acts[found[0], 0]:
        return "shut"
    asked = outlet_control.duty(held, found[0])
    return f"{draft_text(asked.pressure, system)}, K = {asked.loss[1]:.1f}"


def _said(held: Held, header: str, at: float, missed: int, count: int, system: str) -> str:
    words = [f"Header at {draft_text(at, system)}" if np.isfinite(at) else "Nothing runs"]
    if header != FREE:
        added = float(held.added[-1, 0])
        words.append(f"{'the fan adds' if added >= 0 else 'its damper takes'} {draft_text(abs(added), system)}")
    return "; ".join(words) + f" in this state. With these set points {missed} of {count} states miss a window."


def _explorer_picture(common: CommonWindow, at: float, damped: bool, system: str) -> Figure:
    """Windows as header pressures with the header ``at`` [Pa] its own in this state."""
    height = 2.45
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.115, 0.75 / height, 0.86, 1.6 / height))
    draw_windows(axes, common, system, damped)
    here = float(number(at, "Pa", "draft", system))
    low, high = axes.get_xlim()
    if np.isfinite(here):
        axes.plot([here, here], [axes.get_ylim()[0], -0.42], color=INK, lw=2.0, ls=(0, (1, 1)), zorder=7)
        axes.set_xlim(min(low, here - 0.02 * (high - low)), max(high, here + 0.02 * (high - low)))
        figure.text(0.115, 0.05 / height, "Dotted: the header's pressure in this state.", size=SIZE, color=INK)
    return figure


# --- Prediction, and what is to be written ------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """To what the reader would set the draft control of two makes on one stack."""
    return predict("outlet_control", one_set_point, system)


def one_set_point(first: str, second: str) -> dict[str, Quantity | float | str]:
    """Which header pressure suits both makes in every state: any that both windows allow, a lower one, or none."""
    one, other = (windows_offered()[make] for make in (first, second))
    least, most = max(one[0], other[0]), min(one[1], other[1])
    common = common_window(NONE, first, second)
    low, high = Q_(common.low, "Pa"), Q_(common.high, "Pa")
    by_low, by_high = (common.scan.plant.appliances[i].name for i, _ in common.ends)
    return {
        "right": 2 if common.lacking > 0.0 else 0 if low <= least and most <= high else 1,
        "figure": Q_(common.lacking, "Pa"),
        **{"first_from": one[0], "first_to": one[1], "second_from": other[0], "second_to": other[1]},
        **{"least": least, "most": most, "low": low, "high": high, "by_low": by_low, "by_high": by_high},
        **{"conflicts": len(common.conflicts), "states": len(common.scan.states)},
    }


def writing(system: str = "US") -> Writing:
    """The highest header pressure that lets one damper hold its outlet, to be written by the reader."""
    return load_writing("outlet_control", highest_header, system)


def highest_header(low: Quantity, high: Quantity, d: Quantity, open_loss: Quantity) -> dict[str, Quantity]:
    """Header pressure that puts an outlet with its damper open in the middle of its window; and by the usual slips."""
    middle = 0.5 * (low + high)
    return {
        "answer": middle - d - open_loss,
        "no_open_loss": middle - d,
        "d_added": middle + d - open_loss,
        "loss_added": middle - d + open_loss,
        "upper_edge": high - d - open_loss,
        "half_width": 0.5 * (high - low) - d - open_loss,
    }


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    works = (shifted, lacking, damper_loss, leak_behind_a_shut_damper, stuck)
    return load("outlet_control", works, system, seed)


def shifted(low: Quantity, high: Quantity, near: Quantity, far: Quantity) -> dict[str, Quantity]:
    """Highest header pressure that keeps an outlet ``near`` to ``far`` above it in its window."""
    return {"answer": high - far, "least": high - near, "other_end": low - near, "added": high + far}


def lacking(low: Quantity, least: Quantity, high: Quantity, greatest: Quantity) -> dict[str, Quantity]:
    """By how much two windows miss each other, as header pressures."""
    first, second = low - least, high - greatest
    figures = {"answer": first - second, "overlap": high - low, "plus": (low + least) - (high + greatest)}
    return figures | {"sign": (low + least) - second, "first": first, "second": second}


def damper_loss(wanted: Quantity, open_: Quantity, head: Quantity) -> dict[str, Quantity | float]:
    """K that lifts an outlet from where it stands with its damper open."""
    found = {"answer": wanted - open_, "signs_lost": wanted + open_, "from_zero": wanted, "to_zero": -open_}
    factors = {name: (rise / head).to("") for name, rise in found.items()}
    return factors | {"k": float(factors["answer"].m), "rise": wanted - open_, "depth": -open_}


def leak_behind_a_shut_damper(leak: Quantity, at: Quantity, shut: Quantity, shut_at: Quantity) -> dict[str, Quantity]:
    """What passes an idle boiler and the shut damper behind it."""
    alone = shut * float((at / shut_at).m_as("")) ** 0.5
    reciprocals = leak * shut / (leak + shut)
    both = in_series(Leak(leak, at), Leak(shut, shut_at)).flow
    return {"answer": both, "alone": alone, "side_by_side": leak + alone, "reciprocals": reciprocals}


def stuck(taken: Quantity) -> dict[str, Quantity]:
    """What a damper takes that stays where it is while the flow grows fourfold."""
    return {"answer": 16.0 * taken, "not_squared": 4.0 * taken, "unchanged": taken}
