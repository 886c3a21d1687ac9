"""Ten boilers on one vent under pressure: told once, sampled honestly, kept apart by their flaps.

Studied in this module alone.
"""

import numpy as np
import pytest
from sample_studies import ALL_JOBS

from ventcalc.job import findings, job_file, study
from ventcalc.vent import reversal
from ventcalc.words import listed

pytestmark = pytest.mark.slow  # whole studies


@pytest.fixture(scope="module")
def row():
    return study.study(job_file.load(ALL_JOBS["condensing_row"]), compare=False)


def test_more_conditions_than_can_be_solved_are_sampled_and_said_to_be(row):
    # Off, purge, low and high of ten boilers; five weathers: three seasons in calm, two of them in wind from either
    # side as well; hot and cold walls.
    assert row.scan.possible == 4**10 * 7 * 2
    assert not row.scan.complete and 40_000 < len(row.scan.conditions) < 60_000
    assert row.unsolved == 0
    # Every boiler alone at each level with the others idle, and idle with the others at it, is among them.
    codes = row.scan.states.codes
    for i in range(10):
        rest = np.delete(codes, i, axis=0)
        for own, others in ((2, 0), (3, 0), (0, 3), (3, 3)):
            assert ((codes[i] == own) & (rest == others).all(axis=0)).any()


def test_all_firing_in_summer_presses_most_whoever_looks_for_it(row):
    """More gas makes more loss, and the least draft is that of the warmest air."""
    for e in row.envelopes:
        assert (row.scan.states.codes[:, e.high_state] == 3).all()
        assert row.scan.seasons[row.scan.states.season[e.high_state]].name == "summer"


def test_a_shut_flap_keeps_gas_out_of_an_idle_boiler(row):
    idle = row.scan.states.codes == 0
    assert np.abs(row.scan.solution.drawn[idle]).max() == 0.0
    assert not reversal.gas_in_room(row.scan).any() and row.outcome.gas_in_room == 0
    told = next(f for f in row.judgement.findings if f.code == "shut_off")
    assert len(told.subjects) == 10 and not told.speaks_against
    assert told.figures["flue_gas"].m_as("kg/s") > reversal.REVERSAL_FLOW


def test_ten_equal_boilers_are_not_told_ten_times(row):
    for f in row.judgement.findings:
        assert findings.sentence(f).count("Boiler") < 12, f.code
    assert listed(tuple(a.name for a in row.job.plant.appliances)) == "Boiler 1 to 10"
    assert sum("Boiler" in line for line in row.job.defaults) == 2  # kind and room, once for all
    assert row.scan.describe(int(np.flatnonzero((row.scan.states.codes == 3).all(axis=0))[0])).startswith(
        "Boiler 1 to 10 high;"
    )
