"""The chapter on vent sizing: questions worked again, live controls at both ends, checks, the chart."""

from dataclasses import replace

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.handbook import vent_sizing as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent import draft_margin, single_vent, vent_at_work, vent_sizing
from ventcalc.vent.network import Season

CHECKS = chapter.checks()


def by_other_means():
    """The answers worked with plain numbers; the last by a search of our own on `draft_margin.margin`."""
    boiler = chapter.laundry()
    wide = chapter.rebuilt(boiler.plant, Q_(5.0, "inch"))
    low, high = 10.0, 500.0  # ft
    for _ in range(60):
        middle = 0.5 * (low + high)
        works = draft_margin.margin(wide, boiler.seasons[0], run=Q_(middle, "ft")).m > 0.0
        low, high = (middle, high) if works else (low, middle)
    return [
        Q_((2 * 0.040 * 249.089 / (7 * 0.050 * 16.01846)) ** 0.5 * np.pi / 4 * 0.127**2, "m**3/s"),
        Q_(100e3 * 1055.06 / 3600 * (0.66 - 0.455) * 1e-6, "kg/s"),
        Q_(4 * 0.75 * (4 / 12) / 0.035, "ft"),
        Q_(low, "ft"),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), by_other_means(), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "without any friction" in mark(questions[0], Q_((2 * 9.964 / 0.8009) ** 0.5 * 0.012668, "m**3/s")).sentence
    assert "flue gas alone" in mark(questions[1], Q_(106.0, "lb/hour")).sentence
    assert "in inches" in mark(questions[2], Q_(4 * 0.75 * 4 / 0.035, "ft")).sentence


# --- Prediction, and what the reader writes ---


def most_input(height, inch):
    """Input at which nothing is left over, by a search of our own on `draft_margin.margin` [MBH]."""
    low, high = 20.0, 600.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        spare = draft_margin.margin(
            chapter.vent(height=Q_(height, "ft"), diameter=Q_(inch, "inch")),
            chapter.MILD,
            heat_input=Q_(middle, "MBH"),
        )
        low, high = (middle, high) if spare.m > 0.0 else (low, middle)
    return low


def test_the_prediction_worked_again():
    now, taller, wider = most_input(18.0, 5.0), most_input(36.0, 5.0), most_input(18.0, 6.0)
    found = chapter.twice_as_high(Q_(18.0, "ft"), Q_(36.0, "ft"))
    assert found["figure"].m_as("MBH") == pytest.approx(taller, rel=1e-3)
    assert found["gain"] == pytest.approx(taller / now - 1.0, abs=2e-3) and found["gain"] < wider / now - 1.0
    # Nearer to a quarter than to the root of two, by far less than the gain of a doubled draft.
    assert found["right"] == 2 and taller / now < 2**0.5 - 0.1
    for system in SYSTEMS:
        prediction = chapter.prediction(system)
        assert "a quarter" in prediction.choices[prediction.right]


def by_hand(flow, density, draft, heads):
    # One in. w.c. is 5.2023 lbf/ft2, one lbf 32.174 lb ft/s2.
    speed = (2 * 5.2023 * 32.174 * draft / (heads * density)) ** 0.5  # ft/s
    return 12 * (4 * flow / 3600 / (np.pi * density * speed)) ** 0.5


def in_meters(flow, density, draft, heads):
    return (4 * flow / (np.pi * density * (2 * draft / (heads * density)) ** 0.5)) ** 0.5


@pytest.mark.parametrize(("system", "function", "constant"), [("US", by_hand, 359.2), ("SI", in_meters, 1.111)])
def test_what_is_written_is_right_by_other_means(system, function, constant):
    task = chapter.writing(system)
    for case in task.cases:
        flow, density, draft, heads = case.given
        inner = heads / (density * draft)
        assert tried(task, case, function).kind == "right"
        assert tried(task, case, lambda m, r, d, n: (m / constant * (n / (r * d)) ** 0.5) ** 0.5).kind == "right"
        slipped = {
            "one_root": flow / constant * inner**0.5,
            "no_heads": (flow / constant * (1 / (density * draft)) ** 0.5) ** 0.5,
            "upside_down": (flow / constant * (1 / inner) ** 0.5) ** 0.5,
            "heads_straight": (flow / constant * heads / (density * draft) ** 0.5) ** 0.5,
        }
        for name, wrong in slipped.items():
            assert tried(task, case, lambda *_, wrong=wrong: wrong).words == task.slips[name], name


# --- Live controls, checks, figures ---


def test_explorer_starts_at_the_vent_of_the_chapter():
    start = {name: c.value for name, c in chapter.controls("US").items()}
    plant = chapter.vent()
    assert start["diameter"] == pytest.approx(plant.sections[-1].diameter.m_as("m"))
    assert start["height"] == pytest.approx(single_vent.rise_section(plant).length.m_as("m"))
    assert start["heat_input"] == pytest.approx(100e3 * 1055.06 / 3600, rel=1e-4)


def test_a_vent_that_does_not_draw_is_told_with_what_is_lacking():
    start = {name: c.value for name, c in chapter.controls("US").items()}
    numbers, _, drawn = chapter.explorer_answer("US", **start | {"heat_input": 117000.0})
    assert "It does not draw" in numbers
    assert drawn.svg.startswith("<svg") and "Boiler" in drawn.words


def test_checks_agree_or_say_why():
    assert unexplained(CHECKS) == []
    assert all(c.agrees for c in CHECKS)
    assert len(CHECKS) == 8


def test_chart_is_the_answer_to_its_question():
    plant = chapter.vent()
    figure = chapter.size_chart(plant, chapter.MILD)
    (axes,) = figure.axes
    assert axes.get_xlabel() == "height, ft" and axes.get_ylabel() == "smallest diameter, in."
    x, y = axes.lines[1].get_data()
    for height, inch in list(zip(x, y, strict=True))[:4]:
        assert draft_margin.margin(plant, chapter.MILD, height=Q_(height, "ft"), diameter=Q_(inch, "inch")).m == (
            pytest.approx(0.0, abs=1e-6)
        )
    assert chapter.size_chart(plant, chapter.MILD, "SI").axes[0].get_ylabel() == "smallest diameter, mm"


def test_answers_that_are_not_there_are_said_in_words():
    rows = chapter.answers(chapter.vent(heat_input=Q_(900.0, "MBH")), chapter.MILD, "US")
    assert [r[0] for r in rows][2] == "least height"
    assert "no height" in rows[2][2]


def test_one_size_wider_gains_more_than_twice_the_height():
    plant = chapter.vent()
    drawn, high, wide = (
        vent_sizing.capacity(plant, chapter.MILD, **sizes).m
        for sizes in ({}, {"height": Q_(36.0, "ft")}, {"diameter": Q_(6.0, "inch")})
    )
    assert drawn < high < wide
    assert np.isclose(high / drawn, 1.25, atol=0.1)
    assert "+25 %" in chapter.gain_by("US").data and f"{high * 1e-3:.1f} kW" in chapter.gain_by("SI").data


@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_of_the_chapter_tell_what_its_text_says(system):
    winter = chapter.laundry().seasons[0]
    wide = chapter.rebuilt(chapter.laundry().plant, Q_(5.0, "inch"))
    assert show(vent_sizing.longest_run(wide, winter), system, "altitude") in chapter.wider_laundry(system).data
    # One size more and the fan carries the run that is drawn, which it does not in the size as drawn.
    most = chapter.laundry().plant.appliances[0].window[1]
    assert vent_at_work.operate(wide, winter).outlet_pressure < most
    assert vent_at_work.operate(chapter.laundry().plant, winter).outlet_pressure > most
    assert show(vent_sizing.capacity(chapter.vent(), chapter.MILD), system) in chapter.warm_days(system).data
    assert "rises" in chapter.too_wide(system).data or "slow" in chapter.too_wide(system).data


def test_the_warmer_the_day_the_less_the_vent_takes():
    # Draft goes with 1/To - 1/Tm (hydrostatics), so it can only fall as the weather warms.
    days = [Season("day", Q_(float(t), "degF"), Q_(70.0, "degF")) for t in (0, 60, 85, 95)]
    most = [vent_sizing.capacity(chapter.vent(), day).m_as("MBH") for day in days]
    assert most == sorted(most, reverse=True) and most[-1] > 100.0
    assert most[1:] == pytest.approx([147.0, 133.0, 127.0], abs=1.0)  # as the chapter's text tells


@pytest.mark.parametrize("kind", ["draft hood", "fan-assisted"])
def test_gas_at_the_least_dry_temperature_just_keeps_the_wall_dry(kind):
    plant = chapter.vent(kind)
    least = chapter.least_dry_flue_temperature(plant, chapter.MILD)
    assert least > vent_sizing.least_flue_temperature(plant, chapter.MILD)

    def wet(kelvin):
        boiler = plant.appliances[0]
        level = replace(boiler.levels[0], flue_temperature=Q_(kelvin, "K"))
        return vent_at_work.operate(replace(plant, appliances=(replace(boiler, levels=(level,)),)), chapter.MILD).wet

    assert wet(least.m_as("K") - 3.0) and not wet(least.m_as("K") + 3.0)


def test_a_wide_cold_vent_may_have_no_dry_answer():
    plant = chapter.vent("fan-assisted", Q_(20.0, "MBH"), height=Q_(100.0, "ft"), diameter=Q_(16.0, "inch"))
    with pytest.raises(vent_sizing.NoAnswer, match="keeps its wall dry"):
        chapter.least_dry_flue_temperature(plant, Season("frost", Q_(-20.0, "degF"), Q_(60.0, "degF")))
