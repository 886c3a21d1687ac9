"""Year findings: patterns of failures that are made up, each for what it is; sums and rows side by side."""

from types import SimpleNamespace as Made

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
    assert "February" not in found.words()


def test_every_morning_is_part_of_the_day():
    parts = np.where((WEATHER.hour >= 6) & (WEATHER.hour < 9), 0.5, 0.0)
    found = pattern(parts)
    assert (found.pattern, found.day_part, found.days, found.longest) == ("part of day", "morning", 365, 3)
    assert found.hours == pytest.approx(0.5 * 3 * 365) and found.clock[7] == pytest.approx(182.5)
    assert "mostly in the morning" in found.words("SI")


# What people call the hours of the day (common practice, no source): each part by its first hour and its last.
PARTS = {"night": (22, 4), "morning": (5, 9), "midday": (10, 12), "afternoon": (13, 16), "evening": (17, 21)}


@pytest.mark.parametrize(("hour", "part"), [(hour, part) for part, ends in PARTS.items() for hour in ends])
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


def test_nine_tenths_in_the_coldest_quarter_come_with_the_cold():
    """90 of 100 hours are enough, 89 are not; the others lie in a warm month, all on different days and hours."""
    coldest = np.argsort(WEATHER.temperature)
    middle = coldest[3000:8000:250]
    for inside, name in ((90, "cold"), (89, "scattered")):
        parts = ZERO.copy()
        parts[coldest[:2000:20][:inside]] = 1.0
        parts[middle[: 100 - inside]] = 1.0
        found = pattern(parts)
        assert (found.hours, found.pattern) == (100.0, name)
        # Means while it lasts, of hours that count in full.
        assert found.temperature == pytest.approx(WEATHER.temperature[parts > 0.0].mean())
        assert found.wind == pytest.approx(WEATHER.wind[parts > 0.0].mean())


@pytest.mark.parametrize(("every", "wanted"), [(9, "scattered"), (6, "part of day")])
def test_few_mornings_are_no_habit(every, wanted):
    """A morning's three hours on every ninth day are 11 % of the days; on every sixth 17 %, and that is a habit."""
    day = np.arange(8760) // 24
    found = pattern(np.where((day % every == 0) & (WEATHER.hour >= 6) & (WEATHER.hour < 9), 1.0, 0.0))
    assert (found.days, found.pattern) == (-(-365 // every), wanted)


def made_year():
    """Three hours of two appliances on two sections, one of masonry, as numbers that hands can sum."""
    rows = {
        "below": [[0.5, 0.0, 0.0], [0.25, 0.0, 0.0]], "above": [[0.0, 0.0, 0.0], [0.0, 0.125, 0.0]],
        "into_room": [[0.5, 0.125, 0.0], [0.25, 0.25, 0.0]], "either": [[0.0, 0.125, 0.0], [0.0, 0.25, 0.0]],
        "wet": [[1.0, 1.0, 0.0], [0.0, 1.0, 0.5]], "ice": [[0.0, 0.0, 0.0], [0.0, 0.25, 0.0]],
        "icy_end": [0.5, 0.125, 0.0], "plume": [0.0, 0.0, 1e-4], "unsettled": [0.0, 0.0, 0.0],
        "bad_starts": [0.0, 2.0, 0.0], "condensate": [[1.0, 0.0, 0.0], [0.0, 2.0, 0.0]],
        "fan_energy": [3.0, 4.0, 0.0], "idle_heat": [0.0, 5.0, 1.0], "heat_input": [100.0, 0.0, 50.0],
    }  # fmt: skip
    rows = {name: np.array(values) for name, values in rows.items()}
    outside = np.minimum((rows["below"] + rows["above"]).max(axis=0), 1.0)
    sections = [
        Made(name=n, material=Made(condensate=made_for_it)) for n, made_for_it in (("pipe", True), ("flue", False))
    ]
    plant = Made(appliances=[Made(name="A"), Made(name="B")], order=sections)
    hours = Made(plant=plant, weather=WEATHER[:3], share=np.ones(3), starts=np.array([1.0, 3.0, 0.0]))
    return Made(hours=hours, outside=outside, **rows)


def test_totals_by_hand():
    """What several appliances or sections do in the same hour counts once, by the longest of them."""
    assert year_findings.totals(made_year()) == year_findings.Totals(
        hours=3.0, outside=0.5 + 0.125, spill=0.5 + 0.25, either=0.25, wet=1.0 + 1.0 + 0.5, ice=0.5 + 0.25, plume=1e-4,
        unsettled=0.0, starts=4.0, bad_starts=2.0, condensate=3.0, fan_energy=7.0, idle_heat=6.0, heat=150.0 * 3600.0,
    )  # fmt: skip


def test_failures_by_hand():
    """People first; water on a wall that is made for it is no failure, and the least part of an hour is one."""
    found = year_findings.failures(made_year())
    assert [(f.kind, f.subject, f.hours) for f in found] == [
        ("flue gas in room", "A", 0.5), ("flue gas in room", "B", 0.25),
        ("flue gas in room from idle", "A", 0.125), ("flue gas in room from idle", "B", 0.25),
        ("above window", "B", 0.125), ("below window", "A", 0.5), ("below window", "B", 0.25),
        ("start outside window", "", 2.0), ("wet", "flue", 1.5), ("ice", "flue", 0.25), ("ice at the end", "", 0.625),
        ("plume", "", 1e-4),
    ]  # fmt: skip


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


def test_designs_stand_side_by_side():
    ill, well = made_year(), made_year()
    well.below = np.zeros((2, 3))
    rows = {(r.kind, r.subject): r.hours for r in year_findings.side_by_side([ill, well])}
    assert rows["below window", "A"] == (0.5, 0.0) and rows["below window", "B"] == (0.25, 0.0)
    assert rows["plume", ""] == (1e-4, 1e-4) and len(rows) == len(year_findings.failures(ill))
