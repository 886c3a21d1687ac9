"""Fittings, the chapter: its two sketches of one connector, live controls, questions, and what it stands on."""

import re
from dataclasses import replace
from functools import partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import fittings
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.handbook.friction import Flow, fine
from ventcalc.show import evidence_line
from ventcalc.show.axes import axis, legend, number, one_axes, picture, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, INK, PALE, POINTS, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
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
    """The table's cells against their rows, entries and exit, and the handbook's cone and reducer; none recalled."""
    ours = {key: fittings.fitting(name).loss for key, name in rows_of_table().items()}
    gained = head_gained(1.0, 0.8)
    # The handbook's inlet coefficients of a hood hold the head of the gas itself. Its cone and its reducer are changes
    # of static pressure: the head gained, on the head before (cone) or after it (reducer).
    ours |= {"L005": ENTRY_LOSS["draft hood"] + 1.0, "L006": ENTRY_LOSS["barometric"], "L014": gained}
    ours |= {"L015": gained / (1.0 + gained), "L051": ENTRY_LOSS["barometric"]}
    ours["L054"] = fittings.size_change(Q_(0.2, "m"), Q_(2e5, "m"), Q_(180.0, "degree"))
    return evidence_line.without_recalled(compare("losses_checks", dict(sorted(ours.items()))))


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


# --- Tables ----------------------------------------------------------------------------------------------------


def both_sketches(system: str = "US") -> HTML:
    """What the elbows and the straight pipe of each sketch cost."""
    rows = []
    for name, elbows in SKETCHES.items():
        k = sum(fittings.fitting(e).loss for e in elbows)
        costs = (k * CONNECTOR.head, CONNECTOR.loss, CONNECTOR.loss + k * CONNECTOR.head)
        rows.append((name, f"{len(elbows)} x {elbows[0]}", f"{k:.2f}", *(fine(q, system) for q in costs)))
    return HTML(table(("sketch", "elbows", "sum of K", "elbows cost", "straight pipe costs", "together"), rows))


def cones(system: str = "US") -> HTML:
    """K of cones between the connector and the header, either way, on the narrow end's head."""
    ways = ((CONNECTOR.diameter, WIDER), (WIDER, CONNECTOR.diameter))
    rows = [
        (f"{a:g}°", *(f"{fittings.size_change(*way, Q_(a, 'degree')).m_as(''):.2f}" for way in ways)) for a in ANGLES
    ]
    told = [" to ".join(show(d, system, "diameter") for d in way) for way in ways]
    return HTML(table(("included angle of the cone", *told), rows))


AUTHORS = ("Crane", "Rennels", "Miller", "Idelchik", "Blevins")


def cone_table(system: str = "US") -> HTML:
    """`cone_spread` as a table; coefficients are the same in both unit systems."""
    del system
    rows = [
        (case, f"{angle:g}°", f"{ours:.2f}", *(f"{found[n]:.2f}" if n in found else "" for n in AUTHORS))
        for case, angle, ours, found in cone_spread()
    ]
    return HTML(table(("", "cone", "ours", *AUTHORS), rows))


def bend_table(system: str = "US") -> HTML:
    """K of smooth 90 degree bends by the duct table and by four authors; the same in both unit systems."""
    del system
    rows, names, smooth = [], ("Crane", "Rennels", "Miller", "Ito"), {}
    for r in tables.read("losses_checks"):
        if r["fitting"] == "round smooth-radius elbow":
            smooth[r["radius_ratio"]] = r["value"]
    for ratio in ("1", "1.5", "2"):
        found = {r["author"]: float(r["value"]) for r in tables.read("fittings_authors") if r["radius_ratio"] == ratio}
        rows.append((f"smooth, r/D {ratio}", smooth[f"{float(ratio):.1f}"], *(f"{found[n]:.2f}" for n in names)))
    return HTML(table(("90° bend", "duct table", *names), rows))


def pair_table(system: str = "US") -> HTML:
    """The factor of two smooth bends by their distance and turn; the same in both unit systems."""
    del system
    rows = [
        (f"{d:g}", *(f"{float(fittings.pair_factor(d, turn).m_as('')):.2f}" for turn in fittings.PAIR_TURNS))
        for d in (0.0, 1.0, 4.0, 8.0)
    ]
    return HTML(table(("diameters apart", *fittings.PAIR_TURNS), rows))


def ends(system: str = "US") -> HTML:
    """K of entries and ends, and where each comes from; the same in both unit systems."""
    del system
    sharp = [float(r["value"]) for r in tables.read("losses_checks") if r["quantity"] == "sharp entrance K"]
    hood, damper = (f"{ENTRY_LOSS[kind]:.2f}" for kind in ("draft hood", "barometric"))
    rows = [
        ("entry by a draft hood", hood, "handbook (from memory): 1.5 less the gas's own head"),
        ("entry by a barometric draft control", damper, "handbook (from memory)"),
        ("entry past a sharp edge", f"{min(sharp):.2f} to {max(sharp):.2f}", "three collections"),
        ("head that leaves at the top", "1.00", "momentum"),
    ]
    caps = [(f"{name}, in addition", fittings.fitting(name)) for name in fittings.names("terminal")]
    rows += [(name, f"{end.loss:.2f}", end.status) for name, end in caps]
    return HTML(table(("", "K", "source"), rows))


# --- Figures ---------------------------------------------------------------------------------------------------


def sketches() -> Figure:
    """Two ways for one connector around a beam."""
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
        "miter": "round mitered elbow",
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
    """Two elbows close together over twice one: smooth bends turned three ways, and two miters."""
    figure, axes = one_axes(3.3)
    drawn = [("smooth r/D 1", turn, f"smooth bends, {turn}") for turn in fittings.PAIR_TURNS]
    drawn.append(("mitred, square duct", "S", "miters, S (offset of the axes)"))
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
        "elbow": choice("Kind of elbow", fittings.names("elbow"), "elbow 90"),
        "count": slider("Number of elbows", [(str(n), n) for n in range(9)], 4),
        "length": slider("Straight pipe", long, CONNECTOR.length.m_as("m")),
        "mass_flow": slider("Flue gas flow", flows, CONNECTOR.mass_flow.m_as("kg/s")),
        "diameter": slider("Diameter", wide, CONNECTOR.diameter.m_as("m")),
        "next_diameter": slider("Next diameter", wide, WIDER.m_as("m")),
        "angle": slider("Angle of the cone", [(f"{a:g}°", a) for a in ANGLES], CONE.m_as("degree")),
        "cap": choice("Cap", [("none: the vent goes on", ""), *((n, n) for n in fittings.names("terminal"))], ""),
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
    figure = Figure((WIDTH, 3.5))
    _draw_run(figure, elbow, count, next_diameter / of_flow["diameter"], angle, cap)
    _draw_parts(figure.add_axes((0.62, 0.16, 0.36, 0.80)), found, head, system)
    return words + table(header, rows), picture(figure)


_RUN = (0.01, 0.02, 0.36, 0.96)  # left, bottom, width, height of the drawn run in its figure
_BORE = 0.26  # drawn width of the pipe, over the straight pieces between its elbows
_DRAWN = (0.4, 2.6)  # bores of the next pipe beyond these are drawn as these


def _draw_run(figure: Figure, elbow: str, count: int, wider: float, angle: float, cap: str) -> None:
    """The run without scale: its elbows turn to and fro, then the change of size, then a cap or the way on."""
    axes = figure.add_axes(_RUN)
    told = re.search(r"elbow (\d+)", elbow)
    turn = np.radians(float(told[1]) if told else 90.0)  # a tee used as an elbow turns at a right angle
    heading = np.array([0.0, -1.0, 0.0, 1.0])[np.arange(count + 1) % 4] * turn
    ways = np.column_stack((np.cos(heading), np.sin(heading)))
    path = np.vstack(([0.0, 0.0], np.cumsum(ways, axis=0)))
    bore, way = _BORE * float(np.clip(wider, *_DRAWN)), ways[-1]
    long = abs(bore - _BORE) / 2.0 / np.tan(np.radians(min(angle, 178.0) / 2.0))
    cone, end = path[-1] + long * way, path[-1] + (long + 1.0) * way
    corners = np.vstack((path, [end]))
    low, high = corners.min(axis=0) - 0.5, corners.max(axis=0) + 0.5
    axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), aspect="equal")
    axes.axis("off")
    inches = np.array(_RUN[2:]) * figure.get_size_inches()
    points = POINTS * min(inches / (high - low))
    joint = "miter" if "mitered" in elbow else "round"
    for line, wide in ((path, _BORE), (np.array([cone, end]), bore)):
        for lw, color in ((wide * points + 2.0, INK), (max(wide * points - 1.0, 0.5), PALE)):
            axes.plot(*line.T, color=color, lw=lw, solid_capstyle="butt", solid_joinstyle=joint)
    across = np.array([-way[1], way[0]])
    sides = [path[-1] - _BORE / 2 * across, path[-1] + _BORE / 2 * across, cone + bore / 2 * across,
             cone - bore / 2 * across]  # fmt: skip
    axes.add_patch(Polygon(sides, fc=PALE, ec=INK, lw=1.0, zorder=4))
    if cap:
        brim = np.array([end + 0.75 * bore * across, end + 0.25 * way, end - 0.75 * bore * across])
        axes.plot(*brim.T, color=INK, lw=2.5)
    else:
        arrow = {"arrowstyle": "->", "color": INK, "lw": 1.5}
        axes.annotate("", end + 0.45 * way, end, arrowprops=arrow)


def _draw_parts(axes: Axes, found: list[tuple[str, float, str]], head: Quantity, system: str) -> None:
    """What each part costs, as bars."""
    losses = number([k * head.m_as("Pa") for _, k, _ in found], "Pa", "draft", system)
    axes.barh(range(len(found)), losses, height=0.6, color=BLUE)
    for y, loss in enumerate(losses):
        axes.text(loss, y, f" {loss:.{4 if system == 'US' else 2}f}", va="center", size=SIZE, color=INK)
    axes.set_yticks(range(len(found)), [name.replace(", ", ",\n").replace(" x ", " x\n", 1) for name, _, _ in found])
    axes.set_ylim(len(found) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.25 * max(losses.max(), 1e-9))
    plain(axes, axis("loss of total pressure", "draft", system), "")
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", left=False)


# --- Prediction, and what is to be written ----------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of two miters close together."""
    return predict("fittings", jog, system)


NO_MATTER = 0.1  # of two alone: a pair that is nearer to them than this is called two


def jog(bore: Quantity) -> dict[str, Quantity | float]:
    """What the worst S of two miters costs in the connector, beside two that stand far apart."""
    cells = zip(*fittings.pair_cells("mitred, square duct", "S"), strict=True)
    offset, factor = max(cells, key=lambda cell: cell[1])
    one, pipe = fittings.fitting("elbow 90 mitered").loss, replace(CONNECTOR, diameter=bore)
    k = 2.0 * one * factor
    return {
        "right": 0 if factor < 1.0 - NO_MATTER else 1 if factor <= 1.0 + NO_MATTER else 2,
        "figure": k * pipe.head,
        "offset": float(offset),
        "one": one,
        "k": k,
        "factor": float(factor),
        "straight": fittings.equivalent_length(k, pipe.diameter, pipe.factor).to("m"),
    }


def writing(system: str = "US") -> Writing:
    """The loss of an increaser from the head of its wide end, to be written by the reader."""
    return load_writing("fittings", from_the_wide_end, system)


def from_the_wide_end(coefficient: float, narrow: Quantity, wide: Quantity, head: Quantity) -> dict[str, Quantity]:
    """Loss by a coefficient of the narrow end and the head of the wide one, and what it becomes by slips."""
    ratio = float((wide / narrow).m_as(""))
    plainly = coefficient * head
    return {
        "answer": fittings.on_other_diameter(coefficient, narrow, wide) * head,
        "wrong_head": plainly,
        "upside_down": plainly / ratio**4,
        "areas": plainly * ratio**2,
        "diameters": plainly * ratio,
    }


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


def as_pipe(k: float, factor: float, bore: Quantity, system: str) -> dict[str, Quantity | float]:
    """Straight pipe that costs as much as an elbow, and what it becomes with the diameter in the unit of drawings."""
    wide, long = ("inch", "ft") if system == "US" else ("mm", "m")
    answer = fittings.equivalent_length(k, bore, factor)
    return {
        "answer": answer,
        "diameters": k / factor,
        "unit_of_drawings": Q_(float(bore.m_as(wide)) * k / factor, long),
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
