"""The chapter on capacity tables: physics beside the cells, questions worked again, live controls at both ends."""

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.handbook import capacity_tables as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS


def ratios(column, number, **more):
    return np.array([b.ratio for b in chapter.beside(column, number, **more)])


# --- First principles beside the code's cells -------------------------------------------------------------------
# The cells say "15-30% for a first-principles model". Nothing is fitted: the appliance is the chimney handbook's design
# condition (published: C039, C046, C048; 8 % before the hood is that of C045), 60 F indoors and out (from memory).


def test_draft_hood_cells_of_type_b_vents():
    found = np.concatenate([ratios("NAT max", n) for n in ("504.2(1)", "504.2(2)")])
    assert found.size == 91
    assert abs(np.median(found) - 1.0) < 0.15
    assert np.mean(np.abs(found - 1.0) < 0.30) >= 0.90
    # What was found, and held: all within 15 %, the median 7 % above the table.
    assert np.all(np.abs(found - 1.0) < 0.15)
    assert np.median(found) == pytest.approx(1.065, abs=0.01)


def test_the_difference_grows_with_height_and_with_diameter():
    # Wide, high vents: the table takes off more than friction and fittings do. 6 and 8 ft: 5 % above; 50 ft: 11 %.
    found = chapter.beside("NAT max", "504.2(1)")

    def median(some):
        return np.median([b.ratio for b in found if some(b.cell)])

    assert median(lambda c: c.height <= 8.0) < median(lambda c: c.height == 20.0) < median(lambda c: c.height == 50.0)
    assert median(lambda c: c.diameter <= 4.0) < median(lambda c: c.diameter >= 9.0)


def test_fan_assisted_cells():
    # 16 % above the table at the handbook's 8 % CO2, most where the vent is low: there the appliance's fan, which we
    # let give all the velocity at the outlet, counts most. At 7 % CO2, as such furnaces are said to burn (from memory),
    # the median would be 2 % above.
    found = ratios("FAN max", "504.2(1)")
    assert np.median(found) == pytest.approx(1.16, abs=0.01)
    assert np.mean(np.abs(found - 1.0) < 0.30) > 0.95
    assert np.median(ratios("FAN max", "504.2(1)", co2=7.0)) == pytest.approx(1.02, abs=0.01)


def test_single_wall_cells_lie_well_below_first_principles():
    # Table 504.2(5), 32 cells, all published: ours 27 % above, 66 % of them within 30 %. Heat loss does not explain it.
    # Our bare metal passes 4.3 to 4.9 W/(m2 K) here, the handbook's design value is 5.7 (H005, from memory); on cold
    # walls, where the inside film alone resists, 25 % are left. It grows with the lateral (20 % at 2 ft, 36 % at 10):
    # an older table that takes bends and runs more dearly, or a reserve. Nothing is fitted to it.
    hot, cold = ratios("NAT max", "504.2(5)"), ratios("NAT max", "504.2(5)", cold=True)
    assert hot.size == 32
    assert np.median(hot) == pytest.approx(1.27, abs=0.01) and np.median(cold) == pytest.approx(1.25, abs=0.01)
    assert np.mean(np.abs(hot - 1.0) < 0.30) == pytest.approx(0.66, abs=0.02)
    # Eight of the 32 lie between 1.29 and 1.31 on cold walls, two at 1.2998: their share hangs on the last digit.
    assert np.mean(np.abs(cold - 1.0) < 0.30) == pytest.approx(0.84, abs=0.02)
    assert np.mean(np.abs(cold - 1.0) < 0.31) == pytest.approx(0.91, abs=0.04)


def test_masonry_cells_are_not_set_by_steady_flow():
    # Table 504.2(3), 15 NAT cells: steady flow on a warm wall carries 1.4 to 1.9 times as much, on a cold wall 1.5. The
    # table allows any flue up to seven times the outlet and forbids small fan-assisted appliances outright: wet walls
    # and the start-up set it, which a steady capacity does not know. See the chapter on the area rule.
    hot, cold = ratios("NAT max", "504.2(3)"), ratios("NAT max", "504.2(3)", cold=True)
    assert hot.size == 15
    assert 1.3 < hot.min() < hot.max() < 2.0
    assert np.median(cold) < np.median(hot)


@pytest.mark.slow
def test_summaries_are_of_these():
    assert "100 %" in chapter.summary_table().data
    assert chapter.summary(chapter.beside("NAT max", "504.2(1)"))[0] == 89
    assert "1.02" in chapter.by_co2().data and "1.16" in chapter.by_co2().data


def test_tables_of_the_chapter():
    # The code's example 1: 5 in. takes 120 MBH with two elbows and not with three (W4a, W4b), 6 in. does with three.
    assert chapter.three_elbows().data.count("acceptable") == 3 and "for 120 MBH" in chapter.three_elbows().data
    assert "for 35.2 kW" in chapter.three_elbows("SI").data
    told = chapter.refusals().data
    assert "may not be extrapolated" in told and "note: altitude" in told and told.count("<tr>") == 9
    assert "IFGC 504.2.3" in chapter.rules().data


# --- Prediction, and what the reader writes -------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    found, every = chapter.physics_beside("NAT max"), ratios("NAT max", "504.2(1)")
    assert found["figure"] == pytest.approx(np.median(every) - 1.0)
    assert (found["count"], found["near"]) == (every.size, np.mean(np.abs(every - 1.0) <= 0.15))
    prediction = chapter.prediction(system)
    assert prediction.choices[prediction.right].startswith("Within a tenth") and found["near"] > 0.95


def test_the_prediction_goes_with_the_table():
    assert chapter.physics_beside("NAT max", "504.2(5)")["right"] == 0


def by_hand(height, lower, upper, low, high, elbows):
    return np.interp(height, (lower, upper), (low, high)) * (10 - (elbows - 2)) / 10


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_other_means(system):
    task = chapter.writing(system)
    slips = {
        "next_line": lambda h, a, b, p, q, n: by_hand(b, a, b, p, q, n),
        "wrong_end": lambda h, a, b, p, q, n: by_hand(h, a, b, q, p, n),
        "all_elbows": lambda h, a, b, p, q, n: by_hand(h, a, b, p, q, n + 2),
        "no_elbows": lambda h, a, b, p, q, n: by_hand(h, a, b, p, q, 2),
    }
    for case in task.cases:
        assert tried(task, case, by_hand).kind == "right"
        for name, wrong in slips.items():
            found = tried(task, case, wrong)
            # With two elbows there is none to take off.
            assert found.words == task.slips[name] or (name, case.given[-1]) == ("no_elbows", 2), (name, case)


# --- Checks, questions, controls ------------------------------------------------------------------------------------


def test_checks_agree_or_say_why():
    checks = chapter.checks()
    assert unexplained(checks) == []
    assert [c.id for c in checks if not c.agrees] == ["V215"]
    assert len(checks) == 24


def by_other_means():
    return [
        Q_(145 + 0.6 * 30, "MBH"),
        Q_(150 * 0.85, "MBH"),
        Q_(121 * 0.8 - 40, "MBH"),
        Q_(np.sqrt(7.0) * 5.0, "inch"),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), by_other_means(), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "wrong end" in mark(questions[0], Q_(157.0, "MBH")).sentence
    assert "minimum stays" in mark(questions[2], Q_(0.8 * 81, "MBH")).sentence
    assert "not seven times the diameter" in mark(questions[3], Q_(35.0, "inch")).sentence


def test_explorer_tells_a_cell_from_a_gap():
    start = {name: c.value for name, c in chapter.controls("US").items()}
    assert "87 MBH" in chapter.explorer_answer("US", **start)[0]
    assert "not among the cells given" in chapter.explorer_answer("US", **start | {"inch": 6.0})[0]
    assert "may not be extrapolated" in chapter.explorer_answer("US", **start | {"lateral": 20.0})[0]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_figure_s_labels_have_units(system):
    left, right = chapter.ratios(system).axes
    unit = "ft" if system == "US" else "m"
    assert left.get_xlabel() == right.get_xlabel() == f"height, {unit}"
    assert left.get_ylabel() == "ours / table (ratio)"
    drawn = sum(len(line.get_xdata()) for line in left.lines if line.get_marker() not in ("", "None", None))
    assert drawn == 89  # every sampled cell is drawn
