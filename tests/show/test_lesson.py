"""Lessons: what a chapter's notes must tell, and what is refused."""

import pytest

from ventcalc.show import chapter_texts, lesson


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A chapter's file of the test's own: what it holds is written by calling it."""
    monkeypatch.setattr(chapter_texts, "DATA", tmp_path)
    (tmp_path / "handbook").mkdir()
    chapter_texts.read.cache_clear()

    def write(text: str) -> str:
        (tmp_path / "handbook" / "room.toml").write_text(text, encoding="utf-8")
        return "room"

    yield write
    chapter_texts.read.cache_clear()


SETTINGS = '[[teach.setting]]\nshows = "so it is"\nset = { height = "3 ft" }\n' * 3
PART = '[[teach.part]]\nat = "Method"\nminutes = 7\nask = "What?"\nwrong = "That."\nanswer = "This\nof two lines."\n'
PART = PART.replace("This\nof", "This of")
GOOD = f'[teach]\nread = ["draft"]\n{SETTINGS}{PART}{PART.replace("Method", "Numbers").replace("7", "5")}'


def test_minutes_are_the_sum_of_the_parts(room):
    found = lesson.load(room(GOOD))
    assert found.minutes == 12
    assert [part.at for part in found.parts] == ["Method", "Numbers"]
    assert found.read == ("draft", "")
    assert [setting.set for setting in found.settings] == [{"height": "3 ft"}] * 3


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("minutes = 7", "minutes = 0", "0 minutes"),
        ("minutes = 7", "minutes = 90", "90 minutes"),
        ('ask = "What?"\n', "", "lacking"),
        ('wrong = "That."', 'wrong = "That."\nhint = "no"', "unknown"),
        (SETTINGS, SETTINGS[: len(SETTINGS) // 3], "give 3"),
    ],
)
def test_what_is_lacking_is_refused_by_name(room, before, after, told):
    assert before in GOOD
    with pytest.raises(ValueError, match=told):
        lesson.load(room(GOOD.replace(before, after, 1)))


def test_a_chapter_without_notes_is_refused(room):
    with pytest.raises(ValueError, match="teach"):
        lesson.load(room("[predict]\n"))
