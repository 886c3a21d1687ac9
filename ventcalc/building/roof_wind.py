"""Roof wind: whether a terminal stands in free wind over the zone of recirculation, and the pitch the wind meets."""

import numpy as np

from ventcalc.building.plan_geometry import nearest
from ventcalc.building.roof_scene import EXACT, TWELVE, Scene
from ventcalc.building.terminal import Terminal
from ventcalc.flow import wind

_NEAR = 15.0  # m, within which EN 13384-1 looks for obstacles (read as restated in a maker's technical data)


def clear_of_roof(scene: Scene, terminal: Terminal) -> bool:
    """Whether a terminal stands in free wind: over the zone in which it recirculates, no obstacle near that is higher.

    The zone is that of `wind.zone_height` over the highest roof, its face as wide as the roofs are long, which is the
    highest it can be; EN 13384-1 asks for less, 0.4 m over the ridge. Obstacles count within 15 m.
    """
    corners = np.concatenate([p.points for p in scene.planes])
    top, long = float(corners[:, 2].max()), float(np.ptp(corners[:, :2], axis=0).max())
    zone = float(wind.zone_height.bare(max(top - scene.ground, EXACT), max(long, EXACT)))
    near = [o for o in scene.obstacles if float(np.abs(nearest(terminal.at, o.shape, o.closed)[0][0])) < _NEAR]
    return terminal.low >= top + zone and all(o.span[1] <= terminal.low for o in near)


def roof_pitch(scene: Scene) -> str | None:
    """The pitch of a scene's roofs, one of `wind.PITCHES`; None where they differ."""
    degrees = np.degrees(np.arctan([p.pitch / TWELVE for p in scene.planes]))
    bands = set(np.searchsorted([10.0, 30.0], degrees).tolist())
    return wind.PITCHES[bands.pop()] if len(bands) == 1 else None
