"""Chapter texts: values told in two ways, what is given as quantities, drawn within its range."""

import numpy as np
import pytest

from ventcalc.show import chapter_texts
from ventcalc.units import Q_


def test_a_value_may_be_told_in_two_ways():
    assert chapter_texts.told({"US": "1 ft", "SI": "1 m"}, "SI") == "1 m"
    assert chapter_texts.told({"from": "1 ft", "to": "2 ft"}, "SI") == {"from": "1 ft", "to": "2 ft"}


def test_what_is_given_becomes_quantities_numbers_and_words():
    found = chapter_texts.given({"side": "2 ft", "count": 3, "what": "duct", "h": {"US": "1 ft", "SI": "1 m"}}, "SI")
    assert found == {"side": Q_(2.0, "ft"), "count": 3, "what": "duct", "h": Q_(1.0, "m")}


def test_a_seed_draws_between_both_ends():
    asked = {"side": {"is": "2 ft", "from": "1 ft", "to": "24 inch", "steps": 4}}
    drawn = {round(chapter_texts.given(asked, "US", np.random.default_rng(k))["side"].m_as("ft"), 6) for k in range(60)}
    assert drawn == {1.0, 1.25, 1.5, 1.75, 2.0}


def test_a_function_is_told_the_system_if_it_asks():
    assert chapter_texts.worked(lambda x, system: {"y": (x, system)}, {"x": 1}, "SI") == {"x": 1, "y": (1, "SI")}
    assert chapter_texts.worked(lambda x: {"y": x + 1}, {"x": 1}, "SI") == {"x": 1, "y": 2}


def test_a_text_stands_on_one_line_with_its_figures():
    assert chapter_texts.text("It is\n  {x:draft} .", {"x": Q_(-0.05, "inH2O")}, "US") == "It is -0.050 in. w.c. ."
    with pytest.raises(KeyError, match="y"):
        chapter_texts.text("{y}", {}, "US")


def test_keys_that_are_unknown_or_lacking_are_named():
    with pytest.raises(ValueError, match=r"here: unknown \['c'\], lacking \['a'\]"):
        chapter_texts.refuse_keys("here", {"b": 1, "c": 2}, {"a"}, {"b"})
