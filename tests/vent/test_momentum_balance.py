"""Momentum balance: gas that is accelerated, rises and rubs, by hand."""

import numpy as np
import pytest
from sample_runs import ADIABATIC, STILL, course, one_pipe

from ventcalc.flow import friction
from ventcalc.gas import streams
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States
from ventcalc.vent.transient import run

G = 9.80665


def test_a_rising_plug_makes_its_draft():
    # Wide and slow: heads are below 0.2 Pa, so the outlet shows the draft of what has risen so far.
    plant = one_pipe(millimeters=700.0)
    result = run(plant, (STILL,), course([[0, 1, 1]], [0, 0.1, 60]), method=ADIABATIC)
    network = compile_network(plant, (STILL,))
    flow = network.prescribed[0][0, 1]
    hot = 101325.0 / (network.gas[0][streams.GAS_R, 0, 1] * 473.15)
    climbed = np.minimum(flow / hot / (np.pi / 4 * 0.7**2) * (result.time - 0.05), 15.0)
    draft = G * climbed * (network.outdoor_density[0] - hot)
    assert climbed[-1] == 15.0 and draft[-1] > 60.0
    gap = np.abs(result.outlet_pressure[0, :, 0] + draft)[result.time > 2.0]
    leaving = np.abs(climbed - 15.0)[result.time > 2.0] < 1.5
    assert gap[~leaving].max() < 0.4
    assert gap[(result.time > 38.0)[result.time > 2.0]].max() < 0.2
    assert gap.max() < 2.2  # while the front, four cells wide, passes the end


def test_a_column_of_air_has_to_be_accelerated():
    # A purge with air as warm as that in the vent: no draft, and at the very first no friction either.
    plant = one_pipe(length=40.0, rise=0.0, purge=Q_(0.2, "m**3/s"))
    result = run(plant, (STILL,), course([[0, 1, 1]], [0, 2, 4]), stride=0.1, method=ADIABATIC)
    network = compile_network(plant, (STILL,))
    per_second = network.prescribed[0][0, 1] / 2.0
    assert result.outlet_pressure[0, 1, 0] == pytest.approx(40.0 / (np.pi / 4 * 0.25**2) * per_second, rel=0.03)
    after = result.outlet_pressure[0, result.time > 2.1, 0]
    steady = solve(plant, (STILL,), States(np.array([[1]]), np.array([0]), np.array([True]), np.array([False])))
    assert after == pytest.approx(steady.outlet_pressure[0, 0], abs=0.05)


def test_friction_of_a_steady_purge_by_hand():
    # Darcy-Weisbach with the exit's own head, in a level pipe of air as warm as its surroundings.
    plant = one_pipe(length=40.0, rise=0.0, purge=Q_(0.3, "m**3/s"))
    result = run(plant, (STILL,), course([[0, 1, 1]], [0, 1, 5]), method=ADIABATIC)
    air = compile_network(plant, (STILL,))
    swift, density = 0.3 / (np.pi / 4 * 0.25**2), air.room_density[0]
    viscosity = 1.77e-5  # Pa s, dry air at 10 degC, CRC Handbook (from memory)
    roughness = 0.001 / 0.25
    factor = friction.friction_factor.bare(density * swift * 0.25 / viscosity, roughness)
    by_hand = 0.5 * density * swift**2 * factor * 40.0 / 0.25
    assert result.outlet_pressure[0, -1, 0] == pytest.approx(by_hand, rel=0.01)
