"""Surroundings of the demo jobs: what is told of roof, room and carbon monoxide is judged; what kills comes first."""

import numpy as np
import pytest

from ventcalc import (
    carbon_monoxide,
    clearances,
    combustion,
    combustion_air,
    firing_states,
    fuels,
    job,
    report,
    study,
    surroundings,
    tables,
)
from ventcalc.units import Q_

JOBS = tables.DATA / "jobs"
SCHOOL_TEXT = (JOBS / "school.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def school():
    return study.study(job.load(JOBS / "school.toml"), compare=False)


@pytest.fixture(scope="module")
def hall():
    return study.study(job.load(JOBS / "swim_hall.toml"), compare=False)


def with_intake(feet: float) -> job.Job:
    """The school with its intake so many feet from the axis of the terminal, at its height."""
    x = 40.0 + feet
    text = SCHOOL_TEXT.replace(
        '[["48 ft", "28 ft"], ["48 ft", "32 ft"]]', f'[["{x} ft", "28 ft"], ["{x} ft", "32 ft"]]'
    )
    assert text != SCHOOL_TEXT
    return job.read(text.encode())


def judged(of: job.Job) -> surroundings.Surroundings:
    scan = firing_states.scan(of.plant, of.seasons)
    return surroundings.surroundings(of, scan)


def test_a_terminal_eight_feet_from_an_intake_says_so_first(school):
    first = study.findings(school)[0]
    assert first.kind == "danger" and first.subject == "Terminal roof"
    assert "intake" in first.sentence and "7.46 ft away" in first.sentence  # 8 ft from the axis, 6.46 in. of vent
    assert clearances.CHECK_EDITION in first.sentence and "IMC 401.4" in first.sentence
    page = report.page(report.results(school), report.figures(school))
    assert page.index("classroom intake") < page.index("Flue gas flows back")


@pytest.mark.parametrize(("feet", "fails"), [(8.0, True), (10.5, True), (10.6, False), (30.0, False)])
def test_the_intake_counts_within_ten_feet_of_the_vents_outside(feet, fails):
    # A vent of 12 in. with the wall of its material: its outside is half a foot and a little from the axis.
    ending = judged(with_intake(feet)).endings[0]
    outside = ending.terminal.radius / 0.3048
    assert (feet - outside < 10.0) == fails
    imc = [f for f in ending.findings if f.rule == "outdoor-air intake, mechanical code"]
    assert [f.verdict == clearances.FAIL for f in imc] == [fails]


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
    raised = clearances.at_height(e.terminal, e.least.height)
    assert clearances.overall(clearances.judge(school.job.roof.scene, raised)) != clearances.FAIL
    low = clearances.at_height(e.terminal, e.least.height * 0.999)
    assert clearances.overall(clearances.judge(school.job.roof.scene, low)) == clearances.FAIL
    intake = "forced-air inlet"
    fan = clearances.judge(school.job.roof.scene, clearances.with_fan(e.terminal))
    assert any(f.verdict == clearances.FAIL and intake in f.rule for f in fan)


def test_a_room_short_of_air_is_a_fault_and_one_that_has_enough_is_none(school, hall):
    assert not school.around.enough and hall.around.enough
    assert [f.kind for f in study.findings(school) if f.subject == "Combustion air"] == ["fault"]
    assert not [f for f in study.findings(hall) if f.subject == "Combustion air"]
    ways = combustion_air.ways(school.job.plant, school.job.room)
    assert ways and not any(v.verdict == "pass" for v in ways)


def test_the_kitchen_hood_pulls_flue_gas_out_of_the_water_heater(school):
    effect = next(e for e in school.around.effects if e.appliance == "Water heater")
    assert effect.flue_gas > effect.flue_gas_without > 0.0 and effect.lowest_room < 0.0
    told = [f for f in study.findings(school) if f.subject == "Water heater" and "exhaust fans" in f.sentence]
    assert told and told[0].kind == "danger"


def test_carbon_monoxide_counts_the_exhaust_fans(school):
    """Gas that comes back only with the kitchen hood running is judged as well, at what it then is."""
    spilled = {s.spill.appliance: s.spill.flow.m for s in school.around.spills}
    lit = {e.appliance: e.spill for e in school.around.effects if e.dangerous}
    assert set(lit) <= set(spilled)
    assert 0.5 * lit["Boiler 2"] < spilled["Boiler 2"] <= lit["Boiler 2"] * (1.0 + 1e-9)  # by flow times flue-gas share


def test_a_window_next_door_is_a_danger():
    wall = clearances.WALL_VENT
    window = clearances.Opening("their window", "operable window", Q_([[2.0, 0.0]], "m"), Q_(1, "m"), Q_(3, "m"), True)
    scene = clearances.Scene(
        (clearances.RoofPlane.flat("yard", Q_([[0, 0], [1, 0], [1, 1]], "m"), Q_(0, "m")),), (), (window,)
    )
    end = clearances.Terminal("T", Q_(0, "m"), Q_(0, "m"), Q_(2, "m"), Q_(0.2, "m"), wall, through="wall")
    ending = surroundings._ending(scene, end)
    told = surroundings.findings(surroundings.Surroundings(endings=(ending,)), "US")
    assert [kind for kind, _, text in told if "window next door" in text] == ["danger"]
    assert clearances.with_fan(end).kind == wall  # it is driven by a fan already


def test_flue_gas_in_the_room_is_judged_and_gone_with_the_remedy(hall):
    assert hall.around.spills and not any(s.exposure.co.max() <= 0.0 for s in hall.around.spills)
    for s in hall.around.spills:  # the room's steady state by hand: source over source and ventilation
        flow, own = s.exposure.flow, 14000.0 * 0.3048**3 / 3600.0
        assert s.exposure.steady[0] == pytest.approx(s.exposure.flow_co * flow / (flow + own), rel=1e-6)
    told = next(f for f in study.findings(hall) if f.subject == "Carbon monoxide")
    # 15 ppm at most: beyond guidelines of air (10 mg/m3 over 8 h, WHO), below all that is for harm to people.
    assert max(s.exposure.co.max() for s in hall.around.spills) < 25.0
    assert told.kind == "fault" and carbon_monoxide.CAUTION in told.sentence and "8 h mean" in told.sentence
    whole = study.study(hall.job, compare=False).offered
    assert not whole.around.spills and whole.buildable
    # Its fan makes the terminal mechanical draft, and throws the exhaust higher.
    assert [e.terminal.kind for e in whole.around.endings] == [clearances.FAN]
    assert whole.around.plumes[0].dilution > 1.5 * hall.around.plumes[0].dilution


def spilled(burnt: float, flow: float, **changes):
    """Carbon monoxide of one spill into a room of 400 m3 with one air change."""
    products = combustion.products(fuels.fuel("natural gas"), 0.3, 0.01)
    case = carbon_monoxide.COCase(Q_(400.0, "m**3"), Q_(1.0, "1/hour"), Q_(400.0, "ppm"), **changes)
    spill = carbon_monoxide.Spill("Boiler", 7, Q_(flow, "kg/s"), burnt, products)
    return surroundings.Spilled(spill, carbon_monoxide.judge(case, spill.flow, products, Q_(1.0, "atm"), burnt), True)


@pytest.mark.parametrize(("flow", "code", "weight"), [
    (0.0045, "carbon monoxide beyond a guideline", "fault"),
    (0.030, "carbon monoxide that harms", "danger"),
])  # fmt: skip
def test_carbon_monoxide_weighs_by_what_it_does_to_people(flow, code, weight):
    (record,) = surroundings.records(surroundings.Surroundings(spills=(spilled(1.0, flow),)))
    assert (record.code, record.weight, record.state, record.exhausting) == (code, weight, 7, True)
    assert record.figures["co"].m_as("ppm") == pytest.approx(spilled(1.0, flow).exposure.co.max())
    assert record.rule.source and record.rule.status.startswith(tables.STATUSES) and record.rule.edition
    # 9 ppm over 8 h is the outdoor standard, 25 ppm over 8 h the strictest limit of a workplace.
    assert (record.figures["co"].m_as("ppm") > 25.0) is (weight == "danger") and record.figures["co"].m_as("ppm") > 9.0
    assert record.subjects == ("Carbon monoxide", "Boiler")


def test_the_hall_is_told_of_nitrogen_dioxide_and_is_not_frightened_by_all_its_nox():
    hall = job.load(JOBS / "swim_hall.toml")
    scan = firing_states.scan(hall.plant, hall.seasons)

    def told(of):
        found = surroundings.surroundings(of, scan)
        return [r for r in surroundings.records(found) if r.subjects[-1] == "no2"]

    (record,) = told(hall)  # the share is not told: a note, with both figures
    assert (record.weight, record.verdict) == ("note", clearances.READING)
    assert record.figures["added"].m < record.figures["limit"].m < record.figures["at_most"].m
    assert record.figures["at_most"].m == pytest.approx(5.0 * record.figures["added"].m)
    assert scan.any_firing[record.state] and "no2_share" in " ".join(hall.defaults)
    assert "NO2" in surroundings.sentence(record, "US") and record.rule.status in surroundings.sentence(record, "US")
    text = (JOBS / "swim_hall.toml").read_text(encoding="utf-8")
    high, low = (
        job.read(text.replace('co = "80 ppm"', f'co = "80 ppm"\nno2_share = "{share} %"', 1).encode())
        for share in (60, 5)
    )
    assert [r.weight for r in told(high)] == ["fault"] and told(low) == []
    assert "no2_share" not in " ".join(high.defaults)
    with pytest.raises(job.JobError, match="no2_share 120 % must be 0 to 100 %"):
        job.read(text.replace('co = "80 ppm"', 'co = "80 ppm"\nno2_share = "120 %"', 1).encode())


def test_every_record_has_words_and_every_words_a_record_could_fill(school):
    found = surroundings.records(school.around)
    assert found and len({r.code for r in found}) >= 8
    for record in found:
        for system in ("US", "SI"):
            said = surroundings.sentence(record, system)
            assert said and "{" not in said and ".." not in said
        assert record.weight in ("danger", "fault", "note") and surroundings.WORDS[record.code].cure
        assert all(isinstance(value, Q_) for value in record.figures.values())
        with pytest.raises(AttributeError):
            record.code = "other"
        with pytest.raises(TypeError):
            record.figures["added"] = Q_(1.0, "ppm")
    judged = [r for r in found if r.rule and r.rule.source]
    assert judged and all(r.rule.status.startswith(tables.STATUSES) for r in judged)


def test_a_house_limit_is_told_of_the_water_heater_alone(school):
    told = [r for r in surroundings.records(school.around) if r.code == "exhaust below the house limit"]
    assert [r.subjects for r in told] == [("Water heater",)]  # the boilers of 800 MBH, category IV, have none
    assert told[0].figures["limit"].m_as("Pa") == -3.0 and told[0].weight == "note"


def test_forced_draft_in_a_plain_vent_is_told_as_a_contradiction(school):
    (told,) = [r for r in surroundings.records(school.around) if r.code == "terminal contradicted"]
    assert told.weight == "note" and "category IV" in surroundings.sentence(told)


def test_what_the_job_does_not_tell_of_is_named_as_not_checked():
    found = study.study(job.load(JOBS / "laundry.toml"), compare=False)
    assert found.around == surroundings.Surroundings()
    named = report.results(found)["not_checked"]
    assert sum("the job file tells nothing of it" in n for n in named) == 4
    told = report.results(study.study(job.load(JOBS / "school.toml"), compare=False))["not_checked"]
    assert not any("tells nothing" in n for n in told)


def test_sentences_are_in_the_units_asked_for(school):
    us, si = (surroundings.findings(school.around, system) for system in ("US", "SI"))
    assert [f[:2] for f in us] == [f[:2] for f in si]
    assert " ft" in us[0][2] and " m" in si[0][2] and " ft" not in si[0][2]
    assert np.isfinite(school.around.cure.supply.m)
