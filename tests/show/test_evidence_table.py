"""Evidence table: every row once and a line high, kinds apart, chosen by each control."""

import pytest

from ventcalc.checked import compare
from ventcalc.show import evidence_line, evidence_table
from ventcalc.show.evidence_table import ALL, Browser, Row


@pytest.fixture
def rows():
    """Published rows of one table, one of which misses, and a row from memory of another."""
    draft = compare("draft_checks", {"D001": 0.0, "D002": 0.0, "D180": 0.2554})
    right = compare("draft_checks", {c.id: c.published for c in draft if c.id != "D002"})
    wrong = [c for c in draft if c.id == "D002"]
    return [*(Row("06 Stack effect", c) for c in right), *(Row("07 Heat loss", c) for c in wrong)]


def test_every_row_stands_once_on_a_line_of_its_own(rows):
    html = evidence_table.html(rows)
    for row in rows:
        assert html.count(f">{row.check.id}</td>") == 1
    assert html.count("<h3>") == 2
    cells = html.count("<td")
    assert cells == 8 * len(rows) and html.count("<td" + evidence_table._CELL) == cells
    assert "white-space:nowrap" in evidence_table._CELL


def test_right_and_wrong_are_told_by_a_sign_and_a_word(rows):
    html = evidence_table.html(rows)
    assert html.count("✘ misses") == 1 and html.count("✔ to the last digit") == 2


def test_what_is_no_evidence_stands_under_a_heading_of_its_own(rows):
    kinds = {row.kind for row in rows}
    html = evidence_table.html(rows)
    assert len(kinds) == 2 and html.count("no evidence") == 1
    assert html.index(">D001<") < html.index("no evidence")


def test_a_long_case_is_cut_and_kept_in_its_title(rows, monkeypatch):
    monkeypatch.setattr(evidence_table, "_LONGEST", 20)
    html = evidence_table.html(rows)
    full = evidence_line.case(rows[0].check)
    assert f"{full[:18]} …" in html and f'title="{full}"' in html


@pytest.mark.parametrize(
    ("control", "value", "ids"),
    [
        ("chapter", "06 Stack effect", {"D001", "D180"}),
        ("verdict", "misses", {"D002"}),
        ("verdict", ALL, {"D001", "D002", "D180"}),
    ],
)
def test_the_controls_choose(rows, control, value, ids):
    browser = Browser(rows)
    browser.controls["verdict"].value = ALL
    browser.controls[control].value = value
    assert {row.check.id for row in browser.chosen()} == ids
    assert all((f">{row.check.id}</td>" in browser.table.value) == (row.check.id in ids) for row in rows)


def test_by_status_and_by_source(rows):
    browser = Browser(rows)
    browser.controls["verdict"].value = ALL
    for control in ("status", "source"):
        for value in browser.controls[control].options[1:]:
            browser.controls[control].value = value
            assert browser.chosen() and {evidence_table._of(r)[control] for r in browser.chosen()} == {value}
        browser.controls[control].value = ALL


def test_nothing_that_fits_is_said(rows):
    browser = Browser(rows)
    browser.controls["chapter"].value = "06 Stack effect"
    assert browser.controls["verdict"].value == "misses" and "No row is like that." in browser.table.value


def test_a_page_without_a_kernel_has_every_row(rows):
    html = Browser(rows)._repr_mimebundle_()["text/html"]
    assert all(f">{row.check.id}</td>" in html for row in rows) and "3 rows" in html
