"""Vent records: sections, appliances and runs are those drawn, with the figures that the study found for them."""

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc.gas.appliance import CATEGORIES
from ventcalc.show import vent_records


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def test_sections_tell_what_the_study_found(found):
    told = vent_records.sections(found, "US")
    assert [s["number"] for s in told] == list(range(1, len(told) + 1))
    for s, met in zip(told, found.extremes, strict=True):
        assert s["name"] == met.section
        assert [v["value"] for v in s["velocity"]] == list(met.velocity)
        assert [p["value"] for p in s["pressure"]] == list(met.pressure)
        assert s["condensate"]["value"] == s["condensate_a_day"]["value"] == met.condensate
        assert (s["verdict"] == "nothing found against it") == (not s["objections"])


def test_flue_gas_flows_add_up_to_what_the_stack_carries():
    """All boilers high on the swimming hall: the stack carries the sum of the three flows (conservation of mass)."""
    found = STUDIES["swim_hall"]
    codes = found.scan.states.codes
    high = np.array([len(a.states) - 1 for a in found.job.plant.appliances])
    season = [s.name for s in found.job.seasons].index("mild")
    state = int(np.flatnonzero((high == codes.T).all(axis=1) & (found.scan.states.season == season))[0])
    levels = [a["levels"][-1]["flow"] for a in vent_records.appliances(found, "US")]
    low, top = (sum(flow[k]["value"] for flow in levels) for k in (0, 1))
    assert low <= found.scan.solution.flow[found.scan.solution.row("stack"), state] <= top


def test_appliances_tell_category_and_what_they_do_when_idle(found):
    for told, a in zip(vent_records.appliances(found, "US"), found.job.plant.appliances, strict=True):
        category = CATEGORIES[a.category]
        assert told["category_words"].startswith("positive" if category.positive else "negative")
        assert told["category_words"].endswith("not condensing") == (not category.condensing)
        assert (told["leak_flow"] is not None) == (a.kind == "forced" and a.idle == "leaking")
        assert told["idle"] == {
            "draft hood": "open through its draft hood",
            "barometric": "open through its regulator",
        }.get(a.kind, a.idle)
        assert [level["name"] for level in told["levels"]] == [level.name for level in a.levels]
        for level in told["levels"]:
            assert level["flow"][0]["value"] <= level["flow"][1]["value"]


def test_runs_are_held_to_what_is_allowed():
    run = vent_records.runs(STUDIES["swim_hall"], "US")[0]
    assert run["allowed"] == {"value": None, "unit": "m", "shown": "–"} and run["verdict"] == "not stated"
    run = vent_records.runs(STUDIES["laundry"], "US")[0]
    assert run["verdict"] == "longer than allowed" and run["equivalent"]["value"] > run["allowed"]["value"]


def test_site_and_seasons_are_those_of_the_job(found):
    site = vent_records.site(found, "SI")
    assert site["altitude"]["value"] == found.job.plant.altitude.m_as("m")
    # U.S. Standard Atmosphere 1976: about 101.3 kPa at sea level and less above it.
    assert site["barometric_pressure"]["value"] < 101_400.0
    assert [s["outdoor"]["value"] for s in vent_records.seasons(found, "SI")] == [
        s.outdoor.m_as("K") for s in found.job.seasons
    ]
    assert vent_records.terminations(found) == [{"name": t.name, "cap": t.cap} for t in found.job.plant.terminations]
