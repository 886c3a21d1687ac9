"""Calculation sheet: the vent of chapter 11 reckoned by hand, a line a chapter, from the air to the draft to spare.

Its caller asks whether five inch still draws. Every line takes one chapter's formula and the lines above it; the solver
is asked for nothing, so that the last line may be checked against it (`vent.draft_margin`).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from ventcalc.flow import fittings, friction, heat_loss, stack_effect
from ventcalc.gas import atmosphere, combustion, combustion_analysis, condensation, flue_gas
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.handbook import vent_sizing
from ventcalc.show.panels import table
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import area_rule, capacity_rules, capacity_tables, draft_margin

PLANT, SEASON = vent_sizing.vent(), vent_sizing.MILD
BOILER = PLANT.appliances[0]
LEVEL = BOILER.levels[-1]
RUN, RISE = PLANT.order
CHIMNEY_HEIGHT, CHIMNEY_LATERAL = Q_(15.0, "ft"), Q_(10.0, "ft")  # lines of the table: no taller, no shorter run


@dataclass(frozen=True)
class Line:
    """A line of the sheet: what a ``chapter`` works out, ``how``, and the ``value``, of a ``kind`` to be shown as."""

    chapter: int
    what: str
    how: str
    value: Quantity | float
    kind: str = ""

    def shown(self, system: str) -> str:
        """The value as the sheet has it."""
        return show(self.value, system, self.kind or None) if isinstance(self.value, Quantity) else f"{self.value:.2f}"


@cache
def lines() -> tuple[Line, ...]:
    """Every line, in the order of the chapters."""
    pressure = atmosphere.standard_pressure(PLANT.altitude)
    outdoor = atmosphere.air_density(SEASON.outdoor, pressure, SEASON.relative_humidity)
    burnt = combustion.flue_gas_per_heat(BOILER.fuel, LEVEL.excess_air) * LEVEL.heat_input
    behind = float(combustion_analysis.excess_air_from_co2(BOILER.fuel, Q_(draft_margin.HOOD_CO2, "")).m_as(""))
    flow = (combustion.flue_gas_per_heat(BOILER.fuel, behind) * LEVEL.heat_input).to("kg/s")
    gas = combustion.products(BOILER.fuel, behind).gas
    entry = _mixed(burnt, flow)
    elbow_end, _ = _cooled(gas, flow, entry, RUN)
    top, mean = _cooled(gas, flow, elbow_end, RISE)
    density = flue_gas.density(gas, mean, pressure)
    draft = stack_effect.theoretical_draft(RISE.rise, outdoor, density)
    run_density = flue_gas.density(gas, 0.5 * (entry + elbow_end), pressure)
    rubbed = sum(
        (_friction(gas, flow, s, d, t) for s, d, t in ((RUN, run_density, entry), (RISE, density, mean))), _NONE
    )
    formed = _fittings(flow, run_density, flue_gas.density(gas, top, pressure))
    hood = _hood(flow, SEASON)
    allowed = capacity_rules.single(
        capacity_tables.sampled(), "504.2(1)", "NAT", CHIMNEY_HEIGHT, CHIMNEY_LATERAL, RISE.diameter
    ).maximum
    areas = (area_rule.round_area(d) for d in (RISE.diameter, BOILER.outlet_diameter))
    return (
        Line(1, "outdoor air", "density at its temperature and pressure", outdoor, "density"),
        Line(2, "flue gas", "input × flue gas per heat", burnt.to("kg/s"), "mass flow"),
        Line(3, "gas above the hood", "density at its mean temperature in the rise", density, "density"),
        Line(4, "its dew point", "saturation at the pressure of its water", condensation.dew_point(gas, pressure)),
        Line(5, "highest outlet pressure", "of category I", BOILER.window[1], "draft"),
        Line(6, "draft of the rise", "g H (outdoor − gas)", draft, "draft"),
        Line(7, "gas at the top", "cooled in the run and in the rise", top),
        Line(8, "friction", "f L/D × velocity head", rubbed, "draft"),
        Line(9, "elbows, cap, exit", "K × velocity head", formed, "draft"),
        Line(10, "room air into the hood", "the one joint of this vent", hood, "draft"),
        Line(11, "draft to spare", "draft − friction − fittings − hood", draft - rubbed - formed - hood, "draft"),
        Line(
            12,
            "input that the table allows",
            "line on the safe side: height 15 ft (4.6 m), lateral 10 ft (3 m)",
            allowed,
            "heat rate",
        ),
        Line(13, "rise over outlet", "ratio of areas, at most 7", _ratio(*areas)),
    )


_NONE = Q_(0.0, "Pa")


def _ratio(flue, outlet) -> float:
    return float(area_rule.area_ratio(flue, outlet).m_as(""))


def _mixed(burnt: Quantity, flow: Quantity) -> Quantity:
    """Temperature above the hood: flue gas and room air by mass, both of nearly the same specific heat."""
    share = float((burnt / flow).m_as(""))
    return Q_(share * LEVEL.flue_temperature.m_as("K") + (1.0 - share) * SEASON.room.m_as("K"), "K")


def _cooled(gas, flow: Quantity, entry: Quantity, section) -> tuple[Quantity, Quantity]:
    """Temperature at the end of a section, and its mean."""
    viscosity, conductivity = flue_gas.viscosity(gas, entry), flue_gas.conductivity(gas, entry)
    reynolds = friction.reynolds(flow, section.diameter, viscosity)
    rough = (section.material.roughness / section.diameter).to("")
    inside = heat_loss.nusselt(reynolds, flue_gas.prandtl(gas, entry), rough) * conductivity / section.diameter
    film = Q_(heat_loss.STILL_ROOM_FILM, "W/(m**2*K)")
    passes = heat_loss.heat_transfer_coefficient(
        inside, section.material.wall_resistance, film, section.material.diameter_ratio
    )
    heat = flue_gas.specific_heat(gas, entry)
    number = heat_loss.cooling_number(passes, section.diameter, section.length, flow, heat)
    return tuple(ask(entry, SEASON.room, number) for ask in (heat_loss.outlet_temperature, heat_loss.mean_temperature))


def _head(flow: Quantity, density: Quantity, diameter: Quantity) -> Quantity:
    return friction.velocity_head(density, friction.velocity(flow, density, diameter))


def _friction(gas, flow: Quantity, section, density: Quantity, temperature: Quantity) -> Quantity:
    viscosity = flue_gas.viscosity(gas, temperature)
    return friction.pressure_loss(
        flow, density, section.diameter, section.length, section.material.roughness, viscosity
    ).to("Pa")


def _fittings(flow: Quantity, density: Quantity, leaving: Quantity) -> Quantity:
    """Wider than the outlet at first, two elbows; then the cap, and the velocity head that leaves with the gas."""
    widening = fittings.size_change(BOILER.outlet_diameter, RUN.diameter, Q_(60.0, "degree"))
    first = widening * _head(flow, density, BOILER.outlet_diameter)
    elbows = RUN.loss * _head(flow, density, RUN.diameter)
    cap = fittings.fitting(PLANT.terminations[0].cap).loss
    return (first + elbows + (1.0 + cap) * _head(flow, leaving, RISE.diameter)).to("Pa")


def _hood(flow: Quantity, season) -> Quantity:
    """What it takes to bring all of the gas in by the hood, by the loss of its opening on room air."""
    air = atmosphere.air_density(season.room, atmosphere.standard_pressure(PLANT.altitude), 0.0)
    return (ENTRY_LOSS["draft hood"] * _head(flow, air, BOILER.outlet_diameter)).to("Pa")


def sheet(system: str, upto: int = 13) -> str:
    """The sheet as far as a chapter, as an HTML table."""
    rows = [
        (f"{line.chapter:02d}", line.what, line.how, line.shown(system)) for line in lines() if line.chapter <= upto
    ]
    return table(("chapter", "", "how", ""), rows)


def line(chapter: int) -> Line:
    """The line of a chapter."""
    return next(found for found in lines() if found.chapter == chapter)


def told(chapter: int) -> Callable[[str], str]:
    """The line of a chapter in words, by unit system (`show.unit_switch.in_units`)."""

    def words(system: str) -> str:
        own = line(chapter)
        return f"{own.what} ({own.how}): {own.shown(system)}"

    return words


def to_spare() -> np.ndarray:
    """What the solver finds in place of the last sum [Pa]."""
    return draft_margin.margin(PLANT, SEASON).m_as("Pa")
