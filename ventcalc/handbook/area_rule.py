"""Area rule: the chapter's chimney, what is done about it, its start-up drawn, live controls, checks and questions."""

from dataclasses import replace
from functools import cache, partial

import numpy as np
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import materials
from ventcalc.job import job_file
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, WIDTH
from ventcalc.show.questions import load
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
    return job_file.load(tables.DATA / "jobs" / "masonry_retrofit.toml")


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


def comparison(season: str, system: str = "US") -> str:
    """The four `ways` side by side, half an hour from light-off."""
    found = started(season)
    rows = [(n, f"{ratio(p):.1f} x", *row(found[n], system)) for n, (p, _) in ways().items()]
    return table(("chimney", *HEADER), rows)


def thaw(plant: Plant, system: str = "US") -> str:
    """A flue left cold by the night on a mild morning: with and without a fan."""
    mild = retrofit().seasons[1]
    calm, none = replace(mild, room_pressure=Q_(0.0, "Pa")), Q_(0.0, "Pa")
    rows = []
    for words, fan, start in (
        ("as warm as outdoors", none, mild.outdoor),
        ("a little colder", none, Q_(50.0, "degF")),
        ("left cold by the night", none, Q_(35.0, "degF")),
        ("the same, with a fan", FAN, Q_(35.0, "degF")),
    ):
        found = cold_start.start_up(plant, calm, HALF_HOUR, fan=fan, start=start)
        rows.append((words, show(start, system), *row(found, system)[:3]))
    return table(("flue at first", "its wall", *HEADER[1:4]), rows)


# --- Figures --------------------------------------------------------------------------------------------------

_STYLES = {
    "as it stands": ("-", RUST),
    "seven times the outlet": ("-.", GREY),
    "lined": ("--", BLUE),
    "with a fan": (":", INK),
}


def sections(system: str = "US") -> Figure:
    """The outlet, seven times it, and the flue as it stands, as circles to scale."""
    figure = Figure((WIDTH, 2.3))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    plant = retrofit().plant
    outlet, flue = (
        float(d.m_as("m")) for d in (plant.appliances[0].outlet_diameter, single_vent.rise_section(plant).diameter)
    )
    angle = np.linspace(0.0, 2.0 * np.pi, 90)
    named = (("outlet", outlet), ("seven times its area", 7.0**0.5 * outlet), ("the flue", flue))
    for at, (words, wide) in zip((0.0, 0.62, 1.24), named, strict=True):
        axes.fill(at + 0.5 * wide * np.cos(angle), 0.5 * wide * np.sin(angle), fc="none", ec=INK, lw=2.0)
        words = f"{words}\n{show(Q_(wide, 'm'), system, 'diameter')}"
        axes.text(at, -0.215, words, ha="center", va="top", size=SIZE, color=INK)
    axes.set(aspect="equal", xlim=(-0.3, 1.55), ylim=(-0.33, 0.18))
    axes.set_axis_off()
    return figure


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
        "start": slider("Flue at first", degrees, 288.7),
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
    return told + "</p>" + table(HEADER, rows), picture(_one(found, system))


def _one(found: StartUp, system: str) -> Figure:
    figure, (left, right) = row_of_axes(2, 2.8)
    share = found.flow / found.flue
    left.plot(found.time, share, "-", color=INK, lw=1.9)
    left.axhline(1.0, color=RUST, lw=1.0, ls="--", label="below: it spills")
    left.set(xlim=(0.0, 120.0), ylim=(0.0, max(2.0, 1.1 * float(share[found.time <= 120.0].max()))))
    for kelvin, style, color, words in (
        (found.top, "-", INK, "gas at the top"),
        (found.wall, "-", BLUE, "wall there"),
        (found.dew_point, "--", RUST, "dew point"),
    ):
        right.plot(found.time / 60.0, _degrees(kelvin, system), style, color=color, lw=1.8, label=words)
    plain(left, "time from light-off, s", "flow / flue gas made (ratio)")
    plain(right, "time from light-off, min", axis("temperature", "temperature", system))
    for axes in (left, right):
        legend(axes)
    return figure


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
