"""Depressurization: what exhaust fans do to every outlet, and the lowest room pressure that tests of houses allow."""

from dataclasses import dataclass

import numpy as np

from ventcalc import tables
from ventcalc.building.code_rules import FAIL, PASS, READING, cited, figure, names_in
from ventcalc.building.room_air import RoomAir
from ventcalc.building.room_pressure import Coupled
from ventcalc.units import Quantity
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.outlet_envelope import Envelope, envelopes, outside_window
from ventcalc.vent.reversal import REVERSAL_FLOW, air_sources, flue_gas_in_room, gas_in_room
from ventcalc.vent.states import States
from ventcalc.vent.worst_state import worst
from ventcalc.words import Remark


@dataclass(frozen=True)
class HouseLimit:
    """Lowest room pressure that tests of houses allow an appliance; None where they were not made for such: ``why``."""

    limit: Quantity | None
    rule: str = ""
    why: Remark | None = None


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
    if most >= figure("combustion_air", "house appliance"):
        return HouseLimit(None, rule, _why("large_input", cited=cited("combustion_air", "house appliance")))
    if row["categories"] and a.category not in names_in(row["categories"]):
        where = cited("combustion_air", "house categories")
        return HouseLimit(None, rule, _why("category", category=a.category, cited=where))
    if a.kind not in names_in(row["kinds"]):
        return HouseLimit(None, rule, _why("kind", kind=a.kind))
    return HouseLimit(figure("combustion_air", rule), rule)


def _why(name: str, **figures) -> Remark:
    return Remark("building", "house_limit", name, figures)


@dataclass(frozen=True)
class Effect:
    """What the exhaust fans do to one outlet, over all states: with the fans, and ``without``; plain SI.

    ``lowest_room`` [Pa] is taken without wind on the walls, as the ``limit`` is (None: the house tests have none for
    such an appliance, ``no_limit`` says why). ``beyond`` [Pa] by how much the outlet leaves its window at worst.
    ``flue_gas`` [kg/s] into the room at worst, in ``spill_state``, in which ``spill`` of all gas comes; ``back`` is the
    most of any gas that comes back in any state; where that is air alone, ``air`` is its source (one of
    `reversal.SOURCES`). ``states``: in how many an outlet leaves
    its window or any gas comes back; in ``unsettled`` states room and vents did not come to rest.
    """

    appliance: str
    lowest_room: float
    limit: float | None
    limit_rule: str
    no_limit: Remark | None
    beyond: float
    beyond_without: float
    flue_gas: float
    flue_gas_without: float
    spill: float
    spill_state: int
    back: float
    back_without: float
    air: str
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
            return FAIL
        return READING if self.below_limit or self.unsettled else PASS


def effects(of: Scan, without: Coupled, running: Coupled) -> tuple[Effect, ...]:
    """What running the exhaust fans does to every outlet of a scan that was solved without and with them."""
    plant, before, after = of.plant, without.scan(of), running.scan(of)
    bad = outside_window(after) | gas_in_room(after)
    back = [np.where(gas_in_room(s), -s.solution.drawn, 0.0) for s in (before, after)]
    flue_gas = [flue_gas_in_room(s)[0] for s in (before, after)]
    still = without_wind(running.solution.states)
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
                air=next(s for s, there in air_sources(after, i).items() if there[worst(back[1][i])]),
                states=int(bad[i].sum()),
                unsettled=int((~running.balanced).sum()),
            )
        )
    return tuple(found)


def without_wind(states: States) -> np.ndarray:
    """States without wind on the walls, as the house tests are made; all where none is."""
    case = states.wind_case
    return np.ones(len(states), bool) if case is None or not (case == 0).any() else case == 0


def _beyond_window(e: Envelope) -> float:
    """By how much an outlet leaves its window, or in purge the limits of that [Pa]."""
    return max(max(part.below, part.above) for part in (e, e.purge) if part is not None)
