"""Job building: from the form to the building: boiler room, roof, emissions, carbon monoxide, and wind around it."""

from dataclasses import dataclass, replace

from ventcalc.building import roof_scene, roof_wind, room_air
from ventcalc.building.co_exposure import COCase
from ventcalc.building.roof_scene import Scene
from ventcalc.building.room_air import RoomAir
from ventcalc.building.sight_line import Viewpoint
from ventcalc.building.terminal import Terminal
from ventcalc.flow import wind
from ventcalc.job import job_form, job_form_building
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant, Termination


@dataclass(frozen=True)
class Roof:
    """Where the vent ends: the ``scene``, the terminals that stand in it, and ``views`` from which none may be seen."""

    scene: Scene
    terminals: tuple[Terminal, ...]
    views: tuple[Viewpoint, ...] = ()


@dataclass(frozen=True)
class Emissions:
    """What the burners are said to make, in the dry flue gas at 3 % oxygen: for what reaches an air intake.

    ``no2_share`` of the NOx is NO2 (None: not told).
    """

    nox: Quantity
    co: Quantity
    no2_share: float | None = None

    def __post_init__(self):
        if self.no2_share is not None and not 0.0 <= self.no2_share <= 1.0:
            raise ValueError(f"no2_share {100.0 * self.no2_share:g} % must be 0 to 100 %")


def room(form: job_form_building.Room, side: str | None) -> RoomAir:
    """The room; an opening stands on the ``side`` of the site's air opening where its own is not given."""
    return RoomAir(
        volume=form.volume,
        openings=tuple(
            room_air.Opening(o.name, o.area, o.way, o.louver, None if o.free_share is None
                                   else float(o.free_share.m_as("")), o.smallest, o.place, o.level,
                                   side=o.side or side)
            for o in form.opening
        ),
        leakage=form.leakage and room_air.Leakage(form.leakage.flow, form.leakage.pressure),
        exhausts=tuple(room_air.Exhaust(e.name, e.flow) for e in form.exhaust),
        supply=form.supply,
        interlocked=form.interlocked,
        infiltration=form.infiltration,
        joined=form.joined,
        sealed=tuple(form.sealed),
    )  # fmt: skip


def emissions(form: job_form_building.Emissions) -> Emissions:
    """What the burners are said to make."""
    return Emissions(form.nox, form.co, None if form.no2_share is None else float(form.no2_share.m_as("")))


def carbon_monoxide(form: job_form.File) -> COCase:
    """The case; the room is that of the file, at the temperature of its first season."""
    if form.room is None:
        raise ValueError("tell of the room as well: [room] with its volume")
    c = form.carbon_monoxide
    return COCase(
        room_volume=form.room.volume,
        air_changes=c.air_changes,
        co_air_free=c.co_air_free.to("ppm"),
        hours=c.hours,
        room_temperature=form.season[0].room,
        monitor=None if c.monitor is None else c.monitor.to("ppm"),
        monitor_delay=c.monitor_delay,
        activity=c.activity,
    )


def roof(form: job_form_building.Roof, plant: Plant) -> Roof:
    """The scene of the roof, and the vent's terminals in it."""
    scene = Scene(
        planes=tuple(roof_scene.RoofPlane(p.name, _points(p.corners)) for p in form.plane),
        obstacles=tuple(roof_scene.Obstacle(o.name, o.kind, _points(o.outline), o.top, o.base) for o in form.obstacle),
        openings=tuple(
            roof_scene.Opening(o.name, o.kind, _points(o.line), o.bottom, o.top, o.next_door) for o in form.opening
        ),
        marks=tuple(roof_scene.Mark(m.name, m.kind, _points(m.line), m.top) for m in form.mark),
        grade=form.grade,
    )
    views = tuple(Viewpoint(v.name, v.x, v.y, v.eye) for v in form.view)
    return Roof(scene, tuple(_terminal(t, form, plant) for t in form.terminal), views)


def _points(listed) -> Quantity:
    return Q_([[float(v.m_as("m")) for v in point] for point in listed], "m")


def _terminal(t: job_form_building.Terminal, form: job_form_building.Roof, plant: Plant) -> Terminal:
    """A termination of the vent in its place; height, size, input and hood are the vent's own where not given.

    Heights in the scene are counted from where the file counts them; ``floor`` is the boiler-room floor there.
    """
    ends = [s for s in plant.sections if s.into == t.name]
    if not ends:
        names = ", ".join(e.name for e in plant.terminations)
        raise ValueError(f'terminal "{t.name}": the vent has no termination of that name; it has {names}')
    served = plant.serves(ends[0].name)
    watts = sum(max(level.heat_input.m_as("W") for level in a.levels) for a in served)
    collar = form.floor + max(a.outlet_height for a in served)
    top = form.floor + Q_(plant.heights[ends[0].name][1], "m")
    wide = t.diameter or ends[0].diameter * ends[0].material.diameter_ratio
    categories, hooded = tuple(a.category for a in served), any(a.kind == "draft hood" for a in served)
    return Terminal(t.name, t.x, t.y, t.outlet or top, wide, t.kind, t.cap_bottom, t.through, Q_(watts, "W"),
                    collar, categories, hooded)  # fmt: skip


def placed(end: Termination, roof: Roof | None) -> Termination:
    """A termination with its place in the wind as the roof scene shows it, where the file does not give it."""
    terminal = next((t for t in roof.terminals if t.name == end.name), None) if roof else None
    if end.place is None and (end.cap == wind.WALL_TERMINAL or (terminal and terminal.through == "wall")):
        return replace(end, place="wall")
    if end.place is not None or terminal is None:
        return end
    return replace(end, place="clear" if roof_wind.clear_of_roof(roof.scene, terminal) else "near roof")


def rebuilt(roof: Roof, drawn: Plant, plant: Plant) -> Roof:
    """The roof of a vent that is built otherwise than drawn: its terminals as much higher, lower or wider as its ends.

    So a shorter stack keeps no clearance that only the drawn one has.
    """
    return replace(roof, terminals=tuple(_rebuilt(t, drawn, plant) for t in roof.terminals))


def _rebuilt(t: Terminal, drawn: Plant, plant: Plant) -> Terminal:
    was, now = (next(s for s in p.sections if s.into == t.name) for p in (drawn, plant))
    grown = plant.heights[now.name][1] - drawn.heights[was.name][1]
    before, after = (float(s.diameter.m_as("m")) * s.material.diameter_ratio for s in (was, now))
    if not grown and before == after:
        return t
    bottom = None if t.cap_bottom is None else t.cap_bottom + Q_(grown, "m")
    return replace(t, outlet=t.outlet + Q_(grown, "m"), cap_bottom=bottom, diameter=t.diameter * (after / before))


def in_the_wind(roof: Roof | None, drawn: Plant, plant: Plant) -> Plant:
    """A vent built otherwise than drawn, its ends in the wind as they then stand over the roof (`placed`).

    A place that the file gives against what its scene shows stays.
    """
    if roof is None:
        return plant
    after = rebuilt(roof, drawn, plant)

    def end(was: Termination, now: Termination) -> Termination:
        shown = was.place == placed(replace(was, place=None), roof).place
        return placed(replace(now, place=None), after) if shown else now

    ends = tuple(end(was, now) for was, now in zip(drawn.terminations, plant.terminations, strict=True))
    return plant if ends == plant.terminations else replace(plant, terminations=ends)


def exposure(form: job_form.File, room: RoomAir | None, roof: Roof | None) -> wind.Exposure:
    """How the building stands in the wind; where the file tells of no room its one air opening is all there is."""
    side = form.site.air_opening_side
    ways = room_air.wind_ways(room) if room else ()
    ways = ways or ((wind.Way(1.0, side),) if side else ())
    return wind.Exposure(form.site.shielding, roof_wind.roof_pitch(roof.scene) if roof else None, ways)
