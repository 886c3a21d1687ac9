"""What the handbook's texts say in figures typed by hand is what the library, their own question or a source says."""

import random
from collections import Counter

import pytest
from prose_slips import slips
from sample_texts import bindings, rows, texts, worked_out

from ventcalc.tables import STATUSES

# Held to what they are by the table alone: never to be more.
UNBOUND = {"as written": 11, "formula": 80, "choice": 67}

TEXTS = {f"{t.file} {t.key}": t for t in texts()}


@pytest.mark.parametrize("file", sorted({t.file for t in texts()}))
def test_every_typed_number_is_bound(file):
    loose = [(t.key, n.written, n.sentence) for t in texts() if t.file == file for n, how, _ in bindings(t) if not how]
    assert not loose, "let a function fill it in, or work it out in a row of text_numbers.csv"


WORKED = sorted({t.file for t in texts() if any(b.row and b.row.works_out for b in bindings(t))})
LONG = ("remedies", "year", "firing_states")  # a study is behind their predictions


@pytest.mark.parametrize("file", [pytest.param(f, marks=pytest.mark.slow if f in LONG else ()) for f in WORKED])
def test_what_the_table_works_out_is_what_is_typed(file):
    for text in texts():
        for number, _, row in bindings(text) if text.file == file else ():
            for value in worked_out(text, row, number) if row and row.works_out else ():
                assert number.is_(value), (text.key, number.written, number.sentence, row.works_out, value)


def test_no_row_is_left_over():
    left_over = set(rows()) - {b.row for text in texts() for b in bindings(text)}
    assert not left_over, "of a text that is no more: strike it"


def test_a_row_is_worked_out_or_has_a_source():
    for row in rows():
        assert row.status in (*STATUSES, *UNBOUND), row
        assert bool(row.works_out) == (row.status == "computed"), row
        assert row.works_out or row.source or row.status in ("formula", "choice"), row
    for status, most in UNBOUND.items():
        assert sum(row.status == status for row in rows()) <= most, status


# A digit or a word of each changed by hand: the text with the slip has a number that nothing binds.
SLIPS = {
    "capacity_tables question.elbows.hints.1": ("10 %", "15 %"),
    "clearances write.task": ("2 ft (0.610 m)", "2 ft (0.310 m)"),
    "combustion_air question.tight_room.hints.0": ("1.54", "1.45"),
    "fittings teach.part.Write it yourself: whose velocity head?.answer": (
        "five times too small",
        "two times too small",
    ),
    "flue_gas write.task": ("28.15", "28.51"),
    "friction predict.choices.2": ("30 times", "40 times"),
    "stack_effect write.task": ("0.2554", "0.2545"),
    "vent_sizing write.task": ("359.2", "395.2"),
    "writing_a_job predict.question": ("117 kW", "171 kW"),
    "year question.cold_wall.hints.0": ("37 %", "73 %"),
}


@pytest.mark.parametrize("where", SLIPS)
def test_a_slip_is_noticed(where):
    text, (right, wrong) = TEXTS[where], SLIPS[where]
    assert right in text.says
    assert all(b.how for b in bindings(text))
    assert any(not b.how for b in bindings(text._replace(says=text.says.replace(right, wrong, 1))))


def _noticed(text, number, slip: str, used: Counter) -> bool:
    """Whether a text with one slip in it has a number that nothing binds, or leaves a row of the table over."""
    wrong = text._replace(says=text.says[: number.at] + slip + text.says[number.at + len(number.text) :])
    after = bindings(wrong)
    gone = {b.row for b in bindings(text)} - {b.row for b in after} - {None}
    return any(not b.how for b in after) or any(used[row] == 1 and row.file != "*" for row in gone)


def test_slips_are_noticed():
    draw, used = random.Random(17), Counter(row for t in texts() for row in {b.row for b in bindings(t)})
    every = [(text, b.number) for text in texts() for b in bindings(text)]
    drawn = [(text, number, draw.choice(slips(number))) for text, number in draw.choices(every, k=400)]
    missed = [(t.file, t.key, n.text, slip) for t, n, slip in drawn if not _noticed(t, n, slip, used)]
    assert len(missed) <= 0.05 * len(drawn), missed
