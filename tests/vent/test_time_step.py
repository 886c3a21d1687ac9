"""Time step: gas arrives when its volume has flowed; finer steps change little."""

import numpy as np
import pytest
from sample_plants import SEASONS
from sample_runs import ADIABATIC, FORCED, FROZEN, PLANTS, STILL, course, front_arrival, lit, mixed_codes, one_pipe

from ventcalc.gas import streams
from ventcalc.vent import transient
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import run


def test_a_front_arrives_when_its_volume_has_flowed():
    plant = one_pipe()
    result = run(plant, (STILL,), course([[0, 1, 1]], [0, 0.1, 12]), stride=0.1, method=ADIABATIC)
    volume = np.pi / 4 * 0.25**2 * 15.0
    gas = compile_network(plant, (STILL,))
    flow = gas.prescribed[0][0, 1] * gas.gas[0][streams.GAS_R, 0, 1] * 473.15 / 101325.0
    # The last cell's middle lies a quarter of a meter before the end; the ramp costs half its time.
    assert front_arrival(result) == pytest.approx(volume / flow * (14.75 / 15.0) + 0.05, rel=0.02)
    assert result.downstream[0, -1, 0] == pytest.approx(473.15, abs=0.1)
    assert result.downstream[0].max() < 473.25  # no front overshoots


def test_finer_cells_and_steps_change_little():
    starts_of = course([[0, 1, 1], [0, 0, 2], [0, 0, 0]], [0, 2, 30], [0, 0, 0])
    coarse, fine = (
        run(FORCED, SEASONS, starts_of, stride=0.2, method=m)
        for m in (Method(), Method(cell=0.25, step=0.025, walls=20))
    )
    # Where a ramp begins or ends the acceleration jumps, and a step of 0.1 s shows it up to one step late.
    away = np.abs(coarse.time - 2.0) > 0.3
    # Found 0.64 Pa at worst, where water settles.
    assert np.abs(coarse.outlet_pressure - fine.outlet_pressure)[:, away].max() < 0.7


def test_a_fan_is_a_pressure_added():
    row = FORCED.row("stack")
    added = np.zeros((len(FORCED.order), 3))
    added[row] = 30.0
    codes = mixed_codes(FORCED)
    given = lit(FORCED, codes, 150.0, (0, 1, 0))
    result = run(FORCED, SEASONS, given, added, stride=1.0, method=FROZEN)
    states = States(codes, given.season, np.ones(3), np.zeros(3))
    steady = solve(FORCED, SEASONS, states, added)
    # To the same as without it: see the frozen walls above.
    assert result.outlet_pressure[:, -1] == pytest.approx(steady.outlet_pressure, abs=1.2)
    assert result.pressure_down[row, -1] == pytest.approx(steady.pressure_down[row], abs=0.5)


def test_it_does_not_matter_in_how_many_chunks_steps_are_taken(monkeypatch):
    given = course([[2, 2, 0, 0], [0, 1, 1, 1], [0, 1, 1, 1]], [0, 4, 6, 10], [2, 0, 0], cold=0.0)
    whole = run(PLANTS["hoods"], SEASONS, given)
    monkeypatch.setattr(transient, "CHUNK", 7)
    parts = run(PLANTS["hoods"], SEASONS, given)
    for name in ("outlet_pressure", "drawn", "spilled", "downstream", "energy_stored", "energy_left"):
        np.testing.assert_allclose(getattr(parts, name), getattr(whole, name), rtol=1e-12, atol=1e-12, err_msg=name)
