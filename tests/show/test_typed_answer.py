"""Typed answers: what people write is read as they mean it; what could mean something else is refused."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc.show import typed_answer
from ventcalc.units import Q_, UnitsError, magnitude, parse, ureg

# What was typed, a unit of what was asked for, and what is meant: common practice, no source. The factors of the units
# are held to NIST SP 811 in test_units.py.
with Path(__file__).with_name("typed_answers.csv").open(encoding="utf-8", newline="") as file:
    TYPED = [tuple(row.values()) for row in csv.DictReader(file)]


def test_there_are_300_of_them():
    assert len(set(TYPED)) == len(TYPED) >= 300


@pytest.mark.parametrize("row", TYPED, ids=lambda row: f"{row[0]} as {row[1] or 'ratio'}")
def test_as_people_type_it(row):
    typed, wanted, value, unit = row
    meant, named = Q_(float(value), unit), {"s": "s"}.get(wanted, "")
    # A mean right answer that is not quite the one typed: nothing is read off the answer itself.
    asked = Q_(meant.m_as(wanted) * 1.01, wanted)
    read = typed_answer.quantity(typed, asked, named)
    assert magnitude(read, ureg.Unit(wanted), "it") == pytest.approx(
        magnitude(meant, ureg.Unit(wanted), "it"), rel=1e-9
    )


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("0,05 in. w.c.", "Pa"),
        ("1,5 m", "m"),
        ("0.15-0.16 in. w.c.", "Pa"),
        ("5 ft 14 in.", "m"),
        ("5 ft -6 in.", "m"),
        ("163 MBtu/h", "W"),
        ("20 bhp", "W"),
        ("300 scfm", "m**3/s"),
        ("1:05", "s"),
        ("12", "Pa"),
        ("a lot", "m"),
        ("not 12 Pa", "Pa"),
        ("IIII", ""),
        ("x = y = 3", ""),
    ],
)
def test_what_could_mean_something_else_is_refused(typed, wanted):
    with pytest.raises((UnitsError, ValueError)):
        typed_answer.quantity(typed, Q_(1.0, wanted))


def test_a_job_file_reads_the_same_or_refuses():
    # Stricter, since there nobody knows what was asked: no words around, no number alone, no thousands apart.
    refused = []
    for typed, wanted, value, unit in TYPED:
        fits = ureg.Unit(wanted)
        try:
            read = magnitude(parse(typed, fits), fits, "it")
        except UnitsError:
            refused.append(typed)
        else:
            assert read == pytest.approx(Q_(float(value), unit).m_as(wanted), rel=1e-9), typed
    assert {"about 0.151 in. w.c.", "minus 12 Pa", "65", "III", "K = 40", "101 300 Pa", "42.4 ft,"} <= set(refused)
    assert len(TYPED) - len(refused) >= 340


def test_a_number_alone_is_in_the_unit_that_the_question_names():
    assert typed_answer.quantity("65", Q_(60.0, "s"), "s") == Q_(65.0, "s")
    with pytest.raises(UnitsError, match="unit is missing"):
        typed_answer.quantity("65", Q_(60.0, "s"))


@pytest.mark.slow
@given(st.text(max_size=80), st.sampled_from(["", "Pa", "K", "s"]))
def test_any_text_is_read_or_refused(text, wanted):
    try:
        assert abs(typed_answer.quantity(text, Q_(1.0, wanted)).m) < float("inf")
    except (UnitsError, ValueError) as refused:
        assert len(str(refused)) < 400
