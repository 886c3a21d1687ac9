"""Suspect readings: which slips a reading may have, and what each would have written."""

import pytest
from sample_plants import row_plant

from ventcalc.job.performance_test import Weather
from ventcalc.job.survey import Condition, Place, Reading
from ventcalc.job.suspect_readings import IN_WC_PER_MBAR, slips
from ventcalc.units import Q_

FIRE = Condition(("high", "off"), False, Weather(Q_(5.0, "degC"), Q_(20.0, "degC")))


def test_millibars_and_inches_of_water_differ_by_what_their_definitions_say():
    # NIST SP 811: 1 inch of water (conventional) = 249.0889 Pa; 1 mbar = 100 Pa.
    assert float((Q_(1.0, "inH2O") / Q_(1.0, "mbar")).m_as("")) == pytest.approx(IN_WC_PER_MBAR, rel=1e-4)


def test_a_pressure_may_be_wrong_in_each_way_and_a_temperature_in_none():
    readings = (
        Reading(FIRE, Place("foot"), "gas temperature", 400.0, 1.0),
        Reading(FIRE, Place("outlet", "B1"), "pressure", -20.0, 0.3),
        Reading(FIRE, Place("room"), "pressure", -2.0, 0.3),
    )
    found = slips(readings, row_plant(2))
    assert [s.code for s in found if s.number == 0] == []
    assert [s.code for s in found if s.number == 1] == ["sign", "unit_more", "unit_less", "reference", "side"]
    assert [s.code for s in found if s.number == 2] == ["sign", "unit_more", "unit_less"]
    side = next(s for s in found if s.code == "side")
    assert side.read.place == Place("tap", section="connector 1", share=1.0)
    assert next(s for s in found if s.code == "reference").read.outdoors
    assert sum(s.weight for s in found if s.number == 1) == pytest.approx(0.01)
