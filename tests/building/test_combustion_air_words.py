"""Combustion air words: every verdict says where it stands, every outlet what the fans do, and what would cure it."""

import numpy as np
import pytest
from sample_plants import row_plant
from sample_rooms import HOUR, room, spilling_room

from ventcalc.building import combustion_air_verdicts, combustion_air_words, depressurization, makeup_air
from ventcalc.building.code_rules import CHECK_EDITION
from ventcalc.building.combustion_air_words import verdict_sentence
from ventcalc.building.makeup_air import Cure
from ventcalc.units import Q_, SYSTEMS


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_verdict_says_where_it_stands(system):
    for v in combustion_air_verdicts.judge(
        row_plant(2, "draft hood"), room(supply=Q_(100, "cfm"), infiltration=0.5 * HOUR)
    ):
        words = verdict_sentence(v, system)
        assert CHECK_EDITION in words and "edition" in words and v.verdict in words and "safe" not in words
        assert ("short" in words) == (v.verdict == "fail" and v.required is not None and v.required > v.provided)


def test_sentences_tell_the_fans_from_the_rest():
    scan, _, off, on = spilling_room()
    found = depressurization.effects(scan, off, on)
    words = " ".join(combustion_air_words.sentences(found, makeup_air.cure(scan, on), "US"))
    assert "fail" in words and "without the fans" in words and CHECK_EDITION in words and "safe" not in words


def test_a_cure_is_told_by_what_it_cures():
    square, flow = Q_(0.25, "m**2"), Q_(0.5, "m**3/s")
    for cure, said, unsaid in (
        (Cure(square, flow, -2.0, 0, 1234, 0), ("2,500 cm²", "all 1234 states"), "further"),
        (Cure(np.inf * square, flow, -2.0, 0, 3, 2), ("0.500 m³/s more supply", "2 further states"), "free opening"),
        (Cure(0 * square, 0 * flow, 0.0, 0, 0, 5), ("More air does not help. In 5 further states",), "would hold"),
        (Cure(0 * square, 0 * flow, 0.0, 0, 0, 0, 1), ("does not help. In 1 state the", "too much air"), "would hold"),
        (Cure(0 * square, 0 * flow, 0.0, 0, 0, 0), ("No more air is needed",), "further"),
    ):
        first = combustion_air_words.sentences((), cure, "SI")[0]
        assert all(words in first for words in said) and unsaid not in first
