"""Sensor readings against hand cases: end cap, reducer, connector, cold tubes, reference in the wind."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant
from sample_taps import HALL, ROW, row_scan, scanned

from ventcalc.draft.sensor_reading import FACING, Leg, Tap, read, straight_lengths, wanted
from ventcalc.flow import friction, junctions
from ventcalc.units import GRAVITY, Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States


def test_end_cap_reads_the_dead_legs_total_pressure():
    scan = row_scan()
    found = read(scan, Tap("cap", "header 1", capped=True))
    row = scan.solution.row("header 1")
    # Gardel for a = (200/400)^2 at a right angle, q = 1: 1 + K_run = 1.62 + 0.38 (1 - a) heads above static.
    expected = (1.62 + 0.38 * 0.75) * scan.solution.head_up[row]
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
    scan = row_scan()
    found = read(scan, Tap("wall", "header 1"))
    runs = ~np.isnan(found.wanted)
    assert np.all(found.error[runs] == 0.0)
    assert found.pressure[runs] == pytest.approx(end_of_header.header_pressure(scan)[runs])


def test_behind_a_reducer_reads_what_the_narrow_piece_takes():
    scan = row_scan()
    plain, narrow = (read(scan, Tap("tap", "header 3", 1.0, narrowed=d)) for d in (None, Q_(300, "mm")))
    head = scan.solution.head_down[scan.solution.row("header 3")]
    # Crane: 60 degrees included, K = 0.5 sqrt(sin 30) (1 - (3/4)^2) on the narrow head.
    k = 0.5 * np.sqrt(0.5) * (1 - (300 / 400) ** 2)
    expected = head * (1.0 - (1.0 + k) * (400 / 300) ** 4)
    runs = ~np.isnan(plain.wanted)
    assert (narrow.error - plain.error)[runs] == pytest.approx(expected[runs])
    assert narrow.doubt[runs] == pytest.approx((0.25 * head * (400 / 300) ** 4)[runs])


def test_a_piece_of_the_same_width_changes_nothing_and_a_wider_one_gains():
    scan = row_scan()
    tap = Tap("tap", "header 3", 1.0)
    same, wide = (read(scan, replace(tap, narrowed=Q_(d, "mm"))).error for d in (400, 500))
    plain = read(scan, tap).error
    runs = ~np.isnan(plain)
    assert same[runs] == pytest.approx(plain[runs]) and np.all(wide[runs] >= plain[runs])


def test_connector_at_the_outlet_is_the_outlet():
    scan = row_scan()
    # The connector is as wide as the outlet; its mean head stands for that of the gas as it leaves: within 5 % of it.
    found = read(scan, Tap("outlet", "connector 1"), target="B1")
    head = scan.solution.head[scan.solution.row("connector 1")]
    runs = ~np.isnan(found.wanted)
    assert np.array_equal(runs, scan.running(0))
    assert np.all(np.abs(found.error[runs]) <= 0.05 * head[runs] + 1e-6)


def test_a_leg_as_warm_as_the_room_may_stand_at_any_height():
    scan = row_scan()
    tap = Tap("wall", "header 2", 0.5)
    plain = read(scan, tap).error
    for height in (0.0, 1.0, 9.0):
        moved = read(scan, tap, Leg("elsewhere", height=Q_(height, "m"))).error
        assert moved[~np.isnan(plain)] == pytest.approx(plain[~np.isnan(plain)], abs=1e-9)


def test_a_cold_tube_by_hand():
    scan = row_scan()
    # Sensor 3 m above the tap, its tube outdoors in winter: g h (rho_out - rho_room) less at its upper end than in a
    # warm tube, so the sensor reads that much too low.
    tap, up = Tap("wall", "header 2", 0.5), ROW.heights["header 2"][0] + 3.0
    found = read(scan, tap, Leg("up on the roof", height=Q_(up, "m"), tube="outdoors")).leg
    network = compile_network(ROW, SEASONS)
    winter = (scan.states.season == 0) & scan.any_running
    expected = -GRAVITY * 3.0 * (network.outdoor_density[0] - network.room_density[0])
    assert expected == pytest.approx(-GRAVITY * 3.0 * 1.2 * (293.0 / 253.0 - 1.0), rel=0.03)  # ideal gas, by hand
    assert found[winter] == pytest.approx(expected)


def test_a_tube_of_stated_warmth():
    scan = row_scan()
    network = compile_network(ROW, SEASONS)
    tap, leg = Tap("wall", "header 2"), Leg("warm tube", height=Q_(1, "m"), tube=Q_(60, "degC"))
    found = read(scan, tap, leg).leg[(scan.states.season == 1) & scan.any_running]
    rise = ROW.heights["header 2"][0] - 1.0
    warm = network.room_density[1] * 293.15 / 333.15
    assert found == pytest.approx(GRAVITY * rise * (warm - network.room_density[1]))


def test_reference_outdoors_reads_the_room_as_well():
    scan = row_scan()
    # In summer the sample's room stands at -3 Pa and is 2 K cooler than outdoors: a sensor open to outdoors reads 3 Pa
    # lower than one open to the room, and a little less for the room's column above its opening.
    found = read(scan, Tap("wall", "header 2"), Leg("out", reference="outdoors", reference_tube="outdoors")).leg
    summer = (scan.states.season == 2) & scan.any_running
    column = GRAVITY * (ROW.heights["header 2"][0] - 0.3) * 1.15 * 2.0 / 304.0  # the room's air is the heavier
    assert found[summer] == pytest.approx(-3.0 - column, abs=0.03)


def test_reference_in_the_wind():
    scan = scanned(ROW, windy=True)
    calm, wind = (read(scan, Tap("wall", "header 2"), Leg("out", reference="outdoors", wind=c)).leg for c in (0.0, 0.6))
    winter = (scan.states.season == 0) & scan.any_running
    # Half rho v^2 of 5 m/s at -20 degC, pressed on by 0.6: the reference rises, so the reading falls.
    assert (wind - calm)[winter] == pytest.approx(-0.6 * 0.5 * 1.38 * 25.0, rel=0.02)


def test_a_column_in_the_reference_tube():
    scan = row_scan()
    tap = Tap("wall", "header 2")
    legs = [
        Leg("roof", reference="outdoors", reference_height=Q_(10, "m"), reference_tube=air)
        for air in ("room", "outdoors")
    ]
    warm, cold = (read(scan, tap, leg).leg for leg in legs)
    network = compile_network(ROW, SEASONS)
    up = 10.0 - ROW.heights["header 2"][0]
    winter = (scan.states.season == 0) & scan.any_running
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
    (lambda: read(row_scan(), Tap("t", "header 9")), "header 9"),
    (lambda: read(row_scan(), Tap("t", "header 2", capped=True)), "capped end"),
    (lambda: wanted(row_scan(), "B9"), "B9"),
])  # fmt: skip
def test_what_cannot_be_is_refused(make, named):
    with pytest.raises(ValueError, match=named):
        make()


def test_straight_lengths_of_the_header():
    # 15 ft of 16 in. pipe, the tap in the middle: 5.6 diameters either way.
    assert straight_lengths(HALL.plant, Tap("t", "header 3", 0.5)) == pytest.approx((5.625, 5.625))
