"""Cold start: the first minutes after light-off of a draft-hood appliance on a cold flue.

How much of the flue gas the cold flue takes, how much spills from the hood, when the hood begins to draw, and how long
the wall stays below the dew point: the reason of the `area_rule`. One appliance, a wall that is cut into rings;
`transient` follows any vent through any change.

Pressures are gauge; negative is draft.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.flow import friction, heat_loss, materials, stack_effect, wall_condensation, wall_rings
from ventcalc.gas import atmosphere, condensation, flue_gas
from ventcalc.gas.appliance import stream
from ventcalc.units import GAS_CONSTANT, Quantity, quantities
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season, compile_network, room_vapor
from ventcalc.vent.single_vent import rise_section

_SLICES = 10  # of the rise
_MOST_VELOCITY = 15.0  # m/s, no draft of one appliance drives more
_SCAN = 24  # flows looked at to find the one that the draft drives
_REFERENCE = 370.0  # K, where gas properties are taken
_VAPOUR_CONSTANT = GAS_CONSTANT / atmosphere.MOLAR_MASS["h2o"]  # J/(kg K)


@dataclass(frozen=True)
class StartUp:
    """The first minutes of a cold flue, plain SI arrays over ``time`` [s].

    ``flow`` [kg/s] that the flue takes; ``flue`` [kg/s] that the burner makes (a number); ``spill`` [kg/s] of flue gas
    that goes into the room; ``velocity`` [m/s] and ``draft`` [Pa] of the rise; gas at its ``top`` [K]; ``wall`` [K]
    there, the coldest; ``dew_point`` [K] of the gas in it; ``wet`` share of the wall's length below its dew point;
    ``condensed``
    [kg] since the start, the most that the wall can take.
    """

    time: np.ndarray
    flue: float
    flow: np.ndarray
    spill: np.ndarray
    velocity: np.ndarray
    draft: np.ndarray
    top: np.ndarray
    wall: np.ndarray
    dew_point: np.ndarray
    wet: np.ndarray
    condensed: np.ndarray

    def first(self, what: np.ndarray) -> float | None:
        """Time [s] from which ``what`` holds to the end, None where it does not at the end."""
        if not what[-1]:
            return None
        return float(self.time[np.flatnonzero(~what)[-1] + 1]) if not what.all() else 0.0

    @property
    def draws_after(self) -> float | None:
        """Time [s] after which no flue gas spills any more; None where it still does at the end."""
        return self.first(self.spill <= 0.0)

    @property
    def dry_after(self) -> float | None:
        """Time [s] after which the whole wall is above the dew point; None where it still is not at the end."""
        return self.first(self.wet <= 0.0)

    @property
    def spilled(self) -> float:
        """Flue gas [kg] that went into the room."""
        return float(np.sum(0.5 * (self.spill[1:] + self.spill[:-1]) * np.diff(self.time)))


@quantities(
    None,
    duration="s",
    fan="Pa",
    start="K",
    above={"duration": 0.0},
    at_least={"fan": 0.0},
    shapes={"duration": "one", "fan": "one", "start": "one"},
    source="Energy balances of gas and wall, Fourier's law, hydrostatics; wall condensation by the analogy of heat and "
    "mass transfer (any heat transfer textbook)",
)
def start_up(plant: Plant, season: Season, duration, fan=0.0, start=None, steps: int = 120):
    """The first minutes after light-off of a draft-hood appliance on a cold flue: a `StartUp` of ``steps`` steps.

    plant: of one draft-hood appliance at its highest level, its last section upright and of a kind with layers
    (`Material.layers`); season: `Season`; duration [s]; fan [Pa]: pressure that an induced-draft fan adds at the top;
    start [K] of the whole wall (left out: its surroundings); single values.

    At first the rise is full of air as cold as its wall; the gas pushes it out from below, and only as far as it has
    risen it makes draft: ``dz/dt = v``. At each moment the flue takes the flow at which draft and fan meet all losses,
    on the wall as warm as it is then. Where more than one flow does, the largest counts; where none does, nothing rises
    and all flue gas spills. What the flue does not take of the flue gas spills from the hood; what it takes beyond it
    is room air. In each slice the gas nears the wall by ``T = Tw + (Tin - Tw) exp(-N)``; the wall is cut into
    `wall_rings.rings` and advanced by implicit Euler. Water condenses where the wall is below the dew point, at
    ``m (Y - Ys)(1 - exp(-N Le^(-2/3)))`` (`wall_condensation`; Stefan's flow left out), and its heat goes into the
    wall; it does not dry again. The connector is taken as warm at once. The film is that of forced flow alone: natural
    convection and the radiation of the gas (`gas_radiation`) cool it more. Without the radiation that `common_vent`
    has, a wide masonry flue comes to rest with 1 to 3 % more flow and 4 to 7 K warmer at its top: draft at the start is
    rather over- than understated.
    Properties of the flue gas serve for film and friction, those of the mixture for heat and density, all at 370 K.
    The steps are short at first and grow with time.

    Raises ValueError for an appliance without a draft hood and for a wall without layers.
    """
    if steps < 1:
        raise ValueError(f"steps = {steps} must be at least 1")
    flue = _Flue(plant, season, fan)
    wall = np.full((_SLICES, len(flue.rings.capacity)), flue.surroundings if start is None else start)
    time = duration * np.linspace(0.0, 1.0, steps + 1) ** 2
    kept = {name: np.zeros(steps + 1) for name in ("flow", "velocity", "draft", "top", "wall", "vapor", "condensed")}
    surface = np.empty((steps + 1, _SLICES))
    filled = 0.0
    for k in range(steps + 1):
        flow = flue.taken(wall[:, 0], filled)
        moment = flue.moment(flow, wall, filled)
        for name in ("flow", "velocity", "draft", "top", "vapor"):
            kept[name][k] = moment[name]
        surface[k] = moment["surface"]
        if k < steps:
            step = time[k + 1] - time[k]
            filled = min(filled + step * moment["velocity"], flue.height)
            kept["condensed"][k + 1] = kept["condensed"][k] + step * moment["water"].sum()
            wall = flue.advance(wall, moment, step)
    dew_point = atmosphere.saturation_temperature.bare(kept["vapor"] * flue.pressure)
    return StartUp(
        time=time,
        flue=flue.flue,
        flow=kept["flow"],
        spill=np.maximum(flue.flue - kept["flow"], 0.0),
        velocity=kept["velocity"],
        draft=kept["draft"],
        top=kept["top"],
        wall=surface[:, -1],
        dew_point=dew_point,
        wet=np.mean(surface < dew_point[:, None], axis=1),
        condensed=kept["condensed"],
    )


class _Flue:
    """A draft-hood appliance and its vent as plain numbers, with the wall of the rise cut into rings."""

    def __init__(self, plant: Plant, season: Season, fan: float):
        appliance = plant.appliances[0]
        if len(plant.appliances) != 1 or appliance.kind != "draft hood":
            raise ValueError(f"{plant.name}: the start-up is that of one appliance with a draft hood")
        rise = rise_section(plant)
        layers = rise.material.layers
        self.rings = wall_rings.rings(float(rise.diameter.m_as("m")), layers)
        network = compile_network(plant, (season,))
        self.pressure, self.fan = network.pressure, fan
        own, outdoor = network.rooms[0], float(network.outdoor[0])
        self.room = float(network.place_temperature[own, 0])
        self.pipes = network.pipes
        self.rise_at = plant.order.index(rise)
        pipe = self.pipes[self.rise_at]
        self.surroundings = outdoor if pipe.outdoors else float(network.place_temperature[pipe.around, 0])
        self.outdoor_density = float(network.outdoor_density[0])
        self.room_gauge = float(network.room_gauge(network.outlet_height[0], own)[0])
        self.entry = float(network.resistance[0][0, -1])
        self._streams(appliance, season)
        self.height, self.slice = pipe.length, pipe.length / _SLICES
        film = heat_loss.OUTDOOR_FILM if pipe.outdoors else heat_loss.STILL_ROOM_FILM
        outer = 1.0 / (film * np.pi * self.rings.outer_diameter) + self.rings.resistance[-1]
        self.outward = self.slice / np.array([*self.rings.resistance[1:-1], outer])  # W/K, ring to ring to outside

    def _streams(self, appliance, season) -> None:
        """Flue gas and room air: flows, temperatures, and their properties by mass."""
        air = flue_gas.Gas.humid_air(room_vapor(season, self.pressure, appliance.room))
        made = stream(appliance, appliance.levels[-1].name, self.room, self.pressure, air)
        self.flue, self.hot = made.mass_flow, made.temperature
        self.heat = [float(flue_gas.specific_heat.bare(g, _REFERENCE)) for g in (made.gas, air)]
        self.constant = [float(g.gas_constant) for g in (made.gas, air)]
        self.water = [float(g.mass_fractions["h2o"]) for g in (made.gas, air)]
        self.viscosity, conductivity = (float(v) for v in flue_gas.transport.bare(made.gas, _REFERENCE))
        self.prandtl = self.heat[0] * self.viscosity / conductivity
        self.conductivity = conductivity

    def _mixed(self, values, flow):
        """A property by mass of what the vent takes: flue gas first, then room air."""
        share = np.minimum(self.flue / np.maximum(flow, 1e-9), 1.0)
        return share * values[0] + (1.0 - share) * values[1]

    def _film(self, flow, pipe):
        """Inside film [W/(m2 K)] and friction factor of a section."""
        reynolds = friction.reynolds.bare(flow, pipe.diameter, self.viscosity)
        factor = friction.friction_factor.bare(reynolds, pipe.relative_roughness)
        nusselt = heat_loss.nusselt.bare(reynolds, self.prandtl, pipe.relative_roughness)
        return nusselt * self.conductivity / pipe.diameter, factor

    def _shares(self, filled: float) -> np.ndarray:
        """How much of each slice of the rise the gas fills."""
        return np.clip(filled / self.slice - np.arange(_SLICES), 0.0, 1.0)

    def _along(self, flow, inner, filled):
        """Gas temperatures at the ends of the slices of the rise, on walls whose inner rings have ``inner``.

        Also the pressures [Pa] of the whole vent for each trial flow: draft made and loss taken.
        """
        heat, constant = self._mixed(self.heat, flow), self._mixed(self.constant, flow)
        hot = self._mixed([self.heat[0] * self.hot, self.heat[1] * self.room], flow) / heat
        draft = loss = 0.0
        for i, pipe in enumerate(self.pipes):
            film, factor = self._film(flow, pipe)
            if i != self.rise_at:
                coefficient = 1.0 / (1.0 / film + pipe.outside_resistance)
                number = heat_loss.cooling_number.bare(coefficient, pipe.diameter, pipe.length, flow, heat)
                ends = [hot, heat_loss.outlet_temperature.bare(hot, self.room, number)]
                inverse = stack_effect.mean_inverse_temperature(ends[0], ends[1], self.room, number)
            else:
                resistance = 1.0 / (film * np.pi * pipe.diameter) + self.rings.resistance[0]
                number = self.slice / (resistance * flow * heat)
                ends, means = [hot], []
                for ring, share in zip(inner, self._shares(filled), strict=True):
                    ends.append(heat_loss.outlet_temperature.bare(ends[-1], ring, number))
                    gas = stack_effect.mean_inverse_temperature(ends[-2], ends[-1], ring, number)
                    # What the gas has not reached yet is air as cold as the wall.
                    means.append(share * gas + (1.0 - share) * constant / (self.constant[1] * ring))
                inverse = sum(means) / len(means)
                temperatures, rise_number = ends, number
            density = self.pressure * inverse / constant
            head = (flow / pipe.area) ** 2 / (2.0 * density)
            draft = draft + stack_effect.theoretical_draft.bare(pipe.rise, self.outdoor_density, density)
            loss = loss + (factor * pipe.length / pipe.diameter + pipe.fixed_loss) * head
            if pipe.parent < 0:
                loss = loss + (1.0 + pipe.end_loss) * head
            hot = ends[-1]
        return temperatures, rise_number, density, draft, loss

    def spare(self, flow, inner, filled):
        """Pressure [Pa] left over at each trial flow, on walls whose inner rings have ``inner``."""
        *_, draft, loss = self._along(flow, inner, filled)
        return self.room_gauge + self.fan + draft - loss - self.entry * flow**2

    def taken(self, inner, filled: float) -> float:
        """The largest flow [kg/s] that draft and fan drive, to a thousandth of itself; 0 where they drive none."""
        low, high = 1e-3 * self.flue, max(_MOST_VELOCITY * self.pipes[self.rise_at].area, 3.0 * self.flue)
        for _ in range(2):  # a wide grid, then a fine one; then a straight line
            flows = np.geomspace(low, high, _SCAN)
            spare = self.spare(flows, inner, filled)
            drives = np.flatnonzero(spare >= 0.0)
            if drives.size == 0:
                return 0.0
            last = min(drives[-1], _SCAN - 2)
            low, high = flows[last : last + 2]
        return float(low + (high - low) * np.clip(spare[last] / (spare[last] - spare[last + 1]), 0.0, 1.0))

    def moment(self, flow: float, wall: np.ndarray, filled: float) -> dict:
        """What the flue does at one moment; ``water`` [kg/s] condenses in each slice, heat [W] goes into its wall."""
        inner, pipe = wall[:, 0], self.pipes[self.rise_at]
        if flow <= 0.0:
            still, nothing = dict.fromkeys(("flow", "velocity", "draft"), 0.0), np.zeros(_SLICES)
            return still | {"top": inner[-1], "vapor": self._fraction(self.flue), "surface": inner.copy(),
                            "water": nothing, "gas": inner.copy(), "conductance": nothing}  # fmt: skip
        ends, number, density, draft, _ = self._along(flow, inner, filled)
        ends, reached = np.array([float(e) for e in ends]), self._shares(filled)
        heat = float(self._mixed(self.heat, flow))
        given = flow * heat * (ends[:-1] - ends[1:])
        surface = inner + reached * given * self.rings.resistance[0] / self.slice
        film, _ = self._film(flow, pipe)
        vapor, water = float(self._mixed(self.water, flow)), np.zeros(_SLICES)
        # By the analogy of heat and mass transfer, as on any wall (`wall_condensation`).
        reference = self.pressure / (float(self._mixed(self.constant, flow)) * _REFERENCE)
        diffusivity = wall_condensation.vapor_diffusivity.bare(_REFERENCE, self.pressure)
        lewis = wall_condensation.lewis_number.bare(self.conductivity, reference, heat, diffusivity)
        coefficient = wall_condensation.mass_transfer_coefficient.bare(float(film), heat, lewis)
        mass_number = coefficient * np.pi * pipe.diameter * self.slice / flow
        saturated = self._saturated(surface, flow)
        for j in range(_SLICES):
            water[j] = reached[j] * flow * max(vapor - saturated[j], 0.0) * -np.expm1(-mass_number)
            vapor -= water[j] / flow
        return {
            "flow": flow,
            "velocity": float(friction.velocity.bare(flow, density, pipe.diameter)),
            "draft": float(draft),
            "top": ends[-1] if reached[-1] == 1.0 else inner[-1],
            "vapor": self._fraction(flow),
            "surface": surface,
            "water": water,
            "gas": ends[:-1],
            "conductance": float(flow * heat * -np.expm1(-number)) * reached,
        }

    def _fraction(self, flow) -> float:
        """Mole fraction of water vapor in what the vent takes."""
        share = self._mixed(self.water, flow) / self._mixed(self.constant, flow)
        return float(share * _VAPOUR_CONSTANT)

    def _saturated(self, kelvin, flow):
        """Water [kg per kg of gas] that the gas can hold at a wall of this temperature."""
        pressure = atmosphere.saturation_pressure.bare(np.minimum(kelvin, 372.0))
        dry = float(self._mixed(self.constant, flow)) / _VAPOUR_CONSTANT
        return np.where(kelvin < 372.0, dry * pressure / (self.pressure - pressure), np.inf)

    def advance(self, wall: np.ndarray, moment: dict, step: float) -> np.ndarray:
        """The wall one step later: implicit Euler on the rings of every slice, gas temperatures as they are."""
        count = wall.shape[1]
        held = self.rings.capacity * self.slice / step
        alone = np.diag(held + self.outward + np.concatenate(([0.0], self.outward[:-1])))
        alone -= np.diag(self.outward[:-1], 1) + np.diag(self.outward[:-1], -1)
        matrix = np.repeat(alone[None], _SLICES, axis=0)
        matrix[:, 0, 0] += moment["conductance"]
        right = wall * held
        latent = condensation.latent_heat.bare(np.clip(moment["surface"], 275.0, 370.0))
        right[:, 0] += moment["conductance"] * moment["gas"] + latent * moment["water"]
        right[:, count - 1] += self.outward[-1] * self.surroundings
        return np.linalg.solve(matrix, right[:, :, None])[:, :, 0]


@door(diameter="m", above={"diameter": 0.0})
def with_flue(plant: Plant, diameter: Quantity, material: materials.Material | None = None) -> Plant:
    """The plant with its last upright section of another diameter, and of another material where one is given."""
    rise = rise_section(plant)
    new = replace(rise, diameter=diameter, material=material or rise.material)
    return replace(plant, sections=tuple(new if s is rise else s for s in plant.sections))
