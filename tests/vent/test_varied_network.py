"""Varied network: what is not varied stays as it is, and each variant is what it would be if drawn so."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, row_plant

from ventcalc.flow import junctions
from ventcalc.flow.wind import Exposure
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve, solve_network
from ventcalc.vent.network import compile_network
from ventcalc.vent.varied_network import of_variants, unvaried, varied

PLANT = row_plant(2, idle="leaking")
NETWORK = compile_network(PLANT, SEASONS)
STATES = all_states(PLANT, windy=True)


def solved(by, plant=PLANT, states=STATES):
    """Outlet pressures (variants, appliances, states) of a variation."""
    every = np.arange(len(states))
    variants, columns = np.repeat(np.arange(by.count), every.size), np.tile(every, by.count)
    network = compile_network(plant, SEASONS)
    found = solve_network(varied(network, by), of_variants(states, variants, columns, len(SEASONS)))
    assert found.converged.all()
    return found.outlet_pressure.reshape(len(plant.appliances), by.count, -1).transpose(1, 0, 2)


@pytest.mark.parametrize(
    "plant", [PLANT, replace(PLANT, exposure=Exposure()), row_plant(2), row_plant(2, "draft hood")]
)
def test_what_is_not_varied_is_as_it_was_to_the_last_digit(plant):
    states = STATES
    if plant.exposure is not None:
        states = replace(states, wind_case=np.ones(len(states), int))
    alone = solve(plant, SEASONS, states).outlet_pressure
    for pressure in solved(unvaried(compile_network(plant, SEASONS), 2), plant, states):
        assert np.array_equal(pressure, alone)


def test_a_variant_with_another_roughness_is_the_vent_drawn_with_it():
    rough = [replace(s, material=replace(s.material, roughness=3.0 * s.material.roughness)) for s in PLANT.sections]
    by = unvaried(NETWORK, 2)
    by.roughness[:, 1] = 3.0
    alone = solve(replace(PLANT, sections=tuple(rough)), SEASONS, STATES).outlet_pressure
    assert solved(by)[1] == pytest.approx(alone, abs=1e-3)


def test_a_variant_with_another_wall_is_the_vent_drawn_with_it():
    warm = [replace(s, material=replace(s.material, wall_resistance=2.0 * s.material.wall_resistance))
            for s in PLANT.sections]  # fmt: skip
    by = unvaried(NETWORK, 3)
    by.wall[:, 2] = 2.0
    alone = solve(replace(PLANT, sections=tuple(warm)), SEASONS, STATES).outlet_pressure
    found = solved(by)
    assert found[2] == pytest.approx(alone, abs=1e-3)
    assert np.abs(found[2] - found[0]).max() > 0.1


def test_a_variant_in_a_room_under_pressure_is_that_season():
    by = unvaried(NETWORK, 2)
    by.place_added[0, 1] = -4.0
    seasons = tuple(replace(s, room_pressure=s.room_pressure - Q_(4.0, "Pa")) for s in SEASONS)
    assert solved(by)[1] == pytest.approx(solve(PLANT, seasons, STATES).outlet_pressure, abs=1e-3)


def test_a_variant_that_leaks_more_is_the_appliance_that_does():
    by = unvaried(NETWORK, 2)
    by.leak[:, 1] = 2.0
    leaky = tuple(replace(a, leak=replace(a.leak, flow=2.0 * a.leak.flow)) for a in PLANT.appliances)
    alone = solve(replace(PLANT, appliances=leaky), SEASONS, STATES).outlet_pressure
    assert solved(by)[1] == pytest.approx(alone, abs=1e-3)


def test_junctions_by_another_form_are_those_drawn_so():
    """Straight tees in place of laterals, one variant of two."""
    tees = row_plant(2, idle="leaking", junction="straight tee")
    others = compile_network(tees, SEASONS).pipes
    forms = {
        row: junctions.Coefficients(*(np.array(pair, float) for pair in zip(pipe.form, others[row].form, strict=True)))
        for row, pipe in enumerate(NETWORK.pipes)
        if pipe.form is not None
    }
    found = solved(replace(unvaried(NETWORK, 2), forms=forms))
    for variant, plant in enumerate((PLANT, tees)):
        assert found[variant] == pytest.approx(solve(plant, SEASONS, STATES).outlet_pressure, abs=1e-3)


def test_friction_wind_and_cap_push_the_way_they_must():
    by = unvaried(NETWORK, 4)
    by.friction[1] = by.end_loss[:, 2] = 1.5
    by.terminal[:, 3] = 0.3
    same, *worse = solved(by)
    runs = (STATES.codes > 0).all(axis=0)
    assert all((pressure[:, runs] >= same[:, runs] - 1e-6).all() for pressure in worse[:2])
    # With every burner on the flows are given, so that the terminal's pressure goes through the vent whole.
    head = NETWORK.wind_head[STATES.season[runs]]
    assert (worse[2] - same)[0, runs] == pytest.approx(0.3 * head, rel=0.01, abs=1e-3)
    # So it does where wind goes by cases of the building's exposure.
    exposed = replace(PLANT, exposure=Exposure())
    states = replace(STATES, wind_case=np.ones(len(STATES), int))
    by = unvaried(compile_network(exposed, SEASONS), 2)
    by.terminal[:, 1] = 0.3
    same, pushed = solved(by, exposed, states)
    assert (pushed - same)[0, runs] == pytest.approx(0.3 * head, rel=0.01, abs=1e-3)
