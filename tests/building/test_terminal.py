"""Terminal: the kinds that count, what moves and what stays, and what cannot be."""

import pytest
from sample_roofs import m, refuse, vent

from ventcalc.building.terminal import CHIMNEY, FAN, GAS_VENT, TYPE_L, WALL_VENT, at_height, moved, with_fan
from ventcalc.units import Q_


def test_a_category_behind_a_terminal_is_one_of_the_four():
    with pytest.raises(ValueError, match="category behind terminal 'vent' is 'V'"):
        vent(CHIMNEY, 2.0, categories=("V",))


@pytest.mark.parametrize(
    ("kind", "more", "kinds", "reason"),
    [
        (GAS_VENT, {"categories": ("I",)}, (GAS_VENT,), None),
        (GAS_VENT, {"categories": ("I", "III", "IV")}, (GAS_VENT, FAN), "category III, IV is behind it"),
        (TYPE_L, {"categories": ("IV",), "fan": True}, (TYPE_L, FAN), "a fan stands in the vent"),
        (FAN, {"categories": ("I", "I", "II")}, (FAN, GAS_VENT), "of category I, II without a fan"),
        (FAN, {}, (FAN,), None),  # nothing is told of what drives it
    ],
)
def test_kinds_that_count_and_what_speaks_against_the_declared_one(kind, more, kinds, reason):
    # Categories III and IV press the gas out by a fan of their own: IFGC definitions of the categories.
    held = vent(kind, 2.0, **more)
    assert held.kinds == kinds
    assert (held.contradiction is None) if reason is None else (reason in held.contradiction.words())


def test_moved_raised_and_with_a_fan_it_keeps_its_measures():
    drawn = vent(CHIMNEY, 2.0, x=1.0, cap=0.3)
    raised, aside, driven = at_height(drawn, m(5.0)), moved(drawn, m(3.0), m(4.0)), with_fan(drawn)
    assert (raised.low, raised.cap) == pytest.approx((5.0, 0.3)) and raised.outlet.m_as("m") == pytest.approx(5.3)
    assert aside.at.tolist() == [[3.0, 4.0]] and (aside.low, aside.cap) == pytest.approx((2.0, 0.3))
    assert driven.kind == FAN and driven.driven and driven.low == drawn.low
    assert with_fan(vent(WALL_VENT, 2.0)).kind == WALL_VENT  # it is driven by a fan already


def test_impossible_terminals_are_refused_by_name():
    for wrong, words in (
        ({"kind": "stovepipe"}, ("'stovepipe'", CHIMNEY)),
        ({"size": 0.0}, ("diameter",)),
        ({"cap": -0.1}, ("cap_bottom", "outlet")),
        ({"through": "floor"}, ("'floor'", "roof", "wall")),
        ({"heat_input": Q_(0, "MBH")}, ("heat_input",)),
        ({"kind": WALL_VENT, "through": "roof"}, ("through='wall'",)),
    ):
        refuse(lambda wrong=wrong: vent(**({"kind": CHIMNEY, "low": 1.0} | wrong)), "vent", *words)
