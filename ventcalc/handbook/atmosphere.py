"""Atmosphere, the chapter: the same boiler by the sea and at a mountain lodge."""

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
    water_vapour_fraction,
)
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, slider, table
from ventcalc.show.plots import BLUE, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.units import Q_, Quantity, show

SEA = Q_(0.0, "m")
LODGE = Q_(2400.0, "m")
STANDARD_AIR = Q_(0.075, "lb/ft**3")  # what fans are rated in; common practice, no source


def height_text(altitude: Quantity, system: str) -> str:
    """An altitude in whole feet or metres."""
    unit = "ft" if system == "US" else "m"
    return f"{altitude.m_as(unit):,.0f} {unit}"


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
        words = f"{name}, {height_text(altitude, system)}\n{barometer_text(standard_pressure(altitude), system)}"
        axes.text(x + side / 2, ground + side + 1, words, ha="center", va="bottom", size=SIZE, color=INK)
    axes.text(22, 22, "the same mass of flue gas,\nits volume by the sea = 1", ha="center", size=SIZE, color=INK)
    return figure


def pressure_curve(system: str = "US") -> Figure:
    """Barometric pressure by altitude, with the printed values."""
    figure, (axes,) = row_of_axes(height=3.2)
    unit = "ft" if system == "US" else "m"
    altitude = Q_([-300.0 + 100.0 * k for k in range(65)], "m")
    curve = standard_pressure(altitude)
    axes.plot(altitude.m_as(unit), number(curve.m_as("Pa"), "Pa", "barometric pressure", system), color=BLUE,
              label="standard atmosphere")  # fmt: skip
    rows = [r for r in tables.read("atmosphere_checks") if r["quantity"] == "standard pressure"]
    for printed, marker in (("psia", "o"), ("inHg", "x")):
        found = [r for r in rows if r["unit"] == printed]
        heights = Q_([float(r["altitude_ft"]) for r in found], "ft").m_as(unit)
        values = Q_([float(r["value"]) for r in found], {"psia": "psi", "inHg": "inHg"}[printed]).m_as("Pa")
        axes.plot(heights, number(values, "Pa", "barometric pressure", system), marker, color=RUST, mfc="none",
                  label=f"printed, in {printed}")  # fmt: skip
    plain(axes, f"altitude, {unit}", f"barometer, {label('barometric pressure', system)}")
    axes.legend(fontsize=SIZE, frameon=False)
    return figure


def _density_figure(altitude: Quantity, temperature: Quantity, humidity: float, system: str) -> Figure:
    """Density of air by temperature, by the sea and at the altitude, with the point chosen."""
    figure, (axes,) = row_of_axes(height=2.9)
    scale = Q_([233.15 + 2.5 * k for k in range(33)], "K")
    shown = number(scale.m_as("K"), "K", "temperature", system)
    for height, style, name in ((SEA, "--", "by the sea, dry"), (altitude, "-", "here, dry")):
        density = air_density(scale, standard_pressure(height)).m_as("kg/m**3")
        axes.plot(shown, number(density, "kg/m**3", "density", system), style, color=BLUE, label=name)
    here = air_density(temperature, standard_pressure(altitude), humidity).m_as("kg/m**3")
    point = number(temperature.m_as("K"), "K", "temperature", system), number(here, "kg/m**3", "density", system)
    axes.plot(*point, "o", color=RUST, ms=8, label="here, with its humidity")
    plain(axes, f"temperature of the air, {label('temperature', system)}", f"density, {label('density', system)}")
    axes.legend(fontsize=SIZE, frameon=False)
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------

_PER_HEIGHT = Q_(10.0, "m")
_ROOM = Q_(20.0, "degC")


def answer(system: str, *, altitude: float, temperature: float, humidity: float) -> tuple[str, bytes]:
    """Air at an ``altitude`` [m] and outdoor ``temperature`` [K] with a relative ``humidity``: numbers and picture."""
    height, outdoor = Q_(altitude, "m"), Q_(temperature, "K")
    pressure = standard_pressure(height)
    density = air_density(outdoor, pressure, humidity)
    vapour = water_vapour_fraction(outdoor, humidity, pressure)
    room = stack_effect.theoretical_draft(_PER_HEIGHT, density, air_density(_ROOM, pressure))
    rows = [
        ("barometer", barometer_text(pressure, system)),
        ("density of the air", show(density, system)),
        ("dry air at the same temperature", show(air_density(outdoor, pressure), system)),
        ("water vapour in it", f"{vapour.m_as('percent'):.2f} % by volume"),
        ("a gas takes, of its volume by the sea", f"{expansion(height):.3f} times"),
        (f"pull of room air at {show(_ROOM, system)}, over {show(_PER_HEIGHT, system)}", show(room, system)),
    ]
    return table(("air outdoors", ""), rows), picture(_density_figure(height, outdoor, humidity, system))


def explorer(system: str = "US") -> Panel:
    """Controls of altitude, outdoor temperature and humidity."""
    unit, heights = ("ft", range(0, 12001, 500)) if system == "US" else ("m", range(0, 3601, 200))
    degree, scale = ("degF", range(-30, 111, 5)) if system == "US" else ("degC", range(-35, 44, 3))
    controls = {
        "altitude": slider(
            "Altitude", [(f"{h:,} {unit}", float(Q_(float(h), unit).m_as("m"))) for h in heights], LODGE.m_as("m")
        ),
        "temperature": slider(
            "Outdoors",
            [(show(Q_(float(t), degree), system), float(Q_(float(t), degree).m_as("K"))) for t in scale],
            Q_(20.0, "degF").m_as("K"),
        ),
        "humidity": slider("Relative humidity", [(f"{h} %", h / 100) for h in range(0, 101, 10)], 0.8),
    }
    return Panel(lambda **values: answer(system, **values), controls)


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter, answers worked by the library."""
    return (_barometer(system), _winter_air(system), _more_volume(), _vapour(system))


def _barometer(system: str) -> Exercise:
    expected, sea = standard_pressure(LODGE), standard_pressure(SEA)
    rule = sea - Q_(1.0, "inHg/kft") * LODGE
    weather = Q_(30.1, "inHg")
    shown = barometer_text(expected, system)
    return Exercise(
        question=(
            f"The weather report for the lodge at {height_text(LODGE, system)} says "
            f"{barometer_text(weather, system)}, reduced to sea level as such reports are. About what "
            "pressure, absolute, does the boiler really stand in, by the standard atmosphere?"
        ),
        expected=expected,
        tolerance=Q_(0.12, "inHg"),
        hints=(
            "A report that reads near 30 inHg (101 kPa) everywhere has been brought down to sea level.",
            "atmosphere.standard_pressure(altitude) gives it; so does p0 (T/T0)^5.2559.",
        ),
        solution=f"By the standard atmosphere {shown}. The weather moves it by some 3 % either way.",
        slips=(
            Slip(weather, "That is reduced to sea level: it is the pressure of a place that is not there."),
            Slip(sea, "That is the standard pressure at sea level."),
            Slip(
                rule, "An inch for every thousand feet is right only near the sea: the air gets thinner on the way up."
            ),
        ),
        example="25.0 inHg" if system == "US" else "85 kPa",
    )


def _winter_air(system: str) -> Exercise:
    cold = Q_(0.0, "degF")
    pressure = standard_pressure(LODGE)
    expected = air_density(cold, pressure) / STANDARD_AIR
    return Exercise(
        question=(
            f"On a winter night at the lodge it is {show(cold, system)} outdoors; the barometer reads "
            f"{barometer_text(pressure, system)}. What is the density of the dry outdoor air, as a ratio to standard "
            f"air of {show(STANDARD_AIR, system)}?"
        ),
        expected=expected.to(""),
        tolerance=Q_(0.006, ""),
        hints=(
            "rho = p M / (R T), with T absolute.",
            "By the sea and at the same temperature it would be a third more.",
        ),
        solution=(
            f"{show(air_density(cold, pressure), system)} / {show(STANDARD_AIR, system)} = {expected.m_as(''):.3f}: a "
            "cold night at the lodge has thinner air than a warm room by the sea."
        ),
        slips=(
            Slip(
                air_density(cold, standard_pressure(SEA)) / STANDARD_AIR,
                "That is air by the sea: use the pressure of the place.",
            ),
            Slip(
                air_density(Q_(70.0, "degF"), pressure) / STANDARD_AIR,
                "That is the lodge's air at 70 °F (21 °C), the temperature of standard air: pressure alone.",
            ),
        ),
        example="0.95",
    )


def _more_volume() -> Exercise:
    place = Q_(5000.0, "ft")
    more = expansion(place) - 1.0
    return Exercise(
        question=(
            "A vent was sized at sea level. By how many percent is its volume flow larger at "
            f"{height_text(place, 'US')} ({height_text(place, 'SI')}), with the same mass flow at the same temperature?"
        ),
        expected=Q_(more, "").to("percent"),
        tolerance=Q_(0.5, "percent"),
        hints=("Volume goes with 1/p.", "The barometer reads 83.2 % of its sea-level value there."),
        solution=f"1/0.832 - 1 = {100 * more:.1f} %. Friction at the same mass flow grows just as much.",
        slips=(
            Slip(
                Q_(1.0 - 1.0 / expansion(place), ""), "That is how much the pressure falls; volume grows by p0/p - 1."
            ),
            Slip(Q_(more + 1.0, ""), "That is the whole volume; asked is how much it is larger."),
        ),
        example="10 %",
    )


def _vapour(system: str) -> Exercise:
    warm, humidity = Q_(85.0, "degF"), 0.6
    pressure = standard_pressure(LODGE)
    expected, full = water_vapour_fraction(warm, humidity, pressure), saturation_pressure(warm)
    return Exercise(
        question=(
            f"A swimming hall's boiler room at {height_text(LODGE, system)} is at {show(warm, system)} and 60 % "
            "relative humidity. What part of its air, by volume, is water vapour?"
        ),
        expected=expected.to("percent"),
        tolerance=Q_(0.08, "percent"),
        hints=(
            "The vapour's own pressure is humidity times saturation pressure at the air's temperature.",
            "Divide it by the barometric pressure of the place.",
        ),
        solution=(
            f"0.6 x {barometer_text(full, system)} / {barometer_text(pressure, system)} = "
            f"{expected.m_as('percent'):.2f} %."
        ),
        slips=(
            Slip(
                water_vapour_fraction(warm, humidity, standard_pressure(SEA)),
                "That is by the sea: the same vapour is a larger part of thinner air.",
            ),
            Slip(water_vapour_fraction(warm, 1.0, pressure), "That is saturated air; this is at 60 % of it."),
        ),
        example="2 %",
    )
