"""The chapter on the area rule: questions worked again, live controls at both ends, checks, what is done about it."""

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.handbook import area_rule as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS
from ventcalc.vent import cold_start, draft_margin


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
    rows = chapter.thaw().data
    assert rows.count("not within 30 min") == 1 and rows.count("at once") == 2


def test_tables_of_the_chapter():
    mild = chapter.retrofit().seasons[1]
    first = cold_start.start_up(chapter.retrofit().plant, mild, Q_(30.0, "minute"))
    assert "0.40" in chapter.moments(first).data and "1,800 s" in chapter.moments(first).data
    assert "15.2" not in chapter.rules().data and "7 " in chapter.rules().data
    assert "1.6 x" in chapter.comparison(mild.name).data and "9.6 x" in chapter.comparison(mild.name, "SI").data


# --- Prediction, and what the reader writes ---


def cold_push(height, outdoor, cold):
    """What cold air in a flue pushes down with [Pa]: m, K, K; dry air at 1 atm, 353 kg K/m3 over T."""
    return 9.80665 * height * 101325.0 * 0.0289647 / 8.314463 * (1 / cold - 1 / outdoor)


def test_the_prediction_worked_again():
    # The whole burner's flue gas for half an hour: 50 MBH at the hood, as cold_start has it, and the push by hand.
    found = chapter.cold_morning(Q_(35.0, "degF"))
    start = chapter._morning(Q_(35.0, "degF"), Q_(0.0, "Pa"))
    assert found["figure"].m_as("kg") == pytest.approx(start.flue * 1800.0, rel=1e-3)
    assert found["push"].m_as("Pa") == pytest.approx(cold_push(26 * 0.3048, 288.706, 274.817), rel=2e-3)
    assert found["right"] == 2
    for system in SYSTEMS:
        prediction = chapter.prediction(system)
        assert prediction.choices[prediction.right].startswith("It does not start")


def test_a_flue_as_warm_as_outdoors_starts():
    assert chapter.cold_morning(Q_(60.0, "degF"))["right"] == 0


@pytest.mark.parametrize(("system", "zero", "constant"), [("US", 459.67, 7.625), ("SI", 273.15, 3462.0)])
def test_what_is_written_is_right_by_other_means(system, zero, constant):
    task = chapter.writing(system)

    def written(height, reached, outdoor, gas, cold, shift=zero):
        column = height / (outdoor + shift) - reached / (gas + shift) - (height - reached) / (cold + shift)
        return constant * column

    def by_columns(h, z, o, g, c):
        """Two columns by their push, in Pa and back."""
        feet, kelvin = (0.3048, lambda t: (t + zero) / 1.8) if system == "US" else (1.0, lambda t: t + zero)
        push = cold_push(z * feet, kelvin(o), kelvin(g)) + cold_push((h - z) * feet, kelvin(o), kelvin(c))
        return -push / (249.089 if system == "US" else 1.0)

    slips = {
        "no_cold": lambda h, z, o, g, c: written(h, z, o, g, o),
        "all_gas": lambda h, z, o, g, c: written(h, h, o, g, c),
        "not_absolute": lambda h, z, o, g, c: written(h, z, o, g, c, 0.0),
        "upside_down": lambda *given: -written(*given),
    }
    for case in task.cases:
        assert tried(task, case, written).kind == tried(task, case, by_columns).kind == "right"
        for name, wrong in slips.items():
            assert tried(task, case, wrong).words == task.slips[name], (name, case)


# --- Figures ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_figure_s_labels_have_units(system):
    left, right = chapter.start_figure("mild, kitchen fan on", system).axes
    assert left.get_xlabel() == "time from light-off, s" and right.get_xlabel() == "time from light-off, min"
    assert right.get_ylabel() == f"wall at the top, {'°F' if system == 'US' else '°C'}"


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_areas_are_drawn_to_one_scale(system):
    plant = chapter.retrofit().plant
    areas, left, right = chapter._one(chapter.started("design winter")["lined"], plant, system).axes
    flue, allowed, outlet = (np.ptp(line.get_xdata()) for line in areas.lines)
    assert (allowed / outlet) ** 2 == pytest.approx(7.0, rel=1e-3)
    assert flue / outlet == pytest.approx(3.1, rel=1e-3)
    assert areas.texts[-1].get_text() == f"outlet {'4.0 in.' if system == 'US' else '102 mm'}"
    assert left.get_xlabel().endswith(", s") and right.get_ylabel().startswith("temperature, °")
