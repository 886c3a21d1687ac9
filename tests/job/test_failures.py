"""Failures: every start in every season and order, every failure, and the limits of the job that follow from them."""

from dataclasses import replace
from itertools import permutations
from math import inf

import numpy as np
import pytest

from ventcalc import tables
from ventcalc.draft import error_spread, outlet_control, sensor_location
from ventcalc.draft.start_sequence import Event, State
from ventcalc.draft.startup_sheet import startup_sheet
from ventcalc.job import failures, job_file, remedies, trial_run
from ventcalc.job.failures import BLOCKED, CASES, FAN, FLAME, NO_ROOM, POWER, STILL, TRIPS_A_START
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, firing_states

JOBS = tables.DATA / "jobs"
LODGE = job_file.load(JOBS / "lodge.toml")
SCHOOL = job_file.load(JOBS / "school.toml")


@pytest.fixture(scope="module")
def lodge():
    return remedies.offered(LODGE)


@pytest.fixture(scope="module")
def found(lodge):
    return failures.tried(LODGE, lodge)


@pytest.fixture(scope="module")
def school():
    """The school's boilers and its water heater with a draft hood, on a header held by a fan and a damper."""
    scan = firing_states.scan(SCHOOL.plant, SCHOOL.seasons)
    remedy = remedies.fan_and_damper(SCHOOL, SCHOOL.plant, Q_(-0.02, "inH2O"), scan.conditions)
    return remedies.outcome(SCHOOL, remedy, scan)


@pytest.fixture(scope="module")
def hood(school):
    return failures.tried(SCHOOL, school)


# --- Starts -----------------------------------------------------------------------------------------------------


def test_every_order_is_started_in_every_season(found, hood):
    for at, tried in ((LODGE, found), (SCHOOL, hood)):
        names = [a.name for a in at.plant.appliances]
        run = {(s.season, s.order) for s in tried.starts}
        assert run == {(season.name, order) for season in at.seasons for order in permutations(names)}
        assert tried.coverage.orders == tried.coverage.possible and tried.coverage.seasons == len(at.seasons)


def test_beyond_four_appliances_the_worst_orders_are_looked_for_and_counted(lodge):
    a, b = lodge.remedy.plant.appliances
    many = tuple(replace((a, b)[k % 2], name=f"B{k}") for k in range(6))
    envelopes = tuple(replace(lodge.envelopes[0], appliance=x.name) for x in many)
    plant = replace(lodge.remedy.plant, appliances=lodge.remedy.plant.appliances)
    object.__setattr__(plant, "appliances", many)
    large = replace(lodge, remedy=replace(lodge.remedy, plant=plant), envelopes=envelopes)
    orders = failures.orders(large)
    assert orders[0] == tuple(range(6)) and len(set(orders)) == len(orders) < 720
    assert all(sorted(o) == list(range(6)) for o in orders)
    assert {o[0] for o in orders} == {o[-1] for o in orders} == set(range(6))  # each was first, and last


def test_a_hood_is_lit_stands_in_the_interlock_and_its_window_counts(hood, school):
    heater = SCHOOL.plant.appliances[0]
    assert heater.kind == "draft hood" and heater.name in hood.trial.timeline.names
    assert all(state is State.RUN for state in hood.trial.timeline.ends)
    for start in hood.starts:
        own = next(o for o in start.outlets if o.appliance == heater.name)
        assert np.isfinite(own.lowest) and np.isfinite(own.highest)
    runs = trial_run.trial_runs(SCHOOL, school.remedy)
    row = [a.name for a in SCHOOL.plant.appliances].index(heater.name)
    assert all(run.trace.codes[row].max() == 1.0 for run in runs)
    # No release of a hood before draft is proved, as of any other.
    spans = hood.trial.timeline.spans(heater.name)
    assert [s for *_, s in spans][:4] == [State.IDLE, State.STARTING, State.PROVING, State.PURGE]


# --- Failures ---------------------------------------------------------------------------------------------------


def test_every_case_is_tried_in_every_season(found):
    for season in LODGE.seasons:
        assert {f.case for f in found.failures if f.season == season.name} == set(CASES)
    assert {f.appliance for f in found.failures if f.case == FLAME} == {a.name for a in LODGE.plant.appliances}
    assert found.coverage.failures == len(found.failures)
    assert all(f.appliance == "" for f in found.failures if f.case != FLAME)


def test_the_governing_states_are_the_ends_of_what_the_devices_add(lodge):
    added, states = lodge.scan.solution.added.sum(axis=0), lodge.scan.states
    calm = (states.windy == 0.0) & lodge.scan.any_firing & lodge.scan.solution.converged
    for season, columns in enumerate(failures.governing(lodge.scan)):
        own = calm & (states.season == season)
        assert added[list(columns)].max() == added[own].max() and added[list(columns)].min() == added[own].min()


def test_what_sees_a_failure_comes_after_its_delay(found):
    s = found.trial.settings
    for f in found.failures:
        delays = {Event.FAN_FAILED.name: "fan_delay", Event.FLAME_LOST.name: "flame_response",
                  Event.DAMPER_FAULT.name: "damper_delay", Event.HIGH_PRESSURE.name: "high_delay",
                  Event.LOW_PRESSURE.name: "low_delay", Event.PROOF_LOST.name: "proof_delay"}  # fmt: skip
        assert list(f.acts) == sorted(f.acts, key=lambda a: a.at)
        assert all(a.at >= s.seconds(delays[a.event]) for a in f.acts if a.event in delays)
        counted = [a.at for a in f.acts if not (f.case == FLAME and a.event == Event.FLAME_LOST.name)]
        assert f.shutdown == pytest.approx(min(counted, default=inf) + failures.VALVE)
        assert f.outside <= min(f.shutdown, failures.LONGEST) + 0.2 + 1e-9


def test_a_fan_that_stops_raises_every_outlet_and_is_seen(found):
    for f in (f for f in found.failures if f.case == FAN):
        assert {a.event for a in f.acts} >= {Event.FAN_FAILED.name, Event.HIGH_PRESSURE.name} and f.shutdown < 5.0
    assert all(f.shutdown == failures.VALVE for f in found.failures if f.case == POWER)


def test_a_blocked_line_that_the_limits_share_is_never_seen_and_a_frozen_sensor_is(found):
    still = [f for f in found.failures if f.case == STILL]
    blocked = [f for f in found.failures if f.case == BLOCKED]
    assert len(still) == len(blocked) > 0
    assert all(f.shutdown == f.limit == inf and not f.acts for f in blocked)
    for s, b in zip(still, blocked, strict=True):
        assert any(a.event == Event.SENSOR_FAILED.name for a in s.acts) and s.shutdown <= 63.0
        assert (s.before, s.after) == (b.before, b.after) and b.outside >= s.outside and b.beyond >= s.beyond


def test_gas_that_a_blocked_line_lets_into_the_room_is_weighed(hood):
    """Through the hood, with the boilers fired up behind a damper that stands where it stood: kilograms a minute."""
    worst = hood.worst(BLOCKED)
    (heater,) = (o for o in worst.outlets if o.appliance == "Water heater")
    assert worst.into_room == pytest.approx(heater.into_room, rel=1e-3) and worst.into_room > 1.0
    # No more than all burners make in the time: at most 1799 MBH at 25 % excess air, some 0.35 g/kJ.
    most = 0.00046 * 1799 * 0.29307 * failures.LONGEST
    assert worst.into_room < most


def test_nothing_is_told_of_what_does_not_hold_the_header(lodge):
    assert failures.tried(LODGE, replace(lodge, remedy=replace(lodge.remedy, set_point=None))) is None


# --- Limits -----------------------------------------------------------------------------------------------------


def first_outlet_leaves(outcome, pressure, side):
    """Whether some outlet is beyond its window in a held state when the whole vent is moved to a header pressure."""
    scan = outcome.scan
    moved = scan.solution.outlet_pressure - end_of_header.header_pressure(scan) + pressure
    windows = np.array([[float(w.m_as("Pa")) for w in a.window] for a in scan.plant.appliances])
    counts = (scan.states.codes > 0) & ~outcome.held.missed.any(axis=0)
    beyond = moved > windows[:, 1:] if side > 0 else moved < windows[:, :1]
    return bool((beyond & counts).any())


def test_the_lodge_s_high_limit_acts_before_the_first_outlet_stands_at_its_edge(found, lodge):
    """The high limit of the lodge: not above the header pressure that puts the first outlet at -0.010 in. w.c."""
    high = found.limits.high
    assert [float(a.window[1].m_as("inH2O")) for a in LODGE.plant.appliances] == pytest.approx([-0.010] * 2, abs=1e-4)
    assert not first_outlet_leaves(lodge, high.edge - 0.01, 1) and first_outlet_leaves(lodge, high.edge + 0.01, 1)
    assert high.pressure <= high.edge
    assert not first_outlet_leaves(lodge, high.pressure, 1)
    low = found.limits.low
    assert not first_outlet_leaves(lodge, low.edge + 0.01, -1) and first_outlet_leaves(lodge, low.edge - 0.01, -1)
    assert low.pressure >= low.edge
    # The usual limit of +0.08 in. w.c. would act long after: that is what stood on the sheet.
    assert first_outlet_leaves(lodge, float(Q_(0.08, "inH2O").m_as("Pa")), 1)


def test_a_limit_that_fits_keeps_the_sensor_s_error_from_both_sides(found):
    low = found.limits.low
    assert NO_ROOM not in low.codes
    assert low.pressure >= low.edge + low.error - 1e-9 and low.pressure <= low.normal - failures.KEEPS_CLEAR + 1e-9


def test_where_no_limit_fits_the_record_says_so(found):
    high = found.limits.high
    room = (high.edge - high.error) - (high.normal + failures.KEEPS_CLEAR + high.error)
    assert (NO_ROOM in high.codes) == (room < 0.0) and not found.limits.fits
    assert (TRIPS_A_START in high.codes) == (high.needs > high.delay)


def test_the_error_is_that_of_the_sensor_and_of_its_tap(found, lodge):
    tap = error_spread.errors(lodge.scan, sensor_location.taps(lodge.remedy.plant)[0])
    assert tap.tap.name == "end cap"
    own = 0.01 * float((LODGE.sequence.sensor_most - LODGE.sequence.sensor_least).m_as("Pa"))
    assert found.limits.high.error == pytest.approx(max(own - tap.low, 0.0))
    assert found.limits.low.error == pytest.approx(max(own + tap.high, 0.0))


def test_limits_of_the_job_stand_in_the_settings_and_trip_what_they_must(found):
    s, limits = found.trial.settings, found.limits
    assert s.high_limit.m_as("Pa") == pytest.approx(limits.high.pressure)
    assert s.low_limit.m_as("Pa") == pytest.approx(limits.low.pressure)
    assert limits.low.pressure < s.set_point.m_as("Pa") < limits.proof < limits.high.pressure
    tripped = [s for s in found.starts if any(a.event == Event.HIGH_PRESSURE.name for a in s.acts)]
    assert bool(tripped) == (TRIPS_A_START in limits.high.codes)


def test_a_wider_window_makes_room_for_a_limit(lodge):
    """With the upper edge 12 Pa higher a limit fits between: pressures alone, the same starts and failures."""
    low, high = LODGE.plant.appliances[0].window
    windows = {a.name: (low, high + Q_(12, "Pa")) for a in LODGE.plant.appliances}
    plant = outlet_control.with_windows(lodge.remedy.plant, windows)
    wide = replace(lodge, remedy=replace(lodge.remedy, plant=plant), scan=replace(lodge.scan, plant=plant))
    high = failures.tried(LODGE, wide).limits.high
    assert NO_ROOM not in high.codes and high.pressure <= high.edge - high.error + 1e-9


def test_the_sheet_tells_the_job_s_own_limits_and_why(found):
    why = failures.reasons(found.limits, "SI")
    rows = {r.name: r for r in startup_sheet(found.trial.settings, "SI", why)}
    row = rows["high pressure limit"]
    assert row.value.m_as("Pa") == pytest.approx(found.limits.high.pressure) and row.status == "computed"
    assert found.limits.high.appliance in row.why and f"{found.limits.high.edge:.1f} Pa" in row.why
    assert ("none fits" in row.why) == (NO_ROOM in found.limits.high.codes)
    assert set(why) == {"proof", "high_limit", "low_limit", "high_delay", "low_delay"}
    assert rows["pilot trial for ignition"].status != "computed"


def test_what_is_never_seen_is_the_gravest(found, hood):
    for tried in (found, hood):
        worst = tried.worst(BLOCKED)
        assert worst.unseen and worst.outside > failures.BRIEF
        assert worst.into_room == max(f.into_room for f in tried.failures if f.case == BLOCKED and f.unseen)
        assert not any(f.unseen for f in tried.failures if f.case in (FAN, POWER))


def test_what_is_over_within_a_second_is_no_excursion():
    step = 0.2
    swing = np.array([0, 1, 1, 1, 1, 1, 0, 0, 1, 1, 1, 1, 1, 1, 0, 1], bool)
    assert failures._for_long(swing, step).tolist() == [False] * 8 + [True] * 6 + [False] * 2


def test_the_swing_of_a_stop_is_told_as_a_peak_but_not_as_an_excursion(found):
    """All burners stop within half a second when the power fails: the column's inertia pulls at every outlet."""
    for f in (f for f in found.failures if f.case == POWER):
        low = {a.name: float(a.window[0].m_as("Pa")) for a in LODGE.plant.appliances}
        assert any(o.lowest < low[o.appliance] - 10.0 for o in f.outlets) and f.beyond == f.outside == 0.0
