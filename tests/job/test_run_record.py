"""Run record: what is over within a second is no excursion."""

import numpy as np
from sample_commissioning import LODGE

from ventcalc.job import run_record
from ventcalc.job.failures import POWER


def test_what_is_over_within_a_second_is_no_excursion():
    step = 0.2
    swing = np.array([0, 1, 1, 1, 1, 1, 0, 0, 1, 1, 1, 1, 1, 1, 0, 1], bool)
    assert run_record._for_long(swing, step).tolist() == [False] * 8 + [True] * 6 + [False] * 2


def test_the_swing_of_a_stop_is_told_as_a_peak_but_not_as_an_excursion(tried_lodge):
    """All burners stop within half a second when the power fails: the column's inertia pulls at every outlet."""
    for f in (f for f in tried_lodge.failures if f.case == POWER):
        low = {a.name: float(a.window[0].m_as("Pa")) for a in LODGE.plant.appliances}
        assert any(o.lowest < low[o.appliance] - 10.0 for o in f.outlets) and f.beyond == f.outside == 0.0
