"""CO alarms: the test points of the standards come out, and gaps begin anew."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventcalc.building import co_alarms, cohb


@pytest.mark.parametrize("standard", co_alarms.alarm_standards())
def test_test_points_come_out(standard):
    points = co_alarms.alarm_points(standard)
    times = np.linspace(0.0, 60 * 86400.0, 60 * 24 * 60 + 1)
    for k, edge in enumerate(("earliest", "latest")):
        for level, wait in zip(*points[edge], strict=True):
            band = co_alarms.alarm_band(times, np.full(times.shape, level), standard)
            assert (band.earliest, band.latest)[k] == pytest.approx(max(wait, 1.0), rel=1e-6)


@pytest.mark.parametrize("standard", co_alarms.alarm_standards())
@given(level=st.floats(5.0, 2000.0))
@settings(max_examples=20, deadline=None)
def test_earliest_before_latest_and_more_is_sooner(standard, level):
    times = np.linspace(0.0, 86400.0, 1441)
    bands = [co_alarms.alarm_band(times, np.full(times.shape, x), standard) for x in (level, 1.2 * level)]
    assert bands[0].earliest <= bands[0].latest and bands[1].latest <= bands[0].latest
    assert bands[1].earliest <= bands[0].earliest


def test_below_the_lowest_point_no_alarm_must_sound():
    times = np.linspace(0.0, 86400.0, 1441)
    assert co_alarms.alarm_band(times, np.full(1441, 69.0)).latest == np.inf
    assert co_alarms.alarm_band(times, np.full(1441, 29.0)).earliest == np.inf


def test_latest_alarm_begins_anew_after_a_gap():
    # Three hours at 70 ppm, half an hour of clean air, three hours: neither part alone is four hours.
    times = np.linspace(0.0, 6.5 * 3600.0, 391)
    gap = (times >= 3 * 3600.0) & (times <= 3.5 * 3600.0)
    broken = co_alarms.alarm_band(times, np.where(gap, 0.0, 70.0))
    whole = co_alarms.alarm_band(times, np.full(391, 70.0))
    assert whole.latest == pytest.approx(4 * 3600.0, abs=60.0) and broken.latest == np.inf
    assert broken.earliest == whole.earliest


def test_latest_alarm_is_ten_percent_at_heavy_work():
    # UL 2034 is said to rest on about 10 % COHb. By the CFK equation that is heavy work, at every test point.
    levels, waits = co_alarms.alarm_points("UL 2034")["latest"]
    bound = [
        cohb.cohb.bare(np.array([0.0, t]), np.full(2, c), cohb.person("heavy work"))[-1]
        for c, t in zip(levels, waits, strict=True)
    ]
    assert bound == pytest.approx([0.10] * 3, abs=0.01)


def test_unknown_standard_lists_the_known():
    with pytest.raises(ValueError, match="UL 2034, EN 50291"):
        co_alarms.alarm_band(np.array([0.0, 1.0]), np.zeros(2), "UL 217")
