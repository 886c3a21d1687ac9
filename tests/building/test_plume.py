"""Plume: the handbook's worked example, conservation, and the limits of little and much."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.building import plume
from ventcalc.units import Q_, UnitsError, parse

ROWS = {row["id"]: row for row in tables.read("re_entrainment_checks")}
# The handbook's Example 2: intake 14.1 m along the string, its top 2 m over a roof of 15 m; stack 6.1 m, 0.5 m, 9 m/s.
EXAMPLE = {"distance": 14.1, "stack_height": 6.1, "diameter": 0.5, "velocity": 9.0, "roof_height": 15.0}
WINDY = [r for r in ROWS.values() if r["wind"]]


def example(row, key="dilution"):
    """Our answer to a row of the example."""
    case = EXAMPLE | {"wind": parse(row["wind"]).m_as("m/s"), "roughness": float(row["roughness_m"])}
    if key == "dilution":
        return float(plume.dilution.bare(**case, intake_height=2.0))
    return float(plume.plume_height.bare(**case))


@pytest.mark.parametrize("row", [r for r in WINDY if r["quantity"] == "plume height"], ids=lambda r: r["id"])
def test_plume_heights_of_the_example(row):
    assert example(row, "plume") == pytest.approx(float(row["value"]), abs=0.01)  # printed to 1 cm


@pytest.mark.parametrize("quantity", ["i_y x", "i_z x", "sigma_y"])
def test_spreads_of_the_example(quantity):
    for row in (r for r in ROWS.values() if r["quantity"] == quantity):
        across, upward = plume.turbulence.bare(15.0, float(row["roughness_m"]))
        ours = {"i_y x": across * 14.1, "i_z x": upward * 14.1, "sigma_y": plume.spread.bare(14.1, across, 0.5)}[
            quantity
        ]
        assert float(ours) == pytest.approx(float(row["value"]), abs=0.006)


@pytest.mark.parametrize("row", [r for r in WINDY if r["quantity"].startswith("dilution")], ids=lambda r: r["id"])
def test_dilutions_of_the_example(row):
    # Ours are 0.8 to 4.7 % low. The example prints 1.64 m for a sigma_z which by its own equation is 1.65 m: it left
    # the initial spread out of it. Done so, and with nothing else changed, all nine are met within 1 %.
    published, ours = float(row["value"]), example(row)
    assert ours == pytest.approx(published, rel=0.05) and ours < published
    _, upward = plume.turbulence.bare(15.0, float(row["roughness_m"]))
    bare, whole = upward * 14.1, plume.spread.bare(14.1, upward, 0.5)
    over = example(row, "plume") - 2.0
    as_printed = ours * bare / whole * np.exp(0.5 * over**2 * (bare**-2 - whole**-2))
    assert as_printed == pytest.approx(published, rel=0.01)


def test_pins_of_our_own():
    assert example(ROWS["RE01"]) == pytest.approx(1073.3, rel=1e-4)


def test_ratio_of_the_spreads():
    across, upward = plume.turbulence(Q_(15, "m"), Q_(0.5, "m"))
    assert float((upward / across).m) == pytest.approx(float(ROWS["RE29"]["value"]), abs=5e-4)


def test_plume_carries_what_the_stack_sends():
    # The dilution on the roof is that of a Gaussian plume and its mirror image. With the axis at h, concentration
    # goes as [exp(-(z-h)^2/2sz^2) + exp(-(z+h)^2/2sz^2)] exp(-y^2/2sy^2). Over the half plane, times the wind, it must
    # carry the whole emission, wherever the axis is. A cap, which costs three diameters, puts the axis at a height.
    d, v, u = 0.5, 9.0, 5.0
    across, upward = (plume.spread.bare(14.1, i, d) for i in plume.turbulence.bare(15.0, 0.65))
    y = np.linspace(-12 * across, 12 * across, 1201)
    for h in (0.0, 1.0, 4.0):
        on_roof = 1.0 / plume.dilution.bare(14.1, h + 3.0 * d, 0.0, d, v, u, 15.0, 0.65, capped=True)
        z = np.linspace(0.0, h + 12 * upward, 1201)
        profile = np.exp(-((z - h) ** 2) / (2 * upward**2)) + np.exp(-((z + h) ** 2) / (2 * upward**2))
        profile = profile / profile[0] * on_roof
        carried = np.trapezoid(profile, z) * np.trapezoid(np.exp(-(y**2) / (2 * across**2)), y) * u
        assert carried == pytest.approx(np.pi / 4 * d**2 * v, rel=1e-4)


def test_no_distance_no_dilution():
    # At the stack itself, level with it, in little wind: the gas as it leaves.
    assert plume.dilution.bare(0.0, 0.0, 0.0, 0.5, 9.0, 1.0, 15.0, 0.65, capped=True) == 1.0


def test_far_away_dilution_grows_with_the_square_of_the_distance():
    near, far = (plume.dilution.bare(x, 0.0, 0.0, 0.4, 5.0, 5.0, 12.0, 0.5, capped=True) for x in (500.0, 1000.0))
    assert far / near == pytest.approx(4.0, rel=1e-3)


def test_jet_without_wind_rises_without_end_and_under_a_cap_not_at_all():
    low = [float(plume.jet_rise.bare(10.0, u, 8.0, 0.5, 12.0, 0.5)) for u in (1.0, 0.1, 0.01)]
    assert low[0] < low[1] < low[2] and low[2] > 100.0
    assert plume.jet_rise.bare(10.0, 3.0, 0.0, 0.5, 12.0, 0.5) == 0.0
    assert plume.downwash.bare(3.0, 0.0, 0.5) == pytest.approx(1.5)  # three diameters
    assert plume.downwash.bare(3.0, 9.0, 0.5) == 0.0


def test_final_rise_limits_the_growing_one():
    # Near the stack the two-thirds law of momentum (cube root of x), far away the limit.
    rises = [float(plume.jet_rise.bare(x, 5.0, 9.0, 0.5, 15.0, 0.65)) for x in (0.01, 0.08, 1e3, 1e5)]
    assert rises[1] / rises[0] == pytest.approx(2.0) and rises[2] == rises[3]


@given(st.floats(1.0, 100.0), st.floats(1.0, 20.0), st.floats(0.0, 10.0))
def test_a_taller_stack_never_does_worse(distance, wind, height):
    low, high = (
        plume.dilution.bare(distance, h, 1.0, 0.4, 6.0, wind, 12.0, 0.5) for h in (height, height + 0.5)
    )  # fmt: skip
    assert high >= low >= 1.0


@given(st.floats(0.5, 60.0), st.floats(2.1, 15.0), st.floats(1.0, 15.0))
def test_a_cap_never_does_better(distance, wind, velocity):
    free, capped = (
        plume.dilution.bare(distance, 1.0, 0.5, 0.4, velocity, wind, 12.0, 0.5, capped=c) for c in (False, True)
    )  # fmt: skip
    assert capped <= free * (1.0 + 1e-12)


@given(st.floats(2.0, 15.0))
def test_capped_in_more_wind_is_diluted_more(wind):
    # Without rise the wind only dilutes, once the axis lies below the intake's top.
    one, more = (plume.dilution.bare(10.0, 1.0, 1.0, 0.4, 5.0, u, 12.0, 0.5, capped=True) for u in (wind, 1.1 * wind))
    assert one > 1.0 and more == pytest.approx(1.1 * one)


def test_us_and_si_units_agree():
    si = {"distance": Q_(10, "m"), "stack_height": Q_(2, "m"), "diameter": Q_(0.4, "m"), "velocity": Q_(6, "m/s"),
          "wind": Q_(4, "m/s"), "roof_height": Q_(12, "m"), "roughness": Q_(0.5, "m")}  # fmt: skip
    us = {k: v.to("fpm" if v.check("[speed]") else "ft") for k, v in si.items()}
    assert plume.dilution(**si, intake_height=Q_(1, "m")).m == pytest.approx(
        plume.dilution(**us, intake_height=Q_(1, "m").to("ft")).m, rel=1e-9
    )
    assert plume.plume_height(**si).m_as("m") == pytest.approx(plume.plume_height(**us).m_as("m"), rel=1e-9)
    jet = ("distance", "wind", "velocity", "diameter", "roof_height", "roughness")
    for call in (
        lambda q: plume.jet_rise(*(q[k] for k in jet)),
        lambda q: plume.downwash(q["wind"], q["velocity"], q["diameter"]),
        lambda q: plume.spread(q["distance"], 0.2, q["diameter"]),
        lambda q: plume.turbulence(q["roof_height"], q["roughness"])[0],
    ):
        assert call(si).to_base_units().m == pytest.approx(call(us).to_base_units().m, rel=1e-9)


def test_units_are_asked_for():
    with pytest.raises(UnitsError, match="wind"):
        plume.downwash(Q_(3, "m"), Q_(9, "m/s"), Q_(0.5, "m"))


def test_a_roof_as_low_as_what_stands_around_it_has_no_such_wind():
    with pytest.raises(ValueError, match="three times the roughness"):
        plume.turbulence(Q_(1, "m"), Q_(0.5, "m"))
