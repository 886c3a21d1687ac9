"""Equipment schedule: every kind of remedy, its figures those of the study, nothing left blank without a word."""

import json

import numpy as np
import pytest
from sample_remedies import DEVICES, designed
from sample_reports import Page
from sample_studies import STUDIES, studied
from sample_submittals import EVERY, HELD, SYSTEMS, faultless, paper, proposing, records

from ventcalc.draft import fan_curve
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere
from ventcalc.job import remedy_words, vent_findings
from ventcalc.job.remedy import AS_DRAWN
from ventcalc.show import equipment_schedule, page_one, remedy_records, spreadsheet, vent_records
from ventcalc.show.tags import tags

# Of one unit of the US columns, in that of the records: NIST SP 811 (in. w.c. conventional, ft3/min, mechanical hp).
PASCAL, M3_S, WATT = 249.08891, 0.028316846592 / 60.0, 745.69987


def rows(kind, system="SI"):
    return {row["tag"]: row for row in records("equipment_schedule", kind, system)}


def ends(row, name):
    return [end["value"] for end in row["duty"][name]]


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", EVERY)
def test_every_kind_has_its_rows_in_words(kind, system):
    found, named = records("equipment_schedule", kind, system), tags(designed(kind))
    plant = designed(kind).job.plant
    open_ends = {named.ends[t.name] for t in plant.terminations if t.cap == "open end"}
    assert sorted(row["tag"] for row in found) == sorted(set(named.every) - open_ends)
    assert "null" not in json.dumps(found, allow_nan=False)
    for row in found:
        texts = [row[n] for n in ("what", "where", "status", "size", "material", "wall", "drain", "by_maker")]
        assert all(texts) and not any("None" in t or "{" in t for t in (*texts, *row["listing"], *row["told"]))


@pytest.mark.slow
@pytest.mark.parametrize("kind", EVERY)
def test_sections_tell_what_the_study_found_in_them(kind):
    design = designed(kind)
    named = tags(design).sections
    for told, section in zip(vent_records.sections(design, "SI"), design.job.plant.order, strict=True):
        row = rows(kind)[named[told["name"]]]
        assert ends(row, "gas") == [g["value"] for g in told["gas"]]
        assert ends(row, "pressure") == [p["value"] for p in told["pressure"]]
        area = np.pi / 4.0 * float(section.diameter.m_as("m")) ** 2
        assert ends(row, "flow") == pytest.approx([area * v["value"] for v in told["velocity"]])
        assert row["size"] == told["diameter"]["shown"] and row["material"] == told["material"]
        if told["condensate"]["value"] > 0.0:
            assert row["drain"] == "yes"


@pytest.mark.parametrize("kind", ["fan", "fan and damper", "shorter stack with a fan"])
def test_the_fan_tells_the_extremes_of_all_seasons(kind):
    row, told = rows(kind)["F-1"], remedy_records.offered(proposing(kind), "SI")["duty"]
    for name, of in (("flow", "flow"), ("static", "static"), ("gas", "temperature")):
        values = [season[of][k]["value"] for season in told for k in (0, 1)]
        assert ends(row, name) == [min(values), max(values)]
    speeds = [season["speed"][k]["value"] for season in told for k in (0, 1)]
    assert ends(row, "speed") == [min(speeds), max(speeds)]
    assert row["power"][0]["value"] == max(season["power"]["value"] for season in told)


@pytest.mark.parametrize(
    "kind", ["fan", "fan and damper", "shorter stack with a fan", "damper at each outlet and a fan"]
)
def test_no_speed_that_may_be_commanded_takes_more_than_is_told(kind):
    """Tried over speeds, flows and the air of the seasons at the site: ideal gas, 287.05 J/(kg K) (dry air)."""
    row, design = rows(kind)["F-1"], designed(kind)
    drive, job = design.outcome.remedy.fan, design.job
    assert ends(row, "drive") == [drive.least_speed, drive.most_speed]
    assert ends(row, "drive")[0] <= ends(row, "speed")[0] <= ends(row, "speed")[1] <= ends(row, "drive")[1]
    cold = min(s.outdoor.m_as("K") for s in job.seasons)
    density = float(atmosphere.standard_pressure(job.plant.altitude).m_as("Pa")) / (287.05 * cold)
    speeds = np.linspace(*ends(row, "drive"), 30)
    flows = np.linspace(-1.0, 1.5, 60)[:, None] * drive.fan.free_flow * drive.most_speed
    most = fan_curve.shaft_power.bare(drive.fan, flows, speeds, density).max()
    steady, highest, motor = (power["value"] for power in row["power"])
    assert steady <= highest <= motor * (1.0 + 1e-9)
    assert 0.98 * most <= highest and most <= 1.01 * highest


@pytest.mark.parametrize("kind", ["damper", "fan and damper"])
def test_the_damper_in_the_stack_passes_the_gas_of_the_whole_vent(kind):
    row, told = rows(kind)["MD-1"], remedy_records.offered(proposing(kind), "SI")["duty"]
    values = [season["position"][k]["value"] for season in told for k in (0, 1)]
    assert ends(row, "position") == [min(values), max(values)]
    low, high = ends(row, "taken")
    assert 0.0 <= low <= high
    # K of the damper at its most open, on the velocity head of its face (definition of K): what it takes away at least.
    damper = designed(kind).outcome.remedy.damper
    flow, density = ends(row, "flow"), ends(row, "density")
    assert low >= 0.99 * damper.loss(damper.most) * 0.5 * density[0] * (flow[0] / damper.face) ** 2


@pytest.mark.parametrize("kind", HELD)
@pytest.mark.parametrize("system", SYSTEMS)
def test_switches_and_sensor_are_set_as_the_start_up_sheet_says(kind, system):
    sheet = {r["name"]: r["value"] for r in remedy_records.offered(proposing(kind), system)["sheet"]}
    found = rows(kind, system)
    for tag, limit, delay in (
        ("PS-1", "high pressure limit", "delay of the high limit"),
        ("PS-2", "low pressure limit", "delay of the low limit"),
        ("PS-3", "proof of draft", "delay of proof lost"),
    ):
        duty = found[tag]["duty"]
        assert {d["shown"] for d in duty["setting"]} == {sheet[limit]}
        assert {d["shown"] for d in duty["delay"]} == {sheet[delay]}
    ends_of_sensor = [sheet["lower end of the sensor"], sheet["upper end of the sensor"]]
    assert [e["shown"] for e in found["PT-1"]["duty"]["range"]] == ends_of_sensor


@pytest.mark.parametrize(
    ("kind", "changed"),
    [("larger vent", "new"), ("liner", "new"), ("laterals", "changed"), ("taller stack", "changed"), ("fan", None)],
)
def test_what_is_built_otherwise_is_told_apart_from_what_stays(kind, changed):
    remedy, named = designed(kind).outcome.remedy, tags(designed(kind)).sections
    touched = {named[name] for d in remedy.differences if d.kind != "cap" for name in d.sections}
    status = {tag: row["status"] for tag, row in rows(kind).items() if tag in named.values()}
    assert {tag for tag, told in status.items() if told == changed} == touched
    assert {told for tag, told in status.items() if tag not in touched} <= {"as drawn"}
    assert bool(touched) == (changed is not None)


@pytest.mark.parametrize("kind", EVERY)
def test_what_speaks_against_a_material_stands_beside_it(kind):
    objected = {o.section for o in vent_findings.objections(designed(kind))}
    named = tags(designed(kind)).sections
    for name, tag in named.items():
        assert any("DOES NOT SERVE" in told for told in rows(kind)[tag]["listing"]) == (name in objected)


def test_the_wall_is_told_layer_by_layer():
    # 25.4 mm = 1 in.: NIST SP 811; thicknesses of data/flow/walls.csv.
    double = material("stainless special gas vent double wall")
    assert equipment_schedule.wall(double, "SI").startswith("stainless steel 0.5 mm, air space 25.0 mm, stainless")
    assert "0.984 in." in equipment_schedule.wall(double, "US")


@pytest.mark.parametrize("kind", ["as drawn", *DEVICES])
def test_the_table_holds_the_same_figures_in_its_units(kind):
    table, found = equipment_schedule.table(proposing(kind), "US"), rows(kind)
    cells = {row[0]: dict(zip(table.header, row, strict=True)) for row in table.rows if row[0] in found}
    assert set(cells) == set(found)
    units = {"flow": ("cfm", M3_S), "pressure": ("in. w.c.", PASCAL), "static": ("in. w.c.", PASCAL)}
    for tag, row in found.items():
        for name, (unit, size) in units.items():
            head = {"flow": "flow", "pressure": "pressure against its surroundings", "static": "fan static pressure"}
            for end, k in (("least", 0), ("most", 1)):
                cell = cells[tag][f"{head[name]}, {end}, {unit}"]
                told = ends(row, name)[k] if name in row["duty"] else None
                assert cell is None if told is None else cell * size == pytest.approx(told, rel=1e-6)
        if row["power"]:
            assert cells[tag]["motor, hp"] * WATT == pytest.approx(row["power"][2]["value"], rel=1e-6)


def test_a_design_that_something_speaks_against_is_not_to_be_built():
    study = proposing("fan")
    assert not study.proposed.buildable and "NOT TO BUILD" in equipment_schedule.table(study).rows[0][0]
    good = faultless(study)
    assert equipment_schedule.table(good).rows[0][0] == "V-1"
    assert "NOT TO BUILD" in paper("equipment_schedule", study, "US")
    assert "NOT TO BUILD" not in paper("equipment_schedule", good, "US")


@pytest.mark.parametrize("kind", EVERY)
def test_its_page_is_whole(kind):
    for system in SYSTEMS:
        page = Page(paper("equipment_schedule", proposing(kind), system))
        assert not page.faults and not page.open and "None" not in page.text
        for row in records("equipment_schedule", kind, system):
            assert row["tag"] in page.text and all(" ".join(t.split()) in page.text for t in row["told"])


def test_it_opens_as_csv():
    text = spreadsheet.csv_text(equipment_schedule.table(proposing("fan and damper"), "SI"))
    assert text.count("\r\n") == len(records("equipment_schedule", "fan and damper", "SI")) + 2  # head and warning


@pytest.mark.slow
@pytest.mark.parametrize("name", [*STUDIES, "hospital"])
def test_a_fan_that_stands_there_is_kept_or_taken_away_on_every_paper(name):
    """Of demo jobs, one of which has such a fan: the design reported on keeps it, or every paper takes it away."""
    found = studied(name)
    design, existing = found.reported, found.job.existing
    told = equipment_schedule.equipment_schedule(found, "US")
    statuses = {row["kind"]: row["status"] for row in told}
    if existing is None:
        assert "old fan" not in statuses and not design.outcome.remedy.away
        return
    for outcome in found.outcomes:
        assert outcome.remedy.away == ("" if outcome.remedy.kind == AS_DRAWN else existing.drive.fan.name)
    if design is found:
        assert "old fan" not in statuses and statuses["fan"] == "as drawn"
        return
    kept = design.outcome.remedy.keeps_fan
    if kept:  # the same fan: only its drive is bought
        assert "old fan" not in statuses and statuses["fan"] == "existing, new drive"
    else:
        assert statuses["old fan"] == "taken away" and statuses.get("fan", "new") == "new"
    assert existing.drive.fan.name in remedy_words.words(design.outcome.remedy)
    if found.to_build is not None:
        instruction = page_one.page_one(found, "US")["instruction"]
        assert any(existing.drive.fan.name in line and ("Keep" if kept else "away") in line for line in instruction)
