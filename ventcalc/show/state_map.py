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

# Dark where the draft is strong, light where the pressure is positive, so that a gray copy keeps the order; the hue
# turns at zero.
_DRAFT_COLORS = LinearSegmentedColormap.from_list(
    "draft", ["#0b1f3a", "#1f4e79", "#5b86ad", "#aab3bb", "#dfbb8c", "#f1d9a6", "#fff6dc"]
)


_MOST_ROWS = 64  # rows of the map that stay legible on one page


def state_map(study: Study, system: str = "US") -> Figure:
    """Every state as one cell: firing combinations by total heat input, against season, stack and wind.

    The tone is the pressure at the end of the header; a cross stands where a running outlet is outside
    its window, a ring where flue gas enters the room. Where there are more combinations than rows, each row
    gathers those of a like heat input and shows what is worst in it.
    """
    return _draw_map(study.scan.plant, _cells(study, system), system)


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


def _cells(study: Study, system: str) -> _Cells:
    """Every state in its cell, and what is worst there."""
    scan = study.scan
    combinations, of_state = np.unique(scan.states.codes, axis=1, return_inverse=True)
    heat, total = _heat_input(scan.plant, combinations), combinations.shape[1]
    rank = np.lexsort((*combinations[::-1], heat))
    rows = min(total, _MOST_ROWS)
    row_of = np.empty(total, int)
    row_of[rank] = np.arange(total) * rows // total
    columns, heads = _map_columns(scan)
    cell, shape = row_of[of_state.ravel()] * len(heads) + columns, (rows, len(heads))
    far = end_of_header.header_pressure(scan)
    worst = _worst_of(cell, far, float(study.job.set_point.m_as("Pa")), rows * len(heads)).reshape(shape)

    def somewhere(flags: np.ndarray) -> np.ndarray:
        return np.bincount(cell, flags.any(axis=0), rows * len(heads)).reshape(shape) > 0

    return _Cells(
        worst=number(worst, "Pa", "draft", system),
        leaves=somewhere(outlet_envelope.outside_window(scan)),
        spills=somewhere(reversal.flue_gas_enters(scan)),
        heads=heads,
        heat=np.bincount(row_of, heat, rows) / np.bincount(row_of, minlength=rows),
        combinations=combinations[:, rank] if total == rows else None,
        gathers=-(-total // rows),
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


_LEFT, _RIGHT = 0.125, 0.965  # shares of the figure's width between which the map lies
_BELOW = 1.4  # inches under it, for the scale, the legend and a note
_MANY = 6  # columns up to which their heads stand level


class _Sheet(NamedTuple):
    """How the map lies on its figure: how high a ``cell`` is [points], the map's ``body`` and what is ``above`` it
    [inches], and how wide the ``strip`` of levels beside it is [share of the width]."""

    cell: float
    body: float
    above: float
    strip: float

    @property
    def height(self) -> float:
        """Of the whole figure [inches]."""
        return self.above + self.body + _BELOW

    @property
    def map_axes(self) -> tuple[float, float, float, float]:
        """Where the map lies, in shares of the figure."""
        left = _LEFT + self.strip + 0.01
        return left, _BELOW / self.height, _RIGHT - left, self.body / self.height

    @property
    def strip_axes(self) -> tuple[float, float, float, float]:
        """Where the strip beside it lies."""
        return _LEFT, _BELOW / self.height, self.strip, self.body / self.height


def _sheet(cells: _Cells) -> _Sheet:
    rows, columns = cells.worst.shape
    cell = min(5.3 * POINTS / rows, 20.0)
    strip = 0.0 if cells.combinations is None else 0.045 * min(len(cells.combinations), 8)
    return _Sheet(cell, rows * cell / POINTS, 1.42 if columns > _MANY else 0.75, strip)


def _draw_map(plant: Plant, cells: _Cells, system: str) -> Figure:
    sheet = _sheet(cells)
    figure = Figure((WIDTH, sheet.height))
    main = figure.add_axes(sheet.map_axes)
    image = _draw_cells(main, cells)
    _draw_marks(main, cells, np.clip(sheet.cell * 0.7, 4.4, 9.0))
    _draw_heads(main, cells, sheet.body)
    side = main
    if cells.combinations is not None:
        side = figure.add_axes(sheet.strip_axes, sharey=main)
        _draw_levels(side, plant, cells.combinations)
    _heat_ticks(side, cells.heat, sheet.cell, system)
    _draw_scale(figure, image, plant, system)
    _draw_key(figure, _map_note(plant, cells.gathers))
    return figure


def _draw_cells(axes, cells: _Cells):
    """The tones of the cells; blank where nothing runs."""
    rows, columns = cells.worst.shape
    reach = max(float(np.nanmax(np.abs(cells.worst))), 1e-6)
    axes.set_facecolor("white")
    return axes.pcolormesh(
        np.arange(columns + 1),
        np.arange(rows + 1),
        np.ma.masked_invalid(cells.worst),
        cmap=_DRAFT_COLORS,
        norm=TwoSlopeNorm(0.0, -reach, reach),
        edgecolors="white",
        linewidth=0.3 if rows > 40 else 0.6,
    )


def _draw_marks(axes, cells: _Cells, size: float) -> None:
    """A cross where an outlet leaves its window, a ring where gas spills."""
    marked = {"ls": "", "mec": INK, "mfc": "none", "mew": 1.3, "path_effects": HALO}
    for flags, marker, dx, wide in ((cells.leaves, "x", 0.35, size), (cells.spills, "o", 0.68, 0.95 * size)):
        y, x = np.nonzero(flags)
        axes.plot(x + dx, y + 0.5, marker, ms=wide, **marked)


def _draw_heads(axes, cells: _Cells, body: float) -> None:
    """The head of every column, and over those of a season a line with its name."""
    columns = len(cells.heads)
    upright = columns > _MANY
    plain_axes(axes)
    axes.spines[["left", "bottom"]].set_visible(False)
    axes.tick_params(length=0, labelleft=cells.combinations is None)
    axes.xaxis.tick_top()
    axes.set_xticks(np.arange(columns) + 0.5, [words for _, words in cells.heads], rotation=90 if upright else 0)
    across, line = axes.get_xaxis_transform(), 1 + (0.95 if upright else 0.28) / body
    for name in dict.fromkeys(season for season, _ in cells.heads):
        own = [k for k, (season, _) in enumerate(cells.heads) if season == name]
        width = max(int(len(own) / columns * 0.75 * WIDTH * POINTS / (0.6 * SIZE)), 8)
        place, words = ((own[0] + own[-1] + 1) / 2, line + 0.06 / body), "\n".join(wrapped(name, width, 2))
        axes.text(*place, words, size=SIZE, weight="bold", ha="center", va="bottom", transform=across)
        axes.plot([own[0] + 0.1, own[-1] + 0.9], [line, line], color=INK, lw=1.0, transform=across, clip_on=False)
        if own[0]:
            axes.axvline(own[0], color=INK, lw=1.4)


def _draw_scale(figure: Figure, image, plant: Plant, system: str) -> None:
    """What a tone stands for."""
    height = figure.get_figheight()
    scale = figure.add_axes((_LEFT, 0.88 / height, 0.38, 0.13 / height))
    bar = figure.colorbar(image, cax=scale, orientation="horizontal")
    bar.ax.tick_params(labelsize=SIZE)
    bar.ax.axvline(0.0, color=INK, lw=1.2)
    where = "at the end of the header" if len(plant.appliances) > 1 else "where the run begins"
    bar.set_label(f"pressure {where}, {unit_label('draft', system)}", size=SIZE)


def _draw_key(figure: Figure, note: str) -> None:
    """What the marks stand for, and a note."""
    height = figure.get_figheight()
    handles = [
        Line2D([], [], ls="", marker="x", mec=INK, mew=1.3, ms=8, label="an outlet is outside its window"),
        Line2D([], [], ls="", marker="o", mec=INK, mfc="none", mew=1.3, ms=8, label="flue gas enters the room"),
    ]
    beside = {"loc": "upper left", "bbox_to_anchor": (0.54, 1.12 / height), "borderaxespad": 0.0, "handletextpad": 0.3}
    figure.legend(handles=handles, frameon=False, fontsize=SIZE, **beside)
    figure.text(0.02, 0.03 / height, "\n".join(wrapped(note, 92, 2)), size=SIZE, color=INK, va="bottom")


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
