"""Re-entrainment: the handbook's worked example, conservation, limits, the worst wind and what would be enough."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import GAS, SEASONS, row_plant

from ventcalc import tables
from ventcalc.building import clearances
from ventcalc.building import re_entrainment as re_
from ventcalc.draft import fan_curve, fan_table
from ventcalc.gas import combustion
from ventcalc.units import Q_, SYSTEMS, UnitsError, parse
from ventcalc.vent import firing_states

ROWS = {row["id"]: row for row in tables.read("re_entrainment_checks")}

# The handbook's Example 2: intake 14.1 m along the string, its top 2 m over a roof of 15 m; stack 6.1 m, 0.5 m, 9 m/s.
EXAMPLE = {"distance": 14.1, "stack_height": 6.1, "diameter": 0.5, "velocity": 9.0, "roof_height": 15.0}
WINDY = [r for r in ROWS.values() if r["wind"]]

ROOF = re_.Roof(Q_(10, "m"))
STACK = re_.Stack("stack", Q_(1.5, "m"), Q_(0.4, "m"))
INTAKE = re_.Intake("classroom", Q_(9, "m"), Q_(1, "m"))
GASES = re_.Discharge(*(np.array([v]) for v in (6.0, 420.0, 280.0, 0.08, 60e-6, 80e-6)))


def example(row, key="dilution"):
    """Our answer to a row of the example."""
    case = EXAMPLE | {"wind": parse(row["wind"]).m_as("m/s"), "roughness": float(row["roughness_m"])}
    if key == "dilution":
        return float(re_.dilution.bare(**case, intake_height=2.0))
    return float(re_.plume_height.bare(**case))


# --- The worked example ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", [r for r in WINDY if r["quantity"] == "plume height"], ids=lambda r: r["id"])
def test_plume_heights_of_the_example(row):
    assert example(row, "plume") == pytest.approx(float(row["value"]), abs=0.01)  # printed to 1 cm


@pytest.mark.parametrize("quantity", ["i_y x", "i_z x", "sigma_y"])
def test_spreads_of_the_example(quantity):
    for row in (r for r in ROWS.values() if r["quantity"] == quantity):
        across, upward = re_.turbulence.bare(15.0, float(row["roughness_m"]))
        ours = {"i_y x": across * 14.1, "i_z x": upward * 14.1, "sigma_y": re_.spread.bare(14.1, across, 0.5)}[quantity]
        assert float(ours) == pytest.approx(float(row["value"]), abs=0.006)


@pytest.mark.parametrize("row", [r for r in WINDY if r["quantity"].startswith("dilution")], ids=lambda r: r["id"])
def test_dilutions_of_the_example(row):
    # Ours are 0.8 to 4.7 % low. The example prints 1.64 m for a sigma_z which by its own equation is 1.65 m: it left
    # the initial spread out of it. Done so, and with nothing else changed, all nine are met within 1 %.
    published, ours = float(row["value"]), example(row)
    assert ours == pytest.approx(published, rel=0.05) and ours < published
    _, upward = re_.turbulence.bare(15.0, float(row["roughness_m"]))
    bare, whole = upward * 14.1, re_.spread.bare(14.1, upward, 0.5)
    over = example(row, "plume") - 2.0
    as_printed = ours * bare / whole * np.exp(0.5 * over**2 * (bare**-2 - whole**-2))
    assert as_printed == pytest.approx(published, rel=0.01)


def test_pins_of_our_own():
    assert example(ROWS["RE01"]) == pytest.approx(1073.3, rel=1e-4)


def test_ratio_of_the_spreads():
    across, upward = re_.turbulence(Q_(15, "m"), Q_(0.5, "m"))
    assert float((upward / across).m) == pytest.approx(float(ROWS["RE29"]["value"]), abs=5e-4)


def test_nox_per_heat():
    # RE28: 110 ppm at 3 % O2 is 0.13 lb per million Btu, by a page on boiler emissions; two digits.
    ours = re_.mass_per_heat(GAS, Q_(110.0, "ppm"))
    assert ours.m_as("lb/Btu") * 1e6 == pytest.approx(float(ROWS["RE28"]["value"]), abs=0.005)


def test_limits_are_those_of_the_rows():
    assert 1e3 * re_.figure("NO2, 1 h").m_as("ppm") == pytest.approx(float(ROWS["RE31"]["value"]))  # in ppb there
    assert re_.figure("CO, 1 h").m_as("ppm") == pytest.approx(float(ROWS["RE32"]["value"]))


# --- The formula itself, from first principles -----------------------------------------------------------------------


def test_plume_carries_what_the_stack_sends():
    # The dilution on the roof is that of a Gaussian plume and its mirror image. With the axis at h, concentration
    # goes as [exp(-(z-h)^2/2sz^2) + exp(-(z+h)^2/2sz^2)] exp(-y^2/2sy^2). Over the half plane, times the wind, it must
    # carry the whole emission, wherever the axis is. A cap, which costs three diameters, puts the axis at a height.
    d, v, u = 0.5, 9.0, 5.0
    across, upward = (re_.spread.bare(14.1, i, d) for i in re_.turbulence.bare(15.0, 0.65))
    y = np.linspace(-12 * across, 12 * across, 1201)
    for h in (0.0, 1.0, 4.0):
        on_roof = 1.0 / re_.dilution.bare(14.1, h + 3.0 * d, 0.0, d, v, u, 15.0, 0.65, capped=True)
        z = np.linspace(0.0, h + 12 * upward, 1201)
        profile = np.exp(-((z - h) ** 2) / (2 * upward**2)) + np.exp(-((z + h) ** 2) / (2 * upward**2))
        profile = profile / profile[0] * on_roof
        carried = np.trapezoid(profile, z) * np.trapezoid(np.exp(-(y**2) / (2 * across**2)), y) * u
        assert carried == pytest.approx(np.pi / 4 * d**2 * v, rel=1e-4)


def test_no_distance_no_dilution():
    # At the stack itself, level with it, in little wind: the gas as it leaves.
    assert re_.dilution.bare(0.0, 0.0, 0.0, 0.5, 9.0, 1.0, 15.0, 0.65, capped=True) == 1.0


def test_far_away_dilution_grows_with_the_square_of_the_distance():
    near, far = (re_.dilution.bare(x, 0.0, 0.0, 0.4, 5.0, 5.0, 12.0, 0.5, capped=True) for x in (500.0, 1000.0))
    assert far / near == pytest.approx(4.0, rel=1e-3)


def test_jet_without_wind_rises_without_end_and_under_a_cap_not_at_all():
    low = [float(re_.jet_rise.bare(10.0, u, 8.0, 0.5, 12.0, 0.5)) for u in (1.0, 0.1, 0.01)]
    assert low[0] < low[1] < low[2] and low[2] > 100.0
    assert re_.jet_rise.bare(10.0, 3.0, 0.0, 0.5, 12.0, 0.5) == 0.0
    assert re_.downwash.bare(3.0, 0.0, 0.5) == pytest.approx(1.5)  # three diameters
    assert re_.downwash.bare(3.0, 9.0, 0.5) == 0.0


def test_final_rise_limits_the_growing_one():
    # Near the stack the two-thirds law of momentum (cube root of x), far away the limit.
    rises = [float(re_.jet_rise.bare(x, 5.0, 9.0, 0.5, 15.0, 0.65)) for x in (0.01, 0.08, 1e3, 1e5)]
    assert rises[1] / rises[0] == pytest.approx(2.0) and rises[2] == rises[3]


@given(st.floats(1.0, 100.0), st.floats(1.0, 20.0), st.floats(0.0, 10.0))
def test_a_taller_stack_never_does_worse(distance, wind, height):
    low, high = (
        re_.dilution.bare(distance, h, 1.0, 0.4, 6.0, wind, 12.0, 0.5) for h in (height, height + 0.5)
    )  # fmt: skip
    assert high >= low >= 1.0


@given(st.floats(0.5, 60.0), st.floats(2.1, 15.0), st.floats(1.0, 15.0))
def test_a_cap_never_does_better(distance, wind, velocity):
    free, capped = (
        re_.dilution.bare(distance, 1.0, 0.5, 0.4, velocity, wind, 12.0, 0.5, capped=c) for c in (False, True)
    )  # fmt: skip
    assert capped <= free * (1.0 + 1e-12)


@given(st.floats(2.0, 15.0))
def test_capped_in_more_wind_is_diluted_more(wind):
    # Without rise the wind only dilutes, once the axis lies below the intake's top.
    one, more = (re_.dilution.bare(10.0, 1.0, 1.0, 0.4, 5.0, u, 12.0, 0.5, capped=True) for u in (wind, 1.1 * wind))
    assert one > 1.0 and more == pytest.approx(1.1 * one)


def test_separation_of_the_standard():
    # RE30, from the equation itself (from memory): capped, 400 cfm, a dilution of 50.
    ours = re_.separation(Q_(400, "cfm"), Q_(0, "fpm"), 50.0)
    assert ours.m_as("ft") == pytest.approx(float(ROWS["RE30"]["value"]), abs=0.05)
    assert re_.separation(Q_(400, "cfm"), Q_(4000, "fpm"), 50.0).m == 0.0
    # A public program's sketch of ASHRAE RP-1635 has the inverse, D = (11.1 L / sqrt(Q) + U/400)^2.
    far = re_.separation(Q_(900, "cfm"), Q_(800, "fpm"), 50.0).m_as("ft")
    assert (11.1 * far / 30.0 + 2.0) ** 2 == pytest.approx(50.0, rel=0.002)


def test_stretched_string():
    assert re_.stretched_string(Q_(3, "m"), Q_(1, "m"), Q_(3, "m")).m == pytest.approx(5.0)
    assert re_.stretched_string(Q_(3, "m")).m == pytest.approx(3.0)


# --- Units, refusals -------------------------------------------------------------------------------------------------


def test_us_and_si_units_agree():
    si = {"distance": Q_(10, "m"), "stack_height": Q_(2, "m"), "diameter": Q_(0.4, "m"), "velocity": Q_(6, "m/s"),
          "wind": Q_(4, "m/s"), "roof_height": Q_(12, "m"), "roughness": Q_(0.5, "m")}  # fmt: skip
    us = {k: v.to("fpm" if v.check("[speed]") else "ft") for k, v in si.items()}
    assert re_.dilution(**si, intake_height=Q_(1, "m")).m == pytest.approx(
        re_.dilution(**us, intake_height=Q_(1, "m").to("ft")).m, rel=1e-9
    )
    assert re_.plume_height(**si).m_as("m") == pytest.approx(re_.plume_height(**us).m_as("m"), rel=1e-9)
    jet = ("distance", "wind", "velocity", "diameter", "roof_height", "roughness")
    for call in (
        lambda q: re_.jet_rise(*(q[k] for k in jet)),
        lambda q: re_.downwash(q["wind"], q["velocity"], q["diameter"]),
        lambda q: re_.spread(q["distance"], 0.2, q["diameter"]),
        lambda q: re_.turbulence(q["roof_height"], q["roughness"])[0],
        lambda q: re_.stretched_string(q["distance"], q["stack_height"], q["distance"]),
    ):
        assert call(si).to_base_units().m == pytest.approx(call(us).to_base_units().m, rel=1e-9)
    flows = (Q_(300, "cfm"), Q_(300, "cfm").to("m**3/s"))
    assert len({round(re_.separation(q, Q_(0, "m/s"), 50.0).m, 9) for q in flows}) == 1
    shares = (Q_(30, "ppm"), Q_(30e-6, ""))
    assert len({round(float(re_.in_wet_gas(GAS, 0.2, x).m), 12) for x in shares}) == 1
    assert len({round(float(re_.mass_per_heat(GAS, x).m), 18) for x in shares}) == 1


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: re_.Roof(Q_(1, "m"), Q_(0.65, "m")), "roof: height"),
        (lambda: re_.Stack("s", Q_(-1, "m"), Q_(1, "m")), "stack s: height"),
        (lambda: re_.Stack("s", Q_(1, "m"), Q_(0, "m")), "stack s: diameter"),
        (lambda: re_.Intake("i", Q_(-1, "m")), "intake i: distance"),
        (lambda: replace(GASES, velocity=np.array([0.0])), "velocity must be above 0"),
        (lambda: replace(GASES, co=np.array([80.0])), "co must be a mole fraction"),
        (lambda: re_.turbulence(Q_(1, "m"), Q_(0.5, "m")), "three times the roughness"),
    ],
)
def test_impossible_input_is_refused_by_name(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_units_are_asked_for():
    with pytest.raises(UnitsError, match="wind"):
        re_.downwash(Q_(3, "m"), Q_(9, "m/s"), Q_(0.5, "m"))


# --- The worst wind; verdicts ----------------------------------------------------------------------------------------


def test_worst_wind_lies_between_calm_and_storm():
    speeds = re_.winds()
    found = re_.dilutions(STACK, GASES, INTAKE, ROOF, speeds)[0]
    k = int(found.argmin())
    assert 0 < k < speeds.size - 1 and found[0] > 1.5 * found[k] and found[-1] > found[k]
    # A finer search finds no worse.
    fine = re_.dilutions(STACK, GASES, INTAKE, ROOF, np.geomspace(re_.LEAST_WIND, re_.MOST_WIND, 5001))
    assert found.min() == pytest.approx(fine.min(), rel=2e-3)


def test_looks_from_400_fpm_up():
    assert re_.winds()[0] == pytest.approx(Q_(400, "fpm").m_as("m/s")) and re_.winds()[-1] == pytest.approx(20.0)


def test_a_cap_does_worse_at_the_worst_wind_too():
    for speed in (1.0, 2.5, 6.0, 15.0):
        gas = replace(GASES, velocity=np.array([speed]))
        free, capped = (re_.least_dilution(replace(STACK, capped=c), gas, INTAKE, ROOF) for c in (False, True))
        assert capped <= free * (1.0 + 1e-12)


def test_hot_gas_shrinks_as_it_mixes():
    moles = re_.in_moles(np.array([[100.0]]), GASES)
    assert moles[0, 0] == pytest.approx(100.0 * 420.0 / 280.0)


def test_judge_names_the_worst_of_every_gas():
    reading = re_.judge(STACK, GASES, INTAKE, ROOF)
    least = re_.least_dilution(STACK, GASES, INTAKE, ROOF)
    assert reading.dilution == pytest.approx(least)
    added = {p.gas: p.added for p in reading.parts}
    # A tenth of the NOx leaves a gas burner as NO2 (common practice, no source).
    assert added["no2"] == pytest.approx(0.1 * 60.0 / least) and added["co2"] == pytest.approx(8e4 / least)
    assert reading.asked == pytest.approx(Q_(15, "ft").m_as("m")) and reading.distance_verdict == "pass"
    near = re_.judge(STACK, GASES, replace(INTAKE, distance=Q_(4, "m")), ROOF)
    assert near.distance_verdict == "needs the authority's reading"


def no2(ppm, told=None):
    gas = replace(GASES, nox=np.array([ppm * 1e-6]))
    return next(p for p in re_.judge(STACK, gas, INTAKE, ROOF, no2_share=told).parts if p.gas == "no2")


def test_no2_is_a_stated_share_of_the_nox():
    least = re_.least_dilution(STACK, GASES, INTAKE, ROOF)
    # Not told: a tenth decides, a half is for the authority to read. 0.1 ppm is the outdoor standard (RE31).
    assert [no2(f * 0.1 * least).verdict for f in (1.99, 2.01, 9.9, 10.1)] == [
        "pass", "needs the authority's reading", "needs the authority's reading", "fail"]  # fmt: skip
    # Told: that share alone decides.
    assert [no2(f * 0.1 * least, 0.25).verdict for f in (3.99, 4.01)] == ["pass", "fail"]
    one = no2(8.0 * 0.1 * least)
    assert (one.share, one.added, one.at_most) == pytest.approx((0.1, 0.08, 0.4))
    assert one.dilution == pytest.approx(least)
    with pytest.raises(ValueError, match="no2_share = 1.2 must be 0 to 1"):
        no2(60.0, 1.2)


def test_an_outdoor_guideline_is_no_level_that_harms():
    """9 ppm of CO over 8 h is an outdoor standard (RE32's body); 27 ppm over 8 h is AEGL-2 (from memory)."""
    least = re_.least_dilution(STACK, GASES, INTAKE, ROOF)
    found = []
    for ppm in (8.9, 12.0, 26.9, 27.1):
        gas = replace(GASES, co=np.array([ppm * 1e-6 * least]))
        found.append(next(p for p in re_.judge(STACK, gas, INTAKE, ROOF).parts if p.gas == "co"))
    assert [(p.verdict, p.harmful) for p in found] == [("pass", False), ("fail", False), ("fail", False),
                                                       ("fail", True)]  # fmt: skip
    said = [re_.part_sentence(p) for p in found]
    assert ["harm" in text for text in said] == [False, False, False, True] and re_.CHECK in said[-1]
    # NO2: 1 ppm for an hour is the guidance level for the public in an emergency, the outdoor standard a tenth of it.
    assert [no2(f * least, 1.0).harmful for f in (0.11, 0.99, 1.01)] == [False, False, True]


def test_background_counts():
    clean, dirty = (re_.judge(STACK, GASES, INTAKE, ROOF, {"co": c}) for c in (0.0, 8.9))
    verdicts = [next(p.verdict for p in r.parts if p.gas == "co") for r in (clean, dirty)]
    assert verdicts == ["pass", "fail"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_sentences_say_what_they_are(system):
    words = " ".join(re_.sentences(re_.judge(STACK, GASES, INTAKE, ROOF), system))
    assert re_.CHECK in words and "approves nothing" in words and "safe" not in words
    assert ("ft" in words) == (system == "US")


# --- What would be enough --------------------------------------------------------------------------------------------


def test_enough_is_enough_and_not_much_less():
    target = 3.0 * re_.least_dilution(STACK, GASES, INTAKE, ROOF)
    height = re_.enough_height(STACK, GASES, INTAKE, ROOF, target)
    speed = re_.enough_velocity(STACK, GASES, INTAKE, ROOF, target)
    far = re_.enough_distance(STACK, GASES, INTAKE, ROOF, target)
    for share, holds in ((1.001, True), (0.97, False)):
        least = (
            re_.least_dilution(replace(STACK, height=share * height), GASES, INTAKE, ROOF),
            re_.least_dilution(*re_.nozzled(STACK, GASES, share * speed), INTAKE, ROOF),
            re_.least_dilution(STACK, GASES, replace(INTAKE, distance=share * far), ROOF),
        )
        assert [x >= target for x in least] == [holds] * 3
    assert re_.enough_height(STACK, GASES, INTAKE, ROOF, np.inf) is None
    assert re_.enough_height(STACK, GASES, INTAKE, ROOF, 1.0).m == 0.0


def test_nozzle_keeps_the_flow():
    narrow, fast = re_.nozzled(replace(STACK, capped=True), GASES, Q_(12, "m/s"))
    assert not narrow.capped and fast.velocity[0] == pytest.approx(12.0)
    assert fast.velocity[0] * narrow.diameter.m**2 == pytest.approx(GASES.velocity[0] * STACK.diameter.m**2)


# --- From a vent, from a roof ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def scan():
    return firing_states.scan(row_plant(2, celsius=150.0), SEASONS)


def test_discharge_of_a_vent(scan):
    gas, pick = re_.discharge(scan, Q_(30, "ppm"), Q_(50, "ppm"))
    assert (pick == np.flatnonzero(scan.any_firing)).all()
    # Two equal forced boilers at one level: the CO2 of one.
    s = scan.states
    both = int(np.flatnonzero((s.codes[:, pick] == 2).all(axis=0))[0])
    burnt = combustion.products.bare(GAS, 0.25, vapour(scan, pick[both]))
    assert gas.co2[both] == pytest.approx(float(burnt.gas.co2), rel=1e-6)
    stated = re_.in_wet_gas.bare(GAS, 0.25, 30e-6)
    assert gas.nox[both] == pytest.approx(float(stated), rel=1e-9)
    # Continuity: velocity times area times density is the mass flow.
    flow = scan.solution.flow[-1, pick[both]]
    row = len(scan.plant.order) - 1
    area = np.pi / 4 * scan.plant.order[row].diameter.m_as("m") ** 2
    assert gas.velocity[both] * area * scan.solution.density[row, pick[both]] == pytest.approx(flow)


def vapour(scan, state):
    from ventcalc.gas.atmosphere import water_vapour_fraction

    season = scan.seasons[scan.states.season[state]]
    return float(
        water_vapour_fraction.bare(season.outdoor.m_as("K"), season.relative_humidity, scan.solution.barometric)
    )


def test_room_air_of_hoods_dilutes_before_the_roof():
    plain = firing_states.scan(row_plant(1, "forced", celsius=180.0), SEASONS[:1])
    hooded = firing_states.scan(row_plant(1, "draft hood", celsius=180.0), SEASONS[:1])
    one, other = (re_.discharge(s, Q_(30, "ppm"), Q_(50, "ppm"))[0] for s in (plain, hooded))
    assert other.co2.max() < 0.9 * one.co2.min()


def test_states_with_air_falling_down_are_refused(scan):
    solution = replace(scan.solution, flow=-scan.solution.flow)
    with pytest.raises(ValueError, match="falls down the vent"):
        re_.discharge(replace(scan, solution=solution), Q_(30, "ppm"), Q_(50, "ppm"))


def test_a_fan_that_ends_the_vent_throws_the_plume():
    # A roof fan's outlet is smaller than the vent: at the same flow its velocity is what the plume has.
    fan = next(f for f in map(fan_table.fan, fan_table.names("roof")))
    flow = 0.7 * fan.free_flow
    thrown = float(fan_curve.discharge_velocity(fan, Q_(flow, "m**3/s")).m_as("m/s"))
    wide = re_.Stack("vent", Q_(1.5, "m"), 1.6 * fan.outlet_diameter, capped=True)
    slow = replace(GASES, velocity=np.array([thrown / 1.6**2]))
    blown, fast = re_.nozzled(wide, slow, Q_(thrown, "m/s"))
    assert blown.diameter.m_as("m") == pytest.approx(fan.outlet_diameter.m_as("m"))
    assert re_.least_dilution(blown, fast, INTAKE, ROOF) > 1.2 * re_.least_dilution(wide, slow, INTAKE, ROOF)


def scene():
    square = Q_(np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]]), "m")
    flat = clearances.RoofPlane.flat("roof", square, Q_(8, "m"))
    on_roof = clearances.Opening(
        "unit", "forced-air intake", Q_(np.array([[14.0, 5.0]]), "m"), Q_(8.3, "m"), Q_(9, "m")
    )
    in_wall = clearances.Opening("window", "operable window", Q_(np.array([[4.0, 0.0], [5.0, 0.0]]), "m"), Q_(4, "m"),
                                 Q_(6, "m"))  # fmt: skip
    return clearances.Scene((flat,), openings=(on_roof, in_wall))


def test_intakes_of_a_roof_scene():
    terminal = clearances.Terminal("vent", Q_(4.5, "m"), Q_(5, "m"), Q_(9.5, "m"), Q_(0.4, "m"), clearances.CHIMNEY)
    unit, window = re_.intakes(scene(), terminal)
    assert unit.distance.m == pytest.approx(9.5) and unit.height.m == pytest.approx(1.0)
    # 5 m to the edge and 2 m down to the window's top.
    assert window.distance.m == pytest.approx(7.0) and window.height.m == pytest.approx(-2.0)
    assert re_.roof_level(scene(), terminal) == pytest.approx(8.0)
    assert re_.intakes(scene(), terminal, ("door",)) == ()
