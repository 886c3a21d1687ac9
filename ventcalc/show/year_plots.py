"""Year plots: when outlets leave their windows: by hour and day of the year, and by outdoor temperature and load."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from ventcalc.building.weather import DAYS_OF_MONTH, HOURS_A_DAY
from ventcalc.job import plant_load
from ventcalc.job.year import Year
from ventcalc.show.plots import BLUE, HALO, INK, PALE, SIZE, WIDTH, legend_above, number, plain_axes, unit_label
from ventcalc.words import say

# From dark, far below the window, to light, far above it, so that a grey copy keeps the order; the hue turns inside.
TONES = ("#0b1f3a", "#4f7aa3", "#aab3bb", "#f1d9a6", "#fffaf0")
FAR = 25.0  # Pa beyond a window: far out, 0.1 in. w.c.
MOST_ROWS = 3  # appliances that are drawn: what a page holds
_TOUCH = 1e-6  # Pa, less is inside
_HEIGHT, _CELLS = 2.4, 24  # inch of one appliance's picture; rows of the picture by load
_STEP = {"US": 5.0, "SI": 2.5}  # of outdoor temperature in it, degF and degC


def worst(year: Year, most: int = MOST_ROWS) -> tuple[int, ...]:
    """The appliances with most hours of flue gas in the room, then most outside their windows, in the plant's order."""
    each = enumerate(zip(year.into_room, year.beyond, strict=True))
    bad = sorted((-gas.sum(), -np.count_nonzero(far), i) for i, (gas, far) in each)
    return tuple(sorted(i for *_, i in bad[:most]))


def by_day(year: Year, system: str = "US", most: int = MOST_ROWS) -> Figure:
    """Hour by day of the year, a picture an appliance: how far its outlet leaves its window at most in each hour.

    A cross is an hour in which flue gas enters the room through it. Of more than ``most`` appliances the `worst`.
    """
    weather, shown = year.hours.weather, worst(year, most)
    appliances = [year.hours.plant.appliances[i] for i in shown]
    figure = Figure((WIDTH, 0.5 + _HEIGHT * len(appliances)), layout="constrained")
    rows = figure.subplots(len(appliances), 1, squeeze=False, sharex=True)[:, 0]
    colors, norm = ListedColormap(TONES), BoundaryNorm(np.arange(len(TONES) + 1) - 0.5, len(TONES))
    for axes, a, beyond, spill in zip(
        rows, appliances, year.beyond[list(shown)], year.into_room[list(shown)], strict=True
    ):
        band = np.digitize(weather.by_day(beyond), (-FAR, -_TOUCH, _TOUCH, FAR))
        days = np.arange(weather.day_count + 1)
        mesh = axes.pcolormesh(days, np.arange(HOURS_A_DAY + 1), band.T, cmap=colors, norm=norm, rasterized=True)
        day, hour = np.nonzero(weather.by_day(spill) > 0.0)
        axes.plot(day + 0.5, hour + 0.5, "x", color=INK, ms=2.6, mew=0.7, ls="none")
        plain_axes(axes)
        axes.set_title(a.name, size=SIZE, loc="left", weight="bold")
        axes.set_yticks([0, 6, 12, 18, 24])
        axes.set_ylabel(say("show", "year_plots", "hour"))
        _months(axes, weather.day_count)
    bar = figure.colorbar(mesh, ax=rows, ticks=np.arange(len(TONES)), pad=0.01, aspect=12.0 * len(appliances))
    far = f"{float(number(FAR, 'Pa', 'draft', system)):.3g} {unit_label('draft', system)}"
    bar.ax.set_yticklabels(
        [say("show", "year_plots", code, far=far) for code in ("far below", "below", "inside", "above", "far above")],
        size=SIZE,
    )
    bar.ax.tick_params(length=0)
    return figure


def _months(axes: Axes, days: int) -> None:
    begins = np.concatenate(([0], np.cumsum(DAYS_OF_MONTH)))
    if days < begins[-1]:
        return
    axes.set_xlim(0, days)
    axes.set_xticks(begins[:-1] + 15, [say("job", "months", str(m))[:3] for m in range(1, 13)])
    axes.tick_params(axis="x", length=0)
    for day in begins[1:-1]:
        axes.axvline(day, color=INK, lw=0.3)


def by_load(year: Year, system: str = "US") -> Figure:
    """Hours by outdoor temperature, and by temperature and heat input; what is wrong in them.

    Above, hours of each step of temperature, those with an outlet outside its window hatched, those with flue gas in
    the room filled. Below, a cell of temperature and heat input is darker the larger the part of its hours in which an
    outlet is outside its window; a cross marks flue gas in the room.
    """
    outdoor = number(year.hours.weather.temperature, "K", "temperature", system)
    heat = number(year.heat_input, "W", "heat rate", system)
    most = float(number(plant_load.installed(year.hours.plant.appliances), "W", "heat rate", system))
    step = _STEP[system]
    edges = np.arange(np.floor(outdoor.min() / step), np.floor(outdoor.max() / step) + 2) * step
    spill = year.into_room.max(axis=0)
    figure = Figure((WIDTH, 5.2), layout="constrained")
    bars, cells = figure.subplots(2, 1, sharex=True, height_ratios=(1.0, 1.4))
    for parts, face, hatch in ((None, PALE, ""), (year.outside, "white", "////"), (spill, BLUE, "")):
        hours = np.histogram(outdoor, edges, weights=parts)[0]
        bars.bar(edges[:-1], hours, step, align="edge", fc=face, ec=INK, lw=0.6, hatch=hatch)
    grid = (edges, np.linspace(0.0, most, _CELLS + 1))
    every, outside, room = (np.histogram2d(outdoor, heat, grid, weights=w)[0] for w in (None, year.outside, spill))
    share = np.ma.masked_where(every == 0.0, outside / np.maximum(every, 1.0))
    mesh = cells.pcolormesh(*grid, share.T, cmap="Greys", vmin=-0.15, vmax=1.0)
    at, row = np.nonzero(room > 0.0)
    middle = edges[at] + 0.5 * step, 0.5 * (grid[1][row] + grid[1][row + 1])
    cells.plot(*middle, "x", color=INK, ms=4.0, ls="none", path_effects=HALO)
    for axes in (bars, cells):
        plain_axes(axes)
    bars.set_ylabel(say("show", "year_plots", "hours"))
    cells.set_xlabel(say("show", "year_plots", "outdoors", unit=unit_label("temperature", system)))
    cells.set_ylabel(say("show", "year_plots", "heat", unit=unit_label("heat rate", system)))
    bar = figure.colorbar(mesh, ax=cells, pad=0.01, ticks=[0.0, 0.5, 1.0], boundaries=np.linspace(0.0, 1.0, 51))
    bar.ax.set_yticklabels(["0 %", "50 %", "100 %"], size=SIZE)
    bar.set_label(say("show", "year_plots", "share"), size=SIZE)
    kinds = (("all hours", PALE, ""), ("outside", "white", "////"), ("room", BLUE, ""))
    patches = [Patch(fc=f, ec=INK, hatch=h, label=say("show", "year_plots", code)) for code, f, h in kinds]
    legend_above(figure, patches, 3)
    figure.get_layout_engine().set(rect=(0.0, 0.0, 1.0, 0.93))
    return figure
