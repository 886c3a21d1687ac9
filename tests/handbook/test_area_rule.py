"""The chapter on the area rule: questions worked again, live controls at both ends, checks, what is done about it."""

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.handbook import area_rule as chapter
from ventcalc.show.exercises import mark
from ventcalc.units import Q_
from ventcalc.vent import draft_margin


def by_other_means(system):
    job = chapter.retrofit()
    found = chapter.started(job.seasons[0].name)
    flow = 20.0 * 0.3048**3 / 60.0 if system == "US" else 0.0095
    low, high = 1e4, 1e6  # W, a search of our own on `draft_margin.margin`
    plant = chapter.ways()["lined"][0]
    for _ in range(60):
        middle = 0.5 * (low + high)
        works = draft_margin.margin(plant, job.seasons[0], heat_input=Q_(middle, "W")).m > 0.0
        low, high = (middle, high) if works else (low, middle)
    return [
        Q_(16.0, ""),
        Q_(26 * 0.3048 * np.pi / 4 * (12.4 * 0.0254) ** 2 / flow, "s"),
        Q_(low, "W"),
        Q_(1.0 - found["lined"].condensed[-1] / found["as it stands"].condensed[-1], ""),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), by_other_means(system), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_explorer_tells_the_rule_the_spill_and_the_block():
    start = {name: c.value for name, c in chapter.controls("US").items()}
    as_is = chapter.explorer_answer("US", **start)[0]
    assert "breaks" in as_is and "spills into the room at first" in as_is
    assert "keeps" in chapter.explorer_answer("US", **start | {"diameter": 0.127})[0]
    blocked = chapter.explorer_answer("US", **start | {"start": Q_(20.0, "degF").m_as("K")})[0]
    assert "all flue gas spills" in blocked
    assert "spills into" not in chapter.explorer_answer("US", **start | {"fan": 15.0})[0]


def test_checks_agree_or_say_why():
    checks = chapter.checks()
    assert unexplained(checks) == []
    assert [c.id for c in checks if not c.agrees] == ["V215"]
    assert len(checks) == 4


def test_the_ways_are_what_they_are_called():
    ratios = {name: chapter.ratio(plant) for name, (plant, _) in chapter.ways().items()}
    assert ratios["as it stands"] == ratios["with a fan"] == pytest.approx((12.4 / 4.0) ** 2)
    assert ratios["seven times the outlet"] == pytest.approx(7.0)
    assert ratios["lined"] == pytest.approx((5.0 / 4.0) ** 2)


def test_what_the_chapter_says_of_them():
    mild = chapter.started("mild, kitchen fan on")
    assert mild["with a fan"].spilled == 0.0 < mild["lined"].spilled < mild["as it stands"].spilled
    assert mild["lined"].dry_after < 300.0
    assert mild["as it stands"].dry_after is mild["with a fan"].dry_after is None
    winter = chapter.started("design winter")
    assert all(f.spilled == 0.0 for f in winter.values())
    assert winter["lined"].condensed[-1] < 0.2 * winter["as it stands"].condensed[-1]


def test_a_cold_flue_on_a_mild_morning():
    rows = chapter.thaw(chapter.retrofit().plant)
    assert rows.count("not within 30 min") == 1 and rows.count("at once") == 2


@pytest.mark.parametrize("system", ["US", "SI"])
def test_figure_s_labels_have_units(system):
    left, right = chapter.start_figure("mild, kitchen fan on", system).axes
    assert left.get_xlabel() == "time from light-off, s" and right.get_xlabel() == "time from light-off, min"
    assert right.get_ylabel() == f"wall at the top, {'°F' if system == 'US' else '°C'}"
    assert chapter.sections(system).axes[0].texts[0].get_text().endswith("4.0 in." if system == "US" else "102 mm")
