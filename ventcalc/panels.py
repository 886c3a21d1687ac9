"""Panels: live controls for the chapters.

A panel is a few controls, numbers as HTML and a picture as PNG. What it shows is made by a plain function, from
the values of its controls to (HTML, PNG); that function is tested at both ends of every control. Moving a
control calls it and sets the value of an `HTML` and an `Image` widget, and nothing else; a combination that
cannot be is answered in words.

A saved or printed page has no live controls. There a panel shows the numbers it had when the page was run.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from html import escape
from textwrap import shorten
from typing import Any

import ipywidgets as widgets
import numpy as np
from matplotlib import patheffects
from matplotlib.figure import Figure

from ventcalc import firing_states, junctions
from ventcalc.common_vent import Solution, States, solve
from ventcalc.drawing import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.exercises import Exercise
from ventcalc.firing_states import REVERSAL_FLOW, Scan
from ventcalc.job import Job
from ventcalc.layout import Plant
from ventcalc.network import Season
from ventcalc.plots import png
from ventcalc.units import Q_, Quantity, UnitsError, parse, show, shown_unit, unit_text

PICTURE_WIDTH = 760  # px on the page
_DOTS = 160.0  # per inch: finer than the page shows it, for sharp letters

Answer = Callable[..., tuple[str, bytes]]


# --- The frame ------------------------------------------------------------------------------------------


# A notebook would set words flush right, and a control's HTML would leave neither gaps nor tight lines.
_CELL = ' style="text-align: left; padding: 3px 14px 3px 0; line-height: 1.3"'
_TEXT = ' style="line-height: 1.4; margin: 6px 0"'


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """An HTML table of plain texts."""
    head = "".join(f"<th{_CELL}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(f"<td{_CELL}>{escape(str(c))}</td>" for c in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


@cache
def no_picture() -> bytes:
    """The picture beside a refusal: nothing was solved, so nothing is drawn."""
    figure = Figure(figsize=(WIDTH, 0.6))
    figure.text(0.5, 0.5, "no result to draw", ha="center", va="center", color=GREY, size=SIZE)
    return png(figure, _DOTS)


class Panel(widgets.VBox):
    """Controls by name over the numbers and the picture that ``answer(**values)`` makes of them."""

    def __init__(self, answer: Answer, controls: Mapping[str, widgets.Widget], **kwargs):
        self.answer, self.controls = answer, dict(controls)
        self.numbers = widgets.HTML()
        self.numbers.add_class("vc-numbers")
        self.picture = widgets.Image(format="png", layout=widgets.Layout(width=f"{PICTURE_WIDTH}px", max_width="100%"))
        self.picture.add_class("vc-picture")
        grid = widgets.GridBox(
            list(self.controls.values()),
            layout=widgets.Layout(grid_template_columns="repeat(auto-fill, 380px)", grid_gap="2px 12px"),
        )
        super().__init__([grid, self.numbers, self.picture], **kwargs)
        for control in self.controls.values():
            control.observe(self.update, names="value")
        self.update()

    def update(self, _change: Any = None) -> None:
        """Show what the answer is for the values that the controls have now."""
        values = {name: control.value for name, control in self.controls.items()}
        self.numbers.value, self.picture.value = said(self.answer, values)

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return _with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", self.numbers.value)


def _with_static_text(bundle: dict[str, Any], plain: str, html: str) -> dict[str, Any]:
    """What a widget shows of itself, with text for pages where it cannot live."""
    return bundle | {"text/plain": plain, "text/html": html}


def said(answer: Answer, values: Mapping[str, Any]) -> tuple[str, bytes]:
    """What an answer is for some values; a refusal in words where they cannot be."""
    try:
        return answer(**values)
    except (ValueError, UnitsError) as error:
        return f"<p><b>This cannot be built or solved:</b> {escape(str(error))}</p>", no_picture()


_WIDE = widgets.Layout(width="380px")
_STYLE = {"description_width": "130px"}


def slider(description: str, options: Sequence[tuple[str, Any]], value: Any) -> widgets.SelectionSlider:
    """A slider over (label, value) pairs, at the one nearest to ``value``; it answers when it is let go."""
    nearest = min((v for _, v in options), key=lambda v: abs(v - value))
    return widgets.SelectionSlider(
        options=list(options),
        value=nearest,
        description=description,
        continuous_update=False,
        layout=_WIDE,
        style=_STYLE,
    )


def choice(description: str, options: Iterable[Any], value: Any) -> widgets.Dropdown:
    """A list to choose from; options as for an ipywidgets Dropdown."""
    return widgets.Dropdown(options=list(options), value=value, description=description, layout=_WIDE, style=_STYLE)


def ask(exercise: Exercise) -> widgets.VBox:
    """An exercise with a line to type the answer in; it is marked when Enter is pressed."""
    question = widgets.HTML(f"<p{_TEXT}>{escape(exercise.question)}</p>")
    line = widgets.Text(
        placeholder=f"type, with its unit: {exercise.example}",
        continuous_update=False,
        layout=widgets.Layout(width="320px"),
    )
    verdict = widgets.HTML(exercise.check().html())
    verdict.add_class("vc-verdict")

    def mark(change):
        verdict.value = exercise.check(change["new"]).html()

    line.observe(mark, names="value")
    return _Asked([question, line, verdict], exercise)


class _Asked(widgets.VBox):
    def __init__(self, children, exercise: Exercise):
        super().__init__(children, layout=widgets.Layout(max_width="760px"))
        self.exercise = exercise

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        question = self.exercise.question
        return _with_static_text(super()._repr_mimebundle_(**kwargs), question, f"<p{_TEXT}>{escape(question)}</p>")


# --- The same vent, a little different ---------------------------------------------------------------------


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
    far = firing_states.far_end(plant)
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


# --- One vent in one state ----------------------------------------------------------------------------------

_DOES = "does "  # before an appliance's name, so that no appliance can be taken for another control


def vent(plant: Plant, seasons: Sequence[Season], system: str = "US") -> Panel:
    """Controls of one vent: stack height, header and stack diameter, junctions, weather, what each appliance does."""

    def answer(**values) -> tuple[str, bytes]:
        return vent_answer(plant, seasons, system, **values)

    return Panel(answer, vent_controls(plant, seasons, system))


def vent_controls(plant: Plant, seasons: Sequence[Season], system: str) -> dict[str, widgets.Widget]:
    """The controls of `vent` by name; at first all at their highest level, in the first season, on a hot stack."""
    controls: dict[str, widgets.Widget] = {}
    stack = stack_sections(plant)
    if stack:
        rise = sum(plant.section(name).rise.to("m") for name in stack)
        controls["height"] = slider("Stack height", _sizes(rise, "height", system), 1.0)
    last = plant.upstream(plant.terminations[0].name)[0].diameter.to("m")
    controls["diameter"] = slider("Stack diameter", _sizes(last, "diameter", system), 1.0)
    controls["outdoor"] = slider("Outdoors", _temperatures(system), float(seasons[0].outdoor.m_as("K")))
    controls["cold"] = choice("Stack", [("hot, come to rest", False), ("cold, at light-off", True)], False)
    if any(s.junction not in (None, "opposed tee") for s in plant.sections):
        forms = [(n, n) for n in junctions.JUNCTIONS if n != "opposed tee"]
        controls["junction"] = choice("Junctions", [("as drawn", ""), *forms], "")
    if any(s.wind.m_as("m/s") > 0.0 for s in seasons):
        speed = show(weather(seasons, seasons[0].outdoor).wind, system, "wind")
        controls["windy"] = choice("Wind", [("none", False), (speed, True)], False)
    for a in plant.appliances:
        controls[_DOES + a.name] = choice(a.name, a.states, a.states[-1])
    return controls


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


def vent_answer(
    plant: Plant,
    seasons: Sequence[Season],
    system: str,
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
    codes = np.array([[a.states.index(doing[_DOES + a.name])] for a in changed.appliances])
    solution = solve(changed, (season,), States(codes, np.array([0]), np.array([cold]), np.array([windy])))
    outlets = tuple(outlet(solution, i, 0) for i in range(len(changed.appliances)))
    rows = [(o.name, o.state, _draft(o.pressure, system), _window(o.window, system), o.words(system)) for o in outlets]
    numbers = table(("outlet", "does", "pressure", "window", "verdict"), rows) + _summary(solution, season, system)
    return numbers, png(outlets_drawing(outlets, system), _DOTS)


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
            found.append(f"inside, {_draft(nearest, system)} from the edge")
        elif self.counts:
            sides = [(self.above, "above"), (self.below, "below")]
            found.append("outside: " + " and ".join(f"{_draft(by, system)} {side}" for by, side in sides if by > 0.0))
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
        said.append(f"pressure at the header's far end {_draft(float(firing_states.header_pressure(scan)[0]), system)}")
    for end in plant.terminations:
        row = solution.row(plant.upstream(end.name)[0].name)
        shown = [
            show(Q_(float(values[row, 0]), unit), system)
            for values, unit in ((solution.flow, "kg/s"), (solution.downstream, "K"), (solution.velocity, "m/s"))
        ]
        said.append(f"out of {end.name} {', '.join(shown)}")
    return f"<p{_TEXT}>{escape('; '.join(said))}</p>"


def _draft(pressure: float, system: str) -> str:
    return show(Q_(pressure, "Pa"), system, "draft")


def _window(window: tuple[float, float], system: str) -> str:
    return f"{_draft(window[0], system)} to {_draft(window[1], system)}"


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


# --- One job, whole ---------------------------------------------------------------------------------------------


def study(jobs: Mapping[str, Job], system: str = "US") -> widgets.VBox:
    """The controls of `vent` for one of several jobs by name, in US or SI units, both to be chosen."""
    job = choice("Job", [(j.name, key) for key, j in jobs.items()], next(iter(jobs)))
    units = choice("Units", [("US", "US"), ("SI", "SI")], system)
    return _Chooser(jobs, job, units)


class _Chooser(widgets.VBox):
    def __init__(self, jobs: Mapping[str, Job], job: widgets.Dropdown, units: widgets.Dropdown):
        self.jobs, self.job, self.units = dict(jobs), job, units
        super().__init__([widgets.HBox([job, units]), self._panel()])
        job.observe(self._choose, names="value")
        units.observe(self._choose, names="value")

    @property
    def panel(self) -> Panel:
        return self.children[1]

    def _panel(self) -> Panel:
        job = self.jobs[self.job.value]
        return vent(job.plant, job.seasons, self.units.value)

    def _choose(self, change) -> None:
        """Another job starts afresh; other units keep what the controls had."""
        old, new = self.panel, self._panel()
        if change["owner"] is self.units:
            for name, control in new.controls.items():
                carry_over(old.controls[name].value, control)
        self.children = [self.children[0], new]
        old.close()

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return _with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", self.panel.numbers.value)


def carry_over(value: Any, control: widgets.Widget) -> None:
    """Set a control to the value nearest to what it had in the other unit system."""
    if isinstance(control, widgets.SelectionSlider):
        value = min((v for _, v in control.options), key=lambda v: abs(v - value))
    control.value = value


# --- All states of one vent ---------------------------------------------------------------------------------

_ANY = "any"  # not None, which a list of choices takes for no choice at all


def states(scan: Scan, system: str = "US") -> Panel:
    """Controls that narrow a scan to some of its states, and every outlet's range over what is left."""
    controls: dict[str, widgets.Widget] = {
        "season": choice("Season", [("any", _ANY), *((s.name, i) for i, s in enumerate(scan.seasons))], _ANY),
        "cold": choice("Stack", [("hot or cold", _ANY), ("hot", False), ("cold", True)], _ANY),
        "windy": choice("Wind", [("with or without", _ANY), ("without", False), ("with", True)], _ANY),
    }
    for a in scan.plant.appliances:
        does = [("anything", _ANY), *((name, code) for code, name in enumerate(a.states))]
        controls[_DOES + a.name] = choice(a.name, does, _ANY)

    def answer(**values) -> tuple[str, bytes]:
        return states_answer(scan, system, **values)

    return Panel(answer, controls)


def states_answer(
    scan: Scan, system: str, *, season: int | str, cold: bool | str, windy: bool | str, **doing: int | str
) -> tuple[str, bytes]:
    """Every outlet's range over the states that fit; "any" stands for whatever there is."""
    fits = np.ones(len(scan.states), bool)
    wanted = [(season, scan.states.season), (cold, scan.states.cold), (windy, scan.states.windy)]
    wanted += [(doing[_DOES + a.name], scan.states.codes[i]) for i, a in enumerate(scan.plant.appliances)]
    for value, values in wanted:
        if value != _ANY:
            fits &= values == value
    if not fits.any():
        raise ValueError("no state of the scan fits all of this")
    rows, outlets = [], []
    for i, a in enumerate(scan.plant.appliances):
        counted = np.flatnonzero(fits & scan.running(i))
        reversed_flow = _into_room(scan, i, fits)
        if counted.size == 0:
            idle = f"{show(Q_(reversed_flow, 'kg/s'), system)} of flue gas into the room" if reversed_flow else "idle"
            rows.append((a.name, "", "", "", idle))
            continue
        pressure = scan.solution.outlet_pressure[i, counted]
        window = tuple(float(w.m_as("Pa")) for w in a.window)
        o = Outlet(a.name, "", float(pressure.min()), float(pressure.max()), window, True, reversed_flow)
        outlets.append(o)
        low, high = counted[pressure.argmin()], counted[pressure.argmax()]
        rows.append((a.name, f"{_draft(o.low, system)}: {scan.describe(int(low), system)}",
                     f"{_draft(o.high, system)}: {scan.describe(int(high), system)}", _draft(o.high - o.low, system),
                     o.words(system)))  # fmt: skip
    numbers = table(("outlet", "lowest", "highest", "swing", "verdict"), rows)
    count = f"<p{_TEXT}>{int(fits.sum()):,} of {len(scan.states):,} states.</p>"
    return count + numbers, png(outlets_drawing(outlets, system), _DOTS) if outlets else no_picture()


def _into_room(scan: Scan, i: int, fits: np.ndarray) -> float:
    """Most flue gas [kg/s] that enters the room through an appliance in the states that fit, 0 where none does."""
    flow = np.where(fits & scan.any_firing, -scan.solution.drawn[i], 0.0).max()
    return float(flow) if flow > REVERSAL_FLOW else 0.0
