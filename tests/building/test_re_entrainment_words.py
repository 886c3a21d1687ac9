"""Re-entrainment words: what they say in both unit systems."""

import pytest
from sample_plumes import GASES, INTAKE, ROOF, STACK

from ventcalc.building import re_entrainment, re_entrainment_words
from ventcalc.building.code_rules import CHECK_EDITION
from ventcalc.units import SYSTEMS


@pytest.mark.parametrize("system", SYSTEMS)
def test_sentences_say_what_they_are(system):
    words = " ".join(re_entrainment_words.sentences(re_entrainment.judge(STACK, GASES, INTAKE, ROOF), system))
    assert CHECK_EDITION in words and "approves nothing" in words and "safe" not in words
    assert ("ft" in words) == (system == "US")
