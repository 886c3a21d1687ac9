"""Shut off: flue gas through a flap that sticks open, by the law of a leak; nothing where the vent draws."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.gas.appliance import assumed_leak
from ventcalc.job import shut_off
from ventcalc.units import Q_
from ventcalc.vent import firing_states, reversal


def scanned(**plant):
    return firing_states.scan(row_plant(3, **plant), SEASONS)


@pytest.fixture(scope="module")
def pressed():
    """A narrow short vent, which presses on whatever stands idle."""
    return scanned(header_mm=200.0, stack_height=3.0)


def test_what_comes_through_a_stuck_flap_follows_the_law_of_its_leak(pressed):
    found = shut_off.shut_off(pressed)
    assert found.appliances == tuple(a.name for a in pressed.plant.appliances)
    a = next(a for a in pressed.plant.appliances if a.name == found.worst)
    leak = assumed_leak(a.fuel, a.levels)
    # Pressure goes with the square of flow (definition of a resistance). The vent gives way a little where some gas
    # leaves it, so that less comes than its pressure on a shut flap would drive, and no less than half of it would.
    season = pressed.seasons[pressed.states.season[found.state]]
    density = 1.01325e5 / (287.05 * season.room.m_as("K"))  # of dry air
    most = density * float(leak.flow.m_as("m**3/s")) * np.sqrt(found.pressure / float(leak.pressure.m_as("Pa")))
    assert np.sqrt(0.5) * most < found.flow < 1.02 * most
    assert 0.99 * found.flow < found.flue_gas <= found.flow  # no purge thins it


def test_it_is_what_a_leaking_appliance_lets_back(pressed):
    found, plant = shut_off.shut_off(pressed), pressed.plant
    i = [a.name for a in plant.appliances].index(found.worst)
    a = plant.appliances[i]
    stuck = replace(a, idle="leaking", leak=assumed_leak(a.fuel, a.levels))
    other = replace(plant, appliances=(*plant.appliances[:i], stuck, *plant.appliances[i + 1 :]))
    gas, _ = reversal.flue_gas_in_room(firing_states.scan(other, SEASONS))
    assert found.flue_gas == pytest.approx(gas[i].max(), rel=1e-3)


def test_a_vent_under_draft_and_an_open_hood_have_nothing_to_shut_off():
    assert shut_off.shut_off(scanned(header_mm=500.0, stack_height=20.0)) is None
    assert shut_off.shut_off(scanned(idle="leaking", header_mm=200.0, stack_height=3.0)) is None
    alone = row_plant(1, header_mm=150.0, stack_height=3.0)
    wide = replace(alone.appliances[0], window=(Q_(-25, "Pa"), Q_(500, "Pa")))
    assert shut_off.shut_off(firing_states.scan(replace(alone, appliances=(wide,)), SEASONS)) is None
