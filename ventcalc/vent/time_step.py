"""Time step: all gas, walls, flows and pressures of a vent, advanced by one step in time, compiled.

Flows that nobody prescribes (a hood's, a regulator's, a leaking idle appliance's) are found in every step from the
pressures at its end (`momentum_balance`), linear in the change of the flows; all others follow from what the burners
send. Sound, which passes a vent in a tenth of a second, is left out; so is the natural convection within a dead leg.

Plain SI; arrays as in `gas_column`, changed in place. What comes in is that of a chunk of times (`course.Inputs`), in
one axis, time after time: a step reads it from the place ``at`` of its first run.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop
from ventcalc.gas.streams import TRACE
from ventcalc.vent import gas_column
from ventcalc.vent.dilution_air import entry_pressure
from ventcalc.vent.gas_content import CONTENT_FLUE, CONTENTS, HEAT, MASS
from ventcalc.vent.momentum_balance import Sections, balance_all
from ventcalc.vent.network import EXIT, ON_TOTAL, OUTLET_AREA, THRESHOLD

CLOSE = 0.02  # Pa; ways in from the room that are further off take a second look at the same step
LOOKS = 3  # at most
# Time [s] over which the flow that cells make by shrinking is smoothed before it counts as acceleration: a cell that
# turns from dry to wet and back would otherwise shake the whole column. The burner's own flow counts at once.
_SMOOTH = 0.2
UP, DOWN, OWN, OTHER, HEAD = range(5)  # rows of the pressures and how they answer the flows: `balance_all`


@dataclass(frozen=True)
class Method:
    """How finely a run is computed.

    ``cell`` least length [m] of a cell and ``step`` [s] in time; steps from one look at ``films`` and friction to the
    next, and from one at the ``walls``. ``capacity``: factor on the heat that walls hold; infinite freezes them as they
    are at the start. ``adiabatic``: no heat passes from gas to walls.
    """

    cell: float = 0.5
    step: float = 0.05
    films: int = 3
    walls: int = 10
    capacity: float = 1.0
    adiabatic: bool = False


USUAL = Method()


OUTDOOR_DENSITY, HEADER_ROOM = range(2)  # rows of what is true of a run: kg/m3, Pa
FLOW, GAINED, SWOLLEN = range(3)  # rows of what passes a face [m3/s], gains in a step; what cells make of it, smoothed
ENTERS, DRAWN, SPILLED = range(3)  # rows of an appliance: m3/s, kg/s of room air, kg of flue gas since the start
PRESCRIBED, BURNERS, RESISTANCE, ROOM_GAUGE = range(4)  # rows of what comes in at an appliance
ADDS, ALONG, ASKED_AT = range(3)  # rows of a device: Pa, its slope, and the flow it was asked at


class Fixed(NamedTuple):
    """What never changes in a vent, beside its cells.

    ``outdoor`` (contents, runs) and ``room_air`` (contents, appliances, runs) hold air; ``runs`` (2, runs) and ``ways``
    (4, appliances); ``free`` rows of the appliances whose flow is ever found, and the sections by which the pressures
    there answer those flows, ``shared`` (2, pairs of those, sections). The ``header`` begins at the upstream end of a
    section. ``step`` [s], and steps from one look at ``films`` and at ``walls`` to the next.
    """

    cells: gas_column.Cells
    sections: Sections
    outdoor: np.ndarray
    room_air: np.ndarray
    runs: np.ndarray
    ways: np.ndarray
    free: np.ndarray
    shared: np.ndarray
    header: int
    step: float
    films: int
    walls: int


class Room(NamedTuple):
    """Room for one step, which holds nothing from one to the next.

    ``own`` (appliances, runs) and what gas there has ``entered`` before; ``swollen`` (2, faces, runs); ``inlet``
    (contents, appliances, runs); ``wall`` (places, runs); ``cold`` (runs), nought; ``sent`` (sections + 1, 2), the last
    nought; ``gaps`` (2, free appliances, runs), and the equations that close them: ``matrix`` and ``change``;
    ``balance`` (7, sections).
    """

    own: np.ndarray
    entered: np.ndarray
    swollen: np.ndarray
    inlet: np.ndarray
    wall: np.ndarray
    cold: np.ndarray
    sent: np.ndarray
    gaps: np.ndarray
    matrix: np.ndarray
    change: np.ndarray
    balance: np.ndarray


def room(cells: gas_column.Cells, runs: int, free: int) -> Room:
    """Room for steps of so many runs, in which the flow of so many appliances is found."""
    sections, appliances, places = cells.ends.first.size, cells.ends.fed.size, len(cells.around)
    return Room(
        *np.empty((2, appliances, runs)),
        swollen=np.empty((2, places - 1, runs)),
        inlet=np.empty((CONTENTS, appliances, runs)),
        wall=np.empty((places, runs)),
        cold=np.zeros(runs),
        sent=np.zeros((sections + 1, 2)),
        gaps=np.empty((2, free, runs)),
        matrix=np.empty((free, free)),
        change=np.empty(free),
        balance=np.empty((7, sections)),
    )


class Moving(NamedTuple):
    """The vent at one time: its gas and what flows.

    ``faces`` (3, faces, runs) and ``mouths`` (3, appliances, runs); ``pressed`` (sections, runs): how much denser its
    own gauge pressure makes a section's gas; ``device`` (3, sections, runs); ``balance`` (5, sections, runs):
    pressures, worked out for this time where ``told`` is 1; ``room`` to work in.
    """

    gas: gas_column.Held
    faces: np.ndarray
    mouths: np.ndarray
    pressed: np.ndarray
    device: np.ndarray
    balance: np.ndarray
    told: np.ndarray
    room: Room


class Feed(NamedTuple):
    """What comes in during a chunk of times: ``mouths`` (4, appliances, times x runs) of what holds ``content``
    (contents, appliances, times x runs) a volume, and ``wind_head`` [Pa] (times x runs).

    What burners send is prescribed [kg/s]; a way in from the room may see another flow of them. Its resistance, and
    the room's pressure [Pa].
    """

    mouths: np.ndarray
    content: np.ndarray
    wind_head: np.ndarray


class Kept(NamedTuple):
    """What is kept of a run: rows of `transient.Transient` of sections, of appliances and of the whole vent, in its
    order; (rows, sections or appliances, times, runs) and (rows, times, runs)."""

    sections: np.ndarray
    appliances: np.ndarray
    whole: np.ndarray


@loop
def follow(fixed, vent, feed, begin, end, number, every, kept):
    """The steps ``begin`` to ``end`` of a chunk, the first of them the step ``number`` of all; every so many are kept.

    Step 0 is where the vent begins. The device adds what it was asked for last, along its slope. Where there is no step
    to take, the pressures of the one before are told.
    """
    runs = vent.pressed.shape[1]
    for i in range(begin, end):
        now = number + i - begin
        if now > 0:
            advance(fixed, vent, feed, i * runs, now)
        if now % every == 0:
            keep(fixed, vent, feed, i * runs, kept, now // every)
    if begin == end:
        tell(fixed, vent, feed, begin * runs)


@law
def advance(fixed, vent, feed, at, number):
    """One step: flows at its end, then gas and walls with them. The device has been asked at the flows before it."""
    cells, gas, step, faces, mouths = fixed.cells, vent.gas, fixed.step, vent.faces, vent.mouths
    shape, fed = mouths.shape[1:], cells.ends.fed
    for s in range(vent.device.shape[1]):
        for r in range(shape[1]):
            vent.device[ASKED_AT, s, r] = faces[FLOW, cells.ends.last[s], r]
    gas_column.cool_gas(cells, gas, step)
    own, swollen, inlet, before = vent.room.own, vent.room.swollen, vent.room.inlet, vent.room.entered
    own[:] = 0.0
    gas_column.face_flows(cells, gas, own, step, swollen[FLOW])
    _smooth(swollen, faces[SWOLLEN], min(step / _SMOOTH, 1.0))
    _burn(feed, at, own)
    if fixed.free.size:
        _free_flows(fixed, vent, feed, at, own)
    _face_sums(cells.ends, own, mouths[ENTERS], faces, vent.room)
    for a in range(shape[0]):
        first = cells.ends.first[fed[a]]
        for r in range(shape[1]):
            before[a, r] = gas.entered[CONTENT_FLUE, a, r]
            prescribed, sent, density = _at_mouth(feed, gas.content, at, a, r, first)
            drawn, _ = _drawn(own[a, r], prescribed, sent, density, fixed.room_air[MASS, a, r])
            mouths[ENTERS, a, r], mouths[DRAWN, a, r] = own[a, r], drawn
            _mix_inlet(own[a, r], drawn, feed.content[:, a, at + r], fixed.room_air[:, a, r], inlet[:, a, r])
    gas_column.move_gas(cells, gas, faces[FLOW], step, inlet, fixed.outdoor)
    _spill(feed, at, gas.entered[CONTENT_FLUE], before, step, mouths[SPILLED])
    if number % fixed.films == 1 % fixed.films:
        _look(cells, gas, faces[FLOW], vent.room)
    if number % fixed.walls == 0:
        gas_column.warm_rings(cells, gas)
    vent.told[0] = 0


@law
def _burn(feed, at, own):
    """Volume [m3/s] that burners send into every appliance's outlet, into ``own``."""
    for a in range(own.shape[0]):
        for r in range(own.shape[1]):
            own[a, r] = feed.mouths[PRESCRIBED, a, at + r] / feed.content[MASS, a, at + r]


@law
def _spill(feed, at, entered, before, step, spilled):
    """Add the flue gas [kg] that has been sent in a step and has not ``entered``."""
    for a in range(spilled.shape[0]):
        for r in range(spilled.shape[1]):
            flue = feed.mouths[PRESCRIBED, a, at + r] * feed.content[CONTENT_FLUE, a, at + r]
            spilled[a, r] += flue / feed.content[MASS, a, at + r] * step - (entered[a, r] - before[a, r])


@law
def _look(cells, gas, flow, room):
    """Take films, friction and what settles anew."""
    wall = room.wall
    for i in range(wall.shape[0]):
        for r in range(wall.shape[1]):
            wall[i, r] = cells.around[i, r] + gas.ring[0, i, r]
    gas_column.look_at(cells, gas, flow, wall, room.cold, wall, cells.own[gas_column.TOWARDS])


@law
def _smooth(swollen, before, share):
    """By how much what the cells make counts as faster than ``before``, which it nears by a ``share``."""
    for f in range(before.shape[0]):
        for r in range(before.shape[1]):
            swollen[GAINED, f, r] = (swollen[FLOW, f, r] - before[f, r]) * share
            before[f, r] += swollen[GAINED, f, r]


@law
def _face_sums(ends, own, before, faces, room):
    """Flow and what it gains in a step [m3/s] through every face, of what the cells make and what enters at
    the appliances, ``own``."""
    sections, runs, swollen, sent = ends.first.size, own.shape[1], room.swollen, room.sent
    for r in range(runs):
        for s in range(sections):
            one, other = ends.children[0, s], ends.children[1, s]  # beyond the last: none, and nothing comes of it
            sent[s, 0], sent[s, 1] = sent[one, 0] + sent[other, 0], sent[one, 1] + sent[other, 1]
            for a in range(own.shape[0]):
                if ends.fed[a] == s:
                    sent[s, 0] += own[a, r]
                    sent[s, 1] += own[a, r] - before[a, r]
            for f in range(ends.first[s] - 1, min(ends.last[s] + 2, faces.shape[1])):
                faces[FLOW, f, r] = swollen[FLOW, f, r] + sent[s, 0]
                faces[GAINED, f, r] = swollen[GAINED, f, r] + sent[s, 1]


@law
def _at_mouth(feed, content, at, a, r, first):
    """What is prescribed at an appliance [kg/s], and densities [kg/m3] of that and of the first cell there."""
    return feed.mouths[PRESCRIBED, a, at + r], feed.content[MASS, a, at + r], content[MASS, first, r]


@law
def _drawn(own, prescribed, sent, density, air):
    """Room air drawn [kg/s] at a volume that enters, and its slope: the inverse of `moving_vent.entering`."""
    over = own - prescribed / sent
    if own < 0.0:
        return own * density - prescribed, density
    slope = sent if over < 0.0 else air
    return slope * over, slope


@law
def _mix_inlet(own, drawn, sent, air, inlet):
    """What a volume of that holds which enters at an appliance, into ``inlet``."""
    share = np.minimum(np.maximum(np.maximum(drawn, 0.0) / air[MASS] / np.maximum(own, TRACE), 0.0), 1.0)
    for c in range(inlet.size):
        inlet[c] = (1.0 - share) * sent[c] + share * air[c]


@law
def _free_flows(fixed, vent, feed, at, own):
    """Volumes that enter where nobody prescribes them, into ``own``: linear in the pressures at the end of the step."""
    free, runs, balance, ends = fixed.free, own.shape[1], vent.balance, fixed.cells.ends
    gap, slope = vent.room.gaps[0], vent.room.gaps[1]
    for k in range(free.size):
        for r in range(runs):
            gap[k, r], slope[k, r] = 0.0, 1.0
            if np.isfinite(feed.mouths[RESISTANCE, free[k], at + r]):
                own[free[k], r] = vent.mouths[ENTERS, free[k], r]
    for _ in range(LOOKS):
        _face_sums(ends, own, vent.mouths[ENTERS], vent.faces, vent.room)
        _balance(fixed, vent, feed, at)
        most = 0.0
        for k in range(free.size):
            a, section = free[k], ends.fed[free[k]]
            for r in range(runs):
                if not np.isfinite(feed.mouths[RESISTANCE, a, at + r]):
                    continue
                prescribed, sent, density = _at_mouth(feed, vent.gas.content, at, a, r, ends.first[section])
                drawn, by_volume = _drawn(own[a, r], prescribed, sent, density, fixed.room_air[MASS, a, r])
                entry, by_drawn = _entry(feed.mouths[:, a, at + r], fixed.ways[:, a], drawn, density)
                gap[k, r] = feed.mouths[ROOM_GAUGE, a, at + r] - balance[UP, section, r] - entry
                slope[k, r] = by_drawn * by_volume
                most = np.maximum(most, np.abs(gap[k, r]))
        if most < CLOSE:
            break
        _correct(fixed, feed.mouths[RESISTANCE], at, balance, vent.room, own)


@law
def _entry(mouth, way, drawn, density):
    """Pressure [Pa] to draw room air past an appliance, and its slope (`dilution_air`)."""
    volume, on_total = 1.0 / density, way[ON_TOTAL] > 0.0
    return entry_pressure(drawn, mouth[BURNERS], mouth[RESISTANCE], volume, way[EXIT], way[THRESHOLD], on_total)


@law
def _correct(fixed, resistance, at, balance, room, own):
    """Change what enters at the free appliances by what closes the gaps [Pa] there."""
    free, shared, gap, slope, count = fixed.free, fixed.shared, room.gaps[0], room.gaps[1], fixed.free.size
    matrix, change = room.matrix, room.change
    for r in range(own.shape[1]):
        for i in range(count):
            shut = not np.isfinite(resistance[free[i], at + r])
            for j in range(count):
                total = 0.0
                if not shut:
                    for s in range(shared.shape[2]):
                        total += shared[0, i * count + j, s] * balance[OWN, s, r]
                        total += shared[1, i * count + j, s] * balance[OTHER, s, r]
                matrix[i, j] = total
            matrix[i, i] += slope[i, r]
            change[i] = gap[i, r]
        _solve(matrix, change)
        for i in range(count):
            own[free[i], r] += change[i]


@law
def _solve(matrix, values):
    """Solve a small set of linear equations in place, by elimination with the greatest pivot."""
    count = values.size
    for k in range(count):
        best = k
        for i in range(k + 1, count):
            if np.abs(matrix[i, k]) > np.abs(matrix[best, k]):
                best = i
        for j in range(k, count):
            matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
        values[k], values[best] = values[best], values[k]
        for i in range(k + 1, count):
            factor = matrix[i, k] / matrix[k, k]
            for j in range(k + 1, count):
                matrix[i, j] -= factor * matrix[k, j]
            values[i] -= factor * values[k]
    for k in range(count - 1, -1, -1):
        for j in range(k + 1, count):
            values[k] -= matrix[k, j] * values[j]
        values[k] /= matrix[k, k]


@law
def _balance(fixed, vent, feed, at):
    """Pressures for the flows [m3/s] through the faces and what they gain a step.

    Its own gauge pressure makes a section's gas denser, and so slower, by ``vent.pressed``, known from the last
    look at the pressures; cells and their books know only the pressure of the place.
    """
    faces, density, friction = vent.faces, vent.gas.content[MASS], vent.gas.cell[gas_column.FRICTION]
    outdoor, pressure = fixed.runs[OUTDOOR_DENSITY], fixed.cells.pressure
    balance_all(
        fixed.sections, faces[FLOW], faces[GAINED], density, friction, fixed.step, outdoor, feed.wind_head, at,
        vent.device, vent.pressed, pressure, vent.room.balance, vent.balance,
    )  # fmt: skip


@law
def tell(fixed, vent, feed, at):
    """Work out the pressures of this time, where nobody has asked for them yet."""
    if vent.told[0] == 0:
        _balance(fixed, vent, feed, at)
        vent.told[0] = 1


@law
def header_pressure(balance, header, room):
    """Static pressure [Pa] at the end of the header against the ``room`` there, from the pressures (5, sections)."""
    return balance[UP, header] - balance[HEAD, header] - room


@law
def outlet_pressure(up, own, density, pressed, area, gauge):
    """Static pressure [Pa] at an outlet against the room there.

    ``up`` total pressure at the upstream end of its section, where ``own`` [m3/s] enters the gas of a ``density``,
    ``pressed`` by its own gauge pressure; ``area`` [m2] of the outlet, ``gauge`` pressure [Pa] of the room.
    """
    head = 0.5 * density / pressed * (own / area) ** 2
    return up - head - gauge


@law
def keep(fixed, vent, feed, at, kept, place):
    """Write this moment into its ``place`` among the times kept."""
    tell(fixed, vent, feed, at)
    ends, gas, density, balance = fixed.cells.ends, vent.gas, vent.gas.content[MASS], vent.balance
    for r in range(vent.pressed.shape[1]):
        for s in range(ends.first.size):
            found, first, last, pressed = kept.sections[:, s, place, r], ends.first[s], ends.last[s], vent.pressed[s, r]
            begin, end = vent.faces[FLOW, first - 1, r], vent.faces[FLOW, last, r]
            near = first - 1 if begin > 0.0 else first
            found[0], found[1], found[2] = begin * density[near, r], end / pressed, density[last, r] * pressed
            found[3], found[4] = gas.cell[gas_column.TEMPERATURE, near, r], gas.cell[gas_column.TEMPERATURE, last, r]
            found[5] = gas.cell[gas_column.SURFACE, last, r]
            found[6], found[7] = balance[UP, s, r], balance[DOWN, s, r]
            adds, along, asked_at = vent.device[:, s, r]
            found[8] = adds + along * (end - asked_at)
        for a in range(ends.fed.size):
            found, section = kept.appliances[:, a, place, r], ends.fed[a]
            first = ends.first[section]
            own = vent.faces[FLOW, first - 1, r]
            inside, pressed = density[first - 1 if own > 0.0 else first, r], vent.pressed[section, r]
            area, gauge = fixed.ways[OUTLET_AREA, a], feed.mouths[ROOM_GAUGE, a, at + r]
            found[0] = outlet_pressure(balance[UP, section, r], own, inside, pressed, area, gauge)
            found[1], found[2] = vent.mouths[DRAWN, a, r], vent.mouths[SPILLED, a, r]
        found = kept.whole[:, place, r]
        found[0] = header_pressure(balance[:, :, r], fixed.header, fixed.runs[HEADER_ROOM, r])
        _keep_books(fixed.cells, gas, r, found)


@law
def _keep_books(cells, gas, r, found):
    """Mass and energy that have entered, left, are held, stored, lost or settled, in one run, into rows from the second
    on."""
    for row in range(1, found.size):
        found[row] = 0.0
    for a in range(gas.entered.shape[1]):
        found[1], found[4] = found[1] + gas.entered[MASS, a, r], found[4] + gas.entered[HEAT, a, r]
    for k in range(gas.left.shape[1]):
        found[2], found[5] = found[2] + gas.left[MASS, k, r], found[5] + gas.left[HEAT, k, r]
    for i in range(gas.cell.shape[1]):
        volume, stored = cells.own[gas_column.VOLUME, i], gas.cell[gas_column.GIVEN, i, r]
        found[3] += gas.content[MASS, i, r] * volume
        found[6] += gas.content[HEAT, i, r] * volume
        for k in range(gas.ring.shape[0]):
            stored += cells.ring_own[1, k, i] * gas.ring[k, i, r]
        found[7] += cells.own[gas_column.LENGTH, i] * stored
    found[8] = gas.books[gas_column.LOST, r]
    found[9], found[10] = gas.books[gas_column.SETTLED, r], gas.books[gas_column.SETTLED_HEAT, r]
