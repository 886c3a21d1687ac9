"""Natural draft of a whole job: every demo job is judged, and what it does not ask."""

import pytest
from sample_natural_draft import MILD, found, scanned
from sample_plants import row_plant
from sample_studies import JOBS

from ventcalc.draft import flue_liner, light_off, oversized_flue
from ventcalc.draft.light_off import ROOM, STEADY, STILL


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_every_demo_job_is_judged(name):
    ours, plant = found(name), scanned(name).plant
    asked = {plant.appliances[i].name for i in oversized_flue.naturally_drafted(plant)}
    assert asked == {
        "masonry_retrofit": {"Water heater"}, "school": {"Water heater"}, "lodge": {"Boiler A", "Boiler B"},
        "hospital": {"Boiler 1", "Boiler 2"},
    }.get(name, set())  # fmt: skip
    assert {s.appliance for s in ours.starts} == asked and bool(ours.areas) == bool(asked)
    seasons = {s.name for s in scanned(name).seasons}
    for appliance in asked:
        for stack in (STEADY, STILL, ROOM):
            assert {s.season for s in ours.starts if (s.appliance, s.stack) == (appliance, stack)} == seasons
    for s in ours.starts:
        assert s.spilled >= 0.0 and s.still >= 0.0 and s.condensed >= 0.0
        assert s.fails or s.draws_after < s.within
    assert (ours.liners != ()) == (name == "masonry_retrofit")


def test_a_plant_of_condensing_boilers_asks_nothing_of_natural_draft():
    plant = row_plant(2)
    assert oversized_flue.areas_of(plant) == light_off.light_offs(plant, (MILD,)) == ()
    assert flue_liner.liners_of(plant, (MILD,), {"stack"}) == ()
    assert oversized_flue.naturally_drafted(row_plant(2, kind="barometric")) == (0, 1)
