"""Evidence line: counted again by hand from rows whose verdicts are known; what is no evidence is kept apart."""

from dataclasses import replace

import pytest

from ventcalc import tables
from ventcalc.checked import compare
from ventcalc.show import evidence_line


@pytest.fixture
def row():
    """A row of the tables, ours equal to what is printed."""
    (check,) = compare("draft_checks", {"D001": float(tables.row("draft_checks", "D001")["value"])})
    return check


def off(row, by, **changes):
    """The same row with ours off by so many of its tolerances."""
    difference = by * row.allowed
    return replace(row, ours=row.published + difference, difference=difference, **changes)


def test_published_memory_and_computed_are_told_apart(row):
    statuses = {
        "published: read in a secondary source": "published",
        "published": "published",
        "from memory: to be confirmed": "from memory",
        "common practice": "from memory",
        "mixed": "from memory",
        "computed: theory": "computed",
    }
    assert {status: evidence_line.kind(replace(row, status=status)) for status in statuses} == statuses


def test_what_is_recalled_is_left_out(row):
    read, recalled = (replace(row, status=status) for status in ("published", "from memory: to be confirmed"))
    worked = replace(row, status="computed: theory")
    assert evidence_line.without_recalled([recalled, read, worked]) == (read, worked)


@pytest.mark.parametrize("status", ["published: read in a secondary source", "published: read in a restatement"])
def test_a_restatement_is_called_a_secondary_source(row, status):
    assert "secondary source, original not seen" in evidence_line.status(replace(row, status=status))
    assert evidence_line.status(replace(row, status="computed: theory")) == "computed: theory"


def test_a_row_tells_its_case(row):
    assert evidence_line.case(row).startswith(row.quantity) and "100 ft" in evidence_line.case(row)


def test_the_line_counts_and_names_the_one_that_misses(row):
    rows = [off(row, 0.5, id="D001"), off(row, -3.0, id="D002"), off(row, 0.0, id="D003")]
    told = evidence_line.words(rows)
    assert told.startswith("2 of 3 published rows within tolerance (all read in a secondary source, original not seen)")
    assert (
        f"the one that misses is {evidence_line.case(rows[1])}, by {abs(rows[1].difference):.{row.decimals + 1}f}"
        in told
    )


def test_of_several_that_miss_the_farthest_off_in_its_tolerance_is_named(row):
    rows = [off(row, 2.0, id="D001"), off(row, -9.0, id="D002")]
    assert f"of the 2 that miss the farthest off is {evidence_line.case(rows[1])}" in evidence_line.words(rows)


def test_what_is_no_evidence_is_counted_apart(row):
    rows = [
        off(row, 0.0, id="D001", status="from memory: to be confirmed"),
        off(row, 2.0, id="D002", status="from memory: to be confirmed"),
        off(row, 0.0, id="D003", status="computed: theory"),
    ]
    assert evidence_line.words(rows) == (
        "No published figure checks this chapter. Counted apart, no evidence: "
        "2 from memory, to be confirmed (1 off), 1 computed, for consistency."
    )


def test_a_row_that_stands_twice_counts_once(row):
    assert evidence_line.words([row, row]).startswith("1 of 1 published rows")


def test_the_line_is_one_paragraph_with_a_link_to_the_page(row):
    html = evidence_line.html([row])
    assert html.count("<p") == 1 and 'href="00_evidence.ipynb"' in html
