"""Draft control: the loop drawn, its runs through a purge, its tuning, live controls, checks and questions."""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache, partial
from itertools import pairwise

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.checked import Check, compare
from ventcalc.draft import draft_control as control
from ventcalc.draft import loop_performance, transient_response, vent_response
from ventcalc.draft.actuators import Lag, Stroke
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop, Trace
from ventcalc.draft.firing_schedule import Schedule
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.spike_test import SpikeTest, spike_test
from ventcalc.draft.tuning import Model, identify, margins, simc, tune
from ventcalc.handbook.hall_purge import (
    ENDS,
    FACTORY,
    FAN_LAG,
    FIRST,
    GUARD,
    LIT_AT,
    LOWEST,
    PURGE_AT,
    SET_POINT,
    TOP,
    damper,
    draft,
    events,
    hall,
    judged,
    loop,
    pascal,
    response,
    run,
    run_on,
    runs_table,
    seconds,
    starting,
)
from ventcalc.show.axes import label, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, counted, paragraph, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.sketch import sketch
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, shown_unit
from ventcalc.words import say

# --- Tuning -----------------------------------------------------------------------------------------------------------

TUNED_AT = 73.0  # s into the first event: all three at high, the fan fast: there a change of speed moves the most


@cache
def tuned(sensitivity: float = 1.6) -> tuple[Gains, Model, Model]:
    """Gains by the rule, the model identified from the step test, and the true linear model they are verified on."""
    one = loop()
    model = identify.bare(*control.step_test(one, response(), TUNED_AT))
    sample = float(one.sensor.sample.m_as("s"))
    true = Model(model.gain, (float(FAN_LAG.m_as("s")), float(one.sensor.filter.m_as("s"))))
    return tune(model, sample, sensitivity, true), model, true


def gain_text(gains: Gains, system: str) -> str:
    """A controller's gain and integral time as text."""
    kp = float(gains.kp.m_as("1/inH2O" if system == "US" else "1/Pa"))
    unit = "per in. w.c." if system == "US" else "per Pa"
    return f"kp {kp:.3g} {unit}, ti {float(gains.ti.m_as('s')):.1f} s"


# --- Tables -----------------------------------------------------------------------------------------------------------


def loop_table(system: str = "US") -> HTML:
    """The loop and its event as they are given."""
    one, guard = loop(), GUARD["Boiler 1"]
    low, high = (draft(p, system) for p in one.sensor.range)
    turns = "; ".join(
        f"{turn.appliance} to {turn.to} at {turn.at.m_as('s'):.0f} s" for turn in events()[FIRST].schedule.turns
    )
    rows = [
        ("set point", draft(pascal(one.set_point), system)),
        ("sensor", f"reads {low} to {high}, filter {one.sensor.filter:~P}, every {one.sensor.sample:~P}"),
        ("gains as delivered", gain_text(one.gains, system)),
        ("fan", f"follows with {FAN_LAG:~P}, never below {one.least:.0%} of its speed"),
        ("limit of Boiler 1", f"{draft(pascal(guard.high), system)}, trips after {guard.delay:~P} beyond it"),
        ("event", turns),
    ]
    return HTML(table(("the loop", ""), rows))


def margins_table(system: str = "US") -> HTML:
    """The gains of the factory and those of the rule, with their margins on the true linear model."""
    gains, model, true = tuned()
    rows = []
    for name, law in (("factory", FACTORY), ("tuned", gains)):
        m = margins(law, true, float(loop().sensor.sample.m_as("s")))
        phase = f"{np.degrees(m.phase):.0f}°, or {m.delay:.1f} s"
        rows.append((name, gain_text(law, system), f"{m.sensitivity:.2f}", f"{m.gain:.0f}", phase))
    read = f"{draft(model.gain, system)} for the whole speed, lag {model.lags[0]:.2f} s, delay {model.delay:.2f} s"
    return HTML(table((f"model: {read}", "gains", "Ms", "gain margin", "phase margin"), rows))


def damper_table(system: str = "US") -> HTML:
    """The winter's purge behind a damper: where the header goes and how far the damper opens."""
    rows = []
    for stroke, trace in damper_runs():
        before, peak = (draft(float(p), system) for p in (trace.pressure[0], trace.pressure.max()))
        rows.append((stroke, before, peak, f"{trace.setting[0]:.0%}", f"{trace.setting.max():.0%}"))
    return HTML(table(("full stroke in", "header before", "header at most", "damper open before", "at most"), rows))


# --- Pictures ---------------------------------------------------------------------------------------------------------


def block_diagram() -> Figure:
    """The loop as a block diagram; the limits stand apart from it."""
    return sketch("block_diagram")


_STYLES = ((RUST, "--"), (BLUE, "-"), (GREY, ":"))


def _plot(axes: Axes, trace: Trace, values: np.ndarray, system: str, look: tuple[str, str], name: str) -> None:
    """Pressures [Pa] of a run over its time."""
    color, style = look
    axes.plot(trace.time, number(values, "Pa", "draft", system), style, color=color, lw=1.8, label=name)


def _at(axes: Axes, pressure: Quantity, system: str, style: str = "-") -> None:
    axes.axhline(number(pascal(pressure), "Pa", "draft", system), color=INK, lw=0.8, ls=style)


def _mark_purge(axes: Axes) -> None:
    axes.axvspan(float(PURGE_AT.m), float(LIT_AT.m), color=PALE, zorder=0)


def _pressure_axes(axes: Axes, system: str, title: str) -> Axes:
    plain(axes, "time, s", label("draft", system), title)
    axes.yaxis.labelpad = -1.0  # the figures of a draft are wide
    return axes


def _legend(axes: Axes, room: float = 0.35, **more) -> None:
    """A legend above the lines: ``room`` of their height is added for it."""
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + room * (high - low))
    axes.legend(fontsize=SIZE, frameon=False, loc="upper right", **more)


def one_run(system: str = "US") -> Figure:
    """Boiler 2 starts, the factory's gains, the sensor that reads both signs: pressures, and below the fan's speed."""
    trace = run(loop(), limits={})
    figure = Figure((WIDTH, 5.4))
    upper, lower = figure.add_axes((0.11, 0.42, 0.85, 0.53)), figure.add_axes((0.11, 0.10, 0.85, 0.21))
    for axes in (upper, lower):
        _mark_purge(axes)
        axes.set_xlim(0.0, trace.time[-1])
    _pressure_axes(upper, system, "pressures; shaded: Boiler 2 purges").set_xlabel("")
    _plot(upper, trace, trace.pressure, system, (INK, "-"), "header")
    for i, look in enumerate(_STYLES):
        _plot(upper, trace, trace.outlets[i], system, look, f"outlet of Boiler {i + 1}")
    _at(upper, SET_POINT, system)
    _legend(upper, 0.30, ncols=2)
    plain(lower, "time, s", "fan speed, %")
    lower.plot(trace.time, 100.0 * trace.output, "--", color=GREY, label="asked for")
    lower.plot(trace.time, 100.0 * trace.setting, "-", color=INK, label="turns")
    lower.legend(fontsize=SIZE, frameon=False, ncols=2, loc="upper right")
    lower.set_ylim(0.0, 100.0)
    return figure


@cache
def two_sensors_runs(gains: Gains, guarded: bool = True) -> tuple[tuple[str, Trace], ...]:
    """The first event with each sensor, with the limit or without; what follows a trip takes long, so it is kept."""
    return tuple((name, run(loop(gains, name), limits=GUARD if guarded else {})) for name in ENDS)


def two_sensors(system: str = "US") -> Figure:
    """What each sensor reads, and how the true pressure comes back; a cross where the neighbor trips."""
    figure, (left, right) = row_of_axes(2, 3.4)
    for (name, trace), look in zip(two_sensors_runs(FACTORY), _STYLES, strict=False):
        pick = trace.time <= 60.0
        early = replace(trace, time=trace.time[pick])
        for axes, values in ((left, trace.reading), (right, trace.outlets[0])):
            _plot(axes, early, values[pick], system, look, name)
        for trip in trace.trips:
            at = number(trip.pressure, "Pa", "draft", system)
            right.plot(trip.at, at, "X", ms=11, color=look[0])
            right.annotate("trips", (trip.at, at), (6, 6), textcoords="offset points", size=SIZE, color=look[0])
    for axes, title in ((left, "what the sensor says"), (right, "true, at Boiler 1's outlet")):
        _mark_purge(axes)
        _pressure_axes(axes, system, title)
    _at(left, SET_POINT, system)
    _at(right, GUARD["Boiler 1"].high, system, "-.")
    _legend(left)
    return figure


STROKES = (5.0, 30.0, 120.0)  # s for a full stroke


@cache
def stroke_runs() -> tuple[tuple[str, Trace], ...]:
    """The first event with drives that need longer and longer from standstill to full speed; no limits."""
    return tuple((f"{t:.0f} s", run(loop(actuator=Stroke(seconds(t))), limits={})) for t in STROKES)


def slow_and_fast(system: str = "US") -> Figure:
    """The header and the fan with slow and fast drives."""
    figure = _header_and_speed(stroke_runs(), system, "full stroke in", 3.4, 0.6)
    for axes in figure.axes:
        _mark_purge(axes)
        axes.set_xlim(0.0, 119.0)
    return figure


def _header_and_speed(
    runs: Iterable[tuple[str, Trace]], system: str, heading: str, height: float, room: float
) -> Figure:
    """Header pressure and the fan's speed of some runs side by side, and where something trips."""
    figure, (left, right) = row_of_axes(2, height)
    for (name, trace), look in zip(runs, _STYLES, strict=False):
        _plot(left, trace, trace.pressure, system, look, name)
        right.plot(trace.time, 100.0 * trace.setting, look[1], color=look[0], lw=1.8)
        for trip in trace.trips:
            left.axvline(trip.at, color=look[0], ls=":", lw=1.5)
            left.annotate(f"{trip.where} trips", (trip.at, 0.03), (4, 0), ("data", "axes fraction"),
                          textcoords="offset points", size=SIZE, color=look[0], zorder=5,
                          bbox={"fc": "white", "ec": "none", "pad": 0.5})  # fmt: skip
    _at(left, SET_POINT, system)
    _pressure_axes(left, system, "header pressure")
    plain(right, "time, s", "setting, %", "fan speed")
    _legend(left, room, title=heading, title_fontsize=SIZE)
    return figure


@cache
def damper_runs() -> tuple[tuple[str, Trace], ...]:
    """Winter, Boilers 1 and 3 at low fire behind a damper that holds the draft back; Boiler 2 purges. Full strokes."""
    schedule = Schedule(seconds(75), ("low", "off", "low"), starting("Boiler 2", (("low", 0.0),)), season=0)
    found = transient_response.respond(hall().plant, hall().seasons, schedule, TOP, damper())
    one = replace(loop(Gains(Q_(2.0, "1/inH2O"), seconds(8))), least=damper().damper.least)
    return tuple((f"{t:.0f} s", control.follow(replace(one, actuator=Stroke(seconds(t))), found)) for t in STROKES)


def tuning(system: str = "US") -> Figure:
    """Left: the step test and the model read from it. Right: the event before and after tuning."""
    gains, model, _ = tuned()
    figure, (left, right) = row_of_axes(2, 3.4)
    time, reading, step = control.step_test(loop(), response(), TUNED_AT, lasts=20.0)
    lag, delay = model.lags[0], model.delay
    fitted = reading[0] - model.gain * step * np.where(time < delay, 0.0, 1.0 - np.exp(-(time - delay) / lag))
    left.plot(time, number(reading, "Pa", "draft", system), "-", color=INK, lw=1.8, label="step test")
    left.plot(time, number(fitted, "Pa", "draft", system), "--", color=RUST, lw=1.8, label="model")
    _pressure_axes(left, system, f"fan speed {100 * step:+.0f} %").set_xlabel("time since the step, s")
    _legend(left)
    for name, law, look in zip(("factory", "tuned"), (FACTORY, gains), _STYLES, strict=False):
        trace = run(loop(law), limits={})
        pick = trace.time <= 60.0
        _plot(right, replace(trace, time=trace.time[pick]), trace.pressure[pick], system, look, name)
    _mark_purge(right)
    _pressure_axes(right, system, "header pressure")
    _at(right, SET_POINT, system)
    _legend(right)
    return figure


@cache
def spikes() -> SpikeTest:
    """The spike test over 200 plants."""
    return spike_test()


PRACTICE = (0.4, 0.5)  # settling times, one over the other: "50 to 60 % faster" (common practice, no source)


def spike_figure() -> Figure:
    """Left: how often which ratio of settling times. Right: the ratio against the share of the spike cut off."""
    found = spikes()
    figure, (left, right) = row_of_axes(2, 3.5)
    left.axvspan(*PRACTICE, fc=PALE, ec=GREY, hatch="//", zorder=0, label="common practice")
    left.hist(found.ratio, bins=np.linspace(0.0, 1.3, 27), color=BLUE, ec="white", lw=0.5)
    left.axvline(np.median(found.ratio), color=INK, ls="--", label="median")
    plain(left, "settling time, both signs / zero-ended", "plants", "200 plants")
    left.get_figure().legend(loc="upper right", ncols=2, frameon=False, fontsize=SIZE, borderaxespad=0.2)
    right.axhspan(*PRACTICE, fc=PALE, ec=GREY, hatch="//", zorder=0)
    right.plot(100.0 * found.clipped, found.ratio, "o", ms=4, mfc="none", mec=BLUE)
    plain(right, "share of the spike not seen, %", "ratio of settling times")
    return figure


def spike_table() -> HTML:
    """`spike_rows` as a table."""
    return HTML(table(("not seen", "plants", "ratio: a quarter below", "median", "a quarter above"), spike_rows()))


def spike_words() -> str:
    """The spike test in a few sentences."""
    found = spikes()
    low, high = PRACTICE
    told, more = ((found.ratio >= low) & (found.ratio <= high)).mean(), (found.ratio < low).mean()
    return (
        f"median: {1 - np.median(found.ratio):.0%} faster with the sensor that reads both signs\n"
        f"50 to 60 % faster: {told:.1%} of the plants; more than that: {more:.1%}\n"
        f"slower by it: {(found.ratio > 1).sum()}; "
        f"not settled within four minutes with the other: {int(np.isinf(found.one_sided).sum())}"
    )


def spike_rows() -> list[tuple[str, ...]]:
    """The spike test in numbers, by the share of the spike that the sensor which ends at zero does not see."""
    found = spikes()
    bands = [(f"{100 * low:.0f} to {100 * high:.0f} %", (found.clipped >= low) & (found.clipped < high))
             for low, high in pairwise((0.0, 0.5, 0.7, 0.8, 0.9, 1.0))]  # fmt: skip
    return [
        (words, f"{pick.sum()}", *(f"{v:.2f}" for v in np.percentile(found.ratio[pick], [25, 50, 75])))
        for words, pick in [*bands, ("all", np.ones(found.ratio.size, bool))]
    ]


# --- Live controls --------------------------------------------------------------------------------------------------


def explorer(system: str = "US") -> Panel:
    """Gains, filter, the fan's time, the sensor's range and the event; every answer is a simulation."""
    unit = "1/inH2O" if system == "US" else "1/Pa"
    kps = [Q_(v, "1/inH2O") for v in (0.2, 0.4, 0.8, 1.2, 1.6, 2.0, 2.6, 4.0, 6.0, 10.0)]
    tops = [Q_(v, "inH2O") for v in (0.0, 0.05, 0.10, 0.25)]
    draft_unit = label("draft", system)
    tops_ = [(f"{float(t.m_as(shown_unit('draft', system))):.3g}", pascal(t)) for t in tops]
    controls = {
        "event": choice("event", list(events()), FIRST),
        "kp": slider(f"kp, per {draft_unit}", [(f"{k.m_as(unit):.2g}", float(k.m_as("1/Pa"))) for k in kps],
                     float(FACTORY.kp.m_as("1/Pa"))),
        "ti": slider("integral time", counted((1, 2, 3, 4, 6, 10, 20, 40), "s"), 4.0),
        "filter_": slider("sensor's filter", counted((0, 0.2, 0.5, 1, 2, 4), "s"), 0.5),
        "lag": slider("fan's time", counted((0.5, 1, 2, 3, 4, 5, 6, 8, 15), "s"), 3.0),
        "top": slider(f"reads to, {draft_unit}", tops_, 0.0),
    }  # fmt: skip
    return Panel(partial(explored, system), controls)


def explored(
    system: str, event: str, kp: float, ti: float, filter_: float, lag: float, top: float
) -> tuple[str, bytes]:
    """Numbers and picture of one loop beside the same loop with a sensor that reads both signs; plain SI."""
    law = Gains(Q_(kp, "1/Pa"), seconds(ti))
    wide = loop(law, actuator=Lag(seconds(lag)), filter_=seconds(filter_))
    own = replace(wide, sensor=replace(wide.sensor, high=Q_(top, "Pa")))
    runs = [(f"to {draft(top, system)}", run_on(own, event))]
    if top < wide.sensor.range[1]:
        runs.append((f"to {draft(wide.sensor.range[1], system)}", run_on(wide, event)))
    found = response(event)
    at = float(events()[event].ends) - 1.0
    rest = found.rest(at, pascal(SET_POINT), own.least)
    steep = -float(np.interp(rest, found.setting, np.gradient(found.at(at)[0], found.setting)))
    safe = margins(law, Model(steep, tuple(t for t in (lag, filter_) if t > 0.0)), float(own.sensor.sample.m_as("s")))
    verdict = "robust" if safe.sensitivity <= 1.6 else "brisk" if safe.sensitivity <= 2.0 else "it rings"
    verdict = verdict if safe.phase > 0.0 else "unstable"
    words = say("handbook", "draft_control", "linear", system, sensitivity=safe.sensitivity,
                phase=float(np.degrees(safe.phase)), verdict=verdict)  # fmt: skip
    return runs_table(runs, system, event) + paragraph(words), picture(explored_figure(runs, system))


def explored_figure(runs: list[tuple[str, Trace]], system: str) -> Figure:
    """Header and fan speed of the runs in two panels side by side."""
    return _header_and_speed(runs, system, "sensor reads", 3.3, 0.5)


# --- Checks ---------------------------------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """The tuning rule, its margins and the overshoot of a second-order loop."""
    plain_ = [simc(Model(50.0, (lag,), 1.0), 1.0).plain for lag in (8.0, 20.0, 4.0)]
    model = Model(50.0, (4.0,), 1.0)
    found = margins(simc(model, 1.0), model, 0.002)
    ours = {
        "DC001": plain_[0][0], "DC002": plain_[0][1], "DC003": plain_[1][1],
        "DC004": found.gain, "DC005": found.gain, "DC006": float(np.degrees(found.phase)), "DC007": found.sensitivity,
        "DC008": 100.0 * second_order_overshoot(0.5),
    }  # fmt: skip
    return compare("draft_control_checks", ours)


def second_order_overshoot(damping: float) -> float:
    """Overshoot over the step of a simulated loop: an integral part alone, and a lag of 4 s."""
    lag, gain, step = 4.0, 100.0, 0.004
    ki = 1.0 / (4.0 * damping**2 * lag * gain)  # 2 zeta wn = 1/T and wn^2 = K ki / T
    sensor = Sensor(Q_(-500, "Pa"), Q_(500, "Pa"), seconds(0), seconds(step))
    law = Gains(Q_(1e-3 * ki, "1/Pa"), seconds(1e-3))
    jumped = vent_response.Response.given([0.0, 30.0], [20.0, 20.0], 0.0, gain)
    trace = control.follow(Loop(sensor, law, Lag(seconds(lag)), Q_(-10, "Pa"), start=0.1), jumped, step)
    return loop_performance.overshoot.bare(trace.time, trace.pressure, -10.0, 0.0) / 20.0


# --- Prediction, and what is to be written ----------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a purge behind a damper."""
    return predict("draft_control", behind_a_damper, system)


ALIKE = 1.5  # one peak over the other: up to here they are called alike


def behind_a_damper(stroke: int) -> dict[str, Quantity | float | int]:
    """The header's highest pressure in a purge behind a damper in winter, and in one under a fan in summer."""
    held = next(trace for name, trace in damper_runs() if name == f"{stroke} s")
    fan, behind = (_most_in_the_purge(trace) for trace in (run(loop(), limits={}), held))
    times = behind / fan
    return {
        "right": 0 if times < 1.0 / ALIKE else 1 if times < ALIKE else 2,
        "figure": Q_(behind, "Pa"),
        "fan": Q_(fan, "Pa"),
        "times": times,
        "open": float(held.setting[0]),
    }


def _most_in_the_purge(trace: Trace) -> float:
    """The header's highest pressure [Pa] while Boiler 2 purges."""
    begins, ends = (float(t.m_as("s")) for t in (PURGE_AT, LIT_AT))
    return float(trace.pressure[(trace.time >= begins) & (trace.time < ends)].max())


def writing(system: str = "US") -> Writing:
    """The error that a controller sees, to be written by the reader."""
    return load_writing("draft_control", error_seen, system)


def error_seen(pressure: Quantity, set_point: Quantity, lowest: Quantity, highest: Quantity) -> dict[str, Quantity]:
    """Reading less set point, where the sensor reads its end beyond its range; and the slips that are made with it."""
    low, high = Sensor(lowest, highest).range
    reading = Q_(min(max(pascal(pressure), low), high), "Pa")
    return {
        "answer": reading - set_point,
        "true_error": pressure - set_point,
        "sign": set_point - reading,
        "reading": reading,
    }


# --- Questions --------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("draft_control", (seen, integral, rule, above), system, seed)


def seen(set_point: Quantity, spike: Quantity) -> dict[str, Quantity | str]:
    """The error that a sensor which ends at zero lets through."""
    low, high = Sensor(LOWEST, ENDS["ends at zero"]).range
    error = Q_(min(max(pascal(spike), low), high), "Pa") - set_point.to("Pa")
    times = round(float(((spike - set_point) / error).m_as("")))
    told = {2: "twice", 3: "three times", 4: "four times", 5: "five times"}[times]
    return {"answer": error, "lowest": LOWEST, "times": told, "true_error": spike - set_point}


def integral(error: Quantity, needed: float, system: str) -> dict[str, Quantity | float | str]:
    """How long the integral part takes to a share of the output."""
    share = (FACTORY.kp * error).to("")
    answer = (needed * FACTORY.ti / share).to("s")
    told = {"law": gain_text(FACTORY, system), "percent": 100 * needed, "share": float(share.m)}
    return {"answer": answer, **told, "third": answer / 3.0, "integral_time": FACTORY.ti}


def rule(lag: float, delay: float, closed: float) -> dict[str, Quantity]:
    """The integral time of the tuning rule."""
    return {
        "answer": simc(Model(250.0, (lag,), delay), closed).ti,
        "long": seconds(lag),
        "no_delay": seconds(4 * closed),
    }


def above(lag: int) -> dict[str, Quantity]:
    """How long the neighbor's outlet is too high with a slower fan."""

    def time_above(lag: Quantity, end: str = "ends at zero") -> Quantity:
        return seconds(judged(run(loop(end=end, actuator=Lag(lag)), limits={})).above)

    return {
        "answer": time_above(seconds(lag)),
        "high": GUARD["Boiler 1"].high,
        "usual": time_above(FAN_LAG),
        "both_signs": time_above(seconds(lag), "reads both signs"),
    }
