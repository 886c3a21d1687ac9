"""Area rule: the code's number; the start-up of a cold flue against the steady solver and a run that warms up."""

import pytest

from ventcalc import tables
from ventcalc.checked import compare
from ventcalc.flow import materials
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import area_rule, cold_start, single_vent

JOB = job_file.demonstration("masonry_retrofit")


PLANT, (WINTER, MILD, SUMMER) = JOB.plant, JOB.seasons


LINED = cold_start.with_flue(PLANT, Q_(5.0, "inch"), materials.material("Type B gas vent"))


def test_seven_times_the_outlet():
    # V507: 7 x (IFGC 504.3.17 as in Appendix B example 5b), published.
    assert compare("vent_capacity_checks", {"V507": area_rule.times()})[0].to_the_last_digit
    # Example 5b: two outlets of 12.2 in2 and a liner of 63.6 in2 (V214, V215): allowed, up to 85.4 in2.
    outlet = Q_(12.2, "inch**2")
    assert area_rule.allows(Q_(63.6, "inch**2"), outlet)
    assert area_rule.allows(Q_(85.4, "inch**2"), outlet) and not area_rule.allows(Q_(85.5, "inch**2"), outlet)
    # The stricter five times has no section that was found; its row says so.
    assert not area_rule.allows(Q_(63.6, "inch**2"), outlet, "area where so adopted")
    assert tables.row("capacity_rules", "area where so adopted", "name")["status"].startswith("from memory")


def test_ratio_of_areas_is_the_square_of_diameters_in_any_unit():
    flue, outlet = (area_rule.round_area(d) for d in (Q_(12.0, "inch"), Q_(101.6, "mm")))
    assert area_rule.area_ratio(flue, outlet).m_as("") == pytest.approx(9.0)
    with pytest.raises(ValueError, match="outlet_area"):
        area_rule.area_ratio(flue, Q_(0.0, "m**2"))


def test_the_retrofit_breaks_the_rule_and_its_liner_keeps_it():
    outlet = area_rule.round_area(PLANT.appliances[0].outlet_diameter)
    areas = [area_rule.round_area(single_vent.rise_section(p).diameter) for p in (PLANT, LINED)]
    assert [area_rule.allows(a, outlet) for a in areas] == [False, True]


def test_areas_are_those_of_the_example():
    # Example 5b: a 9 in. liner has 63.6 in2 (V215, published); a circle fills pi/4 of its square.
    assert area_rule.round_area(Q_(9.0, "inch")).m_as("inch**2") == pytest.approx(63.6, abs=0.05)
