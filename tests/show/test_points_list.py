"""Points list: what each design has and nothing else, alarms at the very settings of the study."""

import json

import pytest
from sample_remedies import DEVICES, designed
from sample_reports import Page
from sample_submittals import EVERY, HELD, SYSTEMS, faultless, paper, proposing, records

from ventcalc.draft.start_sequence import FAULTS, Event
from ventcalc.show import points_list, remedy_records
from ventcalc.show.tags import tags

# Names of object types as an open companion specification lists them: OPC 30030, table 144 (BACnetObjectTypeEnum).
OBJECTS = {"analog-input", "analog-output", "analog-value", "binary-input", "binary-output", "binary-value"}
CONTROLLED = [*DEVICES, "pipe changes and a damper", "shorter stack with a fan", "liner and a fan"]
PASCAL = 249.08891  # of one in. w.c.: NIST SP 811, conventional


def points(kind, system="SI"):
    return {p["name"]: p for p in records("points_list", kind, system)}


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", EVERY)
def test_every_point_has_a_name_of_its_own_and_a_known_object(kind, system):
    found = records("points_list", kind, system)
    assert len(points(kind, system)) == len(found) and bool(found) == bool(designed(kind).outcome.remedy.controls)
    json.dumps(found, allow_nan=False)
    for p in found:
        assert p["object"] in OBJECTS
        way = {"input": "to CT-1", "output": "from CT-1", "value": "within CT-1"}[p["object"].split("-")[1]]
        assert p["direction"] == way
        texts = [p[n] for n in ("description", "shown_range", "normal", "alarm", "wired")]
        assert all(texts) and not any("None" in t or "{" in t for t in texts)
        assert bool(p["unit"]) == (p["object"].startswith("analog")) == (p["range"][0]["value"] is not None)


@pytest.mark.parametrize("kind", CONTROLLED)
def test_points_are_of_what_the_design_has(kind):
    named = tags(designed(kind))
    own = {p.split(" ")[0] for p in points(kind)}
    moving = [*named.burners.values(), *named.outlet_dampers.values(), *named.outlet_sensors.values()]
    alone = [named.fan, named.damper, named.sensor, named.high, named.low, named.proof, named.control]
    assert own == {tag for tag in (*moving, *alone) if tag}
    for tag in named.burners.values():
        assert {f"{tag} {what}" for what in ("call", "release", "flame", "lockout")} <= set(points(kind))


@pytest.mark.parametrize("kind", CONTROLLED)
def test_every_fault_that_can_come_has_an_alarm(kind):
    remedy = designed(kind).outcome.remedy
    cannot = {Event.POWER_LOST} | (set() if remedy.fan else {Event.FAN_FAILED})
    cannot |= set() if remedy.damper or remedy.outlets else {Event.DAMPER_FAULT}
    told = {e for e in FAULTS if f"CT-1 {e.value}" in points(kind)}
    assert told == set(FAULTS) - cannot


@pytest.mark.parametrize("kind", HELD)
@pytest.mark.parametrize("system", SYSTEMS)
def test_alarm_limits_are_those_of_the_start_up_sheet(kind, system):
    sheet = {r["name"]: r["value"] for r in remedy_records.offered(proposing(kind), system)["sheet"]}
    found = points(kind, system)
    for name, limit, delay in (
        ("PS-1 switch high", "high pressure limit", "delay of the high limit"),
        ("PS-2 switch low", "low pressure limit", "delay of the low limit"),
        ("PS-3 switch proof", "proof of draft", "delay of proof lost"),
    ):
        limits = found[name]["limits"]
        assert (limits["limit"]["shown"], limits["delay"]["shown"]) == (sheet[limit], sheet[delay])
        assert sheet[limit] in found[name]["alarm"] and sheet[delay] in found[name]["alarm"]
    assert {e["shown"] for e in found["CT-1 set point"]["range"]} == {sheet["set point of the draft"]}
    ends = [e["shown"] for e in found["PT-1 pressure"]["range"]]
    assert ends == [sheet["lower end of the sensor"], sheet["upper end of the sensor"]]
    assert found["B-1 flame"]["limits"]["delay"]["shown"] == sheet["flame lost must act within"]


def test_ranges_are_those_of_the_devices():
    fan = designed("fan").outcome.remedy.fan
    assert [e["value"] for e in points("fan")["F-1 speed"]["range"]] == [fan.least_speed, fan.most_speed]
    outlets = {
        c.sensor: float(c.set_point.m_as("Pa")) for c in designed("damper at each outlet").outcome.remedy.controls
    }
    named = tags(designed("damper at each outlet"))
    for name, pascal in outlets.items():
        point = points("damper at each outlet")[f"{named.outlet_dampers[name]} set point"]
        assert [e["value"] for e in point["range"]] == pytest.approx([pascal, pascal])


def test_limits_and_the_reset_are_no_business_of_a_network():
    found = points("fan and damper")
    for tag in ("PS-1 switch high", "PS-2 switch low", "PS-3 switch proof"):
        assert found[tag]["object"] == "binary-input" and "chain of every burner" in found[tag]["wired"]
    assert found["CT-1 reset"]["object"] == "binary-input" and "panel" in found["CT-1 reset"]["description"]
    assert all("opens without power" in found[f"{tag} release"]["wired"] for tag in ("B-1", "B-2"))


@pytest.mark.parametrize("kind", ["as drawn", *DEVICES])
def test_the_table_holds_the_same_figures_in_its_units(kind):
    study = faultless(designed(kind))
    us, si = points_list.table(study, "US"), points_list.table(study, "SI")
    assert len(us.rows) == len(si.rows) == len(points(kind))
    for row, other in zip(us.rows, si.rows, strict=True):
        cells, metric = (dict(zip(t.header, r, strict=True)) for t, r in ((us, row), (si, other)))
        assert cells["unit"] in ("in. w.c.", "%", "") and metric["unit"] in ("Pa", "%", "")
        size = PASCAL if metric["unit"] == "Pa" else 1.0
        for end, k in (("from", 0), ("to", 1)):
            told = points(kind)[cells["point"]]["range"][k]["value"]
            if told is None:
                assert cells[end] is metric[end] is None
            else:
                assert cells[end] * size == pytest.approx(metric[end], rel=1e-6, abs=1e-9)
                assert metric[end] == pytest.approx(100.0 * told if metric["unit"] == "%" else told)


def test_the_table_warns_of_a_design_that_is_not_to_be_built():
    assert "NOT TO BUILD" in points_list.table(proposing("fan")).rows[0][0]


@pytest.mark.parametrize("kind", EVERY)
def test_its_page_is_whole(kind):
    for system in SYSTEMS:
        page = Page(paper("points_list", proposing(kind), system))
        assert not page.faults and not page.open and "None" not in page.text
        found = records("points_list", kind, system)
        assert all(p["name"] in page.text and " ".join(p["alarm"].split()) in page.text for p in found)
        assert ("it has no points" in page.text) == (not found)


@pytest.mark.parametrize("kind", HELD)
def test_a_limit_that_trips_above_says_above(kind):
    """Draft is lost upward and grows downward: the high limit trips above its pressure, the low one below."""
    named, told = tags(designed(kind)), points(kind)
    alarms = {
        tag: next(p["alarm"] for name, p in told.items() if name.split(" ")[0] == tag)
        for tag in (named.high, named.low)
    }
    assert "above" in alarms[named.high] and "below" not in alarms[named.high]
    assert "below" in alarms[named.low] and "above" not in alarms[named.low]
