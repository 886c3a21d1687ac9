"""Vent sizing: the chapter's vents, its tables and chart, live controls, prediction, writing, checks and questions."""

from dataclasses import replace
from functools import partial

import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure
from scipy.optimize import brentq

from ventcalc import checked
from ventcalc.flow import fittings, stack_effect, steam_book_stack
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere, combustion_analysis, flue_gas
from ventcalc.gas.appliance import CATEGORIES, Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.job import job_file
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.section_drawing import section_drawing
from ventcalc.show.svg import Drawing
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import GRAVITY, Q_, Quantity, show
from ventcalc.vent import area_rule, draft_margin, nominal_sizes, single_vent, vent_at_work, vent_sizing
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.vent_sizing import NoAnswer

# --- The chapter's vents -----------------------------------------------------------------------------------

MILD = Season("mild day", Q_(60.0, "degF"), Q_(70.0, "degF"))
TWO_ELBOWS = ("elbow 90", "elbow 90")

# What each kind of appliance makes and wants: dry CO2, flue temperature, category, window's upper end, outlet, vent.
KINDS = {
    "draft hood": ("draft hood", 8.0, Q_(440.0, "degF"), "I", Q_(0.0, "inH2O"), 4.0, "Type B gas vent"),
    "fan-assisted": ("forced", 8.0, Q_(310.0, "degF"), "I", Q_(0.0, "inH2O"), 4.0, "Type B gas vent"),
    "needs draft, no hood": ("forced", 8.0, Q_(440.0, "degF"), "I", Q_(-0.02, "inH2O"), 4.0, "Type B gas vent"),
    "pressurized, condensing": (
        "forced", 9.0, Q_(130.0, "degF"), "IV", Q_(0.40, "inH2O"), 3.0, "stainless special gas vent single wall",
    ),
}  # fmt: skip


def appliance(kind: str, heat_input: Quantity = Q_(100.0, "MBH")) -> Appliance:
    """One of `KINDS`, burning natural gas."""
    form, co2, flue, category, highest, inch, _ = KINDS[kind]
    gas = fuel("natural gas")
    excess = float(combustion_analysis.excess_air_from_co2(gas, Q_(co2, "percent")).m_as(""))
    level = FiringLevel("on", heat_input, excess, flue)
    window = (Q_(-0.50, "inH2O"), highest)
    return Appliance("Boiler", gas, category, (level,), Q_(inch, "inch"), Q_(4.0, "ft"), window, form)


def vent(
    kind: str = "draft hood",
    heat_input: Quantity = Q_(100.0, "MBH"),
    height: Quantity = Q_(18.0, "ft"),
    run: Quantity = Q_(6.0, "ft"),
    diameter: Quantity = Q_(5.0, "inch"),
) -> Plant:
    """The chapter's vent: a level run with two elbows and a rise inside the house."""
    wall = material(KINDS[kind][-1])
    return single_vent.single_vent(
        appliance(kind, heat_input), height, diameter, wall, run, fittings=TWO_ELBOWS, cap="low-resistance cap"
    )


def laundry() -> job_file.Job:
    """The demo job of the laundry, whose boiler is vented flat to the far wall."""
    return job_file.demonstration("laundry")


def rebuilt(plant: Plant, diameter: Quantity) -> Plant:
    """The plant with all its sections of one diameter."""
    return replace(plant, sections=tuple(replace(s, diameter=diameter) for s in plant.sections))


def least_dry_flue_temperature(plant: Plant, season: Season) -> Quantity:
    """Least flue temperature at which the vent's coldest wall stays above the dew point, to half a kelvin.

    Raises `NoAnswer` where no gas that the pipe is rated for keeps it dry.
    """
    boiler = plant.appliances[0]

    def above_dew_point(kelvin: float) -> float:
        levels = tuple(replace(level, flue_temperature=Q_(kelvin, "K")) for level in boiler.levels)
        found = vent_at_work.operate(replace(plant, appliances=(replace(boiler, levels=levels),)), season)
        return float(found.wall.m_as("K") - found.dew_point.m_as("K"))

    coolest = draft_margin.coolest_flue(draft_margin.Vent(plant, season, draft_margin.HOOD_CO2, cold=False)) + 1.0
    hottest = min(draft_margin.HOTTEST, *(float(s.material.max_temperature.m_as("K")) for s in plant.sections))
    if above_dew_point(hottest) < 0.0:
        raise NoAnswer(f"{plant.name}: no gas that the pipe is rated for keeps its wall dry")
    if above_dew_point(coolest) > 0.0:
        return Q_(coolest, "K")
    return Q_(brentq(above_dew_point, coolest, hottest, xtol=0.5), "K")


def answers(plant: Plant, season: Season, system: str) -> list[tuple[str, str, str]]:
    """The five questions about a vent, that of its flue temperature twice: what is asked, as drawn, the answer.

    A condensing appliance is not asked for its flue temperature: below the dew point its water stays inside it.
    """
    drawn = plant.appliances[0].levels[-1]
    asked = (
        ("greatest input", vent_sizing.capacity, drawn.heat_input, "heat rate"),
        ("smallest diameter", vent_sizing.smallest_diameter, plant.sections[-1].diameter, "diameter"),
        ("least height", vent_sizing.least_height, single_vent.rise_section(plant).length, "height"),
        ("least flue temperature, to draw", vent_sizing.least_flue_temperature, drawn.flue_temperature, "temperature"),
        ("least flue temperature, wall dry", least_dry_flue_temperature, drawn.flue_temperature, "temperature"),
        ("longest run", vent_sizing.longest_run, single_vent.run_section(plant).length, "height"),
    )
    rows = []
    condensing = CATEGORIES[plant.appliances[0].category].condensing
    for words, ask, as_drawn, kind in asked:
        if condensing and kind == "temperature":
            continue
        try:
            found = show(ask(plant, season), system, kind)
        except NoAnswer as error:
            found = str(error).partition(": ")[2]
        rows.append((words, show(as_drawn, system, kind), found))
    return rows


def five_answers(plant: Plant, season: Season, system: str = "US") -> HTML:
    """The answers of `answers` as a table."""
    return HTML(table(("asked", "as drawn", "answer"), answers(plant, season, system)))


def warm_days(system: str = "US") -> HTML:
    """What the chapter's vent has to spare and what it takes on a mild, a warm and a hot day."""
    rows = []
    for degrees in (60.0, 85.0, 95.0):
        day = Season("warm", Q_(degrees, "degF"), MILD.room)
        spare, most = draft_margin.margin(vent(), day), vent_sizing.capacity(vent(), day)
        rows.append((show(day.outdoor, system), show(spare, system, "draft"), show(most, system)))
    return HTML(table(("outdoors", "draft to spare", "greatest input"), rows))


def wider_laundry(system: str = "US") -> HTML:
    """How long the laundry's level run may be by physics, and what its outlet sees as drawn, in three sizes."""
    job, rows = laundry(), []
    for inch in (4.0, 5.0, 6.0):
        bore = Q_(inch, "inch")
        plant, winter = rebuilt(job.plant, bore), job.seasons[0]
        run, pressure = vent_sizing.longest_run(plant, winter), vent_at_work.operate(plant, winter).outlet_pressure
        whole = show(run, system, "altitude")  # feet or meters without decimals: none of them is known better
        rows.append((show(bore, system, "diameter"), whole, show(pressure, system)))
    return HTML(table(("diameter", "longest level run", "outlet pressure as drawn"), rows))


def too_wide(system: str = "US") -> HTML:
    """What speaks against a vent with a lot of pipe and little gas."""
    wide = vent(heat_input=Q_(40.0, "MBH"), diameter=Q_(10.0, "inch"))
    found = vent_at_work.cautions(vent_at_work.operate(wide, MILD))
    return HTML(table(("cautions",), [(c.words(system),) for c in found]))


# --- The chart of size against height -------------------------------------------------------------------------


def size_chart(plant: Plant, season: Season, system: str = "US", height: float = 3.3) -> Figure:
    """Smallest diameter against height for half, all and twice the input; the sizes sold; the vent as drawn."""
    figure, (axes,) = row_of_axes(1, height)
    rise, level = single_vent.rise_section(plant), plant.appliances[0].levels[-1]
    heights = Q_(np.geomspace(5.0, max(60.0, 1.2 * rise.length.m_as("ft")), 12), "ft")
    inputs = np.array([0.5, 1.0, 2.0])[:, None] * level.heat_input
    least = vent_sizing.smallest_diameter(plant, season, height=heights, heat_input=inputs)
    x, ys = number(heights.m, "ft", "height", system), number(least.m, "m", "diameter", system)
    for y, heat, style in zip(ys, inputs, (":", "-", "--"), strict=True):
        axes.plot(x, y, style, color=INK, lw=1.8, label=show(heat[0], system))
    sizes = [d.m_as("m") for d in (rise.diameter, plant.appliances[0].outlet_diameter)]
    now, outlet = number(sizes, "m", "diameter", system)
    widest = 1.12 * max(np.nanmax(ys, initial=outlet), now)
    works = draft_margin.margin(plant, season).m >= -1e-3
    look = {"marker": "D", "color": BLUE} if works else {"marker": "X", "color": RUST}
    words = "as drawn: draws" if works else "as drawn: does not draw"
    axes.plot(number(rise.length.m_as("m"), "m", "height", system), now, ls="none", ms=10, label=words, **look)
    for size in (s for s in nominal_sizes.SIZES[system][1] if 0.99 * outlet <= s <= widest):
        axes.axhline(size, color=GREY, lw=0.7, zorder=0)
    plain(axes, axis("height", "height", system), axis("smallest diameter", "diameter", system))
    axes.set_ylim(0.8 * outlet, 1.25 * widest)
    legend(axes, ncols=4, loc="upper right", columnspacing=1.2, handlelength=1.8)
    return figure


def gains() -> dict[str, Quantity]:
    """Greatest input of the chapter's vent as drawn and with one thing changed."""
    plant = vent()
    straight = replace(plant, sections=(replace(plant.sections[0], fittings=()), plant.sections[1]))
    return {
        "as drawn": vent_sizing.capacity(plant, MILD),
        "twice as high": vent_sizing.capacity(plant, MILD, height=Q_(36.0, "ft")),
        "one size wider": vent_sizing.capacity(plant, MILD, diameter=Q_(6.0, "inch")),
        "without the run's elbows": vent_sizing.capacity(straight, MILD),
    }


def gain_by(system: str = "US") -> HTML:
    """What twice the height and what one size more do to the capacity of the chapter's vent."""
    found = gains()
    change = {words: float((q / found["as drawn"]).m_as("")) - 1.0 for words, q in found.items()}
    rows = [
        (words, show(q, system), f"{100 * change[words]:+.0f} %" if change[words] else "–")
        for words, q in found.items()
    ]
    return HTML(table(("vent", "greatest input", "change"), rows))


# --- What the chapter stands on --------------------------------------------------------------------------------


def checks() -> tuple[checked.Check, ...]:
    """Worked examples solved by the functions of `vent_sizing`: W1, W3, W12 and W13 of the reference sheets."""
    cold, stack, boiler = (atmosphere.air_density(Q_(t, "degF"), Q_(14.7, "psi")) for t in (60.0, 550.0, 500.0))
    book = {"D100": stack_effect.height_for_draft(Q_(1.2, "inH2O") / 0.8, cold, stack)}
    draft = stack_effect.theoretical_draft(Q_(100.0, "ft"), cold, boiler)
    for key, inch in (("D044", 54.0), ("D045", 60.0), ("D046", 66.0)):
        # f at 500 F is not printed; 0.0014 is inferred from the table.
        flow = Q_(100_000.0, "lb/hour")
        book[key] = draft - steam_book_stack.steam_book_stack_friction(flow, Q_(100.0, "ft"), Q_(inch, "inch"), 0.0014)
    outdoor, hot = (flue_gas.density(flue_gas.Gas.dry_air(), Q_(t, "K"), Q_(101325.0, "Pa")) for t in (293.0, 563.0))
    draft, gas = Q_(0.019 * 1000.0 * GRAVITY, "Pa"), hot * 23.0 / 22.0  # coal: all of it has joined the air
    velocity = stack_effect.frictionless_velocity(draft, gas)
    light = stack_effect.height_for_draft(Q_(0.23, "kPa"), Q_(1.2, "kg/m**3"), Q_(0.79, "kg/m**3"))
    sheets = {
        "W12a": float(light.m_as("m")),
        "W13a": float(stack_effect.height_for_draft(draft, outdoor, gas).m_as("m")),
        "W13d": float(velocity.m_as("m/s")),
        "W13e": float((velocity * gas * np.pi / 4.0 * Q_(1.8, "m") ** 2).m_as("kg/s")),
    }
    return checked.compare("draft_checks", book) + checked.compare("stack_effect_checks", sheets)


# --- Live controls ------------------------------------------------------------------------------------------------

_INCHES, _MILLIMETERS = (4, 5, 6, 7, 8, 9, 10, 12), (102, 125, 150, 180, 200, 225, 250, 300)


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; values in SI."""
    inputs = steps("heat rate", system, range(40, 401, 10), range(12, 121, 3))
    heights = steps("height", system, range(6, 61, 2), np.arange(2.0, 18.5, 0.5))
    runs = steps("height", system, range(2, 101, 2), np.arange(0.5, 30.5, 0.5))
    outdoors = steps("temperature", system, range(-20, 101, 5), range(-30, 39, 3))
    return {
        "kind": choice("Appliance", list(KINDS), "draft hood"),
        "heat_input": slider("Input", inputs, 29307.0),
        "height": slider("Height", heights, 5.4864),
        "run": slider("Level run", runs, 1.8288),
        "diameter": slider("Diameter", steps("diameter", system, _INCHES, _MILLIMETERS), 0.127),
        "outdoor": slider("Outdoors", outdoors, 288.7),
    }


def explorer(system: str = "US") -> Panel:
    """One appliance and its vent: does it draw, and the five questions."""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str, *, kind: str, heat_input: float, height: float, run: float, diameter: float, outdoor: float
) -> tuple[str, bytes, Drawing]:
    """Verdict, the five answers, the chart of size against height and the vent in section; W, m, m, m, K."""
    plant = vent(kind, Q_(heat_input, "W"), Q_(height, "m"), Q_(run, "m"), Q_(diameter, "m"))
    season = Season("chosen", Q_(outdoor, "K"), MILD.room)
    at_work = vent_at_work.operate(plant, season)
    words = "It draws" if at_work.works else "It does not draw"
    spare = show(at_work.margin, system, "draft")
    told = f"<p><b>{words}.</b> Draft to spare {spare}; outlet {show(at_work.outlet_pressure, system, 'draft')}"
    if kind == "draft hood":
        told += f"; above the hood {100 * at_work.co2:.1f} % CO₂"
    told += f"; {show(at_work.velocity, system)} in the rise, {show(at_work.top, system)} at its top.</p>"
    warned = "".join(f"<p>Caution: {c.words(system)}.</p>" for c in vent_at_work.cautions(at_work) if at_work.works)
    numbers = table(("asked", "as drawn", "answer"), answers(plant, season, system))
    drawn = section_drawing(Scan(plant, (season,), at_work.solution, 1, False), system=system)
    return told + warned + numbers, picture(size_chart(plant, season, system, 2.8)), drawn


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of twice the height."""
    return predict("vent_sizing", twice_as_high, system)


DOUBLE, SQUARE_ROOT = 1.0, 2.0**0.5 - 1.0  # what twice the draft would add to the flow, taken plainly and as a root


def twice_as_high(height: Quantity, taller: Quantity) -> dict[str, Quantity | float]:
    """What the chapter's vent takes at two heights, and which of the guesses the gain is nearest to."""
    now, then, wider = (
        vent_sizing.capacity(vent(height=at), MILD, **sizes)
        for at, sizes in ((height, {}), (taller, {}), (height, {"diameter": Q_(6.0, "inch")}))
    )
    gain, by_width = (float((q / now).m_as("")) - 1.0 for q in (then, wider))
    guesses = (DOUBLE, SQUARE_ROOT, by_width)
    return {
        "right": min(range(3), key=lambda k: abs(guesses[k] - gain)),
        "figure": then,
        "now": now,
        "gain": gain,
        "by_width": by_width,
    }


def writing(system: str = "US") -> Writing:
    """The diameter that a draft can fill, to be written by the reader."""
    return load_writing("vent_sizing", bore, system)


def bore(flow: Quantity, density: Quantity, draft: Quantity, heads: float, system: str) -> dict[str, Quantity | float]:
    """Diameter in which a flow spends all its draft, and what it becomes by the slips that are made with it."""
    us = system == "US"
    speed = stack_effect.frictionless_velocity(draft / heads, density)
    answer = 2.0 * (flow / (np.pi * density * speed)) ** 0.5
    plain_bore = float(answer.m_as("inch" if us else "m"))
    inner = heads / (density.m_as("lb/ft**3" if us else "kg/m**3") * draft.m_as("inH2O" if us else "Pa"))
    return {
        "answer": answer,
        "one_root": plain_bore**2,
        "no_heads": plain_bore / heads**0.25,
        "upside_down": plain_bore / float(inner) ** 0.5,
        "heads_straight": plain_bore * heads**0.25,
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("vent_sizing", (rising, dilution, elbows, one_size_up), system, seed)


def rising(draft: Quantity, density: Quantity, factor: float, diameter: Quantity) -> dict[str, Quantity]:
    """Gas that a draft moves against so many velocity heads."""
    velocity = stack_effect.frictionless_velocity(draft / factor, density)
    flow = velocity * area_rule.round_area(diameter)
    return {
        "answer": flow,
        "velocity": velocity,
        "one_head": factor**0.5 * flow,
        "two_missing": flow / 2.0**0.5,
        "four_missing": 4.0 * flow,
    }


def dilution(heat: Quantity, before: Quantity, behind: Quantity) -> dict[str, Quantity | float]:
    """Room air that a draft hood draws in, from the flue gas per heat on its two sides."""
    flue_gas_alone, all_gas = ((heat * per_heat).to("kg/s") for per_heat in (before, behind))
    figures = {"answer": all_gas - flue_gas_alone, "all_gas": all_gas, "flue_gas_alone": flue_gas_alone}
    pounds = {f"pounds_{k}": q.m_as("lb/MBH/hour") for k, q in (("before", before), ("behind", behind))}
    return figures | pounds | {"kilograms_before": before.m_as("kg/MJ"), "kilograms_behind": behind.m_as("kg/MJ")}


def elbows(diameter: Quantity, factor: float, system: str) -> dict[str, Quantity | float]:
    """Straight pipe that loses as much as four elbows; also with the diameter left in the unit of drawings."""
    wide, long = ("inch", "ft") if system == "US" else ("mm", "m")
    loss = fittings.fitting("elbow 90").loss
    length = 4.0 * fittings.equivalent_length(loss, diameter, factor)
    return {
        "answer": length,
        "loss": loss,
        "one": length / 4.0,
        "unit_of_drawings": Q_(length.m_as(wide), long),
        "no_factor": length * factor,
    }


def one_size_up(wide: Quantity) -> dict[str, Quantity]:
    """Longest run of the laundry's vent in another diameter."""
    plant, season = laundry().plant, laundry().seasons[0]
    return {
        "answer": vent_sizing.longest_run(rebuilt(plant, wide), season),
        "narrow": vent_sizing.longest_run(plant, season),
        "instructions": plant.appliances[0].longest_run.to("m"),
    }
