"""Area rule: the chapter's chimney, what is done about it, its start-up, live controls, prediction and questions."""

from dataclasses import replace
from functools import cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import materials, stack_effect
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.job import job_file
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import area_rule, cold_start, single_vent, vent_sizing
from ventcalc.vent.cold_start import StartUp
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season

LINER, LINED = Q_(5.0, "inch"), "Type B gas vent"
FAN = Q_(0.04, "inH2O")
HALF_HOUR = Q_(30.0, "minute")


def retrofit() -> job_file.Job:
    """The demo job: a water heater left alone on the chimney that it once shared with a furnace."""
    return job_file.demonstration("masonry_retrofit")


def outlet_area(plant: Plant) -> Quantity:
    """Area of the appliance's outlet."""
    return area_rule.round_area(plant.appliances[0].outlet_diameter)


def flue_area(plant: Plant) -> Quantity:
    """Area of the rise."""
    return area_rule.round_area(single_vent.rise_section(plant).diameter)


def ratio(plant: Plant) -> float:
    """Flue area over outlet area."""
    return float(area_rule.area_ratio(flue_area(plant), outlet_area(plant)).m_as(""))


@cache
def ways() -> dict[str, tuple[Plant, Quantity]]:
    """The chimney as it stands and what may be done about it: the plant, and the pressure of an induced-draft fan."""
    plant, none = retrofit().plant, Q_(0.0, "Pa")
    seven = cold_start.with_flue(plant, area_rule.times() ** 0.5 * plant.appliances[0].outlet_diameter)
    lined = cold_start.with_flue(plant, LINER, materials.material(LINED))
    return {
        "as it stands": (plant, none),
        "seven times the outlet": (seven, none),
        "lined": (lined, none),
        "with a fan": (plant, FAN),
    }


@cache
def started(season: str, steps: int = 120) -> dict[str, StartUp]:
    """Half an hour from light-off of each of the `ways`, in a season of the job."""
    weather = next(s for s in retrofit().seasons if s.name == season)
    return {n: cold_start.start_up(p, weather, HALF_HOUR, fan=f, steps=steps) for n, (p, f) in ways().items()}


def _after(seconds: float | None) -> str:
    """A time in words."""
    if seconds is None:
        return f"not within {HALF_HOUR.m_as('minute'):.0f} min"
    return "at once" if seconds == 0.0 else f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.1f} min"


def row(found: StartUp, system: str) -> tuple[str, ...]:
    """What is told of a start-up: velocity at the end, spill, when it ends, water, when the wall is dry."""
    velocity, spilled, condensed = (
        show(Q_(float(value), unit), system)
        for value, unit in ((found.velocity[-1], "m/s"), (found.spilled, "kg"), (found.condensed[-1], "kg"))
    )
    return velocity, spilled, _after(found.draws_after), condensed, _after(found.dry_after)


HEADER = ("flue over outlet", "gas rises at", "flue gas spilled", "draws after", "water condensed", "wall dry after")


def rules(system: str = "US") -> HTML:
    """What codes say of areas; their numbers are the same in both unit systems."""
    del system
    found = [r for r in tables.read("capacity_rules") if r["name"].startswith("area")]
    rows = [(f"{r['value']} {r['unit']}", r["what"], r["source"], r["status"]) for r in found]
    return HTML(table(("number", "what it says", "section", "status"), rows))


_MOMENTS = (0.0, 5.0, 10.0, 20.0, 40.0, 60.0, 1800.0)  # s after light-off


def moments(found: StartUp, system: str = "US") -> HTML:
    """What a flue takes of the flue gas, how fast it rises, and its wall, at a few moments of a start."""
    rows = []
    for seconds in _MOMENTS:
        k = int(abs(found.time - seconds).argmin())
        speed, wall = show(Q_(float(found.velocity[k]), "m/s"), system), show(Q_(float(found.wall[k]), "K"), system)
        rows.append((f"{found.time[k]:,.0f} s", f"{found.flow[k] / found.flue:.2f}", speed, wall))
    return HTML(table(("after", "takes, of the flue gas", "gas rises at", "wall at the top"), rows))


def comparison(season: str, system: str = "US") -> HTML:
    """The four `ways` side by side, half an hour from light-off."""
    found = started(season)
    rows = [(n, f"{ratio(p):.1f} x", *row(found[n], system)) for n, (p, _) in ways().items()]
    return HTML(table(("chimney", *HEADER), rows))


COLD_MORNING = Q_(35.0, "degF")  # masonry after a frosty night


@cache
def _morning(start: Quantity, fan: Quantity) -> StartUp:
    """A start of the chimney as it stands on the job's mild day, its room still, its flue at first so cold."""
    calm = replace(retrofit().seasons[1], room_pressure=Q_(0.0, "Pa"))
    return cold_start.start_up(retrofit().plant, calm, HALF_HOUR, fan=fan, start=start)


def thaw(system: str = "US") -> HTML:
    """A flue left cold by the night on a mild morning: with and without a fan."""
    rows, none = [], Q_(0.0, "Pa")
    for words, fan, start in (
        ("as warm as outdoors", none, retrofit().seasons[1].outdoor),
        ("a little colder", none, Q_(50.0, "degF")),
        ("left cold by the night", none, COLD_MORNING),
        ("the same, with a fan", FAN, COLD_MORNING),
    ):
        rows.append((words, show(start, system), *row(_morning(start, fan), system)[:3]))
    return HTML(table(("flue at the start", "its wall", *HEADER[1:4]), rows))


# --- Figures --------------------------------------------------------------------------------------------------

_STYLES = {
    "as it stands": ("-", RUST),
    "seven times the outlet": ("-.", GREY),
    "lined": ("--", BLUE),
    "with a fan": (":", INK),
}


def _degrees(kelvin, system: str):
    return number(kelvin, "K", "temperature", system)


def start_figure(season: str, system: str = "US") -> Figure:
    """The first two minutes: what the flue takes of the flue gas. Half an hour: its wall against the dew point."""
    figure, (left, right) = row_of_axes(2, 3.4)
    for name, found in started(season).items():
        style, color = _STYLES[name]
        left.plot(found.time, found.flow / found.flue, style, color=color, lw=1.9, label=name)
        right.plot(found.time / 60.0, _degrees(found.wall, system), style, color=color, lw=1.9)
    left.axhline(1.0, color=INK, lw=0.8)
    left.text(118.0, 0.95, "below the line flue gas spills", ha="right", va="top", size=SIZE, color=INK)
    left.set(xlim=(0.0, 120.0), ylim=(0.0, None))
    first = started(season)["as it stands"]
    dew = _degrees(first.dew_point, system)
    right.plot(first.time / 60.0, dew, color=GREY, lw=4.0, alpha=0.5)
    right.annotate("dew point, as it stands", (30.0, dew[-1]), (0, -4), textcoords="offset points", ha="right",
                   va="top", size=SIZE, color=INK)  # fmt: skip
    plain(left, "time from light-off, s", "flow / flue gas made (ratio)")
    plain(right, "time from light-off, min", axis("wall at the top", "temperature", system))
    figure.legend(*left.get_legend_handles_labels(), fontsize=SIZE, frameon=False, loc="upper center", ncols=4)
    return figure


# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[checked.Check, ...]:
    """The rule of seven and the areas of the code's example that applies it."""
    areas = {k: area_rule.round_area(Q_(d, "inch")) for k, d in (("V214", 9.0), ("V215", 4.0))}
    example = {"W7e": area_rule.times() * Q_(12.2, "inch**2")}
    return checked.compare("vent_capacity_checks", {"V507": area_rule.times()} | areas) + checked.compare(
        "capacity_tables_checks", example
    )


# --- Live controls --------------------------------------------------------------------------------------------

FLUES = {
    "tile-lined masonry": "tile-lined masonry chimney",
    "Type B liner": LINED,
    "insulated liner": "insulated chimney",
}
_INCHES, _MILLIMETERS = (4, 5, 6, 8, 10, 10.6, 12.4, 16, 20), (102, 125, 150, 200, 250, 269, 315, 400, 500)


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; values in SI."""
    rooms = steps("draft", system, np.arange(-0.020, 0.0041, 0.004), range(-5, 2))
    fans = steps("draft", system, np.arange(0.0, 0.101, 0.02), range(0, 26, 5))
    degrees = steps("temperature", system, range(-10, 96, 5), range(-24, 37, 3))
    return {
        "flue": choice("Flue", list(FLUES.items()), FLUES["tile-lined masonry"]),
        "diameter": slider("Flue diameter", steps("diameter", system, _INCHES, _MILLIMETERS), 0.315),
        "heat_input": slider("Input", steps("heat rate", system, range(30, 151, 10), range(9, 46, 3)), 14653.0),
        "outdoor": slider("Outdoors", degrees, 288.7),
        "start": slider("Flue at the start", degrees, 288.7),
        "room": slider("Room pressure", rooms, -2.99),
        "fan": slider("Fan", fans, 0.0),
    }


def explorer(system: str = "US") -> Panel:
    """The retrofit's chimney with another flue, burner, weather, room or fan: half an hour from light-off."""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str, *, flue: str, diameter: float, heat_input: float, outdoor: float, start: float, room: float, fan: float
) -> tuple[str, bytes]:
    """The rule's verdict and the start-up; material's name, m, W, K, K, Pa, Pa."""
    plant = single_vent.with_input(retrofit().plant, Q_(heat_input, "W"))
    plant = cold_start.with_flue(plant, Q_(diameter, "m"), materials.material(flue))
    season = Season("chosen", Q_(outdoor, "K"), Q_(70.0, "degF"), room_pressure=Q_(room, "Pa"))
    found = cold_start.start_up(plant, season, HALF_HOUR, fan=Q_(fan, "Pa"), start=Q_(start, "K"), steps=60)
    kept = "keeps" if area_rule.allows(flue_area(plant), outlet_area(plant)) else "breaks"
    told = f"<p>The flue <b>{kept}</b> the rule of {area_rule.times():g}."
    if found.flow[0] == 0.0:
        told += " <b>Nothing rises at light-off: all flue gas spills into the room.</b>"
    elif found.spilled > 0.0:
        told += " <b>Flue gas spills into the room at first.</b>"
    rows = [(f"{ratio(plant):.1f} x", *row(found, system))]
    return told + "</p>" + table(HEADER, rows), picture(_one(found, plant, system))


def _one(found: StartUp, plant: Plant, system: str) -> Figure:
    """The areas to scale, what the flue takes, and its gas and wall against the dew point."""
    figure = Figure((WIDTH, 3.5))
    _draw_areas(figure.add_axes((0.0, 0.02, 0.25, 0.96)), plant, system)
    left, right = figure.add_axes((0.335, 0.16, 0.245, 0.64)), figure.add_axes((0.705, 0.16, 0.28, 0.64))
    share = found.flow / found.flue
    left.plot(found.time, share, "-", color=INK, lw=1.9)
    left.axhline(1.0, color=RUST, lw=1.0, ls="--", label="below: it spills")
    left.set(xlim=(0.0, 120.0), ylim=(0.0, max(2.0, 1.1 * float(share[found.time <= 120.0].max()))))
    for kelvin, style, color, words in (
        (found.top, "-", INK, "gas at the top"),
        (found.wall, "-.", BLUE, "wall there"),
        (found.dew_point, "--", RUST, "dew point"),
    ):
        right.plot(found.time / 60.0, _degrees(kelvin, system), style, color=color, lw=1.8, label=words)
    plain(left, "from light-off, s", "flow / flue gas made (ratio)")
    plain(right, "from light-off, min", axis("temperature", "temperature", system))
    for axes in (left, right):
        legend(axes, loc="lower center", bbox_to_anchor=(0.45, 1.0), labelspacing=0.2, borderaxespad=0.2)
    return figure


def _draw_areas(axes: Axes, plant: Plant, system: str) -> None:
    """The outlet, seven times it, and the flue as circles to one scale that touch at the foot."""
    outlet = float(plant.appliances[0].outlet_diameter.m_as("m"))
    flue, angle = float(single_vent.rise_section(plant).diameter.m_as("m")), np.linspace(0.0, 2.0 * np.pi, 90)
    allowed = area_rule.times() ** 0.5 * outlet
    for wide, style, color, lw in ((flue, "-", INK, 2.2), (allowed, "--", GREY, 1.6), (outlet, "-", RUST, 1.8)):
        axes.plot(0.5 * wide * np.cos(angle), 0.5 * wide * (1.0 + np.sin(angle)), style, color=color, lw=lw)
    widest = max(flue, allowed)
    axes.set(aspect="equal", xlim=(-0.55 * widest, 0.55 * widest), ylim=(-0.75 * widest, 1.4 * widest))
    axes.set_axis_off()
    told = ((1.25, "flue", flue, INK), (-0.20, f"- - {area_rule.times():g} outlets", allowed, GREY),
            (-0.42, "outlet", outlet, RUST))  # fmt: skip
    for y, words, wide, color in told:
        at = {"ha": "center", "va": "center", "size": SIZE, "color": color}
        axes.text(0.0, y * widest, f"{words} {show(Q_(wide, 'm'), system, 'diameter')}", **at)


# --- Prediction, and what is to be written ----------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a flue that the night left cold."""
    return predict("area_rule", cold_morning, system)


AT_ONCE = 60.0  # s: a flue that draws so soon has started


def cold_morning(start: Quantity) -> dict[str, Quantity | float]:
    """What the first half hour of the heater does on a mild morning, with a flue so cold at first."""
    found = _morning(start, Q_(0.0, "Pa"))
    late = found.draws_after is None
    mild = retrofit().seasons[1].outdoor
    return {
        "right": 2 if late else 0 if found.draws_after <= AT_ONCE else 1,
        "figure": Q_(float(found.spilled), "kg"),
        "outdoor": mild,
        "push": Q_(float(-_part_filled(single_vent.rise_section(retrofit().plant).rise, 0.0, mild, mild, start)), "Pa"),
    }


def _part_filled(height: Quantity, share: float, outdoor: Quantity, gas: Quantity, cold: Quantity) -> float:
    """Draft [Pa] of a flue with gas in this share of its height and cold air above it, both taken for dry air."""
    pressure = atmosphere.standard_pressure(Q_(0.0, "ft"))
    air, warm, heavy = (flue_gas.density(Gas.dry_air(), t, pressure) for t in (outdoor, gas, cold))
    filled = stack_effect.theoretical_draft(share * height, air, warm)
    return float((filled + stack_effect.theoretical_draft((1.0 - share) * height, air, heavy)).m_as("Pa"))


def writing(system: str = "US") -> Writing:
    """The draft of a flue that is partly filled, to be written by the reader."""
    return load_writing("area_rule", part_filled, system)


def part_filled(
    height: Quantity, reached: Quantity, outdoor: Quantity, gas: Quantity, cold: Quantity, system: str
) -> dict[str, Quantity]:
    """Draft of a flue with gas up to a height and cold air above it, and what it becomes by slips."""
    share = float((reached / height).m_as(""))
    answer = _part_filled(height, share, outdoor, gas, cold)
    plain_degrees, absolute = ("degF", "degR") if system == "US" else ("degC", "K")
    right, slipped = (
        height.m / o - reached.m_as(height.u) / g - (height.m - reached.m_as(height.u)) / c
        for o, g, c in ((t.m_as(unit) for t in (outdoor, gas, cold)) for unit in (absolute, plain_degrees))
    )
    pressures = {
        "answer": answer,
        "not_absolute": answer * slipped / right,
        "all_gas": _part_filled(height, 1.0, outdoor, gas, cold),
        "no_cold": _part_filled(height, share, outdoor, gas, outdoor),
        "upside_down": -answer,
    }
    return {name: Q_(pressure, "Pa") for name, pressure in pressures.items()}


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("area_rule", (areas, filling, liner, water_spared), system, seed)


def areas(times: int) -> dict[str, Quantity | str | int]:
    """Ratio of the areas of two circles, and how far above the rule it is."""
    square = times**2
    above = ("", "twice", "three times")[int(square / area_rule.times()) - 1]
    figures = {"answer": Q_(float(square), ""), "diameters": Q_(float(times), ""), "twice": Q_(2.0 * times, "")}
    return figures | {"square": square, "above": above}


def filling(flow: Quantity) -> dict[str, Quantity]:
    """Seconds that gas takes to push the cold air out of the flue, and out of its liner."""
    height, area = single_vent.rise_section(retrofit().plant).rise, flue_area(retrofit().plant)
    wide, narrow = ((height * a / flow).to("s") for a in (area, area_rule.round_area(LINER)))
    return {"answer": wide, "liner_alone": narrow, "height": height, "area": area, "liner": LINER}


def liner(diameter: Quantity) -> dict[str, Quantity]:
    """Greatest input of the chimney lined so wide, and as it stands, on the design winter day."""
    plant, season = retrofit().plant, retrofit().seasons[0]
    lined = cold_start.with_flue(plant, diameter, materials.material(LINED))
    return {"answer": vent_sizing.capacity(lined, season), "as_it_stands": vent_sizing.capacity(plant, season)}


def water_spared() -> dict[str, Quantity]:
    """Share of the water that a liner spares in half an hour of a design winter day."""
    found = started(retrofit().seasons[0].name)
    wet, lined = (Q_(float(found[n].condensed[-1]), "kg") for n in ("as it stands", "lined"))
    left = (lined / wet).to("")
    return {"answer": (1.0 - left).to("percent"), "wet": wet, "lined": lined, "left": left}
