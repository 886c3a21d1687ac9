"""Unit names: what people type, read as they mean it; what could mean two things is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc.unit_names import number_and_unit, spelled_out
from ventcalc.units import Q_, UnitsError, parse, ureg


# Factors: NIST SP 811 (see test_units.py); the spellings are those people use, common practice, no source.
@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("0.151 in. w.c.", 0.151, "inH2O"),
        ("\u22120.05 in. w.c.", -0.05, "inH2O"),
        ("0.05 in wc", 0.05, "inH2O"),
        ("0.05 IN W.C.", 0.05, "inH2O"),
        ("0.05 inches of water", 0.05, "inH2O"),
        ("0.05 in. H2O", 0.05, "inH2O"),
        ("0.05 iwc", 0.05, "inH2O"),
        ("29.92 in. Hg", 29.92, "inHg"),
        ("12 pa", 12.0, "Pa"),
        ("9.7 in.", 9.7, "inch"),
        ("12 Metres", 12.0, "m"),
        ("0.7 Litre", 0.7, "liter"),
        ("4in", 4.0, "inch"),
        ('6"', 6.0, "inch"),
        ("42.4ft", 42.4, "ft"),
        ("8,000 ft", 8000.0, "ft"),
        ("1,234,567 ft", 1234567.0, "ft"),
        ("144.0 in.²", 1.0, "ft**2"),
        ("2,043 lb/h", 2043.0, "lb/hour"),
        ("2043 lbs/hr", 2043.0, "lb/hour"),
        ("51 ft3/min", 51.0, "cfm"),
        ("51 CFM", 51.0, "cfm"),
        ("163000 BTUH", 163.0, "MBH"),
        ("163000 Btu/hr", 163.0, "MBH"),
        ("1/4 hp", 0.25, "hp"),
        ("1 1/2 in.", 1.5, "inch"),
        ("210 PPM", 210.0, "ppm"),
        ("15%", 0.15, ""),
        ("90 sec", 1.5, "minute"),
        ("1.5e3 kw", 1.5, "MW"),
        (".5 in", 0.5, "inch"),
        ("250 °F", 250.0, "degF"),
        ("250 deg F", 250.0, "degF"),
    ],
)
def test_as_people_type_it(text, value, unit):
    assert parse(text).m_as(unit) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "wanted", "kelvin"),
    [
        ("200 F", "K", 366.483),
        ("93 C", "K", 366.15),
        ("18 F", "delta_degC", 10.0),
        ("18 °F", "delta_degF", 10.0),
        ("10 C", "delta_degF", 10.0),
    ],
)
def test_degrees_are_told_apart_by_what_is_wanted(text, wanted, kelvin):
    read = parse(text, ureg.Unit(wanted))
    assert read.m_as("delta_degC" if wanted.startswith("delta") else "K") == pytest.approx(kelvin, abs=1e-3)


@pytest.mark.parametrize("text", ["0,05 ft", "1,5 m", "1,50 m", "12,34 m", "1,2345 m", "1/0 hp", "1/2/3 in", "1.2.3 m"])
def test_what_means_two_things_or_nothing_is_refused(text):
    with pytest.raises(UnitsError):
        parse(text)


def test_without_what_is_wanted_a_bare_letter_is_refused():
    for text in ("200 F", "93 C"):
        with pytest.raises(UnitsError, match="read two ways"):
            parse(text)


@given(st.text(max_size=60))
def test_any_text_has_an_answer(text):
    found = number_and_unit(text)
    assert found is None or (isinstance(found[0], float) and isinstance(spelled_out(found[1]), str))


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_a_number_is_read_as_written(value):
    for text in (f"{value!r} ft", f"{value:,.2f} ft", f"{value:.3e}ft"):
        assert number_and_unit(text)[0] == pytest.approx(value, abs=0.006, rel=6e-4)
    assert parse(f"{value!r} Pa") == Q_(value, "Pa")
