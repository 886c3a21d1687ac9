"""Prediction: data and a worked answer become a question, what was said is kept, and a page without a kernel reads."""

import pytest

from ventcalc.show import chapter_texts, prediction, unit_switch
from ventcalc.show.prediction import Guess, Prediction
from ventcalc.show.unit_switch import Units
from ventcalc.units import Q_

TEXT = """
[predict]
given.side = { US = "2 ft", SI = "1 m" }
question = "A square of {side:height}: how large is one of twice the side?"
choices = ["Twice as large", "{times:.0f} times as large", "As large"]
because = "it has {figure:area}: the side counts twice."
"""


def area(side):
    """Four times as large."""
    return {"right": 1, "figure": 4 * side**2, "times": 4.0}


@pytest.fixture
def file(tmp_path, monkeypatch):
    (tmp_path / "handbook").mkdir()
    monkeypatch.setattr(chapter_texts, "DATA", tmp_path)
    chapter_texts.read.cache_clear()
    yield tmp_path / "handbook" / "room.toml"
    chapter_texts.read.cache_clear()


@pytest.fixture
def page(monkeypatch):
    shown = []
    monkeypatch.setattr(unit_switch, "display", shown.append)
    return shown


def test_a_file_becomes_a_prediction(file):
    file.write_text(TEXT)
    us, si = (prediction.load("room", area, system) for system in ("US", "SI"))
    assert us.question.startswith("A square of 2.0 ft:") and us.choices[1] == "4 times as large" and us.right == 1
    assert "1.00 m" in si.question and us.because.startswith("it has ") and us.because != si.because


@pytest.mark.parametrize(
    ("old", "new", "work", "words"),
    [
        ("because =", "why =", area, r"room\.toml, predict: unknown \['why'\], lacking \['because'\]"),
        (', "As large"]', "]", area, "2 choices; there must be three"),
        ("{figure:area}", "much", area, r"because does not tell \{figure\}"),
        ("{times:.0f}", "{often}", area, "no figure of the name 'often'"),
        (
            "As large",
            "As large",
            lambda side: {"right": 3, "figure": side, "times": 4.0},
            "3 of three choices is right",
        ),
        ("As large", "As large", lambda side: {"figure": side, "times": 4.0}, "None of three choices is right"),
    ],
)
def test_what_may_be_wrong_in_a_file_is_named(file, old, new, work, words):
    assert old in TEXT
    file.write_text(TEXT.replace(old, new))
    with pytest.raises(ValueError, match=words):
        prediction.load("room", work).answer(None)


def asked(system="US"):
    return Prediction(
        f"How much in {system}?", ("Less", "As much", "More < all"), lambda: (2, f"It is {Q_(3, 'ft'):~P}.")
    )


def test_the_answer_tells_what_was_said():
    assert asked().answer(None) == "You made no prediction: it is “More < all”. It is 3 ft."
    assert asked().answer(0).startswith("✘ No. You said “Less”; it is “More < all”.")
    assert asked().answer(2).startswith("✔ Right. You said “More < all”")


def test_a_choice_is_answered_where_the_answer_stands_already(page):
    units = Units("US")
    guess = Guess(asked, units)
    guess.ask()
    guess.answer()
    question, answer = (following.children[0] for following in page)
    assert question.buttons.value is None and "You made no prediction" in answer.words.value
    question.buttons.value = 0
    assert guess.said == 0 and "You said “Less”" in answer.words.value


def test_a_choice_outlasts_a_change_of_units(page):
    units = Units("US")
    guess = Guess(asked, units)
    guess.ask()
    guess.answer()
    page[0].children[0].buttons.value = 2
    units.system = "SI"
    question, answer = (following.children[0] for following in page)
    assert question.buttons.value == 2 and "How much in SI?" in question.children[0].value
    assert "Right. You said" in answer.words.value
    question.buttons.value = 1
    assert "No. You said “As much”" in answer.words.value


def test_a_page_without_a_kernel_reads_as_text(page):
    guess = Guess(asked, Units("US"))
    guess.ask()
    guess.answer()
    question, answer = (following._repr_mimebundle_()["text/html"] for following in page)
    assert "How much in US?" in question and question.count("<li>") == 3 and "More &lt; all" in question
    assert "You made no prediction: it is" in answer


def test_nothing_is_worked_out_before_it_is_asked_for(file):
    file.write_text(TEXT.replace("{times:.0f} times", "Four times"))
    asked = []
    told = prediction.load("room", lambda side: asked.append(side) or area(side))
    assert told.choices[1] == "Four times as large" and not asked
    assert told.answer(1).startswith("✔ Right") and told.answer(0).startswith("✘ No") and len(asked) == 1
