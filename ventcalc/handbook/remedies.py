"""Remedies, the chapter: all that may cure a vent, compared on one job; figures, live controls, questions, checks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from textwrap import fill

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from ventcalc.checked import Check
from ventcalc.draft import common_window, damper_sizing, held_pressure
from ventcalc.draft.common_window import CommonWindow
from ventcalc.draft.damper_sizing import Duties, Rating
from ventcalc.draft.held_pressure import HEADER, Control, Held, Ideal
from ventcalc.handbook.common_vent import checks as draft_checks
from ventcalc.handbook.common_vent import draft_text
from ventcalc.handbook.dampers import checks as damper_checks
from ventcalc.handbook.fans import checks as fan_checks
from ventcalc.handbook.outlet_control import checks as outlet_checks
from ventcalc.job import findings, job_file, remedy_words, study, vent_changes
from ventcalc.job import margins as outlet_margins
from ventcalc.job.device_duty import DAMPER_TOLERANCE, MOTOR_EFFICIENCY
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.show.axes import label, number, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH, plain_axes
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.sketch import sketch
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity
from ventcalc.vent import firing_states, outlet_envelope, section_extremes
from ventcalc.vent.firing_states import Scan

# --- What the chapter stands on -----------------------------------------------------------------------------

_ROWS = ("F003", "F004", "F005", "F015", "DM001", "DM002", "DM013", "DM014", "DM015", "OC001", "D001")


def checks() -> tuple[Check, ...]:
    """Of the chapters before it, what remedies are sized by: fan laws, blades, leakage, openings in series, draft."""
    known = {c.id: c for c in (*fan_checks(), *damper_checks(), *outlet_checks(), *draft_checks())}
    return tuple(known[key] for key in _ROWS)


# --- A job, compared ----------------------------------------------------------------------------------------

# Jobs whose burners force their flow, so that the outlets stand a fixed way above the header (`Reach`).
JOBS = {"swimming hall": "swim_hall", "mountain lodge": "lodge", "laundry": "laundry"}
HALL = "swimming hall"

DRAWN = "as drawn"
MOVING = ("fan", "damper", "fan and damper", "damper at each outlet and a fan")
OTHER = ", other set point"


@dataclass(frozen=True, eq=False)
class Compared:
    """A job with its scan as drawn and what every remedy leaves, the one to prefer first."""

    job: Job
    scan: Scan
    outcomes: tuple[Outcome, ...]

    def of(self, name: str) -> Outcome:
        """The outcome of a remedy by its name; ValueError says why there is none."""
        for o in self.outcomes:
            if o.remedy.name == name:
                return o
        why = dict(remedy_words.left_out(self.job)).get(
            name.removesuffix(" and a fan"), "it is not among those compared."
        )
        raise ValueError(f"{self.job.name}, {name}: {why}")

    @property
    def begun(self) -> tuple[np.ndarray, np.ndarray]:
        """Flows drawn [kg/s] and temperatures [K] of the vent as drawn: where to begin with devices in it."""
        return self.scan.solution.drawn, self.scan.solution.outlets

    @cached_property
    def window(self) -> CommonWindow:
        """The outlets' windows as header pressures, the header held near the best of them."""
        return common_window.held_common_window(self.scan)


def compared(name: str = HALL) -> Compared:
    """One of `JOBS`, all its remedies sized, solved and judged; takes seconds the first time."""
    return _compared(name)


@cache  # by the name alone: a cache of a function with a default holds what is left out and what is given apart
def _compared(name: str) -> Compared:
    chosen = job_file.demonstration(JOBS[name])
    scan = firing_states.scan(chosen.plant, chosen.seasons)
    return Compared(chosen, scan.first, study.compare(chosen, scan, every=True))


def verdict(o: Outcome) -> str:
    """What a remedy comes to, in a few words: of one that was judged the titles of what speaks against it."""
    if o.cured:
        return "cures it"
    if o.judgement:
        return ", ".join(dict.fromkeys(f.title.lower() for f in o.judgement.against))
    parts = ((o.gas_in_room, "gas in the room"), (o.pressed, "positive pressure"), (o.outside, "leaves windows"))
    return ", ".join(words for counts, words in parts if counts) or "does not fit"


def outcome_table(outcomes: Sequence[Outcome], system: str) -> str:
    """All outcomes in their order with what decides it."""
    rows = []
    for place, o in enumerate(outcomes, start=1):
        yearly = f"{Q_(o.duty.yearly, 'J').m_as('kWh'):,.0f} kWh" if o.duty else "none"
        missed = "" if o.remedy.set_point is None else f"{o.unheld:,}"
        margin = draft_text(o.margin, system)
        counts = (len(o.remedy.devices), f"{o.gas_in_room:,}", f"{o.outside:,}", missed)
        rows.append((place, o.remedy.name, verdict(o), *counts, margin, yearly))
    heads = ("", "remedy", "verdict", "devices", "gas in room", "outside", "not held", "least margin", "a year")
    return table(heads, rows)


def against_table(outcomes: Sequence[Outcome], system: str) -> str:
    """What speaks against each remedy that was judged, and what to do about it."""
    rows = [
        (o.remedy.name, f.title, findings.sentence(f, system), f.todo)
        for o in outcomes
        if o.judgement and not _as_drawn(o)
        for f in o.judgement.against
    ]
    return table(("remedy", "against it", "what was found", "what to do"), rows)


def _as_drawn(o: Outcome) -> bool:
    return o.remedy.name == DRAWN


def trouble_table(found: Compared, system: str) -> str:
    """Windows of the outlets, and between which pressures they stand as drawn."""
    rows = []
    for e in outlet_envelope.envelopes(found.scan):
        rows.append((e.appliance, *(draft_text(p, system) for p in (*e.window, e.low, e.high))))
    return table(("boiler", "window from", "to", "outlet from", "to"), rows)


def alone_table(found: Compared, system: str) -> str:
    """What one device leaves, and what both leave, at the set point of the job."""
    rows = []
    for name in MOVING[:3]:
        o = found.of(name)
        counts = (f"{o.unheld:,}", f"{o.outside:,}", f"{o.gas_in_room:,}")
        missed = next(
            (text for text in remedy_words.reasons(o, system) if "is not held" in text), "held in every state"
        )
        rows.append((name, *counts, missed))
    return table(("remedy", "set point missed", "window left", "gas in the room", "worst"), rows)


def needed_words(held: Held, system: str) -> str:
    """In how many states a fan is needed, in how many a damper, and how much of either."""
    added = held.added[0, held.acts[0]]
    fan, damper = int(np.sum(added > 0)), int(np.sum(added < 0))
    ends = f"from {draft_text(added.min(), system)} to {draft_text(added.max(), system)}"
    idle = held.acts[0].size - added.size
    return (
        f"a fan is needed in {fan} states, a damper in {damper}, of {added.size}; {ends}\n"
        f"(in the other {idle} of {held.acts[0].size} states no burner fires)"
    )


def running_words(found: Compared) -> str:
    """What the fans of the two remedies that hold every window take in a year, beside what the boilers burn."""
    fuel = Q_(sum(a.levels[-1].heat_input.m_as("W") for a in found.job.plant.appliances), "W")
    said = [f"in {found.job.hours.m_as('hour'):,.0f} hours a year:"]
    for o in (found.of(MOVING[2] + OTHER), found.of(MOVING[3])):
        yearly = Q_(o.duty.yearly, "J")
        minutes = float((yearly / fuel).m_as("minute"))
        said.append(
            f"{o.remedy.name}: {yearly.m_as('kWh'):.0f} kWh, as much as the boilers burn at high fire in {minutes:.0f}"
            f" minutes; at the shaft {o.duty.power.max():.0f} W at most"
        )
    return "\n".join(said)


def listed_words(found: Compared, system: str) -> str:
    """What must be listed of one fan and one damper, and for what."""
    return "\n".join(f"- {text}" for text in remedy_words.listed(found.of(MOVING[2] + OTHER).remedy, system))


# --- What would be needed -------------------------------------------------------------------------------------


@cache
def needed(name: str = HALL) -> Held:
    """What an ideal device at the vent's end would add in every state; the cap is off, as under a roof fan."""
    found = compared(name)
    plant = found.of("fan").remedy.plant
    end = held_pressure.before_termination(plant)
    control = Control(end, Ideal(), HEADER, found.job.set_point)
    return held_pressure.hold(plant, found.job.seasons, found.scan.states, (control,), None, *found.begun)


def reach(name: str, remedy: str) -> tuple[np.ndarray, np.ndarray]:
    """Least and most [Pa] that the device of a remedy could add in every state of `needed`, at the flows there."""
    held, device = needed(name), compared(name).of(remedy).remedy.controls[0]
    row = held.solution.row(device.section)
    density = held.solution.density[row]
    area = held.solution.plant.section(device.section).area
    return device.device.limits(held.solution.flow[row] / density, density, area)


# --- Where a damper stands --------------------------------------------------------------------------------------


@cache
def damper_at(top: bool) -> Scan:
    """The swimming hall with the damper of its remedy at the foot of the stack, or at its top."""
    found = compared()
    remedy = found.of("damper").remedy
    section = remedy.top if top else held_pressure.stack_base(remedy.plant)
    control = replace(remedy.controls[0], section=section)
    held = held_pressure.hold(remedy.plant, found.job.seasons, found.scan.states, (control,), None, *found.begun)
    return held.scan(found.scan)


def highest_pressures(scan: Scan, state: int) -> dict[str, float]:
    """Static pressure [Pa] against the surroundings in one state: the higher end of each section of header and stack.

    At the end at which the damper stands it is that before the damper.
    """
    found = {}
    for section in vent_changes.shared(scan.plant):
        both = section_extremes.static_against_surroundings(scan, scan.solution.row(section.name))
        found[section.name] = float(max(end[state] for end in both))
    return found


def base_and_top(system: str) -> tuple[str, HTML]:
    """A state in which the damper works hard, and the highest pressure of every section with it at foot and top."""
    foot, top = damper_at(False), damper_at(True)
    taken = -foot.solution.added.sum(axis=0)
    hardest = int(taken.argmax())
    one, other = (highest_pressures(scan, hardest) for scan in (foot, top))
    rows = [(name, draft_text(one[name], system), draft_text(other[name], system)) for name in one]
    return foot.describe(hardest, system), HTML(table(("section", "damper at the foot", "damper at the top"), rows))


# --- How finely a damper must be moved ---------------------------------------------------------------------------


def rated(o: Outcome, step: float) -> Rating:
    """The stack's damper of an outcome over all states, with an actuator that moves by a ``step`` of its stroke."""
    row, states = o.scan.solution.row(held_pressure.stack_base(o.remedy.plant)), np.flatnonzero(o.held.acts[0])
    density = o.scan.solution.density[row, states]
    taken = o.held.second[0] if o.remedy.fan else o.held.added[0]
    asked = Duties(o.scan.solution.flow[row, states] / density, density, -taken[states], states)
    return damper_sizing.size(asked, [o.remedy.damper], DAMPER_TOLERANCE, actuator_step=step)[0]


def left(o: Outcome, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Margin and what is uncertain of it [Pa] of every outlet, in the state where least is left beyond that.

    The stack's damper has an actuator that moves by a ``step`` of its stroke.
    """
    return outlet_margins.at_worst(
        outlet_margins.margins(o.scan), outlet_margins.uncertainty(o.scan, o.held, o.sensors, step)
    )


def carried_outside(o: Outcome, rating: Rating) -> np.ndarray:
    """States in which one step of the damper's actuator carries an outlet past the edge of its window."""
    return rating.duties.states[rating.step > margins(o)[rating.duties.states]]


def step_table(o: Outcome, system: str, actuators: Sequence[float] = (0.01, 0.0025, 0.001)) -> str:
    """What one step of actuators, in shares of the stroke, moves, and what is uncertain of the margin with them."""
    rows = []
    for step in actuators:
        rating = rated(o, step)
        margin, doubt = left(o, step)
        small = int((margin - doubt).argmin())
        pressures = (draft_text(p, system) for p in (margin[small], doubt[small]))
        moved, beyond = draft_text(rating.step.max(), system), carried_outside(o, rating).size
        rows.append((f"{step:.2%}", moved, beyond, o.remedy.plant.appliances[small].name, *pressures))
    heads = ("one step, of the stroke", "moves at most", "states carried outside", "worst outlet", "its margin",
             "uncertain")  # fmt: skip
    return table(heads, rows)


def margins(o: Outcome) -> np.ndarray:
    """Distance [Pa] of the running outlet that is nearest to an edge of its window, per state; inf where none runs."""
    edges = np.array([[w.m_as("Pa") for w in a.window] for a in o.remedy.plant.appliances])
    pressure, runs = o.scan.solution.outlet_pressure, o.scan.states.codes > 0
    return np.where(runs, np.minimum(pressure - edges[:, :1], edges[:, 1:] - pressure), np.inf).min(axis=0)


# --- Figures ------------------------------------------------------------------------------------------------


def places_drawing() -> Figure:
    """Where each remedy takes hold of a common vent; a diagram, not to scale."""
    return sketch("places_of_remedies")


def needed_figure(name: str, system: str) -> Figure:
    """What the vent's end must add in every state, the states in its order; and what a fan and a damper could."""
    held = needed(name)
    states = np.flatnonzero(held.acts[0])
    order = states[np.argsort(held.added[0, states])]
    at = np.arange(1, order.size + 1)
    least, most = reach(name, "fan")[0][order], reach(name, "damper")[1][order]
    figure, (axes,) = row_of_axes(1, 3.6)
    style = {"ls": "", "marker": "o", "ms": 3.2, "mfc": "white", "mec": GREY}
    axes.plot(at, number(least, "Pa", "draft", system), label="the least a fan adds, one dot a state", **style)
    open_ = {"color": RUST, "lw": 1.3, "ls": "--", "label": "the most a damper adds: open"}
    axes.plot(at, number(most, "Pa", "draft", system), **open_)
    axes.plot(at, number(held.added[0, order], "Pa", "draft", system), color=INK, lw=2.4, label="needed")
    axes.axhline(0.0, color=INK, lw=0.8)
    plain(axes, "states, in the order of what they need", f"to be added, {label('draft', system)}")
    axes.set_xlim(0, order.size + 1)
    span = number(held.added[0, order[[0, -1]]], "Pa", "draft", system)
    axes.set_ylim(1.25 * span[0], 1.15 * span[1])
    axes.locator_params(axis="y", nbins=6)
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="upper center", ncols=3, frameon=False, fontsize=SIZE, columnspacing=1.2,
                  handletextpad=0.4, borderaxespad=0.1)  # fmt: skip
    return figure


def envelopes_figure(found: Compared, system: str, names: Sequence[str] | None = None) -> Figure:
    """Every outlet's range under each remedy against its window: a panel an outlet, a row a remedy."""
    chosen = found.outcomes if names is None else [found.of(name) for name in names]
    plant = found.job.plant
    row, below, above, left = 0.42, 0.62, 0.6, 1.95
    height = row * len(chosen) + below + above
    figure = Figure((WIDTH, height))
    width = (WIDTH - left - 0.1) / len(plant.appliances)
    ranges = [[o.envelopes[i] for o in chosen] for i in range(len(plant.appliances))]
    limits = [(min(e.low for e in of), max(e.high for e in of)) for of in ranges]
    span = max(high - low for low, high in limits)
    for i, a in enumerate(plant.appliances):
        place = ((left + i * width) / WIDTH, below / height, (width - 0.12) / WIDTH, row * len(chosen) / height)
        axes = figure.add_axes(place)
        window = number([w.m_as("Pa") for w in a.window], "Pa", "draft", system)
        axes.axvspan(*window, fc=PALE, ec="none", zorder=0)
        for edge in window:
            axes.axvline(edge, color=INK, lw=0.9, zorder=1)
        for y, o in enumerate(chosen):
            draw_range(axes, y, (o.envelopes[i].low, o.envelopes[i].high), o.envelopes[i].window, system)
        plain_axes(axes)
        axes.spines["left"].set_visible(False)
        middle = 0.5 * (limits[i][0] + limits[i][1])
        axes.set_xlim(*number((middle - 0.54 * span, middle + 0.54 * span), "Pa", "draft", system))
        axes.set_ylim(len(chosen) - 0.5, -0.5)
        axes.set_yticks(range(len(chosen)), [fill(o.remedy.name, 24) for o in chosen] if i == 0 else [])
        axes.tick_params(left=False)
        for tick, o in zip(axes.get_yticklabels(), chosen, strict=False):
            tick.set_fontweight("bold" if o.cured else "normal")
        axes.set_title(a.name, size=SIZE, weight="bold", loc="left", pad=3)
        axes.locator_params(axis="x", nbins=3)
    figure.supxlabel(
        f"outlet pressure, {label('draft', system)} (negative is draft)", size=SIZE, x=0.62, y=0.08 / height
    )
    figure.legend(handles=range_handles(), loc="upper center", ncols=3, frameon=False, fontsize=SIZE, borderaxespad=0.1)
    return figure


def draw_range(axes: Axes, y: float, ends, window, system: str) -> None:
    """From the lowest to the highest pressure [Pa]: what is outside the window is broken and ends in a cross."""
    low, high, first, last = number((*ends, *window), "Pa", "draft", system)
    inside = np.clip((low, high), first, last)
    if high > first and low < last:
        axes.plot(inside, (y, y), color=BLUE, lw=4.0, solid_capstyle="butt", zorder=3)
    for end, edge, out in ((low, first, low < first), (high, last, high > last)):
        if out:
            axes.plot((end, edge), (y, y), color=RUST, lw=2.0, ls=(0, (2, 1)), zorder=2)
        style = {"marker": "X", "color": RUST, "ms": 7} if out else {"marker": "|", "color": BLUE, "ms": 9, "mew": 2}
        axes.plot(end, y, ls="", zorder=4, **style)


def range_handles() -> list:
    return [
        Patch(fc=PALE, ec=INK, label="window"),
        Line2D([], [], color=BLUE, lw=4, marker="|", ms=9, label="range in all states"),
        Line2D([], [], color=RUST, lw=2, ls=(0, (2, 1)), marker="X", ms=7, label="outside the window"),
    ]


def set_point_figure(common: CommonWindow, marked: Sequence[tuple[str, float]], system: str) -> Figure:
    """How many states leave a window, over the pressure at which the header is held; some set points are marked."""
    reach_ = common.high - common.low
    grid = np.linspace(common.low - 2.2 * reach_, common.high + 1.4 * reach_, 260)
    missed = [common.missed(p).any(axis=0).sum() for p in grid]
    figure, (axes,) = row_of_axes(1, 3.1)
    axes.step(number(grid, "Pa", "draft", system), missed, color=INK, lw=2.0, where="mid")
    low, high = number((common.low, common.high), "Pa", "draft", system)
    axes.axvspan(low, high, fc=PALE, ec=INK, lw=0.6, zorder=0)
    behind = {"fc": PALE, "ec": "none", "pad": 1}
    axes.text(0.5 * (low + high), 0.93 * max(missed), "serves all", ha="center", size=SIZE, bbox=behind)
    for words, pascal in marked:
        at = float(number(pascal, "Pa", "draft", system))
        axes.axvline(at, color=RUST, lw=1.5, ls=(0, (4, 2)))
        where = {"ha": "right", "xytext": (-4, 0), "textcoords": "offset points"}
        axes.annotate(words, (at, 0.62 * max(missed)), size=SIZE, color=RUST, **where)
    words = f"header held at, {label('draft', system)} (negative is draft)"
    plain(axes, words, f"states outside, of {common.scan.states.season.size}")
    axes.set_ylim(bottom=-4)
    return figure


# --- Prediction, and what is to be written ------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a header that is held exactly."""
    return predict("remedies", held_and_left, system)


def held_and_left() -> dict[str, Quantity | float]:
    """How many states of the hall leave a window though a fan and a damper hold the header where the job asks for it.

    Right is "none", "a few" or "many", by `FEW`.
    """
    found = compared()
    o = found.of(MOVING[2])
    states = len(found.scan.conditions)
    share = o.outside / states
    return {
        "right": 0 if not o.outside else 1 if share < FEW else 2,
        "figure": int(o.outside),
        "states": states,
        "share": share,
        "missed": int(o.unheld),
        "set_point": found.job.set_point,
        "better": Q_(found.window.best, "Pa"),
    }


FEW = 0.15  # of all states: fewer are nearer to one in twenty than to one in three, by their ratio


def writing(system: str = "US") -> Writing:
    """What a roof fan must add, to be written by the reader."""
    return load_writing("remedies", roof_fan, system)


def roof_fan(header: Quantity, wanted: Quantity, cap: float, head: Quantity) -> dict[str, Quantity]:
    """Fan static pressure of a fan in a cap's place, and what it becomes by the slips that are made with it.

    A cap whose loss is added is none of them: at K = 0.5, as the hall's cap has, that is the total pressure.
    """
    lack, lost = header - wanted, cap * head
    return {
        "answer": lack - lost - head,
        "wrong_sign": header + wanted - lost - head,
        "total": lack - lost,
        "cap_kept": lack - head,
    }


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("remedies", (fan_duty, best_set_point, too_deep, shaft_power, one_step), system, seed)


def fan_duty(free: Quantity, wanted: Quantity, cap: Quantity) -> dict[str, Quantity]:
    """What a fan in a cap's place must add."""
    return {
        "answer": free - wanted - cap,
        "cap_kept": free - wanted,
        "wrong_sign": free + wanted - cap,
        "cap_added": free - wanted + cap,
    }


def best_set_point(low: Quantity, high: Quantity) -> dict[str, Quantity]:
    """The middle of what serves all outlets."""
    return {"answer": 0.5 * (low + high), "half": 0.5 * (high - low), "width": low - high}


def too_deep(edge: Quantity, low: Quantity, held: Quantity) -> dict[str, Quantity]:
    """An outlet that moves with the header."""
    return {"answer": edge + held - low, "lower": low - held, "wrong_way": edge - held + low}


def shaft_power(yearly: Quantity, hours: int) -> dict[str, Quantity | float]:
    """Mean power at a shaft from the energy at the meter."""
    mean, share = yearly / Q_(hours, "hour"), MOTOR_EFFICIENCY
    at_meter = mean.to("W")
    return {"answer": (mean * share).to("W"), "at_meter": at_meter, "divided": at_meter / share, "share": share}


def one_step(taken: Quantity, margin: Quantity, slope: float, step: float) -> dict[str, Quantity | float | str]:
    """What one step of an actuator moves, by the slope of ln K (DM001 of the checks)."""
    more = taken * (np.exp(slope * step) - 1.0)
    return {
        "answer": more,
        "power": slope * step,
        "against_margin": "more than the margin" if more > margin else "near the margin",
        "all_of_it": taken + more,
        "one_per_cent": taken * 0.01,
        "whole_degree": taken * (np.exp(slope) - 1.0),
    }
