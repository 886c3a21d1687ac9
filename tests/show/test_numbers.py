"""Numbers: the plain SI number and what is shown are the same quantity; none is null; counts have their noun."""

import pytest
from sample_studies import STUDIES

from ventcalc.show import numbers
from ventcalc.units import Q_, SYSTEMS
from ventcalc.words import sentences

# Factors of NIST SP 811 (2008), appendix B.8: value in SI, as shown in US units and in SI.
CASES = (
    ("draft", -24.90889, "-0.100 in. w.c.", "-24.9 Pa"),
    ("height", 3.048, "10.0 ft", "3.05 m"),
    ("diameter", 0.254, "10.0 in.", "254 mm"),
    ("temperature", 373.15, "212 °F", "100 °C"),
    ("mass flow", 0.45359237, "3,600 lb/h", "0.4536 kg/s"),
    ("mass", 0.45359237, "1.00 lb", "0.454 kg"),
    ("water a year", 0.3785411784, "100 gal", "379 l"),
    ("velocity", 0.3048, "1.0 ft/s", "0.30 m/s"),
    ("energy", 3.6e6, "1 kWh", "1 kWh"),
    ("ratio", 0.25, "25.0 %", "25.0 %"),
)


@pytest.mark.parametrize(("kind", "value", "us", "si"), CASES)
def test_a_number_keeps_its_si_value_whatever_is_shown(kind, value, us, si):
    for system, shown in zip(SYSTEMS, (us, si), strict=True):
        told = numbers.number(value, kind, system)
        assert (told["value"], told["shown"]) == (value, shown)
        assert numbers.number(Q_(value, told["unit"]), kind, system) == told


def test_a_quantity_may_come_in_any_unit():
    told = numbers.number(Q_(10.0, "ft"), "height", "US")
    assert told == {"value": pytest.approx(3.048), "unit": "m", "shown": "10.0 ft"}


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_a_number_that_is_none_is_null(value):
    assert numbers.number(value, "height", "US") == {"value": None, "unit": "m", "shown": "–"}


def test_several_keep_their_order():
    assert [n["value"] for n in numbers.numbers((2.0, -1.0), "draft", "SI")] == [2.0, -1.0]


@pytest.mark.parametrize(
    ("value", "plain", "unit", "us", "si"),
    [  # factors of NIST SP 811 (2008), appendix B.8; in. w.c. conventional
        (Q_(-0.05, "inH2O"), -12.4544, "Pa", "-0.050 in. w.c.", "-12.5 Pa"),
        (Q_(1.5, "minute"), 90.0, "s", "90 s", "90 s"),
        (Q_(10.0, "ft**3"), 0.283168, "m**3", "10 ft³", "0.283 m³"),
        (Q_(100.0, "percent/inH2O"), 0.00401463, "1/Pa", "100 % per in. w.c.", "0.401 % per Pa"),
        (Q_(4.0, "dimensionless"), 4.0, "dimensionless", "4", "4"),
    ],
)
def test_a_setting_is_shown_as_on_the_start_up_sheet(value, plain, unit, us, si):
    for system, shown in zip(SYSTEMS, (us, si), strict=True):
        told = numbers.setting(value, system)
        assert (told["unit"], told["shown"]) == (unit, shown)
        assert told["value"] == pytest.approx(plain, rel=1e-5)


def test_a_state_says_what_each_appliance_does():
    scan = STUDIES["swim_hall"].scan
    index = int(scan.states.cold.argmax())
    told = numbers.state(scan, index, "US")
    assert told["words"] == scan.describe(index, "US") and told["cold_stack"] is True and told["index"] == index
    assert list(told["appliances"]) == [a.name for a in scan.plant.appliances]
    for name, doing in told["appliances"].items():
        assert f"{name} {doing}" in told["words"]
    assert told["season"] in told["words"]


def test_one_is_told_otherwise_than_several():
    assert numbers.counted("faults", 1) == "1 fault" and numbers.counted("faults", 2) == "2 faults"
    assert (
        numbers.counted("people", 1) == "1 danger to people" and numbers.counted("people", 0) == "0 dangers to people"
    )


def test_whatever_is_told_of_one_is_told_of_several_too():
    single = [(names, name) for names in sentences("show").values() for name in names if name.endswith("_one")]
    assert single and all(name.removesuffix("_one") in names for names, name in single)
