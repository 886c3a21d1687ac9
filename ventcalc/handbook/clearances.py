"""Clearances, the chapter: the hall and its stack, figures, live controls, questions."""

from collections import Counter
from dataclasses import replace
from functools import partial
from operator import itemgetter

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.building import clearance_words, plan_geometry
from ventcalc.building.clearance_words import length_text
from ventcalc.building.clearances import Finding, judge
from ventcalc.building.code_rules import CHECK_EDITION, FAIL, NONE, READING, VERDICTS
from ventcalc.building.least_height import least_height, least_heights, roof_height
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.sight_line import Viewpoint, sight
from ventcalc.building.terminal import (
    CHIMNEY,
    DIRECT,
    FAN,
    GAS_VENT,
    TYPE_L,
    WALL_VENT,
    Terminal,
    at_height,
    moved,
    with_fan,
)
from ventcalc.show.axes import label, number, picture
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, counted, paragraph, slider, table
from ventcalc.show.plots import INK, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.roof_drawing import draw_section, governing, numbered, roof_drawing
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity
from ventcalc.words import say

# --- The hall -------------------------------------------------------------------------------------------------

LENGTH, DEPTH, EAVES = 84.0, 56.0, 18.0  # ft, of the hall; its ridge runs along the middle
PITCH = 6.0  # over 12
STACK = (44.0, 22.0)  # ft, where the stack is drawn
DRAWN = 31.0  # ft, how high the architect would have it
EDITION = f"{CHECK_EDITION.capitalize()}."


def _ft(value) -> Quantity:
    return Q_(np.asarray(value, float), "ft")


def _box(x0: float, x1: float, y0: float, y1: float) -> Quantity:
    return _ft([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _upright(name: str, kind: str, ends: tuple, heights: tuple[float, float], next_door: bool = False) -> Opening:
    """An opening between two points (x, y, x, y) and two heights [ft]."""
    return Opening(name, kind, _ft(np.reshape(ends, (2, 2))), *map(_ft, heights), next_door)


def _ridge(pitch: float) -> float:
    """Height [ft] of the hall's ridge."""
    return EAVES + 0.5 * DEPTH * pitch / 12.0


def hall(pitch: float = PITCH) -> Scene:
    """The invented hall: a gable roof with a tower, a parapet, an air handler, windows, a street and a neighbor."""
    ridge, middle = _ridge(pitch), 0.5 * DEPTH

    def roof(y: float) -> float:
        return ridge - abs(y - middle) * pitch / 12.0

    def slope(name: str, y0: float, y1: float, uphill: float) -> RoofPlane:
        plan, top = _box(0.0, LENGTH, y0, y1), _ft([0.0, middle, ridge])
        return RoofPlane.pitched(name, plan, top, Q_(uphill, "degree"), pitch)

    handler = roof(17.0) + 6.0  # ft, top of the air handler and of its intake
    return Scene(
        planes=(slope("street slope", 0.0, middle, 90.0), slope("yard slope", middle, DEPTH, 270.0)),
        obstacles=(
            Obstacle("tower", "tower", _box(66.0, 80.0, 34.0, 48.0), _ft(max(44.0, ridge + 6.0))),
            Obstacle("gable parapet", "parapet", _box(-1.0, 0.0, 0.0, DEPTH), _ft(ridge + 2.0)),
            Obstacle("air handler", "equipment", _box(29.0, 35.0, 17.0, 23.0), _ft(handler)),
            Obstacle("neighbor", "adjacent building", _box(100.0, 112.0, 4.0, 52.0), _ft(30.0)),
        ),
        openings=(
            _upright("handler's intake", "forced-air intake", (35.0, 18.0, 35.0, 22.0), (handler - 2.5, handler)),
            _upright("tower window", "operable window", (66.0, 38.0, 66.0, 44.0), (roof(34.0) + 3.0, roof(34.0) + 8.0)),
            _upright("street door", "door", (40.0, 0.0, 46.0, 0.0), (0.0, 7.0)),
            _upright("neighbor's window", "operable window", (100.0, 24.0, 100.0, 28.0), (20.0, 24.0), next_door=True),
        ),
        marks=(
            Mark("lot line", "property line", _ft([[92.0, -14.0], [92.0, 60.0]])),
            Mark("sidewalk", "walkway", _box(-4.0, 92.0, -12.0, -6.0), _ft(0.0)),
            Mark("gas meter", "gas meter", _ft([[14.0, -1.0]])),
        ),
        grade=_ft(0.0),
    )  # fmt: skip


def stack(kind: str = CHIMNEY, height: float = DRAWN) -> Terminal:
    """The stack as drawn: 14 in. across, its outlet ``height`` ft over the ground, collar of the boiler 5 ft up."""
    x, y = STACK
    return Terminal(
        "stack", _ft(x), _ft(y), _ft(height), Q_(14.0, "inch"), kind, heat_input=Q_(2000.0, "MBH"), hood=_ft(5.0)
    )


# --- Figures --------------------------------------------------------------------------------------------------


def lessons() -> tuple[tuple[str, Scene, Terminal], ...]:
    """One small case for each rule: its name in the table, a scene and a terminal that breaks it."""
    slope, steep = _one_slope(4.0), _one_slope(12.0)

    def at(kind: str, x: float, low: float, size: float = 8.0, **more) -> Terminal:
        through = "wall" if kind in (WALL_VENT, DIRECT) else "roof"
        given = {"through": through, "hood": _ft(-20.0), "heat_input": Q_(40.0, "MBH")} | more
        return Terminal("vent", _ft(x), _ft(0.0), _ft(low), Q_(size, "inch"), kind, **given)

    def flat(*obstacles: Obstacle, openings=()) -> Scene:
        return Scene((RoofPlane.flat("roof", _box(-20.0, 20.0, -10.0, 10.0), _ft(0.0)),), obstacles, openings)

    penthouse = Obstacle("penthouse", "wall", _box(6.0, 12.0, -8.0, 8.0), _ft(5.0))
    handler = Obstacle("air handler", "equipment", _box(8.0, 12.0, -3.0, 3.0), _ft(4.0))
    intake = _upright("intake", "forced-air intake", (8.0, -1.0, 8.0, 1.0), (1.0, 4.0))
    window = _upright("window", "operable window", (3.0, -1.0, 3.0, 1.0), (8.0, 11.0))
    lot_line = Mark("lot line", "property line", _ft([[8.0, -9.0], [8.0, 9.0]]))
    return (
        ("chimney above the roof", slope, at(CHIMNEY, -14.0, 10.0 - 14.0 / 3.0 + 2.2, 12.0)),
        ("chimney above what is near", slope, at(CHIMNEY, -6.0, 11.0, 12.0)),
        ("gas vent by roof pitch", steep, at(GAS_VENT, -7.0, 10.0 - 7.0 + 2.2)),
        ("large or walled gas vent above what is near", flat(penthouse), at(GAS_VENT, 0.0, 3.0)),
        ("outdoor-air intake, mechanical code", flat(handler, openings=(intake,)), at(CHIMNEY, 0.0, 4.0, 12.0)),
        ("window, door or gravity inlet", Scene((), openings=(window,)), at(WALL_VENT, 0.0, 6.0, 4.0)),
        ("direct vent from an air opening", Scene((), openings=(window,)), at(DIRECT, 2.5, 11.2, 4.0)),
        ("lot line or adjacent building", replace(flat(), marks=(lot_line,)), at(FAN, 0.0, 3.0, 12.0)),
    )


def _one_slope(pitch: float) -> Scene:
    """A gable with its ridge at x = 0, 10 ft up."""
    ridge = _ft([0.0, 0.0, 10.0])
    near = RoofPlane.pitched("slope", _box(-22.0, 0.0, -10.0, 10.0), ridge, Q_(0.0, "degree"), pitch)
    far = RoofPlane.pitched("far slope", _box(0.0, 22.0, -10.0, 10.0), ridge, Q_(180.0, "degree"), pitch)
    return Scene((near, far))


def lesson_finding(rule: str, scene: Scene, terminal: Terminal) -> Finding:
    """What the one rule says of the small case."""
    return next(f for f in judge(scene, terminal) if f.rule == rule)


def lesson_drawings(system: str) -> Figure:
    """Each rule in one small section: what governs, how far it is, how much is lacking."""
    columns, each, below = 2, 2.15, 0.25  # inch high, each; and for the words under all
    rows = -(-len(lessons()) // columns)
    height = each * rows + below
    figure, wide = Figure((WIDTH, height)), WIDTH / columns
    for k, (rule, scene, terminal) in enumerate(lessons()):
        row, column = divmod(k, columns)
        x, y = column * wide + 0.42, height - (row + 1) * each + 0.3
        axes = figure.add_axes((x / WIDTH, y / height, (wide - 0.62) / WIDTH, (each - 0.62) / height))
        draw_section(axes, scene, terminal, lesson_finding(rule, scene, terminal), system)
        axes.set(xlabel="", ylabel="")
        axes.set_title(f"{k + 1}  {_short(rule)}", size=SIZE, weight="bold", loc="left", x=-0.1, pad=5, color=INK)
    words = f"{EDITION} Heights, and distances from the vent, in {label('height', system)}"
    figure.text(0.5, 0.04 / height, words, size=SIZE, ha="center", color=INK)
    return figure


def _short(rule: str) -> str:
    """A rule's name without what all of its kind have in common."""
    of_kind = rule.replace("large or walled gas vent above what is near", "gas vent near a wall")
    return of_kind.removesuffix(", mechanical code")


def least_map(system: str, pitch: float = PITCH) -> Figure:
    """How low the outlet may end at every place of the roof, as a chimney and with a fan."""
    scene = hall(pitch)
    x, y = np.meshgrid(np.linspace(-1.0, LENGTH, 171), np.linspace(0.0, DEPTH, 113))
    maps = [least_heights(scene, stack(kind), _ft(x), _ft(y)).m_as("ft") for kind in (CHIMNEY, FAN)]
    unit = float(number(1.0, "ft", "height", system))
    levels = np.arange(18.0, 52.0, 4.0) if system == "US" else np.arange(5.5, 16.0, 1.25)
    figure = Figure((WIDTH, 8.2))
    for k, (heights, words) in enumerate(zip(maps, ("as a chimney", "with a fan"), strict=True)):
        axes = figure.add_axes((0.085, 0.575 - 0.465 * k, 0.745, 0.395))
        shown = np.where(np.isfinite(heights), heights, np.nan) * unit
        fill = axes.contourf(x * unit, y * unit, shown, levels=levels, cmap="Greys", extend="both")
        axes.contour(x * unit, y * unit, shown, levels=[_ridge(pitch) * unit], colors=INK, linewidths=2.2)
        for thing in scene.obstacles[:3]:
            axes.fill(*(thing.plan.m_as("ft") * unit).T, fc="none", ec="white", lw=1.2, hatch="///")
        axes.plot(STACK[0] * unit, STACK[1] * unit, "X", ms=10, color=INK, mec="white")
        axes.set_aspect("equal")
        axes.tick_params(labelsize=SIZE)
        axes.set_title(words, size=SIZE, weight="bold", loc="left")
        axes.set_ylabel(f"plan, {label('height', system)}", size=SIZE)
    bar = figure.colorbar(fill, cax=figure.add_axes((0.865, 0.15, 0.025, 0.76)))
    bar.ax.tick_params(labelsize=SIZE)
    bar.set_label(f"least height of the outlet above ground, {label('height', system)}", size=SIZE)
    words = say("handbook", "clearances", "map", system, edition=EDITION)
    figure.text(0.085, 0.006, words, size=SIZE, color=INK)
    return figure


# --- Tables ---------------------------------------------------------------------------------------------------


def applying(findings) -> list[Finding]:
    """The findings that say something, the worst first."""
    return sorted((f for f in findings if f.verdict != NONE), key=lambda f: VERDICTS.index(f.verdict))


RULE_TABLE = ("", "rule", "what it asks for", f"section (edition); {CHECK_EDITION}", "status")
VERDICT_TABLE = ("rule", "verdict", "governed by", "what would do, or what is spare", f"section; {CHECK_EDITION}")
LEAST_TABLE = ("", "least height", "above the roof", "governed by", "left to be read")


def rules_told(system: str = "US") -> HTML:
    """What each of the small drawings shows, in words."""
    asked = (lesson_finding(*case).row for case in lessons())
    rows = [
        (str(k), row.rule, clearance_words.requirement(row, system), row.reference, row.status)
        for k, row in enumerate(asked, start=1)
    ]
    return HTML(table(RULE_TABLE, rows))


def trust(_system: str = "US") -> HTML:
    """How many rows of the table of rules have which status, and those that were not read in print."""
    rows = tables.read("clearances")
    count = Counter(r["status"].partition(":")[0] for r in rows)
    words = f"{len(rows)} rows: " + ", ".join(f"{n} {status}" for status, n in count.most_common()) + "."
    doubted = [(r["id"], r["rule"], r["status"]) for r in rows if not r["status"].startswith("published")]
    return HTML(paragraph(words) + table(("row", "rule", "status"), doubted))


def things(system: str = "US") -> HTML:
    """The things of the hall by their numbers in the drawings: kind, lowest and highest point above ground."""
    rows = []
    for mark, thing in numbered(hall()).items():
        if isinstance(thing, RoofPlane):
            kind, span = f"roof, {thing.pitch:.3g}/12", (thing.points[:, 2].min(), thing.points[:, 2].max())
        else:
            kind, span = thing.kind, thing.span
        ends = [length_text(Q_(float(z), "m"), system) if np.isfinite(z) else "" for z in span]
        rows.append((mark, thing.name, kind, *ends))
    return HTML(table(("", "thing", "kind", "from", "to (above ground)"), rows))


def two_feet_over(system: str = "US") -> str:
    """The chimney rule by hand: the highest point of the stack's own slope within ten feet, and two feet over it."""
    terminal = stack()
    (height,), _ = plan_geometry.highest_within(hall().planes[0], terminal.at, _ft(10.0).m_as("m") + terminal.radius)
    highest = Q_(height, "m")
    return (
        f"highest point of the street slope within ten feet: {length_text(highest, system)}\n"
        f"two feet over it: {length_text(highest + _ft(2.0), system)}; drawn is {length_text(terminal.outlet, system)}"
    )


def least_told(terminals: dict[str, Terminal], system: str = "US") -> HTML:
    """How low each of several terminals of the hall may end."""
    return HTML(table(LEAST_TABLE, [least_row(name, hall(), one, system) for name, one in terminals.items()]))


def fan_changes(terminal: Terminal) -> HTML:
    """The rules that say another thing of a terminal of the hall once it has a fan."""
    before, after = ({f.rule: f.verdict for f in judge(hall(), t)} for t in (terminal, with_fan(terminal)))
    rows = [(rule, before[rule], after[rule]) for rule in before if before[rule] != after[rule]]
    return HTML(table(("rule", "chimney", "with a fan"), rows))


def left_to_read(terminal: Terminal, system: str = "US") -> HTML:
    """What the authority must read of a terminal of the hall at its least height, and why."""
    rows = []
    for f in least_height(hall(), terminal).open_questions:
        reason = f.reason.words(system) if f.reason else "not met, and less is allowed by another code"
        rows.append((f.rule, reason, f.row.reference))
    return HTML(table(("rule", "left to be read", "section"), rows))


def in_words(finding: Finding, system: str = "US") -> str:
    """A finding as a sentence."""
    return clearance_words.sentence(finding, system)


def hidden_shares() -> dict[str, float]:
    """On how much of the roof the stack may end below the ridge, as a chimney and with a fan: a grid of one foot."""
    x, y = np.meshgrid(np.arange(1.0, LENGTH), np.arange(1.0, DEPTH))

    def share(terminal: Terminal) -> float:
        return np.mean(least_heights(hall(), terminal, _ft(x), _ft(y)).m_as("ft") < _ridge(PITCH))

    return {"as a chimney": share(stack()), "with a fan": share(with_fan(stack()))}


def views() -> tuple[Viewpoint, ...]:
    """From where the stack is looked at: two sides of the house."""
    return (
        Viewpoint("from the street", _ft(44.0), _ft(-60.0), _ft(5.5)),
        Viewpoint("from her window, beyond the yard", _ft(44.0), _ft(100.0), _ft(16.0)),
    )


def who_sees_it(system: str = "US") -> HTML:
    """The stack as drawn from each view: what is hidden there, and what the rules ask."""
    asked, drawn = least_height(hall(), stack()).height, stack().outlet
    rows = [("the rules ask for an outlet at", length_text(asked, system), "the strictest of them")]
    rows += [("drawn is", length_text(drawn, system), "")]
    for view in views():
        found = sight(hall(), stack(), view)
        over = f"the line over the {found.behind}" if found.behind else "the roof that it stands on"
        rows += [(f"{view.name}, hidden is what ends below", length_text(found.hidden_below, system), over)]
    return HTML(table(("the stack as drawn", "height", "by"), rows))


def habit_beside_table(system: str = "US") -> HTML:
    """How high an 8 in. gas vent must end by the table and by the habit, on roofs of several pitches."""
    rows = []
    for pitch in (0, 4, 6, 9, 12, 18):
        scene, vent = open_slope(Q_(8.0, "inch"), pitch)
        heights = (least_height(scene, vent, habit=habit).above_roof for habit in (False, True))
        rows.append((f"{pitch}/12", *(length_text(h, system) for h in heights)))
    return HTML(table(("pitch", "table by pitch", "three feet within ten"), rows))


def verdict_rows(findings, system: str) -> list[tuple[str, ...]]:
    """Rows of the table of verdicts."""
    rows = []
    for f in applying(findings):
        away = "" if f.gap is None else f", {length_text(f.gap, system)} away"
        rows.append((f.rule, f.verdict, f"{f.thing}{away}", _what_of_it(f, system), f.row.reference if f.row else ""))
    return rows


def _what_of_it(f: Finding, system: str) -> str:
    if f.broken:
        return clearance_words.cure_text(f, system)
    if f.spare is not None:
        return f"{length_text(f.spare, system)} to spare"
    if not f.thing:
        return f.reason
    return "far enough away" if f.need is None else "low enough below"


def least_row(name: str, scene: Scene, terminal: Terminal, system: str, habit: bool = False) -> tuple[str, ...]:
    """One row: least height above ground and above the roof, what governs it, how many rules are left to be read."""
    least = least_height(scene, terminal, habit=habit)
    if least.height is None:
        return (name, "none does", "", least.finding.rule, "")
    above = "" if least.above_roof is None else length_text(least.above_roof, system)
    governs = least.finding
    by = f"{governs.thing}: {governs.rule}" if governs else "the roof itself"
    return (name, length_text(least.height, system), above, by, str(len(least.open_questions)))


# --- Live controls --------------------------------------------------------------------------------------------

LIVE_KINDS = (CHIMNEY, GAS_VENT, TYPE_L, FAN, DIRECT)
PITCHES = (0.0, 2.0, 4.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 18.0, 21.0, 24.0)
BY_CODE, BY_HABIT = "table by roof pitch", "three feet within ten"


def explorer(system: str) -> Panel:
    """Controls over the place, height and kind of the hall's stack and the pitch of its roof."""
    return Panel(partial(explorer_answer, system), controls(system))


def _lengths(system: str, last: float, step: tuple[float, float]) -> list[tuple[str, float]]:
    """(label, ft) pairs from one step to ``last`` ft."""
    unit, by = ("ft", step[0]) if system == "US" else ("m", step[1])
    values = np.arange(1, int(Q_(last, "ft").m_as(unit) / by + 1e-9) + 1) * by
    return [(length_text(Q_(float(v), unit), system), float(Q_(float(v), unit).m_as("ft"))) for v in values]


def controls(system: str) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first the stack as drawn."""
    over_roof = stack().outlet - roof_height(hall(), stack())
    drawn = length_text(over_roof, system), float(over_roof.m_as("ft"))
    return {
        "x": slider("Along the ridge", _lengths(system, LENGTH - 1.0, (1.0, 0.25)), STACK[0]),
        "y": slider("From the street", _lengths(system, DEPTH - 1.0, (1.0, 0.25)), STACK[1]),
        "above": slider(
            "Above the roof", sorted((*_lengths(system, 20.0, (0.25, 0.1)), drawn), key=itemgetter(1)), drawn[1]
        ),
        "pitch": slider("Pitch over 12", counted(PITCHES), PITCH),
        "kind": choice("Kind", LIVE_KINDS, CHIMNEY),
        "size": choice("Diameter", [(f"{d} in. ({25.4 * d:.0f} mm)", float(d)) for d in (6, 8, 10, 12, 14, 18)], 14.0),
        "go_by": choice("Gas vents go by", (BY_CODE, BY_HABIT), BY_CODE),
    }


def explorer_answer(
    system: str, *, x: float, y: float, above: float, pitch: float, kind: str, size: float, go_by: str
) -> tuple[str, bytes]:
    """Verdicts, least heights and the drawing of the hall's stack at ``x``, ``y``, ``above`` the roof [ft]."""
    scene, habit = hall(pitch), go_by == BY_HABIT
    terminal = replace(moved(stack(kind), _ft(x), _ft(y)), diameter=Q_(size, "inch"))
    terminal = at_height(terminal, roof_height(scene, terminal) + _ft(above))
    findings = judge(scene, terminal, habit=habit)
    rows = [least_row(kind, scene, terminal, system, habit)]
    if kind != FAN:
        rows.append(least_row("with a fan", scene, with_fan(terminal), system, habit))
    count = Counter(f.verdict for f in findings)
    words = say("handbook", "clearances", "verdicts", system, fail=count[FAIL], reading=count[READING])
    numbers = table(VERDICT_TABLE, verdict_rows(findings, system)) + table(LEAST_TABLE, rows) + paragraph(words)
    return numbers, picture(roof_drawing(scene, terminal, governing(findings), system))


# --- Prediction, and what is to be written --------------------------------------------------------------------


def open_slope(diameter: Quantity, pitch: float = PITCH) -> tuple[Scene, Terminal]:
    """A gas vent half-way up the street slope of the hall, all obstacles and openings taken away."""
    scene = replace(hall(pitch), obstacles=(), openings=())
    return scene, replace(stack(GAS_VENT), diameter=diameter, y=_ft(14.0))


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a gas vent a size larger."""
    return predict("clearances", a_size_larger, system)


def a_size_larger(small: Quantity, large: Quantity, system: str) -> dict[str, Quantity | str | float]:
    """How high two gas vents must end at the same place, half-way up the hall's slope."""
    before, after = (least_height(*open_slope(size)) for size in (small, large))
    ratio = float((after.above_roof / before.above_roof).m_as(""))
    return {
        "right": 0 if ratio < 1.5 else 1 if ratio < 3.0 else 2,  # by the middle of what the choices say
        "figure": after.above_roof,
        "times": ratio,
        "rule": after.finding.rule,
        **_told(system, low=before.above_roof),
    }


def writing(system: str = "US") -> Writing:
    """How high a chimney on a slope must end, to be written by the reader."""
    return load_writing("clearances", up_the_slope, system)


def up_the_slope(away: Quantity, pitch: Quantity) -> dict[str, Quantity]:
    """A chimney's least height above the roof, ``away`` in plan from the ridge, and the slips."""
    per_foot = float(pitch.m_as(""))
    thin = replace(_at_origin(CHIMNEY, _ft(10.0), Q_(0.01, "inch")), x=-away)  # so that its face and its axis are one
    ridge, passage, over = away * per_foot, _ft(3.0), _ft(2.0)
    within = min(away, _ft(10.0)) * per_foot
    return {
        "answer": least_height(_one_slope(12.0 * per_foot), thin).above_roof,
        "ridge": max(ridge + over, passage),
        "no_passage": within + over,
        "level": max(within, passage),
        "both": within + over + passage,
    }


# --- Questions ------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    works = (down_the_slope, beside_a_penthouse, from_an_intake, under_a_window, past_a_window)
    return load("clearances", works, system, seed)


def _told(system: str, **lengths: Quantity) -> dict[str, str]:
    return {name: length_text(length, system) for name, length in lengths.items()}


def _at_origin(kind: str, low: Quantity, diameter: Quantity, **more) -> Terminal:
    return Terminal("it", _ft(0.0), _ft(0.0), low, diameter, kind, hood=_ft(-20.0), **more)


def _of_rule(rule: str, terminal: Terminal, opening: Opening) -> Finding:
    """What one rule says of a terminal near one opening."""
    return lesson_finding(rule, Scene((), openings=(opening,)), terminal)


def down_the_slope(pitch: float, away: Quantity, system: str) -> dict[str, Quantity | str]:
    """A chimney far down from the ridge."""
    face = Q_(0.01, "inch")  # a vent so thin that its face and its axis are one
    terminal = replace(_at_origin(CHIMNEY, _ft(10.0), face), x=-away)
    answer, rise = least_height(_one_slope(pitch), terminal).above_roof, _ft(10.0 * pitch / 12.0)
    feet = {5.0: "five", 7.5: "seven and a half", 10.0: "ten"}[float(rise.m)]
    wrong = {"passage": _ft(3.0), "ridge": away * pitch / 12.0 + _ft(2.0), "level": rise}
    return {"answer": answer, "rise": rise, "feet": feet, **_told(system, away=away, needed=answer), **wrong}


def beside_a_penthouse(high: Quantity, gap: Quantity, system: str) -> dict[str, Quantity | str]:
    """A gas vent too near to a wall for the table by pitch."""
    size, near = Q_(8.0, "inch"), float(gap.m_as("ft"))
    wall = Obstacle("penthouse", "wall", _box(near + 4.0 / 12.0, near + 12.0, -8.0, 8.0), high)
    roof = RoofPlane.flat("roof", _box(-30.0, 30.0, -30.0, 30.0), _ft(0.0))
    answer = least_height(Scene((roof,), (wall,)), _at_origin(GAS_VENT, _ft(1.0), size)).above_roof
    wrong = {"by_pitch": _ft(1.0), "over_roof": _ft(2.0), "habit": high + _ft(3.0)}
    return {"answer": answer, **_told(system, high=high, gap=gap, needed=answer), **wrong}


def from_an_intake(gap: Quantity, system: str) -> dict[str, Quantity | str]:
    """A fan beside a forced-air intake."""
    spot = np.reshape([float(gap.m_as("ft")) + 0.5, 0.0], (1, 2))
    intake = Opening("intake", "forced-air intake", _ft(spot), _ft(1.0), _ft(4.0))
    broken = _of_rule("forced-air inlet, fuel gas code", _at_origin(FAN, _ft(4.0), Q_(12.0, "inch")), intake)
    told = _told(system, gap=gap, needed=broken.raise_by, aside=broken.move_by)
    return {"answer": broken.raise_by, **told, "moved": broken.move_by, "one_foot": _ft(1.0), "nothing": _ft(0.0)}


def under_a_window(beside: Quantity, sill: Quantity, system: str) -> dict[str, Quantity | str]:
    """A vent that must leave below a window beside it."""
    spot = np.reshape([float(beside.m_as("ft")), 0.0], (1, 2))
    window, low = Opening("window", "operable window", _ft(spot), sill, sill + _ft(4.0)), sill - _ft(1.0)
    terminal = _at_origin(WALL_VENT, low, Q_(4.0, "inch"), through="wall")
    answer = low - _of_rule("window, door or gravity inlet", terminal, window).lower_by
    wrong = {"one_foot": low, "intake": sill - _ft(3.0), "above_it": sill + _ft(4.0)}
    return {"answer": answer, **_told(system, beside=beside, sill=sill, needed=answer), **wrong}


def past_a_window(inches: float, system: str) -> dict[str, Quantity | str]:
    """A direct vent above and beside a window."""
    spot = Q_([[inches + 2.0, 0.0]], "inch")
    window, low = Opening("window", "operable window", spot, _ft(3.0), _ft(7.0)), _ft(7.1)
    terminal = _at_origin(DIRECT, low, Q_(4.0, "inch"), through="wall", heat_input=Q_(40.0, "MBH"))
    answer = low + _of_rule("direct vent from an air opening", terminal, window).raise_by - _ft(7.0)
    wrong = {"added": 9.0 - inches, "straight": 9.0, "larger": 12.0}
    slips = {name: Q_(float(wide), "inch") for name, wide in wrong.items()}
    return {"answer": answer, **_told(system, beside=Q_(inches, "inch")), **slips}
