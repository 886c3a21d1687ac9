"""CO exposure: one case judged, a neighbor's room, a monitor, and cases that cannot be."""

from dataclasses import replace

import numpy as np
import pytest
from sample_exposures import CASE, GAS, OFFICE, SEA_LEVEL, SPILL, judged

from ventcalc.building import co_buildup, co_exposure, co_limits, cohb
from ventcalc.units import Q_, UnitsError


def test_judged_case_holds_together():
    found = judged()
    room = {"volume": 250.0, "ventilation": 250.0 * 0.3 / 3600.0, "spill": found.flow, "spill_co": found.flow_co}
    assert found.co[0] == pytest.approx(co_buildup.concentration.bare(found.times, **room), rel=1e-9)
    assert found.steady[0] == pytest.approx(co_buildup.steady_state.bare(*list(room.values())[1:]), rel=1e-6)
    assert len(found.judged) == len(co_limits.limits()) and found.stopped == np.inf
    assert found.failed and all(j.worst > j.limit.level for j in found.failed)


def test_neighbor_lags_behind_and_takes_from_the_room():
    alone, beside = judged(), judged(replace(CASE, neighbor=OFFICE))
    assert beside.co.shape[0] == 2 and (beside.co[1] <= beside.co[0] + 1e-9).all()
    assert (beside.co[0] <= alone.co[0] + 1e-9).all()
    assert {j.room for j in beside.judged} == {co_exposure.ROOM, "office"}


def test_monitor_stops_the_burners():
    found = judged(replace(CASE, monitor=Q_(50, "ppm"), monitor_delay=Q_(10, "minute")))
    rate = 250.0 * 0.3 / 3600.0
    reached = co_buildup.time_to_reach.bare(50.0, 250.0, rate, found.flow, found.flow_co)
    assert found.stopped == pytest.approx(reached + 600.0, abs=1.0)
    after = found.times > found.stopped
    assert (np.diff(found.co[0][after]) < 0.0).all()
    peak = co_buildup.concentration.bare(found.stopped, 250.0, rate, found.flow, found.flow_co)
    later = co_buildup.concentration.bare(found.times[-1] - found.stopped, 250.0, rate, initial=peak)
    assert found.co[0, -1] == pytest.approx(later, rel=1e-9)
    assert found.steady == judged().steady


def test_monitor_that_is_never_reached_or_already_passed():
    assert judged(replace(CASE, monitor=Q_(5000, "ppm"))).stopped == np.inf
    at_once = judged(replace(CASE, monitor=Q_(10, "ppm"), initial=Q_(20, "ppm")))
    assert at_once.stopped == 0.0 and (np.diff(at_once.co[0]) < 0.0).all()


def test_less_burnt_gas_is_less_carbon_monoxide():
    half = co_exposure.judge(CASE, SPILL, GAS, SEA_LEVEL, burnt=0.5)
    assert half.co[0] == pytest.approx(0.5 * judged().co[0], rel=1e-9)


def test_sealed_room_without_any_air():
    found = judged(replace(CASE, air_changes=Q_(0.0, "1/hour")), Q_(0.0, "kg/s"))
    assert found.steady == (0.0,)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"room_volume": Q_(0, "ft**3")}, "room_volume = 0 ft³ must be above 0"),
        ({"room_volume": Q_(10, "ft**2")}, "room_volume needs"),
        ({"air_changes": Q_(-1, "1/hour")}, "air_changes = -1 1/h must be 0 or more"),
        ({"co_air_free": Q_(-5, "ppm")}, "co_air_free = -5 ppm must be 0 or more"),
        ({"co_air_free": Q_(2e6, "ppm")}, "more than all of the gas"),
        ({"hours": Q_(0, "hour")}, "hours = 0 h must be above 0"),
        ({"hours": Q_(5, "day")}, "at most 72 h"),
        ({"monitor": Q_(0, "ppm")}, "monitor = 0 ppm must be above 0"),
        ({"activity": "swimming"}, "choose one of sedentary"),
    ],
)
def test_cases_that_cannot_be(change, words):
    with pytest.raises((ValueError, UnitsError), match=words):
        replace(CASE, **change)


def test_neighbor_that_cannot_be():
    with pytest.raises(ValueError, match="neighbor 'office': exchange = -0.02 m³/s must be 0 or more"):
        replace(OFFICE, exchange=Q_(-0.02, "m**3/s"))


def test_a_case_of_which_little_is_told_lasts_a_working_day_in_a_warm_room():
    """As long as the limits that average over eight hours ask for, so that none of those is left unread; 20 degC."""
    short = co_exposure.COCase(CASE.room_volume, CASE.air_changes, CASE.co_air_free)
    found = judged(short)
    assert found.times[-1] == 8 * 3600.0
    eight = [j for j in found.judged if j.limit.window == 8 * 3600.0]
    assert eight and all(j.verdict in ("pass", "fail") for j in eight)
    # Ideal gas at 20 degC, by hand.
    assert found.flow == pytest.approx(found.spill * 8.314462618 * 293.15 / (GAS.gas.molar_mass * 101325.0), rel=1e-9)


def test_blood_is_that_of_who_is_there_at_the_altitude_of_the_place():
    high_up = Q_(80.0, "kPa")
    found = co_exposure.judge(CASE, SPILL, GAS, high_up)
    history = Q_(found.times, "s"), Q_(found.co[0], "ppm")

    def carried(activity, pressure):
        return cohb.COHB_MARGIN * cohb.cohb(*history, cohb.person(activity), pressure=pressure).m

    assert found.blood[0] == pytest.approx(np.minimum(carried(CASE.activity, high_up), 1.0), rel=1e-6)
    # Less oxygen, so more carbon monoxide stays; and who works harder takes it up sooner (Coburn, Forster and Kane).
    assert carried(CASE.activity, high_up)[-1] > 1.05 * carried(CASE.activity, SEA_LEVEL)[-1]
    at = {
        a: np.interp(found.heavy[0], found.times, carried(a, high_up)) for a in ("heavy work", "light work", "resting")
    }
    assert at["heavy work"] == pytest.approx(0.10, abs=1e-4)
    assert at["resting"] < at["light work"] < at["heavy work"]
    resting = co_exposure.judge(replace(CASE, activity="resting"), SPILL, GAS, high_up)
    assert resting.blood[0, -1] < found.blood[0, -1] and resting.heavy == found.heavy


@pytest.mark.parametrize("hours", [0.5, 8.0, 24.0])
def test_a_history_is_told_at_least_every_minute_and_never_in_a_few_steps(hours):
    times = judged(replace(CASE, hours=Q_(hours, "hour"))).times
    assert times[0] == 0.0 and times[-1] == pytest.approx(3600.0 * hours)
    assert np.diff(times).max() <= 60.0 + 1e-9 and times.size > co_exposure.STEPS


def test_a_gas_of_nothing_but_carbon_monoxide_is_the_most_there_is():
    assert replace(CASE, co_air_free=Q_(1e6, "ppm")).co_air_free.m == 1e6
    with pytest.raises(ValueError, match="more than all of the gas"):
        replace(CASE, co_air_free=Q_(1.05e6, "ppm"))
