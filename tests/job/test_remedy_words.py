"""Remedy words: every code has a sentence, and what is told in one unit system is told in the other."""

import re
import string

import pytest
from sample_studies import compared

from ventcalc.job import remedy_words


@pytest.fixture(scope="module", params=["laundry", "lodge"])
def outcomes(request):
    return compared(request.param)[1]


def test_every_reason_is_told_in_both_systems(outcomes):
    for o in outcomes:
        us, si = (remedy_words.reasons(o, system) for system in ("US", "SI"))
        assert len(us) == len(si) == len(o.reasons) > 0
        for text in (*us, *si):
            assert "{" not in text and ".." not in text and text[0] == text[0].upper()
        assert not any(re.search(r"in\. w\.c\.|°F|\bcfm\b", text) for text in si)


def test_a_code_without_a_sentence_would_be_seen(outcomes):
    codes = {r.code for o in outcomes for r in o.reasons}
    assert codes <= set(remedy_words.SENTENCES) and len(codes) > 5


def test_a_remedy_is_named_by_what_is_changed(outcomes):
    drawn = next(o.remedy for o in outcomes if o.remedy.name == "as drawn")
    assert remedy_words.words(drawn) == "nothing is changed"
    for o in outcomes:
        said = remedy_words.words(o.remedy)
        assert (o.remedy.fan is not None) == ("fan" in said)
        assert bool(remedy_words.listed(o.remedy)) == bool(o.remedy.devices or o.remedy.rebuilt)


def test_sentences_ask_for_figures_by_name():
    for code, text in remedy_words.SENTENCES.items():
        names = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
        assert all(name.isidentifier() for name in names), code
