"""Fittings, the chapter: its two sketches of one connector, live controls, questions, and what it stands on."""

import re
from dataclasses import replace
from functools import partial

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import fittings
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.handbook.friction import Flow, fine
from ventcalc.show.axes import DOTS, axis, legend, number, one_axes, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, INK, PALE, RUST, SIZE, WIDTH, png
from ventcalc.show.questions import load
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
    figure, axes = one_axes(3.2)
    seen = set()
    places = {name: x for x, name in enumerate(kinds.values())}
    for r in tables.read("losses_checks"):
        if r["fitting"] in places and r["angle_deg"] == "90" and r["quantity"] == "elbow loss coefficient C":
            key = r["radius_ratio"]
            words = None if key in seen else f"r/D {float(key):g}" if key else "no radius"
            axes.plot(places[r["fitting"]], float(r["value"]), marks[key], ms=8, color=BLUE, label=words)
            seen.add(key)
    handbook = fittings.fitting("elbow 90")
    axes.axhline(handbook.loss, color=RUST, lw=1.3, ls="--", label="chimney handbook\n(from memory)")
    axes.set_xticks(range(len(kinds)), kinds)
    axes.set(ylim=(0.0, 1.3), xlim=(-0.5, 4.5))
    legend(axes, loc="center left", bbox_to_anchor=(1.0, 0.5))
    plain(axes, "how the elbow is made", "K of one 90° elbow").grid(visible=False, axis="x")
    return figure


def pair_chart() -> Figure:
    """Two elbows close together over twice one: smooth bends turned three ways, and two mitres."""
    figure, axes = one_axes(3.3)
    drawn = [("smooth r/D 1", turn, f"smooth bends, {turn}") for turn in fittings.PAIR_TURNS]
    drawn.append(("mitred, square duct", "S", "mitres, S (offset of the axes)"))
    styles = (("-", "o", BLUE), ("--", "s", BLUE), (":", "^", BLUE), ("-.", "X", RUST))
    for (elbow, turn, words), (line, mark, color) in zip(drawn, styles, strict=True):
        axes.plot(*fittings.pair_cells(elbow, turn), ls=line, marker=mark, ms=6, color=color, label=words)
    axes.axhline(1.0, color=INK, lw=0.8)
    axes.set(ylim=(0.0, 2.0), xlim=(-0.2, 10.2))
    legend(axes, loc="upper right")
    plain(axes, "distance between the two, in diameters or widths", "loss of the pair / two alone")
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------


FLOWS = {"us": (100, 200, 300, 450, 600, 900, 1200, 1800, 2500, 3500),
         "si": (0.0125, 0.025, 0.04, 0.055, 0.075, 0.115, 0.15, 0.225, 0.325, 0.45)}  # fmt: skip
ANGLES = (10.0, 20.0, 30.0, 45.0, 60.0, 90.0, 180.0)


def explorer(system: str = "US") -> Panel:
    """One run of elbows, straight pipe, a change of size and an end; what each part costs.

    At first sketch A; values plain SI, the cone's angle in degrees.
    """
    wide = steps("diameter", system, range(4, 25), range(100, 625, 25))
    long = steps("height", system, range(2, 62, 2), range(1, 19))
    flows = steps("mass flow", system, **FLOWS)
    controls = {
        "elbow": choice("Elbows", fittings.names("elbow"), "elbow 90"),
        "count": slider("how many", [(str(n), n) for n in range(9)], 4),
        "length": slider("Straight pipe", long, CONNECTOR.length.m_as("m")),
        "mass_flow": slider("Flue gas flow", flows, CONNECTOR.mass_flow.m_as("kg/s")),
        "diameter": slider("Diameter", wide, CONNECTOR.diameter.m_as("m")),
        "next_diameter": slider("it leads into", wide, WIDER.m_as("m")),
        "angle": slider("by a cone of", [(f"{a:g}°", a) for a in ANGLES], CONE.m_as("degree")),
        "cap": choice("Cap there", [("none: the vent goes on", ""), *((n, n) for n in fittings.names("terminal"))], ""),
    }
    return Panel(partial(explorer_answer, system), controls)


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
    system: str, *, elbow: str, count: int, next_diameter: float, angle: float, cap: str, **of_flow: float
) -> tuple[str, bytes]:
    """Numbers and picture of one run; lengths [m], mass_flow [kg/s], angle [degree], ``cap`` "" for none."""
    units = {"length": "m", "mass_flow": "kg/s", "diameter": "m"}
    flow = replace(CONNECTOR, **{name: Q_(of_flow[name], unit) for name, unit in units.items()})
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
    high = 0.8 + 0.34 * len(found)
    figure = Figure((WIDTH, high))
    axes = figure.add_axes((0.27, 0.56 / high, 0.7, 1 - 0.62 / high))
    losses = number([k * head.m_as("Pa") for _, k, _ in found], "Pa", "draft", system)
    axes.barh(range(len(found)), losses, height=0.6, color=BLUE)
    for y, loss in enumerate(losses):
        axes.text(loss, y, f" {loss:.3g}", va="center", size=SIZE, color=INK)
    axes.set_yticks(range(len(found)), [name for name, _, _ in found])
    axes.set_ylim(len(found) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.15 * max(losses.max(), 1e-9))
    plain(axes, axis("loss of total pressure", "draft", system), "")
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", left=False)
    return figure


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("fittings", (sum_of_heads, whose_head, as_pipe, sudden, pair), system, seed)


def sum_of_heads(pipe: float, head: Quantity) -> dict[str, Quantity | float]:
    """Total pressure used up in a vent of three elbows and a cap."""
    elbow, cap = (fittings.fitting(name).loss for name in ("elbow 90", "low-resistance cap"))
    total = pipe + 3 * elbow + cap + 1.0
    return {
        "answer": total * head,
        "elbow": elbow,
        "elbows": 3 * elbow,
        "cap": cap,
        "total": total,
        "no_exit": (total - 1.0) * head,
        "one_elbow": (total - 2 * elbow) * head,
    }


def whose_head(k: float, inches: int, wider: int) -> dict[str, Quantity | float]:
    """K of an increaser on the head of its wide end, ``wider`` by so many inches."""
    narrow, wide = Q_(float(inches), "inch"), Q_(float(inches + wider), "inch")
    ratio, answer = (inches + wider) / inches, fittings.on_other_diameter(k, narrow, wide)
    return {
        "answer": answer,
        "plain": float(answer.m_as("")),
        "narrow": narrow,
        "wide": wide,
        "wide_inches": inches + wider,
        "heads": ratio**4,
        "upside_down": Q_(k / ratio**4, ""),
        "areas": Q_(k * ratio**2, ""),
        "unchanged": Q_(k, ""),
    }


def as_pipe(k: float, factor: float, bore: Quantity) -> dict[str, Quantity | float]:
    """Straight pipe that costs as much as an elbow."""
    answer = fittings.equivalent_length(k, bore, factor)
    return {
        "answer": answer,
        "diameters": k / factor,
        "inches": Q_(float(bore.m_as("inch")) * k / factor, "ft"),
        "fanning": 4 * answer,
    }


def sudden(inches: int, wider: int, head: Quantity) -> dict[str, Quantity | float]:
    """Total pressure lost where a connector opens into a header, ``wider`` by so many inches."""
    narrow, wide = Q_(float(inches), "inch"), Q_(float(inches + wider), "inch")
    ratio = inches / (inches + wider)
    k = float(fittings.size_change(narrow, wide, Q_(180.0, "degree")).m_as(""))
    return {
        "answer": k * head,
        "narrow": narrow,
        "wide": wide,
        "wide_inches": inches + wider,
        "areas": ratio**2,
        "k": k,
        "diameters": (1 - ratio) ** 2 * head,
        "no_square": (1 - ratio**2) * head,
        "fall": (1 - ratio**4) * head,
    }


def pair(k: float) -> dict[str, Quantity | float]:
    """K of two bends that turn the gas back."""
    factor = float(fittings.pair_factor(0.0, "U").m_as(""))
    return {
        "answer": Q_(2 * k * factor, ""),
        "plain": 2 * k * factor,
        "factor": factor,
        "far_apart": Q_(2 * k, ""),
        "of_one": Q_(k * factor, ""),
    }
