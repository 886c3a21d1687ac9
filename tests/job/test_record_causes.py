"""Record causes: planted errors are found and named, and nothing else."""

import pytest
from sample_records import (
    GAUGE_OFF,
    LOW_FOR_HIGH,
    at,
    codes,
    expected,
    filled,
    hall,
    only,
    planted,
    with_noise,
)

from ventcalc.job import findings
from ventcalc.job.performance_test import GAUGE, OUTLET, OXYGEN, PRESSURE, SENSOR, TEMPERATURE, Place
from ventcalc.job.reading_verdicts import BEYOND, NOT_COMPARED, OUTSIDE
from ventcalc.job.record_judgement import judge


def test_three_planted_errors_are_judged_exactly_so():
    judged = judge(hall(), planted())
    # Swapped tubes at Boiler 2, the sensor, the condition not reached: each once, and no other cause.
    causes = ("record_sign", "record_sensor", "record_not_reached")
    assert sorted(c for c in codes(judged) if c in causes or "offset" in c) == sorted(causes)
    sign, sensor, lost = (only(judged, code) for code in causes)
    assert sign.subjects == ("outlet of Boiler 2",) and sign.figures["everywhere"]
    assert sensor.subjects == ("header by the control's sensor",)
    assert sensor.figures["off"].m_as("inH2O") == pytest.approx(0.02, abs=0.0005)
    assert findings.sentence(sensor).startswith("The control's sensor reads 0.020 in. w.c. above the gauge")
    assert lost.subjects == ("Boiler 1",)
    assert (lost.figures["condition"], lost.figures["like"]) == (LOW_FOR_HIGH, "low")
    # An idle boiler whose outlet reads above the room may let flue gas out: that a tube may be swapped excuses nothing.
    assert only(judged, "record_gas_in_room").subjects == ("outlet of Boiler 2",)
    beyond = [line for line in judged.lines if line.verdict == BEYOND]
    assert {line.expected.asked.place for line in beyond} == {Place(OUTLET, "Boiler 2")}
    uncompared = {line.expected.asked.condition.name for line in judged.lines if line.verdict == NOT_COMPARED}
    assert uncompared == {LOW_FOR_HIGH}
    # At Boiler 1 its oxygen alone tells; two levels are nearer in temperature than that is certain.
    told = [line for line in judged.lines if line.expected.asked.place == Place(OUTLET, "Boiler 1")
            and line.expected.asked.condition.name == LOW_FOR_HIGH and line.verdict == OUTSIDE]  # fmt: skip
    assert [line.expected.asked.quantity for line in told] == [OXYGEN]
    # The shaft shows what the false sensor does: the header stands 0.02 in. w.c. too low wherever it is held.
    header = [line for line in judged.lines if line.expected.asked.place == Place(GAUGE) and line.expected.held
              and line.expected.asked.condition.name != LOW_FOR_HIGH]  # fmt: skip
    assert [line.off for line in header] == pytest.approx([-GAUGE_OFF] * len(header), abs=0.05)


@pytest.mark.parametrize("appliance", ["Boiler 1", "Boiler 2", "Boiler 3"])
def test_swapped_tubes_are_named_and_nothing_else(appliance):
    place, noise = Place(OUTLET, appliance), with_noise(3)
    turned = {(place, PRESSURE)}
    judged = judge(hall(), filled(lambda e: noise(e) * (-1 if (e.asked.place, e.asked.quantity) in turned else 1)))
    found = [f for f in judged.judgement.findings if f.weight == "note" and f.code != "record_near_window"]
    assert [(f.code, f.subjects, f.figures["everywhere"]) for f in found] == [("record_sign", (place.name,), True)]
    assert not judged.passed


def test_a_minus_left_out_once_is_named_with_its_condition():
    key = ("all off", "header by a gauge", PRESSURE)
    judged = judge(hall(), filled(lambda e: -e.value if e.asked.key == key else e.value))
    sign = only(judged, "record_sign")
    assert (sign.figures["conditions"], sign.figures["everywhere"]) == (("all off",), False)
    assert "a minus was left out" in findings.sentence(sign) and not judged.passed


@pytest.mark.parametrize("off", [GAUGE_OFF, -GAUGE_OFF])
@pytest.mark.parametrize(("place", "other"), [(GAUGE, SENSOR), (SENSOR, GAUGE)])
def test_of_gauge_and_sensor_the_one_that_is_off_is_named(place, other, off):
    noise = with_noise(5)
    judged = judge(hall(), filled(lambda e: noise(e) + off * (e.asked.place == Place(place))))
    sensor = only(judged, "record_sensor")
    assert sensor.subjects == (Place(place).name,)
    assert sensor.figures["side"].codes == (("above",) if (off > 0.0) == (place == SENSOR) else ("below",))
    assert "record_sign" not in codes(judged) and not judged.passed


def test_gauge_and_sensor_that_differ_where_nothing_tells_which():
    """In conditions that are held the sensor shows its set point whatever it is off."""
    rows = [e for e in expected() if e.held]
    record = filled(lambda e: e.value + GAUGE_OFF * (e.asked.place == Place(SENSOR)), rows)
    assert only(judge(hall(), record), "record_sensor").subjects == ()


@pytest.mark.parametrize("off", [GAUGE_OFF * 6, -GAUGE_OFF * 6])
def test_a_gauge_that_was_not_put_to_zero_is_named(off):
    place = Place(OUTLET, "Boiler 3")
    judged = judge(hall(), filled(at(place, off)))
    found = only(judged, "record_offset_draft")
    assert found.subjects == (place.name,) and found.weight == "note"
    assert found.figures["off"].m_as("Pa") == pytest.approx(off, abs=0.01) and not judged.passed


def test_a_thermometer_that_is_off_everywhere_is_no_condition_that_was_not_reached():
    judged = judge(hall(), filled(at(Place(OUTLET, "Boiler 1"), 40.0, TEMPERATURE)))
    assert only(judged, "record_offset_temperature").subjects == ("outlet of Boiler 1",)
    assert "record_not_reached" not in codes(judged) and not judged.passed


def test_a_boiler_that_does_not_fire_is_seen_by_its_oxygen():
    name = "all at their lowest"
    asked = ("outlet of Boiler 3", OXYGEN)
    judged = judge(hall(), filled(lambda e: 0.208 if e.asked.key == (name, *asked) else e.value))
    lost = only(judged, "record_not_reached")
    assert (lost.subjects, lost.figures["condition"], lost.figures["like"]) == (("Boiler 3",), name, "off")


@pytest.mark.slow
def test_a_boiler_that_reads_like_nothing_it_can_do():
    key = ("all at their lowest", "outlet of Boiler 3", OXYGEN)
    judged = judge(hall(), filled(lambda e: 0.11 if e.asked.key == key else e.value))
    assert "None of its levels fits." in findings.sentence(only(judged, "record_not_reached"))
