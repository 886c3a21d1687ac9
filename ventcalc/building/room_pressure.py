"""Room pressure: what a room comes to under its exhaust fans, burners and vents, all solved together.

The room takes the pressure at which as much air comes in as goes out (`room_balance`), and the vents draw by that very
pressure: `coupled` finds both together, for many states at once; `from_idle` where the exhaust fans ran first.

Pressures are gauge; negative is draft. The room's is against outdoors at the height of `Plant.opening_height`. In a
state with a wind case, wind stands on the openings and the leakage as well as on the terminal.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from ventcalc.building.room_air import Opening, RoomAir
from ventcalc.building.room_balance import FARTHEST, RoomBalance
from ventcalc.draft import held_pressure
from ventcalc.draft.held_pressure import Control, Held
from ventcalc.vent import coming_to_rest
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States

TOLERANCE = 1e-5  # kg/s, that a room may be out of balance
MOST_STEPS = 120
_BALANCED = 10.0  # times the tolerance: the vents' own, 1e-4 Pa, stands in it
_SHORTEST = 1e-7  # Pa, of a step that still changes something
_LONGEST, _SHARE = 2.0, 0.1  # Pa, of one step, and the share of the pressure added to it: short, to stay on the branch
_STEEPEST = 300.0  # times the room's own slope: how much the vents may add to it


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
        return replace(self, solution=self.solution.columns(pick), **own)

    def scan(self, of: Scan) -> Scan:
        """The scan whose states were solved, with this solution: for `outlet_envelope.envelopes` and its like.

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
    air = RoomBalance(network, states, room, exhausting)
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
        here = at_pressure(self.network, self.states[which], pressure)
        if self.controls:
            held = hold_at_rest(*here, self.controls, which, self.device[:, which], start)
            self.device[:, which], self.settled[which] = held.added + held.second, held.settled
            return held.solution
        added = None if self.added is None else self.added[:, which]
        return solve_network(*here, added) if start is None else coming_to_rest.follow(*here, start, added, near=True)


def hold_at_rest(network: Network, lit: States, controls: tuple[Control, ...], which, device, drawn) -> Held:
    """Some states of a plant with its controls at rest; a sensor's error may be that of each state."""
    own = (replace(c, offset=c.offset if np.ndim(c.offset) == 0 else c.offset[which]) for c in controls)
    return held_pressure.hold_network(network, lit, tuple(own), device, drawn, within=_WITHIN)


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
    idle, running = idle_before(states), np.broadcast_to(np.asarray(exhausting, float), (len(states),))
    first, of = alike(idle, running, *([] if added is None else added[np.ptp(added, axis=1) > 0.0]))
    of_idle = None if added is None else added[:, first]
    stood = coupled(plant, seasons, idle[first], room, running[first], added=of_idle)
    pressure, drawn = (a[..., of] for a in stood.standing)
    network, fired = at_pressure(compile_network(plant, tuple(seasons)), states, pressure)
    begin = coming_to_rest.carried_over(network, replace(fired, codes=idle.codes), drawn, fired)
    if lit is not None:
        room_of_idle, standing = at_pressure(compile_network(plant, tuple(seasons)), idle[first], stood.pressure)
        header = far_end_pressure(replace(stood.solution, states=standing), room_of_idle)
        begin = np.where(held_pressure.is_proved(controls, header)[of], begin, lit)
    drawn = coming_to_rest.follow(network, fired, begin, added).drawn
    found = coupled(plant, seasons, states, room, running, (pressure, drawn), controls, added)
    return replace(found, released=added)


def idle_before(states: States) -> States:
    """The same weather with nothing running and cold walls."""
    return replace(states, codes=np.zeros_like(states.codes), cold=np.ones(len(states)))


def alike(idle: States, *others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
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
    air = RoomBalance(network, states, replace(room, exhausts=()), 0.0)
    found = solve_network(*at_pressure(network, states, pressure), drawn=drawn)
    gap, _ = air.net(pressure, found.drawn)
    return gap / air.inside, replace(found, seasons=tuple(seasons), states=states)


def at_pressure(network: Network, states: States, pressure: np.ndarray) -> tuple[Network, States]:
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


def need(running: Coupled) -> tuple[np.ndarray, np.ndarray]:
    """What the burners take and what the vents draw besides, as volumes of outdoor air [m3/s], per state."""
    network = compile_network(running.solution.plant, running.solution.seasons)
    density = network.outdoor_density[running.solution.states.season]
    drawn = running.solution.drawn[np.array(network.rooms) == 0]
    return running.burners.sum(axis=0) / density, np.maximum(drawn, 0.0).sum(axis=0) / density
