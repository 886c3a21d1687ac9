"""Combustion air: what the code asks for, what the burners need, and what an exhaust fan does to the room.

The first part is the code's rules as numbers: room volume, openings, louvers, mechanical supply (`judge`). They know
nothing of altitude, of the weather or of exhaust fans.

The second part is physics. The room takes the pressure at which as much air comes in as goes out,

    openings + leakage + supply = exhaust fans + air of the burners + air drawn into the vents

and the vents draw by that very pressure: `coupled` finds both together, for many states at once. `effects` says what
it does to each outlet, `cure` which opening or supply would be enough.

Pressures are gauge; negative is draft. The room's is against outdoors at the height of `Plant.opening_height`. In a
state with a wind case, wind stands on the openings and the leakage as well as on the terminal. Every figure of a code:
check what your jurisdiction adopted.
"""

from dataclasses import dataclass, fields, replace
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.draft import fan_curve, held_pressure
from ventcalc.draft.held_pressure import Control, Held
from ventcalc.flow.wind import SIDES, Way, wall_coefficient
from ventcalc.gas import atmosphere, combustion
from ventcalc.gas.appliance import Appliance
from ventcalc.gas.fuels import Fuel
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent import roots
from ventcalc.vent.common_vent import Solution, States, solve_network
from ventcalc.vent.firing_states import (
    REVERSAL_FLOW,
    Envelope,
    Scan,
    envelopes,
    far_end_pressure,
    flue_gas_in_room,
    gas_in_room,
    outside_window,
    worst,
)
from ventcalc.vent.layout import ROOM, Plant
from ventcalc.vent.network import Network, Season, compile_network, room_vapour

CHECK = "check what your jurisdiction adopted"
VERDICTS = ("pass", "fail", "needs the authority's reading")

_UNITS = {
    "ft3 per 1000 Btu/h": "ft**3/MBH", "Btu/h per in2": "Btu/hour/inch**2", "in2 per 1000 Btu/h": "inch**2/MBH",
    "cfm per 1000 Btu/h": "cfm/MBH", "in2": "inch**2", "in": "inch", "1/h": "1/hour", "Pa": "Pa", "-": "",
    "ft3": "ft**3/hour/MBH", "MBH": "MBH",
}  # fmt: skip


@cache
def figure(rule: str) -> Quantity:
    """The number of a rule in ``data/building/combustion_air.csv``, by its name; ValueError where there is none."""
    row = tables.row("combustion_air", rule, "rule")
    return Q_(float(row["value"]), _UNITS[row["unit"]])


def _plain(rule: str, unit: str) -> float:
    return float(figure(rule).m_as(unit))


def cited(rule: str) -> str:
    """Where a rule stands: source, edition, and to check it."""
    row = tables.row("combustion_air", rule, "rule")
    unsure = ", from memory" if row["status"].startswith("from memory") else ""
    return f"{row['source']} (edition: {row['edition']}{unsure}; {CHECK})"


# --- The rules -----------------------------------------------------------------------------------------------

_CODE = "NFPA 54 9.3, read as restated in adopted codes and appliance instructions; " + CHECK


@quantities(
    "m**3",
    heat_input="W",
    infiltration="1/s",
    at_least={"heat_input": 0.0, "infiltration": 0.0},
    source=_CODE,
)
def standard_volume(heat_input, infiltration=None):
    """Room volume for all air from indoors, standard method: 50 ft3 per 1000 Btu/h.

    heat_input: of all appliances in the space that take air from it, W; infiltration: of the space where it is known,
    air changes per time. Numbers or arrays.

    Raises ValueError where the infiltration is known to be below 0.40 an hour: the method is not allowed there.
    Source: NFPA 54 9.3.2.
    """
    least = _plain("least infiltration", "1/s")
    if infiltration is not None and np.any(infiltration < least):
        raise ValueError(
            f"infiltration = {3600.0 * np.min(infiltration):.3g} an hour: below 0.40 the standard method is not "
            "allowed; use the known-infiltration method or air from outdoors"
        )
    return _plain("standard volume", "m**3/W") * heat_input


@quantities(
    "m**3",
    natural_input="W",
    fan_input="W",
    infiltration="1/s",
    at_least={"natural_input": 0.0, "fan_input": 0.0},
    above={"infiltration": 0.0},
    source=_CODE,
)
def infiltration_volume(natural_input, fan_input, infiltration):
    """Room volume for all air from indoors where the infiltration is known: (21 I_other + 15 I_fan) / (1000 ACH).

    In ft3 and Btu/h there. natural_input: of appliances without a fan, W; fan_input: of fan-assisted ones, W;
    infiltration: air changes per time, above 0. Numbers or arrays that broadcast.

    Raises ValueError above 0.60 an hour, which must not be used: enter 0.60. Source: NFPA 54 9.3.2.2.
    """
    if np.any(infiltration > _plain("most infiltration", "1/s") * (1.0 + 1e-9)):
        raise ValueError(
            f"infiltration = {3600.0 * np.max(infiltration):.3g} an hour: no more than 0.60 may be used, whatever it is"
        )
    other, fan = (_plain(f"known infiltration, {kind}", "m**3/W/s") for kind in ("other", "fan"))
    return (other * natural_input + fan * fan_input) / infiltration


# The rule that each way of an opening falls under.
WAYS = {
    "direct": "two openings, direct or vertical",
    "vertical duct": "two openings, direct or vertical",
    "horizontal duct": "two openings, horizontal",
    "single": "one opening",
    "same storey": "indoors, same storey",
    "other storey": "indoors, other storey",
}
OUTDOOR_WAYS = ("direct", "vertical duct", "horizontal duct")


@quantities(
    "m**2",
    heat_input="W",
    connector_area="m**2",
    at_least={"heat_input": 0.0, "connector_area": 0.0},
    source=_CODE,
)
def opening_area(heat_input, way, connector_area=0.0):
    """Free area that each opening must have.

    heat_input: of all appliances in the space that take air from it, W; way: one of `WAYS`: of two openings "direct",
    by "vertical duct" or "horizontal duct"; a "single" one to outdoors; of two to rooms of the "same storey", at least
    100 in2; those to an "other storey" together. connector_area: sum of the vent connectors', m2, the least that a
    single opening may have. Numbers or arrays that broadcast.

    Raises ValueError for another way. Source: NFPA 54 9.3.2.3 and 9.3.3; the other storey from memory.
    """
    if way not in WAYS:
        raise ValueError(f"way {way!r}; choose {', '.join(WAYS)}")
    if way == "other storey":
        return _plain(WAYS[way], "m**2/W") * heat_input
    area = heat_input / _plain(WAYS[way], "W/m**2")
    if way == "single":
        return np.maximum(area, connector_area)
    return np.maximum(area, _plain("indoors, same storey, least", "m**2")) if way == "same storey" else area


@quantities("", available="m**3", required="m**3", at_least={"available": 0.0}, above={"required": 0.0}, source=_CODE)
def outdoor_share(available, required):
    """Factor on the outdoor openings where part of the volume is there: 1 - Va/Vr, not below 0.

    available: volume of the space and those joined to it, m3; required: that for all air from indoors, m3; numbers or
    arrays. Source: NFPA 54 9.3.4.
    """
    return np.maximum(1.0 - available / required, 0.0)


@quantities("m**3/s", heat_input="W", at_least={"heat_input": 0.0}, source=_CODE)
def mechanical_supply(heat_input):
    """Air that a fan must bring where it brings all of it: 0.35 cfm per 1000 Btu/h.

    heat_input: of all appliances in the space, W, number or array. What exhaust fans take must be brought besides, and
    every burner must be kept from firing while the supply does not run (9.3.6.1 and 9.3.6.2). Source: NFPA 54 9.3.6.
    """
    return _plain("mechanical supply", "m**3/s/W") * heat_input


LOUVERS = {"none": None, "metal": "metal louver", "wood": "wood louver"}


@quantities("m**2", gross_area="m**2", at_least={"gross_area": 0.0}, source=_CODE)
def free_area(gross_area, louver="none", free_share=None):
    """Area left free by a louver or grille: 75 % of metal, 25 % of wood, unless its own share is known.

    gross_area: of the opening, m2, number or array; louver: one of `LOUVERS`; free_share: of the design, where known,
    above 0 to 1. A screen must not be finer than 1/4 in.

    Raises ValueError for another louver or share. Source: NFPA 54 9.3.7.
    """
    if louver not in LOUVERS:
        raise ValueError(f"louver {louver!r}; choose {', '.join(LOUVERS)}")
    if free_share is not None and not 0.0 < free_share <= 1.0:
        raise ValueError(f"free_share = {free_share:g} must be above 0 and at most 1")
    share = free_share if free_share is not None else 1.0 if louver == "none" else _plain(LOUVERS[louver], "")
    return share * gross_area


# --- What the burners need, and what an opening lets through ---------------------------------------------------

OPENING_COEFFICIENT = _plain("opening coefficient", "")
LEAKAGE_EXPONENT = _plain("leakage exponent", "")
EFFECTIVE_AREA_PRESSURE = 4.0  # Pa, at which an effective leakage area is defined
LEAKAGE_AREA_AIR = 1.2  # kg/m3, in which leakage areas are stated

_ORIFICE = "orifice flow, coefficient on the free area; multizone air flow programs"
_POWER = "power law of leakage, Q = Q_ref (dp/dp_ref)^n; multizone air flow programs"


@quantities(
    "m**3/s",
    excess_air="",
    heat_input="W",
    temperature="K",
    pressure="Pa",
    relative_humidity="",
    at_least={"excess_air": 0.0, "heat_input": 0.0, "relative_humidity": 0.0},
    above={"pressure": 0.0},
    at_most={"relative_humidity": 1.0},
    source="stoichiometry of complete combustion; ideal-gas law",
)
def burner_air(fuel: Fuel, excess_air, heat_input, temperature, pressure, relative_humidity=0.0):
    """Air that a burner itself takes, as a volume: heat times air per heat over its density.

    fuel: `Fuel`; excess_air: ratio, at least 0; heat_input: HHV, W; temperature: of that air, K; pressure: barometric,
    Pa; relative_humidity: 0 to 1. Numbers or arrays that broadcast.

    The mass is that of combustion and the same at any altitude; the volume is not. A draft hood takes more, which the
    vent decides (`Solution.drawn`). Source: stoichiometry.
    """
    vapour = atmosphere.water_vapour_fraction.bare(temperature, relative_humidity, pressure)
    burnt = combustion.products.bare(fuel, excess_air, vapour)
    return heat_input * burnt.air_per_heat / atmosphere.air_density.bare(temperature, pressure, relative_humidity)


@quantities(
    "Pa",
    flow="m**3/s",
    area="m**2",
    density="kg/m**3",
    coefficient="",
    above={"area": 0.0, "density": 0.0, "coefficient": 0.0},
    source=_ORIFICE,
)
def opening_pressure(flow, area, density, coefficient=OPENING_COEFFICIENT):
    """Pressure that drives a flow through an opening: rho/2 (Q / (C A))^2, with the sign of the flow.

    flow: Q, m3/s; area: free, A, m2; density: of the air that flows, kg/m3; coefficient: C, 0.6 for a sharp edge.
    Numbers or arrays that broadcast.
    """
    velocity = flow / (coefficient * area)
    return 0.5 * density * velocity * np.abs(velocity)


@quantities(
    "m**3/s",
    pressure="Pa",
    area="m**2",
    density="kg/m**3",
    coefficient="",
    at_least={"area": 0.0},
    above={"density": 0.0, "coefficient": 0.0},
    source=_ORIFICE,
)
def opening_flow(pressure, area, density, coefficient=OPENING_COEFFICIENT):
    """Flow through an opening: C A sqrt(2 dp / rho), with the sign of the pressure; inverse of `opening_pressure`.

    pressure: dp, Pa; area: free, A, m2; density: of the air that flows, kg/m3; coefficient: C. Numbers or arrays.
    The trade's 4005 A sqrt(p) in fpm and in. w.c. is this with C = 1 in standard air.
    """
    return coefficient * area * np.sign(pressure) * np.sqrt(2.0 * np.abs(pressure) / density)


@quantities(
    "m**3/s",
    pressure="Pa",
    flow="m**3/s",
    reference="Pa",
    exponent="",
    at_least={"flow": 0.0},
    above={"reference": 0.0},
    valid={"exponent": (0.5, 1.0)},
    source=_POWER,
)
def leakage_flow(pressure, flow, reference, exponent=LEAKAGE_EXPONENT):
    """Leakage at a pressure from that measured at another: Q (dp / dp_ref)^n, with the sign of the pressure.

    pressure: dp, Pa; flow: Q measured, m3/s, at the reference, Pa (a blower door: 50 Pa); exponent: n, 0.5 to 1, 0.65
    where it was not measured. Numbers or arrays that broadcast.
    """
    return flow * np.sign(pressure) * (np.abs(pressure) / reference) ** exponent


@quantities(
    "m**2",
    flow="m**3/s",
    reference="Pa",
    exponent="",
    at="Pa",
    coefficient="",
    at_least={"flow": 0.0},
    above={"reference": 0.0, "at": 0.0, "coefficient": 0.0},
    source=_POWER,
)
def leakage_area(flow, reference, exponent=LEAKAGE_EXPONENT, at=EFFECTIVE_AREA_PRESSURE, coefficient=1.0):
    """Area of one hole that leaks as much at a pressure: Q(at) / (C sqrt(2 at / rho)) in air of 1.2 kg/m3.

    flow: measured, m3/s, at the reference, Pa; exponent: of the leakage; at: pressure of comparison, Pa; coefficient: C
    of the hole. At 4 Pa with C = 1: the effective leakage area. At 10 Pa with C = 0.61: the equivalent one. Two
    names, two areas, a factor of nearly two.
    """
    passing = leakage_flow.bare(at, flow, reference, exponent)
    return passing / (coefficient * np.sqrt(2.0 * at / LEAKAGE_AREA_AIR))


# --- A room --------------------------------------------------------------------------------------------------


def _at_least(value, unit: str, what: str, least: float = 0.0, above: bool = False) -> None:
    plain = magnitude(value, ureg.Unit(unit), what)
    if not (plain > least if above else plain >= least):
        raise ValueError(f"{what} = {value:.4g~P} must be {'above' if above else 'at least'} {least:g} {unit}")


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
        _at_least(self.area, "m**2", f"opening {self.name}: area", above=True)
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
                _at_least(value, "m", f"opening {self.name}: {words}")
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
        _at_least(self.flow, "m**3/s", "leakage: flow")
        _at_least(self.pressure, "Pa", "leakage: pressure", above=True)
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
        _at_least(self.flow, "m**3/s", f"exhaust {self.name}: flow")
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
        _at_least(self.volume, "m**3", "room: volume", above=True)
        _at_least(self.supply, "m**3/s", "room: supply")
        _at_least(self.joined, "m**3", "room: joined volume")
        if self.infiltration is not None:
            _at_least(self.infiltration, "1/s", "room: infiltration", above=True)
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


def wind_ways(room: RoomAir) -> tuple[Way, ...]:
    """The ways in and out of a room as the wind sees them: its openings to outdoors, and its leakage over all walls."""
    found = [Way(o.coefficient * float(o.free.m_as("m**2")), o.side) for o in room.openings if o.outdoors]
    leak = room.leakage
    if leak is not None and leak.flow.m > 0.0:
        found.append(Way(float(leakage_area(leak.flow, leak.pressure, leak.exponent).m_as("m**2")), "all"))
    return tuple(found)


# --- The rules on a room ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Verdict:
    """One rule on one room: ``verdict`` one of `VERDICTS`, what it asks and what is there, where it stands.

    ``key`` is the rule's name in ``data/building/combustion_air.csv``.
    """

    rule: str
    verdict: str
    required: Quantity | None
    provided: Quantity | None
    kind: str
    key: str
    note: str = ""

    @property
    def source(self) -> str:
        """Where it stands: source, edition, and to check it."""
        return cited(self.key)

    def sentence(self, system: str = "US") -> str:
        """The verdict in a sentence."""
        said = {"pass": "pass", "fail": "fail"}.get(self.verdict, "needs the authority's reading")
        words = f"{self.rule}: {said}"
        if self.required is not None:
            need, have = (_shown(q, self.kind, system) for q in (self.required, self.provided))
            short = max(self.required - self.provided, 0.0 * self.required)
            words += f", {have} for {need}"
            words += f", {_shown(short, self.kind, system)} short" if self.verdict == "fail" and short.m > 0.0 else ""
        return f"{(words + ('; ' + self.note if self.note else '')).rstrip('.')}. {self.source}."


def _shown(quantity: Quantity, kind: str, system: str) -> str:
    if kind == "volume":
        unit, text = {"US": ("ft**3", "ft³"), "SI": ("m**3", "m³")}[system]
        return f"{quantity.m_as(unit):,.{0 if system == 'US' else 1}f} {text}"
    return show(quantity, system, kind)


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


def judge(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    """What the code's rules say of a room, one verdict a rule: the `ways` to supply air, then what else is asked.

    The rules of the openings say how much heat input the free area serves. None of them counts exhaust fans; what those
    do is `coupled`.
    """
    if sum(i.m for i in inputs(plant, room)) == 0.0:
        return ()
    return (*ways(plant, room), *_judge_details(plant, room))


def ways(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    """The verdicts on the ways to supply air, which are alternatives to each other: one that passes is enough."""
    natural, fan = inputs(plant, room)
    indoor = _judge_indoor(room, natural, fan)
    return (*indoor, *_judge_outdoor(plant, room, natural + fan, indoor), *_judge_supply(room, natural + fan))


def _verdict(rule, required, provided, kind, key, note="", also=True) -> Verdict:
    holds = provided.m_as(required.units) >= required.magnitude * (1.0 - 1e-9) and also
    return Verdict(rule, VERDICTS[0 if holds else 1], required, provided, kind, key, note)


def _judge_indoor(room: RoomAir, natural: Quantity, fan: Quantity) -> tuple[Verdict, ...]:
    volume, joins, rate = room.volume + room.joined, _joins(room, natural + fan), room.infiltration
    note = "" if joins else "the openings to the joined rooms are too small, so their volume does not count"
    volume = volume if joins else room.volume
    least = figure("least infiltration")
    found = []
    if rate is None or rate >= least:
        found.append(_verdict("all air from indoors, standard volume", standard_volume(natural + fan, rate), volume,
                              "volume", "standard volume", note))  # fmt: skip
    if rate is not None:
        needed = infiltration_volume(natural, fan, min(rate, figure("most infiltration")))
        found.append(_verdict("all air from indoors, known infiltration", needed, volume, "volume",
                              "known infiltration, other", note))  # fmt: skip
    return tuple(found)


def _joins(room: RoomAir, total: Quantity) -> bool:
    """Whether the indoor openings are large enough for the joined rooms' volume to count."""
    if room.joined.m == 0.0:
        return True
    same = [o.free.m_as("m**2") for o in room.openings if o.way == "same storey"]
    other = sum(o.free.m_as("m**2") for o in room.openings if o.way == "other storey")
    two = len(same) >= 2 and sorted(same)[-2] >= opening_area(total, "same storey").m_as("m**2") * (1.0 - 1e-9)
    return two or other >= opening_area(total, "other storey").m_as("m**2") * (1.0 - 1e-9)


def _judge_outdoor(plant: Plant, room: RoomAir, total: Quantity, indoor: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    doors = [o for o in room.openings if o.outdoors]
    if not doors:
        return ()
    served = {p: sum(_serves(o) for o in doors if o.place == p) for p in ("high", "low")}
    one = max((o.free.m_as("m**2") for o in doors if o.place == "high"), default=0.0)
    fed = (f for a, f in zip(plant.appliances, plant.feeds, strict=True) if breathes(room, a))
    connectors = sum(plant.section(f).area for f in fed)
    enough = one >= connectors * (1.0 - 1e-9)
    pair, single = Q_(min(served.values()), "W"), Q_(one * _plain("one opening", "W/m**2"), "W")
    note = "" if enough else "it is smaller than the vent connectors together"
    found = [
        _verdict("all air from outdoors, one opening high and one low", total, pair, "heat rate", WAYS["direct"],
                 "the smaller of the two counts"),
        _verdict("all air from outdoors, a single opening high", total, single, "heat rate", "one opening", note,
                 enough),
    ]  # fmt: skip
    for volume in indoor:
        share = float(outdoor_share(volume.provided, volume.required).m)
        if 0.0 < share < 1.0:
            note = f"{share:.0%} of the openings are needed, by {volume.rule.rpartition(', ')[2]}"
            found.append(_verdict("air from indoors and outdoors together, two openings", share * total,
                                  pair, "heat rate", "combined", note))  # fmt: skip
    return tuple(found)


def _serves(opening: Opening) -> float:
    """Heat input [W] that an opening's free area serves as one of two."""
    return opening.free.m_as("m**2") * _plain(WAYS[opening.way], "W/m**2")


def _judge_supply(room: RoomAir, total: Quantity) -> tuple[Verdict, ...]:
    if room.supply.m == 0.0:
        return ()
    exhausted = sum((e.flow.to("m**3/s") for e in room.exhausts), Q_(0.0, "m**3/s"))
    required = mechanical_supply(total) + exhausted
    both = f"{exhausted.m_as('cfm'):.0f} cfm ({exhausted.m_as('m**3/s'):.3f} m³/s)"
    said = [f"of which {both} replace what is exhausted"] if exhausted.m else []
    said += [] if room.interlocked else ["it is not interlocked with the burners"]
    return (
        _verdict("mechanical supply of all the air", required, room.supply.to("m**3/s"), "volume flow",
                 "mechanical supply", "; ".join(said), room.interlocked),
    )  # fmt: skip


def _judge_details(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    found = []
    if room.supply.m > 0.0:
        said = "with the burners" if room.interlocked else "MISSING: main burners must not operate where it does not"
        verdict = VERDICTS[0 if room.interlocked else 1]
        found.append(Verdict("interlock of the mechanical supply", verdict, None, None, "", "interlock", said))
    least = figure("smallest dimension")
    for o in room.openings:
        if o.smallest is not None:
            found.append(
                _verdict(f"smallest dimension of {o.name}", least, o.smallest, "diameter", "smallest dimension")
            )
        if o.louver != "none" and o.free_share is None:
            note = f"its free share is not stated; {figure(LOUVERS[o.louver]).m:.0%} assumed"
            found.append(Verdict(f"louver of {o.name}", VERDICTS[2], None, None, "", LOUVERS[o.louver], note))
    if room.exhausts:
        note = "none of the volumes and openings above counts the exhaust fans: see the room's pressure"
        found.append(Verdict("make-up for exhaust fans", VERDICTS[2], None, None, "", "make-up air", note))
    other = [a.name for a in plant.appliances if a.category != "I" and breathes(room, a)]
    if other:
        note = f"their instructions govern, the figures above are a guide: {', '.join(other)}"
        found.append(Verdict("appliances not of category I", VERDICTS[2], None, None, "", "other appliances", note))
    return tuple(found)


# --- The pressure of the room ------------------------------------------------------------------------------------

TOLERANCE = 1e-5  # kg/s, that a room may be out of balance
FARTHEST = 250.0  # Pa; beyond it a door does not open and no wall is meant to stand
MOST_STEPS = 120
_BALANCED = 10.0  # times the tolerance: the vents' own, 1e-4 Pa, stands in it
_SHORTEST = 1e-7  # Pa, of a step that still changes something
_LONGEST, _SHARE = 2.0, 0.1  # Pa, of one step, and the share of the pressure added to it: short, to stay on the branch
_STEEPEST = 300.0  # times the room's own slope: how much the vents may add to it
_SMOOTH = 1e-3  # Pa; below it flows are linear in pressure, so that slopes stay finite


@dataclass(frozen=True)
class Coupled:
    """A plant whose vents and whose room have come to rest together. Plain SI; the last axis is the states.

    ``pressure`` [Pa] of the room against outdoors at the plant's opening height; its warm air makes it more above that
    (`Solution.room_gauge` at the outlets). Flows [kg/s] into the room: ``openings`` (those to outdoors, in the order of
    ``doors``), ``leakage``, ``supply``; out of it: ``exhausts``, ``burners`` (each appliance's own air), and what
    ``solution.drawn`` says of the vents. ``gap`` is in less out, ``balanced`` where that is nought. ``controls`` stood
    in the vents, and ``device`` (controls, states) [Pa] is what each of them added; ``released`` (sections, states) is
    what they added before the burners lit, where that was told.
    """

    solution: Solution
    room: RoomAir
    pressure: np.ndarray
    openings: np.ndarray
    leakage: np.ndarray
    supply: np.ndarray
    exhausts: np.ndarray
    burners: np.ndarray
    gap: np.ndarray
    balanced: np.ndarray
    controls: tuple[Control, ...]
    device: np.ndarray
    released: np.ndarray | None = None

    @property
    def standing(self) -> tuple[np.ndarray, np.ndarray]:
        """Where room and vents stand, for `coupled` to begin at."""
        return self.pressure, self.solution.drawn

    @property
    def doors(self) -> tuple[Opening, ...]:
        """The openings to outdoors."""
        return tuple(o for o in self.room.openings if o.outdoors)

    def part(self, pick) -> "Coupled":
        """Some states alone: ``pick`` as an index into the last axis (a slice, indices or a mask)."""
        own = {f.name: getattr(self, f.name) for f in fields(self)}
        own = {name: values[..., pick] for name, values in own.items() if isinstance(values, np.ndarray)}
        return replace(self, solution=roots.columns(self.solution, pick), **own)

    def scan(self, of: Scan) -> Scan:
        """The scan whose states were solved, with this solution: for `firing_states.envelopes` and its like.

        What compares a section with the room by the season's pressure must take `Solution.room_gauge` instead.
        """
        return replace(of, solution=self.solution)


def coupled(
    plant: Plant,
    seasons: tuple[Season, ...],
    states: States,
    room: RoomAir,
    exhausting: float | np.ndarray = 1.0,
    before: tuple[np.ndarray, np.ndarray] | None = None,
    controls: tuple[Control, ...] = (),
    added: np.ndarray | None = None,
) -> Coupled:
    """Solve vents, their devices and the room together; the seasons' own ``room_pressure`` is set aside.

    ``exhausting`` (states or one number) is the share of their flow that the exhaust fans run at: 0 off, 1 on.
    ``controls`` hold their sensors at every pressure of the room, as in `held_pressure.hold`; ``added`` (sections,
    states) [Pa] is what devices add, by themselves or where the controls begin.

    The room begins at outdoor pressure (in wind at that of its walls), its vents as they stand then, or both as they
    stood ``before`` (the room's pressure [Pa] by state, what the vents drew [kg/s] by appliance and state). It follows
    its balance in short steps by secants, the vents going along from where they stood. That matters: at one pressure a
    vent may stand drafting or turned over, and which, depends on where it comes from. A state whose room would have to
    go beyond 250 Pa, or that swings between both, is marked as not balanced. Raises ValueError where ``exhausting`` is
    below 0 or `RoomAir.sealed` names an unknown appliance.
    """
    network = compile_network(plant, tuple(seasons))
    air = _Air(network, states, room, exhausting)
    total = len(states)
    answers = any(np.isfinite(r).any() for r in network.resistance)  # does any vent answer the room's pressure?
    pressure = air.outside.copy() if answers else air.alone()
    drawn, start = np.zeros((len(plant.appliances), total)), None
    if before is not None:
        pressure, drawn = (np.array(part, float) for part in before)
        start = drawn
    reach, gap_before, moved = np.full(total, _LONGEST), np.full(total, np.nan), np.full(total, np.nan)
    vents = _Vents(network, states, controls, added)
    todo = np.arange(total)
    for _ in range(MOST_STEPS):
        found = vents.at(pressure[todo], todo, start)
        drawn[:, todo] = found.drawn
        gap, slope = air.net(pressure[todo], found.drawn, todo)
        turned = gap * gap_before[todo] < 0.0
        reach[todo] = np.where(turned, 0.5, 1.3) * reach[todo]
        # The secant holds the vents' answer as well; the room's own slope is the flattest it can be.
        secant = (gap - gap_before[todo]) / moved[todo]
        slope = np.where((secant < slope) & (secant > _STEEPEST * slope), secant, slope)
        most = np.minimum(reach[todo], _LONGEST + _SHARE * np.abs(pressure[todo]))
        step = np.clip(-gap / slope, -most, most)
        step = np.clip(pressure[todo] + step, -FARTHEST, FARTHEST) - pressure[todo]
        open_ = (np.abs(gap) > TOLERANCE) & (np.abs(step) > _SHORTEST)
        step = np.where(open_, step, 0.0)
        gap_before[todo], moved[todo], reach[todo] = gap, np.where(step == 0.0, np.nan, step), most
        pressure[todo] += step
        todo = todo[open_]
        if not todo.size:
            break
        start = drawn[:, todo]
    found = vents.at(pressure, np.arange(total), drawn)
    gap, _ = air.net(pressure, found.drawn)
    solution = replace(found, seasons=tuple(seasons), states=states)
    balanced = (np.abs(gap) <= _BALANCED * TOLERANCE) & solution.converged & vents.settled
    device = vents.device if controls else np.zeros((0, total))
    return Coupled(solution, room, pressure, *air.parts(pressure), gap, balanced, tuple(controls), device)


_WITHIN = 2e-4  # Pa, of a sensor in a room that is balanced to `TOLERANCE`


class _Vents:
    """The vents of a plant at given pressures of its room, with their devices."""

    def __init__(self, network: Network, states: States, controls: tuple[Control, ...], added: np.ndarray | None):
        self.network, self.states, self.controls, self.added = network, states, controls, added
        self.settled = np.ones(len(states), bool)
        rows = [network.plant.row(c.section) for c in controls]
        shared = [rows.count(row) for row in rows]
        begin = np.zeros((len(network.pipes), len(states))) if added is None else added
        # What each control's devices add: begun from what stands in their sections.
        self.device = np.array([begin[row] / many for row, many in zip(rows, shared, strict=True)])

    def at(self, pressure: np.ndarray, which: np.ndarray, start: np.ndarray | None) -> Solution:
        """The vents of some states, begun from what they drew."""
        here = _at(self.network, self.states[which], pressure)
        if self.controls:
            held = _hold(*here, self.controls, which, self.device[:, which], start)
            self.device[:, which], self.settled[which] = held.added + held.second, held.settled
            return held.solution
        added = None if self.added is None else self.added[:, which]
        return solve_network(*here, added) if start is None else roots.follow(*here, start, added, near=True)


def _hold(network: Network, lit: States, controls: tuple[Control, ...], which, device, drawn) -> Held:
    """Some states of a plant with its controls at rest; a sensor's error may be that of each state."""
    own = (replace(c, offset=c.offset if np.ndim(c.offset) == 0 else c.offset[which]) for c in controls)
    return held_pressure.hold_network(network, lit, tuple(own), device, drawn, _WITHIN)


def from_idle(
    plant: Plant,
    seasons: tuple[Season, ...],
    states: States,
    room: RoomAir,
    exhausting: float | np.ndarray = 1.0,
    controls: tuple[Control, ...] = (),
    added: np.ndarray | None = None,
    lit: np.ndarray | None = None,
) -> Coupled:
    """As `coupled`, where everything was idle and the vent cold before: the exhaust fans ran first, then burners lit.

    A vent that the fans have turned over stays so under a burner that could have held it: flue gas enters the room.
    Meanwhile devices add what they are ``added`` (sections, states) [Pa] before a burner is released
    (`held_pressure.before_release`). Where draft is not proved so, none is: the burners ran already when the fans came
    on, the vents drawing what they do ``lit`` (appliances, states) [kg/s].
    """
    idle, running = _idle(states), np.broadcast_to(np.asarray(exhausting, float), (len(states),))
    first, of = _alike(idle, running, *([] if added is None else added[np.ptp(added, axis=1) > 0.0]))
    of_idle = None if added is None else added[:, first]
    stood = coupled(plant, seasons, idle[first], room, running[first], added=of_idle)
    pressure, drawn = (a[..., of] for a in stood.standing)
    network, fired = _at(compile_network(plant, tuple(seasons)), states, pressure)
    begin = roots.carried_over(network, replace(fired, codes=idle.codes), drawn, fired)
    if lit is not None:
        room_of_idle, standing = _at(compile_network(plant, tuple(seasons)), idle[first], stood.pressure)
        header = far_end_pressure(replace(stood.solution, states=standing), room_of_idle)
        begin = np.where(held_pressure.is_proved(controls, header)[of], begin, lit)
    drawn = roots.follow(network, fired, begin, added).drawn
    found = coupled(plant, seasons, states, room, running, (pressure, drawn), controls, added)
    return replace(found, released=added)


def _idle(states: States) -> States:
    """The same weather with nothing running and cold walls."""
    return replace(states, codes=np.zeros_like(states.codes), cold=np.ones(len(states)))


def _alike(idle: States, *others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The first of all idle states that are alike, in the weather and in ``others``, and which of them each is."""
    case = np.zeros(len(idle)) if idle.wind_case is None else idle.wind_case
    key = np.vstack([idle.season, idle.windy, case, *others])
    _, first, of = np.unique(key, axis=1, return_index=True, return_inverse=True)
    return first, of.ravel()


def exhaust_at(
    plant: Plant,
    seasons: tuple[Season, ...],
    states: States,
    room: RoomAir,
    pressure: np.ndarray,
    drawn: np.ndarray | None = None,
) -> tuple[np.ndarray, Solution]:
    """What exhaust [m3/s of room air] a room pressure [Pa], one a state, would balance, and the vents there.

    The room's own exhaust fans do not count. ``drawn`` is where the vents' search begins (see `coupled`). Drawn
    as a curve it shows where a room has two pressures for one exhaust.
    """
    network = compile_network(plant, tuple(seasons))
    air = _Air(network, states, replace(room, exhausts=()), 0.0)
    found = solve_network(*_at(network, states, pressure), drawn=drawn)
    gap, _ = air.net(pressure, found.drawn)
    return gap / air.inside, replace(found, seasons=tuple(seasons), states=states)


def _at(network: Network, states: States, pressure: np.ndarray) -> tuple[Network, States]:
    """The network with a season of its own for every state, in which the room stands at that pressure [Pa]."""
    s = states.season
    per_season = ("outdoor", "outdoor_density", "wind_head", "place_temperature", "place_density", "place_gas")
    own = replace(
        network,
        seasons=tuple(network.seasons[i] for i in s),
        place_pressure=np.concatenate([np.asarray(pressure, float)[None], network.place_pressure[1:, s]]),
        room_wind=np.zeros_like(network.room_wind),  # the pressure given has it already
        outdoor_gas=network.outdoor_gas[:, s],
        prescribed=tuple(t[s] for t in network.prescribed),
        temperature=tuple(t[s] for t in network.temperature),
        resistance=tuple(t[s] for t in network.resistance),
        gas=tuple(t[:, s] for t in network.gas),
        **{name: getattr(network, name)[..., s] for name in per_season},
    )
    return own, replace(states, season=np.arange(s.size))


class _Air:
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
        burnt = combustion.products.bare(a.fuel, level.excess_air, room_vapour(season, pressure))
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


# --- What it does to the vents, and what would cure it ---------------------------------------------------------


@dataclass(frozen=True)
class HouseLimit:
    """Lowest room pressure that tests of houses allow an appliance; None where they were not made for such: ``why``."""

    limit: Quantity | None
    rule: str = ""
    why: str = ""


def depressurization_limit(plant: Plant, appliance: str, room: RoomAir) -> HouseLimit:
    """The limit of the house tests for an appliance, where they were made for its kind, category and input.

    Natural draft (a hood or a regulator): -3 Pa where it shares its vent; alone -2 Pa under a hood, for it may be a
    water heater, else -5 Pa. A forced burner of category I or II -15 Pa, but that of natural draft where it shares its
    vent with such; one that brings its own air -50 Pa. None of it for an input of 300 MBH and more, nor for category
    III or IV in room air: there the vent's own solution decides, as it does where a limit is kept.
    """
    a = next(x for x in plant.appliances if x.name == appliance)
    others = [x for x in plant.serves(plant.path(appliance)[-1].name) if x is not a]
    if a.name in room.sealed:
        rule = "limit, sealed"
    elif a.kind == "forced":
        hooded = any(x.kind != "forced" for x in others)
        rule = "limit, natural draft shared" if hooded else "limit, fan alone"
    elif others:
        rule = "limit, natural draft shared"
    else:
        rule = "limit, water heater alone" if a.kind == "draft hood" else "limit, natural draft alone"
    row = tables.row("combustion_air", rule, "rule")
    most = max(level.heat_input for level in a.levels)
    if most >= figure("house appliance"):
        return HouseLimit(None, rule, f"its input is no house appliance's, {cited('house appliance')}")
    if row["categories"] and a.category not in _listed(row["categories"]):
        return HouseLimit(None, rule, f"category {a.category} is none of theirs, {cited('house categories')}")
    if a.kind not in _listed(row["kinds"]):
        return HouseLimit(None, rule, f"a {a.kind} appliance is none of theirs")
    return HouseLimit(figure(rule), rule)


def _listed(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(";"))


@dataclass(frozen=True)
class Effect:
    """What the exhaust fans do to one outlet, over all states: with the fans, and ``without``; plain SI.

    ``lowest_room`` [Pa] is taken without wind on the walls, as the ``limit`` is (None: the house tests have none for
    such an appliance, ``no_limit`` says why). ``beyond`` [Pa] by how much the outlet leaves its window at worst.
    ``flue_gas`` [kg/s] into the room at worst, in ``spill_state``, in which ``spill`` of all gas comes; ``back`` is the
    most of any gas that comes back in any state, a neighbor's purge with it. ``states``: in how many an outlet leaves
    its window or any gas comes back; in ``unsettled`` states room and vents did not come to rest.
    """

    appliance: str
    lowest_room: float
    limit: float | None
    limit_rule: str
    no_limit: str
    beyond: float
    beyond_without: float
    flue_gas: float
    flue_gas_without: float
    spill: float
    spill_state: int
    back: float
    back_without: float
    states: int
    unsettled: int = 0

    @property
    def dangerous(self) -> bool:
        """Whether flue gas enters the room."""
        return self.flue_gas > REVERSAL_FLOW

    @property
    def below_limit(self) -> bool:
        """Whether the room goes below the limit of the house tests, where they have one."""
        return self.limit is not None and self.lowest_room < self.limit

    @property
    def verdict(self) -> str:
        """One of `VERDICTS`: the house limit alone, and states that did not come to rest, are left to the authority."""
        if self.beyond > 0.0 or self.back > REVERSAL_FLOW:
            return VERDICTS[1]
        return VERDICTS[2 if self.below_limit or self.unsettled else 0]


def effects(of: Scan, without: Coupled, running: Coupled) -> tuple[Effect, ...]:
    """What running the exhaust fans does to every outlet of a scan that was solved without and with them."""
    plant, before, after = of.plant, without.scan(of), running.scan(of)
    bad = outside_window(after) | gas_in_room(after)
    back = [np.where(gas_in_room(s), -s.solution.drawn, 0.0) for s in (before, after)]
    flue_gas = [flue_gas_in_room(s)[0] for s in (before, after)]
    case = running.solution.states.wind_case
    # The house tests are made without wind on the walls.
    still = slice(None) if case is None or not (case == 0).any() else case == 0
    found = []
    for i, (was, now) in enumerate(zip(envelopes(before), envelopes(after), strict=True)):
        house, state = depressurization_limit(plant, now.appliance, running.room), worst(flue_gas[1][i])
        found.append(
            Effect(
                appliance=now.appliance,
                lowest_room=float(running.pressure[still].min()),
                limit=None if house.limit is None else float(house.limit.m_as("Pa")),
                limit_rule=house.rule,
                no_limit=house.why,
                beyond=_beyond_window(now),
                beyond_without=_beyond_window(was),
                flue_gas=float(flue_gas[1][i].max()),
                flue_gas_without=float(flue_gas[0][i].max()),
                spill=float(back[1][i, state]),
                spill_state=state,
                back=float(back[1][i].max()),
                back_without=float(back[0][i].max()),
                states=int(bad[i].sum()),
                unsettled=int((~running.balanced).sum()),
            )
        )
    return tuple(found)


def _beyond_window(e: Envelope) -> float:
    """By how much an outlet leaves its window, or in purge the limits of that [Pa]."""
    return max(max(part.below, part.above) for part in (e, e.purge) if part is not None)


@dataclass(frozen=True)
class Cure:
    """What more air would be enough: free ``area`` of one more opening at the plant's opening height, or ``supply``.

    ``pressure`` [Pa] is what the room must be held at or above in the ``state`` that asks for the largest opening;
    ``states`` need it; in ``beyond_air`` states the vent fails even with the room wide open, and air is no cure.
    """

    area: Quantity
    supply: Quantity
    pressure: float
    state: int
    states: int
    beyond_air: int


_FINEST = 2.0**-14  # of the span between what fails and what is well: how closely the pressure is found
_AT_ONCE, _MOST_SPLIT = 600, 64  # pressures tried in one round, and in one state of it


def cure(of: Scan, running: Coupled, exhausting: float | np.ndarray = 1.0) -> Cure:
    """The opening or the supply with which no outlet leaves its window or spills while the exhaust fans run.

    For each failing state the lowest room pressure is found at and above which all is well, burners lighting under a
    vent that stood idle and cold at that pressure; the room's balance there says how much air is missing. Each round
    tries several pressures in each state at once. ``exhausting`` as given to `coupled`. An area of 0 means that nothing
    fails, an infinite one that the room would have to stand above outdoors, which only a supply can do.
    """
    network, states = compile_network(of.plant, of.seasons), of.states
    air = _Air(network, states, running.room, exhausting)
    todo = np.flatnonzero(_fails(of, running.solution))
    if not todo.size:
        return Cure(Q_(0.0, "m**2"), Q_(0.0, "m**3/s"), float(running.pressure.min()), 0, 0, 0)
    wide_open = _solved(of, network, running, todo, air.outside[todo])
    curable = ~_fails(of, wide_open)
    beyond, todo = int((~curable).sum()), todo[curable]
    if not todo.size:
        return Cure(Q_(0.0, "m**2"), Q_(0.0, "m**3/s"), 0.0, 0, 0, beyond)
    failing = todo.size
    most = np.array(_asked_for(air, todo, air.outside[todo], wide_open.drawn[:, curable]))  # area and supply
    low, high = np.minimum(running.pressure[todo], air.outside[todo] - 1e-3), air.outside[todo].copy()
    least, span = np.zeros((2, failing)), 1.0
    while span > _FINEST:
        parts = int(np.clip(_AT_ONCE // todo.size, 2, _MOST_SPLIT))
        tries = low + (high - low) * np.arange(1, parts)[:, None] / parts
        found = _solved(of, network, running, np.tile(todo, parts - 1), tries.ravel())
        bad = np.vstack([np.ones(todo.size, bool), _fails(of, found).reshape(tries.shape)])
        asked = np.array(_asked_for(air, np.tile(todo, parts - 1), tries.ravel(), found.drawn))
        asked = np.concatenate([least[:, None], asked.reshape(2, *tries.shape), most[:, None]], axis=1)
        tries = np.vstack([low, tries, high])
        last, at = parts - 1 - bad[::-1].argmax(axis=0), np.arange(todo.size)  # the highest pressure that fails
        low, high, least, most = tries[last, at], tries[last + 1, at], asked[:, last, at], asked[:, last + 1, at]
        span /= parts
        # The more pressure, the more air: what another state asks for at least, one that asks for less cannot top.
        asks = (most >= least.max(axis=1)[:, None]).any(axis=0)
        todo, low, high, least, most = (a[..., asks] for a in (todo, low, high, least, most))
    area, supply = most
    hardest = worst(area) if np.isfinite(area).all() else int(np.isinf(area).argmax())
    return Cure(
        Q_(float(area[hardest]), "m**2"), Q_(float(supply.max()), "m**3/s"), float(high[hardest]), int(todo[hardest]),
        failing, beyond,
    )  # fmt: skip


def _asked_for(air: "_Air", todo, pressure, drawn) -> tuple[np.ndarray, np.ndarray]:
    """Free area [m2] of one more opening, or a supply [m3/s], that would hold the room of states at a pressure [Pa]."""
    missing = np.maximum(-air.net(pressure, drawn, todo)[0], 0.0)
    driving = 2.0 * air.outdoor[todo] * np.maximum(air.outside[todo] - pressure, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        area = np.where(missing > 0.0, missing / (OPENING_COEFFICIENT * np.sqrt(driving)), 0.0)
    return area, missing / air.outdoor[todo]


def _solved(of: Scan, network: Network, running: Coupled, todo, pressure) -> Solution:
    """Some states of a scan with their rooms held at given pressures, lit after they were idle, devices at rest."""
    states, added = of.states[todo], None if running.released is None else running.released[:, todo]
    idle = _idle(states)
    first, of_first = _alike(idle, pressure, *([] if added is None else added[np.ptp(added, axis=1) > 0.0]))
    stood = solve_network(*_at(network, idle[first], pressure[first]), None if added is None else added[:, first])
    network, lit = _at(network, states, pressure)
    begin = roots.carried_over(network, replace(lit, codes=idle.codes), stood.drawn[:, of_first], lit)
    found = roots.follow(network, lit, begin, added)
    if running.controls:
        found = _hold(network, lit, running.controls, todo, running.device[:, todo], found.drawn).solution
    return replace(found, seasons=of.seasons, states=of.states[todo])


def _fails(of: Scan, solution: Solution) -> np.ndarray:
    """States in which an outlet leaves its window or gas enters the room."""
    scan = replace(of, solution=solution)
    return (outside_window(scan) | gas_in_room(scan)).any(axis=0)


def need(running: Coupled) -> tuple[np.ndarray, np.ndarray]:
    """What the burners take and what the vents draw besides, as volumes of outdoor air [m3/s], per state."""
    network = compile_network(running.solution.plant, running.solution.seasons)
    density = network.outdoor_density[running.solution.states.season]
    drawn = running.solution.drawn[np.array(network.rooms) == 0]
    return running.burners.sum(axis=0) / density, np.maximum(drawn, 0.0).sum(axis=0) / density


# --- In words ------------------------------------------------------------------------------------------------


def sentences(found: tuple[Effect, ...], remedy: Cure | None = None, system: str = "US") -> tuple[str, ...]:
    """What the exhaust fans do to every outlet, and what would cure it, in plain sentences."""
    said = [effect_sentence(e, system) for e in found]
    if remedy is not None:
        said.append(_cure_sentence(remedy, system))
    for rule in dict.fromkeys(e.limit_rule for e in found if e.limit is not None):
        said.append(f"Limit from tests of houses ({rule}): {cited(rule)}.")
    said.append(
        "Solved with leakage spread evenly and the seasons' stated room pressure set aside; wind stands on the walls "
        "in the states against and with the vent only: test the built room with all exhausts running."
    )
    return tuple(said)


def effect_sentence(e: Effect, system: str) -> str:
    """What the exhaust fans do to one outlet."""
    words = []
    if e.dangerous:
        was = "as it does without the fans" if e.flue_gas_without > REVERSAL_FLOW else "not so without the fans"
        words.append(
            f"flue gas enters the room, {show(Q_(e.flue_gas, 'kg/s'), system)} of it at worst in "
            f"{show(Q_(e.spill, 'kg/s'), system)} of all that comes, {was}"
        )
    elif e.back > REVERSAL_FLOW:
        was = "as it does without the fans" if e.back_without > REVERSAL_FLOW else "not so without the fans"
        words.append(f"air of a neighbor's purge comes back, {show(Q_(e.back, 'kg/s'), system)} at worst, {was}")
    if e.beyond > 0.0:
        before = f" ({show(Q_(e.beyond_without, 'Pa'), system)} without the fans)"
        words.append(f"its outlet leaves the window by {show(Q_(e.beyond, 'Pa'), system)}{before}")
    if not words:
        words.append("its outlet stays in its window and no flue gas enters the room")
    if e.unsettled:
        words.append(f"{e.unsettled} states did not come to rest")
    lowest = show(Q_(e.lowest_room, "Pa"), system)
    if e.limit is None:
        house = f"the room goes to {lowest}, for which the house tests have no limit: {e.no_limit}"
    else:
        side = "below" if e.below_limit else "not below"
        house = f"the room goes to {lowest}, {side} the {show(Q_(e.limit, 'Pa'), system)} that tests of houses allow"
    return f"{e.appliance}: {e.verdict}. With the exhaust fans running {' and '.join(words)}; {house}."


def _cure_sentence(remedy: Cure, system: str) -> str:
    tail = ""
    if remedy.beyond_air:
        tail = (
            f" In {remedy.beyond_air} further states the vent fails with the room wide open too: air is no cure there."
        )
    if not remedy.states:
        return ("No more air is needed while the exhaust fans run." if not tail else "More air does not help.") + tail
    air = f"{show(remedy.supply, system)} more supply of outdoor air"
    if np.isfinite(remedy.area.m):
        air = f"{show(remedy.area, system, 'area')} more free opening to outdoors, or {air}"
    held = show(Q_(remedy.pressure, "Pa"), system)
    return f"{air} would hold the room at {held} or above in all {remedy.states} states that fail now.{tail}"
