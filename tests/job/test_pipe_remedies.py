"""Pipe remedies: which vents are tried."""

import pytest
from sample_remedies import compared_with, holds, named

from ventcalc.job import remedy_reasons, remedy_words, vent_changes


def test_a_taller_stack_is_tried_as_a_share_of_the_whole_rise(compared):
    # 10 ft of offset and 38 ft of stack: times 1.25, 1.5 or 2 is 12, 24 or 48 ft more.
    rise = named(compared["swim_hall"][1], "taller stack").remedy.plant.section("stack").rise.m_as("ft")
    assert min(abs(rise - 38.0 - more) for more in (12.0, 24.0, 48.0)) < 1e-9
    rise = named(compared["lodge"][1], "taller stack").remedy.plant.section("above roof").rise.m_as("m")
    assert min(abs(rise - 2.5 - more) for more in (10.5 / 4, 10.5 / 2, 10.5)) < 1e-9


@pytest.mark.slow
def test_pipe_that_suffices_comes_before_a_device_and_the_least_of_it_first():
    # A cap for rain and tees at the end of narrow pipe: too little draft at high fire in summer, never too much.
    _, outcomes = compared_with("small", high=0, height=6, low=-60)
    assert not holds(named(outcomes, "as drawn")) and holds(outcomes[0])
    assert not outcomes[0].remedy.devices and outcomes[0].remedy.rebuilt
    cured = [o for o in outcomes if holds(o)]
    keys = [(len(o.remedy.devices), o.remedy.new_pipe) for o in cured]
    assert keys == sorted(keys)


@pytest.mark.slow
def test_masonry_is_lined_and_not_made_wider():
    one, outcomes = compared_with("masonry")
    with pytest.raises(ValueError, match="stack is of masonry"):
        vent_changes.wider(one.plant, 1)
    liner = named(outcomes, "liner")
    stack = liner.remedy.plant.section("stack")
    assert stack.material.name == "Type B gas vent" and stack.diameter < one.plant.section("stack").diameter
    assert not stack.diameter < one.plant.section("connector 1").diameter
    assert "as a liner" in remedy_words.words(liner.remedy)
    # The code's rule: at most seven times the outlet's area (IFGC 503.5.5 as quoted; data/vent/capacity_rules.csv).
    drawn = {r.code for r in remedy_reasons.reasons(named(outcomes, "as drawn"))}
    assert "area rule" in drawn and (0.4 / 0.13) ** 2 > 7.0
    if holds(liner):
        assert "area rule" not in {r.code for r in remedy_reasons.reasons(liner)}
