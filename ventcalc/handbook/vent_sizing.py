"""Vent sizing: the chapter's vents, its chart of size against height, live controls, checks and questions."""

from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import fittings, stack_effect, steam_book_stack
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere, combustion_analysis, flue_gas
from ventcalc.gas.appliance import CATEGORIES, Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.job import job_file
from ventcalc.show.axes import DOTS, label, number, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, png
from ventcalc.units import GRAVITY, Q_, Quantity, show
from ventcalc.vent import area_rule, draft_margin, nominal_sizes, single_vent, vent_at_work, vent_sizing
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
    "pressurised, condensing": (
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
    return job_file.load(tables.DATA / "jobs" / "laundry.toml")


def rebuilt(plant: Plant, diameter: Quantity) -> Plant:
    """The plant with all its sections of one diameter."""
    return replace(plant, sections=tuple(replace(s, diameter=diameter) for s in plant.sections))


def answers(plant: Plant, season: Season, system: str) -> list[tuple[str, str, str]]:
    """The five questions about a vent: what is asked, as drawn, the answer.

    A condensing appliance is not asked for its flue temperature: below the dew point its water stays inside it.
    """
    drawn = plant.appliances[0].levels[-1]
    asked = (
        ("greatest input", vent_sizing.capacity, drawn.heat_input, "heat rate"),
        ("smallest diameter", vent_sizing.smallest_diameter, plant.sections[-1].diameter, "diameter"),
        ("least height", vent_sizing.least_height, single_vent.rise_section(plant).length, "height"),
        ("least flue temperature", vent_sizing.least_flue_temperature, drawn.flue_temperature, "temperature"),
        ("longest run", vent_sizing.longest_run, single_vent.run_section(plant).length, "height"),
    )
    rows = []
    condensing = CATEGORIES[plant.appliances[0].category].condensing
    for words, ask, as_drawn, kind in asked:
        if condensing and ask is vent_sizing.least_flue_temperature:
            continue
        try:
            found = show(ask(plant, season), system, kind)
        except NoAnswer as error:
            found = str(error).partition(": ")[2]
        rows.append((words, show(as_drawn, system, kind), found))
    return rows


# --- The chart of size against height -------------------------------------------------------------------------


def size_chart(plant: Plant, season: Season, system: str = "US", height: float = 3.3) -> Figure:
    """Smallest diameter against height for half, all and twice the input; the sizes sold; the vent as drawn."""
    figure, (axes,) = row_of_axes(1, height)
    drawn, top = plant.appliances[0].levels[-1].heat_input, single_vent.rise_section(plant).length
    heights = Q_(np.geomspace(5.0, max(60.0, 1.2 * top.m_as("ft")), 12), "ft")
    inputs = np.array([0.5, 1.0, 2.0])[:, None] * drawn
    least = vent_sizing.smallest_diameter(plant, season, height=heights, heat_input=inputs)
    x, ys = number(heights.m, "ft", "height", system), number(least.m, "m", "diameter", system)
    for y, heat, style in zip(ys, inputs, (":", "-", "--"), strict=True):
        axes.plot(x, y, style, color=INK, lw=1.8, label=show(heat[0], system))
    now = number(single_vent.rise_section(plant).diameter.m_as("m"), "m", "diameter", system)
    outlet = number(plant.appliances[0].outlet_diameter.m_as("m"), "m", "diameter", system)
    widest = 1.12 * max(np.nanmax(ys, initial=outlet), now)
    works = draft_margin.margin(plant, season).m >= -1e-3
    at = number(top.m_as("m"), "m", "height", system)
    words = "as drawn: draws" if works else "as drawn: does not draw"
    axes.plot(at, now, "D" if works else "X", ms=10, color=BLUE if works else RUST, label=words)
    for size in (s for s in nominal_sizes.SIZES[system][1] if 0.99 * outlet <= s <= widest):
        axes.axhline(size, color=GREY, lw=0.7, zorder=0)
    plain(axes, f"height, {label('height', system)}", f"smallest diameter, {label('diameter', system)}")
    axes.set_ylim(0.8 * outlet, 1.25 * widest)
    axes.legend(fontsize=SIZE, frameon=False, ncols=4, loc="upper right", columnspacing=1.2, handlelength=1.8)
    return figure


def gain_by(system: str = "US") -> str:
    """What twice the height and what one size more do to the capacity of the chapter's vent."""
    plant = vent()
    as_drawn = vent_sizing.capacity(plant, MILD)
    rows = []
    for words, sizes in (
        ("as drawn", {}),
        ("twice as high", {"height": Q_(36.0, "ft")}),
        ("one size wider", {"diameter": Q_(6.0, "inch")}),
        ("without the run's elbows", None),
    ):
        straight = replace(plant, sections=(replace(plant.sections[0], fittings=()), plant.sections[1]))
        found = vent_sizing.capacity(straight, MILD) if sizes is None else vent_sizing.capacity(plant, MILD, **sizes)
        rows.append((words, show(found, system), f"{float((found / as_drawn).m_as('')) - 1.0:+.0%}"))
    return table(("vent", "greatest input", "change"), rows)


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
    outdoor = flue_gas.density(flue_gas.Gas.dry_air(), Q_(293.0, "K"), Q_(101325.0, "Pa"))
    hot = flue_gas.density(flue_gas.Gas.dry_air(), Q_(563.0, "K"), Q_(101325.0, "Pa"))
    draught, gas = Q_(0.019 * 1000.0 * GRAVITY, "Pa"), hot * 23.0 / 22.0  # coal: all of it has joined the air
    velocity = stack_effect.frictionless_velocity(draught, gas)
    light = stack_effect.height_for_draft(Q_(0.23, "kPa"), Q_(1.2, "kg/m**3"), Q_(0.79, "kg/m**3"))
    sheets = {
        "W12a": float(light.m_as("m")),
        "W13a": float(stack_effect.height_for_draft(draught, outdoor, gas).m_as("m")),
        "W13d": float(velocity.m_as("m/s")),
        "W13e": float((velocity * gas * np.pi / 4.0 * Q_(1.8, "m") ** 2).m_as("kg/s")),
    }
    return checked.compare("draft_checks", book) + checked.compare("stack_effect_checks", sheets)


# --- Live controls ------------------------------------------------------------------------------------------------


def _options(system: str, kind: str, us, si):
    unit = {
        "height": ("ft", "m"),
        "diameter": ("inch", "mm"),
        "heat rate": ("MBH", "kW"),
        "temperature": ("degF", "degC"),
    }
    values = [Q_(float(v), unit[kind][system != "US"]) for v in (us if system == "US" else si)]
    return [(show(v, system, kind), float(v.to_base_units().m)) for v in values]


_INCHES, _MILLIMETRES = (4, 5, 6, 7, 8, 9, 10, 12), (102, 125, 150, 180, 200, 225, 250, 300)


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; values in SI."""
    return {
        "kind": choice("Appliance", list(KINDS), "draft hood"),
        "heat_input": slider("Input", _options(system, "heat rate", range(40, 401, 10), range(12, 121, 3)), 29307.0),
        "height": slider("Height", _options(system, "height", range(6, 61, 2), np.arange(2.0, 18.5, 0.5)), 5.4864),
        "run": slider("Level run", _options(system, "height", range(2, 101, 2), np.arange(0.5, 30.5, 0.5)), 1.8288),
        "diameter": slider("Diameter", _options(system, "diameter", _INCHES, _MILLIMETRES), 0.127),
        "outdoor": slider("Outdoors", _options(system, "temperature", range(-20, 101, 5), range(-30, 39, 3)), 288.7),
    }  # fmt: skip


def explorer(system: str = "US") -> Panel:
    """One appliance and its vent: does it draw, and the five questions."""
    return Panel(lambda **values: explorer_answer(system, **values), controls(system))


def explorer_answer(
    system: str, *, kind: str, heat_input: float, height: float, run: float, diameter: float, outdoor: float
) -> tuple[str, bytes]:
    """Verdict, the five answers and the chart of size against height; W, m, m, m, K."""
    plant = vent(kind, Q_(heat_input, "W"), Q_(height, "m"), Q_(run, "m"), Q_(diameter, "m"))
    season = Season("chosen", Q_(outdoor, "K"), MILD.room)
    at_work = vent_at_work.operate(plant, season)
    words = "It draws" if at_work.works else "It does not draw"
    spare = show(at_work.margin, system, "draft")
    told = f"<p><b>{words}.</b> Draft to spare {spare}; outlet {show(at_work.outlet_pressure, system, 'draft')}"
    if kind == "draft hood":
        told += f"; behind the hood {at_work.co2:.1%} CO2"
    told += f"; {show(at_work.velocity, system)} in the rise, {show(at_work.top, system)} at its top.</p>"
    warned = "".join(f"<p>Caution: {c.words(system)}.</p>" for c in vent_at_work.cautions(at_work) if at_work.works)
    numbers = table(("asked", "as drawn", "answer"), answers(plant, season, system))
    return told + warned + numbers, png(size_chart(plant, season, system, 2.8), DOTS)


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter."""
    return (_flow(system), _dilution(system), _elbows(system), _one_size_up(system))


def _flow(system: str) -> Exercise:
    draft, density, factor, diameter = Q_(0.040, "inH2O"), Q_(0.050, "lb/ft**3"), 7.0, Q_(5.0, "inch")
    velocity = stack_effect.frictionless_velocity(draft / factor, density)
    area = area_rule.round_area(diameter)
    expected = velocity * area
    us = system == "US"
    said = [show(q, system, k) for q, k in ((draft, "draft"), (density, "density"), (diameter, "diameter"))]
    return Exercise(
        question=(
            f"A vent of {said[2]} has {said[0]} of theoretical draft. Friction, fittings and exit come to {factor:g} "
            f"velocity heads; the gas weighs {said[1]}. How much gas rises, by volume, when all the draft is used up?"
        ),
        expected=expected,
        tolerance=0.02 * expected,
        hints=(
            "Draft = 7 x rho v² / 2; then volume flow = v x area.",
            "One in. w.c. is 167.3 lb/(ft·s²)." if us else "v = √(2 Δp / (7 ρ)).",
        ),
        solution=f"v = √(2 Δp / (7 ρ)) = {show(velocity, system)}; times the area {show(expected, system)}.",
        slips=(
            Slip(factor**0.5 * expected, "That is one velocity head only: the flow without any friction."),
            Slip(expected / 2.0**0.5, "The 2 of the velocity head is missing: rho v² / 2."),
            Slip(4.0 * expected, "The area of a circle is pi D² / 4: the 4 is missing."),
        ),
        example="40 cfm" if us else "0.02 m**3/s",
    )


def _dilution(system: str) -> Exercise:
    heat, before, behind = Q_(100.0, "MBH"), Q_(0.455, "kg/MJ"), Q_(0.66, "kg/MJ")
    expected = (heat * (behind - before)).to("kg/s")
    us = system == "US"
    shown = [
        f"{q.m_as('lb/MBH/hour'):.2f} lb per 1000 Btu" if us else f"{q.m_as('kg/MJ'):.3g} kg/MJ"
        for q in (before, behind)
    ]
    return Exercise(
        question=(
            f"A boiler of {show(heat, system)} makes {shown[0]} of flue gas. Behind its draft hood, at 5.3 % CO2, it "
            f"is {shown[1]}. How much room air does the hood draw in?"
        ),
        expected=expected,
        tolerance=0.03 * expected,
        hints=("What is more behind the hood is room air.", "Take the difference, times the heat input."),
        solution=f"Input times the difference: {show(expected, system)}.",
        slips=(
            Slip((heat * behind).to("kg/s"), "That is all the gas behind the hood."),
            Slip((heat * before).to("kg/s"), "That is the flue gas alone."),
        ),
        example="80 lb/hour" if us else "0.010 kg/s",
    )


def _elbows(system: str) -> Exercise:
    diameter, factor, count = Q_(4.0, "inch"), 0.035, 4
    loss = fittings.fitting("elbow 90").loss
    expected = count * fittings.equivalent_length(loss, diameter, factor)
    us = system == "US"
    return Exercise(
        question=(
            f"A pressurised vent of {show(diameter, system, 'diameter')} has four 90 degree elbows of K = {loss:g} "
            f"each; its friction factor is {factor:g}. How much straight pipe loses as much as the four?"
        ),
        expected=expected,
        tolerance=0.02 * expected,
        hints=("f L / D = K.", "L = 4 K D / f, with D in the unit that L shall have."),
        solution=f"4 K D / f = {show(expected, system, 'height')}.",
        slips=(
            Slip(expected / count, "That is one elbow."),
            Slip(Q_(expected.m_as("inch") / 1.0, "ft"), "The diameter was left in inches: divide by 12."),
            Slip(expected * factor, "The friction factor was left out: L = K D / f."),
        ),
        example="20 ft" if us else "6 m",
    )


def _one_size_up(system: str) -> Exercise:
    boiler = laundry()
    season, wide = boiler.seasons[0], Q_(5.0, "inch")
    expected = vent_sizing.longest_run(rebuilt(boiler.plant, wide), season)
    narrow = vent_sizing.longest_run(boiler.plant, season)
    us = system == "US"
    return Exercise(
        question=(
            f"The laundry's vent is rebuilt in {show(wide, system, 'diameter')}. How long may its level run now be, by "
            "the physics alone, on the design winter day? (A challenge: use vent_sizing.longest_run as above.)"
        ),
        expected=expected,
        tolerance=0.02 * expected,
        hints=(
            "handbook.vent_sizing.rebuilt gives the plant with all sections of one diameter.",
            f"As drawn it was {show(narrow, system)}; losses go with nearly the fifth power of the diameter.",
        ),
        solution=f"{show(expected, system)}. The boiler's instructions still end at their own length; they govern.",
        slips=(
            Slip(narrow, "That is the vent as drawn."),
            Slip(
                boiler.plant.appliances[0].longest_run.to("m"), "That is what the instructions allow, not the physics."
            ),
        ),
        example="100 ft" if us else "30 m",
    )
