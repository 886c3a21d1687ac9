"""State map: every firing state as one cell, by heat input, season, stack and wind."""

from typing import NamedTuple

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ventcalc.job.study import Study
from ventcalc.show.plots import HALO, INK, POINTS, SIZE, WIDTH, letters, number, plain_axes, unit_label, wrapped
from ventcalc.vent import end_of_header, outlet_envelope, reversal
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

# Dark where the draft is strong, light where the pressure is positive, so that a grey copy keeps the order; the hue
# turns at zero.
_DRAFT_COLOURS = LinearSegmentedColormap.from_list(
    "draft", ["#0b1f3a", "#1f4e79", "#5b86ad", "#aab3bb", "#dfbb8c", "#f1d9a6", "#fff6dc"]
)


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
    far = end_of_header.header_pressure(scan)
    worst = _worst_of(cell, far, float(study.job.set_point.m_as("Pa")), count * len(heads)).reshape(count, len(heads))
    leaves, spills = (
        np.bincount(cell, flags.any(axis=0), count * len(heads)).reshape(count, len(heads)) > 0
        for flags in (outlet_envelope.outside_window(scan), reversal.flue_gas_enters(scan))
    )
    row_heat = np.bincount(row_of, heat, count) / np.bincount(row_of, minlength=count)
    gathered = combinations.shape[1] > count
    cells = _Cells(
        number(worst, "Pa", "draft", system),
        leaves,
        spills,
        heads,
        row_heat,
        None if gathered else combinations[:, rank],
        -(-combinations.shape[1] // count),
    )
    return _draw_map(scan.plant, cells, system)


class _Cells(NamedTuple):
    """What the map shows (rows, columns): the ``worst`` pressure; an outlet ``leaves`` its window; gas ``spills``.

    ``heads`` of the columns; ``heat`` [W] of the rows, and their ``combinations`` of codes, None where each ``gathers``
    several.
    """

    worst: np.ndarray
    leaves: np.ndarray
    spills: np.ndarray
    heads: list[tuple[str, str]]
    heat: np.ndarray
    combinations: np.ndarray | None
    gathers: int


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
    for index, season in enumerate(scan.seasons):
        windy = season.wind.m_as("m/s") > 0.0 and scan.states.windy.any()
        for cold in (False, True):
            for wind in (False, True) if windy else (False,):
                keys.append((index, cold, wind))
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


def _draw_map(plant: Plant, cells: "_Cells", system: str) -> Figure:
    worst, leaves, spills, heads, heat, combinations, gathers = cells
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
            "\n".join(wrapped(name, max(width, 8), 2)),
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
        0.02, 0.03 / height, "\n".join(wrapped(_map_note(plant, gathers), 92, 2)), size=SIZE, color=INK, va="bottom"
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
