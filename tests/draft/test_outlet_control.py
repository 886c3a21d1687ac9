"""Outlet control: hand cases on forced vents, leaks in series, the two alternates of the swimming hall, and what real
dampers cost."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import SEASONS, all_states, opposed_plant, row_plant
from sample_windows import HALL, MIXED, as_is, row_scan, window
from scipy.optimize import brentq

from ventcalc.checked import unexplained
from ventcalc.draft import damper_leakage, held_pressure, outlet_control
from ventcalc.draft.common_window import held_common_window, offsets
from ventcalc.draft.held_pressure import TOLERANCE
from ventcalc.draft.outlet_control import (
    TAKES_AWAY,
    compare,
    controls,
    draft_missing,
    duties,
    governed,
    header_needed,
    ideal_dampers,
    in_series,
    open_losses,
    round_dampers,
    set_point,
    shut_leak,
    with_shut_dampers,
    with_windows,
)
from ventcalc.gas.appliance import Leak
from ventcalc.handbook import outlet_control as chapter
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, firing_states, outlet_envelope, reversal
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import compile_network


@cache
def compared():
    """The four arrangements."""
    return compare(MIXED, HALL.seasons)


@dataclass(frozen=True)
class Fixed:
    """A fixed resistance R [Pa s2/m6], quadratic in the flow."""

    resistance: float

    def limits(self, flow, density, area):
        lost = -self.resistance * flow * np.abs(flow)
        return lost, lost


def test_against_printed_rows():
    checks = chapter.checks()
    assert len(checks) == 4 and all(c.agrees for c in checks)
    assert unexplained(checks) == []


def test_dampers_of_two_equal_boilers_differ_by_what_their_windows_differ():
    # Mirror images: equal flows on equal ways. So what the two dampers take differs by the set points alone, 30 Pa, in
    # every state that is its own mirror image; nothing of the vent enters.
    plant = with_windows(opposed_plant(), {"left 1": window(20.0, 60.0), "right 1": window(0.0, 20.0)})
    states = all_states(plant)
    alike = (states.codes[0] == states.codes[2]) & (states.codes[1] == states.codes[3]) & (states.codes[0] > 0)
    held = held_pressure.hold(plant, SEASONS, states[alike], (
        *controls(plant, {"left 1": TAKES_AWAY, "right 1": TAKES_AWAY}),
        held_pressure.Control("stack", held_pressure.Ideal(), "header", Q_(-80.0, "Pa")),
    ))  # fmt: skip
    assert held.settled.all() and not held.missed.any() and len(held.settled) >= 18
    assert held.added[1] - held.added[0] == pytest.approx(30.0, abs=2 * TOLERANCE)


def test_what_each_damper_takes_is_its_set_point_less_the_open_vent():
    # All flows are prescribed, so the vent without any device says it all: outlet and header move together.
    plant = with_windows(row_plant(2), {"B1": window(0.0, 60.0), "B2": window(-10.0, 10.0)})
    free = firing_states.scan(plant, SEASONS)
    header = end_of_header.header_pressure(free)
    wanted = np.array([[30.0], [0.0]])
    at = float(np.nanmin(wanted - offsets(free))) - 5.0
    fan = held_pressure.Control("stack", held_pressure.Ideal(), "header", Q_(at, "Pa"))
    held = held_pressure.hold(plant, SEASONS, free.states, (fan, *controls(plant, ideal_dampers(plant))))
    runs = free.states.codes > 0
    by_hand = wanted - at - (free.solution.outlet_pressure - header)
    for i in range(2):
        assert -held.added[i + 1, runs[i]] == pytest.approx(by_hand[i, runs[i]], abs=2 * TOLERANCE)
        assert held.solution.outlet_pressure[i, runs[i]] == pytest.approx(float(wanted[i, 0]), abs=TOLERANCE)
    # Up to 70 of 101,325 Pa make the gas 0.07 % denser, of 200 Pa of column and tens of pascals of loss: 0.2 Pa.
    assert held.added[0, free.any_running] == pytest.approx(header[free.any_running] - at, abs=2 * TOLERANCE + 0.2)
    # Its loss coefficient, on the velocity head where it stands.
    duty, found = duties(held)[0], free.solution
    row, state = found.row("connector 1"), duty.states[1]
    per_area = found.flow[row, state] / (np.pi * 0.2**2 / 4.0)
    assert duty.loss[1] == pytest.approx(by_hand[0, state] * 2.0 * found.density[row, state] / per_area**2, rel=2e-3)
    assert duty.pressure == pytest.approx(by_hand[0, runs[0]].max(), abs=2 * TOLERANCE)
    assert duty.loss[0] <= duty.loss[1] and (duty.appliance, duty.section) == ("B1", "connector 1")


def test_the_middle_of_the_window_has_the_largest_worst_margin():
    plant = with_windows(row_plant(2), {"B1": window(-40.0, 0.0), "B2": window(-30.0, 20.0)})
    free = firing_states.scan(plant, SEASONS)
    margins = []
    for share in np.linspace(0.0, 1.0, 11):
        held = held_pressure.hold(plant, SEASONS, free.states, controls(plant, ideal_dampers(plant), share))
        assert held.settled.all()
        margins.append([e.margin for e in outlet_envelope.envelopes(held.scan(free))])
    margins = np.array(margins)
    assert (margins[5] >= margins.max(axis=0) - 2 * TOLERANCE).all()
    assert np.ptp(margins, axis=0).min() > 5.0  # and it is worth choosing


def test_set_points_are_within_the_window():
    a = row_plant(1).appliances[0]
    assert [set_point(a, s).m_as("Pa") for s in (0.0, 0.5, 1.0)] == pytest.approx([-25.0, 0.0, 25.0])
    with pytest.raises(ValueError, match=r"set_point: share = 1\.2 must be at most 1"):
        set_point(a, 1.2)


def test_four_arrangements_of_the_two_alternates():
    bare, header, passive, fanned = compared()
    assert [a.unsettled for a in compared()] == [0, 0, 0, 0]
    assert [a.devices for a in compared()] == [0, 2, 3, 4]
    assert bare.missed.size > header.missed.size > passive.missed.size > fanned.missed.size == 0
    # The header control does what it can: both ends are missed by the same, half of what the windows lack.
    lacking = held_common_window(as_is()).lacking
    assert max(e.below for e in header.envelopes) == pytest.approx(lacking / 2, abs=0.1)
    assert max(e.above for e in header.envelopes) == pytest.approx(lacking / 2, abs=0.1)
    # Dampers alone cure all that is too low and nothing of what is too high.
    for before, after in zip(bare.envelopes, passive.envelopes, strict=True):
        assert before.below > 0.0 and after.below == 0.0
        assert after.above == pytest.approx(before.above, abs=0.5)
    least, most = fanned.header_adds
    assert least == 0.0 and most > 0.0  # the fan never has to hold back: that is the dampers' part
    # Every running outlet stands at the middle of its window.
    for i, a in enumerate(MIXED.appliances):
        at = fanned.scan.solution.outlet_pressure[i, fanned.scan.running(i)]
        assert at == pytest.approx(set_point(a).m_as("Pa"), abs=2 * TOLERANCE)


def test_a_pin_of_how_many_states_are_missed():
    # Not evidence, a pin of our own numbers: what the chapter tells.
    assert [a.missed.size for a in compared()] == [688, 489, 320, 0]


def test_states_that_dampers_on_natural_draft_miss_are_those_whose_draft_is_missing():
    passive = compared()[2]
    shut = firing_states.scan(with_shut_dampers(MIXED, ideal_dampers(MIXED)), HALL.seasons)
    short = np.flatnonzero(draft_missing(shut, {}, share=1.0) > 0.0)
    assert passive.missed.tolist() == short.tolist()
    # A pin of our own: most are in the mild season and in summer, and not all of winter's are on a cold stack.
    season, cold = (v[passive.missed] for v in (shut.states.season, shut.states.cold))
    assert np.bincount(season, minlength=3).tolist() == [74, 168, 78]
    assert int((~cold[season == 0]).sum()) == 35


def test_what_is_missing_is_just_enough():
    scan = row_scan()
    # Added at the termination it puts the highest running outlet at its set point, in each state by itself.
    missing = draft_missing(scan, {})
    assert 0 < (missing > 0.0).sum() < len(scan.states)
    added = np.zeros((len(scan.plant.order), len(scan.states)))
    added[scan.plant.row("stack")] = missing
    outlet = solve(scan.plant, scan.seasons, scan.states, added).outlet_pressure
    over = np.where(scan.states.codes > 0, outlet - _thinned(missing), -np.inf).max(axis=0)  # windows of -25 to 25 Pa
    assert over[missing > 0.0] == pytest.approx(0.0, abs=1e-3) and (over[missing == 0.0] <= 1e-3).all()


def _thinned(missing):
    """What every outlet of the row rises by [Pa] as the gas before the termination expands: 0.04 Pa at most.

    Suction makes it thinner by its share of the barometric pressure (ideal gas): so much more loss, so much less weight
    of the gas. What the end of the vent costs stands behind the suction and does not change.
    """
    scan = row_scan()
    found, row, free = [], scan.plant.row("stack"), scan.solution
    outdoor = compile_network(scan.plant, scan.seasons).outdoor_density[scan.states.season]
    for i, a in enumerate(scan.plant.appliances):
        path = scan.plant.path(a.name)
        draft = free.draft[[scan.plant.row(s.name) for s in path]].sum(axis=0)
        weight = 9.80665 * sum(s.rise.m_as("m") for s in path) * outdoor - draft
        lost = free.outlet_pressure[i] + free.room_gauge[i] + draft - free.pressure_down[row]
        found.append((lost - weight) * missing / free.barometric)
    return np.array(found)


def test_the_header_pressure_needed_is_the_highest_that_does():
    scan = row_scan()
    for devices in (
        ideal_dampers(scan.plant),
        round_dampers(scan.plant, damper_leakage.leakage_class("EN class 3")),
    ):
        needed = header_needed(scan, devices)
        for higher, holds in ((-0.1, True), (0.5, False)):
            at = held_pressure.Control("stack", held_pressure.Ideal(), "header", Q_(needed + higher, "Pa"))
            held = held_pressure.hold(scan.plant, SEASONS, scan.states, (at, *controls(scan.plant, devices)))
            assert held.settled.all() and (not held.missed.any()) == holds


@pytest.mark.slow
def test_an_outlet_without_damper_bounds_the_header_as_well():
    # The school's water heater has a hood; the fan must not be set by the two boilers' windows alone.
    school = job_file.demonstration("school")
    assert [a.name for a in governed(school.plant)] == ["Boiler 1", "Boiler 2"]
    free = firing_states.scan(school.plant, school.seasons)
    middle = set_point(school.plant.appliances[0]).m_as("Pa")
    assert header_needed(free, ideal_dampers(school.plant)) < middle
    bare, _, passive, fanned = compare(school.plant, school.seasons)
    assert [len(passive.duties), len(fanned.duties)] == [2, 2]
    assert bare.envelopes[0].below > 0.0 and passive.envelopes[0].below > 0.0  # what dampers cannot do for a hood


def test_leaks_in_series_by_hand():
    leak = Leak(Q_(30.0, "cfm"), Q_(25.0, "Pa"))
    # Equal gaps share the pressure: the flow falls by the root of two. One of three times the resistance: by two.
    assert in_series(leak, leak).flow.m_as("cfm") == pytest.approx(30.0 / 2**0.5, rel=1e-12)
    assert in_series(leak, Leak(Q_(30.0, "cfm"), Q_(75.0, "Pa"))).flow.m_as("cfm") == pytest.approx(15.0, rel=1e-12)
    assert in_series(leak, leak).pressure == leak.pressure
    # The same in mixed units.
    tight = Leak(Q_(2.0, "cfm"), Q_(1.0, "inH2O"))
    metric = Leak(tight.flow.to("m**3/s"), tight.pressure.to("Pa"))
    assert in_series(leak, tight).flow.m_as("m**3/s") == pytest.approx(in_series(leak, metric).flow.m_as("m**3/s"))


@given(*(st.floats(0.5, 200.0) for _ in range(2)), *(st.floats(5.0, 500.0) for _ in range(2)))
def test_leaks_in_series_by_the_pressure_between_them(q1, q2, p1, p2):
    one, other = Leak(Q_(q1, "cfm"), Q_(p1, "Pa")), Leak(Q_(q2, "cfm"), Q_(p2, "Pa"))
    both = in_series(one, other)
    assert both.flow.m_as("cfm") < q1 * (1 + 1e-9)
    between = brentq(lambda p: q1 * np.sqrt(p / p1) - q2 * np.sqrt((p1 - p) / p2), 0.0, p1)
    assert both.flow.m_as("cfm") == pytest.approx(q1 * np.sqrt(between / p1), rel=1e-5)
    turned = in_series(other, one)
    resistance = [float((k.pressure / k.flow**2).m_as("Pa*s**2/m**6")) for k in (both, turned)]
    assert resistance[0] == pytest.approx(resistance[1], rel=1e-9)


def test_a_shut_damper_in_the_connector_is_the_same_as_its_leak_in_series():
    # The damper as a fixed loss on the flow in the connector, found by repetition, against the replaced leak.
    plant = row_plant(2, idle="leaking")
    shut = Leak(Q_(4.0, "cfm"), Q_(100.0, "Pa"))
    own = {"B1": replace(plant.appliances[0], leak=in_series(plant.appliances[0].leak, shut))}
    tighter = replace(plant, appliances=tuple(own.get(a.name, a) for a in plant.appliances))
    states = all_states(plant)
    states = states[(states.codes[0] == 0) & (states.codes[1] > 0)]
    expected = solve(tighter, SEASONS, states)
    # A device of equal limits is a fixed one; its control acts as long as the other boiler runs.
    resistance = float((shut.pressure / shut.flow**2).m_as("Pa*s**2/m**6"))
    plate = held_pressure.Control("connector 1", Fixed(resistance), "header", Q_(0.0, "Pa"))
    held = held_pressure.hold(plant, SEASONS, states, (plate,))
    assert held.settled.all()
    found = held.solution
    drawn = found.drawn[0]
    # Room air stays room air in the connector, which stands in the room: one density, so the leak is exact.
    forward = expected.drawn[0] > 0.0
    assert forward.any()
    assert drawn[forward] == pytest.approx(expected.drawn[0][forward], rel=2e-3)
    # Backward it is gas, cooled on its way up to the room air's temperature by half at least: within its density.
    assert drawn == pytest.approx(expected.drawn[0], rel=0.15)
    assert (np.abs(drawn) < np.abs(solve(plant, SEASONS, states).drawn[0])).all()


def test_idle_boilers_leak_less_behind_shut_dampers():
    plant, real = HALL.plant, round_dampers(HALL.plant, damper_leakage.leakage_class("EN class 3"))
    before = firing_states.scan(plant, HALL.seasons).first
    after = firing_states.scan(with_shut_dampers(plant, real), HALL.seasons).first
    idle = before.states.codes == 0
    assert np.abs(after.solution.drawn[idle]).max() < 0.1 * np.abs(before.solution.drawn[idle]).max()
    worst = [max(r.flow for r in reversal.reversals(s)) for s in (before, after)]
    assert worst[1] < 0.02 * worst[0]
    # Behind ideal dampers nothing leaks, and no flue gas can come out.
    assert reversal.reversals(compared()[3].scan) == ()
    assert {a.idle for a in with_shut_dampers(plant, ideal_dampers(plant)).appliances} == {"sealed"}
    # One without a damper keeps its leak.
    some = with_shut_dampers(plant, {"Boiler 1": real["Boiler 1"]})
    assert [a.leak == b.leak for a, b in zip(some.appliances, plant.appliances, strict=True)] == [False, True, True]


def test_what_a_shut_damper_leaks():
    damper = round_dampers(HALL.plant, damper_leakage.leakage_class("EN class 3"))["Boiler 1"]
    leak = shut_leak(damper)
    # 8 in. round, 0.008 m/s at 100 Pa (EN 1751 class 3).
    assert leak.flow.m_as("m**3/s") == pytest.approx(0.008 * np.pi / 4 * 0.2032**2, rel=1e-9)
    assert leak.pressure.m_as("Pa") == pytest.approx(100.0)


@pytest.mark.slow
def test_real_dampers_cost_a_deeper_header_by_their_open_loss():
    real = round_dampers(MIXED, damper_leakage.leakage_class("EN class 3"))
    *_, passive, fanned = compare(MIXED, HALL.seasons, real)
    ideal = compared()[3]
    assert fanned.unsettled == passive.unsettled == 0 and fanned.missed.size == 0
    # K of an open butterfly on the head of the greatest flow (CD9-1, data/draft/dampers.csv: 0.60).
    shut = firing_states.scan(with_shut_dampers(MIXED, real), HALL.seasons)
    head = shut.solution.head[shut.solution.row("connector 1")].max()
    assert open_losses(shut, real)[0].max() == pytest.approx(
        0.60 * head, rel=5e-3
    )  # head at the mean density, not at its end
    assert 0.8 * 0.60 * head < ideal.set_point - fanned.set_point < 1.2 * 0.60 * head
    # No damper comes near shut, purging or firing: it is open enough for a purge.
    for k, control in enumerate(fanned.held.controls[1:], 1):
        acts = fanned.held.acts[k]
        position = control.device.position_for(
            *(a[k, acts] for a in (-fanned.held.added, fanned.held.flow, fanned.held.density))
        )
        assert position.min() > 0.2 and (fanned.held.at[k, acts] >= 0).all()
    for asked in fanned.duties:
        assert asked.loss[0] >= 0.60 - 0.01


def test_loss_of_a_fixed_plate_by_hand():
    scan = row_scan()
    # An ideal device that can take 10 Pa and no less is a plate of 10 Pa: every outlet behind it rises by 10 Pa.
    plate = dict.fromkeys([a.name for a in scan.plant.appliances], held_pressure.Ideal(-10.0, -10.0))
    assert open_losses(scan, plate) == pytest.approx(10.0)
    assert header_needed(scan, plate) == pytest.approx(header_needed(scan, {}) - 10.0)
    assert draft_missing(scan, plate)[scan.any_running].max() == pytest.approx(draft_missing(scan, {}).max() + 10.0)


def test_a_header_set_point_that_is_given_is_kept():
    header, fanned = compare(row_plant(2), SEASONS, header_set_point=Q_(-20.0, "Pa"))[1::2]
    assert header.set_point == fanned.set_point == pytest.approx(-20.0)
    found = end_of_header.header_pressure(header.scan)[header.scan.any_running]
    assert found == pytest.approx(-20.0, abs=TOLERANCE)


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="with one appliance"):
        compare(row_plant(1), SEASONS)
    with pytest.raises(ValueError, match="no appliance forces its flow"):
        governed(row_plant(2, "draft hood"))
    with pytest.raises(ValueError, match="no appliance named B7; appliances are B1, B2"):
        with_windows(row_plant(2), {"B7": window(0, 1)})
    with pytest.raises(ValueError, match="must run from lower to higher"):
        with_windows(row_plant(2), {"B1": window(1, 0)})
    assert outlet_control.connector(HALL.plant, "Boiler 2").name == "connector 2"
