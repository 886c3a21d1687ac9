"""Re-entrainment: the chapter's school roof, its live controls, questions, checks and figures."""

from dataclasses import replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from ventcalc import tables
from ventcalc.building import air_intakes, code_rules, plume, re_entrainment_words, stack_discharge
from ventcalc.building import re_entrainment as back
from ventcalc.building.air_intakes import Intake, Roof, Stack
from ventcalc.building.stack_discharge import Discharge
from ventcalc.checked import Check, compare
from ventcalc.gas import combustion, flue_gas
from ventcalc.gas.fuels import fuel
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, parse, show, shown_unit, unit_text

# --- The school's roof ----------------------------------------------------------------------------------------

HEAT, EXCESS, FLUE = Q_(1600, "MBH"), 0.3, Q_(300, "degF")
OUTDOORS = Q_(30, "degF")
NOX, CO = Q_(60, "ppm"), Q_(80, "ppm")  # dry, at 3 % O2
LOADS = np.array([1.0, 0.5, 0.25])

ROOF = Roof(Q_(24, "ft"), Q_(0.5, "m"))
STACK = Stack("boiler stack", Q_(4, "ft"), Q_(14, "inch"), capped=True)
INTAKE = Intake("classroom unit", Q_(26, "ft"), Q_(4, "ft"))


@cache
def gas(diameter: float, nox: float = 60e-6, loads: tuple[float, ...] = tuple(LOADS)) -> Discharge:
    """What leaves the school's stack of a diameter [m] at some loads; nox dry at 3 % O2."""
    natural, hot, sea = fuel("natural gas"), float(FLUE.m_as("K")), 101_325.0
    burnt = combustion.products.bare(natural, EXCESS)
    flow = float(HEAT.m_as("W")) * np.array(loads) * float(burnt.mass_per_heat)
    velocity = flow / float(flue_gas.density.bare(burnt.gas, hot, sea)) / (np.pi / 4.0 * diameter**2)
    stated = stack_discharge.in_wet_gas.bare(natural, EXCESS, np.array([nox, float(CO.m_as(""))]))
    one = np.ones_like(velocity)
    return Discharge(velocity, hot * one, float(OUTDOORS.m_as("K")) * one, float(burnt.gas.co2) * one, stated[0] * one,
                     stated[1] * one)  # fmt: skip


def school() -> tuple[Stack, Discharge, Intake, Roof]:
    """The school as it is: stack, what leaves it, the classroom's intake, the roof."""
    return STACK, gas(float(STACK.diameter.m_as("m"))), INTAKE, ROOF


# --- What the chapter stands on -------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """The worked example of the handbook, NOx per heat, and the limits."""
    ours = {}
    for row in tables.read("re_entrainment_checks"):
        if row["roughness_m"]:
            ours[row["id"]] = _example(row)
    across, upward = plume.turbulence(Q_(15, "m"), Q_(0.5, "m"))
    per_heat = stack_discharge.mass_per_heat(fuel("natural gas"), Q_(110.0, "ppm"))
    ours |= {
        "RE28": per_heat.m_as("lb/Btu") * 1e6,
        "RE29": float((upward / across).m),
        "RE30": air_intakes.separation(Q_(400, "cfm"), Q_(0, "fpm"), 50.0),
        "RE31": 1e3 * code_rules.figure("re_entrainment", "NO2, 1 h").m_as("ppm"),
        "RE32": code_rules.figure("re_entrainment", "CO, 1 h").m_as("ppm"),
    }
    return compare("re_entrainment_checks", ours)


def _example(row) -> float:
    """Our answer to a row of the handbook's Example 2."""
    rough = float(row["roughness_m"])
    across, upward = (float(i) for i in plume.turbulence.bare(15.0, rough))
    if not row["wind"]:
        own = {"i_y x": across * 14.1, "i_z x": upward * 14.1, "sigma_y": plume.spread.bare(14.1, across, 0.5)}
        return float(own[row["quantity"]])
    wind = float(parse(row["wind"]).m_as("m/s"))
    case = {"distance": 14.1, "stack_height": 6.1, "diameter": 0.5, "velocity": 9.0, "wind": wind, "roof_height": 15.0,
            "roughness": rough}  # fmt: skip
    if row["quantity"] == "plume height":
        return float(plume.plume_height.bare(**case))
    return float(plume.dilution.bare(**case, intake_height=2.0))


# --- Tables ----------------------------------------------------------------------------------------------------


def given(system: str = "US") -> str:
    """The school's boilers, stack, intake and roof."""
    leaves = gas(float(STACK.diameter.m_as("m")))
    fire, hot, cold = show(HEAT, system), show(FLUE, system), show(OUTDOORS, system)
    wide, speed = show(STACK.diameter, system, "diameter"), show(Q_(leaves.velocity[0], "m/s"), system)
    nox, co = (1e6 * float(x[0]) for x in (leaves.nox, leaves.co))
    return (
        f"boilers: {fire} of natural gas, at 100, 50 and 25 % of it; flue gas {hot}, outdoors {cold}\n"
        f"NOx and CO as stated for the burners: {NOX.m:g} and {CO.m:g} ppm, dry at 3 % O₂\n"
        f"stack: {show(STACK.height, system)} above the roof, {wide} wide, capped; gas at full load {speed}\n"
        f"wet, as it leaves: {leaves.co2[0]:.1%} CO₂, {nox:.0f} ppm NOx, {co:.0f} ppm CO\n"
        f"intake: {show(INTAKE.distance, system)} away along the string, its top {show(INTAKE.height, system)} up\n"
        f"roof: {show(ROOF.height, system)} above ground, in a suburb: roughness {show(ROOF.roughness, system)}"
    )


def reading_told(reading: back.Reading, system: str) -> HTML:
    """What is read of an intake, a paragraph each."""
    return HTML("".join(map(paragraph, re_entrainment_words.sentences(reading, system))))


def worst_winds(cases: dict[str, tuple[Stack, Discharge]], system: str) -> HTML:
    """Worst wind and dilution at the school's intake, for some stacks."""
    rows = []
    for words, (stack, leaves) in cases.items():
        found = back.judge(stack, leaves, INTAKE, ROOF)
        rows.append((words, re_entrainment_words.wind_text(found, system), f"{found.dilution:,.0f}"))
    return HTML(table(("stack", "worst wind", "dilution"), rows))


def enough_told(free: Stack, targets: tuple[float, ...], system: str) -> HTML:
    """What would be enough for some dilutions: height or velocity of a free stack, or distance as it is."""
    stack, leaves, intake, roof = school()
    rows = []
    for target in targets:
        high = back.enough_height(free, leaves, intake, roof, target)
        fast = back.enough_velocity(free, leaves, intake, roof, target)
        far = back.enough_distance(stack, leaves, intake, roof, target)
        answers = length_text(high, system), velocity_text(fast, system), length_text(far, system)
        rows.append((f"{target:g}", *answers))
    return HTML(table(("dilution", "height, cap off", "or velocity at the lowest load", "or distance from"), rows))


def by_the_standard(targets: tuple[float, ...], system: str) -> HTML:
    """Distance by the ventilation standard's formula beside ours, at full load."""
    stack, leaves, intake, roof = school()
    flow = Q_(leaves.velocity[0], "m/s") * np.pi / 4.0 * stack.diameter**2
    rows = []
    for target in targets:
        ours = back.enough_distance(stack, leaves, intake, roof, target)
        theirs = air_intakes.separation(flow, Q_(0.0, "fpm"), target)
        rows.append((f"{target:g}", length_text(theirs, system), length_text(ours, system)))
    return HTML(table(("dilution", "by the standard", "by the plume"), rows))


# --- Figures ---------------------------------------------------------------------------------------------------


def roof_section(axes, stack: Stack, gas_: Discharge, intake: Intake, roof: Roof, wind: float, system: str) -> None:
    """Roof, stack, intake and the plume at one wind and the highest load, to scale; heights above the roof."""
    far, up, wide = (float(q.m_as("m")) for q in (intake.distance, stack.height, stack.diameter))
    top = float(intake.height.m_as("m"))
    x = np.linspace(0.01, 1.25 * far + 1.0, 60)
    around = float(roof.height.m_as("m")), float(roof.roughness.m_as("m"))
    ratio, speed = float(gas_.density_ratio[0]), float(gas_.velocity[0])
    axis = plume.plume_height.bare(x, up, wide, speed, wind, *around, ratio, stack.capped)
    band = plume.spread.bare(x, float(plume.turbulence.bare(*around)[1]), wide)
    x_, axis_, low, high = (number(v, "m", "height", system) for v in (x, axis, axis - band, axis + band))
    axes.fill_between(x_, np.maximum(low, 0.0), np.maximum(high, 0.0), color=PALE, lw=0)
    axes.plot(x_, np.maximum(axis_, 0.0), color=RUST, lw=2)
    ends = number([x[-1], far, top, up], "m", "height", system)
    axes.plot([-0.15 * ends[0], ends[0]], [0, 0], color=INK, lw=2)
    axes.plot([0, 0], [0, ends[3]], color=INK, lw=6, solid_capstyle="butt")
    if stack.capped:
        axes.plot([-0.03 * ends[0], 0.03 * ends[0]], [1.06 * ends[3] + 0.02] * 2, color=INK, lw=3)
    tall = max(float(ends[2]), 0.02 * float(ends[0]))
    axes.add_patch(Rectangle((float(ends[1]), 0), 0.05 * float(ends[0]), tall, fc="white", ec=INK, lw=1.4, zorder=4))
    axes.set_xlim(-0.15 * ends[0], ends[0])
    axes.set_ylim(0.0, 1.25 * max(float(np.max(high)), float(ends[3]), float(ends[2])))
    plain(axes, f"distance, {label('height', system)}", f"above the roof, {label('height', system)}")


def _in_whole_numbers(axes, low: float, high: float) -> None:
    """A logarithmic axis whose numbers can be read."""
    axes.set_ylim(low, high)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")


def school_drawing(system: str) -> Figure:
    """The school's roof from the side: stack, cap, the classroom's intake, the wind."""
    figure = Figure((WIDTH, 2.6))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(-3, 13.5), ylim=(-3.2, 3.6))
    axes.axis("off")
    axes.add_patch(Polygon([(-2, -3), (-2, 0), (12, 0), (12, -3)], closed=True, fc=PALE, ec=INK, lw=1.6))
    axes.plot([0, 0], [0, 1.3], color=INK, lw=8, solid_capstyle="butt")
    axes.plot([-0.45, 0, 0.45], [1.55, 1.9, 1.55], color=INK, lw=2.5)
    axes.add_patch(Rectangle((8.2, 0), 1.2, 1.3, fc="white", ec=INK, lw=1.5))
    for k in range(4):
        axes.plot([8.05, 8.2], [0.25 + 0.28 * k, 0.35 + 0.28 * k], color=INK, lw=1.4)
    axes.annotate("", (-1.0, 2.9), (-2.8, 2.9), arrowprops={"arrowstyle": "-|>", "color": BLUE, "lw": 2.4})
    axes.text(-0.8, 2.9, "north wind", size=SIZE, va="center", color=BLUE)
    axes.text(0.6, 1.3, f"{STACK.name}, {show(STACK.height, system)} high, capped", size=SIZE, va="center")
    axes.text(9.6, 0.7, "classroom unit", size=SIZE, va="center")
    axes.annotate("", (8.1, 0.45), (0.2, 0.45), arrowprops={"arrowstyle": "<|-|>", "color": GREY, "lw": 1.2})
    axes.text(4.1, 0.62, show(INTAKE.distance, system), size=SIZE, ha="center", va="bottom", color=GREY)
    axes.text(5.0, -1.6, f"school, roof {show(ROOF.height, system)} above ground", size=SIZE, ha="center", va="center")
    return figure


def wind_chart(cases: dict[str, tuple[Stack, Discharge]], system: str, height: float = 3.4) -> Figure:
    """Dilution of the flue gas at the school's intake over the wind, at full load, for some stacks; worst marked."""
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.13, 0.17, 0.84, 0.78))
    styles = (("-", RUST), ("--", BLUE), (":", INK), ("-.", GREY))
    for (words, (stack, leaves)), (style, color) in zip(cases.items(), styles, strict=False):
        speeds = back.winds()
        found = back.in_moles(back.dilutions(stack, leaves, INTAKE, ROOF, speeds), leaves)[0]
        x = number(speeds, "m/s", "wind", system)
        axes.semilogy(x, np.minimum(found, 1e6), style, color=color, lw=2.2, label=words)
        k = int(found.argmin())
        axes.plot(x[k], found[k], "D", color=color, ms=7, mec=INK, ls="none")
    _in_whole_numbers(axes, 30.0, 10_000.0)
    axes.legend(frameon=False, fontsize=SIZE, ncols=2)
    plain(axes, f"wind at roof height, {label('wind', system)}", "dilution at the intake (marks: worst wind)")
    return figure


def distance_chart(stack: Stack, leaves: Discharge, system: str, height: float = 3.2) -> Figure:
    """Least dilution over the distance of the intake, at any wind and load."""
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.13, 0.17, 0.84, 0.78))
    far = np.linspace(1.0, 60.0, 120)
    least = [back.least_dilution(stack, leaves, Intake("x", Q_(x, "m"), INTAKE.height), ROOF) for x in far]
    axes.semilogy(number(far, "m", "height", system), np.minimum(least, 1e5), color=BLUE, lw=2.2)
    _in_whole_numbers(axes, 100.0, 100_000.0)
    for meters, words in ((Q_(15, "ft").m_as("m"), "standard's distance"), (INTAKE.distance.m_as("m"), "the intake")):
        axes.axvline(number(meters, "m", "height", system), color=GREY, lw=1.2, ls=":")
        at = number(meters, "m", "height", system)
        axes.annotate(words, (at, 1.0), (3, -3), axes.get_xaxis_transform(), "offset points", size=SIZE, color=GREY,
                      rotation=90, va="top", ha="left")  # fmt: skip
    plain(axes, f"distance of the intake, {label('height', system)}", "least dilution, any wind")
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """The school's roof: the stack's height, width and cap, where the intake is, and the burner."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name; values plain SI."""
    us, si = (0, 2, 4, 6, 8, 10, 12, 15, 20, 25, 30), (0.0, 0.6, 1.2, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 9.0)
    heights = steps("height", system, us, si)
    us, si = (6, 7, 8, 9, 10, 12, 14, 16, 20), (150, 175, 200, 230, 250, 300, 355, 400, 500)
    widths = steps("diameter", system, us, si)
    us, si = (5, 10, 15, 20, 26, 35, 50, 75, 100, 150), (1.5, 3.0, 4.5, 6.0, 8.0, 11.0, 15.0, 23.0, 30.0, 45.0)
    away = steps("height", system, us, si)
    tops = steps("height", system, (-6, 0, 2, 4, 6, 8, 12), (-2.0, 0.0, 0.6, 1.2, 2.0, 2.5, 3.6))
    return {
        "height": slider("Stack's height", heights, 1.22),
        "capped": choice("Its top", [("a cap", True), ("free", False)], True),
        "diameter": slider("Its diameter", widths, 0.3556),
        "distance": slider("Intake's distance", away, 7.92),
        "top": slider("Intake's top", tops, 1.22),
        "around": choice("Surroundings", [("open country", 0.1), ("suburb", 0.5), ("city", 1.0)], 0.5),
        "nox": slider("NOx at 3 % O2", [(f"{v} ppm", v * 1e-6) for v in (9, 20, 30, 60, 110)], 60e-6),
    }


def explorer_answer(
    system: str, *, height: float, capped: bool, diameter: float, distance: float, top: float, around: float, nox: float
) -> tuple[str, bytes]:
    """The intake's reading at its worst wind, what would be enough, and the picture; plain SI."""
    stack = Stack(STACK.name, Q_(height, "m"), Q_(diameter, "m"), capped)
    leaves, roof = gas(diameter, nox), Roof(ROOF.height, Q_(around, "m"))
    intake = Intake(INTAKE.name, Q_(distance, "m"), Q_(top, "m"))
    reading = back.judge(stack, leaves, intake, roof)
    velocity = show(Q_(float(leaves.velocity[0]), "m/s"), system)
    told = re_entrainment_words.sentences(reading, system)[1]
    words = paragraph(f"At full load the gas leaves at {velocity}. " + told)
    words += parts_table(reading)
    figure, (left, right) = row_of_axes(2, 3.0)
    roof_section(left, stack, leaves, intake, roof, reading.wind, system)
    speeds = back.winds()
    moles = back.in_moles(back.dilutions(stack, leaves, intake, roof, speeds), leaves)[0]
    x = number(speeds, "m/s", "wind", system)
    right.semilogy(x, np.minimum(moles, 1e6), color=BLUE, lw=2.2)
    least = 10.0 ** np.floor(np.log10(moles.min()))
    _in_whole_numbers(right, least, max(100.0 * least, 10.0 ** np.ceil(np.log10(min(moles.max(), 1e6)))))
    right.axvline(number(reading.wind, "m/s", "wind", system), color=INK, lw=1.0, ls=":")
    plain(right, f"wind, {label('wind', system)}", "dilution")
    return words, picture(figure)


def parts_table(reading: back.Reading) -> str:
    """The gases at the intake: what the flue gas adds, the limit, the verdict."""
    rows = [
        (re_entrainment_words.NAMES[p.gas], _ppm(p.added), f"{_ppm(p.limit)} ({p.rule})", p.verdict)
        for p in reading.parts
    ]
    return table(("at the worst wind", "added", "limit", "by the estimate"), rows)


def _ppm(value: float) -> str:
    return f"{value:,.0f} ppm" if value >= 100.0 else f"{value:.3g} ppm"


# --- Prediction, and what is to be written ---------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of an intake nearer to a tall stack."""
    return predict("re_entrainment", nearer, system)


def nearer(height: Quantity, near: Quantity) -> dict[str, Quantity | float | int]:
    """What a classroom's intake breathes at another distance from a taller stack without a cap."""
    _, leaves, intake, roof = school()
    tall = replace(STACK, height=height, capped=False)
    there, here = (
        back.least_dilution(tall, leaves, replace(intake, distance=distance), roof)
        for distance in (near, intake.distance)
    )
    ratio = there / here
    return {
        "right": 0 if ratio < 1.0 / SAME else 1 if ratio <= SAME else 2,
        "figure": Q_(there, ""),
        "here": here,
        "away": intake.distance,
    }


SAME = 1.25  # dilutions nearer to each other than this are called the same; the estimate is within a factor of two


def writing(system: str = "US") -> Writing:
    """What arrives at an intake, to be written by the reader."""
    return load_writing("re_entrainment", what_arrives, system)


def what_arrives(
    inside: Quantity,
    wind: Quantity,
    velocity: Quantity,
    diameter: Quantity,
    across: Quantity,
    upward: Quantity,
    over: Quantity,
) -> dict[str, Quantity]:
    """What a plume brings to an intake, and what it becomes by the slips that are made with it."""
    answer = inside / plume.gaussian(over, across, upward, wind, velocity, diameter)
    apart = float((over**2 / (2.0 * upward**2)).m_as(""))
    return {
        "answer": answer,
        "wrong_sign": answer * np.exp(2.0 * apart),
        "no_rise": answer * np.exp(apart),
        "no_half": answer * np.exp(-apart),
        "upside_down": inside * (inside / answer).to("").m,
    }


# --- Questions -------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("re_entrainment", (string, flush, needed, cone), system, seed)


def string(across: Quantity, down: Quantity, along: Quantity) -> dict[str, Quantity]:
    """A string over the edge of a roof."""
    wrong = {"through": (across**2 + down**2 + along**2) ** 0.5, "three_ways": across + down + along}
    return {"answer": air_intakes.stretched_string(across, down, along), "unfolded": across + down, **wrong}


def flush(wind: Quantity, flow: Quantity, spread_y: Quantity, spread_z: Quantity) -> dict[str, Quantity]:
    """Dilution of what leaves flush with a roof."""
    answer = (np.pi * wind * spread_y * spread_z / flow).to("")
    wrong = {"half": answer / 2.0, "open_air": 2.0 * answer, "not_the_flow": 4.0 / np.pi * answer}
    return {"answer": answer, **wrong}


def needed(ppm: float, limit: float, hot: Quantity, cold: Quantity) -> dict[str, Quantity]:
    """Dilution by volume that a limit asks for."""
    moles, ratio = Q_(ppm / limit, ""), float(cold.m_as("K") / hot.m_as("K"))
    return {"answer": moles * ratio, "moles": moles, "upside_down": moles / ratio}


def cone(wide: Quantity, slow: Quantity, fast: Quantity) -> dict[str, Quantity]:
    """The end of a cone that throws faster."""
    ratio = float((slow / fast).m_as(""))
    return {"answer": (wide * ratio**0.5).to("m"), "not_square": wide * ratio, "wider": wide / ratio**0.5}


def velocity_text(velocity: Quantity | None, system: str) -> str:
    """A velocity in fpm or m/s, or that none is enough."""
    if velocity is None:
        return "none that was tried"
    unit = {"US": "fpm", "SI": "m/s"}[system]
    return f"{velocity.m_as(unit):,.{0 if system == 'US' else 1}f} {unit}"


def length_text(length: Quantity | None, system: str) -> str:
    """A length as `show` writes it, or that none is enough."""
    if length is None:
        return "none that was tried"
    return f"{length.m_as(shown_unit('height', system)):.1f} {unit_text(shown_unit('height', system))}"
