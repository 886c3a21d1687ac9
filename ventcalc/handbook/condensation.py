"""Condensation, the chapter: water that drips from a vent, acid that does not wait for it."""

from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import friction, heat_loss, wall_condensation
from ventcalc.flow.gas_radiation import radiation_film
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere, condensation, flue_gas
from ventcalc.gas.atmosphere import MOLAR_MASS, SEA_LEVEL_PRESSURE, standard_pressure
from ventcalc.gas.combustion import Products, products
from ventcalc.gas.condensation import MMHG, latent_heat
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import FUELS, Fuel, fuel, gas_fuel, oil_fuel
from ventcalc.show import panels
from ventcalc.show.axes import axis, legend, mark_now, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import GAS_CONSTANT, Q_, Quantity, show

SEA_LEVEL = Q_(SEA_LEVEL_PRESSURE, "Pa")
HEAT_INPUT = Q_(1000.0, "MBH")
STYLES = ("-", "--", "-.")
BARE, DOUBLE, INSULATED = "single-wall galvanized connector", "Type B gas vent", "insulated chimney"
WALLS = {BARE: "bare metal", DOUBLE: "Type B gas vent", INSULATED: "insulated"}


@dataclass(frozen=True)
class Burner:
    """A burner whose flue gas is cooled: the fuel, excess air (ratio), altitude, and the humidity (ratio) of its air.

    The combustion air is at ``AIR``.
    """

    fuel: Fuel
    excess_air: float
    altitude: Quantity = Q_(0.0, "m")
    humidity: float = 0.0

    @property
    def pressure(self) -> Quantity:
        """Barometric pressure of the place."""
        return standard_pressure(self.altitude)

    @property
    def products(self) -> Products:
        """The flue gas."""
        vapor = atmosphere.water_vapor_fraction(AIR, self.humidity, self.pressure).m_as("")
        return products.bare(self.fuel, self.excess_air, vapor)

    @property
    def dew_point(self) -> Quantity:
        """Water dew point."""
        return condensation.dew_point(self.products.gas, self.pressure)

    @property
    def flow(self) -> Quantity:
        """Mass flow of wet flue gas of `HEAT_INPUT`."""
        return (HEAT_INPUT * Q_(self.products.mass_per_heat, "kg/J")).to("kg/s")

    def condensate(self, temperature: Quantity) -> Quantity:
        """Water that condenses when all of it is cooled to a temperature."""
        return condensation.condensate_rate(self.products.gas, self.flow, temperature, self.pressure)

    def heat_released(self, temperature: Quantity) -> Quantity:
        """Latent heat of that water, part of the heat input (ratio)."""
        return (self.condensate(temperature) * latent_heat(temperature) / HEAT_INPUT).to("")


AIR = Q_(70.0, "degF")
# The chapter's case: a boiler that replaced an older one of the same input.
NEW = Burner(fuel("natural gas"), 0.2, humidity=0.4)
OLD = replace(NEW, excess_air=1.5)
NEW_GAS, OLD_GAS = Q_(250.0, "degF"), Q_(350.0, "degF")
OUTDOORS, BORE, LENGTH = Q_(20.0, "degF"), Q_(12.0, "inch"), Q_(10.0, "ft")


# --- What the chapter stands on -------------------------------------------------------------------------------

_FUELS = {"methane (natural gas)": gas_fuel("methane", {"CH4": 1.0}), "propane": fuel("propane")}


def checks() -> tuple[Check, ...]:
    """Dew points of flue gas, saturation of water, and two worked acid dew points."""
    dew = {r["id"]: _dew_point(r) for r in tables.read("combustion_checks") if "dew point" in r["quantity"]}
    water = {
        r["id"]: _saturation(r) for r in tables.read("atmosphere_checks") if r["quantity"].startswith("saturation")
    }
    acid = {
        r["id"]: condensation.acid_dew_point(
            *(Q_(float(r[column]) * MMHG, "Pa") for column in ("water_mmHg", "so3_mmHg"))
        )
        for r in tables.read("condensation_checks")
    }
    return (
        compare("combustion_checks", dew) + compare("atmosphere_checks", water) + compare("condensation_checks", acid)
    )


def _dew_point(row: dict[str, str]) -> Quantity:
    gas = products(_FUELS[row["fuel"]], Q_(float(row["excess_air_pct"]), "percent")).gas
    return condensation.dew_point(gas, Q_(float(row["pressure_kPa"]), "kPa"))


def _saturation(row: dict[str, str]) -> Quantity:
    if row["pressure_psia_in"]:
        return atmosphere.saturation_temperature(Q_(float(row["pressure_psia_in"]), "psi"))
    column, unit = ("temperature_C", "degC") if row["temperature_C"] else ("temperature_F", "degF")
    return atmosphere.saturation_pressure(Q_(float(row[column]), unit))


# --- Acid ---------------------------------------------------------------------------------------------------------

ACID = {
    "Verhoff and Banchero": condensation.acid_dew_point,
    "Okkes": condensation.acid_dew_point_okkes,
    "ZareNezhad (from memory)": condensation.acid_dew_point_zarenezhad,
}


@cache
def oil_with(sulfur: float) -> Fuel:
    """No. 2 oil with another content of sulfur (mass fraction), which takes the place of carbon."""
    base = fuel("no. 2 oil")
    parts = {"C": base.carbon + base.sulfur - sulfur, "H": base.hydrogen, "S": sulfur}
    return oil_fuel(f"oil with {100 * sulfur:g} % sulfur", parts, base.hhv, base.source)


# --- A wall -------------------------------------------------------------------------------------------------------


def films(gas: Gas, temperature, flow, diameter, name: str, outdoors, pressure: Quantity = SEA_LEVEL):
    """Convection and radiation at the inside of a vent of the named material, to a wall halfway to the outdoors."""
    wall = material(name)
    number_of_reynolds = friction.reynolds(flow, diameter, flue_gas.viscosity(gas, temperature))
    number = heat_loss.nusselt(number_of_reynolds, flue_gas.prandtl(gas, temperature), wall.roughness / diameter)
    halfway = Q_(0.5 * (temperature.m_as("K") + outdoors.m_as("K")), "K")
    convection = (number * flue_gas.conductivity(gas, temperature) / diameter).to("W/(m**2*K)")
    return convection, radiation_film(gas, temperature, halfway, diameter, pressure)


def inner_wall(gas: Gas, temperature, flow, diameter, name: str, outdoors, pressure: Quantity = SEA_LEVEL):
    """Inner wall temperature of a dry vent of the named material outdoors in wind, with gas of a temperature in it."""
    wall, film = material(name), sum(films(gas, temperature, flow, diameter, name, outdoors, pressure))
    outside = Q_(heat_loss.OUTDOOR_FILM, "W/(m**2*K)")
    coefficient = heat_loss.heat_transfer_coefficient(film, wall.wall_resistance, outside, wall.diameter_ratio)
    return heat_loss.wall_temperature(temperature, outdoors, coefficient, film)


def wet_wall(gas: Gas, temperature, flow, diameter, name: str, outdoors, pressure: Quantity = SEA_LEVEL):
    """The same wall with the water that settles on it: its temperature, and the water per length and time.

    What the gas radiates reaches the wall beside the film that carries the vapor. Both that and the loss to the
    outdoors are linear in the wall's temperature, so that they are one resistance to surroundings in between.
    """
    wall = material(name)
    convection, radiation = films(gas, temperature, flow, diameter, name, outdoors, pressure)
    outside = wall.wall_resistance.m_as("m**2*K/W") + 1.0 / (wall.diameter_ratio * heat_loss.OUTDOOR_FILM)
    radiated = float(radiation.m_as("W/(m**2*K)"))
    resistance = 1.0 / (radiated + 1.0 / outside)
    between = resistance * (radiated * temperature.m_as("K") + outdoors.m_as("K") / outside)
    inside = wall_condensation.wall_temperature(
        gas, temperature, Q_(between, "K"), pressure, convection, Q_(resistance, "m**2*K/W")
    )
    flux = wall_condensation.condensation_flux(gas, temperature, inside, pressure, convection)
    return inside, (np.maximum(flux, Q_(0.0, "kg/(m**2*s)")) * np.pi * diameter).to("kg/(m*s)")


# --- Tables -----------------------------------------------------------------------------------------------------


def both_boilers(system: str = "US") -> HTML:
    """The old and the new boiler's gas in three vents outdoors, dry wall beside dew point."""
    rows = []
    for name, burner, gas in (("old", OLD, OLD_GAS), ("new", NEW, NEW_GAS)):
        for wall, words in WALLS.items():
            inside = inner_wall(burner.products.gas, gas, burner.flow, BORE, wall, OUTDOORS)
            temperatures = (show(t, system) for t in (gas, burner.dew_point, inside))
            rows.append((name, words, *temperatures, "wet" if inside < burner.dew_point else "dry"))
    return HTML(panels.table(("boiler", "wall", "gas", "dew point", "inner wall", "wall is"), rows))


def all_cooled(system: str = "US") -> HTML:
    """Condensate and heat given back where all of the new boiler's gas is cooled."""
    rows = []
    for fahrenheit in (140, 130, 120, 110, 100, 90, 80):
        cooled = Q_(float(fahrenheit), "degF")
        water, heat = show(NEW.condensate(cooled), system, "condensate"), show(NEW.heat_released(cooled), system)
        rows.append((show(cooled, system), water, heat))
    return HTML(panels.table(("all gas cooled to", "condensate", "heat given back, of the input"), rows))


def wet_table(system: str = "US") -> HTML:
    """Bare metal outdoors as the gas in it cools: the wall if it were dry, as it is, and the water on a length of it.

    The gas is taken with all its water; from the dew point on it has less.
    """
    gas, rows = NEW.products.gas, []
    for fahrenheit in (250.0, 200.0, 150.0):
        given = (gas, Q_(fahrenheit, "degF"), NEW.flow, BORE, BARE, OUTDOORS)
        dry, (wet, water) = inner_wall(*given), wet_wall(*given)
        settles = (water * LENGTH).to("kg/s")
        share = float((settles / NEW.condensate(Q_(100.0, "degF"))).m_as(""))
        temperatures = (show(t, system) for t in (given[1], dry, wet))
        rows.append((*temperatures, show(settles, system, "condensate"), f"{100.0 * share:.0f} %"))
    header = (
        "gas at",
        "wall, if it were dry",
        "wet wall",
        f"settles on {show(LENGTH, system)}",
        "share of all that could",
    )
    return HTML(panels.table(header, rows))


def what_moves_it(system: str = "US") -> HTML:
    """The new boiler's dew point with other combustion air and at an altitude."""
    lodge = Q_(2400.0, "m")
    cases = (
        ("dry air, sea level", replace(NEW, humidity=0.0)),
        ("40 % humidity, sea level", NEW),
        ("100 % humidity, sea level", replace(NEW, humidity=1.0)),
        (f"40 % humidity, {show(lodge, system, 'altitude')}", replace(NEW, altitude=lodge)),
    )
    rows = [
        (words, f"{100 * float(burner.products.gas.h2o):.1f} %", show(burner.dew_point, system))
        for words, burner in cases
    ]
    return HTML(panels.table(("combustion air", "water vapor", "dew point"), rows))


def acid_table(system: str = "US") -> HTML:
    """Acid dew points of oils from clean to dirty, by three correlations."""
    rows = []
    for sulfur in (0.000015, 0.0005, 0.002, 0.01):
        pressures = condensation.acid_partial_pressures(products(oil_with(sulfur), 0.2), SEA_LEVEL)
        found = [correlation(*pressures) for correlation in ACID.values()]
        spread = (max(found) - min(found)).to("delta_degC")
        rows.append((f"{100 * sulfur:.4g} %", *(show(t, system) for t in (*found, spread))))
    return HTML(panels.table(("sulfur in the oil", *ACID, "spread"), rows))


# --- Evidence for the wall ----------------------------------------------------------------------------------------


def _at(row: dict[str, str], gas: Gas | None = None) -> dict[str, float]:
    """Air, or another gas, at the temperature and pressure of a row, plain SI."""
    gas = gas or Gas.dry_air()
    kelvin, pressure = float(row["temperature_K"]), 1e3 * float(row["pressure_kPa"])
    found = {
        "diffusivity": wall_condensation.vapor_diffusivity.bare(kelvin, pressure),
        "density": flue_gas.density.bare(gas, kelvin, pressure),
        "heat": flue_gas.specific_heat.bare(gas, kelvin),
        "conductivity": flue_gas.conductivity.bare(gas, kelvin),
        "prandtl": flue_gas.prandtl.bare(gas, kelvin),
    }
    found["lewis"] = _lewis(found, found["diffusivity"])
    return {name: float(value) for name, value in found.items()}


def _lewis(air: dict[str, float], diffusivity: float) -> float:
    return wall_condensation.lewis_number.bare(air["conductivity"], air["density"], air["heat"], diffusivity)


def _film_of(velocity: float, air: dict[str, float], lewis: float | None = None) -> float:
    """Film [W/(m2 K)] whose mass transfer coefficient, over the flue_gas.density, is that velocity [m/s]."""
    one = wall_condensation.mass_transfer_coefficient.bare(1.0, air["heat"], lewis or air["lewis"])
    return velocity * air["density"] / one


def _wetted(kelvin: float, humidity: float, pressure: float, film: float) -> tuple[float, float]:
    """Temperature [K] of a wet body that passes no heat, in air of that humidity, and what dries [kg/(m2 s)]."""
    air = Gas.humid_air(atmosphere.water_vapor_fraction.bare(kelvin, humidity, pressure))
    wall = wall_condensation.wall_temperature.bare(air, kelvin, kelvin, pressure, film, 1e9, wetted=True)
    return float(wall), -float(wall_condensation.condensation_flux.bare(air, kelvin, wall, pressure, film))


def wall_checks() -> tuple[Check, ...]:
    """Diffusivity, Lewis number, analogy, wet bodies and condensate against published values and worked examples."""
    rows = {r["id"]: r for r in tables.read("wall_condensation_checks")}
    ours = {
        key: 1e6 * _at(row)["diffusivity"] for key, row in rows.items() if row["quantity"].startswith("diffusivity")
    }
    # Fick's law down a duct of 20 m and 0.15 m2; Stefan's factor of a gas of the two densities in the row's note.
    vapor = float(atmosphere.saturation_pressure.bare(295.0)) * MOLAR_MASS["h2o"] / (GAS_CONSTANT * 295.0)
    ours["WD015"] = _at(rows["WD015"])["diffusivity"] / 20.0 * (0.80 - 0.10) * vapor * 0.15 * 1e9
    share = (1.225 - 1.204) / 1.225
    ours["WD016"] = wall_condensation.settling_flux.bare(1.0, share, 0.0) / share
    for key in ("WD018", "WD026", "WD041"):
        air = _at(rows[key])
        ours[key] = air["lewis"] * air["prandtl"]
    # A wet plate: the book's mass transfer coefficient gives the film, the rest follows.
    film = _film_of(float(rows["WD020"]["value"]), _at(rows["WD020"]))
    wall, dried = _wetted(298.15, 0.60, 1e5, film)
    ours |= {"WD021": wall - 273.15, "WD022": 0.3e6 * dried, "WD023": 0.3 * dried * float(latent_heat.bare(wall))}
    # A wet bulb: the book's film gives the mass transfer coefficient.
    air = _at(rows["WD027"])
    coefficient = wall_condensation.mass_transfer_coefficient.bare(
        float(rows["WD027"]["value"]), air["heat"], air["lewis"]
    )
    ours |= {"WD028": coefficient / air["density"], "WD029": float(rows["WD027"]["value"]) / coefficient}
    at_25 = _at(rows["WD036"])
    ours |= {"WD030": at_25["lewis"], "WD031": at_25["lewis"] ** (2 / 3), "WD036": at_25["lewis"]}
    air = _at(rows["WD033"])
    tube = heat_loss.LAMINAR_NUSSELT * air["conductivity"] / float(rows["WD033"]["size_m"])
    coefficient = wall_condensation.mass_transfer_coefficient.bare(tube, air["heat"], air["lewis"])
    ours |= {"WD032": heat_loss.LAMINAR_NUSSELT, "WD033": coefficient / air["density"]}
    ours["WD035"] = _film_of(float(rows["WD034"]["value"]), at_25, _lewis(at_25, 6.1e-6))
    ours["WD037"] = _wetted(303.15, 0.40, 101300.0, 20.0)[0] - 273.15
    kelvin = float(rows["WD042"]["temperature_K"])
    ours["WD042"] = float(atmosphere.saturation_pressure.bare(kelvin)) * MOLAR_MASS["h2o"] / (GAS_CONSTANT * kelvin)
    ours["WD044"] = condensation.dew_point(products(fuel("natural gas"), Q_(0.0, "percent")).gas, SEA_LEVEL)
    ours["WD045"] = (NEW.condensate(Q_(110.0, "degF")) / Q_(1000.0, "kg/m**3")).m_as("gallon/hour")
    ours["WD046"] = latent_heat(Q_(212.0, "degF")).m_as("Btu/lb")
    return compare("wall_condensation_checks", {key: ours[key] for key in rows if key in ours})


# --- Figures ----------------------------------------------------------------------------------------------------


def wall_profiles(system: str = "US") -> Figure:
    """From the new boiler's gas through bare metal and through an insulated wall outdoors, against the dew point."""
    figure, axes = row_of_axes(2, height=2.9)
    dew = number(NEW.dew_point.m_as("K"), "K", "temperature", system)
    for ax, name, title in zip(axes, (BARE, INSULATED), ("bare metal outdoors", "insulated"), strict=True):
        inside, outside = _both_sides(NEW.products.gas, NEW_GAS, NEW.flow, BORE, name, OUTDOORS)
        kelvin = [NEW_GAS.m_as("K")] * 2 + [inside, outside] + [OUTDOORS.m_as("K")] * 2
        ax.plot((0, 1, 2, 2.6, 3.6, 4.6), number(kelvin, "K", "temperature", system), color=INK)
        ax.axvspan(2, 2.6, color=GREY, alpha=0.3, lw=0)
        ax.axhline(dew, color=BLUE, ls="--", lw=1.2)
        ax.text(4.6, dew, "dew point", ha="right", va="bottom", size=SIZE, color=BLUE)
        plain(ax, "", axis("temperature", "temperature", system), title)
        ax.set_xticks((0.5, 1.6, 2.3, 3.1, 4.1), ("gas", "film", "wall", "film", "air"))
    return figure


def _both_sides(gas, temperature, flow, diameter, name, outdoors) -> tuple[float, float]:
    """Temperatures [K] of the inner and the outer face of a wall; the heat flow is the same through all of it."""
    wall, inside = material(name), inner_wall(gas, temperature, flow, diameter, name, outdoors).m_as("K")
    outer = 1 / (wall.diameter_ratio * heat_loss.OUTDOOR_FILM)
    share = outer / (outer + wall.wall_resistance.m_as("m**2*K/W"))
    return inside, outdoors.m_as("K") + share * (inside - outdoors.m_as("K"))


def dew_point_curves(system: str = "US") -> Figure:
    """Water dew point by excess air, three fuels, dry combustion air, at sea level."""
    figure, (axes,) = row_of_axes(height=3.1)
    percent = np.linspace(0.0, 300.0, 61)
    for name, style in zip(FUELS, STYLES, strict=True):
        curve = condensation.dew_point.bare(products.bare(fuel(name), percent / 100).gas, SEA_LEVEL.m_as("Pa"))
        axes.plot(percent, number(curve, "K", "temperature", system), style, color=BLUE, label=name)
    plain(axes, "excess air, %", axis("water dew point", "temperature", system))
    legend(axes)
    return figure


def acid_curves(system: str = "US", excess_air: float = 0.2) -> Figure:
    """Acid dew point of oil's flue gas by its sulfur, three correlations, and what the conversion does to one."""
    figure, (axes,) = row_of_axes(height=3.3)
    sulfur = np.geomspace(1.5e-5, 1e-2, 30)
    burned = [products.bare(oil_with(float(s)), excess_air) for s in sulfur]

    def curve(correlation, conversion):
        found = [correlation(*condensation.acid_partial_pressures(b, SEA_LEVEL, conversion)).m_as("K") for b in burned]
        return number(found, "K", "temperature", system)

    low, high = (curve(condensation.acid_dew_point, c) for c in (0.01, 0.05))
    axes.fill_between(100 * sulfur, low, high, color=GREY, alpha=0.3, lw=0, label="1 to 5 % of the SO₂ to SO₃")
    for (name, correlation), style in zip(ACID.items(), STYLES, strict=True):
        axes.plot(100 * sulfur, curve(correlation, condensation.SO3_SHARE), style, color=INK, label=f"{name}, 3 %")
    water = condensation.dew_point.bare(burned[0].gas, SEA_LEVEL.m_as("Pa"))
    axes.axhline(number(water, "K", "temperature", system), color=BLUE, lw=1.2, label="water dew point")
    axes.set_xscale("log")
    ticks = (0.0015, 0.01, 0.05, 0.2, 1.0)
    axes.set_xticks(ticks, [f"{t:g}" for t in ticks])
    axes.minorticks_off()
    plain(axes, "sulfur in the oil, % by mass", axis("acid dew point", "temperature", system))
    legend(axes, loc="center right", bbox_to_anchor=(1.0, 0.36))
    return figure


def specific_heat_figure(system: str = "US") -> Figure:
    """Heat given up per degree, over the specific heat of the gas alone, through the dew point."""
    figure, (axes,) = row_of_axes(height=3.0)
    kelvin = np.linspace(283.15, 353.15, 281)
    gas, pressure = NEW.products.gas, NEW.pressure.m_as("Pa")
    ratio = condensation.effective_specific_heat.bare(gas, kelvin, pressure) / flue_gas.specific_heat.bare(gas, kelvin)
    axes.plot(number(kelvin, "K", "temperature", system), ratio, color=BLUE)
    plain(axes, axis("temperature of the gas", "temperature", system), "heat per degree, dry gas = 1")
    axes.set_ylim(0, None)
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of fuel, excess air and altitude, of gas, wall and weather; they begin with the old boiler."""
    heights = steps("altitude", system, range(0, 10001, 500), range(0, 3001, 200))
    gas = steps("temperature", system, range(60, 391, 10), range(15, 200, 5))
    weather = steps("temperature", system, range(-20, 101, 5), range(-30, 39, 3))
    controls = {
        "burned": panels.choice("Fuel", FUELS, NEW.fuel.name),
        "excess_air": panels.slider("Excess air", panels.percents(range(0, 201, 10)), OLD.excess_air),
        "gas": panels.slider("Flue gas", gas, OLD_GAS.m_as("K")),
        "wall": panels.choice("Vent", [(words, name) for name, words in WALLS.items()], BARE),
        "outdoors": panels.slider("Outdoors", weather, OUTDOORS.m_as("K")),
        "altitude": panels.slider("Altitude", heights, 0.0),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


@dataclass(frozen=True)
class Vent:
    """A vent outdoors with a burner's flue gas in it: where the gas is below its dew point, saturated."""

    burner: Burner
    temperature: Quantity
    wall: str
    outdoors: Quantity

    @property
    def _given(self) -> tuple:
        burner, pressure = self.burner, self.burner.pressure
        gas = condensation.saturated(burner.products.gas, self.temperature, pressure)[0]
        return gas, self.temperature, burner.flow, BORE, self.wall, self.outdoors, pressure

    @cached_property
    def dry_wall(self) -> Quantity:
        """Inner wall temperature without the heat of what condenses."""
        return inner_wall(*self._given)

    @property
    def wet(self) -> bool:
        """Whether water settles on the wall."""
        return bool(self.dry_wall < min(self.burner.dew_point, self.temperature))

    @cached_property
    def wet_wall(self) -> tuple[Quantity, Quantity]:
        """Inner wall temperature with the water that settles, and that water per length and time."""
        return wet_wall(*self._given)


def explorer_answer(
    system: str, *, burned: str, excess_air: float, gas: float, wall: str, outdoors: float, altitude: float
) -> tuple[str, bytes]:
    """A ``wall`` of `WALLS` with flue gas at ``gas`` [K] in it, ``outdoors`` [K], at an ``altitude`` [m]."""
    burner = Burner(fuel(burned), excess_air, Q_(altitude, "m"), NEW.humidity)
    vent = Vent(burner, Q_(gas, "K"), wall, Q_(outdoors, "K"))
    return _numbers(vent, system), _picture(vent, system)


def _numbers(vent: Vent, system: str) -> str:
    burner, (wet, water) = vent.burner, vent.wet_wall
    settles = (water * LENGTH).to("kg/s") if vent.wet else Q_(0.0, "kg/s")
    heat = show(HEAT_INPUT, system)
    rows = [
        ("water vapor in the flue gas", f"{100 * float(burner.products.gas.h2o):.1f} % by volume"),
        ("water dew point", show(burner.dew_point, system)),
        ("inner wall, if it were dry", show(vent.dry_wall, system)),
        ("inner wall, with what settles on it", show(wet if vent.wet else vent.dry_wall, system)),
        (f"settles on {show(LENGTH, system)} of wall", show(settles, system, "condensate")),
        (f"condensed in the gas itself, of {heat}", show(burner.condensate(vent.temperature), system, "condensate")),
        ("latent heat that this gives back, of the input", show(burner.heat_released(vent.temperature), system)),
    ]
    return panels.table((f"{WALLS[vent.wall]}, outdoors", ""), rows)


def _picture(vent: Vent, system: str) -> bytes:
    figure = Figure((WIDTH, 3.5))
    _draw_vent(figure.add_axes((0.0, 0.0, 0.42, 1.0)), vent, system)
    _draw_dew_point(figure.add_axes((0.53, 0.16, 0.46, 0.76)), vent, system)
    return picture(figure)


def _draw_vent(axes: Axes, vent: Vent, system: str) -> None:
    """The vent cut open: gas, inner wall and outdoors, and drops where the wall is wet."""
    axes.set(xlim=(0.0, 10.0), ylim=(0.0, 10.0))
    axes.axis("off")
    thick = {BARE: 0.12, DOUBLE: 0.35, INSULATED: 0.9}[vent.wall]
    axes.add_patch(Rectangle((1.2, 0.2), 3.0, 9.6, fc="#fbe9dd", ec="none"))
    for x in (1.2 - thick, 4.2):
        hatch = "" if vent.wall == BARE else "////"
        axes.add_patch(Rectangle((x, 0.2), thick, 9.6, fc="white" if hatch else INK, hatch=hatch, ec=INK, lw=1.2))
    axes.annotate("", (2.7, 9.4), (2.7, 6.6), arrowprops={"arrowstyle": "-|>", "color": RUST, "lw": 2})
    axes.text(2.7, 5.6, f"gas\n{show(vent.temperature, system)}", ha="center", va="center", size=SIZE, color=RUST)
    if vent.wet:
        axes.plot([1.4, 4.0] * 5, np.repeat(np.linspace(0.9, 8.9, 5), 2), "v", color=BLUE, ms=7)
    wall = vent.wet_wall[0] if vent.wet else vent.dry_wall
    words = f"inner wall {show(wall, system)}\n{'WET' if vent.wet else 'dry'}"
    axes.annotate(words, (4.2, 7.9), (5.5, 8.2), size=SIZE, color=INK, va="center",
                  arrowprops={"arrowstyle": "-", "color": GREY})  # fmt: skip
    axes.text(5.5, 5.6, f"dew point\n{show(vent.burner.dew_point, system)}", size=SIZE, color=BLUE, va="center")
    axes.text(5.5, 2.8, f"outdoors\n{show(vent.outdoors, system)}", size=SIZE, color=INK, va="center")


@lru_cache(maxsize=1024)  # a control that moves the excess air leaves the curves as they were
def _dew_point_and_wall(vent: Vent) -> tuple[float, float]:
    """Water dew point and dry inner wall [K]."""
    return float(vent.burner.dew_point.m_as("K")), float(vent.dry_wall.m_as("K"))


def _draw_dew_point(axes: Axes, vent: Vent, system: str) -> None:
    """Dew point and dry wall by excess air at the same gas temperature; where the wall is the colder, it is wet."""
    percent = np.linspace(0.0, 200.0, 21)
    kelvin = [_dew_point_and_wall(replace(vent, burner=replace(vent.burner, excess_air=p / 100.0))) for p in percent]
    dew, wall = (number(found, "K", "temperature", system) for found in zip(*kelvin, strict=True))
    axes.plot(percent, dew, color=BLUE, label="dew point")
    axes.plot(percent, wall, "--", color=INK, label="inner wall, if dry")
    axes.fill_between(
        percent, wall, dew, where=dew > wall, interpolate=True, fc="none", ec=BLUE, hatch="////", lw=0, label="wet"
    )
    now = 100.0 * vent.burner.excess_air
    mark_now(axes, now, number(vent.burner.dew_point.m_as("K"), "K", "temperature", system))
    mark_now(axes, now, number(vent.dry_wall.m_as("K"), "K", "temperature", system), label="_")
    plain(axes, "excess air, %", axis("temperature", "temperature", system))
    legend(axes)


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a bare pipe outdoors."""
    return predict("condensation", bare_pipe, system)


NEARLY = 0.75  # of the difference between gas and outdoors: a wall above that is called nearly as warm as the gas


def bare_pipe(gas: Quantity, outdoors: Quantity) -> dict[str, Quantity | int]:
    """The inner wall of the bare pipe with the new boiler's gas in it, dry, beside gas, outdoors and dew point."""
    wall = inner_wall(NEW.products.gas, gas, NEW.flow, BORE, BARE, outdoors)
    kelvin, hot, cold = (t.m_as("K") for t in (wall, gas, outdoors))
    between = (kelvin - cold) / (hot - cold)
    return {
        "right": 2 if wall < NEW.dew_point else 0 if between > NEARLY else 1,
        "figure": wall,
        "dew": NEW.dew_point,
        "halfway": Q_(0.5 * (hot + cold), "K"),
    }


def writing(system: str = "US") -> Writing:
    """The temperature of a dry wall, to be written by the reader."""
    return load_writing("condensation", dry_wall, system)


def dry_wall(gas: Quantity, outdoors: Quantity, film: Quantity, u: Quantity, system: str) -> dict[str, Quantity]:
    """Inner wall temperature, and what it becomes by the slips that are made with it."""
    unit = "degF" if system == "US" else "degC"
    hot, cold, share = gas.m_as(unit), outdoors.m_as(unit), float((u / film).m_as(""))
    return {
        "answer": heat_loss.wall_temperature(gas, outdoors, u, film),
        "wrong_side": Q_(cold + share * (hot - cold), unit),
        "to_zero": Q_(hot - share * hot, unit),
        "upside_down": Q_(hot - (hot - cold) / share, unit),
        "halfway": Q_(0.5 * (hot + cold), unit),
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("condensation", (propane, at_altitude, how_much, cold_wall, acid), system, seed)


def propane(excess: int) -> dict[str, Quantity | float]:
    """Dew point of the flue gas of propane."""
    burner = Burner(fuel("propane"), excess / 100)
    water = float(burner.products.gas.h2o)
    return {
        "answer": burner.dew_point,
        "share": 100 * water,
        "no_excess": replace(burner, excess_air=0.0).dew_point,
        "over_dry": atmosphere.saturation_temperature(water / (1 - water) * SEA_LEVEL),
        "natural_gas": replace(burner, fuel=fuel("natural gas")).dew_point,
    }


def at_altitude(altitude: Quantity, excess: int) -> dict[str, Quantity | float]:
    """Dew point of the flue gas of natural gas in thin air."""
    sea = Burner(fuel("natural gas"), excess / 100)
    here = replace(sea, altitude=altitude)
    return {
        "answer": here.dew_point,
        "sea": sea.dew_point,
        "part": here.pressure / sea.pressure,
    }


def how_much(heat: Quantity, excess: int, cooled: Quantity) -> dict[str, Quantity]:
    """Water that condenses where all of a boiler's flue gas is cooled."""
    burner, part = Burner(fuel("natural gas"), excess / 100), (heat / HEAT_INPUT).to("")
    water = (part * burner.flow * float(burner.products.gas.mass_fractions["h2o"])).to("kg/s")
    condensed = (part * burner.condensate(cooled)).to("kg/s")
    return {"answer": condensed, "all_water": water, "vapor": water - condensed}


def cold_wall(gas: Quantity, outdoors: Quantity, inside: Quantity) -> dict[str, Quantity]:
    """Temperature of bare metal whose outside film is twice as good as the inside one."""
    outside = 2.0 * inside
    coefficient = heat_loss.heat_transfer_coefficient(inside, Q_(0.0, "m**2*K/W"), outside)
    return {
        "answer": heat_loss.wall_temperature(gas, outdoors, coefficient, inside),
        "outside": outside,
        "swapped": heat_loss.wall_temperature(gas, outdoors, coefficient, outside),
        "halfway": Q_((gas.m_as("K") + outdoors.m_as("K")) / 2, "K"),
        "as_gas": gas.to("K"),
    }


def acid(percent: int, ppm: int) -> dict[str, Quantity | float]:
    """Temperature at which sulfuric acid begins to condense."""
    water, trioxide = percent / 100 * SEA_LEVEL, 1e-6 * ppm * SEA_LEVEL
    found, doubled = (condensation.acid_dew_point(water, k * trioxide) for k in (1, 2))
    return {
        "answer": found,
        "more": (doubled - found).to("delta_degC"),
        "water_part": percent / 100,
        "acid_part": 1e-6 * ppm,
        "water_alone": condensation.dew_point(Gas(0.1, percent / 100, 0.9 - percent / 100, 0.0, 0.0), SEA_LEVEL),
        "thousandth": condensation.acid_dew_point(water, 1e-3 * trioxide),
    }
