"""Area rule: the chapter's chimney, what is done about it, its start-up drawn, live controls, checks and questions."""

from dataclasses import replace
from functools import cache

import numpy as np
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import materials
from ventcalc.job import job_file
from ventcalc.show.axes import DOTS, label, number, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, WIDTH, png
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


def _after(seconds: float | None, most: float = 1800.0) -> str:
    """A time in words."""
    if seconds is None:
        return f"not within {most / 60.0:.0f} min"
    return "at once" if seconds == 0.0 else f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.1f} min"


def _mass(kilograms: float, system: str) -> str:
    return f"{Q_(kilograms, 'kg').m_as('lb'):.2f} lb" if system == "US" else f"{kilograms:.3f} kg"


def row(found: StartUp, system: str) -> tuple[str, ...]:
    """What is told of a start-up: velocity at the end, spill, when it ends, water, when the wall is dry."""
    return (
        show(Q_(float(found.velocity[-1]), "m/s"), system),
        _mass(found.spilled, system),
        _after(found.draws_after),
        _mass(float(found.condensed[-1]), system),
        _after(found.dry_after),
    )


HEADER = ("flue over outlet", "gas rises at", "flue gas spilled", "draws after", "water condensed", "wall dry after")


def comparison(season: str, system: str = "US") -> str:
    """The four `ways` side by side, half an hour from light-off."""
    found = started(season)
    rows = [(n, f"{ratio(p):.1f} x", *row(found[n], system)) for n, (p, _) in ways().items()]
    return table(("chimney", *HEADER), rows)


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
    outlet = float(plant.appliances[0].outlet_diameter.m_as("m"))
    flue = float(single_vent.rise_section(plant).diameter.m_as("m"))
    at = 0.0
    for words, wide in (("outlet", outlet), ("seven times its area", 7.0**0.5 * outlet), ("the flue", flue)):
        angle = np.linspace(0.0, 2.0 * np.pi, 90)
        axes.fill(at + 0.5 * wide * np.cos(angle), 0.5 * wide * np.sin(angle), fc="none", ec=INK, lw=2.0)
        size = show(Q_(wide, "m"), system, "diameter")
        axes.text(at, -0.215, f"{words}\n{size}", ha="center", va="top", size=SIZE, color=INK)
        at += 0.62
    axes.set_aspect("equal")
    axes.set_xlim(-0.3, 1.55)
    axes.set_ylim(-0.33, 0.18)
    axes.set_axis_off()
    return figure


def start_figure(season: str, system: str = "US") -> Figure:
    """The first two minutes: what the flue takes of the flue gas. Half an hour: its wall against the dew point."""
    figure, (left, right) = row_of_axes(2, 3.4)
    for name, found in started(season).items():
        style, colour = _STYLES[name]
        left.plot(found.time, found.flow / found.flue, style, color=colour, lw=1.9, label=name)
        right.plot(found.time / 60.0, number(found.wall, "K", "temperature", system), style, color=colour, lw=1.9)
    left.axhline(1.0, color=INK, lw=0.8)
    left.text(118.0, 0.95, "below the line flue gas spills", ha="right", va="top", size=SIZE, color=INK)
    left.set_xlim(0.0, 120.0)
    left.set_ylim(0.0)
    dew = started(season)["as it stands"]
    right.plot(dew.time / 60.0, number(dew.dew_point, "K", "temperature", system), color=GREY, lw=4.0, alpha=0.5)
    low = number(dew.dew_point[-1], "K", "temperature", system)
    right.annotate("dew point, as it stands", (30.0, low), (0, -4), textcoords="offset points", ha="right", va="top",
                   size=SIZE, color=INK)  # fmt: skip
    plain(left, "time from light-off, s", "flow / flue gas made (ratio)")
    plain(right, "time from light-off, min", f"wall at the top, {label('temperature', system)}")
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


def _options(system: str, kind: str, us, si):
    unit = {
        "diameter": ("inch", "mm"),
        "heat rate": ("MBH", "kW"),
        "temperature": ("degF", "degC"),
        "draft": ("inH2O", "Pa"),
    }
    values = [Q_(float(v), unit[kind][system != "US"]) for v in (us if system == "US" else si)]
    return [(show(v, system, kind), float(v.to_base_units().m)) for v in values]


_INCHES, _MILLIMETRES = (4, 5, 6, 8, 10, 10.6, 12.4, 16, 20), (102, 125, 150, 200, 250, 269, 315, 400, 500)


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; values in SI."""
    rooms = _options(system, "draft", np.arange(-0.020, 0.0041, 0.004), range(-5, 2))
    fans = _options(system, "draft", np.arange(0.0, 0.101, 0.02), range(0, 26, 5))
    return {
        "flue": choice("Flue", list(FLUES.items()), FLUES["tile-lined masonry"]),
        "diameter": slider("Flue diameter", _options(system, "diameter", _INCHES, _MILLIMETRES), 0.315),
        "heat_input": slider("Input", _options(system, "heat rate", range(30, 151, 10), range(9, 46, 3)), 14653.0),
        "outdoor": slider("Outdoors", _options(system, "temperature", range(-10, 96, 5), range(-24, 37, 3)), 288.7),
        "start": slider("Flue at first", _options(system, "temperature", range(-10, 96, 5), range(-24, 37, 3)), 288.7),
        "room": slider("Room pressure", rooms, -2.99),
        "fan": slider("Fan", fans, 0.0),
    }  # fmt: skip


def explorer(system: str = "US") -> Panel:
    """The retrofit's chimney with another flue, burner, weather, room or fan: half an hour from light-off."""
    return Panel(lambda **values: explorer_answer(system, **values), controls(system))


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
    return told + "</p>" + table(HEADER, rows), png(_one(found, system), DOTS)


def _one(found: StartUp, system: str) -> Figure:
    figure, (left, right) = row_of_axes(2, 2.8)
    left.plot(found.time, found.flow / found.flue, "-", color=INK, lw=1.9)
    left.axhline(1.0, color=RUST, lw=1.0, ls="--", label="below: it spills")
    left.set_xlim(0.0, 120.0)
    left.set_ylim(0.0, max(2.0, 1.1 * float(np.max(found.flow[found.time <= 120.0])) / found.flue))
    minutes = found.time / 60.0
    for values, style, colour, words in (
        (found.top, "-", INK, "gas at the top"),
        (found.wall, "-", BLUE, "wall there"),
        (found.dew_point, "--", RUST, "dew point"),
    ):
        right.plot(minutes, number(values, "K", "temperature", system), style, color=colour, lw=1.8, label=words)
    plain(left, "time from light-off, s", "flow / flue gas made (ratio)")
    plain(right, "time from light-off, min", f"temperature, {label('temperature', system)}")
    for axes in (left, right):
        axes.legend(fontsize=SIZE, frameon=False)
    return figure


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter."""
    return (_ratio(), _filling(system), _liner(system), _fan_and_water())


def _ratio() -> Exercise:
    expected = (12.0 / 3.0) ** 2
    return Exercise(
        question="A flue is four times as wide as the only outlet on it. How many times is its area the outlet's?",
        expected=Q_(expected, ""),
        tolerance=Q_(0.05, ""),
        hints=("Areas go with the square of diameters.", "Four times as wide: 4 x 4."),
        solution="4² = 16 times: more than twice what the rule of seven allows.",
        slips=(
            Slip(Q_(4.0, ""), "That is the ratio of diameters; the rule speaks of areas."),
            Slip(Q_(8.0, ""), "The square of four, not twice four."),
        ),
        example="5",
    )


def _filling(system: str) -> Exercise:
    plant = retrofit().plant
    height, area = single_vent.rise_section(plant).rise, flue_area(plant)
    flow = Q_(20.0, "cfm") if system == "US" else Q_(0.0095, "m**3/s")
    expected = (height * area / flow).to("s")
    said = [show(q.to_base_units(), system, k) for q, k in ((height, "height"), (area, "area"), (flow, "volume flow"))]
    narrow = (height * area_rule.round_area(LINER) / flow).to("s")
    return Exercise(
        question=(
            f"At first the cold flue takes {said[2]}. It is {said[0]} high, its area is {said[1]}. How many seconds "
            "does the gas need to push all the cold air out, if the flow stays so?"
        ),
        expected=_as_ratio(expected),
        tolerance=0.03 * _as_ratio(expected),
        hints=("Volume over volume flow.", "Mind the units of the area."),
        solution=(
            f"Volume over flow: {expected.m_as('s'):.0f} s. A liner of {show(LINER, system, 'diameter')} is full after "
            f"{narrow.m_as('s'):.0f} s. Really the flow grows as the flue fills."
        ),
        slips=(Slip(_as_ratio(narrow), "That is the liner."),),
        example="60",
    )


def _as_ratio(seconds: Quantity) -> Quantity:
    """Seconds as a plain number: what is asked for."""
    return Q_(float(seconds.m_as("s")), "")


def _liner(system: str) -> Exercise:
    plant = retrofit().plant
    season = retrofit().seasons[0]
    lined = cold_start.with_flue(plant, LINER, materials.material(LINED))
    expected = vent_sizing.capacity(lined, season)
    us = system == "US"
    return Exercise(
        question=(
            f"The chimney is lined with {show(LINER, system, 'diameter')} Type B. What is the greatest input it takes "
            "on the design winter day? (A challenge: use vent_sizing.capacity as in the chapter on vent sizing.)"
        ),
        expected=expected,
        tolerance=0.02 * expected,
        hints=(
            "cold_start.with_flue gives the plant with its liner.",
            f"As it stands the flue takes {show(vent_sizing.capacity(plant, season), system)}.",
        ),
        solution=f"{show(expected, system)}: more than enough for this heater, and the wall of the liner is warm.",
        slips=(Slip(vent_sizing.capacity(plant, season), "That is the flue as it stands."),),
        example="100 MBH" if us else "30 kW",
    )


def _fan_and_water() -> Exercise:
    found = started(retrofit().seasons[0].name)
    wet, lined = (float(found[n].condensed[-1]) for n in ("as it stands", "lined"))
    expected = 1.0 - lined / wet
    return Exercise(
        question=(
            f"In half an hour of a design winter day {wet:.2f} kg of water condense in the chimney as it stands, and "
            f"{lined:.3f} kg in its liner. What share of the water does the liner spare?"
        ),
        expected=Q_(expected, "").to("percent"),
        tolerance=Q_(1.0, "percent"),
        hints=("What is spared over what it was.", "One less what is left over what it was."),
        solution=f"1 - {lined:.3f} / {wet:.2f} = {expected:.0%}.",
        slips=(Slip(Q_(lined / wet, ""), "That share is left; what is spared is the rest."),),
        example="50 %",
    )


def winter_and_mild() -> tuple[Season, Season]:
    """The two seasons that the chapter looks at."""
    return retrofit().seasons[0], retrofit().seasons[1]


def thaw(plant: Plant, system: str = "US") -> str:
    """A flue left cold by the night on a mild morning: with and without a fan."""
    _, mild = winter_and_mild()
    calm = replace(mild, room_pressure=Q_(0.0, "Pa"))
    rows = []
    for words, p, fan, start in (
        ("as warm as outdoors", plant, 0.0, mild.outdoor),
        ("a little colder", plant, 0.0, Q_(50.0, "degF")),
        ("left cold by the night", plant, 0.0, Q_(35.0, "degF")),
        ("the same, with a fan", plant, float(FAN.m_as("Pa")), Q_(35.0, "degF")),
    ):
        found = cold_start.start_up(p, calm, HALF_HOUR, fan=Q_(fan, "Pa"), start=start)
        rows.append((words, show(start, system), *row(found, system)[:3]))
    return table(("flue at first", "its wall", *HEADER[1:4]), rows)
