"""Sequence drawing: what every appliance does over time as bars, and the machine of states as a diagram."""

import tomllib
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch, Patch, Rectangle

from ventcalc import tables
from ventcalc.draft import start_sequence as machine
from ventcalc.draft.start_sequence import FAULTS, FUEL_STATES, OUTPUTS, Event, State
from ventcalc.draft.start_timeline import Timeline
from ventcalc.show.axes import plain
from ventcalc.show.plots import INK, RUST, SIZE, WIDTH

# Tone and hatching of each state: light where it waits, hatched where it purges, dark where it burns.
_LOOK = {
    State.IDLE: ("white", ""),
    State.STARTING: ("#e4e4e4", ""),
    State.PROVING: ("#c4c4c4", ""),
    State.PURGE: ("white", "////"),
    State.PILOT: ("#8f8f8f", ""),
    State.MAIN: ("#606060", ""),
    State.RUN: ("#2b2b2b", ""),
    State.POST_PURGE: ("white", "\\\\\\\\"),
    State.TRIPPED: ("white", "xxxx"),
    State.LOCKOUT: ("#f3dccb", ""),
    State.NO_POWER: ("white", "...."),
    State.NO_POWER_LOCKED: ("#f3dccb", "...."),
}


def sequence_figure(found: Timeline, marks: Sequence[tuple[float, str]] = ()) -> Figure:
    """What every appliance does over time as bars, and under them when the shared fan is commanded.

    ``marks``: times [s] at which something happens, and a word on each.
    """
    count = len(found.names)
    height = 0.5 * (count + 1) + 1.55
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.115, 0.55 / height, 0.865, (0.5 * (count + 1) + 0.12) / height))
    for row, name in enumerate(found.names):
        for begin, end, state in found.spans(name):
            _bar(axes, row, begin, end, state)
    _fan(axes, count, found)
    for time, words in marks:
        axes.axvline(time, color=RUST, lw=1.6, ls=(0, (4, 2)))
        axes.annotate(words, (time, -0.5), (0, 2), textcoords="offset points", ha="center", size=SIZE, color=RUST)
    axes.set_xlim(0.0, found.until)
    axes.set_ylim(count + 0.5, -0.5)
    plain(axes, "time, s", "")
    axes.grid(axis="y", visible=False)
    axes.set_yticks(range(count + 1), [*found.names, "vent fan"])
    axes.tick_params(axis="y", length=0)
    _legend(figure, {s for i in range(count) for *_, s in found.spans(i)})
    return figure


def _bar(axes: Axes, row: int, begin: float, end: float, state: State) -> None:
    if state is State.IDLE:
        return
    tone, hatch = _LOOK[state]
    edge = RUST if state in (State.LOCKOUT, State.NO_POWER_LOCKED) else INK
    axes.add_patch(Rectangle((begin, row - 0.31), end - begin, 0.62, fc=tone, ec=edge, lw=0.8, hatch=hatch))
    if state is State.LOCKOUT and end - begin > 60.0:
        axes.text(0.5 * (begin + end), row, state.value, ha="center", va="center", size=SIZE, color=INK)


def _fan(axes: Axes, row: int, found: Timeline) -> None:
    edges = [*found.times.tolist(), found.until]
    for begin, end in pairwise(edges):
        if found.outputs(begin).fan:
            axes.add_patch(Rectangle((begin, row - 0.1), end - begin, 0.2, fc=INK, lw=0))


def _legend(figure: Figure, states: set[State]) -> None:
    shown_states = [s for s in State if s in states and s is not State.IDLE]
    handles = [Patch(fc=_LOOK[s][0], ec=INK, lw=0.8, hatch=_LOOK[s][1], label=s.value) for s in shown_states]
    figure.legend(handles=handles, loc="upper center", ncols=4, frameon=False, fontsize=SIZE, columnspacing=1.4)


_BOX = (0.76, 0.5)  # inch, a state in the diagram


_EDGE = (_BOX[0] / 2 + 0.03, _BOX[1] / 2 + 0.03)


@cache
def diagram() -> dict[str, dict]:
    """How the diagram of states is laid out: places, and by the pair of states the ways and words of its arrows."""
    told = tomllib.loads((tables.DATA / "handbook" / "state_diagram.toml").read_text(encoding="utf-8"))
    pairs = {key: {tuple(State[n] for n in row["between"]): row for row in told[key]} for key in ("ways", "words")}
    return {"places": {State[n]: at for n, at in told["places"].items()}, "notes": told["notes"], **pairs}


def state_diagram() -> Figure:
    """The machine as its table has it: states as boxes, what leads from one to the next as arrows."""
    height = 5.0
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, WIDTH), ylim=(0.0, height))
    axes.set_axis_off()
    for state, at in diagram()["places"].items():
        _state_box(axes, state, *at)
    for state, to in arrows():
        _arrow(axes, state, to)
    _fault_notes(axes)
    return figure


def arrows() -> dict[tuple[State, State], tuple[Event, ...]]:
    """What the diagram draws, from the table: from where to where, by which events; faults are said in words."""
    found: dict[tuple[State, State], tuple[Event, ...]] = {}
    for (state, event), to in machine.TRANSITIONS.items():
        stray = event is Event.FLAME and state not in FUEL_STATES
        if to is not state and event not in FAULTS and not stray:
            found[state, to] = (*found.get((state, to), ()), event)
    return found


def _state_box(axes: Axes, state: State, x: float, y: float) -> None:
    wide, high = _BOX
    fuel, alarm = state in FUEL_STATES, OUTPUTS[state].alarm
    style = {"fc": "#d9d9d9" if fuel else "white", "ec": RUST if alarm else INK, "lw": 2.4 if fuel or alarm else 1.1}
    axes.add_patch(FancyBboxPatch((x - wide / 2, y - high / 2), wide, high, boxstyle="round,pad=0.03", **style))
    axes.text(x, y, "\n".join(wrap(state.value, 11)), ha="center", va="center", size=SIZE, color=INK, linespacing=0.95)


def _arrow(axes: Axes, state: State, to: State) -> None:
    (x0, y0), (x1, y1) = (diagram()["places"][s] for s in (state, to))
    across, up = np.sign(x1 - x0), np.sign(y1 - y0)
    lean = 0.25 * float(np.clip(x1 - x0, -1.0, 1.0))
    leaves, arrives = (across * _EDGE[0], 0.0), (-across * _EDGE[0], 0.0)
    if up:
        leaves, arrives = (0.2 * lean, up * _EDGE[1]), (-lean, -up * _EDGE[1])
    straight = {"leaves": leaves, "arrives": arrives, "by": "arc3,rad=0"}
    way = diagram()["ways"].get((state, to), straight)
    (ax, ay), (bx, by) = way["leaves"], way["arrives"]
    line = {"arrowstyle": "-|>", "color": INK, "lw": 1.0, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 10}
    axes.annotate("", (x1 + bx, y1 + by), (x0 + ax, y0 + ay), arrowprops=line | {"connectionstyle": way["by"]})
    words = diagram()["words"].get((state, to))
    if words:
        axes.text(*words["at"], words["text"], size=SIZE, ha=words["ha"], va="center", color=INK, linespacing=0.95)


def _fault_notes(axes: Axes) -> None:
    """Which faults lead to the boxes below, from wherever the machine stands."""
    by_target: dict[State, list[str]] = {}
    for fault in FAULTS:
        by_target.setdefault(machine.step(State.RUN, fault), []).append(fault.value)
    for note in diagram()["notes"]:
        words = note["head"] + ", ".join(by_target[State[note["state"]]]) + note["tail"]
        text = "\n".join(wrap(words, note["letters"]))
        axes.text(*note["at"], text, size=SIZE, ha="left", va="center", color=RUST, linespacing=1.05)
