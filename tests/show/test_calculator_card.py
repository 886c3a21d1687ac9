"""Calculator card: what stands in its boxes is answered at once, refused in words, and told on a page without life."""

from dataclasses import replace

import pytest

from ventcalc.show.calculator import Calculator, Choice, Number, Python
from ventcalc.show.calculator_card import Card, Cards, overview
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
    assert 'Q_(39.37, "ft")' in shown.line.value and "<b>18.00 m</b>" in shown.numbers.value  # 12 / 0.3048


def test_a_menu_converts_to_and_fro_without_losing_a_digit():
    shown = Card(CALCULATOR, "SI")
    number, menu = shown.boxes["rise"]
    number.value = "12.3456"
    for _ in range(5):
        menu.value = "ft"
        assert number.value == "40.504"  # 12.3456 / 0.3048 is 40.5039...
        menu.value = "m"
    assert number.value == "12.346" and "<b>15.35 m</b>" in shown.numbers.value
    number.value = "nonsense"
    menu.value = "ft"
    assert number.value == "nonsense" and "✘ No answer" in shown.numbers.value


def test_what_can_be_and_is_not_usual_is_asked_about():
    inputs = (replace(CALCULATOR.inputs[0], usual=("2 ft", "300 ft")), CALCULATOR.inputs[1])
    shown = Card(replace(CALCULATOR, inputs=inputs))
    assert "Unusual" not in shown.numbers.value
    shown.boxes["rise"][0].value = "1000"
    assert "⚠ Unusual:</b> Rise is above what is usual, 300.0 ft = 91.44 m" in shown.numbers.value
    assert "top above ground" in shown.numbers.value  # it is answered all the same
    shown.boxes["rise"][0].value = "1"
    assert "Rise is below what is usual, 2.0 ft" in shown.numbers.value


def test_cards_go_on_in_the_other_system_with_the_numbers_that_were_typed():
    us, si = Cards((CALCULATOR, CALCULATOR), "US"), Cards((CALCULATOR, CALCULATOR), "SI")
    us.children[1].boxes["rise"][0].value = "50"
    us.children[1].boxes["roof"][0].value = "high"
    si.take_over(us)
    first, second = ({n: tuple(w.value for w in row) for n, row in c.boxes.items()} for c in si.children)
    assert first == {"rise": ("12", "m"), "roof": ("low",)}  # untouched: its own round number
    assert second == {"rise": ("15.24", "m"), "roof": ("high",)}
    assert "21.24 m" in si.children[1].numbers.value
    page = si._repr_mimebundle_()["text/html"]
    assert "1 · Top of a stack" in page and "2 · Top of a stack" in page


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
