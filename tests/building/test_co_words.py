"""CO words: what a judged case must say."""

import re
from dataclasses import replace

import pytest
from sample_exposures import CASE, OFFICE, judged

from ventcalc.building import co_words
from ventcalc.units import Q_


def test_no_spill_is_no_failure():
    found = judged(spill=Q_(0.0, "kg/s"))
    assert not found.failed and found.co.max() == 0.0
    words = " ".join(co_words.sentences(found))
    assert "No limit of the table fails" in words and "no leave to stay" in words


@pytest.mark.parametrize("system", ["US", "SI"])
def test_sentences_say_what_they_must(system):
    found = judged(replace(CASE, neighbor=OFFICE, monitor=Q_(50, "ppm")))
    words = co_words.sentences(found, system)
    text = " ".join(words)
    assert (
        words[-1] == co_words.CAUTION and "leave" in words[-1] and "check what your jurisdiction adopted" in words[-1]
    )
    assert {"US": "lb/h", "SI": "kg/s"}[system] in words[0]
    assert "monitor stops the burners" in text and "office" in text and "UL 2034" in text and "COHb" in text
    assert not re.search(r"\bsafe\b", text.lower()) and "inf" not in text.split() and "nan" not in text
