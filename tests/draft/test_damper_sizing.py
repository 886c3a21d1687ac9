"""Damper sizing: each way to fail is told, the least bad first, duties of a vent held."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_dampers import TIGHT, WINTER, one_state, square
from sample_plants import row_plant

from ventcalc.draft import held_pressure
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.damper_sizing import Duties, size
from ventcalc.draft.dampers import Damper
from ventcalc.units import Q_
from ventcalc.vent.states import States
from ventcalc.words import told


def duties(flow, destroy, density=1.0):
    flow = np.asarray(flow, float)
    return Duties(flow, np.full(flow.shape, density), np.asarray(destroy, float), np.arange(flow.size) + 7)


def test_each_way_to_fail_is_told():
    light = duties([0.05, 0.9], [60.0, 0.0])
    leaky, tight, small = (
        square(0.5, leakage=leakage_class("EN class 1")),
        square(0.5, leakage=leakage_class("EN class 4")),
        square(0.15),
    )
    rated = {id(r.damper): r for r in size(light, (leaky, tight, small), Q_(5.0, "Pa"))}
    # By hand: head 0.02 Pa in 0.25 m2; shut at class 1, K = 100/(0.6007*0.04) = 4161 destroys 83 Pa: enough.
    assert "leaks" not in {r.code for r in rated[id(leaky)].reasons}
    worse = size(duties([0.03], [60.0]), (leaky,), Q_(5.0, "Pa"))[0]
    assert worse.error[0] == pytest.approx(0.5 * (0.03 / 0.25) ** 2 * 4161 - 60.0, abs=0.05)
    (why,) = told(worse.reasons)
    assert "leaks too much" in why and "through at 64 cfm" in why and worse.smallest == (0.0, 0)
    assert worse.reasons[0].figures["wanted"] == Q_(60.0, "Pa")
    assert "costs" in {r.code for r in rated[id(small)].reasons}
    assert rated[id(small)].error[1] == pytest.approx(square(0.15).loss(1.0) * 0.5 * (0.9 / 0.0225) ** 2)


def test_none_fits_is_said_and_the_least_bad_stands_first():
    rated = size(duties([0.05, 1.5], [80.0, 0.0]), [square(s) for s in (0.15, 0.25, 0.3)], Q_(1.0, "Pa"))
    assert len(rated) == 3 and not any(r.fits for r in rated)
    assert all(r.reasons for r in rated)
    assert [r.burden for r in rated] == sorted(r.burden for r in rated)


def test_one_that_fits_stands_before_those_that_do_not():
    wanted = duties([0.1, 0.5], [15.0, 0.0])
    rated = size(wanted, [square(s) for s in (0.2, 0.45, 1.4)], Q_(2.0, "Pa"), least_opening=0.15)
    assert rated[0].fits and rated[0].damper.width == Q_(0.45, "m") and not any(r.fits for r in rated[1:])
    picky = size(wanted, [square(0.45)], Q_(2.0, "Pa"), least_opening=0.9)
    assert any("too near shut" in words for words in told(picky[0].reasons))


def test_a_step_of_the_actuator_by_hand():
    rated = size(duties([0.5], [20.0]), [square()], Q_(5.0, "Pa"), actuator_step=0.02)[0]
    where = rated.position[0]
    head = 0.5 * (0.5 / 0.16) ** 2
    assert rated.step[0] == pytest.approx((square().loss(where - 0.01) - square().loss(where + 0.01)) * head)
    assert rated.step[0] == pytest.approx(20.0 * square().steepness(where) * 0.02, rel=0.02)


@given(flow=st.floats(0.05, 1.0), destroy=st.floats(-50.0, 50.0), scale=st.floats(1.0, 3.0))
def test_a_larger_face_never_costs_more_open(flow, destroy, scale):
    small, large = (size(duties([flow], [destroy]), [square(s)], Q_(1, "Pa"))[0] for s in (0.3, 0.3 * scale))
    assert large.error[0] <= small.error[0] + 1e-6


def test_sizing_needs_something_to_size():
    with pytest.raises(ValueError, match="nothing to rate"):
        size(duties([0.5], [20.0]), [], Q_(5, "Pa"))
    with pytest.raises(ValueError, match="tolerance"):
        size(duties([0.5], [20.0]), [square()], Q_(0, "Pa"))


def test_reasons_in_both_systems():
    wanted = duties([1.5], [0.0])
    us, si = (told(size(wanted, [square(0.15)], Q_(1.0, "Pa"))[0].reasons, s)[0] for s in ("US", "SI"))
    assert "in. w.c." in us and " Pa" in si


def test_duties_do_not_depend_on_the_damper_where_burners_prescribe_the_flow():
    plant = row_plant(2)
    codes = np.array([[0, 1, 2, 1, 2, 2], [1, 0, 0, 1, 1, 2]])
    states = States(codes, np.zeros(6, int), np.zeros(6), np.zeros(6))
    control = held_pressure.Control("stack", held_pressure.Ideal(), held_pressure.HEADER, Q_(-12, "Pa"))
    wanted = Duties.of(held_pressure.hold(plant, (WINTER,), states, (control,)))
    damper = Damper("opposed", Q_(0.35, "m"), Q_(0.35, "m"), TIGHT, 4)
    held = held_pressure.hold(plant, (WINTER,), states, (replace(control, device=damper),))
    rated = size(wanted, [damper], Q_(5, "Pa"))[0]
    here = np.abs(held.error[0]) < 0.02
    assert here.any()
    position = damper.position_for(-held.added[0], held.flow[0], held.density[0])
    assert rated.position[here] == pytest.approx(position[here], abs=2e-3)


def test_duties_that_have_not_settled_are_refused():
    plant, states = row_plant(1), one_state(row_plant(1), 1)
    control = held_pressure.Control("stack", held_pressure.Ideal(), held_pressure.HEADER, Q_(-12, "Pa"))
    held = held_pressure.hold(plant, (WINTER,), states, (control,))
    with pytest.raises(ValueError, match="1 of 1 states have not settled"):
        Duties.of(replace(held, settled=np.zeros(1, bool)))


def test_the_worst_of_several_duties_is_the_burden_whatever_the_others_are():
    """One duty that a damper does well and one that it does badly: alone the bad one burdens it as much."""
    good, bad = ([0.5], [20.0]), ([1.5], [0.0])
    both = size(duties([0.5, 1.5, 0.5], [20.0, 0.0, 20.0]), [square(0.25)], Q_(5.0, "Pa"))[0]
    alone = [size(duties(*one), [square(0.25)], Q_(5.0, "Pa"))[0].burden for one in (good, bad)]
    assert alone[0] < 0.5 * alone[1] and both.burden == pytest.approx(max(alone))
    # By hand: wide open it loses K velocity heads of 1.5 m3/s in 0.0625 m2, 288 Pa each, where none are wanted.
    assert alone[1] == pytest.approx(square(0.25).loss(1.0) * 0.5 * (1.5 / 0.0625) ** 2 / 5.0)


def test_duties_are_those_of_settled_states_in_which_a_control_acts():
    rows = np.array([[1.0, 2.0, 3.0]])
    acts, settled = np.array([[True, False, True]]), np.array([True, False, True])
    held = Made(acts=acts, settled=settled, flow=rows, density=rows + 1.0, added=-rows - 2.0)
    found = Duties.of(held)
    assert [a.tolist() for a in (found.flow, found.density, found.destroy, found.states)] == [
        [1.0, 3.0], [2.0, 4.0], [3.0, 5.0], [0, 2]]  # fmt: skip
    held.settled = np.array([True, True, False])
    with pytest.raises(ValueError, match="1 of 2 states have not settled"):
        Duties.of(held)


@pytest.mark.parametrize(("code", "flow", "destroy", "at_least"), [
    ("leaks", [0.5, 0.01], [10.0, 60.0], 0.0), ("costs", [0.2, 1.5], [10.0, 0.0], 0.0),
    ("near_shut", [0.9, 0.3], [0.0, 300.0], 0.5)])  # fmt: skip
def test_each_reason_names_its_worst_duty(code, flow, destroy, at_least):
    damper = square(0.3, leakage=leakage_class("EN class 1"))
    for turn in (1, -1):  # whichever comes first
        rated = size(duties(flow[::turn], destroy[::turn]), [damper], Q_(5.0, "Pa"), least_opening=at_least)[0]
        (why,) = [r for r in rated.reasons if r.code == code]
        assert why.figures["flow"] == Q_(flow[1], "m**3/s")


@pytest.mark.parametrize(
    ("code", "flow", "destroy"), [("leaks", 0.03, 60.0), ("costs", 1.5, 0.0), ("coarse", 0.5, 60.0)]
)
def test_what_is_exactly_tolerated_is_no_reason(code, flow, destroy):
    damper = square(0.5 if code == "leaks" else 0.3, leakage=leakage_class("EN class 1"))

    def rated(tolerance):
        return size(duties([flow], [destroy]), [damper], Q_(tolerance, "Pa"), actuator_step=0.02)[0]

    found = rated(1e-6)
    worst = float(found.step[0] if code == "coarse" else abs(found.error[0]))
    assert code in {r.code for r in rated(0.999 * worst).reasons}
    assert code not in {r.code for r in rated(worst).reasons}


def test_the_smallest_opening_is_that_of_the_duty_that_needs_it():
    """The second of three duties destroys the most at the same flow, so it needs the damper nearest to shut."""
    rated = size(duties([0.5, 0.5, 0.5], [20.0, 80.0, 5.0]), [square()], Q_(5.0, "Pa"))[0]
    assert rated.smallest == (rated.position[1], 1) and rated.position[1] < rated.position[0] < rated.position[2]
