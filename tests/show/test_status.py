"""Status: every status that the tables have is told by a mark, every mark is in the legend."""

from ventcalc import tables
from ventcalc.show import status


def test_every_status_of_the_tables_has_a_mark_or_is_told_as_it_is():
    found = {row["status"] for name in tables.names() for row in tables.read(name) if row.get("status")}
    assert found and not any(words in status.marked(s) for s in found for words in ("from memory", "common practice"))
    assert not any("search result" in status.marked(s) for s in found)


def test_marks_stand_in_the_legend():
    assert set(status.MARKS.values()) == set(status.LEGEND)


def test_words_round_it_stay():
    assert status.marked("a table (published: read in a secondary source); K = 2") == "a table ◐; K = 2"
    assert status.marked("rule of the trade") == "rule of the trade"
