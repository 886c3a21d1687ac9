"""Device remedies: worked by hand, held where they can, missed where they cannot."""

import re
from dataclasses import replace

import numpy as np
import pytest
from sample_plants import appliance, row_plant
from sample_remedies import CALM, JOBS, compared_with, holds, job_of, masonry_job, named, small_job

from ventcalc.draft import fan_curve, outlet_control
from ventcalc.draft.held_pressure import HEADER, TOLERANCE
from ventcalc.flow import fittings
from ventcalc.job import device_remedies, remedies, remedy_outcome, remedy_reasons, remedy_words, vent_changes
from ventcalc.job.governing_scan import GoverningScan
from ventcalc.job.job_control import Offered
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, firing_states
from ventcalc.vent.network import compile_network


def test_a_fan_adds_the_draft_that_lacks_less_the_cap_it_replaces(sealed):
    # The burners force their flow, so all pressures but the fan's own stay as they were.
    one, scan = sealed
    o = remedy_outcome.outcome(one, device_remedies.fan_in_stack(one, one.plant, one.set_point, scan.states), scan)
    stack = scan.solution.row("stack")
    lacks = end_of_header.header_pressure(scan) - one.set_point.m_as("Pa")
    cap, bare = fittings.fitting("low-resistance cap"), fittings.fitting("open end")
    area = np.pi * one.plant.section("stack").diameter.m_as("m") ** 2 / 4
    density = scan.solution.density[stack]
    head = 0.5 * density * (scan.solution.flow[stack] / density / area) ** 2
    wind = compile_network(one.plant, one.seasons).wind_head[scan.states.season] * scan.states.windy
    total = lacks - (cap.loss - bare.loss) * head - (cap.wind - bare.wind) * wind
    # Its static pressure is that less the velocity head, which leaves with the gas.
    held = np.flatnonzero((np.abs(o.held.at[0]) == 0) & o.held.acts[0])
    assert held.size > 10
    found = np.full(len(scan.states), np.nan)
    found[o.duty.states] = o.duty.static
    # The gas is denser by what the fan adds to its pressure: 0.2 Pa at most.
    assert found[held] == pytest.approx((total - head)[held], abs=0.2)
    # Where the draft is too strong already the fan at its least still adds to it, and the header is missed.
    missed = o.held.missed[0]
    assert missed.any() and (o.held.at[0, missed] == -1).all() and (o.held.error[0, missed] < 0).all()


def test_a_damper_takes_the_draft_that_is_too_much(sealed):
    one, scan = sealed
    o = remedy_outcome.outcome(one, device_remedies.damper_in_stack(one, one.plant, one.set_point, scan.states), scan)
    excess = one.set_point.m_as("Pa") - end_of_header.header_pressure(scan)
    held = np.flatnonzero((o.held.at[0] == 0) & o.held.acts[0])
    assert held.size > 10 and -o.held.added[0, held] == pytest.approx(excess[held], abs=2 * TOLERANCE)
    # Its position is the one whose loss takes that: K from the table, on the velocity head in its own face.
    loss = o.remedy.damper.loss(o.position[held])
    face = o.remedy.damper.face
    head = 0.5 * o.held.density[0, held] * (o.held.flow[0, held] / face) ** 2
    assert loss * head == pytest.approx(excess[held], abs=0.1)
    # At the base of the stack: the last section before the rise, which carries both boilers.
    assert o.held.controls[0].section == "header 2"


def test_fan_and_damper_add_and_take_in_turn(sealed):
    one, scan = sealed
    o = remedy_outcome.outcome(one, device_remedies.fan_and_damper(one, one.plant, one.set_point, scan.states), scan)
    assert not o.unheld and not o.unsettled
    added, taken = o.held.added[0], -o.held.second[0]
    area = np.pi * one.plant.section("stack").diameter.m_as("m") ** 2 / 4
    least, _ = o.remedy.controls[0].device.limits(o.held.flow[0], o.held.density[0], area)
    row = o.scan.solution.row("header 2")
    density = o.scan.solution.density[row]
    open_ = o.remedy.damper.loss(1.0) * o.remedy.damper.head(o.scan.solution.flow[row] / density, density)
    throttling = taken > open_ + TOLERANCE
    assert throttling.any() and added[throttling] == pytest.approx(least[throttling], abs=2 * TOLERANCE)
    adding = added > least + 2 * TOLERANCE
    assert adding.any() and taken[adding] == pytest.approx(open_[adding], abs=2 * TOLERANCE)
    assert o.position[adding] == pytest.approx(1.0)


@pytest.mark.slow
def test_a_fan_beside_a_damper_never_resists(compared):
    for name in ("swim_hall", "lodge"):
        o = named(compared[name][1], "fan and damper")
        acts = o.held.acts[0]
        assert o.held.added[0, acts].min() >= -2 * TOLERANCE
        # In the strongest draft its static pressure is negative by the velocity head that leaves with the gas: it
        # turns faster than its least speed, just so that it is no obstacle.
        area = np.pi * o.remedy.plant.section(o.remedy.top).diameter.m_as("m") ** 2 / 4
        head = 0.5 * o.duty.density * (o.duty.flow / area) ** 2
        made = fan_curve.static_pressure.bare(o.remedy.fan.fan, o.duty.flow, o.duty.speed, o.duty.density)
        assert made + head == pytest.approx(o.held.added[0, acts], abs=3 * TOLERANCE)
        assert o.duty.speed.min() >= o.remedy.fan.least_speed - 1e-12
        assert o.duty.speed.max() < o.remedy.fan.most_speed


@pytest.mark.parametrize("name", JOBS)
def test_devices_stay_within_what_they_can(compared, name):
    _, outcomes = compared[name]
    for o in outcomes:
        for k, control in enumerate(o.held.controls if o.held else ()):
            area = np.pi * o.remedy.plant.section(control.section).diameter.m_as("m") ** 2 / 4
            acts = o.held.acts[k]
            flow, density, added = (a[k, acts] for a in (o.held.flow, o.held.density, o.held.added))
            least, most = control.device.limits(flow, density, area)
            assert (added >= least - 2 * TOLERANCE).all() and (added <= most + 2 * TOLERANCE).all(), o.remedy.name
            # What is missed is missed because the device is at its limit, the one that would help.
            missed = o.held.missed[k]
            assert (np.sign(o.held.error[k, missed]) == o.held.at[k, missed]).all(), o.remedy.name
        if o.duty is not None:
            motor = o.remedy.fan.fan.motor_power.m_as("W")
            assert o.duty.power.max() <= motor * (1 + 1e-9)
            assert o.duty.temperature.max() <= o.remedy.fan.fan.highest_temperature.m_as("K")


@pytest.mark.parametrize("name", ("swim_hall", "lodge"))
def test_fan_and_damper_hold_the_set_point_in_every_state_or_say_where_not(compared, name):
    _, outcomes = compared[name]
    o = named(outcomes, "fan and damper")
    pressure = end_of_header.header_pressure(o.scan)[o.scan.any_running]
    off = np.abs(pressure - JOBS[name].set_point.m_as("Pa"))
    if o.unheld:
        said = " ".join(remedy_words.reasons(o))
        assert o.scan.describe(int(np.nanargmax(np.abs(o.held.error[0])))) in said
        assert re.search(r"the (fan|damper)", said)
    else:
        assert off.max() <= TOLERANCE
    assert (off > TOLERANCE).sum() == o.unheld == 0
    # Neither does it alone: the fan cannot take what is too much, the damper cannot add what lacks.
    for alone, limit in (("fan", -1), ("damper", 1)):
        single = named(outcomes, alone)
        missed = single.held.missed[0]
        assert missed.any() and (single.held.at[0, missed] == limit).all()
        device = {"fan": "the fan at its least speed", "damper": "the damper wide open"}[alone]
        worst = single.scan.describe(int(np.nanargmax(np.abs(single.held.error[0]))))
        assert any(device in text and worst in text for text in remedy_words.reasons(single))


@pytest.mark.slow
def test_a_held_header_may_still_be_held_at_the_wrong_pressure(compared):
    # The swimming hall: 54 states leave a window with the header held exactly, none at the other set point.
    scan, outcomes = compared["swim_hall"]
    drawn, other = (named(outcomes, f"fan and damper{said}") for said in ("", ", other set point"))
    window = outlet_control.held_common_window(scan)
    assert drawn.unheld == other.unheld == 0
    assert JOBS["swim_hall"].set_point.m_as("Pa") < window.low and drawn.outside == 54
    # The windows move a little with the header, since idle boilers leak; it was held elsewhere here.
    assert other.remedy.set_point.m_as("Pa") == pytest.approx((window.low + window.high) / 2, abs=0.05)
    assert other.remedy.serve == pytest.approx((window.low, window.high), abs=0.05)
    assert other.holds and other.margin == pytest.approx((window.high - window.low) / 2, abs=0.3)
    # The lodge's set point serves, but not from the middle: there both devices leave more margin.
    scan, outcomes = compared["lodge"]
    drawn, other = (named(outcomes, f"fan and damper{said}") for said in ("", ", other set point"))
    assert drawn.holds and other.holds and other.margin > drawn.margin + vent_changes.STILL
    assert other.remedy.set_point.m_as("Pa") == pytest.approx(np.mean(other.remedy.serve))
    # Where the job asks for the middle, no other is tried.
    middle = replace(JOBS["lodge"], set_point=other.remedy.set_point)
    names = [o.remedy.name for o in remedies.compare(middle, scan)]
    assert "fan and damper" in names and "fan and damper, other set point" not in names


@pytest.mark.slow
def test_dampers_at_the_outlets_have_the_header_as_low_as_they_need(compared):
    scan, outcomes = compared["swim_hall"]
    o = named(outcomes, "damper at each outlet and a fan")
    ours = o.remedy.set_point.m_as("Pa")
    # Where all dampers are held the outlets stand at the middle of their windows, which for these is zero.
    for k, control in enumerate(o.held.controls):
        if control.sensor != HEADER:
            held = o.held.acts[k] & ~o.held.missed[k]
            i = [a.name for a in scan.plant.appliances].index(control.sensor)
            assert o.scan.solution.outlet_pressure[i, held] == pytest.approx(0.0, abs=TOLERANCE)
            assert (~o.held.missed[k]).sum() > 0.99 * len(scan.states)
    assert o.remedy.outlets == ("Boiler 1", "Boiler 2", "Boiler 3") and len(o.remedy.devices) == 4
    # A header held a little higher leaves more of them wide open and above it.
    higher = Q_(ours + 5.0, "Pa")
    worse = remedies.offered(
        replace(JOBS["swim_hall"], offered=Offered("damper at each outlet and a fan", higher, None, None)), scan
    )
    assert worse.held.missed[1:].sum() > o.held.missed[1:].sum()
    assert any("left to the outlets' dampers" in text for text in remedy_words.reasons(o))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["draft hood", "barometric"])
def test_hoods_and_regulators_get_all_that_applies(kind):
    one = job_of(row_plant(2, kind, stack_height=8.0), -8.0, CALM[:2])
    found = remedies.compare(one)
    assert {o.remedy.name.removesuffix(", other set point") for o in found} >= {"fan", "damper", "fan and damper"}
    assert all(o.unsettled == 0 for o in found)
    # A damper that raises the header makes hoods spill: people come first, so it stands behind what does not.
    gas = [o.gas_in_room > 0 for o in found if not remedy_outcome.serves(o)]
    assert gas == sorted(gas) and any(gas)


@pytest.mark.slow
def test_the_middle_of_all_that_serves_is_offered_where_the_jobs_own_is_not_among_it():
    one, outcomes = compared_with("small", set_point=-40)
    other = named(outcomes, "fan and damper, other set point")
    low, high = other.remedy.serve
    assert one.set_point.m_as("Pa") < low < high
    assert other.remedy.set_point.m_as("Pa") == pytest.approx((low + high) / 2.0)
    own = named(outcomes, "fan and damper")
    assert "set point outside" in {r.code for r in remedy_reasons.reasons(own)} and not holds(own)
    # Worked again: at the ends of what serves an outlet stands at the edge of its window.
    for pascal, inside in ((low + 0.3, True), (low - 1.0, False), (high - 0.3, True), (high + 1.0, False)):
        moved = replace(other.remedy, set_point=Q_(pascal, "Pa"), start=None, controls=tuple(
            replace(c, set_point=Q_(pascal, "Pa")) for c in other.remedy.controls))  # fmt: skip
        scan = firing_states.scan(one.plant, one.seasons)
        assert (remedy_outcome.outcome(one, moved, scan).outside == 0) == inside


def test_dampers_at_the_outlets_of_burners_that_push_leave_the_header_under_draft():
    """Windows of -10 to 80 Pa have their middle above the room: a header as high as their dampers allow would push flue
    gas out of whichever boiler is idle. It stands at the job's set point."""
    one = small_job(low=-10, high=80)
    scan = firing_states.scan(one.plant, one.seasons).first
    alone, with_fan = device_remedies.outlet_dampers(one, scan)
    assert outlet_control.header_needed(scan, outlet_control.round_dampers(one.plant, device_remedies.LEAKAGE)) > 0.0
    assert with_fan.set_point == one.set_point and with_fan.outlets == alone.outlets
    o = remedy_outcome.outcome(one, with_fan, scan)
    idle = (o.scan.states.codes == 0) & o.scan.any_firing
    assert idle.any() and (o.scan.solution.outlet_pressure[idle] < 0.0).all()
    # Where the middle lies below the room the header is as high as the dampers allow, as before.
    low = small_job()
    scan = firing_states.scan(low.plant, low.seasons).first
    assert device_remedies.outlet_dampers(low, scan)[1].set_point < Q_(-30.0, "Pa")


def test_a_liners_fan_is_set_to_the_jobs_own_and_to_the_middle_of_what_serves():
    """What is told as moved is what is not at the job's own set point, and each holds the header where it says."""
    one = masonry_job()
    scan = firing_states.scan(one.plant, one.seasons)
    few = GoverningScan(one, scan, np.arange(len(scan.conditions)))
    own, other = device_remedies.fans_on_liner(few, one.plant)
    assert own.set_point == one.set_point and not own.moved
    assert other.moved and other.set_point.m_as("Pa") == pytest.approx(np.mean(other.serve))
    for remedy in (own, other):
        assert remedy.controls[0].set_point == remedy.set_point and remedy.drawn is one.plant
        found = remedy_outcome.outcome(one, remedy)
        held = found.held.acts[0] & ~found.held.missed[0]
        header = end_of_header.header_pressure(found.scan)[held]
        assert held.any() and header == pytest.approx(remedy.set_point.m_as("Pa"), abs=TOLERANCE)


@pytest.mark.parametrize(
    ("kinds", "so"),
    [(("forced",), False), (("forced",) * 2, True), (("draft hood",) * 2, False), (("draft hood", "forced"), True)],
)
def test_outlets_have_dampers_where_several_meet_and_a_burner_forces_its_flow(kinds, so):
    """Common practice, no source: a hood has no outlet to hold, and one alone has the stack's own damper."""
    row = row_plant(len(kinds))
    plant = replace(row, appliances=tuple(appliance(a.name, k) for a, k in zip(row.appliances, kinds, strict=True)))
    assert device_remedies.governs(plant) == so
