"""Start sequence: the hall's boilers called at once, the machine's failures, live controls, checks, questions."""

from collections.abc import Iterable
from functools import cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.draft import pressure_record, sequencer, start_proof, startup_sheet, transient_response
from ventcalc.draft import start_sequence as machine
from ventcalc.draft.purge import changes_for, purge_time, remaining, vent_volume
from ventcalc.draft.start_sequence import FAULTS, OUTPUTS, Event, State
from ventcalc.draft.start_settings import Burner, Settings
from ventcalc.draft.start_timeline import Cue, Timeline
from ventcalc.handbook.sequence_drawing import sequence_figure
from ventcalc.job import job_file
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, counted, folded, paragraph, slider, table
from ventcalc.show.plots import GREY, INK, RUST, SIZE
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import transient
from ventcalc.vent.course import Course
from ventcalc.vent.states import States
from ventcalc.words import say

CHAMBERS = (Q_(40.0, "ft**3"), Q_(40.0, "ft**3"), Q_(20.0, "ft**3"))  # as in the job file
LOWER_FLAMMABLE = Q_(5.0, "percent")  # of methane in air (US Bureau of Mines Bulletin 627, from memory)


@cache
def hall() -> job_file.Job:
    """The demo job: three boilers on one vent."""
    return job_file.demonstration("swim_hall")


def settings(**changed: Quantity) -> Settings:
    """The usual settings for the boilers of the swimming hall, some of them changed."""
    boilers = zip(hall().plant.appliances, CHAMBERS, strict=True)
    return Settings(tuple(Burner(a.name, chamber, a.purge_flow) for a, chamber in boilers), **changed)


def seconds(value: float) -> Quantity:
    """A time in seconds."""
    return Q_(float(value), "s")


def called(*at: float, more: Iterable[Cue] = (), until: float = 300.0, chosen: Settings | None = None) -> Timeline:
    """The hall's boilers called at these seconds, in their order, and what else happens."""
    chosen = chosen or settings()
    calls = [Cue(seconds(t), Event.CALL, b.name) for t, b in zip(at, chosen.burners, strict=False)]
    return sequencer.timeline([*calls, *more], chosen, seconds(until))


# --- The pressure that a start makes -------------------------------------------------------------------------


@cache
def start_pressure(stagger: float, until: float = 160.0) -> tuple[np.ndarray, np.ndarray]:
    """Time [s] and pressure [Pa] at every boiler's outlet while all three start on a summer's day, left at low fire.

    The vent stands alone: no fan, nothing is proved, each boiler is let go by the clock. It is followed in time from
    idle, its walls cold (`transient`).
    """
    plan, plant = called(0, 0, 0, until=until, chosen=settings(stagger=seconds(stagger))), hall().plant
    times = np.arange(0.0, until, 1.0)
    codes = np.array([plan.codes(times, i, load=0.0) for i in range(len(plan.names))])
    summer = [s.name for s in hall().seasons].index("summer")
    season = np.array([summer])
    idle = States(codes[:, :1], season, np.ones(1), np.zeros(1))
    course = Course(times, codes[..., None], season, np.zeros((times.size, 1)), idle)
    found = transient.run(plant, hall().seasons, course, stride=0.5, method=transient_response.METHOD)
    return found.time, found.outlet_pressure[:, :, 0]


def upper_edge() -> float:
    """Upper edge of Boiler 1's window [Pa]."""
    return float(hall().plant.appliances[0].window[1].m_as("Pa"))


def longest_above(times: np.ndarray, pressure: np.ndarray, limit: float) -> float:
    """How long [s] at a stretch a pressure is above a limit."""
    cues = pressure_record.pressure_cues(times, pressure, settings(high_limit=Q_(limit, "Pa")))
    return max((float(c.lasts.m_as("s")) for c in cues if c.event is Event.HIGH_PRESSURE), default=0.0)


STAGGERS = (0.0, 20.0, 40.0)


def stagger_table(system: str = "US") -> str:
    """What the time between two releases does to the pressure at Boiler 1's outlet, and where the start ends."""
    rows = []
    for stagger in STAGGERS:
        times, pressure = start_pressure(stagger)
        own, limit = pressure[0], upper_edge()
        chosen = settings(stagger=seconds(stagger), high_limit=Q_(limit, "Pa"))
        cues = [c for c in pressure_record.pressure_cues(times, own, chosen) if c.event is Event.HIGH_PRESSURE]
        ends = called(0, 0, 0, more=cues, chosen=chosen).ends
        highest = show(Q_(float(own.max()), "Pa"), system, "draft")
        above, words = f"{longest_above(times, own, limit):.0f} s", ", ".join(sorted({s.value for s in ends}))
        rows.append((f"{stagger:.0f} s", highest, above, words))
    return table(("between releases", "highest at Boiler 1", "above its window for", "the start ends in"), rows)


def pressure_figure(system: str = "US") -> Figure:
    """Pressure at Boiler 1's outlet during the start, for releases together and apart."""
    figure, (axes,) = row_of_axes(1, 3.0)
    for stagger, style, color in zip(STAGGERS, ("-", "--", ":"), (RUST, INK, INK), strict=True):
        times, pressure = start_pressure(stagger)
        words = "released together" if stagger == 0.0 else f"{stagger:.0f} s apart"
        axes.plot(times, number(pressure[0], "Pa", "draft", system), style, color=color, lw=2.0, label=words)
    edge = number(upper_edge(), "Pa", "draft", system)
    axes.axhline(edge, color=GREY, lw=1.2)
    style = {"textcoords": "offset points", "ha": "right", "va": "bottom", "size": SIZE}
    axes.annotate("upper edge of its window", (160.0, edge), (0, 3), **style)
    plain(axes, "time from the call, s", f"outlet of Boiler 1, {label('draft', system)}")
    axes.legend(fontsize=SIZE, frameon=False)
    return figure


# --- Tables made by running the machine -------------------------------------------------------------------------


def purges_told(system: str = "US") -> HTML:
    """What each purge has to move, and how long it takes: of the chamber, and of chamber and vent."""
    vent, alone = vent_volume(hall().plant), settings()
    whole = settings(vent_volume=vent)
    rows = [
        (b.name, startup_sheet.shown(b.chamber, system), show(b.purge_flow, system),
         *(f"{s.purge(b).m_as('s'):.0f} s" for s in (alone, whole)))
        for b in alone.burners
    ]  # fmt: skip
    head = ("", "chamber", "purge air", "purge of the chamber", f"with the vent's {startup_sheet.shown(vent, system)}")
    return HTML(table(head, rows))


def failures_told(_system: str = "US") -> HTML:
    """What every fault leads to."""
    return HTML(table(FAILURES_HEADER, failures()))


def rules_told(_system: str = "US") -> str:
    """The rules of the proof, a line each."""
    return "\n".join(f"– {name}" for name in (*(r.name for r in start_proof.RULES), start_proof.NO_DEAD_STATE))


def sheet_told(system: str = "US") -> HTML:
    """The start-up sheet, folded up."""
    sheet = startup_sheet.sheet_html(startup_sheet.startup_sheet(settings(), system), system)
    return HTML(folded("Open the start-up sheet of the hall", sheet))


def failures() -> tuple[tuple[str, ...], ...]:
    """Every fault while a burner runs: where it leads, what is commanded, what leads back; by running the machine."""
    rows = []
    for fault in FAULTS:
        after = machine.step(State.RUN, fault)
        out = OUTPUTS[after]
        others = "this burner" if fault is Event.FLAME_LOST else "every burner of the vent"
        fan, alarm = ("on" if flag else "off" for flag in (out.fan, out.alarm))
        rows.append((fault.value, others, after.value, fan, alarm, back_words(after)))
    return tuple(rows)


def back_words(state: State) -> str:
    """What leads from a state to a burner that runs; the events of a start from idle said in two words."""
    way, start = machine.way_back(state), machine.way_back(State.IDLE)
    first = [e.value for e in way[: len(way) - len(start)]]
    if way[len(first) :] == start:
        return ", ".join([*first, "a full start"])
    return ", ".join(e.value for e in way)


FAILURES_HEADER = ("what fails", "shuts", "leads to", "fan", "alarm", "what leads back")


def changes_made(found: Timeline, since: float = 0.0, until: float = np.inf) -> str:
    """What changed, line by line, from one time to before another [s]."""
    rows = [
        (f"{c.time:.0f} s", found.names[c.appliance], c.event.value, c.state.value)
        for c in found.changes
        if since <= c.time < until
    ]
    return table(("time", "boiler", "because", "it is now"), rows)


def dilution_figure() -> Figure:
    """Share of the first gas left after so many volume changes: mixed, three tanks, piston; and two limits."""
    figure, (axes,) = row_of_axes(1, 3.1)
    changes = np.linspace(0.0, 6.0, 301)
    for tanks, style, words in (
        (1.0, "-", "mixed at once"),
        (3.0, "--", "three tanks in series"),
        (1e4, ":", "piston"),
    ):
        left = np.maximum(remaining(changes, tanks).m_as("percent"), 1e-3)
        axes.plot(changes, left, style, color=INK, lw=2.0, label=words)
    limit = float(LOWER_FLAMMABLE.m_as("percent"))
    for value, words in ((limit, "lower flammable limit of methane"), (limit / 4.0, "a quarter of it")):
        axes.axhline(value, color=RUST, lw=1.2)
        axes.text(6.0, value * 1.12, words, ha="right", va="bottom", size=SIZE, color=RUST)
    axes.set_yscale("log")
    axes.set_ylim(0.1, 120.0)
    axes.set_yticks([0.1, 1.0, 10.0, 100.0], ["0.1", "1", "10", "100"])
    axes.set_xlim(0.0, 6.0)
    plain(axes, "volume changes", "first gas left, %")
    axes.legend(fontsize=SIZE, frameon=False, loc="upper right", bbox_to_anchor=(1.0, 1.05))
    return figure


# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[checked.Check, ...]:
    """Published times to remove a contaminant from a mixed volume, and what volume changes leave."""
    ours = {}
    for row in tables.read("start_sequence_checks"):
        if row["ach"]:
            changes = changes_for(1.0 - float(row["removal_pct"]) / 100.0)
            ours[row["id"]] = purge_time(Q_(1.0, "m**3"), Q_(float(row["ach"]), "m**3/hour"), changes)
        else:
            ours[row["id"]] = remaining(float(row["changes"]))
    return checked.compare("start_sequence_checks", ours)


# --- Live controls --------------------------------------------------------------------------------------------

UNTIL = 480.0
NOTHING = "nothing"
_HAPPENS = {e.value: e for e in (*FAULTS, Event.CALL_ENDS)}
_PURGED = (("chambers only", False), ("chambers and vent", True))


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; times in seconds."""
    return {
        "event": choice("What happens", [NOTHING, *_HAPPENS], Event.HIGH_PRESSURE.value),
        "at": slider("At", counted(range(0, 301, 10), "s"), 150.0),
        "lasts": slider("For", counted((1, 3, 6, 10, 20, 60, 300), "s"), 10.0),
        "who": choice("At boiler", [b.name for b in settings().burners], settings().burners[0].name),
        "high_delay": slider("Delay, high limit", counted((0, 2, 5, 10, 20), "s"), 5.0),
        "stagger": slider("Between releases", counted((0, 20, 40, 60), "s"), 20.0),
        "changes": slider("Volume changes", counted((3, 4, 5, 8)), 4.0),
        "vent": choice("Purged", _PURGED, False),
        "reset": slider("Manual reset", [("never", 0.0), *counted(range(200, 401, 50), "s")], 0.0),
    }


def explorer(system: str = "US") -> Panel:
    """Three boilers called one after the other; something happens; where does it end?"""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str,
    *,
    event: str,
    at: float,
    lasts: float,
    who: str,
    high_delay: float,
    stagger: float,
    changes: float,
    vent: bool,
    reset: float,
) -> tuple[str, bytes]:
    """Where it ends and what led there; times in seconds, ``vent``: whether its volume is purged as well."""
    volume = vent_volume(hall().plant) if vent else Q_(0.0, "ft**3")
    chosen = settings(
        high_delay=seconds(high_delay), stagger=seconds(stagger), changes=Q_(changes, ""), vent_volume=volume
    )
    more, marks = [], []
    if event != NOTHING:
        what = _HAPPENS[event]
        own = who if what in (Event.FLAME_LOST, Event.CALL_ENDS) else None
        more.append(Cue(seconds(at), what, own, seconds(lasts)))
        marks.append((at, event if own is None else f"{event}, {own}"))
    if reset:
        more.append(Cue(seconds(reset), Event.RESET))
        marks.append((reset, "reset"))
    found = called(0, 30, 60, more=more, until=UNTIL, chosen=chosen)
    return _told(found, event, at), picture(sequence_figure(found, marks))


def _told(found: Timeline, event: str, at: float) -> str:
    noticed = event == NOTHING or any(c.event.value == event and c.time >= at for c in found.changes)
    rows = []
    for i, (name, state) in enumerate(zip(found.names, found.ends, strict=True)):
        fire = sum(end - begin for begin, end, s in found.spans(i) if s is State.RUN)
        cause = _cause(found, i) if OUTPUTS[state].alarm else ""
        purge = startup_sheet.shown(found.settings.purge(found.settings.burners[i]))
        rows.append((name, purge, f"{fire:.0f} s", state.value, cause, back_words(state)))
    header = ("boiler", "its purge", "ran for", f"after {UNTIL:.0f} s", "because of", "what leads to run")
    return ("" if noticed else paragraph(say("handbook", "start_sequence", "unnoticed"))) + table(header, rows)


def _cause(found: Timeline, appliance: int) -> str:
    """What led an appliance into its alarm: the event, and where it met it."""
    states = [State.IDLE, *(c.state for c in found.changes if c.appliance == appliance)]
    events = [c.event for c in found.changes if c.appliance == appliance]
    entries = [k for k, e in enumerate(events) if OUTPUTS[states[k + 1]].alarm and not OUTPUTS[states[k]].alarm]
    return f"{events[entries[-1]].value}, in: {states[entries[-1]].value}"


_UNITS = {"volume": {"US": "ft**3", "SI": "m**3"}, "flow": {"US": "cfm", "SI": "m**3/s"}}


def purge_controls(system: str = "US") -> dict:
    """The controls of `purge_explorer` by name; m3 and m3/s."""

    def options(us: Iterable[float], si: Iterable[float], kind: str) -> list[tuple[str, float]]:
        values = (Q_(float(v), _UNITS[kind][system]) for v in (us if system == "US" else si))
        return [(startup_sheet.shown(q, system), float(q.to_base_units().m)) for q in values]

    volumes = options((5, 10, 20, 40, 80, 160, 320), (0.1, 0.25, 0.5, 1, 2, 5, 10), "volume")
    vents = options((0, 20, 60, 118, 240, 480), (0, 0.5, 1.5, 3.4, 7, 14), "volume")
    flows = options((25, 50, 100, 200, 400, 800, 1600), (0.01, 0.025, 0.05, 0.1, 0.2, 0.4, 0.8), "flow")
    return {
        "chamber": slider("Chamber", volumes, 1.1),
        "vent": slider("Vent", vents, 0.0),
        "flow": slider("Purge flow", flows, 0.19),
        "changes": slider("Volume changes", counted((1, 2, 3, 4, 5, 8)), 4.0),
        "tanks": choice("It moves", [("mixed at once", 1.0), ("as three tanks", 3.0), ("as a piston", 1e4)], 1.0),
    }


def purge_explorer(system: str = "US") -> Panel:
    """A purge: its time, and what it leaves of a chamber full of gas."""
    return Panel(partial(purge_answer, system), purge_controls(system))


def purge_answer(
    system: str, *, chamber: float, vent: float, flow: float, changes: float, tanks: float
) -> tuple[str, bytes]:
    """Purge time and the share that is left over it; m3, m3, m3/s, ratio, ratio."""
    volume = Q_(chamber + vent, "m**3")
    time = purge_time(volume, Q_(flow, "m**3/s"), changes)
    seconds_, left = float(time.m_as("s")), remaining(changes, tanks)
    share = float((left / LOWER_FLAMMABLE).m_as(""))
    kept = "below a quarter of" if share < 0.25 else "below" if share < 1.0 else "not below"
    row = (
        startup_sheet.shown(volume, system),
        f"{seconds_:.0f} s",
        f"{float(left.m_as('percent')):.2f} %",
        f"{share:.2f}",
    )
    header = ("volume", "purge takes", "first gas left", "over the lower flammable limit, had it been pure methane")
    figure, (axes,) = row_of_axes(1, 2.6)
    over = np.linspace(0.0, 1.3 * seconds_, 200)
    axes.plot(over, remaining(over / seconds_ * changes, tanks).m_as("percent"), color=INK, lw=2.0)
    axes.axvline(seconds_, color=INK, lw=1.0, ls="--")
    axes.text(seconds_, 60.0, " end of the purge", ha="left", size=SIZE, color=INK)
    axes.axhline(float(LOWER_FLAMMABLE.m_as("percent")), color=RUST, lw=1.2)
    axes.text(0.0, 7.0, "lower flammable limit", ha="left", size=SIZE, color=RUST)
    plain(axes, "time, s", "first gas left, %")
    return paragraph(f"What is left is {kept} the lower flammable limit.") + table(header, [row]), picture(figure)


# --- Prediction, and what is to be written --------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a purge that has to clear the vent as well."""
    return predict("start_sequence", with_the_vent, system)


def with_the_vent(changes: float) -> dict[str, Quantity | float | int | str]:
    """Whose purge takes longest when it has to move the vent too: a large boiler's, all the same, a small one's."""
    alone = settings(changes=Q_(float(changes), ""))
    whole = settings(changes=Q_(float(changes), ""), vent_volume=vent_volume(hall().plant))
    times = {b.name: float(whole.purge(b).m_as("s")) for b in whole.burners}
    slowest, fastest = max(times, key=times.get), min(times, key=times.get)
    chambers = {b.name: b.chamber for b in whole.burners}
    same = times[slowest] - times[fastest] < 1.0
    return {
        "right": 1 if same else 2 if chambers[slowest] < chambers[fastest] else 0,
        "figure": seconds(times[slowest]),
        "others": seconds(times[fastest]),
        "alone": alone.purge(alone.burners[0]),
        "slowest": slowest,
    }


def writing(system: str = "US") -> Writing:
    """A purge that leaves so much, to be written by the reader."""
    return load_writing("start_sequence", purge_to, system)


def purge_to(left: Quantity, chamber: Quantity, vent: Quantity, flow: Quantity, system: str) -> dict[str, Quantity]:
    """Purge time that leaves a share of the first gas, and the slips that are made with it."""
    changes = changes_for(left)
    answer = purge_time(chamber + vent, flow, changes)
    return {
        "answer": answer,
        "alone": purge_time(chamber, flow, changes),
        "unit": answer / 60.0 if system == "US" else answer * 60.0,
        "base_ten": answer * np.log10(np.e),
        "percent": answer * float(-np.log(left.m_as("percent")) / changes.m_as("")),
    }


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("start_sequence", (whole_purge, left_over, third_boiler, steps_back), system, seed)


_COUNTS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight")


def whole_purge(boiler: str, changes: str, system: str) -> dict[str, Quantity | str | int]:
    """A purge of a chamber and of the vent."""
    burner, vent = next(b for b in settings().burners if b.name == boiler), vent_volume(hall().plant)
    count = _COUNTS.index(changes)
    answer = purge_time(burner.chamber + vent, burner.purge_flow, count).to("s")
    return {
        "answer": answer,
        "count": count,
        "chamber": startup_sheet.shown(burner.chamber, system),
        "vent": startup_sheet.shown(vent, system),
        "flow": burner.purge_flow,
        "alone": purge_time(burner.chamber, burner.purge_flow, count),
        "one": answer / count,
    }


_PARTS = {"a half": 2.0, "a third": 3.0, "a quarter": 4.0, "a fifth": 5.0, "a tenth": 10.0}


def left_over(part: str) -> dict[str, Quantity | float | str]:
    """Volume changes that leave a part of the lower flammable limit."""
    limit = float(LOWER_FLAMMABLE.m_as(""))
    left = limit / _PARTS[part]
    changes = float(changes_for(left).m_as(""))
    told = {"Part": part.capitalize(), "percent": 100.0 * left, "left": left,
            "below": _COUNTS[int(changes)], "above": _COUNTS[int(changes) + 1]}  # fmt: skip
    wrong = {"whole": Q_(float(changes_for(limit).m_as("")), ""), "base_ten": Q_(-np.log10(left), "")}
    return {"answer": Q_(changes, ""), **told, **wrong}


def third_boiler(stagger: Quantity, proof_time: Quantity) -> dict[str, Quantity]:
    """When the last of three boilers runs."""
    chosen = settings(stagger=stagger, proof_time=proof_time)
    found = called(0, 0, 0, chosen=chosen)
    alone, _, third = (seconds(next(begin for begin, _, s in found.spans(i) if s is State.RUN)) for i in range(3))
    told = {n: seconds(chosen.seconds(n)) for n in ("fan_start", "damper_travel", "pilot_light", "main_light")}
    wrong = {"fan_first": third + told["fan_start"], "first": alone, "second": alone + stagger}
    return {"answer": third, "purge": chosen.purge(chosen.burners[-1]), **told, **wrong}


def steps_back() -> dict[str, Quantity]:
    """Events from a lost flame back to a burner that runs."""
    counts = (len(machine.way_back(s)) for s in (machine.step(State.RUN, Event.FLAME_LOST), State.IDLE))
    return dict(zip(("answer", "start"), (Q_(float(n), "") for n in counts), strict=True))
