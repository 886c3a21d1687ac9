"""The calculation sheet: a line a chapter, its figures by other means, its last sum beside the solver's."""

import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

from ventcalc.handbook import calculation_sheet as sheet
from ventcalc.units import SYSTEMS


def value(chapter: int, unit: str) -> float:
    return float(sheet.line(chapter).value.m_as(unit))


def test_every_chapter_of_the_first_three_parts_has_its_line():
    assert [line.chapter for line in sheet.lines()] == list(range(1, 14))


def test_the_outdoor_air_is_that_of_coolprop():
    """60 degF, 60 % relative humidity, sea level: humid air by ASHRAE RP-1485 as CoolProp has it."""
    volume = HAPropsSI("Vha", "T", 288.706, "P", 101325.0, "R", 0.6)
    assert value(1, "kg/m**3") == pytest.approx(1.0 / volume, rel=1e-3)


def test_the_dew_point_by_hand_and_coolprop():
    """Natural gas is nearly methane, which makes 2 H2O in 10.52 + 9.52 e moles of flue gas.

    Its dry CO2 is 1/(8.52 + 9.52 e) = 5.3 %, so e = 1.087 and water is 2/(10.52 + 9.52 e).
    """
    excess = (1.0 / 0.053 - 8.52) / 9.52
    water = 2.0 / (10.52 + 9.52 * excess)
    assert value(4, "K") == pytest.approx(PropsSI("T", "P", water * 101325.0, "Q", 0, "Water"), abs=1.5)


def test_the_flue_gas_is_that_of_the_federal_factor():
    """40 CFR 60, Method 19: 8710 dry scf per million Btu of natural gas at no excess air; at 8 % CO2, 11.7 % without.

    100 MBH make 0.1 x 8710 x 11.7/8 dry scf an hour; with their water some 1.1 times as much by mass (0.076 lb/scf).
    """
    dry = 0.1 * 8710 * 11.7 / 8.0
    assert value(2, "lb/hour") == pytest.approx(dry * 0.0766 * 1.08, rel=0.05)


def test_draft_and_sum_by_plain_arithmetic():
    draft = 9.80665 * 18 * 0.3048 * (value(1, "kg/m**3") - value(3, "kg/m**3"))
    assert value(6, "Pa") == pytest.approx(draft, rel=1e-3)
    assert value(11, "Pa") == pytest.approx(value(6, "Pa") - sum(value(k, "Pa") for k in (8, 9, 10)), rel=1e-9)


def test_the_last_sum_is_the_solvers():
    """By hand with specific heats and films of where a section begins: 5 % of the draft, 3 % of what is left over."""
    assert value(11, "Pa") == pytest.approx(float(sheet.to_spare()), rel=0.05)


def test_the_ratio_of_areas_is_that_of_the_diameters():
    assert sheet.line(13).value == pytest.approx((5 / 4) ** 2)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_sheet_shows_as_far_as_a_chapter(system):
    assert sheet.sheet(system, 5).count("<tr>") == 6 and sheet.sheet(system).count("<tr>") == 14
    assert sheet.line(7).shown(system) in sheet.told(7)(system)
    assert ("lb/h" in sheet.sheet(system)) is (system == "US")
