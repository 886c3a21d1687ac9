"""Draft findings: the area rule and the stack a burner is lit on, from what natural draft does."""

from dataclasses import replace

import pytest
from sample_studies import STUDIES

from ventcalc.draft import light_off
from ventcalc.job import draft_findings, findings
from ventcalc.words import sentences


@pytest.fixture(scope="module")
def retrofit():
    return STUDIES["masonry_retrofit"]


@pytest.mark.slow
def test_a_flue_beyond_the_area_rule_is_told_with_its_ratio(retrofit):
    """At most seven times the outlet's area (IFGC 503.5.5 as quoted; data/vent/capacity_rules.csv)."""
    (told,) = (f for f in draft_findings.natural(retrofit) if f.code == "oversized_flue")
    assert told.figures["ratio"] > told.figures["times"] == 7.0 and told.rule
    none = replace(retrofit, natural=replace(retrofit.natural, areas=()))
    assert "oversized_flue" not in {f.code for f in draft_findings.natural(none)}


def test_every_stack_that_a_burner_is_lit_on_has_words():
    assert set(sentences("job")["stack"]) == set(light_off.STACKS)


@pytest.mark.slow
def test_where_a_burner_is_lit_is_told(retrofit):
    told = [f for f in draft_findings.natural(retrofit) if "stack" in f.figures]
    assert told
    for f in told:
        assert f.figures["stack"].codes[0] in light_off.STACKS
        assert f.code == "pressed_at_light_off" or f.figures["stack"].words() in findings.sentence(f)
