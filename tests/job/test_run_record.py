"""Run record: what is over within a second is no excursion."""

from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import LODGE
from sample_plants import row_plant

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


def test_what_outlets_met_by_hand():
    """Windows of -25 to 25 Pa; one outlet stands 4 s at 40 Pa, one 3 s at -31 Pa and then 0.5 s at 90 Pa: a swing.

    Spilled before it counts is not told again; what stands while a burner is off is nobody's pressure.
    """
    plant, time = row_plant(2), 0.1 * np.arange(200)
    outlets, codes = np.zeros((2, 200, 1)), np.ones((2, 200, 1))
    outlets[0, 50:90] = 40.0
    outlets[1, 50:80], outlets[1, 100:105] = -31.0, 90.0
    codes[1, 150:], outlets[1, 160:] = 0.0, -500.0
    spilled = np.zeros((2, 200, 1))
    spilled[0] = 0.01 * np.minimum(time, 6.0)[:, None]
    runs = SimpleNamespace(
        time=time, outlets=outlets, codes=codes, spilled=spilled, devices=SimpleNamespace(plant=plant)
    )
    counts = time >= 2.0
    one, other = run_record.what_outlets_met(runs, 0, counts)
    assert (one.lowest, one.highest, one.beyond) == (0.0, 40.0, 15.0) and one.outside == pytest.approx(4.0)
    assert (other.lowest, other.highest, other.beyond) == (-31.0, 90.0, 6.0) and other.outside == pytest.approx(3.0)
    assert one.into_room == pytest.approx(0.04) and other.into_room == 0.0
