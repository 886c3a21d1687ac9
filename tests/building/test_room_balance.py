"""Room balance: what comes in and goes out by its parts, burners and fans, in every state."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant
from sample_rooms import room, states
from scipy.optimize import brentq

from ventcalc.building import room_air, room_pressure
from ventcalc.building.room_balance import RoomBalance
from ventcalc.draft import fan_curve, fan_table
from ventcalc.units import Q_
from ventcalc.vent import firing_states
from ventcalc.vent.layout import Place
from ventcalc.vent.network import PlaceAir, compile_network


@pytest.mark.slow
def test_room_is_in_balance_in_every_state():
    plant = row_plant(3, "draft hood", celsius=180.0)
    scan = firing_states.scan(plant, SEASONS)
    for share in (0.0, 1.0):
        found = room_pressure.coupled(plant, SEASONS, scan.states, room(), share)
        assert found.balanced.all()
        into = found.openings.sum(axis=0) + found.leakage + found.supply
        out = found.exhausts.sum(axis=0) + found.burners.sum(axis=0) + found.solution.drawn.sum(axis=0)
        assert np.abs(into - out).max() < 1e-4  # kg/s, of some 0.5
        assert found.solution.states is scan.states and found.solution.seasons == SEASONS
    assert (found.exhausts > 0.2).all()


def test_appliances_with_their_own_air_take_none_from_the_room():
    plant, state = row_plant(2), states(row_plant(2), 2, 2)
    own = room_pressure.coupled(plant, SEASONS, state, room(exhausts=(), sealed=("B1", "B2")))
    shared = room_pressure.coupled(plant, SEASONS, state, room(exhausts=()))
    assert own.pressure[0] == pytest.approx(0.0, abs=1e-3) and own.burners.sum() == 0.0
    assert shared.pressure[0] < -0.5 and shared.burners.sum() > 0.15


def test_modulating_burner_takes_air_in_between():
    plant = row_plant(1)
    low, middle, high = (
        room_pressure.coupled(plant, SEASONS, states(plant, c), room()).burners[0, 0] for c in (1.0, 1.5, 2.0)
    )
    assert middle == pytest.approx(0.5 * (low + high), rel=1e-9)


def test_purging_fan_takes_room_air():
    plant = row_plant(1)
    purging = replace(plant, appliances=(replace(plant.appliances[0], purge_flow=Q_(200, "cfm")),))
    found = room_pressure.coupled(purging, SEASONS, states(purging, 1), room())
    inside = compile_network(purging, SEASONS).room_density[0]
    assert found.burners[0, 0] == pytest.approx(Q_(200, "cfm").m_as("m**3/s") * inside, rel=1e-9)


def test_supply_that_equals_the_exhaust_leaves_the_room_alone():
    plant = row_plant(1)
    network = compile_network(plant, SEASONS)
    same_mass = float(network.room_density[0] / network.outdoor_density[0])
    found = room_pressure.coupled(plant, SEASONS, states(plant, 0), room(supply=Q_(500 * same_mass, "cfm")))
    assert found.pressure[0] == pytest.approx(0.0, abs=1e-4)


def test_exhaust_fan_with_a_curve_gives_way():
    # Its flow is where its static pressure meets that of its duct and the room's: static(q) = K q2 - p.
    fan = next(f for f in map(fan_table.fan, fan_table.names("in-line")))
    speed, free = 1.0, fan.free_flow
    flow = Q_(0.5 * (fan.stall_flow.m_as("m**3/s") + free), "m**3/s")
    exhaust = room_air.Exhaust("curve", flow, fan, speed)
    plant = row_plant(1)
    tight = room(openings=(), leakage=room_air.Leakage(0.5 * flow), exhausts=(exhaust,))
    found = room_pressure.coupled(plant, SEASONS, states(plant, 0), tight)
    inside = compile_network(plant, SEASONS).room_density
    density = float(inside[0])
    taken = found.exhausts[0, 0] / density
    static = lambda q: fan_curve.static_pressure.bare(fan, q, speed, density)  # noqa: E731
    duct = static(flow.m_as("m**3/s")) / flow.m_as("m**3/s") ** 2
    root = brentq(lambda q: static(q) - duct * q * q + found.pressure[0], fan.stall_flow.m_as("m**3/s"), free)
    assert found.balanced.all() and taken < flow.m_as("m**3/s")
    assert taken == pytest.approx(root, rel=2e-3)  # interpolated in a table of 120 flows
    with pytest.raises(ValueError, match="free flow"):
        room_air.Exhaust("too much", Q_(1.1 * free, "m**3/s"), fan)


def test_an_appliance_in_another_room_takes_no_air_of_this_one():
    plant = replace(row_plant(2), places=(Place("attic"),))
    apart = replace(plant, appliances=(plant.appliances[0], replace(plant.appliances[1], room="attic")))
    air = tuple(replace(s, places=(PlaceAir("attic", s.room),)) for s in SEASONS)
    both, one = (room_pressure.coupled(p, air, states(p, 2, 2), room(exhausts=())) for p in (plant, apart))
    assert one.burners[1, 0] == 0.0 and both.burners[1, 0] > 0.0 and one.pressure[0] > both.pressure[0]
    assert room_air.inputs(apart, room())[1] == 0.5 * room_air.inputs(plant, room())[1]


def balance(air, plant=None):
    """The ways in and out of a room in the first season, all boilers off."""
    plant = plant or row_plant(1)
    return RoomBalance(compile_network(plant, SEASONS), states(plant, *[0] * len(plant.appliances)), air, 1.0)


def test_two_openings_and_the_level_between_them_by_hand():
    """Warm room, cold air: it comes in low and leaves high, C A sqrt(2 rho dp) with the density of what flows.

    So the pressures across the two share g H (rho_out - rho_in) as rho_in to rho_out.
    """
    ways = tuple(room_air.Opening(n, Q_(0.06, "m**2"), level=Q_(h, "m")) for n, h in (("low", 0.5), ("high", 5.5)))
    of = balance(room(openings=ways, leakage=None, exhausts=()))
    outside, inside = float(of.outdoor[0]), float(of.inside[0])
    low = 9.80665 * 5.0 * (outside - inside) * inside / (outside + inside)
    flows = of.parts(of.alone())[0][:, 0]
    free = float(ways[0].free.m_as("m**2"))
    by_hand = ways[0].coefficient * free * np.sqrt(2.0 * outside * low)
    assert flows == pytest.approx([by_hand, -by_hand], rel=1e-3)


def test_leakage_by_the_power_law_of_a_door_test_by_hand():
    """Q = Q0 (dp / dp0)^n, outdoor air in and room air out: 10 Pa of 50 and an exponent of 0.65."""
    leak = room_air.Leakage(Q_(0.25, "m**3/s"), Q_(50, "Pa"), 0.65)
    of = balance(room(openings=(), leakage=leak, exhausts=()))
    found = [float(of.parts(np.array([p]))[1][0]) for p in (-10.0, 10.0)]
    flow = 0.25 * (10.0 / 50.0) ** 0.65
    assert found == pytest.approx([flow * of.outdoor[0], -flow * of.inside[0]], rel=1e-6)


def test_two_exhaust_fans_abreast_take_twice_what_one_takes():
    fan = next(f for f in map(fan_table.fan, fan_table.names("in-line")))
    flow = Q_(0.5 * (fan.stall_flow.m_as("m**3/s") + fan.free_flow), "m**3/s")
    one = balance(room(exhausts=(room_air.Exhaust("one", flow, fan, 0.9),)))
    two = balance(room(exhausts=(room_air.Exhaust("two", 2 * flow, replace(fan, abreast=2), 0.9),)))
    for pressure in (-400.0, -60.0, 0.0, 20.0):  # at the first the fan is at its stall
        taken = [of.parts(np.array([pressure]))[3][0, 0] for of in (one, two)]
        assert taken[1] == pytest.approx(2.0 * taken[0], rel=1e-9) and taken[0] > 0.0


def test_the_slope_of_the_balance_is_that_of_its_flows():
    """By central differences, in and out, but at nought, where air turns and its density jumps."""
    of = balance(room(exhausts=()))
    drawn = np.zeros((1, 1))
    for pressure in (-40.0, -0.3, -1e-3, 7e-4, 25.0):
        (ahead, _), (behind, _) = (of.net(np.array([pressure + d]), drawn) for d in (1e-6, -1e-6))
        slope = of.net(np.array([pressure]), drawn)[1]
        assert slope == pytest.approx((ahead - behind) / 2e-6, rel=1e-4), pressure
