"""Sensor location: equations against published figures, readings against hand cases, errors, ranks, held vents."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import SEASONS, all_states, row_plant, with_sections

from ventcalc import tables
from ventcalc.checked import compare, unexplained
from ventcalc.draft import sensor_location
from ventcalc.draft.sensor_location import (
    FACING,
    WALL,
    Leg,
    Tap,
    disturbance,
    errors,
    farthest,
    held,
    hole_error,
    leg_error,
    narrowing_error,
    rank,
    read,
    reason,
    seen,
    set_points,
    shares_seen,
    span_error,
    straight_lengths,
    taps,
    wall_wind_coefficient,
    wanted,
)
from ventcalc.flow import friction, junctions
from ventcalc.job import job_file
from ventcalc.units import GRAVITY, Q_
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, worst_state
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States

STANDARD_AIR = Q_(0.075, "lb/ft**3")  # published, F001 of the fan figures
INCH = 249.089  # Pa


def scanned(plant, seasons=SEASONS, cold=False, windy=False):
    states = all_states(plant, len(seasons), cold, windy)
    return Scan(plant, seasons, solve(plant, seasons, states), len(states), True)


ROW = row_plant(3, header_mm=400.0, junction="straight tee")
SCAN = scanned(ROW)
HALL = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
HALL_SCAN = firing_states.scan(HALL.plant, HALL.seasons)
SET_POINT = Q_(-0.018, "inH2O")
PERFECT = held(HALL_SCAN, SET_POINT)


# --- Published figures ---


def published():
    ours = {
        "SL01": (2.0 * Q_(1.0, "inH2O") / STANDARD_AIR) ** 0.5 / Q_(1.0, "fpm"),
        "SL02": friction.velocity_head(STANDARD_AIR, Q_(1000.0, "fpm")),
        "SL21": span_error(Q_(0.0, "psi"), Q_(100.0, "psi"), Q_(0.25, "percent")).m_as("psi"),
        "SL22": span_error(Q_(0.0, "psi"), Q_(100.0, "psi"), Q_(0.25, "percent")) / Q_(10.0, "psi"),
        "SL31": sensor_location.STRAIGHT_BEHIND,
        "SL32": sensor_location.STRAIGHT_BEFORE,
        "SL33": sensor_location.STILL_CLOSE,
    }
    ours["SL01"] = float(ours["SL01"].m_as(""))
    for row in tables.read("sensor_location_checks"):
        if row["angle_deg"]:
            ours[row["id"]] = wall_wind_coefficient(Q_(float(row["angle_deg"]), "degree"))
    return compare("sensor_location_checks", ours)


def test_published_figures():
    found = published()
    assert {c.id for c in found} == {r["id"] for r in tables.read("sensor_location_checks")}
    assert all(c.agrees for c in found)
    assert unexplained(found) == []


def test_leg_is_a_chimney():
    # Steam, Its Generation and Use: a 100 ft column of 0.0414 lb/ft3 beside air of 0.0761 draws 0.67 in. w.c.
    found = leg_error(Q_(100, "ft"), Q_(0.0414, "lb/ft**3"), Q_(0.0761, "lb/ft**3"))
    (check,) = compare("draft_checks", {"D003": -found})
    assert check.to_the_last_digit


def test_narrowing_without_loss_is_the_handbooks_tapered_reducer():
    # ASHRAE, chimney chapter: K = 1 - (d2/d1)^4 of a tapered reducer, on the head behind it: just what its speed takes.
    behind = 1.0 / 0.8**4  # heads of the wide end that make one of the narrow end
    found = -narrowing_error(Q_(2.0, "kg/m**3"), Q_(1.0, "m/s"), Q_(1.0, "m"), Q_(0.8, "m")).m_as("Pa") / behind
    (check,) = compare("losses_checks", {"L015": found})
    assert check.to_the_last_digit


# --- Equations ---


def test_header_at_a_thousand_feet_a_minute_by_hand():
    # 16 in. to 12 in.: (16/12)^4 = 3.1605; (1000/4005)^2 = 0.0623 in. w.c.; so 0.0623 (1 - 3.1605) = -0.1347.
    found = narrowing_error(STANDARD_AIR, Q_(1000, "fpm"), Q_(16, "inch"), Q_(12, "inch"))
    assert found.m_as("inH2O") == pytest.approx(-0.1347, rel=2e-3)  # 0.2 %: the inch of water behind 4005
    lossy = narrowing_error(STANDARD_AIR, Q_(1000, "fpm"), Q_(16, "inch"), Q_(12, "inch"), 0.1)
    assert lossy.m_as("inH2O") == pytest.approx(0.0623 * (1 - 1.1 * 3.1605), rel=2e-3)


@given(st.floats(0.3, 1.5), st.floats(0.0, 30.0), st.floats(0.1, 1.0))
def test_narrowing_takes_and_widening_gives(density, velocity, ratio):
    narrow = narrowing_error.bare(density, velocity, 1.0, ratio)
    assert narrow <= 1e-9 <= 1e-9 + narrowing_error.bare(density, velocity, ratio, 1.0)
    # There and back again: total pressure is kept, so what the narrow piece took is what it gives.
    behind = velocity / ratio**2
    assert narrow == pytest.approx(-narrowing_error.bare(density, behind, ratio, 1.0), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("us", "si"), [
    (narrowing_error(Q_(0.06, "lb/ft**3"), Q_(900, "fpm"), Q_(16, "inch"), Q_(12, "inch"), 0.1),
     narrowing_error(Q_(0.06 * 16.018463, "kg/m**3"), Q_(4.572, "m/s"), Q_(406.4, "mm"), Q_(304.8, "mm"), 0.1)),
    (leg_error(Q_(10, "ft"), Q_(0.075, "lb/ft**3"), Q_(0.081, "lb/ft**3")),
     leg_error(Q_(3.048, "m"), Q_(0.075 * 16.018463, "kg/m**3"), Q_(0.081 * 16.018463, "kg/m**3"))),
    (hole_error(Q_(0.06, "lb/ft**3"), Q_(900, "fpm"), 0.02),
     hole_error(Q_(0.06 * 16.018463, "kg/m**3"), Q_(4.572, "m/s"), 0.02)),
    (span_error(Q_(-0.5, "inH2O"), Q_(0.5, "inH2O"), Q_(1, "percent")),
     span_error(Q_(-124.5445, "Pa"), Q_(124.5445, "Pa"), 0.01)),
    (disturbance(Q_(500, "percent")), disturbance(5.0)),
    (wall_wind_coefficient(Q_(45, "degree")), wall_wind_coefficient(Q_(np.pi / 4, "rad"))),
])  # fmt: skip
def test_same_case_in_us_and_si_units(us, si):
    assert us.to_base_units().m == pytest.approx(si.to_base_units().m, rel=1e-6)


def test_a_clean_hole_hardly_errs():
    # Pipe of f = 0.02: n f/4 = 0.015 heads of 14.4 Pa.
    assert hole_error(Q_(0.8, "kg/m**3"), Q_(6, "m/s"), 0.02).m_as("Pa") == pytest.approx(0.216)


def test_disturbance_fades_over_the_straight_pipe_of_method_1():
    assert disturbance.bare(np.array([0.0, 2.0, 5.0, 8.0, 20.0])) == pytest.approx([0.25, 0.25, 0.125, 0.0, 0.0])


def test_wind_presses_ahead_and_pulls_at_the_side():
    angles = np.linspace(0.0, 180.0, 181)
    found = wall_wind_coefficient.bare(angles)
    assert found.max() == found[0] and 100 < angles[found.argmin()] < 125


def test_what_a_one_sided_transducer_sees():
    pressure = np.array([-30.0, -10.0, 5.0, np.nan])
    assert seen(pressure[:3], -25.0, 0.0) == pytest.approx([-25.0, -10.0, 0.0])
    assert shares_seen(pressure, -25.0, 0.0) == pytest.approx(1 / 3)
    assert shares_seen(pressure, -125.0, 125.0) == 1.0


DENSE, METRE, SPEED = Q_(1.0, "kg/m**3"), Q_(1.0, "m"), Q_(1.0, "m/s")


@pytest.mark.parametrize(("call", "named"), [
    (lambda: narrowing_error(DENSE, SPEED, METRE, 0 * METRE), "narrow_diameter"),
    (lambda: narrowing_error(DENSE, SPEED, METRE, METRE, -0.1), "loss_coefficient"),
    (lambda: leg_error(METRE, 0 * DENSE, DENSE), "tube_density"),
    (lambda: hole_error(DENSE, SPEED, -0.1), "darcy_factor"),
    (lambda: disturbance(-1.0), "straight"),
    (lambda: wall_wind_coefficient(Q_(190, "degree")), "angle"),
    (lambda: span_error(Q_(1, "Pa"), Q_(1, "Pa"), 0.01), "range"),
    (lambda: span_error(Q_(0, "Pa"), Q_(1, "Pa"), 1.5), "accuracy"),
])  # fmt: skip
def test_impossible_is_refused(call, named):
    with pytest.raises(ValueError, match=named):
        call()


# --- Readings ---


def test_end_cap_reads_the_dead_legs_total_pressure():
    found = read(SCAN, Tap("cap", "header 1", capped=True))
    row = SCAN.solution.row("header 1")
    # Gardel for a = (200/400)^2 at a right angle, q = 1: 1 + K_run = 1.62 + 0.38 (1 - a) heads above static.
    expected = (1.62 + 0.38 * 0.75) * SCAN.solution.head_up[row]
    runs = ~np.isnan(found.wanted)
    assert found.error[runs] == pytest.approx(expected[runs])
    assert found.place[runs] == pytest.approx(0.0, abs=1e-9) and found.leg[runs] == pytest.approx(0.0, abs=1e-9)
    assert np.all(found.doubt[runs] == 0.0)


def test_equal_flows_in_an_isothermal_header_by_hand():
    """Three equal boilers with gas as cool as room and outdoors: no draft, nothing cools, one density.

    Static pressure at the end of the header less that at the last section's: friction of two lengths, what the run
    loses in two junctions, and the speed it gains from one boiler's flow to three's, nine times the head less one.
    """
    season = (Season("one temperature", Q_(40, "degC"), Q_(40, "degC")),)
    plant = row_plant(3, celsius=40.0, header_mm=400.0, vent="insulated chimney", stack_height=8.0)
    levels = tuple(replace(level, flue_temperature=Q_(40, "degC")) for level in plant.appliances[0].levels)
    plant = replace(plant, appliances=tuple(replace(a, levels=levels) for a in plant.appliances))
    high = len(plant.appliances[0].states) - 1
    states = States(np.full((3, 1), high), np.zeros(1, int), np.zeros(1, bool), np.zeros(1, bool))
    scan = Scan(plant, season, solve(plant, season, states), 1, True)
    rows = [scan.solution.row(f"header {i}") for i in (1, 2, 3)]
    heads = scan.solution.head[rows, 0]
    assert heads / heads[0] == pytest.approx([1.0, 4.0, 9.0], rel=1e-3)
    ratio = (200 / 400) ** 2
    run = [junctions.run_loss.bare(q, ratio, 45.0) for q in (1 / 2, 1 / 3)]
    flow = scan.solution.flow[rows, 0]
    density = flow**2 / (2.0 * (np.pi * 0.4**2 / 4.0) ** 2 * heads)
    wall = plant.section("header 1").material.roughness.m_as("m")
    lost = [
        float(friction.pressure_loss.bare(m, r, 0.4, 2.0, wall, 1.9e-5)) for m, r in zip(flow, density, strict=True)
    ]
    by_hand = -(lost[0] + lost[1] + run[0] * heads[1] + run[1] * heads[2] + heads[2] - heads[0])
    found = read(scan, Tap("last", "header 3")).error[0]
    assert found == pytest.approx(by_hand, rel=5e-3)  # 0.5 %: the hand's one viscosity
    # A tube that faces the gas there adds just the head.
    assert read(scan, Tap("facing", "header 3", hole=FACING)).error[0] == pytest.approx(found + heads[2])


def test_wall_at_the_far_end_is_what_matters():
    found = read(SCAN, Tap("wall", "header 1"))
    runs = ~np.isnan(found.wanted)
    assert np.all(found.error[runs] == 0.0)
    assert found.pressure[runs] == pytest.approx(end_of_header.header_pressure(SCAN)[runs])


def test_behind_a_reducer_reads_what_the_narrow_piece_takes():
    plain, narrow = (read(SCAN, Tap("tap", "header 3", 1.0, narrowed=d)) for d in (None, Q_(300, "mm")))
    head = SCAN.solution.head_down[SCAN.solution.row("header 3")]
    # Crane: 60 degrees included, K = 0.5 sqrt(sin 30) (1 - (3/4)^2) on the narrow head.
    k = 0.5 * np.sqrt(0.5) * (1 - (300 / 400) ** 2)
    expected = head * (1.0 - (1.0 + k) * (400 / 300) ** 4)
    runs = ~np.isnan(plain.wanted)
    assert (narrow.error - plain.error)[runs] == pytest.approx(expected[runs])
    assert narrow.doubt[runs] == pytest.approx((0.25 * head * (400 / 300) ** 4)[runs])


def test_a_piece_of_the_same_width_changes_nothing_and_a_wider_one_gains():
    tap = Tap("tap", "header 3", 1.0)
    same, wide = (read(SCAN, replace(tap, narrowed=Q_(d, "mm"))).error for d in (400, 500))
    plain = read(SCAN, tap).error
    runs = ~np.isnan(plain)
    assert same[runs] == pytest.approx(plain[runs]) and np.all(wide[runs] >= plain[runs])


def test_connector_at_the_outlet_is_the_outlet():
    # The connector is as wide as the outlet; its mean head stands for that of the gas as it leaves: within 5 % of it.
    found = read(SCAN, Tap("outlet", "connector 1"), target="B1")
    head = SCAN.solution.head[SCAN.solution.row("connector 1")]
    runs = ~np.isnan(found.wanted)
    assert np.array_equal(runs, SCAN.running(0))
    assert np.all(np.abs(found.error[runs]) <= 0.05 * head[runs] + 1e-6)


def test_a_leg_as_warm_as_the_room_may_stand_at_any_height():
    tap = Tap("wall", "header 2", 0.5)
    plain = read(SCAN, tap).error
    for height in (0.0, 1.0, 9.0):
        moved = read(SCAN, tap, Leg("elsewhere", height=Q_(height, "m"))).error
        assert moved[~np.isnan(plain)] == pytest.approx(plain[~np.isnan(plain)], abs=1e-9)


def test_a_cold_tube_by_hand():
    # Sensor 3 m above the tap, its tube outdoors in winter: g h (rho_out - rho_room) less at its upper end than in a
    # warm tube, so the sensor reads that much too low.
    tap, up = Tap("wall", "header 2", 0.5), ROW.heights["header 2"][0] + 3.0
    found = read(SCAN, tap, Leg("up on the roof", height=Q_(up, "m"), tube="outdoors")).leg
    network = compile_network(ROW, SEASONS)
    winter = (SCAN.states.season == 0) & SCAN.any_running
    expected = -GRAVITY * 3.0 * (network.outdoor_density[0] - network.room_density[0])
    assert expected == pytest.approx(-GRAVITY * 3.0 * 1.2 * (293.0 / 253.0 - 1.0), rel=0.03)  # ideal gas, by hand
    assert found[winter] == pytest.approx(expected)


def test_a_tube_of_stated_warmth():
    network = compile_network(ROW, SEASONS)
    tap, leg = Tap("wall", "header 2"), Leg("warm tube", height=Q_(1, "m"), tube=Q_(60, "degC"))
    found = read(SCAN, tap, leg).leg[(SCAN.states.season == 1) & SCAN.any_running]
    rise = ROW.heights["header 2"][0] - 1.0
    warm = network.room_density[1] * 293.15 / 333.15
    assert found == pytest.approx(GRAVITY * rise * (warm - network.room_density[1]))


def test_reference_outdoors_reads_the_room_as_well():
    # In summer the sample's room stands at -3 Pa and is 2 K cooler than outdoors: a sensor open to outdoors reads 3 Pa
    # lower than one open to the room, and a little less for the room's column above its opening.
    found = read(SCAN, Tap("wall", "header 2"), Leg("out", reference="outdoors", reference_tube="outdoors")).leg
    summer = (SCAN.states.season == 2) & SCAN.any_running
    column = GRAVITY * (ROW.heights["header 2"][0] - 0.3) * 1.15 * 2.0 / 304.0  # the room's air is the heavier
    assert found[summer] == pytest.approx(-3.0 - column, abs=0.03)


def test_reference_in_the_wind():
    scan = scanned(ROW, windy=True)
    calm, wind = (read(scan, Tap("wall", "header 2"), Leg("out", reference="outdoors", wind=c)).leg for c in (0.0, 0.6))
    winter = (scan.states.season == 0) & scan.any_running
    # Half rho v^2 of 5 m/s at -20 degC, pressed on by 0.6: the reference rises, so the reading falls.
    assert (wind - calm)[winter] == pytest.approx(-0.6 * 0.5 * 1.38 * 25.0, rel=0.02)


def test_a_column_in_the_reference_tube():
    tap = Tap("wall", "header 2")
    legs = [
        Leg("roof", reference="outdoors", reference_height=Q_(10, "m"), reference_tube=air)
        for air in ("room", "outdoors")
    ]
    warm, cold = (read(SCAN, tap, leg).leg for leg in legs)
    network = compile_network(ROW, SEASONS)
    up = 10.0 - ROW.heights["header 2"][0]
    winter = (SCAN.states.season == 0) & SCAN.any_running
    expected = GRAVITY * up * (network.outdoor_density[0] - network.room_density[0])
    assert (warm - cold)[winter] == pytest.approx(expected)


@pytest.mark.parametrize(("make", "named"), [
    (lambda: Tap("t", "header 1", 1.2), "share"),
    (lambda: Tap("t", "header 1", hole="a slot"), "hole"),
    (lambda: Tap("t", "header 1", 0.5, capped=True), "capped"),
    (lambda: Tap("t", "header 1", hole=FACING, capped=True), "in a capped end"),
    (lambda: Tap("t", "header 1", capped=True, narrowed=Q_(100, "mm")), "in a capped end"),
    (lambda: Tap("t", "header 1", narrowed=Q_(0, "m")), "narrowed"),
    (lambda: Leg("l", reference="stack"), "reference"),
    (lambda: Leg("l", tube="hot"), "tube"),
    (lambda: Leg("l", reference="outdoors", reference_tube=Q_(0, "K")), "reference_tube"),
    (lambda: Leg("l", wind=0.6), "open to the room"),
    (lambda: read(SCAN, Tap("t", "header 9")), "header 9"),
    (lambda: read(SCAN, Tap("t", "header 2", capped=True)), "capped end"),
    (lambda: wanted(SCAN, "B9"), "B9"),
])  # fmt: skip
def test_what_cannot_be_is_refused(make, named):
    with pytest.raises(ValueError, match=named):
        make()


# --- Errors over all states ---


def test_errors_are_the_ends_of_the_readings():
    for tap in taps(HALL.plant):
        found, e = read(HALL_SCAN, tap), errors(HALL_SCAN, tap)
        # Of states alike within what is called the same the first is named, and its value told.
        assert e.low == pytest.approx(np.nanmin(found.error - found.doubt), abs=worst_state.SAME_PRESSURE)
        assert e.high == pytest.approx(np.nanmax(found.error + found.doubt), abs=worst_state.SAME_PRESSURE)
        assert (found.error - found.doubt)[e.low_state] == pytest.approx(e.low, abs=worst_state.SAME_PRESSURE)
        assert (found.error + found.doubt)[e.high_state] == pytest.approx(e.high, abs=worst_state.SAME_PRESSURE)
        assert e.low <= e.mean <= e.high and e.left == pytest.approx(0.5 * (e.high - e.low))
        assert e.shift + e.left == pytest.approx(e.high) and e.shift - e.left == pytest.approx(e.low)


def test_an_error_that_is_the_same_in_all_states_is_cured_by_the_set_point():
    # Room and outdoors alike in every season but for the room's pressure, and that the same: the reference outdoors
    # then errs by just that.
    season = (Season("one", Q_(20, "degC"), Q_(20, "degC"), room_pressure=Q_(-5, "Pa")),)
    found = errors(scanned(ROW, season), Tap("cap", "header 1"), Leg("out", reference="outdoors"))
    doubt = read(scanned(ROW, season), Tap("cap", "header 1")).doubt
    assert found.mean == pytest.approx(-5.0, abs=0.01)
    assert found.spread == pytest.approx(2.0 * np.nanmax(doubt), abs=0.02) and found.cured(0.5)


def test_nothing_that_counts_is_refused():
    idle = HALL_SCAN.states.codes[0] == 0
    part = replace(HALL_SCAN, solution=solve(HALL.plant, HALL.seasons, HALL_SCAN.states[idle]))
    with pytest.raises(ValueError, match="Boiler 1 runs in none"):
        errors(part, Tap("cap", "header 1", capped=True), target="Boiler 1")


def test_places_of_the_hall():
    names = [t.name for t in taps(HALL.plant)]
    assert names[0] == "end cap" and len(set(names)) == len(names) == 8
    assert farthest(HALL.plant) == "Boiler 1"
    # A header that goes on from its first connector has no cap to put a sensor in.
    turned = with_sections(ROW, connector_1={"junction": None})
    assert "end cap" not in [t.name for t in taps(turned)]


def test_places_of_a_single_boiler():
    alone = row_plant(1)
    assert [e.target for e in rank(scanned(alone))] == ["header"] * len(taps(alone))


def test_rank_goes_by_what_no_offset_cures():
    order = rank(HALL_SCAN)
    assert [e.spread for e in order] == sorted(e.spread for e in order)
    assert {e.tap.name for e in order[:2]} == {"end cap", "wall of the header, at its end"}
    assert order[-1].tap.name == "behind a reducer" and order[-1].cause == "velocity"
    legs = (sensor_location.PLAIN, Leg("outdoors", reference="outdoors"))
    assert len(rank(HALL_SCAN, legs=legs)) == 2 * len(order)


def test_windy_reference_is_the_legs_fault():
    found = errors(HALL_SCAN, Tap("cap", "header 1", capped=True), Leg("out", reference="outdoors", wind=0.6))
    assert found.cause == "leg"
    assert "reference" in reason(found, 1.0)


def test_reason_says_what_to_do():
    cap = errors(HALL_SCAN, taps(HALL.plant)[0])
    assert reason(cap, 4.0).startswith("Good")
    assert "not to be cured" in reason(cap, 1.0).lower()
    assert "Pa" in reason(cap, 1.0, "SI")


def test_straight_lengths_of_the_header():
    # 15 ft of 16 in. pipe, the tap in the middle: 5.6 diameters either way.
    assert straight_lengths(HALL.plant, Tap("t", "header 3", 0.5)) == pytest.approx((5.625, 5.625))


# --- Held ---


def true_header(found):
    return end_of_header.header_pressure(found.scan(HALL_SCAN))


def test_perfect_sensor_holds_the_header():
    assert PERFECT.settled.all()
    assert true_header(PERFECT)[HALL_SCAN.any_running] == pytest.approx(SET_POINT.m_as("Pa"), abs=0.03)


@pytest.mark.parametrize("place", ["end cap", "behind a reducer"])
def test_a_wrong_sensor_holds_the_set_point_less_its_error(place):
    tap = next(t for t in taps(HALL.plant) if t.name == place)
    found = held(HALL_SCAN, SET_POINT, tap)
    reading = read(found.scan(HALL_SCAN), tap).pressure[HALL_SCAN.any_running]
    assert reading == pytest.approx(SET_POINT.m_as("Pa"), abs=0.3)  # what the passes leave, and the control's own
    # The header's true pressure is off by the error in the vent as held: both ends of it.
    error, off = read(found.scan(HALL_SCAN), tap).error, true_header(found) - SET_POINT.m_as("Pa")
    assert np.nanmax(off) == pytest.approx(-np.nanmin(error), abs=0.3)
    assert np.nanmin(off) == pytest.approx(-np.nanmax(error), abs=0.3)


def test_the_reducer_trips_what_the_cap_holds():
    lowest, highest = set_points(PERFECT, HALL_SCAN)
    assert lowest < SET_POINT.m_as("Pa") < highest
    by_name = {t.name: t for t in taps(HALL.plant)}
    cap, reducer = (held(HALL_SCAN, SET_POINT, by_name[n]).scan(HALL_SCAN) for n in ("end cap", "behind a reducer"))
    assert all(e.margin > 0.0 for e in outlet_envelope.envelopes(cap))
    assert any(e.above > 0.1 * INCH for e in outlet_envelope.envelopes(reducer))


def test_set_points_are_where_an_outlet_meets_its_window():
    for edge, side in zip(set_points(PERFECT, HALL_SCAN), ("low", "high"), strict=True):
        found = outlet_envelope.envelopes(held(HALL_SCAN, Q_(edge, "Pa")).scan(HALL_SCAN))
        margins = [e.low - e.window[0] if side == "low" else e.window[1] - e.high for e in found]
        assert min(margins) == pytest.approx(0.0, abs=0.3)  # leaks answer a little to what is held


def test_doubt_moves_the_header_by_what_is_not_known():
    tap = Tap("wall", "header 1")
    low, high = (true_header(held(HALL_SCAN, SET_POINT, tap, doubt=d)) for d in (-1.0, 1.0))
    doubt = read(HALL_SCAN, tap).doubt
    runs = HALL_SCAN.any_running
    assert (low - high)[runs] == pytest.approx(2.0 * doubt[runs], abs=0.2)
    assert read(HALL_SCAN, Tap("flush", "header 1", hole=WALL)).doubt[runs] == pytest.approx(doubt[runs])
