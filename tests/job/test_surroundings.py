"""Surroundings of the demo jobs: what is told of roof, room and carbon monoxide, and what is not."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_studies import STUDIES, scanned

from ventcalc import tables
from ventcalc.building import clearances, co_exposure, code_rules, spillage, terminal
from ventcalc.job import findings, job_file, judgement, study, surroundings
from ventcalc.show import results
from ventcalc.units import Q_

JOBS = tables.DATA / "jobs"
SCHOOL_TEXT = (JOBS / "school.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def school():
    return STUDIES["school"]


@pytest.fixture(scope="module")
def hall():
    return STUDIES["swim_hall"]


def with_intake(feet: float) -> job_file.Job:
    """The school with its intake so many feet from the axis of the terminal, at its height."""
    x = 40.0 + feet
    text = SCHOOL_TEXT.replace(
        '[["48 ft", "28 ft"], ["48 ft", "32 ft"]]', f'[["{x} ft", "28 ft"], ["{x} ft", "32 ft"]]'
    )
    assert text != SCHOOL_TEXT
    # Of the roof alone: room and carbon monoxide are the same wherever an intake is.
    return replace(job_file.read(text.encode()), room=None, carbon_monoxide=None, emissions=None)


def judged_with(found: study.Study, around: surroundings.Surroundings) -> findings.Judgement:
    """The judgement of a study with other surroundings."""
    return judgement.judge(replace(found, around=around))


@pytest.mark.slow
@pytest.mark.parametrize(("feet", "fails"), [(8.0, True), (10.5, True), (10.6, False), (30.0, False)])
def test_the_intake_counts_within_ten_feet_of_the_vents_outside(feet, fails):
    # A vent of 12 in. with the wall of its material: its outside is half a foot and a little from the axis.
    ending = surroundings.surroundings(with_intake(feet), scanned("school")).endings[0]
    outside = ending.terminal.radius / 0.3048
    assert (feet - outside < 10.0) == fails
    imc = [f for f in ending.findings if f.rule == "outdoor-air intake, mechanical code"]
    assert [f.verdict == code_rules.FAIL for f in imc] == [fails]


def test_terminals_take_height_and_size_from_the_vent(school):
    plant, terminal = school.job.plant, school.around.endings[0].terminal
    assert terminal.outlet.m_as("m") == pytest.approx(plant.heights["stack"][1], abs=1e-9)
    material = plant.section("stack").material
    assert terminal.diameter.m_as("inch") == pytest.approx(12.0 * material.diameter_ratio)
    assert terminal.heat_input.m_as("MBH") == pytest.approx(
        sum(max(level.heat_input.m_as("MBH") for level in a.levels) for a in plant.appliances)
    )


def test_the_least_height_satisfies_every_rule_and_a_fan_leaves_the_intakes_as_they_are(school):
    e = school.around.endings[0]
    raised = terminal.at_height(e.terminal, e.least.height)
    assert clearances.overall(clearances.judge(school.job.roof.scene, raised)) != code_rules.FAIL
    low = terminal.at_height(e.terminal, e.least.height * 0.999)
    assert clearances.overall(clearances.judge(school.job.roof.scene, low)) == code_rules.FAIL
    intake = "forced-air inlet"
    fan = clearances.judge(school.job.roof.scene, terminal.with_fan(e.terminal))
    assert any(f.verdict == code_rules.FAIL and intake in f.rule for f in fan)


def test_carbon_monoxide_counts_the_exhaust_fans(school):
    """Gas that comes back only with the kitchen hood running is judged as well, at what it then is."""
    spilled = {s.spill.appliance: s.spill.flow.m for s in school.around.spills}
    lit = {e.appliance: e.spill for e in school.around.effects if e.dangerous}
    assert set(lit) <= set(spilled)
    assert 0.5 * lit["Boiler 2"] < spilled["Boiler 2"] <= lit["Boiler 2"] * (1.0 + 1e-9)  # by flow times flue-gas share


def test_what_the_job_does_not_tell_of_is_named_as_not_checked():
    found = STUDIES["laundry"]
    assert found.around == surroundings.Surroundings()
    named = results.results(found)["not_checked"]
    assert sum("the job file says nothing about it" in n for n in named) == 4
    told = results.results(STUDIES["school"])["not_checked"]
    assert not any("says nothing" in n for n in told)


def test_sentences_are_in_the_units_asked_for(school):
    us, si = ([findings.sentence(f, system) for f in school.judgement.findings] for system in ("US", "SI"))
    assert " ft" in us[0] and " m" in si[0] and " ft" not in si[0]
    assert np.isfinite(school.around.cure.supply.m)


def test_what_makes_the_room_worst_counts_not_what_brings_most_gas(school):
    """Fans may draw down the same flue gas in more air: what is told is the most carbon monoxide, fans off or on."""
    job, found = school.job, school.around
    pressure = Q_(school.scan.solution.barometric, "Pa")
    for s in found.spills:
        each = [
            co_exposure.judge(job.carbon_monoxide, other.flow, other.products, pressure, other.burnt).co[0].max()
            for scan in (school.scan, found.exhausted)
            for other in spillage.spills(scan)
            if other.appliance == s.spill.appliance
        ]
        assert s.exposure.co[0].max() == max(each)
    assert found.spills


@pytest.mark.parametrize(("verdicts", "ways", "enough"), [
    ((), (), True), (("a",), ("fail", "pass"), True), (("a",), ("fail", "fail"), False), (("a",), (), False),
])  # fmt: skip
def test_combustion_air_is_enough_where_one_way_of_the_code_passes_or_none_asks(
    monkeypatch, school, verdicts, ways, enough
):
    """Any one way to bring in combustion air is enough; where nothing in the room takes air, nothing is asked."""
    of = surroundings.combustion_air_verdicts
    monkeypatch.setattr(of, "judge", lambda plant, room: verdicts)
    monkeypatch.setattr(of, "ways", lambda plant, room: [SimpleNamespace(verdict=v) for v in ways])
    quiet = replace(
        school.job, roof=None, emissions=None, carbon_monoxide=None, room=replace(school.job.room, exhausts=())
    )
    assert surroundings.surroundings(quiet, school.scan).enough == enough
