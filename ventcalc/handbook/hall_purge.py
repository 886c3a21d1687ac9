"""Hall purge: the swimming hall with a roof fan, what happens in it, and its draft loop run through that."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ventcalc.draft import (
    damper_leakage,
    dampers,
    fan_table,
    final_element,
    firing_schedule,
    limit_switches,
    load_changes,
    loop_performance,
    transient_response,
)
from ventcalc.draft import draft_control as control
from ventcalc.draft.actuators import Lag
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop, Trace
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.draft.vent_response import Response
from ventcalc.job import job_file
from ventcalc.show.panels import table
from ventcalc.units import Q_, Quantity, show

SET_POINT = Q_(-0.05, "inH2O")


BAND = Q_(0.01, "inH2O")  # around the set point: what a gauge shows (common practice, no source)


LOWEST = Q_(-0.25, "inH2O")  # end of both sensors' ranges


ENDS = {"ends at zero": Q_(0.0, "inH2O"), "reads both signs": Q_(0.25, "inH2O")}


GUARD = {"Boiler 1": Limits(high=Q_(0.10, "inH2O"), delay=Q_(8.0, "s"))}  # its window's upper edge


FACTORY = Gains(Q_(0.8, "1/inH2O"), Q_(4.0, "s"))  # as an invented controller comes out of its box


FAN_LAG = Q_(3.0, "s")  # rotor and drive of the fan, invented


PURGE_AT = Q_(10.0, "s")


LIT_AT = Q_(50.0, "s")


RAMP = Q_(load_changes.LIGHT, "s")  # from one fire to another


TOP = "stack"


MILD, SUMMER = 1, 2  # seasons of the job


def seconds(value: float) -> Quantity:
    """A time in seconds."""
    return Q_(float(value), "s")


def pascal(value: Quantity) -> float:
    """A pressure as plain pascals."""
    return float(value.m_as("Pa"))


def draft(value: float, system: str) -> str:
    """A pressure [Pa] as text."""
    return show(Q_(float(value), "Pa"), system, "draft")


@cache
def hall() -> job_file.Job:
    """The demo job of the swimming hall, its cap taken off: a roof fan stands in its place."""
    drawn = job_file.demonstration("swim_hall")
    open_ = tuple(replace(t, cap="open end") for t in drawn.plant.terminations)
    return replace(drawn, plant=replace(drawn.plant, terminations=open_))


@cache
def fan() -> final_element.FanSpeed:
    """The fan on its roof."""
    return final_element.FanSpeed(fan_table.fan("roof 16"))


@cache
def damper() -> final_element.DamperPosition:
    """A round damper in place of the fan; a stop keeps a tenth of its stroke open."""
    leakage = damper_leakage.leakage_class(damper_leakage.leakage_classes()[-1])
    return final_element.DamperPosition(dampers.Damper("butterfly", Q_(16, "inch"), Q_(16, "inch"), leakage, least=0.1))


@dataclass(frozen=True)
class Event:
    """What happens: a ``schedule``, and the stretch of it from ``begins`` to ``ends`` [s] that is judged."""

    schedule: Schedule
    begins: float
    ends: float


def starting(name: str, levels=(("low", 0.0), ("high", 20.0))) -> tuple[Turn, ...]:
    steps = tuple((level, seconds(t)) for level, t in levels)
    return firing_schedule.start_up(name, PURGE_AT, LIT_AT - PURGE_AT, steps, ramp=RAMP)


@cache
def events() -> dict[str, Event]:
    """The events to choose from."""
    together = ("high", "off", "high")
    modulate = tuple(Turn(name, "low", PURGE_AT, seconds(15)) for name in ("Boiler 1", "Boiler 3"))
    gust = (firing_schedule.Gust(PURGE_AT, seconds(10), 4.0),)
    return {
        "Boiler 2 starts": Event(Schedule(seconds(120), together, starting("Boiler 2"), season=SUMMER), 10.0, 50.0),
        "Boilers 1 and 3 go to low fire": Event(Schedule(seconds(90), together, modulate, season=SUMMER), 10.0, 90.0),
        "Boiler 1 stops": Event(
            Schedule(seconds(90), together, (Turn("Boiler 1", "off", PURGE_AT),), season=SUMMER), 10.0, 90.0
        ),
        "a gust of 10 s": Event(Schedule(seconds(60), ("high",) * 3, gusts=gust, season=MILD, wind=1.0), 10.0, 60.0),
        "first start, cold stack": Event(
            Schedule(seconds(160), ("off",) * 3, starting("Boiler 1"), season=SUMMER, cold=1.0),
            10.0, 160.0,
        ),
    }  # fmt: skip


FIRST = "Boiler 2 starts"


def response(event: str = FIRST) -> Response:
    """What the vent answers to the fan in an event."""
    return _solved(event)


@cache
def _solved(event: str) -> Response:
    """The first event is one whether it is named or not."""
    return transient_response.respond(hall().plant, hall().seasons, events()[event].schedule, TOP, fan())


def least_speed() -> float:
    """The least steady speed of the fan as a share of its most."""
    return fan().fan.least_speed / fan().fan.most_speed


def loop(
    gains: Gains = FACTORY, end: str = "reads both signs", actuator=None, filter_: Quantity = Q_(0.5, "s")
) -> Loop:
    """The hall's loop with one of the two sensors."""
    sensor = Sensor(LOWEST, ENDS[end], filter_)
    return Loop(sensor, gains, actuator or Lag(FAN_LAG), SET_POINT, least=least_speed())


def run(one: Loop, event: str = FIRST, limits: Mapping[str, Limits] | None = GUARD) -> Trace:
    """A loop through an event, with the limit of Boiler 1 unless told otherwise."""
    found = response(event)
    return control.simulate(hall().plant, hall().seasons, events()[event].schedule, TOP, fan(), one, limits, found)


def run_on(one: Loop, event: str = FIRST) -> Trace:
    """A loop through an event with the limit of Boiler 1 told but not obeyed: all goes on as if it were not there.

    What follows a trip has to be solved anew, which takes seconds; this answers at once.
    """
    trace, guard, vent = run(one, event, limits={}), GUARD["Boiler 1"], response(event)
    beyond = (trace.outlets[0] > pascal(guard.high)) & (trace.codes[0] > 0.0)
    place = np.arange(beyond.size)
    since = np.maximum.accumulate(np.where(beyond, -1, place))  # last step that was not beyond
    over = np.flatnonzero((place - since) * (trace.time[1] - trace.time[0]) > float(guard.delay.m_as("s")))
    if not over.size:
        return trace
    at = float(trace.time[over[0]])
    rest = np.interp(vent.rest(at, pascal(one.set_point), one.least, one.most), vent.setting, vent.at(at)[1][0])
    found = limit_switches.Trip(
        "Boiler 1", at, float(trace.outlets[0, over[0]]), ("Boiler 1",), bool(rest <= pascal(guard.high))
    )
    return replace(trace, trips=(found,))


@dataclass(frozen=True)
class Judged:
    """A trace in numbers: ``peak`` and ``passed`` [Pa], ``settled`` and ``above`` [s], in words what ``tripped``."""

    peak: float
    passed: float
    settled: float
    above: float
    tripped: str


def judged(trace: Trace, event: str = FIRST) -> Judged:
    """A trace over the stretch of its event that counts."""
    begins, ends = events()[event].begins, events()[event].ends
    pick = (trace.time >= begins) & (trace.time < ends)
    time, pressure, outlet = trace.time[pick], trace.pressure[pick], trace.outlets[0, pick]
    set_point = pascal(trace.loop.set_point)
    error = pressure - set_point
    high = pascal(GUARD["Boiler 1"].high)
    running = np.where(trace.codes[0, pick] > 0.0, outlet, -np.inf)
    trips = [f"{t.where} at {t.at - begins:.1f} s{', a nuisance' if t.nuisance else ''}" for t in trace.trips]
    return Judged(
        peak=float(pressure[np.abs(error).argmax()]),
        passed=loop_performance.overshoot.bare(time, pressure, set_point, begins),
        settled=loop_performance.settling_time.bare(time, pressure, set_point, pascal(BAND), begins),
        above=float(loop_performance.time_outside.bare(time, running, -np.inf, high)),
        tripped="; ".join(trips) or "nothing",
    )


HEADER = ("", "farthest off", "settles after", "overshoots by", "Boiler 1 too high for", "trips")


def runs_table(runs: Iterable[tuple[str, Trace]], system: str, event: str = FIRST) -> str:
    """The runs of one event in numbers."""
    rows = []
    for name, trace in runs:
        j = judged(trace, event)
        settled = f"{j.settled:.1f} s" if np.isfinite(j.settled) else "not in this run"
        rows.append((name, draft(j.peak, system), settled, draft(j.passed, system), f"{j.above:.1f} s", j.tripped))
    return table(HEADER, rows)
