"""Reversal: gas that goes back into the room, through an idle appliance or out of a hood, and how much is flue gas.

Flow backward in a section that does not reach the room is no reversal here.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.appliance import FiringLevel
from ventcalc.gas.combustion import Products
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import room_vapor
from ventcalc.vent.worst_state import alike_by_share, worst

REVERSAL_FLOW = 1e-6  # kg/s, less is called still
SOURCES = PURGE, OUTDOORS, ROOM = ("purge", "outdoors", "room")  # of air that comes back, and no flue gas in it


def gas_in_room(scan: Scan) -> np.ndarray:
    """Where gas flows back into the room through an appliance while any burner fires (appliances, states).

    Of any kind: that it may be no more than air is told by `flue_gas_in_room`.
    """
    return scan.any_firing & (-scan.solution.drawn > REVERSAL_FLOW)


def flue_gas_in_room(scan: Scan) -> tuple[np.ndarray, np.ndarray]:
    """Flue gas [kg/s] that flows back into the room through every appliance, and its mole share of all that does.

    Both (appliances, states). What an appliance makes itself comes back before anything out of the vent does, and is
    all flue gas while it fires. What comes out of the vent is of the others. The carbon dioxide tells its share
    (`combustion_analysis.burnt_share_by_co2`), held against the flue gas of that one of them which has least of it, so
    that it is not told too small; and it is no more than they make together.
    """
    entering = gas_in_room(scan)
    back, share = np.where(entering, -scan.solution.drawn, 0.0), np.zeros(entering.shape)
    for i, (a, feed) in enumerate(zip(scan.plant.appliances, scan.plant.feeds, strict=True)):
        row, at = scan.solution.row(feed), np.flatnonzero(entering[i])
        out_of_vent = np.clip(-scan.solution.flow[row, at], 0.0, back[i, at])
        fires = np.ceil(scan.states.codes[i, at]) >= len(a.states) - len(a.levels)
        # States that burn the same in the same air share one sum.
        burns = np.vstack([scan.states.codes[:, at], scan.states.season[at]])
        kinds, of_kind = np.unique(burns, axis=1, return_inverse=True)
        thinned, made = np.zeros(at.size), np.zeros(at.size)
        for k in range(kinds.shape[1]):
            here = np.flatnonzero(np.ravel(of_kind) == k)
            products, air, made[here] = _of_the_others(scan, i, int(at[here[0]]))
            thinned[here] = combustion_analysis.burnt_share_by_co2.bare(
                scan.solution.co2_dry[row, at[here]], air, products
            )
        of_others = np.minimum(out_of_vent * thinned, made)
        share[i, at] = ((back[i, at] - out_of_vent) * fires + of_others) / back[i, at]
    return back * share, share


def flue_gas_enters(scan: Scan) -> np.ndarray:
    """Where flue gas, and not just air, flows back into the room (appliances, states)."""
    return flue_gas_in_room(scan)[0] > REVERSAL_FLOW


def air_sources(scan: Scan, appliance: int) -> dict[str, np.ndarray]:
    """The states in which air that comes back through an appliance is of each of `SOURCES`.

    It is of a purge where something purges then; else it falls down from outdoors where everything between the
    termination and the appliance runs backward, and is room air where another way in feeds it.
    """
    path = [scan.solution.row(s.name) for s in scan.plant.path(scan.plant.appliances[appliance].name)]
    purge = np.any([scan.purging(i) for i in range(len(scan.plant.appliances))], axis=0)
    falls = (scan.solution.flow[path] < 0.0).all(axis=0)
    return {PURGE: purge, OUTDOORS: ~purge & falls, ROOM: ~purge & ~falls}


@dataclass(frozen=True)
class Air:
    """Air of one of `SOURCES` and no flue gas that comes back: most ``flow`` [kg/s], in ``state``, of ``states``
    conditions that have some."""

    source: str
    flow: float
    state: int
    states: int


def _airs(scan: Scan, appliance: int, into_room: np.ndarray) -> tuple[Air, ...]:
    """What comes ``into_room`` [kg/s] (states), NaN where it is not air alone, by where it is from."""
    found = []
    for source, there in air_sources(scan, appliance).items():
        of = np.where(there, into_room, np.nan)
        if np.isfinite(of).any():
            state = worst(of)
            found.append(Air(source, float(of[state]), state, scan.count(np.isfinite(of))))
    return tuple(found)


def burning(scan: Scan, own: int, state: int) -> tuple[Products, float]:
    """Flue gas of the appliance itself if it fires, else of the largest that does; and the water in the room's air."""
    fired = _firing(scan, state)
    k, level = max(fired, key=lambda f: (f[0] == own, float(f[1].heat_input.m_as("W"))))
    return _products(scan, k, level, state), _vapor(scan, own, state)


def _of_the_others(scan: Scan, own: int, state: int) -> tuple[Products, float, float]:
    """Flue gas of that one of the others that fire which has least carbon dioxide, of the appliance itself where none
    does; the water in its room's air; and how much [kg/s] the others make."""
    others = [(k, level) for k, level in _firing(scan, state) if k != own]
    if not others:
        return *burning(scan, own, state), 0.0
    found = [_products(scan, k, level, state) for k, level in others]
    made = sum(p.mass_per_heat * float(level.heat_input.m_as("W")) for p, (_, level) in zip(found, others, strict=True))
    return min(found, key=lambda p: p.co2_dry), _vapor(scan, own, state), float(made)


def _firing(scan: Scan, state: int) -> list[tuple[int, FiringLevel]]:
    """The appliances that fire in a state, by their places, and the level of each."""
    found = []
    for k, (a, code) in enumerate(zip(scan.plant.appliances, scan.states.codes[:, state], strict=True)):
        level = int(np.ceil(code)) - (len(a.states) - len(a.levels))
        if level >= 0:
            found.append((k, a.levels[level]))
    return found


def _vapor(scan: Scan, appliance: int, state: int) -> float:
    """Water in the air of an appliance's room, mole fraction."""
    room = scan.plant.appliances[appliance].room
    return room_vapor(scan.seasons[scan.states.season[state]], scan.solution.barometric, room)


def _products(scan: Scan, appliance: int, level: FiringLevel, state: int) -> Products:
    """Flue gas of an appliance at a level, in the air of its room."""
    fuel = scan.plant.appliances[appliance].fuel
    return combustion.products.bare(fuel, level.excess_air, _vapor(scan, appliance, state))


@dataclass(frozen=True)
class Reversal:
    """Gas that goes into the room: through an idle appliance, or out of a draft hood while firing.

    The worst is that with most ``flue_gas`` [kg/s], in ``state``; ``flow`` [kg/s] is all that flows back in it, air
    with it. ``states``: how many of the scan's conditions let flue gas in; in ``either`` of them the
    vent drafts as well, by what was before. ``most`` [kg/s] is the largest backflow of any gas, and ``most_states``
    how many conditions have some; ``airs`` what of it is air alone. ``alike``: all states that come to the same,
    the named one first.
    """

    appliance: str
    kind: str  # "idle" or "spill"
    flow: float
    flue_gas: float
    state: int
    states: int
    either: int
    most: float
    most_states: int
    airs: tuple[Air, ...] = ()
    alike: tuple[int, ...] = ()

    @property
    def dangerous(self) -> bool:
        """Whether flue gas enters the room; else it is air alone, as ``airs`` tell."""
        return self.flue_gas > REVERSAL_FLOW


def reversals(scan: Scan) -> tuple[Reversal, ...]:
    """Every appliance through which gas flows back into the room in some state, while any burner fires."""
    found, entering, (flue_gas, _) = [], gas_in_room(scan), flue_gas_in_room(scan)
    for i, a in enumerate(scan.plant.appliances):
        into_room = np.where(entering[i], -scan.solution.drawn[i], 0.0)
        for kind, during in (("idle", ~scan.running(i)), ("spill", scan.running(i))):
            back = during & entering[i]
            if not back.any():
                continue
            bad = during & (flue_gas[i] > REVERSAL_FLOW)
            most = worst(np.where(back, into_room, np.nan))
            same = alike_by_share(np.where(bad, flue_gas[i], np.nan)) if bad.any() else np.array([most])
            state = int(same[0])
            well = scan.condition[~(flue_gas[i] > REVERSAL_FLOW)]
            found.append(
                Reversal(
                    appliance=a.name,
                    kind=kind,
                    flow=float(into_room[state]),
                    flue_gas=float(flue_gas[i, state]) if bad.any() else 0.0,
                    state=state,
                    states=scan.count(bad),
                    either=int(np.intersect1d(scan.condition[bad], well).size),
                    most=float(into_room[most]),
                    most_states=scan.count(back),
                    airs=_airs(scan, i, np.where(back & ~bad, into_room, np.nan)),
                    alike=tuple(same.tolist()),
                )
            )
    return tuple(found)
