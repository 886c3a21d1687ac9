"""Submittal: there if and only if a remedy is to be built, with a warning where something speaks against it."""

import pytest
from sample_jobs import text
from sample_studies import STUDIES

from ventcalc.job import job_file, performance_test, site_record, study
from ventcalc.show import record_sheet, results, submittal
from ventcalc.units import SYSTEMS
from ventcalc.words import say


@pytest.mark.parametrize("name", STUDIES)
def test_it_is_of_the_remedy_proposed(name):
    found = STUDIES[name]
    told = submittal.records(found, "US")
    assert (told is None) == (found.reported is found) == (not submittal.tables(found, "US"))
    if told:
        assert bool(told["not_to_build"]) == (not found.proposed.buildable)


@pytest.mark.slow
def test_where_the_vent_may_be_built_as_drawn_no_paper_is_of_a_remedy():
    """Page one says that there is nothing to change, though the job names a fan: nothing beside it says otherwise."""
    offered = text(1) + '\n[remedy]\nname = "fan"\nset_point = "-0.03 inH2O"\n'
    found = study.study(job_file.read(offered.encode()), compare=False)
    assert found.buildable and found.offered is not None
    told = results.results(found, "SI")
    assert told["page_one"]["heading"] == say("show", "page_one", "as drawn")
    assert told["page_one"]["trust"]["margin"]["value"] == pytest.approx(found.outcome.margin)
    assert told["submittal"] is None and submittal.tables(found, "SI") == ()
    assert {a.place.kind for a in performance_test.sheet(performance_test.design(found))}.isdisjoint({"fan", "sensor"})
    # What the remedy would do is told all the same.
    assert told["offered"]["name"] == "fan" and told["verdict"]["offered"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_have_the_rows_of_the_records(system):
    found = STUDIES["swim_hall"]
    told = submittal.records(found, system)
    warned = bool(told["not_to_build"])
    for name, table in zip(submittal.PAPERS, submittal.tables(found, system), strict=True):
        assert len(table.rows) == len(told[name]) + warned, name
    assert results.results(found, system)["submittal"] == told


def test_every_gauge_has_what_is_expected_of_it():
    """Figures of the printed sheet are those of the blank that is filled in."""
    found = STUDIES["swim_hall"]
    told = submittal.records(found, "SI")["performance_test"]["readings"]
    blank = record_sheet.blank(found, "SI").rows[len(site_record.DAY) :]
    assert [(r["condition"], r["place"], r["quantity"]) for r in told] == [row[:3] for row in blank]
    pressures = [k for k, row in enumerate(blank) if row[2] == "pressure"]
    assert [told[k]["expected"]["value"] for k in pressures] == pytest.approx(
        [blank[k][3] for k in pressures], rel=1e-3
    )
