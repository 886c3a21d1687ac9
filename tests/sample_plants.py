"""Invented plants for the tests and benchmarks of the common vent."""

from dataclasses import replace

import numpy as np

from ventcalc.flow.materials import material
from ventcalc.gas.appliance import Appliance, FiringLevel, Leak
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States

GAS = fuel("natural gas")
SEASONS = (
    Season("winter", Q_(-20, "degC"), Q_(20, "degC"), wind=Q_(5, "m/s")),
    Season("mild", Q_(10, "degC"), Q_(20, "degC"), wind=Q_(3, "m/s")),
    Season("summer", Q_(32, "degC"), Q_(30, "degC"), room_pressure=Q_(-3, "Pa")),
)


def appliance(name, kind="forced", idle="sealed", kilowatts=300.0, celsius=150.0, height=1.5, outlet_mm=200.0):
    """A boiler of two levels; a hood or regulator is of category I and hotter by nature."""
    levels = (
        FiringLevel("low", Q_(kilowatts / 4, "kW"), 0.35, Q_(celsius, "degC")),
        FiringLevel("high", Q_(kilowatts, "kW"), 0.25, Q_(celsius + 15, "degC")),
    )
    return Appliance(
        name,
        GAS,
        "IV" if kind == "forced" else "I",
        levels,
        outlet_diameter=Q_(outlet_mm, "mm"),
        outlet_height=Q_(height, "m"),
        window=(Q_(-25, "Pa"), Q_(25, "Pa")),
        kind=kind,
        idle=idle,
        leak=Leak(Q_(10, "cfm"), Q_(25, "Pa")),
        regulator_draft=Q_(-10, "Pa") if kind == "barometric" else None,
    )


def row_plant(
    count=3,
    kind="forced",
    idle="sealed",
    celsius=150.0,
    vent="stainless special gas vent double wall",
    junction="lateral",
    stack_height=20.0,
    altitude=100.0,
    kilowatts=300.0,
    header_mm=None,
    connector_mm=200.0,
):
    """Equal appliances in a row on one header: the last connector enters a capped run, the stack is outdoors."""
    diameter = header_mm or float(int(150 * count**0.5) + 150)
    wall, sections = material(vent), []
    for i in range(count):
        sections += [
            Section(
                f"connector {i + 1}",
                Q_(1.5, "m"),
                Q_(1.0, "m"),
                Q_(connector_mm, "mm"),
                wall,
                f"header {i + 1}",
                fittings=("elbow 90",),
                junction=junction,
            ),
            Section(
                f"header {i + 1}",
                Q_(2, "m"),
                Q_(0, "m"),
                Q_(diameter, "mm"),
                wall,
                f"header {i + 2}" if i + 1 < count else "stack",
            ),
        ]
    sections.append(
        Section(
            "stack",
            Q_(stack_height, "m"),
            Q_(stack_height, "m"),
            Q_(diameter, "mm"),
            wall,
            "top",
            place="outdoors",
            fittings=("elbow 90",),
        )
    )
    return Plant(
        name=f"{count} in a row",
        altitude=Q_(altitude, "m"),
        opening_height=Q_(0.3, "m"),
        appliances=tuple(
            appliance(f"B{i + 1}", kind, idle, kilowatts, celsius, outlet_mm=connector_mm) for i in range(count)
        ),
        feeds=tuple(f"connector {i + 1}" for i in range(count)),
        sections=tuple(sections),
        terminations=(Termination("top", "low-resistance cap"),),
    )


def meeting_at_the_foot():
    """Two boilers whose connectors meet at the foot of the stack itself, without a header behind."""
    plant = row_plant(2)
    kept = [s for s in plant.sections if s.name != "header 2"]
    return replace(plant, sections=tuple(replace(s, into="stack") if s.into == "header 2" else s for s in kept))


def random_tree(seed):
    """A tree drawn at random: two headers of mixed appliances, joined to one stack, with every form of junction."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 8))
    split = int(rng.integers(1, count))
    headers = (range(split), range(split, count))
    vents = [material(n) for n in ("Type B gas vent", "stainless special gas vent double wall", "insulated chimney")]
    apps, feeds, sections = [], [], []

    def pick(options):
        return options[int(rng.integers(len(options)))]

    def add(name, length, rise, diameter, into, **more):
        sections.append(
            Section(name, Q_(length, "m"), Q_(rise, "m"), Q_(round(diameter), "mm"), pick(vents), into, **more)
        )

    def connect(i, header_height, into, junction):
        """An appliance and two sections that rise to the header."""
        kind, outlet, low = (
            pick(("forced", "forced", "draft hood", "barometric")),
            pick((150, 200, 250)),
            rng.uniform(1, 2),
        )
        celsius = rng.uniform(45, 160) if kind == "forced" else rng.uniform(120, 220)
        idle = pick(("sealed", "leaking")) if kind == "forced" else "sealed"
        apps.append(appliance(f"B{i}", kind, idle, rng.uniform(80, 400), celsius, low, outlet))
        feeds.append(f"outlet {i}")
        wide = outlet * rng.uniform(0.9, 1.3)
        add(f"outlet {i}", 0.5, 0.4, wide, f"connector {i}", fittings=pick(((), ("elbow 45",))))
        rise = header_height - low - 0.4
        add(f"connector {i}", rise + rng.uniform(0.2, 3), rise, wide * rng.uniform(0.9, 1.2), into,
            fittings=pick((("elbow 90",), ("elbow 45", "elbow 45"))), junction=junction)  # fmt: skip

    for side, members in zip("ab", headers, strict=True):
        height, width = rng.uniform(3.5, 4.5), 200 + 100 * len(members) ** 0.5
        capped = bool(rng.integers(2))
        for j, i in enumerate(members):
            forms = ("lateral", "straight tee", "boot tee")
            branch = pick(forms) if j or capped else None
            connect(i, height, f"header {side}{j}", branch)
            last = j == len(members) - 1
            sideways = {"junction": pick(forms)} if last and side == "b" else {}
            rise = 5.0 - height if last else 0.0  # both headers end at one height
            add(f"header {side}{j}", rng.uniform(2, 4), rise, width * (1 + 0.1 * j),
                "riser" if last else f"header {side}{j + 1}", **sideways)  # fmt: skip
    width = 250 + 120 * count**0.5
    add("riser", 3.0, rng.uniform(1, 3), width, "stack", fittings=("elbow 90",))
    high = rng.uniform(6, 25)
    add("stack", high, high, width * rng.uniform(0.9, 1.1), "top", place="outdoors")
    return Plant(
        name=f"tree {seed}",
        altitude=Q_(rng.uniform(0, 2500), "m"),
        opening_height=Q_(rng.uniform(0, 2), "m"),
        appliances=tuple(apps),
        feeds=tuple(feeds),
        sections=tuple(sections),
        terminations=(Termination("top", pick(("open end", "rain cap", "low-resistance cap"))),),
    )


def all_states(plant, seasons=3, cold=False, windy=False):
    """Every combination of the appliances' states with every season."""
    counts = [len(a.states) for a in plant.appliances]
    grid = np.indices([*counts, seasons]).reshape(len(counts) + 1, -1)
    return States(grid[:-1], grid[-1], np.full(grid.shape[1], cold), np.full(grid.shape[1], windy))


def some_states(plant, count, seed, seasons=3):
    """States drawn at random, cold and hot, with and without wind."""
    rng = np.random.default_rng(seed)
    codes = np.array([rng.integers(0, len(a.states), count) for a in plant.appliances])
    return States(codes, rng.integers(0, seasons, count), rng.random(count) < 0.3, rng.random(count) < 0.5)


def with_sections(plant, **changes):
    """The plant with fields of named sections replaced: ``stack={"rise": ...}``."""
    return replace(
        plant, sections=tuple(replace(s, **changes.get(s.name.replace(" ", "_"), {})) for s in plant.sections)
    )


def opposed_plant(kind="forced", idle="sealed", celsius=150.0, height=12.0):
    """Two pairs of equal appliances that meet head on, left and right of one stack: a mirror image of itself."""
    wall = material("stainless special gas vent double wall")
    names = [f"{side}{i}" for side in ("left ", "right ") for i in (1, 2)]
    sections = []
    for side in ("left", "right"):
        for i in (1, 2):
            into, form = f"{side} header {i}", "lateral" if i == 2 else None
            size = {"length": Q_(1.5, "m"), "rise": Q_(1, "m"), "diameter": Q_(200, "mm"), "material": wall}
            sections.append(Section(f"{side} connector {i}", into=into, junction=form, fittings=("elbow 90",), **size))
        level = {"length": Q_(2, "m"), "rise": Q_(0, "m"), "diameter": Q_(300, "mm"), "material": wall}
        sections.append(Section(f"{side} header 1", into=f"{side} header 2", **level))
        sections.append(Section(f"{side} header 2", into="stack", junction="opposed tee", **level))
    size = {"length": Q_(height, "m"), "rise": Q_(height, "m"), "diameter": Q_(400, "mm"), "material": wall}
    sections.append(Section("stack", into="top", place="outdoors", **size))
    return Plant(
        name="head on",
        altitude=Q_(300, "m"),
        opening_height=Q_(0.3, "m"),
        appliances=tuple(appliance(n, kind, idle, celsius=celsius) for n in names),
        feeds=tuple(f"{n.split()[0]} connector {n[-1]}" for n in names),
        sections=tuple(sections),
        terminations=(Termination("top", "rain cap"),),
    )


def one_state(codes, season=0, cold=False, windy=False):
    """The same codes as a batch of one."""
    return States(np.array(codes)[:, None], np.array([season]), np.array([cold]), np.array([windy]))


def prescribed(plant, seasons, states):
    """Flow [kg/s] that every appliance sends by itself, (appliances, states)."""
    tables = compile_network(plant, seasons).prescribed
    return np.array([t[states.season, c] for t, c in zip(tables, states.codes, strict=True)])


PLANTS = {
    "sealed": row_plant(3),
    "leaking": row_plant(3, idle="leaking"),
    "draft hood": row_plant(3, kind="draft hood", celsius=180.0, vent="Type B gas vent"),
    "barometric": row_plant(3, kind="barometric", celsius=180.0, vent="Type B gas vent"),
    "condensing": row_plant(3, celsius=50.0, vent="polypropylene vent"),
    "condensing, leaking": row_plant(3, idle="leaking", celsius=50.0, vent="polypropylene vent"),
    "head on": opposed_plant(idle="leaking"),
    "low stack": row_plant(3, kind="draft hood", celsius=120.0, stack_height=2.0, junction="straight tee"),
    "tree": random_tree(12),
}


WEATHERS = {"hot": (False, False), "cold": (True, False), "windy": (False, True), "cold and windy": (True, True)}


def lone_hood(height, **more):
    """A 100 kW boiler with a draft hood on Type B vent of 175 mm."""
    return row_plant(
        1,
        kind="draft hood",
        celsius=200.0,
        vent="Type B gas vent",
        stack_height=height,
        kilowatts=100.0,
        connector_mm=175.0,
        header_mm=175.0,
        junction=None,
        **more,
    )
