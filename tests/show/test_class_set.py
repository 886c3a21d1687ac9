"""Class sets: everybody has figures of their own, the key's answers are right, and the sheets do not tell them."""

import pytest

from ventcalc.handbook import appliance_category, friction, stack_effect
from ventcalc.show import class_set
from ventcalc.units import SYSTEMS

PEOPLE = 3


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("chapter", [stack_effect, friction, appliance_category])
def test_the_answers_of_the_key_mark_themselves_right(chapter, system):
    told = class_set.records("title", chapter.questions, PEOPLE, system, key=True)
    for person in told["people"]:
        for exercise, row in zip(chapter.questions(system, person["number"]), person["questions"], strict=True):
            assert exercise.question == row["question"]
            assert exercise.check(row["answer"]).kind == "right", row["answer"]


def test_everybody_has_figures_of_their_own():
    told = class_set.records("title", stack_effect.questions, PEOPLE, "US", key=False)
    asked = [tuple(q["question"] for q in person["questions"]) for person in told["people"]]
    assert len(set(asked)) == PEOPLE


def test_the_sheets_do_not_tell_and_the_key_does(tmp_path):
    written = class_set.write("06 · Stack effect", stack_effect.questions, PEOPLE, "SI", tmp_path, "06_stack_effect")
    sheet, key = (p.read_text(encoding="utf-8") for p in (written.pages, written.key))
    for exercise in stack_effect.questions("SI", 2):
        assert exercise.solution.split(":")[0][:40] in key.replace("&#39;", "'")
        assert exercise.solution not in sheet
    assert sheet.count("Name: ___") == PEOPLE and "Name: ___" not in key
    assert "src=" not in sheet and "<script" not in sheet


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_key_to_the_book_is_that_of_its_own_figures(system):
    prediction = stack_effect.prediction(system)
    told = class_set.of_the_book("title", stack_effect.questions, system, prediction)
    (book,) = told["people"]
    for exercise, row in zip(stack_effect.questions(system), book["questions"], strict=True):
        assert exercise.question == row["question"] and exercise.check(row["answer"]).kind == "right"
    html = class_set.html(told).replace("&#39;", "'")
    assert prediction.choices[prediction.right] in html and prediction.because in html


@pytest.mark.parametrize("people", [0, -1, 201])
def test_a_class_of_none_or_of_a_town_is_refused(people):
    with pytest.raises(ValueError, match="people"):
        class_set.records("title", stack_effect.questions, people, "US", key=False)
