"""Layout: the vent as drawn, from appliance outlets through connectors and header to the termination.

A layout is a tree: every section leads into one other section or into a termination. Where two sections
lead into the same one they join in a junction: the one that names the junction is its branch, the
other its straight run. A section that names a junction but has no partner enters the side of a capped run.
"""

import difflib
from dataclasses import dataclass, fields
from functools import cached_property
from graphlib import CycleError, TopologicalSorter

import numpy as np

from ventcalc.flow import fittings, junctions, wind
from ventcalc.flow.materials import Material
from ventcalc.gas.appliance import Appliance
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.words import meant

ROOM, OUTDOORS = "room", "outdoors"  # the boiler room, and what every drawing has besides

# Two ways to the same point of a drawing may differ by what a tape measure does.
HEIGHT_TOLERANCE = 0.05  # m


@dataclass(frozen=True)
class Section:
    """A straight piece of one diameter: ``length`` along its axis, ``rise`` (negative: it falls).

    ``into`` names the section or termination it leads into; ``fittings`` are those on its own length;
    ``junction`` is the form in which it joins as a branch (None: it continues, or is the straight run).
    ``place`` is what surrounds it: "room", "outdoors" or one of `Plant.places`. ``obstruction`` is the loss
    coefficient, on its own velocity head, of what stands in it and is no fitting: a nest, soot, water.
    """

    name: str
    length: Quantity
    rise: Quantity
    diameter: Quantity
    material: Material
    into: str
    place: str = "room"
    fittings: tuple[str, ...] = ()
    junction: str | None = None
    obstruction: float = 0.0

    def __post_init__(self):
        meter = ureg.Unit("m")
        length = magnitude(self.length, meter, f"section {self.name}: length")
        rise = magnitude(self.rise, meter, f"section {self.name}: rise")
        diameter = magnitude(self.diameter, meter, f"section {self.name}: diameter")
        if not length >= 0:
            raise ValueError(f"section {self.name}: length {self.length:~P} must not be negative")
        if not abs(rise) <= length * (1 + 1e-9):
            raise ValueError(f"section {self.name}: rise {self.rise:~P} is more than its length {self.length:~P}")
        if not 0.02 <= diameter <= 10.0:
            raise ValueError(f"section {self.name}: diameter {self.diameter:~P} must be 20 mm to 10 m")
        for name in self.fittings:
            if fittings.fitting(name).kind == "terminal":
                raise ValueError(f"section {self.name}: {name!r} is a terminal; name it as the termination's cap")
        if not 0.0 <= self.obstruction < np.inf:
            raise ValueError(f"section {self.name}: obstruction {self.obstruction:g} must be 0 or more")
        if self.junction is not None:
            junctions.junction(self.junction)

    def __hash__(self):
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Worked out once, as that of the plant: variants of a vent share most of their sections."""
        return hash(tuple(getattr(self, f.name) for f in fields(self)))

    @property
    def loss(self) -> float:
        """Loss coefficient of its fittings and of what stands in it, on its own velocity head."""
        return sum(fittings.fitting(f).loss for f in self.fittings) + self.obstruction

    @cached_property
    def area(self) -> float:
        """Free area inside [m2]."""
        return float(np.pi / 4.0 * self.diameter.m_as("m") ** 2)


@dataclass(frozen=True)
class Termination:
    """Where the vent ends, with its ``cap`` (a fitting of kind "terminal").

    For the wind: its ``place``, one of `wind.PLACES`, and the ``side``, one of `wind.SIDES`, that its wall or its slope
    of the roof faces; None where not told.
    """

    name: str
    cap: str = "open end"
    place: str | None = None
    side: str | None = None

    def __post_init__(self):
        for value, known, what in ((self.place, wind.PLACES, "place"), (self.side, tuple(wind.SIDES), "side")):
            if value is not None and value not in known:
                raise ValueError(f"termination {self.name}: {what} {value!r}; choose {', '.join(known)}")
        if self.cap == wind.WALL_TERMINAL and self.place not in (None, "wall"):
            raise ValueError(f"termination {self.name}: a wall terminal stands on a wall, not {self.place}")
        if self.cap not in fittings.names("terminal"):
            raise ValueError(
                f"termination {self.name}: cap {self.cap!r}; {meant(self.cap, fittings.names('terminal'))}"
            )


@dataclass(frozen=True)
class Place:
    """A part of the building with air of its own: another room, a shaft, an attic.

    ``opening_height`` is the height above the boiler-room floor at which it is open to outdoors, as that of the plant
    is for the boiler room (None: the same). Its temperature and pressure belong to the season (`network.PlaceAir`).
    """

    name: str
    opening_height: Quantity | None = None

    def __post_init__(self):
        if self.name in (ROOM, OUTDOORS) or not self.name:
            raise ValueError(f"place {self.name!r}: give it a name other than {ROOM} and {OUTDOORS}")
        if self.opening_height is not None:
            magnitude(self.opening_height, ureg.Unit("m"), f"place {self.name}: opening height")


@dataclass(frozen=True)
class Plant:
    """Appliances on one vent at one site.

    ``feeds`` gives for each appliance, in order, the section its outlet leads into. ``altitude`` is above
    sea level, ``opening_height`` the height above the boiler-room floor at which the room is open to
    outdoors (its combustion-air opening): there, room and outdoor pressure differ only by the stated room
    pressure. ``exposure`` says how the building stands in the wind; without it wind acts on the caps alone, each with
    its own coefficient, and never on the room. ``places`` are what else there is beside the boiler room; sections run
    through them and appliances stand in them by name.
    """

    name: str
    altitude: Quantity
    opening_height: Quantity
    appliances: tuple[Appliance, ...]
    feeds: tuple[str, ...]
    sections: tuple[Section, ...]
    terminations: tuple[Termination, ...]
    exposure: wind.Exposure | None = None
    places: tuple[Place, ...] = ()

    def __post_init__(self):
        problems = _structure_problems(self) or _place_problems(self) or _height_problems(self)
        if problems:
            raise ValueError("; ".join(problems))

    def __hash__(self):
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Worked out once: quantities take long to hash, and what is solved of a plant is kept by it."""
        return hash(tuple(getattr(self, f.name) for f in fields(self)))

    def section(self, name: str) -> Section:
        """The section of that name."""
        return next(s for s in self.sections if s.name == name)

    def upstream(self, name: str) -> tuple[Section, ...]:
        """The sections that lead into the section or termination of that name, the run before the branch."""
        found = [s for s in self.sections if s.into == name]
        return tuple(sorted(found, key=lambda s: (s.junction is not None, s.name)))

    def path(self, appliance: str) -> tuple[Section, ...]:
        """The sections from an appliance's outlet to the termination."""
        name = self.feeds[[a.name for a in self.appliances].index(appliance)]
        found = []
        while name not in {t.name for t in self.terminations}:
            found.append(self.section(name))
            name = found[-1].into
        return tuple(found)

    @cached_property
    def far_end(self) -> str:
        """The section at whose upstream end the header begins (`end_of_header.far_end`)."""
        joints = [s for s in self.order if any(u.junction for u in self.upstream(s.name))]
        if not joints:
            return self.path(self.appliances[0].name)[0].name
        return max(joints, key=lambda s: self._distance(s.name)).name

    def _distance(self, name: str) -> float:
        """Length [m] of the way from the upstream end of a section to its termination."""
        ends, meters = {t.name for t in self.terminations}, 0.0
        while name not in ends:
            section = self.section(name)
            meters, name = meters + section.length.m_as("m"), section.into
        return meters

    @cached_property
    def order(self) -> tuple[Section, ...]:
        """All sections, each after those that lead into it."""
        before = {s.name: [u.name for u in self.upstream(s.name)] for s in self.sections}
        return tuple(self.section(name) for name in TopologicalSorter(before).static_order())

    def row(self, section: str) -> int:
        """Place of a section in ``order``: its row in every array of sections; ValueError if none."""
        names = [s.name for s in self.order]
        if section not in names:
            raise ValueError(f"section {section!r} is not in the plant {self.name!r}; sections are {', '.join(names)}")
        return names.index(section)

    @cached_property
    def heights(self) -> dict[str, tuple[float, float]]:
        """Height of both ends of every section above the boiler-room floor [m]: upstream, downstream."""
        return _heights(self)

    def serves(self, section: str) -> tuple[Appliance, ...]:
        """The appliances whose flue gas passes through a section."""
        return tuple(a for a in self.appliances if section in {s.name for s in self.path(a.name)})


def _heights(plant: Plant) -> dict[str, tuple[float, float]]:
    bottom = {f: a.outlet_height.m_as("m") for a, f in zip(plant.appliances, plant.feeds, strict=True)}
    found = {}
    for section in plant.order:
        low = bottom[section.name] if section.name in bottom else found[plant.upstream(section.name)[0].name][1]
        found[section.name] = (low, low + section.rise.m_as("m"))
    return found


def _structure_problems(plant: Plant) -> list[str]:
    """What keeps the drawing from being a tree that carries every appliance to a termination."""
    names = [s.name for s in plant.sections] + [t.name for t in plant.terminations]
    problems = [f"the name {n!r} stands twice among sections and terminations" for n in _repeated(names)]
    problems += [f"the name {n!r} stands twice among appliances" for n in _repeated(a.name for a in plant.appliances)]
    if not plant.appliances or not plant.sections or not plant.terminations:
        return [*problems, "a plant needs at least one appliance, one section and one termination"]
    ends, sections = {t.name for t in plant.terminations}, {s.name for s in plant.sections}
    problems += [
        f"section {s.name!r} leads into {s.into!r}, which is no section or termination"
        for s in plant.sections
        if s.into not in sections | ends
    ]
    problems += [
        f"appliance {a.name!r} leads into {f!r}, which is no section; sections are {', '.join(sorted(sections))}"
        for a, f in zip(plant.appliances, plant.feeds, strict=True)
        if f not in sections
    ]
    problems += [f"two appliances lead into section {f!r}; join them in a junction" for f in _repeated(plant.feeds)]
    if problems:
        return problems
    try:
        TopologicalSorter({s.name: [s.into] for s in plant.sections}).prepare()
    except CycleError as loop:
        return [f"the sections run in a loop: {' -> '.join(reversed(loop.args[1]))}"]
    return [p for name in (*sections, *ends) for p in _node_problems(plant, name)]


def _node_problems(plant: Plant, name: str) -> list[str]:
    """What is wrong where sections meet at the upstream end of ``name``."""
    upstream = plant.upstream(name)
    is_end = name in {t.name for t in plant.terminations}
    fed = name in plant.feeds
    if is_end:
        return [] if len(upstream) == 1 else [f"{len(upstream)} sections lead into termination {name!r}; one must"]
    if fed and upstream:
        return [f"an appliance and section {upstream[0].name!r} both lead into {name!r}; add a section for the outlet"]
    if not fed and not upstream:
        return [f"nothing leads into section {name!r}: neither an appliance nor another section"]
    if len(upstream) > 2:
        return [f"{len(upstream)} sections lead into {name!r}; join them two at a time"]
    if len(upstream) == 2:
        forms = [s.junction for s in upstream]
        both_opposed = forms == ["opposed tee"] * 2
        one_branch = forms[0] is None and forms[1] not in (None, "opposed tee")
        if not (both_opposed or one_branch):
            return [
                f"{upstream[0].name!r} and {upstream[1].name!r} lead into {name!r}: name the junction on the one "
                f"that is the branch (or opposed tee on both), got {forms[0]!r} and {forms[1]!r}"
            ]
        one, other = (s.diameter.m_as("mm") for s in upstream)
        if both_opposed and abs(one - other) > 1e-3 * one:
            return [
                f"an opposed tee needs two equal legs, but {upstream[0].name!r} is {one:.4g} mm and "
                f"{upstream[1].name!r} is {other:.4g} mm where they lead into {name!r}"
            ]
    if len(upstream) == 1 and upstream[0].junction == "opposed tee":
        return [f"{upstream[0].name!r} names an opposed tee, but nothing meets it; it needs a partner"]
    return []


def _place_problems(plant: Plant) -> list[str]:
    """Names of places that the plant does not have."""
    places = [p.name for p in plant.places]
    named = [(f"section {s.name!r}: place", s.place, [ROOM, OUTDOORS, *places]) for s in plant.sections]
    named += [(f"appliance {a.name!r}: room", a.room, [ROOM, *places]) for a in plant.appliances]
    problems = [f"the name {n!r} stands twice among places" for n in _repeated(places)]
    return problems + [f"{what} {name!r}; {choose(name, known)}" for what, name, known in named if name not in known]


def choose(name: str, known: list[str]) -> str:
    """What to write in place of an unknown name: the known one that is like it, or which there are."""
    close = difflib.get_close_matches(name, known, 1)
    return f"did you mean {close[0]!r}?" if close else f"choose {', '.join(known) or 'none'}, or tell of it as a place"


def _both(height: float) -> str:
    """A height [m] as either system tells it: a plant does not know in which it was drawn."""
    return " (".join(f"{Q_(height, 'm').to(unit):.2f~P}" for unit in ("ft", "m")) + ")"


def _height_problems(plant: Plant) -> list[str]:
    """Where two ways to one point end at different heights."""
    problems = []
    for section in plant.sections:
        ends = {u.name: plant.heights[u.name][1] for u in plant.upstream(section.name)}
        if ends and max(ends.values()) - min(ends.values()) > HEIGHT_TOLERANCE:
            told = " but ".join(f"{name!r} ends {_both(z)} above the floor" for name, z in ends.items())
            what = f"the sections that lead into {section.name!r} do not meet: {told}"
            problems.append(f"{what}; check outlet heights and rises{_mend(plant, ends)}")
    return problems


def _mend(plant: Plant, ends: dict[str, float]) -> str:
    """With which rise a connector would meet the run that it leads into beside others; empty where none does."""
    runs = [z for name, z in ends.items() if plant.upstream(name)]
    if len(runs) != 1:
        return ""
    lacks = {n: runs[0] - z for n, z in ends.items() if abs(runs[0] - z) > HEIGHT_TOLERANCE}
    rises = {n: plant.section(n).rise.m_as("m") + lack for n, lack in lacks.items()}
    return "".join(f", or give {name!r} a rise of {_both(rise)}" for name, rise in rises.items())


def _repeated(names) -> list[str]:
    seen, repeated = set(), []
    for name in names:
        if name in seen and name not in repeated:
            repeated.append(name)
        seen.add(name)
    return repeated
