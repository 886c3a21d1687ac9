"""Oversized flues: the area rule on the chapter's retrofit and on a common vent."""

from dataclasses import replace

import pytest
from sample_natural_draft import PLANT, TWO_PERCENT, found
from sample_studies import JOBS

from ventcalc.draft import oversized_flue
from ventcalc.handbook import area_rule as chapter
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import cold_start, single_vent


def test_the_retrofit_has_nine_point_six_times_its_outlet_where_seven_are_allowed():
    (area,) = found("masonry_retrofit").areas
    # Circles of 12.4 and 4 in.; seven: V507 of vent_capacity_checks.csv, published.
    assert area.ratio == pytest.approx((12.4 / 4.0) ** 2)
    assert (round(area.ratio, 1), area.times) == (9.6, 7.0)
    assert area.ratio == pytest.approx(chapter.ratio(PLANT), rel=TWO_PERCENT)
    assert not area.keeps and found("masonry_retrofit").oversized == (area,)
    assert area.rule == "area one appliance"  # one of its own, not that of common vents
    assert area.source and "read in a secondary source" in area.status


def test_at_seven_times_the_outlet_the_flue_keeps_the_rule():
    seven, _ = chapter.ways()["seven times the outlet"]
    (area,) = oversized_flue.areas_of(seven)
    assert area.keeps and area.ratio == pytest.approx(7.0)
    wider = cold_start.with_flue(PLANT, 1.001 * single_vent.rise_section(seven).diameter)
    assert not oversized_flue.areas_of(wider)[0].keeps


def test_on_a_common_vent_the_smallest_outlet_counts_and_only_upright_sections_do():
    plant = job_file.load(JOBS["lodge"]).plant
    small = replace(plant.appliances[1], outlet_diameter=Q_(110.0, "mm"))
    areas = oversized_flue.areas_of(replace(plant, appliances=(plant.appliances[0], small)))
    assert {(a.section, a.appliance, a.rule) for a in areas} == {
        ("shaft", "Boiler B", "area"), ("above roof", "Boiler B", "area")
    }  # fmt: skip
    assert all(a.ratio == pytest.approx((300.0 / 110.0) ** 2) and not a.keeps for a in areas)
    assert all(a.keeps for a in oversized_flue.areas_of(plant))
