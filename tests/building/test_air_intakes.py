"""Air intakes: the stretched string, the standard's separation, intakes of a roof scene."""

import numpy as np
import pytest

from ventcalc import tables
from ventcalc.building import air_intakes, roof_scene
from ventcalc.building.terminal import CHIMNEY, Terminal
from ventcalc.units import Q_

ROWS = {row["id"]: row for row in tables.read("re_entrainment_checks")}


def test_separation_of_the_standard():
    # RE30, from the equation itself (from memory): capped, 400 cfm, a dilution of 50.
    ours = air_intakes.separation(Q_(400, "cfm"), Q_(0, "fpm"), 50.0)
    assert ours.m_as("ft") == pytest.approx(float(ROWS["RE30"]["value"]), abs=0.05)
    assert air_intakes.separation(Q_(400, "cfm"), Q_(4000, "fpm"), 50.0).m == 0.0
    # A public program's sketch of ASHRAE RP-1635 has the inverse, D = (11.1 L / sqrt(Q) + U/400)^2.
    far = air_intakes.separation(Q_(900, "cfm"), Q_(800, "fpm"), 50.0).m_as("ft")
    assert (11.1 * far / 30.0 + 2.0) ** 2 == pytest.approx(50.0, rel=0.002)


def test_stretched_string():
    assert air_intakes.stretched_string(Q_(3, "m"), Q_(1, "m"), Q_(3, "m")).m == pytest.approx(5.0)
    assert air_intakes.stretched_string(Q_(3, "m")).m == pytest.approx(3.0)


def test_us_and_si_units_agree():
    long, high = Q_(10, "m"), Q_(2, "m")
    one, other = (air_intakes.stretched_string(a, h, a) for a, h in ((long, high), (long.to("ft"), high.to("ft"))))
    assert one.m_as("m") == pytest.approx(other.m_as("m"), rel=1e-9)
    flows = (Q_(300, "cfm"), Q_(300, "cfm").to("m**3/s"))
    assert len({round(air_intakes.separation(q, Q_(0, "m/s"), 50.0).m, 9) for q in flows}) == 1


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: air_intakes.Roof(Q_(1, "m"), Q_(0.65, "m")), "roof: height"),
        (lambda: air_intakes.Stack("s", Q_(-1, "m"), Q_(1, "m")), "stack s: height"),
        (lambda: air_intakes.Stack("s", Q_(1, "m"), Q_(0, "m")), "stack s: diameter"),
        (lambda: air_intakes.Intake("i", Q_(-1, "m")), "intake i: distance"),
    ],
)
def test_impossible_input_is_refused_by_name(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def scene():
    square = Q_(np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]]), "m")
    flat = roof_scene.RoofPlane.flat("roof", square, Q_(8, "m"))
    on_roof = roof_scene.Opening(
        "unit", "forced-air intake", Q_(np.array([[14.0, 5.0]]), "m"), Q_(8.3, "m"), Q_(9, "m")
    )
    in_wall = roof_scene.Opening("window", "operable window", Q_(np.array([[4.0, 0.0], [5.0, 0.0]]), "m"), Q_(4, "m"),
                                 Q_(6, "m"))  # fmt: skip
    return roof_scene.Scene((flat,), openings=(on_roof, in_wall))


def test_intakes_of_a_roof_scene():
    terminal = Terminal("vent", Q_(4.5, "m"), Q_(5, "m"), Q_(9.5, "m"), Q_(0.4, "m"), CHIMNEY)
    unit, window = air_intakes.intakes(scene(), terminal)
    assert unit.distance.m == pytest.approx(9.5) and unit.height.m == pytest.approx(1.0)
    # 5 m to the edge and 2 m down to the window's top.
    assert window.distance.m == pytest.approx(7.0) and window.height.m == pytest.approx(-2.0)
    assert air_intakes.level(scene(), terminal) == pytest.approx(8.0)
    assert air_intakes.intakes(scene(), terminal, ("door",)) == ()


def test_a_stack_discharges_freely_unless_it_is_said_to_be_capped():
    assert not air_intakes.Stack("stack", Q_(2, "m"), Q_(0.3, "m")).capped


def test_the_string_to_a_window_along_the_edge_is_the_shortest_way_over_it():
    """Unfolded: 3 m to the edge and 2 m down it, the window 8 m along: hypot(3 + 2, 8) = 9.43 m, not 8.54 + 2."""
    terminal = Terminal("vent", Q_(13, "m"), Q_(3, "m"), Q_(9.5, "m"), Q_(0.4, "m"), CHIMNEY)
    _, window = air_intakes.intakes(scene(), terminal)
    assert window.distance.m == pytest.approx(np.hypot(5.0, 8.0))
    # By a search for the place on the edge over which it goes: no other is nearer.
    over = np.linspace(0.0, 20.0, 20001)
    shortest = (np.hypot(13.0 - over, 3.0) + np.hypot(over - 5.0, 2.0)).min()
    assert window.distance.m == pytest.approx(shortest, rel=1e-6)


def test_a_point_in_a_wall_of_no_direction_is_as_near_as_it_can_be():
    point = roof_scene.Opening("door", "door", Q_(np.array([[4.5, 0.0]]), "m"), Q_(0, "m"), Q_(6, "m"))
    there = roof_scene.Scene(scene().planes, openings=(point,))
    terminal = Terminal("vent", Q_(4.5, "m"), Q_(5, "m"), Q_(9.5, "m"), Q_(0.4, "m"), CHIMNEY)
    assert air_intakes.intakes(there, terminal)[0].distance.m == pytest.approx(np.hypot(5.0, 2.0))


def test_a_vent_through_a_wall_sees_an_opening_straight_however_high_the_roof_is():
    """Outlet at 2 m, 3 m beside a window that begins at 4 m: hypot(2.5, 2) to its corner, roof or no roof."""
    terminal = Terminal("vent", Q_(7.5, "m"), Q_(0, "m"), Q_(2, "m"), Q_(0.1, "m"), "direct vent", through="wall")
    _, window = air_intakes.intakes(scene(), terminal)
    assert window.distance.m == pytest.approx(np.hypot(2.5, 2.0)) and window.height.m == pytest.approx(4.0)
    assert air_intakes.level(scene(), terminal) == 2.0 and air_intakes.roof_level(scene(), terminal) == 8.0
    beside = Terminal("vent", Q_(7.5, "m"), Q_(0, "m"), Q_(5, "m"), Q_(0.1, "m"), "direct vent", through="wall")
    assert air_intakes.intakes(scene(), beside)[1].distance.m == pytest.approx(2.5)


def test_a_roof_lower_than_three_roughnesses_is_none_and_a_string_of_no_length_is():
    """By hand: 3 x 0.65 m = 1.95 m."""
    assert air_intakes.Roof(Q_(2.0, "m"), Q_(0.65, "m")).height.m == 2.0
    with pytest.raises(ValueError, match="roof: height"):
        air_intakes.Roof(Q_(1.9, "m"), Q_(0.65, "m"))
    assert air_intakes.stretched_string(Q_(0.0, "m")).m == 0.0
