"""Start-up sheet: every setting with its source, trials by the machine, room for the pen."""

from dataclasses import replace

import pytest
from sample_starts import BOILERS, USUAL, E, seconds

from ventcalc import tables
from ventcalc.draft.start_sequence import FAULTS, LIMITS
from ventcalc.draft.startup_sheet import sheet_html, shown, startup_sheet, trials
from ventcalc.units import Q_


def test_sheet_has_every_setting_with_where_it_comes_from():
    rows = startup_sheet(USUAL)
    assert len(rows) == len(tables.read("start_sequence")) + len(BOILERS)
    assert {r.kind for r in rows} == {"set", "measure", "verify"}
    # Trials for ignition and the flame's response are times of the listed burner: common practice, no source.
    verified = {"pilot trial for ignition", "main trial for ignition", "flame lost must act within"}
    assert {r.name for r in rows if r.kind == "verify"} == verified
    assert all(r.why and r.source and r.status.startswith(tables.STATUSES) for r in rows)
    purge = next(r for r in rows if r.name == "purge of Boiler 1")
    assert purge.value.m_as("s") == pytest.approx(24.0) and "4 x (40 ft³ + 0 ft³) / 400 cfm" in purge.why
    assert any("4 x (1.13 m³ + 0 m³) / 0.189 m³/s" in r.why for r in startup_sheet(USUAL, "SI"))


def test_a_value_that_was_chosen_says_so():
    row = next(r for r in startup_sheet(replace(USUAL, high_delay=seconds(8))) if r.name == "delay of the high limit")
    assert row.source.startswith("chosen for this job; usual: 5 s") and row.value == seconds(8)


def test_sheet_leaves_room_for_the_pen_and_names_every_trial():
    html = sheet_html(startup_sheet(USUAL))
    assert html.count("as found") == html.count("as left") == 4 and "signed" in html and "To be measured" in html
    # Five headers, every setting, every fault, the proof at rest, the line to sign.
    assert html.count("<tr>") == 5 + len(startup_sheet(USUAL)) + len(FAULTS) + 1 + 1
    assert html.count("&nbsp;") == 2 * (len(startup_sheet(USUAL)) + len(FAULTS) + 1) + 3
    for fault in FAULTS:
        assert f">{fault.value}</td>" in html
    assert ">flame lost</td>" in html.split("To be tried")[1]


def test_every_limit_leads_to_a_lockout_that_only_a_person_ends():
    tried = dict(trials())
    for fault in (*LIMITS, E.FLAME_LOST):
        assert tried[fault.value].startswith("lockout") and "manual reset" in tried[fault.value]
    # A full start follows by itself where the call still stands.
    assert "manual reset" not in tried[E.POWER_LOST.value] and "a full start" in tried[E.POWER_LOST.value]
    assert "a full start" not in tried[E.FLAME_LOST.value]


@pytest.mark.parametrize(("device", "fault"), [("fan", E.FAN_FAILED), ("damper", E.DAMPER_FAULT)])
def test_nothing_is_measured_or_tried_of_a_device_that_is_not_there(device, fault):
    measured = {r.name: r for r in startup_sheet(USUAL) if r.kind == "measure"}
    left = {r.name: r for r in startup_sheet(USUAL, lacking=(device,))}
    (gone,) = (name for name in measured if left[name].kind != "measure")
    assert gone == {"fan": "fan runs after", "damper": "damper travels in"}[device]
    assert left[gone].why == f"this vent has no {device}: it only paces the program"
    assert left[gone].value == measured[gone].value  # the sequence of operation tells it still
    tried = dict(trials((device,)))
    assert set(dict(trials())) - set(tried) - {"proof, with the fan at rest"} == {fault.value}
    assert ("proof, with the fan at rest" in tried) == (device != "fan")


def test_nothing_is_measured_of_a_blower_or_a_low_fire_that_no_burner_has():
    # An atmospheric burner of one level has neither (common practice, no source).
    plain = replace(USUAL, burners=tuple(replace(b, purge_flow=None, codes=(0.0, 1.0, 1.0)) for b in USUAL.burners))
    gone = {r.name for r in startup_sheet(USUAL) if r.kind == "measure"}
    gone -= {r.name for r in startup_sheet(plain) if r.kind == "measure"}
    assert gone == {"burner's blower runs up in", "held at low fire", "low to high fire in"}


def test_values_are_shown_in_both_systems():
    assert shown(Q_(-0.05, "inH2O")) == "-0.050 in. w.c." and shown(Q_(-0.05, "inH2O"), "SI") == "-12.5 Pa"
    assert shown(Q_(40, "ft**3"), "SI") == "1.13 m³" and shown(Q_(24, "s"), "SI") == "24 s"
    assert shown(Q_(100, "percent/inH2O"), "SI") == "0.401 % per Pa" and shown(Q_(4, "")) == "4"
