"""The common vent: the chapter's questions, live controls and checks, and outlets beside their windows.

The live controls serve any vent: the chapter's own two boilers, and every job in the chapter on the study.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from textwrap import shorten

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib import patheffects
from matplotlib.figure import Figure

from ventcalc.checked import Check, compare
from ventcalc.flow import junctions, stack_effect, steam_book_stack
from ventcalc.flow.materials import material
from ventcalc.gas import combustion_analysis
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.junctions import checks as junction_checks
from ventcalc.job import job_file
from ventcalc.show.axes import label, number, picture
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.section_drawing import section_drawing
from ventcalc.show.svg import Drawing
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, parse, show
from ventcalc.vent import end_of_header
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import PlaceAir, Season
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


# --- Two boilers on one stack (invented) ----------------------------------------------------------------------

WINTER = Season("winter", Q_(20.0, "degF"), Q_(70.0, "degF"))
SUMMER = Season("summer", Q_(85.0, "degF"), Q_(85.0, "degF"))
OXYGEN = Q_(5.0, "percent")  # in the dry flue gas
PIECES = (  # section, length [ft], rise [ft], diameter [inch], where it goes
    ("connector 1", 10.0, 6.0, 12.0, "header 1", {"fittings": ("elbow 90", "elbow 90")}),
    ("header 1", 6.0, 0.0, 16.0, "header 2", {}),
    ("connector 2", 10.0, 6.0, 12.0, "header 2", {"fittings": ("elbow 90",), "junction": "straight tee"}),
    ("header 2", 8.0, 0.0, 16.0, "stack", {}),
    ("stack", 40.0, 40.0, 16.0, "roof", {"place": "outdoors", "fittings": ("elbow 90",)}),
)


@cache
def two_boilers() -> Plant:
    """Two equal boilers, each with a combustion fan that sets its flow, on one header and one stack."""
    natural_gas, wall = fuel("natural gas"), material("insulated chimney")
    excess_air = float(combustion_analysis.excess_air_from_o2(natural_gas, OXYGEN).m_as(""))
    first = Appliance(
        "Boiler 1",
        natural_gas,
        "I",
        (
            FiringLevel("low", Q_(500.0, "MBH"), excess_air, Q_(270.0, "degF")),
            FiringLevel("high", Q_(2000.0, "MBH"), excess_air, Q_(330.0, "degF")),
        ),
        outlet_diameter=Q_(12.0, "inch"),
        outlet_height=Q_(5.0, "ft"),
        window=(Q_(-0.25, "inH2O"), Q_(-0.03, "inH2O")),
    )
    sections = tuple(
        Section(name, Q_(length, "ft"), Q_(rise, "ft"), Q_(diameter, "inch"), wall, into, **more)
        for name, length, rise, diameter, into, more in PIECES
    )
    roof = Termination("roof", "low-resistance cap")
    both, feeds = (first, replace(first, name="Boiler 2")), ("connector 1", "connector 2")
    return Plant("two boilers", Q_(500.0, "ft"), Q_(1.0, "ft"), both, feeds, sections, (roof,))


def one_boiler() -> Plant:
    """The first of the two boilers on the same header and stack, before the second one is there."""
    two = two_boilers()
    without = tuple(s for s in two.sections if s.name != two.feeds[1])
    return replace(two, appliances=two.appliances[:1], feeds=two.feeds[:1], sections=without)


def in_state(plant: Plant, season: Season, *doing: str, cold: bool = False) -> Solution:
    """A vent solved in one state: what each appliance does, by name, on hot walls or cold ones, without wind."""
    codes = np.array([[a.states.index(does)] for a, does in zip(plant.appliances, doing, strict=True)])
    return solve(plant, (season,), States(codes, np.array([0]), np.array([cold]), np.array([False])))


def outlet_pressure(
    losses: Quantity,
    draft: Quantity,
    top_head: Quantity,
    cap: Quantity | float,
    outlet_head: Quantity,
    room: Quantity | float,
) -> Quantity:
    """Static pressure at an outlet against its room: what the way to the open costs less what it gives.

    ``losses`` and ``draft`` of all sections, ``top_head`` the velocity head where gas leaves, ``cap`` its loss
    coefficient (-), ``outlet_head`` the velocity head at the outlet, ``room`` the room there against outdoors; all but
    the coefficient pressures [Pa]. Negative is draft. Source: hydrostatics and the total pressure along a stream.
    """
    return losses + (1.0 + cap) * top_head - draft - outlet_head - room


def walk_table(rows: Sequence[tuple], system: str = "US") -> HTML:
    """A walk along a vent, a row a section: section, flow, gas in, gas out, draft, loss."""
    header = ("section", "flow", "gas in", "gas out", "draft", "loss")
    return HTML(table(header, [(row[0].name, *(show(q.to_base_units(), system) for q in row[1:])) for row in rows]))


def by_hand_table(cases: dict[str, tuple[Quantity, Solution]], system: str = "US") -> HTML:
    """Boiler 1's outlet pressure by hand beside the solver's, and how far apart they are."""
    rows = []
    for name, (by_hand, solution) in cases.items():
        ours = Q_(float(solution.outlet_pressure[0, 0]), "Pa")
        rows.append((name, show(by_hand, system), show(ours, system), show(abs(ours - by_hand), system)))
    return HTML(table(("Boiler 1", "by hand", "solver", "apart by"), rows))


def both_at_high(system: str = "US") -> HTML:
    """Both outlets at high fire in winter and summer, on a hot and a cold stack, with a straight tee and a lateral."""
    rows = []
    for season, cold in ((WINTER, False), (SUMMER, False), (SUMMER, True)):
        for junction in ("straight tee", "lateral"):
            solution = in_state(varied(two_boilers(), junction=junction), season, "high", "high", cold=cold)
            outlets = [outlet(solution, i, 0) for i in range(2)]
            verdict = "inside" if all(o.inside for o in outlets) else "outside"
            case = f"{season.name}, {'cold' if cold else 'hot'} stack"
            rows.append((case, junction, *(draft_text(o.pressure, system) for o in outlets), verdict))
    return HTML(table(("both at high", "junction", "Boiler 1", "Boiler 2", "window"), rows))


def sections_table(solution: Solution, system: str = "US") -> HTML:
    """A solved state section by section."""
    columns = {"flow": "kg/s", "upstream": "K", "downstream": "K", "velocity": "m/s", "loss": "Pa", "draft": "Pa"}
    rows = [
        (section.name, *(show(Q_(float(getattr(solution, c)[i, 0]), unit), system) for c, unit in columns.items()))
        for i, section in enumerate(solution.plant.order)
    ]
    return HTML(table(("section", "flow", "gas in", "gas out", "velocity", "loss", "draft"), rows))


# --- The same vent, a little different ----------------------------------------------------------------------

_UPRIGHT = 0.9  # rise over length of a section that counts as stack


def stack_sections(plant: Plant) -> frozenset[str]:
    """Names of the upright sections of the vent that appliances share: nine tenths of the length are rise, or more."""
    shared = [plant.section(name) for name in shared_sections(plant)]
    return frozenset(s.name for s in shared if s.length.m > 0.0 and float((s.rise / s.length).m_as("")) >= _UPRIGHT)


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

    def changed(s: Section) -> Section:
        grown = height if s.name in stack else 1.0
        return replace(
            s,
            length=grown * s.length,
            rise=grown * s.rise,
            diameter=(diameter if s.name in shared else 1.0) * s.diameter,
            junction=junction if junction and s.junction not in (None, "opposed tee") else s.junction,
        )

    return replace(plant, sections=tuple(changed(s) for s in plant.sections))


def weather(seasons: Sequence[Season], outdoor: Quantity) -> Season:
    """The season at an outdoor temperature: room, other places, humidity and wind between those of the job.

    Between the job's seasons they follow the outdoor temperature in proportion; beyond its coldest and
    warmest season they stay as they are there.
    """
    ordered = sorted(seasons, key=lambda s: s.outdoor.m_as("K"))
    known = [s.outdoor.m_as("K") for s in ordered]

    def between(values: list[float]) -> float:
        return float(np.interp(outdoor.m_as("K"), known, values))

    return Season(
        name="chosen",
        outdoor=outdoor,
        room=Q_(between([s.room.m_as("K") for s in ordered]), "K"),
        room_pressure=Q_(between([s.room_pressure.m_as("Pa") for s in ordered]), "Pa"),
        wind=max((s.wind for s in ordered), key=lambda w: w.m_as("m/s")),
        relative_humidity=between([s.relative_humidity for s in ordered]),
        places=tuple(
            PlaceAir(
                alike[0].name,
                Q_(between([p.temperature.m_as("K") for p in alike]), "K"),
                Q_(between([p.pressure.m_as("Pa") for p in alike]), "Pa"),
            )
            for alike in zip(*(sorted(s.places, key=lambda p: p.name) for s in ordered), strict=True)
        ),
    )


# --- Live controls of one vent in one state -----------------------------------------------------------------

DOES = "does "  # before an appliance's name, so that no appliance can be taken for another control


def explorer(system: str, plant: Plant, seasons: Sequence[Season]) -> Panel:
    """Controls of one vent: stack height, header and stack diameter, junctions, weather, what each appliance does."""
    return Panel(partial(explorer_answer, system, plant, seasons), controls(system, plant, seasons))


def two_explorer(system: str = "US") -> Panel:
    """The controls of the chapter's two boilers; at first the second one is off."""
    two, seasons = two_boilers(), (WINTER, SUMMER)
    found = controls(system, two, seasons)
    found[DOES + two.appliances[1].name].value = "off"
    return Panel(partial(explorer_answer, system, two, seasons), found)


def controls(system: str, plant: Plant, seasons: Sequence[Season]) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first all at their highest level, in the first season, on a hot stack."""
    found: dict[str, widgets.Widget] = {}
    # Within what a `Season` takes and gas properties are known for.
    outdoors = steps("temperature", system, range(-40, 111, 2), range(-40, 44))
    if stack_sections(plant):
        found["height"] = slider("Stack height", stack_heights(plant, system), 1.0)
    last = plant.upstream(plant.terminations[0].name)[0].diameter.to("m")
    found["diameter"] = slider("Stack diameter", _sizes(last, "diameter", system), 1.0)
    found["outdoor"] = slider("Outdoors", outdoors, float(seasons[0].outdoor.m_as("K")))
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


def stack_heights(plant: Plant, system: str) -> list[tuple[str, float]]:
    """(label, factor) pairs for the height of a plant's stack, as drawn among them."""
    rise = sum(plant.section(name).rise.to("m") for name in stack_sections(plant))
    return _sizes(rise, "height", system)


# Steps of the sliders, and how far they go from the vent as drawn.
_STEPS = {"height": {"US": "2 ft", "SI": "0.5 m"}, "diameter": {"US": "1 inch", "SI": "25 mm"}}
_REACH = {"height": (0.4, 2.0), "diameter": (0.6, 1.8)}


def _sizes(drawn: Quantity, kind: str, system: str) -> list[tuple[str, float]]:
    """(label, factor) pairs for a stack's height or diameter in steps of the trade, as drawn among them."""
    step = float((parse(_STEPS[kind][system]) / drawn).m_as(""))
    fewest, most = _REACH[kind]
    factors = [1.0 + k * step for k in range(-int((1.0 - fewest) / step), int((most - 1.0) / step) + 1)]
    return [(show(factor * drawn, system, kind), factor) for factor in factors]


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
) -> tuple[str, bytes, Drawing]:
    """Numbers, picture and drawing of one vent in one state.

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
    scan = Scan(changed, (season,), solution, 1, False)
    numbers = table(("outlet", "does", "pressure", "window", "verdict"), rows) + _summary(scan, system)
    return numbers, picture(outlets_drawing(outlets, system)), section_drawing(scan, system=system)


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


def _summary(scan: Scan, system: str) -> str:
    """What the whole vent does in one state, in a sentence or two."""
    plant, solution = scan.plant, scan.solution
    if not solution.converged[0]:
        return "<p><b>This state did not converge; do not use its numbers.</b></p>"
    said = [f"Room {show(scan.seasons[0].room, system)}"]
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
    height = 0.75 + 0.36 * len(outlets)
    figure = Figure(figsize=(WIDTH, height))
    left = 0.02 + 0.0125 * min(max(len(o.name) for o in outlets), 26)
    axes = figure.add_axes((left, 0.6 / height, 0.965 - left, (height - 0.62) / height))
    ends = number([(o.low, o.high, *o.window) for o in outlets], "Pa", "draft", system)
    for y, (o, (low, high, first, last)) in enumerate(zip(outlets, ends, strict=True)):
        color, mark = (GREY, "o") if not o.counts else (BLUE, "D") if o.inside else (RUST, "X")
        axes.barh(y, last - first, left=first, height=0.7, fc=PALE, ec=INK, lw=1.0, zorder=1)
        axes.plot([low, high], [y, y], color=color, lw=4, solid_capstyle="butt", zorder=2)
        axes.plot([low, high], [y, y], mark, color=color, ms=9, zorder=3)
        for value, side in ((low, -1), (high, 1)) if high > low else ((high, 1),):
            axes.annotate(
                f"{value:.{3 if system == 'US' else 1}f}", (value, y), (9 * side, 0), textcoords="offset points",
                va="center", ha="left" if side > 0 else "right", color=color, fontsize=SIZE,
                path_effects=[patheffects.withStroke(linewidth=3, foreground="white")],
            )  # fmt: skip
    # Rounded up, so that the scale stays put while a control moves a little.
    reach = _SCALE_STEP[system] * np.ceil(1.2 * np.abs(ends).max() / _SCALE_STEP[system])
    axes.axvline(0.0, color=INK, lw=0.8, zorder=1.5)
    axes.set_yticks(range(len(outlets)), [shorten(o.name, 26, placeholder="...") for o in outlets])
    axes.set(xlim=(-reach, reach), ylim=(len(outlets) - 0.4, -0.6))
    words = f"outlet pressure against the room, {label('draft', system)} (box: window; negative is draft)"
    axes.set_xlabel(words, size=SIZE)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(left=False, labelsize=SIZE, colors=INK)
    return figure


# --- Prediction, and what is to be written ------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of Boiler 1's draft when the second boiler fires beside it."""
    return predict("common_vent", second_boiler, system)


UNCHANGED = 0.8  # of the draft before: as much is called nearly all


def second_boiler(outdoor: Quantity) -> dict[str, Quantity | float]:
    """Boiler 1's outlet pressure at high fire, alone on the stack and with the second boiler at high beside it."""
    season = replace(WINTER, outdoor=outdoor)
    alone = float(in_state(one_boiler(), season, "high").outlet_pressure[0, 0])
    both = float(in_state(two_boilers(), season, "high", "high").outlet_pressure[0, 0])
    return {
        "right": 2 if both > 0.0 else 0 if both / alone >= UNCHANGED else 1,
        "figure": Q_(both, "Pa"),
        "alone": Q_(alone, "Pa"),
        "share": both / alone,
    }


def writing(system: str = "US") -> Writing:
    """The sum at an outlet, to be written by the reader."""
    return load_writing("common_vent", the_sum, system)


def the_sum(system: str, **terms: Quantity) -> dict[str, Quantity]:
    """The pressure at an outlet, and what it becomes by the slips that are made with it."""
    answer = outlet_pressure(**terms)
    return {
        "answer": answer,
        "exit_head": answer - terms["top_head"],
        "total": answer + terms["outlet_head"],
        "head_added": answer + 2.0 * terms["outlet_head"],
        "room_added": answer + 2.0 * terms["room"],
        "no_room": answer + terms["room"],
        "as_draft": -answer,
    }


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("common_vent", (handbook_draft, branch_of_a_tee, mixed_temperature, laterals), system, seed)


def handbook_draft(height: Quantity, barometer: Quantity, outdoor: Quantity, gas: Quantity, system: str) -> dict:
    """Theoretical draft by the handbook's formula, and with the temperatures as read on the thermometer."""
    draft = stack_effect.handbook_draft(height, barometer, outdoor, gas)
    degree, per_kelvin = ("degF", 1.8) if system == "US" else ("degC", 1.0)
    read, absolute = (1.0 / outdoor.m_as(unit) - 1.0 / gas.m_as(unit) for unit in (degree, "K"))
    return {"answer": draft, "forgotten": draft * per_kelvin * read / absolute, "gauge": -draft}


def branch_of_a_tee(head: Quantity, connector: Quantity, header: Quantity) -> dict[str, Quantity | float]:
    """What half of the gas loses in the branch of a straight tee."""
    share, ratio, right_angle = 0.5, float((connector / header).m_as("")) ** 2, Q_(90.0, "degree")
    branch, run = (
        float(loss(share, ratio, right_angle).m_as("")) for loss in (junctions.branch_loss, junctions.run_loss)
    )
    figures = {"answer": branch * head, "own_head": branch * head * (share / ratio) ** 2, "run": run * head}
    return figures | {"ratio": ratio, "k": branch}


def mixed_temperature(flue_gas: Quantity, air: Quantity, hot: Quantity, cool: Quantity) -> dict[str, Quantity]:
    """Temperature of two streams of one specific heat, mixed."""
    t1, t2, share = hot.m_as("K"), cool.m_as("K"), float((flue_gas / (flue_gas + air)).m_as(""))
    weights = {"answer": share, "plain_mean": 0.5, "swapped": 1.0 - share}
    return {name: Q_(weight * t1 + (1.0 - weight) * t2, "K") for name, weight in weights.items()}


def swim_hall() -> job_file.Job:
    """The demo job of the swimming hall."""
    return job_file.demonstration("swim_hall")


def all_high_in_summer(plant: Plant, seasons: Sequence[Season]) -> Quantity:
    """Outlet pressure of the first appliance with all at their highest level, last season, cold stack."""
    codes = np.array([[len(a.states) - 1] for a in plant.appliances])
    states = States(codes, np.array([len(seasons) - 1]), np.array([True]), np.array([False]))
    return Q_(float(solve(plant, seasons, states).outlet_pressure[0, 0]), "Pa")


def laterals() -> dict[str, Quantity]:
    """The swimming hall at full fire in summer with laterals, and as drawn."""
    hall = swim_hall()
    other = varied(hall.plant, junction="lateral")
    return {
        "answer": all_high_in_summer(other, hall.seasons),
        "as_drawn": all_high_in_summer(hall.plant, hall.seasons),
    }
