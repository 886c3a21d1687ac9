"""Reach of a remedy: how far its devices bring the header, and the live chart of what a set point leaves."""

from dataclasses import dataclass, replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ventcalc.draft import common_window, held_pressure, outlet_control
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import HEADER
from ventcalc.handbook.common_vent import draft_text
from ventcalc.handbook.remedies import DRAWN, HALL, JOBS, MOVING, Compared, compared, draw_range, range_handles
from ventcalc.job.device_remedies import Helping
from ventcalc.job.remedy import Remedy
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.show.axes import label, number, picture
from ventcalc.show.panels import Panel, choice, paragraph, slider, steps, table
from ventcalc.show.plots import GREY, INK, PALE, SIZE, WIDTH, plain_axes
from ventcalc.units import Q_, show
from ventcalc.vent import end_of_header, outlet_envelope
from ventcalc.vent.firing_states import Scan


@dataclass(frozen=True, eq=False)
class Reach:
    """What a remedy can do to the header in every state, so that any set point can be looked up; plain SI.

    ``lowest`` and ``highest`` (states) header pressure [Pa] with its devices at their most and at their least: the fan
    at its highest and its least speed, dampers wide open. A damper in the stack can raise the header as far as asked:
    its leakage is left out. ``above`` (appliances, states) [Pa]: outlets less header; ``least`` (appliances, 1): what
    dampers at the outlets do not let them fall below, -inf without.
    """

    outcome: Outcome
    lowest: np.ndarray
    highest: np.ndarray
    above: np.ndarray
    least: np.ndarray

    def header(self, set_point: float) -> np.ndarray:
        """The header's pressure [Pa] in every state at a set point [Pa]."""
        return np.clip(set_point, self.lowest, self.highest)

    def outlets(self, set_point: float) -> np.ndarray:
        """The outlets' pressures [Pa] (appliances, states) at a set point [Pa], NaN where they do not run."""
        runs = self.outcome.scan.states.codes > 0
        return np.where(runs, np.maximum(self.header(set_point) + self.above, self.least), np.nan)


@cache
def ends(name: str, remedy: str) -> Reach:
    """`Reach` of a remedy: its vent solved with everything at its most, and with the fan at its least."""
    found, o = compared(name), compared(name).of(remedy)
    natural = end_of_header.header_pressure(o.scan)
    if not o.held:
        return Reach(o, natural, natural, common_window.offsets(o.scan), _least(o))
    most = _fixed(found, o.remedy, 1.0)
    least = _fixed(found, o.remedy, 0.0) if o.remedy.fan and not o.remedy.damper else None
    lowest = end_of_header.header_pressure(most)
    highest = np.full(lowest.shape, np.inf) if least is None else end_of_header.header_pressure(least)
    # Outlets with dampers of their own are seen with those wide open; else as the remedy leaves them.
    seen = least if o.remedy.outlets else o.scan
    return Reach(o, lowest, highest, common_window.offsets(seen), _least(o))


def _least(o: Outcome) -> np.ndarray:
    governed = [a.name in o.remedy.outlets for a in o.remedy.plant.appliances]
    middles = [outlet_control.set_point(a).m_as("Pa") for a in o.remedy.plant.appliances]
    return np.where(governed, middles, -np.inf)[:, None]


def _fixed(found: Compared, remedy: Remedy, share: float) -> Scan:
    """The vent with the fan at a share of the way from its least to its most speed, and every damper wide open."""
    controls = tuple(
        replace(
            c, device=_set(c.device, share), second=c.second and replace(c.second, device=_set(c.second.device, 1.0))
        )
        for c in remedy.controls
    )
    held = held_pressure.hold(remedy.plant, found.job.seasons, found.scan.states, controls, None, *found.begun)
    return held.scan(found.scan)


def _set(device, share: float):
    """A device at one setting; dampers wide open."""
    if isinstance(device, Damper):
        return device.at(1.0)
    drive = device.drive if isinstance(device, Helping) else device
    speed = drive.least_speed + share * (drive.most_speed - drive.least_speed)
    return Drive(drive.fan, speed, speed)


def explorer(system: str) -> Panel:
    """Controls over the job, the remedy and the set point; another remedy begins at its own set point."""
    own = controls(system)

    def begin(_change=None) -> None:
        asked, at = own["set_point"], own_set_point(own["name"].value, own["remedy"].value)
        asked.disabled = at is None
        if at is not None:
            asked.value = min((value for _, value in asked.options), key=lambda value: abs(value - at))

    for name in ("name", "remedy"):
        own[name].observe(begin, names="value")
    begin()
    return Panel(partial(explorer_answer, system), own)


def own_set_point(name: str, remedy: str) -> float | None:
    """Where a remedy as it was sized holds the header [Pa]; None where nothing does, or where it cannot be built."""
    sized = next((o.remedy for o in compared(name).outcomes if o.remedy.name == remedy), None)
    held = (c.set_point for c in (sized.controls if sized else ()) if c.sensor == HEADER)
    return next((float(p.m_as("Pa")) for p in held), None)


def controls(system: str) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first the swimming hall as drawn, and the set point of its file."""
    pressures = steps("draft", system, 0.005 * np.arange(-36, 45), range(-45, 56))
    return {
        "name": choice("Job", JOBS, HALL),
        "remedy": choice("Remedy", (DRAWN, *MOVING), DRAWN),
        "set_point": slider("Header held at", pressures, Q_(-0.05, "inH2O").m_as("Pa")),
    }


def explorer_answer(system: str, *, name: str, remedy: str, set_point: float) -> tuple[str, bytes]:
    """Numbers and picture of a remedy at a set point [Pa] over all states, looked up between its ends (`Reach`)."""
    found, can = compared(name), ends(name, remedy)
    outlets = can.outlets(set_point)
    windows = np.array([[w.m_as("Pa") for w in a.window] for a in found.job.plant.appliances])
    with np.errstate(invalid="ignore"):
        edge = outlet_envelope.READABLE
        outside = (outlets < windows[:, :1] - edge) | (outlets > windows[:, 1:] + edge)
    rows, count = [], can.outcome.scan.count
    for a, pressure, out in zip(found.job.plant.appliances, outlets, outside, strict=True):
        edges = " to ".join(show(w, system, "draft") for w in a.window)
        both = " to ".join(draft_text(p, system) for p in (np.nanmin(pressure), np.nanmax(pressure)))
        rows.append((a.name, edges, both, f"{count(out):,}" if out.any() else "none"))
    numbers = table(("outlet", "window", "from lowest to highest", "states outside"), rows)
    numbers += paragraph(_said(can, set_point, count(outside.any(axis=0)), system))
    ranges = [(np.nanmin(p), np.nanmax(p)) for p in outlets]
    return numbers, picture(_explorer_picture(found, ranges, system))


def _said(can: Reach, set_point: float, missed: int, system: str) -> str:
    """How often the header is held and a window is left."""
    acts, scan = np.isfinite(can.lowest), can.outcome.scan
    told = f"In {missed:,} of {len(scan.conditions):,} states an outlet leaves its window."
    if not can.outcome.held:
        return f"Nothing holds the header. {told}"
    high, low = (
        scan.count(acts & (gap > held_pressure.TOLERANCE)) for gap in (can.lowest - set_point, set_point - can.highest)
    )
    parts = [f"it is too high in {high:,}"] * bool(high) + [f"too low in {low:,}"] * bool(low)
    held = " and ".join(parts) or "it is held in all"
    return f"Header to be held at {draft_text(set_point, system)}: of {scan.count(acts):,} states {held}. {told}"


def _explorer_picture(found: Compared, ranges, system: str) -> Figure:
    """Every outlet's range with the remedy, over the thin one as drawn, in its window."""
    plant, drawn = found.job.plant, found.of(DRAWN)
    height = 1.3 + 0.62 * len(plant.appliances)
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.115, 0.56 / height, 0.86, (height - 0.92) / height))
    for y, (a, ends_) in enumerate(zip(plant.appliances, ranges, strict=True)):
        window = [w.m_as("Pa") for w in a.window]
        first, last = number(window, "Pa", "draft", system)
        axes.add_patch(Rectangle((first, y - 0.4), last - first, 0.8, fc=PALE, ec=INK, lw=0.9, zorder=0))
        draw_range(axes, y - 0.08, ends_, window, system)
        before = number((drawn.envelopes[y].low, drawn.envelopes[y].high), "Pa", "draft", system)
        axes.plot(before, (y + 0.24, y + 0.24), color=GREY, lw=1.6, marker="|", ms=7, zorder=2)
    axes.axvline(0.0, color=INK, lw=0.8, zorder=1)
    plain_axes(axes)
    axes.spines["left"].set_visible(False)
    axes.tick_params(left=False)
    axes.set_yticks(range(len(plant.appliances)), [a.name for a in plant.appliances])
    axes.set_ylim(len(plant.appliances) - 0.45, -0.55)
    axes.set_xlabel(f"outlet pressure, {label('draft', system)} (negative is draft)", size=SIZE)
    handles = [*range_handles(), Line2D([], [], color=GREY, lw=1.6, marker="|", ms=7, label="as drawn")]
    figure.legend(handles=handles, loc="upper center", ncols=4, frameon=False, fontsize=SIZE, borderaxespad=0.1)
    return figure
