"""Studies of the demo jobs: each shows its own trouble, and the verdicts follow from the numbers."""

from dataclasses import replace

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc import firing_states, job, study, tables
from ventcalc.units import Q_

JOBS = tables.DATA / "jobs"


@pytest.fixture(scope="module")
def studies():
    return STUDIES


def kinds(found, subject):
    return [f.kind for f in found if f.subject.startswith(subject)]


def test_swimming_hall_lacks_draft_in_summer_and_has_too_much_in_winter(studies):
    found = studies["swim_hall"]
    assert not found.buildable and found.lacking > 0 and found.excess > 0
    assert all(e.above > 0 and e.below > 0 for e in found.envelopes)
    text = " ".join(f.sentence for f in study.findings(found))
    assert "summer" in text and "design winter" in text and "idle" in text


def test_school_is_refused_for_its_categories_with_the_reason(studies):
    found = study.findings(studies["school"])
    refusal = next(f for f in found if f.subject == "Categories")
    assert refusal.kind == "danger"
    assert all(words in refusal.sentence for words in ("Water heater", "category IV", "from memory"))
    assert "fault" in kinds(found, "Material of stack")
    assert not studies["school"].buildable


def test_school_without_the_water_heater_is_not_refused(studies):
    plant = studies["school"].job.plant
    kept = [i for i, a in enumerate(plant.appliances) if a.category == "IV"]
    alone = replace(
        plant,
        appliances=tuple(plant.appliances[i] for i in kept),
        feeds=tuple(plant.feeds[i] for i in kept),
        sections=tuple(s for s in plant.sections if s.name != "hood connector"),
    )
    scans = [firing_states.scan(p, studies["school"].job.seasons) for p in (plant, alone)]
    assert study.category_refusals(scans[0]) and study.category_refusals(scans[1]) == ()


def test_lodge_feels_the_altitude(studies):
    """The same plant at sea level keeps more draft and takes less loss: thin air is 25 % lighter at 2,400 m."""
    found = studies["lodge"]
    low = replace(found.job, plant=replace(found.job.plant, altitude=Q_(0.0, "m")))
    sea = study.study(low)
    assert found.header[1] > sea.header[1] and found.header[0] > sea.header[0]
    ratio = found.scan.solution.barometric / sea.scan.solution.barometric
    assert ratio == pytest.approx(0.746, abs=0.002)  # US Standard Atmosphere 1976 at 2,400 m: 75.6 kPa


def test_laundry_run_is_too_long_and_its_pressure_too_high(studies):
    found = studies["laundry"]
    run = found.runs[0]
    assert run.equivalent > run.allowed == pytest.approx(85 * 0.3048)
    assert found.envelopes[0].above > 0
    assert any("equivalent length" in f.sentence for f in study.findings(found))
    # Named by the appliance's listing: the plastic itself is no fault there.
    assert not kinds(study.findings(found), "Material of run")


def test_every_state_is_solved_in_every_demo(studies):
    for found in studies.values():
        assert found.unsolved == 0
        assert found.scan.complete and np.isfinite(found.scan.solution.outlet_pressure).all()


def test_findings_follow_the_numbers_in_both_unit_systems(studies):
    for found in studies.values():
        us, si = study.findings(found, "US"), study.findings(found, "SI")
        assert [(f.kind, f.subject) for f in us] == [(f.kind, f.subject) for f in si]
        windows = [f for f in us if "Outlet pressure" in f.sentence]
        assert len(windows) == sum((e.above > 0) + (e.below > 0) for e in found.envelopes)
        assert not any("in. w.c." in f.sentence or "°F" in f.sentence for f in si)
        assert not any(".." in f.sentence for f in us + si)


def test_alternates_are_judged_by_their_own_window(studies):
    found = studies["swim_hall"]
    for alternate in found.job.alternates:
        for e in study.alternate_envelopes(found, alternate):
            own = next(x for x in found.envelopes if x.appliance == e.appliance)
            assert (e.low, e.high) == (own.low, own.high) and e.window != own.window


def test_a_plant_that_fits_is_not_faulted():
    """Laundry with a wide, short run and no wind on the wall: nothing speaks against it."""
    text = (JOBS / "laundry.toml").read_text(encoding="utf-8")
    text = text.replace('length = "92 ft"', 'length = "12 ft"').replace('wind = "20 mph"', 'wind = "0 mph"')
    text = text.replace('["elbow 90", "elbow 90", "elbow 90", "elbow 45", "elbow 45"]', '["elbow 90"]')
    text = text.replace('wind = "10 mph"', 'wind = "0 mph"')
    found = study.study(job.read(text.encode()))
    assert found.buildable, [f.sentence for f in study.findings(found)]


def test_sources_are_listed_once_and_say_their_standing(studies):
    listed = study.sources(studies["swim_hall"])
    assert len(listed) == len(set(listed)) > 15
    assert any("from memory" in s for s in listed) and any("Colebrook" in s for s in listed)
