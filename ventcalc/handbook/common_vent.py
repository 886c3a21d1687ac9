"""The common vent: the chapter's questions, live controls and checks, and outlets beside their windows.

The live controls serve any vent: the chapter's own two boilers, and every job in the chapter on the study.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from textwrap import shorten

import ipywidgets as widgets
import numpy as np
from matplotlib import patheffects
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import junctions, stack_effect, steam_book_stack
from ventcalc.handbook.junctions import checks as junction_checks
from ventcalc.job import job_file
from ventcalc.show.axes import picture
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, paragraph, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.units import Q_, Quantity, parse, show, shown_unit, unit_text
from ventcalc.vent import end_of_header
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """The coefficients of junctions, and draft and friction of the steam book's stacks."""
    outdoor, gas, tall = Q_(521.0, "degR"), Q_(961.0, "degR"), Q_(100.0, "ft")  # the book adds 461 to degrees F
    ours = {
        "D001": stack_effect.steam_book_draft(tall, Q_(14.7, "psi"), outdoor, gas),
        "D002": stack_effect.steam_book_draft(tall, Q_(10.0, "psi"), outdoor, gas),
    }
    made, flow = Q_(0.0067, "inH2O/ft") * tall, Q_(1e5, "lb/hour")  # its K at 500 F; 1000 hp of 100 lb of gas an hour
    for key, inches in (("D044", 54.0), ("D045", 60.0), ("D046", 66.0)):
        ours[key] = made - steam_book_stack.steam_book_stack_friction(flow, tall, Q_(inches, "inch"), 0.0014)
    return junction_checks() + compare("draft_checks", ours)


# --- The same vent, a little different ----------------------------------------------------------------------

_UPRIGHT = 0.9  # rise over length of a section that counts as stack


def stack_sections(plant: Plant) -> frozenset[str]:
    """Names of the upright sections of the vent that appliances share: nine tenths of the length are rise, or more."""
    shared = shared_sections(plant)
    upright = (
        s for s in plant.sections if s.length.m_as("m") > 0.0 and float((s.rise / s.length).m_as("")) >= _UPRIGHT
    )
    return frozenset(s.name for s in upright if s.name in shared)


def shared_sections(plant: Plant) -> frozenset[str]:
    """Names of the sections of header and stack: what several appliances use together, and what runs straight into
    it at the same diameter, up to the first appliance's connector."""
    if len(plant.appliances) == 1:
        return frozenset(s.name for s in plant.sections)
    far = end_of_header.far_end(plant)
    shared = {s.name for s in plant.sections if len(plant.serves(s.name)) > 1 or s.name == far}
    for section in reversed(plant.order):  # from the termination inward
        below = next((s for s in plant.sections if s.name == section.into), None)
        straight = section.junction is None and section.name not in plant.feeds
        if straight and below and below.name in shared and section.diameter == below.diameter:
            shared.add(section.name)
    return frozenset(shared)


def varied(plant: Plant, height: float = 1.0, diameter: float = 1.0, junction: str = "") -> Plant:
    """The plant with its stack ``height`` times as high, its header and stack ``diameter`` times as wide, and
    every junction (but opposed tees, which need a partner) of the form ``junction`` where one is named.

    A stack section keeps its slope: length and rise grow alike. Raises ValueError where the parts no longer meet.
    """
    stack, shared = stack_sections(plant), shared_sections(plant)
    sections = []
    for s in plant.sections:
        if s.name in stack:
            s = replace(s, length=height * s.length, rise=height * s.rise)
        if s.name in shared:
            s = replace(s, diameter=diameter * s.diameter)
        if junction and s.junction not in (None, "opposed tee"):
            s = replace(s, junction=junction)
        sections.append(s)
    return replace(plant, sections=tuple(sections))


def weather(seasons: Sequence[Season], outdoor: Quantity) -> Season:
    """The season at an outdoor temperature: room, room pressure, humidity and wind between those of the job.

    Between the job's seasons they follow the outdoor temperature in proportion; beyond its coldest and
    warmest season they stay as they are there.
    """
    ordered = sorted(seasons, key=lambda s: s.outdoor.m_as("K"))
    known, at = [float(s.outdoor.m_as("K")) for s in ordered], float(outdoor.m_as("K"))

    def between(values: list[float]) -> float:
        return float(np.interp(at, known, values))

    return Season(
        name="chosen",
        outdoor=outdoor,
        room=Q_(between([float(s.room.m_as("K")) for s in ordered]), "K"),
        room_pressure=Q_(between([float(s.room_pressure.m_as("Pa")) for s in ordered]), "Pa"),
        wind=Q_(max(float(s.wind.m_as("m/s")) for s in ordered), "m/s"),
        relative_humidity=between([s.relative_humidity for s in ordered]),
    )


# --- Live controls of one vent in one state -----------------------------------------------------------------

DOES = "does "  # before an appliance's name, so that no appliance can be taken for another control


def explorer(system: str, plant: Plant, seasons: Sequence[Season]) -> Panel:
    """Controls of one vent: stack height, header and stack diameter, junctions, weather, what each appliance does."""

    def answer(**values) -> tuple[str, bytes]:
        return explorer_answer(system, plant, seasons, **values)

    return Panel(answer, controls(system, plant, seasons))


def controls(system: str, plant: Plant, seasons: Sequence[Season]) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first all at their highest level, in the first season, on a hot stack."""
    found: dict[str, widgets.Widget] = {}
    stack = stack_sections(plant)
    if stack:
        rise = sum(plant.section(name).rise.to("m") for name in stack)
        found["height"] = slider("Stack height", _sizes(rise, "height", system), 1.0)
    last = plant.upstream(plant.terminations[0].name)[0].diameter.to("m")
    found["diameter"] = slider("Stack diameter", _sizes(last, "diameter", system), 1.0)
    found["outdoor"] = slider("Outdoors", _temperatures(system), float(seasons[0].outdoor.m_as("K")))
    found["cold"] = choice("Stack", [("hot, come to rest", False), ("cold walls", True)], False)
    if any(s.junction not in (None, "opposed tee") for s in plant.sections):
        forms = [(n, n) for n in junctions.JUNCTIONS if n != "opposed tee"]
        found["junction"] = choice("Junctions", [("as drawn", ""), *forms], "")
    if any(s.wind.m_as("m/s") > 0.0 for s in seasons):
        speed = show(weather(seasons, seasons[0].outdoor).wind, system, "wind")
        found["windy"] = choice("Wind", [("none", False), (speed, True)], False)
    for a in plant.appliances:
        found[DOES + a.name] = choice(a.name, a.states, a.states[-1])
    return found


# Steps of the sliders, and how far they go from the vent as drawn.
_STEPS = {
    ("height", "US"): "2 ft",
    ("height", "SI"): "0.5 m",
    ("diameter", "US"): "1 inch",
    ("diameter", "SI"): "25 mm",
}
_REACH = {"height": (0.4, 2.0), "diameter": (0.6, 1.8)}


def _sizes(drawn: Quantity, kind: str, system: str) -> list[tuple[str, float]]:
    """(label, factor) pairs for a stack's height or diameter in steps of the trade, as drawn among them."""
    step = float((parse(_STEPS[kind, system]) / drawn).m_as(""))
    fewest, most = _REACH[kind]
    steps = range(-int((1.0 - fewest) / step), int((most - 1.0) / step) + 1)
    return [(show((1.0 + k * step) * drawn, system, kind), 1.0 + k * step) for k in steps]


def _temperatures(system: str) -> list[tuple[str, float]]:
    """(label, K) pairs of outdoor temperature, within what a `Season` takes and gas properties are known for."""
    unit, values = ("degF", range(-40, 111, 2)) if system == "US" else ("degC", range(-40, 44))
    return [(show(Q_(float(v), unit), system), float(Q_(float(v), unit).m_as("K"))) for v in values]


def explorer_answer(
    system: str,
    plant: Plant,
    seasons: Sequence[Season],
    *,
    diameter: float,
    outdoor: float,
    cold: bool,
    height: float = 1.0,
    junction: str = "",
    windy: bool = False,
    **doing: str,
) -> tuple[str, bytes]:
    """Numbers and picture of one vent in one state.

    ``height`` and ``diameter`` are factors on the stack and on header and stack, ``outdoor`` [K], ``doing`` gives
    "does NAME" = what that appliance does.
    """
    changed = varied(plant, height, diameter, junction)
    season = weather(seasons, Q_(outdoor, "K"))
    codes = np.array([[a.states.index(doing[DOES + a.name])] for a in changed.appliances])
    solution = solve(changed, (season,), States(codes, np.array([0]), np.array([cold]), np.array([windy])))
    outlets = tuple(outlet(solution, i, 0) for i in range(len(changed.appliances)))
    rows = [
        (o.name, o.state, draft_text(o.pressure, system), _window(o.window, system), o.words(system)) for o in outlets
    ]
    numbers = table(("outlet", "does", "pressure", "window", "verdict"), rows) + _summary(solution, season, system)
    return numbers, picture(outlets_drawing(outlets, system))


# --- An outlet beside its window ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Outlet:
    """One appliance's outlet over the states looked at; plain SI.

    ``low`` and ``high`` [Pa, gauge against the room] are the same in a single state. ``counts``: it runs, so that
    its window counts. ``into_room`` [kg/s] of flue gas that enters the room through it.
    """

    name: str
    state: str
    low: float
    high: float
    window: tuple[float, float]
    counts: bool
    into_room: float

    @property
    def pressure(self) -> float:
        """The pressure [Pa] of a single state."""
        return self.high

    @property
    def above(self) -> float:
        """How far it rises above its window [Pa], 0 where it does not."""
        return max(self.high - self.window[1], 0.0)

    @property
    def below(self) -> float:
        """How far it falls below its window [Pa], 0 where it does not."""
        return max(self.window[0] - self.low, 0.0)

    @property
    def inside(self) -> bool:
        """Whether it stays within its window."""
        return self.above == self.below == 0.0

    def words(self, system: str) -> str:
        """Where the pressure lies, in words."""
        found = []
        if self.counts and self.inside:
            nearest = min(self.low - self.window[0], self.window[1] - self.high)
            found.append(f"inside, {draft_text(nearest, system)} from the edge")
        elif self.counts:
            sides = [(self.above, "above"), (self.below, "below")]
            found.append(
                "outside: " + " and ".join(f"{draft_text(by, system)} {side}" for by, side in sides if by > 0.0)
            )
        if self.into_room > REVERSAL_FLOW:
            found.append(f"FLUE GAS ENTERS THE ROOM: {show(Q_(self.into_room, 'kg/s'), system)}")
        return "; ".join(found) or "idle: its window does not count"


def outlet(solution: Solution, i: int, state: int) -> Outlet:
    """One appliance's outlet in one solved state."""
    a, codes = solution.plant.appliances[i], solution.states.codes[:, state]
    purging = [x.purge_flow is not None for x in solution.plant.appliances]
    firing = any(code > purge for code, purge in zip(codes, purging, strict=True))
    pressure = float(solution.outlet_pressure[i, state])
    return Outlet(
        name=a.name,
        state=a.states[codes[i]],
        low=pressure,
        high=pressure,
        window=tuple(float(w.m_as("Pa")) for w in a.window),
        counts=bool(codes[i] > 0),
        into_room=max(float(-solution.drawn[i, state]), 0.0) if firing else 0.0,
    )


def _summary(solution: Solution, season: Season, system: str) -> str:
    """What the whole vent does, in a sentence or two."""
    plant = solution.plant
    if not solution.converged[0]:
        return "<p><b>This state did not converge; do not use its numbers.</b></p>"
    scan = Scan(plant, (season,), solution, 1, False)
    said = [f"Room {show(season.room, system)}"]
    if scan.any_running[0] and len(plant.appliances) > 1:
        said.append(
            f"pressure at the end of the header {draft_text(float(end_of_header.header_pressure(scan)[0]), system)}"
        )
    for end in plant.terminations:
        row = solution.row(plant.upstream(end.name)[0].name)
        shown = [
            show(Q_(float(values[row, 0]), unit), system)
            for values, unit in ((solution.flow, "kg/s"), (solution.downstream, "K"), (solution.velocity, "m/s"))
        ]
        said.append(f"out of {end.name} {', '.join(shown)}")
    return paragraph("; ".join(said))


def draft_text(pressure: float, system: str) -> str:
    """A pressure [Pa] as a draft is shown."""
    return show(Q_(pressure, "Pa"), system, "draft")


def _window(window: tuple[float, float], system: str) -> str:
    return f"{draft_text(window[0], system)} to {draft_text(window[1], system)}"


_SCALE_STEP = {"US": 0.1, "SI": 25.0}  # in. w.c. or Pa


def outlets_drawing(outlets: Sequence[Outlet], system: str) -> Figure:
    """Each outlet's pressure, or the range of it, on the band of its window."""
    unit = shown_unit("draft", system)
    scale = float(Q_(1.0, "Pa").m_as(unit))
    height = 0.75 + 0.36 * len(outlets)
    figure = Figure(figsize=(WIDTH, height))
    longest = min(max(len(o.name) for o in outlets), 26)
    left = 0.02 + 0.0125 * longest
    farthest = max(abs(v) for o in outlets for v in (o.low, o.high, *o.window)) * scale
    # Rounded up, so that the scale stays put while a control moves a little.
    reach = _SCALE_STEP[system] * np.ceil(1.2 * farthest / _SCALE_STEP[system])
    axes = figure.add_axes((left, 0.6 / height, 0.965 - left, (height - 0.62) / height))
    for y, o in enumerate(outlets):
        low, high, *edges = (scale * v for v in (o.low, o.high, *o.window))
        axes.barh(y, edges[1] - edges[0], left=edges[0], height=0.7, fc=PALE, ec=INK, lw=1.0, zorder=1)
        colour = GREY if not o.counts else BLUE if o.inside else RUST
        axes.plot([low, high], [y, y], color=colour, lw=4, solid_capstyle="butt", zorder=2)
        marker = "o" if not o.counts else "D" if o.inside else "X"
        axes.plot([low, high], [y, y], marker, color=colour, ms=9, zorder=3)
        for value, side in ((low, -1), (high, 1)) if o.high > o.low else ((high, 1),):
            axes.annotate(
                f"{value:.{3 if system == 'US' else 1}f}",
                (value, y),
                xytext=(9 * side, 0),
                textcoords="offset points",
                va="center",
                ha="left" if side > 0 else "right",
                color=colour,
                fontsize=SIZE,
                path_effects=[patheffects.withStroke(linewidth=3, foreground="white")],
            )
    axes.axvline(0.0, color=INK, lw=0.8, zorder=1.5)
    axes.set_yticks(range(len(outlets)), [shorten(o.name, 26, placeholder="...") for o in outlets])
    axes.set_ylim(len(outlets) - 0.4, -0.6)
    axes.set_xlim(-reach, reach)
    axes.set_xlabel(f"outlet pressure against the room, {unit_text(unit)} (box: window; negative is draft)", size=SIZE)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(left=False, labelsize=SIZE, colors=INK)
    return figure


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """The chapter's questions, their answers worked by the library."""
    return (_handbook_draft(system), _branch_of_a_tee(system), _mixed_temperature(system), _laterals(system))


def swim_hall() -> job_file.Job:
    """The demo job of the swimming hall."""
    return job_file.load(tables.DATA / "jobs" / "swim_hall.toml")


def draft_form(system: str) -> tuple[str, Quantity]:
    """Form of an answer in draft, and a tolerance that forgives rounding to what the trade reads on a gauge."""
    return ("0.050 inH2O", Q_(0.003, "inH2O")) if system == "US" else ("12 Pa", Q_(0.75, "Pa"))


def _handbook_draft(system: str) -> Exercise:
    height, barometer = Q_(40.0, "ft"), Q_(29.92, "inHg")
    outdoor, gas = Q_(20.0, "degF"), Q_(300.0, "degF")
    expected = stack_effect.handbook_draft(height, barometer, outdoor, gas)
    degree, offset, name = ("degF", "460", "Rankine") if system == "US" else ("degC", "273", "kelvin")
    relative = [float(t.m_as(degree)) for t in (outdoor, gas)]
    absolute = [float(t.m_as("K")) for t in (outdoor, gas)]
    # The formula with 1/T of the temperatures as read on the thermometer.
    scale = Q_(1.0, degree.replace("deg", "delta_deg")).m_as("delta_degC")
    forgotten = expected * (1 / relative[0] - 1 / relative[1]) / (1 / absolute[0] - 1 / absolute[1]) / scale
    form, near = draft_form(system)
    said = [show(q, system, k) for q, k in ((height, "height"), (barometer, "barometric pressure"))]
    warm = [show(t, system) for t in (outdoor, gas)]
    formula = "0.2554 B H (1/To - 1/Tm)" if system == "US" else "0.03413 B H (1/To - 1/Tm)"
    return Exercise(
        question=(
            f"A stack rises {said[0]}. The barometer reads {said[1]}; outdoors it is {warm[0]} and the gas in the "
            f"stack {warm[1]} in the mean. What is the theoretical draft by the handbook's formula? Give its size, "
            "as a positive pressure."
        ),
        expected=expected,
        tolerance=near,
        hints=(
            f"Dt = {formula}, temperatures in {name}.",
            f"Add {offset} to both temperatures before you divide.",
        ),
        solution=f"Dt = {formula} with temperatures in {name}: {show(expected, system)}.",
        slips=(
            Slip(forgotten, f"The {offset} was forgotten: 1/T wants absolute temperatures."),
            Slip(
                -expected,
                "The size is right. As a draft it is asked for as a positive pressure; gauge it is negative.",
            ),
        ),
        example=form,
    )


def _branch_of_a_tee(system: str) -> Exercise:
    share, head, right_angle = 0.5, Q_(0.020, "inH2O"), Q_(90.0, "degree")
    connector, header = Q_(12.0, "inch"), Q_(16.0, "inch")
    ratio = float((connector / header).m_as("")) ** 2
    factor = float(junctions.branch_loss(share, ratio, right_angle).m_as(""))
    expected = factor * head
    form, near = draft_form(system)
    run = float(junctions.run_loss(share, ratio, right_angle).m_as("")) * head
    said = [show(d, system, "diameter") for d in (connector, header)]
    return Exercise(
        question=(
            f"Two boilers burn alike. The second one's connector, {said[0]}, joins a header of {said[1]} in a sharp "
            f"straight tee. Behind the tee the velocity head is {show(head, system)} in the header. How much total "
            "pressure does the second boiler's gas lose in the tee, by Gardel's formula?"
        ),
        expected=expected,
        tolerance=near / 3,
        hints=(
            f"Flow share 0.5, area ratio {ratio:.4f} (diameters squared), angle 90 degrees: junctions.branch_loss "
            "gives K.",
            "The coefficient belongs to the velocity head of the combined stream, the one that is given.",
        ),
        solution=(
            f"K = {factor:.2f} on the combined velocity head: {factor:.2f} x {show(head, system)} = "
            f"{show(expected, system)}."
        ),
        slips=(
            Slip(
                expected * (share / ratio) ** 2,
                "Wrong velocity head: K belongs to the head of the combined stream, not to the connector's own.",
            ),
            Slip(
                run,
                "That is the straight run's loss, or K for the ratio of diameters; the second boiler enters by the "
                "branch, and K goes with areas.",
            ),
        ),
        example=form,
    )


def _mixed_temperature(system: str) -> Exercise:
    flows, temperatures = (Q_(900.0, "lb/hour"), Q_(300.0, "lb/hour")), (Q_(330.0, "degF"), Q_(90.0, "degF"))
    m1, m2 = (float(f.m_as("kg/s")) for f in flows)
    t1, t2 = (float(t.m_as("K")) for t in temperatures)
    expected = Q_((m1 * t1 + m2 * t2) / (m1 + m2), "K")
    said = [show(q, system) for q in (*flows, *temperatures)]
    return Exercise(
        question=(
            f"{said[0]} of flue gas at {said[2]} meets {said[1]} of room air, drawn through an idle boiler, at "
            f"{said[3]}. What temperature has the mixture, if both have the same specific heat?"
        ),
        expected=expected,
        tolerance=Q_(4.0, "delta_degF"),
        hints=(
            "Enthalpy in equals enthalpy out: weigh each temperature with its mass flow.",
            "The air is a quarter of the whole.",
        ),
        solution=f"(m1 T1 + m2 T2) / (m1 + m2) = {show(expected, system)}.",
        slips=(
            Slip(Q_(0.5 * (t1 + t2), "K"), "That is the plain mean; the streams are not equal."),
            Slip(
                Q_((m2 * t1 + m1 * t2) / (m1 + m2), "K"), "The flows are swapped: the flue gas is the greater stream."
            ),
        ),
        example="250 degF" if system == "US" else "120 degC",
    )


def all_high_in_summer(plant: Plant, seasons: Sequence[Season]) -> Quantity:
    """Outlet pressure of the first appliance with all at their highest level, last season, cold stack."""
    codes = np.array([[len(a.states) - 1] for a in plant.appliances])
    states = States(codes, np.array([len(seasons) - 1]), np.array([True]), np.array([False]))
    return Q_(float(solve(plant, seasons, states).outlet_pressure[0, 0]), "Pa")


def _laterals(system: str) -> Exercise:
    hall = swim_hall()
    as_drawn = all_high_in_summer(hall.plant, hall.seasons)
    expected = all_high_in_summer(varied(hall.plant, junction="lateral"), hall.seasons)
    form, near = draft_form(system)
    return Exercise(
        question=(
            "In the swimming hall every straight tee is exchanged for a lateral. To what gauge pressure does the "
            "outlet of Boiler 1 then rise with all three boilers at high, in summer, on a cold stack without wind? "
            "(A challenge: use the solver as above, or the live controls.)"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "dataclasses.replace makes a section with another junction, and a plant with other sections; or set "
            "'junctions' to lateral in the live controls of the study chapter.",
            f"As drawn it is {show(as_drawn, system)}; the laterals take a good part of that away.",
        ),
        solution=f"With laterals {show(expected, system)}, as drawn {show(as_drawn, system)}.",
        slips=(Slip(as_drawn, "That is the vent as drawn, with its straight tees."),),
        example=form,
    )
