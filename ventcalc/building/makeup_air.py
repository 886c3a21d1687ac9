"""Make-up air: the opening or the supply with which no vent fails while the exhaust fans run."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.building import depressurization
from ventcalc.building.orifice_flow import OPENING_COEFFICIENT
from ventcalc.building.room_balance import RoomBalance
from ventcalc.building.room_pressure import Coupled, alike, at_pressure, hold_at_rest, idle_before
from ventcalc.door import door
from ventcalc.units import Q_, Quantity
from ventcalc.vent import coming_to_rest
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import Network, compile_network
from ventcalc.vent.outlet_envelope import outside_window
from ventcalc.vent.reversal import gas_in_room
from ventcalc.vent.solution import Solution
from ventcalc.vent.worst_state import worst


@dataclass(frozen=True)
class Cure:
    """What more air would be enough: free ``area`` of one more opening at the plant's opening height, or ``supply``.

    Both are `MORE_AIR` times what was found. ``pressure`` [Pa] is what the room must be held at or above in the
    ``state`` that asks for the largest opening; ``states`` need it; in ``beyond_air`` states the vent fails even with
    the room wide open, and air is no cure; in ``too_much`` states it fails with the room above outdoors, and would not
    with the room wide open. ``floor`` [Pa] is the pressure below which a room without wind on its walls counts as
    failing too; None where there is none.
    """

    area: Quantity
    supply: Quantity
    pressure: float
    state: int
    states: int
    beyond_air: int
    too_much: int = 0
    floor: float | None = None


MORE_AIR = 1.02  # times what is found by nearing a limit from both sides, to be beyond it (common practice, no source)
_FINEST = 2.0**-14  # of the span between what fails and what is well: how closely the pressure is found
_AT_ONCE, _MOST_SPLIT = 600, 64  # pressures tried in one round, and in one state of it


@door(plain={"floor": "Pa"})
def cure(of: Scan, running: Coupled, exhausting: float | np.ndarray = 1.0, floor: float | None = None) -> Cure:
    """The opening or the supply with which no outlet leaves its window or spills while the exhaust fans run.

    For each failing state the lowest room pressure is found at and above which all is well, burners lighting under a
    vent that stood idle and cold at that pressure; the room's balance there says how much air is missing. Each round
    tries several pressures in each state at once. ``exhausting`` as given to `room_pressure.coupled`. ``floor`` [Pa]: a
    room without wind on its walls fails below it as well, such as the highest limit of the house tests. An area of 0
    means that nothing fails, an infinite one that the room would have to stand above outdoors, which only a supply can
    do.
    """
    network, states = compile_network(of.plant, of.seasons), of.states
    air = RoomBalance(network, states, running.room, exhausting)
    least_held = np.full(running.pressure.shape, -np.inf)
    if floor is not None:
        least_held[depressurization.without_wind(states)] = floor
    todo = np.flatnonzero(_fails(of, running.solution) | (running.pressure < least_held))
    if not todo.size:
        return Cure(Q_(0.0, "m**2"), Q_(0.0, "m**3/s"), float(running.pressure.min()), 0, 0, 0, 0, floor)
    wide_open = _solved(of, network, running, todo, air.outside[todo])
    curable = ~_fails(of, wide_open)
    # More air would only press a room further that stands above outdoors.
    above = curable & (running.pressure[todo] >= air.outside[todo])
    beyond, too_much, curable = int((~curable).sum()), int(above.sum()), curable & ~above
    todo = todo[curable]
    if not todo.size:
        return Cure(Q_(0.0, "m**2"), Q_(0.0, "m**3/s"), 0.0, 0, 0, beyond, too_much, floor)
    failing = todo.size
    most = np.array(_asked_for(air, todo, air.outside[todo], wide_open.drawn[:, curable]))  # area and supply

    def tried(which: np.ndarray, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Which states fail at several pressures each (tries, states), and the area and the supply that hold them."""
        every = np.tile(which, len(pressure))
        found = _solved(of, network, running, every, pressure.ravel())
        fails = _fails(of, found).reshape(pressure.shape) | (pressure < least_held[which])
        return fails, np.array(_asked_for(air, every, pressure.ravel(), found.drawn)).reshape(2, *pressure.shape)

    low, high = np.minimum(running.pressure[todo], air.outside[todo] - 1e-3), air.outside[todo].copy()
    todo, high, (area, supply) = _narrowed(todo, low, high, most, tried)
    hardest = worst(area) if np.isfinite(area).all() else int(np.isinf(area).argmax())
    return Cure(
        Q_(MORE_AIR * float(area[hardest]), "m**2"), Q_(MORE_AIR * float(supply.max()), "m**3/s"),
        float(high[hardest]), int(todo[hardest]), failing, beyond, too_much, floor,
    )  # fmt: skip


def _narrowed(todo: np.ndarray, low: np.ndarray, high: np.ndarray, most: np.ndarray, tried: Callable):
    """The states that may ask for most, the lowest pressure [Pa] at which each is well, and what it asks for there.

    Between ``low``, where each fails, and ``high``, where it is well and asks for ``most`` (area and supply, states).
    """
    least, span = np.zeros(most.shape), 1.0
    while span > _FINEST:
        parts = int(np.clip(_AT_ONCE // todo.size, 2, _MOST_SPLIT))
        between = low + (high - low) * np.arange(1, parts)[:, None] / parts
        fails, asked = tried(todo, between)
        bad = np.vstack([np.ones(todo.size, bool), fails])
        tries = np.vstack([low, between, high])
        asked = np.concatenate([least[:, None], asked, most[:, None]], axis=1)
        last, at = parts - 1 - bad[::-1].argmax(axis=0), np.arange(todo.size)  # the highest pressure that fails
        low, high, least, most = tries[last, at], tries[last + 1, at], asked[:, last, at], asked[:, last + 1, at]
        span /= parts
        # The more pressure, the more air: what another state asks for at least, one that asks for less cannot top.
        asks = (most >= least.max(axis=1)[:, None]).any(axis=0)
        todo, low, high, least, most = (a[..., asks] for a in (todo, low, high, least, most))
    return todo, high, most


def _asked_for(air: "RoomBalance", todo, pressure, drawn) -> tuple[np.ndarray, np.ndarray]:
    """Free area [m2] of one more opening, or a supply [m3/s], that would hold the room of states at a pressure [Pa]."""
    missing = np.maximum(-air.net(pressure, drawn, todo)[0], 0.0)
    driving = 2.0 * air.outdoor[todo] * np.maximum(air.outside[todo] - pressure, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        area = np.where(missing > 0.0, missing / (OPENING_COEFFICIENT * np.sqrt(driving)), 0.0)
    return area, missing / air.outdoor[todo]


def _solved(of: Scan, network: Network, running: Coupled, todo, pressure) -> Solution:
    """Some states of a scan with their rooms held at given pressures, lit after they were idle, devices at rest."""
    states, added = of.states[todo], None if running.released is None else running.released[:, todo]
    idle = idle_before(states)
    first, of_first = alike(idle, pressure, *([] if added is None else added[np.ptp(added, axis=1) > 0.0]))
    stood = solve_network(
        *at_pressure(network, idle[first], pressure[first]), None if added is None else added[:, first]
    )
    network, lit = at_pressure(network, states, pressure)
    begin = coming_to_rest.carried_over(network, replace(lit, codes=idle.codes), stood.drawn[:, of_first], lit)
    found = coming_to_rest.follow(network, lit, begin, added)
    if running.controls:
        found = hold_at_rest(network, lit, running.controls, todo, running.device[:, todo], found.drawn).solution
    return replace(found, seasons=of.seasons, states=of.states[todo])


def _fails(of: Scan, solution: Solution) -> np.ndarray:
    """States in which an outlet leaves its window or gas enters the room."""
    scan = replace(of, solution=solution)
    return (outside_window(scan) | gas_in_room(scan)).any(axis=0)
