"""Make-up air: the cure cures, and not much less would do."""

from dataclasses import replace

from sample_rooms import spilling_room

from ventcalc.building import combustion_air_words, makeup_air, room_air, room_pressure
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope, reversal


def test_the_cure_cures():
    scan, air, _, on = spilling_room()
    remedy = makeup_air.cure(scan, on)
    assert remedy.states > 0 and 0.0 < remedy.area.m < 5.0
    before = (outlet_envelope.outside_window(on.scan(scan)) | reversal.gas_in_room(on.scan(scan))).any(axis=0)
    assert remedy.states + remedy.beyond_air == before.sum()
    wider = replace(air, openings=(*air.openings, room_air.Opening("more", 1.02 * remedy.area)))
    supplied = replace(air, supply=1.02 * remedy.supply)
    for cured in (wider, supplied):
        found = room_pressure.coupled(scan.plant, scan.seasons, scan.states, cured)
        fails = (outlet_envelope.outside_window(found.scan(scan)) | reversal.gas_in_room(found.scan(scan))).any(axis=0)
        assert fails.sum() == remedy.beyond_air
    # And not much less would do.
    less = replace(air, openings=(*air.openings, room_air.Opening("more", 0.9 * remedy.area)))
    found = room_pressure.coupled(scan.plant, scan.seasons, scan.states, less)
    fails = (outlet_envelope.outside_window(found.scan(scan)) | reversal.gas_in_room(found.scan(scan))).any(axis=0)
    assert fails.sum() > remedy.beyond_air


def test_nothing_to_cure_is_said():
    scan, air, *_ = spilling_room()
    fine = room_pressure.coupled(scan.plant, scan.seasons, scan.states, replace(air, supply=Q_(1500, "cfm")))
    remedy = makeup_air.cure(scan, fine)
    assert (remedy.area.m, remedy.states, remedy.beyond_air) == (0.0, 0, 0)
    assert "No more air" in combustion_air_words.sentences((), remedy)[0]
