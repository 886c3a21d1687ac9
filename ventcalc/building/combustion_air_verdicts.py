"""Combustion air verdicts: what each rule of the code says of one room, its openings, louvers and supply.

None of the rules counts exhaust fans; what those do, `room_pressure` and `depressurization` tell.
"""

from dataclasses import dataclass

from ventcalc.building.code_rules import FAIL, PASS, READING, cited, figure, plain
from ventcalc.building.combustion_air import (
    LOUVERS,
    WAYS,
    infiltration_volume,
    mechanical_supply,
    opening_area,
    outdoor_share,
    standard_volume,
)
from ventcalc.building.room_air import Opening, RoomAir, breathes, inputs
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant
from ventcalc.words import Remark


@dataclass(frozen=True)
class Verdict:
    """One rule on one room: ``verdict`` one of `VERDICTS`, what it asks and what is there, where it stands.

    ``key`` is the rule's name in ``data/building/combustion_air.csv``; ``notes`` what else must be known.
    """

    rule: str
    verdict: str
    required: Quantity | None
    provided: Quantity | None
    kind: str
    key: str
    notes: tuple[Remark, ...] = ()

    @property
    def source(self) -> str:
        """Where it stands: source, edition, and to check it."""
        return cited("combustion_air", self.key)


def judge(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    """What the code's rules say of a room, one verdict a rule: the `ways` to supply air, then what else is asked.

    The rules of the openings say how much heat input the free area serves. None of them counts exhaust fans; what those
    do is `room_pressure.coupled`.
    """
    if sum(i.m for i in inputs(plant, room)) == 0.0:
        return ()
    return (*ways(plant, room), *_judge_details(plant, room))


def ways(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    """The verdicts on the ways to supply air, which are alternatives to each other: one that passes is enough."""
    natural, fan = inputs(plant, room)
    indoor = _judge_indoor(room, natural, fan)
    return (*indoor, *_judge_outdoor(plant, room, natural + fan, indoor), *_judge_supply(room, natural + fan))


def _note(name: str, **figures) -> tuple[Remark, ...]:
    return (Remark("building", "combustion_air_note", name, figures),)


def _verdict(rule, required, provided, kind, key, notes=(), also=True) -> Verdict:
    holds = provided.m_as(required.units) >= required.magnitude * (1.0 - 1e-9) and also
    return Verdict(rule, PASS if holds else FAIL, required, provided, kind, key, notes)


def _judge_indoor(room: RoomAir, natural: Quantity, fan: Quantity) -> tuple[Verdict, ...]:
    volume, joins, rate = room.volume + room.joined, _joins(room, natural + fan), room.infiltration
    notes = () if joins else _note("joined_not_counted")
    volume = volume if joins else room.volume
    least = figure("combustion_air", "least infiltration")
    found = []
    if rate is None or rate >= least:
        found.append(_verdict("all air from indoors, standard volume", standard_volume(natural + fan, rate), volume,
                              "volume", "standard volume", notes))  # fmt: skip
    if rate is not None:
        needed = infiltration_volume(natural, fan, min(rate, figure("combustion_air", "most infiltration")))
        found.append(_verdict("all air from indoors, known infiltration", needed, volume, "volume",
                              "known infiltration, other", notes))  # fmt: skip
    return tuple(found)


def _joins(room: RoomAir, total: Quantity) -> bool:
    """Whether the indoor openings are large enough for the joined rooms' volume to count."""
    if room.joined.m == 0.0:
        return True
    same = [o.free.m_as("m**2") for o in room.openings if o.way == "same story"]
    other = sum(o.free.m_as("m**2") for o in room.openings if o.way == "other story")
    two = len(same) >= 2 and sorted(same)[-2] >= opening_area(total, "same story").m_as("m**2") * (1.0 - 1e-9)
    return two or other >= opening_area(total, "other story").m_as("m**2") * (1.0 - 1e-9)


def _judge_outdoor(plant: Plant, room: RoomAir, total: Quantity, indoor: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    doors = [o for o in room.openings if o.outdoors]
    if not doors:
        return ()
    served = {p: sum(_serves(o) for o in doors if o.place == p) for p in ("high", "low")}
    one = max((o.free.m_as("m**2") for o in doors if o.place == "high"), default=0.0)
    fed = (f for a, f in zip(plant.appliances, plant.feeds, strict=True) if breathes(room, a))
    connectors = sum(plant.section(f).area for f in fed)
    enough = one >= connectors * (1.0 - 1e-9)
    pair, single = Q_(min(served.values()), "W"), Q_(one * plain("combustion_air", "one opening", "W/m**2"), "W")
    notes = () if enough else _note("smaller_than_connectors")
    found = [
        _verdict("all air from outdoors, one opening high and one low", total, pair, "heat rate", WAYS["direct"],
                 _note("smaller_counts")),
        _verdict("all air from outdoors, a single opening high", total, single, "heat rate", "one opening", notes,
                 enough),
    ]  # fmt: skip
    for volume in indoor:
        share = float(outdoor_share(volume.provided, volume.required).m)
        if 0.0 < share < 1.0:
            notes = _note("share", share=share, by=volume.rule.rpartition(", ")[2])
            found.append(_verdict("air from indoors and outdoors together, two openings", share * total,
                                  pair, "heat rate", "combined", notes))  # fmt: skip
    return tuple(found)


def _serves(opening: Opening) -> float:
    """Heat input [W] that an opening's free area serves as one of two."""
    return opening.free.m_as("m**2") * plain("combustion_air", WAYS[opening.way], "W/m**2")


def _judge_supply(room: RoomAir, total: Quantity) -> tuple[Verdict, ...]:
    if room.supply.m == 0.0:
        return ()
    exhausted = sum((e.flow.to("m**3/s") for e in room.exhausts), Q_(0.0, "m**3/s"))
    required = mechanical_supply(total) + exhausted
    both = {"cfm": exhausted.m_as("cfm"), "cubic_meters": exhausted.m_as("m**3/s")}
    notes = _note("exhaust_replaced", **both) if exhausted.m else ()
    notes += () if room.interlocked else _note("not_interlocked")
    return (
        _verdict("mechanical supply of all the air", required, room.supply.to("m**3/s"), "volume flow",
                 "mechanical supply", notes, room.interlocked),
    )  # fmt: skip


def _judge_details(plant: Plant, room: RoomAir) -> tuple[Verdict, ...]:
    found = []
    if room.supply.m > 0.0:
        notes = _note("interlocked" if room.interlocked else "interlock_missing")
        verdict = PASS if room.interlocked else FAIL
        found.append(Verdict("interlock of the mechanical supply", verdict, None, None, "", "interlock", notes))
    least = figure("combustion_air", "smallest dimension")
    for o in room.openings:
        if o.smallest is not None:
            found.append(
                _verdict(f"smallest dimension of {o.name}", least, o.smallest, "diameter", "smallest dimension")
            )
        if o.louver != "none" and o.free_share is None:
            notes = _note("free_share_assumed", share=float(figure("combustion_air", LOUVERS[o.louver]).m))
            name = o.name if o.name.startswith("louver") else f"louver of {o.name}"
            found.append(Verdict(name, READING, None, None, "", LOUVERS[o.louver], notes))
    if room.exhausts:
        notes = _note("exhausts_not_counted")
        found.append(Verdict("make-up for exhaust fans", READING, None, None, "", "make-up air", notes))
    oil = [a.name for a in plant.appliances if a.fuel.kind == "liquid" and breathes(room, a)]
    if oil:
        notes = _note("oil_code_governs", appliances=", ".join(oil))
        found.append(Verdict("oil burners", READING, None, None, "", "oil burners", notes))
    other = [a.name for a in plant.appliances if a.category != "I" and a.name not in oil and breathes(room, a)]
    if other:
        notes = _note("instructions_govern", appliances=", ".join(other))
        found.append(Verdict("appliances not of category I", READING, None, None, "", "other appliances", notes))
    return tuple(found)
