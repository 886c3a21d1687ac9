"""Combustion air: the code's volumes, openings and supply on published rows; what burners take."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import GAS
from sample_rooms import HOUR

from ventcalc import tables
from ventcalc.building import combustion_air
from ventcalc.gas import combustion
from ventcalc.units import Q_, UnitsError

ROWS = {row["id"]: row for row in tables.read("combustion_air_checks")}
VOLUMES = [r for r in ROWS.values() if r["method"] == "known infiltration" and r["ach"]]
AREAS = [r for r in ROWS.values() if r["quantity"] == "free area per opening"]
WAY = {"outdoor, horizontal ducts": "horizontal duct", "outdoor, single opening": "single",
       "outdoor, vertical ducts or direct": "vertical duct"}  # fmt: skip


def test_tables_hold_what_the_tests_stand_on():
    assert (len(VOLUMES), len(AREAS), len(ROWS)) == (45, 15, 85)


@pytest.mark.parametrize("row", VOLUMES, ids=lambda r: r["id"])
def test_volume_of_known_infiltration(row):
    # A table computed from the code's equations, printed in installation instructions; rounded to a whole ft3.
    other, fan = (Q_(float(row[f"input_{k}_btu_h"] or 0.0), "Btu/hour") for k in ("other", "fan"))
    ours = combustion_air.infiltration_volume(other, fan, float(row["ach"]) * HOUR)
    assert ours.m_as("ft**3") == pytest.approx(float(row["value"]), abs=0.5 + 1e-6)


def test_standard_volume():
    # A050, of the same kind of table: 96,000 Btu/h needs 4800 ft3.
    assert combustion_air.standard_volume(Q_(96, "MBH")).m_as("ft**3") == pytest.approx(float(ROWS["A050"]["value"]))


@pytest.mark.parametrize("row", AREAS, ids=lambda r: r["id"])
def test_area_of_openings(row):
    # Printed to one or two decimals of a square inch.
    ours = combustion_air.opening_area(Q_(float(row["input_total_btu_h"]), "Btu/hour"), WAY[row["method"]])
    assert ours.m_as("inch**2") == pytest.approx(float(row["value"]), abs=0.05)


def test_limits_of_the_methods():
    heat = Q_(100, "MBH")
    with pytest.raises(ValueError, match=r"0\.39 an hour.*not allowed"):
        combustion_air.standard_volume(heat, 0.39 * HOUR)
    assert combustion_air.standard_volume(heat, 0.40 * HOUR) == combustion_air.standard_volume(heat)
    with pytest.raises(ValueError, match=r"0\.61 an hour.*0\.60"):
        combustion_air.infiltration_volume(heat, heat, 0.61 * HOUR)
    assert combustion_air.infiltration_volume(heat, heat, 0.60 * HOUR).m_as("ft**3") == pytest.approx(6000.0)
    with pytest.raises(UnitsError, match="heat_input"):
        combustion_air.standard_volume(Q_(100, "cfm"))


MANY = st.floats(1.0, 1e4)


@given(MANY, st.floats(0.05, 0.6))
def test_more_infiltration_needs_less_room(kilowatts, changes):
    heat = Q_(kilowatts, "kW")
    tight, loose = (
        combustion_air.infiltration_volume(heat, 0 * heat, c * HOUR) for c in (changes, min(1.2 * changes, 0.6))
    )
    assert tight >= loose
    # At 0.42 changes an hour 21/ACH is the standard 50: the two methods meet.
    assert combustion_air.infiltration_volume(heat, 0 * heat, 0.42 * HOUR).m == pytest.approx(
        combustion_air.standard_volume(heat).m
    )


@given(st.floats(0.0, 2.0))
def test_outdoor_share_lies_between_none_and_all(ratio):
    share = float(combustion_air.outdoor_share(Q_(ratio, "m**3"), Q_(1.0, "m**3")).m)
    assert share == pytest.approx(max(1.0 - ratio, 0.0))


def test_single_opening_is_no_smaller_than_the_connectors():
    connectors = Q_(200.0, "inch**2")
    assert combustion_air.opening_area(Q_(300, "MBH"), "single", connectors).m_as("inch**2") == pytest.approx(200.0)
    assert combustion_air.opening_area(Q_(900, "MBH"), "single", connectors).m_as("inch**2") == pytest.approx(300.0)
    assert combustion_air.opening_area(Q_(50, "MBH"), "same story").m_as("inch**2") == pytest.approx(100.0)  # the least


def test_burners_need_more_volume_at_altitude_and_the_rule_does_not_know():
    # Stoichiometry of natural gas with 30 % excess air: 0.94 lb of air for 1000 Btu. At sea level the rule's 0.35 cfm
    # is two thirds more; at 10,000 ft (0.688 atm, US Standard Atmosphere) air is thinner by nearly as much.
    heat, cold = Q_(1000, "MBH"), Q_(60, "degF")
    low, high = (combustion_air.burner_air(GAS, 0.3, heat, cold, Q_(p, "atm")) for p in (1.0, 0.688))
    assert (high / low).m_as("") == pytest.approx(1.0 / 0.688, rel=1e-6)
    assert 0.19 < (low / heat).m_as("cfm/MBH") < 0.22
    assert combustion_air.mechanical_supply(heat).m_as("cfm") == pytest.approx(350.0)
    by_mass = heat * Q_(float(combustion.products.bare(GAS, 0.3).air_per_heat), "kg/J")
    assert low.m_as("m**3/s") == pytest.approx((by_mass / Q_(1.2231, "kg/m**3")).m_as("m**3/s"), rel=1e-3)


def test_us_and_si_units_agree():
    heat = (Q_(500, "MBH"), Q_(500, "MBH").to("kW"))
    areas, volumes = (
        (Q_(100, "inch**2"), Q_(100, "inch**2").to("cm**2")),
        (Q_(100, "ft**3"), Q_(100, "ft**3").to("m**3")),
    )
    rooms = zip(heat, (Q_(70, "degF"), Q_(70, "degF").to("K")), strict=True)
    for us, si in (
        [combustion_air.standard_volume(h) for h in heat],
        [combustion_air.infiltration_volume(h, 0 * h, 0.5 * HOUR) for h in heat],
        [combustion_air.opening_area(h, "direct") for h in heat],
        [combustion_air.mechanical_supply(h) for h in heat],
        [combustion_air.free_area(a, "metal") for a in areas],
        [combustion_air.outdoor_share(v, 3 * v) for v in volumes],
        [combustion_air.burner_air(GAS, 0.3, h, t, Q_(14.7, "psi")) for h, t in rooms],
    ):
        assert us.to_base_units().m == pytest.approx(si.to_base_units().m, rel=1e-9)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: combustion_air.opening_area(Q_(1, "MBH"), "chimney"), "way 'chimney'; choose direct"),
        (lambda: combustion_air.free_area(Q_(1, "m**2"), "glass"), "louver 'glass'; choose none, metal, wood"),
        (lambda: combustion_air.free_area(Q_(1, "m**2"), "metal", 1.4), "free_share = 1.4"),
    ],
)
def test_impossible_input_is_refused_by_name(make, words):
    with pytest.raises(ValueError, match=words):
        make()
