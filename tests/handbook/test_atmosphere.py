"""Atmosphere, the chapter: questions by other means, live controls at both ends, its checks and figures."""

import itertools

import CoolProp.CoolProp as coolprop
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from ventcalc import checked
from ventcalc.handbook import atmosphere
from ventcalc.units import Q_

LODGE = 2400.0  # m


def test_every_check_agrees_or_says_why():
    assert checked.unexplained(atmosphere.checks()) == []
    assert len(atmosphere.checks()) == 75
    # One row misses its tolerance; its remark says where the printed digit comes from.
    assert [c.id for c in atmosphere.checks() if not c.agrees] == ["S023"]


# IPTS-68 less ITS-90 in K at round degrees Celsius: Preston-Thomas, Metrologia 27 (1990) 3, Table 6 (from memory).
SCALE_OF_1968 = {0: 0.0, 10: 0.002, 20: 0.005, 25: 0.006, 30: 0.007, 40: 0.010, 50: 0.013, 55: 0.0145, 59: 0.0157,
                 60: 0.016, 70: 0.018, 80: 0.021, 90: 0.024}  # fmt: skip


def test_the_remark_on_the_scale_of_1968_holds():
    found = [c for c in atmosphere.checks() if "scale of 1968" in c.remark]
    assert len(found) == 13
    for c, (celsius, off) in zip(found, SCALE_OF_1968.items(), strict=True):
        ours = atmosphere.saturation_pressure(Q_(celsius - off, "degC")).m_as("kPa")
        assert ours == pytest.approx(c.published, rel=2.5e-4), c.id


def by_other_means():
    """Answers by the fluids package's standard atmosphere, ideal air by hand, and CoolProp's humid air."""
    pressure = ATMOSPHERE_1976(LODGE).P
    return [
        (Q_(pressure, "Pa"), 1e-3),
        (Q_(pressure * 0.0289647 / (8.314462618 * 255.372) / 1.20139, ""), 1e-3),
        (Q_(101325 / ATMOSPHERE_1976(1524).P - 1, ""), 1e-3),
        # Real air takes up 0.4 to 0.5 % more vapor than the ideal mixture.
        (Q_(coolprop.HAPropsSI("Y", "T", 302.594, "P", pressure, "R", 0.6), ""), 6e-3),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions(system):
    asked = atmosphere.questions(system)
    assert len(asked) == len(by_other_means())
    for exercise, (expected, near) in zip(asked, by_other_means(), strict=True):
        assert exercise.expected.m_as(expected.units) == pytest.approx(expected.m, rel=near)
        assert exercise.check(expected).kind == "right"
        assert exercise.check(exercise.example).kind == "wrong"
        for slip in exercise.slips:
            verdict = exercise.check(slip.answer)
            assert verdict.kind == "wrong" and verdict.sentence == slip.reason


@pytest.mark.parametrize("system", ["US", "SI"])
def test_live_controls_at_both_ends(system):
    panel = atmosphere.explorer(system)
    ends = [[c.options[0][1], c.options[-1][1]] for c in panel.controls.values()]
    seen = set()
    for values in itertools.product(*ends):
        numbers, picture = atmosphere.explorer_answer(system, **dict(zip(panel.controls, values, strict=True)))
        assert picture.startswith(b"\x89PNG") and "nan" not in numbers and "cannot" not in numbers
        seen.add(numbers)
    # Humidity of air at -30 °F changes no digit shown but its own.
    assert len(seen) == 8
    before = panel.numbers.value
    panel.controls["altitude"].value = 0.0
    assert panel.numbers.value != before and "1.000 times" in panel.numbers.value


@pytest.mark.parametrize("system", ["US", "SI"])
def test_figures_say_their_units(system):
    axes = atmosphere.pressure_curve(system).axes[0]
    assert ("ft" in axes.get_xlabel(), "inHg" in axes.get_ylabel()) == (system == "US",) * 2
    assert len(axes.lines[1].get_xdata()) == 16 and len(axes.lines[2].get_xdata()) == 7
    words = " ".join(t.get_text() for t in atmosphere.two_sites(system).axes[0].texts)
    assert "1.34" in words and ("inHg" if system == "US" else "kPa") in words


def test_a_third_more_volume():
    # The chapter's number, by the fluids package.
    assert atmosphere.expansion(Q_(LODGE, "m")) == pytest.approx(101325 / ATMOSPHERE_1976(LODGE).P, rel=1e-4)
    assert 1.33 < atmosphere.expansion(Q_(LODGE, "m")) < 1.35
