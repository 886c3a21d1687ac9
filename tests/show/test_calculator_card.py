"""Calculator card: what stands in its boxes is answered at once, refused in words, and told on a page without life."""

import pytest

from ventcalc.show.calculator import Calculator, Choice, Number, Python
from ventcalc.show.calculator_card import Card, overview
from ventcalc.units import Q_


def _answer(rise, roof):
    if rise < Q_(0, "m"):
        raise ValueError("top_height: most_rise must not be negative")
    return {"top": rise + roof}


CALCULATOR = Calculator(
    "top",
    "Top of a stack",
    (
        Number("rise", "Rise", ("ft", "m"), {"US": "40 ft", "SI": "12 m"}),
        Choice("roof", "Roof", {"low": (Q_(3, "m"), 'Q_(3, "m")'), "high": (Q_(6, "m"), 'Q_(6, "m")')}),
    ),
    _answer,
    {"top": ("top above ground", "height")},
    "({rise} + {roof})",
    Python({}, {"ventcalc.units": ("Q_",)}),
    "a + b",
    "arithmetic & sense",
    "A note.",
)


def test_the_box_and_the_menu_change_the_answer():
    shown = Card(CALCULATOR, "SI")
    assert "<b>15.00 m</b>" in shown.numbers.value and '(Q_(12, "m") + Q_(3, "m")).to("m")' in shown.line.value
    shown.boxes["roof"][0].value = "high"
    assert "<b>18.00 m</b>" in shown.numbers.value
    shown.boxes["rise"][1].value = "ft"
    assert 'Q_(12, "ft")' in shown.line.value


def test_a_unit_of_its_own_moves_into_the_menu():
    shown = Card(CALCULATOR, "US")
    shown.boxes["rise"][0].value = "12 m"
    assert [widget.value for widget in shown.boxes["rise"]] == ["12", "m"]
    assert "<b>15.00 m</b>" in shown.numbers.value


def test_what_cannot_be_is_said_and_the_card_recovers():
    shown = Card(CALCULATOR, "SI")
    right = shown.numbers.value
    shown.boxes["rise"][0].value = "twelve"
    assert "No answer" in shown.numbers.value and shown.line.value == ""
    # The library's own words, less its function's name and the underscores of its arguments.
    shown.boxes["rise"][0].value = "-1"
    assert "No answer.</b> most rise must not be negative" in shown.numbers.value
    shown.boxes["rise"][0].value = "12"
    assert shown.numbers.value == right and shown.line.value


def test_a_page_without_life_tells_the_first_answer():
    bundle = Card(CALCULATOR, "SI")._repr_mimebundle_()
    assert bundle["text/plain"] == "calculator: Top of a stack"
    for words in ("Rise 12 m; low", "15.00 m", "a + b", "arithmetic &amp; sense.<br>A note.", "<code>(Q_(12"):
        assert words in bundle["text/html"]


@pytest.mark.parametrize(("system", "asked"), [("US", "Rise 40 ft; low"), ("SI", "Rise 12 m; low")])
def test_overview_has_a_row_for_each(system, asked):
    page = overview((CALCULATOR, CALCULATOR), system)
    assert page.count("Top of a stack") == 2 and page.count(asked) == 2
    assert page.count("49.2 ft = 15.00 m" if system == "SI" else "49.8 ft = 15.19 m") == 2


def test_boxes_take_the_keyboard_and_answer_when_left():
    for widget in [w for row in Card(CALCULATOR).boxes.values() for w in row]:
        assert not widget.disabled
        assert widget.tabbable is not False
        assert getattr(widget, "continuous_update", False) is False
