"""Option records: the matrix in numbers, and who is not served told on page one and in the report."""

import json
from dataclasses import replace

import pytest
from sample_reports import kept, text
from sample_studies import STUDIES

from ventcalc.job.option_matrix import Cell, Option
from ventcalc.show import option_records, page_one

pytestmark = pytest.mark.slow  # whole studies


@pytest.mark.parametrize("name", ["swim_hall", "school"])
def test_the_report_has_the_cells_of_the_study(name):
    found, told = STUDIES[name], kept(name)["options"]
    assert [row["remedy"] for row in told] == [o.remedy for o in found.options]
    assert sum(row["chosen"] for row in told) == 1
    for row, o in zip(told, found.options, strict=True):
        for cell, own in zip(row["cells"], o.cells, strict=True):
            assert (cell is None) == (own is None)
            assert cell is None or (cell["cured"], cell["margin"]["value"]) == (own.cured, pytest.approx(own.margin))
    assert ("No remedy was shown to serve all makes" in text(name)) == (not any(o.serves_all for o in found.options))
    json.dumps(told, allow_nan=False)


def test_page_one_names_the_makes_that_what_is_built_does_not_serve():
    """Whom a cure does not serve stands beside it: the row of the design to build decides, not that of another."""
    found = STUDIES["hospital"]
    (make,) = (a.name for a in found.job.alternates)
    assert found.to_build is not None and option_records.not_served(found) == (make,)
    design, specified = found.to_build.outcome.remedy.name, Cell("as specified", True, 1.0)
    for cell, named in ((Cell(make, True, 1.0), False), (Cell(make, False, -1.0), True), (None, True)):
        rows = tuple(Option(design, offered, (specified, cell)) for offered in (True, False))
        other = replace(found, options=(Option("another", False, (specified, Cell(make, not named, 0.0))), *rows))
        told = page_one.page_one(other, "US")["agree"]
        assert any("As specified alone" in sentence and make in sentence for sentence in told) == named
        assert [row["chosen"] for row in option_records.options(other, "US")].count(True) == 1
