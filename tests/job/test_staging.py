"""Staging: every load is carried, each order climbs as it says, and what cycles does so by the share that it must."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_commissioning import HALL, SCHOOL

from ventcalc.job import staging
from ventcalc.job.staging import StagingPlan
from ventcalc.units import Q_

MBH = float(Q_(1.0, "MBH").m_as("W"))
BOILERS = HALL.plant.appliances  # 400 to 2000, 400 to 2000 and 200 to 1000 MBH, each with a purge code before them
ALL = (True, True, True)


def inputs(appliances, firing):
    """Heat inputs [MBH] on and off (appliances, hours)."""
    return tuple(
        np.array([staging.input_of(a, c) for a, c in zip(appliances, codes, strict=True)]) / MBH
        for codes in (firing.codes, firing.rest)
    )


def fired(plan, load, appliances=BOILERS):
    load = np.asarray(load, float) * MBH
    return staging.fire(appliances, plan, load, np.zeros(load.size))


@given(
    load=st.floats(0.0, 6000.0),
    order=st.sampled_from(staging.ORDERS),
    modulates=st.lists(st.booleans(), min_size=3, max_size=3),
)
def test_the_mean_of_every_hour_is_the_load(load, order, modulates):
    firing = fired(StagingPlan(order, tuple(modulates)), [load])
    on, off = inputs(BOILERS, firing)
    carried = firing.share * on.sum(axis=0) + (1.0 - firing.share) * off.sum(axis=0)
    assert carried[0] == pytest.approx(min(load, 5000.0), abs=1e-6)
    assert firing.unmet[0] / MBH == pytest.approx(max(load - 5000.0, 0.0), abs=1e-6)
    assert 0.0 < firing.share[0] <= 1.0
    for one in (on, off):  # no burner between off and its lowest fire, none above its highest
        low, high = np.array([400.0, 400.0, 200.0])[:, None], np.array([2000.0, 2000.0, 1000.0])[:, None]
        assert ((one < 1e-6) | ((one >= low - 1e-6) & (one <= high + 1e-6))).all()


def test_lead_lag_by_hand():
    firing = fired(StagingPlan("lead-lag", ALL), [0.0, 100.0, 400.0, 1200.0, 2000.0, 2200.0, 2500.0, 4000.0, 4100.0])
    on, off = inputs(BOILERS, firing)
    # The second starts at 400 and the first gives way to 1800; so does the second to 1900 - 100 for the third.
    by_hand = [
        (0, 0, 0), (400, 0, 0), (400, 0, 0), (1200, 0, 0), (2000, 0, 0), (1800, 400, 0), (2000, 500, 0),
        (2000, 2000, 0), (2000, 1900, 200),
    ]  # fmt: skip
    assert np.allclose(on.T, by_hand, atol=1e-6)
    assert firing.share[1] == pytest.approx(0.25) and off[:, 1].sum() == 0.0  # 100 of 400: a quarter of the hour
    assert (np.delete(firing.share, 1) == 1.0).all()


def test_parallel_by_hand():
    firing = fired(StagingPlan("parallel", ALL), [300.0, 600.0, 800.0, 900.0, 1000.0, 3000.0, 5000.0])
    on, _ = inputs(BOILERS, firing)
    # One to 800, then two at 400 each; from 1000 three at low fire, then all at the same share of their range.
    by_hand = [(400, 0, 0), (600, 0, 0), (800, 0, 0), (450, 450, 0), (500, 500, 0), (1200, 1200, 600),
               (2000, 2000, 1000)]  # fmt: skip
    assert np.allclose(on.T, by_hand, atol=1e-6)


def test_equal_by_hand():
    firing = fired(StagingPlan("equal", ALL), [500.0, 1000.0, 3000.0])
    on, off = inputs(BOILERS, firing)
    assert np.allclose(on.T, [(400, 400, 200), (400, 400, 200), (1200, 1200, 600)], atol=1e-6)
    assert firing.share[0] == pytest.approx(0.5) and off[:, 0].sum() == 0.0


def test_steps_cycle_between_two_levels():
    firing = fired(StagingPlan("lead-lag", (False,) * 3), [1200.0, 2200.0])
    on, off = inputs(BOILERS, firing)
    assert np.allclose(on.T, [(2000, 0, 0), (2000, 400, 0)]) and np.allclose(off.T, [(400, 0, 0), (2000, 0, 0)])
    assert firing.share.tolist() == pytest.approx([0.5, 0.5])
    assert firing.cycles.all()


def test_the_lead_moves_on():
    plan = replace(StagingPlan("lead-lag", ALL), rotation=24.0)
    firing = staging.fire(BOILERS, plan, np.full(96, 300.0 * MBH), np.arange(96))
    on, _ = inputs(BOILERS, firing)
    leads = [np.flatnonzero(on[:, h])[0] for h in (0, 23, 24, 47, 48, 71, 72)]
    assert leads == [0, 0, 1, 1, 2, 2, 0]


def test_codes_skip_purge_and_lie_between_levels():
    codes = staging.codes_of(BOILERS[0], np.array([0.0, 400.0, 1200.0, 2000.0]) * MBH)
    assert codes.tolist() == pytest.approx([0.0, 2.0, 2.5, 3.0])  # off, purge, low, high
    assert staging.input_of(BOILERS[0], codes).tolist() == pytest.approx([0.0, 400 * MBH, 1200 * MBH, 2000 * MBH])


def test_usual_plan_modulates_forced_burners_of_several_levels():
    assert staging.usual(BOILERS) == StagingPlan("lead-lag", ALL)
    assert [a.kind for a in SCHOOL.plant.appliances].count("draft hood") == 1
    told = zip(SCHOOL.plant.appliances, staging.usual(SCHOOL.plant.appliances).modulates, strict=True)
    assert all(m == (a.kind == "forced") for a, m in told)


@pytest.mark.parametrize(
    ("change", "told"),
    [({"order": "random"}, "choose lead-lag, parallel, equal"), ({"rotation": -1.0}, "at least 0"),
     ({"most_starts": 0.0}, "above 0, at most 60")],
)  # fmt: skip
def test_what_makes_no_sense_is_refused(change, told):
    with pytest.raises(ValueError, match=told):
        replace(StagingPlan("equal", ALL), **change)


def test_levels_must_rise():
    other = replace(BOILERS[0], levels=BOILERS[0].levels[::-1])
    with pytest.raises(ValueError, match="from the lowest heat input to the highest"):
        staging.codes_of(other, np.array([1.0]))
