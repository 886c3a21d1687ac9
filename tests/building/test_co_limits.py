"""CO limits: running means by hand and by quadrature, verdicts, and where each limit comes from."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from ventcalc import tables
from ventcalc.building import co_limits

ppm = st.floats(0.0, 5000.0)


def test_limits_carry_source_edition_status():
    found = co_limits.limits()
    assert len(found) == 22
    for limit in found:
        assert limit.source and limit.edition and limit.status.startswith(tables.STATUSES)
        assert limit.level > 0.0 and limit.averaging in limit.name and limit.status in limit.cited


@given(st.floats(1.0, 30000.0), ppm)
def test_mean_of_what_stands_still(window, level):
    times = np.linspace(0.0, 40000.0, 37)
    assert co_limits.running_mean.bare(times, np.full(37, level), window, level) == pytest.approx(level, abs=1e-6)


def test_running_mean_by_hand():
    # Two hours at 120 ppm, then clean: after eight hours the mean over eight is 30 ppm, at its most from hour two on.
    times = np.linspace(0.0, 12.0, 12 * 60 + 1) * 3600.0
    history = np.where(times <= 7200.0, 120.0, 0.0)
    mean = co_limits.running_mean.bare(times, history, 8 * 3600.0)
    assert mean[times == 7200.0] == pytest.approx(30.0, rel=1e-9)
    assert mean[times == 8 * 3600.0] == pytest.approx(30.0, abs=0.15)  # one step of the fall is a ramp of a minute
    assert mean[-1] == pytest.approx(0.0, abs=1e-9)


@given(st.floats(60.0, 20000.0), st.floats(0.0, 50.0))
@settings(deadline=None)
def test_running_mean_against_quadrature(window, before):
    times = np.sort(np.r_[0.0, np.random.default_rng(3).uniform(0.0, 30000.0, 40)])
    values = 50.0 + 40.0 * np.sin(times / 3000.0)
    mean = co_limits.running_mean.bare(times, values, window, before)
    for k in (5, 23, 40):
        low = times[k] - window

        def at(t):
            return np.interp(t, times, values) if t >= 0.0 else before

        breaks = [t for t in times if low < t < times[k]]
        expected = sum(quad(at, a, b)[0] for a, b in zip([low, *breaks], [*breaks, times[k]], strict=True)) / window
        assert mean[k] == pytest.approx(expected, rel=1e-6)


def test_limit_judged_three_ways():
    times = np.linspace(0.0, 4 * 3600.0, 241)
    by_hour = next(x for x in co_limits.limits() if x.body == "EPA" and x.window == 3600.0)
    shift = next(x for x in co_limits.limits() if x.body == "OSHA" and x.rule == "PEL")
    low, high = np.full(241, 34.9), np.full(241, 35.1)
    assert co_limits.judge_limit("r", by_hour, times, low).verdict == "pass"
    above = co_limits.judge_limit("r", by_hour, times, high)
    assert above.verdict == "fail" and above.by == pytest.approx(0.1) and above.over == pytest.approx(3600.0, abs=60.0)
    assert co_limits.judge_limit("r", shift, times, low).verdict == "needs the authority's reading"
    assert "safe" not in {co_limits.judge_limit("r", x, times, low).verdict for x in co_limits.limits()}


def test_clock_speaks():
    assert [co_limits.clock(s) for s in (0, 59, 900, 3600, 4800, 28800)] == [
        "0 min",
        "1 min",
        "15 min",
        "1 h",
        "1 h 20 min",
        "8 h",
    ]


def test_facts_name_where_they_come_from():
    for kind in ("limit", "alarm", "interlock", "placement", "appliance", "uptake"):
        rows = co_limits.facts(kind)
        assert rows and all(row["source"] and row["status"] for row in rows)


def test_a_guideline_of_air_is_told_apart_from_levels_that_harm():
    """12 ppm that stays is beyond the outdoor and indoor guidelines of 8 h (9 ppm, 10 mg/m3) and of a day; it is below
    every limit of a workplace (25 ppm the strictest over 8 h) and the level of serious harm (27 ppm, from memory)."""
    times = np.linspace(0.0, 24 * 3600.0, 1441)
    for level, harmful in ((12.0, False), (24.9, False), (27.5, True), (60.0, True)):
        failed = [
            x
            for x in co_limits.limits()
            if co_limits.judge_limit("r", x, times, np.full(times.size, level)).verdict == "fail"
        ]
        assert failed and any(x.weight == "harm" for x in failed) is harmful
    assert {x.weight for x in co_limits.limits()} == {"guideline", "harm"}
    assert all(x.weight == "guideline" for x in co_limits.limits() if x.body.startswith(("EPA", "WHO")))
    assert all(x.weight == "harm" for x in co_limits.limits() if x.whom == "workers")


def test_air_that_held_none_before_and_holds_none_has_none_in_its_mean():
    limit = co_limits.limits()[0]
    found = co_limits.judge_limit("r", limit, np.array([0.0, limit.window, 2.0 * limit.window]), np.zeros(3))
    assert found.worst == 0.0
