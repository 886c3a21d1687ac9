"""Questions as data: what a file of texts may hold, what is refused, what a seed draws."""

import pytest

from ventcalc.show import chapter_texts, questions
from ventcalc.units import Q_

TEXT = """
[[question]]
name = "area"
given.side = { is = "2 ft", from = "1 ft", to = "5 ft", steps = 8 }
given.count = { is = 3, from = 2, to = 6, steps = 4 }
given.what = { is = "square", among = ["square", "duct"] }
prompt = "How large is a {what} of {side:height}, {count} times?"
tolerance = { US = "0.1 ft**2", SI = "0.01 m**2" }
example = { US = "4 ft**2", SI = "0.4 m**2" }
hints = ["Side times {way}.", "Then by {count}."]
words.way = "itself"
solution = "{side:height} by {way}, by {count}."
slips.once = "Times {count}, by {way}."
"""


def area(side, count, what):
    """A worked question."""
    return {"answer": count * side**2, "once": side**2}


@pytest.fixture
def file(tmp_path, monkeypatch):
    (tmp_path / "handbook").mkdir()
    monkeypatch.setattr(chapter_texts, "DATA", tmp_path)
    chapter_texts.read.cache_clear()
    yield tmp_path / "handbook" / "room.toml"
    chapter_texts.read.cache_clear()


def test_a_file_becomes_exercises(file):
    file.write_text(TEXT)
    (us,), (si,) = (questions.load("room", (area,), system) for system in ("US", "SI"))
    assert us.question == "How large is a square of 2.0 ft, 3 times?" and "0.61 m" in si.question
    assert us.hints == ("Side times itself.", "Then by 3.") and us.slips[0].reason == "Times 3, by itself."
    assert us.expected.m_as("ft**2") == pytest.approx(12.0) and us.tolerance == Q_(0.1, "ft**2")
    assert si.tolerance == Q_(0.01, "m**2") and si.example == "0.4 m**2"


def test_a_seed_draws_within_what_may_be_asked_and_always_the_same(file):
    file.write_text(TEXT)
    drawn = [questions.load("room", (area,), "US", seed)[0] for seed in range(40)]
    assert drawn[7].question == questions.load("room", (area,), "US", 7)[0].question
    assert len({q.question for q in drawn}) > 20
    for question in drawn:
        assert 2.0 <= question.expected.m_as("ft**2") <= 150.0
        assert "2.0 times" not in question.question  # a count stays whole
    assert any("duct" in q.question for q in drawn)


def test_a_share_of_the_answer_is_a_tolerance(file):
    file.write_text(TEXT.replace('tolerance = { US = "0.1 ft**2", SI = "0.01 m**2" }', "share = 0.01"))
    (us,) = questions.load("room", (area,))
    assert us.tolerance.m_as("ft**2") == pytest.approx(0.12)


def test_an_example_that_always_gives_the_answer_away_is_refused(file):
    always = TEXT.replace('{ is = "2 ft", from = "1 ft", to = "5 ft", steps = 8 }', '"2 ft"')
    always = always.replace("{ is = 3, from = 2, to = 6, steps = 4 }", "1")
    file.write_text(always)
    with pytest.raises(ValueError, match="gives the answer away"):
        questions.load("room", (area,), "US", seed=1)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("solution =", "answer =", r"room\.toml, area: unknown \['answer'\], lacking \['solution'\]"),
        ('"{side:height} by {way}', '"{height} by {way}', r"room\.toml, area: no figure of the name 'height'"),
        ("slips.once", "slips.twice", "no figure of the name 'twice'"),
        ('name = "area"', 'name = "volume"', "questions area, volume stand in the file or in the code"),
        ("tolerance =", "given.tolerance =", "needs tolerance or share"),
    ],
)
def test_what_a_trainer_may_get_wrong_is_named(file, old, new, words):
    assert old in TEXT
    file.write_text(TEXT.replace(old, new))
    with pytest.raises(ValueError, match=words):
        questions.load("room", (area,))
