"""Atmosphere, the chapter: questions by other means, live controls at both ends, its checks and figures."""

import itertools

import CoolProp.CoolProp as coolprop
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from ventcalc import checked
from ventcalc.handbook import atmosphere
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

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
    assert panel.numbers.value != before and ">1.000<" in panel.numbers.value


@pytest.mark.parametrize("system", ["US", "SI"])
def test_figures_say_their_units(system):
    axes = atmosphere.pressure_curve(system).axes[0]
    assert ("ft" in axes.get_xlabel(), "inHg" in axes.get_ylabel()) == (system == "US",) * 2
    assert len(axes.lines[1].get_xdata()) == 16 and len(axes.lines[2].get_xdata()) == 7


def test_a_third_more_volume():
    # The chapter's number, by the fluids package.
    assert atmosphere.expansion(Q_(LODGE, "m")) == pytest.approx(101325 / ATMOSPHERE_1976(LODGE).P, rel=1e-4)
    assert 1.33 < atmosphere.expansion(Q_(LODGE, "m")) < 1.35


# --- Tables, prediction, and what the reader writes ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_hold_both_places_and_three_temperatures(system):
    both, humid = atmosphere.both_places(system).data, atmosphere.humid_air(system).data
    assert ("22.33 inHg" if system == "US" else "75.63 kPa") in both and both.count("<tr>") == 3
    assert humid.count("<tr>") == 4


def test_room_air_at_the_lodge_pulls_a_quarter_less():
    pulls = [atmosphere.pull_of_room_air(place, atmosphere.WINTER) for place in (atmosphere.SEA, atmosphere.LODGE)]
    assert (pulls[1] / pulls[0]).m_as("") == pytest.approx(ATMOSPHERE_1976(LODGE).P / 101325.0, rel=1e-4)


def test_saturated_air_on_a_hot_day_is_lighter_as_humid_air_of_another_library():
    dry, wet = (1.0 / coolprop.HAPropsSI("Vha", "T", 308.15, "P", 101325.0, "R", humidity) for humidity in (0.0, 1.0))
    assert atmosphere.lighter_when_saturated(Q_(35.0, "degC")) == pytest.approx(1.0 - wet / dry, rel=0.01)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    # Draft goes with p, loss at one mass flow with 1/p: by the fluids package's standard atmosphere.
    ratio = (ATMOSPHERE_1976(LODGE).P / 101325.0) ** 2
    found = atmosphere.same_vent(Q_(LODGE, "m"))
    assert found["figure"].m_as("") == pytest.approx(ratio, rel=1e-3) and 0.5 < ratio < 0.6
    assert found["right"] == 0 and "half" in atmosphere.prediction(system).choices[0]


@pytest.mark.parametrize(("meters", "right"), [(100.0, 2), (1200.0, 1), (2800.0, 0)])
def test_the_prediction_goes_with_the_altitude(meters, right):
    assert atmosphere.same_vent(Q_(meters, "m"))["right"] == right


def in_pounds(barometer, temperature):
    # 70 degF and 29.92 inHg: 0.07492 lb/ft3 (any table of air, from memory); the rest by proportion.
    return 0.07492 * (barometer / 29.92) * (529.67 / (temperature + 459.67))


def in_kilograms(barometer, temperature):
    # 0 degC and 101325 Pa: 1.2929 kg/m3, real air (any table, from memory).
    return 1.2929 * (barometer / 101325.0) * (273.15 / (temperature + 273.15))


@pytest.mark.parametrize(("system", "function", "zero"), [("US", in_pounds, 459.67), ("SI", in_kilograms, 273.15)])
def test_what_is_written_is_right_by_other_means(system, function, zero):
    task = atmosphere.writing(system)
    assert {tried(task, case, function).kind for case in task.cases} == {"right"}
    for case in task.cases:
        for slip, wrong in (
            ("not_absolute", lambda b, t: function(b, t - zero)),
            ("at_sea_level", lambda b, t: function(29.921 if system == "US" else 101325.0, t)),
            ("upside_down", lambda b, t: function(b, t) * (t + zero) ** 2),
            ("other_zero", lambda b, t: function(b, t - zero + (273.15 if system == "US" else 459.67))),
        ):  # fmt: skip
            assert tried(task, case, wrong).words == task.slips[slip], (case, slip)
