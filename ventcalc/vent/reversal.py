"""Reversal: gas that goes back into the room, through an idle appliance or out of a hood, and how much is flue gas.

Flow backward in a section that does not reach the room is no reversal here.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.combustion import Products
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import room_vapor
from ventcalc.vent.worst_state import alike_by_share, worst

REVERSAL_FLOW = 1e-6  # kg/s, less is called still


def gas_in_room(scan: Scan) -> np.ndarray:
    """Where gas flows back into the room through an appliance while any burner fires (appliances, states).

    Of any kind: that it may be no more than air with which a neighbor purges is told by `flue_gas_in_room`.
    """
    return scan.any_firing & (-scan.solution.drawn > REVERSAL_FLOW)


def flue_gas_in_room(scan: Scan) -> tuple[np.ndarray, np.ndarray]:
    """Flue gas [kg/s] that flows back into the room through every appliance, and its mole share of all that does.

    Both (appliances, states). What an appliance makes itself comes back before anything out of the vent does, and is
    all flue gas while it fires. Of what comes out of the vent the carbon dioxide tells the share
    (`combustion_analysis.burnt_share_by_co2`), held against the flue gas of the appliance itself where it fires, else
    of the largest that does (`burning`).
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
        thinned = np.zeros(at.size)
        for k in range(kinds.shape[1]):
            here = np.flatnonzero(np.ravel(of_kind) == k)
            products, air = burning(scan, i, int(at[here[0]]))
            thinned[here] = combustion_analysis.burnt_share_by_co2.bare(
                scan.solution.co2_dry[row, at[here]], air, products
            )
        share[i, at] = ((back[i, at] - out_of_vent) * fires + out_of_vent * thinned) / back[i, at]
    return back * share, share


def flue_gas_enters(scan: Scan) -> np.ndarray:
    """Where flue gas, and not just air of a purge, flows back into the room (appliances, states)."""
    return flue_gas_in_room(scan)[0] > REVERSAL_FLOW


def burning(scan: Scan, own: int, state: int) -> tuple[Products, float]:
    """Flue gas of the appliance itself if it fires, else of the largest that does; and the water in the room's air."""
    room = scan.plant.appliances[own].room
    air = room_vapor(scan.seasons[scan.states.season[state]], scan.solution.barometric, room)
    fired = []
    for k, (a, code) in enumerate(zip(scan.plant.appliances, scan.states.codes[:, state], strict=True)):
        level = int(np.ceil(code)) - (len(a.states) - len(a.levels))
        if level >= 0:
            fired.append((k == own, float(a.levels[level].heat_input.m_as("W")), a.fuel, a.levels[level].excess_air))
    _, _, fuel, excess_air = max(fired, key=lambda f: f[:2])
    return combustion.products.bare(fuel, excess_air, air), air


@dataclass(frozen=True)
class Reversal:
    """Gas that goes into the room: through an idle appliance, or out of a draft hood while firing.

    The worst is that with most ``flue_gas`` [kg/s], in ``state``; ``flow`` [kg/s] is all that flows back in it, air of
    a neighbor's purge with it. ``states``: how many of the scan's conditions let flue gas in; in ``either`` of them the
    vent drafts as well, by what was before. ``most`` [kg/s] is the largest backflow of any gas, in ``most_state``, and
    ``most_states`` how many conditions have some. ``alike``: all states that come to the same, the named one first.
    """

    appliance: str
    kind: str  # "idle" or "spill"
    flow: float
    flue_gas: float
    state: int
    states: int
    either: int
    most: float
    most_state: int
    most_states: int
    alike: tuple[int, ...] = ()

    @property
    def dangerous(self) -> bool:
        """Whether flue gas enters the room; else it is air with which a neighbor purges."""
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
                    most_state=most,
                    most_states=scan.count(back),
                    alike=tuple(same.tolist()),
                )
            )
    return tuple(found)
