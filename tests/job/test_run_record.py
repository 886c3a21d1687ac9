"""Run record: what is over within a second is no excursion."""

from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import LODGE

from ventcalc.job import run_record
from ventcalc.job.failures import POWER
from ventcalc.units import Q_


def test_what_is_over_within_a_second_is_no_excursion():
    step = 0.2
    swing = np.array([0, 1, 1, 1, 1, 1, 0, 0, 1, 1, 1, 1, 1, 1, 0, 1], bool)
    assert run_record._for_long(swing, step).tolist() == [False] * 8 + [True] * 6 + [False] * 2


def test_the_swing_of_a_stop_is_told_as_a_peak_but_not_as_an_excursion(tried_lodge):
    """All burners stop within half a second when the power fails: the column's inertia pulls at every outlet."""
    for f in (f for f in tried_lodge.failures if f.case == POWER):
        low = {a.name: float(a.window[0].m_as("Pa")) for a in LODGE.plant.appliances}
        assert any(o.lowest < low[o.appliance] - 10.0 for o in f.outlets) and f.beyond == f.outside == 0.0


def test_what_an_outlet_met_beyond_either_edge_by_hand():
    """A window of -20 to 10 Pa: 3 Pa above it for 4 s, then 5 Pa below it for 2 s, the burner on all the while."""
    pressure = np.concatenate([np.zeros(50), np.full(40, 13.0), np.full(20, -25.0), np.zeros(50)])
    boiler = SimpleNamespace(name="A", window=(Q_(-20.0, "Pa"), Q_(10.0, "Pa")))
    spilled = np.linspace(0.0, 1.0, pressure.size)
    runs = SimpleNamespace(
        time=0.1 * np.arange(pressure.size),
        outlets=pressure[None, :, None],
        codes=np.ones((1, pressure.size, 1)),
        spilled=spilled[None, :, None],
        devices=SimpleNamespace(plant=SimpleNamespace(appliances=(boiler,))),
    )
    counts = np.ones(pressure.size, bool)
    (own,) = run_record.what_outlets_met(runs, 0, counts)
    assert (own.lowest, own.highest, own.beyond) == (-25.0, 13.0, 5.0)
    assert own.outside == pytest.approx(6.0) and own.into_room == pytest.approx(1.0)
    counts[90:] = False
    (own,) = run_record.what_outlets_met(runs, 0, counts)
    assert own.beyond == 3.0 and own.outside == pytest.approx(4.0)
    assert own.into_room == pytest.approx(spilled[89])  # what had come by the last time that counts
