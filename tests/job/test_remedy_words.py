"""Remedy words: every code has a sentence, and what is told in one unit system is told in the other."""

import re
import string
from dataclasses import replace

import pytest
from sample_plants import row_plant
from sample_remedies import JOBS, designed
from sample_studies import compared

from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import remedy_reasons, remedy_words
from ventcalc.units import SYSTEMS
from ventcalc.words import sentences


@pytest.fixture(scope="module", params=["laundry", "lodge"])
def outcomes(request):
    return compared(request.param)[1]


@pytest.mark.slow
def test_every_reason_is_told_in_both_systems(outcomes):
    for o in outcomes:
        us, si = (remedy_words.reasons(o, system) for system in ("US", "SI"))
        assert len(us) == len(si) == len(remedy_reasons.reasons(o)) > 0
        for text in (*us, *si):
            assert "{" not in text and ".." not in text and text[0] == text[0].upper()
        assert not any(re.search(r"in\. w\.c\.|°F|\bcfm\b", text) for text in si)


def test_a_code_without_a_sentence_would_be_seen(outcomes):
    codes = {r.code for o in outcomes for r in remedy_reasons.reasons(o)}
    assert codes <= set(sentences("job")["reasons"]) and len(codes) > 5


def test_a_remedy_is_named_by_what_is_changed(outcomes):
    drawn = next(o.remedy for o in outcomes if o.remedy.name == "as drawn")
    assert remedy_words.words(drawn) == "nothing is changed"
    for o in outcomes:
        said = remedy_words.words(o.remedy)
        assert (o.remedy.fan is not None) == ("fan" in said)
        assert bool(remedy_words.listed(o.remedy)) == bool(o.remedy.devices or o.remedy.rebuilt)


def test_sentences_ask_for_figures_by_name():
    for code, text in sentences("job")["reasons"].items():
        names = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
        assert all(name.isidentifier() for name in names), code


@pytest.mark.parametrize("name", JOBS)
def test_words_are_sentences_in_both_systems(compared, name):
    for o in compared[name][1]:
        texts = {
            system: (*remedy_words.reasons(o, system), *remedy_words.listed(o.remedy, system)) for system in SYSTEMS
        }
        assert len(texts["US"]) == len(texts["SI"]) and remedy_words.reasons(o)
        for system, told in texts.items():
            for text in (*told, remedy_words.words(o.remedy, system)):
                assert not re.search(r"\bnan\b|\binf\b|\.\.|None", text), text
                assert ("in. w.c." in text or "cfm" in text) <= (system == "US"), text
                assert bool(re.search(r"\d Pa\b|m³/s", text)) <= (system == "SI"), text
            assert all(text[0].isupper() or text[0].isdigit() for text in told)
            assert all(text.endswith(".") for text in told)


def test_one_outlet_is_told_as_one():
    """A butterfly damper at each of two outlets, and then at one alone."""
    both = designed("damper at each outlet").outcome.remedy
    alone = remedy_words.words(replace(both, outlets=both.outlets[:1]))
    assert "at the outlets of" in remedy_words.words(both) and "each set" in remedy_words.words(both)
    assert f"at the outlet of {both.outlets[0]}, set to" in alone and "each" not in alone


def test_a_sensor_is_told_by_where_it_reads():
    one, two = row_plant(1), row_plant(2)
    told = [remedy_words.sensed(plant, sensor) for plant, sensor in ((two, "B2"), (two, HEADER), (one, HEADER))]
    assert "B2" in told[0] and "header" in told[1] and "header" not in told[2] and len(set(told)) == 3
