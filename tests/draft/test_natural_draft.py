"""Natural draft of a whole job: every demo job is judged, and what it does not ask."""

from types import SimpleNamespace

import pytest
from sample_natural_draft import MILD, found, scanned
from sample_plants import row_plant
from sample_studies import JOBS

from ventcalc.draft import flue_liner, light_off, natural_draft, oversized_flue
from ventcalc.draft.light_off import NIGHT, ROOM, STEADY, STILL, LightOff
from ventcalc.draft.natural_draft import NaturalDraft


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


def start(appliance, stack, season, draws_after, spilled):
    return LightOff(appliance, season, stack, 280.0, draws_after, spilled, 0.0, 0.0, 60.0)


def test_the_worst_start_spills_longest_and_of_these_most():
    starts = (
        start("A", STILL, "winter", 3.0, 0.5),
        start("A", STILL, "mild", 9.0, 0.1),  # longest
        start("A", STILL, "summer", 9.0, 0.1),  # as bad: the first is named
        start("A", ROOM, "winter", None, 0.1),
        start("A", ROOM, "mild", None, 0.3),  # both fail, this one with more
        start("A", ROOM, "summer", 59.0, 0.9),
        start("B", STILL, "winter", 0.0, 0.0),  # another appliance, a season alone
        start("A", NIGHT, "mild", 1.0, 0.0),
        start("A", NIGHT, "winter", 0.0, 0.0),
    )
    worst = NaturalDraft(starts=starts).worst_starts()
    assert worst == (starts[1], starts[4], starts[6], starts[7])


@pytest.mark.parametrize(
    ("large", "wet", "fails", "asked"),
    [
        ((), (), (False, False), (set(), False)),
        ((), (), (False, True), (set(), True)),  # one start that fails is enough
        (("flue",), (), (True, True), ({"flue"}, True)),
        (("flue",), ("connector",), (False,), ({"flue", "connector"}, False)),
        ((), ("flue",), (), ({"flue"}, False)),
    ],
)
def test_a_liner_is_sought_for_what_is_too_large_or_wet_or_fails_to_start(monkeypatch, large, wet, fails, asked):
    told, sections = [], ("connector", "flue")
    made = {
        "areas_of": tuple(SimpleNamespace(section=s, keeps=s not in large) for s in sections),
        "light_offs": tuple(SimpleNamespace(fails=f) for f in fails),
        "wettings_of": tuple(SimpleNamespace(section=s) for s in wet),
        "icings_of": (),
    }
    for name, records in made.items():
        monkeypatch.setattr(natural_draft, name, lambda *_, records=records: records)
    monkeypatch.setattr(natural_draft, "liners_of", lambda *told_: told.append(told_[2:]) or ())
    judged = natural_draft.natural_draft(SimpleNamespace(plant=None, seasons=()))
    assert told == [asked] and [a.section for a in judged.oversized] == list(large)
