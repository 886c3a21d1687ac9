"""Room air: the room of the appliances: its openings, leakage, exhaust fans and supply, and who breathes there."""

from dataclasses import dataclass

from ventcalc.building.combustion_air import OUTDOOR_WAYS, WAYS, free_area
from ventcalc.building.leakage import LEAKAGE_EXPONENT, leakage_area
from ventcalc.building.orifice_flow import OPENING_COEFFICIENT
from ventcalc.draft import fan_curve
from ventcalc.flow.wind import SIDES, Way
from ventcalc.gas.appliance import Appliance
from ventcalc.units import Q_, Quantity, require
from ventcalc.vent.layout import ROOM, Plant


@dataclass(frozen=True)
class Opening:
    """An opening of the room.

    ``area`` gross, ``way`` one of `WAYS` but "single"; ``louver`` one of `LOUVERS`, ``free_share`` of its design where
    known; ``smallest`` dimension (None: not stated); ``place`` "high" or "low" where it begins within 12 in. of the
    ceiling or the floor, else None; ``level`` height of its middle above the floor (None: that of the plant's air
    opening); ``side`` of the building it stands on, one of `wind.SIDES` (None: not told).
    """

    name: str
    area: Quantity
    way: str = "direct"
    louver: str = "none"
    free_share: float | None = None
    smallest: Quantity | None = None
    place: str | None = None
    level: Quantity | None = None
    coefficient: float = OPENING_COEFFICIENT
    side: str | None = None

    def __post_init__(self):
        if self.side is not None and self.side not in SIDES:
            raise ValueError(f"opening {self.name}: side {self.side!r}; choose {', '.join(SIDES)}")
        require(self.area, "m**2", f"opening {self.name}: area", above=True)
        if self.way not in WAYS or self.way == "single":
            raise ValueError(
                f"opening {self.name}: way {self.way!r}; choose {', '.join(w for w in WAYS if w != 'single')}"
            )
        if self.place not in ("high", "low", None):
            raise ValueError(f"opening {self.name}: place {self.place!r}; choose high, low or None")
        if not 0.1 <= self.coefficient <= 1.0:
            raise ValueError(f"opening {self.name}: coefficient {self.coefficient:g} must be 0.1 to 1")
        for value, words in ((self.smallest, "smallest dimension"), (self.level, "level")):
            if value is not None:
                require(value, "m", f"opening {self.name}: {words}")
        free_area.bare(1.0, self.louver, self.free_share)

    @property
    def free(self) -> Quantity:
        """Its free area."""
        return free_area(self.area, self.louver, self.free_share)

    @property
    def outdoors(self) -> bool:
        """Whether it leads outdoors, not to other rooms."""
        return self.way in OUTDOOR_WAYS


@dataclass(frozen=True)
class Leakage:
    """What leaks through walls, doors and ceiling: ``flow`` at ``pressure``, ``exponent`` of the power law."""

    flow: Quantity
    pressure: Quantity = Q_(50.0, "Pa")
    exponent: float = LEAKAGE_EXPONENT

    def __post_init__(self):
        require(self.flow, "m**3/s", "leakage: flow")
        require(self.pressure, "Pa", "leakage: pressure", above=True)
        if not 0.5 <= self.exponent <= 1.0:
            raise ValueError(f"leakage: exponent {self.exponent:g} must be 0.5 to 1")

    @staticmethod
    def of_changes(changes: Quantity, volume: Quantity, pressure: Quantity = Q_(50.0, "Pa")) -> "Leakage":
        """From air changes per time at a pressure (ACH50: 1/hour at 50 Pa) and the volume."""
        return Leakage((changes * volume).to("m**3/s"), pressure)


@dataclass(frozen=True)
class Exhaust:
    """An exhaust fan: ``flow`` of room air while the room is at outdoor pressure.

    Without a ``fan`` it takes that flow whatever the room's pressure. With one, at ``speed`` over rated, its duct is
    taken to cost what the fan makes at that flow, and a room under negative pressure gives it less.
    """

    name: str
    flow: Quantity
    fan: fan_curve.Fan | None = None
    speed: float = 1.0

    def __post_init__(self):
        require(self.flow, "m**3/s", f"exhaust {self.name}: flow")
        if self.fan is not None:
            flow, free = self.flow.m_as("m**3/s"), self.fan.free_flow * self.fan.abreast * self.speed
            least = self.fan.stall_flow.m_as("m**3/s") * self.fan.abreast * self.speed
            if not least < flow <= free:
                raise ValueError(
                    f"exhaust {self.name}: flow {self.flow:.4g~P} must lie between the fan's stall, {least:.3g} m3/s, "
                    f"and its free flow, {free:.3g} m3/s"
                )


@dataclass(frozen=True)
class RoomAir:
    """The room that the appliances stand in, and all that moves its air.

    ``volume``, and ``joined`` volume of the rooms that indoor openings join to it. ``leakage`` is that of all of them
    together. ``infiltration`` air changes per time where known (for the rules; None: not known). ``supply`` of outdoor
    air by a fan, ``interlocked`` with the burners or not. ``sealed`` names the appliances that bring their own air from
    outdoors.
    """

    volume: Quantity
    openings: tuple[Opening, ...] = ()
    leakage: Leakage | None = None
    exhausts: tuple[Exhaust, ...] = ()
    supply: Quantity = Q_(0.0, "m**3/s")
    interlocked: bool = False
    infiltration: Quantity | None = None
    joined: Quantity = Q_(0.0, "m**3")
    sealed: tuple[str, ...] = ()

    def __post_init__(self):
        require(self.volume, "m**3", "room: volume", above=True)
        require(self.supply, "m**3/s", "room: supply")
        require(self.joined, "m**3", "room: joined volume")
        if self.infiltration is not None:
            require(self.infiltration, "1/s", "room: infiltration", above=True)
        for kind, listed in (("openings", self.openings), ("exhausts", self.exhausts)):
            names = [entry.name for entry in listed]
            if len(set(names)) < len(names):
                raise ValueError(f"room: two {kind} share a name: {', '.join(names)}")
        if any(o.outdoors for o in self.openings) or (self.leakage and self.leakage.flow.m_as("m**3/s") > 0.0):
            return
        raise ValueError("room: nothing lets air in or out; give an opening to outdoors, or the leakage of the walls")


def breathes(room: RoomAir, appliance: Appliance) -> bool:
    """Whether an appliance takes its air from the boiler room: it stands there and does not bring its own."""
    return appliance.room == ROOM and appliance.name not in room.sealed


def inputs(plant: Plant, room: RoomAir) -> tuple[Quantity, Quantity]:
    """Heat input at the highest level of the appliances that take air from the room: without a fan, with a fan.

    Raises ValueError where `RoomAir.sealed` names an appliance that the plant does not have, or one under a hood.
    """
    names = [a.name for a in plant.appliances]
    unknown = [n for n in room.sealed if n not in names]
    if unknown:
        raise ValueError(f"room: no appliance named {', '.join(unknown)}; appliances are {', '.join(names)}")
    open_ = [a.name for a in plant.appliances if a.name in room.sealed and a.kind != "forced"]
    if open_:
        raise ValueError(f"room: {', '.join(open_)} cannot be sealed: a hood or regulator takes air from the room")
    watts = {"natural": 0.0, "fan": 0.0}
    for a in plant.appliances:
        if breathes(room, a):
            watts["fan" if a.kind == "forced" else "natural"] += max(lv.heat_input.m_as("W") for lv in a.levels)
    return Q_(watts["natural"], "W"), Q_(watts["fan"], "W")


def wind_ways(room: RoomAir) -> tuple[Way, ...]:
    """The ways in and out of a room as the wind sees them: its openings to outdoors, and its leakage over all walls."""
    found = [Way(o.coefficient * float(o.free.m_as("m**2")), o.side) for o in room.openings if o.outdoors]
    leak = room.leakage
    if leak is not None and leak.flow.m > 0.0:
        found.append(Way(float(leakage_area(leak.flow, leak.pressure, leak.exponent).m_as("m**2")), "all"))
    return tuple(found)
