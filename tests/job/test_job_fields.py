"""Job fields: a quantity is text with its unit; a name is short and plain."""

import re

import pytest
from pydantic import TypeAdapter, ValidationError

from ventcalc.job import job_fields
from ventcalc.units import EXAMPLES, parse, ureg


def read(field, value):
    return TypeAdapter(field).validate_python(value)


def test_a_quantity_is_read_with_its_unit():
    assert read(job_fields.Length, "40 ft").m_as("m") == pytest.approx(12.192)  # NIST SP 811: 1 ft = 0.3048 m
    assert read(job_fields.Pressure, "-0.05 inH2O").m_as("Pa") == pytest.approx(-12.4544, abs=1e-3)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (40, "unit is missing"),
        ("40", "write it out"),
        (True, "as text"),
        (None, "as text"),
        ("40 psi", "12 m or 40 ft"),
    ],
)
def test_what_is_no_length_says_what_would_be(value, said):
    with pytest.raises(ValidationError, match=said):
        read(job_fields.Length, value)


@pytest.mark.parametrize("unit", job_fields.SIZES)
def test_numbers_that_no_building_has_are_refused_with_what_may_be(unit):
    field, (least, most) = job_fields.quantity(unit), job_fields.SIZES[unit]
    shown = ureg.Unit(unit) if unit else "dimensionless"
    for size in (least, most):
        assert read(field, f"{size:g} {shown}").m_as(unit) == pytest.approx(size)
    for size, said in ((1.01 * most, "at most"), (1e300, "at most"), (0.99 * least, "at least"), (1e-300, "at least")):
        with pytest.raises(ValidationError, match=said):
            read(field, f"{size:g} {shown}")


@pytest.mark.parametrize(
    ("field", "inside", "beyond", "said"),
    [
        (job_fields.Draft, "-5 inH2O", "-5.1 inH2O", "-5 to 5 inH2O: gauge against the room"),
        (job_fields.Draft, "1245 Pa", "1260 Pa", "-1,245 to 1,245 Pa"),  # NIST SP 811: 249.0889 Pa an inch
        (job_fields.Draft, "0 Pa", "101325 Pa", "101,325 Pa must be"),
        (job_fields.HeatInput, "0.5 kW", "0.4 kW", "0.5 to 60,000 kW: the heat input"),
        (job_fields.HeatInput, "60 MW", "61 MW", "0.0005 to 60 MW"),
    ],
)
def test_what_no_vent_and_no_burner_has_is_refused_with_what_may_be(field, inside, beyond, said):
    assert read(field, inside) == parse(inside)
    with pytest.raises(ValidationError, match=re.escape(said)):
        read(field, beyond)


@pytest.mark.parametrize("unit", EXAMPLES)
def test_a_unit_left_out_is_asked_for_with_one_that_fits(unit):
    for value in ("7", 7):
        with pytest.raises(ValidationError) as refused:
            read(job_fields.quantity(unit), value)
        example = re.search(r"such as '(.+?)'", str(refused.value))[1]
        assert parse(example, ureg.Unit(unit)).is_compatible_with(ureg.Unit(unit))


@pytest.mark.parametrize("name", ["Boiler 1", "header (north) #2", "1st", "Owner's boiler & spare", "B" * 60])
def test_names_are_taken(name):
    assert read(job_fields.Name, name) == name


@pytest.mark.parametrize("name", ["", " Boiler", "<b>", "B" * 61, 7])
def test_and_refused(name):
    with pytest.raises(ValidationError, match="a name holds 1 to 60"):
        read(job_fields.Name, name)
