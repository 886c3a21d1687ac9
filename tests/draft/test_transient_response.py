"""The response in time: at rest the steady one, and added up by hand where burners are forced."""

import numpy as np
import pytest
from sample_loops import DAMPER, FAN
from sample_plants import SEASONS, row_plant

from ventcalc.draft import firing_schedule, transient_response
from ventcalc.draft.final_element import Linear
from ventcalc.draft.firing_schedule import Schedule, Turn
from ventcalc.units import Q_


def test_in_time_a_vent_at_rest_is_the_steady_one(hall):
    # Walls that are warm already, nothing that changes: what a fan or damper is answered at once and in time.
    schedule = Schedule(Q_(20, "s"), ("high", "off", "low"), season=1)
    for device in (FAN, DAMPER):
        now, later = (
            transient_response.respond(hall.plant, hall.seasons, schedule, "stack", device, at_once=at_once)
            for at_once in (True, False)
        )
        for own, other in ((now.pressure, later.pressure), (now.added, later.added)):
            along = np.interp(later.setting, now.setting, own[0])
            reachable = np.abs(along) < 250.0  # beyond, the steady table has come to the end of its ladder
            # Found 2.14 Pa at worst, at a damper all but shut: films are looked at every fourth step, cells are of 1 m.
            assert np.abs(along - other[-1])[reachable].max() < 2.2


@pytest.mark.slow
def test_light_off_on_a_cold_stack_begins_far_above_what_is_answered_at_once(hall):
    levels = ("low", Q_(0, "s")), ("high", Q_(5, "s"))
    turns = firing_schedule.start_up("Boiler 1", Q_(2, "s"), Q_(10, "s"), levels)
    schedule = Schedule(Q_(60, "s"), ("off",) * 3, turns, season=0, cold=1.0)
    now, later = (
        transient_response.respond(hall.plant, hall.seasons, schedule, "stack", Linear(0.0, 1.0), at_once=at_once)
        for at_once in (True, False)
    )
    read = [[np.interp(t, r.time, r.outlets[0][:, 0]) for r in (now, later)] for t in (18.5, 58.0)]
    assert read[0][1] > read[0][0] + 15.0
    assert read[1][1] == pytest.approx(read[1][0], abs=8.0)


def test_in_time_forced_and_sealed_burners_add_up_as_by_hand():
    plant = row_plant(2, idle="sealed")
    schedule = Schedule(Q_(20, "s"), ("high", "low"), season=1)
    found = transient_response.respond(plant, SEASONS, schedule, plant.order[-1].name, Linear(-50.0, 150.0))
    assert np.allclose(found.pressure[:, [0]] - found.pressure, 200.0 * found.setting, atol=1e-9)
    # A device in one appliance's connector is felt by that one alone.
    one = transient_response.respond(plant, SEASONS, schedule, "connector 1", Linear(-50.0, 150.0), "B1")
    assert np.allclose(np.ptp(one.outlets[0], axis=1), 200.0) and np.allclose(np.ptp(one.outlets[1], axis=1), 0.0)


def test_two_appliances_that_do_not_leak_add_up_as_by_hand():
    # With everything forced and sealed what the device adds comes off the pressure, pascal for pascal.
    plant = row_plant(2, idle="sealed")
    schedule = Schedule(Q_(20, "s"), ("high", "low"), season=1)
    device = Linear(-50.0, 150.0)
    response = transient_response.respond(plant, SEASONS, schedule, plant.order[-1].name, device)
    assert np.allclose(response.pressure[0, 0] - response.pressure[0], 200.0 * response.setting, atol=0.02)
    assert np.allclose(response.added[0], -50.0 + 200.0 * response.setting, atol=0.02)


def test_what_comes_later_does_not_change_what_was_before():
    # A burner that leaks while idle: the device is followed on its own. The other goes off as time begins.
    plant = row_plant(2, idle="leaking", stack_height=6.0)
    one, other = (
        transient_response.respond(
            plant, SEASONS, Schedule(Q_(1, "s"), ("high", "low"), turns, season=1), "stack", Linear(-20.0, 40.0)
        )
        for turns in ((), (Turn("B1", "off", Q_(0, "s")),))
    )
    assert np.allclose(one.pressure[0], other.pressure[0], atol=1e-9)
    assert not np.allclose(one.pressure[-1], other.pressure[-1], atol=1.0)
