"""Boundary conditions: wind by cases, rooms and places of their own, a cold shaft by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from independent_network import Vent
from sample_plants import (
    SEASONS,
    all_states,
    one_state,
    random_tree,
    row_plant,
    some_states,
    with_sections,
)
from sample_stacks import G, R, straight_stack

from ventcalc.flow.wind import Exposure, Way, wind_cases
from ventcalc.gas.combustion import products
from ventcalc.units import Q_
from ventcalc.vent import solution
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Place, Termination
from ventcalc.vent.network import PlaceAir, Season, compile_network
from ventcalc.vent.states import States

ARRAYS = (*solution._OF_SECTIONS, *solution._OF_APPLIANCES, *solution._OF_STATES)


def test_wind_and_room_pressure_shift_the_outlets():
    # Sealed appliances prescribe every flow, so both only shift the datum: wind at the cap, the room at the gauge.
    season = Season("calm", Q_(0, "degC"), Q_(20, "degC"), wind=Q_(8, "m/s"))
    pulled = replace(season, room_pressure=Q_(-12, "Pa"))
    plant = replace(row_plant(3), terminations=(Termination("top", "wall terminal"),))
    states = all_states(plant, seasons=1)
    calm, windy = (solve(plant, (season,), replace(states, windy=states.windy | w)) for w in (False, True))
    below = solve(plant, (pulled,), states)
    head = 0.5 * compile_network(plant, (season,)).outdoor_density[0] * 8.0**2  # Bernoulli
    # Pressed by these 33 of 101,325 Pa the gas is 0.03 % heavier: of 90 Pa of column and 30 Pa of loss 0.1 Pa at most.
    shifted = windy.outlet_pressure - calm.outlet_pressure
    assert shifted == pytest.approx(np.full((3, 27), 0.8 * head), abs=0.1)  # wall: +0.8
    assert below.outlet_pressure - calm.outlet_pressure == pytest.approx(np.full((3, 27), 12.0))
    assert np.array_equal(windy.flow, calm.flow) and np.array_equal(below.flow, calm.flow)


def in_wind(plant, **exposure):
    return replace(plant, exposure=Exposure(**exposure))


def test_a_sealed_burners_outlet_moves_by_the_difference_of_coefficients():
    """By hand: its flow is prescribed, so in wind the outlet moves by (terminal - room) rho U^2 / 2, no more."""
    ends = (Termination("top", "open end", "near roof"),)
    plant = in_wind(replace(row_plant(2), terminations=ends), ways=(Way(0.1, "east"),), pitch="below 10")
    cases = wind_cases(plant.exposure, [("open end", "near roof", None)])
    codes = np.full((2, 4), 2)
    states = States(codes, np.zeros(4, int), np.zeros(4), np.array([0, 1, 1, 1]), np.array([0, 0, 1, 2]))
    found = solve(plant, SEASONS, states)
    head = 0.5 * compile_network(plant, SEASONS).outdoor_density[0] * 5.0**2  # winter's wind is 5 m/s
    moved = found.outlet_pressure - found.outlet_pressure[:, :1]
    # But for what a gauge pressure of 16 Pa of 101,325 makes the gas heavier: 0.03 Pa of a column of 170.
    for case in range(3):
        expected = (cases.terminal[0, case] - cases.room[case]) * head
        assert moved[:, case + 1] == pytest.approx(expected, abs=0.03)
    # Down-draft on the open end (+0.43), the opening in the wake of the side (-0.5): 16 Pa in 5 m/s.
    assert moved[0, 2] == pytest.approx(0.93 * head, abs=0.03) and 15.0 < moved[0, 2] < 17.0
    assert found.room_gauge[0, 2] - found.room_gauge[0, 0] == pytest.approx(-0.5 * head)


def test_a_hood_feels_the_wind_through_terminal_and_room():
    # Against the vent it draws less than in calm, with the vent more; the same through the sum of both as through one.
    plant = in_wind(row_plant(1, kind="draft hood"))
    states = States(np.full((1, 3), 2), np.ones(3, int), np.zeros(3), np.array([0, 1, 1]), np.array([0, 1, 2]))
    drawn = solve(plant, SEASONS, states).drawn[0]
    assert drawn[1] < drawn[0] < drawn[2]
    network = compile_network(plant, SEASONS)
    gap = (network.terminal_wind[-1, 2] - network.room_wind[2]) * network.wind_head[1]
    pushed = (replace(SEASONS[1], room_pressure=Q_(-gap, "Pa"), wind=Q_(0, "m/s")),)
    alone = States(np.full((1, 1), 2), np.zeros(1, int), np.zeros(1), np.zeros(1))
    # The gas is denser by the pressure that stands on its end: 1e-4 of the flow.
    assert solve(plant, pushed, alone).drawn[0, 0] == pytest.approx(drawn[2], rel=2e-4)


def test_states_without_cases_do_not_see_the_exposure():
    plant, states = row_plant(3, kind="draft hood"), some_states(row_plant(3), 60, 4)
    one, other = (solve(p, SEASONS, states) for p in (plant, in_wind(plant)))
    for name in ARRAYS:
        assert np.array_equal(getattr(one, name), getattr(other, name))
    with pytest.raises(ValueError, match="wind cases must be 0 to 0; a plant without exposure has only the first"):
        solve(plant, SEASONS, replace(states, wind_case=np.ones(60, int)))


def test_gusts_and_half_winds_scale_both_ends():
    plant = in_wind(row_plant(1))
    share = np.array([0.0, 0.5, 1.0, 1.5])
    states = States(np.full((1, 4), 2), np.zeros(4, int), np.zeros(4), share, np.ones(4, int))
    outlet = solve(plant, SEASONS, states).outlet_pressure[0]
    assert outlet - outlet[0] == pytest.approx(share * (outlet[2] - outlet[0]), abs=1e-6)


SHAFT = (Place("shaft"),)


def with_air(*air):
    return tuple(replace(s, places=air) for s in SEASONS)


def test_a_place_like_the_room_is_the_room():
    plant, states = row_plant(3, kind="barometric"), some_states(row_plant(3), 60, 8)
    named = replace(plant, places=(Place("cellar"),))
    named = with_sections(named, header_1={"place": "cellar"}, connector_2={"place": "cellar"})
    air = tuple(replace(s, places=(PlaceAir("cellar", s.room, s.room_pressure),)) for s in SEASONS)
    one, other = solve(plant, SEASONS, states), solve(named, air, states)
    for name in ARRAYS:
        assert np.array_equal(getattr(one, name), getattr(other, name))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, pytest.param(7, marks=pytest.mark.sweep)])
def test_random_trees_in_places_and_wind_against_an_independent_solver(seed):
    """Sections in a shaft, appliances in two rooms, wind against the vent and with it."""
    tree = random_tree(seed)
    tree = replace(
        tree, places=(Place("shaft"), Place("attic", Q_(6, "m"))), exposure=Exposure("sheltered", "above 30")
    )
    tree = replace(
        tree,
        sections=tuple(replace(s, place="shaft") if k % 3 == 0 else s for k, s in enumerate(tree.sections)),
        appliances=tuple(replace(a, room="attic") if k % 2 else a for k, a in enumerate(tree.appliances)),
    )
    air = with_air(PlaceAir("shaft", Q_(2, "degC")), PlaceAir("attic", Q_(12, "degC"), Q_(2, "Pa")))
    states = some_states(tree, 30, seed)
    states = replace(states, wind_case=np.where(states.windy, 1 + np.arange(30) % 2, 0))
    found, vent = solve(tree, air, states), Vent(tree, air)
    cases = wind_cases(tree.exposure, [(t.cap, t.place, t.side) for t in tree.terminations])
    assert found.converged.all()
    agreed = 0
    for k in range(len(states)):
        case = int(states.wind_case[k])
        wind = (cases.terminal[0, case], cases.room[case])
        state = vent.state(states.codes[:, k], states.season[k], states.cold[k], states.windy[k], wind)
        own = state.at(found.drawn[:, k])
        assert max((abs(v) for v in state.residual(found.drawn[state.free, k])), default=0.0) < 1e-3
        outlets = [own.outlet_pressure(i) for i in range(len(tree.appliances))]
        assert found.outlet_pressure[:, k] == pytest.approx(outlets, abs=0.01)
        drawn, worst, _ = state.solve() if k % 3 == 0 else (None, np.inf, 0)
        if worst < 1e-4:
            flowing = state.at(drawn)
            others = [flowing.outlet_pressure(i) for i in range(len(drawn))]
            agreed += found.outlet_pressure[:, k] == pytest.approx(others, abs=0.01)
    assert agreed >= 7  # of 10


def test_a_cold_shaft_by_hand():
    """10 m of stack in a shaft at 0 degC: cooling towards the shaft by exp(-UA/mc), draft from the mean by hand.

    Film and wall of the stack as the network has them; the inner film is taken from what the run in the room shows.
    """
    boiler = straight_stack(120.0, "room")
    shaft = with_sections(replace(boiler, places=SHAFT), stack={"place": "shaft"})
    cold = with_air(PlaceAir("shaft", Q_(0, "degC")))
    inside, cooled = solve(boiler, SEASONS, one_state([1])), solve(shaft, cold, one_state([1]))
    row = inside.row("stack")
    top = inside.upstream[row, 0]
    assert cooled.upstream[row, 0] == pytest.approx(top, abs=1e-9)
    left = (inside.downstream[row, 0] - 293.15) / (top - 293.15)  # exp(-UA/mc) of the same pipe in the room at 20 degC
    assert (cooled.downstream[row, 0] - 273.15) / (top - 273.15) == pytest.approx(left, rel=2e-3)
    number = -math.log(left)
    mean = 273.15 + (top - 273.15) * (1.0 - left) / number
    network, constant = compile_network(shaft, cold), R / products(boiler.appliances[0].fuel, 0.25).gas.molar_mass
    density = network.pressure / (constant * mean)
    by_hand = G * 10.0 * (network.outdoor_density[0] * network.pipes[row].thin_air - density)
    # The gas's own density falls with height as the air's does: within 1 % of the draft (and moisture in the air).
    assert cooled.draft[row, 0] == pytest.approx(by_hand, rel=0.015)
    assert cooled.draft[row, 0] < inside.draft[row, 0]


def test_an_appliance_upstairs_is_judged_against_its_own_room():
    """By hand: a sealed burner's vent does not know its room, so its outlet moves by the two rooms' difference."""
    plant, states = row_plant(2), one_state([2, 2])
    attic = replace(plant, places=(Place("attic", Q_(9, "m")),), appliances=(
        plant.appliances[0], replace(plant.appliances[1], room="attic")))  # fmt: skip
    cool = with_air(PlaceAir("attic", Q_(5, "degC"), Q_(-4, "Pa")))
    one, other = solve(plant, SEASONS, states), solve(attic, cool, states)
    network = compile_network(attic, cool)
    outdoors, own = network.outdoor_density[0], network.pressure / (287.05 * 278.15)
    attic_gauge = -4.0 + G * (outdoors - own) * (1.5 - 9.0)
    assert other.room_gauge[1, 0] == pytest.approx(attic_gauge, abs=0.05)  # the moisture of the air left out
    assert other.room_gauge[0, 0] == one.room_gauge[0, 0]
    gauge = other.outlet_pressure[1, 0] + other.room_gauge[1, 0]
    # Combustion air of the same moisture: the flue gas is the same, and so is the pressure in the vent.
    assert gauge == pytest.approx(one.outlet_pressure[1, 0] + one.room_gauge[1, 0], abs=1e-6)


def test_a_hood_upstairs_draws_the_air_of_its_room():
    plant = replace(row_plant(1, kind="draft hood"), places=(Place("attic"),))
    plant = replace(plant, appliances=(replace(plant.appliances[0], room="attic"),))
    cool = with_air(PlaceAir("attic", Q_(5, "degC")))
    found = solve(plant, cool, one_state([0]))
    assert found.drawn[0, 0] > 0.0 and found.upstream[0, 0] == pytest.approx(278.15, abs=1e-3)
    same = tuple(replace(s, room=Q_(5, "degC")) for s in SEASONS)
    lone = replace(row_plant(1, kind="draft hood"))
    lone = with_sections(lone, connector_1={"place": "outdoors"}, header_1={"place": "outdoors"})
    there = with_sections(plant, connector_1={"place": "outdoors"}, header_1={"place": "outdoors"})
    for name in ARRAYS:  # one room or the other of the same name but for its label
        assert getattr(solve(there, cool, one_state([2])), name) == pytest.approx(
            getattr(solve(lone, same, one_state([2])), name), rel=1e-12, abs=1e-12
        )


def test_a_season_that_forgets_a_place_is_refused():
    shaft = with_sections(replace(row_plant(1), places=SHAFT), stack={"place": "shaft"})
    with pytest.raises(ValueError, match="season winter: the temperature of the place 'shaft' is missing"):
        solve(shaft, SEASONS, one_state([1]))


def test_a_burner_between_two_levels_sends_a_mixture_of_both_by_mass():
    """By hand: a quarter of the way from low to high, 0.75 of the one flow and 0.25 of the other."""
    plant = row_plant(1)
    network = compile_network(plant, SEASONS)
    between = Boundary(network, States(np.array([[1.25]]), np.zeros(1, int), np.zeros(1), np.zeros(1)))
    low, high = (0.75 * network.prescribed[0][0, 1], 0.25 * network.prescribed[0][0, 2])
    share = high / (low + high)
    assert between.prescribed[0] == pytest.approx(low + high)
    ends = [network.temperature[0][0, k] for k in (1, 2)]
    assert between.temperature[0] == pytest.approx((1.0 - share) * ends[0] + share * ends[1])
    gases = [network.gas[0][:, 0, k] for k in (1, 2)]
    assert between.gas[0][:, 0] == pytest.approx((1.0 - share) * gases[0] + share * gases[1])


def test_a_burner_between_two_levels_is_so_beside_others_that_are_at_one():
    """Each state sends what it sends alone."""
    network, codes = compile_network(row_plant(1), SEASONS), np.array([[1.25, 2.0, 0.0, 1.75]])

    def sent(codes):
        count = codes.shape[1]
        of = Boundary(network, States(codes, np.zeros(count, int), np.zeros(count), np.zeros(count)))
        return np.array([of.prescribed[0], of.temperature[0]])

    alone = np.concatenate([sent(codes[:, [k]]) for k in range(4)], axis=1)
    assert sent(codes) == pytest.approx(alone) and np.unique(alone[0]).size == 4


@pytest.mark.parametrize("seed", [2, 9])
def test_states_that_are_alike_have_the_same_burners_before_a_section(seed):
    """What passes a section of a vent without hoods hangs on the burners before it, the season and the walls alone."""
    plant = row_plant(4)
    states = some_states(plant, 300, seed)
    like = Boundary(compile_network(plant, SEASONS), states)._like()
    assert like.shape == (len(plant.order), 300)
    for row, section in enumerate(plant.order):
        before = [k for k, a in enumerate(plant.appliances) if section in plant.path(a.name)]
        kinds = [(*states.codes[before, k], states.season[k], states.cold[k]) for k in range(300)]
        assert [kinds.index(kind) for kind in kinds] == like[row].tolist(), section.name
