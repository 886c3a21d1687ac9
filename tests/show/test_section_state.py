"""Section state: what stands in one solved column, read again from the solution, and its words."""

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, lone_hood, one_state, row_plant

from ventcalc.show import section_state
from ventcalc.show.tags import FAN, SENSOR, Placed
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent import end_of_header, outlet_envelope, reversal
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network

LEAKING = row_plant(3, idle="leaking", stack_height=3.0, kilowatts=600.0, header_mm=250.0)
STATES = all_states(LEAKING)


@pytest.fixture(scope="module")
def scan():
    return Scan(LEAKING, SEASONS, solve(LEAKING, SEASONS, STATES), len(STATES), True)


def alone(plant, *codes, season=0, cold=False):
    states = one_state(codes, season, cold)
    return section_state.read(Scan(plant, SEASONS, solve(plant, SEASONS, states), 1, False))


def test_outlets_and_their_verdicts_are_those_of_the_envelopes(scan):
    outside = outlet_envelope.outside_window(scan)
    seen = set()
    for state in range(0, len(STATES), 5):
        found = section_state.read(scan, state)
        for i, o in enumerate(found.outlets):
            assert o.pressure == scan.solution.outlet_pressure[i, state]
            assert (o.verdict in (section_state.ABOVE, section_state.BELOW)) == outside[i, state]
            assert (o.verdict == section_state.IDLE) == (not scan.running(i)[state])
            seen.add(o.verdict)
    assert len(seen) >= 3


def test_gas_into_the_room_is_that_of_the_reversals(scan):
    flue_gas, _ = reversal.flue_gas_in_room(scan)
    state = int(flue_gas.max(axis=0).argmax())
    found = section_state.read(scan, state)
    assert [o.flue_gas for o in found.outlets] == pytest.approx(flue_gas[:, state]) and flue_gas[:, state].max() > 0.0
    worst = max(found.outlets, key=lambda o: o.flue_gas)
    assert "FLUE GAS ENTERS THE ROOM" in found.words("US") and worst.back >= worst.flue_gas
    assert worst.sign == section_state.SPILLS and worst.verdict != section_state.SPILLS
    assert any(p.reversed for p in found.pieces) and "REVERSED" in found.words("SI")


def test_sections_have_the_gas_and_flow_of_the_solution(scan):
    found = section_state.read(scan, 40)
    for row, piece in enumerate(found.pieces):
        assert piece.section is LEAKING.order[row] and piece.number == row + 1
        assert piece.flow == scan.solution.flow[row, 40]
        ends = scan.solution.upstream[row, 40], scan.solution.downstream[row, 40]
        assert (found.gas(piece, 0.0), found.gas(piece, 1.0)) == pytest.approx(ends)
        assert min(ends) - 1e-9 <= found.gas(piece, 0.5) <= max(ends) + 1e-9


def test_the_header_is_read_where_a_control_reads_it(scan):
    found = section_state.read(scan, 40)
    network = compile_network(LEAKING, SEASONS)
    assert found.header == pytest.approx(end_of_header.far_end_pressure(scan.solution, network)[40])
    assert alone(lone_hood(6.0), 2).header is None


@pytest.mark.parametrize("system", SYSTEMS)
def test_words_name_every_outlet_section_and_device(system):
    found = alone(LEAKING, 2, 0, 1)
    devices = (Placed("F-1", FAN, "stack"), Placed("PT-1", SENSOR, "header 1"))
    told = found.words(system, devices)
    assert all(a.name in told for a in LEAKING.appliances) and all(s.name in told for s in LEAKING.sections)
    assert "Fan F-1 adds" in told and f"PT-1 reads {show(Q_(found.header, 'Pa'), system, 'draft')}" in told
    assert show(Q_(found.outlets[0].pressure, "Pa"), system, "draft") in told and ".." not in told


def test_the_outlet_to_follow_is_the_worst_that_runs():
    found = alone(LEAKING, 0, 2, 1)
    assert found.nearest in found.outlets[1:]
    assert found.nearest.margin == min(o.margin for o in found.outlets[1:])
    assert alone(LEAKING, 0, 0, 0).nearest is not None


def test_a_wall_below_the_dew_point_is_wet_and_one_with_no_flow_is_not():
    cold = alone(row_plant(1, celsius=50.0), 2, cold=True)
    assert all(p.wet for p in cold.pieces)
    still = alone(row_plant(2), 2, 0)
    idle = still.pieces[still.scan.plant.row("connector 2")]
    assert idle.still and not idle.wet and "no flow" in idle.words("US")


def test_a_state_that_was_not_solved_says_so(scan):
    one = section_state.read(scan, 0)
    lost = one.scan.solution.columns([0])
    object.__setattr__(lost, "converged", np.array([False]))
    assert (
        section_state.read(Scan(LEAKING, SEASONS, lost, 1, False)).words("US").startswith("This state did not converge")
    )
