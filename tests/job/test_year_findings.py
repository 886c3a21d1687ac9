"""Year findings: patterns of failures that are made up, each for what it is; sums and rows side by side."""

from dataclasses import replace

import numpy as np
import pytest
from sample_commissioning import HALL
from sample_studies import ALL_JOBS

from ventcalc.building import climate
from ventcalc.job import job_file, year, year_findings
from ventcalc.job.design import drawn

WEATHER = climate.typical_year("cold")
ZERO = np.zeros(8760)


def pattern(parts):
    return year_findings._failure("plume", "", parts, WEATHER)


@pytest.fixture(scope="module")
def hall():
    return year.year(drawn(HALL))


def test_six_hours_in_january_are_few():
    parts = ZERO.copy()
    parts[100:106] = 1.0
    found = pattern(parts)
    assert (found.pattern, found.hours, found.days, found.longest) == ("few", 6.0, 1, 6)
    assert found.months[0] == 6.0 and "all of it in January" in found.words()


def test_every_morning_is_part_of_the_day():
    parts = np.where((WEATHER.hour >= 6) & (WEATHER.hour < 9), 0.5, 0.0)
    found = pattern(parts)
    assert (found.pattern, found.day_part, found.days, found.longest) == ("part of day", "morning", 365, 3)
    assert found.hours == pytest.approx(0.5 * 3 * 365) and found.clock[7] == pytest.approx(182.5)
    assert "mostly in the morning" in found.words("SI")


PARTS = [(2, "night"), (23, "night"), (7, "morning"), (12, "midday"), (15, "afternoon"), (19, "evening")]


@pytest.mark.parametrize(("hour", "part"), PARTS)
def test_every_part_of_the_day_has_its_name(hour, part):
    assert pattern(np.where(WEATHER.hour == hour, 1.0, 0.0)).day_part == part


@pytest.mark.parametrize(
    ("name", "size"), [("cold", -WEATHER.temperature), ("warm", WEATHER.temperature), ("windy", WEATHER.wind)]
)
def test_what_comes_with_the_weather_is_said_so(name, size):
    found = pattern(np.where(size > np.quantile(size, 0.8), 1.0, 0.0))
    assert found.pattern == name


def test_all_hours_are_always_and_chance_is_scattered():
    assert pattern(np.ones(8760)).pattern == "always"
    assert pattern((np.random.default_rng(2).random(8760) < 0.1).astype(float)).pattern == "scattered"


@pytest.mark.slow
def test_totals_are_the_sums(hall):
    found = year_findings.totals(hall)
    assert found.hours == pytest.approx(8760.0)
    assert found.condensate == pytest.approx(hall.condensate.sum()) and found.fan_energy == 0.0
    assert found.heat == pytest.approx(hall.heat_input.mean() * 8760 * 3600)
    assert 0.0 < found.spill <= found.hours and found.bad_starts <= found.starts


@pytest.mark.slow
def test_failures_add_up_by_month_and_clock(hall):
    found = year_findings.failures(hall)
    assert {f.kind for f in found} >= {"flue gas in room", "below window", "plume"}
    for f in found:
        assert f.months.sum() == pytest.approx(f.hours) and f.clock.sum() == pytest.approx(f.hours)
        assert f.pattern in year_findings.PATTERNS and f.words().endswith(".")
    # Stainless vents are made for water: wet walls are no failure here, in a chimney they are.
    assert "wet" not in {f.kind for f in found}
    masonry = year.year(drawn(job_file.load(ALL_JOBS["masonry_retrofit"])), WEATHER[:240])
    assert {"wet"} <= {f.kind for f in year_findings.failures(masonry)}


def test_designs_stand_side_by_side(hall):
    well = replace(hall, below=np.zeros_like(hall.below))
    rows = {(r.kind, r.subject): r.hours for r in year_findings.side_by_side([hall, well])}
    assert rows["below window", "Boiler 1"] == (pytest.approx(hall.below[0].sum()), 0.0)
    assert len(set(rows[("plume", "")])) == 1
