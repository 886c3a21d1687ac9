"""CO words: what a judged case must say."""

import re
from dataclasses import replace

import numpy as np
import pytest
from sample_exposures import CASE, OFFICE, judged

from ventcalc.building import co_words
from ventcalc.building.co_limits import facts
from ventcalc.building.code_rules import FAIL
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


def test_the_worst_limit_is_the_one_passed_by_most_of_itself():
    """By the table of what was judged: 900 of 400 ppm is worse than 1,000 of 800."""
    found = judged(spill=Q_(0.02, "kg/s"))
    failed = [j for j in found.judged if j.verdict == FAIL]
    shares, products = ([f(j.worst, j.limit.level) for j in failed] for f in (lambda a, b: a / b, lambda a, b: a * b))
    worst = failed[int(np.argmax(shares))].limit.cited
    assert worst != failed[int(np.argmax(products))].limit.cited  # the case tells one from the other
    told = next(s for s in co_words.sentences(found) if worst in s)
    assert f"{len(failed)} of {len(found.judged)}" in told


def test_each_alarm_is_told_by_its_own_standard():
    found = judged()
    told = " ".join(co_words.sentences(found))
    for band in found.alarms[0]:
        row = next(r for r in facts("alarm") if r["body"] == band.standard)
        assert f"({row['source']}; edition: {row['edition']}) " in told
    assert len({band.standard for band in found.alarms[0]}) == len(found.alarms[0]) > 1
