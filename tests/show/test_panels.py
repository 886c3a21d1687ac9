"""Panels: a control that moves changes numbers and picture, refusals are words, a page that is not live has text."""

import io
import time

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from ventcalc.show import panels, plots, working
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.plots import png
from ventcalc.show.svg import Drawing
from ventcalc.units import Q_, UnitsError


def doubled(number, word):
    """An answer that refuses what is too large and what has no unit."""
    if number > 5:
        raise ValueError("number must be <= 5")
    if word == "bare":
        raise UnitsError("say in which unit")
    figure = Figure(figsize=(2, 1))
    figure.text(0.1, 0.5, f"{2 * number} {word}")
    return panels.table(("what", "how many"), [(word, str(2 * number))]), png(figure)


def panel():
    return panels.Panel(
        doubled,
        {
            "number": panels.slider("Number", [(str(n), n) for n in range(1, 8)], 2.2),
            "word": panels.choice("Word", ["inch", "bare"], "inch"),
        },
    )


def exercise():
    return Exercise(
        question="How much is < 1 in. w.c. and half of it?",
        expected=Q_(0.5, "inH2O"),
        tolerance=Q_(0.01, "inH2O"),
        hints=("Halve it.", "One over two."),
        solution="0.5 in. w.c.",
        slips=(Slip(Q_(2.0, "inH2O"), "That is doubled."),),
    )


# --- Controls ---


def test_a_slider_begins_at_the_nearest_and_answers_when_it_is_let_go():
    slider = panel().controls["number"]
    assert slider.value == 2 and not slider.continuous_update


def test_moving_a_control_changes_numbers_and_picture():
    shown = panel()
    numbers, picture = shown.numbers.value, shown.picture.value
    assert "4" in numbers
    shown.controls["number"].value = 4
    assert "8" in shown.numbers.value and shown.picture.value != picture


@pytest.mark.parametrize(("moved", "value", "says"), [("number", 7, "must be &lt;= 5"), ("word", "bare", "which unit")])
def test_what_cannot_be_is_said_in_words(moved, value, says):
    shown = panel()
    shown.controls[moved].value = value
    assert shown.numbers.value.startswith("<p><b>This cannot be built or solved:</b>") and says in shown.numbers.value
    assert shown.picture.value == panels.no_picture()


def test_a_fault_of_the_program_is_not_taken_for_a_refusal():
    with pytest.raises(TypeError):
        panels.said(doubled, {"number": None, "word": "inch"})


def test_no_picture_is_a_picture():
    picture = Image.open(io.BytesIO(panels.no_picture())).convert("L")
    assert picture.width > 100 and len(np.unique(np.asarray(picture))) > 10


# --- The page ---


def test_classes_for_the_page():
    shown = panel()
    assert "vc-numbers" in shown.numbers._dom_classes and "vc-picture" in shown.picture._dom_classes


@pytest.mark.parametrize(
    ("make", "says"), [(panel, "how many"), (lambda: panels.ask(exercise()), "How much is &lt; 1 in. w.c.")]
)
def test_a_page_that_is_not_live_shows_text(make, says):
    bundle = make()._repr_mimebundle_()
    assert says in bundle["text/html"] and "application/vnd.jupyter.widget-view+json" in bundle


def test_texts_are_escaped():
    assert "<b>" not in panels.table(("<b>",), [("<b>",)])
    assert "<b>" not in panels.paragraph("<b>") and "&lt;b&gt;" in panels.paragraph("<b>")


# --- Exercises ---


def test_an_exercise_is_marked_when_it_is_answered():
    asked = panels.ask(exercise())
    question, line, verdict = asked.children[0], asked.line, asked.verdict
    assert "How much is &lt; 1" in question.value and "Your turn" in verdict.value
    assert "vc-verdict" in verdict._dom_classes
    line.value = "2 inH2O"
    assert "That is doubled." in verdict.value and "Hint: Halve it." in verdict.value
    line.value = "0.5"
    assert "Not yet." in verdict.value
    line.value = "0.5 inH2O"
    assert "Right." in verdict.value
    line.value = ""
    assert "Your turn" in verdict.value


def test_percents_are_told_as_percent_and_given_as_ratios():
    assert panels.percents((0, 10, 12.5)) == [("0 %", 0.0), ("10 %", 0.1), ("12.5 %", 0.125)]


def test_plain_numbers_are_counted_in_their_unit():
    assert panels.counted((0.5, 1200), "ppm") == [("0.5 ppm", 0.5), ("1,200 ppm", 1200.0)]
    assert panels.counted((3,)) == [("3", 3.0)]


# --- A drawing ---


def drawn(number):
    """An answer with a drawing; it refuses what is too large."""
    if number > 5:
        raise ValueError("number must be <= 5")
    return "<p>numbers</p>", panels.no_picture(), Drawing(f"<svg>{number}</svg>", f"drawn with {number} < 6")


def test_a_drawing_stands_first_and_follows_the_control():
    shown = panels.Panel(drawn, {"number": panels.slider("Number", [(str(n), n) for n in range(1, 8)], 2)})
    assert shown.children[0].children[1].children[0] is shown.drawing and shown.drawing.value == "<svg>2</svg>"
    shown.controls["number"].value = 4
    assert shown.drawing.value == "<svg>4</svg>" and shown.drawing.layout.display is None
    shown.controls["number"].value = 7
    assert shown.drawing.value == "" and shown.drawing.layout.display == "none"


def test_a_page_that_is_not_live_has_the_words_of_the_drawing():
    shown = panels.Panel(drawn, {"number": panels.slider("Number", [("1", 1)], 1)})
    static = shown._repr_mimebundle_()["text/html"]
    assert "drawn with 1 &lt; 6" in static and "<svg" not in static and static.endswith("<p>numbers</p>")
    assert panel().drawing.layout.display == "none"


# --- The page of a panel ---


def test_a_saved_page_shows_controls_in_grey_picture_numbers_and_how_to_make_it_live():
    html = panel()._repr_mimebundle_()["text/html"]
    assert "Number: 2 · Word: inch" in html and f"color: {plots.GREY}" in html
    assert html.count("data:image/png;base64,") == 1 and "how many" in html
    assert html.count("Run All Cells") == 1


def test_a_saved_page_tells_a_slider_that_stands_at_its_first_place():
    first = panels.slider("Altitude", [("0 ft", 0.0), ("500 ft", 152.4)], 0.0)
    kind = panels.choice("Kind", ["capped", "open"], "open")
    text = panels.Panel(lambda **_: ("", plots.png(Figure((1, 1)))), {"first": first, "kind": kind})._repr_mimebundle_()
    assert "Altitude: 0 ft" in text["text/html"] and "Kind: open" in text["text/html"]


def test_the_picture_stands_beside_the_controls_and_below_them_where_it_is_narrow():
    beside = panel().children[0]
    controls, picture = beside.children
    assert beside.layout.flex_flow == "row wrap"
    assert [c.layout.flex for c in (controls, picture)] == ["0 1 330px", "1 1 440px"]
    # JupyterLab leaves 880 px of a window 1024 wide when its file list is closed (measured in a Chromium).
    assert panels.CONTROLS_WIDTH + panels.LEAST_PICTURE <= 880


def test_each_control_has_its_name_above_it():
    names = [labeled.children[0].value for labeled in panel().children[0].children[0].children[:2]]
    assert "Number" in names[0] and "Word" in names[1]


def test_long_work_says_that_it_solves(monkeypatch):
    monkeypatch.setattr(working, "LONG", 0.02)
    shown, said = panel(), []
    shown.note.observe(lambda change: said.append(change["new"]), names="value")
    quick = shown.answer
    shown.answer = lambda **values: (time.sleep(0.2), quick(**values))[1]
    shown.controls["number"].value = 3
    assert said == ["<i>solving …</i>", ""] and "6" in shown.numbers.value


def test_a_panel_takes_over_from_the_one_in_other_units():
    before, after = panel(), panel()
    before.controls["number"].value = 4
    after.take_over(before)
    assert after.controls["number"].value == 4 and "8" in after.numbers.value
    after.controls["number"].value = 5
    assert "10" in after.numbers.value


def test_an_exercise_has_buttons_for_a_hint_and_for_its_answer():
    asked = panels.ask(exercise())
    _, hint, answer = asked.children[1].children
    hint.click()
    assert "Hint." in asked.verdict.value and "Halve it." in asked.verdict.value and asked.kind == "hint"
    answer.click()
    assert "0.5 in. w.c." in asked.verdict.value and asked.told
    asked.line.value = "0.5 inH2O"
    assert asked.kind == "right" and not asked.right
