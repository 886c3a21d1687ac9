"""Flue gas, the chapter: is it just hot air? The properties of the mixture, beside those of air."""

from functools import cache, partial

import numpy as np
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.gas import flue_gas
from ventcalc.gas.atmosphere import SEA_LEVEL_PRESSURE
from ventcalc.gas.combustion import products
from ventcalc.gas.flue_gas import SPECIES, TEMPERATURE_RANGE, Gas
from ventcalc.gas.fuels import FUELS, fuel
from ventcalc.show import panels
from ventcalc.show.axes import axis, label, legend, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity, show, shown_unit

NAMES = dict(zip(SPECIES, ("carbon dioxide", "water vapor", "nitrogen", "oxygen", "argon"), strict=True))
AIR = Gas.dry_air()


def _density(gas: Gas, temperature: Quantity) -> Quantity:
    return flue_gas.density(gas, temperature, Q_(SEA_LEVEL_PRESSURE, "Pa"))


PRANDTL = "Prandtl number"
PROPERTIES = {
    "density": _density,
    "specific heat": flue_gas.specific_heat,
    "viscosity": flue_gas.viscosity,
    "conductivity": flue_gas.conductivity,
    PRANDTL: flue_gas.prandtl,
}


def property_text(name: str, gas: Gas, temperature: Quantity, system: str) -> str:
    """One of `PROPERTIES` with its unit."""
    value = PROPERTIES[name](gas, temperature)
    return f"{value.m:.3f}" if name == PRANDTL else show(value, system, name)


@cache
def burned_gas(name: str = "natural gas", excess_air: float = 0.3) -> Gas:
    """Flue gas of a fuel of the library burned in dry air."""
    return products.bare(fuel(name), excess_air).gas


# --- What the chapter stands on -------------------------------------------------------------------------------

_UNITS = dict(zip(PROPERTIES, ("kg/m**3", "J/(kg*K)", "uPa*s", "W/(m*K)", ""), strict=True))  # of the table


def _answer(row: dict[str, str]) -> float:
    kelvin, name = row["temperature_K"], row["quantity"].removesuffix(" of dry air")
    temperature = Q_(float(kelvin), "K") if kelvin else Q_(float(row["temperature_C"]), "degC")
    return PROPERTIES[name](AIR, temperature).m_as(_UNITS[name])


def checks() -> tuple[Check, ...]:
    """Dry air as a mixture of four gases, against printed tables of air."""
    return compare("flue_gas_checks", {row["id"]: _answer(row) for row in tables.read("flue_gas_checks")})


# --- Figures ----------------------------------------------------------------------------------------------------


def composition_bars(system: str = "US") -> Figure:
    """What flue gases are made of, wet, beside air; the molar mass of each."""
    figure, (axes,) = row_of_axes(height=2.9)
    gases = {"air": Gas.dry_air()} | {name: burned_gas(name) for name in FUELS}
    left = np.zeros(len(gases))
    styles = {
        "n2": ("white", ""),
        "ar": ("white", ""),
        "o2": ("#c9d3de", ""),
        "co2": ("white", "///"),
        "h2o": (BLUE, ""),
    }
    for species, (tone, hatch) in styles.items():
        width = np.array([100 * float(getattr(g, species)) for g in gases.values()])
        axes.barh(range(len(gases)), width, 0.6, left, fc=tone, hatch=hatch, ec=INK, lw=1.0, label=NAMES[species])
        left += width
    for k, gas in enumerate(gases.values()):
        axes.text(101, k, f"{1000 * gas.molar_mass:.2f} g/mol", va="center", size=SIZE, color=INK)
    plain(axes, "share of the molecules, %", "")
    axes.set_yticks(range(len(gases)), gases)
    axes.invert_yaxis()
    axes.set_xlim(0, 118)
    axes.set_xticks(range(0, 101, 20))
    axes.set_position((0.155, 0.2, 0.835, 0.62))
    axes.grid(False)
    legend(axes, ncols=5, loc="lower left", bbox_to_anchor=(-0.18, 1.0), columnspacing=1.0, handlelength=1.4)
    return figure


def property_curves(gas: Gas, point: Quantity, system: str = "US") -> Figure:
    """Specific heat and conductivity of a gas and of dry air from 200 to 1600 K, and a point."""
    (figure, both), degrees = row_of_axes(2, height=2.9), shown_unit("temperature", system)
    temperature = Q_(np.linspace(*TEMPERATURE_RANGE, 71), "K")
    for axes, name in zip(both, ("specific heat", "conductivity"), strict=True):
        of, unit = PROPERTIES[name], shown_unit(name, system)
        x = temperature.m_as(degrees)
        axes.plot(x, of(gas, temperature).m_as(unit), color=BLUE, label="flue gas")
        axes.plot(x, of(AIR, temperature).m_as(unit), "--", color=GREY, label="dry air")
        axes.plot(point.m_as(degrees), of(gas, point).m_as(unit), "o", color=RUST, ms=7)
        plain(axes, axis("temperature", "temperature", system), label(name, system), name)
        axes.set_xlim(x[0], x[-1])
    legend(both[0])
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------

HEADER = ("at sea level", "flue gas", "dry air", "flue gas differs by")


def property_rows(gas: Gas, temperature: Quantity, system: str) -> list[tuple[str, ...]]:
    """Every property of a gas and of dry air at a temperature, and how they differ."""
    rows = []
    for name, of in PROPERTIES.items():
        ratio = (of(gas, temperature) / of(AIR, temperature)).m_as("")
        texts = [property_text(name, g, temperature, system) for g in (gas, AIR)]
        rows.append((name, *texts, f"{100 * (ratio - 1):+.1f} %"))
    return rows


def explorer(system: str = "US") -> panels.Panel:
    """Controls of fuel, excess air and temperature."""
    temperatures = steps("temperature", system, range(60, 2401, 20), range(15, 1316, 10))
    controls = {
        "burned": panels.choice("Fuel", FUELS, "natural gas"),
        "excess_air": panels.slider("Excess air", panels.percents(range(0, 301, 10)), 0.3),
        "temperature": panels.slider("Temperature", temperatures, Q_(350.0, "degF").m_as("K")),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, burned: str, excess_air: float, temperature: float) -> tuple[str, bytes]:
    """Numbers and picture: ``burned`` names a fuel, ``excess_air`` ratio, ``temperature`` [K]."""
    gas, at = burned_gas(burned, excess_air), Q_(temperature, "K")
    return panels.table(HEADER, property_rows(gas, at, system)), picture(property_curves(gas, at, system))


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("flue_gas", (molar_mass, volume_flow, heat_in_gas, equal_density), system, seed)


def molar_mass(co2: int, h2o: int, o2: int, ar: int) -> dict[str, Quantity | float]:
    """Density of a wet flue gas over that of air, from its composition in percent."""
    n2 = 100 - co2 - h2o - o2 - ar
    parts = {"co2": co2 / 100, "h2o": h2o / 100, "n2": n2 / 100, "o2": o2 / 100, "ar": ar / 100}
    dry = {s: 0.0 if s == "h2o" else x / (1 - parts["h2o"]) for s, x in parts.items()}
    gas, without_water, air = Gas(**parts).molar_mass, Gas(**dry).molar_mass, AIR.molar_mass
    return {
        "answer": Q_(gas / air, ""),
        "n2": n2,
        "gas": 1000 * gas,
        "air": 1000 * air,
        "ratio": gas / air,
        "dry": Q_(without_water / air, ""),
        "upside_down": Q_(air / gas, ""),
    }


def volume_flow(flow: Quantity, hot: Quantity) -> dict[str, Quantity]:
    """Volume flow of flue gas of natural gas."""
    gas = burned_gas()
    return {
        "answer": (flow / _density(gas, hot)).to("m**3/s"),
        "density": _density(gas, hot),
        "cool": (flow / _density(gas, Q_(70.0, "degF"))).to("m**3/s"),
        "of_air": (flow / _density(AIR, hot)).to("m**3/s"),
    }


def heat_in_gas(flow: Quantity, hot: Quantity, cool: Quantity) -> dict[str, Quantity]:
    """Heat that flue gas of natural gas gives up as it cools."""
    gas = burned_gas()
    found, air = ((flow * (flue_gas.enthalpy(g, hot) - flue_gas.enthalpy(g, cool))).to("W") for g in (gas, AIR))
    return {
        "answer": found,
        "specific_heat": flue_gas.specific_heat(gas, Q_(350.0, "degF")),
        "air": air,
        "from_zero": (flow * flue_gas.enthalpy(gas, hot)).to("W"),
    }


def equal_density(room: Quantity) -> dict[str, Quantity | float]:
    """Temperature at which flue gas without excess air is as heavy as the air of a room."""
    gas, air, kelvin = burned_gas("natural gas", 0.0).molar_mass, AIR.molar_mass, room.to("K")
    return {
        "answer": kelvin * (gas / air),
        "gas": 1000 * gas,
        "air": 1000 * air,
        "as_warm": kelvin,
        "upside_down": kelvin * (air / gas),
    }
