"""Pressure panel: static pressure from an outlet to the open against the length of the way, with the outlet's window.

It stands beside or under a `section_drawing`, and follows a live control as that does.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.ticker import MaxNLocator

from ventcalc.show.path_plots import pressures
from ventcalc.show.plots import GREY, INK, RUST, number, unit_label
from ventcalc.show.section_signs import SIZE, WIDTH
from ventcalc.show.section_state import Outlet, Piece, SectionState
from ventcalc.show.svg import Sheet, broken, text_width
from ventcalc.vent.layout import OUTDOORS
from ventcalc.vent.network import compile_network
from ventcalc.words import say


def pressure_panel(
    sheet: Sheet, seen: SectionState, o: Outlet, corners: tuple[np.ndarray, np.ndarray], system: str
) -> None:
    """Draw it between two ``corners`` (left and above, right and below) of a sheet."""
    (x0, y0), (x1, y1) = corners
    plant, solution = seen.scan.plant, seen.scan.solution
    sections = plant.path(o.name)
    rows = [plant.row(s.name) for s in sections]
    ends = np.concatenate([[0.0], np.cumsum([float(s.length.m_as("m")) for s in sections])])
    static = pressures(solution, rows, 0)[1]
    line = number(np.concatenate([[o.pressure + o.room], static.ravel()]), "Pa", "draft", system)
    window = number(np.array(o.window) + o.room, "Pa", "draft", system)
    rooms = _rooms(seen, rows, system)
    every = np.concatenate([[0.0], line, window, *rooms.values()])
    ticks = _ticks(float(every.min()), float(every.max()))

    def x(length):
        return x0 + 14.0 + (x1 - x0 - 14.0) * np.asarray(length) / max(ends[-1], 1e-9)

    def y(pressure):
        return y1 - (y1 - y0) * (np.asarray(pressure) - ticks[0]) / (ticks[-1] - ticks[0])

    title = say("show", "section_drawing", "panel", letter=o.letter, unit=unit_label("draft", system))
    lines = broken(title, WIDTH - 4.0 - (x0 - 46.0), SIZE, True)
    for k, told in enumerate(reversed(lines)):
        sheet.words((x0 - 46.0, y0 - 16.0 - 16.0 * k), told, INK, bold=True)
    for tick in ticks:
        sheet.line([(x0, y(tick)), (x1, y(tick))], INK if tick == 0.0 else "#c9ced4", 1.2 if tick == 0.0 else 0.8)
        sheet.words((x0 - 5.0, float(y(tick))), f"{tick:.6g}", INK, "end")
    for end in ends:
        sheet.line([(x(end), y0), (x(end), y1)], "#c9ced4", 0.8)
    _section_numbers(sheet, [seen.pieces[r] for r in rows], x(ends), y1 + 11.0)
    for k, pressure in rooms.items():
        sheet.line(np.column_stack([x(ends[k : k + 2]), y(pressure)]), GREY, 1.8, stroke_dasharray="5 3")
    at = np.column_stack([ends[:-1], ends[1:], ends[1:]]).ravel()
    sheet.line(np.column_stack([x([0.0, *at]), y(line)]), INK, 2.6)
    sheet.line([(x0 + 9.0, y(window[0])), (x0 + 3.0, y(window[0])), (x0 + 3.0, y(window[1])), (x0 + 9.0, y(window[1]))],
               RUST, 2.6)  # fmt: skip
    sheet.circle((x(0.0), y(line[0])), 4.5, INK, "white", 1.2)


def _ticks(low: float, high: float) -> np.ndarray:
    """Round pressures that hold the range, so that the scale stays put while a control moves a little."""
    room = 0.04 * max(high - low, 1e-6)
    found = MaxNLocator(5, steps=[1, 2, 2.5, 5, 10]).tick_values(low - room, high + room)
    return np.where(np.abs(found) < 1e-9, 0.0, found)


def _section_numbers(sheet: Sheet, pieces: Sequence[Piece], edges: np.ndarray, y: float) -> None:
    """The sections' numbers under their lengths, where they fit."""
    last = -np.inf
    for piece, middle in zip(pieces, (edges[:-1] + edges[1:]) / 2, strict=True):
        half = text_width(str(piece.number), SIZE, True) / 2 + 2.0
        if middle - half > last:
            sheet.words((middle, y), str(piece.number), INK, "middle", True)
            last = middle + half


def _rooms(seen: SectionState, rows: Sequence[int], system: str) -> dict[int, np.ndarray]:
    """The pressure of the room around both ends of the sections that run through one, by their place on the way."""
    network, plant, states = compile_network(seen.scan.plant, seen.scan.seasons), seen.scan.plant, seen.scan.states
    found = {}
    for k, row in enumerate(rows):
        section = plant.order[row]
        if section.place != OUTDOORS:
            place = network.pipes[row].around
            room = [network.room_at(z, states, place)[0] for z in plant.heights[section.name]]
            found[k] = number(room, "Pa", "draft", system)
    return found
