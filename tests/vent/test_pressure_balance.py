"""Pressure balance: a stack by hand, heads, losses and the pressure of the gas itself."""

import math
from dataclasses import replace

import pytest
from sample_plants import (
    SEASONS,
    one_state,
    row_plant,
    with_sections,
)
from sample_stacks import (
    CONNECTOR_AREA,
    ELBOW,
    FIRED,
    INCREASER,
    PRESSURE_1500,
    RAIN_CAP,
    STACK_AREA,
    G,
    R,
    colebrook,
    methane_products,
    straight_stack,
)

from ventcalc.gas.appliance import FiringLevel
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season, compile_network


def test_isothermal_stack_by_hand():
    # Flue gas at 40 degC in a building at 40 degC: nothing cools. Winter air of 0 degC, dry.
    season = Season("winter", Q_(0, "degC"), Q_(40, "degC"), relative_humidity=0.0)
    found = solve(straight_stack(40, "room"), (season,), one_state([1]))

    saturated = 7384.0 / PRESSURE_1500  # steam tables: 7.384 kPa at 40 degC; the rest drains inside the boiler
    moles, mass = methane_products(saturated)
    assert moles["h2o"] < 2.0
    flow = FIRED * mass
    density = PRESSURE_1500 * (mass / sum(moles.values())) / (R * 313.15)
    outdoors, room = (PRESSURE_1500 * 0.028966 / (R * t) for t in (273.15, 313.15))
    viscosity = 1.77e-5  # Pa s, moist flue gas at 40 degC (air 1.91e-5), from memory; friction hardly feels it
    fall = 0.0
    for diameter, area, length, fixed in (
        (0.125, CONNECTOR_AREA, 2.0, 2 * ELBOW + INCREASER),
        (0.150, STACK_AREA, 10.0, 0.0),
    ):
        reynolds = 4 * flow / (math.pi * diameter * viscosity)
        head = (flow / area) ** 2 / (2 * density)
        fall += (colebrook(reynolds, 0.001 / diameter) * length / diameter + fixed) * head
    fall += (1 + RAIN_CAP) * (flow / STACK_AREA) ** 2 / (2 * density)
    total_against_outdoors = fall - G * 11.0 * (outdoors - density)
    static = total_against_outdoors - (flow / CONNECTOR_AREA) ** 2 / (2 * density)
    room_gauge = G * (1.2 - 0.3) * (outdoors - room)
    by_hand = static - room_gauge

    assert 15 < fall < 40  # the case is no triviality: tens of pascals on both sides
    assert found.flow[:, 0] == pytest.approx(flow, rel=1e-3)
    assert found.downstream[:, 0] == pytest.approx(313.15, abs=1e-6)
    assert found.outlet_pressure[0, 0] == pytest.approx(by_hand, abs=0.1)


def test_twice_the_flow_four_times_the_loss():
    # Sections without length keep fittings and junctions only: no cooling, no draft, constant density. Along a
    # length the friction factor falls with the Reynolds number, so that a loss grows by less than four times.
    flat = {"length": Q_(0, "m"), "rise": Q_(0, "m")}
    plant = row_plant(3, header_mm=250.0)
    plant = with_sections(plant, **{s.name.replace(" ", "_"): flat for s in plant.sections})
    levels = tuple(FiringLevel(n, Q_(p, "kW"), 0.3, Q_(150, "degC")) for n, p in (("low", 100), ("high", 200)))
    plant = replace(plant, appliances=tuple(replace(a, levels=levels) for a in plant.appliances))
    low, high = (solve(plant, SEASONS, one_state([c] * 3)) for c in (1, 2))
    assert high.flow == pytest.approx(2 * low.flow, rel=1e-12)
    assert low.loss[low.row("stack"), 0] > 1.0 and low.pressure_up.max() > 5.0
    # At equal density: each section's gas is denser by its own gauge pressure, up to 32 Pa more of 101,325 Pa.
    denser = high.density / low.density
    assert high.loss * denser == pytest.approx(4 * low.loss, rel=1e-12)
    one, two = (0.5 * (f.pressure_up - f.head_up + f.pressure_down - f.head_down) for f in (low, high))
    assert denser == pytest.approx((low.barometric + two) / (low.barometric + one), rel=1e-7)
    assert high.pressure_up == pytest.approx(4 * low.pressure_up, rel=denser.max() - 1.0)
    long = with_sections(plant, stack={"length": Q_(20, "m")}, header_3={"fittings": ()})
    low, high = (solve(long, SEASONS, one_state([c] * 3)) for c in (1, 2))
    stack = low.row("stack")
    assert 3.7 < high.loss[stack, 0] / low.loss[stack, 0] < 3.99


def test_a_shut_outlet_feels_the_static_pressure_of_the_header():
    # What stands still in a branch takes the static pressure that passes its mouth: Gardel's -0.92 heads of the
    # combined stream at no branch flow, against -1 + 0.03 for the header's static pressure upstream of the tee.
    plant = row_plant(2, header_mm=250.0)
    found = solve(plant, SEASONS, one_state([2, 0]))
    idle, before, after = (found.row(n) for n in ("connector 2", "header 1", "header 2"))
    assert found.flow[idle, 0] == 0.0 and found.head[before, 0] > 3.0
    static_before = found.pressure_down[before, 0] - found.head[before, 0]
    assert found.pressure_down[idle, 0] == pytest.approx(static_before, abs=0.1 * found.head[before, 0])
    entering = found.pressure_up[after, 0]
    head = 0.5 * (found.flow[after, 0] / (math.pi * 0.25**2 / 4)) ** 2  # times volume per mass, below
    volume = found.velocity[after, 0] / (found.flow[after, 0] / (math.pi * 0.25**2 / 4))
    volume *= found.upstream[after, 0] / (0.5 * (found.upstream[after, 0] + found.downstream[after, 0]))
    assert found.pressure_down[idle, 0] - entering == pytest.approx(-0.92 * head * volume, rel=1e-3)
    # Up the shut connector stands gas at room temperature: its column hangs from there.
    outdoor = compile_network(plant, SEASONS).outdoor_density[0]
    gauge = 0.5 * (found.pressure_up[idle, 0] + found.pressure_down[idle, 0])  # of 101,325 Pa: 0.09 % lighter by it
    column = 9.80665 * 1.0 * outdoor * (1.0 - 253.15 / 293.15 * (1.0 + gauge / 101325.0))
    assert found.draft[idle, 0] == pytest.approx(column, rel=2e-3)
    assert found.pressure_up[idle, 0] == pytest.approx(found.pressure_down[idle, 0] - column, abs=0.01)


def test_gas_is_as_dense_as_the_pressure_in_the_vent_makes_it():
    # A run under 279 Pa of its own: the density follows from the ideal gas law at barometric plus gauge pressure.
    plant = row_plant(1, junction=None, header_mm=90.0, connector_mm=200.0, kilowatts=150.0)
    found, network = solve(plant, SEASONS, one_state([2])), compile_network(plant, SEASONS)
    row = found.row("header 1")
    static = 0.5 * (found.pressure_up[row, 0] + found.pressure_down[row, 0]) - found.head[row, 0]
    assert static > 200.0
    absolute = network.pressure * network.pipes[row].thin_air + static
    ideal = absolute / (network.gas[0][0, 0, 2] * found.downstream[row, 0])
    assert found.density[row, 0] == pytest.approx(ideal, rel=2e-5)


def test_static_pressure_at_an_end_is_total_less_the_head_of_the_gas_there():
    found = solve(row_plant(1, junction=None), SEASONS, one_state([2]))
    row = found.row("stack")
    area = math.pi * 0.3**2 / 4
    assert found.head_down[row, 0] == pytest.approx(0.5 * (found.flow[row, 0] / area) ** 2 / found.density[row, 0])
    ratio = found.head_up[row, 0] / found.head_down[row, 0]
    assert ratio == pytest.approx(found.upstream[row, 0] / found.downstream[row, 0], rel=1e-9)
