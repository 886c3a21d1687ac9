"""Governing states: few, and among them both ends of everything that decides about a vent."""

from types import SimpleNamespace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant
from sample_remedies import small_job

from ventcalc.job import governing_states
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, reversal


@pytest.fixture(scope="module", params=["sealed", "leaking"])
def scan(request):
    plant = row_plant(3, idle=request.param)
    return firing_states.scan(plant, SEASONS).first


def test_they_are_few_and_rising(scan):
    picked = governing_states.governing(scan)
    assert (np.diff(picked) > 0).all() and picked.size < len(scan.states) / 4


def test_both_ends_of_every_outlet_and_of_the_header_are_among_them(scan):
    picked = governing_states.governing(scan)
    for e in outlet_envelope.envelopes(scan):
        i = [a.name for a in scan.plant.appliances].index(e.appliance)
        pressure = np.where(scan.running(i), scan.solution.outlet_pressure[i], np.nan)
        assert np.nanmin(pressure[picked]) == pytest.approx(e.low, abs=1e-9)
        assert np.nanmax(pressure[picked]) == pytest.approx(e.high, abs=1e-9)
    header = end_of_header.header_pressure(scan)
    assert np.nanmin(header[picked]) == np.nanmin(header) and np.nanmax(header[picked]) == np.nanmax(header)


def test_most_gas_into_the_room_is_among_them(scan):
    entering = np.where(reversal.gas_in_room(scan), -scan.solution.drawn, 0.0)
    picked = governing_states.governing(scan)
    assert (entering[:, picked].max(axis=1) == entering.max(axis=1)).all()


def test_more_of_each_end_are_more(scan):
    few, more = (set(governing_states.governing(scan, each).tolist()) for each in (1, 4))
    assert few < more


def test_the_ends_of_every_range_govern():
    one = small_job()
    scan = firing_states.scan(one.plant, one.seasons)
    few = governing_states.governing(scan)
    for e in outlet_envelope.envelopes(scan):
        for pressure in (e.low, e.high):
            i = [a.name for a in one.plant.appliances].index(e.appliance)
            runs = scan.running(i)[few]
            assert np.isclose(scan.solution.outlet_pressure[i, few][runs], pressure).any()
    assert few.size < len(scan.conditions)


def test_each_range_alone_is_seen(monkeypatch):
    """A vent alike in ten states but for one range in one state each: that state is among those picked, and the first.

    The hood comes nearest to spilling in state 3, most flue gas leaves in 5, the pressure below the cap is high on one
    of its two sides in 7. The burner that forces its flow draws nothing in any.
    """
    ones = np.ones(10)

    def but(state, value):
        return np.where(np.arange(10) == state, value, ones)

    monkeypatch.setattr(governing_states, "header_pressure", lambda scan: -20.0 * ones)
    monkeypatch.setattr(governing_states, "before_termination", lambda plant: "stack")
    monkeypatch.setattr(governing_states, "static_below_cap", lambda scan, row: (ones, but(7, 2.0)))
    appliances = [SimpleNamespace(name=name, category="I") for name in ("hood", "forced")]
    plant = SimpleNamespace(
        appliances=appliances, order=(SimpleNamespace(name="stack"),), serves=lambda name: appliances
    )
    solution = SimpleNamespace(
        outlet_pressure=np.array([-10.0 * ones, -5.0 * ones]),
        row=lambda name: 0,
        flow=ones[None],
        density=ones[None],
        drawn=np.array([but(3, 0.5), 0.0 * ones]),
        downstream=but(5, 2.0)[None],
        converged=np.ones(10, bool),
    )
    alike = SimpleNamespace(
        solution=solution,
        plant=plant,
        states=SimpleNamespace(codes=np.ones((2, 10))),
        any_running=np.ones(10, bool),
        any_firing=np.ones(10, bool),
        condition=np.arange(10),
    )
    assert governing_states.governing(alike).tolist() == [0, 3, 5, 7]
