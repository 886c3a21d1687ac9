"""Years compared: one weather for all designs, as drawn first, the design reported among them, every hour counted."""

import numpy as np
import pytest
from sample_studies import STUDIES, studied

from ventcalc.building import climate
from ventcalc.job import year, year_compared
from ventcalc.job.design import Design


@pytest.fixture(scope="module")
def week():
    return climate.typical_year("cold")[: 7 * 24]


@pytest.mark.parametrize("name", STUDIES)
def test_as_drawn_comes_first_and_what_is_reported_is_among_them(name):
    found = STUDIES[name]
    names = [o.remedy.name for o in year_compared.designs(found)]
    assert names[0] == "as drawn" and found.reported.outcome.remedy.name in names[:2]
    assert len(names) == len(set(names)) <= year_compared.MOST


def test_every_design_is_solved_in_the_same_hours(week):
    found, heard = studied("lodge"), []
    years = year_compared.compared(found, week, lambda step, share: heard.append(share))
    assert heard == sorted(heard) and heard[-1] == 1.0
    assert len(years.years) == len(years.names) == year_compared.MOST
    for y in years.years:
        assert len(y.hours.weather) == len(week) and y.hours.share.sum() == pytest.approx(len(week))
        np.testing.assert_array_equal(y.hours.load, years.own.hours.load)
    alone = year.year(Design(found.job, found.reported.outcome.remedy), week)
    np.testing.assert_array_equal(alone.outside, years.own.outside)
    assert [d.kind for d in years.hard] == ["coldest", "windiest"]
    assert all(len(d.year.hours.weather) == 24 for d in years.hard)
