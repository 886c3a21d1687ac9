"""Tags: one for each thing, none twice, none for what is not there."""

import pytest
from sample_remedies import designed
from sample_submittals import EVERY

from ventcalc.show.tags import DAMPER, FAN, OUTLET_DAMPER, SENSOR, placed, tags


@pytest.mark.parametrize("kind", EVERY)
def test_no_tag_stands_twice_and_everything_that_moves_has_one(kind):
    found = designed(kind)
    named, remedy, plant = tags(found), found.outcome.remedy, found.job.plant
    assert len(set(named.every)) == len(named.every)
    assert list(named.sections) == [s.name for s in plant.order]
    assert list(named.burners) == [a.name for a in plant.appliances]
    assert (named.fan != "", named.damper != "") == (remedy.fan is not None, remedy.damper is not None)
    assert set(named.outlet_dampers) == set(named.outlet_sensors) == set(remedy.outlets)
    sensors = bool(named.sensor) + len(named.outlet_sensors)
    assert sensors == len(remedy.controls) and bool(named.control) == bool(remedy.controls)


def test_things_are_counted_from_one_in_their_order():
    named = tags(designed("fan"))
    for letter, found in (("V", named.sections), ("T", named.ends), ("B", named.burners)):
        assert list(found.values()) == [f"{letter}-{k}" for k in range(1, len(found) + 1)]


def test_a_damper_at_an_outlet_has_the_number_of_its_burner():
    named = tags(designed("damper at each outlet and a fan"))
    numbers = {name: tag.partition("-")[2] for name, tag in named.burners.items()}
    assert {name: tag.partition("-")[2] for name, tag in named.outlet_dampers.items()} == numbers
    assert named.sensor == "PT-1" and list(named.outlet_sensors.values()) == ["PT-2", "PT-3"]


def test_limits_have_switches_of_their_own_where_the_header_is_held():
    held, free = tags(designed("fan")), tags(designed("damper at each outlet"))
    assert len({held.high, held.low, held.proof, held.sensor}) == 4
    assert not any((free.high, free.low, free.proof, free.sensor))


@pytest.mark.parametrize("kind", EVERY)
def test_what_is_placed_in_the_drawing_is_what_is_tagged(kind):
    found = designed(kind)
    named, devices = tags(found), placed(found)
    of = {k: [d.tag for d in devices if d.kind == k] for k in (FAN, DAMPER, OUTLET_DAMPER, SENSOR)}
    assert of[FAN] == [named.fan] * bool(named.fan) and of[DAMPER] == [named.damper] * bool(named.damper)
    assert of[OUTLET_DAMPER] == list(named.outlet_dampers.values())
    assert of[SENSOR] == [*([named.sensor] * bool(named.sensor)), *named.outlet_sensors.values()]
    assert {d.section for d in devices} <= {s.name for s in found.job.plant.sections}
