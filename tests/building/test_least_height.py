"""Least height: hand-drawn roofs worked on paper, many places at once, and nothing lower at random."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from sample_roofs import FT, MM, box, flat, ft, gable, m, scenes, terminals, vent

from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import FAIL, READING
from ventcalc.building.least_height import least_height, least_heights
from ventcalc.building.roof_scene import Obstacle, RoofPlane, Scene
from ventcalc.building.terminal import CHIMNEY, DIRECT, FAN, GAS_VENT, TYPE_L, Terminal, at_height, moved
from ventcalc.handbook import clearances as chapter
from ventcalc.units import Q_


def test_chimney_beside_the_ridge_goes_by_the_ridge():
    # 6/12, axis 5 ft from the ridge, 2.5 ft below it: 2 ft above the ridge is 4.5 ft above the roof.
    planes = gable(6)
    least = least_height(Scene(planes), vent(CHIMNEY, 10.0, y=-5 * FT))
    assert least.height.m_as("m") == pytest.approx(10.0 + 2 * FT)
    # The vent's upper edge, 0.1 m nearer to the ridge, is where it leaves the roof highest.
    assert least.above_roof.m_as("ft") == pytest.approx(4.5 - 0.5 * 0.1 / FT)
    assert least.finding.rule == "chimney above what is near"
    assert least.finding.point.m_as("m") == pytest.approx([0.0, 0.0, 10.0], abs=1e-6)


def test_chimney_far_from_the_ridge_goes_by_its_own_slope():
    # 6/12, axis 15 ft from the ridge: ten feet uphill from the vent's edge the roof is 5 ft + half of 0.1 m higher.
    least = least_height(Scene(gable(6)), vent(CHIMNEY, 10.0, y=-15 * FT))
    at_axis = 10.0 - 7.5 * FT
    assert least.height.m_as("m") == pytest.approx(at_axis + 0.5 * (10 * FT + 0.1) + 2 * FT)


@pytest.mark.parametrize(("distance", "above"), [(6.0, 6.0), (9.9, 6.0), (10.1, 3.0), (30.0, 3.0)])
def test_flat_roof_with_a_parapet_four_feet_high(distance, above):
    edge = 0.1 + distance * FT
    parapet = Obstacle("parapet", "parapet", m([[edge, -20.0], [edge, 20.0]]), m(4 * FT))
    least = least_height(Scene((flat(),), (parapet,)), vent(CHIMNEY, 0.0))
    assert least.height.m_as("ft") == pytest.approx(above)


@pytest.mark.parametrize(("pitch", "above"), [(0, 1.0), (6, 1.0), (6.01, 1.25), (9, 2.0), (12, 4.0), (21, 8.0)])
def test_gas_vent_goes_by_the_pitch(pitch, above):
    least = least_height(Scene(gable(pitch)), vent(GAS_VENT, 10.0, y=-15 * FT))
    assert least.above_roof.m_as("ft") == pytest.approx(above)
    assert least.finding.rule == "gas vent by roof pitch"


def test_chimney_through_a_tower_goes_by_the_towers_top():
    tower = Obstacle("tower", "tower", m(box(-1.0, 1.0, -1.0, 1.0)), m(5.0))
    least = least_height(Scene((flat(),), (tower,)), vent(CHIMNEY, 0.0))
    assert least.above_roof.m_as("ft") == pytest.approx(3.0)
    assert (least.finding.rule, least.finding.thing) == ("chimney above the roof", "tower")


def test_three_feet_within_ten_takes_the_place_of_the_pitch_table():
    scene, terminal = Scene(gable(6)), vent(GAS_VENT, 10.0, y=-15 * FT)
    table, habit = least_height(scene, terminal), least_height(scene, terminal, habit=True)
    assert table.above_roof.m_as("ft") == pytest.approx(1.0)
    assert habit.height.m_as("m") == pytest.approx(10.0 - 7.5 * FT + 0.5 * (10 * FT + 0.1) + 3 * FT)
    rules = {f.rule: f for f in judge(scene, terminal, habit=True)}
    assert "gas vent by roof pitch" not in rules and rules["three feet within ten"].row.status.startswith("common")
    assert "three feet within ten" not in {f.rule for f in judge(scene, terminal)}


def test_habit_is_never_lower_than_the_code_up_to_ten_over_twelve():
    for pitch in (0, 3, 6, 8, 10):
        for y in (-0.1, -1.0, -3.0, -6.0):
            for kind in (CHIMNEY, GAS_VENT, TYPE_L):
                scene, terminal = Scene(gable(pitch)), vent(kind, 10.0, y=y)
                code, habit = least_height(scene, terminal), least_height(scene, terminal, habit=True)
                assert habit.height >= code.height
    # Right beside a steep ridge nothing within ten feet is much higher, and the table asks for more.
    steep, terminal = Scene(gable(12)), vent(GAS_VENT, 10.0, y=-0.1)
    assert least_height(steep, terminal, habit=True).height < least_height(steep, terminal).height


@pytest.mark.slow
@given(scene=scenes(), terminal=terminals())
@settings(max_examples=200)
def test_at_the_least_height_nothing_fails_and_a_millimeter_lower_something_does(scene, terminal):
    least = least_height(scene, terminal)
    if least.height is None:
        assert least.finding.verdict == FAIL and least.finding.raise_by is None
        return
    assert FAIL not in {f.verdict for f in least.findings}
    if least.finding is not None:
        lower = judge(scene, at_height(terminal, least.height - m(MM)))
        assert {f.rule: f.verdict for f in lower}[least.finding.rule] in (FAIL, READING)


@pytest.mark.slow
@pytest.mark.parametrize("kind", [CHIMNEY, GAS_VENT, FAN, DIRECT])
def test_many_places_at_once_agree_with_one_by_one(kind):
    scene = chapter.hall()
    x, y = np.meshgrid(np.linspace(-5.0, 90.0, 9), np.linspace(-5.0, 60.0, 7))
    terminal = replace(chapter.stack(kind))
    heights = least_heights(scene, terminal, ft(x), ft(y)).m_as("m")
    for xx, yy, z in zip(x.ravel(), y.ravel(), heights.ravel(), strict=True):
        one = least_height(scene, moved(terminal, ft(xx), ft(yy))).height
        assert z == (np.inf if one is None else pytest.approx(one.m_as("m")))


def test_the_same_case_in_us_and_si_units():
    def case(unit, scale):
        def q(v):
            return Q_(np.asarray(v, float) * scale, unit)

        roof = RoofPlane.flat("roof", q(box(0, 40, 0, 40)), q(20))
        wall = Obstacle("wall", "wall", q([[26, 0], [26, 40]]), q(27), base=q(20))
        scene = Scene((roof,), (wall,), grade=q(0))
        terminal = Terminal("stack", q(20), q(20), q(24), q(1), CHIMNEY, hood=q(8))
        return least_height(scene, terminal).height.m_as("m"), [f.verdict for f in judge(scene, terminal)]

    us, si = case("ft", 1.0), case("m", FT)
    assert us[0] == pytest.approx(si[0]) == pytest.approx(29 * FT) and us[1] == si[1]
