"""Figures of remedies: how they compare, what a fan must do in every state, and a trial run in time.

In the look of `plots`: for paper, in grey, and from the back of a room.
"""

from textwrap import wrap

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from ventcalc.draft import fan_curve
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.trial_run import TrialRun
from ventcalc.show.plots import (
    BLUE,
    GREY,
    HALO,
    INK,
    PALE,
    RUST,
    SIZE,
    WIDTH,
    legend_above,
    number,
    plain_axes,
    unit_label,
)

_MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")


def comparison(outcomes: tuple[Outcome, ...], system: str = "US") -> Figure:
    """How far the outlets leave their windows with each remedy: overdraft left, insufficient draft right."""
    row, below, above = 0.45, 0.62, 0.55
    height = row * len(outcomes) + below + above
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.285, below / height, 0.51, row * len(outcomes) / height))
    plain_axes(axes)
    axes.axvline(0.0, color=INK, lw=1.2)
    for y, o in enumerate(outcomes):
        low, high = (
            number(max(getattr(e, side) for e in o.envelopes), "Pa", "draft", system) for side in ("below", "above")
        )
        axes.barh(y, -low, height=0.6, fc=BLUE, ec=INK, lw=0.8)
        axes.barh(y, high, height=0.6, fc=PALE, ec=INK, lw=0.8, hatch="////")
        weight = "bold" if o.cured else "normal"
        name = "\n".join(wrap(o.remedy.name, 22))
        axes.text(-0.02, y, name, size=SIZE, ha="right", va="center", weight=weight, transform=_across(axes))
        axes.text(1.02, y, _left(o), size=SIZE, ha="left", va="center", weight=weight, transform=_across(axes))
    reach = max(abs(v) for v in axes.get_xlim())
    axes.set_xlim(-reach, reach)
    axes.set_ylim(len(outcomes) - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(f"beyond the edge of a window, at worst, {unit_label('draft', system)}")
    handles = [
        Patch(fc=BLUE, ec=INK, label="below its window: overdraft"),
        Patch(fc=PALE, ec=INK, hatch="////", label="above it: insufficient draft"),
        Line2D([], [], ls="", label="right: states outside"),
        Line2D([], [], ls="", marker="^", color=INK, ms=7, label="flue gas into the room"),
    ]
    legend_above(figure, handles, 2)
    return figure


def _across(axes):
    return axes.get_yaxis_transform()


def _left(o: Outcome) -> str:
    """What a remedy leaves, in a few words."""
    if o.cured:
        return "✓ cures it"
    if o.holds and o.judgement:
        return f"{len(o.judgement.against)} against it"
    told = f"{o.outside:,} of {len(o.scan.conditions):,}"
    return f"▲ {told}" if o.gas_in_room else told


def duty(outcome: Outcome, system: str = "US") -> Figure:
    """What the fan must do in every state, brought to standard air, between its curves at least and most speed."""
    found, drive = outcome.duty, outcome.remedy.fan
    figure = Figure((WIDTH, 4.1))
    axes = figure.add_axes((0.115, 0.135, 0.865, 0.70))
    plain_axes(axes)
    standard = found.static * drive.fan.curve_density / found.density
    seasons = outcome.scan.states.season[found.states]
    most = number(drive.fan.free_flow * drive.most_speed, "m**3/s", "volume flow", system)
    handles = []
    for k, mark in zip(range(len(outcome.scan.seasons)), _MARKS, strict=False):
        here = seasons == k
        style = {"marker": mark, "ms": 4.5, "ls": "", "mfc": "white" if k % 2 else INK, "mec": INK, "mew": 0.9}
        axes.plot(_flow(found.flow[here], system), number(standard[here], "Pa", "draft", system), **style)
        handles.append(Line2D([], [], label=outcome.scan.seasons[k].name, **style))
    flow = np.linspace(0.0, drive.fan.free_flow * drive.most_speed, 200)
    for speed, style, words in (
        (drive.most_speed, "-", "curve at its most speed"),
        (drive.least_speed, (0, (5, 2)), "curve at its least speed"),
    ):
        curve = fan_curve.static_pressure.bare(drive.fan, flow, speed, drive.fan.curve_density)
        handles += axes.plot(
            _flow(flow, system), number(curve, "Pa", "draft", system), color=BLUE, lw=2, ls=style, label=words
        )
    stall = float(drive.fan.stall_flow.m_as("m**3/s"))
    speeds = np.linspace(drive.least_speed, drive.most_speed, 60)
    edge = fan_curve.static_pressure.bare(drive.fan, stall * speeds, speeds, drive.fan.curve_density)
    handles += axes.plot(_flow(stall * speeds, system), number(edge, "Pa", "draft", system), color=RUST, lw=1.6,
                         ls=(0, (1, 1.2)), label="stall limit")  # fmt: skip
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.set_xlim(0.0, most)
    top = number(drive.fan.rated[0].pressure * drive.most_speed**2, "Pa", "draft", system)
    low = float(min(number(standard.min(), "Pa", "draft", system), 0.0))
    axes.set_ylim(1.1 * low - 0.03 * top, 1.12 * top)
    axes.set_xlabel(f"flow at the fan, {unit_label('volume flow', system)}")
    axes.set_ylabel(f"static pressure in standard air, {unit_label('draft', system)}")
    legend_above(figure, handles, 3)
    return figure


def _flow(flow, system: str):
    return number(flow, "m**3/s", "volume flow", system)


def trial(run: TrialRun, system: str = "US") -> Figure:
    """A start in time: pressure at the header against set point and limits, the device's setting, what burners do."""
    trace, names = run.trace, run.timeline.names
    strips = len(names)
    height = 2.6 + 1.0 + 0.62 * strips + 0.95
    figure = Figure((WIDTH, height))
    left, wide, base = 0.125, 0.855, 0.55

    def place(bottom: float, tall: float, share=None):
        axes = figure.add_axes((left, bottom / height, wide, tall / height), sharex=share)
        plain_axes(axes)
        axes.tick_params(labelbottom=share is None)
        return axes

    lowest = None
    for k, name in enumerate(reversed(names)):
        axes = place(base + 0.62 * k, 0.46, lowest)
        lowest = lowest or axes
        _strip(axes, run, name)
    setting = place(base + 0.62 * strips + 0.12, 0.85, lowest)
    setting.plot(trace.time, 100.0 * trace.setting, color=INK, lw=1.8)
    setting.set_ylim(-4, 104)
    setting.set_ylabel("setting, %")
    pressure = place(base + 0.62 * strips + 1.2, 2.25, lowest)
    handles = _pressures(pressure, run, system)
    lowest.set_xlim(0.0, run.timeline.until)
    lowest.set_xlabel("time, s")
    legend_above(figure, handles, 3)
    return figure


def stopped_corners(run: TrialRun, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and codes at the corners of what a burner does, off from the trip that stops it."""
    times, codes = run.timeline.corners(name)
    at = min((trip.at for trip in run.trace.trips if name in trip.stopped), default=np.inf)
    if at >= times[-1]:
        return times, codes
    kept, value = times < at, np.interp(at, times, codes)
    return np.append(times[kept], [at, at, times[-1]]), np.append(codes[kept], [value, 0.0, 0.0])


def _strip(axes, run: TrialRun, name: str) -> None:
    """What one burner sends into the vent, as its codes from off to high; nothing from where a limit stops it."""
    times, codes = stopped_corners(run, name)
    top = max(next(b.codes for b in run.settings.burners if b.name == name))
    axes.fill_between(times, codes, color=PALE, lw=0)
    axes.plot(times, codes, color=INK, lw=1.4)
    axes.set_ylim(0.0, 1.08 * top)
    axes.set_yticks([0.0, top], ["off", "high"])
    axes.grid(axis="y", visible=False)
    axes.annotate(name, (0.0, 1.0), (4, -3), xycoords="axes fraction", textcoords="offset points", va="top", size=SIZE,
                  path_effects=HALO)  # fmt: skip


def _pressures(axes, run: TrialRun, system: str) -> list:
    """The header's pressure with its set point and limits; the legend's handles."""
    trace = run.trace

    def shown(value):
        return number(value, "Pa", "draft", system)

    handles = axes.plot(trace.time, shown(trace.pressure), color=INK, lw=1.8, label="header, true")
    handles += axes.plot(
        trace.time, shown(trace.reading), color=BLUE, lw=1.6, ls=(0, (4, 1.5)), label="sensor's reading"
    )
    lines = (
        (run.settings.set_point, GREY, (0, (1, 1.2)), "set point"),
        (run.settings.high_limit, RUST, "-.", "limits (with their delay)"),
        (run.settings.low_limit, RUST, "-.", None),
    )
    for value, color, style, words in lines:
        line = axes.axhline(shown(float(value.m_as("Pa"))), color=color, lw=1.5, ls=style, label=words)
        handles += [line] if words else []
    for trip in trace.trips:
        axes.axvline(trip.at, color=RUST, lw=1.8)
        axes.annotate("trip", (trip.at, 1.0), (3, -3), xycoords=("data", "axes fraction"), textcoords="offset points",
                      va="top", size=SIZE, color=RUST)  # fmt: skip
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.set_ylabel(f"pressure, {unit_label('draft', system)}")
    return handles
