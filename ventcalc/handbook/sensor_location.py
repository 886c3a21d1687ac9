"""Sensor location: the chapter's vent with its places lettered, live controls, questions, checks and figures."""

from collections.abc import Sequence
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.draft import error_spread, held_pressure, sensor_error, sensor_held, sensor_location, sensor_reading
from ventcalc.draft.error_spread import Errors
from ventcalc.draft.held_pressure import Held
from ventcalc.draft.sensor_reading import Leg, Tap
from ventcalc.flow import friction, junctions
from ventcalc.handbook.common_vent import draft_text, swim_hall
from ventcalc.handbook.friction import fine
from ventcalc.show import elevation
from ventcalc.show.axes import axis, label, number, picture, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH, letters
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import common_vent, end_of_header, firing_states, outlet_envelope
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.states import States

STANDARD_AIR = Q_(0.075, "lb/ft**3")
FIRST_SET_POINT = Q_(-0.02, "inH2O")  # any will do to find the range of those that are right


@cache
def hall() -> Scan:
    """The swimming hall in all its firing states."""
    job = swim_hall()
    return firing_states.scan(job.plant, job.seasons)


@cache
def perfect() -> Held:
    """The swimming hall held by a sensor that never errs."""
    return sensor_held.held(hall(), FIRST_SET_POINT)


def set_points() -> tuple[Quantity, Quantity, Quantity]:
    """Lowest, middle and highest pressure of the end of the header that keep every outlet in its window."""
    low, high = sensor_held.set_points(perfect(), hall())
    return Q_(low, "Pa"), Q_(0.5 * (low + high), "Pa"), Q_(high, "Pa")


def lettered(scan: Scan) -> dict[str, Tap]:
    """The places of a plant by their letter."""
    found = sensor_location.taps(scan.plant)
    return dict(zip(letters(len(found)), found, strict=True))


def place(name: str) -> Tap:
    """The place of the swimming hall with that name."""
    return next(t for t in sensor_location.taps(hall().plant) if t.name == name)


def held_table(vents: dict[str, Held], system: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Header and rows of a table: each outlet's lowest and highest pressure, however the vent is held."""
    names = [a.name for a in hall().plant.appliances]
    rows = []
    for words, vent in vents.items():
        found = outlet_envelope.envelopes(vent.scan(hall()))
        ends = [f"{_bare(e.low, system)} to {_bare(e.high, system)}" for e in found]
        rows.append((words, *ends, _verdict(found, system)))
    return (f"sensor (outlets in {label('draft', system)})", *names, "verdict"), rows


def _bare(pressure: float, system: str) -> str:
    """A pressure without its unit, for tables that say it in their header."""
    return draft_text(pressure, system).removesuffix(label("draft", system)).strip()


def _verdict(found: Sequence[Envelope], system: str) -> str:
    worst = min(found, key=lambda e: e.margin)
    if worst.margin >= 0.0:
        return "holds"
    side = "above" if worst.above > worst.below else "below"
    return f"{worst.appliance} {draft_text(-worst.margin, system)} {side} its window"


def ranking(order: Sequence[Errors], within: float, system: str) -> list[tuple[str, ...]]:
    """Rows of a table under `RANKING`: place, errors, shift of the set point and what is left, all in one unit."""
    marks = {tap: mark for mark, tap in lettered(hall()).items()}
    return [
        (
            f"{marks[e.tap]}: {e.tap.name}",
            *(_bare(p, system) for p in (e.low, e.mean, e.high, e.spread, e.shift, e.left)),
            "yes" if e.cured(within) else "no",
        )
        for e in order
    ]


RANKING = ("place", "lowest error", "mean", "highest", "spread", "set point moves by", "left, either way", "cured")


# --- Tables --------------------------------------------------------------------------------------------------------


def places_told(_system: str = "US") -> HTML:
    """Where the places are, what hole each has, and how straight the pipe is before it."""
    rows = []
    for mark, tap in lettered(hall()).items():
        ahead, _ = sensor_reading.straight_lengths(hall().plant, tap)
        straight = "no flow there" if tap.capped else "none" if tap.narrowed is not None else f"{ahead:.1f} diameters"
        rows.append((mark, tap.name, tap.section, tap.hole, straight))
    return HTML(table(("", "place", "in", "the hole is", "straight pipe before it"), rows))


def windows_told(system: str = "US") -> str:
    """The outlets' windows, and how many firing states there are."""
    scan = hall()
    windows = [f"{a.name}: {' to '.join(show(edge, system) for edge in a.window)}" for a in scan.plant.appliances]
    running = int(scan.any_running.sum())
    return "\n".join(
        [f"windows: {'; '.join(windows)}", f"{len(scan.states)} firing states, {running} with something running"]
    )


def along_the_header(system: str = "US") -> HTML:
    """Speed and errors of three places in the states of the header's chart."""
    scan = hall()
    row = scan.solution.row("header 3")
    taps = [place(n) for n in ("end cap", "wall of the header at the stack", "behind a reducer")]
    rows = []
    for words, state in header_states().items():
        speed = show(Q_(scan.solution.velocity[row, state], "m/s"), system)
        errors = (sensor_reading.read(scan, tap).error[state] for tap in taps)
        rows.append((words, speed, *(draft_text(e, system) for e in errors)))
    return HTML(table(("state", "speed at the stack", "error A: cap", "error D: wall", "error F: reducer"), rows))


def ranking_told(order: Sequence[Errors], within: Quantity, system: str) -> HTML:
    """Every place by its errors over all states."""
    head = (f"place (pressures in {label('draft', system)})", *RANKING[1:])
    return HTML(table(head, ranking(order, within.m_as("Pa"), system)))


def ends_told(order: Sequence[Errors], within: Quantity, system: str) -> str:
    """Which states cause the ends of some places' errors, and what follows."""
    lines = []
    for e in order:
        lines.append(f"{e.tap.name}: {sensor_location.reason(e, within.m_as('Pa')).words(system)}")
        for words, pressure, state in (("lowest", e.low, e.low_state), ("highest", e.high, e.high_state)):
            lines.append(f"– {words}: {draft_text(pressure, system)} with {hall().describe(state, system)}")
    return "\n".join(lines)


def held_told(vents: dict[str, Held], system: str) -> HTML:
    """Each outlet's lowest and highest pressure, however the vent is held."""
    return HTML(table(*held_table(vents, system)))


def legs_told(found: Sequence[Errors], within: Quantity, system: str) -> HTML:
    """Errors of one tap with several legs."""
    rows = []
    for e in found:
        numbers = (draft_text(p, system) for p in (e.low, e.high, e.spread))
        rows.append((e.leg.name, *numbers, "yes" if e.cured(within.m_as("Pa")) else "no"))
    return HTML(table(("leg of a sensor in the end cap", "lowest error", "highest", "spread", "cured"), rows))


def ranges_told(reading: np.ndarray, system: str) -> HTML:
    """Transducers of several ranges: what an accuracy of 1 % means, and in how many states each can read [Pa]."""
    rows = []
    for ends in ((-0.25, 0.0), (-0.25, 0.25), (-0.5, 0.5), (-2.5, 2.5)):
        least, most = (Q_(p, "inH2O") for p in ends)
        off = sensor_error.span_error(least, most, Q_(1.0, "percent"))
        share = sensor_location.shares_seen(reading, least.m_as("Pa"), most.m_as("Pa"))
        rows.append((f"{show(least, system)} to {show(most, system)}", fine(off.to("Pa"), system), f"{share:.0%}"))
    return HTML(table(("range", "off by, at 1 % of span", "states it can read"), rows))


# --- What the chapter stands on ------------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Velocity pressure, wind on a wall, accuracy, straight pipe; a leg as a chimney, a reducer, a capped end."""
    behind = 1.0 / 0.8**4  # heads of the wide end in one of the narrow end, d/D = 0.8
    narrowed = sensor_error.narrowing_error(Q_(2.0, "kg/m**3"), Q_(1.0, "m/s"), Q_(1.0, "m"), Q_(0.8, "m"))
    span = (Q_(0.0, "psi"), Q_(100.0, "psi"), Q_(0.25, "percent"))
    ours = {
        "SL01": float(((2.0 * Q_(1.0, "inH2O") / STANDARD_AIR) ** 0.5).m_as("fpm")),
        "SL02": friction.velocity_head(STANDARD_AIR, Q_(1000.0, "fpm")),
        "SL21": sensor_error.span_error(*span).m_as("psi"),
        "SL22": sensor_error.span_error(*span) / Q_(10.0, "psi"),
        "SL31": sensor_error.STRAIGHT_BEHIND,
        "SL32": sensor_error.STRAIGHT_BEFORE,
        "SL33": sensor_error.STILL_CLOSE,
    }
    for row in tables.read("sensor_location_checks"):
        if row["angle_deg"]:
            ours[row["id"]] = sensor_error.wall_wind_coefficient(Q_(float(row["angle_deg"]), "degree"))
    leg = sensor_error.leg_error(Q_(100.0, "ft"), Q_(0.0414, "lb/ft**3"), Q_(0.0761, "lb/ft**3"))
    cap = junctions.end_cap_excess(1.0, Q_(90.0, "degree")) - 1.0
    return (
        *compare("sensor_location_checks", ours),
        *compare("draft_checks", {"D003": -leg}),
        *compare("losses_checks", {"L015": -narrowed.m_as("Pa") / behind, "L091": cap}),
    )


# --- Figures -------------------------------------------------------------------------------------------------------

_TOP = 8.6  # m, where the drawing of the stack ends


def places_drawing() -> Figure:
    """The swimming hall's vent unfolded into one plane, its places lettered; the stack goes on above."""
    figure = Figure((WIDTH, _drawn_height()))
    _draw_places(figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def _sides(drawn: elevation.Elevation) -> tuple[float, float]:
    low, high = drawn.bounds
    return low[0] - 0.3, high[0] + 0.9


def _drawn_height() -> float:
    left, right = _sides(elevation.unfold(hall().plant))
    return WIDTH * (_TOP + 0.5) / (right - left)


def _draw_places(axes, chosen: str = "") -> None:
    """The vent with its places, the ``chosen`` one dark, on axes of the page's width."""
    plant, drawn = hall().plant, elevation.unfold(hall().plant)
    left, right = _sides(drawn)
    points = WIDTH * 72.0 / (right - left)  # to a meter
    axes.plot([left, right], [0.0, 0.0], color=INK, lw=1.5)
    for corner, other in drawn.boxes:
        axes.add_patch(Rectangle(corner, *(other - corner), fc="white", ec=INK, lw=1.3))
    for i, (corner, other) in enumerate(drawn.boxes):
        axes.text(*(0.5 * (corner + other)), plant.appliances[i].name.split()[-1], ha="center", va="center", size=SIZE)
    runs = [(line, plant.section(name).diameter.m_as("m")) for name, line in drawn.lines.items()]
    runs += [(_cap_line(stub), plant.section(name).diameter.m_as("m")) for name, stub in drawn.stubs.items()]
    for color, more in ((INK, 2.4), (PALE, 0.0)):
        for line, wide in runs:
            axes.plot(*np.minimum(line, [np.inf, _TOP]).T, color=color, lw=wide * points + more,
                      solid_capstyle="butt", solid_joinstyle="round")  # fmt: skip
    for stub in drawn.stubs.values():
        end = _cap_line(stub)[0]
        axes.plot([end[0]] * 2, [end[1] - 0.3, end[1] + 0.3], color=INK, lw=4)
    for mark, tap in lettered(hall()).items():
        _letter(axes, drawn, mark, tap, mark == chosen)
    axes.set(xlim=(left, right), ylim=(-0.2, _TOP + 0.3), aspect="equal")
    axes.axis("off")


def _cap_line(stub: np.ndarray) -> np.ndarray:
    """The capped end, drawn two diameters long so that it can be seen."""
    away = stub[0] - stub[-1]
    return np.array([stub[-1] + 3.4 * away, stub[-1]])


_WAYS = {
    "end cap": (-0.5, 1.0),
    "wall of the header, at its end": (0.2, 1.2),
    "connector at the far outlet": (0.46, -0.95),
    "wall of the header at the stack": (0.0, 1.3),
    "tube facing the gas at the stack": (0.0, -1.3),
    "behind a reducer": (0.4, -1.3),
    "behind the elbow into the stack": (1.3, -0.3),
    "halfway up the stack": (1.3, -0.5),
}


def _letter(axes, drawn: elevation.Elevation, mark: str, tap: Tap, chosen: bool = False) -> None:
    """A letter in a circle, led to its place; that of the sensor in use is dark."""
    line = drawn.lines[tap.section]
    at = _cap_line(drawn.stubs[tap.section])[0] if tap.capped else _along(line, tap.share)
    at = np.minimum(at, [np.inf, _TOP])
    if tap.narrowed is not None:
        at = np.add(at, (-0.6, 0.0))
        _neck(axes, at, hall().plant.section(tap.section).diameter.m_as("m") / 2.0, tap.narrowed.m_as("m") / 2.0)
    end = np.add(at, _WAYS.get(tap.name, (0.5, 1.0)))
    axes.plot(*np.array([at, end]).T, color=INK, lw=0.9, zorder=6)
    axes.plot(*at, "o", color=RUST, ms=5, mec=INK, zorder=7)
    ink, paper = ("white", INK) if chosen else (INK, "white")
    axes.text(*end, mark, ha="center", va="center", size=SIZE, weight="bold", zorder=8, color=ink,
              bbox={"boxstyle": "circle,pad=0.25", "fc": paper, "ec": INK})  # fmt: skip


def _neck(axes, at: np.ndarray, half: float, neck: float) -> None:
    """A reducer, a narrow piece and an increaser cut into a level pipe of that half width [m]."""
    for side in (1.0, -1.0):
        outline = np.array([(-0.45, half), (-0.2, neck), (0.2, neck), (0.45, half)]) * (1.0, side) + at
        outside = np.array([(0.45, half + 0.08), (-0.45, half + 0.08)]) * (1.0, side) + at
        axes.add_patch(Polygon(np.vstack([outline, outside]), fc="white", ec="none", zorder=4))
        axes.plot(*outline.T, color=INK, lw=1.3, zorder=5)


def _along(line: np.ndarray, share: float) -> np.ndarray:
    steps = np.hypot(*np.diff(line, axis=0).T)
    done = np.concatenate([[0.0], np.cumsum(steps)])
    return np.array([np.interp(share * done[-1], done, line[:, k]) for k in (0, 1)])


_STYLES = (("-", "D", RUST), ("--", "o", BLUE), (":", "s", INK))


def header_states() -> dict[str, int]:
    """Three states of the swimming hall by their words: all at high, all at low, only the far boiler at high."""
    scan = hall()
    top = [len(a.states) - 1 for a in scan.plant.appliances]
    wanted = {"all at high": top, "all at low": [a.states.index("low") for a in scan.plant.appliances],
              "only the far boiler at high": [top[0], 0, 0]}  # fmt: skip
    return {words: state_of(scan, codes, season=1) for words, codes in wanted.items()}


def state_of(scan: Scan, codes: Sequence[int], season: int, cold: bool = False, windy: bool = False) -> int:
    """The state of a scan in which each appliance does that."""
    states = scan.states
    fits = (states.codes == np.reshape(codes, (-1, 1))).all(axis=0) & (states.season == season)
    return int(np.flatnonzero(fits & (states.cold == cold) & (states.windy == windy))[0])


def header_chart(system: str) -> Figure:
    """Total and static pressure along the header in three states, less the static pressure at its end."""
    scan, solution = hall(), hall().solution
    first = end_of_header.far_end(scan.plant)
    run = [s for s in scan.plant.path(sensor_location.farthest(scan.plant)) if s.place == "room"]
    run = [s for s in run[[s.name for s in run].index(first) :] if not s.rise.m]
    figure = Figure((WIDTH, 3.9))
    axes = figure.add_axes((0.13, 0.15, 0.85, 0.74))
    ends = np.concatenate([[0.0], np.cumsum([s.length.m_as("m") for s in run])])
    places = number(np.repeat(ends, 2)[1:-1], "m", "height", system)
    room = compile_network(scan.plant, scan.seasons).room_gauge(scan.plant.heights[first][0])
    zero = sensor_reading.wanted(scan)
    for (words, state), (line, mark, color) in zip(header_states().items(), _STYLES, strict=True):
        rows = [solution.row(s.name) for s in run]
        total = np.ravel([[solution.pressure_up[r, state], solution.pressure_down[r, state]] for r in rows])
        total = total - room[scan.states.season[state]] - zero[state]
        static = total - np.ravel([[solution.head_up[r, state], solution.head_down[r, state]] for r in rows])
        for values, width in ((static, 2.2), (total, 0.9)):
            axes.plot(places, number(values, "Pa", "draft", system), line, color=color, lw=width,
                      label=words if values is static else None)  # fmt: skip
        cap, reducer = (sensor_reading.read(scan, place(n)).error[state] for n in ("end cap", "behind a reducer"))
        spots = ([0.0, places[-1]], number([cap, reducer], "Pa", "draft", system))
        axes.plot(*spots, mark, color=color, ms=7, mec=INK, ls="none", zorder=5, clip_on=False)
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.margins(x=0.03)
    figure.legend(loc="upper center", ncols=3, frameon=False, fontsize=SIZE)
    plain(axes, f"distance from the first junction, {label('height', system)} (marks: end cap, and behind the reducer)",
          f"above the end of the header, {label('draft', system)}")  # fmt: skip
    return figure


def error_chart(order: Sequence[Errors], system: str) -> Figure:
    """Every place's errors over all states, and between which they may lie with the set point as it is."""
    low, middle, high = (q.m_as("Pa") for q in set_points())
    marks = {tap: mark for mark, tap in lettered(hall()).items()}
    figure = Figure((WIDTH, 0.9 + 0.36 * len(order)))
    axes = figure.add_axes((0.43, 0.62 / figure.get_figheight(), 0.54, 1.0 - 0.75 / figure.get_figheight()))
    axes.axvspan(*number([middle - high, middle - low], "Pa", "draft", system), color=PALE, lw=0)
    for y, e in enumerate(order):
        ends = number([e.low, e.high], "Pa", "draft", system)
        axes.plot(ends, [y, y], color=BLUE, lw=6, solid_capstyle="butt")
        axes.plot(number([e.mean], "Pa", "draft", system), [y], "|", color=INK, ms=14, mew=2)
    axes.axvline(0.0, color=INK, lw=0.8)
    axes.set_yticks(range(len(order)), [f"{marks[e.tap]}: {e.tap.name}" for e in order])
    axes.set_ylim(len(order) - 0.4, -0.6)
    plain(axes, axis("reading less the end of the header", "draft", system), "")
    return figure


def held_chart(vents: dict[str, Held], system: str) -> Figure:
    """Every outlet's range and window, however the vent is held."""
    names = [a.name for a in hall().plant.appliances]
    figure = Figure((WIDTH, 0.9 + 0.3 * len(names) * len(vents)))
    axes = figure.add_axes((0.42, 0.6 / figure.get_figheight(), 0.55, 1.0 - 0.75 / figure.get_figheight()))
    ticks, y = [], 0.0
    for words, vent in vents.items():
        for e in outlet_envelope.envelopes(vent.scan(hall())):
            window, ends = (number(v, "Pa", "draft", system) for v in (e.window, (e.low, e.high)))
            axes.add_patch(Rectangle((window[0], y - 0.4), window[1] - window[0], 0.8, fc=PALE, ec=GREY, lw=0.8))
            axes.plot(ends, [y, y], color=BLUE if e.margin >= 0.0 else RUST, lw=5, solid_capstyle="butt")
            ticks.append((y, f"{words}: {e.appliance}"))
            y += 1.0
        y += 0.5
    axes.axvline(0.0, color=INK, lw=0.8)
    axes.set_yticks(*zip(*ticks, strict=True))
    axes.set_ylim(y - 0.9, -0.7)
    plain(axes, f"outlet over all states, {label('draft', system)} (box: window)", "")
    return figure


# --- Live controls -------------------------------------------------------------------------------------------------

REFERENCES = {
    "the room, at the sensor": ("room", 0.0),
    "outdoors, out of the wind": ("outdoors", 0.0),
    "outdoors, wall in the wind": ("outdoors", float(sensor_error.wall_wind_coefficient.bare(0.0))),
    "outdoors, wall along the wind": ("outdoors", float(sensor_error.wall_wind_coefficient.bare(90.0))),
}
DOING = ("all at high", "all at low", "far boiler at high", "all but it at high", "far boiler purges")


def explorer(system: str = "US") -> Panel:
    """One sensor in the swimming hall: its place, its tube and reference, and the state to look at."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name; values plain SI."""
    scan = hall()
    targets = [("the end of the header", held_pressure.HEADER)]
    targets += [(f"the outlet of {a.name}", a.name) for a in scan.plant.appliances]
    seasons = [
        (f"{s.name}, {'cold' if c else 'hot'} stack", 2 * i + c) for i, s in enumerate(scan.seasons) for c in (0, 1)
    ]
    return {
        "mark": choice("Sensor", [(f"{m}: {t.name}", m) for m, t in lettered(scan).items()], "A"),
        "target": choice("What matters", targets, held_pressure.HEADER),
        "reference": choice("Other side open", list(REFERENCES), next(iter(REFERENCES))),
        "height": slider("Sensor's height", steps("height", system, range(0, 62, 3), range(0, 20)), 2.74),
        "tube": choice("Its tube is", [("as warm as the room", "room"), ("as cold as outdoors", "outdoors")], "room"),
        "doing": choice("State", list(DOING), DOING[0]),
        "weather": choice("Weather", seasons, 0),
    }


def explorer_answer(
    system: str, *, mark: str, target: str, reference: str, height: float, tube: str, doing: str, weather: int
) -> tuple[str, bytes]:
    """Parts of one sensor's error in a state, its errors over all, and their picture; height [m] of the sensor."""
    scan, tap = hall(), lettered(hall())[mark]
    where, wind = REFERENCES[reference]
    leg = Leg(reference, Q_(height, "m"), tube, where, reference_tube=tube, wind=wind)
    found = sensor_reading.read(scan, tap, leg, target)
    errors = error_spread.over_states(found, tap, leg, target)
    season, cold = divmod(weather, 2)
    state = state_of(scan, _codes(doing), season, bool(cold), scan.seasons[season].wind.m_as("m/s") > 0.0)
    low, _, high = (q.m_as("Pa") for q in set_points())
    within = 0.5 * (high - low)
    rows = [_state_row(found, state, system), _scan_row(errors, within, system)]
    words = paragraph(f"{scan.describe(state, system)}.") + rows[0] + rows[1]
    words += paragraph(sensor_location.reason(errors, within).words(system))
    drawn, below = _drawn_height(), 2.6  # inch high
    figure = Figure((WIDTH, drawn + below))
    _draw_places(figure.add_axes((0.0, below / (drawn + below), 1.0, drawn / (drawn + below))), mark)
    scatter = figure.add_axes((0.15, 0.55 / (drawn + below), 0.83, (below - 0.65) / (drawn + below)))
    draw_errors(scatter, found, errors, state, within, system)
    return words, picture(figure)


def _codes(doing: str) -> list[int]:
    top = [len(a.states) - 1 for a in hall().plant.appliances]
    states = hall().plant.appliances[0].states
    return {
        "all at high": top,
        "all at low": [states.index("low")] * len(top),
        "far boiler at high": [top[0], 0, 0],
        "all but it at high": [0, *top[1:]],
        "far boiler purges": [states.index("purge"), 0, 0],
    }[doing]


def _state_row(found: sensor_reading.Reading, state: int, system: str) -> str:
    parts = (found.wanted, found.place, found.velocity, found.leg, found.error, found.pressure)
    head = ("in this state: what matters", "place", "velocity", "leg", "error", "reading")
    if np.isnan(found.wanted[state]):
        return paragraph("In this state what matters does not count: its appliance is idle.")
    return table(head, [tuple(draft_text(p[state], system) for p in parts)])


def _scan_row(e: Errors, within: float, system: str) -> str:
    head = ("over all states: lowest error", *RANKING[2:])
    texts = (draft_text(p, system) for p in (e.low, e.mean, e.high, e.spread, e.shift, e.left))
    return table(head, [(*texts, "yes" if e.cured(within) else "no")])


def draw_errors(axes: Axes, found: sensor_reading.Reading, e: Errors, state: int, within: float, system: str) -> None:
    """Error of every state over the heat input, the state looked at, and what a fixed offset leaves room for."""
    scan = hall()
    levels = [[0.0] * (len(a.states) - len(a.levels)) + [x.heat_input.m_as("W") for x in a.levels]
              for a in scan.plant.appliances]  # fmt: skip
    heat = sum(np.array(watts)[codes] for watts, codes in zip(levels, scan.states.codes, strict=True))
    axes.axhspan(*number([e.shift - within, e.shift + within], "Pa", "draft", system), color=PALE, lw=0)
    every = (number(heat, "W", "heat rate", system), number(found.error, "Pa", "draft", system))
    axes.plot(*every, "o", color=BLUE, ms=4, alpha=0.5, mec="none")
    axes.plot(every[0][state], every[1][state], "D", color=RUST, ms=9, mec=INK)
    axes.axhline(0.0, color=INK, lw=0.8)
    plain(axes, axis("heat input of all boilers", "heat rate", system), axis("error", "draft", system))


# --- Prediction, and what is to be written -------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects at the end of a header whose sensor sits behind a reducer."""
    return predict("sensor_location", by_the_beam, system)


@cache
def _held_at_high(set_point: float) -> tuple[float, float]:
    """End of the header and speed there, all at high on a mild day, held at a reading [Pa] behind the reducer."""
    plant, seasons = hall().plant, hall().seasons
    codes = np.array([[len(a.states) - 1] for a in plant.appliances])
    state = States(codes, np.array([1]), np.array([False]), np.array([False]))
    one = Scan(plant, seasons, common_vent.solve(plant, seasons, state), 1, False)
    vent = sensor_held.held(one, Q_(set_point, "Pa"), place("behind a reducer")).scan(one)
    speed = vent.solution.velocity[vent.solution.row("header 3"), 0]
    return float(sensor_reading.wanted(vent)[0]), float(speed)


def by_the_beam(set_point: Quantity) -> dict[str, Quantity | int]:
    """Where the end of the header comes with all at high, when the sensor behind the reducer reads its set point."""
    end, speed = _held_at_high(float(set_point.m_as("Pa")))
    return {
        "right": 0 if end < 0.5 * float(set_point.m_as("Pa")) else 1 if end <= 0.0 else 2,
        "figure": Q_(end, "Pa"),
        "speed": Q_(speed, "m/s"),
    }


def writing(system: str = "US") -> Writing:
    """What a wall tap behind a reducer reads, to be written by the reader."""
    return load_writing("sensor_location", behind, system)


def behind(head: Quantity, wide: Quantity, narrow: Quantity) -> dict[str, Quantity]:
    """What a wall tap reads more behind a reducer than ahead of it, and the slips that are made with it."""
    answer = sensor_error.narrowing_error(STANDARD_AIR, (2.0 * head / STANDARD_AIR) ** 0.5, wide, narrow)
    ratio = float((wide / narrow).m_as(""))
    return {
        "answer": answer,
        "sign": -answer,
        "squares": head * (1.0 - ratio**2),
        "whole_head": -head * ratio**4,
        "upside_down": head * (1.0 - ratio**-4),
    }


# --- Questions -----------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("sensor_location", (behind_the_reducer, moved_set_point, cold_tube, span), system, seed)


def behind_the_reducer(
    density: Quantity, speed: Quantity, wide: Quantity, narrow: Quantity, system: str
) -> dict[str, Quantity | float]:
    """What a wall tap reads more behind a reducer than ahead of it."""
    head, ratio = friction.velocity_head(density, speed), float((wide / narrow).m_as(""))
    error = sensor_error.narrowing_error(density, speed, wide, narrow)
    wrong = {"sign": -error, "squares": head * (1.0 - ratio**2), "whole_head": -head * ratio**4}
    bores = {
        f"{name}_number": d.m_as("inch" if system == "US" else "mm") for name, d in (("wide", wide), ("narrow", narrow))
    }
    return {"answer": error, "head": head, "times": ratio**4} | bores | wrong


def moved_set_point(low: Quantity, high: Quantity, point: Quantity) -> dict[str, Quantity]:
    """Set point moved by the middle of a sensor's errors."""
    middle = 0.5 * (low + high)
    wrong = {"sign": point - middle, "one_end": point + low}
    return {"answer": point + middle, "middle": middle, "left": 0.5 * (high - low)} | wrong


def cold_tube(height: Quantity, cold: Quantity, warm: Quantity) -> dict[str, Quantity]:
    """What cold air in the tube of a sensor above its tap adds to the reading."""
    error = sensor_error.leg_error(-height, cold, warm)
    weightless = sensor_error.leg_error(-height, cold, Q_(1e-9, "kg/m**3"))
    return {"answer": error, "sign": -error, "weightless": weightless}


def span(half: Quantity, point: Quantity, accuracy: Quantity) -> dict[str, Quantity | float]:
    """Accuracy of a transducer from minus to plus ``half``, as a share of its set point."""
    error = sensor_error.span_error(-half, half, accuracy)
    share = (error / -point).to("percent")
    return {
        "answer": share,
        "percent": share.m,
        "error": error,
        "lower": -half,
        "one_side": share / 2,
        "class": accuracy,
    }
