"""Vent at work: what the draft makes of one appliance on its own vent as it is built, and what speaks against it."""

from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.flow import fittings, friction
from ventcalc.gas import atmosphere, combustion
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.gas.streams import AIR_VISCOSITY, VISCOSITY
from ventcalc.units import Q_, Quantity
from ventcalc.vent.common_vent import solve
from ventcalc.vent.draft_margin import HOOD_CO2, Vent, full_fire, plain_sizes
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season, compile_network, room_vapor
from ventcalc.vent.pressure_balance import TOLERANCE
from ventcalc.vent.single_vent import path, with_input
from ventcalc.vent.solution import Solution
from ventcalc.words import Remark

# Gas that rises slower than this spends so long in the vent that it cools, and a breath of wind turns it. Common
# practice, no source.
SLOW = Q_(3.0, "ft/s")


@dataclass(frozen=True)
class Operation:
    """A vent at work, as quantities: what the draft itself makes of it.

    ``drawn`` room air through hood or regulator (negative: flue gas spills into the room), ``co2`` dry behind it,
    ``outlet_pressure`` static against the room, ``margin`` to spare, ``velocity`` in the rise, gas at its ``top``,
    coldest ``wall`` and ``dew_point``, total ``draft`` and ``loss``; ``solution`` has the rest.
    """

    plant: Plant
    season: Season
    heat_input: Quantity
    drawn: Quantity
    co2: float
    outlet_pressure: Quantity
    margin: Quantity
    velocity: Quantity
    top: Quantity
    wall: Quantity
    dew_point: Quantity
    draft: Quantity
    loss: Quantity
    solution: Solution

    @property
    def spills(self) -> bool:
        """Whether flue gas enters the room."""
        return bool(self.drawn.m_as("kg/s") < 0.0)

    @property
    def works(self) -> bool:
        """Whether there is draft to spare."""
        return bool(self.margin.m_as("Pa") >= -TOLERANCE)

    @property
    def wet(self) -> bool:
        """Whether a wall lies below the dew point with the vent hot."""
        return bool(self.wall.m_as("K") < self.dew_point.m_as("K"))


@door(
    heat_input="W",
    plain={"hood_co2": ""},
    above={"heat_input": 0.0, "hood_co2": 0.0},
    at_most={"hood_co2": 1.0},
)
def operate(plant: Plant, season: Season, hood_co2: float = HOOD_CO2, heat_input: Quantity | None = None) -> Operation:
    """The vent at work at one heat input (left out: the highest level): dilution air is what the draft draws.

    Raises as `margin` does.
    """
    vent = Vent(plant, season, hood_co2, cold=False)
    if heat_input is not None:
        plain_sizes(vent, {"heat_input": heat_input})
        plant = with_input(plant, heat_input)
    level = plant.appliances[0].levels[-1]
    found = solve(plant, (season,), full_fire(1, vent.code, cold=False))
    rise = found.row(vent.path[-1].name)
    vapor = float(found.vapor[0, 0]) * vent.network.pressure
    drawn = float(found.drawn[0, 0])
    spare = vent.margin(heat_input=np.array([level.heat_input.m_as("W")]))[0]
    return Operation(
        plant=plant,
        season=season,
        heat_input=level.heat_input,
        drawn=Q_(drawn, "kg/s"),
        co2=_co2_behind(vent, max(drawn, 0.0) / level.heat_input.m_as("W")),
        outlet_pressure=Q_(float(found.outlet_pressure[0, 0]), "Pa"),
        margin=Q_(float(spare), "Pa"),
        velocity=Q_(float(found.velocity[rise, 0]), "m/s"),
        top=Q_(float(found.downstream[rise, 0]), "K"),
        wall=Q_(float(found.wall[:, 0].min()), "K"),
        dew_point=Q_(float(atmosphere.saturation_temperature.bare(vapor)), "K"),
        draft=Q_(float(found.draft[:, 0].sum()), "Pa"),
        loss=Q_(float(found.loss[:, 0].sum()), "Pa"),
        solution=found,
    )


def _co2_behind(vent: Vent, air_per_heat: float) -> float:
    """Dry CO2 once so much room air [kg/J] has joined: the flue gas of that much more excess air."""
    fuel, own = vent.appliance.fuel, vent.level.excess_air
    vapor = room_vapor(vent.season, vent.network.pressure, vent.appliance.room)
    theoretical = combustion.products.bare(fuel, 0.0, vapor).air_per_heat
    return float(combustion.products.bare(fuel, own + air_per_heat / theoretical, vapor).co2_dry)


def cautions(operation: Operation) -> tuple[Remark, ...]:
    """What speaks against a vent at work, the gravest first; empty where nothing does."""
    found, appliance = [], operation.plant.appliances[0]
    if operation.spills:
        found.append(Remark("vent", "cautions", "spills", {"flow": -operation.drawn}))
    elif not operation.works:
        code = "hood_lacks" if appliance.kind == "draft hood" else "above_window"
        found.append(Remark("vent", "cautions", code, {"lacking": -operation.margin}))
    if operation.velocity < SLOW:
        figures = {"velocity": operation.velocity, "slow": SLOW, "top": operation.top}
        found.append(Remark("vent", "cautions", "slow", figures))
    if operation.wet and not CATEGORIES[appliance.category].condensing:
        found.append(Remark("vent", "cautions", "wet", {"wall": operation.wall, "dew_point": operation.dew_point}))
    return tuple(found)


@door(heat_input="W", above={"heat_input": 0.0})
def equivalent_length(plant: Plant, season: Season, heat_input: Quantity | None = None) -> Quantity:
    """Length of straight pipe that loses as much as the whole vent: lengths, and K D / f of each fitting and the cap.

    ``plant`` of one appliance, ``heat_input`` (left out: the highest level). An appliance's instructions may give
    lengths of their own for elbows; those govern.
    """
    found = operate(plant, season, heat_input=heat_input).solution
    meters, network = 0.0, compile_network(plant, (season,))
    for section in path(plant):
        row, pipe = found.row(section.name), network.pipes[found.row(section.name)]
        gas = network.gas[0][VISCOSITY, 0, -1]
        viscosity = gas * np.polyval(AIR_VISCOSITY, found.upstream[row, 0])
        reynolds = friction.reynolds.bare(found.flow[row, 0], pipe.diameter, viscosity)
        factor = friction.friction_factor.bare(reynolds, pipe.relative_roughness)
        meters += pipe.length + fittings.equivalent_length.bare(pipe.fixed_loss + pipe.end_loss, pipe.diameter, factor)
    return Q_(float(meters), "m")
