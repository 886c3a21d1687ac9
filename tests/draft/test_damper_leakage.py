"""Damper leakage: the classes in both unit systems, and what cannot be."""

import pytest
from sample_dampers import square

from ventcalc.draft import damper_leakage
from ventcalc.draft.damper_leakage import Leakage, leakage_class
from ventcalc.units import Q_


def test_leakage_classes_in_both_systems():
    # 4 cfm per square foot at 1 in. w.c. (published), written in both systems.
    us = damper_leakage.shut_loss(Q_(4.0, "cfm/ft**2"), Q_(1.0, "inH2O"))
    si = damper_leakage.shut_loss(Q_(0.02032, "m/s"), Q_(249.089, "Pa"))
    assert us.m_as("") == pytest.approx(si.m_as(""), rel=1e-3)
    assert leakage_class("4 cfm/ft2").velocity.m_as("cfm/ft**2") == pytest.approx(4.0, rel=1e-4)
    for name, limit in (("EN class 1", 0.2), ("EN class 2", 0.04), ("EN class 3", 0.008), ("EN class 4", 0.0015)):
        assert leakage_class(name).velocity.m_as("m/s") == limit and leakage_class(name).pressure.m_as("Pa") == 100.0


def test_leakage_that_cannot_be():
    with pytest.raises(ValueError, match="leakage class 'EN class 7'; known are: EN class 1"):
        leakage_class("EN class 7")
    with pytest.raises(ValueError, match="leakage 0 m / s must be above 0|leakage 0 m/s must be above 0"):
        Leakage(Q_(0.0, "m/s"), Q_(100, "Pa"))
    with pytest.raises(ValueError, match="shut it would leak more than at 80 degrees"):
        square(leakage=Leakage(Q_(1.0, "m/s"), Q_(100, "Pa")))
