"""Remedy: its name, what moves in it, what must be listed; all from its record."""

import pytest
from sample_remedies import small_job

from ventcalc.draft import fan_table
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.job import remedy_words, vent_changes
from ventcalc.job.device_choice import LEAKAGE
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_


@pytest.fixture(scope="module")
def plant():
    return small_job().plant


def test_as_drawn_nothing_moves_and_nothing_is_new(plant):
    drawn = Remedy("as drawn", plant)
    assert drawn.devices == drawn.to_be_listed == drawn.differences == () and not drawn.rebuilt


def test_a_fan_a_damper_and_outlets_are_counted_and_listed(plant):
    drive = Drive(fan_table.fan("roof 12"), 0.3, 1.0)
    damper = Damper("butterfly", Q_(250, "mm"), Q_(250, "mm"), LEAKAGE)
    made = Remedy("fan and damper", plant, fan=drive, damper=damper, outlets=("Boiler A",))
    assert [code for code, _ in made.devices] == ["fan", "damper", "outlet damper"]
    assert [name for _, name in made.devices] == ["roof 12", "butterfly", "Boiler A"]
    assert set(made.to_be_listed) == {"fan", "damper", "interlock", "appliances"}
    assert len(remedy_words.devices(made)) == 3 and made.top == "stack"


def test_its_name_says_whether_it_is_held_elsewhere(plant):
    assert Remedy("fan", plant).name == "fan"
    assert Remedy("fan", plant, moved=True).name == "fan, other set point"


def test_a_fan_in_place_of_a_cap_is_no_new_pipe(plant):
    free = vent_changes.with_free_end(plant)
    drive = Drive(fan_table.fan("roof 12"), 0.3, 1.0)
    assert not Remedy("fan", free, plant, fan=drive).rebuilt
    assert Remedy("better cap", free, plant).rebuilt
