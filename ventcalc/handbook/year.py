"""How often, the chapter: the swimming hall through a year, beside two remedies; live controls, checks, questions."""

from dataclasses import replace
from functools import cache, partial
from types import MappingProxyType
from typing import Any

import ipywidgets as widgets
import numpy as np
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.building import climate, visible_plume, weather
from ventcalc.building.weather import HOURS_A_DAY, Weather
from ventcalc.checked import Check, compare
from ventcalc.gas import atmosphere
from ventcalc.handbook import common_vent
from ventcalc.job import (
    device_remedies,
    job_file,
    plant_load,
    remedies,
    staging,
    wall_memory,
    year,
    year_findings,
)
from ventcalc.job.design import Design, drawn
from ventcalc.job.job_file import Job
from ventcalc.job.plant_load import LoadPlan
from ventcalc.job.year import AIR_HEAT, HardDay, Year
from ventcalc.job.year_hours import YearPlan
from ventcalc.show import year_plots, year_records
from ventcalc.show.axes import axis, label, legend, number, one_axes, picture, plain, two_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, counted, percents, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, SIZE
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, ZERO_CELSIUS, Quantity, show
from ventcalc.vent import firing_states

# --- A plant through its year -----------------------------------------------------------------------------------

DRAWN, BOTH, FAN = "as drawn", "fan and damper", "fan"
NAMES = (DRAWN, BOTH, FAN)


@cache
def hall() -> Job:
    """The swimming hall of the demonstration jobs."""
    return job_file.demonstration("swim_hall")


@cache
def designs() -> MappingProxyType[str, Design]:
    """The hall as drawn, with the fan and the damper that its file offers, and with a fan alone at their set point."""
    job = hall()
    scan = firing_states.scan(job.plant, job.seasons)
    offered = remedies.named(job, scan)
    fan = device_remedies.fan_in_stack(job, job.plant, offered.set_point, scan.conditions)
    return MappingProxyType({DRAWN: drawn(job), BOTH: Design(job, offered), FAN: Design(job, fan)})


@cache
def hours() -> Weather:
    """The typical year of the hall's climate."""
    return climate.typical_year(hall().year.climate)


@cache
def through(name: str) -> Year:
    """One of the `designs` in every hour of that year; takes seconds the first time."""
    return year.year(designs()[name], hours())


@cache
def hard(name: str) -> tuple[HardDay, ...]:
    """The same on the coldest and on the windiest day of twenty invented years."""
    return year.hard_days(designs()[name])


@cache
def records(system: str) -> dict[str, Any]:
    """The year of the hall with fan and damper, beside that as drawn and that with a fan alone."""
    return year_records.records(through(BOTH), system, (through(DRAWN), through(FAN)), hard(BOTH))


def given_table(system: str) -> str:
    """Weather and load of the hall's year."""
    load_, outdoors = hall().year.load, hours()
    ends = (show(Q_(float(t), "K"), system) for t in (outdoors.temperature.min(), outdoors.temperature.max()))
    day = f"{show(Q_(load_.design, 'W'), system)} at {show(Q_(load_.design_outdoor, 'K'), system)}"
    rows = (
        ("weather", outdoors.name),
        ("coldest and warmest hour", " and ".join(ends)),
        ("load on the design day", day),
        ("base load in it (pool, hot water)", show(Q_(load_.base, "W"), system)),
        ("heating off above", show(Q_(load_.limit, "K"), system)),
        ("firing order", hall().year.staging.order),
    )
    return table(("", "taken"), rows)


def page_one_words(system: str) -> str:
    """What page one may say to the owner."""
    found = records(system)
    return "\n".join((*found["words"], found["basis"]))


def failure_table(name: str, system: str) -> str:
    """All that goes wrong in the year of one of the `designs`, and when."""
    rows = [
        (_title(f), _often(f), f"{f.days}", f.when(system), f"{f.longest:,} h", show(Q_(f.temperature, "K"), system))
        for f in year_findings.failures(through(name))
    ]
    return table(("what", "how often", "days", "when", "longest run", "mean outdoors then"), rows)


def _title(failure: year_findings.Failure) -> str:
    return year_records.title(failure.kind, failure.subject)


def _often(failure: year_findings.Failure) -> str:
    return year_records.amount(failure.kind, failure.hours)["shown"]


def compared_table(rows: str, system: str) -> str:
    """The ``totals`` or the ``failures`` of all designs, side by side."""
    found = records(system)["compared"]
    told = [(row["title"], *(_cell(row, cell, system) for cell in row["cells"])) for row in found[rows]]
    return table(("in a year", *found["designs"]), told)


def _cell(row: dict[str, Any], cell: dict[str, Any], system: str) -> str:
    """A cell of `compared_table`; the heat of the burners is too much to be counted in kilowatt-hours."""
    return heat_text(Q_(cell["value"], cell["unit"]), system, 3) if row.get("code") == "heat" else cell["shown"]


def heat_text(heat: Quantity, system: str, digits: int | None = None) -> str:
    """The heat of a year as text, to so many digits or to the whole unit."""
    value, unit = (heat.m_as("Btu") / 1e6, "million Btu") if system == "US" else (heat.m_as("MWh"), "MWh")
    return f"{float(f'{value:.{digits}g}') if digits else value:,.0f} {unit}"


def hard_table(system: str) -> str:
    """Every design on the hard days."""
    rows = []
    for name in NAMES:
        for day in year_records.records(through(name), system, (), hard(name))["hard_days"]:
            which = f"{day['appliance']}, {day['beyond']['shown']}" if day["appliance"] else "none"
            weather_ = f"{day['outdoors']['shown']}, {day['wind']['shown']}"
            rows.append((name, day["kind"], weather_, day["outside"]["shown"], day["spill"]["shown"], which))
    heads = ("design", "day", "mean weather", "outside a window", "flue gas in the room", "farthest beyond a window")
    return table(heads, rows)


# --- Figures ------------------------------------------------------------------------------------------------------

_LOOKS = (BLUE, PALE, GREY)


def load_figure(system: str) -> Figure:
    """What is asked for by outdoor temperature, and which boiler carries it, by two orders of firing."""
    job = hall()
    plan, appliances = job.year.load, job.plant.appliances
    outdoor = np.linspace(plan.design_outdoor - 5.0, plan.limit + 8.0, 200)
    asked = plant_load.load(plan, outdoor, np.ones(outdoor.size, bool))
    figure, (left, middle) = two_axes(3.1)
    left.plot(*_in(system, outdoor, asked), color=INK, lw=2.0)
    left.axvline(float(number(plan.limit, "K", "temperature", system)), color=GREY, lw=1.0, ls="--")
    left.set_ylim(0.0, None)
    plain(left, axis("outdoors", "temperature", system), axis("heat input", "heat rate", system), "asked for")
    watts = np.linspace(0.0, plant_load.installed(appliances), 240)
    fired = staging.fire(appliances, job.year.staging, watts, np.zeros(watts.size))
    parts = [
        fired.share * staging.input_of(a, on) + (1.0 - fired.share) * staging.input_of(a, off)
        for a, on, off in zip(appliances, fired.codes, fired.rest, strict=True)
    ]
    load_, shares = (number(v, "W", "heat rate", system) for v in (watts, np.array(parts)))
    hatches = ("", "////", "....")
    for i, (a, color) in enumerate(zip(appliances, _LOOKS, strict=True)):
        below = shares[:i].sum(axis=0)
        middle.fill_between(load_, below, below + shares[i], fc=color, ec=INK, lw=0.7, hatch=hatches[i], label=a.name)
    plain(middle, axis("load", "heat rate", system), "", f"carried, {job.year.staging.order}")
    legend(middle, loc="upper left")
    return figure


def _in(system: str, kelvin: np.ndarray, watts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return number(kelvin, "K", "temperature", system), number(watts, "W", "heat rate", system)


# --- What the chapter stands on ---------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Hours of the calendar, degree-days, the least vapor that shows as a plume, and the lag of a wall."""
    cold = climate.year("cold")
    found: dict[str, Any] = {"YR01": float(len(cold))}
    degrees = weather.degree_days(Q_(cold.temperature, "K"), Q_(65.0, "degF"))
    found["YR02"] = float(degrees.m_as("delta_degF*day"))
    for row in ("YR03", "YR04", "YR05", "YR06"):
        told = tables.row("year_checks", row)
        found[row] = Q_(least_vapor(*(float(told[key]) for key in ("outdoor_C", "humidity", "gas_C"))), "")
    hour = np.ones((1, 2), bool)
    found["YR07"] = float(wall_memory.carry(np.array([wall_memory.HOUR]), hour, hour, np.ones(2), 6.0).start[0, 1])
    return compare("year_checks", found)


def least_vapor(outdoor: float, humidity: float, gas: float) -> float:
    """Least mole fraction of water in flue gas with which a plume is seen; degC, ratio, degC, at sea level."""
    pressure = atmosphere.SEA_LEVEL_PRESSURE
    air = float(atmosphere.water_vapor_fraction.bare(outdoor + ZERO_CELSIUS, humidity, pressure))
    full = float(atmosphere.saturation_pressure.bare(gas + ZERO_CELSIUS)) / pressure

    def over(vapor: float) -> float:
        kelvin = outdoor + ZERO_CELSIUS, gas + ZERO_CELSIUS
        return float(visible_plume.over_saturation.bare(*kelvin, air, vapor, pressure))

    return brentq(over, 1e-4, full)


# --- Live controls --------------------------------------------------------------------------------------------------

# A week of each season, from a Monday of the weather's calendar: what a control can wait for.
WEEKS = (1, 14, 27, 40)
SEASONS = ("January", "April", "July", "October")
_DAYS = 7


@cache
def lodge() -> Job:
    """The mountain lodge: two boilers on one stack, no fan."""
    return job_file.demonstration("lodge")


@cache
def four_weeks(name: str) -> Weather:
    """A week of January, April, July and October of a climate's typical year."""
    typical = climate.typical_year(name)
    days = np.concatenate([np.arange(w * _DAYS, (w + 1) * _DAYS) for w in WEEKS])
    return typical[(days[:, None] * HOURS_A_DAY + np.arange(HOURS_A_DAY)).ravel()]


def controls(system: str = "US") -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name."""
    job = lodge()
    return {
        "place": choice("Climate", climate.names(), job.year.climate),
        "design": slider("Design load", percents(range(40, 121, 10)), 0.8),
        "base": slider("Base load", percents(range(0, 41, 5)), 0.1),
        "order": choice("Firing order", staging.ORDERS, job.year.staging.order),
        "height": slider("Stack height", common_vent.stack_heights(job.plant, system), 1.0),
        "setback": slider("At night", [(f"{v} % of the heat", v / 100) for v in (0, 25, 50, 75, 100)], 1.0),
        "starts": slider("Starts at half load", counted((2, 3, 4, 6, 9, 12), "an hour"), 6.0),
    }


def explorer(system: str = "US") -> Panel:
    """The lodge's four weeks with another load, order of firing, climate or stack."""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str, *, place: str, design: float, base: float, order: str, height: float, setback: float, starts: float
) -> tuple[str, bytes]:
    """Hours of four weeks in which something is wrong, and the picture of them.

    ``design`` and ``base`` are shares of the installed heat input, ``height`` a factor on the stack; by night, before
    six and from twenty-two o'clock, ``setback`` of the heating is asked for.
    """
    found = live(place, design, base, order, height, setback, starts)
    total = year_findings.totals(found)
    rows = [
        (year_records.title(f.kind, f.subject), _often(f), " ".join(_by_week(f)))
        for f in year_findings.failures(found)
        if f.kind != "plume"
    ]
    water, lost, burned = (
        show(Q_(value, unit), system)
        for value, unit in ((total.condensate, "kg"), (total.idle_heat, "J"), (total.heat, "J"))
    )
    sums = (
        f"{len(found.hours)} hours, {total.outside:,.0f} with an outlet outside its window; {total.starts:,.0f} "
        f"starts; condensate {water}; a plume in {total.plume:,.0f} h; heat drawn out through idle boilers {lost} of "
        f"{burned} burned."
    )
    short = float((found.hours.firing.unmet > 0.0).sum())
    if short:
        sums += f" The boilers cannot carry the load in {short:.0f} h."
    told = table(("what", "how often", "January, April, July, October"), rows) if rows else "<p>Nothing is wrong.</p>"
    return f"<p>{sums}</p>{told}", picture(weeks_figure(found, system))


def _by_week(failure: year_findings.Failure) -> list[str]:
    """Hours or starts of a failure in each of the `SEASONS`."""
    return [f"{failure.months[3 * k]:,.0f}{',' if k < len(SEASONS) - 1 else ''}" for k in range(len(SEASONS))]


def live(place: str, design: float, base: float, order: str, height: float, setback: float, starts: float) -> Year:
    """The lodge through `four_weeks`; shares of the installed input, a factor on the stack."""
    job = lodge()
    plant = common_vent.varied(job.plant, height=height)
    installed = plant_load.installed(plant.appliances)
    asked = replace(
        job.year.load, design=design * installed, base=min(base, design) * installed, start=6.0, stop=22.0,
        setback=setback,
    )  # fmt: skip
    plan = YearPlan(place, job.year.terrain, asked, replace(job.year.staging, order=order, most_starts=starts))
    return year.year(drawn(replace(job, plant=plant)), four_weeks(place), plan)


# Dark below a window, light above it, in a gray print too.
_BEYOND = LinearSegmentedColormap.from_list("beyond a window", year_plots.TONES)


def weeks_figure(found: Year, system: str) -> Figure:
    """Hour by day of four weeks: how far the outlet that is worst then leaves its window."""
    beyond = number(found.beyond, "Pa", "draft", system)
    worst = np.take_along_axis(beyond, np.abs(beyond).argmax(axis=0)[None], axis=0)[0]
    by_day = found.hours.weather.by_day(worst)
    figure, axes = one_axes(2.9)
    least = float(number(1.0, "Pa", "draft", system))  # so that a blank picture has a scale
    most = max(least, float(np.abs(by_day).max()))
    mesh = axes.pcolormesh(
        np.arange(len(by_day) + 1), np.arange(HOURS_A_DAY + 1), by_day.T, cmap=_BEYOND, vmin=-most, vmax=most
    )
    spill = found.hours.weather.by_day(found.into_room.max(axis=0)) > 0.0
    day, hour = np.nonzero(spill)
    axes.plot(day + 0.5, hour + 0.5, "x", color=INK, ms=3.5, mew=0.9, label="flue gas in the room")
    for week in range(1, len(WEEKS)):
        axes.axvline(week * _DAYS, color=INK, lw=1.0)
    axes.set_xticks([(k + 0.5) * _DAYS for k in range(len(WEEKS))], SEASONS)
    axes.set_yticks([0, 6, 12, 18, 24])
    plain(axes, "a week of", "hour of the day")
    axes.grid(False)
    bar = figure.colorbar(mesh, ax=axes, pad=0.01)
    bar.set_label(f"beyond a window, {label('draft', system)}", size=SIZE)
    bar.ax.tick_params(labelsize=SIZE)
    if day.size:
        figure.legend(loc="outside upper right", fontsize=SIZE, frameon=False)
    return figure


# --- Prediction, and what is to be written --------------------------------------------------------------------------

OFFERED = (20.0, 300.0, 3000.0)  # h, to choose from
SECOND = "Boiler 2"


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a boiler that can fall below its window."""
    return predict("year", below_in_a_year, system)


def below_in_a_year() -> dict[str, Any]:
    """Hours of the year in which `SECOND` is below its window as drawn; right is the nearest by its ratio."""
    found = {(f.kind, f.subject): f for f in year_findings.failures(through(DRAWN))}
    second, smallest = found["below window", SECOND], found["above window", "Boiler 3"]
    return {
        "right": int(np.argmin(np.abs(np.log(np.array(OFFERED) / second.hours)))),
        "figure": Q_(second.hours, "hour"),
        "days": second.days,
        "outdoor": Q_(second.temperature, "K"),
        "few": Q_(smallest.hours, "hour"),
        "few_days": smallest.days,
    }


def writing(system: str = "US") -> Writing:
    """The load at an outdoor temperature, to be written by the reader."""
    return load_writing("year", load_at, system)


def load_at(design: Quantity, base: Quantity, coldest: Quantity, limit: Quantity, outdoor: Quantity) -> dict[str, Any]:
    """The load at an outdoor temperature, and what it becomes by the slips that are made with it."""
    found = asked_for(design, base, coldest, limit, outdoor)
    share = Q_(found["share"], "")
    return found | {"no_limit": base + (design - base) * share, "upside_down": base + (design - base) * (1.0 - share)}


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("year", (asked_for, one_run, cold_wall, idle_heat), system, seed)


def asked_for(design: Quantity, base: Quantity, coldest: Quantity, limit: Quantity, now: Quantity) -> dict[str, Any]:
    """The load at an outdoor temperature."""
    plan = LoadPlan(*(float(v.m_as(u)) for v, u in ((design, "W"), (coldest, "K"), (base, "W"), (limit, "K"))))
    outdoor = np.array([float(now.m_as("K"))])
    answer = float(plant_load.load(plan, outdoor, np.ones(1, bool))[0])
    share = (plan.limit - outdoor[0]) / (plan.limit - plan.design_outdoor)
    figures = {"answer": answer, "without_base": answer - plan.base, "twice_base": plan.base + plan.design * share}
    figures |= {"of_design": plan.design * share}
    return {name: Q_(watts, "W") for name, watts in figures.items()} | {"share": float(share)}


def one_run(load: Quantity, least: Quantity, most: int) -> dict[str, Any]:
    """How long a burner runs at a time that must cycle at its least fire."""
    share = float((load / least).m_as(""))
    starts = float(wall_memory.cycles(np.array(share), float(most)))
    minutes = {"answer": 60.0 * share / starts, "whole": 60.0 / starts, "rest": 60.0 * (1.0 - share) / starts}
    return {name: Q_(value, "minute") for name, value in minutes.items()} | {"share": share, "starts": starts}


def cold_wall(lag: Quantity, idle: Quantity) -> dict[str, Any]:
    """How cold a wall has become after an idle time."""
    ratio = float((idle / lag).m_as(""))
    left = float(np.exp(-ratio))
    figures = {"answer": 1.0 - left, "warm": left, "straight": ratio}
    return {name: Q_(value, "").to("percent") for name, value in figures.items()} | {"ratio": ratio}


def idle_heat(flow: Quantity, room: Quantity, outdoor: Quantity, idle: Quantity) -> dict[str, Any]:
    """Heat that room air takes along through idle appliances."""
    warmed = float(room.m_as("K") - outdoor.m_as("K"))
    watts = Q_(float(flow.m_as("kg/s")) * AIR_HEAT * warmed, "W")
    year_ = Q_(float(weather.HOURS_A_YEAR), "hour")
    figures = {"answer": watts * idle, "all_year": watts * year_, "while_firing": watts * (year_ - idle)}
    return {name: value.to("kWh") for name, value in figures.items()} | {"watts": watts, "warmed": warmed}
