"""Damper authority: the installed curve against a root finder, and the other definition."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from ventcalc.draft import damper_authority
from ventcalc.units import Q_


@given(alpha=st.floats(0.01, 1.0), phi=st.floats(0.001, 1.0), drive=st.floats(1.0, 500.0))
def test_installed_flow_against_a_root_of_the_series(alpha, phi, drive):
    # Two resistances in series at a constant pressure, open and at a position, by a root finder.
    damper_open, others = alpha, 1.0 - alpha

    def flow(damper):
        return brentq(lambda q: damper * q * q + others * q * q - drive, 0.0, 1e4, xtol=1e-14)

    expected = flow(damper_open / phi**2) / flow(damper_open)
    assert damper_authority.installed_flow.bare(phi, alpha) == pytest.approx(expected, rel=1e-6)


@given(phi=st.floats(0.01, 1.0), pair=st.tuples(st.floats(0.01, 1.0), st.floats(0.01, 1.0)))
def test_less_authority_bends_the_curve_up(phi, pair):
    less, more = sorted(pair)
    assert damper_authority.installed_flow.bare(phi, less) >= damper_authority.installed_flow.bare(phi, more) * (
        1 - 1e-12
    )
    assert phi - 1e-12 <= damper_authority.installed_flow.bare(phi, more) <= 1.0 + 1e-12


def test_authority_in_both_systems_and_the_other_definition():
    alpha = damper_authority.authority(Q_(0.15, "inH2O"), Q_(0.45, "inH2O"))
    assert alpha.m_as("") == pytest.approx(0.25)
    assert damper_authority.authority(Q_(37.36, "Pa"), Q_(112.09, "Pa")).m_as("") == pytest.approx(0.25, abs=1e-4)
    # ASHRAE Journal, April 2000: over the system without the open damper, 0.15 of 0.45.
    assert (alpha / (1 - alpha)).m_as("") == pytest.approx(0.15 / 0.45)
    with pytest.raises(ValueError, match="open_loss = 0 Pa must be above 0 Pa"):
        damper_authority.authority(Q_(0, "Pa"), Q_(10, "Pa"))
    with pytest.raises(ValueError, match="inherent"):
        damper_authority.installed_flow(1.2, 0.5)
