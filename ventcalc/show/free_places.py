"""Free places: where on a drawing at a known scale there is still room for a mark, and a leader to it."""

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from ventcalc.show.plots import INK


class Paper:
    """Axes drawn at a known scale, and what has been put on them already, in points from the lower left corner."""

    def __init__(self, axes: Axes, scale: float, corner: np.ndarray):
        self.axes, self.scale, self.corner = axes, scale, corner
        self.size = np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())]) * scale
        self.dots = np.empty((0, 3))  # x, y, radius of what must stay visible
        self.boxes: list[tuple[float, float, float, float]] = []  # x0, y0, x1, y1

    def points(self, where) -> np.ndarray:
        return (np.asarray(where, float) - self.corner) * self.scale

    def keep_clear(self, line: np.ndarray, radius: float) -> None:
        """Nothing may be put on this line (plot units) of a half-width in points."""
        for a, b in pairwise(self.points(line)):
            steps = np.linspace(0.0, 1.0, max(int(np.hypot(*(b - a)) / 3.0), 1) + 1)[:, None]
            spots = a + steps * (b - a)
            self.dots = np.vstack([self.dots, np.column_stack([spots, np.full(len(spots), radius)])])

    def keep_box_clear(self, low, high) -> None:
        self.boxes.append((*self.points(low), *self.points(high)))

    def free(self, center, size) -> bool:
        """Whether a box of this size (points) is free there and on the paper."""
        low, high = center - size / 2 - 2.0, center + size / 2 + 2.0
        if (low < 0).any() or (high > self.size).any():
            return False
        gap = np.maximum(np.maximum(low - self.dots[:, :2], self.dots[:, :2] - high), 0.0)
        if (np.hypot(gap[:, 0], gap[:, 1]) < self.dots[:, 2] + 1.0).any():
            return False
        return not any(x0 < high[0] and x1 > low[0] and y0 < high[1] and y1 > low[1] for x0, y0, x1, y1 in self.boxes)

    def find(self, anchors, size, towards=(0.0, 0.0)) -> tuple[np.ndarray, np.ndarray]:
        """The nearest free place for a box of this size, and the anchor (plot units) it belongs to, as points.

        Where ``towards`` is not zero the place lies on that side of the anchor.
        """
        size = np.asarray(size, float)
        turns = np.radians(np.arange(90.0, 450.0, 15.0))
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        ways = ways[ways @ np.asarray(towards, float) > 0.2] if np.any(towards) else ways
        starts = self.points(anchors)
        places = [
            (anchor + way * (distance + size / 2), anchor)
            for distance in (6, 10, 15, 21, 28, 36, 46, 58, 72, 90, 115, 145, 180)
            for anchor in starts
            for way in ways
        ]
        for careful in (True, False):  # a leader across a pipe is better than an overlap
            for center, anchor in places:
                if self.free(center, size) and not self.crosses(anchor, center, careful):
                    self.boxes.append((*(center - size / 2), *(center + size / 2)))
                    return center, anchor
        return places[0]

    def crosses(self, start, end, pipes: bool) -> bool:
        """Whether a leader would run over something written or an appliance, or, past its own, a pipe."""
        for spot in start + np.linspace(0.0, 1.0, max(int(np.hypot(*(end - start)) / 3.0), 2))[:, None] * (end - start):
            if any(x0 < spot[0] < x1 and y0 < spot[1] < y1 for x0, y0, x1, y1 in self.boxes):
                return True
            past = np.hypot(*(spot - start)) > 12.0
            if pipes and past and (np.hypot(*(self.dots[:, :2] - spot).T) < self.dots[:, 2]).any():
                return True
        return False

    def lead(self, start, end) -> None:
        """A leader between two points (points from the corner), kept clear from then on."""
        line = np.array([self.back(start), self.back(end)])
        self.axes.plot(*line.T, color=INK, lw=0.7, zorder=8)
        self.keep_clear(line, 0.5)

    def back(self, points) -> np.ndarray:
        return np.asarray(points) / self.scale + self.corner
