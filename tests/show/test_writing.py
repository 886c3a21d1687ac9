"""Writing: a reader's function is tried beside the library, its slips are named, its faults are said kindly."""

import numpy as np
import pytest

from ventcalc.handbook import fittings
from ventcalc.show import chapter_texts, unit_switch, writing
from ventcalc.show.unit_switch import Units
from ventcalc.units import Q_

TEXT = """
[write]
task = "Write the weight of a column."
arguments.height = { US = "ft", SI = "m" }
arguments.warmth = { US = "degF", SI = "degC" }
unit = { US = "inch", SI = "mm" }
cases = [["4 ft", "50 degF"], ["1 m", "20 degC"], ["3 ft", "212 degF"]]
share = 0.01
broken = "feet"
slips.feet = "That is in feet, or in meters: {US and SI} differ."
slips.not_absolute = "Count from absolute zero."
"""
TEXT = TEXT.replace(": {US and SI} differ", "")


def column(height, warmth, system):
    """A length that goes with absolute temperature."""
    answer = height * (warmth.to("K") / Q_(300.0, "K"))
    plain = warmth.m_as("degF" if system == "US" else "degC")
    return {
        "answer": answer,
        "feet": Q_(answer.m_as("ft" if system == "US" else "m"), "inch" if system == "US" else "mm"),
        "not_absolute": height * (plain / (540.0 if system == "US" else 300.0)),
    }


@pytest.fixture
def file(tmp_path, monkeypatch):
    (tmp_path / "handbook").mkdir()
    monkeypatch.setattr(chapter_texts, "DATA", tmp_path)
    chapter_texts.read.cache_clear()
    yield tmp_path / "handbook" / "room.toml"
    chapter_texts.read.cache_clear()


@pytest.fixture
def make(file):
    file.write_text(TEXT)
    return lambda system="US": writing.load("room", column, system)


def right(height, warmth):
    return 12 * height * (warmth + 459.67) / 540


def kinds(task, function):
    return {writing.tried(task, case, function).kind for case in task.cases}


def test_plain_numbers_come_in_the_units_of_the_system(make):
    us, si = make("US"), make("SI")
    assert us.cases[0].given == pytest.approx((4.0, 50.0)) and si.cases[0].given == pytest.approx((1.2192, 10.0))
    assert us.cases[0].expected == pytest.approx(48 * 509.67 / 540)
    assert si.cases[0].expected == pytest.approx(1219.2 * 283.15 / 300)


def test_a_right_function_is_right_in_all_cases(make):
    assert kinds(make(), right) == {"right"}
    found = [writing.tried(make(), case, right) for case in make().cases]
    assert writing.verdict(make(), found) == "✔ Right in all 3 cases."
    assert kinds(make(), lambda h, w: np.float64(right(h, w))) == {"right"}
    assert kinds(make(), lambda h, w: Q_(right(h, w), "inch").to("m")) == {"right"}


@pytest.mark.parametrize(
    ("function", "kind", "words"),
    [
        (lambda h, w: ..., "not written", "three dots"),
        (lambda h, w: None, "failed", "returns nothing"),
        (lambda h, w: "much", "failed", "returns 'much'"),
        (lambda h, w: "12", "failed", "a finite number"),
        (lambda h, w: True, "failed", "a finite number"),
        (lambda h, w: 1j, "failed", "one number"),
        (lambda h, w: float("nan"), "failed", "finite"),
        (lambda h, w: 1 / 0, "failed", "ZeroDivisionError"),
        (lambda h: h, "failed", "TypeError"),
        (lambda h, w: unknown_name, "failed", "NameError: name 'unknown_name'"),  # noqa: F821
        (lambda h, w: Q_(1.0, "Pa"), "failed", "needs a quantity in inch, got 1.0 Pa"),
        (lambda h, w: right(h, w) / 12, "wrong", "in feet"),
        (lambda h, w: 12 * h * w / 540, "wrong", "absolute zero"),
        (lambda h, w: 2 * right(h, w), "wrong", "Too high"),
    ],
)
def test_what_is_wrong_is_said(make, function, kind, words):
    found = writing.tried(make(), make().cases[0], function)
    assert found.kind == kind and words in found.words


@pytest.mark.parametrize(
    ("function", "says"),
    [
        (lambda h, w: ..., "Not yet written"),
        (lambda h, w: 5 * right(h, w), "always 5 times the library's answer"),
        (lambda h, w: right(h, w) if w < 100 else 0.0, "Right in 2 of 3 cases"),
        (lambda h, w: right(h, w) if w < 100 else 1 / 0, "no number in 1 of 3 cases"),
    ],
)
def test_all_cases_together_tell_more(make, function, says):
    assert says in writing.verdict(make(), [writing.tried(make(), case, function) for case in make().cases])


def test_the_table_shows_the_version_broken_on_purpose(make):
    html = writing.html(make(), lambda h, w: ...)
    assert html.count("✎ not yet written") == 3 and "That is in feet, or in meters." in html
    assert f"✘ {make().cases[0].slips['feet']:.4g}" in html and "height 4 ft, warmth 50 °F" in html
    assert "✔ right" in writing.html(make(), right)


def test_a_function_for_the_other_units_is_noticed(make, monkeypatch):
    shown = []
    monkeypatch.setattr(unit_switch, "display", lambda one, display_id: shown.append(one.data))
    writing.check(make, lambda h, w: 1000 * h * (w + 273.15) / 300, Units("US"))
    writing.check(make, right, Units("US"))
    assert "It is right for SI units: this page shows US units now." in shown[0] and "It is right for" not in shown[1]


def test_the_task_tells_the_unit_of_each_number(make, monkeypatch):
    shown = []
    monkeypatch.setattr(unit_switch, "display", lambda one, display_id: shown.append(str(one)))
    writing.task(make, Units("SI"))
    assert shown == ["Write the weight of a column. Numbers come plain: height in m, warmth in °C; return mm."]


def test_a_ratio_comes_without_a_unit(monkeypatch):
    shown = []
    monkeypatch.setattr(unit_switch, "display", lambda one, display_id: shown.append(str(one)))
    writing.task(fittings.writing, Units("SI"))
    assert "coefficient without a unit, narrow in mm, wide in mm, head in Pa; return Pa." in shown[0]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("share =", "near =", r"room\.toml, write: unknown \['near'\], lacking \['share'\]"),
        ('["4 ft", "50 degF"]', '["4 ft"]', "has 1 quantities; it must have 2"),
        ('broken = "feet"', 'broken = "toes"', "broken is 'toes'; it must be one of the slips feet, not_absolute"),
        ("slips.not_absolute", "slips.upside_down", "no figure of the name 'upside_down'"),
    ],
)
def test_what_may_be_wrong_in_a_file_is_named(file, old, new, words):
    assert old in TEXT
    file.write_text(TEXT.replace(old, new))
    with pytest.raises(ValueError, match=words):
        writing.load("room", column)
