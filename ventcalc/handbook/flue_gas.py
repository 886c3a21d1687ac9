"""Flue gas, the chapter: is it just hot air? The properties of the mixture, beside those of air."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.gas.atmosphere import SEA_LEVEL_PRESSURE
from ventcalc.gas.combustion import products
from ventcalc.gas.flue_gas import (
    SPECIES,
    TEMPERATURE_RANGE,
    Gas,
    conductivity,
    density,
    enthalpy,
    prandtl,
    specific_heat,
    viscosity,
)
from ventcalc.gas.fuels import FUELS, fuel
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE
from ventcalc.units import Q_, SYSTEMS, Quantity, show

SEA_LEVEL = Q_(SEA_LEVEL_PRESSURE, "Pa")
NAMES = dict(zip(SPECIES, ("carbon dioxide", "water vapour", "nitrogen", "oxygen", "argon"), strict=True))


def _density(gas: Gas, temperature: Quantity) -> Quantity:
    return density(gas, temperature, SEA_LEVEL)


@dataclass(frozen=True)
class Property:
    """A property of a gas: its function of gas and temperature, and the units it is shown in."""

    name: str
    of: Callable[[Gas, Quantity], Quantity]
    us: str
    si: str
    written: tuple[str, str]
    digits: tuple[str, str]

    def unit(self, system: str) -> str:
        """The unit as it is written."""
        return self.written[SYSTEMS.index(system)]

    def value(self, gas: Gas, temperature: Quantity, system: str):
        """Plain number or array in that unit."""
        return self.of(gas, temperature).m_as(self.us if system == "US" else self.si)

    def text(self, gas: Gas, temperature: Quantity, system: str) -> str:
        """One value with its unit."""
        digits = self.digits[SYSTEMS.index(system)]
        return f"{self.value(gas, temperature, system):{digits}} {self.unit(system)}".rstrip()


PROPERTIES = (
    Property("density", _density, "lb/ft**3", "kg/m**3", ("lb/ft³", "kg/m³"), (".4f", ".3f")),
    Property(
        "specific heat", specific_heat, "Btu/(lb*delta_degF)", "J/(kg*K)", ("Btu/(lb·°F)", "J/(kg·K)"), (".4f", ".0f")
    ),
    Property("viscosity", viscosity, "lb/(ft*hour)", "uPa*s", ("lb/(ft·h)", "µPa·s"), (".4f", ".1f")),
    Property(
        "conductivity",
        conductivity,
        "Btu/(hour*ft*delta_degF)",
        "mW/(m*K)",
        ("Btu/(h·ft·°F)", "mW/(m·K)"),
        (".5f", ".1f"),
    ),
    Property("Prandtl number", prandtl, "", "", ("", ""), (".3f", ".3f")),
)


@cache
def burned_gas(name: str = "natural gas", excess_air: float = 0.3) -> Gas:
    """Flue gas of a fuel of the library burned in dry air."""
    return products.bare(fuel(name), excess_air).gas


# --- What the chapter stands on -------------------------------------------------------------------------------

_CHECKED = {
    "density of dry air": (_density, "kg/m**3"),
    "specific heat of dry air": (specific_heat, "J/(kg*K)"),
    "conductivity of dry air": (conductivity, "W/(m*K)"),
    "viscosity of dry air": (viscosity, "uPa*s"),
    "Prandtl number of dry air": (prandtl, ""),
}


def _answer(row: dict[str, str]) -> float:
    kelvin = row["temperature_K"]
    temperature = Q_(float(kelvin), "K") if kelvin else Q_(float(row["temperature_C"]), "degC")
    function, unit = _CHECKED[row["quantity"]]
    return function(Gas.dry_air(), temperature).m_as(unit)


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
    axes.legend(ncols=5, loc="lower left", bbox_to_anchor=(-0.18, 1.0), frameon=False, fontsize=SIZE, columnspacing=1.0,
                handlelength=1.4)  # fmt: skip
    return figure


def property_curves(gas: Gas, point: Quantity | None = None, system: str = "US", which=(1, 3)) -> Figure:
    """Properties of a gas and of dry air from 200 to 1600 K; a point where one is given."""
    figure, axes = row_of_axes(len(which), height=2.9)
    temperature = Q_(np.linspace(*TEMPERATURE_RANGE, 71), "K")
    shown = number(temperature.m, "K", "temperature", system)
    for ax, k in zip(axes, which, strict=True):
        item = PROPERTIES[k]
        ax.plot(shown, item.value(gas, temperature, system), color=BLUE, label="flue gas")
        ax.plot(shown, item.value(Gas.dry_air(), temperature, system), "--", color=GREY, label="dry air")
        if point is not None:
            at = number(point.m_as("K"), "K", "temperature", system)
            ax.plot(at, item.value(gas, point, system), "o", color=RUST, ms=7)
        plain(ax, f"temperature, {label('temperature', system)}", item.unit(system), item.name)
    axes[0].legend(fontsize=SIZE, frameon=False)
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------


def property_rows(gas: Gas, temperature: Quantity, system: str) -> list[tuple[str, str, str, str]]:
    """Every property of a gas and of dry air at a temperature, and how they differ."""
    rows = []
    for item in PROPERTIES:
        both = [item.value(g, temperature, system) for g in (gas, Gas.dry_air())]
        texts = [item.text(g, temperature, system) for g in (gas, Gas.dry_air())]
        rows.append((item.name, *texts, f"{100 * (both[0] / both[1] - 1):+.1f} %"))
    return rows


HEADER = ("at sea level", "flue gas", "dry air", "flue gas differs by")


def answer(system: str, *, burned: str, excess_air: float, temperature: float) -> tuple[str, bytes]:
    """Numbers and picture: ``burned`` names a fuel, ``excess_air`` ratio, ``temperature`` [K]."""
    gas, at = burned_gas(burned, excess_air), Q_(temperature, "K")
    return table(HEADER, property_rows(gas, at, system)), picture(property_curves(gas, at, system))


def explorer(system: str = "US") -> Panel:
    """Controls of fuel, excess air and temperature."""
    unit, values = ("degF", range(60, 2401, 20)) if system == "US" else ("degC", range(15, 1316, 10))
    controls = {
        "burned": choice("Fuel", list(FUELS), "natural gas"),
        "excess_air": slider("Excess air", [(f"{k} %", k / 100) for k in range(0, 301, 10)], 0.3),
        "temperature": slider(
            "Temperature",
            [(show(Q_(float(t), unit), system), float(Q_(float(t), unit).m_as("K"))) for t in values],
            Q_(350.0, "degF").m_as("K"),
        ),
    }
    return Panel(lambda **given: answer(system, **given), controls)


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter, answers worked by the library."""
    return (_molar_mass(), _volume_flow(system), _heat_in_gas(system), _equal_density(system))


def _molar_mass() -> Exercise:
    parts = {"co2": 0.08, "h2o": 0.16, "n2": 0.71, "o2": 0.04, "ar": 0.01}
    gas, air = Gas(**parts), Gas.dry_air()
    dry = {s: (0.0 if s == "h2o" else x / 0.84) for s, x in parts.items()}
    return Exercise(
        question=(
            "A wet flue gas holds 8 % carbon dioxide, 16 % water vapour, 71 % nitrogen, 4 % oxygen and 1 % argon by "
            "volume. What is its density, as a ratio to that of dry air at the same temperature and pressure?"
        ),
        expected=Q_(gas.molar_mass / air.molar_mass, ""),
        tolerance=Q_(0.003, ""),
        hints=(
            "At one temperature and pressure density goes with molar mass.",
            "44.0, 18.0, 28.0, 32.0 and 39.9 g/mol; dry air has 28.97.",
        ),
        solution=(
            f"{1000 * gas.molar_mass:.2f} / {1000 * air.molar_mass:.2f} = {gas.molar_mass / air.molar_mass:.3f}: "
            "lighter than air."
        ),
        slips=(
            Slip(
                Q_(Gas(**dry).molar_mass / air.molar_mass, ""),
                "That is the dry gas: the water vapour is light, and in the vent.",
            ),
            Slip(Q_(air.molar_mass / gas.molar_mass, ""), "That is air over flue gas."),
        ),
        example="1.02",
    )


def _volume_flow(system: str) -> Exercise:
    flow, hot, cool = Q_(1000.0, "lb/hour"), Q_(350.0, "degF"), Q_(70.0, "degF")
    gas = burned_gas()
    expected = (flow / _density(gas, hot)).to("m**3/s")
    return Exercise(
        question=(
            f"{show(flow, system)} of flue gas of natural gas at 30 % excess air leaves a boiler at "
            f"{show(hot, system)}, at sea level. What volume flow is that?"
        ),
        expected=expected,
        tolerance=0.01 * expected,
        hints=("Volume flow is mass flow over density.", f"flue_gas.density gives {show(_density(gas, hot), system)}."),
        solution=f"{show(flow, system)} / {show(_density(gas, hot), system)} = {show(expected, system)}.",
        slips=(
            Slip((flow / _density(gas, cool)).to("m**3/s"), "That is at 70 °F (21 °C): hot gas takes more room."),
            Slip(
                (flow / _density(Gas.dry_air(), hot)).to("m**3/s"),
                "That is air at that temperature; flue gas of natural gas is lighter.",
            ),
        ),
        example="200 cfm" if system == "US" else "0.1 m**3/s",
    )


def _heat_in_gas(system: str) -> Exercise:
    flow, hot, cool = Q_(2000.0, "lb/hour"), Q_(450.0, "degF"), Q_(250.0, "degF")
    gas = burned_gas()
    expected = (flow * (enthalpy(gas, hot) - enthalpy(gas, cool))).to("W")
    air = (flow * (enthalpy(Gas.dry_air(), hot) - enthalpy(Gas.dry_air(), cool))).to("W")
    return Exercise(
        question=(
            f"{show(flow, system)} of flue gas of natural gas at 30 % excess air is cooled from {show(hot, system)} to "
            f"{show(cool, system)}. What heat does it give up?"
        ),
        expected=expected,
        tolerance=0.015 * expected,
        hints=(
            "Mass flow times the difference of enthalpy; or mean specific heat times the difference of temperature.",
            f"The specific heat is about {PROPERTIES[1].text(gas, Q_(350.0, 'degF'), system)}.",
        ),
        solution=f"{show(expected, system)}. Hot air would have given {show(air, system)}.",
        slips=(
            Slip(air, "That is air. The water vapour holds nearly twice as much heat per kilogram."),
            Slip((flow * enthalpy(gas, hot)).to("W"), "That is down to 25 °C (77 °F)."),
        ),
        example="80 MBH" if system == "US" else "25 kW",
    )


def _equal_density(system: str) -> Exercise:
    gas, cool = burned_gas("natural gas", 0.0), Q_(70.0, "degF")
    expected = cool.to("K") * (gas.molar_mass / Gas.dry_air().molar_mass)
    return Exercise(
        question=(
            f"Room air, taken as dry, is at {show(cool, system)}. To what temperature would flue gas of natural gas "
            "without excess air have to be cooled, with its water still vapour, to be as heavy as that air?"
        ),
        expected=expected,
        tolerance=Q_(3.0, "delta_degF"),
        hints=(
            "Density goes with molar mass over absolute temperature: M/T must be equal.",
            f"The gas has {1000 * gas.molar_mass:.2f} g/mol, dry air {1000 * Gas.dry_air().molar_mass:.2f}.",
        ),
        solution=f"{show(expected, system)}: wet gas as warm as the room still rises. Handbooks take it for air.",
        slips=(
            Slip(cool.to("K"), "That is the air's temperature: at that, the gas is still lighter."),
            Slip(
                cool.to("K") * (Gas.dry_air().molar_mass / gas.molar_mass),
                "The ratio is upside down: the lighter gas must be colder.",
            ),
        ),
        example="60 degF" if system == "US" else "15 degC",
    )
