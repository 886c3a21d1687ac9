"""Network: a plant's drawing, its appliances and its weather as plain numbers for the solver.

`compile_network` turns quantities and names into SI floats and tables once; `common_vent` then solves
many states on them.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from ventcalc import appliance as appliances
from ventcalc import atmosphere, fittings, flue_gas, friction, heat_loss, junctions, streams
from ventcalc.layout import Plant, Section
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, ureg

SIZE_CHANGE_ANGLE = 60.0  # degrees included, the usual reducer of the trade (common practice, no source)

# Share of its open area through which a shut barometric regulator leaks (common practice, no source).
REGULATOR_LEAKAGE = 0.02
# Draft above its set point, as a share of it, at which it stands wide open to the flow that the set point
# would drive through its open area (common practice, no source).
REGULATOR_BAND = 0.2


@dataclass(frozen=True)
class Season:
    """Weather and room of one season.

    ``outdoor`` and ``room`` temperature, ``room_pressure`` gauge against outdoors at the height of the room's
    opening (negative: exhaust fans pull on the room), ``wind`` speed at the termination, outdoor
    ``relative_humidity``. Room air is outdoor air warmed: it carries the same moisture.
    """

    name: str
    outdoor: Quantity
    room: Quantity
    room_pressure: Quantity = Q_(0.0, "Pa")
    wind: Quantity = Q_(0.0, "m/s")
    relative_humidity: float = 0.6

    def __post_init__(self):
        for name, value in (("outdoor", self.outdoor), ("room", self.room)):
            kelvin = magnitude(value, ureg.Unit("K"), f"season {self.name}: {name} temperature")
            if not 213.15 <= kelvin <= 333.15:
                raise ValueError(f"season {self.name}: {name} temperature {value:.4g~P} must be -60 to 60 degC")
        pascal = magnitude(self.room_pressure, ureg.Unit("Pa"), f"season {self.name}: room pressure")
        if not abs(pascal) <= 250.0:
            raise ValueError(f"season {self.name}: room pressure {self.room_pressure:.4g~P} must be within 250 Pa")
        if not 0 <= magnitude(self.wind, ureg.Unit("m/s"), f"season {self.name}: wind") <= 60.0:
            raise ValueError(f"season {self.name}: wind {self.wind:.4g~P} must be 0 to 60 m/s")
        if not 0 <= self.relative_humidity <= 1:
            raise ValueError(f"season {self.name}: relative humidity {self.relative_humidity:g} must be 0 to 1")


@dataclass(frozen=True)
class Pipe:
    """One section as the solver sees it; all plain SI."""

    children: tuple[int, ...]  # rows of the sections that lead into it: the run, then the branch
    parent: int  # row of the section it leads into, -1 at a termination
    appliance: int  # the appliance that feeds it, or -1
    form: junctions.Coefficients | None  # of the junction at its upstream end
    diameter: float
    area: float
    length: float
    rise: float
    surface: float
    relative_roughness: float
    fixed_loss: float  # K of fittings and changes of size on its own velocity head
    outside_resistance: float  # wall and outside film on the inner surface, m2 K/W
    outdoors: bool
    thin_air: float  # pressure at its middle over pressure at the floor
    end_loss: float  # cap, at a termination
    wind: float  # wind coefficient, at a termination

    @cached_property
    def limit_factor(self):
        """Friction factor where turbulence is full, at Re = 4000: the Nusselt number in the passage hangs on it."""
        return friction.friction_factor.bare(friction.TURBULENT_LIMIT, self.relative_roughness)


@dataclass(frozen=True)
class Network:
    """A plant in its seasons; tables of an appliance have the axes (seasons, codes)."""

    plant: Plant
    seasons: tuple[Season, ...]
    pressure: float
    pipes: tuple[Pipe, ...]
    fed_by: tuple[int, ...]  # per appliance: the row of its first section
    outlet_area: np.ndarray
    outlet_height: np.ndarray
    prescribed: tuple[np.ndarray, ...]  # per appliance (seasons, codes): kg/s that come by themselves
    temperature: tuple[np.ndarray, ...]
    gas: tuple[np.ndarray, ...]  # per appliance (properties, seasons, codes)
    resistance: tuple[np.ndarray, ...]  # of the way in from the room, inf where shut
    threshold: tuple[float, ...]  # draft at which a regulator opens
    on_total: tuple[bool, ...]  # the resistance acts on all that enters the vent (hood), not on room air alone
    outdoor: np.ndarray  # per season
    room: np.ndarray
    outdoor_density: np.ndarray
    room_density: np.ndarray
    room_pressure: np.ndarray
    opening_height: float
    wind_head: np.ndarray
    outdoor_gas: np.ndarray  # (properties, seasons)

    def room_gauge(self, height: float) -> np.ndarray:
        """Room against outdoors [Pa] at a height above the boiler-room floor, per season: warm air stands lighter."""
        lift = GRAVITY * (self.outdoor_density - self.room_density) * (height - self.opening_height)
        return self.room_pressure + lift


def compile_network(plant: Plant, seasons: tuple[Season, ...]) -> Network:
    """The plant in its seasons as plain numbers; the last few are kept, for those who come back to a plant."""
    return _compiled(plant, tuple(seasons))


@lru_cache(maxsize=32)
def _compiled(plant: Plant, seasons: tuple[Season, ...]) -> Network:
    pressure = float(atmosphere.standard_pressure.bare(plant.altitude.m_as("m")))
    air = [_season_air(season, pressure) for season in seasons]
    outdoor, room = (np.array([float(getattr(s, name).m_as("K")) for s in seasons]) for name in ("outdoor", "room"))
    outdoor_density = _densities(air, outdoor, pressure)
    room_density = _densities(air, room, pressure)
    heights = np.array([a.outlet_height.m_as("m") for a in plant.appliances])
    room_pressure = np.array([s.room_pressure.m_as("Pa") for s in seasons])
    tables = [_appliance_tables(a, seasons, air, room, room_density, pressure) for a in plant.appliances]
    return Network(
        plant=plant,
        seasons=tuple(seasons),
        pressure=pressure,
        pipes=tuple(_pipe(plant, i) for i in range(len(plant.order))),
        fed_by=tuple([s.name for s in plant.order].index(f) for f in plant.feeds),
        outlet_area=np.array([np.pi * a.outlet_diameter.m_as("m") ** 2 / 4.0 for a in plant.appliances]),
        outlet_height=heights,
        prescribed=tuple(t[0] for t in tables),
        temperature=tuple(t[1] for t in tables),
        gas=tuple(t[2] for t in tables),
        resistance=tuple(t[3] for t in tables),
        threshold=tuple(
            float(a.regulator_draft.m_as("Pa")) if a.kind == "barometric" else 0.0 for a in plant.appliances
        ),
        on_total=tuple(a.kind == "draft hood" for a in plant.appliances),
        outdoor=outdoor,
        room=room,
        outdoor_density=outdoor_density,
        opening_height=float(plant.opening_height.m_as("m")),
        room_pressure=room_pressure,
        room_density=room_density,
        wind_head=0.5 * outdoor_density * np.array([s.wind.m_as("m/s") ** 2 for s in seasons]),
        outdoor_gas=np.array([streams.stream_properties(gas) for gas in air]).T,
    )


def _densities(gases, temperatures, pressure) -> np.ndarray:
    """Density [kg/m3] of each gas at its temperature [K] and one pressure [Pa absolute]."""
    return np.array([float(flue_gas.density.bare(g, t, pressure)) for g, t in zip(gases, temperatures, strict=True)])


def _season_air(season: Season, pressure: float) -> flue_gas.Gas:
    vapour = atmosphere.water_vapour_fraction.bare(float(season.outdoor.m_as("K")), season.relative_humidity, pressure)
    return flue_gas.Gas.humid_air(float(vapour))


def _appliance_tables(a, seasons, air, room, room_density, pressure):
    """(seasons, codes) tables of one appliance: flow, temperature, gas properties, way in from the room."""
    shape = (len(seasons), len(a.states))
    flow, temperature, resistance = np.empty(shape), np.empty(shape), np.empty(shape)
    gas = np.empty((streams.ROWS, *shape))
    for i in range(len(seasons)):
        for j, state in enumerate(a.states):
            s = appliances.stream(a, state, room[i], pressure, air[i])
            flow[i, j], temperature[i, j] = s.mass_flow, s.temperature
            gas[:, i, j] = streams.stream_properties(s.gas)
            resistance[i, j] = appliances.entry_resistance(a, state, room_density[i])
    return flow, temperature, gas, resistance


def _pipe(plant: Plant, row: int) -> Pipe:
    section = plant.order[row]
    rows = {s.name: i for i, s in enumerate(plant.order)}
    upstream = plant.upstream(section.name)
    diameter, length = (float(getattr(section, n).m_as("m")) for n in ("diameter", "length"))
    branch = upstream[-1] if upstream and upstream[-1].junction else None
    form = branch and _form(branch, diameter)
    end = next((t for t in plant.terminations if t.name == section.into), None)
    cap = fittings.fitting(end.cap) if end else None
    outdoors = section.place == "outdoors"
    film = heat_loss.OUTDOOR_FILM if outdoors else heat_loss.STILL_ROOM_FILM
    low, high = plant.heights[section.name]
    material = section.material
    return Pipe(
        children=tuple(rows[s.name] for s in upstream),
        parent=-1 if end else rows[section.into],
        appliance=plant.feeds.index(section.name) if section.name in plant.feeds else -1,
        form=form,
        diameter=diameter,
        area=section.area,
        length=length,
        rise=float(section.rise.m_as("m")),
        surface=np.pi * diameter * length,
        relative_roughness=float(material.roughness.m_as("m")) / diameter,
        fixed_loss=sum(fittings.fitting(f).loss for f in section.fittings) + _size_loss(plant, section),
        outside_resistance=float(material.wall_resistance.m_as("m**2*K/W")) + 1.0 / (material.diameter_ratio * film),
        outdoors=outdoors,
        # Barometric fall with height in still air at 15 degC: within 0.1 % of any season's over 100 m.
        thin_air=float(np.exp(-GRAVITY * 0.5 * (low + high) / (287.05 * 288.15))),
        end_loss=cap.loss if cap else 0.0,
        wind=cap.wind if cap else 0.0,
    )


def _form(branch: Section, combined_diameter: float) -> junctions.Coefficients:
    ratio = junctions.area_ratio(float(branch.diameter.m_as("m")), combined_diameter)
    return junctions.coefficients(junctions.junction(branch.junction), ratio)


def _size_loss(plant: Plant, section: Section) -> float:
    """K of the changes of size at both ends, on the section's own velocity head.

    The change at the downstream end belongs to this section, since its own flow passes it; so does that at an
    appliance's outlet. A branch narrower than the combined leg has its loss in the junction's coefficient.
    """
    own = float(section.diameter.m_as("m"))
    loss = 0.0
    if section.name in plant.feeds:
        outlet = float(plant.appliances[plant.feeds.index(section.name)].outlet_diameter.m_as("m"))
        loss += float(fittings.size_change.bare(outlet, own, SIZE_CHANGE_ANGLE)) * (own / min(own, outlet)) ** 4
    following = next((s for s in plant.sections if s.name == section.into), None)
    if following is not None:
        other = float(following.diameter.m_as("m"))
        if section.junction is None or own > other:
            loss += float(fittings.size_change.bare(own, other, SIZE_CHANGE_ANGLE)) * (own / min(own, other)) ** 4
    return loss
