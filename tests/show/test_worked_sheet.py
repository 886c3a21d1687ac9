"""Worked sheets: a mistake is carried on by the lines below it, the key mends it, and the class is not told."""

import pytest

from ventcalc.show import worked_sheet
from ventcalc.show.worked_sheet import Line, Sheet
from ventcalc.units import Q_


def side_of(area):
    return area**0.5


def ground(side):
    return 4 * side


def left(rope, ground):
    return rope - ground


def sheet() -> Sheet:
    """A rope round a square field of 100 m2: somebody took its area for its side."""
    lines = (
        Line(
            "side", "A side is {side:.0f m}.", side_of, lambda: Q_(100.0, "m"), "The root is missing.", "{side:.0f m}"
        ),
        Line("ground", "Round it: {ground:.0f m}.", ground),
        Line("left", "Left: {left:.0f m}.", left),
    )
    given = {"area": Q_(100.0, "m**2"), "rope": Q_(50.0, "m")}
    return Sheet(
        "field", "I", "a rope", 5, "A field of {area:.0f m**2}.", given, lines, "It holds.", "It is too short."
    )


def test_a_mistake_is_carried_on():
    printed, right = worked_sheet.worked(sheet(), "SI"), worked_sheet.worked(sheet(), "SI", frozenset())
    assert (printed["ground"].m_as("m"), right["ground"].m_as("m")) == pytest.approx((400.0, 40.0))
    assert worked_sheet.verdict(sheet(), printed, "SI") == "It is too short."
    assert worked_sheet.verdict(sheet(), right, "SI") == "It holds."


def test_the_key_tells_where_why_and_by_how_much():
    (found,) = worked_sheet.found(sheet(), "SI")
    assert (found.number, found.why, found.printed, found.right) == (1, "The root is missing.", "100 m", "10 m")
    assert (found.end, found.mended) == ("-350.00 m", "10.00 m")


def test_the_class_is_not_told():
    read, key = (worked_sheet.html((sheet(),), "SI", key) for key in (False, True))
    assert "The root is missing" in key and "The root is missing" not in read
    assert "A side is 100 m." in read and "One line is wrong" in read
    assert "<script" not in read + key and "src=" not in read + key


def test_a_mistake_without_a_reason_and_a_reason_without_a_mistake_are_refused():
    row = {"name": "x", "part": "I", "title": "t", "minutes": 5, "plant": "p", "given": {}, "holds": "h", "fails": "f"}
    line = {"name": "left", "says": "{left}"}
    work = {"left": lambda: Q_(1.0, "m")}
    assert worked_sheet.sheet(row | {"line": [line]}, work, {}).planted == frozenset()
    with pytest.raises(ValueError, match="mistakes"):
        worked_sheet.sheet(row | {"line": [line]}, work, work)
    with pytest.raises(ValueError, match="mistakes"):
        worked_sheet.sheet(row | {"line": [line | {"mistake": "m", "shows": "s"}]}, work, {})
    with pytest.raises(ValueError, match="lacking"):
        worked_sheet.sheet({k: v for k, v in (row | {"line": [line]}).items() if k != "holds"}, work, {})
