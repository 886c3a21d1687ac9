"""Clearance words: the worst first, cautions, lengths rounded so that doing what is said is enough."""

from dataclasses import replace

import pytest
from sample_roofs import ft, m

from ventcalc.building import clearance_table, clearance_words, code_rules
from ventcalc.building.clearance_words import sentences
from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import NONE
from ventcalc.building.terminal import CHIMNEY
from ventcalc.handbook import clearances as chapter
from ventcalc.units import Q_


def test_sentences_put_the_worst_first_and_carry_the_caution():
    lines = sentences(judge(chapter.hall(), chapter.stack(CHIMNEY)), "SI")
    order = [next(v for v in code_rules.VERDICTS if f": {v}." in line) for line in lines]
    assert order == sorted(order, key=code_rules.VERDICTS.index)
    for line, verdict_ in zip(lines, order, strict=True):
        assert (code_rules.CHECK_EDITION in line) == (verdict_ != NONE)
        assert " ft" not in line.partition("[")[0] or verdict_ == NONE


@pytest.mark.parametrize("system", ["US", "SI"])
def test_doing_what_is_said_is_enough(system):
    # Rounded to what is printed, never downward.
    for value in (0.0001, 0.1234567, 0.3048, 0.30481, 1.2345678, 0.9144):
        words = clearance_words.length_text(m(value), system, up=True)
        number, unit = words.split(" ")
        assert Q_(float(number), {"in.": "inch"}.get(unit, unit)).m_as("m") >= value - 1e-5
    assert clearance_words.length_text(ft(3), "US", up=True) == "3 ft"
    with pytest.raises(ValueError, match="choose US or SI"):
        clearance_words.length_text(ft(3), "metric")


def test_a_length_is_rounded_up_only_where_that_is_asked_for():
    assert clearance_words.Length(m(1.2342)).words("SI") == "1.234 m"
    assert clearance_words.Length(m(1.2342), up=True).words("SI") == "1.235 m"


def test_what_may_stand_nowhere_over_a_thing_is_told_so_and_a_length_beside_it_as_one():
    rules = {r.rule: r for r in clearance_table.shipped_rules()}
    over = clearance_words.requirement(rules["condensate over a walkway"], "US")
    assert over == "nowhere over a walkway"
    beside = replace(rules["condensate over a walkway"], value=0.3048)
    assert clearance_words.requirement(beside, "US").startswith("at least 1 ft in plan from a walkway")
    away = next(r for r in rules.values() if r.form == "away")
    assert "nowhere" not in clearance_words.requirement(away, "US")
