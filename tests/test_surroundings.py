"""Surroundings of the demo jobs: what is told of roof, room and carbon monoxide is judged; what kills comes first."""

import numpy as np
import pytest

from ventcalc import (
    carbon_monoxide,
    clearances,
    combustion_air,
    firing_states,
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
    assert effect.spill > effect.spill_without > 0.0 and effect.lowest_room < 0.0
    told = [f for f in study.findings(school) if f.subject == "Water heater" and "exhaust fans" in f.sentence]
    assert told and told[0].kind == "danger"


def test_carbon_monoxide_counts_the_exhaust_fans(school):
    """Gas that comes back only with the kitchen hood running is judged as well, at what it then is."""
    spilled = {s.spill.appliance: s.spill.flow.m for s in school.around.spills}
    lit = {e.appliance: e.spill for e in school.around.effects if e.spill > firing_states.REVERSAL_FLOW}
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
    told = surroundings._against(ending, "US")
    assert [kind for kind, _, text in told if "window next door" in text] == ["danger"]
    assert clearances.with_fan(end).kind == wall  # it is driven by a fan already


def test_flue_gas_in_the_room_is_judged_and_gone_with_the_remedy(hall):
    assert hall.around.spills and not any(s.exposure.co.max() <= 0.0 for s in hall.around.spills)
    for s in hall.around.spills:  # the room's steady state by hand: source over source and ventilation
        flow, own = s.exposure.flow, 14000.0 * 0.3048**3 / 3600.0
        assert s.exposure.steady[0] == pytest.approx(s.exposure.flow_co * flow / (flow + own), rel=1e-6)
    told = next(f for f in study.findings(hall) if f.subject == "Carbon monoxide")
    assert told.kind == "danger" and carbon_monoxide.CAUTION in told.sentence
    whole = study.study(hall.job, compare=False).offered
    assert not whole.around.spills and whole.buildable
    # Its fan makes the terminal mechanical draft, and throws the exhaust higher.
    assert [e.terminal.kind for e in whole.around.endings] == [clearances.FAN]
    assert whole.around.plumes[0].dilution > 1.5 * hall.around.plumes[0].dilution


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
