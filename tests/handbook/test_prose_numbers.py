"""What the chapters' sentences say in figures is what their outputs, what they are given, or the library says."""

import re

import prose_slips
import pytest
from sample_bindings import bindings, rows, worked_out
from sample_sentences import CHAPTERS, chapter

from ventcalc.tables import STATUSES

# Rows whose number is held to be what it is by the table alone, with a word of why, or by the test named: never more.
AS_WRITTEN = "as written"
MOST_AS_WRITTEN = 32


@pytest.mark.parametrize("name", CHAPTERS)
def test_every_number_of_the_sentences_is_bound(name):
    loose = [(n.written, n.sentence) for text in chapter(name).texts for n, how, _ in bindings(name, text) if not how]
    assert not loose, "print it, give it in code, or work it out in a row of prose_numbers.csv"


@pytest.mark.parametrize("name", CHAPTERS)
def test_what_the_table_works_out_is_what_is_written(name):
    for text in chapter(name).texts:
        for number, _, row in bindings(name, text):
            if row and row.works_out:
                value = worked_out(row, name, number)
                assert number.is_(value), (number.written, number.sentence, row.works_out, value)


def test_no_row_is_left_over():
    used = {b.row for name in CHAPTERS for text in chapter(name).texts for b in bindings(name, text)}
    left_over = set(rows()) - used
    assert not left_over, "of a sentence that is no more: strike it"


def test_a_row_is_worked_out_or_has_a_source():
    for row in rows():
        assert row.status in (*STATUSES, AS_WRITTEN), row
        assert bool(row.works_out) == (row.status == "computed"), row
        assert row.works_out or row.source, row
    assert sum(row.status == AS_WRITTEN for row in rows()) <= MOST_AS_WRITTEN


@pytest.mark.parametrize("name", CHAPTERS)
def test_a_chapter_is_linked_by_its_own_number(name):
    links = re.findall(r"\[(?:[Cc]hapters? )?(\d\d)\b[^\]]*\]\((\d\d)_\w+\.ipynb", "\n".join(chapter(name).texts))
    assert all(told == meant for told, meant in links), links


def test_slips_in_the_sentences_are_noticed(capsys):
    assert prose_slips.main(1500) >= 0.95, capsys.readouterr().out
