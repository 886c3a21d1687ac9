"""Plots: the figures of a study, drawn to be read on paper, in grey and from the back of a room.

Every function returns a matplotlib ``Figure`` made for printing at its own size; `png` turns one into bytes.
Nothing here is told by colour alone: lines differ by style and marker, areas by hatching, states by
signs. ``system`` is "US" or "SI" and changes nothing but the scales. The drawing of the vent itself is in `drawing`.
"""

import io
from collections.abc import Sequence
from textwrap import shorten, wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from ventcalc.building.co_exposure import Exposure
from ventcalc.job.study import Study, alternate_envelopes
from ventcalc.show.drawing import (
    BLUE,
    GREY,
    HALO,
    INK,
    PALE,
    POINTS,
    RUST,
    SIZE,
    WIDTH,
    layout_drawing,
    letters,
    plain_axes,
    text_width,
    unit_label,
)
from ventcalc.units import Q_, show, shown_unit
from ventcalc.vent import firing_states
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import compile_network

__all__ = [
    "envelopes",
    "exposure",
    "layout_drawing",
    "legend_above",
    "letters",
    "number",
    "png",
    "pressure_path",
    "state_map",
    "temperature_path",
]

# Dark where the draft is strong, light where the pressure is positive, so that a grey copy keeps the order; the hue
# turns at zero.
_DRAFT_COLOURS = LinearSegmentedColormap.from_list(
    "draft", ["#0b1f3a", "#1f4e79", "#5b86ad", "#aab3bb", "#dfbb8c", "#f1d9a6", "#fff6dc"]
)


def png(figure: Figure, dots_per_inch: float = 170.0) -> bytes:
    """The figure as the bytes of a PNG file."""
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return file.getvalue()


def number(value, unit: str, kind: str, system: str):
    """Plain numbers, given in ``unit``, in the unit that ``system`` shows this kind in."""
    return Q_(np.asarray(value, float), unit).m_as(shown_unit(kind, system))


def _spread(wanted: Sequence[float], gap: float, low: float, high: float) -> np.ndarray:
    """Places as near as may be to the rising ``wanted`` ones, ``gap`` apart, from ``low`` to ``high``."""
    gap = min(gap, (high - low) / max(len(wanted) - 1, 1))
    places = np.array(wanted, float)
    for i in range(1, len(places)):
        places[i] = max(places[i], places[i - 1] + gap)
    places[-1] = min(places[-1], high)
    for i in range(len(places) - 2, -1, -1):
        places[i] = min(places[i], places[i + 1] - gap)
    return np.maximum(places, low + gap * np.arange(len(places)))


# --- Along the path -----------------------------------------------------------------------------------------


def legend_above(figure: Figure, handles: Sequence[Any], columns: int) -> None:
    """One legend for the whole figure, above it, in so many columns."""
    figure.legend(
        handles=handles,
        loc="upper center",
        ncols=columns,
        frameon=False,
        fontsize=SIZE,
        handlelength=3.4,
        borderaxespad=0.2,
        labelspacing=0.25,
        columnspacing=1.6,
    )


def pressure_path(scan: Scan, appliance: str, states: Sequence[int], system: str = "US") -> Figure:
    """Pressure along the path from an appliance's outlet to the open, one panel a state.

    Static pressure against outdoor air at the same height, with what makes it: losses still to come push it up,
    draft still to come pulls it down. In the room part a second line is the room's own pressure, and the
    bracket at the outlet is the window there. ``states``: indices into the scan.
    """
    states = [int(s) for s in states]
    sections = scan.plant.path(appliance)
    distance = _distances(sections, system)
    panel, below, legend = 2.35, _names_height(sections), 0.62
    height = panel * len(states) + below + legend
    figure = Figure((WIDTH, height))
    every = []
    for k, state in enumerate(states):
        top = height - legend - panel * k
        place = (0.125, (top - panel + 0.1) / height, 0.855, (panel - 0.62) / height)
        axes = figure.add_axes(place, sharex=every[0] if every else None, sharey=every[0] if every else None)
        plain_axes(axes)
        words = "\n".join(_lines(scan.describe(state, system), 84, 2))
        axes.set_title(words, size=SIZE, loc="left", color=INK, pad=4)
        axes.set_ylabel(f"pressure, {unit_label('draft', system)}")
        _draw_pressure(axes, scan, appliance, sections, state, distance, system)
        every.append(axes)
    low, high = every[0].get_ylim()
    every[0].set_ylim(low - 0.04 * (high - low), high + 0.04 * (high - low))
    _name_sections(every, sections, distance, system)
    legend_above(figure, every[0].get_legend_handles_labels()[0], 2)
    return figure


def _lines(words: str, width: int, most: int) -> list[str]:
    """Words wrapped to at most so many lines; what is cut off shows dots."""
    lines = wrap(words, width)
    return (
        lines
        if len(lines) <= most
        else [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), width, placeholder=" ...")]
    )


def _distances(sections: Sequence[Section], system: str) -> np.ndarray:
    """Distance from the outlet at the ends of the sections, in the shown unit."""
    lengths = [float(s.length.m_as("m")) for s in sections]
    return number(np.concatenate([[0.0], np.cumsum(lengths)]), "m", "height", system)


def _draw_pressure(axes, scan: Scan, appliance: str, sections, state: int, distance, system: str) -> None:
    solution = scan.solution
    i = [a.name for a in scan.plant.appliances].index(appliance)
    rows = [solution.row(s.name) for s in sections]
    draft = solution.draft[rows, state]
    ahead = np.concatenate([draft[::-1].cumsum()[::-1], [0.0]])  # draft still to come, at the ends of the sections
    behind = solution.pressure_down[rows, state]
    # Three points a section: its beginning, and its end before and behind a fan or damper.
    total = np.column_stack([solution.pressure_up[rows, state], behind - solution.added[rows, state], behind])
    pulls = np.column_stack([ahead[:-1], ahead[1:], ahead[1:]])
    up, down = solution.head_up[rows, state], solution.head_down[rows, state]
    static = total - np.column_stack([up, down, down])
    outlet = solution.outlet_pressure[i, state] + solution.room_gauge[i, state]
    at = np.column_stack([distance[:-1], distance[1:], distance[1:]])

    def pressure(values):
        return number(values, "Pa", "draft", system)

    axes.axhline(0.0, color=INK, lw=0.8)
    axes.plot(
        [0.0, *at.ravel()],
        pressure([outlet, *static.ravel()]),
        color=INK,
        lw=2.3,
        marker="o",
        ms=4.0,
        label="static pressure in the vent",
        zorder=4,
    )
    axes.plot(
        at.ravel(),
        pressure(total + pulls).ravel(),
        color=RUST,
        lw=1.5,
        ls=(0, (5, 2)),
        label="losses and wind still to come",
    )
    axes.plot(
        at.ravel(), pressure(-pulls).ravel(), color=BLUE, lw=1.5, ls=(0, (1, 1.2)), label="less: draft still to come"
    )
    indoors = [k for k, s in enumerate(sections) if s.place == "room"]
    if indoors:
        network = compile_network(scan.plant, scan.seasons)
        room = [[network.room_at(z, scan.states)[state] for z in scan.plant.heights[sections[k].name]] for k in indoors]
        axes.plot(
            at[indoors, :2].ravel(),
            pressure(room).ravel(),
            color=GREY,
            lw=1.3,
            ls="-.",
            marker="|",
            ms=7,
            label="the room itself, at that height",
        )
    window = [float(w.m_as("Pa")) + solution.room_gauge[i, state] for w in scan.plant.appliances[i].window]
    _bracket(axes, -0.022 * distance[-1], pressure(window), 0.011 * distance[-1])
    axes.plot([], [], color=RUST, lw=2.2, marker="_", ms=9, mew=2.2, label="window at the outlet")
    axes.set_xlim(-0.045 * distance[-1], distance[-1] * 1.02)
    axes.set_xlabel("")


def _bracket(axes, x: float, ends, tick: float) -> None:
    """A window drawn as a square bracket that opens to the right."""
    low, high = ends
    axes.plot([x + tick, x, x, x + tick], [high, high, low, low], color=RUST, lw=2.2, solid_joinstyle="miter", zorder=5)


def _name_sections(every: Sequence[Axes], sections, distance, system: str) -> None:
    """Light lines where sections end, and their names under the lowest axes, led apart where they crowd."""
    axes = every[-1]
    for other in every:
        for x in distance:
            other.axvline(x, color=GREY, lw=0.6, alpha=0.5, zorder=0)
        other.tick_params(axis="x", labelbottom=other is axes)
    axes.set_xlabel(f"distance along the vent from the outlet, {unit_label('height', system)}", labelpad=2)
    middles = (distance[:-1] + distance[1:]) / 2
    low, high = axes.get_xlim()
    figure = axes.get_figure()
    wide = axes.get_position().width * figure.get_figwidth() * POINTS
    tall = axes.get_position().height * figure.get_figheight() * POINTS
    unit = (high - low) / wide  # a point on the paper
    last = 0.85 * text_width(shorten(sections[-1].name, 22, placeholder=".."))
    places = _spread(middles, 15.0 * unit, low + 8.0 * unit, high - last * unit)
    across = axes.get_xaxis_transform()
    for section, middle, place in zip(sections, middles, places, strict=True):
        axes.plot(
            [middle, middle, place],
            [-38.0 / tall, -43.0 / tall, -52.0 / tall],
            color=GREY,
            lw=0.8,
            transform=across,
            clip_on=False,
        )
        axes.text(
            place,
            -54.0 / tall,
            shorten(section.name, 22, placeholder=".."),
            size=SIZE,
            rotation=-32,
            ha="left",
            va="top",
            rotation_mode="anchor",
            transform=across,
        )


def _names_height(sections: Sequence[Section]) -> float:
    """Inches below the axes that numbers, label and slanting names take."""
    return 0.86 + 0.53 * text_width("m" * min(max(len(s.name) for s in sections), 22)) / POINTS


def temperature_path(scan: Scan, appliance: str, state: int, system: str = "US") -> Figure:
    """Gas and inner wall along the path in one state, with the dew point: where the wall is below it, it is wet.

    Within a section gas and wall fall towards the surroundings as the exponential that passes through both
    ends. ``state``: an index into the scan.
    """
    sections = scan.plant.path(appliance)
    distance = _distances(sections, system)
    gas, wall, dew, around, at = [], [], [], [], []
    season = scan.seasons[scan.states.season[state]]
    for k, section in enumerate(sections):
        row = scan.solution.row(section.name)
        surroundings = float((season.outdoor if section.place == "outdoors" else season.room).m_as("K"))
        share = np.linspace(0.0, 1.0, 25)
        here = _cooling(scan.solution, row, state, surroundings, share)
        gas.append(here[0])
        wall.append(here[1])
        dew.append(np.full(share.size, firing_states.dew_points(scan.solution, row)[state]))
        around.append(np.full(share.size, surroundings))
        at.append(distance[k] + share * (distance[k + 1] - distance[k]))
    x = np.concatenate(at)
    gas, wall, dew, around = (
        number(np.concatenate(part), "K", "temperature", system) for part in (gas, wall, dew, around)
    )
    legend, below = 0.62, _names_height(sections)
    height = 3.4 + below
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.105, below / height, 0.875, (height - below - legend - 0.3) / height))
    plain_axes(axes)
    axes.plot(x, gas, color=RUST, lw=2.3, label="gas")
    axes.plot(x, wall, color=INK, lw=1.8, ls=(0, (5, 2)), label="inner wall")
    axes.plot(x, dew, color=BLUE, lw=1.6, ls=(0, (1, 1.2)), label="dew point of the gas")
    axes.plot(x, around, color=GREY, lw=1.2, ls="-.", label="surroundings")
    axes.fill_between(
        x,
        wall,
        dew,
        where=wall < dew,
        fc="none",
        ec=BLUE,
        lw=0,
        hatch="////",
        alpha=0.6,
        label="wet wall",
        interpolate=True,
    )
    axes.set_xlim(-0.01 * distance[-1], distance[-1] * 1.02)
    axes.set_ylabel(f"temperature, {unit_label('temperature', system)}")
    axes.set_title("\n".join(_lines(scan.describe(state, system), 86, 2)), size=SIZE, loc="left", color=INK, pad=4)
    _name_sections([axes], sections, distance, system)
    legend_above(figure, axes.get_legend_handles_labels()[0], 3)
    return figure


def _cooling(solution, row: int, state: int, surroundings: float, share) -> tuple[np.ndarray, np.ndarray]:
    """Gas and wall [K] at shares of a section's length, from the temperatures at its ends."""
    first, last = (float(t[row, state]) - surroundings for t in (solution.upstream, solution.downstream))
    # Straight where one end is at the temperature of the surroundings.
    excess = first * (last / first) ** share if first * last > 0.0 else first + (last - first) * share
    # A dry wall stands at one share of the gas's excess over the surroundings all along; it is known where the gas is
    # coldest. A wet one is drawn so as well: too warm by a few kelvin where it is warmest.
    coldest = min(first, last)
    known = float(solution.wall[row, state]) - surroundings
    ratio = np.clip(known / coldest, 0.0, 1.0) if abs(coldest) > 1e-6 else 0.0
    return surroundings + excess, surroundings + ratio * excess


# --- Over all states ------------------------------------------------------------------------------------------


def envelopes(study: Study, system: str = "US") -> Figure:
    """The swing of every outlet over all states, its ends marked, with its window and those of alternates."""
    rows = _envelope_rows(study)
    lines = [max(len(_lines(name, 21, 4)), 1.7) for name, *_ in rows]
    heights = np.array(lines) * 0.2 + 0.16
    legend, below = 0.72, 0.56
    height = heights.sum() + legend + below
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.285, below / height, 0.69, heights.sum() / height))
    plain_axes(axes)
    edges = np.concatenate([[0.0], heights.cumsum()])
    middles = (edges[:-1] + edges[1:]) / 2

    def pressure(value):
        return number(value, "Pa", "draft", system)

    for y, (name, envelope, first) in zip(middles, rows, strict=True):
        window, swing = pressure(envelope.window), pressure([envelope.low, envelope.high])
        _window_box(axes, y, window, first)
        if first:
            axes.plot(swing, [y, y], color=INK, lw=3.2, solid_capstyle="butt", zorder=4)
            axes.plot(swing[:1], [y], "<", color=INK, ms=8, zorder=5)
            axes.plot(swing[1:], [y], ">", color=INK, ms=8, zorder=5)
            for end, side in zip(swing, ("right", "left"), strict=True):
                words = show(Q_(float(end), shown_unit("draft", system)), system, "draft").split(" ")[0]
                axes.annotate(
                    words,
                    (end, y),
                    ((-7, 0) if side == "right" else (7, 0)),
                    textcoords="offset points",
                    ha=side,
                    va="center",
                    size=SIZE,
                    zorder=6,
                    path_effects=HALO,
                )
        else:
            axes.plot(swing, [y, y], color=INK, lw=1.0, ls=(0, (4, 2)), zorder=4)
        axes.text(
            -0.015,
            y,
            "\n".join(_lines(name, 21, 4)),
            size=SIZE,
            ha="right",
            va="center",
            weight="bold" if first else "normal",
            transform=axes.get_yaxis_transform(),
        )
    firsts = [e for e, (_, _, first) in zip(edges[:-1], rows, strict=True) if first]
    for y in firsts[1:]:
        axes.axhline(y, color=GREY, lw=0.6)
    axes.axvline(0.0, color=INK, lw=1.0)
    if len(study.envelopes) > 1:
        axes.axvline(pressure(float(study.job.set_point.m_as("Pa"))), color=BLUE, lw=1.4, ls=(0, (1, 1.2)))
    low, high = axes.get_xlim()
    axes.set_xlim(low - 0.09 * (high - low), high + 0.09 * (high - low))
    axes.set_ylim(edges[-1], 0.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(f"outlet pressure against the room, {unit_label('draft', system)} (negative is draft)")
    handles = [
        Line2D([], [], color=INK, lw=3.2, marker="D", ms=6, label="swing over all states"),
        Patch(fc=PALE, ec=INK, lw=1.2, label="window"),
        Line2D([], [], color=INK, lw=1.0, label="zero"),
    ]
    if len(study.envelopes) > 1:
        handles.append(Line2D([], [], color=BLUE, lw=1.4, ls=(0, (1, 1.2)), label="set point at the end of the header"))
    if any(not first for *_, first in rows):
        handles.insert(2, Patch(fc="none", ec=GREY, lw=1.2, hatch="////", label="window of an alternate"))
    legend_above(figure, handles, 2)
    return figure


def _envelope_rows(study: Study) -> list[tuple]:
    """Name, envelope and whether it is the appliance's own, with the alternates under each."""
    rows = []
    for own in study.envelopes:
        rows.append((own.appliance, own, True))
        for alternate in study.job.alternates:
            rows += [
                (alternate.name, e, False)
                for e in alternate_envelopes(study, alternate)
                if e.appliance == own.appliance
            ]
    return rows


def _window_box(axes, y: float, window, own: bool) -> None:
    """A window as a box with strong ends: filled for the appliance's own, hatched for an alternate's."""
    half = 0.13
    style = {"fc": PALE, "ec": INK, "lw": 1.2} if own else {"fc": "none", "ec": GREY, "lw": 1.0, "hatch": "////"}
    axes.add_patch(Rectangle((window[0], y - half), window[1] - window[0], 2 * half, zorder=2, **style))
    for end in window:
        axes.plot([end, end], [y - half - 0.03, y + half + 0.03], color=INK if own else GREY, lw=2.4, zorder=3)


def exposure(found: Exposure) -> Figure:
    """Carbon monoxide in the boiler room over the hours, and what someone there would carry in the blood."""
    figure = Figure((WIDTH, 2.7))
    left, right = (figure.add_axes((x, 0.2, 0.385, 0.74)) for x in (0.1, 0.6))
    hours = found.times / 3600.0
    left.plot(hours, found.co[0], color=RUST, lw=2.2)
    right.plot(hours, 100.0 * found.blood[0], color=BLUE, lw=2.2)
    band = next(b for b in found.alarms[0] if b.standard == "UL 2034")
    if np.isfinite(band.earliest):
        edges = np.array([band.earliest, min(band.latest, found.times[-1])]) / 3600.0
        left.axvspan(*edges, fc=PALE, ec=GREY, hatch="//", lw=0.0)
    for axes, words in ((left, "carbon monoxide, ppm"), (right, "COHb, %")):
        plain_axes(axes)
        axes.set_ylim(0.0, None)
        axes.set_xlim(0.0, hours[-1])
        axes.set_ylabel(words)
    left.set_xlabel("hours (hatched: the alarm may sound, UL 2034)")
    right.set_xlabel("hours")
    return figure


_MOST_ROWS = 64  # rows of the map that stay legible on one page


def state_map(study: Study, system: str = "US") -> Figure:
    """Every state as one cell: firing combinations by total heat input, against season, stack and wind.

    The tone is the pressure at the end of the header; a cross stands where a running outlet is outside
    its window, a ring where flue gas enters the room. Where there are more combinations than rows, each row
    gathers those of a like heat input and shows what is worst in it.
    """
    scan = study.scan
    states = scan.states
    combinations, of_state = np.unique(states.codes, axis=1, return_inverse=True)
    heat = _heat_input(scan.plant, combinations)
    rank = np.lexsort((*combinations[::-1], heat))
    count = min(combinations.shape[1], _MOST_ROWS)
    row_of = np.empty(rank.size, int)
    row_of[rank] = np.arange(rank.size) * count // rank.size
    columns, heads = _map_columns(scan)
    cell = row_of[of_state.ravel()] * len(heads) + columns
    far = firing_states.header_pressure(scan)
    worst = _worst_of(cell, far, float(study.job.set_point.m_as("Pa")), count * len(heads)).reshape(count, len(heads))
    leaves, spills = (
        np.bincount(cell, flags.any(axis=0), count * len(heads)).reshape(count, len(heads)) > 0
        for flags in (firing_states.outside_window(scan), firing_states.gas_in_room(scan))
    )
    row_heat = np.bincount(row_of, heat, count) / np.bincount(row_of, minlength=count)
    gathered = combinations.shape[1] > count
    return _draw_map(
        scan.plant,
        number(worst, "Pa", "draft", system),
        leaves,
        spills,
        heads,
        row_heat,
        None if gathered else combinations[:, rank],
        -(-combinations.shape[1] // count),
        system,
    )


def _heat_input(plant: Plant, combinations: np.ndarray) -> np.ndarray:
    """Total heat input [W] of each firing combination."""
    total = np.zeros(combinations.shape[1])
    for a, codes in zip(plant.appliances, combinations, strict=True):
        idle = len(a.states) - len(a.levels)
        total += np.array([0.0] * idle + [float(lv.heat_input.m_as("W")) for lv in a.levels])[codes]
    return total


def _map_columns(scan: Scan) -> tuple[np.ndarray, list[tuple[str, str]]]:
    """The column of every state, and the season and the words over each column; still seasons have no wind."""
    keys, heads = [], []
    for number, season in enumerate(scan.seasons):
        windy = season.wind.m_as("m/s") > 0.0 and scan.states.windy.any()
        for cold in (False, True):
            for wind in (False, True) if windy else (False,):
                keys.append((number, cold, wind))
                heads.append((season.name, f"{'cold' if cold else 'hot'}{', wind' if wind else ''}"))
    still = np.array([s.wind.m_as("m/s") == 0.0 for s in scan.seasons])
    wind = scan.states.windy & ~still[scan.states.season]
    column = {key: k for k, key in enumerate(keys)}
    found = [column[k] for k in zip(scan.states.season.tolist(), scan.states.cold.tolist(), wind.tolist(), strict=True)]
    return np.array(found), heads


def _worst_of(cell: np.ndarray, pressure: np.ndarray, set_point: float, count: int) -> np.ndarray:
    """In each cell the pressure farthest from the set point; NaN where nothing runs."""
    worst = np.full(count, np.nan)
    order = np.argsort(np.where(np.isnan(pressure), -1.0, np.abs(pressure - set_point)), kind="stable")
    worst[cell[order]] = pressure[order]  # later ones, farther away, overwrite
    return worst


def _draw_map(plant, worst, leaves, spills, heads, heat, combinations, gathers, system) -> Figure:
    rows, columns = worst.shape
    cell = min(5.3 * POINTS / rows, 20.0)  # points high
    body, top, below = rows * cell / POINTS, 1.42 if columns > 6 else 0.75, 1.4
    height = body + top + below
    figure = Figure((WIDTH, height))
    strip = 0.0 if combinations is None else 0.045 * min(len(combinations), 8)
    left = 0.125
    main = figure.add_axes((left + strip + 0.01, below / height, 0.965 - left - strip - 0.01, body / height))
    reach = max(float(np.nanmax(np.abs(worst))), 1e-6)
    norm = TwoSlopeNorm(0.0, -reach, reach)
    image = main.pcolormesh(
        np.arange(columns + 1),
        np.arange(rows + 1),
        np.ma.masked_invalid(worst),
        cmap=_DRAFT_COLOURS,
        norm=norm,
        edgecolors="white",
        linewidth=0.3 if rows > 40 else 0.6,
    )
    main.set_facecolor("white")
    size = np.clip(cell * 0.7, 4.4, 9.0)
    for flags, marker, dx in ((leaves, "x", 0.35), (spills, "o", 0.68)):
        y, x = np.nonzero(flags)
        main.plot(
            x + dx,
            y + 0.5,
            marker,
            ls="",
            ms=size if marker == "x" else size * 0.95,
            mec=INK,
            mfc="none",
            mew=1.3,
            path_effects=HALO,
        )
    plain_axes(main)
    main.spines[["left", "bottom"]].set_visible(False)
    main.tick_params(length=0, labelleft=combinations is None)
    main.xaxis.tick_top()
    main.set_xticks(np.arange(columns) + 0.5, [words for _, words in heads], rotation=90 if columns > 6 else 0)
    season_at = {name: [k for k, (s, _) in enumerate(heads) if s == name] for name, _ in heads}
    across = main.get_xaxis_transform()
    lift = 0.95 if columns > 6 else 0.28
    for name, at in season_at.items():
        middle, y = (at[0] + at[-1] + 1) / 2, 1 + lift / body
        width = int(len(at) / columns * 0.75 * WIDTH * POINTS / (0.6 * SIZE))
        main.text(
            middle,
            y + 0.06 / body,
            "\n".join(_lines(name, max(width, 8), 2)),
            size=SIZE,
            weight="bold",
            ha="center",
            va="bottom",
            transform=across,
        )
        main.plot([at[0] + 0.1, at[-1] + 0.9], [y, y], color=INK, lw=1.0, transform=across, clip_on=False)
        if at[0]:
            main.axvline(at[0], color=INK, lw=1.4)
    side = main if combinations is None else figure.add_axes((left, below / height, strip, body / height), sharey=main)
    if combinations is not None:
        _draw_levels(side, plant, combinations)
    _heat_ticks(side, heat, cell, system)
    scale = figure.add_axes((left, 0.88 / height, 0.38, 0.13 / height))
    bar = figure.colorbar(image, cax=scale, orientation="horizontal")
    bar.ax.tick_params(labelsize=SIZE)
    bar.ax.axvline(0.0, color=INK, lw=1.2)
    where = "at the end of the header" if len(plant.appliances) > 1 else "where the run begins"
    bar.set_label(f"pressure {where}, {unit_label('draft', system)}", size=SIZE)
    handles = [
        Line2D([], [], ls="", marker="x", mec=INK, mew=1.3, ms=8, label="an outlet is outside its window"),
        Line2D([], [], ls="", marker="o", mec=INK, mfc="none", mew=1.3, ms=8, label="flue gas enters the room"),
    ]
    figure.legend(
        handles=handles,
        loc="upper left",
        frameon=False,
        fontsize=SIZE,
        borderaxespad=0.0,
        bbox_to_anchor=(0.54, 1.12 / height),
        handletextpad=0.3,
    )
    figure.text(
        0.02, 0.03 / height, "\n".join(_lines(_map_note(plant, gathers), 92, 2)), size=SIZE, color=INK, va="bottom"
    )
    return figure


def _map_note(plant: Plant, gathers: int) -> str:
    """What else the reader of the map must know."""
    if gathers > 1:
        return f"Each row gathers up to {gathers} firing combinations and shows the worst of them. Blank: nothing runs."
    names = ", ".join(
        f"{letter} {a.name}" for letter, a in zip(letters(len(plant.appliances)), plant.appliances, strict=True)
    )
    return f"{names}: the darker, the higher the level; a dot is purge, white is off. Blank cells: nothing runs."


def _draw_levels(axes, plant: Plant, combinations: np.ndarray) -> None:
    """A strip beside the map: what every appliance does in each row, darker for higher levels, a dot for purge."""
    count = combinations.shape[1]
    for i, (a, codes) in enumerate(zip(plant.appliances, combinations, strict=True)):
        idle = len(a.states) - len(a.levels)
        for level in range(len(a.levels)):
            tone = str(0.85 - 0.75 * (level + 1) / len(a.levels))
            for y in np.flatnonzero(codes == idle + level):
                axes.add_patch(Rectangle((i + 0.12, y + 0.06), 0.76, 0.88, fc=tone, lw=0))
        if idle > 1:
            axes.plot(np.full(np.sum(codes == 1), i + 0.5), np.flatnonzero(codes == 1) + 0.5, "o", ms=2.4, color=INK)
    plain_axes(axes)
    axes.spines[["left", "bottom"]].set_visible(False)
    axes.tick_params(length=0)
    axes.set_xlim(0, len(combinations))
    axes.set_ylim(0, count)
    axes.xaxis.tick_top()
    axes.set_xticks(np.arange(len(combinations)) + 0.5, letters(len(combinations)), weight="bold")


def _heat_ticks(axes, heat: np.ndarray, cell: float, system: str) -> None:
    """Heat input at some of the rows, at least a line of lettering apart."""
    every = max(int(np.ceil(13.0 / cell)), 1)
    at = np.arange(0, len(heat), every)
    shown = [f"{number(heat[k], 'W', 'heat rate', system):,.0f}" for k in at]
    axes.set_yticks(at + 0.5, shown)
    axes.set_ylabel(f"total heat input, {unit_label('heat rate', system)}")
