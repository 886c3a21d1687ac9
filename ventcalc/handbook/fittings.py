"""Fittings, the chapter: its two sketches of one connector, live controls, questions, and what it stands on."""

import re
from dataclasses import replace
from functools import partial

import ipywidgets as widgets
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import fittings
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.handbook.friction import Flow, fine
from ventcalc.show.axes import DOTS, label, number, plain
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, INK, PALE, RUST, SIZE, WIDTH, png
from ventcalc.units import Q_, Quantity, show

# The chapter's case: a connector on its way round a beam.
CONNECTOR = Flow(Q_(900.0, "lb/hour"), Q_(8.0, "inch"), Q_(18.0, "ft"), Q_(1.0, "mm"), Q_(300.0, "degF"))
SKETCHES = {"A": ("elbow 90",) * 4, "B": ("elbow 45",) * 2}
CONE = Q_(60.0, "degree")
WIDER = Q_(12.0, "inch")


# --- What the chapter stands on -----------------------------------------------------------------------------


def rows_of_table() -> dict[str, str]:
    """Rows of losses_checks by id that cells of data/flow/fittings.csv name as their origin, and the fitting's name."""
    named = ((re.search(r"losses\.csv (L\d+)", r["note"]), r["name"]) for r in tables.read("fittings"))
    return {found[1]: name for found, name in named if found}


def head_gained(upstream: float, downstream: float) -> float:
    """Rise of velocity head through a change of size, over the head before it."""
    return fittings.on_other_diameter.bare(1.0, downstream, upstream) - 1.0


def checks() -> tuple[Check, ...]:
    """The table's cells against their rows, entries and exit, and the handbook's cone and reducer."""
    ours = {key: fittings.fitting(name).loss for key, name in rows_of_table().items()}
    gained = head_gained(1.0, 0.8)
    # The handbook's inlet coefficients of a hood hold the head of the gas itself. Its cone and its reducer are changes
    # of static pressure: the head gained, on the head before (cone) or after it (reducer).
    ours |= {"L005": ENTRY_LOSS["draft hood"] + 1.0, "L006": ENTRY_LOSS["barometric"], "L014": gained}
    ours |= {"L015": gained / (1.0 + gained), "L051": ENTRY_LOSS["barometric"]}
    ours["L054"] = fittings.size_change(Q_(0.2, "m"), Q_(2e5, "m"), Q_(180.0, "degree"))
    return compare("losses_checks", dict(sorted(ours.items())))


def authors(case: str, angle: float) -> dict[str, float]:
    """What several authors give for one case of data/flow/fittings_authors.csv, by author."""
    return {
        r["author"]: float(r["value"])
        for r in tables.read("fittings_authors")
        if r["case"] == case and r["angle_deg"] and float(r["angle_deg"]) == angle
    }


def cone_spread() -> list[tuple[str, float, float, dict[str, float]]]:
    """Reducers and increasers of data/flow/fittings_authors.csv: case, angle, ours, every author's."""
    ends = {"increaser": (0.2, 0.3), "reducer": (0.3, 0.2)}
    return [
        (case, angle, float(fittings.size_change.bare(*diameters, angle)), authors(case, angle))
        for case, diameters in ends.items()
        for angle in (20.0, 60.0, 180.0)
    ]


# --- Figures ---------------------------------------------------------------------------------------------------


def sketches() -> Figure:
    """Two ways for one connector round a beam."""
    figure = Figure((WIDTH, 2.3))
    paths = {
        "A": [(0.0, 0.3), (1.2, 0.3), (1.2, -0.75), (2.9, -0.75), (2.9, 0.3), (4.1, 0.3)],
        "B": [(0.0, 0.3), (0.9, 0.3), (1.7, -0.5), (4.1, -0.5)],
    }
    words = {"A": "A: four 90° elbows, back on the old line", "B": "B: two 45° elbows, lower from there on"}
    for i, (name, path) in enumerate(paths.items()):
        axes = figure.add_axes((0.02 + 0.5 * i, 0.14, 0.46, 0.82))
        x, y = np.array(path).T
        axes.plot(x, y, color=INK, lw=15, solid_capstyle="butt", solid_joinstyle="miter")
        axes.plot(x, y, color=PALE, lw=12.5, solid_capstyle="butt", solid_joinstyle="miter")
        axes.annotate(
            "", (x[-1] + 0.35, y[-1]), (x[-1], y[-1]), arrowprops={"arrowstyle": "->", "color": INK, "lw": 1.5}
        )
        axes.add_patch(Rectangle((1.8, 0.05), 0.5, 0.75, fc="white", ec=INK, hatch="////"))
        axes.text(2.05, 0.92, "beam", ha="center", size=SIZE)
        axes.set(xlim=(-0.1, 4.6), ylim=(-1.1, 1.2), aspect="equal")
        axes.axis("off")
        figure.text(0.25 + 0.5 * i, 0.03, words[name], ha="center", size=SIZE)
    return figure


def elbow_chart() -> Figure:
    """Published coefficients of a 90 degree round elbow, by how it is made."""
    kinds = {
        "smooth": "round smooth-radius elbow",
        "5 pieces": "round 5-piece elbow",
        "4 pieces": "round 4-piece elbow",
        "3 pieces": "round 3-piece elbow",
        "mitre": "round mitered elbow",
    }
    marks = {"0.5": "v", "0.75": "s", "1.0": "o", "1.5": "D", "2.0": "^", "2.5": "P", "": "X"}
    figure = Figure((WIDTH, 3.2), layout="constrained")
    axes = figure.subplots()
    seen = set()
    for x, name in enumerate(kinds.values()):
        for r in tables.read("losses_checks"):
            if r["fitting"] == name and r["angle_deg"] == "90" and r["quantity"] == "elbow loss coefficient C":
                key = r["radius_ratio"]
                words = f"r/D {float(key):g}" if key else "no radius"
                axes.plot(
                    x,
                    float(r["value"]),
                    marks[key],
                    ms=8,
                    color=BLUE,
                    label=words if key not in seen else None,
                )
                seen.add(key)
    handbook = fittings.fitting("elbow 90")
    axes.axhline(handbook.loss, color=RUST, lw=1.3, ls="--", label="chimney handbook\n(from memory)")
    axes.set_xticks(range(len(kinds)), kinds)
    axes.set(ylim=(0.0, 1.3), xlim=(-0.5, 4.5))
    axes.legend(fontsize=SIZE, frameon=False, loc="center left", bbox_to_anchor=(1.0, 0.5))
    plain(axes, "how the elbow is made", "K of one 90° elbow").grid(visible=False, axis="x")
    return figure


def pair_chart() -> Figure:
    """Two elbows close together over twice one: smooth bends turned three ways, and two mitres."""
    figure = Figure((WIDTH, 3.3), layout="constrained")
    axes = figure.subplots()
    drawn = [("smooth r/D 1", turn, f"smooth bends, {turn}") for turn in fittings.PAIR_TURNS]
    drawn.append(("mitred, square duct", "S", "mitres, S (offset of the axes)"))
    styles = (("-", "o", BLUE), ("--", "s", BLUE), (":", "^", BLUE), ("-.", "X", RUST))
    for (elbow, turn, words), (line, mark, color) in zip(drawn, styles, strict=True):
        axes.plot(*fittings.pair_cells(elbow, turn), ls=line, marker=mark, ms=6, color=color, label=words)
    axes.axhline(1.0, color=INK, lw=0.8)
    axes.set(ylim=(0.0, 2.0), xlim=(-0.2, 10.2))
    axes.legend(fontsize=SIZE, frameon=False, loc="upper right")
    plain(axes, "distance between the two, in diameters or widths", "loss of the pair / two alone")
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """One run of elbows, straight pipe, a change of size and an end; what each part costs."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name, at first sketch A; values plain SI, the cone's angle in degrees."""
    wide = ("inch", range(4, 25)) if system == "US" else ("mm", range(100, 625, 25))
    long = ("ft", range(2, 62, 2)) if system == "US" else ("m", range(1, 19))
    flows = (
        ("lb/hour", (100, 200, 300, 450, 600, 900, 1200, 1800, 2500, 3500))
        if system == "US"
        else ("kg/s", (0.0125, 0.025, 0.04, 0.055, 0.075, 0.115, 0.15, 0.225, 0.325, 0.45))
    )

    def options(kind: str, unit: str, values) -> list[tuple[str, float]]:
        pairs = [Q_(float(v), unit) for v in values]
        return [(show(q, system, kind), float(q.to_base_units().magnitude)) for q in pairs]

    return {
        "elbow": choice("Elbows", fittings.names("elbow"), "elbow 90"),
        "count": slider("how many", [(str(n), n) for n in range(9)], 4),
        "length": slider("Straight pipe", options("height", *long), CONNECTOR.length.m_as("m")),
        "mass_flow": slider("Flue gas flow", options("mass flow", *flows), CONNECTOR.mass_flow.m_as("kg/s")),
        "diameter": slider("Diameter", options("diameter", *wide), CONNECTOR.diameter.m_as("m")),
        "next_diameter": slider("it leads into", options("diameter", *wide), WIDER.m_as("m")),
        "angle": slider("by a cone of", [(f"{a:g}°", a) for a in (10.0, 20.0, 30.0, 45.0, 60.0, 90.0, 180.0)], 60.0),
        "cap": choice("Cap there", [("none: the vent goes on", ""), *((n, n) for n in fittings.names("terminal"))], ""),
    }


def parts(
    flow: Flow, elbow: str, count: int, next_diameter: Quantity, angle: Quantity, cap: str
) -> list[tuple[str, float, str]]:
    """What costs on the way: its name, K on the velocity head of ``flow``, and whose head K is printed for."""
    narrow = min(flow.diameter, next_diameter)
    change = fittings.size_change(flow.diameter, next_diameter, angle)
    found = [
        ("straight pipe, f L/D", flow.heads_lost(), "the pipe"),
        (f"{count} x {elbow}", count * fittings.fitting(elbow).loss, "the pipe"),
        ("change of size", fittings.on_other_diameter(change, narrow, flow.diameter).m_as(""), "its narrow end"),
    ]
    if cap:
        beyond = (fittings.fitting(cap).loss, 1.0)
        ks = [fittings.on_other_diameter(k, next_diameter, flow.diameter).m_as("") for k in beyond]
        found += [(words, k, "the pipe it ends in") for words, k in zip((cap, "head that leaves"), ks, strict=True)]
    return found


def explorer_answer(
    system: str,
    *,
    elbow: str,
    count: int,
    length: float,
    mass_flow: float,
    diameter: float,
    next_diameter: float,
    angle: float,
    cap: str,
) -> tuple[str, bytes]:
    """Numbers and picture of one run; lengths [m], mass_flow [kg/s], angle [degree], ``cap`` "" for none."""
    flow = replace(CONNECTOR, mass_flow=Q_(mass_flow, "kg/s"), diameter=Q_(diameter, "m"), length=Q_(length, "m"))
    found = parts(flow, elbow, count, Q_(next_diameter, "m"), Q_(angle, "degree"), cap)
    head = flow.head
    pipe = [fittings.equivalent_length(k, flow.diameter, flow.factor) for _, k, _ in found]
    rows = [
        (name, f"{k:.2f}", whose, fine(k * head, system), show(straight, system))
        for (name, k, whose), straight in zip(found, pipe, strict=True)
    ]
    total = sum(k for _, k, _ in found)
    rows.append(("sum", f"{total:.2f}", "", fine(total * head, system), show(sum(pipe), system)))
    header = ("part", "K on the pipe's head", "printed for the head of", "loss", "as straight pipe")
    words = f"<p>Velocity {show(flow.velocity, system)}, velocity head {fine(head, system)}, f = {flow.factor:.4f}.</p>"
    return words + table(header, rows), png(_parts_drawing(found, head, system), DOTS)


def _parts_drawing(found: list[tuple[str, float, str]], head: Quantity, system: str) -> Figure:
    figure = Figure((WIDTH, 0.8 + 0.34 * len(found)))
    axes = figure.add_axes((0.27, 0.56 / (0.8 + 0.34 * len(found)), 0.7, 1 - 0.62 / (0.8 + 0.34 * len(found))))
    losses = number([k * head.m_as("Pa") for _, k, _ in found], "Pa", "draft", system)
    axes.barh(range(len(found)), losses, height=0.6, color=BLUE)
    for y, loss in enumerate(losses):
        axes.text(loss, y, f" {loss:.3g}", va="center", size=SIZE, color=INK)
    axes.set_yticks(range(len(found)), [name for name, _, _ in found])
    axes.set_ylim(len(found) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.15 * max(losses.max(), 1e-9))
    plain(axes, f"loss of total pressure, {label('draft', system)}", "")
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", left=False)
    return figure


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter on fittings."""
    return (_sum_of_heads(system), _whose_head(system), _as_pipe(system), _sudden(system), _pair())


def _form(system: str) -> tuple[str, Quantity]:
    return ("0.050 inH2O", Q_(0.002, "inH2O")) if system == "US" else ("12 Pa", Q_(0.5, "Pa"))


def _sum_of_heads(system: str) -> Exercise:
    pipe, elbow, cap, head = 1.2, fittings.fitting("elbow 90").loss, fittings.fitting("low-resistance cap").loss, 0.020
    total = pipe + 3 * elbow + cap + 1.0
    expected = Q_(total * head, "inH2O")
    form, near = _form(system)
    return Exercise(
        question=(
            f"A vent of one diameter, from a fan's outlet to the open: friction costs {pipe} velocity heads, three "
            f"elbows have K = {elbow} each, the cap K = {cap}. The velocity head is {show(Q_(head, 'inH2O'), system)}. "
            "How much total pressure is used up, all of it, until the gas is at rest outdoors?"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "Add the heads, then multiply.",
            "At the end the gas still has its own velocity head, and nothing gives it back.",
        ),
        solution=f"1.2 + 2.25 + 0.5 + 1 = {total:.2f} velocity heads: {show(expected, system)}.",
        slips=(
            Slip(expected - Q_(head, "inH2O"), "The velocity head that leaves with the gas is missing."),
            Slip(Q_((pipe + elbow + cap + 1.0) * head, "inH2O"), "There are three elbows."),
        ),
        example=form,
    )


def _whose_head(system: str) -> Exercise:
    narrow, wide, k = Q_(10.0, "inch"), Q_(14.0, "inch"), 0.30
    expected = fittings.on_other_diameter(k, narrow, wide)
    said = [show(q, system, "diameter") for q in (narrow, wide)]
    ratio = float((wide / narrow).m_as(""))
    return Exercise(
        question=(
            f"A table gives K = {k} for an increaser from {said[0]} to {said[1]}, on the velocity head of its narrow "
            "end. Which K stands for the same loss on the head of the wide end?"
        ),
        expected=expected,
        tolerance=Q_(0.02, ""),
        hints=(
            "The loss in pascals stays. Which end has the smaller head?",
            f"Heads go with 1/D⁴: (14/10)⁴ = {ratio**4:.2f}.",
        ),
        solution=f"{k} x {ratio**4:.2f} = {float(expected.m_as('')):.2f}. It may exceed 1: that head is small.",
        slips=(
            Slip(Q_(k / ratio**4, ""), "The wrong way round: the wide end has the smaller head, so the larger K."),
            Slip(
                Q_(k * ratio**2, ""),
                "That is with areas; a head goes with areas squared.",
            ),
            Slip(Q_(k, ""), "K is not a property of the fitting alone; it belongs to one of its two heads."),
        ),
        example="0.80",
    )


def _as_pipe(system: str) -> Exercise:
    k, bore, factor = 0.75, Q_(10.0, "inch"), 0.030
    expected = fittings.equivalent_length(k, bore, factor)
    per_inch = float(bore.m_as("inch")) * k / factor
    return Exercise(
        question=(
            f"How long a straight pipe of {show(bore, system, 'diameter')} costs as much as one elbow of K = {k}, if "
            f"its friction factor is {factor:.3f}?"
        ),
        expected=expected,
        tolerance=Q_(0.3, "ft"),
        hints=("f L / D = K.", "25 diameters."),
        solution=f"L = K D / f = 25 D = {show(expected, system)}.",
        slips=(
            Slip(Q_(per_inch, "ft"), "D in inches gives L in inches."),
            Slip(4 * expected, "That is with Fanning's f, a quarter of Darcy's."),
        ),
        example="15 ft" if system == "US" else "5 m",
    )


def _sudden(system: str) -> Exercise:
    narrow, wide, head = Q_(8.0, "inch"), Q_(12.0, "inch"), Q_(0.050, "inH2O")
    k = float(fittings.size_change(narrow, wide, Q_(180.0, "degree")).m_as(""))
    expected = k * head
    ratio = float((narrow / wide).m_as(""))
    form, near = _form(system)
    said = [show(q, system, "diameter") for q in (narrow, wide)]
    return Exercise(
        question=(
            f"A connector of {said[0]} opens with an abrupt step into a header of {said[1]}. Its velocity "
            f"head is {show(head, system)}. How much total pressure is lost in the step?"
        ),
        expected=expected,
        tolerance=near / 2,
        hints=("Borda and Carnot: K = (1 - A1/A2)² on the head of the narrow pipe.", "A1/A2 = (8/12)² = 0.444."),
        solution=f"(1 - 0.444)² = {k:.3f}, times {show(head, system)} is {show(expected, system)}.",
        slips=(
            Slip((1 - ratio) ** 2 * head, "That is with diameters; K goes with the ratio of areas."),
            Slip((1 - ratio**2) * head, "The square is missing: K = (1 - A1/A2)²."),
            Slip((1 - ratio**4) * head, "That is the fall of velocity head; most of it comes back as static pressure."),
        ),
        example=form,
    )


def _pair() -> Exercise:
    k = 0.25
    factor = float(fittings.pair_factor(0.0, "U").m_as(""))
    expected = Q_(2 * k * factor, "")
    return Exercise(
        question=(
            f"Two smooth bends of r/D 1, K = {k} each, are joined without straight pipe so that the gas turns back (a "
            "U). By Miller's factor, what is the K of the pair?"
        ),
        expected=expected,
        tolerance=Q_(0.01, ""),
        hints=("fittings.pair_factor(0.0, 'U') gives the factor on the sum of both.", f"The factor is {factor:.2f}."),
        solution=f"2 x {k} x {factor:.2f} = {2 * k * factor:.2f}: hardly more than one bend alone.",
        slips=(
            Slip(Q_(2 * k, ""), "That is two bends far apart."),
            Slip(Q_(k * factor, ""), "The factor stands for the sum of the two, not for one."),
        ),
        example="0.40",
    )
