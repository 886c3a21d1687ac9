"""Remedies: what may cure a vent, each sized for every firing state of one job, and compared.

A vent has too little draft, too much, or both in turn. `compare` builds each remedy on the job's own drawing, sizes
it by what every state asks of it, solves all states again with the device that was chosen (its limits and
all), and says what is left: which outlet still leaves its window, how often, by how much, and why. All are
solved in the same states, so that their counts compare. The order is by what a remedy leaves, then by how much there
is to install. That none cures it, that no fan fits, that a remedy does not apply (`left_out`): all of that is said,
not hidden.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc import dampers, fans, firing_states, friction, held_pressure, outlet_control
from ventcalc.appliance import CATEGORIES
from ventcalc.common_vent import States, solve
from ventcalc.dampers import Damper, Duties, Rating
from ventcalc.fans import Candidate, Drive, Fan
from ventcalc.findings import Judgement
from ventcalc.firing_states import Envelope, Scan
from ventcalc.held_pressure import HEADER, Control, Held, Ideal, Second
from ventcalc.job import Job
from ventcalc.layout import Plant, Section
from ventcalc.network import compile_network
from ventcalc.units import Q_, Quantity, show

# Round vents as they are sold (common practice, no source), inches and millimetres.
INCHES = (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 36, 40, 44, 48)
MILLIMETRES = (80, 100, 110, 125, 130, 140, 150, 160, 180, 200, 225, 250, 300, 350, 400, 450, 500, 550, 600, 700, 800)

SIZES_TRIED = 4  # steps of the series above what is drawn
HEIGHTS_TRIED = (1.25, 1.5, 2.0)  # of the whole rise behind the header; the last section grows
SHORTENED = 0.5  # of the last upright section, where a fan shall let it be seen less

# States in which remedies are compared. Of a larger scan a sample is taken, with the ends of every outlet's range.
MOST_COMPARED = 150  # states, in which remedies are compared
MOST_PROVED = 2_000  # states, in which one that cures those is proved
_AT_EACH_END = 8  # states

# Motor and drive together, from shaft to meter (common practice, no source).
MOTOR_EFFICIENCY = 0.7
# Pressure that a damper may be off by, and that one step of its actuator may move (common practice, no source).
DAMPER_TOLERANCE = Q_(0.01, "inH2O")
# Dampers that are tried in the stack: opposed blades about so wide, in a square inside or around the duct, and a
# butterfly; all of a leakage class that the trade sells for control (EN 1751).
BLADE_WIDTH = Q_(100.0, "mm")
BLADES = (2, 6)  # for which square frames' losses are published
BLADE_THICKNESS = Q_(6.0, "mm")
LEAKAGE = dampers.leakage_class("EN class 2")


VENTS = ("as drawn", "wider", "laterals", "taller", "shorter")


@dataclass(frozen=True)
class Remedy:
    """One way to change a vent: the ``plant`` as it would be, and its ``controls``.

    ``vent`` says how its drawing differs, one of `VENTS`. ``fan`` and ``damper`` are those of the header's control,
    which holds ``set_point``; ``outlets`` names the appliances with a damper of their own. ``unfit`` says why the fan
    does not do its duty, "" where it does: an unfit one is solved all the same, to show what is lacking. ``tried``
    counts the vents of which this was the best. ``start`` is where to begin to solve it (`held_pressure.hold`).
    `words` tells it, `devices` lists what moves.
    """

    name: str
    plant: Plant
    vent: str = "as drawn"
    controls: tuple[Control, ...] = ()
    fan: Drive | None = None
    damper: Damper | None = None
    set_point: Quantity | None = None
    outlets: tuple[str, ...] = ()
    unfit: str = ""
    tried: int = 1
    start: np.ndarray | None = None

    @property
    def devices(self) -> tuple[str, ...]:
        """Everything that moves, one entry each."""
        found = [f"fan {self.fan.fan.name} with a speed drive"] if self.fan else []
        found += [f"{self.damper.blades} damper in the stack"] if self.damper else []
        return (*found, *(f"damper at the outlet of {name}" for name in self.outlets))

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
    judgement: Judgement | None = None

    @property
    def settled(self) -> np.ndarray:
        """Where the vent was solved and all controls came to rest, per state."""
        return self.scan.solution.converged if self.held is None else self.held.settled

    @property
    def cured(self) -> bool:
        """Whether the whole design was judged and nothing speaks against it."""
        return self.judgement is not None and self.judgement.cured

    @property
    def holds(self) -> bool:
        """Whether it is worth judging: every state was solved, every outlet stays inside its window, no flue gas enters
        the room, no appliance of category I or II meets positive pressure in its vent, and the fan does its duty."""
        return not (self.outside or self.gas_in_room or self.pressed or self.unsettled or self.remedy.unfit)

    @property
    def margin(self) -> float:
        """Least margin of all outlets [Pa]; negative where a window is left."""
        return min(e.margin for e in self.envelopes)

    @property
    def order(self) -> tuple:
        """What outcomes are sorted by: people first, then windows, then how much there is to install and to run.

        A state that was not solved counts like one with flue gas in the room; a vent left as drawn comes before one
        that is rebuilt.
        """
        yearly = self.duty.yearly if self.duty else 0.0
        ease = (len(self.remedy.devices), self.remedy.vent != "as drawn", yearly, -self.margin)
        return (
            not self.cured,
            not self.holds,
            len(self.judgement.against) if self.judgement else 0,
            self.gas_in_room + self.unsettled,
            bool(self.pressed),
            self.outside,
            0.0 if self.holds else -self.margin,
            *ease,
        )


def compare(job: Job, scan: Scan | None = None, most: int | None = None) -> tuple[Outcome, ...]:
    """Every remedy that applies to a job, sized and solved in all its states; the one to prefer first.

    Where there are more than ``most`` states (`MOST_COMPARED`) they are compared in a sample of them, with the ends
    of every outlet's range as drawn, and what cures all of those is proved in `MOST_PROVED`: beyond that the worst
    state under a remedy may be missed. What does not apply is named by `left_out`.
    """
    whole = _fewer(scan or firing_states.scan(job.plant, job.seasons, MOST_PROVED), MOST_PROVED)
    few = _fewer(whole, most or MOST_COMPARED)
    made = [Remedy("as drawn", job.plant), *_devices(job, few.first)]
    found = [*_vents(job, few), *(outcome(job, remedy, few) for remedy in made)]
    if few is not whole:
        found = [outcome(job, replace(o.remedy, start=None), whole) if o.holds else o for o in found]
    return tuple(sorted(found, key=lambda o: o.order))


def _fewer(scan: Scan, most: int) -> Scan:
    """The scan itself, or a sample of a large one that keeps the ends of every outlet's and the header's range."""
    if len(scan.conditions) <= most:
        return scan
    scan = scan.first
    total = len(scan.states)
    runs = np.array([scan.running(i) for i in range(len(scan.plant.appliances))])
    outlets = np.where(runs, scan.solution.outlet_pressure, np.nan)
    ranges = np.concatenate([outlets, firing_states.header_pressure(scan)[None]])
    ends = [np.argsort(sign * values)[:_AT_EACH_END] for values in ranges for sign in (1.0, -1.0)]  # NaN come last
    picked = np.unique([*np.random.default_rng(0).choice(total, most, replace=False), *np.concatenate(ends)])
    return firing_states.of_states(scan.plant, scan.seasons, scan.states[picked], scan.possible, False)


def left_out(job: Job) -> tuple[tuple[str, str], ...]:
    """The remedies that do not apply to a job: the name of each, and why in one sentence."""
    plant, found = job.plant, []
    for name, change, by in (
        ("larger vent", wider, 1),
        ("taller stack", with_top, HEIGHTS_TRIED[0]),
        ("shorter stack with a fan", with_top, SHORTENED),
    ):
        try:
            change(plant, by)
        except ValueError as error:
            found.append((name, f"{str(error)[0].upper()}{str(error)[1:]}."))
    if with_laterals(plant) == plant:
        found.append(("laterals", "No branch enters square."))
    if len(plant.appliances) == 1:
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
    at = (job, job.plant, job.offered.set_point or job.set_point, scan.conditions)
    if name.startswith("damper at each outlet"):
        alone, with_fan = _outlet_dampers(job, scan.first, job.offered.set_point, fan)
        remedy = alone if name == alone.name else with_fan
    elif name == "fan":
        remedy = fan_in_stack(*at, fan)
    elif name == "damper":
        remedy = damper_in_stack(*at, damper)
    else:
        remedy = fan_and_damper(*at, fan, damper)
    return None if remedy.unfit and fan is None else outcome(job, remedy, scan)


def _pressed(scan: Scan) -> tuple[str, ...]:
    """Sections under positive pressure in some state that serve an appliance made for a negative one."""
    plant = scan.plant
    negative = {a.name for a in plant.appliances if not CATEGORIES[a.category].positive}
    if not negative:
        return ()
    return tuple(
        section.name
        for section, met in zip(plant.order, firing_states.extremes(scan), strict=True)
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
    hoods = any(a.kind != "forced" for a in job.plant.appliances)
    if remedy.controls:
        held = held_pressure.hold(remedy.plant, job.seasons, scan.conditions, remedy.controls, remedy.start)
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
        envelopes=firing_states.envelopes(scan),
        pressed=_pressed(scan),
        outside=scan.count(firing_states.outside_window(scan).any(axis=0)),
        gas_in_room=scan.count((firing_states.flue_gas_in_room(scan)[0] > firing_states.REVERSAL_FLOW).any(axis=0)),
        unheld=0 if held is None else int(held.missed.any(axis=0).sum()),
        unsettled=scan.count(~(scan.solution.converged if held is None else held.settled)),
        duty=None if remedy.fan is None else _duty(job, remedy, scan, held),
        position=None if rating is None else _positions(rating, len(scan.states)),
        step=0.0 if rating is None else float(rating.step.max()),
    )


# --- The vent changed ---------------------------------------------------------------------------------------


def shared(plant: Plant) -> tuple[Section, ...]:
    """Header and stack: the sections that begin at a junction, and all behind them; of a single appliance, the vent."""
    if len(plant.appliances) == 1:
        return plant.order
    found: list[Section] = []
    for section in plant.order:
        upstream = plant.upstream(section.name)
        if any(u.junction or u in found for u in upstream):
            found.append(section)
    return tuple(found)


def wider(plant: Plant, steps: int) -> Plant:
    """The plant with its shared sections that many sizes of their series larger.

    Raises ValueError where the series ends.
    """
    sizes = {s.name: _larger(s.diameter, steps) for s in shared(plant)}
    return _with(plant, {name: {"diameter": size} for name, size in sizes.items()})


def _larger(diameter: Quantity, steps: int) -> Quantity:
    """A size of the series that the diameter is given in: inches where it is in inches or a whole number of them."""
    inches = float(diameter.m_as("inch"))
    given_so = str(diameter.units) in ("inch", "foot") or abs(inches - round(inches)) < 0.01
    series, unit = (INCHES, "inch") if given_so else (MILLIMETRES, "mm")
    above = [size for size in series if size > diameter.m_as(unit) * 1.001]
    if len(above) < steps:
        raise ValueError(f"the series of vents ends at {series[-1]} {unit}: none {steps} above {diameter:.4g~P}")
    return Q_(float(above[steps - 1]), unit)


def with_laterals(plant: Plant) -> Plant:
    """The plant with a lateral wherever a branch now enters square, by a straight or a boot tee."""
    square = [s.name for s in plant.sections if s.junction in ("straight tee", "boot tee")]
    return _with(plant, {name: {"junction": "lateral"} for name in square})


def with_top(plant: Plant, factor: float) -> Plant:
    """The plant with its last section so many times as high.

    Raises ValueError where that section does not rise.
    """
    top = plant.section(held_pressure.before_termination(plant))
    if not top.rise.m_as("m") > 0.0:
        raise ValueError(f"{top.name} does not rise: no stack to make taller or shorter")
    more = (factor - 1.0) * top.rise
    return _with(plant, {top.name: {"rise": top.rise + more, "length": top.length + more}})


def with_free_end(plant: Plant) -> Plant:
    """The plant without the cap where its header ends: a roof fan stands there instead."""
    end = plant.section(held_pressure.before_termination(plant)).into
    ends = tuple(replace(t, cap="open end") if t.name == end else t for t in plant.terminations)
    return replace(plant, terminations=ends)


def _with(plant: Plant, changes: dict[str, dict]) -> Plant:
    return replace(plant, sections=tuple(replace(s, **changes.get(s.name, {})) for s in plant.sections))


def _vents(job: Job, scan: Scan) -> list[Outcome]:
    """Remedies that move nothing: a larger vent, better junctions, a taller stack; each the best of those tried."""
    plant = job.plant
    lateral = with_laterals(plant)
    return [
        *_best(job, scan, "larger vent", "wider", [_tried(wider, plant, k) for k in range(1, SIZES_TRIED + 1)]),
        *_best(job, scan, "laterals", "laterals", [lateral if lateral != plant else None]),
        *_best(job, scan, "taller stack", "taller", [_tried(with_top, plant, factor) for factor in _factors(plant)]),
    ]


def _factors(plant: Plant) -> list[float]:
    """Factors of the last section's rise that make the whole rise behind the header as in `HEIGHTS_TRIED`."""
    top = plant.section(held_pressure.before_termination(plant))
    low, high = plant.heights[held_pressure.stack_base(plant)][1], plant.heights[top.name][1]
    own = max(float(top.rise.m_as("m")), 1e-9)
    return [1.0 + (times - 1.0) * max(high - low, own) / own for times in HEIGHTS_TRIED]


def _tried(change, plant: Plant, by) -> Plant | None:
    """The plant changed, or None where it cannot be."""
    try:
        return change(plant, by)
    except ValueError:
        return None


def _best(job: Job, scan: Scan, name: str, vent: str, plants: Sequence[Plant | None]) -> list[Outcome]:
    """What the one of those tried leaves that leaves least; nothing where none could be built."""
    possible = [plant for plant in plants if plant is not None]
    built = [outcome(job, Remedy(name, plant, vent, tried=len(possible)), scan, rough=True) for plant in possible]
    return [outcome(job, min(built, key=lambda o: o.order).remedy, scan)] if built else []


# --- Devices ------------------------------------------------------------------------------------------------


def _devices(job: Job, scan: Scan) -> list[Remedy]:
    """Remedies with something that moves, at the job's set point; where another would serve better, there as well."""
    found, (_, with_fan) = [], _end_kind(job.plant)
    for set_point in _set_points(job, scan):
        said = "" if set_point is job.set_point else ", other set point"
        at = (job, job.plant, set_point, scan.states)
        needed = _needed(job, with_fan, set_point, scan.states)
        made = [make(*at, needed=needed) for make in (fan_in_stack, damper_in_stack, fan_and_damper)]
        found += [replace(remedy, name=f"{remedy.name}{said}") for remedy in made]
    found += _shorter(job, set_point, scan.states, said)
    if _governs(job.plant):
        found += _outlet_dampers(job, scan)
    return found


def _set_points(job: Job, scan: Scan) -> list[Quantity]:
    """The job's set point, and where some outlet leaves its window at it and another serves all, that one."""
    window = outlet_control.held_common_window(scan)
    inside = window.low <= job.set_point.m_as("Pa") <= window.high
    return [job.set_point] if inside or window.lacking else [job.set_point, Q_(window.best, "Pa")]


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
    drive, unfit = _fan_for(job, plant, kind, needed, fan)
    control = replace(needed.controls[0], device=drive)
    start = needed.added
    return Remedy("fan", plant, controls=(control,), fan=drive, set_point=set_point, unfit=unfit, start=start)


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
    drive, _ = _fan_for(job, plant, kind, needed, fan)
    area = plant.section(needed.controls[0].section).area
    idle, _ = Helping(drive).limits(needed.flow[0], needed.density[0], area)
    duties = _damper_duties(needed, base.name, idle - needed.added[0])
    damper = damper or _damper_for(base.diameter, duties)
    costs = np.zeros(len(states))
    costs[duties.states] = damper.loss(damper.most) * damper.head(duties.flow, duties.density)
    drive, unfit = _fan_for(job, plant, kind, replace(needed, added=needed.added + costs), fan)
    control = replace(needed.controls[0], device=Helping(drive), second=Second(base.name, damper))
    start = needed.added
    return Remedy("fan and damper", plant, "as drawn", (control,), drive, damper, set_point, unfit=unfit, start=start)


def _damper_duties(held: Held, section: str, destroy: np.ndarray) -> Duties:
    """Of what there is to ``destroy`` [Pa] per state, where the first control acts and has come to rest."""
    row, states = held.solution.row(section), np.flatnonzero(held.acts[0] & held.settled)
    density = held.solution.density[row, states]
    return Duties(held.solution.flow[row, states] / density, density, destroy[states], states)


def _shorter(job: Job, set_point: Quantity, states: States, said: str) -> list[Remedy]:
    """A fan on a stack that is shorter than drawn, so that it is seen less and makes less draft of its own."""
    plant = _tried(with_top, job.plant, SHORTENED)
    if plant is None:
        return []
    remedy = fan_in_stack(job, plant, set_point, states)
    return [replace(remedy, name=f"shorter stack with a fan{said}", vent="shorter")]


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


def _fan_for(job: Job, plant: Plant, kind: str, needed: Held, fan: Fan | None = None) -> tuple[Drive, str]:
    """The fan given, or the one to prefer for what is needed in every state, and why it does not fit ("": it does)."""
    row = needed.solution.row(needed.controls[0].section)
    area, pick = plant.section(needed.controls[0].section).area, np.flatnonzero(needed.acts[0] & (needed.flow[0] > 0.0))
    flow, density, added = needed.flow[0, pick], needed.density[0, pick], needed.added[0, pick]
    cold = float(compile_network(plant, job.seasons).outdoor_density.max())
    static = added - friction.velocity_head.bare(density, flow / area)
    hot = needed.solution.downstream[row, pick]
    kind, among = (kind, None) if fan is None else (fan.kind, [fan])
    chosen = fans.select.bare(flow, static, density, hot, cold, kind, among, area=area)
    if chosen.fitting:
        return _drive(min(chosen.fitting, key=_too_much).fan, cold), ""
    nearest = chosen.rejected[0].fan
    if fan is not None:
        return _drive(nearest, cold), f"{nearest.name} does not do its duty"
    return _drive(nearest, cold), f"no {kind} fan in the table does this duty; {nearest.name} comes nearest"


def _too_much(candidate: Candidate) -> tuple[bool, float]:
    """What fans that fit are sorted by: a tenth of speed to spare, then what they make too much at least speed."""
    return candidate.margin < fans.LEAST_MARGIN, float(np.maximum(candidate.excess, 0.0).mean())


def _drive(fan: Fan, cold: float) -> Drive:
    """The speeds at which a fan may turn: from its least to what its motor carries in the coldest air [kg/m3]."""
    return Drive(fan, fan.least_speed, max(fan.least_speed, float(fans.motor_speed_limit.bare(fan, cold))))


def _damper_for(diameter: Quantity, duties: Duties) -> Damper:
    """The damper to prefer in a round vent; where none of those tried fits, the one that fails least."""
    around = int(np.clip(round(float((diameter / BLADE_WIDTH).m_as(""))), *BLADES))
    inside = int(np.clip(round(around / np.sqrt(2.0)), *BLADES))
    tried = (
        dampers.square_in_round(diameter, "around", "opposed", around, LEAKAGE, BLADE_THICKNESS),
        dampers.square_in_round(diameter, "inside", "opposed", inside, LEAKAGE, BLADE_THICKNESS),
        Damper("butterfly", diameter, diameter, LEAKAGE),
    )
    return dampers.size(duties, tried, DAMPER_TOLERANCE)[0].damper


# --- What the chosen devices do -------------------------------------------------------------------------------


def _duty(job: Job, remedy: Remedy, scan: Scan, held: Held) -> FanDuty:
    k = [c.sensor for c in held.controls].index(HEADER)
    section = held.controls[k].section
    states = np.flatnonzero(held.acts[k])
    flow, density, fan = held.flow[k, states], held.density[k, states], remedy.fan.fan
    static = held.added[k, states] - fans.own_head(fan, flow, density, remedy.plant.section(section).area)
    needed = fans.speed_for.bare(fan, np.maximum(flow, 0.0), static, density)
    speed = np.clip(np.nan_to_num(needed, nan=remedy.fan.most_speed), remedy.fan.least_speed, remedy.fan.most_speed)
    power = fans.shaft_power.bare(fan, flow, speed, density)
    usual = ~scan.states.cold[states].astype(bool) & ~scan.states.windy[states].astype(bool)
    return FanDuty(
        states=states,
        flow=flow,
        static=static,
        density=density,
        temperature=scan.solution.downstream[scan.solution.row(section), states],
        speed=speed,
        power=power,
        stalled=fans.stalled.bare(fan, flow, speed),
        yearly=float(power[usual].mean() / MOTOR_EFFICIENCY * job.hours.m_as("s")),
    )


def _rating(remedy: Remedy, held: Held) -> Rating:
    """How the stack's damper does what it was found to do in the solved states."""
    taken = held.second[0] if remedy.fan else held.added[0]
    duties = _damper_duties(held, held_pressure.stack_base(remedy.plant), -taken)
    return dampers.size(duties, [remedy.damper], DAMPER_TOLERANCE)[0]


def _positions(rating: Rating, states: int) -> np.ndarray:
    found = np.full(states, np.nan)
    found[rating.duties.states] = rating.position
    return found


# --- In words -------------------------------------------------------------------------------------------------


def words(remedy: Remedy, system: str = "US") -> str:
    """What is changed and installed, in one phrase."""
    plant, told = remedy.plant, []
    if remedy.vent == "wider":
        sizes = dict.fromkeys(show(s.diameter, system, "diameter") for s in shared(plant))
        which = "header and stack" if len(plant.appliances) > 1 else "the vent"
        told.append(f"{which} at {', '.join(sizes)}")
    elif remedy.vent == "laterals":
        told.append("every square branch joins as a lateral")
    elif remedy.vent in ("taller", "shorter"):
        rise = show(plant.section(remedy.top).rise, system, "height")
        told.append(f"{remedy.top} {'raised' if remedy.vent == 'taller' else 'cut'} to {rise}")
    if remedy.tried > 1:
        told[-1] += f", the best of {remedy.tried} tried"
    if remedy.fan:
        told.append(f"{fan_words(remedy.fan)} at the end of {remedy.top}")
    if remedy.damper:
        base = held_pressure.stack_base(plant)
        told.append(f"{damper_words(remedy.damper, system)} at the end of {base}")
    if remedy.set_point is not None:
        told.append(f"{sensed(plant, HEADER)} held at {show(remedy.set_point, system, 'draft')}")
    if remedy.outlets:
        told.append(
            f"a butterfly damper and a sensor at the outlets of {', '.join(remedy.outlets)}, each set to the middle of "
            "its window"
        )
    return "; ".join(told) or "nothing is changed"


def fan_words(drive: Drive) -> str:
    """A fan in a word."""
    return f"fan {drive.fan.name}"


def damper_words(damper: Damper, system: str = "US") -> str:
    """A damper in a word: its blades, its face, where it sits."""
    size = show(damper.width, system, "diameter")
    return f"{damper.blades} damper of {size}{'' if damper.round else ' square'}"


def listed(remedy: Remedy, system: str = "US") -> tuple[str, ...]:
    """What must be listed, or proved, for what; one sentence each."""
    found = []
    if remedy.vent != "as drawn":
        found.append("Every new piece of vent for the category of all appliances whose flue gas passes it.")
    if remedy.fan:
        hottest = show(remedy.fan.fan.highest_temperature, system)
        found.append(
            f"The fan ({remedy.fan.fan.name}) for the flue gas of these appliances and their fuel; it stands {hottest}."
        )
    if remedy.damper or remedy.outlets:
        found.append(
            "Each damper for the flue gas of its appliances, their temperature and condensate; without power it must "
            "open."
        )
    if remedy.devices:
        found.append(
            "The interlock that proves draft, or the damper open, before any burner is released, and stops every "
            "burner when that is lost."
        )
        found.append("The appliances: the instructions of each must allow the device on its vent.")
    return tuple(found)


def reasons(o: Outcome, system: str = "US") -> tuple[str, ...]:
    """Why an outcome stands where it does, the decisive first; one sentence each."""
    total, found = f"{len(o.scan.conditions):,}", []
    worst = min(o.envelopes, key=lambda e: e.margin)
    if o.gas_in_room:
        found.append(f"Flue gas enters the room in {o.gas_in_room:,} of {total} states.")
    if o.outside:
        found.append(f"{o.outside:,} of {total} states leave an outlet outside its window; {_worst(o, worst, system)}.")
    if o.pressed:
        found.append(f"Positive pressure in some state, though it serves category I or II: {', '.join(o.pressed)}.")
    if o.unsettled:
        found.append(f"{_states(o.unsettled)} not solved.")
    if o.remedy.unfit:
        found.append(f"{o.remedy.unfit[0].upper()}{o.remedy.unfit[1:]}.")
    if not o.outside:
        margin = show(Q_(worst.margin, "Pa"), system, "draft")
        found.append(f"Every outlet stays inside its window in all {total} states, by at least {margin}.")
    if not o.scan.complete:
        found.append(f"These states are a sample of {o.scan.possible:,}.")
    found += _unheld(o, system)
    if o.duty is not None:
        found += _fan_reasons(o, system)
    if o.position is not None:
        found += _damper_reasons(o, system)
    found += _long_runs(o.scan.plant, system)
    return tuple(text.replace("w.c..", "w.c.") for text in found)


def _states(count: int) -> str:
    return f"{count:,} state{'' if count == 1 else 's'}"


def _worst(o: Outcome, e: Envelope, system: str) -> str:
    beyond, state, how = (e.above, e.high_state, "above") if e.above >= e.below else (e.below, e.low_state, "below")
    by = show(Q_(beyond, "Pa"), system, "draft")
    return f"at worst {e.appliance} by {by} {how} it, with {o.scan.describe(state, system)}"


def sensed(plant: Plant, sensor: str) -> str:
    """What a control's sensor reads, in words."""
    if sensor != HEADER:
        return f"the outlet of {sensor}"
    return "the header" if len(plant.appliances) > 1 else "the beginning of the vent"


def _limit(control: Control, at: int) -> str:
    """A control's device at its least (-1), its most (1) or between, in words."""
    damper = isinstance(control.device, Damper)
    if at == 0:
        return "its search not at rest"
    if at > 0:
        return "the damper wide open" if damper else "the fan at its highest speed"
    both = " and the damper shut" if control.second else ""
    return "the damper shut" if damper else f"the fan at its least speed{both}"


def _unheld(o: Outcome, system: str) -> list[str]:
    """Where controls cannot hold, and why: the device is at one of its limits."""
    if not o.unheld:
        return []
    found = []
    for k, control in enumerate(o.held.controls):
        missed = np.flatnonzero(o.held.missed[k])
        if not missed.size:
            continue
        at = int(missed[np.abs(o.held.error[k, missed]).argmax()])
        error, limit = o.held.error[k, at], _limit(control, int(o.held.at[k, at]))
        off = show(Q_(abs(float(error)), "Pa"), system, "draft")
        found.append(
            f"In {_states(missed.size)} {sensed(o.scan.plant, control.sensor)} is not held: at worst {off} "
            f"{'above' if error > 0 else 'below'} the set point, {limit}, with {o.scan.describe(at, system)}."
        )
        if control.sensor == HEADER and o.remedy.outlets and error < 0:
            found[-1] = f"{found[-1][:-1]}; what is too much there is left to the outlets' dampers."
    return found


def _fan_reasons(o: Outcome, system: str) -> list[str]:
    duty, fan = o.duty, o.remedy.fan
    hardest = int(duty.speed.argmax())
    flow = show(Q_(float(duty.flow[hardest]), "m**3/s"), system, "volume flow")
    static = show(Q_(float(duty.static[hardest]), "Pa"), system, "draft")
    yearly = float(Q_(duty.yearly, "J").m_as("kWh"))
    found = [
        f"The fan runs at {duty.speed.min():.0%} to {duty.speed.max():.0%} of its rated speed, hardest at {flow} and "
        f"{static}; about {yearly:,.0f} kWh a year."
    ]
    slowest = int((duty.speed <= fan.least_speed * (1.0 + 1e-6)).sum())
    if slowest:
        found.append(f"In {_states(slowest)} it stands at its least speed.")
    if duty.stalled.any():
        found.append(f"In {_states(int(duty.stalled.sum()))} it works left of its stall limit: its pressure wavers.")
    hottest = float(duty.temperature.max())
    if hottest > fan.fan.highest_temperature.m_as("K"):
        stands = show(fan.fan.highest_temperature, system)
        found.append(f"Gas of {show(Q_(hottest, 'K'), system)} reaches it, and it stands {stands}.")
    return found


def _damper_reasons(o: Outcome, system: str) -> list[str]:
    least, most = np.nanmin(o.position), np.nanmax(o.position)
    if least > o.remedy.damper.most - 0.005:
        return ["The damper has nothing to do: it stands wide open in every state."]
    found = [f"The damper works between {least:.0%} and {most:.0%} open."]
    if o.step > DAMPER_TOLERANCE.m_as("Pa"):
        step = show(Q_(o.step, "Pa"), system, "draft")
        allowed = show(DAMPER_TOLERANCE, system, "draft")
        found.append(
            f"One step of its actuator, {dampers.ACTUATOR_STEP:.0%} of the stroke, moves up to {step}, more than the "
            f"{allowed} that is tolerated: a finer actuator is needed."
        )
    return found


def _long_runs(plant: Plant, system: str) -> list[str]:
    """Where an appliance's own run is longer, by its plain length, than its instructions allow."""
    found = []
    for a in plant.appliances:
        own = [s.length for s in plant.path(a.name) if len(plant.serves(s.name)) == 1]
        if a.longest_run is not None and sum(length.m_as("m") for length in own) > a.longest_run.m_as("m"):
            run, allowed = (show(length, system, "height") for length in (sum(own[1:], own[0]), a.longest_run))
            found.append(f"{a.name}: its own run is {run} long, elbows not counted; its instructions allow {allowed}.")
    return found
