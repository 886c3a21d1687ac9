"""Submittal: there if and only if a remedy is proposed, with a warning if and only if something speaks against it."""

import pytest
from sample_studies import STUDIES

from ventcalc.job import site_record
from ventcalc.show import record_sheet, results, submittal
from ventcalc.units import SYSTEMS


@pytest.mark.parametrize("name", STUDIES)
def test_it_is_of_the_remedy_proposed(name):
    found = STUDIES[name]
    told = submittal.records(found, "US")
    assert (told is None) == (found.proposed is None) == (not submittal.tables(found, "US"))
    if told:
        assert bool(told["not_to_build"]) == (not found.proposed.buildable)


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
