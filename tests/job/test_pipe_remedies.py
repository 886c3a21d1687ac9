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


@pytest.mark.slow
def test_where_a_liner_does_not_draw_it_has_a_fan_and_masonry_stays_dry():
    """A fan makes a wide flue draw and leaves it wet, a liner keeps it dry and may not draw: so both are tried."""
    one, outcomes = compared_with("masonry")
    liner, both, fan = (named(outcomes, name) for name in ("liner", "liner and a fan", "fan"))
    assert not holds(liner) and holds(both)
    assert both.remedy.fan is not None and both.remedy.drawn is one.plant
    lined, alone = both.remedy.plant.section("stack"), liner.remedy.plant.section("stack")
    assert (lined.material, lined.diameter) == (alone.material, alone.diameter)
    assert "as a liner" in remedy_words.words(both.remedy) and "roof 6" in remedy_words.words(both.remedy)
    # The wall that flue gas meets: with both above the dew point in some state in which brick is below it.
    wet = [o.scan.solution.wet[o.scan.solution.row("stack")] & o.scan.any_firing for o in (both, fan)]
    assert wet[0].sum() < wet[1].sum()
