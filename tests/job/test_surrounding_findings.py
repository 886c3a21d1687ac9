"""Surrounding findings: terminals, air, exhaust fans and intakes; what kills comes first."""

import pytest
import sample_reports
from sample_commissioning import judged_with

from ventcalc.building import clearances, code_rules, combustion_air_verdicts, roof_scene, terminal
from ventcalc.building.sight_line import Viewpoint
from ventcalc.job import findings, job_file, surroundings
from ventcalc.units import Q_


@pytest.mark.slow
def test_a_terminal_eight_feet_from_an_intake_says_so_first(school):
    first = school.judgement.findings[0]
    assert first.weight == "people" and first.subjects == ("roof",) and first.code == "terminal_opening"
    told = findings.sentence(first)
    assert "intake" in told and "7.46 ft away" in told  # 8 ft from the axis, 6.46 in. of vent
    assert code_rules.CHECK_EDITION in told and "IMC 401.4" in told
    html = sample_reports.html("school")
    assert html.index("classroom intake") < html.index("Flue gas enters the room")


def test_a_room_short_of_air_is_a_fault_and_one_that_has_enough_is_none(school, hall):
    assert not school.around.enough and hall.around.enough
    assert [f.weight for f in school.judgement.findings if f.title == "Combustion air"] == ["fault"]
    assert not [f for f in hall.judgement.findings if f.title == "Combustion air"]
    ways = combustion_air_verdicts.ways(school.job.plant, school.job.room)
    assert ways and not any(v.verdict == "pass" for v in ways)


def test_a_window_next_door_is_a_danger(school):
    wall = terminal.WALL_VENT
    window = roof_scene.Opening("their window", "operable window", Q_([[2.0, 0.0]], "m"), Q_(1, "m"), Q_(3, "m"), True)
    scene = clearances.Scene(
        (roof_scene.RoofPlane.flat("yard", Q_([[0, 0], [1, 0], [1, 1]], "m"), Q_(0, "m")),), (), (window,)
    )
    end = clearances.Terminal("T", Q_(0, "m"), Q_(0, "m"), Q_(2, "m"), Q_(0.2, "m"), wall, through="wall")
    ending = surroundings._ending(scene, end)
    told = judged_with(school, surroundings.Surroundings(endings=(ending,))).findings
    assert [f.weight for f in told if "window next door" in findings.sentence(f)] == ["people"]
    assert terminal.with_fan(end).kind == wall  # it is driven by a fan already


def seen_from(hall, views, end=None):
    """The finding on what is seen of the hall's terminal, or of one that ends elsewhere; None where it is not."""
    roof = hall.job.roof
    ending = surroundings._ending(roof.scene, end or roof.terminals[0], views)
    told = judged_with(hall, surroundings.Surroundings(endings=(ending,))).findings
    return next((f for f in told if f.code == "terminal_seen"), None)


def test_a_terminal_in_view_speaks_against_the_design(hall):
    """By similar triangles: the parapet, 51 ft high and 400 ft away, on the way from an eye at 5.5 ft and from one at
    40 ft to the near rim of the vent, whose axis is 424 ft away."""
    near = Viewpoint("the entrance", Q_(30.0, "ft"), Q_(-60.0, "ft"), Q_(5.5, "ft"))
    across = Viewpoint("the square", Q_(30.0, "ft"), Q_(-400.0, "ft"), Q_(5.5, "ft"))
    up = Viewpoint("a window", Q_(30.0, "ft"), Q_(-400.0, "ft"), Q_(40.0, "ft"))
    assert not hall.judgement.against or "terminal_seen" not in [f.code for f in hall.judgement.against]
    assert seen_from(hall, (near,)) is None and hall.job.roof.views
    found = seen_from(hall, (near, across, up))
    radius = 0.5 * hall.job.roof.terminals[0].diameter.m_as("ft")
    top, line = 57.0, 40.0 + 11.0 * (424.0 - radius) / 400.0
    assert found.weight == "fault" and found.speaks_against and found.subjects == ("roof",)
    assert (found.figures["worst"], found.figures["behind"]) == ("a window", "parapet")
    assert found.figures["line"].m_as("ft") == pytest.approx(line, abs=1e-3)
    assert found.figures["shows"].m_as("ft") == pytest.approx(top - line, abs=1e-3)
    told = findings.sentence(found)
    assert f"the upper {top - line:.1f} ft of terminal roof is seen" in told and "1 more of the views" in told


def test_whether_a_terminal_can_be_hidden_and_keep_its_clearances_is_told(hall):
    (end,) = hall.job.roof.terminals
    least = surroundings._ending(hall.job.roof.scene, end).least.height.m_as("ft")
    for eye, word in ((40.0, "fits"), (60.0, "apart")):
        view = Viewpoint("a window", Q_(30.0, "ft"), Q_(-400.0, "ft"), Q_(eye, "ft"))
        found = seen_from(hall, (view,), terminal.with_fan(end))
        line = eye + (51.0 - eye) * 424.0 / 400.0
        assert (line >= least) == (word == "fits") == found.figures["fits"] and found.figures["apart"] == (line < least)
        told = findings.sentence(found)
        assert ("would be hidden" in told) == (word == "fits") and ("which is seen" in told) == (word == "apart")
        assert "roof fan stands higher" in told


def test_the_hall_is_told_of_nitrogen_dioxide_and_is_not_frightened_by_all_its_nox(hall):
    study_of_hall, hall = hall, hall.job
    scan = study_of_hall.scan

    def told(of):
        found = surroundings.surroundings(of, scan)
        return [
            f
            for f in judged_with(study_of_hall, found).findings
            if f.code.startswith("intake") and "NO2" in f.figures["gas"]
        ]

    (finding,) = told(hall)  # the share is not told: a note, with both figures
    assert (finding.code, finding.weight) == ("intake_perhaps", "note")
    part = next(p for p in surroundings.surroundings(hall, scan).plumes[0].parts if p.gas == "no2")
    assert part.added < part.limit < part.at_most == pytest.approx(5.0 * part.added)
    assert "no2_share" in " ".join(hall.defaults) and "NO2" in findings.sentence(finding) and finding.rule
    text = hall.text
    high, low = (
        job_file.read(text.replace('co = "80 ppm"', f'co = "80 ppm"\nno2_share = "{share} %"', 1).encode())
        for share in (60, 5)
    )
    assert [r.weight for r in told(high)] == ["fault"] and told(low) == []
    assert "no2_share" not in " ".join(high.defaults)
    with pytest.raises(job_file.JobError, match="no2_share 120 % must be 0 to 100 %"):
        job_file.read(text.replace('co = "80 ppm"', 'co = "80 ppm"\nno2_share = "120 %"', 1).encode())


def test_a_house_limit_is_told_of_the_water_heater_alone(school):
    told = [f for f in school.judgement.findings if f.code == "house_limit"]
    assert [f.subjects for f in told] == [("Water heater",)]  # the boilers of 800 MBH, category IV, have none
    assert told[0].figures["limit"].m_as("Pa") == -3.0 and told[0].weight == "note"


def test_forced_draft_in_a_plain_vent_is_told_as_a_contradiction(school):
    (told,) = [f for f in school.judgement.findings if f.code == "terminal_contradicted"]
    assert told.weight == "note" and "category IV" in findings.sentence(told)
