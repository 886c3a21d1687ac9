"""COHb: the uptake against the integral of its own equation, its end, and oxygen.

Published figures stand in data/building/carbon_monoxide_checks.csv and are held by
tests/handbook/test_carbon_monoxide.py.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from ventcalc.building import co_limits, cohb
from ventcalc.units import Q_


@pytest.mark.parametrize("activity", cohb.activities())
@given(level=st.floats(5.0, 3000.0), initial=st.floats(0.0, 0.3), hours=st.floats(0.2, 12.0))
@settings(max_examples=10, deadline=None)
def test_blood_against_the_integral_of_its_equation(activity, level, initial, hours):
    # dx/dt = F(x) has t = integral of dx/F(x): worked by quadrature, it must give the hours back.
    who = cohb.person(activity)
    end = float(cohb.cohb.bare(np.array([0.0, 3600.0 * hours]), np.full(2, level), who, initial)[-1])
    dry = 101325.0 - cohb.BODY_VAPOUR
    oxygen = 0.2095 * dry - cohb.OXYGEN_DROP

    def slope(x):
        taken = level * 1e-6 * dry - x * oxygen / (cohb.HALDANE * (1.0 - x))
        return (cohb.MADE + taken / who.resistance(101325.0)) / (cohb.BLOOD * cohb.CAPACITY)

    steady = float(cohb.steady_cohb.bare(level, who))
    assert slope(steady) * 3600.0 == pytest.approx(0.0, abs=1e-9)
    if abs(end - steady) > 0.02 * abs(initial - steady):  # near its end any time fits
        assert quad(lambda x: 1.0 / slope(x), initial, end)[0] == pytest.approx(3600.0 * hours, rel=2e-3)


@pytest.mark.parametrize("activity", cohb.activities())
def test_blood_ends_where_the_steady_form_says(activity):
    who = cohb.person(activity)
    levels = np.array([[0.0], [35.0], [400.0]])
    end = cohb.cohb.bare(np.array([0.0, 30 * 86400.0]), np.repeat(levels, 2, axis=1), who)[:, -1]
    assert end == pytest.approx(cohb.steady_cohb.bare(levels[:, 0], who), rel=1e-3)


def test_linear_form_for_little_and_its_half_life():
    who = cohb.person("sedentary")
    times = np.array([0.0, 1800.0, 7200.0])
    full = cohb.cohb.bare(times, np.full(3, 50.0), who)
    assert cohb.cohb_linear.bare(times, 50.0, who) == pytest.approx(full, rel=0.03)
    half = cohb.half_life.bare(who)
    rest = cohb.cohb_linear.bare(1e9, 0.0, who)
    fallen = cohb.cohb_linear.bare(half, 0.0, who, 0.1)
    assert fallen - rest == pytest.approx(0.5 * (0.1 - rest), rel=1e-9)
    # Above a tenth the linear form overshoots: half of all haemoglobin at 400 ppm and more.
    assert cohb.cohb_linear.bare(1e9, 1000.0, who) > 1.5 * cohb.steady_cohb.bare(1000.0, who)


def test_blood_in_oxygen_and_at_altitude():
    who = cohb.person("resting")
    assert cohb.half_life(who, oxygen=1.0) < 0.2 * cohb.half_life(who)
    # Less oxygen at 2400 m (75.6 kPa): the same ppm end at more COHb, though fewer milligrams are breathed.
    assert cohb.steady_cohb(Q_(50, "ppm"), who, Q_(75.6, "kPa")) > cohb.steady_cohb(Q_(50, "ppm"), who)


def test_a_pulse_is_not_stepped_over():
    times = np.array([0.0, 40000.0, 40060.0, 40360.0, 40420.0, 86400.0])
    pulse = np.array([0.0, 0.0, 3000.0, 3000.0, 0.0, 0.0])
    bound = cohb.cohb.bare(times, pulse, cohb.person("heavy work"))
    assert bound[4] > 0.15 and bound[5] < bound[4]


def test_shapes_and_units_of_blood():
    times, levels = Q_([0, 30, 60], "minute"), Q_([[0, 0, 0], [100, 100, 100]], "ppm")
    found = cohb.cohb(times, levels, cohb.person("light work"))
    assert found.shape == (2, 3) and found[1, -1] > found[0, -1]
    assert cohb.cohb(Q_([0, 0.5, 1], "hour"), levels, cohb.person("light work")).m == pytest.approx(found.m)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pressure": Q_(40, "kPa")}, "pressure = .* must be at least"),
        ({"oxygen": 0.1}, "oxygen = .* must be at least"),
        ({"initial": 1.0}, "initial = .* must be at most"),
        ({"oxygen": 1.05}, "oxygen = .* must be at most"),
        ({"co": Q_([0, 1.05e6], "ppm")}, "co = .* must be at most"),
        ({"co": Q_([-1, 0], "ppm")}, "co = -1 ppm must be at least"),
    ],
)
def test_blood_that_cannot_be(change, words):
    given = {"times": Q_([0, 1], "hour"), "co": Q_([0, 1], "ppm"), "who": cohb.person("resting")} | change
    with pytest.raises(ValueError, match=words):
        cohb.cohb(**given)


def test_unknown_activity_lists_the_known():
    with pytest.raises(ValueError, match="sedentary, light work, heavy work, resting"):
        cohb.person("running")


def test_judged_blood_is_the_equation_raised():
    times = np.linspace(0.0, 3600.0, 61)
    ppm, who = np.full(61, 200.0), cohb.person("heavy work")
    plain = cohb.cohb.bare(times, ppm, who, pressure=101325.0)
    judged = cohb.judged_cohb(times, ppm, who, 101325.0)
    assert judged == pytest.approx(1.12 * plain)
    # Never more than all of it.
    assert cohb.judged_cohb(times, np.full(61, 1e5), who, 101325.0).max() <= 1.0


@pytest.mark.parametrize("activity", cohb.activities())
def test_half_life_and_rest_worked_in_the_units_of_the_sheet(activity):
    """The linear form in mL, minutes and mmHg, with the sheet's figures written out (Michigan OSHA laboratory; 49 mmHg
    of the public page): A = Pc / (M [O2Hb]), B = 1/DL + (760 - 47)/VA, half in ln 2 Vb B / A, at rest Vco B / A."""
    given = {row["rule"]: float(row["value"]) for row in co_limits.facts("uptake") if row["body"] == activity}
    in_the_lung = 0.2095 * (760.0 - 47.0) - 49.0
    a = in_the_lung / (218.0 * 0.2)
    b = 1.0 / given["diffusing capacity"] + (760.0 - 47.0) / given["alveolar ventilation"]
    who = cohb.person(activity)
    assert float(cohb.half_life.bare(who)) / 60.0 == pytest.approx(math.log(2.0) * 5500.0 * b / a, rel=1e-4)
    assert float(cohb.cohb_linear.bare(1e9, 0.0, who)) == pytest.approx(0.007 * b / a / 0.2, rel=1e-4)


def test_six_atmospheres_are_taken_and_half_of_one_more_is_not():
    """The most of a pressure chamber for treatment (from memory)."""
    given = {"times": Q_([0, 1], "hour"), "co": Q_([0, 1], "ppm"), "who": cohb.person("resting")}
    assert np.isfinite(cohb.cohb(**given, pressure=Q_(6.0, "atm")).m).all()
    with pytest.raises(ValueError, match="pressure = .* must be at most"):
        cohb.cohb(**given, pressure=Q_(6.5, "atm"))
