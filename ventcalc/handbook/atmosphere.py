"""Atmosphere, the chapter: the same boiler by the sea and at a mountain lodge."""

from functools import partial

from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import stack_effect
from ventcalc.gas.atmosphere import (
    SEA_LEVEL_PRESSURE,
    air_density,
    saturation_pressure,
    saturation_temperature,
    standard_pressure,
    standard_temperature,
    water_vapor_fraction,
)
from ventcalc.show import panels
from ventcalc.show.axes import axis, legend, mark_now, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.plots import BLUE, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show, shown_unit

SEA = Q_(0.0, "m")
LODGE = Q_(2400.0, "m")
WINTER, ROOM, HOT_DAY = Q_(20.0, "degF"), Q_(70.0, "degF"), Q_(95.0, "degF")
STACK = Q_(40.0, "ft")
STANDARD_AIR = Q_(0.075, "lb/ft**3")  # what fans are rated in; common practice, no source


def barometer_text(pressure: Quantity, system: str) -> str:
    """A barometric pressure in inHg or kPa."""
    return show(pressure, system, "barometric pressure")


def expansion(altitude: Quantity) -> float:
    """Volume of a gas at an altitude over its volume at sea level, at one temperature."""
    return float((standard_pressure(SEA) / standard_pressure(altitude)).m_as(""))


# --- What the chapter stands on -------------------------------------------------------------------------------


def _answer(row: dict[str, str]) -> Quantity:
    """What the library says to a row of the table."""
    quantity = row["quantity"]
    if quantity in ("standard pressure", "standard temperature"):
        altitude = Q_(float(row["altitude_ft"]), "ft")
        return standard_pressure(altitude) if quantity == "standard pressure" else standard_temperature(altitude)
    if quantity == "saturation temperature of water":
        return saturation_temperature(Q_(float(row["pressure_psia_in"]), "psi"))
    column, unit = ("temperature_C", "degC") if row["temperature_C"] else ("temperature_F", "degF")
    temperature = Q_(float(row[column]), unit)
    if quantity == "saturation pressure of water":
        return saturation_pressure(temperature)
    return air_density(temperature, Q_(14.7, "psi") if "14.7" in quantity else Q_(SEA_LEVEL_PRESSURE, "Pa"))


def checks() -> tuple[Check, ...]:
    """Every row of the atmosphere table."""
    return compare("atmosphere_checks", {row["id"]: _answer(row) for row in tables.read("atmosphere_checks")})


# --- Figures ----------------------------------------------------------------------------------------------------


def pressure_curve(system: str = "US") -> Figure:
    """Barometric pressure by altitude, with the printed values."""
    (figure, (axes,)), feet = row_of_axes(height=3.2), shown_unit("altitude", system)
    bar = shown_unit("barometric pressure", system)
    altitude = Q_([-300.0 + 100.0 * k for k in range(65)], "m")
    axes.plot(altitude.m_as(feet), standard_pressure(altitude).m_as(bar), color=BLUE, label="standard atmosphere")
    rows = [r for r in tables.read("atmosphere_checks") if r["quantity"] == "standard pressure"]
    for printed, unit, marker in (("psia", "psi", "o"), ("inHg", "inHg", "x")):
        found = [(float(r["altitude_ft"]), float(r["value"])) for r in rows if r["unit"] == printed]
        heights, values = zip(*found, strict=True)
        axes.plot(Q_(heights, "ft").m_as(feet), Q_(values, unit).m_as(bar), marker, color=RUST, mfc="none",
                  label=f"printed, in {printed}")  # fmt: skip
    plain(axes, axis("altitude", "altitude", system), axis("barometer", "barometric pressure", system))
    legend(axes)
    return figure


# --- Tables -----------------------------------------------------------------------------------------------------

PLACES = (("by the sea", SEA), ("at the lodge", LODGE))


def pull_of_room_air(altitude: Quantity, outdoor: Quantity, humidity: float = 0.0) -> Quantity:
    """Draft of a stack full of dry room air, at an altitude."""
    pressure = standard_pressure(altitude)
    densities = air_density(outdoor, pressure, humidity), air_density(ROOM, pressure)
    return stack_effect.theoretical_draft(STACK, *densities)


def both_places(system: str = "US") -> HTML:
    """Barometer, air outdoors and in the boiler room, and the draft between them, at both places."""
    header = ("", "barometer", f"outdoors at {show(WINTER, system)}", f"room at {show(ROOM, system)}",
              f"pull of room air, {show(STACK, system)} high")  # fmt: skip
    rows = []
    for name, place in PLACES:
        pressure = standard_pressure(place)
        densities = (show(air_density(t, pressure), system) for t in (WINTER, ROOM))
        pull = show(pull_of_room_air(place, WINTER), system)
        rows.append((name, barometer_text(pressure, system), *densities, pull))
    return HTML(panels.table(header, rows))


def lighter_when_saturated(temperature: Quantity) -> float:
    """By what part saturated air is lighter than dry air, by the sea."""
    pressure = standard_pressure(SEA)
    return 1.0 - float((air_density(temperature, pressure, 1.0) / air_density(temperature, pressure)).m_as(""))


def humid_air(system: str = "US") -> HTML:
    """Saturated beside dry air by the sea, from a winter to a hot day."""
    pressure, rows = standard_pressure(SEA), []
    for temperature in (WINTER, ROOM, HOT_DAY):
        vapor = water_vapor_fraction(temperature, 1.0, pressure).m_as("percent")
        densities = (show(air_density(temperature, pressure, humidity), system) for humidity in (0.0, 1.0))
        lighter = f"{100.0 * lighter_when_saturated(temperature):.2f} %"
        rows.append((show(temperature, system), f"{vapor:.2f} %", *densities, lighter))
    return HTML(panels.table(("air at", "vapor when saturated", "dry", "saturated", "lighter by"), rows))


# --- Live controls ------------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of altitude, outdoor temperature and humidity."""
    heights = steps("altitude", system, range(0, 12001, 500), range(0, 3601, 200))
    weather = steps("temperature", system, range(-30, 111, 5), range(-35, 44, 3))
    controls = {
        "altitude": panels.slider("Altitude", heights, LODGE.m_as("m")),
        "temperature": panels.slider("Outdoors", weather, WINTER.m_as("K")),
        "humidity": panels.slider("Relative humidity", panels.percents(range(0, 101, 10)), 0.8),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, altitude: float, temperature: float, humidity: float) -> tuple[str, bytes]:
    """Air at an ``altitude`` [m] and outdoor ``temperature`` [K] with a relative ``humidity``: numbers and picture."""
    height, outdoor = Q_(altitude, "m"), Q_(temperature, "K")
    pressure = standard_pressure(height)
    pull = pull_of_room_air(height, outdoor, humidity)
    vapor = water_vapor_fraction(outdoor, humidity, pressure).m_as("percent")
    rows = [
        ("barometer", barometer_text(pressure, system)),
        ("density of the air", show(air_density(outdoor, pressure, humidity), system)),
        ("dry air at the same temperature", show(air_density(outdoor, pressure), system)),
        ("water vapor in it", f"{vapor:.2f} % by volume"),
        ("volume of a gas, by the sea = 1", f"{expansion(height):.3f}"),
        (f"pull of room air at {show(ROOM, system)}, {show(STACK, system)} high", show(pull, system)),
    ]
    return panels.table(("air outdoors", ""), rows), _picture(height, outdoor, humidity, system)


def _picture(altitude: Quantity, outdoor: Quantity, humidity: float, system: str) -> bytes:
    figure = Figure((WIDTH, 3.5))
    _draw_places(figure.add_axes((0.0, 0.0, 0.42, 1.0)), altitude, system)
    _draw_density(figure.add_axes((0.54, 0.16, 0.45, 0.76)), altitude, outdoor, humidity, system)
    return picture(figure)


def _draw_places(axes: Axes, altitude: Quantity, system: str) -> None:
    """The same mass of flue gas by the sea and at the altitude: a cube grows as the air above it grows less."""
    climb = 12.0 * altitude.m_as("m") / HIGHEST
    axes.set(xlim=(0, 36), ylim=(0, 36))
    axes.axis("off")
    axes.add_patch(
        Polygon([(0, 3), (15, 3), (21, 3 + climb), (36, 3 + climb), (36, 0), (0, 0)], fc=PALE, ec=INK, lw=1.2)
    )
    for x, ground, place, name in ((2.0, 3.0, SEA, "by the sea"), (23.0, 3.0 + climb, altitude, "here")):
        volume = expansion(place)
        side = 8.0 * volume ** (1 / 3)
        axes.add_patch(Rectangle((x, ground), side, side, fc="white", ec=RUST, lw=1.6))
        middle = x + 0.5 * side
        axes.text(middle, ground + 0.5 * side, f"{volume:.2f}", ha="center", va="center", size=SIZE + 1)
        words = f"{name}\n{show(place, system, 'altitude')}\n{barometer_text(standard_pressure(place), system)}"
        axes.text(middle, ground + side + 0.7, words, ha="center", va="bottom", size=SIZE, color=INK)
    axes.text(0.5, 35, "the same mass of flue gas,\nvolume by the sea = 1", va="top", size=SIZE, color=INK)


HIGHEST = 3658.0  # m, of the controls: 12,000 ft


def _draw_density(axes: Axes, altitude: Quantity, outdoor: Quantity, humidity: float, system: str) -> None:
    """Density of air by temperature, by the sea and at the altitude, with the point chosen."""
    weather, unit = Q_([233.15 + 2.5 * k for k in range(35)], "K"), shown_unit("density", system)
    degrees = shown_unit("temperature", system)
    for height, style, name in ((SEA, "--", "by the sea, dry"), (altitude, "-", "here, dry")):
        density = air_density(weather, standard_pressure(height)).m_as(unit)
        axes.plot(weather.m_as(degrees), density, style, color=BLUE, label=name)
    now = air_density(outdoor, standard_pressure(altitude), humidity)
    mark_now(axes, outdoor.m_as(degrees), now.m_as(unit), "now, with its humidity")
    plain(axes, axis("outdoors", "temperature", system), axis("density of air", "density", system))
    legend(axes)


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of the school's vent at the lodge."""
    return predict("atmosphere", same_vent, system)


ABOUT = 0.1  # how near to a half or three quarters is about that


def same_vent(altitude: Quantity) -> dict[str, Quantity | int]:
    """Draft over loss of a vent at an altitude, at one mass flow and one set of temperatures, over that by the sea."""
    thinner = 1.0 / expansion(altitude)
    ratio = thinner**2  # draft goes with density, loss at one mass flow against it
    return {
        "right": 2 if ratio > 1.0 - ABOUT else 1 if abs(ratio - 0.75) <= ABOUT else 0,
        "figure": Q_(ratio, ""),
        "draft": Q_(thinner, ""),
        "loss": Q_(1.0 / thinner, ""),
    }


def writing(system: str = "US") -> Writing:
    """The density of dry air, to be written by the reader."""
    return load_writing("atmosphere", dry_density, system)


def dry_density(barometer: Quantity, temperature: Quantity, system: str) -> dict[str, Quantity]:
    """The density of dry air, and what it becomes by the slips that are made with it."""
    answer = air_density(temperature, barometer)
    degrees, absolute = ("degF", "degR") if system == "US" else ("degC", "K")
    kelvin, sea = temperature.m_as(absolute), Q_(SEA_LEVEL_PRESSURE, "Pa")
    return {
        "answer": answer,
        "not_absolute": answer * (kelvin / temperature.m_as(degrees)),
        "at_sea_level": answer * float((sea / barometer).m_as("")),
        "upside_down": answer * kelvin**2,
        "other_zero": answer * (kelvin / (temperature.m_as(degrees) + OTHER_ZERO[system])),
    }


OTHER_ZERO = {"US": 273.15, "SI": 459.67}  # that of the other system's scale, added by mistake


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("atmosphere", (barometer, winter_air, more_volume, vapor), system, seed)


def barometer(altitude: Quantity, report: Quantity) -> dict[str, Quantity]:
    """Pressure of a place whose weather report is reduced to sea level."""
    sea = standard_pressure(SEA)
    return {
        "answer": standard_pressure(altitude),
        "reduced": report,
        "by_the_sea": sea,
        "by_rule": sea - Q_(1.0, "inHg/kft") * altitude,
    }


def winter_air(altitude: Quantity, outdoor: Quantity) -> dict[str, Quantity | float]:
    """Density of cold thin air over that of standard air."""
    pressure = standard_pressure(altitude)
    density = air_density(outdoor, pressure)
    ratio = (density / STANDARD_AIR).to("")
    return {
        "answer": ratio,
        "ratio": ratio.m,
        "pressure": pressure,
        "density": density,
        "standard": STANDARD_AIR,
        "by_the_sea": air_density(outdoor, standard_pressure(SEA)) / STANDARD_AIR,
        "warm": air_density(Q_(70.0, "degF"), pressure) / STANDARD_AIR,
    }


def more_volume(altitude: Quantity) -> dict[str, Quantity | float]:
    """How much larger a volume flow is at an altitude."""
    whole = expansion(altitude)
    return {
        "answer": Q_(whole - 1.0, "").to("percent"),
        "part": Q_(1.0 / whole, ""),
        "decimal": 1.0 / whole,
        "pressure_falls": Q_(1.0 - 1.0 / whole, ""),
        "whole": Q_(whole, ""),
    }


def vapor(altitude: Quantity, inside: Quantity, humidity: float) -> dict[str, Quantity | float]:
    """Share of water vapor in a warm room at an altitude."""
    pressure = standard_pressure(altitude)
    share = water_vapor_fraction(inside, humidity, pressure).to("percent")
    return {
        "answer": share,
        "share": share.m,
        "percent": 100.0 * humidity,
        "full": saturation_pressure(inside),
        "pressure": pressure,
        "by_the_sea": water_vapor_fraction(inside, humidity, standard_pressure(SEA)),
        "saturated": water_vapor_fraction(inside, 1.0, pressure),
    }
