"""Outlet control: a damper and a sensor at every appliance's outlet, against one control for the whole header.

A damper at the outlet only takes pressure away, so it only raises its outlet. It cures whatever is too low, for
each outlet by itself. Of the condition of the `common_window` only the right-hand side is left: the header must stand
*at or below* a pressure (`header_needed`), by natural draft or by a fan. Behind a shut damper an idle appliance leaks
less.

Pressures are gauge against the room at the same height; negative is draft. Plain SI inside.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.draft.common_window import header_control, held_common_window, hold_header, offsets
from ventcalc.draft.damper_leakage import Leakage
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, TOLERANCE, Control, Device, Held, Ideal, hold
from ventcalc.gas.appliance import Appliance, Leak
from ventcalc.units import Q_, Quantity
from ventcalc.vent.firing_states import Scan, scan
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import Season
from ventcalc.vent.outlet_envelope import Envelope, envelopes, outside_window
from ventcalc.vent.reversal import Reversal, reversals
from ventcalc.vent.worst_state import worst

MIDDLE = 0.5  # share of the window from its lower edge; see `set_point`
TAKES_AWAY = Ideal(most=0.0)  # what a damper without loss or leakage could do
ADDS = Ideal(least=0.0)  # what a fan without limits could do
_LIMITS = {"plain": {"share": ""}, "at_least": {"share": 0.0}, "at_most": {"share": 1.0}}
_of_share = door(**_LIMITS)
ARRANGEMENTS = ("as is", "header control", "outlet dampers, natural draft", "outlet dampers and a fan")


def with_windows(plant: Plant, windows: Mapping[str, tuple[Quantity, Quantity]]) -> Plant:
    """The plant with other outlet windows for the appliances named, as where another make is accepted.

    ``windows``: (low, high) by the appliance's name. Raises ValueError for a name that the plant does not have.
    """
    names = [a.name for a in plant.appliances]
    unknown = [n for n in windows if n not in names]
    if unknown:
        raise ValueError(f"no appliance named {', '.join(unknown)}; appliances are {', '.join(names)}")
    changed = (replace(a, window=tuple(windows.get(a.name, a.window))) for a in plant.appliances)
    return replace(plant, appliances=tuple(changed))


@_of_share
def set_point(appliance: Appliance, share: float = MIDDLE) -> Quantity:
    """Set point inside an appliance's window, at a ``share`` of it from the lower edge (0 to 1).

    The middle has the largest worst margin. A damper only raises its outlet: with u the highest pressure at the open
    damper, the outlet runs from the set point s to max(s, u), and the lesser of s - low and high - max(s, u) is
    greatest at the middle, whatever u. Where u lies above the middle, any s between high - u above the lower edge
    and u has the same margin, and the lowest of them asks the least of the damper.
    Raises ValueError for a share outside 0 to 1.
    """
    low, high = (w.to("Pa") for w in appliance.window)
    return low + share * (high - low)


def governed(plant: Plant) -> tuple[Appliance, ...]:
    """The appliances whose outlet a damper can govern: those whose burner forces its flow.

    Behind a draft hood or a barometric draft control a damper does not raise the outlet but makes it draw less room
    air, or spill. Raises ValueError where the plant has none that forces its flow.
    """
    found = tuple(a for a in plant.appliances if a.kind == "forced")
    if not found:
        raise ValueError(f"{plant.name}: no appliance forces its flow, so none can have a damper at its outlet")
    return found


def connector(plant: Plant, appliance: str) -> Section:
    """The section that an appliance's outlet leads into; its damper stands at the downstream end."""
    return plant.path(appliance)[0]


def ideal_dampers(plant: Plant) -> dict[str, Device]:
    """For each of the `governed` outlets a damper without loss when open and tight when shut: what is needed."""
    return {a.name: TAKES_AWAY for a in governed(plant)}


def round_dampers(plant: Plant, leakage: Leakage, blades: str = "butterfly") -> dict[str, Device]:
    """For each of the `governed` outlets a round damper as wide as its connector: what a real one gives."""
    wide = {a.name: connector(plant, a.name).diameter for a in governed(plant)}
    return {name: Damper(blades, width, width, leakage) for name, width in wide.items()}


@_of_share
def controls(plant: Plant, devices: Mapping[str, Device], share: float = MIDDLE) -> tuple[Control, ...]:
    """One control for each outlet that has a device: damper, sensor and set point.

    ``devices`` by the appliance's name; each stands in the appliance's `connector`, its sensor is at the outlet, its
    set point a ``share`` of the window from the lower edge. It acts while the appliance fires or purges.
    """
    by_name = {a.name: a for a in plant.appliances}
    return tuple(
        Control(connector(plant, name).name, device, name, set_point(by_name[name], share))
        for name, device in devices.items()
    )


def in_series(first: Leak, second: Leak) -> Leak:
    """Leakage through two gaps one behind the other, at the pressure of the ``first``.

    Each takes p = R Q^2, so the resistances add: Q = sqrt(p / (p1/Q1^2 + p2/Q2^2)), p1 at Q1 being the rating of one,
    p2 at Q2 that of the other. Exact where both are quadratic in the flow and rated in the same air.
    """
    resistance = sum(float((leak.pressure / leak.flow**2).m_as("Pa*s**2/m**6")) for leak in (first, second))
    return Leak(Q_(float(first.pressure.m_as("Pa") / resistance) ** 0.5, "m**3/s"), first.pressure)


def shut_leak(damper: Damper) -> Leak:
    """What a shut damper leaks through its whole face."""
    return Leak(Q_(damper.face * damper.leakage.velocity.m_as("m/s"), "m**3/s"), damper.leakage.pressure)


def with_shut_dampers(plant: Plant, devices: Mapping[str, Device]) -> Plant:
    """The plant as its idle appliances are with the dampers at their outlets shut.

    An idle appliance leaks `in_series` with its shut `Damper`; behind an ideal one it is sealed.
    """
    return replace(plant, appliances=tuple(_shut(a, devices.get(a.name)) for a in plant.appliances))


def _shut(a: Appliance, device: Device | None) -> Appliance:
    if device is None or a.idle == "sealed":
        return a
    if isinstance(device, Damper):
        return replace(a, leak=in_series(a.leak, shut_leak(device)))
    return replace(a, idle="sealed")


@_of_share
def header_needed(of: Scan, devices: Mapping[str, Device], share: float = MIDDLE) -> float:
    """The header pressure [Pa] at or below which every damper can hold its set point: min (set point - d - open loss).

    Over all states and outlets of a scan of the vent without dampers; an outlet that has none is wanted no higher
    than at the same ``share`` of its window. With ``share`` = 1 it is what keeps every outlet below the upper edge.
    """
    return float(np.nanmin(_set_points(of, share) - offsets(of) - open_losses(of, devices)))


@_of_share
def draft_missing(of: Scan, devices: Mapping[str, Device], share: float = MIDDLE) -> np.ndarray:
    """What a fan must add [Pa] (states) so that no outlet stands above its set point; 0 where the draft does it.

    From a scan of the vent without dampers, whose open losses are added. Exact where idle outlets are tight.
    """
    runs = of.states.codes > 0
    over = of.solution.outlet_pressure + open_losses(of, devices) - _set_points(of, share)
    return np.where(runs, over, 0.0).max(axis=0, initial=0.0)


def open_losses(of: Scan, devices: Mapping[str, Device]) -> np.ndarray:
    """What the dampers take away [Pa] (appliances, states) while they stand open, at the flows of a scan."""
    found = np.zeros(of.solution.outlet_pressure.shape)
    for i, a in enumerate(of.plant.appliances):
        if a.name in devices:
            row = of.solution.row(of.plant.feeds[i])
            density = of.solution.density[row]
            area = of.plant.order[row].area
            found[i] = -devices[a.name].limits(of.solution.flow[row] / density, density, area)[1]
    return found


def _set_points(of: Scan, share: float) -> np.ndarray:
    return np.array([[set_point(a, share).m_as("Pa")] for a in of.plant.appliances])


@dataclass(frozen=True)
class Duty:
    """What is asked of one damper over all states in which it acts; plain SI.

    ``loss`` [-] least and greatest loss coefficient on the velocity head of its section, with the ``states`` that ask
    for them; ``pressure`` [Pa] it takes away at most.
    """

    appliance: str
    section: str
    loss: tuple[float, float]
    states: tuple[int, int]
    pressure: float


def duties(held: Held) -> tuple[Duty, ...]:
    """The duty of every control at an appliance's outlet: K = -added / (rho v^2 / 2) where it acts."""
    return tuple(duty(held, k) for k, c in enumerate(held.controls) if c.sensor != HEADER)


def duty(held: Held, k: int) -> Duty:
    """The duty of one control of ``held.controls``, at an outlet, over the states in which it acts."""
    control, flow, density = held.controls[k], held.flow[k], held.density[k]
    area = held.solution.plant.section(control.section).area
    at = np.flatnonzero(held.acts[k] & (flow > 0.0))
    taken = np.maximum(-held.added[k, at], 0.0)
    loss = taken / (0.5 * density[at] * (flow[at] / area) ** 2)
    least, most = worst(-loss), worst(loss)
    return Duty(
        appliance=control.sensor,
        section=control.section,
        loss=(float(loss[least]), float(loss[most])),
        states=(int(at[least]), int(at[most])),
        pressure=float(taken.max()),
    )


@dataclass(frozen=True)
class Arrangement:
    """One way to control a vent, in all its states.

    ``set_point`` [Pa] of the header, None where nothing holds it. ``held`` is None for the vent as it is.
    """

    name: str
    scan: Scan
    held: Held | None = None
    set_point: float | None = None

    @property
    def envelopes(self) -> tuple[Envelope, ...]:
        """Every outlet's range against its window."""
        return envelopes(self.scan)

    @property
    def missed(self) -> np.ndarray:
        """Numbers of the states in which some running outlet is outside its window."""
        return np.flatnonzero(outside_window(self.scan).any(axis=0))

    @property
    def reversals(self) -> tuple[Reversal, ...]:
        """Flue gas that enters the room."""
        return reversals(self.scan)

    @property
    def unsettled(self) -> int:
        """How many states did not converge, or whose controls did not come to rest."""
        settled = self.scan.solution.converged if self.held is None else self.held.settled
        return int((~settled).sum())

    @property
    def duties(self) -> tuple[Duty, ...]:
        """What is asked of the outlet dampers."""
        return duties(self.held) if self.held else ()

    @property
    def header_adds(self) -> tuple[float, float]:
        """Least and most [Pa] that the device at the termination adds; negative is a damper's, positive a fan's."""
        if self.set_point is None:
            return 0.0, 0.0
        added = self.held.added[[c.sensor for c in self.held.controls].index(HEADER)]
        return float(added.min()), float(added.max())

    @property
    def devices(self) -> int:
        """How many devices it takes: a damper for each outlet that has one, a fan where the header's control adds
        pressure in some state, a damper where it takes some away."""
        least, most = self.header_adds
        return len(self.duties) + int(most > TOLERANCE) + int(least < -TOLERANCE)


@door(header_set_point="Pa", **_LIMITS)
def dampers_and_fan(
    shut: Scan, devices: Mapping[str, Device], share: float = MIDDLE, header_set_point: Quantity | None = None
) -> Arrangement:
    """The last of the `ARRANGEMENTS`: outlet dampers, and a fan at the header.

    ``shut`` is the plant `with_shut_dampers` in all its states, the rest as in `compare`.
    """
    low = _header_for_dampers(shut, devices, share) if header_set_point is None else header_set_point.m_as("Pa")
    acting = (header_control(shut.plant, low, ADDS), *controls(shut.plant, devices, share))
    held = hold(shut.plant, shut.seasons, shut.states, acting)
    return Arrangement(ARRANGEMENTS[3], held.scan(shut), held, float(low))


@door(header_set_point="Pa", **_LIMITS)
def compare(
    plant: Plant,
    seasons: tuple[Season, ...],
    devices: Mapping[str, Device] | None = None,
    share: float = MIDDLE,
    header_set_point: Quantity | None = None,
    solved: tuple[Scan, Scan] | None = None,
) -> tuple[Arrangement, ...]:
    """The four `ARRANGEMENTS` of one job, each solved in all firing states.

    ``devices`` are the outlets' dampers by the appliance's name, `ideal_dampers` where None; ``share`` where in
    the windows the set points stand. The header is held at ``header_set_point``; where it is None, by the header
    control at the best there is, and by the fan at the highest that lets every damper hold its set point. The
    header's device is ideal, so that what it adds shows what is needed. ``solved`` are the plant's own states and
    those `with_shut_dampers`, where they are known already.
    Raises ValueError for a single appliance, whose outlet control is its header control.
    """
    if len(plant.appliances) < 2:
        raise ValueError(f"{plant.name}: with one appliance, control at its outlet is control of the vent")
    devices = ideal_dampers(plant) if devices is None else devices
    free, shut = solved or (scan(plant, seasons), scan(with_shut_dampers(plant, devices), seasons))
    best = held_common_window(free).best if header_set_point is None else float(header_set_point.m_as("Pa"))
    alone = hold_header(free, best)
    passive = hold(shut.plant, shut.seasons, shut.states, controls(plant, devices, share))
    return (
        Arrangement(ARRANGEMENTS[0], free),
        Arrangement(ARRANGEMENTS[1], alone.scan(free), alone, best),
        Arrangement(ARRANGEMENTS[2], passive.scan(shut), passive),
        dampers_and_fan(shut, devices, share, header_set_point),
    )


def _header_for_dampers(of: Scan, devices: Mapping[str, Device], share: float) -> float:
    """`header_needed`, with the header held near it: what leaks through idle appliances then is what will leak."""
    near = hold_header(of, header_needed(of, devices, share), ADDS)
    return header_needed(near.scan(of), devices, share)
