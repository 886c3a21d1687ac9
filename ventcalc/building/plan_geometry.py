"""Plan geometry: nearest points of segments and polygons in plan, and the highest point of a roof plane in a circle.

Plain meters, for many places (N, 2) at once. Distances are exact, in closed form.
"""

import numpy as np

from ventcalc.building.roof_scene import RoofPlane
from ventcalc.door import door


def inside(p: np.ndarray, polygon: np.ndarray) -> np.ndarray:
    """Whether places ``p`` (N, 2) lie inside a ``polygon`` (n, 2): a ray from each crosses its edges an odd time."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    x, y = p[:, None, 0], p[:, None, 1]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return (spans & (x < crossing)).sum(axis=1) % 2 == 1


def nearest(p: np.ndarray, shape: np.ndarray, closed: bool) -> tuple[np.ndarray, np.ndarray]:
    """Signed distance (N,) from places ``p`` (N, 2) to a ``shape`` (n, 2), and the nearest point (N, 2) of its line.

    Negative inside a closed shape: how deep.
    """
    a = shape if closed or len(shape) == 1 else shape[:-1]
    b = np.roll(shape, -1, axis=0) if closed or len(shape) == 1 else shape[1:]
    along = b - a
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    t = np.clip(((p[:, None, :] - a) * along).sum(axis=2) / length2, 0.0, 1.0)
    points = a + t[:, :, None] * along
    far = np.hypot(*np.moveaxis(points - p[:, None, :], 2, 0))
    best = far.argmin(axis=1)
    row = np.arange(len(p))
    distance = far[row, best]
    if closed:
        distance = np.where(inside(p, shape), -distance, distance)
    return distance, points[row, best]


@door(plain={"radius": "m"}, at_least={"radius": 0.0})
def highest_within(plane: RoofPlane, p: np.ndarray, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Highest point of a roof plane nearer than ``radius`` [m] in plan to each place ``p`` (N, 2).

    Returns its height (N,) [m], minus infinity where none is, and where it is (N, 2), the nearest of several. On a
    plane that can only be a corner inside the circle, a point where the outline meets the circle, or the circle's own
    uphill point; the nearest point of each edge stands for a level one, the place itself for a level roof.
    """
    outline, (slope, at_origin) = plane.shape, plane.plane
    along = np.roll(outline, -1, axis=0) - outline
    square = np.maximum((along**2).sum(axis=1), 1e-300)
    from_p = outline - p[:, None, :]
    half = (from_p * along).sum(axis=2)
    root = half**2 - square * ((from_p**2).sum(axis=2) - radius**2)
    step = np.sqrt(np.maximum(root, 0.0))
    shares = np.stack(
        [np.zeros_like(half), np.clip(-half / square, 0.0, 1.0), (-half - step) / square, (-half + step) / square]
    )
    edges = outline + shares[..., None] * along  # (4, N, n, 2): corners, nearest points, both meetings with the circle

    steep = float(np.hypot(*slope))
    uphill = p + radius * (slope / steep if steep > 0.0 else np.zeros(2))
    points = np.concatenate([*edges, uphill[:, None, :], p[:, None, :]], axis=1)
    away = np.hypot(*np.moveaxis(points - p[:, None, :], 2, 0))
    on_edge = (shares >= 0.0) & (shares <= 1.0)
    within = np.stack([inside(uphill, outline), inside(p, outline)], axis=1)
    # A circle that only touches an edge still counts, whatever the rounding of floats.
    keep = np.concatenate([*on_edge, within], axis=1) & (away <= radius + 1e-9)
    heights = np.where(keep, points @ slope + at_origin, -np.inf)
    top = heights.max(axis=1)
    best = np.where(heights >= top[:, None] - 1e-9, away, np.inf).argmin(axis=1)
    return top, points[np.arange(len(p)), best]


@door(plain={"height": "m"})
def part_above(plane: RoofPlane, height: float) -> np.ndarray:
    """Outline in plan (n, 2) of what of a roof plane stands at ``height`` [m] or above; empty where none does."""
    kept = []
    corners = plane.points
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if start[2] >= height:
            kept.append(start[:2])
        if (start[2] >= height) != (end[2] >= height):
            kept.append(start[:2] + (height - start[2]) / (end[2] - start[2]) * (end - start)[:2])
    return np.array(kept).reshape(-1, 2)
