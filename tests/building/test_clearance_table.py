"""Clearance table: rows beside the published ones, and rows of a reader's own code book."""

import pytest
from sample_roofs import flat, found, refuse, vent, verdict

from ventcalc import tables
from ventcalc.building import clearance_table, code_rules
from ventcalc.building.clearance_words import sentence
from ventcalc.building.code_rules import FAIL, PASS
from ventcalc.building.least_height import least_height
from ventcalc.building.roof_scene import Scene
from ventcalc.building.terminal import CHIMNEY


def test_every_check_row_is_in_the_table_of_rules():
    named = {row for r in tables.read("clearances") for row in r["rows"].split()}
    assert named == {r["id"] for r in tables.read("clearances_checks")}


def test_a_status_is_not_raised_above_that_of_the_row_it_came_from():
    known = {r["id"]: r["status"] for r in tables.read("clearances_checks")}
    for r in tables.read("clearances"):
        for row in r["rows"].split():
            assert r["status"] == known[row] or (row == "T036" and r["status"].startswith("mixed")), r["id"]


# Clearances that no check row says again, typed here once more [ft]: value, within, beside, below.
TYPED_AGAIN = {
    "outdoor-air intake, mechanical code": (3, 10, None, None),  # 2009 IMC 401.4: 3 ft below what is within 10 ft
    "outdoor-air intake, ventilation standard": (15, None, None, None),  # ASHRAE 62.1-2016 table 5.5.1
    "over a walkway": (7, 0, None, None),  # New York City Mechanical Code 804.2(1): 7 ft
    "beside a walkway": (7, 10, None, None),  # as over it; ten feet are this handbook's choice, no source
    "condensate over a walkway": (0, None, None, None),  # NFPA 54 as quoted in instructions: not over one at all
    "window next door": (2, None, 10, 25),  # IFGC 2018, 503.8 (from memory): 10 ft beside, 2 ft above, 25 ft below
    "fan or direct vent above the roof": (1, None, None, None),  # common practice, no source
    "window or door near natural draft": (3, 10, None, None),  # the figures for an intake; common practice, no source
    "three feet within ten": (3, 10, None, None),  # what it is called; common practice, no source
}


def test_every_clearance_has_a_check_row_or_is_typed_again():
    unchecked = {r["rule"] for r in tables.read("clearances") if not r["rows"].strip()}
    assert unchecked == set(TYPED_AGAIN)
    rules = {r.rule: r for r in clearance_table.shipped_rules()}
    for name, feet in TYPED_AGAIN.items():
        rule = rules[name]
        for given, wanted in zip((rule.value, rule.within, rule.beside, rule.below), feet, strict=True):
            assert (given or 0.0) == pytest.approx(0.3048 * (wanted or 0.0)), name


HEADER = ",".join(clearance_table._COLUMNS)


def own_table(tmp_path, **row):
    """A file with one rule of a reader's own code book."""
    given_ = {
        "id": "OWN1", "rule": "chimney above the roof", "form": "above roof", "kinds": CHIMNEY, "value": "1.2",
        "unit": "m", "met": PASS, "broken": FAIL, "section": "7.3", "edition": "town of 2024",
        "source": "our code book", "status": "published: read",
    } | row  # fmt: skip
    path = tmp_path / "own.csv"
    path.write_text(f"# ours\n{HEADER}\n" + ",".join(given_.get(c, "") for c in clearance_table._COLUMNS) + "\n")
    return path


def test_a_readers_row_replaces_the_shipped_rule_of_its_name(tmp_path):
    rules = clearance_table.read_rules(own_table(tmp_path))
    scene, terminal = Scene((flat(),)), vent(CHIMNEY, 1.1)
    assert verdict(scene, terminal, "chimney above the roof") == PASS
    one = found(scene, terminal, "chimney above the roof", rules=rules)
    assert one.verdict == FAIL and one.raise_by.m_as("m") == pytest.approx(0.1)
    assert "7.3 (town of 2024)" in sentence(one, "SI")
    assert least_height(scene, terminal, rules).height.m_as("m") == pytest.approx(1.2)
    # A new name is a rule more.
    more = clearance_table.read_rules(own_table(tmp_path, rule="above the snow"))
    assert len(more) == len(clearance_table.shipped_rules()) + 1


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"form": "over the roof"}, ("OWN1", "form", "above roof")),
        ({"kinds": "chimneys"}, ("OWN1", "kinds", "'chimneys'")),
        ({"value": "three"}, ("OWN1", "value", "'three'")),
        ({"value": "nan"}, ("OWN1", "value")),
        ({"value": ""}, ("OWN1", "value")),
        ({"unit": "yd"}, ("OWN1", "unit", "ft, in, m")),
        ({"broken": PASS}, ("OWN1", "broken", FAIL)),
        ({"met": FAIL}, ("OWN1", "met", PASS)),
        ({"status": "sure"}, ("OWN1", "status")),
        ({"source": ""}, ("OWN1", "source")),
        ({"form": "above", "objects": "dog"}, ("OWN1", "objects", "'dog'")),
        ({"form": "above", "objects": "door"}, ("OWN1", "within")),
    ],
)
def test_a_wrong_row_is_refused_by_name_and_column(tmp_path, row, words):
    refuse(lambda: clearance_table.read_rules(own_table(tmp_path, **row)), *words)


def test_a_table_without_its_columns_is_refused(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text("id,rule\nOWN1,x\n")
    refuse(lambda: clearance_table.read_rules(path), "OWN1", "missing", "form")


def test_no_verdict_says_safe():
    words = " ".join(v for r in tables.read("clearances") for v in r.values()) + " ".join(code_rules.VERDICTS)
    assert "safe" not in words.lower().split()


def test_the_habit_stands_in_the_place_of_the_table_by_pitch_and_else_not_at_all():
    """One of two holds at a time: the code's table by roof pitch, or the trade's habit of three feet within ten."""
    named = {habit: {r.rule for r in clearance_table.in_force(habit=habit)} for habit in (False, True)}
    table, habit = "gas vent by roof pitch", "three feet within ten"
    assert (table in named[False], habit in named[False]) == (True, False)
    assert (table in named[True], habit in named[True]) == (False, True)
    assert named[False] - {table} == named[True] - {habit}
