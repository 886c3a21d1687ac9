"""Job form, building: the keys of a job file for boiler room, carbon monoxide, emissions and roof."""

from pydantic import Field

from ventcalc.job.job_fields import (
    Area,
    Corner,
    Duration,
    Form,
    Leak,
    Length,
    Name,
    Point,
    Rate,
    Ratio,
    Volume,
    VolumeFlow,
)
from ventcalc.units import parse


class Opening(Form):
    """[[room.opening]]: an opening that brings the room air."""

    name: Name
    area: Area
    way: str = "direct"
    louver: str = "none"
    free_share: Ratio | None = None
    smallest: Length | None = None
    place: str | None = None
    level: Length | None = None
    side: str | None = None


class Exhaust(Form):
    """[[room.exhaust]]: an exhaust fan."""

    name: Name
    flow: VolumeFlow


class Room(Form):
    """[room]: the boiler room and its air."""

    volume: Volume
    opening: list[Opening] = Field(default_factory=list)
    leakage: Leak | None = None
    exhaust: list[Exhaust] = Field(default_factory=list)
    supply: VolumeFlow = Field(default_factory=lambda: parse("0 m**3/s"))
    interlocked: bool = False
    infiltration: Rate | None = None
    joined: Volume = Field(default_factory=lambda: parse("0 m**3"))
    sealed: list[Name] = Field(default_factory=list)


class CarbonMonoxide(Form):
    """[carbon_monoxide]: what a spill is judged by."""

    air_changes: Rate
    co_air_free: Ratio
    hours: Duration = Field(default_factory=lambda: parse("8 hour"))
    monitor: Ratio | None = None
    monitor_delay: Duration = Field(default_factory=lambda: parse("0 minute"))
    activity: str = "light work"


class Emissions(Form):
    """[emissions]: what the burners make."""

    nox: Ratio
    co: Ratio
    no2_share: Ratio | None = None


class Plane(Form):
    """[[roof.plane]]: a plane of the roof."""

    name: Name
    corners: list[Corner] = Field(min_length=3)


class Obstacle(Form):
    """[[roof.obstacle]]: what stands on the roof or beside it."""

    name: Name
    kind: str
    outline: list[Point] = Field(min_length=1)
    top: Length
    base: Length = Field(default_factory=lambda: parse("0 m"))


class RoofOpening(Form):
    """[[roof.opening]]: a window, a door or an intake."""

    name: Name
    kind: str
    line: list[Point] = Field(min_length=1)
    bottom: Length
    top: Length
    next_door: bool = False


class Mark(Form):
    """[[roof.mark]]: a line that rules keep a distance from."""

    name: Name
    kind: str
    line: list[Point] = Field(min_length=1)
    top: Length | None = None


class Terminal(Form):
    """[[roof.terminal]]: a termination of the vent in its place."""

    name: Name
    x: Length
    y: Length
    outlet: Length | None = None
    kind: str
    cap_bottom: Length | None = None
    diameter: Length | None = None
    through: str = "roof"


class View(Form):
    """[[roof.view]]: a place from which no termination may be seen."""

    name: Name
    x: Length
    y: Length
    eye: Length


class Roof(Form):
    """[roof]: the scene that the vent ends in."""

    grade: Length = Field(default_factory=lambda: parse("0 m"))
    floor: Length = Field(default_factory=lambda: parse("0 m"))
    plane: list[Plane] = Field(min_length=1)
    obstacle: list[Obstacle] = Field(default_factory=list)
    opening: list[RoofOpening] = Field(default_factory=list)
    mark: list[Mark] = Field(default_factory=list)
    terminal: list[Terminal] = Field(min_length=1)
    view: list[View] = Field(default_factory=list)
