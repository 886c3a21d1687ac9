"""Fan selection: duties worked again by the functions it stands on, reasons told with their numbers."""

from dataclasses import replace

import numpy as np
import pytest
from sample_fans import FANS, MIDDLE

from ventcalc.draft import fan_curve, fan_selection, fan_table
from ventcalc.units import Q_
from ventcalc.words import told

DUTIES = {
    "flow": Q_([200.0, 600.0, 1200.0], "cfm"),
    "pressure": Q_([0.02, 0.05, 0.15], "inH2O"),
    "density": Q_([0.066, 0.064, 0.060], "lb/ft**3"),
    "temperature": Q_([120.0, 150.0, 220.0], "degF"),
    "cold_density": Q_(0.086, "lb/ft**3"),
}


def test_selection_agrees_with_the_functions_it_stands_on():
    chosen = fan_selection.select(**DUTIES)
    assert chosen.fitting[0].fan.name == "roof 12"
    for c in chosen.fitting:
        needed = fan_curve.speed_for(c.fan, DUTIES["flow"], DUTIES["pressure"], DUTIES["density"]).m
        assert c.needed == pytest.approx(needed) and c.margin == pytest.approx(c.fan.most_speed / needed.max() - 1.0)
        held = ~c.slow
        assert c.excess[held] == pytest.approx(np.zeros(held.sum()), abs=1e-6)
        assert np.all(c.speed >= c.fan.least_speed) and np.all(c.excess >= -1e-6)
    assert len(chosen.fitting) + len(chosen.rejected) == len(fan_table.names("roof"))
    assert all(c.faults for c in chosen.rejected) and all(not c.faults for c in chosen.fitting)


def test_selection_in_both_unit_systems():
    si = {k: v.to_base_units() for k, v in DUTIES.items()}
    us, metric = fan_selection.select(**DUTIES), fan_selection.select(**si)
    assert [c.fan.name for c in us.fitting] == [c.fan.name for c in metric.fitting]
    takes = us.fitting[0].merits[1]
    assert "hp" in takes.words("US") and " W" in takes.words("SI")


def test_rejected_fans_say_why_with_the_number():
    small = next(c for c in fan_selection.select(**DUTIES).rejected if c.fan.name == "roof 6")
    short = small.faults[0].words()
    assert "Falls short in 3 of 3 states" not in short and "of 3 states: at 1,200 cfm" in short
    assert "more than it moves at its highest speed, 363 cfm," in short
    usual = [each for each in FANS if each.kind == "roof" and each.highest_temperature.m_as("degF") < 600.0]
    hot = fan_selection.select(**DUTIES | {"temperature": Q_(600.0, "degF")}, among=usual)
    assert not hot.fitting and hot.verdict.words() == f"None of the {len(usual)} fans fits."
    assert all(any("Gas of 600 °F is hotter" in f for f in told(c.faults)) for c in hot.rejected)
    weak = replace(MIDDLE, name="weak", motor_power=Q_(20.0, "W"))
    (found,) = fan_selection.select(**DUTIES, among=[weak]).rejected
    assert "its motor gives 0.0268 hp" in found.faults[0].words()


def test_gas_to_a_thousand_degrees_finds_a_fan_and_no_further():
    # Sizes and temperatures that the trade sells: common practice, no source.
    for kind in fan_curve.KINDS:
        found = fan_selection.select(**DUTIES | {"temperature": Q_(990.0, "degF")}, kind=kind)
        assert found.fitting and all(c.fan.highest_temperature.m_as("degF") >= 990.0 for c in found.fitting)
        assert not fan_selection.select(**DUTIES | {"temperature": Q_(1010.0, "degF")}, kind=kind).fitting
        large = fan_selection.select(**DUTIES | {"flow": Q_(15_000.0, "cfm"), "pressure": Q_(0.1, "inH2O")}, kind=kind)
        assert large.fitting and not fan_selection.select(**DUTIES | {"flow": Q_(20_000.0, "cfm")}, kind=kind).fitting


def test_where_water_condenses_a_fan_that_may_not_be_wet_is_ruled_out():
    dry, wet = (fan_selection.select(**DUTIES, kind="in-line", wet=each) for each in (False, True))
    hot = {c.fan.name for c in dry.fitting if not c.fan.condensate}
    assert hot and not hot & {c.fan.name for c in wet.fitting}
    assert all("may_not_be_wet" in {f.code for f in c.faults} for c in wet.rejected if c.fan.name in hot)
    assert {c.fan.name for c in wet.fitting} == {c.fan.name for c in dry.fitting} - hot


def test_cautions_are_told():
    tight = fan_selection.select(**DUTIES, among=[replace(MIDDLE, most_speed=0.9)]).fitting[0]
    needed = float(tight.needed.max())
    assert 0.9 / needed - 1.0 < fan_selection.LEAST_MARGIN and "of speed to spare" in tight.cautions[0].words()
    motor = float(tight.power.max()) * 1.05
    cold = fan_selection.select(**DUTIES, among=[replace(MIDDLE, motor_power=Q_(motor, "W"))]).fitting[0]
    assert any("until the gas is warm" in c for c in told(cold.cautions))
    large = next(c for c in fan_selection.select(**DUTIES).fitting if c.fan.name == "roof 20")
    assert large.slow.any() and any("more slowly than its least speed" in c for c in told(large.cautions))
    stopped = -fan_curve.static_pressure(MIDDLE, Q_(1200.0, "cfm"), 0.0, Q_(0.060, "lb/ft**3")).m_as("inH2O")
    assert any(f"takes up to {stopped:.3f} in. w.c." in c for c in told(tight.cautions))
    strong = fan_selection.select(**DUTIES | {"pressure": Q_([-0.2, 0.05, 0.15], "inH2O")}).fitting[0]
    assert strong.speed[0] == 0.0 and any("a damper does" in c for c in told(strong.cautions))
    loud = fan_selection.select(**DUTIES | {"flow": Q_(1600.0, "cfm"), "pressure": Q_(0.01, "inH2O")}).fitting[0]
    assert any("Blows out" in c for c in told(loud.cautions)) == (
        float(fan_curve.discharge_velocity(loud.fan, Q_(1600.0, "cfm")).m) > fan_selection.HEARD
    )


def test_shares_weigh_the_power():
    (c,) = fan_selection.select(**DUTIES, among=[MIDDLE], shares=[8.0, 1.0, 1.0]).fitting
    assert c.mean_power == pytest.approx(0.8 * c.power[0] + 0.1 * c.power[1] + 0.1 * c.power[2])
    assert c.turndown == pytest.approx(c.speed.max() / c.speed.min())


def test_an_in_line_fan_is_asked_for_the_same_total_pressure():
    # Through its 12 inch outlet more leaves as velocity than in the 16 inch section, so less static pressure is needed.
    area = np.pi / 4 * 0.4064**2
    (c,) = fan_selection.select(
        **DUTIES, kind="in-line", among=[fan_table.fan("in-line 12")], area=Q_(area, "m**2")
    ).fitting
    q, rho = DUTIES["flow"].m_as("m**3/s"), DUTIES["density"].m_as("kg/m**3")
    less = 0.5 * rho * (q / c.fan.area) ** 2 - 0.5 * rho * (q / area) ** 2
    assert c.wanted == pytest.approx(DUTIES["pressure"].m_as("Pa") - less)


def test_nothing_to_select_is_refused():
    with pytest.raises(ValueError, match="at least one state, and among at least one fan"):
        fan_selection.select(**DUTIES, among=[])
    with pytest.raises(ValueError, match="choose roof or in-line"):
        fan_selection.select(**DUTIES, kind="wall")
    with pytest.raises(ValueError, match="flow"):
        fan_selection.select(**DUTIES | {"flow": Q_(-1.0, "cfm")})


def test_the_hottest_gas_rules_a_fan_out_and_not_the_mean():
    """Two states, the limit between their mean and the hotter of them."""
    limit = float(MIDDLE.highest_temperature.m_as("degF"))
    hot = Q_([120.0, 150.0, limit + 5.0], "degF")
    assert float(hot.m.mean()) < limit
    (one,) = fan_selection.select(**DUTIES | {"temperature": hot}, among=[MIDDLE]).rejected
    assert [f.code for f in one.faults] == ["too_hot"] and one.faults[0].figures["gas"].m_as("degF") == (
        pytest.approx(limit + 5.0)
    )
    cooler = fan_selection.select(**DUTIES | {"temperature": Q_([120.0, 150.0, limit], "degF")}, among=[MIDDLE])
    assert cooler.fitting


def test_a_fan_that_stands_still_in_some_state_is_turned_down_among_the_others():
    """The first state needs no fan: highest over lowest speed is that of the two in which it turns."""
    chosen = fan_selection.select(**DUTIES | {"pressure": Q_([-0.2, 0.05, 0.15], "inH2O")}, among=[MIDDLE])
    (c,) = chosen.fitting
    assert c.speed[0] == 0.0 and c.turndown == pytest.approx(c.speed[1:].max() / c.speed[1:].min())


def test_as_many_fans_have_as_many_motors():
    """By the fan laws two abreast at twice the flow, or in series at twice the pressure, are each as loaded as the one:
    they overload no motor that the one does not, and a motor too weak for the one is too weak for both."""
    (alone,) = fan_selection.select(**DUTIES, among=[MIDDLE]).fitting
    takes = float(alone.power.max())
    for share, weak in ((1.2, False), (0.8, True)):
        fan = replace(MIDDLE, motor_power=Q_(share * takes, "W"))
        twice = DUTIES | {"flow": 2.0 * DUTIES["flow"]}
        behind = DUTIES | {"pressure": 2.0 * DUTIES["pressure"]}
        for duties, candidate in (
            (DUTIES, fan),
            (twice, fan_curve.in_parallel(fan)),
            (behind, fan_curve.in_series(fan, 2)),
        ):
            found = fan_selection.select(**duties, among=[candidate])
            (one,) = (*found.fitting, *found.rejected)
            assert ("motor_too_weak" in {f.code for f in one.faults}) == weak, candidate.name
