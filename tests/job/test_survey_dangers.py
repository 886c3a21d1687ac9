"""Survey dangers: pressure that lets flue gas out, and too much carbon monoxide, by the readings alone."""

from functools import cache

import pytest
from sample_studies import JOBS

from ventcalc.job import job_file
from ventcalc.job.performance_test import CARBON_MONOXIDE, OUTLET, OXYGEN, PRESSURE, Weather
from ventcalc.job.survey import Condition, Place, Reading, Survey
from ventcalc.job.survey_dangers import MONOXIDE, SPILLS, dangers
from ventcalc.units import Q_

DAY = Weather(Q_(5.0, "degC"), Q_(20.0, "degC"))


@cache
def school():
    """A water heater with a hood, and two boilers."""
    return job_file.load(JOBS["school"])


def read(appliance, quantity, value, levels=("on", "high", "high"), error=0.3):
    return Reading(Condition(levels, False, DAY), Place(OUTLET, appliance), quantity, value, error, 2)


def codes(*readings):
    return [d.code for d in dangers(Survey(school(), readings))]


@pytest.mark.parametrize(
    ("appliance", "pascal", "found"),
    [
        ("Water heater", -2.0, []),
        ("Water heater", 1.0, [SPILLS]),  # a hood must be under draft
        ("Boiler 1", -2.0, []),
        ("Boiler 1", 500.0, [SPILLS]),  # above any window
    ],
)
def test_pressure_at_an_outlet(appliance, pascal, found):
    assert codes(read(appliance, PRESSURE, pascal)) == found


def test_with_all_off_nothing_can_spill():
    assert codes(read("Water heater", PRESSURE, 3.0, ("off", "off", "off"))) == []


def test_carbon_monoxide_is_judged_without_the_excess_air_beside_it():
    # By hand: 300 ppm at 9 % oxygen are 300 * 20.95 / (20.95 - 9) = 526 ppm air-free; at 3 % 350 ppm, below 400.
    high = read("Boiler 1", CARBON_MONOXIDE, 300e-6)
    assert codes(high, read("Boiler 1", OXYGEN, 0.09)) == [MONOXIDE]
    assert codes(high, read("Boiler 1", OXYGEN, 0.03)) == []
    assert codes(high) == [] and codes(read("Boiler 1", CARBON_MONOXIDE, 410e-6)) == [MONOXIDE]
    # Another boiler's oxygen is none of it.
    assert codes(high, read("Boiler 2", OXYGEN, 0.09)) == []
