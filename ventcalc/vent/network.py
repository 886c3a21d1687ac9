"""Network: a plant's drawing, its appliances and its weather as plain numbers for the solver.

`compile_network` turns quantities and names into SI floats and tables once; `common_vent` then solves
many states on them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np

from ventcalc.door import door
from ventcalc.flow import fittings, friction, heat_loss, junctions, wind
from ventcalc.gas import appliance as appliances
from ventcalc.gas import atmosphere, flue_gas, streams
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, ureg
from ventcalc.vent.layout import OUTDOORS, ROOM, Plant, Section

SIZE_CHANGE_ANGLE = 60.0  # degrees included, the usual reducer of the trade (common practice, no source)

# Share of its open area through which a shut barometric draft control leaks (common practice, no source).
REGULATOR_LEAKAGE = 0.02
# Draft above its set point, as a share of it, at which it stands wide open to the flow that the set point
# would drive through its open area (common practice, no source).
REGULATOR_BAND = 0.2


@dataclass(frozen=True)
class PlaceAir:
    """Air of one of `layout.Plant.places` in a season: ``temperature``, and ``pressure`` gauge against outdoors at the
    height of its opening."""

    name: str
    temperature: Quantity
    pressure: Quantity = Q_(0.0, "Pa")


@dataclass(frozen=True)
class Season:
    """Weather and room of one season.

    ``outdoor`` and ``room`` temperature, ``room_pressure`` gauge against outdoors at the height of the room's
    opening (negative: exhaust fans pull on the room), ``wind`` speed at the termination, outdoor
    ``relative_humidity``. Room air is outdoor air warmed: it carries the same moisture, but no more than it can hold.
    ``places`` says what the plant's other places are like.
    """

    name: str
    outdoor: Quantity
    room: Quantity
    room_pressure: Quantity = Q_(0.0, "Pa")
    wind: Quantity = Q_(0.0, "m/s")
    relative_humidity: float = 0.6
    places: tuple[PlaceAir, ...] = ()

    def __post_init__(self):
        others = [(p.name, p.temperature) for p in self.places]
        for name, value in (("outdoor", self.outdoor), ("room", self.room), *others):
            kelvin = magnitude(value, ureg.Unit("K"), f"season {self.name}: {name} temperature")
            if not 213.15 <= kelvin <= 333.15:
                raise ValueError(f"season {self.name}: {name} temperature {value:.4g~P} must be -60 to 60 degC")
        for name, value in (("room", self.room_pressure), *((p.name, p.pressure) for p in self.places)):
            pascal = magnitude(value, ureg.Unit("Pa"), f"season {self.name}: {name} pressure")
            if not abs(pascal) <= 250.0:
                raise ValueError(f"season {self.name}: {name} pressure {value:.4g~P} must be within 250 Pa")
        if not 0 <= magnitude(self.wind, ureg.Unit("m/s"), f"season {self.name}: wind") <= 60.0:
            raise ValueError(f"season {self.name}: wind {self.wind:.4g~P} must be 0 to 60 m/s")
        if not 0 <= self.relative_humidity <= 1:
            raise ValueError(f"season {self.name}: relative humidity {self.relative_humidity:g} must be 0 to 1")

    def air_of(self, place: str) -> PlaceAir:
        """What the boiler room, "room", or another place is like; ValueError where the season does not say."""
        if place == ROOM:
            return PlaceAir(ROOM, self.room, self.room_pressure)
        found = next((p for p in self.places if p.name == place), None)
        if found is None:
            raise ValueError(f"season {self.name}: the temperature of the place {place!r} is missing")
        return found


class Bore(NamedTuple):
    """What cooling and losses hang on, of the numbers of a `Pipe`."""

    diameter: float
    area: float
    length: float
    rise: float
    surface: float
    relative_roughness: float
    roughness_power: float
    fixed_loss: float
    outside_resistance: float
    thin_air: float
    limit_factor: float
    friction_scale: float
    film_scale: float


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
    around: int  # the place that surrounds it, where not outdoors
    thin_air: float  # pressure at its middle over pressure at the floor
    end_loss: float  # cap, at a termination
    wind: float  # wind coefficient, at a termination
    friction_scale: float = 1.0  # true friction factor and inside film over those by their formulas
    film_scale: float = 1.0

    @cached_property
    def roughness_power(self):
        """What Haaland's form of the friction factor takes of the roughness (`friction.haaland_power`)."""
        return friction.haaland_power(self.relative_roughness)

    @cached_property
    def limit_factor(self):
        """Friction factor where turbulence is full, at Re = 4000: the Nusselt number in the passage hangs on it."""
        return friction.friction_factor.bare(friction.TURBULENT_LIMIT, self.relative_roughness)

    @cached_property
    def bore(self) -> np.ndarray:
        """The numbers of its `Bore` (numbers, cases): one case, or many (`common_vent.given_flows`)."""
        values = np.broadcast_arrays(*(np.atleast_1d(getattr(self, name)) for name in Bore._fields))
        return np.array(values, float).reshape(len(values), -1)


class Tree(NamedTuple):
    """What never changes in a network, for the compiled loops: sections in its order, then appliances.

    The sections that lead into each: its straight ``run``, or the only one, and the ``branch`` of a junction; the
    ``parent`` that it leads into, the ``appliance`` that feeds it; -1 for none. The place ``around`` it, -1 outdoors.
    ``numbers`` (cases, sections, rows): those of its `Bore`, then `END_LOSS`, then its junction's `FORM`. ``ways``
    (rows, appliances) in from the rooms; ``fed`` by each appliance: its first section.
    """

    run: np.ndarray
    branch: np.ndarray
    parent: np.ndarray
    appliance: np.ndarray
    around: np.ndarray
    numbers: np.ndarray
    ways: np.ndarray
    fed: np.ndarray
    pressure: float


# Rows of a section's numbers, and of an appliance's way in: of gas that blows into the room, of its regulator, whether
# the resistance acts on all that enters, area of its outlet.
DIAMETER, AREA, LENGTH, RISE = range(4)
THIN_AIR = Bore._fields.index("thin_air")
END_LOSS = len(Bore._fields)
FORM = END_LOSS + 1
NUMBERS = FORM + len(junctions.Coefficients._fields)
EXIT, THRESHOLD, ON_TOTAL, OUTLET_AREA = range(4)


@dataclass(frozen=True)
class Network:
    """A plant in its seasons; tables of an appliance have the axes (seasons, codes).

    Places are the boiler room, then those of the plant in their order.
    """

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
    exit_resistance: tuple[float, ...]  # times density, of gas that blows into the room; nan where as the way in
    threshold: tuple[float, ...]  # draft at which a regulator opens
    on_total: tuple[bool, ...]  # the resistance acts on all that enters the vent (hood), not on room air alone
    outdoor: np.ndarray  # per season
    outdoor_density: np.ndarray
    place_temperature: np.ndarray  # (places, seasons)
    place_density: np.ndarray
    place_pressure: np.ndarray
    place_gas: np.ndarray  # (properties, places, seasons)
    opening_heights: tuple[float, ...]  # per place
    rooms: tuple[int, ...]  # per appliance: the place it stands in
    wind_head: np.ndarray
    terminal_wind: np.ndarray  # coefficients (sections, cases of `wind.CASES`); 0 but at a termination
    room_wind: np.ndarray  # (cases)
    wind_direction: np.ndarray  # (cases), degrees; NaN where no single one
    outdoor_gas: np.ndarray  # (properties, seasons)
    varied: bool = False  # whether numbers of pipes, junctions and winds are arrays, one a season (`varied_network`)

    @cached_property
    def tree(self) -> Tree:
        """Sections and ways in for the compiled loops; of cases that differ one row of numbers each."""
        pipes = self.pipes
        leads = [p.children if p.form is None else (-1, *p.children)[-2:] for p in pipes]
        rows = [(*p.bore, p.end_loss, *(p.form or (0.0,) * (NUMBERS - FORM))) for p in pipes]
        cases = max(np.size(value) for row in rows for value in row)
        numbers = np.array([[np.broadcast_to(value, cases) for value in row] for row in rows], float)
        return Tree(
            run=np.array([lead[0] if lead else -1 for lead in leads]),
            branch=np.array([lead[1] if len(lead) > 1 else -1 for lead in leads]),
            parent=np.array([p.parent for p in pipes]),
            appliance=np.array([p.appliance for p in pipes]),
            around=np.array([-1 if p.outdoors else p.around for p in pipes]),
            numbers=np.ascontiguousarray(numbers.transpose(2, 0, 1)),
            ways=np.array([self.exit_resistance, self.threshold, self.on_total, self.outlet_area], float),
            fed=np.array(self.fed_by),
            pressure=self.pressure,
        )

    @property
    def room(self) -> np.ndarray:
        """Temperature of the boiler room [K], per season."""
        return self.place_temperature[0]

    @property
    def room_density(self) -> np.ndarray:
        """Density of the boiler room's air [kg/m3], per season."""
        return self.place_density[0]

    @property
    def room_pressure(self) -> np.ndarray:
        """Pressure of the boiler room at its opening [Pa against outdoors], per season."""
        return self.place_pressure[0]

    @property
    def room_gas(self) -> np.ndarray:
        """The boiler room's air (properties, seasons)."""
        return self.place_gas[:, 0]

    @property
    def opening_height(self) -> float:
        """Height of the boiler room's opening [m]."""
        return self.opening_heights[0]

    def room_gauge(self, height: float, place: int = 0) -> np.ndarray:
        """A place against outdoors [Pa] at a height over the boiler-room floor, per season: warm air stands lighter."""
        lighter = self.outdoor_density - self.place_density[place]
        lift = GRAVITY * lighter * (height - self.opening_heights[place])
        return self.place_pressure[place] + lift

    def room_at(self, height: float, states, place: int = 0) -> np.ndarray:
        """`room_gauge` in each of `states.States`, with the wind on the building's walls, alike for all places."""
        calm = self.room_gauge(height, place)[states.season]
        if states.wind_case is None:
            return calm
        wind = self.room_wind[states.wind_case] if not self.varied else self.room_wind[states.wind_case, states.season]
        return calm + wind * states.windy * self.wind_head[states.season]


def compile_network(plant: Plant, seasons: tuple[Season, ...]) -> Network:
    """The plant in its seasons as plain numbers; the last few are kept, for those who come back to a plant."""
    return _known(Itself(plant), tuple(Itself(season) for season in seasons))


@dataclass(frozen=True, eq=False)
class Itself:
    """Something known by being itself: to compare all its quantities takes longer than a sweep through a vent."""

    it: Any

    def __hash__(self):
        return id(self.it)

    def __eq__(self, other):
        return self.it is other.it


@lru_cache(maxsize=32)
def _known(plant: Itself, seasons: tuple[Itself, ...]) -> Network:
    return _compiled(plant.it, tuple(season.it for season in seasons))


@lru_cache(maxsize=32)
def _compiled(plant: Plant, seasons: tuple[Season, ...]) -> Network:
    pressure = float(atmosphere.standard_pressure.bare(plant.altitude.m_as("m")))
    outdoor = np.array([float(s.outdoor.m_as("K")) for s in seasons])
    humidity = np.array([float(s.relative_humidity) for s in seasons])
    outdoors = _air(atmosphere.water_vapor_fraction.bare(outdoor, humidity, pressure), outdoor, pressure)
    names = [ROOM, *(p.name for p in plant.places)]
    places = [_place_air([season.air_of(name) for season in seasons], outdoors, pressure) for name in names]
    gauge = [[float(season.air_of(name).pressure.m_as("Pa")) for season in seasons] for name in names]
    rooms = tuple(names.index(a.room) for a in plant.appliances)
    heights = np.array([a.outlet_height.m_as("m") for a in plant.appliances])
    openings = [plant.opening_height, *(p.opening_height or plant.opening_height for p in plant.places)]
    known = _Properties()
    tables = [_appliance_tables(a, places[r], pressure, known) for a, r in zip(plant.appliances, rooms, strict=True)]
    cases = wind.wind_cases(plant.exposure, [(t.cap, t.place, t.side) for t in plant.terminations])
    return Network(
        plant=plant,
        seasons=tuple(seasons),
        pressure=pressure,
        pipes=tuple(_pipe(plant, i) for i in range(len(plant.order))),
        fed_by=tuple(plant.row(f) for f in plant.feeds),
        outlet_area=np.array([np.pi * a.outlet_diameter.m_as("m") ** 2 / 4.0 for a in plant.appliances]),
        outlet_height=heights,
        prescribed=tuple(t[0] for t in tables),
        temperature=tuple(t[1] for t in tables),
        gas=tuple(t[2] for t in tables),
        resistance=tuple(t[3] for t in tables),
        exit_resistance=tuple(appliances.exit_resistance(a) for a in plant.appliances),
        threshold=tuple(
            -float(a.regulator_draft.m_as("Pa")) if a.kind == "barometric" else 0.0 for a in plant.appliances
        ),
        on_total=tuple(a.kind == "draft hood" for a in plant.appliances),
        outdoor=outdoor,
        outdoor_density=outdoors.density,
        place_temperature=np.array([p.temperature for p in places]),
        place_density=np.array([p.density for p in places]),
        place_pressure=np.array(gauge),
        place_gas=np.stack([known.of(p.gas) for p in places], axis=1),
        opening_heights=tuple(float(height.m_as("m")) for height in openings),
        rooms=rooms,
        wind_head=0.5 * outdoors.density * np.array([s.wind.m_as("m/s") ** 2 for s in seasons]),
        terminal_wind=_terminal_wind(plant, cases),
        room_wind=cases.room,
        wind_direction=cases.direction,
        outdoor_gas=known.of(outdoors.gas),
    )


class _Air(NamedTuple):
    """Air of a place in every season: humid, its temperature [K] and its density [kg/m3]."""

    gas: flue_gas.Gas
    temperature: np.ndarray
    density: np.ndarray


def _air(vapor: np.ndarray, temperature: np.ndarray, pressure: float) -> _Air:
    gas = flue_gas.Gas.humid_air(vapor)
    return _Air(gas, temperature, flue_gas.density.bare(gas, temperature, pressure))


def _place_air(known: list[PlaceAir], outdoors: _Air, pressure: float) -> _Air:
    temperature = np.array([float(k.temperature.m_as("K")) for k in known])
    return _air(_vapor_indoors(outdoors.gas.h2o, temperature, pressure), temperature, pressure)


def _terminal_wind(plant: Plant, cases: wind.WindCases) -> np.ndarray:
    found = np.zeros((len(plant.order), cases.room.size))
    for termination, coefficients in zip(plant.terminations, cases.terminal, strict=True):
        found[[s.into for s in plant.order].index(termination.name)] = coefficients
    return found


@door(plain={"pressure": "Pa"}, above={"pressure": 0.0})
def room_vapor(season: Season, pressure: float, place: str = ROOM) -> float:
    """Mole fraction of water vapor in the air of the boiler room or another place at a pressure [Pa absolute].

    That of outdoor air; in a room colder than that no more than saturates it there: the rest has condensed on cold
    walls before.
    """
    outdoor, kelvin = float(season.outdoor.m_as("K")), float(season.air_of(place).temperature.m_as("K"))
    outdoors = atmosphere.water_vapor_fraction.bare(outdoor, season.relative_humidity, pressure)
    return float(_vapor_indoors(outdoors, kelvin, pressure))


def _vapor_indoors(outdoors, temperature, pressure: float):
    return np.minimum(outdoors, atmosphere.water_vapor_fraction.bare(temperature, 1.0, pressure))


class _Properties:
    """What streams carry in every season, of each gas once: equal appliances send the same, idle ones their room's air.

    Gases whose water differs by rounding alone are worked out once as well.
    """

    def __init__(self):
        self.known = {}

    def of(self, gas: flue_gas.Gas) -> np.ndarray:
        """`streams.stream_properties` of a gas, one column a season."""
        parts = np.array(np.broadcast_arrays(*(getattr(gas, species) for species in flue_gas.SPECIES)))
        key = parts.tobytes()
        if key not in self.known:
            _, first, back = np.unique(parts.round(_DIGITS), axis=1, return_index=True, return_inverse=True)
            self.known[key] = streams.stream_properties(flue_gas.Gas(*parts[:, first]))[:, back.ravel()]
        return self.known[key]


_DIGITS = 13  # of a mole fraction: what differs behind them is rounding


def _appliance_tables(a, room: _Air, pressure: float, known: _Properties):
    """(seasons, codes) tables of one appliance: flow, temperature, gas properties, way in from the room."""
    shape = room.temperature.size, len(a.states)
    flow, temperature, resistance = np.empty(shape), np.empty(shape), np.empty(shape)
    gas = np.empty((streams.ROWS, *shape))
    for j, state in enumerate(a.states):
        s = appliances.stream(a, state, room.temperature, pressure, room.gas)
        flow[:, j], temperature[:, j], gas[..., j] = s.mass_flow, s.temperature, known.of(s.gas)
        resistance[:, j] = appliances.entry_resistance(a, state, room.density)
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
    outdoors = section.place == OUTDOORS
    places = [ROOM, *(p.name for p in plant.places)]
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
        fixed_loss=section.loss + size_loss(plant, section, lambda s: float(s.diameter.m_as("m"))),
        outside_resistance=float(material.wall_resistance.m_as("m**2*K/W")) + 1.0 / (material.diameter_ratio * film),
        outdoors=outdoors,
        around=0 if outdoors else places.index(section.place),
        # Barometric fall with height in still air at 15 degC: within 0.1 % of any season's over 100 m.
        thin_air=float(np.exp(-GRAVITY * 0.5 * (low + high) / (287.05 * 288.15))),
        end_loss=cap.loss if cap else 0.0,
        wind=cap.wind if cap else 0.0,
    )


def _form(branch: Section, combined_diameter: float) -> junctions.Coefficients:
    ratio = junctions.area_ratio(float(branch.diameter.m_as("m")), combined_diameter)
    return junctions.coefficients(junctions.junction(branch.junction), ratio)


def size_loss(plant: Plant, section: Section, diameter: Callable[[Section], float]):
    """K of the changes of size at both ends, on the section's own velocity head; ``diameter`` [m] of every section.

    The change at the downstream end belongs to this section, since its own flow passes it; so does that at an
    appliance's outlet. A branch narrower than the combined leg has its loss in the junction's coefficient.
    """
    own, loss = diameter(section), 0.0
    if section.name in plant.feeds:
        outlet = float(plant.appliances[plant.feeds.index(section.name)].outlet_diameter.m_as("m"))
        loss = loss + _change(outlet, own) * (own / np.minimum(own, outlet)) ** 4
    following = next((s for s in plant.sections if s.name == section.into), None)
    if following is not None:
        other = diameter(following)
        changes = own > other if section.junction else True
        loss = loss + np.where(changes, _change(own, other) * (own / np.minimum(own, other)) ** 4, 0.0)
    return loss


def _change(upstream, downstream):
    return fittings.size_change.bare(upstream, downstream, SIZE_CHANGE_ANGLE)
