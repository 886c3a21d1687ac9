"""State table: a row a condition, the solver's own pressures, the extremes of the report, units in the header."""

import csv
import io

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc.show import spreadsheet, state_table
from ventcalc.units import Q_, SYSTEMS

# NIST SP 811 (2008), appendix B.8: inch of water, conventional: 249.0889 Pa.
UNITS = {"US": ("in. w.c.", 249.0889), "SI": ("Pa", 1.0)}


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ["swim_hall", "laundry"])
def test_lowest_and_highest_of_every_outlet_are_those_of_the_report(name, system):
    found = STUDIES[name]
    table = state_table.states(found.scan, system)
    read = list(csv.DictReader(io.StringIO(spreadsheet.csv_text(table))))
    assert len(read) == len(found.scan.states)
    unit, pascal = UNITS[system]
    for e in found.envelopes:
        running = [r for r in read if r[e.appliance] != "off"]
        values = [float(r[f"outlet of {e.appliance}, {unit}"]) * pascal for r in running]
        assert (min(values), max(values)) == pytest.approx((e.low, e.high), rel=1e-6)
    assert sum(r["an outlet outside its window"] == "True" for r in read) >= found.outcome.outside


def test_a_condition_is_told_once_unless_it_has_several_states_of_rest():
    scan = STUDIES["masonry_retrofit"].scan
    table = state_table.states(scan, "SI")
    first = [row[0] for row in table.rows]
    assert len(set(first)) == len(scan.conditions) and len(first) == len(scan.condition) > len(scan.conditions)
    pasts = {k: [row[1] for row in table.rows if row[0] == k] for k in first}
    assert all(all(told) == (len(told) > 1) for told in pasts.values())


def test_gas_leaves_by_the_termination_as_it_was_solved():
    scan = STUDIES["laundry"].scan
    table = state_table.states(scan, "SI")
    k = next(i for i, head in enumerate(table.header) if head.startswith("gas at"))
    last = scan.solution.downstream[scan.solution.row(scan.plant.order[-1].name)]
    assert [row[k] for row in table.rows] == pytest.approx(list(Q_(last, "K").m_as("degC")))
    assert np.isfinite([row[k] for row in table.rows]).all()
