"""Derived limits: they act before the first outlet leaves its window, or say that none fits."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_commissioning import LODGE

from ventcalc.draft import outlet_control, sensor_location
from ventcalc.draft.start_sequence import Event
from ventcalc.draft.startup_sheet import startup_sheet
from ventcalc.job import commissioning, derived_limits, loop_settings
from ventcalc.job.derived_limits import NO_ROOM, TRIPS_A_START
from ventcalc.units import Q_
from ventcalc.vent import end_of_header


def first_outlet_leaves(outcome, pressure, side):
    """Whether some outlet is beyond its window in a held state when the whole vent is moved to a header pressure."""
    scan = outcome.scan
    moved = scan.solution.outlet_pressure - end_of_header.header_pressure(scan) + pressure
    windows = np.array([[float(w.m_as("Pa")) for w in a.window] for a in scan.plant.appliances])
    counts = (scan.states.codes > 0) & ~outcome.held.missed.any(axis=0)
    beyond = moved > windows[:, 1:] if side > 0 else moved < windows[:, :1]
    return bool((beyond & counts).any())


@pytest.mark.slow
def test_the_lodge_s_high_limit_acts_before_the_first_outlet_stands_at_its_edge(tried_lodge, held_lodge):
    """The high limit of the lodge: not above the header pressure that puts the first outlet at -0.010 in. w.c."""
    high = tried_lodge.limits.high
    assert [float(a.window[1].m_as("inH2O")) for a in LODGE.plant.appliances] == pytest.approx([-0.010] * 2, abs=1e-4)
    assert not first_outlet_leaves(held_lodge, high.edge - 0.01, 1) and first_outlet_leaves(
        held_lodge, high.edge + 0.01, 1
    )
    assert high.pressure <= high.edge
    assert not first_outlet_leaves(held_lodge, high.pressure, 1)
    low = tried_lodge.limits.low
    assert not first_outlet_leaves(held_lodge, low.edge + 0.01, -1) and first_outlet_leaves(
        held_lodge, low.edge - 0.01, -1
    )
    assert low.pressure >= low.edge
    # The usual limit of +0.08 in. w.c. would act long after: that is what stood on the sheet.
    assert first_outlet_leaves(held_lodge, float(Q_(0.08, "inH2O").m_as("Pa")), 1)


@pytest.mark.slow
def test_a_limit_that_fits_keeps_the_sensor_s_error_from_both_sides(tried_lodge):
    low = tried_lodge.limits.low
    assert NO_ROOM not in low.codes
    assert (
        low.pressure >= low.edge + low.error - 1e-9 and low.pressure <= low.normal - derived_limits.KEEPS_CLEAR + 1e-9
    )


def test_where_no_limit_fits_the_record_says_so(tried_lodge):
    high = tried_lodge.limits.high
    room = (high.edge - high.error) - (high.normal + derived_limits.KEEPS_CLEAR + high.error)
    assert (NO_ROOM in high.codes) == (room < 0.0) and not tried_lodge.limits.fits
    assert (TRIPS_A_START in high.codes) == (high.needs > high.delay)


def test_the_error_is_that_of_the_sensor_and_of_its_tap(tried_lodge, held_lodge):
    tap = sensor_location.errors(held_lodge.scan, sensor_location.taps(held_lodge.remedy.plant)[0])
    assert tap.tap.name == "end cap"
    own = 0.01 * float((LODGE.sequence.sensor_most - LODGE.sequence.sensor_least).m_as("Pa"))
    assert tried_lodge.limits.high.error == pytest.approx(max(own - tap.low, 0.0))
    assert tried_lodge.limits.low.error == pytest.approx(max(own + tap.high, 0.0))


def test_limits_of_the_job_stand_in_the_settings_and_trip_what_they_must(tried_lodge):
    s, limits = tried_lodge.trial.settings, tried_lodge.limits
    assert s.high_limit.m_as("Pa") == pytest.approx(limits.high.pressure)
    assert s.low_limit.m_as("Pa") == pytest.approx(limits.low.pressure)
    assert limits.low.pressure < s.set_point.m_as("Pa") < limits.proof < limits.high.pressure
    tripped = [s for s in tried_lodge.starts if any(a.event == Event.HIGH_PRESSURE.name for a in s.acts)]
    assert bool(tripped) == (TRIPS_A_START in limits.high.codes)


@pytest.mark.slow
def test_a_wider_window_makes_room_for_a_limit(held_lodge):
    """With the upper edge 12 Pa higher a limit fits between: pressures alone, the same starts and failures."""
    low, high = LODGE.plant.appliances[0].window
    windows = {a.name: (low, high + Q_(12, "Pa")) for a in LODGE.plant.appliances}
    plant = outlet_control.with_windows(held_lodge.remedy.plant, windows)
    wide = replace(
        held_lodge, remedy=replace(held_lodge.remedy, plant=plant), scan=replace(held_lodge.scan, plant=plant)
    )
    high = commissioning.tried(LODGE, wide).limits.high
    assert NO_ROOM not in high.codes and high.pressure <= high.edge - high.error + 1e-9


def test_the_sheet_tells_the_job_s_own_limits_and_why(tried_lodge):
    why = derived_limits.reasons(tried_lodge.limits, "SI")
    rows = {r.name: r for r in startup_sheet(tried_lodge.trial.settings, "SI", why)}
    row = rows["high pressure limit"]
    assert row.value.m_as("Pa") == pytest.approx(tried_lodge.limits.high.pressure) and row.status == "computed"
    assert tried_lodge.limits.high.appliance in row.why and f"{tried_lodge.limits.high.edge:.1f} Pa" in row.why
    assert ("none fits" in row.why) == (NO_ROOM in tried_lodge.limits.high.codes)
    assert set(why) == {"proof", "high_limit", "low_limit", "high_delay", "low_delay"}
    assert rows["pilot trial for ignition"].status != "computed"


STEP = 0.101  # s; a stretch is counted to within one of the times that are kept


def start(*stretches):
    """A run of one burner, off for ten seconds at 0 Pa; then its header is so many seconds at each pressure [Pa]."""
    pressure = np.concatenate([np.full(100, 0.0), *(np.full(round(10 * lasts), p) for p, lasts in stretches)])[:, None]
    codes = np.ones((1, *pressure.shape))
    codes[:, :100] = 0.0
    return SimpleNamespace(time=0.1 * np.arange(len(pressure)), pressure=pressure, codes=codes)


def test_proof_is_not_lost_in_a_good_start():
    """By hand: 5 s at -10 Pa lose a proof of -20 Pa after its 2 s, one second at -4 Pa loses none of -10 Pa."""
    step, good = 20.0 / derived_limits.CANDIDATES, start((-10.0, 5.0), (-4.0, 1.0), (-30.0, 5.0))
    found, above = derived_limits.proof_of_draft(-30.0, 40.0, -20.0, good, 2.0)
    assert -10.0 <= found < -10.0 + step and above == pytest.approx(1.0, abs=STEP)
    # Beyond for no longer than the wait: the usual one stays; so it does where none below the high limit is kept.
    brief, pushed = start((-10.0, 1.5), (-30.0, 5.0)), start((50.0, 5.0), (-30.0, 5.0))
    assert derived_limits.proof_of_draft(-30.0, 40.0, -20.0, brief, 2.0) == (-20.0, pytest.approx(1.5, abs=STEP))
    assert derived_limits.proof_of_draft(-30.0, 40.0, -20.0, pushed, 2.0) == (-20.0, pytest.approx(5.0, abs=STEP))
    # A usual one beyond the high limit or below the set point is no proof: the middle.
    assert derived_limits.proof_of_draft(50.0, 90.0, 5.0, start((60.0, 1.0), (50.0, 5.0)), 2.0) == (70.0, 0.0)


def test_a_vent_at_a_stand_proves_no_draft():
    """A start that hangs at 5 Pa above the room's pressure does not move the proof of a draft above nothing at all."""
    for usual, proof in ((-20.0, -20.0), (5.0, -15.0)):
        hangs = start((5.0, 5.0), (-30.0, 5.0))
        assert derived_limits.proof_of_draft(-30.0, 40.0, usual, hangs, 2.0) == (proof, pytest.approx(5.0, abs=STEP))


def test_a_header_held_under_pressure_is_proved_under_pressure():
    step = 35.0 / derived_limits.CANDIDATES
    found, _ = derived_limits.proof_of_draft(2.0, 40.0, 5.0, start((10.0, 5.0), (20.0, 1.0), (3.0, 5.0)), 2.0)
    assert 10.0 <= found < 10.0 + step


def at_the_edge(outcome, limit, side):
    """How far [Pa] the limit's own appliance is from its window in its state, the header moved to the edge."""
    solution, plant = outcome.scan.solution, outcome.scan.plant
    i = [a.name for a in plant.appliances].index(limit.appliance)
    header = end_of_header.header_pressure(outcome.scan)[limit.state]
    bound = float(plant.appliances[i].window[side].m_as("Pa"))
    return float(solution.outlet_pressure[i, limit.state]) - header + limit.edge - bound


def test_each_limit_names_the_outlet_and_the_state_that_set_its_edge(tried_lodge, held_lodge):
    """Pressures in a vent whose flow is prescribed move together: at the edge that outlet stands at its window's."""
    assert at_the_edge(held_lodge, tried_lodge.limits.high, 1) == pytest.approx(0.0, abs=0.05)
    assert at_the_edge(held_lodge, tried_lodge.limits.low, 0) == pytest.approx(0.0, abs=0.05)


def limits_of(outcome, starts, failing, unseen=()):
    return derived_limits.derived(
        LODGE, outcome, loop_settings.settings_of(LODGE, outcome.remedy), starts, unseen, failing
    )


def test_a_state_that_the_control_does_not_hold_sets_no_limit(held_lodge):
    """The state that sets the edge is taken for one in which the set point is missed: the next one sets it then."""
    steady, failing = start((-12.0, 30.0)), no_failures(held_lodge)
    before = limits_of(held_lodge, steady, failing)
    error = held_lodge.held.error.copy()
    error[:, before.high.state] = 100.0  # Pa
    after = limits_of(replace(held_lodge, held=replace(held_lodge.held, error=error)), steady, failing)
    assert after.high.state != before.high.state and after.high.edge >= before.high.edge


def no_failures(outcome):
    """One run of a hundred seconds in which nothing fails."""
    time = 0.1 * np.arange(1000)
    count, devices = len(LODGE.plant.appliances), SimpleNamespace(plant=outcome.remedy.plant)
    still = np.full((count, time.size, 1), -12.0)
    return SimpleNamespace(time=time, pressure=still[0], outlets=still, codes=np.ones_like(still), devices=devices)


@pytest.mark.parametrize(("side", "which"), [(1.0, "high"), (-1.0, "low")])
def test_time_left_is_that_from_the_limit_to_the_window(held_lodge, side, which):
    """By hand: the header, at -12 Pa, goes out by 1 Pa a second from 10 s after it settled; an outlet leaves its window
    30 s later. A limit so many Pa off has been passed for as many seconds less by then, whichever way it goes."""
    sound, steady = no_failures(held_lodge), start((-12.0, 30.0))
    assert getattr(limits_of(held_lodge, steady, sound, (0,)), which).has == np.inf
    begin = derived_limits.SETTLED + 10.0
    time = 0.1 * np.arange(round(10.0 * (begin + 60.0)))
    pressure = -12.0 + side * np.maximum(time - begin, 0.0)[:, None]
    outlets = np.full((len(LODGE.plant.appliances), *pressure.shape), -12.0)
    outlets[0, time >= begin + 30.0] = side * 500.0
    failing = SimpleNamespace(
        time=time, pressure=pressure, outlets=outlets, codes=np.ones_like(outlets), devices=sound.devices
    )
    limit = getattr(limits_of(held_lodge, steady, failing, (0,)), which)
    assert 0.0 < side * (limit.pressure + 12.0) < 30.0
    assert limit.has == limit.soonest == pytest.approx(30.0 - side * (limit.pressure + 12.0), abs=0.25)
