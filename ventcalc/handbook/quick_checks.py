"""Quick checks: ten one-screen calculators, each a card with inputs, answer, formula, source and a line of Python.

A `Calculator` is data and one plain function from values to an `Answer`; `Card` puts it on the page. The line of
Python is written from the same inputs, calls the library directly, and gives the same number as the card.
"""

from collections.abc import Mapping
from typing import Any

from ventcalc import checked, tables
from ventcalc.checked import Check
from ventcalc.draft import fan_laws
from ventcalc.flow import fittings, friction, heat_loss, stack_effect
from ventcalc.gas import atmosphere, combustion, combustion_analysis, condensation, flue_gas, stack_loss
from ventcalc.gas.fuels import FUELS, Fuel, fuel
from ventcalc.handbook import calculator_card
from ventcalc.handbook.calculator import ANALYZER, GASES, Answer, Calculator, Choice, Number, Reading, Result
from ventcalc.handbook.calculator_card import Card
from ventcalc.units import Q_, Quantity, show, unit_text

# --- The ten -----------------------------------------------------------------------------------------------


def _flow(fuel: Fuel, heat_input: Quantity, reading: Reading) -> Answer:
    excess_air = reading.excess_air(fuel)
    flow = (heat_input * combustion.flue_gas_per_heat(fuel, excess_air)).to("kg/s")
    return Answer((Result("flue gas", flow, "mass flow"), Result("excess air", excess_air, "ratio")))


def _draft(height: Quantity, outdoor: Quantity, temperature: Quantity, gas: flue_gas.Gas, altitude: Quantity) -> Answer:
    pressure = atmosphere.standard_pressure(altitude)
    outside, inside = atmosphere.air_density(outdoor, pressure), flue_gas.density(gas, temperature, pressure)
    full = stack_effect.theoretical_draft(height, outside, inside)
    short = stack_effect.handbook_draft(height, pressure, outdoor, temperature)
    falls = ("The gas is heavier than outdoor air: it falls, and there is no draft.",) if inside > outside else ()
    results = [
        Result("theoretical draft, full form", full, "draft"),
        Result("by the handbook's shortcut", short, "draft"),
        Result("density outdoors", outside, "density"),
        Result("density of the gas", inside, "density"),
    ]
    if short.m > 0:
        results.insert(2, Result("the full form exceeds it by", full / short - 1, "ratio"))
    return Answer(tuple(results), falls)


def _loss(
    flow: Quantity,
    gas: flue_gas.Gas,
    temperature: Quantity,
    diameter: Quantity,
    length: Quantity,
    roughness: Quantity,
    coefficient: Quantity,
    altitude: Quantity,
) -> Answer:
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    viscosity = flue_gas.viscosity(gas, temperature)
    run = (flow, density, diameter, length, roughness, viscosity)
    straight = friction.pressure_loss(*run)
    whole = friction.pressure_loss(*run, coefficient)
    # Called for its warning: the range of relative roughness.
    friction.friction_factor(friction.reynolds(flow, diameter, viscosity), roughness / diameter)
    head = friction.velocity_head(density, friction.velocity(flow, density, diameter))
    return Answer(
        (
            Result("loss of the run", whole, "draft"),
            Result("of it friction", straight, "draft"),
            Result("of it fittings", whole - straight, "draft"),
            Result("velocity head", head, "draft"),
        )
    )


def _velocity(
    flow: Quantity, gas: flue_gas.Gas, temperature: Quantity, diameter: Quantity, altitude: Quantity
) -> Answer:
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    velocity = friction.velocity(flow, density, diameter)
    return Answer(
        (
            Result("velocity", velocity, "velocity"),
            Result("velocity head", friction.velocity_head(density, velocity), "draft"),
            Result("volume flow, at temperature", (flow / density).to("m**3/s"), "volume flow"),
            Result("density", density, "density"),
        )
    )


def _dew_point(fuel: Fuel, reading: Reading, air: Quantity, humidity: Quantity, altitude: Quantity) -> Answer:
    pressure = atmosphere.standard_pressure(altitude)
    excess_air = reading.excess_air(fuel)
    vapor = atmosphere.water_vapor_fraction(air, humidity, pressure)
    gas = combustion.products(fuel, excess_air, vapor).gas
    dry = combustion.products(fuel, excess_air).gas
    return Answer(
        (
            Result("water dew point", condensation.dew_point(gas, pressure), "temperature"),
            Result("with dry combustion air", condensation.dew_point(dry, pressure), "temperature"),
            Result("water vapor in the flue gas", Q_(gas.h2o, ""), "ratio"),
            Result("excess air", excess_air, "ratio"),
        )
    )


def _excess_air(fuel: Fuel, reading: Reading) -> Answer:
    excess_air = reading.excess_air(fuel)
    burned = combustion.products(fuel, excess_air)
    return Answer(
        (
            Result("excess air", excess_air, "ratio"),
            Result("CO₂, dry", Q_(burned.co2_dry, ""), "ratio"),
            Result("O₂, dry", Q_(burned.o2_dry, ""), "ratio"),
            Result("ultimate CO₂ of this fuel", combustion.ultimate_co2(fuel), "ratio"),
        )
    )


def _cooling(
    flow: Quantity,
    gas: flue_gas.Gas,
    inlet: Quantity,
    surroundings: Quantity,
    diameter: Quantity,
    length: Quantity,
    coefficient: Quantity,
) -> Answer:
    heat = flue_gas.specific_heat(gas, inlet)
    number = heat_loss.cooling_number(coefficient, diameter, length, flow, heat)
    outlet = heat_loss.outlet_temperature(inlet, surroundings, number)
    given_up = (flow * (flue_gas.enthalpy(gas, inlet) - flue_gas.enthalpy(gas, outlet))).to("W")
    dew = condensation.dew_point(gas, Q_(1.0, "atm"))
    wet = f"The gas leaves below its dew point, {show(dew, 'US')} = {show(dew, 'SI')} at sea level: water condenses."
    return Answer(
        (
            Result("temperature at the end", outlet, "temperature"),
            Result("mean over the length", heat_loss.mean_temperature(inlet, surroundings, number), "temperature"),
            Result("heat lost", given_up, "heat rate"),
        ),
        (wet + " Its latent heat is not in this answer.",) if outlet < dew else (),
    )


def _stack_loss(fuel: Fuel, reading: Reading, stack: Quantity, air: Quantity) -> Answer:
    excess_air = reading.excess_air(fuel)
    lost = stack_loss.stack_loss(fuel, excess_air, stack, air)
    dew = condensation.dew_point(combustion.products(fuel, excess_air).gas, Q_(1.0, "atm"))
    wet = f"Below the dew point, {show(dew, 'US')} = {show(dew, 'SI')}: water condenses and the true loss is smaller."
    return Answer(
        (
            Result("efficiency, on the HHV", stack_loss.efficiency(fuel, excess_air, stack, air), "ratio"),
            Result("stack loss", lost, "ratio"),
            Result("of it latent heat of water", Q_(1 - fuel.lhv / fuel.hhv, ""), "ratio"),
            Result("excess air", excess_air, "ratio"),
        ),
        (wet,) if stack < dew else (),
    )


def _air_free(fuel: Fuel, co: Quantity, reading: Reading) -> Answer:
    excess_air = reading.excess_air(fuel)
    oxygen = reading.share if reading.gas == "o2" else combustion.products(fuel, excess_air).o2_dry
    free = combustion_analysis.co_air_free(co, oxygen)
    return Answer((Result("CO, air-free", free, "ppm"), Result("excess air", excess_air, "ratio")))


def _fan(flow: Quantity, pressure: Quantity, temperature: Quantity, gas: flue_gas.Gas, altitude: Quantity) -> Answer:
    density = flue_gas.density(gas, temperature, atmosphere.standard_pressure(altitude))
    thinner = fan_laws.density_factor(temperature, altitude, gas)
    return Answer(
        (
            Result("pressure to look up at standard air", fan_laws.to_standard_air(pressure, density), "draft"),
            Result("volume flow to look up, unchanged", flow, "volume flow"),
            Result("density of the gas", density, "density"),
            Result("over that of standard air", thinner, "ratio"),
            Result("the same mass as standard air", (flow * thinner).to("m**3/s"), "volume flow"),
            Result("mass flow", (flow * density).to("kg/s"), "mass flow"),
        )
    )


_COLDEST, _HOTTEST = (f"{edge:g} K" for edge in flue_gas.TEMPERATURE_RANGE)
_TEMPERATURES, _LENGTHS, _DIAMETERS = ("degF", "degC"), ("ft", "m"), ("inch", "mm")
_U = ("Btu/(hour*ft**2*delta_degF)", "W/(m**2*K)")


def _temperature(name: str, label: str, us: str, si: str) -> Number:
    return Number(name, label, _TEMPERATURES, (f"{us} degF", f"{si} degC"), _COLDEST, _HOTTEST)


_FUEL = Choice("fuel", "Fuel", tuple(FUELS))
_GAS = Choice("gas", "Gas", tuple(GASES))
_READING = Number("reading", "Analyzer reads", tuple(ANALYZER), ("5 % O₂, dry", "5 % O₂, dry"))
_ALTITUDE = Number("altitude", "Altitude", _LENGTHS, ("500 ft", "150 m"))
_FLOW = Number("flow", "Mass flow", ("lb/hour", "kg/s", "kg/hour"), ("1900 lb/hour", "0.24 kg/s"), "0 kg/s")
_DIAMETER = Number("diameter", "Diameter", _DIAMETERS, ("12 inch", "300 mm"))
_LENGTH = Number("length", "Length", _LENGTHS, ("40 ft", "12 m"))
_GAS_TEMPERATURE = _temperature("temperature", "Gas, mean", "300", "150")
_AIR = _temperature("air", "Combustion air", "70", "20")

_STOICHIOMETRY = "stoichiometry of complete combustion in air of 20.95 % O₂"
_DENSITY = "<i>ρ</i> = <i>p M</i> / (<i>R T</i>)"


def _coefficients() -> str:
    """Loss coefficients that a run most often has."""
    names = ("elbow 90", "elbow 45", "tee used as elbow", "low-resistance cap", "rain cap")
    return ", ".join(f"{name}: {fittings.fitting(name).loss:g}" for name in names)


def _walls() -> str:
    """Design values of U in both unit systems, from the best wall to the worst."""
    rows = [tables.row("heat_transfer_checks", key) for key in ("H010", "H009", "H008", "H005", "H001")]
    us, si = _U
    both = [(row["wall"], float(row["value"]), Q_(float(row["value"]), us).m_as(si)) for row in rows]
    return "; ".join(f"{wall}: {value:g} = {metric:.1f}" for wall, value, metric in both)


CALCULATORS = (
    Calculator(
        name="flow",
        title="Flue gas mass flow",
        inputs=(
            _FUEL,
            Number("heat_input", "Heat input, HHV", ("MBH", "kW"), ("2000 MBH", "600 kW"), "0 kW"),
            _READING,
        ),
        answer=_flow,
        line="({heat_input} * combustion.flue_gas_per_heat(burned, excess_air))",
        formula="<i>m</i> = <i>Q</i> · (flue gas per kg of fuel) / HHV, at the excess air that the reading stands for",
        source=_STOICHIOMETRY,
        note="Dry combustion air; the moisture of a warm, humid day adds about 2 %.",
    ),
    Calculator(
        name="draft",
        title="Theoretical draft",
        inputs=(
            Number("height", "Rise", _LENGTHS, ("40 ft", "12 m"), "0 m"),
            _temperature("outdoor", "Outdoors", "20", "-5"),
            _GAS_TEMPERATURE,
            _GAS,
            _ALTITUDE,
        ),
        answer=_draft,
        line="stack_effect.theoretical_draft({height}, atmosphere.air_density({outdoor}, pressure), "
        "flue_gas.density(gas, {temperature}, pressure))",
        formula="<i>D</i> = <i>g H</i> (<i>ρ</i><sub>o</sub> − <i>ρ</i><sub>gas</sub>), "
        f"{_DENSITY}, each with its own <i>M</i>; shortcut: "
        "0.2554 <i>B H</i> (1/<i>T</i><sub>o</sub> − 1/<i>T</i><sub>m</sub>) in inHg, ft, °R, in. w.c.",
        source="hydrostatics; " + stack_effect.handbook_draft.source,
        note="Positive pulls. The shortcut takes flue gas for air; wet flue gas is lighter.",
    ),
    Calculator(
        name="loss",
        title="Friction and fitting loss of a run",
        inputs=(
            _FLOW,
            _GAS,
            _GAS_TEMPERATURE,
            _DIAMETER,
            _LENGTH,
            Number("roughness", "Roughness", ("mm", "inch"), ("1 mm", "1 mm")),
            Number("coefficient", "Sum of K", ("",), ("2", "2"), "0 percent"),
            _ALTITUDE,
        ),
        answer=_loss,
        line="friction.pressure_loss({flow}, flue_gas.density(gas, {temperature}, pressure), {diameter}, {length}, "
        "{roughness}, flue_gas.viscosity(gas, {temperature}), {coefficient})",
        formula="Δ<i>p</i> = (<i>f L</i>/<i>D</i> + Σ<i>K</i>) <i>ρ v</i>² / 2, <i>f</i> by Colebrook; "
        "each <i>K</i> on this run's own velocity head",
        source=friction.pressure_loss.source + "; roughness 1 mm of metal vents: EN 13384-1 annex B (from memory), "
        "0.05 mm of plastic ones: as in data/flow/materials.csv",
        note=f"<i>K</i>: {_coefficients()} (sources and status: data/flow/fittings.csv); and 1 for the gas that leaves "
        "at the top. Good to a quarter at best.",
    ),
    Calculator(
        name="velocity",
        title="Velocity in a vent",
        inputs=(_FLOW, _GAS, _GAS_TEMPERATURE, _DIAMETER, _ALTITUDE),
        answer=_velocity,
        line="friction.velocity({flow}, flue_gas.density(gas, {temperature}, pressure), {diameter})",
        formula=f"<i>v</i> = 4 <i>m</i> / (<i>ρ π D</i>²), {_DENSITY}",
        source="continuity; ideal-gas law",
    ),
    Calculator(
        name="dew_point",
        title="Water dew point of flue gas",
        inputs=(
            _FUEL,
            _READING,
            _AIR,
            Number("humidity", "Relative humidity", ("percent",), ("50 percent", "50 percent")),
            _ALTITUDE,
        ),
        answer=_dew_point,
        line="condensation.dew_point(combustion.products(burned, excess_air, atmosphere.water_vapor_fraction({air}, "
        "{humidity}, pressure)).gas, pressure)",
        formula="<i>x</i><sub>H₂O</sub> · <i>p</i> = <i>p</i><sub>sat</sub>(<i>T</i>), the air's moisture included",
        source=f"{_STOICHIOMETRY}; Dalton's law; {condensation.dew_point.source}",
        note="Sulfur in oil lifts the acid dew point far above it.",
    ),
    Calculator(
        name="excess_air",
        title="Excess air",
        inputs=(_FUEL, _READING),
        answer=_excess_air,
        line="excess_air",
        formula="from O₂: <i>A</i> for which (0.2095 <i>A</i> − O) / (<i>A</i> + <i>g</i>) = O₂, over the theoretical "
        "air, less 1; <i>A</i>: dry air, O: oxygen burned, <i>g</i>: what burning adds to the dry gas, all in moles",
        source=_STOICHIOMETRY,
        note="A sound analyzer reads the CO₂ and the O₂ shown together; if yours differ, look for air leaking in.",
    ),
    Calculator(
        name="cooling",
        title="Cooling along a run",
        inputs=(
            _FLOW,
            _GAS,
            _temperature("inlet", "Gas enters at", "330", "165"),
            _temperature("surroundings", "Surroundings", "20", "-5"),
            _DIAMETER,
            _LENGTH,
            Number("coefficient", "U of the wall", _U, (f"0.3 {_U[0]}", f"1.7 {_U[1]}")),
        ),
        answer=_cooling,
        line="heat_loss.outlet_temperature({inlet}, {surroundings}, heat_loss.cooling_number({coefficient}, "
        "{diameter}, {length}, {flow}, flue_gas.specific_heat(gas, {inlet})))",
        formula="<i>T</i><sub>out</sub> = <i>T</i><sub>a</sub> + (<i>T</i><sub>in</sub> − <i>T</i><sub>a</sub>) "
        "e<sup>−<i>N</i></sup>, <i>N</i> = <i>U π D L</i> / (<i>m c</i><sub>p</sub>)",
        source=heat_loss.outlet_temperature.source,
        note=f"<i>U</i> in {unit_text(_U[0])} = {unit_text(_U[1])}: {_walls()} (chimney handbook, from memory). "
        "Good to 30 %.",
    ),
    Calculator(
        name="efficiency",
        title="Stack loss and efficiency",
        inputs=(_FUEL, _READING, _temperature("stack", "Stack", "370", "190"), _AIR),
        answer=_stack_loss,
        line="stack_loss.efficiency(burned, excess_air, {stack}, {air})",
        formula="<i>η</i> = 1 − (<i>m h</i>(<i>T</i><sub>stack</sub>) − <i>m</i><sub>air</sub> "
        "<i>h</i>(<i>T</i><sub>air</sub>) + <i>m</i><sub>w</sub> <i>L</i>) / HHV, per kg of fuel",
        source="energy balance of complete combustion on the HHV; pure gases: data/gas/flue_gas.csv",
        note="Dry combustion air. Jacket loss and unburned fuel are not in it.",
    ),
    Calculator(
        name="air_free",
        title="Carbon monoxide, air-free",
        inputs=(_FUEL, Number("co", "CO, as measured", ("ppm",), ("60 ppm", "60 ppm")), _READING),
        answer=_air_free,
        line="combustion_analysis.co_air_free({co}, {oxygen})",
        formula="CO<sub>air-free</sub> = CO · 0.2095 / (0.2095 − O₂)",
        source=combustion_analysis.co_air_free.source,
        note="For the flue, never for a room: there every ppm counts as it is read.",
    ),
    Calculator(
        name="fan",
        title="Fan duty at temperature and altitude",
        inputs=(
            Number("flow", "Volume flow, hot", ("cfm", "m**3/s", "m**3/hour"), ("1000 cfm", "0.5 m**3/s"), "0 cfm"),
            Number("pressure", "Fan pressure, hot", ("inH2O", "Pa"), ("0.5 inH2O", "125 Pa"), "0 Pa"),
            _temperature("temperature", "Gas at the fan", "300", "150"),
            _GAS,
            _ALTITUDE,
        ),
        answer=_fan,
        line="fan_laws.to_standard_air({pressure}, flue_gas.density(gas, {temperature}, pressure))",
        formula=f"<i>p</i><sub>standard</sub> = <i>p</i> · 0.075 lb/ft³ / <i>ρ</i>, {_DENSITY}; the volume flow stays",
        source=fan_laws.to_standard_air.source,
        note="Look up flow and standard pressure in the fan's table. On cold air the same fan draws more power, in "
        "proportion to density: size the motor for that.",
    ),
)


def calculator(name: str) -> Calculator:
    """The calculator of that name; ValueError lists the known ones."""
    for each in CALCULATORS:
        if each.name == name:
            return each
    raise ValueError(f"no calculator named {name!r}; there are: {', '.join(c.name for c in CALCULATORS)}")


def value(name: str, /, **texts: Any) -> Answer:
    """The answer of a card in which ``texts`` stand instead of its US values: ``value("draft", height="100 ft")``."""
    card = calculator(name)
    boxes = {n: (t, "") if isinstance(t, str) and isinstance(_box(card, n), Number) else t for n, t in texts.items()}
    return card.work(card.start("US") | boxes, "US")[0]


def _box(card: Calculator, name: str) -> Number | Choice:
    return next(b for b in card.inputs if b.name == name)


def card(name: str, system: str = "US") -> Card:
    """The card of a calculator; ``name`` as in `CALCULATORS`."""
    return Card(calculator(name), system)


def overview(system: str = "US") -> str:
    """All cards with their first inputs and answers, as an HTML table."""
    return calculator_card.overview(CALCULATORS, system)


# --- Checked against ----------------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """What the cards answer to published cases, beside the rows of data/*_checks.csv."""
    per_heat = {
        key: value("flow", fuel=name, heat_input="1 MW", reading=(percent, "% CO₂, dry")).results[0].value
        / Q_(1.0, "MW")
        for key, name, percent in (
            ("C039", "natural gas", "5.3"),
            ("C040", "propane", "6"),
            ("C041", "no. 2 oil", "9"),
        )
    }
    dew = {
        key: value("dew_point", fuel="propane", reading=(oxygen, "% O₂, dry"), humidity="0 percent", altitude="0 m")
        for key, oxygen in _propane_oxygen({"C056": 0.0, "C057": 0.2, "C058": 0.5, "C059": 1.0}).items()
    }
    # The sheet's temperatures are differences to the air, here 70 °F.
    tip_sheet = {
        key: value("efficiency", reading=(oxygen, "% O₂, dry"), stack="470 degF", air="70 degF")
        for key, oxygen in (("C062", "2"), ("C067", "3"), ("C072", "5"), ("C077", "7"), ("C082", "10"))
    }
    ours = per_heat | {key: answer.results[0].value for key, answer in (dew | tip_sheet).items()}
    ours["C031"], ours["C032"] = (value("excess_air", fuel=n).results[3].value for n in ("natural gas", "no. 2 oil"))
    air = {"gas": "air", "altitude": "0 m"}
    like = {"F016": ("70 degF", "0 ft"), "F017": ("300 degF", "0 ft"), "F019": ("70 degF", "5000 ft")}
    like["F020"] = ("300 degF", "5000 ft")
    factors = {
        key: value("fan", temperature=degrees, altitude=altitude, gas="air").results[3].value
        for key, (degrees, altitude) in like.items()
    }
    analysed = {"O027": ("87", "5"), "O028": ("100", "5"), "O029": ("50", "9")}
    air_free = {
        key: value("air_free", co=f"{co} ppm", reading=(oxygen, "% O₂, dry")).results[0].value
        for key, (co, oxygen) in analysed.items()
    }
    draft = value("draft", height="100 ft", outdoor="62 degF", temperature="500 degF", **air)
    vent = value("velocity", flow="1.912 kg/s", temperature="1253 K", **air)
    return (
        *checked.compare("carbon_monoxide_checks", air_free),
        *checked.compare("combustion_checks", dict(sorted(ours.items()))),
        *checked.compare("draft_checks", {"D003": draft.results[0].value}),
        *checked.compare("fans_checks", {key: factors[key] / factors["F016"] for key in ("F017", "F019", "F020")}),
        *checked.compare("stack_effect_checks", {"W11a": vent.results[3].value, "W11b": vent.results[2].value}),
    )


def _propane_oxygen(excess_air: Mapping[str, float]) -> dict[str, str]:
    """What an analyzer reads in propane's flue gas of these excess airs, as text in percent."""
    burned = {key: combustion.products(fuel("propane"), e) for key, e in excess_air.items()}
    return {key: repr(100.0 * float(products.o2_dry)) for key, products in burned.items()}
