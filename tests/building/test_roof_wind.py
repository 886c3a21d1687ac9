"""Roof wind: free wind over the zone of recirculation and beside obstacles, and the pitch that the wind meets."""

import pytest
from sample_roofs import box, flat, gable, m, vent

from ventcalc.building.roof_scene import Obstacle, RoofPlane, Scene
from ventcalc.building.roof_wind import clear_of_roof, roof_pitch
from ventcalc.building.terminal import CHIMNEY


def house():
    """A level roof of 30 m by 20 m, 10 m above grade."""
    return Scene((RoofPlane.flat("roof", m(box(0.0, 30.0, 0.0, 20.0)), m(10.0)),))


def test_free_wind_begins_over_the_zone_of_recirculation():
    # The ASHRAE Handbook's scaling length of the face, B_s^0.67 B_L^0.33 = 14.37 m for 10 m by 30 m; the zone is 0.22
    # of it high (the same figures as in tests/flow/test_wind.py).
    zone = 0.22 * 14.37
    below, above = (vent(CHIMNEY, 10.0 + zone + off, x=15.0, y=10.0) for off in (-0.02, 0.02))
    assert not clear_of_roof(house(), below) and clear_of_roof(house(), above)


@pytest.mark.parametrize(("gap", "free"), [(14.9, False), (15.1, True)])
def test_a_higher_obstacle_counts_within_fifteen_meters(gap, free):
    # EN 13384-1, read as restated in a maker's technical data: obstacles within 15 m.
    tower = Obstacle("tower", "tower", m(box(15.0 + gap, 40.0, 9.0, 11.0)), m(40.0))
    scene = Scene(house().planes, (tower,))
    assert clear_of_roof(scene, vent(CHIMNEY, 20.0, x=15.0, y=10.0)) is free
    lower = Scene(house().planes, (Obstacle("tower", "tower", tower.plan, m(19.0)),))
    assert clear_of_roof(lower, vent(CHIMNEY, 20.0, x=15.0, y=10.0))


def test_pitch_as_the_wind_tables_have_it():
    # 10 and 30 degrees part them: 2.12 and 6.93 over 12.
    told = [roof_pitch(Scene(gable(pitch))) for pitch in (2.0, 2.3, 6.8, 7.0)]
    assert told[1] == told[2] and len(set(told)) == 3
    assert roof_pitch(Scene((flat(),))) == told[0]
    assert roof_pitch(Scene((*gable(7.0), flat()))) is None
