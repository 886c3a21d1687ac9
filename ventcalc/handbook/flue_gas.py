"""Flue gas, the chapter: is it just hot air? The properties of the mixture, beside those of air."""

from functools import cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.gas import condensation, flue_gas
from ventcalc.gas.atmosphere import SEA_LEVEL_PRESSURE
from ventcalc.gas.combustion import products
from ventcalc.gas.flue_gas import SPECIES, TEMPERATURE_RANGE, Gas
from ventcalc.gas.fuels import FUELS, fuel
from ventcalc.show import panels
from ventcalc.show.axes import axis, legend, mark_now, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.plots import BLUE, GREY, INK, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
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


STYLES = {
    "n2": ("white", ""),
    "ar": ("white", "......"),
    "o2": ("#c9d3de", ""),
    "co2": ("white", "///"),
    "h2o": (BLUE, ""),
}


def composition_bars(system: str = "US") -> Figure:
    """What flue gases are made of, wet, beside air; the molar mass of each."""
    figure, (axes,) = row_of_axes(height=2.9)
    gases = {"air": Gas.dry_air()} | {name: burned_gas(name) for name in FUELS}
    left = np.zeros(len(gases))
    for species, (tone, hatch) in STYLES.items():
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


# --- Tables -----------------------------------------------------------------------------------------------------


def pure_gases(gas: Gas, heat, viscosity, conductivity, system: str = "US") -> HTML:
    """Share and properties of each pure gas of a mixture; J/(mol K), Pa s and W/(m K), one for each species."""
    molar_masses = [Gas(**{s: float(s == one) for s in SPECIES}).molar_mass for one in SPECIES]
    per_mass = np.asarray(heat) / molar_masses
    rows = [
        (NAMES[species], f"{100.0 * float(getattr(gas, species)):.1f} %", *_texts(one, system))
        for species, *one in zip(SPECIES, per_mass, viscosity, conductivity, strict=True)
    ]
    return HTML(panels.table(("pure gas", "share", *_MIXED), rows))


_MIXED = ("specific heat", "viscosity", "conductivity")


def _texts(values, system: str) -> list[str]:
    """Specific heat, viscosity and conductivity, plain SI, with their units."""
    units = ("J/(kg*K)", "Pa*s", "W/(m*K)")
    return [show(Q_(float(v), unit), system, name) for v, unit, name in zip(values, units, _MIXED, strict=True)]


def mixtures(found: dict[str, tuple[float, float, float]], system: str = "US") -> HTML:
    """Specific heat, viscosity and conductivity of a mixture as each of several ways finds them, plain SI."""
    return HTML(panels.table(("", *_MIXED), [(name, *_texts(values, system)) for name, values in found.items()]))


def beside_air(gas: Gas, temperature: Quantity, system: str = "US") -> HTML:
    """Every property of a gas beside that of dry air."""
    return HTML(panels.table(HEADER, property_rows(gas, temperature, system)))


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
    """Controls of fuel, excess air and temperature, and of the property that is drawn."""
    temperatures = steps("temperature", system, range(60, 2401, 20), range(15, 1316, 10))
    controls = {
        "burned": panels.choice("Fuel", FUELS, "natural gas"),
        "excess_air": panels.slider("Excess air", panels.percents(range(0, 301, 10)), 0.3),
        "temperature": panels.slider("Temperature", temperatures, Q_(350.0, "degF").m_as("K")),
        "name": panels.choice("Curve", PROPERTIES, "specific heat"),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, burned: str, excess_air: float, temperature: float, name: str) -> tuple[str, bytes]:
    """Numbers and picture: ``burned`` names a fuel, ``excess_air`` ratio, ``temperature`` [K], ``name`` a property."""
    gas, at = burned_gas(burned, excess_air), Q_(temperature, "K")
    return panels.table(HEADER, property_rows(gas, at, system)), _picture(gas, at, name, system)


def _picture(gas: Gas, temperature: Quantity, name: str, system: str) -> bytes:
    figure = Figure((WIDTH, 3.5))
    _draw_columns(figure.add_axes((0.0, 0.0, 0.42, 1.0)), gas)
    _draw_property(figure.add_axes((0.56, 0.16, 0.40, 0.76)), gas, temperature, name, system)
    return picture(figure)


def _draw_columns(axes: Axes, gas: Gas) -> None:
    """A stack full of the gas beside its column of air, both by what they are made of."""
    axes.set(xlim=(0.0, 10.0), ylim=(-16.0, 122.0))
    axes.axis("off")
    axes.plot([0.0, 10.0], [0.0, 0.0], color=INK, lw=1.2)
    for x, mixture, words in ((0.6, gas, "flue gas"), (3.8, AIR, "dry air")):
        low = 0.0
        for species, (tone, hatch) in STYLES.items():
            share = 100.0 * float(getattr(mixture, species))
            axes.bar(x + 0.9, share, 1.8, low, fc=tone, hatch=hatch, ec=INK, lw=1.0, label=NAMES[species])
            low += share
        axes.text(x + 0.9, -3.0, words, ha="center", va="top", size=SIZE, color=INK)
        axes.text(x + 0.9, 103.0, f"{1000.0 * mixture.molar_mass:.2f}\ng/mol", ha="center", size=SIZE, color=INK)
    handles, names = axes.get_legend_handles_labels()
    count = len(STYLES)
    axes.legend(handles[count - 1 :: -1], names[count - 1 :: -1], fontsize=SIZE, frameon=False, loc="center right",
                bbox_to_anchor=(1.06, 0.5), handlelength=1.2, handletextpad=0.4)  # fmt: skip


def _draw_property(axes: Axes, gas: Gas, temperature: Quantity, name: str, system: str) -> None:
    """A property of the gas and of dry air by temperature, and the point chosen."""
    of, scale = PROPERTIES[name], Q_(np.linspace(*TEMPERATURE_RANGE, 71), "K")
    unit = "" if name == PRANDTL else shown_unit(name, system)
    x = scale.m_as(shown_unit("temperature", system))
    axes.plot(x, of(gas, scale).m_as(unit), color=BLUE, label="flue gas")
    axes.plot(x, of(AIR, scale).m_as(unit), "--", color=GREY, label="dry air")
    mark_now(axes, temperature.m_as(shown_unit("temperature", system)), of(gas, temperature).m_as(unit))
    plain(axes, axis("temperature", "temperature", system), name if name == PRANDTL else axis(name, name, system))
    legend(axes)


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of flue gas that has gone cold."""
    return predict("flue_gas", gone_cold, system)


ALIKE = 0.005  # of the density: less is called as heavy as air


def gone_cold(room: Quantity, excess: float) -> dict[str, Quantity | int]:
    """Flue gas of natural gas as warm as the room, beside dry air: without the water that condensed, and with it."""
    gas = burned_gas("natural gas", excess)
    left = condensation.saturated(gas, room, Q_(SEA_LEVEL_PRESSURE, "Pa"))[0]
    over, wet = (float(g.molar_mass) / AIR.molar_mass - 1.0 for g in (left, gas))
    return {
        "right": 1 if abs(over) < ALIKE else 0 if over < 0.0 else 2,
        "figure": Q_(over, ""),
        "lighter": Q_(-wet, ""),
        "equal": room.to("K") * (1.0 + wet),
    }


def writing(system: str = "US") -> Writing:
    """The molar mass of a wet flue gas, to be written by the reader."""
    return load_writing("flue_gas", mixed_mass, system)


def mixed_mass(co2: Quantity, h2o: Quantity, o2: Quantity) -> dict[str, Quantity]:
    """Molar mass of a wet flue gas, and what it becomes by the slips that are made with it."""
    parts = {"co2": co2.m_as(""), "h2o": h2o.m_as(""), "o2": o2.m_as("")}
    rest = 1.0 - sum(parts.values())
    argon = AIR.ar / (AIR.ar + AIR.n2)
    gas = Gas(**parts, n2=rest * (1.0 - argon), ar=rest * argon)
    masses = {s: Gas(**{one: float(one == s) for one in SPECIES}).molar_mass for s in SPECIES}
    nitrogen = masses["n2"] * (1.0 - argon) + masses["ar"] * argon
    of = dict(masses) | {"rest": nitrogen}
    shares = parts | {"rest": rest}
    found = {
        "answer": gas.molar_mass,
        "no_nitrogen": gas.molar_mass - rest * nitrogen,
        "water_twice": gas.molar_mass + parts["h2o"] * nitrogen,
        "dry": (gas.molar_mass - parts["h2o"] * masses["h2o"]) / (1.0 - parts["h2o"]),
        "by_weight": 1.0 / sum(share / of[species] for species, share in shares.items()),
    }
    return {name: Q_(float(mass), "kg/mol") for name, mass in found.items()}


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
