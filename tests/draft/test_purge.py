"""Purge: published times of removal, wash-out worked by integration, and the volume of a vent."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from ventcalc.checked import unexplained
from ventcalc.draft.purge import changes_for, purge_time, remaining, vent_volume
from ventcalc.handbook import start_sequence as chapter
from ventcalc.job import job_file
from ventcalc.units import Q_, UnitsError


def test_published_times_of_removal_and_what_is_left():
    found = chapter.checks()
    assert unexplained(found) == [] and all(c.agrees for c in found)
    assert sum(c.status.startswith("published") for c in found) == 15
    assert sum(c.status.startswith("computed") for c in found) == 3


def test_purge_time_in_both_systems_and_on_arrays():
    us = purge_time(Q_(40.0, "ft**3"), Q_(400.0, "cfm"), 4)
    si = purge_time(Q_(40.0 * 0.3048**3, "m**3"), Q_(400.0 * 0.3048**3 / 60.0, "m**3/s"), 4)
    assert us.m_as("s") == pytest.approx(24.0) == si.m_as("s")
    many = purge_time(Q_(np.array([[1.0], [2.0]]), "m**3"), Q_(np.array([0.1, 0.2]), "m**3/s"), 5)
    assert many.m_as("s") == pytest.approx(np.array([[50.0, 25.0], [100.0, 50.0]]))


@pytest.mark.parametrize(
    ("volume", "flow", "changes", "words"),
    [
        (Q_(-1, "m**3"), Q_(1, "m**3/s"), 4, "volume = -1"),
        (Q_(1, "m**3"), Q_(0, "m**3/s"), 4, "flow = 0"),
        (Q_(1, "m**3"), Q_(1, "m**3/s"), 0, "changes = 0"),
    ],
)
def test_purge_time_refuses_what_cannot_be(volume, flow, changes, words):
    with pytest.raises(ValueError, match=words):
        purge_time(volume, flow, changes)


def test_purge_time_wants_a_volume_flow():
    with pytest.raises(UnitsError, match="flow needs a quantity"):
        purge_time(Q_(1, "m**3"), Q_(1, "kg/s"), 4)


@pytest.mark.parametrize("changes", [0.5, 1.0, 3.0, 4.0, 5.0])
def test_mixed_volume_by_integration(changes):
    left = solve_ivp(lambda t, y: -y, (0.0, changes), [1.0], rtol=1e-9, atol=1e-12).y[0, -1]
    assert remaining(changes).m_as("") == pytest.approx(left, rel=1e-6)


@pytest.mark.parametrize("tanks", [1, 2, 5, 30])
@pytest.mark.parametrize("changes", [0.3, 1.0, 2.5])
def test_tanks_in_series_by_integration(tanks, changes):
    """N mixed tanks one behind the other, worked as N differential equations."""
    system = np.diag(np.full(tanks - 1, float(tanks)), -1) - tanks * np.eye(tanks)
    found = solve_ivp(lambda t, y: system @ y, (0.0, changes), np.ones(tanks), rtol=1e-8, atol=1e-11).y[:, -1]
    assert remaining(changes, float(tanks)).m_as("") == pytest.approx(found.mean(), rel=1e-4, abs=1e-7)


def test_a_piston_is_the_limit_of_many_tanks():
    changes = np.array([0.0, 0.25, 0.5, 0.9, 1.2, 3.0])
    assert remaining(changes, 1e5).m_as("") == pytest.approx(np.maximum(1.0 - changes, 0.0), abs=2e-3)


@given(st.floats(0.0, 8.0), st.floats(1.0, 50.0))
def test_share_left_falls_from_one_and_mixing_keeps_most(changes, tanks):
    left = float(remaining(changes, tanks).m_as(""))
    assert 0.0 <= left <= 1.0 and remaining(0.0, tanks).m_as("") == pytest.approx(1.0)
    assert left <= remaining(changes).m_as("") + 1e-12
    assert left >= max(1.0 - changes, 0.0) - 1e-12  # no flow can do better than a piston


def test_changes_for_is_the_inverse():
    left = np.array([0.9, 0.05, 0.001])
    assert remaining(changes_for(left)).m_as("") == pytest.approx(left)
    with pytest.raises(ValueError, match="left = 0"):
        changes_for(0.0)
    with pytest.raises(ValueError, match="left = 2"):
        changes_for(2.0)


def test_three_changes_leave_pure_gas_at_its_lower_flammable_limit():
    # 5 % of methane in air is its lower limit (US Bureau of Mines Bulletin 627, from memory: to be confirmed).
    assert remaining(3.0).m_as("percent") == pytest.approx(5.0, abs=0.05)


def test_vent_volume_is_that_of_its_pipes():
    plant = job_file.demonstration("swim_hall").plant
    by_hand = 0.0
    for section in plant.sections:
        area = quad(lambda r: 2.0 * np.pi * r, 0.0, section.diameter.m_as("ft") / 2.0)[0]
        by_hand += area * section.length.m_as("ft")
    assert vent_volume(plant).m_as("ft**3") == pytest.approx(by_hand)
