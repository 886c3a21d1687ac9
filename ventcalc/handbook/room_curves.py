"""Room curves: what exhaust every room pressure balances, vent drafting and turned over, and where the room stands."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from ventcalc.building import (
    room_pressure,
)
from ventcalc.building.room_air import RoomAir
from ventcalc.building.room_pressure import Coupled
from ventcalc.show.axes import label, number, plain
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.states import States


@dataclass(frozen=True)
class Curves:
    """What exhaust [m3/s] every room pressure [Pa] would balance, and what the hoods draw there [kg/s].

    In three rows: nothing firing, the vent drafting; so many boilers firing, drafting; the same, turned over. ``drawn``
    has the appliances before the rows.
    """

    pressure: np.ndarray
    exhaust: np.ndarray
    drawn: np.ndarray

    def near(self, row: int, exhaust: float) -> tuple[np.ndarray, np.ndarray, bool]:
        """Room pressure and flow drawn on a row, as near as it comes to an exhaust on the way down from no pressure.

        Where the vent turns over just before that exhaust is reached, the last point that still drafts, and True.
        """
        enough = np.flatnonzero(self.exhaust[row] >= exhaust)
        k = int(enough[0]) if enough.size else len(self.pressure) - 1
        j = max(k - 1, 0)
        before, after = self.drawn[:, row, j], self.drawn[:, row, k]
        rise = self.exhaust[row, k] - self.exhaust[row, j]
        turns = bool(before.sum() * after.sum() < 0.0)
        share = 0.0 if turns or rise <= 0.0 else np.clip((exhaust - self.exhaust[row, j]) / rise, 0.0, 1.0)
        pressure = (1.0 - share) * self.pressure[j] + share * self.pressure[k]
        return np.array([pressure]), ((1.0 - share) * before + share * after)[:, None], turns


_POINTS = 25


_DEEPEST = -60.0  # Pa, to which the curves are drawn


def curves(site: Plant, season: Season, own: RoomAir, firing: int) -> Curves:
    """The boiler room's exhaust over its pressure, stack hot under boilers that fire and cold under idle ones."""
    pressure = np.tile(_DEEPEST * np.linspace(0.0, 1.0, _POINTS) ** 1.4, 3)
    codes = np.array([[1.0 if i < firing else 0.0] for i in range(2)])
    rows = np.repeat([0, 1, 2], _POINTS)
    batch = States(
        codes * (rows > 0), np.zeros(rows.size, int), np.where(rows > 0, 0.0, 1.0), np.zeros(rows.size, bool)
    )
    start = np.tile(np.where(rows == 2, -0.1, 0.05), (2, 1))
    exhaust, found = room_pressure.exhaust_at(site, (season,), batch, own, pressure, start)
    return Curves(pressure[:_POINTS], exhaust.reshape(3, -1), found.drawn.reshape(2, 3, -1))


def draw_fan(axes: Axes, lines: Curves, now: float, exhaust: float, limit: float | None, system: str) -> None:
    """Room pressure over the exhaust [m3/s], vent drafting and turned over, and where the room stands ``now`` [Pa].

    ``limit`` [Pa]: that of the house tests, None where they have none for the appliance.
    """
    most = max(2.0 * exhaust, 1.2)
    for row, style, color, name in ((1, "-", BLUE, "vent drafting"), (2, "--", RUST, "vent turned over: it spills")):
        fits = lines.drawn[:, row].sum(axis=0) >= 0.0 if row == 1 else lines.drawn[:, row].sum(axis=0) < 0.0
        shown = (lines.exhaust[row] <= 1.1 * most) & fits
        x = number(lines.exhaust[row][shown], "m**3/s", "volume flow", system)
        axes.plot(x, number(lines.pressure[shown], "Pa", "draft", system), style, color=color, lw=2.2, label=name)
    spot = number(exhaust, "m**3/s", "volume flow", system), number(now, "Pa", "draft", system)
    axes.plot(*spot, "D", color=INK, ms=8, zorder=5, clip_on=False, ls="none", label="the room now")
    if limit is not None:
        axes.axhline(number(limit, "Pa", "draft", system), color=GREY, lw=1.4, ls=":", label="limit from houses")
    axes.set_xlim(0.0, number(most, "m**3/s", "volume flow", system))
    axes.legend(frameon=False, fontsize=SIZE, loc="lower left")
    plain(axes, f"exhaust, {label('volume flow', system)}", f"room against outdoors, {label('draft', system)}")


def stands(lines: Curves, site: Plant, season: tuple[Season], own: RoomAir, firing: int, order: str) -> Coupled:
    """Where the room comes to rest, as by `room_pressure.from_idle` or `coupled`, sought from the curves."""
    exhaust = own.exhausts[0].flow.m_as("m**3/s")
    row = 1
    if order == "hood":
        *idle, turns = lines.near(0, exhaust)
        if turns:  # too near to tell from the curve
            idle = room_pressure.coupled(site, season, _one(0, 1.0), own, before=tuple(idle)).standing
        row = 2 if idle[1].sum() < 0.0 else 1
    return room_pressure.coupled(site, season, _one(firing, 0.0), own, before=lines.near(row, exhaust)[:2])


def _one(firing: int, cold: float) -> States:
    codes = np.array([[1.0 if i < firing else 0.0] for i in range(2)])
    return States(codes, np.array([0]), np.array([cold]), np.array([False]))
