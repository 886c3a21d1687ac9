"""Atmosphere, the chapter: the same boiler by the sea and at a mountain lodge."""

from functools import partial

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
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity, show, shown_unit

SEA = Q_(0.0, "m")
LODGE = Q_(2400.0, "m")
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


def two_sites(system: str = "US") -> Figure:
    """The same mass of flue gas by the sea and at the lodge: a cube grows as the air above it grows less."""
    figure = Figure((WIDTH, 2.7))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0, 68), ylim=(0, 27))
    axes.axis("off")
    axes.add_patch(Polygon([(0, 2), (30, 2), (50, 14), (68, 14), (68, 0), (0, 0)], fc=PALE, ec=INK, lw=1.2))
    for x, ground, altitude, name in ((5, 2, SEA, "by the sea"), (53, 14, LODGE, "at the lodge")):
        side = 6.0 * expansion(altitude) ** (1 / 3)
        axes.add_patch(Rectangle((x, ground), side, side, fc="white", ec=INK, lw=1.6))
        axes.text(
            x + side / 2, ground + side / 2, f"{expansion(altitude):.2f}", ha="center", va="center", size=SIZE + 1
        )
        words = f"{name}, {show(altitude, system, 'altitude')}\n{barometer_text(standard_pressure(altitude), system)}"
        axes.text(x + side / 2, ground + side + 1, words, ha="center", va="bottom", size=SIZE, color=INK)
    axes.text(22, 22, "the same mass of flue gas,\nits volume by the sea = 1", ha="center", size=SIZE, color=INK)
    return figure


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


def _density_picture(altitude: Quantity, temperature: Quantity, humidity: float, system: str) -> bytes:
    """Density of air by temperature, by the sea and at the altitude, with the point chosen."""
    (figure, (axes,)), degrees = row_of_axes(height=2.9), shown_unit("temperature", system)
    weather, unit = Q_([233.15 + 2.5 * k for k in range(33)], "K"), shown_unit("density", system)
    for height, style, name in ((SEA, "--", "by the sea, dry"), (altitude, "-", "here, dry")):
        density = air_density(weather, standard_pressure(height)).m_as(unit)
        axes.plot(weather.m_as(degrees), density, style, color=BLUE, label=name)
    here = air_density(temperature, standard_pressure(altitude), humidity)
    mark_now(axes, temperature.m_as(degrees), here.m_as(unit), "here, with its humidity")
    plain(axes, axis("temperature of the air", "temperature", system), axis("density", "density", system))
    legend(axes)
    return picture(figure)


# --- Live controls ------------------------------------------------------------------------------------------------

_PER_HEIGHT = Q_(10.0, "m")
_ROOM = Q_(20.0, "degC")


def explorer(system: str = "US") -> panels.Panel:
    """Controls of altitude, outdoor temperature and humidity."""
    heights = steps("altitude", system, range(0, 12001, 500), range(0, 3601, 200))
    weather = steps("temperature", system, range(-30, 111, 5), range(-35, 44, 3))
    controls = {
        "altitude": panels.slider("Altitude", heights, LODGE.m_as("m")),
        "temperature": panels.slider("Outdoors", weather, Q_(20.0, "degF").m_as("K")),
        "humidity": panels.slider("Relative humidity", panels.percents(range(0, 101, 10)), 0.8),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, altitude: float, temperature: float, humidity: float) -> tuple[str, bytes]:
    """Air at an ``altitude`` [m] and outdoor ``temperature`` [K] with a relative ``humidity``: numbers and picture."""
    height, outdoor = Q_(altitude, "m"), Q_(temperature, "K")
    pressure = standard_pressure(height)
    density = air_density(outdoor, pressure, humidity)
    vapor = water_vapor_fraction(outdoor, humidity, pressure)
    room = stack_effect.theoretical_draft(_PER_HEIGHT, density, air_density(_ROOM, pressure))
    rows = [
        ("barometer", barometer_text(pressure, system)),
        ("density of the air", show(density, system)),
        ("dry air at the same temperature", show(air_density(outdoor, pressure), system)),
        ("water vapor in it", f"{vapor.m_as('percent'):.2f} % by volume"),
        ("a gas takes, of its volume by the sea", f"{expansion(height):.3f} times"),
        (f"pull of room air at {show(_ROOM, system)}, over {show(_PER_HEIGHT, system)}", show(room, system)),
    ]
    return panels.table(("air outdoors", ""), rows), _density_picture(height, outdoor, humidity, system)


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
        "feet": altitude.m_as("ft"),
        "meters": altitude.m_as("m"),
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
