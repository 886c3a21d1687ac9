"""Combustion, the chapter: from a reading at the stack to flue gas, losses and efficiency."""

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.gas import combustion, combustion_analysis, stack_loss, steam_book
from ventcalc.gas.atmosphere import (
    ATOMIC_MASS,
    DRY_AIR_MOLAR_MASS,
    MOLAR_MASS,
    SEA_LEVEL_PRESSURE,
    water_vapor_fraction,
)
from ventcalc.gas.combustion import Products
from ventcalc.gas.fuels import FUELS, Fuel, fuel, gas_fuel, oil_fuel
from ventcalc.show import panels
from ventcalc.show.axes import axis, legend, mark_now, number, picture, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show

SEA_LEVEL = Q_(SEA_LEVEL_PRESSURE, "Pa")


@dataclass(frozen=True)
class Reading:
    """What a tester reads at a stack, and the air that the burner breathes.

    o2: dry mole fraction; flue, air: temperatures; humidity: relative, ratio.
    """

    fuel: Fuel
    o2: float
    flue: Quantity
    air: Quantity
    humidity: float

    @property
    def excess_air(self) -> float:
        """Excess air, ratio."""
        return float(combustion_analysis.excess_air_from_o2.bare(self.fuel, self.o2))

    @property
    def vapor(self) -> float:
        """Mole fraction of water vapor in the combustion air."""
        return float(water_vapor_fraction(self.air, self.humidity, SEA_LEVEL).m_as(""))

    @property
    def products(self) -> Products:
        """The flue gas."""
        return combustion.products.bare(self.fuel, self.excess_air, self.vapor)

    @property
    def loss(self) -> float:
        """Stack loss, of the HHV."""
        return float(stack_loss.stack_loss(self.fuel, self.excess_air, self.flue, self.air, self.vapor).m_as(""))

    @property
    def latent_loss(self) -> float:
        """The part of it that is latent heat of the water that burning formed."""
        return 1.0 - self.fuel.lhv / self.fuel.hhv

    def flow(self, heat_input: Quantity) -> Quantity:
        """Mass flow of wet flue gas."""
        return (heat_input * Q_(self.products.mass_per_heat, "kg/J")).to("kg/s")

    def water(self, heat_input: Quantity) -> Quantity:
        """Mass flow of water vapor in it."""
        return (heat_input * Q_(self.products.water_per_heat, "kg/J")).to("kg/s")


# The chapter's case.
HEAT_INPUT = Q_(1000.0, "MBH")
READING = Reading(fuel("natural gas"), 0.05, Q_(380.0, "degF"), Q_(70.0, "degF"), 0.4)


# --- What the chapter stands on -------------------------------------------------------------------------------

_METHANE, _BUTANE = gas_fuel("methane", {"CH4": 1.0}), gas_fuel("n-butane", {"n-C4H10": 1.0})
# The book's second example of a natural gas, by volume.
_OLD_GAS = {"O2": 0.0040, "CO": 0.0095, "CO2": 0.0034, "C2H4": 0.0066, "C2H6": 0.0355, "CH4": 0.7215, "H2": 0.2195}
_FUELS = {
    **dict.fromkeys(("natural gas",), fuel("natural gas")),
    **dict.fromkeys(("propane", "LP gas"), fuel("propane")),
    **dict.fromkeys(("butane", "n-butane"), _BUTANE),
    **dict.fromkeys(("oil", "No. 2 oil", "light fuel oil", "distillate fuel oil No. 2"), fuel("no. 2 oil")),
    "methane": _METHANE,
    "carbon to CO2": oil_fuel("carbon", {"C": 1.0}, 32.8e6),
    "carbon monoxide": gas_fuel("carbon monoxide", {"CO": 1.0}),
    "hydrogen": gas_fuel("hydrogen", {"H2": 1.0}),
    "sulfur": oil_fuel("sulfur", {"S": 1.0}, 9.2e6),
}
_NET_STACK_AIR = Q_(70.0, "degF")  # the federal table gives differences only; 59 to 80 °F changes 0.05 points


def _coal(row: dict[str, str]) -> Fuel:
    """The dry fuel of a row by its analysis; the rest is ash. Its heating value plays no part."""
    columns = {"C": "carbon_pct", "H": "hydrogen_pct", "O": "oxygen_pct", "S": "sulfur_pct"}
    parts = {part: float(row[column] or 0) / 100 for part, column in columns.items()}
    return oil_fuel(row["fuel"], parts | {"ash": 1 - sum(parts.values())}, hhv=30e6)


def molar_mass(gas: Fuel) -> float:
    """Molar mass of a gaseous fuel from its composition, kg/mol."""
    atoms = {row["component"]: row for row in tables.read("fuels_components")}
    total = sum(x for _, x in gas.composition)
    return sum(x * int(atoms[c][e]) * ATOMIC_MASS[e] for c, x in gas.composition for e in "CHONS") / total


def heat_per_cubic_foot(gas: Fuel) -> float:
    """Higher heating value in Btu per cubic foot at 60 °F and 14.73 psia, dry."""
    moles = Q_(14.73, "psi") * Q_(1.0, "ft**3") / (Q_(1.0, "molar_gas_constant") * Q_(60.0, "degF").to("K"))
    return (Q_(gas.hhv * molar_mass(gas), "J/mol") * moles).m_as("Btu")


def with_heat_per_cubic_foot(gas: Fuel, btu: float) -> Fuel:
    """The same gas with another heating value put on it: same elements, same latent heat."""
    hhv = gas.hhv * btu / heat_per_cubic_foot(gas)
    return replace(gas, hhv=hhv, lhv=hhv - (gas.hhv - gas.lhv))


def tabulated_efficiency(row: dict[str, str], burned: Fuel) -> Quantity:
    """Efficiency at the oxygen and the net stack temperature of a row of the federal table."""
    excess = combustion_analysis.excess_air_from_o2(burned, Q_(float(row["o2_dry_pct"]), "percent"))
    flue = _NET_STACK_AIR.to("K") + Q_(float(row["net_stack_temp_F"]), "delta_degF")
    return stack_loss.efficiency(burned, excess, flue, _NET_STACK_AIR)


def _gas_volume_of_air() -> float:
    """Volume of theoretical air for a volume of the book's old natural gas."""
    old = gas_fuel("old natural gas", _OLD_GAS)
    return combustion.theoretical_air(old) * molar_mass(old) / DRY_AIR_MOLAR_MASS


def _rows(first: int, last: int) -> dict[str, dict[str, str]]:
    found = {row["id"]: row for row in tables.read("combustion_checks")}
    return {key: found[key] for key in found if first <= int(key[1:]) <= last}


def stoichiometry_checks() -> tuple[Check, ...]:
    """Federal F-factors and carbon, ultimate CO2, theoretical air of many fuels."""
    ours = {}
    for key, row in (_rows(1, 12) | _rows(20, 32) | _rows(85, 101)).items():
        burned, what = _FUELS.get(row["fuel"]), row["quantity"]
        if what[:2] in ("Fd", "Fw", "Fc"):
            ours[key] = _f_factor(burned, what[:2])
        elif what.startswith("CO2 emission"):
            carbon_dioxide = burned.carbon * MOLAR_MASS["co2"] / ATOMIC_MASS["C"]
            ours[key] = (Q_(carbon_dioxide / burned.hhv, "kg/J")).m_as("kg/MBH/hour") * 1000
        elif what.startswith("ultimate"):
            ours[key] = combustion.ultimate_co2(burned)
        else:
            ours[key] = combustion.theoretical_air(burned or _coal(row))
    ours["C104"] = _gas_volume_of_air()
    propane = fuel("propane")
    ratio = 1.0 + brentq(lambda excess: combustion.products.bare(propane, excess).gas.o2 - 0.025, 0.0, 1.0)
    ours |= {"C119": ratio, "C120": 1.0 / (combustion.theoretical_air(propane) * ratio)}
    return compare("combustion_checks", ours)


def _f_factor(burned: Fuel, which: str) -> float:
    """Fd, Fw or Fc of a fuel in standard cubic feet per million Btu."""
    dry, wet = (1000 * v.m_as("ft**3/MBH/hour") for v in combustion.volume_per_heat(burned, 0.0))
    return {"Fd": dry, "Fw": wet, "Fc": dry * combustion.ultimate_co2(burned).m_as("")}[which]


def flow_checks() -> tuple[Check, ...]:
    """Flue gas per heat input, ours from the elements, against values of the handbook's equations."""
    ours = {}
    for key, row in (_rows(39, 41) | _rows(45, 45)).items():
        burned, co2 = _FUELS[row["fuel"]], Q_(float(row["co2_dry_pct"]), "percent")
        ours[key] = combustion.flue_gas_per_heat(burned, combustion_analysis.excess_air_from_co2(burned, co2))
    return compare("combustion_checks", ours)


def efficiency_rows() -> dict[str, dict[str, str]]:
    """The rows of the federal table of combustion efficiency."""
    return _rows(60, 84)


def efficiency_checks() -> tuple[Check, ...]:
    """The federal table of combustion efficiency, natural gas."""
    natural_gas = fuel("natural gas")
    return compare("combustion_checks", {k: tabulated_efficiency(r, natural_gas) for k, r in efficiency_rows().items()})


def steam_book_checks() -> tuple[Check, ...]:
    """Two worked examples of the steam book: a flue gas from a coal analysis, and a boiler's heat balance."""
    row = _rows(105, 105)["C105"]
    carbon, hydrogen, oxygen, sulfur = _analysis(row)
    co2, o2, co, n2 = _orsat(row)
    flue, room = (Q_(float(row[c]), "degF") for c in ("stack_temp_F", "ambient_F"))
    per_carbon = steam_book.steam_book_dry_gas(co2, o2, n2, co)
    per_coal = 0.80 * per_carbon  # "80 per cent of the fuel" leaves as gas, in the book's words of carbon
    loss = steam_book.steam_book_dry_loss(per_coal, flue, room).m_as("Btu/lb")
    ours = {
        "C105": steam_book.steam_book_air(carbon, hydrogen, oxygen, sulfur).m,
        "C106": per_carbon.m,
        "C107": per_coal.m,
        "C108": loss,
        "C109": 100 * loss / 14500.0,
        "C110": steam_book.steam_book_air_ratio(o2, n2, co),
    }
    return compare("combustion_checks", ours | _heat_balance(_rows(111, 111)["C111"]))


def _heat_balance(row: dict[str, str]) -> dict[str, float]:
    carbon, hydrogen, _, _ = _analysis(row)
    co2, o2, co, n2 = _orsat(row)
    flue, room = (Q_(float(row[c]), "degF") for c in ("stack_temp_F", "ambient_F"))
    printed_gas = float(_rows(113, 113)["C113"]["value"])  # the book goes on with its own 13.7
    dry = steam_book.steam_book_dry_loss(printed_gas, flue, room).m_as("Btu/lb")
    formed = steam_book.steam_book_water_loss(9 * hydrogen, flue, room).m_as("Btu/lb")
    refuse, combustible, heat = 0.1000, 0.179, 14225.0  # of the coal; of the refuse; Btu/lb, dry
    return {
        "C111": steam_book.steam_book_water_loss(float(row["moisture_pct"]) / 100, flue, room).m_as("Btu/lb"),
        "C112": formed,
        "C113": steam_book.steam_book_dry_gas(co2, o2, n2, co).m * carbon,
        "C114": dry,
        "C115": steam_book.steam_book_co_loss(co2, co, carbon).m_as("Btu/lb"),
        "C116": steam_book.steam_book_ash_loss(refuse * combustible).m_as("Btu/lb"),
        "C117": 100 * dry / heat,
        "C118": 100 * formed / heat,
    }


def _analysis(row: dict[str, str]) -> tuple[float, ...]:
    return tuple(float(row[f"{part}_pct"]) / 100 for part in ("carbon", "hydrogen", "oxygen", "sulfur"))


def _orsat(row: dict[str, str]) -> tuple[float, ...]:
    return tuple(float(row[f"{gas}_dry_pct"]) / 100 for gas in ("co2", "o2", "co", "n2"))


def checks() -> tuple[Check, ...]:
    """All of them."""
    return stoichiometry_checks() + flow_checks() + efficiency_checks() + steam_book_checks()


# --- Figures ----------------------------------------------------------------------------------------------------


def mass_balance(reading: Reading = READING, system: str = "US") -> Figure:
    """What goes into the burner and what comes out, by mass, to scale."""
    burned, heat = reading.products, HEAT_INPUT
    shares = burned.gas.mass_fractions
    out = {"nitrogen, argon": shares["n2"] + shares["ar"], "carbon dioxide": shares["co2"], "water": shares["h2o"],
           "oxygen": shares["o2"]}  # fmt: skip
    flow = reading.flow(heat)
    air = (heat * Q_(burned.air_per_heat, "kg/J")).to("kg/s")
    bars = (
        ("in", {"air": air, "fuel": flow - air}),
        ("out", {name: share * flow for name, share in out.items()}),
    )
    figure = Figure((WIDTH, 2.7))
    axes = figure.add_axes((0.07, 0.02, 0.91, 0.96))
    axes.set(xlim=(0, 1.003), ylim=(0, 4.3))
    axes.axis("off")
    for (side, parts), y in zip(bars, (2.9, 0.3), strict=True):
        axes.text(-0.02, y + 0.35, side, ha="right", va="center", size=SIZE, weight="bold")
        _bar(axes, parts, flow, y, system)
    return figure


_TONES = (PALE, "white", "#c9d3de", "white")


def _bar(axes, parts: dict[str, Quantity], whole: Quantity, y: float, system: str) -> None:
    """One bar of parts side by side; a wide part is named inside, narrow ones above, each a step higher."""
    left, level = 0.0, 0
    for tone, (name, part) in zip(_TONES, parts.items(), strict=False):
        width = float((part / whole).m_as(""))
        axes.barh(y, width, 0.7, left, align="edge", fc=tone, ec=INK, lw=1.2)
        words, middle = f"{name} {show(part.to('kg/s'), system)}", left + width / 2
        if width > 0.4:
            axes.text(middle, y + 0.35, words, ha="center", va="center", size=SIZE, color=INK)
        else:
            lift = y + 0.95 + 0.42 * level
            axes.text(left + width, lift, words, ha="right", va="center", size=SIZE, color=INK)
            axes.plot([middle] * 2, [y + 0.7, lift - 0.2], color=GREY, lw=0.8)
            level += 1
        left += width


def readings_by_air(burned: Fuel, excess: float, o2: float, axes) -> None:
    """CO2 and O2 of the dry gas by excess air, with the point of a reading."""
    percent = np.linspace(0.0, 150.0, 76)
    curve = combustion.products.bare(burned, percent / 100)
    axes.plot(percent, 100 * curve.co2_dry, color=BLUE, label="CO₂")
    axes.plot(percent, 100 * curve.o2_dry, "--", color=INK, label="O₂")
    axes.plot(
        [100 * excess] * 2, [100 * combustion.products.bare(burned, excess).co2_dry, 100 * o2], "o", color=RUST, ms=7
    )
    plain(axes, "excess air, %", "of the dry gas, %", burned.name)
    legend(axes)


def three_fuels(system: str = "US") -> Figure:
    """CO2 and O2 of three fuels by excess air, with the chapter's reading of oxygen."""
    figure, o2 = Figure((WIDTH, 2.9), layout="constrained"), READING.o2
    for axes, name in zip(figure.subplots(1, 3, sharey=True), FUELS, strict=True):
        readings_by_air(fuel(name), float(combustion_analysis.excess_air_from_o2.bare(fuel(name), o2)), o2, axes)
        axes.label_outer()
    return figure


# --- Tables -----------------------------------------------------------------------------------------------------


def known_fuels(system: str = "US") -> HTML:
    """The fuels of the library: elements, heating value, theoretical air."""
    unit, digits = ("Btu/lb", 0) if system == "US" else ("MJ/kg", 1)
    rows = [
        (
            which.name,
            *(f"{100 * getattr(which, element):.1f} %" for element in ("carbon", "hydrogen", "sulfur")),
            f"{Q_(which.hhv, 'J/kg').m_as(unit):,.{digits}f} {unit}",
            f"{combustion.theoretical_air(which):.2f}",
        )
        for which in FUELS.values()
    ]
    weight = "lb per lb" if system == "US" else "kg per kg"
    return HTML(panels.table(("fuel", "carbon", "hydrogen", "sulfur", "HHV", f"air, {weight} of fuel"), rows))


def follows(system: str = "US") -> HTML:
    """What follows from the chapter's reading."""
    return HTML(panels.table(("from the reading", ""), reading_rows(READING, system)))


def monoxide(system: str = "US") -> HTML:
    """100 ppm of carbon monoxide beside three readings of oxygen, air-free."""
    read = Q_(100.0, "ppm")
    rows = [
        (
            f"{o2:.0f} %",
            f"{read.m:.0f} ppm",
            f"{combustion_analysis.co_air_free(read, Q_(o2, 'percent')).m_as('ppm'):.0f} ppm",
        )
        for o2 in (3.0, 6.0, 12.0)
    ]
    return HTML(panels.table(("O₂, dry", "CO, dry", "CO, air-free"), rows))


def flue_gas_of(burned: tuple[Fuel, ...], system: str = "US") -> HTML:
    """Ultimate CO2 and flue gas at 30 % excess air of any fuels."""
    rows = [
        (
            which.name,
            f"{combustion.ultimate_co2(which).m_as('percent'):.1f} %",
            show((HEAT_INPUT * combustion.flue_gas_per_heat(which, 0.3)).to("kg/s"), system),
        )
        for which in burned
    ]
    header = ("fuel", "ultimate CO₂, dry", f"flue gas of {show(HEAT_INPUT, system)} at 30 % excess air")
    return HTML(panels.table(header, rows))


# --- Live controls ------------------------------------------------------------------------------------------------


def reading_rows(reading: Reading, system: str) -> list[tuple[str, str]]:
    """What follows from a reading, as rows of text."""
    burned = reading.products
    dry, wet = (v.to("m**3/MJ") for v in combustion.volume_per_heat(reading.fuel, reading.excess_air, reading.vapor))
    return [
        ("excess air", show(Q_(reading.excess_air, ""), system)),
        ("CO₂ in the dry gas", show(Q_(float(burned.co2_dry), ""), system)),
        (f"flue gas of {show(HEAT_INPUT, system)}", show(reading.flow(HEAT_INPUT), system)),
        ("water vapor in it", show(reading.water(HEAT_INPUT), system)),
        ("its volume, dry and wet, at 68 °F (20 °C) and sea level", f"{_volume(dry, system)}, {_volume(wet, system)}"),
        ("stack loss: latent heat of water", show(Q_(reading.latent_loss, ""), system)),
        ("stack loss: sensible heat", show(Q_(reading.loss - reading.latent_loss, ""), system)),
        ("combustion efficiency, HHV", show(Q_(1 - reading.loss, ""), system)),
    ]


def _volume(per_heat: Quantity, system: str) -> str:
    if system == "US":
        return f"{1000 * per_heat.m_as('ft**3/MBH/hour'):,.0f} ft³ per million Btu"
    return f"{per_heat.m_as('m**3/MJ'):.4f} m³/MJ"


def explorer(system: str = "US") -> panels.Panel:
    """Controls of a reading: fuel, O2, flue temperature, combustion air and its humidity."""
    hot = steps("temperature", system, range(150, 801, 10), range(65, 431, 5))
    cool = steps("temperature", system, range(0, 111, 5), range(-20, 44, 2))
    controls = {
        "burned": panels.choice("Fuel", FUELS, READING.fuel.name),
        "o2": panels.slider("O₂, dry", [(f"{k / 2:.1f} %", k / 200) for k in range(0, 25)], READING.o2),
        "flue": panels.slider("Flue gas", hot, READING.flue.m_as("K")),
        "air": panels.slider("Combustion air", cool, READING.air.m_as("K")),
        "humidity": panels.slider("Humidity of the air", panels.percents(range(0, 101, 10)), READING.humidity),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(
    system: str, *, burned: str, o2: float, flue: float, air: float, humidity: float
) -> tuple[str, bytes]:
    """Numbers and picture of a reading: ``burned`` names a fuel, ``o2`` dry, ``flue`` and ``air`` [K]."""
    reading = Reading(fuel(burned), o2, Q_(flue, "K"), Q_(air, "K"), humidity)
    numbers = panels.table(("from the reading", ""), reading_rows(reading, system))
    return numbers, _picture(reading, system)


def _picture(reading: Reading, system: str) -> bytes:
    figure = Figure((WIDTH, 3.5))
    _draw_boiler(figure.add_axes((0.0, 0.0, 0.44, 1.0)), reading, system)
    _draw_efficiency(figure.add_axes((0.55, 0.16, 0.44, 0.76)), reading, system)
    return picture(figure)


def _draw_boiler(axes: Axes, reading: Reading, system: str) -> None:
    """The boiler: what it breathes, what it burns, and what the analyzer reads where the flue gas leaves."""
    axes.set(xlim=(0.0, 10.0), ylim=(0.0, 11.0))
    axes.axis("off")
    axes.add_patch(Rectangle((3.0, 1.6), 3.4, 3.4, fc=PALE, ec=INK, lw=1.6))
    axes.add_patch(Rectangle((5.0, 5.0), 1.0, 5.8, fc="#fbe9dd", ec=RUST, lw=1.4))
    axes.text(4.7, 3.3, "boiler", ha="center", va="center", size=SIZE, color=INK)
    inward = {"arrowstyle": "-|>", "color": INK, "lw": 1.6}
    for y in (2.3, 4.2):
        axes.annotate("", (3.0, y), (0.3, y), arrowprops=inward)
    axes.annotate("", (5.5, 9.8), (5.5, 6.0), arrowprops=inward | {"color": RUST})
    flow = reading.flow(HEAT_INPUT)
    air = (HEAT_INPUT * Q_(reading.products.air_per_heat, "kg/J")).to("kg/s")
    axes.text(0.1, 4.4, f"air {show(reading.air, system)}\n{show(air, system)}", size=SIZE, color=INK, va="bottom")
    axes.text(0.1, 2.1, f"{reading.fuel.name}\n{show(HEAT_INPUT, system)}", size=SIZE, color=INK, va="top")
    told = f"{show(flow, system)}\n{show(reading.flue, system)}\n{100 * reading.o2:.1f} % O₂"
    axes.plot([6.0, 6.5], [8.0, 8.0], color=RUST, lw=1.6)
    axes.text(6.7, 8.0, told, size=SIZE, color=RUST, va="center")
    axes.text(4.8, 8.0, "flue\ngas", size=SIZE, color=RUST, va="center", ha="right")


def _draw_efficiency(axes: Axes, reading: Reading, system: str) -> None:
    """Efficiency by the temperature of the flue gas, at the excess air read and at none."""
    temperature = np.linspace(335.0, 705.0, 41)
    x = number(temperature, "K", "temperature", system)
    for excess, style, name in ((0.0, "--", "no excess air"), (reading.excess_air, "-", "as read")):
        found = stack_loss.efficiency.bare(reading.fuel, excess, temperature, reading.air.m_as("K"), reading.vapor)
        axes.plot(x, 100 * found, style, color=BLUE, label=name)
    mark_now(axes, number(reading.flue.m_as("K"), "K", "temperature", system), 100 * (1 - reading.loss))
    plain(axes, axis("flue gas, not condensing", "temperature", system), "efficiency on the HHV, %")
    legend(axes)


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of the water in flue gas."""
    return predict("combustion", water_over_gas, system)


LITTLE, ABOUT_ALIKE = 0.5, 1.5  # of water over gas, by weight: below the first it is little, above the other more


def water_over_gas(heat: Quantity, excess: float) -> dict[str, Quantity | int]:
    """Weight of the water that burning natural gas forms, over that of the gas."""
    natural_gas = fuel("natural gas")
    gas, water = (
        _per_heat(heat, rate)
        for rate in (1.0 / natural_gas.hhv, combustion.products.bare(natural_gas, excess).water_per_heat)
    )
    ratio = float((water / gas).m_as(""))
    return {
        "right": 0 if ratio < LITTLE else 1 if ratio < ABOUT_ALIKE else 2,
        "figure": water,
        "gas": gas,
        "ratio": ratio,
        "liquid": (water / Q_(1000.0, "kg/m**3") * Q_(1.0, "hour")).to("m**3"),
    }


def writing(system: str = "US") -> Writing:
    """Excess air of natural gas from oxygen, to be written by the reader."""
    return load_writing("combustion", excess_from_oxygen, system)


def excess_from_oxygen(o2: Quantity) -> dict[str, Quantity]:
    """Excess air of natural gas from oxygen in the dry gas, and what it becomes by the slips that are made with it."""
    share, of_air = o2.to(""), 0.2095
    return {
        "answer": combustion_analysis.excess_air_from_o2(fuel("natural gas"), share).to("percent"),
        "carbon_rule": (share / (of_air - share)).to("percent"),
        "of_all_air": (share / of_air).to("percent"),
        "whole_air": (of_air / (of_air - share)).to("percent"),
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    works = (excess_air, propane_flow, boiler_efficiency, carbon_monoxide, water_formed)
    return load("combustion", works, system, seed)


def _per_heat(heat: Quantity, kilograms_per_joule: float) -> Quantity:
    return (heat * Q_(kilograms_per_joule, "kg/J")).to("kg/s")


def excess_air(o2: Quantity) -> dict[str, Quantity]:
    """Excess air of natural gas from a reading of oxygen."""
    share, of_air = o2.to(""), 0.2095
    return {
        "answer": combustion_analysis.excess_air_from_o2(fuel("natural gas"), share).to("percent"),
        "carbon_rule": share / (of_air - share),
        "of_all_air": share / of_air,
        "oxygen": share,
    }


def propane_flow(heat: Quantity, co2: Quantity, system: str) -> dict[str, Quantity | float]:
    """Flue gas of propane from a reading of carbon dioxide."""
    propane = fuel("propane")
    excess = combustion_analysis.excess_air_from_co2(propane, co2)
    flow = (heat * combustion.flue_gas_per_heat(propane, excess)).to("kg/s")
    return {
        "answer": flow,
        "excess": excess,
        "per_heat": (flow / heat).m_as("lb/kBtu" if system == "US" else "kg/MJ"),
        "percent": co2.m_as("percent"),
        "ultimate": combustion.ultimate_co2(propane),
        "dry": flow - _per_heat(heat, combustion.products.bare(propane, excess.m_as("")).water_per_heat),
        "lower_value": flow * (propane.hhv / propane.lhv),
        "no_excess": (heat * combustion.flue_gas_per_heat(propane, 0.0)).to("kg/s"),
    }


def boiler_efficiency(o2: Quantity, flue: Quantity, air: Quantity) -> dict[str, Quantity]:
    """Efficiency on the higher heating value from oxygen and flue temperature."""
    natural_gas = fuel("natural gas")
    excess = combustion_analysis.excess_air_from_o2(natural_gas, o2)
    found = stack_loss.efficiency(natural_gas, excess, flue, air).to("percent")
    latent = Q_(1.0 - natural_gas.lhv / natural_gas.hhv, "").to("percent")
    return {"answer": found, "latent": latent, "no_latent": found + latent, "loss": Q_(100.0, "percent") - found}


def carbon_monoxide(ppm: float, percent: float) -> dict[str, Quantity | float]:
    """Carbon monoxide without its excess air."""
    measured, o2, of_air = Q_(ppm, "ppm"), percent / 100.0, 0.2095
    found = combustion_analysis.co_air_free(measured, o2)
    return {
        "answer": found,
        "free": found.m_as("ppm"),
        "left": 100.0 * of_air - percent,
        "measured": measured,
        "upside_down": measured * (of_air - o2) / of_air,
        "by_excess": measured * (1.0 + float(combustion_analysis.excess_air_from_o2.bare(fuel("natural gas"), o2))),
    }


def water_formed(heat: Quantity) -> dict[str, Quantity]:
    """Water that burning natural gas forms."""
    natural_gas = fuel("natural gas")
    water = combustion.products.bare(natural_gas, 0.3).water_per_heat
    return {"answer": _per_heat(heat, water), "gas": _per_heat(heat, 1.0 / natural_gas.hhv)}
