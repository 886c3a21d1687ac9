"""Calculator: boxes are read as people write, refused in words, and the line of Python gives the same number."""

import warnings

import pytest

from ventcalc.show.calculator import Calculator, Choice, Number, Python
from ventcalc.units import Q_, OutOfRangeWarning, UnitsError

LENGTH = Number("length", "Length", ("ft", "m"), {"US": "40 ft", "SI": "12 m"}, least="0 m", most="100 m")
AIR = Number("air", "Air", ("degF", "degC"), {"US": "70 degF", "SI": "20 degC"})
PRESSURE = Number("pressure", "Pressure", ("inH2O", "Pa"), {"US": "0.5 inH2O", "SI": "125 Pa"})
FACTOR = Number("factor", "Factor", ("",), {"US": "2", "SI": "2"})
WHICH = Choice("which", "Which", {"a half": (0.5, "half"), "all": (1.0, "1.0")})


def _answer(length, factor, which):
    if length > Q_(50, "m"):
        warnings.warn("length is outside the published range", OutOfRangeWarning, stacklevel=1)
    found = {"times": length * factor * which, "share": which, "far": length > Q_(20, "m"), "length": length}
    return found | ({"more": length} if factor > 1 else {})


CALCULATOR = Calculator(
    "sum",
    "A sum",
    (LENGTH, FACTOR, WHICH),
    _answer,
    {"more": ("length", "height"), "times": ("so many times", "height")},
    "({length} * {factor} * which)",
    Python({"half": "0.5", "which": "{which}"}, {"ventcalc.units": ("Q_",)}),
    "L k",
    "arithmetic",
    cautions={"far": "It is far: {length}."},
)


@pytest.mark.parametrize(
    ("box", "given", "expected"),
    [
        (LENGTH, ("40", "ft"), Q_(40, "ft")),
        (LENGTH, ("12 m", "ft"), Q_(12, "m")),
        (LENGTH, ("12m", "ft"), Q_(12, "m")),
        (LENGTH, ("15 metres", "ft"), Q_(15, "m")),
        (LENGTH, ("7 1/2 in.", "ft"), Q_(7.5, "inch")),
        (LENGTH, ("5 ft 6 in.", "m"), Q_(5.5, "ft")),
        (AIR, ("70 F", "degC"), Q_(70, "degF")),
        (AIR, ("−5 °C", "degF"), Q_(-5, "degC")),
        (PRESSURE, ("0.05 in. w.c.", "Pa"), Q_(0.05, "inH2O")),
        (FACTOR, ("1,200.5", ""), Q_(1200.5, "")),
    ],
)
def test_a_number_is_read_as_people_write_it(box, given, expected):
    value, code = box.read(given)
    assert value.m_as(expected.units) == pytest.approx(expected.m)
    said = eval(code[box.name], {"Q_": Q_})
    assert Q_(said, "").m == expected.m if box is FACTOR else said == value


@pytest.mark.parametrize(
    ("box", "given", "words"),
    [
        (LENGTH, ("forty", "ft"), "Length: 'forty' is not a number"),
        (LENGTH, (" ", "ft"), "Length is empty"),
        (LENGTH, ("0,5", "m"), "point for the decimals"),
        (LENGTH, ("inf", "m"), "finite"),
        (LENGTH, ("-1", "ft"), "Length: -1 ft is below"),
        (LENGTH, ("101", "m"), "Length: 101 m is above"),
        (LENGTH, ("40 psi", "ft"), "Length is wanted in ft or m, not in psi"),
        (LENGTH, ("40 wug", "ft"), "unknown unit"),
        (FACTOR, ("2 ft", ""), "a plain number, not in ft"),
    ],
)
def test_what_cannot_be_is_refused_in_words(box, given, words):
    with pytest.raises((ValueError, UnitsError)) as caught:
        box.read(given)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("box", "text", "expected"),
    [
        (LENGTH, "12 m", ("m", "12")),
        (LENGTH, "12m", ("m", "12")),
        (AIR, "-5 °C", ("degC", "-5")),
        (LENGTH, "5' 6\"", ("ft", "5.5")),
        (LENGTH, "12", None),
        (LENGTH, "12 mm", None),
        (LENGTH, "12 psi", None),
        (LENGTH, "twelve m", None),
    ],
)
def test_a_unit_of_the_menu_is_known_behind_a_number(box, text, expected):
    assert box.typed(text) == expected


@pytest.mark.parametrize(("system", "unit"), [("US", "ft"), ("SI", "m")])
def test_answer_and_line_are_one(system, unit):
    answer, line = CALCULATOR.work(CALCULATOR.start(system), system)
    first, second = answer.results
    assert (first.label, second.label) == ("length", "so many times")
    assert line.endswith(f'.to("{unit}")') and line.startswith("half = 0.5; which = half; (Q_(")
    names: dict = {}
    exec(CALCULATOR.python.imported(line), names)
    *steps, last = line.split("; ")
    exec("; ".join(steps), names)
    assert eval(last, names).m == pytest.approx(second.value.m_as(unit))


def test_what_is_not_found_is_not_shown():
    answer, _ = CALCULATOR.work(CALCULATOR.start("SI") | {"factor": ("1", "")}, "SI")
    assert [result.label for result in answer.results] == ["so many times"]


@pytest.mark.parametrize(("length", "cautions"), [("12", 0), ("30", 1), ("60", 2)])
def test_cautions_are_those_found_and_the_librarys(length, cautions):
    answer, _ = CALCULATOR.work(CALCULATOR.start("SI") | {"length": (length, "m")}, "SI")
    assert len(answer.cautions) == cautions
    assert not cautions or answer.cautions[0] == f"It is far: {length}.00 m."


def test_a_step_is_set_for_its_name_alone_and_not_for_an_attribute():
    python = Python({"gas": "air()"}, {"a.b": ("products",)})
    assert python.line("products().gas", {}) == "products().gas"
    assert python.line("density(gas)", {}) == "gas = air(); density(gas)"
    assert python.imported("products().gas") == "from a.b import products"
