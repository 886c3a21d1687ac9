"""The chapter on fittings: questions worked again, live controls at both ends, checks, and the sums of its case."""

import fluids
import pytest

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.flow import fittings
from ventcalc.handbook import fittings as chapter
from ventcalc.show.exercises import mark
from ventcalc.units import Q_

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
    assert len(CHECKS) == 20


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
