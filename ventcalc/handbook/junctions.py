"""Junctions, the chapter: its row of boilers, live controls, questions, and what it stands on."""

from dataclasses import dataclass
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import friction, junctions
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere, combustion, flue_gas
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.friction import fine
from ventcalc.show import evidence_line
from ventcalc.show.axes import label, number, picture, plain, two_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

# The chapter's case: four equal boilers on one header, on a mild day.
MILD = Season("mild day", Q_(50.0, "degF"), Q_(70.0, "degF"))
COUNT = 4
INPUT, HEADER, CONNECTOR = Q_(1500.0, "MBH"), Q_(18.0, "inch"), Q_(12.0, "inch")
EXCESS_AIR, FLUE = 0.28, Q_(330.0, "degF")
STACK, PITCH = Q_(40.0, "ft"), Q_(8.0, "ft")
_PRESSURE = 101325.0  # Pa


def row_of_boilers(
    form: str,
    count: int = COUNT,
    header: Quantity = HEADER,
    connector: Quantity = CONNECTOR,
    heat_input: Quantity = INPUT,
) -> Plant:
    """Equal boilers on one header that ends in a cap behind the first; each joins it in a junction of that ``form``."""
    wall, levels = material("insulated chimney"), (FiringLevel("high", heat_input, EXCESS_AIR, FLUE),)
    window = (Q_(-0.25, "inH2O"), Q_(-0.03, "inH2O"))
    boilers = tuple(
        Appliance(f"Boiler {i}", fuel("natural gas"), "I", levels, connector, Q_(5.0, "ft"), window)
        for i in range(1, count + 1)
    )
    sections = []
    for i in range(1, count + 1):
        after = f"header {i + 1}" if i < count else "stack"
        sections += [
            Section(f"connector {i}", Q_(8.0, "ft"), Q_(4.0, "ft"), connector, wall, f"header {i}",
                    fittings=("elbow 90",), junction=form),
            Section(f"header {i}", PITCH, Q_(0.0, "ft"), header, wall, after),
        ]  # fmt: skip
    sections.append(Section("stack", STACK, STACK, header, wall, "roof", "outdoors", ("elbow 90",)))
    return Plant(
        "a row of boilers", Q_(500.0, "ft"), Q_(1.0, "ft"), boilers,
        tuple(f"connector {i}" for i in range(1, count + 1)), tuple(sections),
        (Termination("roof", "low-resistance cap"),),
    )  # fmt: skip


def firing(plant: Plant, which: str = "all") -> Solution:
    """The row solved on the mild day, hot, with all boilers at high, or only some: see `FIRING`."""
    codes = np.array([[int(fires)] for fires in FIRING[which](len(plant.appliances))])
    return solve(plant, (MILD,), States(codes, np.array([0]), np.array([False]), np.array([False])))


FIRING = {
    "all": lambda n: [True] * n,
    "only the far one": lambda n: [i == 0 for i in range(n)],
    "only the one at the stack": lambda n: [i == n - 1 for i in range(n)],
    "all but the far one": lambda n: [i > 0 for i in range(n)],
}


@cache
def solved(form: str) -> Solution:
    """The chapter's row with junctions of one form, all boilers at high."""
    return firing(row_of_boilers(form))


@dataclass(frozen=True)
class Header:
    """A row's header in one state, against the room [Pa]: two points a section at ``distance`` [m] from the first
    junction, ``static`` and ``total`` pressure there, what the end ``cap`` reads, and the boilers' ``outlets``."""

    distance: np.ndarray
    static: np.ndarray
    total: np.ndarray
    cap: float
    outlets: np.ndarray


def header_of(solution: Solution) -> Header:
    """The header of a solved row. In the capped end nothing flows, so that static pressure there is total."""
    plant, count = solution.plant, len(solution.plant.appliances)
    rows = [solution.row(f"header {i + 1}") for i in range(count)]
    height = plant.heights["header 1"][0]
    room = float(compile_network(plant, solution.seasons).room_gauge(height)[0])
    total = np.ravel([[p[r, 0] for p in (solution.pressure_up, solution.pressure_down)] for r in rows]) - room
    head = np.ravel([[h[r, 0] for h in (solution.head_up, solution.head_down)] for r in rows])
    branch, first = plant.section("connector 1"), plant.section("header 1")
    form = junctions.junction(branch.junction)
    ratio = junctions.area_ratio(branch.diameter.m_as("m"), first.diameter.m_as("m"))
    excess = junctions.end_cap_excess.bare(ratio, form.angle, form.rounding)
    steps = np.arange(count + 1) * PITCH.m_as("m")
    return Header(
        distance=np.ravel(np.column_stack([steps[:-1], steps[1:]])),
        static=total - head,
        total=total,
        cap=float(total[0] - head[0] + excess * head[0]),
        outlets=solution.outlet_pressure[:, 0],
    )


# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Combining coefficients against Idelchik's rows, and Gardel's once they can be read: now they are recalled."""
    laws = {
        "combining branch": junctions.branch_loss,
        "combining run": junctions.run_loss,
        "converging branch": junctions.branch_loss_idelchik,
    }
    ours = {}
    for r in tables.read("losses_checks"):
        law = next((f for words, f in laws.items() if r["quantity"].startswith(words)), None)
        if law:
            q, a, angle = (float(r[k]) for k in ("branch_flow_ratio", "area_ratio", "angle_deg"))
            ours[r["id"]] = law(q, a, Q_(angle, "degree"))
        elif r["quantity"].startswith("converging wye angle"):
            # What is left of Idelchik's form at q = 1 and equal areas: 2 - K.
            ours[r["id"]] = 2.0 - junctions.branch_loss_idelchik(1.0, 1.0, Q_(float(r["angle_deg"]), "degree"))
    return evidence_line.without_recalled(compare("losses_checks", ours))


def momentum(share, angle: float, area_ratio: float = 1.0):
    """K of the run by momentum alone: ``1 - (1-q)^2 - 2 q^2 cos t / a``; share q, angle t [degree], area ratio a."""
    return 1.0 - (1.0 - share) ** 2 - 2.0 * share**2 * np.cos(np.radians(angle)) / area_ratio


def author_spread() -> list[tuple[str, float, float, float, float | None, float]]:
    """Equal areas: leg, angle, share, then Gardel's, Idelchik's (branch only) and Crane's coefficient."""
    found = []
    for r in tables.read("junctions_authors"):
        leg, angle, q = r["quantity"].split()[1], float(r["angle_deg"]), float(r["branch_flow_ratio"])
        law = junctions.branch_loss if leg == "branch" else junctions.run_loss
        idelchik = junctions.branch_loss_idelchik.bare(q, 1.0, angle) if leg == "branch" else None
        found.append((leg, angle, q, float(law.bare(q, 1.0, angle)), idelchik, float(r["value"])))
    return sorted(found)


# --- A leg that brings cold air ----------------------------------------------------------------------------


def cold_leg(form: str, branch_volume: float, own: bool) -> tuple[float, float]:
    """Fall of total pressure [Pa] from branch and run where a branch joins as much hot flue gas in the header.

    ``branch_volume`` [m3/kg] of what the branch brings. ``own``: each leg at its own density, as the solver has it;
    else all of it at the density of the mixture.
    """
    burned = combustion.products(fuel("natural gas"), EXCESS_AIR)
    flow = (INPUT * Q_(burned.mass_per_heat, "kg/J")).m_as("kg/s")
    hot = 1.0 / flue_gas.density.bare(burned.gas, FLUE.m_as("K"), _PRESSURE)
    bores = CONNECTOR.m_as("m"), HEADER.m_as("m")
    law = junctions.coefficients(junctions.junction(form), junctions.area_ratio(*bores))
    mixed = 0.5 * (hot + branch_volume)  # equal masses; heat and molar mass both near enough alike
    volumes = (branch_volume, hot, mixed) if own else (mixed, mixed, mixed)
    branch, run, *_ = junctions.leg_pressures(law, volumes, 0.25 * np.pi * bores[1] ** 2, flow, flow)
    return float(branch), float(run)


def cold_leg_volumes() -> dict[str, float]:
    """Volume [m3/kg] of what the second boiler sends: its flue gas, or the room's air while it purges."""
    burned = combustion.products(fuel("natural gas"), EXCESS_AIR)
    return {
        "flue gas": 1.0 / float(flue_gas.density.bare(burned.gas, FLUE.m_as("K"), _PRESSURE)),
        "purge air": 1.0 / float(atmosphere.air_density.bare(MILD.room.m_as("K"), _PRESSURE)),
    }


def cold_leg_table(system: str = "US") -> HTML:
    """What a junction asks of both legs, whatever the branch brings: by own densities, by that of the mixture."""
    rows = []
    for form in ("straight tee", "lateral"):
        for name, volume in cold_leg_volumes().items():
            falls = [fine(Q_(p, "Pa"), system) for own in (True, False) for p in cold_leg(form, volume, own)]
            rows.append((form, name, *falls))
    mixed = ("branch, at the mixture's density", "run, at the mixture's")
    return HTML(table(("junction", "branch brings", "branch pays", "run pays", *mixed), rows))


# --- Tables ----------------------------------------------------------------------------------------------------

FORMS = ("straight tee", "boot tee", "lateral")


def outlet_table(system: str = "US") -> HTML:
    """Outlet pressures of the chapter's row with three forms of junction."""
    outlets = [solved(form).outlet_pressure[:, 0] for form in FORMS]
    rows = [(f"Boiler {i + 1}", *(_draft(o[i], system) for o in outlets)) for i in range(COUNT)]
    return HTML(table(("outlet pressure, all at high", *FORMS), rows))


def author_table(system: str = "US") -> HTML:
    """`author_spread` as a table; coefficients are the same in both unit systems."""
    del system
    rows = []
    for leg, angle, q, *values in author_spread():
        found = [v for v in values if v is not None]
        told = ["" if v is None else f"{v:+.2f}" for v in values]
        rows.append((leg, f"{angle:g}°", f"{q:g}", *told, f"{max(found) - min(found):.2f}"))
    return HTML(table(("leg", "angle", "share q", "Gardel", "Idelchik", "Crane", "apart by"), rows))


def cap_table(system: str = "US") -> HTML:
    """How far the end cap is above the stream beside it, in a header of full size and in one that tapers."""
    rows = []
    for name in FORMS:
        form = junctions.junction(name)
        for size in (HEADER, CONNECTOR):
            ratio = junctions.area_ratio(CONNECTOR.m_as("m"), size.m_as("m"))
            excess = junctions.end_cap_excess(ratio, Q_(form.angle, "degree"), form.rounding)
            speed, head = far_end_velocity(size)
            above = (f"{excess.m_as(''):+.2f} heads", fine((excess * head).to("Pa"), system))
            rows.append((name, show(size, system, "diameter"), show(speed, system), *above))
    return HTML(table(("first junction", "header there", "velocity", "cap above the stream", "that is"), rows))


def sensor_table(system: str = "US") -> HTML:
    """The error of each kind of sensor hole at the quiet end of the header and at the stack."""
    tee = solved("straight tee")
    places = {
        "at the end of the header": far_end_velocity(HEADER)[1],
        "at the stack": Q_(float(tee.head[tee.row(f"header {COUNT}"), 0]), "Pa"),
    }
    rows = []
    for name, place in junctions.SENSOR_PLACES.items():
        spans = [
            " to ".join(dict.fromkeys(fine(c * head.to("Pa"), system) for c in (place.low, place.high)))
            for head in places.values()
        ]
        rows.append((name, *spans, place.status))
    return HTML(table(("the hole is", *(f"error {p}" for p in places), "status of c"), rows))


# --- Figures ---------------------------------------------------------------------------------------------------


def _draw_junction(axes: Axes, name: str) -> None:
    """A junction with the streams that meet in it, and the header that goes on to its cap."""
    form = junctions.junction(name)
    lean = 1.25 / np.tan(np.radians(form.angle))
    foot = 0.35 if form.rounding else 0.0
    branch = [[2.3 - foot, 0.3], [2.9 + foot, 0.3], [2.9, 0.3 - foot], [2.9 - lean, -0.95], [2.3 - lean, -0.95],
              [2.3, 0.3 - foot]]  # fmt: skip
    axes.add_patch(Polygon(branch, fc=PALE, ec=INK, lw=1.3))
    axes.add_patch(Polygon([[0.2, 0.3], [4.9, 0.3], [4.9, 1.1], [0.2, 1.1]], fc=PALE, ec="none"))
    for height in (0.3, 1.1):  # the header goes on to the right: nothing closes it there
        axes.plot([0.2, 4.9], [height, height], color=INK, lw=1.3)
    axes.plot([2.3 - foot + 0.06, 2.9 + foot - 0.06], [0.3, 0.3], color=PALE, lw=3)
    axes.add_patch(Rectangle((2.6 - lean - 0.75, -1.6), 1.5, 0.65, fc="white", ec=INK, lw=1.5))
    axes.text(2.6 - lean, -1.275, "boiler", ha="center", va="center", size=SIZE)
    axes.plot([0.2, 0.2], [0.2, 1.2], color=INK, lw=4)
    axes.add_patch(Circle((0.2, 0.7), 0.14, fc=RUST, ec=INK, zorder=5))
    style = {"arrowstyle": "-|>", "color": BLUE, "lw": 2.2}
    axes.annotate("", (2.6 - 0.1 * lean, 0.2), (2.6 - 0.8 * lean, -0.7), arrowprops=style)
    axes.annotate("", (4.7, 0.7), (3.3, 0.7), arrowprops=style)
    axes.set(xlim=(-0.1, 5.0), ylim=(-2.15, 1.35), aspect="equal")
    axes.axis("off")
    axes.text(2.45, -2.05, f"{name}: {form.angle:g}°", ha="center", size=SIZE)


_SHARES = np.linspace(0.0, 1.0, 41)


def coefficient_chart(area_ratio: float = 1.0) -> Figure:
    """K of both legs over the branch's share, by Gardel; for equal areas beside Idelchik, Crane and momentum."""
    figure, (left, right) = two_axes(3.7, sharey=True)
    for angle, line, name in ((90.0, "-", "tee"), (45.0, "--", "lateral")):
        left.plot(
            _SHARES, junctions.branch_loss.bare(_SHARES, area_ratio, angle), line, color=RUST, label=f"{name}, Gardel"
        )
        left.plot(_SHARES, junctions.branch_loss_idelchik.bare(_SHARES, area_ratio, angle), line, color=GREY, lw=1.2,
                  label=f"{name}, Idelchik")  # fmt: skip
        right.plot(
            _SHARES, junctions.run_loss.bare(_SHARES, area_ratio, angle), line, color=RUST, label=f"{name}, Gardel"
        )
        right.plot(_SHARES, momentum(_SHARES, angle), line, color=GREY, lw=1.2, label=f"{name}, momentum")
        for leg, axes in (("branch", left), ("run", right)):
            points = [(q, crane) for which, a, q, _, _, crane in author_spread() if (which, a) == (leg, angle)]
            axes.plot(
                *zip(*points, strict=True), "D" if angle == 90.0 else "o", ms=6, color=BLUE, label=f"{name}, Crane"
            )
    for axes, words in ((left, "branch"), (right, "straight run")):
        plain(axes, "the branch's share of the flow, q", "", words)
        axes.axhline(0.0, color=INK, lw=0.8)
        axes.legend(fontsize=SIZE, frameon=False, loc="lower right")
    left.set(ylim=(-2.3, 2.4))
    left.set_ylabel("K on the combined velocity head", size=SIZE)
    return figure


def row_drawing(headers: dict[str, Header], system: str) -> Figure:
    """Two forms of junction, and static pressure along the header, at its cap and at every outlet with each."""
    figure = Figure((WIDTH, 3.9))
    for name, bottom in zip(headers, (0.52, 0.02), strict=False):
        _draw_junction(figure.add_axes((0.0, bottom, 0.31, 0.46)), name)
    axes = figure.add_axes((0.43, 0.145, 0.555, 0.66))
    stub = number(-0.5 * PITCH.m_as("m"), "m", "height", system)
    styles = (("-", "D", RUST), ("--", "o", BLUE))
    for (name, header), (line, mark, color) in zip(headers.items(), styles, strict=False):
        places = number(header.distance, "m", "height", system)
        static, cap, outlets = (number(v, "Pa", "draft", system) for v in (header.static, header.cap, header.outlets))
        axes.plot(places, static, line, color=color, lw=2.0, label=f"header, {name}")
        axes.plot([stub, places[0]], [cap, cap], line, color=color, lw=1.0)
        axes.plot([stub], [cap], "s", color=color, ms=8, mec=INK)
        axes.plot(places[::2], outlets, mark, color=color, ms=7, ls="none", label=f"outlets, {name}")
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.margins(y=0.12)
    axes.legend(
        fontsize=SIZE, frameon=False, loc="lower center", bbox_to_anchor=(0.45, 1.0), ncols=2, columnspacing=1.2
    )
    plain(axes, f"toward the stack, {label('height', system)} (square: end cap)",
          f"against the room, {label('draft', system)}")  # fmt: skip
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """A row of boilers with straight tees, and the same row with another junction beside it."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name, at first the chapter's row; values plain SI."""
    wide = steps("diameter", system, range(6, 33), range(150, 825, 25))
    rates = steps("heat rate", system, range(250, 3250, 250), range(75, 950, 75))
    others = [(n, n) for n in junctions.JUNCTIONS if n not in ("straight tee", "opposed tee")]
    return {
        "count": slider("Boilers", [(str(n), n) for n in range(2, 7)], COUNT),
        "heat_input": slider("Input of each", rates, INPUT.m_as("W")),
        "header": slider("Header, stack", wide, HEADER.m_as("m")),
        "connector": slider("Connectors", wide, CONNECTOR.m_as("m")),
        "which": choice("Firing", [(w, w) for w in FIRING], "all"),
        "other": choice("Compared with tees", others, "lateral"),
    }


@cache
def _row(form: str, count: int, header: float, connector: float, heat_input: float) -> Plant:
    return row_of_boilers(form, count, Q_(header, "m"), Q_(connector, "m"), Q_(heat_input, "W"))


def explorer_answer(
    system: str, *, count: int, heat_input: float, header: float, connector: float, which: str, other: str
) -> tuple[str, bytes]:
    """Numbers and picture of a row; heat_input [W] of each boiler, header and connector diameter [m]."""
    solutions = {
        form: firing(_row(form, count, header, connector, heat_input), which) for form in ("straight tee", other)
    }
    first = next(iter(solutions.values()))
    headers = {form: header_of(solution) for form, solution in solutions.items()}
    rows = []
    for i, boiler in enumerate(first.plant.appliances):
        does = boiler.states[first.states.codes[i, 0]]
        rows.append((f"{boiler.name}, {does}", *(_draft(h.outlets[i], system) for h in headers.values())))
    rows.append(("end cap", *(_draft(h.cap, system) for h in headers.values())))
    speed = show(Q_(first.velocity[first.row("stack"), 0], "m/s"), system)
    words = f"<p>Velocity in the stack {speed}. {_tested(first.plant)}</p>"
    return table(("pressure against the room", *headers), rows) + words, picture(row_drawing(headers, system))


def _draft(pressure: float, system: str) -> str:
    return show(Q_(float(pressure), "Pa"), system, "draft")


def _tested(plant: Plant) -> str:
    """What is to be said of the area ratios of a row."""
    low, high = junctions.TESTED_AREA_RATIO
    outside = junctions.untested(plant.sections)
    if not outside:
        return f"Area ratios are within the tested {low:g} to {high:g}."
    return f"<b>Area ratio {outside[0][1]:.2f}: Gardel's formulas were tested for {low:g} to {high:g}.</b>"


# --- Prediction, and what is to be written ----------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a little gas that joins a lot."""
    return predict("junctions", little_gas, system)


SMALL = 0.1  # velocity heads: less than this either way is called almost nothing


def little_gas(share: float) -> dict[str, Quantity | float]:
    """What a branch that brings this share of the flow pays at a straight tee of the chapter's row."""
    form, tee = junctions.junction("straight tee"), solved("straight tee")
    ratio = junctions.area_ratio(CONNECTOR.m_as("m"), HEADER.m_as("m"))
    k = float(junctions.branch_loss.bare(share, ratio, form.angle, form.rounding))
    head = Q_(float(tee.head[tee.row(f"header {COUNT}"), 0]), "Pa")
    return {"right": 1 if abs(k) < SMALL else 0 if k > 0.0 else 2, "figure": k * head, "k": k}


def writing(system: str = "US") -> Writing:
    """The fall of static pressure along the run by momentum, to be written by the reader."""
    return load_writing("junctions", fall_along_the_run, system)


def fall_along_the_run(head: Quantity, share: float, angle: Quantity, ratio: float) -> dict[str, Quantity]:
    """Fall of static pressure by momentum alone, and what it becomes by the slips that are made with it."""
    degrees, kept = float(angle.m_as("degree")), (1.0 - share) ** 2
    # Static is total less one head: of the combined stream behind the junction, (1-q)^2 of one before it.
    answer = (momentum(share, degrees, ratio) + 1.0 - kept) * head
    along = share**2 * np.cos(np.radians(degrees)) / ratio
    return {
        "answer": answer,
        "degrees": 2.0 * (1.0 - kept - share**2 * np.cos(degrees) / ratio) * head,
        "no_ratio": 2.0 * (1.0 - kept - along * ratio) * head,
        "no_run": 2.0 * (1.0 - along) * head,
        "one_head": answer / 2.0,
        "total": answer - (1.0 - kept) * head,
    }


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("junctions", (facing_sensor, narrowest, dead_end, far_boiler), system, seed)


def facing_sensor(speed: Quantity, density: Quantity, reading: Quantity) -> dict[str, Quantity]:
    """Static pressure where a sensor's tube faces the gas."""
    head = junctions.sensor_error(density, speed, 1.0)
    return {
        "answer": (reading - head).to("Pa"),
        "head": head,
        "wrong_sign": (reading + head).to("Pa"),
        "half_forgotten": (reading - 2 * head).to("Pa"),
    }


def narrowest(header: Quantity) -> dict[str, Quantity | float]:
    """The narrowest connector for which Gardel's formulas were tested."""
    low = junctions.TESTED_AREA_RATIO[0]
    return {"answer": header * low**0.5, "low": low, "root": low**0.5, "by_area": header * low}


def dead_end(head: Quantity) -> dict[str, Quantity]:
    """Pressure at a cap behind a turn, by momentum."""
    return {"answer": 2.0 * head}


def far_boiler() -> dict[str, Quantity]:
    """What laterals bring the far boiler."""
    tee, lateral = (Q_(float(solved(form).outlet_pressure[0, 0]), "Pa") for form in ("straight tee", "lateral"))
    return {"answer": tee - lateral, "tee": tee, "lateral": lateral, "negative": lateral - tee}


# --- A sensor at the end of the header --------------------------------------------------------------------------


def far_end_velocity(end_diameter: Quantity) -> tuple[Quantity, Quantity]:
    """Velocity and velocity head of the far boiler's gas in a header of that diameter."""
    solution = solved("straight tee")
    row = solution.row("connector 1")
    flow, area = Q_(float(solution.flow[row, 0]), "kg/s"), np.pi / 4 * CONNECTOR**2
    density = flow / (Q_(float(solution.velocity[row, 0]), "m/s") * area)
    speed = friction.velocity(flow, density.to("kg/m**3"), end_diameter)
    return speed, friction.velocity_head(density.to("kg/m**3"), speed)
