"""Fans: published figures, the laws exactly, hand values of operating points, tables that are refused, selection."""

from dataclasses import replace

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.draft import fans
from ventcalc.draft.fans import Drive, Fan, Point
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.handbook.fans import checks
from ventcalc.units import Q_, UnitsError

FANS = [fans.fan(name) for name in fans.names()]
MIDDLE = fans.fan("roof 12")
STANDARD = 0.075 * 0.45359237 / 0.3048**3  # kg/m3


def straight(slope=1000.0, shut=400.0, loss=40.0, **changes):
    """A fan whose curve in air of 1.2 kg/m3 is the straight line p = shut - slope q, so that hands can work it."""
    free = shut / slope
    points = tuple(Point(1.0, q, shut - slope * q, 100.0 + 200.0 * q) for q in np.linspace(0.0, free, 9))
    points = (*points[:-1], replace(points[-1], pressure=0.0))
    sizes = {
        "name": "straight", "kind": "roof", "outlet_diameter": Q_(0.4, "m"), "rated_speed": Q_(1000.0, "rpm"),
        "least_speed": 0.2, "most_speed": 1.2, "stall_flow": Q_(0.1, "m**3/s"), "motor_power": Q_(200.0, "W"),
        "highest_temperature": Q_(250.0, "degC"), "density": Q_(1.2, "kg/m**3"), "stopped_loss": loss, "points": points,
    }  # fmt: skip
    return Fan(**sizes | changes)


# --- Published figures ------------------------------------------------------------------------------------------


def test_every_row_of_the_table_is_met():
    # Values, tolerances, sources and statuses: data/draft/fans_checks.csv, all rows of the reference figures.
    found = checks()
    assert [c.id for c in found] == [row["id"] for row in tables.read("fans_checks")]
    assert all(c.agrees for c in found) and unexplained(found) == []


def test_standard_air_is_nearly_dry_air_at_70_degrees():
    # The note of F001: 70 F and 29.92 inHg give 0.0749 lb/ft3.
    density = fans.density_factor(Q_(70.0, "degF"), Q_(0.0, "ft")) * fans.STANDARD_AIR
    assert density.m_as("lb/ft**3") == pytest.approx(0.0749, abs=5e-5)


# --- The laws -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
@given(share=st.floats(-0.3, 1.6), speed=st.floats(0.1, 1.0), ratio=st.floats(0.2, 3.0), density=st.floats(0.3, 1.5))
def test_the_curve_scales_exactly(fan, share, speed, ratio, density):
    flow = share * fan.free_flow * speed
    here = fans.static_pressure.bare(fan, flow, speed, STANDARD)
    there = fans.static_pressure.bare(fan, ratio * flow, ratio * speed, density)
    by_law = here * ratio**2 * density / STANDARD
    assert there == pytest.approx(by_law, rel=1e-10, abs=1e-10 * fan.rated[0].pressure)
    power = fans.shaft_power.bare(fan, flow, speed, STANDARD)
    assert fans.shaft_power.bare(fan, ratio * flow, ratio * speed, density) == pytest.approx(
        power * ratio**3 * density / STANDARD, rel=1e-10
    )


def test_a_point_by_the_laws_in_both_unit_systems():
    us = fans.by_the_laws(Q_(1000.0, "cfm"), Q_(0.5, "inH2O"), Q_(0.2, "horsepower"), 0.8, 0.7)
    si = fans.by_the_laws(Q_(0.4719474432, "m**3/s"), Q_(124.5445, "Pa"), Q_(149.13997, "W"), 0.8, 0.7)
    for a, b in zip(us, si, strict=True):
        assert a.to_base_units().m == pytest.approx(b.to_base_units().m, rel=1e-6)
    assert us[1].m_as("inH2O") == pytest.approx(0.5 * 0.64 * 0.7)


def test_density_there_and_back():
    hot = Q_(0.0522, "lb/ft**3")
    wanted = Q_(0.5, "inH2O")
    looked_up = fans.to_standard_air(wanted, hot)
    assert looked_up.m_as("inH2O") == pytest.approx(0.5 * 0.075 / 0.0522)
    assert fans.from_standard_air(looked_up, hot).m_as("Pa") == pytest.approx(0.5 * 249.089, rel=1e-6)


def test_density_factor_of_flue_gas_uses_its_own_molar_mass():
    gas = flue_gas.Gas(co2=0.09, h2o=0.16, n2=0.73, o2=0.02)
    temperature, altitude = Q_(150.0, "degC"), Q_(2400.0, "m")
    by_hand = float(atmosphere.standard_pressure(altitude).m) * gas.molar_mass / (8.314462618 * 423.15) / STANDARD
    assert fans.density_factor(temperature, altitude, gas).m == pytest.approx(by_hand, rel=1e-6)


def test_density_factor_at_altitude_against_a_general_library():
    # fluids' own coding of the US Standard Atmosphere 1976; with R/M of dry air 287.05 J/(kg K).
    for altitude in (0.0, 1500.0, 2400.0):
        expected = fluids.ATMOSPHERE_1976(altitude).P / (287.05 * 450.0) / STANDARD
        assert fans.density_factor(Q_(450.0, "K"), Q_(altitude, "m")).m == pytest.approx(expected, rel=1e-4)


def test_laws_refuse_what_cannot_be():
    with pytest.raises(ValueError, match="density_ratio"):
        fans.by_the_laws(Q_(1.0, "m**3/s"), Q_(1.0, "Pa"), Q_(1.0, "W"), 1.0, 0.0)
    with pytest.raises(UnitsError, match="flow needs"):
        fans.static_pressure(MIDDLE, 0.3, 1.0, Q_(1.0, "kg/m**3"))
    with pytest.raises(ValueError, match="speed"):
        fans.static_pressure(MIDDLE, Q_(0.3, "m**3/s"), -0.1, Q_(1.0, "kg/m**3"))


# --- The curve ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_the_curve_meets_its_points_and_the_laws_carry_the_others(fan):
    for p in fan.rated:
        assert fans.static_pressure.bare(fan, p.flow, 1.0, fan.curve_density) == pytest.approx(p.pressure, abs=1e-9)
        assert fans.shaft_power.bare(fan, p.flow, 1.0, fan.curve_density) == pytest.approx(p.power, rel=1e-9)
    # The table's points at other speeds scatter by 0.6 % and are rounded to 0.001 in. w.c.
    assert len({p.speed for p in fan.points}) == 3 and 0.0 < fans.misfit(fan) < 0.01


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_a_point_left_out_is_found_again(fan):
    # How well the interpolation knows what lies between the points: each but the ends left out in turn.
    for k in range(1, len(fan.rated) - 1):
        others = [p for i, p in enumerate(fan.rated) if i != k]
        curve = PchipInterpolator([p.flow for p in others], [p.pressure for p in others])
        assert float(curve(fan.rated[k].flow)) == pytest.approx(fan.rated[k].pressure, abs=0.03 * fan.rated[0].pressure)


@pytest.mark.parametrize("fan", [*FANS, fans.in_parallel(MIDDLE), fans.in_series(MIDDLE, 3)], ids=lambda f: f.name)
@pytest.mark.parametrize("speed", [0.0, 0.3, 1.0])
def test_smooth_from_backwards_to_past_free_flow(fan, speed):
    # No jump and no kink: value and slope from both sides of the places where the curve is put together.
    step = 1e-7 * fan.free_flow
    for place in (0.0, fan.abreast * fan.free_flow * speed):
        at = place + step * np.array([-2.0, -1.0, 1.0, 2.0])
        a, b, c, d = fans.static_pressure.bare(fan, at, speed, fan.curve_density)
        scale = fan.rated[0].pressure
        assert abs(b - c) < 1e-5 * scale
        assert (b - a) / step == pytest.approx((d - c) / step, abs=2e-3 * scale / fan.free_flow)


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
@given(share=st.floats(0.0, 2.0), slower=st.floats(0.0, 0.98), speed=st.floats(0.05, 1.0))
def test_more_speed_makes_more_pressure_at_the_same_flow(fan, share, slower, speed):
    flow = share * fan.free_flow
    least, most = fans.static_pressure.bare(fan, flow, np.array([slower * speed, speed]), 1.0)
    assert least < most


def test_a_stopped_impeller_resists_as_its_table_says():
    flow, density = 0.5, 0.9
    head = 0.5 * density * (flow / MIDDLE.area) ** 2
    for way in (1.0, -1.0):
        resisted = fans.static_pressure.bare(MIDDLE, way * flow, 0.0, density)
        assert resisted == pytest.approx(-way * MIDDLE.stopped_loss * head, rel=1e-9)
    assert fans.shaft_power.bare(MIDDLE, flow, 0.0, density) == 0.0


@pytest.mark.parametrize("fan", FANS, ids=lambda f: f.name)
def test_the_invented_fans_could_be_built(fan):
    # Static efficiency of draft fans with stainless wheels: 35 to 60 % at best (common practice, no source).
    flow = fan.free_flow * np.linspace(0.02, 0.98, 60)
    best = float(fans.efficiency.bare(fan, flow, 0.7).max())
    assert 0.35 < best < 0.60
    # The blades do not work better than an ideal impeller.
    assert np.all(fans.efficiency.bare(fan, flow, 1.0) < 0.6)
    assert fan.motor_power.m_as("W") >= fan.most_power
    assert fan.status == "invented"


def test_efficiency_by_hand():
    # 0.2 m3/s against 200 Pa with 140 W: 40/140, at any density and, by the laws, at the like point of another speed.
    fan = straight()
    assert fans.efficiency(fan, Q_(0.2, "m**3/s"), 1.0).m == pytest.approx(40.0 / 140.0)
    assert fans.efficiency(fan, Q_(0.1, "m**3/s"), 0.5).m == pytest.approx(40.0 / 140.0)


def test_discharge_velocity_in_both_unit_systems():
    us = fans.discharge_velocity(MIDDLE, Q_(1000.0, "cfm")).m_as("ft/minute")
    assert us == pytest.approx(1000.0 / (np.pi / 4.0))  # the outlet is 12 inches
    assert fans.discharge_velocity(MIDDLE, Q_(0.4719474, "m**3/s")).m_as("fpm") == pytest.approx(us, rel=1e-6)


# --- Speed for a duty ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fan", [*FANS, fans.in_parallel(MIDDLE), fans.in_series(MIDDLE)], ids=lambda f: f.name)
@given(share=st.floats(0.0, 1.8), speed=st.floats(0.01, 1.05), density=st.floats(0.4, 1.4))
def test_speed_for_is_the_inverse(fan, share, speed, density):
    flow = share * fan.abreast * fan.free_flow * speed
    pressure = fans.static_pressure.bare(fan, flow, speed, density)
    assert fans.speed_for.bare(fan, flow, pressure, density) == pytest.approx(speed, rel=1e-6)


def test_speed_by_hand():
    # p = n^2 (400 - 1000 q/n) = 60 Pa at 0.1 m3/s: 400 n^2 - 100 n - 60 = 0, n = (100 + sqrt(106000)) / 800.
    fan = straight()
    by_hand = (100.0 + 106000.0**0.5) / 800.0
    got = fans.speed_for(fan, Q_(0.1, "m**3/s"), Q_(60.0, "Pa"), Q_(1.2, "kg/m**3"))
    assert got.m == pytest.approx(by_hand, rel=1e-9)
    assert fans.speed_for(fan, Q_(211.888, "cfm"), Q_(0.2408777, "inH2O"), Q_(0.0749136, "lb/ft**3")).m == (
        pytest.approx(by_hand, rel=1e-5)
    )


def test_speed_beyond_reach_is_nan_and_too_much_draft_is_zero():
    fan = straight()
    wanted = Q_([1000.0, 60.0, -500.0], "Pa")
    found = fans.speed_for(fan, Q_(0.1, "m**3/s"), wanted, Q_(1.2, "kg/m**3")).m
    assert np.isnan(found[0]) and found[1] > 0.0 and found[2] == 0.0


# --- On a system --------------------------------------------------------------------------------------------------


def test_operating_point_at_1500_m_by_hand():
    # Air at 20 degC, 1500 m: 84556 Pa (US Standard Atmosphere 1976 prints 8.4559e4 Pa at 1500 m), so
    # 84556 x 0.0289652 / (8.31446 x 293.15) = 1.0048 kg/m3. The fan then makes 1.0048/1.2 (400 - 1000 q); a vent that
    # takes 100 Pa at 0.25 m3/s in 1.2 kg/m3 takes 100/0.0625 x 1.0048/1.2 q^2. The ratio cancels:
    # 1600 q^2 + 1000 q - 400 = 0, q = (-1000 + sqrt(1e6 + 2.56e6)) / 3200 = 0.27713 m3/s. The flow stays, the pressure
    # falls with density: 1.0048/1.2 x 122.87 = 102.88 Pa.
    density = atmosphere.air_density(Q_(20.0, "degC"), atmosphere.standard_pressure(Q_(1500.0, "m")))
    assert density.m_as("kg/m**3") == pytest.approx(1.0048, abs=2e-4)
    ratio = float(density.m_as("kg/m**3")) / 1.2
    flow, pressure = fans.operating_point(straight(), 1.0, density, Q_(0.0, "Pa"), Q_(1600.0 * ratio, "Pa*s**2/m**6"))
    assert flow.m_as("m**3/s") == pytest.approx(0.27713, abs=2e-5)
    assert pressure.m_as("Pa") == pytest.approx(102.88, abs=0.03)


def test_draft_shifts_the_operating_point():
    # With 30 Pa of natural draft the same vent: 1600 q^2 + 1000 q - 430 = 0.
    flow, pressure = fans.operating_point.bare(straight(), 1.0, 1.2, -30.0, 1600.0)
    assert flow == pytest.approx((-1000.0 + (1e6 + 4 * 1600 * 430) ** 0.5) / 3200.0, abs=1e-9)
    assert pressure == pytest.approx(400.0 - 1000.0 * flow, abs=1e-6)


def test_parallel_and_series_by_hand():
    # Two straight fans side by side: p = 400 - 500 q. One behind the other: 800 - 2000 q, and the first's outlet head
    # 0.6 (q/0.12566)^2 = 37.995 q^2, which the second finds at its inlet. On p = 1600 q^2:
    # side by side 1600 q^2 + 500 q - 400 = 0; in a row (1600 - 37.995) q^2 + 2000 q - 800 = 0.
    alone, beside, behind = (
        float(fans.operating_point.bare(fan, 1.0, 1.2, 0.0, 1600.0)[0])
        for fan in (straight(), fans.in_parallel(straight()), fans.in_series(straight()))
    )
    assert beside == pytest.approx((-500.0 + (25e4 + 4 * 1600 * 400) ** 0.5) / 3200.0, abs=1e-9)
    assert behind == pytest.approx((-2000.0 + (4e6 + 4 * 1562.005 * 800) ** 0.5) / (2 * 1562.005), abs=1e-6)
    assert alone < beside < 2 * alone and alone < behind < 2 * alone


def test_parallel_and_series_on_the_curve():
    flow, speed, density = 0.3, 0.9, 0.8
    one = fans.static_pressure.bare(MIDDLE, flow, speed, density)
    assert fans.static_pressure.bare(fans.in_parallel(MIDDLE), 2 * flow, speed, density) == pytest.approx(one)
    head = 0.5 * density * (flow / MIDDLE.area) ** 2
    assert fans.static_pressure.bare(fans.in_series(MIDDLE), flow, speed, density) == pytest.approx(2 * one + head)
    power = fans.shaft_power.bare(MIDDLE, flow, speed, density)
    assert fans.shaft_power.bare(fans.in_parallel(MIDDLE, 3), 3 * flow, speed, density) == pytest.approx(3 * power)
    assert fans.shaft_power.bare(fans.in_series(MIDDLE, 3), flow, speed, density) == pytest.approx(3 * power)
    for count in (0, 1.5):
        with pytest.raises(ValueError, match="whole number of fans"):
            fans.in_parallel(MIDDLE, count)


@given(
    constant=st.floats(-200.0, 150.0),
    coefficient=st.floats(5.0, 5e4),
    speed=st.floats(0.0, 1.0),
    density=st.floats(0.4, 1.4),
)
def test_operating_point_lies_on_both_curves(constant, coefficient, speed, density):
    flow, pressure = fans.operating_point.bare(MIDDLE, speed, density, constant, coefficient)
    given_there = fans.static_pressure.bare(MIDDLE, flow, speed, density)
    assert given_there == pytest.approx(float(pressure), abs=1e-6 * max(1.0, abs(constant)))


def test_the_stable_one_of_two_crossings():
    # A curve with a hump, and a system that asks for a little more than shut-off pressure: the root right of the hump.
    points = tuple(
        Point(1.0, q, p, 50.0) for q, p in ((0.0, 100.0), (0.1, 115.0), (0.2, 110.0), (0.3, 70.0), (0.4, 0.0))
    )
    fan = straight(points=points, stall_flow=Q_(0.1, "m**3/s"), loss=60.0)
    flow, _ = fans.operating_point.bare(fan, 1.0, 1.2, 105.0, 1.0)
    expected = brentq(lambda q: float(fan.pressure_curve(q)) - 105.0 - q * q, 0.15, 0.3)
    assert flow == pytest.approx(expected, abs=1e-9)
    assert brentq(lambda q: float(fan.pressure_curve(q)) - 105.0 - q * q, 0.0, 0.09) < 0.1 < flow


def test_operating_points_of_many_states_at_once():
    constant = np.linspace(-60.0, 40.0, 7)
    many, _ = fans.operating_point.bare(MIDDLE, 0.8, 0.9, constant, 120.0)
    each = [float(fans.operating_point.bare(MIDDLE, 0.8, 0.9, c, 120.0)[0]) for c in constant]
    assert many == pytest.approx(each) and np.all(np.diff(many) < 0.0)


def test_a_system_given_by_points():
    flows = np.linspace(0.0, 0.5, 501)
    by_points = fans.operating_point_on(
        straight(), Q_(flows, "m**3/s"), Q_(1600.0 * flows**2, "Pa"), 1.0, Q_(1.2, "kg/m**3")
    )
    assert by_points[0].m_as("m**3/s") == pytest.approx(0.27713, abs=2e-5)
    # Nothing is read outside the points.
    short = fans.operating_point_on.bare(straight(), flows[:100], 1600.0 * flows[:100] ** 2, 1.0, 1.2)
    assert np.isnan(short).all()
    with pytest.raises(ValueError, match="must be two or more and rise"):
        fans.operating_point_on.bare(straight(), [0.0, 0.0], [1.0, 2.0], 1.0, 1.2)


# --- Limits -------------------------------------------------------------------------------------------------------


def test_stall_moves_with_the_speed():
    fan = straight()  # stalls below 0.1 m3/s at rated speed
    assert fans.stalled(fan, Q_([0.099, 0.101, 0.06, 0.04], "m**3/s"), [1.0, 1.0, 0.5, 0.5]).tolist() == (
        [True, False, False, True]
    )
    assert not fans.stalled(fan, Q_(0.0, "m**3/s"), 0.0)
    assert fans.stalled(fans.in_parallel(fan), Q_(0.199, "m**3/s"), 1.0)
    assert fans.too_slow(fan, [0.0, 0.19, 0.2, 1.0]).tolist() == [False, True, False, False]
    assert fan.turndown == pytest.approx(6.0)


def test_the_motor_in_cold_air_by_hand():
    # Greatest power 180 W in 1.2 kg/m3. Air at -20 degC and sea level:
    # 101325 x 0.0289652 / (8.31446 x 253.15) = 1.3944 kg/m3: 209.2 W, more than the motor's 200 W,
    # which carries it to (200/209.2)^(1/3) = 0.9852 of the rated speed.
    fan = straight()
    cold = atmosphere.air_density(Q_(-20.0, "degC"), Q_(101325.0, "Pa"))
    assert fans.shaft_power(fan, Q_(0.4, "m**3/s"), 1.0, cold).m_as("W") == pytest.approx(209.2, abs=0.1)
    assert fans.motor_speed_limit(fan, cold).m == pytest.approx(0.9852, abs=2e-4)
    assert fans.motor_speed_limit(fan, Q_(0.02, "lb/ft**3")).m == fan.most_speed


# --- In a vent ----------------------------------------------------------------------------------------------------


def test_a_roof_fan_adds_the_head_of_its_section_and_an_in_line_fan_its_own():
    flow, density, area = np.array([-0.05, 0.0, 0.3]), 0.9, 0.13
    forwards = np.maximum(flow, 0.0)
    for fan, across in ((MIDDLE, area), (fans.fan("in-line 12"), fans.fan("in-line 12").area)):
        least, most = Drive(fan, 0.3, 0.9).limits(flow, density, area)
        head = 0.5 * density * (forwards / across) ** 2
        assert least == pytest.approx(fans.static_pressure.bare(fan, flow, 0.3, density) + head)
        assert most == pytest.approx(fans.static_pressure.bare(fan, flow, 0.9, density) + head)
        assert np.all(least < most)


def test_a_fixed_setting_has_equal_limits():
    least, most = Drive(MIDDLE, 0.7, 0.7).limits(np.array([0.1, 0.4]), np.array([0.8, 1.1]), 0.13)
    assert least.tolist() == most.tolist()


@pytest.mark.parametrize("speeds", [(0.5, 0.4), (-0.1, 0.5), (0.2, 1.3)])
def test_a_drive_refuses_speeds_that_cannot_be(speeds):
    with pytest.raises(ValueError, match="need 0 <= least <= most <= 1.1"):
        Drive(MIDDLE, *speeds)


# --- Tables of fans -----------------------------------------------------------------------------------------------

HEADER = (
    "name,kind,outlet_diameter_mm,rated_speed_rpm,least_speed_rpm,most_speed_rpm,stall_flow_m3_h,motor_W,"
    "highest_temperature_C,density_kg_m3,stopped_loss,speed_rpm,flow_m3_h,pressure_Pa,power_W"
)
FIRST = "mine,roof,200,1400,350,1400,200,60,250,1.2,8"
ROWS = ["1400,0,130,20", "1400,360,120,28", "1400,720,90,34", "1400,1080,45,36", "1400,1260,0,35", "700,360,30,4"]


def table(first=FIRST, rows=ROWS, header=HEADER):
    lines = [f"{first},{rows[0]}", *(f"mine{',' * 11}{row}" for row in rows[1:])]
    return "# my own fan\n" + "\n".join([header, *lines]) + "\n"


def test_a_readers_own_table_in_si(tmp_path):
    (fan,) = fans.read_curve(table())
    assert fan.name == "mine" and fan.free_flow == pytest.approx(0.35) and fan.least_speed == pytest.approx(0.25)
    assert fans.static_pressure(fan, Q_(360.0, "m**3/hour"), 1.0, Q_(1.2, "kg/m**3")).m_as("Pa") == pytest.approx(120.0)
    path = tmp_path / "mine.csv"
    path.write_text(table(), encoding="utf-8")
    assert fans.read_curve(path) == fans.read_curve(str(path)) == (fan,)


def test_the_same_table_in_us_units_is_the_same_fan():
    def cfm(text):
        return repr(float(Q_(float(text), "m**3/hour").m_as("cfm")))

    rows = []
    for row in ROWS:
        speed, flow, pressure, power = row.split(",")
        inches, hp = Q_(float(pressure), "Pa").m_as("inH2O"), Q_(float(power), "W").m_as("horsepower")
        rows.append(f"{speed},{cfm(flow)},{inches!r},{hp!r}")
    header = (
        HEADER.replace("flow_m3_h", "flow_cfm").replace("pressure_Pa", "pressure_inwc").replace("power_W", "power_hp")
    )
    first = FIRST.split(",")
    first[6] = cfm(first[6])
    (us,), (si,) = fans.read_curve(table(",".join(first), rows, header)), fans.read_curve(table())
    flow = np.linspace(-0.05, 0.5, 12)
    assert fans.static_pressure.bare(us, flow, 0.8, 1.0) == pytest.approx(fans.static_pressure.bare(si, flow, 0.8, 1.0))
    assert fans.stalled.bare(us, flow, 1.0).tolist() == fans.stalled.bare(si, flow, 1.0).tolist()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        (table(header=HEADER.replace("pressure", "presure")), "line 2: unknown column 'presure_Pa'; did you mean pres"),
        (table(header=HEADER.replace("flow_m3_h,pre", "x,pre")), "line 2: no column flow_cfm or flow_m3_s or flow_m3"),
        (table(header=HEADER.replace("power_W", "pressure_inwc")), "pressure stands in 2 columns"),
        (table(rows=[*ROWS[:2], "1400,x,90,34", *ROWS[3:]]), "line 5: flow_m3_h = 'x' is not a number"),
        (table(rows=[*ROWS[:2], "1400,inf,90,34", *ROWS[3:]]), "line 5: flow_m3_h = 'inf' is not a number"),
        (table(rows=[*ROWS[:3], "1400,1080,,36", *ROWS[4:]]), "line 6: pressure_Pa is empty"),
        (table(rows=[*ROWS[:3], "1400,1080,45", *ROWS[4:]]), "line 6: 14 cells under 15 column names"),
        (table(first=FIRST.replace("roof", "wall")), "line 3: mine: kind 'wall': choose roof or in-line"),
        (table(first=FIRST.replace(",60,", ",,")), "line 3: motor of mine is missing"),
        (table(header=HEADER.replace("stopped_loss", "condensate,stopped_loss"), first=FIRST[:-1] + "maybe,8",
               rows=[ROWS[0]]), "line 3: condensate of mine = 'maybe': choose yes or no"),
        (table(first=FIRST.replace(",8", ",0.5")), "stopped_loss = 0.5 is less than the curve's own fall at its end"),
        (table(first=FIRST.replace("350", "1500")), "need 0 < least <= most"),
        (table(rows=ROWS[1:]), "must begin at zero flow"),
        (table(rows=[*ROWS[:4], ROWS[5]]), "zero at the last point"),
        (table(rows=[*ROWS[:2], *ROWS[4:]]), "3 points at rated speed"),
        (table(rows=[*ROWS[:2], ROWS[1], *ROWS[2:]]), "have the same flow"),
        (table(rows=["1400,0,30,20", "1400,360,60,28", "1400,720,300,34", *ROWS[3:]]), "more speed would make less"),
        (table().replace(f"mine{',' * 11}700", f"mine,in-line{',' * 10}700"), "line 8: kind of mine is another"),
    ],
)  # fmt: skip
def test_every_fault_is_named_with_its_line(text, words):
    with pytest.raises(fans.CurveError) as caught:
        fans.read_curve(text + "\n")
    assert words in str(caught.value)


def test_several_faults_at_once():
    with pytest.raises(fans.CurveError) as caught:
        fans.read_curve(table(rows=[ROWS[0], "1400,x,90,y", "1400,720,,34", *ROWS[3:]]))
    assert len(caught.value.problems) == 3
    assert [p.partition(":")[0] for p in caught.value.problems] == ["line 4", "line 4", "line 5"]


def test_names_and_unknown_ones():
    assert len(fans.names("roof")) >= 3 and len(fans.names("in-line")) >= 3
    assert set(fans.names()) == set(fans.names("roof")) | set(fans.names("in-line"))
    with pytest.raises(ValueError, match="did you mean 'roof 12'"):
        fans.fan("rof 12")
    with pytest.raises(ValueError, match="choose roof or in-line"):
        fans.names("wall")


# --- Selection ----------------------------------------------------------------------------------------------------

DUTIES = {
    "flow": Q_([200.0, 600.0, 1200.0], "cfm"),
    "pressure": Q_([0.02, 0.05, 0.15], "inH2O"),
    "density": Q_([0.066, 0.064, 0.060], "lb/ft**3"),
    "temperature": Q_([120.0, 150.0, 220.0], "degF"),
    "cold_density": Q_(0.086, "lb/ft**3"),
}


def test_selection_agrees_with_the_functions_it_stands_on():
    chosen = fans.select(**DUTIES)
    assert chosen.fitting[0].fan.name == "roof 12"
    for c in chosen.fitting:
        needed = fans.speed_for(c.fan, DUTIES["flow"], DUTIES["pressure"], DUTIES["density"]).m
        assert c.needed == pytest.approx(needed) and c.margin == pytest.approx(c.fan.most_speed / needed.max() - 1.0)
        held = ~c.slow
        assert c.excess[held] == pytest.approx(np.zeros(held.sum()), abs=1e-6)
        assert np.all(c.speed >= c.fan.least_speed) and np.all(c.excess >= -1e-6)
    assert len(chosen.fitting) + len(chosen.rejected) == len(fans.names("roof"))
    assert all(c.faults for c in chosen.rejected) and all(not c.faults for c in chosen.fitting)


def test_selection_in_both_unit_systems():
    si = {k: v.to_base_units() for k, v in DUTIES.items()}
    us, metric = fans.select(**DUTIES), fans.select(**si, system="SI")
    assert [c.fan.name for c in us.fitting] == [c.fan.name for c in metric.fitting]
    assert "hp" in us.fitting[0].merits[1] and " W" in metric.fitting[0].merits[1]


def test_rejected_fans_say_why_with_the_number():
    small = next(c for c in fans.select(**DUTIES).rejected if c.fan.name == "roof 6")
    assert "Falls short in 3 of 3 states" not in small.faults[0] and "of 3 states: at 1,200 cfm" in small.faults[0]
    assert "past all that its highest speed moves, 363 cfm," in small.faults[0]
    usual = [each for each in FANS if each.kind == "roof" and each.highest_temperature.m_as("degF") < 600.0]
    hot = fans.select(**DUTIES | {"temperature": Q_(600.0, "degF")}, among=usual)
    assert not hot.fitting and hot.verdict == f"None of the {len(usual)} fans fits."
    assert all(any("Gas of 600 °F is hotter" in f for f in c.faults) for c in hot.rejected)
    weak = replace(MIDDLE, name="weak", motor_power=Q_(20.0, "W"))
    (found,) = fans.select(**DUTIES, among=[weak]).rejected
    assert "its motor gives 0.0268 hp" in found.faults[0]


def test_gas_to_a_thousand_degrees_finds_a_fan_and_no_further():
    # Sizes and temperatures that the trade sells: common practice, no source.
    for kind in fans.KINDS:
        found = fans.select(**DUTIES | {"temperature": Q_(990.0, "degF")}, kind=kind)
        assert found.fitting and all(c.fan.highest_temperature.m_as("degF") >= 990.0 for c in found.fitting)
        assert not fans.select(**DUTIES | {"temperature": Q_(1010.0, "degF")}, kind=kind).fitting
        large = fans.select(**DUTIES | {"flow": Q_(15_000.0, "cfm"), "pressure": Q_(0.1, "inH2O")}, kind=kind)
        assert large.fitting and not fans.select(**DUTIES | {"flow": Q_(20_000.0, "cfm")}, kind=kind).fitting


def test_where_water_condenses_a_fan_that_may_not_be_wet_is_ruled_out():
    dry, wet = (fans.select(**DUTIES, kind="in-line", wet=each) for each in (False, True))
    hot = {c.fan.name for c in dry.fitting if not c.fan.condensate}
    assert hot and not hot & {c.fan.name for c in wet.fitting}
    assert all("not made to be wet" in " ".join(c.faults) for c in wet.rejected if c.fan.name in hot)
    assert {c.fan.name for c in wet.fitting} == {c.fan.name for c in dry.fitting} - hot


@pytest.mark.parametrize("like", ["roof 2", "in-line 2", "hot"])
def test_invented_sizes_are_one_family_by_similarity(like):
    # Equal wheels of other sizes: flow as n D^3, pressure as n^2 D^2, power as n^3 D^5, stretched curves alike
    # (fan laws; flows are rounded to the hundred).
    family = [each for each in FANS if each.name.startswith(like) and "shape after" in each.source]
    numbers, shapes = [], []
    for each in family:
        n, d = each.rated_speed.m_as("rad/s"), each.outlet_diameter.m_as("m")
        shut = each.rated[0].pressure
        numbers.append((each.free_flow / (n * d**3), shut / (n * d) ** 2, each.most_power / (n**3 * d**5)))
        shapes.append(each.pressure_curve(np.linspace(0.0, 1.0, 21) * each.free_flow) / shut)
    assert len(family) >= 2
    assert np.ptp(np.log(numbers), axis=0) == pytest.approx(0.0, abs=0.03)
    assert np.ptp(shapes, axis=0).max() < 0.02


def test_cautions_are_told():
    tight = fans.select(**DUTIES, among=[replace(MIDDLE, most_speed=0.9)]).fitting[0]
    needed = float(tight.needed.max())
    assert 0.9 / needed - 1.0 < fans.LEAST_MARGIN and "of speed to spare" in tight.cautions[0]
    motor = float(tight.power.max()) * 1.05
    cold = fans.select(**DUTIES, among=[replace(MIDDLE, motor_power=Q_(motor, "W"))]).fitting[0]
    assert any("until the gas is warm" in c for c in cold.cautions)
    large = next(c for c in fans.select(**DUTIES).fitting if c.fan.name == "roof 20")
    assert large.slow.any() and any("more slowly than its least speed" in c for c in large.cautions)
    stopped = -fans.static_pressure(MIDDLE, Q_(1200.0, "cfm"), 0.0, Q_(0.060, "lb/ft**3")).m_as("inH2O")
    assert any(f"takes up to {stopped:.3f} in. w.c." in c for c in tight.cautions)
    strong = fans.select(**DUTIES | {"pressure": Q_([-0.2, 0.05, 0.15], "inH2O")}).fitting[0]
    assert strong.speed[0] == 0.0 and any("a damper does" in c for c in strong.cautions)
    loud = fans.select(**DUTIES | {"flow": Q_(1600.0, "cfm"), "pressure": Q_(0.01, "inH2O")}).fitting[0]
    assert any("Blows out" in c for c in loud.cautions) == (
        float(fans.discharge_velocity(loud.fan, Q_(1600.0, "cfm")).m) > fans.HEARD
    )


def test_shares_weigh_the_power():
    (c,) = fans.select(**DUTIES, among=[MIDDLE], shares=[8.0, 1.0, 1.0]).fitting
    assert c.mean_power == pytest.approx(0.8 * c.power[0] + 0.1 * c.power[1] + 0.1 * c.power[2])
    assert c.turndown == pytest.approx(c.speed.max() / c.speed.min())


def test_an_in_line_fan_is_asked_for_the_same_total_pressure():
    # Through its 12 inch outlet more leaves as velocity than in the 16 inch section, so less static pressure is needed.
    area = np.pi / 4 * 0.4064**2
    (c,) = fans.select(**DUTIES, kind="in-line", among=[fans.fan("in-line 12")], area=Q_(area, "m**2")).fitting
    q, rho = DUTIES["flow"].m_as("m**3/s"), DUTIES["density"].m_as("kg/m**3")
    less = 0.5 * rho * (q / c.fan.area) ** 2 - 0.5 * rho * (q / area) ** 2
    assert c.wanted == pytest.approx(DUTIES["pressure"].m_as("Pa") - less)


def test_nothing_to_select_is_refused():
    with pytest.raises(ValueError, match="at least one state and one fan"):
        fans.select(**DUTIES, among=[])
    with pytest.raises(ValueError, match="choose roof or in-line"):
        fans.select(**DUTIES, kind="wall")
    with pytest.raises(ValueError, match="flow"):
        fans.select(**DUTIES | {"flow": Q_(-1.0, "cfm")})
