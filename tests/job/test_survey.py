"""Survey: readings and places that cannot be are refused by name; conditions come once."""

from dataclasses import replace

import pytest
from sample_plants import row_plant

from ventcalc.job.performance_test import Weather
from ventcalc.job.survey import Condition, Place, Reading, Survey
from ventcalc.units import Q_

DAY = Weather(Q_(5.0, "degC"), Q_(20.0, "degC"))
FIRE = Condition(("high", "off"), False, DAY)
READ = Reading(FIRE, Place("outlet", "B1"), "pressure", -12.0, 0.3)


def test_levels_are_found_by_name():
    plant = row_plant(2)
    assert FIRE.codes(plant) == [plant.appliances[0].states.index("high"), 0]


@pytest.mark.parametrize(("levels", "told"), [(("high",), "2 appliances"), (("high", "half"), "B2: level 'half'")])
def test_levels_that_the_plant_does_not_have(levels, told):
    with pytest.raises(ValueError, match=told):
        replace(FIRE, levels=levels).codes(row_plant(2))


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (lambda: Place("roof"), "choose outlet, tap"),
        (lambda: Place("tap", section="stack", share=1.2), "must be 0 to 1"),
        (lambda: replace(READ, quantity="draught"), "choose pressure"),
        (lambda: replace(READ, value=float("nan")), "must be a number"),
        (lambda: replace(READ, error=0.0), "above 0"),
    ],
)
def test_what_cannot_be_is_refused(made, told):
    with pytest.raises(ValueError, match=told):
        made()


def test_equal_conditions_come_once():
    again = replace(READ, place=Place("gauge"), condition=Condition(("high", "off"), False, DAY))
    other = replace(READ, condition=replace(FIRE, cold=True))
    assert Survey(None, (READ, again, other)).conditions == (FIRE, other.condition)
