"""Remedies: what may cure a vent, each sized for every firing state of one job, and compared.

A vent has insufficient draft, overdraft, or both in turn. `compare` looks for pipe first: other sizes, laterals, a cap,
a taller stack, a narrower flue or a liner, alone and together, led by where the losses of the worst states are
(`vent_changes`); then for one device on the vent as drawn or on better pipe; then for more. All are solved in the few
states that govern (`governing_states`); what is left without a fault there is solved in all. The order is by whether it
cures, then by how many devices, how much new pipe and how much energy it takes. That none cures it, that no fan fits,
that a remedy does not apply (`left_out`): all of that is said, not hidden.

What is said of an outcome are records (`Reason`); `remedy_words` makes sentences of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ventcalc.draft import (
    common_window,
    damper_leakage,
    damper_sizing,
    dampers,
    fan_curve,
    fan_drive,
    fan_limits,
    fan_selection,
    held_pressure,
    outlet_control,
)
from ventcalc.draft.common_window import CommonWindow
from ventcalc.draft.damper_sizing import Duties, Rating
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.fan_selection import Candidate
from ventcalc.draft.held_pressure import HEADER, Control, Held, Ideal, Second
from ventcalc.flow import friction
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.job import governing_states, vent_changes
from ventcalc.job.findings import Judgement
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_words import damper_words, fan_words, listed, reasons, words
from ventcalc.job.vent_changes import Difference, with_free_end
from ventcalc.units import Q_, Quantity
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, reversal, section_extremes
from ventcalc.vent.common_vent import solve, solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.states import States

__all__ = ["compare", "damper_words", "fan_words", "left_out", "listed", "offered", "outcome", "reasons", "words"]

SIZES_TRIED = 4  # steps of the series above, or below, what is drawn
HEIGHTS_TRIED = (1.25, 1.5, 2.0)  # of the whole rise behind the header; the last section grows
SHORTENED = 0.5  # of the last upright section, where a fan shall let it be seen less
MOST_CHANGES = 12  # steps from the vent as drawn to one with better pipe
FOLLOWED = 2  # changes that are solved at each of these steps, of those that promise most for their pipe
WORTH = 0.1  # of what the best change promises; what promises less is not looked at
HALF = 0.5  # of what the first of them promises for its pipe; what promises less is not solved
NEAR = 1.0  # Pa; what is needed at a set point so near to another is known well enough to choose devices by
STILL = 1.0  # Pa; a change that brings less is none

# Of a larger scan a sample is taken, with the ends of every outlet's range.
MOST_PROVED = 2_000  # states, in which what leaves no fault in those that govern is proved
_AT_EACH_END = 8  # states

# Motor and drive together, from shaft to meter (common practice, no source).
MOTOR_EFFICIENCY = 0.7
# Pressure that a damper may be off by, and that one step of its actuator may move (common practice, no source).
DAMPER_TOLERANCE = Q_(0.01, "inH2O")
# Range and accuracy of a pressure sensor for draft control (common practice, no source).
SENSOR_RANGE = Q_((-0.25, 0.25), "inH2O")
SENSOR_ACCURACY = 0.01  # of its span
# How much of the loss between a sensor and an outlet is uncertain (common practice, no source).
LOSS_DOUBT = 0.25
# Times as hot (in kelvin) as another fan that fits: one made for that costs more (common practice, no source).
DEARER = 1.3
AT_LEAST = 1.01  # times its least speed: a fan so slow stands at it, as a held pressure comes to rest
# Dampers that are tried in the stack: opposed blades about so wide, in a square inside or around the duct, and a
# butterfly; all of a leakage class that the trade sells for control (EN 1751).
BLADE_WIDTH = Q_(100.0, "mm")
BLADES = (2, 6)  # for which square frames' losses are published
BLADE_THICKNESS = Q_(6.0, "mm")
LEAKAGE = damper_leakage.leakage_class("EN class 2")

NO_FAN_FITS, FALLS_SHORT = "no fan fits", "fan falls short"  # why the fan of a remedy is unfit


@dataclass(frozen=True)
class Reason:
    """One thing that is true of an outcome: a ``code`` of `remedy_words.SENTENCES`, what it is true of, with figures.

    ``figures`` by name: quantities, counts, shares and words of a fixed list. ``state`` is the column of the outcome's
    scan in which it is worst, where there is one.
    """

    code: str
    subjects: tuple[str, ...] = ()
    figures: Mapping[str, Quantity | int | float | str] = field(default_factory=dict)
    state: int | None = None


@dataclass(frozen=True)
class Remedy:
    """One way to change a vent: the ``plant`` as it would be, and its ``controls``.

    ``drawn`` is the vent that it is built instead of (None: the same). ``fan`` and ``damper`` are those of the header's
    control, which holds ``set_point``; ``serve`` [Pa] are the least and the greatest set point that keep all outlets in
    their windows, with that device, in the states it was sized for (the first is above the second where none does, None
    where nothing is held). ``outlets`` names the appliances with a damper of their own. ``unfit`` says why the fan does
    not do its duty, `NO_FAN_FITS` or `FALLS_SHORT`, "" where it does: an unfit one is solved all the same, to show what
    is lacking. ``smallest``: no smaller fan of its kind does its duty. ``wet``: water condenses where the fan stands.
    ``tried`` counts the vents of which this was the best. ``start`` is where to begin to solve it
    (`held_pressure.hold`). `words` tells it, `devices` lists what moves.
    """

    name: str
    plant: Plant
    drawn: Plant | None = None
    controls: tuple[Control, ...] = ()
    fan: Drive | None = None
    damper: Damper | None = None
    set_point: Quantity | None = None
    serve: tuple[float, float] | None = None
    outlets: tuple[str, ...] = ()
    unfit: str = ""
    smallest: bool = False
    wet: bool = False
    tried: int = 1
    start: np.ndarray | None = None

    @property
    def devices(self) -> tuple[str, ...]:
        """Everything that moves, one entry each."""
        found = [f"fan {self.fan.fan.name} with a speed drive"] if self.fan else []
        found += [f"{self.damper.blades} damper in the stack"] if self.damper else []
        return (*found, *(f"damper at the outlet of {name}" for name in self.outlets))

    @cached_property
    def differences(self) -> tuple[Difference, ...]:
        """What of the vent is built otherwise than drawn."""
        return () if self.drawn is None else vent_changes.differences(self.drawn, self.plant)

    @cached_property
    def new_pipe(self) -> float:
        """Area [m2] of pipe that is made anew; the end on which a fan stands in place of a cap does not count."""
        if self.drawn is None:
            return 0.0
        drawn = replace(self.drawn, terminations=self.plant.terminations) if self.fan else self.drawn
        return vent_changes.new_pipe(drawn, self.plant)

    @property
    def rebuilt(self) -> bool:
        """Whether pipe is made anew."""
        return self.new_pipe > 0.0

    @property
    def to_be_listed(self) -> tuple[str, ...]:
        """What must be listed or proved, by its code in `remedy_words.LISTINGS`."""
        found = (
            ("vent", self.rebuilt),
            ("fan", self.fan is not None),
            ("damper", bool(self.damper or self.outlets)),
            ("interlock", bool(self.devices)),
            ("appliances", bool(self.devices)),
        )
        return tuple(code for code, applies in found if applies)

    @property
    def top(self) -> str:
        """The section at whose end a fan stands."""
        return held_pressure.before_termination(self.plant)


@dataclass(frozen=True)
class FanDuty:
    """What a fan does in every state in which it runs; plain arrays, one value a state of ``states``.

    ``flow`` [m3/s], ``static`` [Pa], ``density`` [kg/m3], ``temperature`` [K] of the gas, ``speed`` over the rated one,
    ``power`` [W] at the shaft, ``stalled``. ``yearly`` energy at the meter [J], a comparison and no forecast: the mean
    over all calm states with a hot stack, alike likely, for the job's hours of operation.
    """

    states: np.ndarray
    flow: np.ndarray
    static: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    speed: np.ndarray
    power: np.ndarray
    stalled: np.ndarray
    yearly: float


@dataclass(frozen=True)
class Outcome:
    """What a remedy leaves, over all states; pressures in Pa.

    ``everywhere``: whether it was solved in all states of the comparison, not in those alone that govern.
    ``pressed``: sections that come under positive pressure though they serve an appliance of category I or II.
    ``outside``: states in which some running outlet leaves its window. ``gas_in_room``: states in which flue gas enters
    the room. ``unheld``: states in which a control misses its set point. ``unsettled``: states that were not solved.
    ``duty`` of its fan and ``position`` of its damper (0 shut to 1 open, NaN where it does not act), per state;
    ``step`` [Pa] that one step of that damper's actuator moves at most. ``judgement`` of the whole design, where it is
    worth one (`holds`) and was given it.
    """

    remedy: Remedy
    scan: Scan
    held: Held | None
    envelopes: tuple[Envelope, ...]
    pressed: tuple[str, ...]
    outside: int
    gas_in_room: int
    unheld: int
    unsettled: int
    duty: FanDuty | None
    position: np.ndarray | None
    step: float = 0.0
    everywhere: bool = True
    judgement: Judgement | None = None

    @property
    def settled(self) -> np.ndarray:
        """Where the vent was solved and all controls came to rest, per state."""
        return self.scan.solution.converged if self.held is None else self.held.settled

    @property
    def cured(self) -> bool:
        """Whether the whole design was judged, in every condition, and nothing speaks against it."""
        return self.judgement is not None and self.judgement.cured

    @property
    def holds(self) -> bool:
        """Whether it is worth judging: it `serves` in every condition; not where it was solved in some alone."""
        return self.everywhere and serves(self)

    @property
    def margin(self) -> float:
        """Least margin of all outlets [Pa]; negative where a window is left."""
        return min(e.margin for e in self.envelopes)

    @cached_property
    def margins(self) -> tuple[np.ndarray, np.ndarray]:
        """For each outlet, in the state where least is left of one beyond the other: its margin and what is uncertain
        of it [Pa]."""
        margin, doubt = margins(self), uncertainty(self)
        worst = np.nanargmin(margin - doubt, axis=1)[:, None]
        return tuple(np.take_along_axis(values, worst, axis=1)[:, 0] for values in (margin, doubt))

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Why it stands where it does, the decisive first."""
        return _reasons(self)

    @property
    def order(self) -> tuple:
        """What outcomes are sorted by: whether it cures, how many devices, how much new pipe, how much energy.

        Of what does not cure, what leaves no fault where it was solved comes first; then people, then windows. A state
        that was not solved counts like one with flue gas in the room. Counts of an outcome that was solved in few
        states are not compared with those of all, so what is left beyond a window goes by its size.
        """
        yearly = self.duty.yearly if self.duty else 0.0
        fault = not serves(self)
        beyond = sum(e.above + e.below for e in self.envelopes)
        left = (self.gas_in_room + self.unsettled > 0, bool(self.pressed), beyond) if fault else ()
        against = len(self.judgement.against) if self.judgement else 0
        size = (len(self.remedy.devices), self.remedy.new_pipe, yearly, -self.margin)
        return (not self.cured, not self.holds, fault, *left, against, *size)


def serves(o: Outcome) -> bool:
    """Whether every state looked at was solved, every outlet stays inside its window, no flue gas enters the room, no
    appliance of category I or II meets positive pressure in its vent, and the fan does its duty."""
    return not (o.outside or o.gas_in_room or o.pressed or o.unsettled or o.remedy.unfit)


# --- Margins ------------------------------------------------------------------------------------------------


def margins(o: Outcome) -> np.ndarray:
    """Distance [Pa] of every outlet to the nearer edge of its window, in purge of the limits of that where it has some
    (appliances, states); NaN while it is off."""
    pressure, found = o.scan.solution.outlet_pressure, []
    for i, a in enumerate(o.remedy.plant.appliances):
        own, of_purge = ([float(w.m_as("Pa")) for w in window] for window in (a.window, a.purge_pressure or a.window))
        low, high = (np.where(o.scan.purging(i), p, f) for p, f in zip(of_purge, own, strict=True))
        inside = np.minimum(pressure[i] - low, high - pressure[i])
        found.append(np.where(o.scan.running(i), inside, np.nan))
    return np.array(found)


def uncertainty(o: Outcome, actuator_step: float = damper_sizing.ACTUATOR_STEP) -> np.ndarray:
    """What counts against a margin [Pa] (appliances, states): sensor, actuator, and a quarter of the loss between.

    The sensor is the one that governs an outlet: its own, else the header's, each off by `SENSOR_ACCURACY` of its
    range, with one step of the damper's actuator that it moves (``actuator_step`` of its stroke). Where nothing is
    held, the loss is that of the whole way to the open, where pressure is known.
    """
    sensors = {c.sensor: k for k, c in enumerate(o.held.controls)} if o.held else {}
    accuracy = float(np.ptp(SENSOR_RANGE.m_as("Pa"))) * SENSOR_ACCURACY
    found = []
    for a in o.remedy.plant.appliances:
        k = sensors.get(a.name, sensors.get(HEADER))
        known = accuracy + _steps(o, k, actuator_step) if k is not None else 0.0
        between = 0.0 if a.name in sensors else _loss_between(o.scan, a.name, HEADER if k is not None else None)
        found.append(np.broadcast_to(known + LOSS_DOUBT * between, len(o.scan.states)))
    return np.array(found)


def _steps(o: Outcome, k: int, actuator_step: float) -> np.ndarray:
    """What one step of its damper's actuator moves [Pa] in every state; 0 where a control has no damper."""
    control = o.held.controls[k]
    by_second = control.second is not None
    device = control.second.device if by_second else control.device
    found = np.zeros(len(o.scan.states))
    if isinstance(device, Damper):
        section = control.second.section if by_second else control.section
        taken = -(o.held.second if by_second else o.held.added)[k]
        acts = np.flatnonzero(o.held.acts[k] & o.held.settled)
        if acts.size:
            density = o.scan.solution.density[o.scan.solution.row(section), acts]
            flow = o.scan.solution.flow[o.scan.solution.row(section), acts] / density
            duties = Duties(flow, density, taken[acts], acts)
            found[acts] = damper_sizing.size(duties, [device], DAMPER_TOLERANCE, actuator_step=actuator_step)[0].step
    return found


def _loss_between(scan: Scan, appliance: str, sensor: str | None) -> np.ndarray:
    """Loss [Pa] between an outlet and the end of the header, or (None) the open, per state; all parts as sizes."""
    plant, solution = scan.plant, scan.solution
    ends = {t.name for t in plant.terminations}
    way, other = [s.name for s in plant.path(appliance)], []
    if sensor is not None:
        name = end_of_header.far_end(plant)
        while name not in ends:
            other.append(name)
            name = plant.section(name).into
    apart = [n for n in (*way, *other) if (n in way) != (n in other)]
    total = np.zeros(len(scan.states))
    for name in apart:
        row, into = plant.row(name), plant.section(name).into
        total += np.abs(solution.loss[row])
        if into not in ends:
            total += np.abs(solution.pressure_down[row] - solution.added[row] - solution.pressure_up[plant.row(into)])
        else:
            total += np.abs(solution.pressure_down[row] - solution.added[row])
    return total


# --- The comparison ------------------------------------------------------------------------------------------


def compare(job: Job, scan: Scan | None = None, most: int = MOST_PROVED, every: bool = False) -> tuple[Outcome, ...]:
    """Every remedy that applies to a job, sized and compared; the one to prefer first.

    All are solved in the states that govern. Those that leave no fault there are then solved in all; with ``every`` all
    are. What fails has more states added to those that govern. Where there are more than ``most`` states, all are a
    sample of them, with the ends of every outlet's range as drawn: beyond that the worst state under a remedy may be
    missed.
    What does not apply is named by `left_out`.
    """
    whole = _fewer(scan or firing_states.scan(job.plant, job.seasons, most), most)
    few = _Few(job, whole, governing_states.governing(whole))
    drawn = outcome(job, Remedy("as drawn", job.plant), whole)
    found = [*_piped(few), *(few.outcome(remedy) for remedy in _devices(few))]
    return tuple(sorted((drawn, *_proved(few, found, every)), key=lambda o: o.order))


class _Few:
    """The states that govern a job, and what is solved in them; more are added as remedies fail in others."""

    def __init__(self, job: Job, whole: Scan, picked: np.ndarray):
        self.job, self.whole, self.picked = job, whole, picked
        self._solved: dict[Plant, Scan] = {}

    @property
    def scan(self) -> Scan:
        """The vent as drawn in these states."""
        first = self.whole.first
        return self.of(replace(first, solution=first.solution.columns(self.picked)))

    def of(self, scan: Scan) -> Scan:
        return replace(scan, condition=None, history=None, complete=False)

    def natural(self, plant: Plant, near: Scan | None = None) -> Scan:
        """A vent without devices, solved from hot; ``near`` is that of another one, from which to begin."""
        if plant not in self._solved:
            drawn = near.solution.drawn if near is not None and _forced(plant) else None
            network = compile_network(plant, self.job.seasons)
            solution = solve_network(network, self.whole.conditions[self.picked], None, drawn)
            self._solved[plant] = Scan(plant, self.job.seasons, solution, self.whole.possible, False)
        return self._solved[plant]

    def everywhere(self, plant: Plant) -> Scan:
        """A vent without devices, solved from hot in all states."""
        solution = solve(plant, self.job.seasons, self.whole.conditions)
        return Scan(plant, self.job.seasons, solution, self.whole.possible, self.whole.complete)

    def from_every_past(self, plant: Plant) -> Scan:
        """A vent without devices in these states, with every root of each that a past leads to."""
        states = self.whole.conditions[self.picked]
        return firing_states.of_states(plant, self.job.seasons, states, self.whole.possible, False)

    def outcome(self, remedy: Remedy, natural: Scan | None = None) -> Outcome:
        """What a remedy leaves in these states; ``natural`` is its vent, solved, where nothing moves."""
        if not remedy.controls:
            found = _gathered(self.job, remedy, natural or self.natural(remedy.plant), None)
        else:
            found = outcome(self.job, remedy, self.scan, rough=True)
        return replace(found, everywhere=False)

    def add(self, scan: Scan) -> bool:
        """Add what governs another vent; whether there was anything new."""
        more = np.union1d(self.picked, governing_states.governing(scan))
        new, self.picked = more.size > self.picked.size, more
        self._solved.clear()
        return new


def _forced(plant: Plant) -> bool:
    """Whether every burner forces its flow: then a vent has one state of rest, wherever its search begins."""
    return all(a.kind == "forced" for a in plant.appliances)


def _proved(few: _Few, found: list[Outcome], every: bool) -> list[Outcome]:
    """The outcomes, those that leave no fault in the states that govern (or all) solved in every state."""
    found = list(found)
    while True:
        ranked = sorted((o for o in found if not o.everywhere and (every or serves(o))), key=lambda o: o.order)
        if not ranked:
            return found
        at = next(k for k, o in enumerate(found) if o is ranked[0])
        found[at] = outcome(few.job, _from_here(few, found[at].remedy), few.whole)
        if not serves(found[at]) and not every and few.add(found[at].scan):
            for k, o in enumerate(found):
                if not o.everywhere and serves(o):
                    found[k] = few.outcome(replace(o.remedy, start=None))


def _from_here(few: _Few, remedy: Remedy) -> Remedy:
    """The remedy with a start for all states: what the header lacks as drawn is what its device has to add."""
    start = None
    if remedy.controls and remedy.controls[0].sensor == HEADER and not remedy.rebuilt:
        lacks = end_of_header.header_pressure(few.whole.first) - remedy.set_point.m_as("Pa")
        start = np.zeros((len(remedy.controls), lacks.size))
        start[0] = np.nan_to_num(lacks) if remedy.fan else np.minimum(np.nan_to_num(lacks), 0.0)
    return replace(remedy, start=start)


def _fewer(scan: Scan, most: int) -> Scan:
    """The scan itself, or a sample of a large one that keeps the ends of every outlet's and the header's range."""
    if len(scan.conditions) <= most:
        return scan
    scan = scan.first
    total = len(scan.states)
    runs = np.array([scan.running(i) for i in range(len(scan.plant.appliances))])
    outlets = np.where(runs, scan.solution.outlet_pressure, np.nan)
    ranges = np.concatenate([outlets, end_of_header.header_pressure(scan)[None]])
    ends = [np.argsort(sign * values)[:_AT_EACH_END] for values in ranges for sign in (1.0, -1.0)]  # NaN come last
    picked = np.unique([*np.random.default_rng(0).choice(total, most, replace=False), *np.concatenate(ends)])
    return firing_states.of_states(scan.plant, scan.seasons, scan.states[picked], scan.possible, False)


def left_out(job: Job) -> tuple[tuple[str, str], ...]:
    """The remedies that do not apply to a job: the name of each, and why in one sentence."""
    plant, found = job.plant, []
    for name, change, by in (
        ("larger vent", vent_changes.wider, 1),
        ("taller stack", vent_changes.with_top, HEIGHTS_TRIED[0]),
        ("shorter stack with a fan", vent_changes.with_top, SHORTENED),
    ):
        try:
            change(plant, by)
        except ValueError as error:
            found.append((name, f"{str(error)[0].upper()}{str(error)[1:]}."))
    if vent_changes.with_laterals(plant) == plant:
        found.append(("laterals", "No branch enters square."))
    if vent_changes.with_cap(plant) == plant:
        found.append(("better cap", "Its end costs little already."))
    if not vent_changes.natural(plant):
        found.append(("narrower vent", "Some appliance forces its flow: its vent is not too large for want of warmth."))
    if not any(s.material.name == vent_changes.MASONRY for s in plant.sections):
        found.append(("liner", "No flue is of masonry."))
    if len(plant.appliances) == 1:
        found.append(("larger connectors", "One appliance has no connector of its own beside the vent."))
        found.append(("damper at each outlet", "With one appliance, control at its outlet is control of the vent."))
    elif not _governs(plant):
        why = "No burner forces its flow; behind a draft hood or a regulator a damper makes the appliance spill."
        found.append(("damper at each outlet", why))
    return tuple(found)


def _governs(plant: Plant) -> bool:
    """Whether dampers at the outlets are a remedy of their own."""
    return len(plant.appliances) > 1 and any(a.kind == "forced" for a in plant.appliances)


def offered(job: Job, scan: Scan | None = None) -> Outcome | None:
    """The remedy that the job names, sized where the job leaves it open; None where it names none or no fan fits.

    Its fan and damper may be given, and the header's set point. With dampers at the outlets the header is held as low
    as they need it, unless a set point is given.
    """
    if job.offered is None:
        return None
    scan = scan or firing_states.scan(job.plant, job.seasons)
    name, fan, damper = job.offered.name, job.offered.fan, job.offered.damper
    held = job.offered.set_point or job.set_point
    at = (job, job.plant, held, scan.conditions)
    if name.startswith("damper at each outlet"):
        alone, with_fan = _outlet_dampers(job, scan.first, job.offered.set_point, fan)
        remedy = alone if name == alone.name else with_fan
    elif name == "fan":
        remedy = fan_in_stack(*at, fan)
    elif name == "damper":
        remedy = damper_in_stack(*at, damper)
    else:
        remedy = fan_and_damper(*at, fan, damper)
    if remedy.unfit and fan is None:
        return None
    serve = _serve(common_window.held_common_window(scan.first))
    return outcome(job, replace(remedy, serve=serve), scan)


def _pressed(scan: Scan) -> tuple[str, ...]:
    """Sections under positive pressure in some state that serve an appliance made for a negative one."""
    plant = scan.plant
    negative = {a.name for a in plant.appliances if not CATEGORIES[a.category].positive}
    if not negative:
        return ()
    return tuple(
        section.name
        for section, met in zip(plant.order, section_extremes.extremes(scan), strict=True)
        if met.pressure[1] > held_pressure.TOLERANCE and negative & {a.name for a in plant.serves(section.name)}
    )


def outcome(job: Job, remedy: Remedy, scan: Scan | None = None, rough: bool = False) -> Outcome:
    """Solve a remedy in every state and gather what it leaves.

    ``scan`` is that of the job as drawn; its conditions are solved from hot, and from idle too where the plant has a
    hood or a regulator, and wherever the remedy would otherwise count as a cure: none cures a vent that spills from one
    of them. Where only idle boilers leak, a remedy that fails already is not followed from idle as well. ``rough``:
    from hot alone, to choose among sizes.
    """
    scan = scan or firing_states.scan(job.plant, job.seasons, MOST_PROVED)
    hoods = not _forced(job.plant)
    if remedy.controls:
        near = None if hoods else scan.first.solution.drawn
        held = held_pressure.hold(remedy.plant, job.seasons, scan.conditions, remedy.controls, remedy.start, near)
        found = None if hoods else _gathered(job, remedy, held.scan(scan.first), held)
        if rough or (found and not found.holds):
            return found or _gathered(job, remedy, held.scan(scan.first), held)
        held = held_pressure.worse_from_idle(remedy.plant, job.seasons, scan.conditions, held)
        return _gathered(job, remedy, held.scan(scan.first), held)
    if remedy.plant is job.plant:
        return _gathered(job, remedy, scan, None)
    if rough or not hoods:
        hot = solve(remedy.plant, job.seasons, scan.conditions)
        found = _gathered(job, remedy, replace(scan.first, plant=remedy.plant, solution=hot), None)
        if rough or not found.holds:
            return found
    whole = firing_states.of_states(remedy.plant, job.seasons, scan.conditions, scan.possible, scan.complete)
    return _gathered(job, remedy, whole, None)


def _gathered(job: Job, remedy: Remedy, scan: Scan, held: Held | None) -> Outcome:
    """What a remedy leaves, from its scan."""
    rating = None if remedy.damper is None else _rating(remedy, held)
    return Outcome(
        remedy=remedy,
        scan=scan,
        held=held,
        envelopes=outlet_envelope.envelopes(scan),
        pressed=_pressed(scan),
        outside=scan.count(outlet_envelope.outside_window(scan).any(axis=0)),
        gas_in_room=scan.count((reversal.flue_gas_in_room(scan)[0] > reversal.REVERSAL_FLOW).any(axis=0)),
        unheld=0 if held is None else int(held.missed.any(axis=0).sum()),
        unsettled=scan.count(~(scan.solution.converged if held is None else held.settled)),
        duty=None if remedy.fan is None else _duty(job, remedy, scan, held),
        position=None if rating is None else _positions(rating, len(scan.states)),
        step=0.0 if rating is None else float(rating.step.max()),
    )


# --- Pipe ------------------------------------------------------------------------------------------------------


def _piped(few: _Few) -> list[Outcome]:
    """Remedies of pipe: one change each, several together, and those with one device."""
    job, plant, drawn = few.job, few.job.plant, few.scan
    found = []
    for name, plants in _single_changes(plant):
        found += _best(few, name, plants, drawn)
    together = _opened(few, drawn)
    for k, (changed, scan) in enumerate(together):
        name = "pipe changes" if k == 0 else "pipe changes, more of them"
        found.append(few.outcome(Remedy(name, changed, plant), scan))
    for changed, scan in together[-1:]:
        floor = end_of_header.header_pressure(scan)
        serve = _serve(common_window.common_window(scan), floor=np.where(np.isnan(floor), -np.inf, floor))
        if serve[0] <= serve[1]:
            made = damper_in_stack(job, changed, Q_(sum(serve) / 2.0, "Pa"), scan.states)
            found.append(few.outcome(replace(made, name="pipe changes and a damper", drawn=plant, serve=serve)))
    return found


def _single_changes(plant: Plant) -> list[tuple[str, list[Plant | None]]]:
    """Every kind of change by its name, with the vents to try; None where one cannot be built."""
    steps = range(1, SIZES_TRIED + 1)
    connectors = tuple(n for key, names in vent_changes.parts(plant).items() if key.startswith("conn") for n in names)
    lateral, capped = vent_changes.with_laterals(plant), vent_changes.with_cap(plant)
    found = [
        ("larger vent", [_tried(vent_changes.wider, plant, k) for k in steps]),
        ("larger connectors", [_tried(vent_changes.sized, plant, connectors, k) for k in (1, 2) if connectors]),
        ("laterals", [lateral if lateral != plant else None]),
        ("taller stack", [_tried(vent_changes.with_top, plant, factor) for factor in _factors(plant)]),
        ("better cap", [capped if capped != plant else None]),
    ]
    if vent_changes.natural(plant):
        found.append(("narrower vent", [_tried(vent_changes.wider, plant, -k) for k in steps]))
        liners = [Q_(float(inches), "inch") for inches in vent_changes.INCHES]
        found.append(("liner", [_tried(vent_changes.lined, plant, each) for each in liners]))
    return found


def _factors(plant: Plant) -> list[float]:
    """Factors of the last section's rise that make the whole rise behind the header as in `HEIGHTS_TRIED`."""
    whole, own = vent_changes.rise_behind_header(plant)
    own = max(own, 1e-9)
    return [1.0 + (times - 1.0) * max(whole, own) / own for times in HEIGHTS_TRIED]


def _tried(change, plant: Plant, *by) -> Plant | None:
    """The plant changed, or None where it cannot be."""
    try:
        return change(plant, *by)
    except ValueError:
        return None


def _best(few: _Few, name: str, plants: Sequence[Plant | None], near: Scan) -> list[Outcome]:
    """What the one of those tried leaves that leaves least; nothing where none could be built.

    They are steps in one direction: once a further one leaves more, no other is tried. A flue that may be too large
    is looked at from idle and turned over too: that is where it fails.
    """
    built: list[Outcome] = []
    too_large = name in ("narrower vent", "liner")
    for plant in [each for each in plants if each is not None][:SIZES_TRIED]:
        solved = few.from_every_past(plant) if too_large else few.natural(plant, near)
        found = few.outcome(Remedy(name, plant, few.job.plant), solved)
        built.append(found)
        if not too_large and _least(built) is not found:
            break
    return [replace(_least(built), remedy=replace(_least(built).remedy, tried=len(built)))] if built else []


def _least(built: list[Outcome]) -> Outcome:
    """The one of some vents that leaves least; of those alike the one with gas in the room in fewer states."""
    return min(built, key=lambda o: (*o.order[:-4], o.gas_in_room, o.order[-4:]))


def _opened(few: _Few, drawn: Scan) -> list[tuple[Plant, Scan]]:
    """Vents with better pipe, each with its states: the first in which no outlet stands too high, and the first that
    has to spare what a damper costs wide open and a quarter of the loss to the header; or the best there is.

    Step by step, from the outlet that stands highest in its worst state: of all changes of one size or one kind those
    that promise most for the pipe they take are solved, and the one that brings most for it is kept.
    """
    plant, scan, found = few.job.plant, drawn, []
    for _ in range(MOST_CHANGES):
        excess, spare, states = _excess(scan)
        if not found and excess.max() <= 0.0 and plant is not few.job.plant:
            found.append(plant)
        if (excess + spare).max() <= 0.0:
            if not few.add(few.everywhere(plant)):
                break
            scan = few.natural(plant)  # and on, where it fails in states that did not govern the vent as drawn
            continue
        worst = int((excess + spare).argmax())
        outlet = plant.appliances[worst % len(plant.appliances)].name
        losses = vent_changes.losses(scan.solution, outlet, int(states[worst]))
        better = []
        for changed in _promising(few.job.plant, plant, losses, float((excess + spare)[worst])):
            solved = few.natural(changed, scan)
            after, beside, _ = _excess(solved)
            gain = np.maximum(excess + spare, 0.0).sum() - np.maximum(after + beside, 0.0).sum()
            if gain > STILL:
                better.append((gain / _cost(few.job.plant, plant, changed), changed, solved))
        if not better:
            break
        _, plant, scan = max(better, key=lambda each: each[0])
    if plant is not few.job.plant and plant not in found:
        found.append(plant)
    return [(plant, few.natural(plant)) for plant in found]


def _cost(drawn: Plant, plant: Plant, changed: Plant) -> float:
    """New pipe [m2] that a further change takes."""
    return max(vent_changes.new_pipe(drawn, changed) - vent_changes.new_pipe(drawn, plant), 0.1)


def _promising(drawn: Plant, plant: Plant, losses: vent_changes.Losses, need: float) -> list[Plant]:
    """The changes of a vent that promise most for their pipe to the outlet with these losses; ``need`` [Pa] is what it
    lacks: a part is made two sizes larger at once where one promises less than half of that."""
    made = [vent_changes.with_laterals(plant), vent_changes.with_cap(plant)]
    for names in vent_changes.parts(plant).values():
        one, two = (_tried(vent_changes.sized, plant, names, steps) for steps in (1, 2))
        small = two is not None and one is not None and vent_changes.relief(plant, one, losses) < 0.5 * need
        made.append(two if small else one)
    possible = [each for each in made if each is not None and each != plant]
    promised = [vent_changes.relief(plant, each, losses) for each in possible]
    most = max(promised, default=0.0)
    worth = sorted(
        (
            (promise / _cost(drawn, plant, each), k)
            for k, (promise, each) in enumerate(zip(promised, possible, strict=True))
            if promise >= WORTH * most and promise > 0.0
        ),
        reverse=True,
    )
    return [possible[k] for value, k in worth[:FOLLOWED] if value >= HALF * worth[0][0]]


def _excess(scan: Scan) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How far [Pa] every outlet rises above what it may at worst, a quarter of its loss to the header, and the state.

    Two rows an appliance: while it runs, above its window; while it is off and may leak, above the room.
    """
    edges = np.array([float(a.window[1].m_as("Pa")) for a in scan.plant.appliances])[:, None]
    leaks = np.array([a.idle == "leaking" for a in scan.plant.appliances])[:, None]
    runs, pressure = scan.states.codes > 0, scan.solution.outlet_pressure
    above = np.concatenate([
        np.where(runs, pressure - edges, -np.inf),
        np.where(leaks & ~runs & scan.any_firing, pressure, -np.inf),
    ])  # fmt: skip
    doubt = LOSS_DOUBT * np.array([_loss_between(scan, a.name, HEADER) for a in scan.plant.appliances] * 2)
    base = scan.plant.section(held_pressure.stack_base(scan.plant))
    open_loss = float(Damper("butterfly", base.diameter, base.diameter, LEAKAGE).loss(1.0))
    spare = doubt + open_loss * scan.solution.head[scan.solution.row(base.name)]
    states = (above + spare).argmax(axis=1)
    return *(np.take_along_axis(v, states[:, None], axis=1)[:, 0] for v in (above, spare)), states


# --- Devices ------------------------------------------------------------------------------------------------


def _devices(few: _Few) -> list[Remedy]:
    """Remedies with something that moves, on the vent as drawn: at the job's set point, and at the middle of those that
    serve with that device, where there are any."""
    job, scan, found = few.job, few.scan, []
    by_itself = end_of_header.header_pressure(scan)
    _, bare = _end_kind(job.plant)
    near = Q_(common_window.common_window(scan).best, "Pa")
    first = _needed(job, bare, near, scan.states, start=np.nan_to_num(by_itself - near.m_as("Pa"))[None])
    window = common_window.common_window(first.scan(scan))
    known = {float(near.m_as("Pa")): first}

    def need(set_point: Quantity) -> Held:
        key = float(set_point.m_as("Pa"))
        closest = min(known, key=lambda other: abs(other - key))
        if abs(closest - key) > NEAR:
            known[key] = _needed(job, bare, set_point, scan.states, None, known[closest].added + closest - key)
            closest = key
        held = known[closest]
        return replace(held, controls=(replace(held.controls[0], set_point=set_point),))

    for make, reach in (
        (fan_in_stack, {"ceiling": np.where(np.isnan(by_itself), np.inf, by_itself)}),
        (damper_in_stack, {"floor": np.where(np.isnan(by_itself), -np.inf, by_itself)}),
        (fan_and_damper, {}),
    ):
        serve = _serve(window, **reach)
        for set_point in _set_points(job, window, serve, make is fan_and_damper):
            made = make(job, job.plant, set_point, scan.states, needed=need(set_point))
            said = "" if set_point is job.set_point else ", other set point"
            found.append(replace(made, name=f"{made.name}{said}", serve=serve))
    found += _shorter(job, window, scan.states, first)
    if _governs(job.plant):
        found += _outlet_dampers(job, scan)
    return found


def _serve(window: CommonWindow, **reach) -> tuple[float, float]:
    """Least and greatest set point [Pa] with which every outlet stays in its window, and no idle one above the room.

    ``reach``: how far the device can bring the header, as in `common_window.CommonWindow.within_reach`.
    """
    scan = window.scan
    leaks = np.array([a.idle == "leaking" for a in scan.plant.appliances])[:, None]
    below = end_of_header.header_pressure(scan) - scan.solution.outlet_pressure
    idle = leaks & (scan.states.codes == 0) & scan.any_firing
    low, high = window.within_reach(**reach)
    return low, min(high, float(np.where(idle, below, np.inf).min()))


def _set_points(job: Job, window: CommonWindow, serve: tuple[float, float], both: bool) -> list[Quantity]:
    """The job's set point, and the middle of those that serve; where none does but both devices act, the one that
    leaves least."""
    if serve[0] <= serve[1]:
        middle = 0.5 * sum(serve)
    elif both:
        middle = window.best
    else:
        return [job.set_point]
    near = abs(middle - job.set_point.m_as("Pa")) <= STILL
    return [job.set_point] if near else [job.set_point, Q_(float(middle), "Pa")]


def fan_in_stack(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    fan: Fan | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A fan where the header's vent ends, its speed set to hold the header: the one given, or the one to prefer.

    Where none in the table fits it is the one that comes nearest, and ``unfit`` says so. ``needed`` is what an ideal
    device there would add, where that is known.
    """
    kind, plant = _end_kind(plant)
    needed = needed or _needed(job, plant, set_point, states)
    chosen = _fan_for(job, plant, kind, needed, fan)
    control = replace(needed.controls[0], device=chosen["fan"])
    return Remedy("fan", plant, controls=(control,), set_point=set_point, start=needed.added, **chosen)


def damper_in_stack(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    damper: Damper | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A modulating damper at the base of the stack, set to hold the header: the one given, or the one to prefer.

    ``needed`` is what an ideal device at the vent's end would add, where that is known: little else is asked here.
    """
    base = plant.section(held_pressure.stack_base(plant))
    start = None if needed is None else needed.added
    needed = _needed(job, plant, set_point, states, base.name, start)
    damper = damper or _damper_for(base.diameter, _damper_duties(needed, base.name, -needed.added[0]))
    control, start = Control(base.name, damper, HEADER, set_point), np.minimum(needed.added, 0.0)
    return Remedy("damper", plant, controls=(control,), damper=damper, set_point=set_point, start=start)


@dataclass(frozen=True)
class Helping:
    """A fan beside a damper: kept so fast that it never resists, since throttling is the damper's work.

    A fan at its least speed in a strong draft would resist, and put the stack before it under pressure.
    """

    drive: Drive

    def limits(self, flow, density, area):
        """Least and most total pressure [Pa] that it adds; the least is not below nought where it can add."""
        least, most = self.drive.limits(flow, density, area)
        return np.maximum(least, np.minimum(most, 0.0)), most


def fan_and_damper(
    job: Job,
    plant: Plant,
    set_point: Quantity,
    states: States,
    fan: Fan | None = None,
    damper: Damper | None = None,
    needed: Held | None = None,
) -> Remedy:
    """A fan at the vent's end, and a damper at the base of the stack for what the fan at its least makes too much.

    One controller moves both in turn (`held_pressure.Second`). The fan is chosen to overcome the damper's own loss wide
    open as well; ``needed`` and what happens where none fits are as in `fan_in_stack`.
    """
    kind, plant = _end_kind(plant)
    base = plant.section(held_pressure.stack_base(plant))
    needed = needed or _needed(job, plant, set_point, states)
    drive = _fan_for(job, plant, kind, needed, fan)["fan"]
    area = plant.section(needed.controls[0].section).area
    idle, _ = Helping(drive).limits(needed.flow[0], needed.density[0], area)
    duties = _damper_duties(needed, base.name, idle - needed.added[0])
    damper = damper or _damper_for(base.diameter, duties)
    costs = np.zeros(len(states))
    costs[duties.states] = damper.loss(damper.most) * damper.head(duties.flow, duties.density)
    chosen = _fan_for(job, plant, kind, replace(needed, added=needed.added + costs), fan)
    control = replace(needed.controls[0], device=Helping(chosen["fan"]), second=Second(base.name, damper))
    held = {"set_point": set_point, "damper": damper, "start": needed.added}
    return Remedy("fan and damper", plant, controls=(control,), **held, **chosen)


def _damper_duties(held: Held, section: str, destroy: np.ndarray) -> Duties:
    """Of what there is to ``destroy`` [Pa] per state, where the first control acts and has come to rest."""
    row, states = held.solution.row(section), np.flatnonzero(held.acts[0] & held.settled)
    density = held.solution.density[row, states]
    return Duties(held.solution.flow[row, states] / density, density, destroy[states], states)


def _shorter(job: Job, window: CommonWindow, states: States, near: Held) -> list[Remedy]:
    """A fan on a stack that is shorter than drawn, so that it is seen less and makes less draft of its own."""
    plant = _tried(vent_changes.with_top, job.plant, SHORTENED)
    if plant is None:
        return []
    serve = _serve(window)
    inside = serve[0] <= job.set_point.m_as("Pa") <= serve[1]
    set_point = job.set_point if inside or serve[0] > serve[1] else Q_(sum(serve) / 2.0, "Pa")
    needed = _needed(job, _end_kind(plant)[1], set_point, states, None, near.added)
    remedy = fan_in_stack(job, plant, set_point, states, needed=needed)
    return [replace(remedy, name="shorter stack with a fan", drawn=job.plant, serve=serve)]


def _outlet_dampers(job: Job, scan: Scan, set_point: Quantity | None = None, fan: Fan | None = None) -> list[Remedy]:
    """A damper at every outlet whose burner forces its flow: on the vent's own draft, and with a fan."""
    devices = outlet_control.round_dampers(job.plant, LEAKAGE)
    shut = outlet_control.with_shut_dampers(job.plant, devices)
    names = tuple(devices)
    alone = Remedy("damper at each outlet", shut, controls=outlet_control.controls(shut, devices), outlets=names)
    _, plant = _end_kind(shut)
    # What leaks through idle appliances moves a little with the header: so it is held near the answer first.
    first = set_point or Q_(outlet_control.header_needed(scan, devices), "Pa")
    needed = _needed(job, plant, first, scan.states)
    header = set_point or Q_(outlet_control.header_needed(needed.scan(scan), devices), "Pa")
    moved = float((first - header).m_as("Pa"))
    if moved:
        needed = _needed(job, plant, header, scan.states, start=needed.added + moved)
    drawn = fan_in_stack(job, shut, header, scan.states, fan, needed)
    own = outlet_control.controls(drawn.plant, devices)
    start = np.concatenate([drawn.start, np.zeros((len(own), len(scan.states)))])
    name = "damper at each outlet and a fan"
    return [alone, replace(drawn, name=name, controls=(*drawn.controls, *own), outlets=names, start=start)]


def _end_kind(plant: Plant) -> tuple[str, Plant]:
    """The kind of fan that suits the vent's end, and the plant without a cap where a roof fan takes its place."""
    top = plant.section(held_pressure.before_termination(plant))
    upright = top.rise.m_as("m") > 0.5 * top.length.m_as("m")
    return ("roof", with_free_end(plant)) if upright else ("in-line", plant)


def _needed(
    job: Job, plant: Plant, set_point: Quantity, states: States, section: str | None = None, start=None
) -> Held:
    """What an ideal device would have to add in every state, in a section or (None) where the header's vent ends."""
    section = section or held_pressure.before_termination(plant)
    return held_pressure.hold(plant, job.seasons, states, (Control(section, Ideal(), HEADER, set_point),), start)


def _fan_for(job: Job, plant: Plant, kind: str, needed: Held, fan: Fan | None = None) -> dict:
    """The fan given, or the one to prefer for what is needed in every state.

    As ``fan``, ``unfit``, ``smallest`` and ``wet`` of a `Remedy`.
    """
    row = needed.solution.row(needed.controls[0].section)
    area, pick = plant.section(needed.controls[0].section).area, np.flatnonzero(needed.acts[0] & (needed.flow[0] > 0.0))
    flow, density, added = needed.flow[0, pick], needed.density[0, pick], needed.added[0, pick]
    cold = float(compile_network(plant, job.seasons).outdoor_density.max())
    static = added - friction.velocity_head.bare(density, flow / area)
    hot = needed.solution.downstream[row, pick]
    # What settles on the wall of the section before a fan settles on the fan.
    wet = bool((needed.solution.condensed[row, pick] > 0.0).any())
    kind, among = (kind, None) if fan is None else (fan.kind, [fan])
    chosen = fan_selection.select.bare(flow, static, density, hot, cold, kind, among, area=area, wet=wet)
    if chosen.fitting:
        coolest = min(float(c.fan.highest_temperature.m_as("K")) for c in chosen.fitting)
        best = min(chosen.fitting, key=lambda c: _too_much(c, DEARER * coolest)).fan
        smallest = fan is None and best.free_flow <= min(c.fan.free_flow for c in chosen.fitting)
        return {"fan": _drive(best, cold), "unfit": "", "smallest": smallest, "wet": wet}
    unfit = NO_FAN_FITS if fan is None else FALLS_SHORT
    return {"fan": _drive(chosen.rejected[0].fan, cold), "unfit": unfit, "smallest": False, "wet": wet}


def _too_much(candidate: Candidate, dear: float) -> tuple[bool, bool, float]:
    """What fans that fit are sorted by: a tenth of speed to spare, not made for gas as hot as ``dear`` [K], then what
    they make too much at least speed."""
    hot = float(candidate.fan.highest_temperature.m_as("K")) > dear
    return candidate.margin < fan_selection.LEAST_MARGIN, hot, float(np.maximum(candidate.excess, 0.0).mean())


def _drive(fan: Fan, cold: float) -> Drive:
    """The speeds at which a fan may turn: from its least to what its motor carries in the coldest air [kg/m3]."""
    return Drive(fan, fan.least_speed, max(fan.least_speed, float(fan_limits.motor_speed_limit.bare(fan, cold))))


def _damper_for(diameter: Quantity, duties: Duties) -> Damper:
    """The damper to prefer in a round vent; where none of those tried fits, the one that fails least."""
    around = int(np.clip(round(float((diameter / BLADE_WIDTH).m_as(""))), *BLADES))
    inside = int(np.clip(round(around / np.sqrt(2.0)), *BLADES))
    tried = (
        dampers.square_in_round(diameter, "around", "opposed", around, LEAKAGE, BLADE_THICKNESS),
        dampers.square_in_round(diameter, "inside", "opposed", inside, LEAKAGE, BLADE_THICKNESS),
        Damper("butterfly", diameter, diameter, LEAKAGE),
    )
    return damper_sizing.size(duties, tried, DAMPER_TOLERANCE)[0].damper


# --- What the chosen devices do -------------------------------------------------------------------------------


def _duty(job: Job, remedy: Remedy, scan: Scan, held: Held) -> FanDuty:
    k = [c.sensor for c in held.controls].index(HEADER)
    section = held.controls[k].section
    states = np.flatnonzero(held.acts[k])
    flow, density, fan = held.flow[k, states], held.density[k, states], remedy.fan.fan
    static = held.added[k, states] - fan_drive.own_head(fan, flow, density, remedy.plant.section(section).area)
    needed = fan_curve.speed_for.bare(fan, np.maximum(flow, 0.0), static, density)
    speed = np.clip(np.nan_to_num(needed, nan=remedy.fan.most_speed), remedy.fan.least_speed, remedy.fan.most_speed)
    power = fan_curve.shaft_power.bare(fan, flow, speed, density)
    usual = ~scan.states.cold[states].astype(bool) & ~scan.states.windy[states].astype(bool)
    return FanDuty(
        states=states,
        flow=flow,
        static=static,
        density=density,
        temperature=scan.solution.downstream[scan.solution.row(section), states],
        speed=speed,
        power=power,
        stalled=fan_limits.stalled.bare(fan, flow, speed),
        yearly=float(power[usual if usual.any() else ...].mean() / MOTOR_EFFICIENCY * job.hours.m_as("s")),
    )


def _rating(remedy: Remedy, held: Held) -> Rating:
    """How the stack's damper does what it was found to do in the solved states."""
    taken = held.second[0] if remedy.fan else held.added[0]
    duties = _damper_duties(held, held_pressure.stack_base(remedy.plant), -taken)
    return damper_sizing.size(duties, [remedy.damper], DAMPER_TOLERANCE)[0]


def _positions(rating: Rating, states: int) -> np.ndarray:
    found = np.full(states, np.nan)
    found[rating.duties.states] = rating.position
    return found


# --- Why it stands there --------------------------------------------------------------------------------------


def _reasons(o: Outcome) -> tuple[Reason, ...]:
    total, found = len(o.scan.conditions), []
    worst = min(o.envelopes, key=lambda e: e.margin)
    if o.gas_in_room:
        found.append(Reason("gas in room", (), {"states": o.gas_in_room, "total": total}))
    if o.outside:
        found += _outside(o, worst, total)
    if o.pressed:
        found.append(Reason("positive pressure", o.pressed))
    if o.unsettled:
        found.append(Reason("unsolved", (), {"states": o.unsettled}))
    if o.remedy.unfit:
        fan = o.remedy.fan.fan
        found.append(Reason(o.remedy.unfit, (fan.name,), {"kind": fan.kind}))
    if not o.outside:
        found.append(Reason("inside windows", (), {"total": total, "margin": Q_(worst.margin, "Pa")}))
        found += _doubtful(o)
    if not o.everywhere:
        found.append(Reason("governing states", (), {"total": total, "possible": o.scan.possible}))
    elif not o.scan.complete:
        found.append(Reason("sample", (), {"possible": o.scan.possible}))
    if o.remedy.rebuilt:
        found.append(Reason("new pipe", (), {"area": Q_(o.remedy.new_pipe, "m**2")}))
    found += _set_point_reasons(o)
    found += _unheld(o)
    if o.duty is not None:
        found += _fan_reasons(o)
    if o.position is not None:
        found += _damper_reasons(o)
    found += _long_runs(o.scan.plant)
    if vent_changes.natural(o.scan.plant) and vent_changes.breaks_area_rule(o.scan.plant):
        found.append(_area_rule(o.scan.plant))
    return tuple(found)


def _outside(o: Outcome, worst: Envelope, total: int) -> list[Reason]:
    """By how much the worst outlet leaves its window; and where others do so on the other side, the worst of them."""
    found = [_beyond(worst, worst.above >= worst.below)]
    first = found[0]
    found[0] = replace(first, code="outside window", figures={"states": o.outside, "total": total, **first.figures})
    above = first.figures["side"] == "above"
    other = max(o.envelopes, key=lambda e: e.below if above else e.above)
    if (other.below if above else other.above) > 0.0:
        found.append(_beyond(other, not above))
    return found


def _beyond(e: Envelope, above: bool) -> Reason:
    by, state, side = (e.above, e.high_state, "above") if above else (e.below, e.low_state, "below")
    return Reason("outside window too", (e.appliance,), {"beyond": Q_(by, "Pa"), "side": side}, state)


def _doubtful(o: Outcome) -> list[Reason]:
    """Outlets whose margin is less than what is uncertain of it."""
    found = []
    for e, margin, doubt in zip(o.envelopes, *o.margins, strict=True):
        if margin < doubt:
            figures = {"margin": Q_(float(margin), "Pa"), "uncertain": Q_(float(doubt), "Pa")}
            found.append(Reason("margin within doubt", (e.appliance,), figures))
    return found


def _set_point_reasons(o: Outcome) -> list[Reason]:
    if o.remedy.serve is None or o.remedy.set_point is None or o.remedy.outlets:
        return []
    low, high = o.remedy.serve
    if not np.isfinite([low, high]).all():
        return []
    if low > high:
        return [Reason("no set point", (), {"lacking": Q_(low - high, "Pa")})]
    outside = not low <= o.remedy.set_point.m_as("Pa") <= high
    code = "set point outside" if outside else "set points"
    return [Reason(code, (), {"low": Q_(low, "Pa"), "high": Q_(high, "Pa")})]


def _limit(control: Control, at: int) -> str:
    """A control's device at its least (-1), its most (1) or between, by its code in `remedy_words.LIMITS`."""
    damper = isinstance(control.device, Damper)
    if at == 0:
        return "between"
    if at > 0:
        return "damper open" if damper else "fan fastest"
    if damper:
        return "damper shut"
    return "fan slowest, damper shut" if control.second else "fan slowest"


def _unheld(o: Outcome) -> list[Reason]:
    """Where controls cannot hold, and why: the device is at one of its limits; each side by itself, the worse first."""
    found = []
    for k, control in enumerate(o.held.controls if o.unheld else ()):
        error = np.where(o.held.missed[k], o.held.error[k], 0.0)
        for sign in sorted((-1.0, 1.0), key=lambda side: -(side * error).max()):
            missed = np.flatnonzero(sign * error > 0.0)
            if not missed.size:
                continue
            at = int(missed[(sign * error[missed]).argmax()])
            figures = {
                "states": int(missed.size),
                "sensor": control.sensor,
                "off": Q_(abs(float(error[at])), "Pa"),
                "side": "above" if sign > 0 else "below",
                "limit": _limit(control, int(o.held.at[k, at])),
            }
            found.append(Reason("not held", (control.sensor,), figures, at))
            if control.sensor == HEADER and o.remedy.outlets and sign < 0:
                found.append(Reason("left to outlets"))
    return found


def _fan_reasons(o: Outcome) -> list[Reason]:
    duty, fan = o.duty, o.remedy.fan
    hardest = int(duty.speed.argmax())
    figures = {
        "slowest": float(duty.speed.min()),
        "fastest": float(duty.speed.max()),
        "flow": Q_(float(duty.flow[hardest]), "m**3/s"),
        "static": Q_(float(duty.static[hardest]), "Pa"),
        "yearly": Q_(duty.yearly, "J"),
    }
    found = [Reason("fan works", (fan.fan.name,), figures, int(duty.states[hardest]))]
    slowest = int((duty.speed <= fan.least_speed * AT_LEAST).sum())
    if slowest:
        found.append(Reason("fan at least speed", (fan.fan.name,), {"states": slowest}))
    if 2 * slowest > duty.speed.size and o.remedy.smallest:
        found.append(Reason("fan too large", (fan.fan.name,), {"kind": fan.fan.kind}))
    if duty.stalled.any():
        found.append(Reason("fan stalled", (fan.fan.name,), {"states": int(duty.stalled.sum())}))
    hottest = float(duty.temperature.max())
    if hottest > fan.fan.highest_temperature.m_as("K"):
        figures = {"hottest": Q_(hottest, "K"), "stands": fan.fan.highest_temperature}
        found.append(Reason("fan too hot", (fan.fan.name,), figures))
    if o.remedy.wet and not fan.fan.condensate:
        found.append(Reason("fan wet", (fan.fan.name,)))
    return found


def _damper_reasons(o: Outcome) -> list[Reason]:
    least, most = float(np.nanmin(o.position)), float(np.nanmax(o.position))
    if least > o.remedy.damper.most - 0.005:
        return [Reason("damper idle")]
    found = [Reason("damper works", (), {"least": least, "most": most})]
    if o.step > DAMPER_TOLERANCE.m_as("Pa"):
        figures = {"stroke": damper_sizing.ACTUATOR_STEP, "step": Q_(o.step, "Pa"), "allowed": DAMPER_TOLERANCE}
        found.append(Reason("damper coarse", (), figures))
    return found


def _long_runs(plant: Plant) -> list[Reason]:
    """Where an appliance's own run is longer, by its plain length, than its instructions allow."""
    found = []
    for a in plant.appliances:
        own = [s.length for s in plant.path(a.name) if len(plant.serves(s.name)) == 1]
        if a.longest_run is not None and sum(length.m_as("m") for length in own) > a.longest_run.m_as("m"):
            found.append(Reason("run too long", (a.name,), {"run": sum(own[1:], own[0]), "allowed": a.longest_run}))
    return found


def _area_rule(plant: Plant) -> Reason:
    stack = plant.section(held_pressure.before_termination(plant)).diameter
    smallest = min((a.outlet_diameter for a in plant.appliances), key=lambda d: d.m_as("m"))
    return Reason(
        "area rule", (), {"times": ((stack / smallest) ** 2).to(""), "allowed": Q_(vent_changes.area_rule.times(), "")}
    )
