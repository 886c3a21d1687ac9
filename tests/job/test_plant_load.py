"""Plant load: by hand, at its bends, and what is taken where nobody says."""

from dataclasses import replace

import numpy as np
import pytest
from sample_commissioning import HALL, SCHOOL

from ventcalc.building import climate
from ventcalc.job import plant_load
from ventcalc.job.plant_load import LoadPlan

PLAN = LoadPlan(design=1.0e6, design_outdoor=253.15, base=1.0e5, limit=291.15, start=6.0, stop=20.0, setback=0.5)


def test_load_by_hand():
    outdoor = np.array([253.15, 272.15, 291.15, 300.0, 272.15])
    full = np.array([True, True, True, True, False])
    # 9e5 W over 38 K: half of it at 272.15 K, a quarter of it set back; the base alone from the limit up.
    assert plant_load.load(PLAN, outdoor, full).tolist() == pytest.approx([1.0e6, 5.5e5, 1.0e5, 1.0e5, 3.25e5])


def test_load_grows_beyond_the_design_day():
    assert plant_load.load(PLAN, np.array([243.15]), np.array([True]))[0] > PLAN.design


def test_hours_and_days_of_the_schedule():
    hours = np.tile(np.arange(24), 7)
    days = np.repeat(np.arange(7), 24)
    assert plant_load.occupied(PLAN, hours, days).sum() == 14 * 7
    assert plant_load.occupied(replace(PLAN, workdays=True), hours, days).sum() == 14 * 5
    assert plant_load.occupied(replace(PLAN, start=0.0, stop=24.0), hours, days).all()
    year = climate.year("hot")
    # 365 days from a Monday on hold 261 workdays.
    assert plant_load.in_full(replace(PLAN, workdays=True), year).sum() == 261 * 14
    assert plant_load.in_full(replace(PLAN, workdays=True), year[24 * 5 : 24 * 7]).sum() == 2 * 14


def test_usual_plan_is_a_share_of_what_is_installed():
    found = plant_load.usual(HALL.plant.appliances, HALL.seasons)
    installed = 5000.0 * 293.0711  # 2000 + 2000 + 1000 MBH; a thousand Btu/h is 293.0711 W
    assert plant_load.installed(HALL.plant.appliances) == pytest.approx(installed, rel=1e-6)
    assert found.design == pytest.approx(0.8 * installed, rel=1e-6) and found.base == pytest.approx(0.1 * installed)
    assert found.design_outdoor == pytest.approx(253.15) and found.limit == pytest.approx(291.48, abs=0.01)


def test_without_a_cold_season_the_base_load_is_all():
    warm = [s for s in SCHOOL.seasons if s.outdoor.m_as("degC") > 20.0]
    found = plant_load.usual(SCHOOL.plant.appliances, warm)
    assert found.design == found.base > 0.0


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"design_outdoor": 295.0}, "must be below"),
        ({"base": 2.0e6}, "must be 0 to the design load"),
        ({"start": 22.0}, "need 0 <= from < to <= 24"),
        ({"setback": 1.5}, "must be 0 to 1"),
    ],
)
def test_what_makes_no_sense_is_refused(change, told):
    with pytest.raises(ValueError, match=told):
        replace(PLAN, **change)
