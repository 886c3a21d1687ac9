"""The chapter on friction: questions worked again, live controls at both ends, checks, and the steam book's factor."""

import math
from dataclasses import replace

import numpy as np
import pytest
from fluids.friction import Colebrook

from ventcalc.checked import unexplained
from ventcalc.handbook import friction as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, show

CHECKS = chapter.checks()

PASCAL_PER_INCH = 249.089  # conventional inch of water column


def by_other_means(system):
    """The answers worked with plain numbers, none of them from the library."""
    return [
        Q_(0.5 * 0.8 * (30.0 * 0.3048) ** 2 / PASCAL_PER_INCH, "inH2O"),
        Q_(0.033 * 35.0 * 12.0 / 8.0 * 0.030, "inH2O"),
        Q_(0.002 * 32.0, "inH2O"),
        Q_(8.0 * (0.080 / 0.030) ** 0.2, "inch"),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    questions = chapter.questions(system)
    for question, answer in zip(questions, by_other_means(system), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "half" in mark(questions[0], Q_(0.8 * (30 * 0.3048) ** 2, "Pa")).sentence
    assert "one unit" in mark(questions[1], Q_(0.033 * 35 / 8 * 0.030, "inH2O")).sentence
    assert "L/D" in mark(questions[2], Q_(0.032, "inH2O")).sentence
    assert "fifth root" in mark(questions[3], Q_(8 * (8 / 3) ** 0.25, "inch")).sentence


def test_explorer_starts_at_the_liner_of_the_chapter():
    start = {name: c.value for name, c in chapter.explorer("US").controls.items()}
    assert start["diameter"] == pytest.approx(chapter.LINER.diameter.m_as("m"))
    assert start["roughness"] == chapter.LINER.roughness.m_as("mm")


def test_checks_agree_or_say_why():
    assert unexplained(CHECKS) == []
    assert [c.id for c in CHECKS if not c.agrees] == ["L055"]
    assert len(CHECKS) == 47


# --- The chapter's case and its surprise, against a library and plain reasoning ---


@pytest.mark.parametrize("flow", [chapter.CHIMNEY, chapter.LINER], ids=["chimney", "liner"])
def test_case_against_a_library(flow):
    # fluids: Colebrook by Lambert's W; density and viscosity as in the chapter. Both are turbulent, Re 12600 and 25200.
    bore, speed = flow.diameter.m_as("m"), flow.velocity.m_as("m/s")
    reynolds = speed * bore * flow.density.m_as("kg/m**3") / flow.viscosity.m_as("Pa*s")
    factor = Colebrook(reynolds, flow.roughness.m_as("m") / bore)
    loss = factor * flow.length.m_as("m") / bore * 0.5 * flow.density.m_as("kg/m**3") * speed**2
    assert flow.loss.m_as("Pa") == pytest.approx(loss, rel=1e-6)


def test_gas_of_the_case():
    # Air at 450 K and 1 atm in common tables of properties: 0.774 kg/m3, 250.7e-7 Pa s (from memory). 350 F is 449.8 K.
    air = replace(chapter.CHIMNEY, temperature=Q_(450.0, "K"))
    assert air.density.m_as("kg/m**3") == pytest.approx(0.774, rel=0.015)
    assert air.viscosity.m_as("Pa*s") == pytest.approx(250.7e-7, rel=0.01)


def test_half_the_diameter_costs_about_32_times():
    # 2^5 for one friction factor. The factor itself moves: relative roughness doubles, so does the Reynolds number.
    half = chapter.resized(chapter.CHIMNEY, 0.5)
    ratio = (half.loss / chapter.CHIMNEY.loss).m_as("")
    assert ratio == pytest.approx(32.0 * half.factor / chapter.CHIMNEY.factor, rel=1e-9)
    assert 28.0 < ratio < 38.0


def test_the_sum_says_that_the_liner_spills_and_the_old_flue_did_not():
    # By hand: the handbook's 0.2554 B H (1/To - 1/Tm); heads of 0.5 (hood), 2 x 0.75 (elbows), f L / D, 0.5 (cap), 1.
    by_hand = 0.2554 * 29.92 * 40.0 * (1.0 / 520.0 - 1.0 / 810.0)
    assert chapter.draft(chapter.LINER).m_as("inH2O") == pytest.approx(by_hand, rel=0.005)
    for pipe, draws in ((chapter.CHIMNEY, True), (chapter.LINER, False)):
        bore = pipe.diameter.m_as("m")
        speed = pipe.mass_flow.m_as("kg/s") / pipe.density.m_as("kg/m**3") / (math.pi / 4 * bore**2)
        heads = 3.5 + Colebrook(pipe.reynolds, pipe.relative_roughness) * pipe.length.m_as("m") / bore
        spent = sum(chapter.costs(pipe).values())
        assert spent.m_as("Pa") == pytest.approx(heads * 0.5 * pipe.density.m_as("kg/m**3") * speed**2, rel=1e-5)
        assert bool(spent < chapter.draft(pipe)) is draws
        # Not by a hair: also with every coefficient a quarter off.
        assert bool(spent * (1.25 if draws else 0.8) < chapter.draft(pipe)) is draws


def test_steam_book_holds_the_head_that_leaves():
    # The inference that the book's f holds the exit loss is ours; these are the figures it rests on.
    alone, with_exit = chapter.book_ratios()
    assert len(alone) == 35
    assert (round(alone.min(), 1), round(alone.max(), 1)) == (4.7, 5.8)
    assert (round(with_exit.min(), 2), round(with_exit.max(), 2)) == (0.58, 1.52)
    assert np.mean(with_exit) == pytest.approx(0.92, abs=0.005)


# --- Figures ---

DRAWN = {
    "factors": lambda system: chapter.factor_chart(("old", chapter.CHIMNEY), ("liner", chapter.LINER)),
    "ratios": chapter.ratio_chart,
}


@pytest.mark.parametrize("name", DRAWN)
@pytest.mark.parametrize("system", ["US", "SI"])
def test_axes_are_labeled_and_can_be_read(name, system):
    for axes in DRAWN[name](system).axes:
        for axis in (axes.xaxis, axes.yaxis):
            assert axis.label.get_text()
            assert axis.label.get_size() >= 10
            assert all(tick.get_size() >= 10 for tick in axis.get_ticklabels())


def test_units_of_the_figures():
    assert chapter.ratio_chart("US").axes[0].get_xlabel().endswith("in.")
    assert chapter.ratio_chart("SI").axes[0].get_xlabel().endswith("mm")


@pytest.mark.parametrize("bore", [0.0762, 0.1524, 0.3048, 0.9144])
def test_the_picture_shows_pipe_old_flue_and_what_each_diameter_costs(bore):
    flow = replace(chapter.LINER, diameter=Q_(bore, "m"))
    section, curve = chapter._explorer_drawing(flow, "US").axes
    assert [t.get_text() for t in section.texts] == [
        f"pipe {show(flow.diameter, 'US', 'diameter')}",
        "old flue 12.0 in.",
    ]
    assert curve.get_xlabel() == "diameter, in." and curve.get_ylabel() == "loss, in. w.c."
    # The point of the pipe lies on the curve of all that the draft has to pay.
    x, y = next(line.get_data() for line in curve.lines if line.get_label() == "total")
    spent = sum(chapter.costs(flow).values()).m_as("inH2O")
    assert np.exp(np.interp(np.log(bore / 0.0254), np.log(x), np.log(y))) == pytest.approx(spent, rel=0.01)


@pytest.mark.parametrize(("bore", "words"), [(0.3048, "It draws"), (0.1524, "It spills at the hood")])
def test_the_controls_say_whether_it_draws(bore, words):
    start = {name: c.value for name, c in chapter.explorer("US").controls.items()}
    assert words in chapter.explorer_answer("US", **start | {"diameter": bore})[0]


# --- Prediction, and what the reader writes ---


def test_the_prediction_worked_again():
    # fluids: Colebrook for both walls; loss goes with f over the fifth power of the bore.
    old, liner = chapter.CHIMNEY, chapter.LINER
    times = 32.0 * Colebrook(liner.reynolds, 1.0 / 152.4) / Colebrook(old.reynolds, 1.5 / 304.8)
    found = chapter.half_as_wide(Q_(12.0, "inch"), Q_(6.0, "inch"), "US")
    assert found["times"] == pytest.approx(times, rel=1e-5) and found["heads"] == pytest.approx(16.0)
    assert found["figure"] == liner.loss
    for system in SYSTEMS:
        prediction = chapter.prediction(system)
        assert "30 times" in prediction.choices[prediction.right]


def by_hand(factor, length, diameter, density, velocity):
    # One in. w.c. is 5.2023 lbf/ft2, one lbf 32.174 lb ft/s2.
    return factor * 12 * length / diameter * density * velocity**2 / 2 / (5.2023 * 32.174)


def in_pascals(factor, length, diameter, density, velocity):
    return factor * 1000 * length / diameter * density * velocity**2 / 2


@pytest.mark.parametrize(("system", "function", "parts"), [("US", by_hand, 12), ("SI", in_pascals, 1000)])
def test_what_is_written_is_right_by_other_means(system, function, parts):
    task = chapter.writing(system)
    slipped = {"one_unit": 1 / parts, "no_half": 2.0, "fanning": 4.0}
    for case in task.cases:
        assert tried(task, case, function).kind == "right"
        for name, times in slipped.items():
            wrong = tried(task, case, lambda *given, times=times: times * function(*given))
            assert wrong.words == task.slips[name], name
        plain = tried(task, case, lambda f, length, d, rho, v: function(f, length, d, rho, v) / v)
        assert plain.words == task.slips["not_squared"]


# --- What the text says ---


def test_the_tables_of_the_chapter():
    for system in SYSTEMS:
        assert show(chapter.takes(chapter.LINER), system) in chapter.the_sum(system).data
        assert f"{chapter.LINER.factor:.4f}" in chapter.side_by_side(system).data
    assert chapter.takes(chapter.LINER) < chapter.LINER.mass_flow < chapter.takes(chapter.CHIMNEY)
    # At the flow that it takes, what is spent is the draft; the factor hardly moves with the flow.
    at_rest = replace(chapter.LINER, mass_flow=chapter.takes(chapter.LINER))
    spent = sum(chapter.costs(at_rest).values())
    assert spent.m_as("Pa") == pytest.approx(chapter.draft(at_rest).m_as("Pa"), rel=0.02)
    assert "4.7 to 5.8" in chapter.book_words() and "0.58 to 1.52, 0.92" in chapter.book_words()
    assert "0.5 mm" not in chapter.walls().data and "masonry" in chapter.walls().data
    assert (
        f"{chapter.resized(chapter.CHIMNEY, 0.5).factor / chapter.CHIMNEY.factor:.2f}" in chapter.against_the_old().data
    )
