"""The plan of two days: the minutes add up, what it names is there, and it goes the trainer's way."""

import copy
import re

import pytest

from ventcalc.show import contents, course_plan, lesson, worked_sheet


def test_there_are_two_days_and_their_minutes_add_up():
    days = course_plan.days()
    assert len(days) == 2
    for day in days:
        assert day.items[0].begins + sum(item.minutes for item in day.items) == day.ends
        for before, after in zip(day.items, day.items[1:], strict=False):
            assert after.begins == before.begins + before.minutes
        # A day in front of a class: seven hours of it, the lunch and two breaks aside.
        rest = sum(item.minutes for item in day.items if item.what in ("Break", "Lunch"))
        assert day.ends - day.items[0].begins - rest == 7 * 60


def test_nobody_sits_longer_than_the_longest_stretch():
    # Two hours and a quarter without a pause: common practice of courses, no source.
    for day in course_plan.days():
        pauses = [item.begins for item in day.items if item.what in ("Break", "Lunch")] + [day.ends]
        starts = [day.items[0].begins] + [i.begins + i.minutes for i in day.items if i.what in ("Break", "Lunch")]
        assert max(end - start for start, end in zip(starts, pauses, strict=True)) <= 150


def test_chapters_are_there_and_go_the_trainers_way():
    named = [item.chapter for day in course_plan.days() for item in day.items if item.chapter]
    assert set(named) <= set(contents.chapters()) and len(set(named)) == len(named)
    way = next(way.chapters for way in contents.ways() if way.reader == "The trainer")
    assert [number for number in named if number in way] == list(way)


def test_a_chapter_takes_what_its_lesson_takes():
    for day in course_plan.days():
        for item in (i for i in day.items if i.chapter):
            subject = contents.chapters()[item.chapter].stem.partition("_")[2]
            assert item.minutes == lesson.load(subject).minutes > 0


def test_every_sheet_comes_once():
    named = [row["sheet"] for day in course_plan._file()["day"] for row in day["item"] if "sheet" in row]
    assert sorted(named) == sorted(row["name"] for row in worked_sheet.rows())


def test_a_day_that_does_not_end_in_time_is_refused(monkeypatch):
    file = copy.deepcopy(course_plan._file())
    file["day"][0]["item"][0]["minutes"] += 5
    monkeypatch.setattr(course_plan, "_file", lambda: file)
    with pytest.raises(ValueError, match="ends at 17:05"):
        course_plan.days()


@pytest.mark.parametrize("item", [{"chapter": 99}, {"sheet": "nothing"}])
def test_a_name_of_nothing_is_refused(monkeypatch, item):
    file = copy.deepcopy(course_plan._file())
    file["day"][0]["item"][1] = item
    monkeypatch.setattr(course_plan, "_file", lambda: file)
    with pytest.raises(KeyError):
        course_plan.days()


def test_text_and_page_tell_every_item(tmp_path):
    days = course_plan.days()
    words, html = course_plan.in_words(days), course_plan.write("SI", tmp_path).read_text(encoding="utf-8")
    for day in days:
        for item in day.items:
            assert f"{course_plan.clock(item.begins)}  {item.minutes:3d} min  {item.what}" in words
            assert re.search(rf"{course_plan.clock(item.begins)}</td><td class=\"n\">{item.minutes}<", html)
    assert "src=" not in html and "<script" not in html
