"""Quick checks: ten one-screen calculators, each a card with inputs, answer, formula, source and a line of Python.

What a card asks and says stands in ``data/handbook/quick_checks.toml``; here is what it works, a plain function from
its inputs to what it finds by name. The line of Python is written from the same inputs, calls the library directly,
and gives the same number as the card.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ventcalc import checked, tables
from ventcalc.draft import fan_laws
from ventcalc.flow import fittings, friction, heat_loss, stack_effect
from ventcalc.gas import atmosphere, combustion, combustion_analysis, condensation, flue_gas, stack_loss
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import FUELS, Fuel, fuel
from ventcalc.handbook.quick_sketches import SKETCHES
from ventcalc.show import calculator_card
from ventcalc.show.calculator import Answer, Calculator, Choice, Number, Python
from ventcalc.show.calculator_card import Card, Cards
from ventcalc.units import Q_, SYSTEMS, Quantity, parse, show
from ventcalc.words import fill

Found = dict[str, Any]

# Gases that the cards about a run offer, by fuel and excess air. What they burned matters little there: their densities
# lie within 4 %, viscosities and specific heats within 10 % of one another at 300 °F.
GASES = {
    "natural gas, 30 % excess air": ("natural gas", 0.3),
    "propane, 30 % excess air": ("propane", 0.3),
    "no. 2 oil, 30 % excess air": ("no. 2 oil", 0.3),
    "air": None,
}

ANALYZER = {"% O₂, dry": "o2", "% CO₂, dry": "co2"}  # what the number of an analyzer means


@dataclass(frozen=True)
class Reading:
    """What an analyzer reads in the dry flue gas: ``gas`` "o2" or "co2", and the share of it."""

    gas: str
    share: Quantity

    def excess_air(self, burned: Fuel) -> Quantity:
        """The excess air it stands for."""
        from_gas = {"o2": combustion_analysis.excess_air_from_o2, "co2": combustion_analysis.excess_air_from_co2}
        return from_gas[self.gas](burned, self.share)


class Analyzer(Number):
    """The box of a reading: a number in percent, and the gas that it means in place of a unit."""

    converts = False

    def odd(self, value: Reading) -> str:
        """Nothing: which readings are usual hangs on the gas, and what cannot be is refused by the fuel."""
        return ""

    @property
    def options(self) -> list[tuple[str, str]]:
        """Gases as a reader knows them."""
        return [(gas, gas) for gas in self.menu]

    def given(self, text: str) -> tuple[str, str]:
        """A number with its gas as they stand in the box."""
        number, _, gas = text.partition(" ")
        return number, gas

    def typed(self, text: str) -> tuple[str, str] | None:
        """Gas and number that were typed; None where no gas of the menu was."""
        number, gas = self.given(text.strip())
        return (gas, number) if gas in self.menu else None

    def read(self, given: tuple[str, str]) -> tuple[Reading, Mapping[str, str]]:
        """The reading, and Python for it, for the gas and for the oxygen that it stands for."""
        text, of_menu = given
        share, code = Number(self.name, self.label, ("percent",), self.start).read((text, "percent"))
        gas = ANALYZER[of_menu]
        oxygen = code[self.name] if gas == "o2" else "combustion.products(burned, excess_air).o2_dry"
        return Reading(gas, share), {**code, "analyzed": gas, "oxygen": oxygen}


# --- The ten -----------------------------------------------------------------------------------------------


def _both(value: Quantity) -> str:
    return " = ".join(show(value, system) for system in SYSTEMS)


def _flow(fuel: Fuel, heat_input: Quantity, reading: Reading) -> Found:
    excess_air = reading.excess_air(fuel)
    flow = (heat_input * combustion.flue_gas_per_heat(fuel, excess_air)).to("kg/s")
    return {"flow": flow, "excess_air": excess_air}


def _draft(height: Quantity, outdoor: Quantity, temperature: Quantity, gas: Gas, altitude: Quantity) -> Found:
    pressure = atmosphere.standard_pressure(altitude)
    outside, inside = atmosphere.air_density(outdoor, pressure), flue_gas.density(gas, temperature, pressure)
    full = stack_effect.theoretical_draft(height, outside, inside)
    short = stack_effect.handbook_draft(height, pressure, outdoor, temperature)
    over = {"over": full / short - 1} if short.m > 0 else {}
    return {"full": full, "short": short, **over, "outside": outside, "inside": inside, "falls": inside > outside}


def _loss(flow: Quantity, gas: Gas, temperature: Quantity, diameter: Quantity, length: Quantity, roughness: Quantity,
          coefficient: Quantity, altitude: Quantity) -> Found:  # fmt: skip
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    viscosity = flue_gas.viscosity(gas, temperature)
    run = (flow, density, diameter, length, roughness, viscosity)
    straight, whole = friction.pressure_loss(*run), friction.pressure_loss(*run, coefficient)
    # Called for its warning: the range of relative roughness.
    friction.friction_factor(friction.reynolds(flow, diameter, viscosity), roughness / diameter)
    head = friction.velocity_head(density, friction.velocity(flow, density, diameter))
    return {"whole": whole, "straight": straight, "fittings": whole - straight, "head": head}


def _velocity(flow: Quantity, gas: Gas, temperature: Quantity, diameter: Quantity, altitude: Quantity) -> Found:
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    velocity = friction.velocity(flow, density, diameter)
    head, volume = friction.velocity_head(density, velocity), (flow / density).to("m**3/s")
    return {"velocity": velocity, "head": head, "volume": volume, "density": density}


def _dew_point(fuel: Fuel, reading: Reading, air: Quantity, humidity: Quantity, altitude: Quantity) -> Found:
    pressure, excess_air = atmosphere.standard_pressure(altitude), reading.excess_air(fuel)
    vapor = atmosphere.water_vapor_fraction(air, humidity, pressure)
    gas, dry = combustion.products(fuel, excess_air, vapor).gas, combustion.products(fuel, excess_air).gas
    return {
        "dew_point": condensation.dew_point(gas, pressure),
        "dry": condensation.dew_point(dry, pressure),
        "vapor": Q_(gas.h2o, ""),
        "excess_air": excess_air,
    }


def _excess_air(fuel: Fuel, reading: Reading) -> Found:
    excess_air = reading.excess_air(fuel)
    burned = combustion.products(fuel, excess_air)
    dry = {"co2": Q_(burned.co2_dry, ""), "o2": Q_(burned.o2_dry, "")}
    return {"excess_air": excess_air, **dry, "ultimate": combustion.ultimate_co2(fuel)}


def _cooling(flow: Quantity, gas: Gas, inlet: Quantity, surroundings: Quantity, diameter: Quantity, length: Quantity,
             coefficient: Quantity) -> Found:  # fmt: skip
    heat = flue_gas.specific_heat(gas, inlet)
    number = heat_loss.cooling_number(coefficient, diameter, length, flow, heat)
    outlet = heat_loss.outlet_temperature(inlet, surroundings, number)
    mean = heat_loss.mean_temperature(inlet, surroundings, number)
    lost = (flow * (flue_gas.enthalpy(gas, inlet) - flue_gas.enthalpy(gas, outlet))).to("W")
    dew = condensation.dew_point(gas, Q_(1.0, "atm"))
    return {"outlet": outlet, "mean": mean, "lost": lost, "wet": outlet < dew, "dew": _both(dew), "dew_point": dew}


def _efficiency(fuel: Fuel, reading: Reading, stack: Quantity, air: Quantity) -> Found:
    excess_air = reading.excess_air(fuel)
    dew = condensation.dew_point(combustion.products(fuel, excess_air).gas, Q_(1.0, "atm"))
    return {
        "efficiency": stack_loss.efficiency(fuel, excess_air, stack, air),
        "lost": stack_loss.stack_loss(fuel, excess_air, stack, air),
        "latent": Q_(1 - fuel.lhv / fuel.hhv, ""),
        "excess_air": excess_air,
        "wet": stack < dew,
        "dew": _both(dew),
    }


def _air_free(fuel: Fuel, co: Quantity, reading: Reading) -> Found:
    excess_air = reading.excess_air(fuel)
    oxygen = reading.share if reading.gas == "o2" else combustion.products(fuel, excess_air).o2_dry
    return {"free": combustion_analysis.co_air_free(co, oxygen), "excess_air": excess_air}


def _fan(flow: Quantity, pressure: Quantity, temperature: Quantity, gas: Gas, altitude: Quantity) -> Found:
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    thinner = fan_laws.density_factor(temperature, altitude, gas)
    return {
        "standard": fan_laws.to_standard_air(pressure, density),
        "flow": flow,
        "density": density,
        "thinner": thinner,
        "same_mass": (flow * thinner).to("m**3/s"),
        "mass": (flow * density).to("kg/s"),
    }


# --- The cards ---------------------------------------------------------------------------------------------


@cache
def _told() -> Mapping[str, Any]:
    with (tables.DATA / "handbook" / "quick_checks.toml").open("rb") as file:
        return tomllib.load(file)


def _coefficients() -> str:
    """Loss coefficients that a run most often has."""
    names = ("elbow 90", "elbow 45", "tee used as elbow", "low-resistance cap", "rain cap")
    return ", ".join(f"{name}: {fittings.fitting(name).loss:g}" for name in names)


def _walls() -> str:
    """Design values of U in both unit systems, from the best wall to the worst."""
    rows = [tables.row("heat_transfer_checks", key) for key in ("H010", "H009", "H008", "H005", "H001")]
    both = [(row["wall"], Q_(float(row["value"]), "Btu/(hour*ft**2*delta_degF)")) for row in rows]
    return "; ".join(f"{wall}: {u.m:g} = {u.m_as('W/(m**2*K)'):.1f}" for wall, u in both)


def _figures() -> Mapping[str, Any]:
    """What the texts of the cards tell of the library, its modules by their names among it."""
    modules = (combustion_analysis, condensation, fan_laws, friction, heat_loss, stack_effect)
    return {
        **_told()["texts"],
        "coefficients": _coefficients(),
        "walls": _walls(),
        **dict(zip(("coldest", "hottest"), flue_gas.TEMPERATURE_RANGE, strict=True)),
        **{module.__name__.rpartition(".")[2]: module for module in modules},
    }


def _gas(of: tuple[str, float] | None) -> tuple[Gas, str]:
    if of is None:
        return Gas.dry_air(), "flue_gas.Gas.dry_air()"
    return combustion.products(fuel(of[0]), of[1]).gas, f'combustion.products(fuel("{of[0]}"), {of[1]}).gas'


@cache
def calculators() -> tuple[Calculator, ...]:
    """The ten, in their order."""
    told = _told()
    works = (_flow, _draft, _loss, _velocity, _dew_point, _excess_air, _cooling, _efficiency, _air_free, _fan)
    python, figures = Python(told["steps"], told["imports"]), _figures()

    def card(row: Mapping[str, Any], work: Callable[..., Found]) -> Calculator:
        asked = ({"name": box} if isinstance(box, str) else box for box in row["inputs"])
        inputs = tuple(_box(box, told["boxes"], figures) for box in asked)
        texts = {key: fill(row[key], figures) for key in ("formula", "source", "note") if key in row}
        own = {**row, **texts, "inputs": inputs, "sketch": SKETCHES.get(row["name"])}
        return Calculator(**own, answer=work, python=python)

    return tuple(card(row, work) for row, work in zip(told["cards"], works, strict=True))


def _box(told: Mapping[str, Any], boxes: Mapping[str, Any], figures: Mapping[str, Any]) -> Number | Choice:
    """An input by what stands of it in its card, and of the one that it is like."""
    name = told["name"]
    own = {**boxes.get(name, {}), **told}
    told = {**boxes.get(own.get("like", name), {}), **own}
    if name == "fuel":
        return Choice(name, told["label"], {f: (fuel(f), f'fuel("{f}")') for f in FUELS})
    if name == "gas":
        return Choice(name, told["label"], {gas: _gas(of) for gas, of in GASES.items()})
    start = told["start"] if isinstance(told["start"], Mapping) else dict.fromkeys(SYSTEMS, told["start"])
    if name == "reading":
        return Analyzer(name, told["label"], tuple(ANALYZER), start)
    least, most = (fill(told.get(limit, ""), figures) for limit in ("least", "most"))
    usual = tuple(told["usual"]) if "usual" in told else None
    return Number(name, told["label"], tuple(told["menu"]), start, least, most, usual)


def calculator(name: str) -> Calculator:
    """The calculator of that name; ValueError lists the known ones."""
    known = {each.name: each for each in calculators()}
    if name not in known:
        raise ValueError(f"no calculator named {name!r}; there are: {', '.join(known)}")
    return known[name]


def value(name: str, /, **texts: Any) -> Answer:
    """The answer of a card in which ``texts`` stand instead of its US values: ``value("draft", height="100 ft")``."""
    card = calculator(name)
    boxes = {box.name: box for box in card.inputs}
    given = {n: boxes[n].given(t) if isinstance(boxes[n], Number) else t for n, t in texts.items()}
    return card.work(card.start("US") | given, "US")[0]


def card(name: str, system: str = "US") -> Card:
    """The card of a calculator; ``name`` as in `calculators`."""
    return Card(calculator(name), system)


def cards(system: str = "US") -> Cards:
    """All ten, below each other."""
    return Cards(calculators(), system)


def overview(system: str = "US") -> str:
    """All cards with their first inputs and answers, as an HTML table."""
    return calculator_card.overview(calculators(), system)


# --- Checked against ----------------------------------------------------------------------------------------


def checks() -> tuple[checked.Check, ...]:
    """What the cards answer to published cases, beside the rows of data/*_checks.csv."""
    return tuple(
        check
        for table, cases in _told()["checks"].items()
        for check in checked.compare(table, {key: _answered(**case) for key, case in cases.items()})
    )


def _answered(card: str, result: int = 0, per: str = "", excess_air: float | None = None, **texts: str) -> Quantity:
    """A result of a card, ``per`` a quantity or another case where told."""
    if excess_air is not None:
        oxygen = 100.0 * float(combustion.products(fuel(texts["fuel"]), excess_air).o2_dry)
        texts["reading"] = f"{oxygen!r} % O₂, dry"
    found, others = value(card, **texts).results[result].value, _told()["cases"]
    return found / (_answered(**others[per]) if per in others else parse(per)) if per else found
