"""The chapter on re-entrainment: what its questions, checks, figures and live controls say."""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from ventcalc.building import air_intakes, plume, re_entrainment, re_entrainment_words
from ventcalc.building.code_rules import FAIL, PASS, READING
from ventcalc.checked import unexplained
from ventcalc.handbook import re_entrainment as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, parse, show, unit_text

START = {name: control.value for name, control in chapter.controls("SI").items()}


# --- Questions, worked again by other means ----------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_answers_by_hand(system):
    string, flush, needed, cone = (q.expected for q in chapter.questions(system))
    assert string.m_as("ft") == pytest.approx(26.0)  # 24 and 10: a Pythagorean triple
    assert float(flush.m_as("")) == pytest.approx(3.14159265 * 4.0 * 2.4 * 1.6 / 0.5)
    assert float(needed.m_as("")) == pytest.approx(450.0 * 489.67 / 759.67, rel=1e-4)  # in degrees Rankine
    assert cone.m_as("inch") == pytest.approx(14.0 * (11.0 / 30.0) ** 0.5)


def test_slips_are_told_apart():
    string, flush, needed, cone = chapter.questions("US")
    assert "through the building" in mark(string, Q_((18**2 + 36 + 100) ** 0.5, "ft")).sentence
    assert "open air" in mark(flush, 2.0 * flush.expected).sentence
    assert "mole fractions" in mark(needed, Q_(450.0, "")).sentence
    assert "square of the diameter" in mark(cone, Q_(14.0 * 11 / 30, "inch")).sentence


# --- Prediction, and what the reader writes ----------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    # Wind by wind and load by load, spreads, wake and plume written out from the handbook's equations.
    found = chapter.nearer(Q_(12, "ft"), Q_(15, "ft"))
    least = {}
    for feet in (15.0, 26.0):
        leaves, best = chapter.gas(float(Q_(14, "inch").m_as("m"))), np.inf
        for k, wind in itertools.product(range(3), np.geomspace(2.04, 20.0, 400)):
            x, speed, ratio = 0.3048 * feet, float(leaves.velocity[k]), float(leaves.density_ratio[k])
            across, upward = (float(i) for i in plume.turbulence.bare(7.3152, 0.5))
            sideways, above = np.hypot(across * x, 0.35 * 0.3556), np.hypot(upward * x, 0.35 * 0.3556)
            rise = plume.jet_rise.bare(x, wind, speed, 0.3556, 7.3152, 0.5, ratio)
            over = 3.6576 + rise - 0.3556 * max(3.0 - speed / wind, 0.0) - 1.2192
            volumes = (
                4.0 * wind * sideways * above / (speed * 0.3556**2) * np.exp(max(over, 0.0) ** 2 / (2.0 * above**2))
            )
            best = min(best, volumes / ratio)
        least[feet] = best
    assert float(found["figure"].m_as("")) == pytest.approx(least[15.0], rel=0.02)
    assert found["here"] == pytest.approx(least[26.0], rel=0.02)
    assert found["right"] == 2 and least[15.0] > 1.5 * least[26.0]
    assert chapter.prediction(system).choices[2].startswith("Less")


@pytest.mark.parametrize(
    ("height", "near", "right"), [("4 ft", "15 ft", 0), ("12 ft", "25 ft", 1), ("12 ft", "12 ft", 2)]
)
def test_the_prediction_goes_with_the_place(height, near, right):
    assert chapter.nearer(parse(height), parse(near))["right"] == right


def arrives(inside, wind, velocity, diameter, across, upward, over):
    return inside * velocity * diameter**2 / (4.0 * wind * across * upward) * np.exp(-(over**2) / (2.0 * upward**2))


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_hand(system):
    task = chapter.writing(system)
    assert {tried(task, case, arrives).kind for case in task.cases} == {"right"}
    far = task.cases[1]  # the one whose axis passes over the intake
    slips = {
        "wrong_sign": lambda c, *rest, over: arrives(c, *rest, 0.0) ** 2 / arrives(c, *rest, over),
        "no_rise": lambda c, *rest, over: arrives(c, *rest, 0.0),
        "no_half": lambda c, *rest, over: arrives(c, *rest, over * 2.0**0.5),
        "upside_down": lambda c, *rest, over: c**2 / arrives(c, *rest, over),
    }
    for name, wrong in slips.items():
        assert (
            tried(task, far, lambda *given, wrong=wrong: wrong(*given[:-1], over=given[-1])).words == task.slips[name]
        )


# --- Checks ---------------------------------------------------------------------------------------------------------


def test_checks_agree_or_say_why():
    checks = chapter.checks()
    assert unexplained(checks) == []
    assert all(c.agrees for c in checks) and len(checks) == 32
    assert sum(c.status.startswith("published") for c in checks) == 31


# --- What the chapter says -----------------------------------------------------------------------------------------


def test_the_code_distance_is_met_and_the_gas_arrives():
    reading = re_entrainment.judge(*chapter.school())
    assert reading.distance_verdict == "pass" and reading.verdict == "needs the authority's reading"
    assert 80.0 < reading.dilution < 130.0


def test_gas_of_the_school_by_hand():
    # 1600 MBH of natural gas: 0.722 lb of air for 1000 Btu (theoretical), 30 % more, and the fuel's own 0.043 lb; at
    # 300 °F air weighs 0.0523 lb/ft3, and the wet gas 27.9/28.96 of that; through 14 inches.
    leaves = chapter.gas(float(Q_(14, "inch").m_as("m")))
    flow = 1600.0 * (0.722 * 1.3 + 0.043) / 3600.0
    by_hand = flow / (0.0523 * 27.9 / 28.96) / (np.pi / 4 * (14 / 12) ** 2)
    assert Q_(leaves.velocity[0], "m/s").m_as("ft/s") == pytest.approx(by_hand, rel=0.02)
    assert leaves.velocity == pytest.approx(leaves.velocity[0] * chapter.LOADS)


def test_taking_the_cap_off_alone_changes_nothing():
    stack, leaves, intake, roof = chapter.school()
    free = replace(stack, capped=False)
    one, other = (re_entrainment.least_dilution(s, leaves, intake, roof) for s in (stack, free))
    assert one == pytest.approx(other, rel=1e-9)
    # But three diameters more of height is what the cap costs where the plume passes near the intake's top.
    tall = [re_entrainment.least_dilution(replace(s, height=Q_(12, "ft")), leaves, intake, roof) for s in (stack, free)]
    assert tall[1] > 1.1 * tall[0]


def test_farther_is_worse_under_a_tall_stack():
    _, leaves, intake, roof = chapter.school()
    tall = air_intakes.Stack("tall", Q_(12, "ft"), Q_(14, "inch"))
    near, here, far = (
        re_entrainment.least_dilution(tall, leaves, replace(intake, distance=Q_(x, "ft")), roof) for x in (15, 26, 90)
    )
    assert here < 0.7 * near and far > here


# --- Live controls ----------------------------------------------------------------------------------------------


def test_explorer_shows_what_the_library_says():
    words, _ = chapter.explorer_answer("US", **START)
    stack = air_intakes.Stack(chapter.STACK.name, Q_(START["height"], "m"), Q_(START["diameter"], "m"), True)
    intake = air_intakes.Intake(chapter.INTAKE.name, Q_(START["distance"], "m"), Q_(START["top"], "m"))
    leaves = chapter.gas(START["diameter"], START["nox"])
    reading = re_entrainment.judge(stack, leaves, intake, air_intakes.Roof(chapter.ROOF.height, Q_(0.5, "m")))
    assert re_entrainment_words.sentences(reading, "US")[1] in words.replace("&#x27;", "'")
    assert show(Q_(float(leaves.velocity[0]), "m/s"), "US") in words
    cells = [c.replace("&#x27;", "'") for c in re.findall(r"<td[^>]*>([^<]*)</td>", words)]
    assert [c for c in cells if c in (PASS, FAIL, READING)] == [p.verdict for p in reading.parts]


@pytest.mark.slow
def test_height_and_less_nox_help():
    def added(**changes):
        words, _ = chapter.explorer_answer("SI", **START | changes)
        return float(re.search(r">NO2</td><td[^>]*>([\d.]+) ppm", words)[1])

    assert added(nox=9e-6) == pytest.approx(added() * 9 / 60, rel=0.02)
    assert added(height=6.0, capped=False) < 0.1 * added()


# --- Figures -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_axes_are_labeled_and_can_be_read(system):
    stack, leaves, _, _ = chapter.school()
    wind, foot = (unit_text({"US": u, "SI": s}[system]) for u, s in (("mph", "m/s"), ("ft", "m")))
    for figure, unit in ((chapter.wind_chart({"as it is": (stack, leaves)}, system), wind),
                         (chapter.distance_chart(stack, leaves, system), foot)):  # fmt: skip
        (axes,) = figure.axes
        assert unit in axes.get_xlabel() and "dilution" in axes.get_ylabel()
        assert all(t.get_size() >= 10 for t in (*axes.get_xticklabels(), *axes.get_yticklabels()))


@pytest.mark.parametrize("system", SYSTEMS)
def test_drawing_says_the_distance(system):
    words = " ".join(t.get_text() for t in chapter.school_drawing(system).axes[0].texts)
    assert show(chapter.INTAKE.distance, system) in words and "north wind" in words


def test_section_ends_at_the_stack_and_the_intake():
    from matplotlib.figure import Figure

    axes = Figure().add_subplot()
    chapter.roof_section(axes, *chapter.school(), 3.0, "SI")
    assert max(line.get_ydata()[-1] for line in axes.lines[2:3]) == pytest.approx(chapter.STACK.height.m_as("m"))
    assert axes.patches[0].get_x() == pytest.approx(chapter.INTAKE.distance.m_as("m"))


@pytest.mark.parametrize("system", SYSTEMS)
def test_answers_in_words(system):
    assert chapter.length_text(None, system) == chapter.velocity_text(None, system) == "none that was tried"
    assert chapter.length_text(Q_(3.048, "m"), system) == {"US": "10.0 ft", "SI": "3.0 m"}[system]
    assert chapter.velocity_text(Q_(10.16, "m/s"), system) == {"US": "2,000 fpm", "SI": "10.2 m/s"}[system]
