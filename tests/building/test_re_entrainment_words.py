"""Re-entrainment words: what they say in both unit systems."""

from dataclasses import replace

import pytest
from sample_plumes import GASES, INTAKE, ROOF, STACK

from ventcalc.building import re_entrainment, re_entrainment_words
from ventcalc.building.code_rules import CHECK_EDITION, PASS, READING
from ventcalc.units import SYSTEMS


@pytest.mark.parametrize("system", SYSTEMS)
def test_sentences_say_what_they_are(system):
    words = " ".join(re_entrainment_words.sentences(re_entrainment.judge(STACK, GASES, INTAKE, ROOF), system))
    assert CHECK_EDITION in words and "approves nothing" in words and "safe" not in words
    assert ("ft" in words) == (system == "US")


def test_a_gas_that_harms_is_told_with_its_level_and_its_share():
    """What a part holds is what its sentence says: harm only where it harms, a share only where one is counted."""
    part = re_entrainment.judge(STACK, GASES, INTAKE, ROOF).parts[0]
    plain = replace(part, added=123.4, limit=50.0, at_most=123.4, harmful=False, share=None)
    told = re_entrainment_words.part_sentence(plain)
    assert "123 ppm" in told and "50 ppm" in told and "%" not in told
    harm = re_entrainment_words.part_sentence(replace(plain, harmful=True, harm=987.0))
    assert harm.startswith(told) and "987 ppm" in harm and "987 ppm" not in told
    shared = re_entrainment_words.part_sentence(replace(plain, share=0.37, at_most=321.0))
    assert "37%" in shared and "321 ppm" in shared


def test_concentrations_have_three_digits():
    shown = [re_entrainment_words.ppm_text(v) for v in (0.01234, 12.34, 104.6, 1234.0)]
    assert shown == ["0.0123 ppm", "12.3 ppm", "105 ppm", "1,234 ppm"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_by_a_wall_nothing_passes_and_no_string_is_told(system):
    """The same exhaust through a wall: what passed on a roof needs a reading, what failed still fails."""
    roof, wall = (re_entrainment.judge(replace(STACK, wall=w), GASES, INTAKE, ROOF) for w in (False, True))
    for one, other in zip(roof.parts, wall.parts, strict=True):
        assert other.verdict == (READING if one.verdict == PASS else one.verdict) and other.added == one.added
    assert PASS in {p.verdict for p in roof.parts}
    told = " ".join(re_entrainment_words.sentences(wall, system))
    assert "through a wall" in told and "string" not in told and "passes nothing" in told
