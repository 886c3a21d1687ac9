"""Outlet records: pressures are the study's, states outside are counted from them, makes stand beside one another."""

from dataclasses import replace

import pytest
from sample_studies import STUDIES

from ventcalc.show import outlet_records
from ventcalc.vent import outlet_envelope


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def test_pressures_are_those_of_the_study(found):
    for told, e in zip(outlet_records.outlets(found, "US"), found.envelopes, strict=True):
        assert (told["low"]["value"], told["high"]["value"], told["margin"]["value"]) == (e.low, e.high, e.margin)
        assert told["low_state"]["words"] == found.scan.describe(e.low_state)
    flows = [r["flow"]["value"] for r in outlet_records.reversals(found, "US")]
    assert flows == [r.flow for r in found.reversals]
    header = outlet_records.header(found, "US")
    assert (header["low"]["value"], header["high"]["value"]) == found.header


def test_states_outside_are_counted_from_the_pressures(found):
    for i, told in enumerate(outlet_records.outlets(found, "US")):
        low, high = (w["value"] for w in told["window"])
        runs = found.scan.states.codes[i] > 0
        pressures, conditions = (
            v[runs].tolist() for v in (found.scan.solution.outlet_pressure[i], found.scan.condition)
        )
        # A condition counts once, by the worst of its roots, and by what can be read (`firing_states.READABLE`).
        edge = outlet_envelope.READABLE
        outside = {c for p, c in zip(pressures, conditions, strict=True) if p < low - edge or p > high + edge}
        assert told["outside"] == len(outside)
        assert told["inside"] == (told["outside"] == 0)


@pytest.mark.parametrize("name", STUDIES)
def test_an_outlet_is_ticked_only_where_no_flue_gas_comes_out_of_it(name):
    """Of every demo job those marked as spilling are those that the finding names."""
    study = STUDIES[name]
    named = {who for f in study.judgement.findings if f.code == "spillage" for who in f.subjects}
    told = outlet_records.outlets(study, "US")
    assert {t["appliance"] for t in told if t["spills"]} == named
    assert all(("flue gas enters the room" in t["verdict"]) == t["spills"] for t in told)


def test_some_outlet_stays_inside_and_spills_all_the_same():
    every = [t for study in STUDIES.values() for t in outlet_records.outlets(study, "US")]
    assert any(t["spills"] for t in every)


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [
        (-4.0, 4.0, "stays inside"),
        (-16.0, 4.0, "falls below it by 6.0 Pa"),
        (-4.0, 17.0, "rises above it by 7.0 Pa"),
        (-16.0, 17.0, "falls below it by 6.0 Pa and rises above it by 7.0 Pa"),
    ],
)
def test_verdict_tells_on_which_side_an_outlet_leaves_its_window(low, high, says):
    e = replace(STUDIES["laundry"].envelopes[0], low=low, high=high, window=(-10.0, 10.0))
    (told,) = outlet_records.outlets(replace(STUDIES["laundry"], envelopes=(e,)), "SI")
    assert told["verdict"] == says and told["inside"] == (says == "stays inside")


def test_load_changes_stand_beside_the_states_at_rest(found):
    told = outlet_records.load_changes(found, "SI")
    assert [p["high"]["value"] for p in told] == [p.high for p in found.passages]
    for p, e in zip(told, found.envelopes, strict=False):
        assert (p["appliance"], p["low_at_rest"]["value"], p["high_at_rest"]["value"]) == (e.appliance, e.low, e.high)


def test_a_set_point_belongs_to_a_header():
    common, single = (outlet_records.header(STUDIES[name], "US") for name in ("swim_hall", "laundry"))
    assert common["place"] == "end of the header" and single["place"] == "beginning of the run"
    assert common["lacking"]["value"] == pytest.approx(common["high"]["value"] - common["set_point"]["value"])
    assert "set_point" not in single


def test_alternates_keep_the_pressures_and_change_the_window():
    found = STUDIES["swim_hall"]
    own = {o["appliance"]: o for o in outlet_records.outlets(found, "US")}
    told = [o for a in outlet_records.alternates(found, "US") for o in a["outlets"]]
    assert told and all(o["high"] == own[o["appliance"]]["high"] for o in told)
    assert any(o["window"] != own[o["appliance"]]["window"] for o in told)


def test_set_points_serve_all_where_the_ranges_meet():
    told = [t for found in STUDIES.values() if (t := outlet_records.set_points(found, "US"))]
    assert told
    for t in told:
        assert t["low"]["value"] == max(m["low"]["value"] for m in t["makes"])
        assert t["high"]["value"] == min(m["high"]["value"] for m in t["makes"])
        assert t["serves_all"] == (t["low"]["value"] <= t["high"]["value"])
    assert outlet_records.set_points(STUDIES["laundry"], "US") is None


def test_an_alternate_with_other_flue_gas_is_judged_on_its_own():
    for found in STUDIES.values():
        told = outlet_records.exchanged(found, "US")
        assert [t["name"] for t in told] == [s.job.name for s in found.exchanged]
        assert [t["verdict"]["buildable"] for t in told] == [s.buildable for s in found.exchanged]


def test_conditions_outside_are_counted_by_the_window_of_the_make():
    """Of an alternate its own window counts: it is outside somewhere if, and only if, some condition is counted."""
    for name in ("hospital", "swim_hall"):
        offered = STUDIES[name].offered
        for design in (STUDIES[name], offered):
            for made in outlet_records.alternates(design, "US"):
                for told in made["outlets"]:
                    assert (told["outside"] == 0) == told["inside"], (name, made["name"])
