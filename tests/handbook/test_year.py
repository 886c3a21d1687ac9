"""The chapter on a year: its rows worked again by other libraries, numbers of its text, its live controls."""

import csv
import io
import re
import time

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.building import climate
from ventcalc.checked import unexplained
from ventcalc.handbook import year as chapter
from ventcalc.job import year, year_findings
from ventcalc.job.device_duty import fan_work
from ventcalc.show.panels import Panel
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

START = {name: control.value for name, control in chapter.controls("US").items()}
LONGEST_MOVE = 1.0  # s of processor time: what a hand at a control waits for
ATMOSPHERE, RATIO = 101325.0, 0.621945  # Pa; of the molar masses of water and dry air (ASHRAE Fundamentals, ch. 1)


# --- Rows of the table, worked again ---


def test_checks_agree():
    assert all(c.agrees for c in chapter.checks()) and unexplained(chapter.checks()) == []
    assert {c.id for c in chapter.checks()} == {row["id"] for row in tables.read("year_checks")}


@pytest.mark.parametrize("row", ["YR03", "YR04", "YR05", "YR06"])
def test_rows_of_the_plume_by_coolprop(row):
    """Vapor with which the mixing line, by enthalpy of real moist air, just touches saturation."""
    told = tables.row("year_checks", row)
    outdoor, gas = (float(told[key]) + 273.15 for key in ("outdoor_C", "gas_C"))
    w0, h0 = (HAPropsSI(of, "T", outdoor, "P", ATMOSPHERE, "R", float(told["humidity"])) for of in "WH")

    def mist(ratio):
        h1 = HAPropsSI("H", "T", gas, "P", ATMOSPHERE, "W", ratio)
        return max(
            w0 + s * (ratio - w0) - HAPropsSI("W", "H", h0 + s * (h1 - h0), "P", ATMOSPHERE, "R", 1.0)
            for s in np.linspace(1e-4, 1.0, 150)
        )

    ratio = brentq(mist, 1e-3, HAPropsSI("W", "T", gas, "P", ATMOSPHERE, "R", 0.999), xtol=1e-6)
    # Half a unit of the last printed digit, and what so fine a row of shares may miss of the touch.
    assert 100.0 * ratio / (RATIO + ratio) == pytest.approx(float(told["value"]), abs=0.007)


def test_degree_days_by_the_csv_reader_of_the_standard_library():
    """Temperatures in the column and the form of a weather file, read again and summed by hand."""
    cold = climate.year("cold")
    file = io.StringIO("".join(f"2001,1,1,1,60,x,{t - 273.15:.1f}\n" for t in cold.temperature))
    by_hand = sum(max(65.0 - (1.8 * float(line[6]) + 32.0), 0.0) for line in csv.reader(file)) / 24.0
    assert by_hand == pytest.approx(float(tables.row("year_checks", "YR02")["value"]), abs=0.005)


# --- Questions ---


def expected(number, unit, system="SI"):
    return float(chapter.questions(system)[number].expected.m_as(unit))


def test_the_load_by_two_points_of_a_line():
    # In its own units: from 500 MBH at 65 degF to 4,000 MBH at -4 degF, and 150 to 1,200 kW from 18 to -20 degC.
    assert expected(0, "MBH", "US") == pytest.approx(np.interp(42.0, (-4.0, 65.0), (4000.0, 500.0)), rel=1e-9)
    assert expected(0, "kW") == pytest.approx(np.interp(5.0, (-20.0, 18.0), (1200.0, 150.0)), rel=1e-9)


def test_a_run_by_counting_them():
    # 0.4 of the hour in 4 x 6 x 0.4 x 0.6 = 5.76 runs.
    assert expected(1, "minute") == pytest.approx(24.0 / 5.76, rel=1e-9)


def test_a_wall_by_integrating_its_cooling():
    cooled = solve_ivp(lambda t, w: -w / 90.0, (0.0, 120.0), [1.0], rtol=1e-10, atol=1e-12)
    assert expected(2, "") == pytest.approx(1.0 - cooled.y[0, -1], abs=1e-7)


def test_idle_heat_by_hand():
    assert expected(3, "kWh") == pytest.approx(0.008 * 1.006 * (21.0 - 5.0) * 5000.0, rel=1e-9)


# --- Prediction, and what the reader writes ---


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_counted_again(system):
    """Hours counted from how far the outlet is below its window in each of them."""
    year_, found = chapter.through(chapter.DRAWN), chapter.below_in_a_year()
    i = [a.name for a in year_.hours.plant.appliances].index(chapter.SECOND)
    below = year_.below[i]
    assert float(found["figure"].m_as("hour")) == pytest.approx(below.sum(), abs=1.0)
    assert found["right"] == 2 and 2000.0 < below.sum() < 4500.0
    told = chapter.prediction(system)
    assert "3,000" in told.choices[found["right"]] and f"{below.sum():,.0f} h" in told.because
    for hours, choice in zip(chapter.OFFERED, told.choices, strict=True):
        assert f"About {hours:,.0f}:" in choice


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_two_points_of_a_line(system):
    task = chapter.writing(system)

    def by_points(design, base, coldest, limit, outdoor):
        slope = np.polyfit((coldest, limit), (design, base), 1)
        return float(np.polyval(slope, min(outdoor, limit)))

    assert {tried(task, case, by_points).kind for case in task.cases} == {"right"}
    for case in task.cases[:3]:
        slipped = tried(task, case, lambda d, b, c, t, o: b + d * (t - o) / (t - c))
        assert slipped.words == task.slips["twice_base"]
    warm = tried(task, task.cases[3], lambda d, b, c, t, o: b + (d - b) * (t - o) / (t - c))
    assert warm.words == task.slips["no_limit"]


# --- What the chapter shows ---


@pytest.fixture(scope="module")
def failures():
    """Of every design by kind and subject."""
    return {
        name: {(f.kind, f.subject): f for f in year_findings.failures(chapter.through(name))} for name in chapter.NAMES
    }


@pytest.mark.slow
def test_the_numbers_in_the_text(failures):
    drawn, fan, both = (failures[name] for name in (chapter.DRAWN, chapter.FAN, chapter.BOTH))
    small = drawn["above window", "Boiler 3"]
    assert (small.pattern, small.days) == ("few", 2) and small.hours < 30.0
    assert small.months[0] == pytest.approx(small.hours)
    second = drawn["below window", "Boiler 2"]
    assert second.hours > 3000.0 and second.days > 180 and second.pattern == "scattered"
    assert {drawn["flue gas in room", f"Boiler {k}"].pattern for k in (2, 3)} == {"windy"}
    # The fan alone: no gas in the room, Boiler 3 almost mended, Boiler 1 worse; with the damper nothing is left.
    assert not any(kind.startswith("flue gas") for kind, _ in fan)
    assert fan["below window", "Boiler 3"].hours < 0.2 * drawn["below window", "Boiler 3"].hours
    assert fan["below window", "Boiler 1"].hours > drawn["below window", "Boiler 1"].hours
    assert set(both) == {("plume", "")}
    held = year._solved(chapter.through(chapter.BOTH).design, chapter.through(chapter.BOTH).hours)[1]
    speeds = fan_work(chapter.through(chapter.BOTH).design.remedy, held).speed
    assert np.quantile(speeds, 0.75) < 0.5
    totals = {name: year_findings.totals(chapter.through(name)) for name in chapter.NAMES}
    assert totals[chapter.BOTH].idle_heat == pytest.approx(0.5 * totals[chapter.DRAWN].idle_heat, rel=0.1)
    saved = totals[chapter.DRAWN].idle_heat - totals[chapter.BOTH].idle_heat
    assert saved > 10.0 * totals[chapter.BOTH].fan_energy > 0.0
    assert all(t.hours == pytest.approx(8760.0) and t.plume == pytest.approx(8760.0) for t in totals.values())
    coldest, windiest = chapter.hard(chapter.FAN)
    assert coldest.year.outside.sum() == 0.0 and windiest.year.outside.sum() == pytest.approx(24.0)


@pytest.mark.slow
def test_the_black_cells_are_the_second_boiler_just_on():
    """Between 15 and 35 degF: a quarter of the year, nearly all of it outside, the second boiler near low fire."""
    drawn = chapter.through(chapter.DRAWN)
    fahrenheit = 1.8 * (drawn.hours.weather.temperature - 273.15) + 32.0
    here = (fahrenheit >= 15.0) & (fahrenheit < 35.0)
    assert 0.22 < here.mean() < 0.30 and drawn.outside[here].mean() > 0.9
    second = drawn.hours.firing.codes[1]
    a = drawn.hours.plant.appliances[1]
    most = len(a.states) - 1
    under = here & (drawn.below[1] > 0.0)
    assert under.sum() > 0.7 * here.sum() and np.median(second[under]) < most - 0.4
    assert drawn.outside[fahrenheit < 15.0].mean() < drawn.outside[here].mean()


@pytest.mark.slow
def test_heat_of_the_year_by_degree_days():
    load, outdoor = chapter.hall().year.load, chapter.hours().temperature
    degrees = np.clip(load.limit - outdoor, 0.0, None).sum()
    by_hand = load.base * 8760.0 + (load.design - load.base) / (load.limit - load.design_outdoor) * degrees
    found = year_findings.totals(chapter.through(chapter.DRAWN)).heat / 3600.0
    assert found == pytest.approx(by_hand, rel=1e-3)  # classes of half a kelvin


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_hold_every_design_and_failure(system, failures):
    for rows in ("failures", "totals"):
        html = chapter.compared_table(rows, system)
        assert all(f">{name}<" in html for name in chapter.NAMES)
    html = chapter.failure_table(chapter.DRAWN, system)
    assert html.count("<tr>") == len(failures[chapter.DRAWN]) + 1
    assert chapter.hard_table(system).count("<tr>") == 2 * len(chapter.NAMES) + 1


@pytest.mark.parametrize("system", SYSTEMS)
def test_figures_say_their_units(system):
    degrees, heat = {"US": ("°F", "MBH"), "SI": ("°C", "kW")}[system]
    load = chapter.load_figure(system)
    assert degrees in load.axes[0].get_xlabel() and heat in load.axes[1].get_xlabel()


def test_what_the_boilers_carry_is_the_load():
    # The upper edge of the last boiler is the load itself, at every load.
    load, edge = chapter.load_figure("SI").axes[1].collections[-1].get_paths()[0].vertices.T
    tops = np.array([edge[load == at].max() for at in np.unique(load)])
    assert tops == pytest.approx(np.unique(load), rel=1e-6, abs=1e-6) and tops.size > 100


# --- Live controls ---


def test_four_weeks_are_those_of_the_year():
    weeks = chapter.four_weeks("high")
    typical = climate.typical_year("high")
    assert len(weeks) == 4 * 7 * 24 and set(weeks.month) == {1, 4, 7, 10}
    for k, first in enumerate(chapter.WEEKS):
        here, there = (slice(168 * n, 168 * (n + 1)) for n in (k, first))
        assert np.array_equal(weeks.temperature[here], typical.temperature[there])


@pytest.mark.slow
def test_a_move_is_quick_and_tells_what_was_solved():
    took = []
    for height in (0.9, 1.1, 1.25):  # the first of a process fetches its machine code, whatever ran before
        begin = time.process_time()
        numbers, picture = chapter.explorer_answer("US", **START | {"height": height})
        took.append(time.process_time() - begin)
    assert min(took) < LONGEST_MOVE and picture.startswith(b"\x89PNG")
    total = year_findings.totals(chapter.live(**START | {"height": 1.25}))
    assert f"672 hours, {total.outside:,.0f} with an outlet outside" in numbers


def test_months_of_the_weeks_are_told_in_their_order():
    found = year_findings.failures(chapter.live(**START))
    for f in found:
        parts = [float(text.strip(",").replace(",", "")) for text in chapter._by_week(f)]
        assert sum(parts) == pytest.approx(f.hours, abs=2.0)
    assert found


@pytest.mark.slow
def test_more_load_than_the_boilers_have_is_said():
    numbers, _ = chapter.explorer_answer("SI", **START | {"design": 1.2, "place": "cold"})
    assert re.search(r"cannot carry the load in \d+ h", numbers)


@pytest.mark.slow
def test_a_panel_follows_its_controls():
    panel = chapter.explorer("SI")
    assert isinstance(panel, Panel)
    before = panel.numbers.value, panel.picture.value
    panel.controls["place"].value = "hot"
    assert panel.numbers.value != before[0] and panel.picture.value != before[1]


@pytest.mark.slow
def test_a_higher_stack_drafts_more():
    low, high = (chapter.live(**START | {"height": factor}) for factor in (0.5, 1.5))
    assert high.below.sum() > low.below.sum()
    assert Q_(year_findings.totals(high).idle_heat, "J") > Q_(year_findings.totals(low).idle_heat, "J")
