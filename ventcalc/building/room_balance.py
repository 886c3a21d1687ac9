"""Room balance: all air that goes into a room and out of it at a pressure, one column a state.

    openings + leakage + supply = exhaust fans + air of the burners + air drawn into the vents

Plain SI. Pressures are gauge; negative is draft.
"""

import numpy as np

from ventcalc.building.leakage import LEAKAGE_EXPONENT
from ventcalc.building.room_air import Exhaust, Opening, RoomAir, breathes, inputs
from ventcalc.draft import fan_curve
from ventcalc.flow.wind import SIDES, wall_coefficient
from ventcalc.gas import combustion
from ventcalc.gas.appliance import Appliance
from ventcalc.units import GRAVITY
from ventcalc.vent.network import Network, room_vapor
from ventcalc.vent.states import States

FARTHEST = 250.0  # Pa; beyond it a door does not open and no wall is meant to stand
_SMOOTH = 1e-3  # Pa; below it flows are linear in pressure, so that slopes stay finite


class RoomBalance:
    """The room's own ways in and out, on plain numbers, one column a state."""

    def __init__(self, network: Network, states: States, room: RoomAir, exhausting):
        inputs(network.plant, room)
        s, total = states.season, len(states)
        self.network, self.room = network, room
        self.outdoor, self.inside = network.outdoor_density[s], network.room_density[s]
        self.running = np.broadcast_to(np.asarray(exhausting, float), (total,))
        if (self.running < 0.0).any():
            raise ValueError(f"exhausting = {self.running.min():g} must not be below 0")
        self.doors = [o for o in room.openings if o.outdoors]
        self.lift = [
            GRAVITY * (self.outdoor - self.inside) * (self._level(o) - network.opening_height) for o in self.doors
        ]
        self._wind(states)
        self.supply = room.supply.m_as("m**3/s") * self.outdoor
        self.burners = np.array([self._burner(a, i, states) for i, a in enumerate(network.plant.appliances)])
        self.fans = [_fan_table(e, float(self.inside.mean())) for e in room.exhausts]

    def _wind(self, states: States) -> None:
        """Pressure [Pa] of the wind outside every opening, and outside the leakage: evenly on four walls.

        Where no one direction is known, every way stands where the room of that case does.
        """
        network, exposure = self.network, self.network.plant.exposure
        self.outside = np.zeros(len(states))  # of a wide-open room
        self.on_doors, self.on_leakage = [0.0] * len(self.doors), [0.0]
        if states.wind_case is None or exposure is None:
            return
        head = states.windy * network.wind_head[states.season]
        whole, direction = network.room_wind[states.wind_case], network.wind_direction[states.wind_case]

        def pressure(side):
            facing = wall_coefficient.bare(direction - SIDES[side], exposure.shielding) if side else whole
            return head * np.where(np.isnan(direction), whole, facing)

        self.outside = head * whole
        self.on_doors, self.on_leakage = [pressure(o.side) for o in self.doors], [pressure(side) for side in SIDES]

    def _level(self, opening: Opening) -> float:
        return self.network.opening_height if opening.level is None else float(opening.level.m_as("m"))

    def _burner(self, a: Appliance, i: int, states: States) -> np.ndarray:
        """Room air [kg/s] that an appliance takes by itself: its burner's, or what its fan purges with."""
        if not breathes(self.room, a):
            return np.zeros(len(states))
        own = np.array(
            [[self._own_air(a, i, j, k) for k in range(len(a.states))] for j in range(len(self.network.seasons))]
        )
        whole = states.codes[i].astype(int)
        between = states.codes[i] - whole
        following = np.minimum(whole + 1, len(a.states) - 1)
        return (1.0 - between) * own[states.season, whole] + between * own[states.season, following]

    def _own_air(self, a: Appliance, i: int, j: int, k: int) -> float:
        """Of appliance i in season j at code k [kg/s]."""
        level = next((lv for lv in a.levels if lv.name == a.states[k]), None)
        if level is None:
            return float(self.network.prescribed[i][j, k])  # off: nothing; purging: all of it is room air
        season, pressure = self.network.seasons[j], self.network.pressure
        burnt = combustion.products.bare(a.fuel, level.excess_air, room_vapor(season, pressure))
        return float(level.heat_input.m_as("W") * burnt.air_per_heat)

    def parts(self, pressure, pick=slice(None)):
        """Flows [kg/s] of openings, leakage, supply, exhausts and burners."""
        flows = self._flows(pressure, pick)
        doors = np.array([f for f, _ in flows[:-1]]).reshape(len(self.doors), self.supply[pick].size)
        return doors, flows[-1][0], self.supply[pick], self._exhausts(pressure, pick), self.burners[:, pick]

    def net(self, pressure, drawn, pick=slice(None)):
        """What comes in less what goes out [kg/s] and its slope [kg/(s Pa)] with the vents' flow held."""
        flows = self._flows(pressure, pick)
        exhausts = self._exhausts(pressure, pick)
        here = np.array(self.network.rooms) == 0  # what stands in another room draws from that
        out = exhausts.sum(axis=0) + self.burners[:, pick].sum(axis=0) + drawn[here].sum(axis=0)
        return sum(f for f, _ in flows) + self.supply[pick] - out, sum(s for _, s in flows) - 1e-12

    def alone(self) -> np.ndarray:
        """The room's pressure [Pa] if the vents drew nothing: where the search begins."""
        low, high = np.full(self.outdoor.size, -FARTHEST), np.full(self.outdoor.size, FARTHEST)
        nothing = np.zeros((len(self.network.rooms), self.outdoor.size))
        for _ in range(40):
            middle = 0.5 * (low + high)
            rises = self.net(middle, nothing)[0] > 0.0
            low, high = np.where(rises, middle, low), np.where(rises, high, middle)
        return 0.5 * (low + high)

    def _flows(self, pressure, pick):
        """(flow [kg/s] into the room, its slope) of every opening to outdoors, and last of the leakage."""
        found = []
        for opening, lift, wind in zip(self.doors, self.lift, self.on_doors, strict=True):
            pull = _at_states(wind, pick) - (pressure + lift[pick])
            strength = opening.coefficient * float(opening.free.m_as("m**2")) * np.sqrt(2.0 * self._density(pull, pick))
            found.append(_power(pull, strength, 0.5))
        leak = self.room.leakage
        strength = 0.0
        if leak is not None:
            strength = float(leak.flow.m_as("m**3/s") * leak.pressure.m_as("Pa") ** -leak.exponent)
        strength, exponent = strength / len(self.on_leakage), leak.exponent if leak else LEAKAGE_EXPONENT
        pulls = [_at_states(wind, pick) - np.asarray(pressure, float) for wind in self.on_leakage]
        each = [_power(pull, strength * self._density(pull, pick), exponent) for pull in pulls]
        return [*found, tuple(map(sum, zip(*each, strict=True)))]

    def _density(self, pull, pick):
        """Of the air that flows: outdoor air in, room air out."""
        return np.where(pull >= 0.0, self.outdoor[pick], self.inside[pick])

    def _exhausts(self, pressure, pick) -> np.ndarray:
        mass = self.inside[pick] * self.running[pick]
        return np.array([mass * np.interp(pressure, *table) for table in self.fans]).reshape(len(self.fans), mass.size)


def _at_states(wind, pick):
    return wind if isinstance(wind, float) else wind[pick]


def _power(pull, strength, exponent):
    """Flow = strength pull^exponent with the sign of the pull, linear near nought; and its slope against -pull."""
    square = pull * pull + _SMOOTH**2
    flow = strength * pull * square ** (0.5 * (exponent - 1.0))
    return flow, -strength * square ** (0.5 * (exponent - 1.0)) * (1.0 + (exponent - 1.0) * pull * pull / square)


def _fan_table(exhaust: Exhaust, density: float) -> tuple[np.ndarray, np.ndarray]:
    """Room pressure [Pa], rising, and the flow [m3/s] that an exhaust fan takes at it."""
    flow = float(exhaust.flow.m_as("m**3/s"))
    if exhaust.fan is None:
        return np.array([-FARTHEST, FARTHEST]), np.array([flow, flow])
    speed = exhaust.speed
    least = float(exhaust.fan.stall_flow.m_as("m**3/s")) * exhaust.fan.abreast * speed
    flows = np.linspace(least, 1.5 * exhaust.fan.free_flow * exhaust.fan.abreast * speed, 120)
    made = fan_curve.static_pressure.bare(exhaust.fan, flows, speed, density)
    duct = fan_curve.static_pressure.bare(exhaust.fan, flow, speed, density) / flow**2
    return np.maximum.accumulate(duct * flows**2 - made), flows
