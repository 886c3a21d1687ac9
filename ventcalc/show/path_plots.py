"""Path plots: pressure and temperature along the vent, from an appliance's outlet to the open, in one state."""

from collections.abc import Sequence
from textwrap import shorten

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.show.plots import (
    BLUE,
    GREY,
    INK,
    POINTS,
    RUST,
    SIZE,
    WIDTH,
    legend_above,
    number,
    plain_axes,
    text_width,
    unit_label,
    wrapped,
)
from ventcalc.vent import section_extremes
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import OUTDOORS, Section
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.solution import Solution


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
        words = "\n".join(wrapped(scan.describe(state, system), 84, 2))
        axes.set_title(words, size=SIZE, loc="left", color=INK, pad=4)
        axes.set_ylabel(f"pressure, {unit_label('draft', system)}")
        _draw_pressure(axes, scan, appliance, sections, state, distance, system)
        every.append(axes)
    low, high = every[0].get_ylim()
    every[0].set_ylim(low - 0.04 * (high - low), high + 0.04 * (high - low))
    _name_sections(every, sections, distance, system)
    legend_above(figure, every[0].get_legend_handles_labels()[0], 2)
    return figure


def _distances(sections: Sequence[Section], system: str) -> np.ndarray:
    """Distance from the outlet at the ends of the sections, in the shown unit."""
    lengths = [float(s.length.m_as("m")) for s in sections]
    return number(np.concatenate([[0.0], np.cumsum(lengths)]), "m", "height", system)


def _draw_pressure(axes, scan: Scan, appliance: str, sections, state: int, distance, system: str) -> None:
    """Static pressure, what is still to come on the way, the room beside it, and the window at the outlet."""
    solution = scan.solution
    i = [a.name for a in scan.plant.appliances].index(appliance)
    rows = [solution.row(s.name) for s in sections]
    ahead = np.concatenate([solution.draft[rows, state][::-1].cumsum()[::-1], [0.0]])  # of draft, where sections end
    pulls = np.column_stack([ahead[:-1], ahead[1:], ahead[1:]])
    total, static = pressures(solution, rows, state)
    outlet = solution.outlet_pressure[i, state] + solution.room_gauge[i, state]
    at = np.column_stack([distance[:-1], distance[1:], distance[1:]])

    def line(x, values, label: str, **style) -> None:
        axes.plot(x, number(np.asarray(values), "Pa", "draft", system).ravel(), label=label, **style)

    axes.axhline(0.0, color=INK, lw=0.8)
    thick = {"color": INK, "lw": 2.3, "marker": "o", "ms": 4.0, "zorder": 4}
    line([0.0, *at.ravel()], [outlet, *static.ravel()], "static pressure in the vent", **thick)
    line(at.ravel(), total + pulls, "losses and wind still to come", color=RUST, lw=1.5, ls=(0, (5, 2)))
    line(at.ravel(), -pulls, "less: draft still to come", color=BLUE, lw=1.5, ls=(0, (1, 1.2)))
    indoors = [k for k, s in enumerate(sections) if s.place == "room"]
    if indoors:
        network = compile_network(scan.plant, scan.seasons)
        room = [[network.room_at(z, scan.states)[state] for z in scan.plant.heights[sections[k].name]] for k in indoors]
        thin = {"color": GREY, "lw": 1.3, "ls": "-.", "marker": "|", "ms": 7}
        line(at[indoors, :2].ravel(), room, "the room itself, at that height", **thin)
    window = [float(w.m_as("Pa")) + solution.room_gauge[i, state] for w in scan.plant.appliances[i].window]
    _bracket(axes, -0.022 * distance[-1], number(window, "Pa", "draft", system), 0.011 * distance[-1])
    axes.plot([], [], color=RUST, lw=2.2, marker="_", ms=9, mew=2.2, label="window at the outlet")
    axes.set_xlim(-0.045 * distance[-1], distance[-1] * 1.02)
    axes.set_xlabel("")


def pressures(solution: Solution, rows: Sequence[int], state: int) -> tuple[np.ndarray, np.ndarray]:
    """Total and static pressure [Pa] against outdoors at the same height, (sections, 3): where each section begins,
    and where it ends before and behind a fan or damper."""
    behind = solution.pressure_down[rows, state]
    total = np.column_stack([solution.pressure_up[rows, state], behind - solution.added[rows, state], behind])
    up, down = solution.head_up[rows, state], solution.head_down[rows, state]
    return total, total - np.column_stack([up, down, down])


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
    legend, below = 0.62, _names_height(sections)
    height = 3.4 + below
    figure = Figure((WIDTH, height))
    axes = figure.add_axes((0.105, below / height, 0.875, (height - below - legend - 0.3) / height))
    plain_axes(axes)
    _draw_temperatures(axes, scan, sections, state, distance, system)
    axes.set_xlim(-0.01 * distance[-1], distance[-1] * 1.02)
    axes.set_ylabel(f"temperature, {unit_label('temperature', system)}")
    axes.set_title("\n".join(wrapped(scan.describe(state, system), 86, 2)), size=SIZE, loc="left", color=INK, pad=4)
    _name_sections([axes], sections, distance, system)
    legend_above(figure, axes.get_legend_handles_labels()[0], 3)
    return figure


def _draw_temperatures(axes, scan: Scan, sections: Sequence[Section], state: int, distance, system: str) -> None:
    """Gas, inner wall, dew point and surroundings along the path, and where the wall is wet."""
    share = np.linspace(0.0, 1.0, 25)
    x = (distance[:-1, None] + share * np.diff(distance)[:, None]).ravel()
    along = np.concatenate([_temperatures(scan, section, state, share) for section in sections], axis=1)
    gas, wall, dew, around = number(along, "K", "temperature", system)
    axes.plot(x, gas, color=RUST, lw=2.3, label="gas")
    axes.plot(x, wall, color=INK, lw=1.8, ls=(0, (5, 2)), label="inner wall")
    axes.plot(x, dew, color=BLUE, lw=1.6, ls=(0, (1, 1.2)), label="dew point of the gas")
    axes.plot(x, around, color=GREY, lw=1.2, ls="-.", label="surroundings")
    wet = {"fc": "none", "ec": BLUE, "lw": 0, "hatch": "////", "alpha": 0.6, "label": "wet wall"}
    axes.fill_between(x, wall, dew, where=wall < dew, interpolate=True, **wet)


def _temperatures(scan: Scan, section: Section, state: int, share: np.ndarray) -> np.ndarray:
    """Gas, inner wall, dew point and surroundings [K] at shares of a section's length (4, shares)."""
    row = scan.solution.row(section.name)
    around = around_section(scan.seasons[scan.states.season[state]], section)
    gas, wall = gas_and_wall(scan.solution, row, state, around, share)
    dew = section_extremes.dew_points(scan.solution, row)[state]
    return np.array([gas, wall, np.full(share.size, dew), np.full(share.size, around)])


def around_section(season: Season, section: Section) -> float:
    """Temperature [K] of the air around a section."""
    outdoors = section.place == OUTDOORS
    return float((season.outdoor if outdoors else season.air_of(section.place).temperature).m_as("K"))


def gas_and_wall(solution: Solution, row: int, state: int, surroundings: float, share):
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
