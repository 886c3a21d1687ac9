"""Combustion, the chapter: from a reading at the stack to flue gas, losses and efficiency."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from matplotlib.figure import Figure
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.gas.atmosphere import (
    ATOMIC_MASS,
    DRY_AIR_MOLAR_MASS,
    MOLAR_MASS,
    SEA_LEVEL_PRESSURE,
    water_vapour_fraction,
)
from ventcalc.gas.combustion import (
    Products,
    flue_gas_per_heat,
    products,
    theoretical_air,
    ultimate_co2,
    volume_per_heat,
)
from ventcalc.gas.combustion_analysis import co_air_free, excess_air_from_co2, excess_air_from_o2
from ventcalc.gas.fuels import FUELS, Fuel, fuel, gas_fuel, oil_fuel
from ventcalc.gas.stack_loss import efficiency, stack_loss
from ventcalc.gas.steam_book import (
    steam_book_air,
    steam_book_air_ratio,
    steam_book_ash_loss,
    steam_book_co_loss,
    steam_book_dry_gas,
    steam_book_dry_loss,
    steam_book_water_loss,
)
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
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
        return float(excess_air_from_o2.bare(self.fuel, self.o2))

    @property
    def vapour(self) -> float:
        """Mole fraction of water vapour in the combustion air."""
        return float(water_vapour_fraction(self.air, self.humidity, SEA_LEVEL).m_as(""))

    @property
    def products(self) -> Products:
        """The flue gas."""
        return products.bare(self.fuel, self.excess_air, self.vapour)

    @property
    def loss(self) -> float:
        """Stack loss, of the HHV."""
        return float(stack_loss(self.fuel, self.excess_air, self.flue, self.air, self.vapour).m_as(""))

    @property
    def latent_loss(self) -> float:
        """The part of it that is latent heat of the water that burning formed."""
        return 1.0 - self.fuel.lhv / self.fuel.hhv

    def flow(self, heat_input: Quantity) -> Quantity:
        """Mass flow of wet flue gas."""
        return (heat_input * Q_(self.products.mass_per_heat, "kg/J")).to("kg/s")

    def water(self, heat_input: Quantity) -> Quantity:
        """Mass flow of water vapour in it."""
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
    "sulphur": oil_fuel("sulphur", {"S": 1.0}, 9.2e6),
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
    excess = excess_air_from_o2(burned, Q_(float(row["o2_dry_pct"]), "percent"))
    flue = _NET_STACK_AIR.to("K") + Q_(float(row["net_stack_temp_F"]), "delta_degF")
    return efficiency(burned, excess, flue, _NET_STACK_AIR)


def _gas_volume_of_air() -> float:
    """Volume of theoretical air for a volume of the book's old natural gas."""
    old = gas_fuel("old natural gas", _OLD_GAS)
    return theoretical_air(old) * molar_mass(old) / DRY_AIR_MOLAR_MASS


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
            ours[key] = ultimate_co2(burned)
        else:
            ours[key] = theoretical_air(burned or _coal(row))
    ours["C104"] = _gas_volume_of_air()
    propane = fuel("propane")
    ratio = 1.0 + brentq(lambda excess: products.bare(propane, excess).gas.o2 - 0.025, 0.0, 1.0)
    ours |= {"C119": ratio, "C120": 1.0 / (theoretical_air(propane) * ratio)}
    return compare("combustion_checks", ours)


def _f_factor(burned: Fuel, which: str) -> float:
    """Fd, Fw or Fc of a fuel in standard cubic feet per million Btu."""
    dry, wet = (1000 * v.m_as("ft**3/MBH/hour") for v in volume_per_heat(burned, 0.0))
    return {"Fd": dry, "Fw": wet, "Fc": dry * ultimate_co2(burned).m_as("")}[which]


def flow_checks() -> tuple[Check, ...]:
    """Flue gas per heat input, ours from the elements, against values of the handbook's equations."""
    ours = {}
    for key, row in (_rows(39, 41) | _rows(45, 45)).items():
        burned, co2 = _FUELS[row["fuel"]], Q_(float(row["co2_dry_pct"]), "percent")
        ours[key] = flue_gas_per_heat(burned, excess_air_from_co2(burned, co2))
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
    carbon, hydrogen, oxygen, sulphur = _analysis(row)
    co2, o2, co, n2 = _orsat(row)
    flue, room = (Q_(float(row[c]), "degF") for c in ("stack_temp_F", "ambient_F"))
    per_carbon = steam_book_dry_gas(co2, o2, n2, co)
    per_coal = 0.80 * per_carbon  # "80 per cent of the fuel" leaves as gas, in the book's words of carbon
    loss = steam_book_dry_loss(per_coal, flue, room).m_as("Btu/lb")
    ours = {
        "C105": steam_book_air(carbon, hydrogen, oxygen, sulphur).m,
        "C106": per_carbon.m,
        "C107": per_coal.m,
        "C108": loss,
        "C109": 100 * loss / 14500.0,
        "C110": steam_book_air_ratio(o2, n2, co),
    }
    return compare("combustion_checks", ours | _heat_balance(_rows(111, 111)["C111"]))


def _heat_balance(row: dict[str, str]) -> dict[str, float]:
    carbon, hydrogen, _, _ = _analysis(row)
    co2, o2, co, n2 = _orsat(row)
    flue, room = (Q_(float(row[c]), "degF") for c in ("stack_temp_F", "ambient_F"))
    printed_gas = float(_rows(113, 113)["C113"]["value"])  # the book goes on with its own 13.7
    dry = steam_book_dry_loss(printed_gas, flue, room).m_as("Btu/lb")
    formed = steam_book_water_loss(9 * hydrogen, flue, room).m_as("Btu/lb")
    refuse, combustible, heat = 0.1000, 0.179, 14225.0  # of the coal; of the refuse; Btu/lb, dry
    return {
        "C111": steam_book_water_loss(float(row["moisture_pct"]) / 100, flue, room).m_as("Btu/lb"),
        "C112": formed,
        "C113": steam_book_dry_gas(co2, o2, n2, co).m * carbon,
        "C114": dry,
        "C115": steam_book_co_loss(co2, co, carbon).m_as("Btu/lb"),
        "C116": steam_book_ash_loss(refuse * combustible).m_as("Btu/lb"),
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
    axes.set(xlim=(0, 1), ylim=(0, 4.3))
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
    curve = products.bare(burned, percent / 100)
    axes.plot(percent, 100 * curve.co2_dry, color=BLUE, label="CO₂")
    axes.plot(percent, 100 * curve.o2_dry, "--", color=INK, label="O₂")
    axes.plot([100 * excess] * 2, [100 * products.bare(burned, excess).co2_dry, 100 * o2], "o", color=RUST, ms=7)
    plain(axes, "excess air, %", "of the dry gas, %", burned.name)
    axes.legend(fontsize=SIZE, frameon=False)


def _efficiency_curve(reading: Reading, axes, system: str) -> None:
    temperature = np.linspace(320.0, 720.0, 41)
    excess, air = reading.excess_air, reading.air.m_as("K")
    curve = efficiency.bare(reading.fuel, excess, temperature, air, reading.vapour)
    axes.plot(number(temperature, "K", "temperature", system), 100 * curve, color=BLUE)
    at = number(reading.flue.m_as("K"), "K", "temperature", system)
    axes.plot(at, 100 * (1 - reading.loss), "o", color=RUST, ms=7)
    plain(axes, f"flue gas, {label('temperature', system)}", "efficiency on the HHV, %", "not condensing")


def reading_figure(reading: Reading, system: str = "US") -> Figure:
    """CO2 and O2 by excess air; efficiency by flue temperature; the reading in both."""
    figure, (left, right) = row_of_axes(2, height=2.9)
    readings_by_air(reading.fuel, reading.excess_air, reading.o2, left)
    _efficiency_curve(reading, right, system)
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------


def reading_rows(reading: Reading, system: str) -> list[tuple[str, str]]:
    """What follows from a reading, as rows of text."""
    burned = reading.products
    dry, wet = (v.to("m**3/MJ") for v in volume_per_heat(reading.fuel, reading.excess_air, reading.vapour))
    return [
        ("excess air", show(Q_(reading.excess_air, ""), system)),
        ("CO₂ in the dry gas", show(Q_(float(burned.co2_dry), ""), system)),
        (f"flue gas of {show(HEAT_INPUT, system)}", show(reading.flow(HEAT_INPUT), system)),
        ("of it water vapour", show(reading.water(HEAT_INPUT), system)),
        ("its volume, dry and wet, at 68 °F (20 °C) and sea level", f"{_volume(dry, system)}, {_volume(wet, system)}"),
        ("stack loss: latent heat of water", show(Q_(reading.latent_loss, ""), system)),
        ("stack loss: sensible heat", show(Q_(reading.loss - reading.latent_loss, ""), system)),
        ("combustion efficiency, HHV", show(Q_(1 - reading.loss, ""), system)),
    ]


def _volume(per_heat: Quantity, system: str) -> str:
    if system == "US":
        return f"{1000 * per_heat.m_as('ft**3/MBH/hour'):,.0f} ft³ per million Btu"
    return f"{per_heat.m_as('m**3/MJ'):.4f} m³/MJ"


def answer(system: str, *, burned: str, o2: float, flue: float, air: float, humidity: float) -> tuple[str, bytes]:
    """Numbers and picture of a reading: ``burned`` names a fuel, ``o2`` dry, ``flue`` and ``air`` [K]."""
    reading = Reading(fuel(burned), o2, Q_(flue, "K"), Q_(air, "K"), humidity)
    return table(("from the reading", ""), reading_rows(reading, system)), picture(reading_figure(reading, system))


def explorer(system: str = "US") -> Panel:
    """Controls of a reading: fuel, O2, flue temperature, combustion air and its humidity."""
    degree, hot, cool = ("degF", range(150, 801, 10), range(0, 111, 5)) if system == "US" else (
        "degC", range(65, 431, 5), range(-20, 44, 2))  # fmt: skip

    def scale(values):
        return [(show(Q_(float(t), degree), system), float(Q_(float(t), degree).m_as("K"))) for t in values]

    controls = {
        "burned": choice("Fuel", list(FUELS), READING.fuel.name),
        "o2": slider("O₂, dry", [(f"{k / 2:.1f} %", k / 200) for k in range(0, 25)], READING.o2),
        "flue": slider("Flue gas", scale(hot), READING.flue.m_as("K")),
        "air": slider("Combustion air", scale(cool), READING.air.m_as("K")),
        "humidity": slider("Its humidity", [(f"{k} %", k / 100) for k in range(0, 101, 10)], READING.humidity),
    }
    return Panel(lambda **values: answer(system, **values), controls)


# --- Questions ------------------------------------------------------------------------------------------------------


@cache
def _co2_reading() -> tuple[Fuel, float, Quantity]:
    return fuel("propane"), 0.10, Q_(2000.0, "MBH")


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter, answers worked by the library."""
    return (_excess_air(), _propane_flow(system), _boiler_efficiency(system), _carbon_monoxide(), _water(system))


def _excess_air() -> Exercise:
    natural_gas, o2 = fuel("natural gas"), 0.07
    expected = excess_air_from_o2(natural_gas, o2).to("percent")
    rule = o2 / (0.2095 - o2)
    return Exercise(
        question="A natural gas boiler shows 7.0 % O₂ in the dry flue gas. What is its excess air, in percent?",
        expected=expected,
        tolerance=Q_(1.0, "percent"),
        hints=(
            "combustion.excess_air_from_o2(fuel, o2) solves the balance of oxygen.",
            "O₂/(20.95 - O₂) is not quite it: burning gas makes less dry gas than it takes air.",
        ),
        solution=f"{expected.m:.1f} % (a federal tip sheet prints 44.9 %).",
        slips=(
            Slip(
                Q_(rule, ""), "O₂/(20.95 - O₂) is right for carbon alone. Hydrogen takes oxygen and leaves no dry gas."
            ),
            Slip(Q_(o2 / 0.2095, ""), "That is the share of the air that was not needed, over all of it."),
            Slip(Q_(o2, ""), "That is the oxygen itself."),
        ),
        example="20 %",
    )


def _propane_flow(system: str) -> Exercise:
    propane, co2, heat = _co2_reading()
    excess = float(excess_air_from_co2(propane, co2).m_as(""))
    expected = (heat * flue_gas_per_heat(propane, excess)).to("kg/s")
    water = (heat * Q_(products.bare(propane, excess).water_per_heat, "kg/J")).to("kg/s")
    return Exercise(
        question=(
            f"A propane boiler of {show(heat, system)} input shows 10.0 % CO₂, dry. How much flue gas does it make?"
        ),
        expected=expected,
        tolerance=0.01 * expected,
        hints=(
            "Excess air first: combustion.excess_air_from_co2.",
            f"It is {show(Q_(excess, ''), system)}. Then combustion.flue_gas_per_heat times the input.",
        ),
        solution=f"{show(heat, system)} x {(expected / heat).m_as('kg/MJ'):.3f} kg/MJ = {show(expected, system)}.",
        slips=(
            Slip(expected - water, "That is the dry gas: the vent carries the water as well."),
            Slip(
                expected * (propane.hhv / propane.lhv),
                "That is on the lower heating value; inputs here are on the higher.",
            ),
            Slip(
                (heat * flue_gas_per_heat(propane, 0.0)).to("kg/s"),
                "That is without excess air; 10 % CO₂ is not 13.8 %.",
            ),
        ),
        example="1000 lb/hour" if system == "US" else "0.15 kg/s",
    )


def _boiler_efficiency(system: str) -> Exercise:
    natural_gas, excess = fuel("natural gas"), float(excess_air_from_o2.bare(fuel("natural gas"), 0.03))
    flue, air = Q_(450.0, "degF"), Q_(70.0, "degF")
    expected = efficiency(natural_gas, excess, flue, air).to("percent")
    latent = 1 - natural_gas.lhv / natural_gas.hhv
    return Exercise(
        question=(
            f"Natural gas, 3.0 % O₂ dry, flue gas at {show(flue, system)}, dry combustion air at {show(air, system)}. "
            "What is the combustion efficiency on the higher heating value, in percent?"
        ),
        expected=expected,
        tolerance=Q_(0.5, "percent"),
        hints=(
            "combustion.efficiency(fuel, excess_air, flue_temperature, air_temperature).",
            f"The latent heat of the water alone is {100 * latent:.1f} %.",
        ),
        solution=f"{expected.m:.1f} %: {100 * latent:.1f} % leave as latent heat, the rest of the loss as warmth.",
        slips=(
            Slip(expected + Q_(latent, "").to("percent"), "The latent heat of the water vapour is forgotten."),
            Slip(Q_(100.0, "percent") - expected, "That is the loss."),
        ),
        example="75 %",
    )


def _carbon_monoxide() -> Exercise:
    co, o2 = Q_(120.0, "ppm"), 0.09
    expected = co_air_free(co, o2)
    return Exercise(
        question="A tester reads 120 ppm CO beside 9.0 % O₂, both dry. How much is that air-free?",
        expected=expected,
        tolerance=Q_(3.0, "ppm"),
        hints=("Take the excess air out: CO x 20.9 / (20.9 - O₂).", "20.9 - 9.0 = 11.9."),
        solution=f"120 x 20.9 / 11.9 = {expected.m_as('ppm'):.0f} ppm.",
        slips=(
            Slip(co, "That is as measured, thinned by excess air."),
            Slip(co * (0.2095 - o2) / 0.2095, "That is the wrong way round: without its air the gas is stronger."),
            Slip(
                co * (1 + float(excess_air_from_o2.bare(fuel("natural gas"), o2))),
                "The gas is thinned by volume of dry gas, not by excess air over theoretical air.",
            ),
        ),
        example="150 ppm",
    )


def _water(system: str) -> Exercise:
    natural_gas = fuel("natural gas")
    expected = (HEAT_INPUT * Q_(products.bare(natural_gas, 0.3).water_per_heat, "kg/J")).to("kg/s")
    burned = (HEAT_INPUT / Q_(natural_gas.hhv, "J/kg")).to("kg/s")
    return Exercise(
        question=(
            f"How much water does a burner of {show(HEAT_INPUT, system)} form when it burns natural gas at 30 % excess "
            "air, and the air is dry?"
        ),
        expected=expected,
        tolerance=0.02 * expected,
        hints=(
            "products(fuel, excess_air).water_per_heat is in kg/J.",
            f"It burns {show(burned, system)} of gas; a quarter of that is hydrogen, "
            "and each part of it makes nine of water.",
        ),
        solution=f"{show(expected, system)}: more than twice the {show(burned, system)} of gas that it burns.",
        slips=(Slip(burned, "That is the fuel: oxygen of the air is in the water too."),),
        example="50 lb/hour" if system == "US" else "0.005 kg/s",
    )
