"""Make-up air: the cure cures, and not much less would do."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from sample_rooms import spilling_room

from ventcalc.building import combustion_air_words, makeup_air, room_air, room_pressure
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope, reversal


@pytest.mark.slow
def test_the_cure_cures():
    scan, air, _, on = spilling_room()
    remedy = makeup_air.cure(scan, on)
    assert remedy.states > 0 and 0.0 < remedy.area.m < 5.0
    before = (outlet_envelope.outside_window(on.scan(scan)) | reversal.gas_in_room(on.scan(scan))).any(axis=0)
    assert remedy.states + remedy.beyond_air == before.sum()
    wider = replace(air, openings=(*air.openings, room_air.Opening("more", remedy.area)))
    supplied = replace(air, supply=remedy.supply)
    for cured in (wider, supplied):
        found = room_pressure.coupled(scan.plant, scan.seasons, scan.states, cured)
        fails = (outlet_envelope.outside_window(found.scan(scan)) | reversal.gas_in_room(found.scan(scan))).any(axis=0)
        assert fails.sum() == remedy.beyond_air
    # And not much less would do.
    less = replace(air, openings=(*air.openings, room_air.Opening("more", 0.9 * remedy.area)))
    found = room_pressure.coupled(scan.plant, scan.seasons, scan.states, less)
    fails = (outlet_envelope.outside_window(found.scan(scan)) | reversal.gas_in_room(found.scan(scan))).any(axis=0)
    assert fails.sum() > remedy.beyond_air


@pytest.mark.slow
def test_the_cure_holds_the_room_at_its_floor_too():
    """A floor of its own, above what the outlets ask for: the house tests' limits are such (depressurization)."""
    scan, air, _, on = spilling_room()
    alone = makeup_air.cure(scan, on)
    floor = 0.5 * alone.pressure
    found = makeup_air.cure(scan, on, floor=floor)
    assert found.floor == floor and found.area > 1.05 * alone.area and found.supply > alone.supply
    wider = replace(air, openings=(*air.openings, room_air.Opening("more", found.area)))
    held = room_pressure.coupled(scan.plant, scan.seasons, scan.states, wider)
    assert on.pressure.min() < floor <= held.pressure.min()
    assert "that tests of houses allow" in combustion_air_words.sentences((), found)[0]
    # A floor that is met already asks for nothing more.
    assert makeup_air.cure(scan, on, floor=2.0 * on.pressure.min()).area == alone.area


@pytest.mark.slow
def test_nothing_to_cure_is_said():
    scan, air, *_ = spilling_room()
    fine = room_pressure.coupled(scan.plant, scan.seasons, scan.states, replace(air, supply=Q_(1500, "cfm")))
    remedy = makeup_air.cure(scan, fine)
    assert (remedy.area.m, remedy.states, remedy.beyond_air) == (0.0, 0, 0)
    assert "No more air" in combustion_air_words.sentences((), remedy)[0]


def test_where_vents_fail_with_the_room_wide_open_air_is_no_cure(monkeypatch):
    """Of three states two fail with the exhaust fans on, and go on failing at outdoor pressure."""
    answers = iter([np.array([True, True, False]), np.array([True, True])])
    monkeypatch.setattr(makeup_air, "compile_network", lambda plant, seasons: None)
    monkeypatch.setattr(makeup_air, "RoomBalance", lambda *about: Made(outside=np.zeros(3)))
    monkeypatch.setattr(makeup_air, "_solved", lambda *about: None)
    monkeypatch.setattr(makeup_air, "_fails", lambda of, solution: next(answers))
    of = Made(plant=None, seasons=None, states=None)
    found = makeup_air.cure(of, Made(room=None, solution=None, pressure=np.array([-9.0, -8.0, -3.0])))
    assert (found.states, found.beyond_air) == (0, 2) and found.area.m == found.supply.m == 0.0


def test_a_room_above_outdoors_has_too_much_air_and_needs_no_more(monkeypatch):
    """Of three failing states two are well with the room wide open, and in both the room is pressed above outdoors."""
    answers = iter([np.ones(3, bool), np.array([False, True, False])])
    monkeypatch.setattr(makeup_air, "compile_network", lambda plant, seasons: None)
    monkeypatch.setattr(makeup_air, "RoomBalance", lambda *about: Made(outside=np.array([0.0, 0.0, -1.0])))
    monkeypatch.setattr(makeup_air, "_solved", lambda *about: None)
    monkeypatch.setattr(makeup_air, "_fails", lambda of, solution: next(answers))
    of = Made(plant=None, seasons=None, states=None)
    found = makeup_air.cure(of, Made(room=None, solution=None, pressure=np.array([6.0, -8.0, 3.0])))
    assert (found.states, found.beyond_air, found.too_much) == (0, 1, 2) and found.supply.m == 0.0
    (told, _) = combustion_air_words.sentences((), found)
    assert "too much air" in told and "would hold" not in told and "in.²" not in told


def test_what_is_asked_for_follows_from_the_missing_air_by_the_orifice():
    """By hand: 0.36 kg/s missing across 5 Pa of air of 1.2 kg/m3, through a sharp edge of 0.6."""
    missing = np.array([-0.36, 0.2, -0.36])
    air = Made(net=lambda pressure, drawn, todo: (missing, None), outside=np.array([0.0, 0.0, -5.0]),
               outdoor=np.full(3, 1.2))  # fmt: skip
    area, supply = makeup_air._asked_for(air, np.arange(3), np.full(3, -5.0), None)
    assert area[0] == pytest.approx(0.36 / (0.6 * np.sqrt(2.0 * 1.2 * 5.0))) and supply[0] == pytest.approx(0.3)
    assert area[1] == supply[1] == 0.0  # nothing is missing
    assert np.isinf(area[2]) and supply[2] == pytest.approx(0.3)  # no opening holds it where outdoors is no higher


def test_the_hardest_state_decides_of_the_opening_and_of_the_supply_each_by_hand(monkeypatch):
    """Near outdoor pressure little air asks for a wide opening, at 40 Pa below it much air for a small one.

    A: 0.29 kg/s at -1 Pa, by 0.29 / (0.6 sqrt(2 1.2 1)) m2; B: 1 kg/s at -40 Pa, by 1 / (0.6 sqrt(2 1.2 40)) m2. So A
    sizes the opening, B the supply, and C, with less of both, neither.
    """
    stood, well, slope = np.array([-30.0, -60.0, -20.0]), np.array([-1.0, -40.0, -10.0]), np.array([0.01, 0.05, 0.002])
    air = Made(
        outside=np.zeros(3), outdoor=np.full(3, 1.2),
        net=lambda pressure, drawn, todo: (-slope[todo] * (pressure - stood[todo]), None),
    )  # fmt: skip
    monkeypatch.setattr(makeup_air, "compile_network", lambda plant, seasons: None)
    monkeypatch.setattr(makeup_air, "RoomBalance", lambda *about: air)
    monkeypatch.setattr(makeup_air, "_solved", lambda of, network, running, todo, pressure: Made(
        todo=todo, pressure=pressure, drawn=np.zeros((1, todo.size))))  # fmt: skip
    monkeypatch.setattr(makeup_air, "_fails", lambda of, solved: solved.pressure < well[solved.todo])
    running = Made(room=None, solution=Made(todo=np.arange(3), pressure=stood), pressure=stood)
    found = makeup_air.cure(Made(plant=None, seasons=None, states=None), running)
    more = makeup_air.MORE_AIR
    assert found.area.m_as("m**2") == pytest.approx(more * 0.29 / (0.6 * np.sqrt(2.4)), rel=2e-3)
    assert found.supply.m_as("m**3/s") == pytest.approx(more * 1.0 / 1.2, rel=2e-3)
    assert found.states == 3 and found.beyond_air == 0 and found.pressure == pytest.approx(-1.0, abs=0.01)
