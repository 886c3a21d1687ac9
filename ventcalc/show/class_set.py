"""Class set: the exercises of a chapter for a class, a page a person with figures of their own, and the key to them.

Each person's figures are those of a seed, the person's number: the same for whoever asks again, and the same that
``exercise_sheet.show(chapter.questions, seed=7)`` asks in the chapter. A key may be made alone: to the same people, or
to the figures of the book, which a hand-out of the chapter asks, and then with its prediction answered.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ventcalc.show import page, whole_file
from ventcalc.show.exercises import Exercise
from ventcalc.show.prediction import Prediction
from ventcalc.units import Q_, UnitsError, parse, unit_text

MOST = 200  # people: more is a slip of the pen
SET, KEY = "class.html", "key.html"

Questions = Callable[[str, int | None], tuple[Exercise, ...]]


@dataclass(frozen=True)
class Written:
    """The files of a class set: its ``pages`` and its ``key``."""

    pages: Path
    key: Path


def records(title: str, questions: Questions, people: int, system: str, key: bool) -> dict[str, Any]:
    """All questions of all people; with their answers where it is the ``key``. ValueError for no or too many people."""
    if not 1 <= people <= MOST:
        raise ValueError(f"{people} people: give 1 to {MOST}")
    every = [_person(questions, system, n) for n in range(1, people + 1)]
    return {"title": title, "system": system, "people": every, "key": key, "prediction": None}


def of_the_book(title: str, questions: Questions, system: str, prediction: Prediction | None) -> dict[str, Any]:
    """The key to the figures of the book; with the ``prediction`` of the chapter, where it has one."""
    book = [_person(questions, system, None)]
    return {"title": title, "system": system, "people": book, "key": True, "prediction": prediction}


def _person(questions: Questions, system: str, number: int | None) -> dict[str, Any]:
    return {"number": number, "questions": [_told(e) for e in questions(system, number)]}


def _told(exercise: Exercise) -> dict[str, str]:
    return {
        "question": exercise.question,
        "answer": answer(exercise),
        "solution": exercise.solution,
    }


def answer(exercise: Exercise) -> str:
    """What is right, to four digits: in the unit that the question names, else in that of its example."""
    try:
        unit = Q_(1, exercise.unit).units if exercise.unit else parse(exercise.example).units
    except UnitsError:  # a plain number
        unit = Q_(1, "").units
    return f"{exercise.expected.m_as(unit):.4g} {unit_text(unit)}".strip()


def html(told: dict[str, Any]) -> str:
    """The page of `records`."""
    return page.TEMPLATES.get_template("class_set.html").render(r=told)


def write_key(told: dict[str, Any], out_dir: str | Path, name: str) -> Path:
    """Write a key alone into a folder; its file. OSError where that cannot be."""
    file = f"{name}_{KEY}"
    return whole_file.write_into(out_dir, {file: html(told)}) / file


def write(title: str, questions: Questions, people: int, system: str, out_dir: str | Path, name: str) -> Written:
    """Write a class set and its key into a folder, each whole. OSError where that cannot be."""
    texts = {
        f"{name}_{SET}": html(records(title, questions, people, system, key=False)),
        f"{name}_{KEY}": html(records(title, questions, people, system, key=True)),
    }
    out = whole_file.write_into(out_dir, texts)
    return Written(*(out / file for file in texts))
