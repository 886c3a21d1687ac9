"""Surrounding records: every rule that says something of a terminal, what fails first; nothing of what is not told."""

from dataclasses import replace

from sample_studies import STUDIES

from ventcalc.building import clearances
from ventcalc.building.makeup_air import Cure
from ventcalc.show import surrounding_records
from ventcalc.units import Q_


def test_what_fails_stands_first():
    found = STUDIES["school"]
    told = surrounding_records.around(found, "US")["terminals"]
    assert [t["name"] for t in told] == [e.terminal.name for e in found.around.endings]
    for t, ending in zip(told, found.around.endings, strict=True):
        places = [clearances.VERDICTS.index(f["verdict"]) for f in t["findings"]]
        assert places == sorted(places)
        assert len(places) == sum(f.verdict != clearances.NONE for f in ending.findings)
        assert t["verdict"] == clearances.overall(ending.findings)


def test_least_height_is_that_of_the_study_and_names_its_rule():
    found = STUDIES["school"]
    for t, ending in zip(surrounding_records.around(found, "US")["terminals"], found.around.endings, strict=True):
        for told, least in ((t["least"], ending.least), (t["with_fan"], ending.with_fan)):
            if least.height is None:
                assert told["height"]["value"] is None
            else:
                assert told["height"]["value"] == least.height.m_as("m")
            assert told["governed_by"] == (least.finding.rule if least.finding else "no height does")


def test_spills_tell_their_state_and_to_leave():
    found = STUDIES["school"]
    told = surrounding_records.around(found, "US")["spills"]
    assert told and [s["appliance"] for s in told] == [s.spill.appliance for s in found.around.spills]
    for s, own in zip(told, found.around.spills, strict=True):
        scan = found.around.exhausted if own.exhausting else found.scan
        assert s["state"]["words"] == scan.describe(own.spill.state)
        assert s["sentences"]


def test_a_job_that_tells_nothing_has_nothing():
    told = surrounding_records.around(STUDIES["laundry"], "US")
    assert not any(told[key] for key in ("terminals", "air", "exhausts", "plumes", "spills"))


def test_what_is_seen_of_a_terminal_and_what_hides_it():
    found = STUDIES["swim_hall"]
    (end,), (view,) = found.job.roof.terminals, found.job.roof.views
    (told,) = surrounding_records.around(found, "US")["terminals"][0]["sights"]
    assert told["view"] == view.name == "the entrance" and not told["seen"] and told["behind"] == "parapet"
    assert told["shows"]["value"] == 0.0 < end.outlet.m_as("m") < told["hidden_below"]["value"]


def test_exhaust_fans_are_told_of_the_vent_as_drawn_and_of_the_remedy_proposed():
    """Each list is that of its own design; what passes with the remedy does not stand beside a fail without a name."""
    found = STUDIES["school"]
    assert found.proposed is None and surrounding_records.around(found, "US")["exhausts_proposed"] is None
    effects = tuple(
        replace(e, beyond=0.0, back=0.0, flue_gas=0.0, spill=0.0, unsettled=0) for e in found.around.effects
    )
    mended = replace(found, around=replace(found.around, effects=effects))
    told = surrounding_records.around(replace(found, offered=mended), "US")
    assert told["exhausts"] == surrounding_records.around(found, "US")["exhausts"]
    assert told["exhausts_proposed"]["remedy"] == mended.outcome.remedy.name
    proposed = told["exhausts_proposed"]["sentences"]
    for before, e, drawn, after in zip(found.around.effects, effects, told["exhausts"], proposed, strict=False):
        assert drawn.startswith(f"{e.appliance}: {before.verdict}.") and before.verdict == "fail"
        assert after.startswith(f"{e.appliance}: {e.verdict}.") and e.verdict != "fail"


def test_make_up_air_is_told_where_the_room_lacks_some_and_the_vent_was_judged_with_it():
    found = STUDIES["school"]
    lacks = Cure(Q_(0.2, "m**2"), Q_(0.3, "m**3/s"), -2.0, 0, 5, 0, 0, None)
    for cure, aired in ((None, None), (lacks, None), (None, found), (lacks, found)):
        one = replace(found, aired=aired, around=replace(found.around, cure=cure))
        told = surrounding_records.around(one, "SI")["make_up_air"]
        assert (told is None) == (cure is None or aired is None)
    assert (told["area"]["value"], told["supply"]["value"]) == (0.2, 0.3)
    assert told["cures"] == found.buildable
