"""The chapter on the study of a job: questions and prediction by a second solver, its tables, its live controls."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import sample_records
from independent_network import Vent

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.handbook import study as chapter
from ventcalc.job import job_file, record_judgement
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, show

JOBS = {path.stem: job_file.demonstration(path.stem) for path in sorted((tables.DATA / "jobs").glob("*.toml"))}
HALL = JOBS["swim_hall"]


# --- Questions ---


def expected(number):
    """The expected answer [Pa] in both unit systems; they are one."""
    us, si = (float(chapter.questions(system)[number].expected.m_as("Pa")) for system in SYSTEMS)
    assert us == pytest.approx(si, rel=1e-9)
    return us


def boiler_1(plant, codes=(3, 3, 3), cold=True):
    """Outlet pressure of Boiler 1 [Pa] in summer, by the second solver of the tests."""
    state = Vent(plant, HALL.seasons).state(codes, 2, cold=cold)
    drawn, _, _ = state.solve()
    return state.at(drawn).outlet_pressure(0)


def test_lacking_by_a_second_solver():
    # All three boilers blow into the header; at its end stands the mouth of header 1.
    state = Vent(HALL.plant, HALL.seasons).state([3, 3, 3], 2, cold=True)
    flowing = state.at(state.solve()[0])
    area = math.pi * 0.4064**2 / 4
    head = (flowing.flow("header 1") / area) ** 2 * flowing.volume_at("header 1", "up") / 2
    lift = state.room_gauge[0] * (2.7432 - 0.3048) / (1.524 - 0.3048)  # the room at the header's height
    static = flowing.pressure_up("header 1") - head
    assert expected(0) == pytest.approx(static - lift + 0.05 * 249.089, abs=0.1)


def test_alternate_by_a_second_solver():
    # The outlet as drawn, at its worst on a hot stack, less the upper edge of the alternate's window, 0.04 in. w.c.
    hot = boiler_1(HALL.plant, cold=False)
    assert hot > boiler_1(HALL.plant)
    assert expected(1) == pytest.approx(hot - 0.04 * 249.089, abs=0.05)


def test_wide_stack_by_a_second_solver():
    sections = HALL.plant.sections
    wide = replace(
        HALL.plant,
        sections=tuple(s if s.name.startswith("connector") else replace(s, diameter=Q_(20, "inch")) for s in sections),
    )
    # The other two purge: with that much room in the stack, lack of draft weighs more than flow.
    assert expected(2) == pytest.approx(boiler_1(wide, (3, 1, 1)), abs=0.05)
    assert boiler_1(wide, (3, 1, 1)) > boiler_1(wide)


def test_at_rest_by_a_second_solver():
    """All off at 20 degF, on walls that have come to rest; static where header 1 begins, against the room there. The
    search for what leaks in begins at about 20 cfm; from 3 cfm, its own guess, it gets stuck (and says so)."""
    day = replace(HALL.seasons[0], outdoor=Q_(20, "degF"), room=Q_(70, "degF"), wind=Q_(0, "m/s"))
    state = Vent(HALL.plant, (day,)).state([0, 0, 0], 0)
    drawn, mismatch, _ = state.solve([0.01, 0.01, 0.005])
    assert mismatch < 1e-3
    flowing, lift = state.at(drawn), state.room_gauge[0] * (2.7432 - 0.3048) / (1.524 - 0.3048)
    assert expected(3) == pytest.approx(flowing.pressure_up("header 1") - lift, abs=0.1)  # its head is 0.001 Pa


# --- A record from site ---


@pytest.mark.slow
def test_planted_errors_are_found():
    found = sample_records.hall()
    judged = record_judgement.judge(found, chapter.spoilt_record(found))
    causes = [f for f in judged.judgement.findings
              if f.code in ("record_sign", "record_sensor", "record_not_reached") or "offset" in f.code]  # fmt: skip
    assert sorted((f.code, f.subjects) for f in causes) == [
        ("record_not_reached", ("Boiler 1",)),
        ("record_sensor", ("header by a gauge",)),
        ("record_sign", ("outlet of Boiler 3",)),
    ]
    assert not judged.passed


def test_the_record_on_the_page_is_that_of_the_remedy_and_not_passed():
    judged = chapter.judged()
    assert not judged.passed and judged.count("missing") == 0
    for system, swapped in (("US", "0.040 in. w.c."), ("SI", "10.0 Pa")):
        shown = chapter.record_table(judged, system)
        assert shown.count("<tr>") == 1 + sum(
            line.expected.asked.condition.name in ("all off", "Boiler 3 alone at low") for line in judged.lines
        )
        # The tubes of Boiler 3 are swapped: what pulls is read as a push.
        assert f">{swapped}<" in shown and f">-{swapped} ± " in shown


# --- The study that the page reads ---


@pytest.mark.slow
def test_what_is_left_out_of_the_study_changes_nothing_that_is_found():
    ours, full = chapter.hall(), sample_records.hall()
    told = [[(f.code, f.subjects) for f in one.judgement.findings] for one in (ours, full, ours.offered, full.offered)]
    assert told[0] == told[1] and told[2] == told[3]
    assert [(e.low, e.high) for e in ours.envelopes] == [(e.low, e.high) for e in full.envelopes]


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_makes_accepted_against_the_envelope(system):
    first = chapter.hall().envelopes[0]
    below = first.window[0] - first.low  # of Boiler 1: as wide a window, moved up by 0.1 in. w.c. at its lower edge
    moved = show(Q_(below + 0.1 * 249.089, "Pa"), system, "draft")
    assert f">{moved}<" in chapter.alternates_table(chapter.hall(), system)


def test_a_file_with_two_faults_is_told_both():
    unit, key = chapter.spoilt_file()
    assert "the unit is missing" in unit and "did you mean 'purge_flow'" in key


@pytest.mark.parametrize("system", SYSTEMS)
def test_page_one_says_what_the_study_found(system):
    first, *told = chapter.page_one_words(system).splitlines()
    against = chapter.hall().judgement.against
    assert first.startswith("No, it is not safe to build as drawn")
    assert [line.partition(":")[0] for line in told[:-1]] == [f.weight for f in against]
    assert f"{len(chapter.hall().offered.judgement.against)} faults remain" in told[-1]


# --- Prediction, and what is written ---


def test_prediction_by_a_second_solver():
    """Boiler 1 off, Boiler 2 high, Boiler 3 purges, in summer on a cold stack: what flows back through Boiler 1."""
    found = chapter.into_the_room("US")
    assert found["state"].startswith("Boiler 1 off, Boiler 2 high, Boiler 3 purge; summer")
    state = Vent(HALL.plant, HALL.seasons).state([0, 3, 1], 2, cold=True)
    drawn, mismatch, _ = state.solve([-0.008])
    assert mismatch < 1e-3
    # Of what flows back a little is the air with which Boiler 3 purges.
    assert 0.0 < -drawn[0] - found["figure"].m_as("kg/s") < 0.02 * -drawn[0]
    assert found["right"] == 2


@pytest.mark.parametrize("system", SYSTEMS)
def test_prediction_is_told(system):
    told = chapter.prediction(system)
    assert told.choices[told.right] == "Through one that is off"
    assert {"US": "61 lb/h", "SI": "0.0077 kg/s"}[system] in told.because and "42 of 896" in told.because


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_text_finds_in_the_controls_what_it_asks_for(system):
    panel = chapter.explorer(system).panel
    at = {name: control.value for name, control in panel.controls.items()}
    heat = max(
        value for _, value in panel.controls["outdoor"].options if value < HALL.seasons[2].outdoor.m_as("K") + 0.1
    )
    off = {"does Boiler 1": "off", "does Boiler 3": "purge", "outdoor": heat, "cold": True}
    *_, drawn = panel.answer(**at | off)
    assert "connector 1: flow REVERSED" in drawn.words and "FLUE GAS ENTERS THE ROOM" in drawn.words
    numbers, *_ = panel.answer(**at | {f"does Boiler {k}": "low" for k in (1, 2, 3)})
    assert len(re.findall(r"outside: [\d.]+ \S+(?: w\.c\.)? below", numbers)) == 3


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_sorting(system):
    task = chapter.writing(system)
    kinds = {
        tried(task, case, lambda a, b, low, high: float(np.sort([a - low, high - b])[0])).kind for case in task.cases
    }
    assert kinds == {"right"}
    for case in task.cases:
        assert tried(task, case, lambda a, b, low, high: max(a - low, high - b)).words == task.slips["larger"]


# --- Live controls: each job's own are in test_common_vent.py ---


def test_the_jobs_are_named_as_in_their_files():
    assert {job.name: key for key, job in JOBS.items() if job.existing is None} == chapter.JOBS
    assert next(iter(chapter.JOBS)) == HALL.name


@pytest.mark.slow
def test_units_keep_the_job_the_controls_and_the_physics():
    before = chapter.explorer("US")
    before.job.value = "lodge"
    outdoor = before.panel.controls["outdoor"]
    outdoor.value = min(v for _, v in outdoor.options)
    before.panel.controls["does Boiler B"].value = "low"
    now = chapter.explorer("SI")
    now.take_over(before)
    assert now.job.value == "lodge" and now.panel.controls["does Boiler B"].value == "low"
    assert now.panel.controls["outdoor"].label == "-40 °C"
    assert "Pa" in now.panel.numbers.value and "w.c." not in now.panel.numbers.value


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_every_job_of_the_list_is_shown(system):
    shown = chapter.explorer(system)
    for key in chapter.JOBS.values():
        shown.job.value = key
        names = [a.name for a in JOBS[key].plant.appliances]
        assert all(name in shown.panel.numbers.value for name in names)
        assert set(shown.panel.controls) >= {f"does {name}" for name in names}


def test_a_page_that_is_not_live_shows_the_numbers():
    bundle = chapter.explorer("US")._repr_mimebundle_()
    assert "verdict" in bundle["text/html"] and "application/vnd.jupyter.widget-view+json" in bundle


# --- What the chapter stands on ---


def test_every_check_agrees_or_says_why():
    checks = chapter.checks()
    assert unexplained(checks) == []
    assert [c.id for c in checks if not c.agrees] == []
    assert {c.id[0] for c in checks} == {"L", "D"}
