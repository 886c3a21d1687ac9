"""Contents: every chapter in one Part, the folder of its subject; the README says the same."""

import re
from pathlib import Path

import pytest
from test_import_order import PACKAGE, PARTS

from ventcalc.show import contents

README = Path(__file__).parents[2] / "README.md"


def test_every_chapter_stands_in_one_part():
    listed = [n for part in contents.parts() for n in part.chapters]
    assert listed == sorted(set(contents.chapters()) - {0})


@pytest.mark.parametrize("part", contents.parts(), ids=lambda part: part.title)
def test_a_part_goes_by_the_folder_of_its_subjects(part):
    assert part.folder in PARTS and part.title.lower() == part.folder
    known = {path.stem for path in (PACKAGE / part.folder).glob("*.py")}
    subjects = {contents.chapters()[n].stem.partition("_")[2] for n in part.chapters}
    # A chapter's subject is a module of its Part; two ask a question that a module answers with others.
    assert len(subjects - known) <= len(subjects) // 3, subjects - known


def test_ways_lead_through_chapters_that_are_there():
    for way in contents.ways():
        assert set(way.chapters) <= set(contents.chapters()) and len(set(way.chapters)) == len(way.chapters)


def test_titles_are_those_of_the_chapters():
    assert contents.title(6) == "Stack effect"
    assert "06 [Stack effect](06_stack_effect.ipynb)" in contents.by_part()
    assert all(f"Part {part.number} · {part.title}" in contents.by_part() for part in contents.parts())
    assert all(way.reader in contents.by_reader() for way in contents.ways())


def test_the_readme_lists_the_same():
    told = " ".join(README.read_text(encoding="utf-8").split())
    for part in contents.parts():
        first, last = part.chapters[0], part.chapters[-1]
        assert f"| {part.number} | {part.title} | {first:02d} to {last:02d} | {part.after} |" in told
    for way in contents.ways():
        row = rf"\| {way.reader} \| {', '.join(f'{n:02d}' for n in way.chapters)} \| {re.escape(way.words)} \|"
        assert re.search(row, told), way.reader


def test_symptoms_lead_to_chapters_that_are_there():
    told = contents.by_symptom()
    for symptom in contents.symptoms():
        assert symptom.sign in told and set(symptom.chapters) <= set(contents.chapters()) - {0}


def test_every_chapter_begins_with_a_callers_question():
    """In quotation marks, in the first cell and in the contents."""
    for number in set(contents.chapters()) - {0}:
        asked = contents.question(number)
        assert asked.startswith(('"', "“")), number
        assert asked in contents.by_part(), number
