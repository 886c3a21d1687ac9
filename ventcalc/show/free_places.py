"""Free places: where on a drawing at a known scale there is still room for a mark, and a leader to it."""

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from ventcalc.show.plots import INK

_DISTANCES = (6, 10, 15, 21, 28, 36, 46, 58, 72, 90, 115, 145, 180)  # points from an anchor, the nearest first
_TURNS = np.radians(np.arange(90.0, 450.0, 15.0))
_WAYS = np.column_stack([np.cos(_TURNS), np.sin(_TURNS)])

BOX, PIPE = "box", "pipe"  # what a leader may run over


class Places:
    """A sheet of a known size and what has been put on it already, in points (or pixels) from one corner."""

    def __init__(self, size):
        self.size = np.asarray(size, float)
        self.dots = np.empty((0, 3))  # x, y, radius of what must stay visible
        self.boxes: list[tuple[float, float, float, float]] = []  # x0, y0, x1, y1

    def points(self, where) -> np.ndarray:
        """Where something lies on the sheet."""
        return np.asarray(where, float)

    def keep_clear(self, line: np.ndarray, radius: float) -> None:
        """Nothing may be put on this line of a half-width in points."""
        for a, b in pairwise(self.points(line)):
            steps = np.linspace(0.0, 1.0, max(int(np.hypot(*(b - a)) / 3.0), 1) + 1)[:, None]
            spots = a + steps * (b - a)
            self.dots = np.vstack([self.dots, np.column_stack([spots, np.full(len(spots), radius)])])

    def keep_box_clear(self, low, high) -> None:
        """Nothing may be put on this box."""
        self.boxes.append((*self.points(low), *self.points(high)))

    def free(self, centers, size) -> np.ndarray:
        """Whether a box of this size is free at each of the centers, and on the sheet."""
        low, high = centers - size / 2 - 2.0, centers + size / 2 + 2.0
        found = ~((low < 0).any(axis=1) | (high > self.size).any(axis=1))
        if self.boxes:
            x0, y0, x1, y1 = np.array(self.boxes).T
            over = (x0 < high[:, :1]) & (x1 > low[:, :1]) & (y0 < high[:, 1:]) & (y1 > low[:, 1:])
            found &= ~over.any(axis=1)
        at = np.flatnonzero(found)
        if at.size:
            dots = self._dots_near(low[at].min(axis=0), high[at].max(axis=0))
            gap = np.maximum(np.maximum(low[at, None] - dots[:, :2], dots[:, :2] - high[at, None]), 0.0)
            found[at] = ~(np.hypot(gap[..., 0], gap[..., 1]) < dots[:, 2] + 1.0).any(axis=1)
        return found

    def _dots_near(self, low, high) -> np.ndarray:
        """Those of the dots that a box can come near to."""
        reach = self.dots[:, 2:] + 1.0
        return self.dots[((self.dots[:, :2] > low - reach) & (self.dots[:, :2] < high + reach)).all(axis=1)]

    def place(self, anchors, size, towards=(0.0, 0.0), led: bool = True, most: float = np.inf):
        """The nearest free place for a box of this size, and the anchor it belongs to, on the sheet; None where there
        is none within ``most`` of an anchor.

        Where ``towards`` is not zero the place lies on that side of the anchor. ``led``: a leader runs from the anchor
        to it, which must run over nothing; one across a pipe is taken where there is no other.
        """
        size, starts = np.asarray(size, float), self.points(anchors)
        ways = _WAYS[_WAYS @ np.asarray(towards, float) > 0.2] if np.any(towards) else _WAYS
        crossing = None
        for distance in (d for d in _DISTANCES if d <= most):
            centers = (starts[:, None] + ways * (distance + size / 2)).reshape(-1, 2)
            for k in np.flatnonzero(self.free(centers, size)):
                found = centers[k], starts[k // len(ways)]
                over = self.crosses(found[1], found[0]) if led else None
                if over is None:
                    return self._taken(found, size)
                if over == PIPE and crossing is None:
                    crossing = found
        return None if crossing is None else self._taken(crossing, size)

    def _taken(self, found, size):
        self.boxes.append((*(found[0] - size / 2), *(found[0] + size / 2)))
        return found

    def crosses(self, start, end) -> str | None:
        """What a leader would run over: something written or an appliance (`BOX`), past its own a `PIPE`, or None."""
        steps = np.linspace(0.0, 1.0, max(int(np.hypot(*(end - start)) / 3.0), 2))[:, None]
        spots = start + steps * (end - start)
        if self.boxes:
            x0, y0, x1, y1 = np.array(self.boxes).T
            x, y = spots[:, :1], spots[:, 1:]
            if ((x0 < x) & (x < x1) & (y0 < y) & (y < y1)).any():
                return BOX
        past = spots[np.hypot(*(spots - start).T) > 12.0]
        dots = self._dots_near(spots.min(axis=0), spots.max(axis=0))
        away = dots[None, :, :2] - past[:, None]
        return PIPE if (np.hypot(away[..., 0], away[..., 1]) < dots[:, 2]).any() else None


class Paper(Places):
    """Axes drawn at a known scale as such a sheet: what is put on it is told in the units of the plot."""

    def __init__(self, axes: Axes, scale: float, corner: np.ndarray):
        super().__init__(np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())]) * scale)
        self.axes, self.scale, self.corner = axes, scale, corner

    def points(self, where) -> np.ndarray:
        """Where something lies on the sheet."""
        return (np.asarray(where, float) - self.corner) * self.scale

    def back(self, points) -> np.ndarray:
        """Where a place on the sheet lies in the plot."""
        return np.asarray(points) / self.scale + self.corner

    def find(self, anchors, size, towards=(0.0, 0.0)) -> tuple[np.ndarray, np.ndarray]:
        """As `place`; where all is taken, as near as can be."""
        found = self.place(anchors, size, towards)
        if found is None:
            ways = _WAYS[_WAYS @ np.asarray(towards, float) > 0.2] if np.any(towards) else _WAYS
            anchor = self.points(anchors)[0]
            found = anchor + ways[0] * (_DISTANCES[0] + np.asarray(size, float) / 2), anchor
        return found

    def lead(self, start, end) -> None:
        """A leader between two points (points from the corner), kept clear from then on."""
        line = np.array([self.back(start), self.back(end)])
        self.axes.plot(*line.T, color=INK, lw=0.7, zorder=8)
        self.keep_clear(line, 0.5)
