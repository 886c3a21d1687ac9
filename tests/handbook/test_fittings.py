"""The chapter on fittings: questions worked again, live controls at both ends, checks, and the sums of its case."""

import fluids
import numpy as np
import pytest
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.flow import fittings
from ventcalc.handbook import fittings as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

CHECKS = chapter.checks()


def by_other_means():
    """The answers worked with plain numbers and with fluids, none of them from the library."""
    return [
        Q_((1.2 + 3 * 0.75 + 0.5 + 1.0) * 0.020, "inH2O"),
        Q_(fluids.change_K_basis(K1=0.30, D1=10.0, D2=14.0), ""),
        Q_(fluids.core.L_equiv_from_K(0.75, fd=0.030) * 10.0, "inch"),
        Q_(fluids.diffuser_sharp(8.0, 12.0) * 0.050, "inH2O"),
        Q_(0.25 * 2 * float(tables.row("fittings_pairs", "P009")["value"]), ""),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), by_other_means(), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "leaves" in mark(questions[0], Q_((1.2 + 2.25 + 0.5) * 0.020, "inH2O")).sentence
    assert "wrong way round" in mark(questions[1], 0.30 * (10 / 14) ** 4).sentence
    assert "inches" in mark(questions[2], Q_(0.75 * 10 / 0.030, "ft")).sentence
    assert "areas" in mark(questions[3], Q_((1 - 8 / 12) ** 2 * 0.050, "inH2O")).sentence
    assert "far apart" in mark(questions[4], 0.5).sentence


@pytest.mark.parametrize("cap", ["", *fittings.names("terminal")])
@pytest.mark.parametrize("wide", [6.0, 8.0, 12.0])
def test_parts_on_the_head_they_are_printed_for(cap, wide):
    # Each part's loss worked on its own head with fluids; the explorer has all on the connector's.
    flow, narrow = chapter.CONNECTOR, min(8.0, wide)
    found = chapter.parts(flow, "elbow 90", 4, Q_(wide, "inch"), Q_(60.0, "degree"), cap)
    ks = {name: k for name, k, _ in found}
    assert ks["4 x elbow 90"] == 3.0
    if wide > 8.0:
        expected = fluids.diffuser_conical(8.0, wide, angle=60.0, method="Crane")
    else:
        expected = fluids.contraction_conical_Crane(8.0, wide, angle=60.0) if wide < 8.0 else 0.0
    assert ks["change of size"] == pytest.approx(expected * (8.0 / narrow) ** 4)
    if cap:
        assert ks["head that leaves"] == pytest.approx((8.0 / wide) ** 4)
        assert ks[cap] == pytest.approx(fittings.fitting(cap).loss * (8.0 / wide) ** 4)


def test_the_case_of_the_beam():
    # K from the chimney handbook (from memory): 4 x 0.75 against 2 x 0.30.
    heads = {name: sum(fittings.fitting(f).loss for f in run) for name, run in chapter.SKETCHES.items()}
    assert heads == pytest.approx({"A": 3.0, "B": 0.6})


def test_checks_agree_or_say_why():
    assert unexplained(CHECKS) == []
    assert all(c.agrees for c in CHECKS)
    # Five of the chimney handbook are recalled from memory: data, no evidence.
    assert len(CHECKS) == 15 and not {f"L{n:03d}" for n in (5, 6, 8, 9, 10)} & {c.id for c in CHECKS}


def test_cones_among_the_authors():
    spread = chapter.cone_spread()
    assert len(spread) == 6
    for _, _, ours, others in spread:
        assert len(others) >= 4
        assert min(others.values()) - 1e-4 <= ours <= max(others.values()) + 1e-4


@pytest.mark.parametrize("draw", [chapter.elbow_chart, chapter.pair_chart])
def test_axes_are_labeled_and_can_be_read(draw):
    for axes in draw().axes:
        for axis in (axes.xaxis, axes.yaxis):
            assert axis.label.get_text()
            assert axis.label.get_size() >= 10
            assert all(tick.get_size() >= 10 for tick in axis.get_ticklabels())
        assert all(words.get_size() >= 10 for words in axes.get_legend().get_texts())


def test_elbow_chart_shows_every_row():
    rows = [
        r
        for r in tables.read("losses_checks")
        if r["quantity"] == "elbow loss coefficient C" and r["angle_deg"] == "90"
    ]
    points = [line for line in chapter.elbow_chart().axes[0].lines if len(line.get_xdata()) == 1]
    assert sorted(float(p.get_ydata()[0]) for p in points) == sorted(float(r["value"]) for r in rows)


def test_sketches_say_what_they_are():
    words = " ".join(t.get_text() for t in chapter.sketches().texts)
    assert "four 90° elbows" in words and "two 45° elbows" in words


# --- Prediction, and what the reader writes ---


def test_the_prediction_worked_again():
    # The worst cell of the miters' table, P-rows of data/flow/fittings_pairs.csv, and fluids for the straight pipe.
    rows = [r for r in tables.read("fittings_pairs") if r["elbow"].startswith("mitred")]
    worst = max(rows, key=lambda r: float(r["value"]) / float(r["two_alone"]))
    factor, pipe = float(worst["value"]) / float(worst["two_alone"]), chapter.CONNECTOR
    found = chapter.jog(Q_(8.0, "inch"))
    assert (found["factor"], found["offset"]) == pytest.approx((factor, float(worst["spacing"])))
    k = 2 * factor * fittings.fitting("elbow 90 mitered").loss
    assert found["figure"].m_as("Pa") == pytest.approx(k * pipe.head.m_as("Pa"))
    assert found["straight"].m_as("inch") == pytest.approx(8.0 * fluids.core.L_equiv_from_K(k, fd=pipe.factor))
    # More than all of sketch A, as the text says.
    assert found["figure"] > pipe.loss + 4 * 0.75 * pipe.head
    assert factor > 1.5
    for system in SYSTEMS:
        prediction = chapter.prediction(system)
        assert prediction.choices[prediction.right].startswith("Nearly twice")


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_other_means(system):
    task = chapter.writing(system)
    slipped = {
        "wrong_head": lambda k, a, b, h: k * h,
        "upside_down": lambda k, a, b, h: k * h * (a / b) ** 4,
        "areas": lambda k, a, b, h: k * h * (b / a) ** 2,
        "diameters": lambda k, a, b, h: k * h * b / a,
    }
    for case in task.cases:
        assert tried(task, case, lambda k, a, b, h: h * fluids.change_K_basis(K1=k, D1=a, D2=b)).kind == "right"
        for name, wrong in slipped.items():
            assert tried(task, case, wrong).words == task.slips[name], name


def test_tables_of_the_chapter():
    # As the text has it: A takes all of 0.1 in. w.c. and costs nearly three times as much as B.
    costs = {name: chapter.CONNECTOR.heads_lost() + k for name, k in {"A": 3.0, "B": 0.6}.items()}
    assert 2.5 < costs["A"] / costs["B"] < 3.0
    assert f"{costs['A'] * chapter.CONNECTOR.head.m_as('Pa'):.1f} Pa" in chapter.both_sketches("SI").data
    assert f"{fluids.diffuser_sharp(8.0, 12.0):.2f}" in chapter.cones().data
    assert "0.53" in chapter.pair_table().data and "8.0 in. to 12.0 in." in chapter.cones().data
    assert chapter.cone_table().data.count("<tr>") == 7 and chapter.bend_table().data.count("<tr>") == 4
    assert "draft hood" in chapter.ends().data and "0.50" in chapter.ends().data


@pytest.mark.parametrize("cap", ["", "low-resistance cap"])
@pytest.mark.parametrize("count", [0, 1, 4, 8])
@pytest.mark.parametrize("elbow", fittings.names("elbow"))
def test_the_run_is_drawn_with_all_its_elbows(elbow, count, cap):
    figure = Figure((6.8, 3.5))
    chapter._draw_run(figure, elbow, count, 1.5, 60.0, cap)
    run = figure.axes[0].lines[0].get_xydata()
    turns = [a for a in np.diff(np.unwrap(np.arctan2(*np.diff(run, axis=0).T[::-1]))) if abs(a) > 1e-9]
    assert np.abs(turns) == pytest.approx(
        np.full(count, np.radians({"elbow 30": 30, "elbow 45": 45}.get(elbow.removesuffix(" mitered"), 90)))
    )
