"""Measured: the library beside what others measured, each worked again here by other means."""

import re
from html import unescape

import fluids
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ventcalc import tables
from ventcalc.handbook import measured
from ventcalc.show import contents, evidence_line
from ventcalc.units import Q_

CHECKS = {c.id: c for subject in measured.subjects() for c in measured.checks_of(subject)}
NAMES = sorted(name for name in tables.names() if name.startswith("measured_"))
ROWS = {row["id"]: row for name in NAMES for row in tables.read(name)}

# Where ours lies outside what the measurement is worth, and by how much of the value; the row says why.
MISSES = {"ME010": -0.12, "ME012": -0.13, "ME013": -0.15, "ME033": -0.155, "ME014": 1.23, "ME039": -0.23, "ME040": 0.23}


def test_every_row_is_compared_and_all_have_one_form():
    assert set(CHECKS) == set(ROWS) and len({tuple(tables.read(name)[0]) for name in NAMES}) == 1


def test_seven_chapters_have_something_measured():
    numbers = {int(row["chapter"]) for row in ROWS.values()}
    assert numbers == {1, 2, 6, 7, 8, 23, 25}
    paths = contents.chapters()
    for subject in measured.subjects():
        assert {paths[int(ROWS[c.id]["chapter"])].stem[3:] for c in measured.checks_of(subject)} == {subject}


@pytest.mark.parametrize("key", ROWS)
def test_a_row_was_read_and_says_what_it_is_worth(key):
    row = ROWS[key]
    assert evidence_line.kind(CHECKS[key]) == evidence_line.PUBLISHED
    assert len(row["reason"]) > 40 and CHECKS[key].remark == row["reason"] and len(row["source"]) > 40


@pytest.mark.parametrize("key", sorted(set(ROWS) - set(MISSES)))
def test_measured_value(key):
    assert CHECKS[key].agrees, CHECKS[key].verdict


@pytest.mark.parametrize("key", MISSES)
def test_a_difference_is_told_as_it_is(key):
    check = CHECKS[key]
    assert not check.agrees
    assert check.difference / check.published == pytest.approx(MISSES[key], abs=0.01)


# --- The same by other means --------------------------------------------------------------------------------


def ours(key):
    return CHECKS[key].ours


def test_air_by_the_barometric_formula_of_the_troposphere():
    for key in ("ME001", "ME006"):
        altitude = float(ROWS[key]["given"])
        assert ours(key) == pytest.approx(fluids.ATMOSPHERE_1976(altitude).P / 1000.0, rel=1e-4)


def test_carbon_burnt_by_counting_atoms():
    # One mole of the gas: 0.955 of carbon, 1.8505 of oxygen taken, 0.108 of nitrogen; air has 0.04 % of CO2 itself.
    gas = measured.LABORATORY_GAS
    carbon = gas["CH4"] + 2 * gas["C2H6"] + 3 * gas["C3H8"] + gas["CO2"]
    taken = 2 * gas["CH4"] + 3.5 * gas["C2H6"] + 5 * gas["C3H8"]
    for key in ("ME007", "ME008", "ME009"):
        oxygen = 0.01 * float(ROWS[key]["given"]) - 0.5e-6 * float(ROWS[key]["also"])
        dry = carbon + gas["N2"] + taken / 0.2095 * 0.7905
        over = oxygen * dry / (0.2095 - oxygen)
        found = carbon + 0.0004 * (taken / 0.2095 + over)
        assert ours(key) == pytest.approx(100.0 * found / (dry + over), abs=0.005)


def test_hot_column_by_the_ideal_gas():
    room = [r for r in tables.read("hot_rooms") if r["bedroom"] == "1"]
    x, cold, hot = (np.array([float(r[c]) for r in room]) for c in ("below_ceiling_m", "before_C", "after_C"))
    lighter = 101325.0 / 287.05 * (1.0 / (cold + 273.15) - 1.0 / (hot + 273.15))
    assert ours("ME010") == pytest.approx(9.80665 * np.trapezoid(lighter, x), rel=1e-3)


def test_duct_and_pipe_by_an_independent_library():
    roughness = measured.duct_roughness().m_as("mm")
    assert roughness == pytest.approx(0.0113, abs=0.0002)
    for key, check in CHECKS.items():
        if check.quantity == "friction factor":
            relative = roughness / measured.DUCT.m_as("mm") if ROWS[key]["setting"] != "smooth" else 0.0
            expected = fluids.friction.Colebrook(float(ROWS[key]["given"]), relative)
            assert check.ours == pytest.approx(expected, rel=1e-5), key


def test_rows_of_the_smooth_pipe_are_those_of_the_library_they_were_read_in():
    series = dict(zip(*fluids.friction.oregon_smooth_data, strict=True))
    rows = [r for r in ROWS.values() if r["setting"] == "smooth"]
    assert len(rows) == 6 and all(series[float(r["given"])] == float(r["value"]) for r in rows)


def test_felt_by_resistances_in_series():
    for key in ("ME029", "ME033"):
        film = 1.0 / measured.NAKED
        felt = (1.0 / measured.UNDER_AN_INCH - film) * float(ROWS[key]["given"])
        assert ours(key) == pytest.approx(1.0 / (film + felt), rel=1e-3)


def test_leak_of_a_house_by_hand_and_the_range_that_its_reason_names():
    flow = 8.3 * 514.0 / 3600.0
    areas = [flow * (10 / 50) ** n / (0.611 * (2 * 10 / 1.2) ** 0.5) for n in (0.65, 0.75)]
    assert ours("ME034") == pytest.approx(areas[0], rel=1e-4) and areas[1] == pytest.approx(0.14, abs=0.005)
    assert flow * (4 / 50) ** 0.65 / (2 * 4 / 1.2) ** 0.5 == pytest.approx(0.09, abs=0.005)


def test_uptake_by_the_equation_written_out():
    # Coburn, Forster & Kane in mL, min and mmHg: 5500 mL of blood that binds 0.2, 0.007 mL/min made, affinity 218.
    minutes, ppm, barometer = 5.0, 5500.0, 522.75
    resistance = 1.0 / 25.0 + (barometer - 47.0) / 4200.0
    oxygen, breathed = (barometer - 47.0) * 0.2095 - 49.0, (barometer - 47.0) * ppm * 1e-6

    def slope(_t, x):
        return (0.007 + (breathed - x * oxygen / (218.0 * (1.0 - x))) / resistance) / (5500.0 * 0.2)

    end = solve_ivp(slope, (0.0, minutes), [0.008], rtol=1e-9).y[0, -1]
    assert ours("ME035") == pytest.approx(100.0 * (end - 0.008), rel=0.005)


def test_regression_of_the_blood_is_the_one_that_its_note_tells():
    for key in ("ME041", "ME042"):
        told = 10.0 ** (1.036 * np.log10(float(ROWS[key]["also"])) - 4.4793)
        assert told == pytest.approx(float(ROWS[key]["value"]), rel=2e-3)
    assert (Q_(4.2, "L") / measured.WARM_AND_WET / measured.PAST_DEAD_SPACE).m == pytest.approx(7.3, abs=0.05)


# --- What the chapters say ------------------------------------------------------------------------------------


def test_words_of_the_chapters_about_how_far_ours_is_off():
    spread = {s: list(measured.spreads(s).values()) for s in measured.subjects()}
    # 06: short in all four, by a tenth. 08: 1 mm is some ninety times the duct's roughness, and more than twice the
    # friction. 23: a fifth larger. 25: on both sides.
    ((least, most),) = spread["stack_effect"]
    assert -0.15 < least <= most < -0.06 and 0.5 * (least + most) == pytest.approx(-0.1, abs=0.02)
    assert 85 < 1.0 / measured.duct_roughness().m_as("mm") < 95 and spread["friction"][0][0] > 1.0
    assert spread["combustion_air"] == [pytest.approx((0.2, 0.2), abs=0.01)]
    assert spread["carbon_monoxide"][0][0] < 0.0 < spread["carbon_monoxide"][0][1]
    # 07: the worse the farther the felt is from an inch, on either side.
    off = {float(ROWS[c.id]["given"]): abs(c.difference / c.published) for c in measured.checks_of("heat_loss")}
    assert off[0.25] > off[0.5] and off[1.5] > off[1.25] > off[0.75]


# --- What is shown -------------------------------------------------------------------------------------------


def test_spread_of_a_chapter_by_hand():
    ((quantity, _), (least, most)) = next(iter(measured.spreads("combustion").items()))
    assert quantity.startswith("CO2 and CO")
    assert least == pytest.approx(9.001 / 9.07 - 1, abs=1e-4) and most == pytest.approx(10.627 / 10.56 - 1, abs=1e-4)
    told = measured.shown("combustion").data
    assert "from the oxygen read beside them: −0.8 to +0.6 %." in told
    assert "equivalent leakage area: +19.2 %." in measured.shown("combustion_air").data


@pytest.mark.parametrize("subject", measured.subjects())
def test_a_chapter_shows_its_rows_with_reasons_and_source(subject):
    html = unescape(measured.shown(subject).data)
    for check in measured.checks_of(subject):
        assert all(part in html for part in (*check.printed, check.source, check.remark[1:], ROWS[check.id]["case"]))
    outside = sum(not c.agrees for c in measured.checks_of(subject))
    assert html.count(">outside<") == outside


def test_what_was_sought_is_told_for_every_chapter_about_nature():
    rows = tables.read("searches")
    numbers = [int(row["chapter"]) for row in rows]
    assert numbers == sorted(set(numbers)) and set(numbers) <= set(contents.chapters())
    found = {int(row["chapter"]) for row in rows if re.search(r"\bfound\b", row["outcome"], re.IGNORECASE)}
    assert found == {int(row["chapter"]) for row in ROWS.values()}
    assert all(row["words"] and row["sought"] for row in rows)
    html = measured.searches().data
    assert all(f"{n:02d} {contents.title(n)}" in html for n in numbers)
