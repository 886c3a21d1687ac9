"""Remedy records: every remedy as it was judged, and of the one offered its work, its starts and its sheet."""

from dataclasses import replace

import numpy as np
import pytest
from sample_remedies import small_study
from sample_studies import STUDIES

from ventcalc.job import failures, remedy_words
from ventcalc.show import remedy_records


@pytest.fixture(scope="module")
def hall():
    return remedy_records.offered(STUDIES["swim_hall"], "US")


@pytest.mark.slow
def test_every_remedy_is_told_as_it_was_judged():
    for found in STUDIES.values():
        told = remedy_records.compared(found, "US")
        assert [(r["name"], r["cured"]) for r in told] == [(o.remedy.name, o.cured) for o in found.outcomes]
        for r, o in zip(told, found.outcomes, strict=True):
            assert (r["outside"], r["gas_in_room"], r["margin"]["value"]) == (o.outside, o.gas_in_room, o.margin)
            assert r["reasons"] == list(remedy_words.reasons(o))
            assert r["devices"] == list(remedy_words.devices(o.remedy)) and all(type(d) is str for d in r["devices"])
            assert r["cured"] != bool(r["against"])
            judged = o.judgement.against if o.judgement else ()
            assert set(r["against"]) >= {f.title for f in judged} and r["judged"] == (o.judgement is not None)


def test_what_does_not_apply_is_named_where_remedies_were_looked_at():
    found = STUDIES["laundry"]
    named = [r["name"] for r in remedy_records.left_out(found)]
    assert named and not set(named) & {o.remedy.name for o in found.outcomes}
    assert remedy_records.left_out(replace(found, outcomes=())) == []


def test_work_of_fan_and_damper_is_told_season_by_season(hall):
    duty = STUDIES["swim_hall"].offered.outcome.duty
    assert max(d["speed"][1]["value"] for d in hall["duty"]) == pytest.approx(duty.speed.max())
    assert max(d["power"]["value"] for d in hall["duty"]) == pytest.approx(duty.power.max())
    assert sum(d["states"] for d in hall["duty"]) == duty.states.size
    position = STUDIES["swim_hall"].offered.outcome.position
    assert min(d["position"][0]["value"] for d in hall["duty"]) == pytest.approx(np.nanmin(position))


def test_what_the_offered_remedy_leaves(hall):
    assert [o["inside"] for o in hall["outlets"]] == [True] * 3
    assert hall["verdict"]["buildable"] == STUDIES["swim_hall"].offered.judgement.cured


def test_starts_and_failures_are_those_that_were_tried(hall):
    tried = STUDIES["swim_hall"].offered.tried
    assert [(s["season"], tuple(s["order"])) for s in hall["starts"]] == [(s.season, s.order) for s in tried.starts]
    worst = [f for f in map(tried.worst, failures.CASES) if f is not None]
    assert [f["case"] for f in hall["failures"]] == [f.case.replace("_", " ") for f in worst]
    for told, f in zip(hall["failures"], worst, strict=True):
        assert [o["into_room"]["value"] for o in told["outlets"]] == [o.into_room for o in f.outlets]


def test_a_start_in_time_is_told_with_what_tripped():
    for name in ("swim_hall", "lodge"):
        run = STUDIES[name].offered.trial
        told = remedy_records.offered(STUDIES[name], "SI")["trial"]
        assert [t["pressure"]["value"] for t in told["trips"]] == [t.pressure for t in run.trace.trips]
        assert (told["low"]["value"], told["high"]["value"]) == pytest.approx(run.span(run.released))
        assert told["lasts"]["value"] == run.timeline.until


def test_a_remedy_that_was_not_started_has_no_sheet(hall):
    assert {row["kind"] for row in hall["sheet"]} == {"set", "measure", "verify"} and hall["tries"]
    found = STUDIES["swim_hall"]
    told = remedy_records.offered(replace(found, offered=replace(found.offered, tried=None)), "US")
    assert told["sheet"] == told["tries"] == told["starts"] == told["failures"] == [] and told["trial"] is None


def test_gains_that_were_found_on_the_vent_say_so_on_the_sheet(hall):
    def gains(told):
        return [row for row in told["sheet"] if row["name"] in ("gain of the draft control", "integral time")]

    assert [row["status"] for row in gains(hall)] == ["computed"] * 2
    assert all(row["why"].startswith("found on this vent") for row in gains(hall))
    whole = STUDIES["swim_hall"]
    tried = whole.offered.tried
    untuned = replace(whole.offered, tried=replace(tried, trial=replace(tried.trial, tuned=False)))
    told = gains(remedy_records.offered(replace(whole, offered=untuned), "US"))
    assert not any("computed" in row["status"] or "this vent" in row["why"] for row in told)


def test_none_offered_and_one_that_cannot_be():
    drawn = replace(STUDIES["swim_hall"], offered=None)
    assert remedy_records.offered(drawn, "US") is None
    assert remedy_records.offered(replace(drawn, impossible="No fan fits."), "US") == {"impossible": "No fan fits."}


@pytest.mark.parametrize(("kind", "lacks"), [("fan", "damper not at its position"), ("damper", "fan failed")])
def test_what_is_tried_is_of_the_devices_that_are_there(kind, lacks):
    tried = {t["what"] for t in remedy_records.offered(small_study(kind), "US")["tries"]}
    assert tried and lacks not in tried
    assert {"damper not at its position", "fan failed"} - {lacks} <= tried
