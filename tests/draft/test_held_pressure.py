"""Held pressure: hand cases, roots found one by one by scipy, devices at their limits, several controls at once."""

from dataclasses import dataclass, replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, random_tree, row_plant, some_states
from scipy.optimize import brentq

from ventcalc.draft import fan_table, held_pressure
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import (
    TOLERANCE,
    Control,
    Ideal,
    Second,
    Varied,
    before_termination,
    hold,
    is_proved,
    stack_base,
)
from ventcalc.draft.start_settings import usual_setting
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import common_vent, end_of_header, firing_states
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import compile_network
from ventcalc.vent.states import States

SWIM_HALL = job_file.demonstration("swim_hall")


@dataclass(frozen=True)
class Curve:
    """A device of one curve, ``shut_off - steep q|q|``: a fan at one speed, or a fixed resistance."""

    shut_off: float
    steep: float

    def limits(self, flow, density, area):
        rise = self.shut_off - self.steep * flow * np.abs(flow)
        return rise, rise


def added_in(plant, section, value, count):
    """What one device in a section adds, in the solver's form."""
    found = np.zeros((len(plant.order), count))
    found[plant.row(section)] = value
    return found


# ------------------------------------------------ pressure added in a section, without a control


def test_forced_flows_feel_what_is_added_pascal_for_pascal():
    plant = row_plant(3)
    states = all_states(plant)
    plain = solve(plant, SEASONS, states)
    fanned = solve(plant, SEASONS, states, added_in(plant, "stack", 30.0, len(states)))
    # But for the gas, lighter by 30 of 101,325 Pa: 0.03 % of 200 Pa of column and tens of pascals of loss.
    assert fanned.outlet_pressure == pytest.approx(plain.outlet_pressure - 30.0, abs=0.1)
    assert fanned.flow == pytest.approx(plain.flow, rel=1e-12)
    # In the header alone it acts on those that pass it; the boilers downstream of it do not feel it.
    partly = solve(plant, SEASONS, states, added_in(plant, "header 1", -12.0, len(states)))
    change = partly.outlet_pressure - plain.outlet_pressure
    # 12 Pa make the gas in its own connector 0.012 % denser: of 12 Pa of column and a few of loss.
    assert change[0] == pytest.approx(12.0, abs=2e-3) and change[1:] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("kind, idle", [("draft hood", "sealed"), ("barometric", "sealed"), ("forced", "leaking")])
def test_balances_close_with_a_fan(kind, idle):
    plant = row_plant(3, kind, idle, junction="straight tee")
    states = some_states(plant, 60, 3)
    found = solve(plant, SEASONS, states, added_in(plant, "stack", 40.0, 60))
    assert found.converged.all()
    scale = np.maximum(np.abs(found.energy_out), 1.0)
    assert np.abs(found.energy_in - found.energy_out) / scale == pytest.approx(0.0, abs=1e-6)
    pulled = found.drawn - solve(plant, SEASONS, states).drawn
    assert (pulled > -1e-12).all() and pulled.max() > 1e-4  # a fan draws more room air, nowhere less


def test_a_wrong_shape_of_what_is_added_is_refused():
    plant = row_plant(2)
    with pytest.raises(ValueError, match=r"added has shape \(1, 4\)"):
        solve(plant, SEASONS, some_states(plant, 4, 0), np.zeros((1, 4)))


# ------------------------------------------------ codes, walls and wind between


def test_a_whole_code_is_the_same_as_an_integer():
    plant = random_tree(2)
    states = some_states(plant, 50, 1)
    one, other = solve(plant, SEASONS, states), solve(plant, SEASONS, replace(states, codes=states.codes.astype(float)))
    assert other.outlet_pressure == pytest.approx(one.outlet_pressure, abs=1e-12)


def test_a_burner_that_modulates_sends_what_lies_between_and_its_energy_is_kept():
    plant = row_plant(1)
    network = compile_network(plant, SEASONS)
    codes = np.array([[1.0, 1.25, 1.5, 2.0]])
    states = States(codes, np.zeros(4, int), np.zeros(4, bool), np.zeros(4, bool))
    found = solve(plant, SEASONS, states)
    low, high = network.prescribed[0][0, 1:3]
    assert found.flow[0] == pytest.approx([low, 0.75 * low + 0.25 * high, 0.5 * (low + high), high], rel=1e-12)
    # Enthalpy flow is that of the two streams mixed; by mass-weighted temperature it is kept within 0.1 %.
    ends = found.energy_in[[0, 3]]
    assert found.energy_in[1:3] == pytest.approx([0.75 * ends[0] + 0.25 * ends[1], ends.mean()], rel=1e-3)


def test_an_appliance_between_off_and_firing_leaks_no_more():
    plant = row_plant(2, idle="leaking")
    states = States(np.array([[0.5, 0.0], [2.0, 2.0]]), np.zeros(2, int), np.zeros(2, bool), np.zeros(2, bool))
    found = solve(plant, SEASONS, states)
    assert found.drawn[0, 0] == 0.0 and found.drawn[0, 1] != 0.0
    own = compile_network(plant, SEASONS).prescribed[0][0, 1]
    assert found.flow[found.row("connector 1"), 0] == pytest.approx(0.5 * own, rel=1e-12)


def test_walls_and_wind_between_lie_between():
    plant = row_plant(2)
    share = np.linspace(0.0, 1.0, 6)
    steady = np.zeros(6)
    codes, season = np.full((2, 6), 2), np.zeros(6, int)
    cold = solve(plant, SEASONS, States(codes, season, share, steady))
    assert (np.diff(cold.downstream[cold.row("stack")]) < 0).all()
    wind = solve(plant, SEASONS, States(codes, season, steady, share))
    lift = wind.outlet_pressure[0] - wind.outlet_pressure[0, 0]
    # In proportion to its head, but for the gas that it presses.
    assert lift == pytest.approx(share * lift[-1], rel=1e-7) and abs(lift[-1]) > 0.1


# ------------------------------------------------ controls


def test_an_ideal_device_holds_the_header_in_every_state_of_the_swimming_hall():
    scan = firing_states.scan(SWIM_HALL.plant, SWIM_HALL.seasons)
    control = Control(before_termination(SWIM_HALL.plant), Ideal(), "header", SWIM_HALL.set_point)
    held = hold(SWIM_HALL.plant, SWIM_HALL.seasons, scan.states, (control,))
    assert held.settled.all() and not held.missed.any()
    pressure = end_of_header.header_pressure(held.scan(scan))
    wanted = SWIM_HALL.set_point.m_as("Pa")
    assert pressure[scan.any_running] == pytest.approx(wanted, abs=TOLERANCE)
    # All flows but the small leaks are prescribed, so what it adds is what was off before, to a few pascals.
    was_off = end_of_header.header_pressure(scan) - wanted
    calm = scan.any_running & ~scan.states.windy
    assert held.added[0][calm] == pytest.approx(was_off[calm], abs=3.0)
    # What wind changes grows the leaks too: there it is within a tenth.
    assert held.added[0][scan.any_running] == pytest.approx(was_off[scan.any_running], abs=3.0, rel=0.1)


@pytest.mark.parametrize("kind, idle", [("draft hood", "sealed"), ("barometric", "sealed"), ("forced", "leaking")])
def test_held_header_against_a_root_found_state_by_state(kind, idle):
    # An outside opinion on the search: scipy's bracketing root finder, one state at a time.
    plant = row_plant(2, kind, idle)
    states = some_states(plant, 12, 5)
    states = states[(states.codes > 0).any(axis=0)]
    network = compile_network(plant, SEASONS)
    held = hold(plant, SEASONS, states, (Control("stack", Ideal(), "header", Q_(-12, "Pa")),))
    for i in range(len(states)):
        one = states[np.array([i])]

        def error(a, one=one):
            found = common_vent.solve_network(network, one, added_in(plant, "stack", a, 1))
            return float(end_of_header.far_end_pressure(found, network)[0]) + 12.0

        assert held.settled[i]
        assert abs(error(held.added[0, i])) <= TOLERANCE
        # A hood's header hardly answers to the fan (it draws more room air instead), so compare pressures there.
        if kind == "forced":
            assert held.added[0, i] == pytest.approx(brentq(error, -2000, 2000, xtol=1e-3), abs=2 * TOLERANCE)


@pytest.mark.parametrize("kind", ["forced", "draft hood", "barometric"])
def test_operating_point_of_one_curve_against_a_root_found_state_by_state(kind):
    plant, curve = row_plant(2, kind, "leaking" if kind == "forced" else "sealed"), Curve(60.0, 150.0)
    states = some_states(plant, 10, 8)
    states = states[(states.codes > 0).any(axis=0)]
    network = compile_network(plant, SEASONS)
    held = hold(plant, SEASONS, states, (Control("stack", curve, "header", Q_(0, "Pa")),))
    row = plant.row("stack")
    for i in range(len(states)):
        one = states[np.array([i])]

        def off_curve(a, one=one):
            found = common_vent.solve_network(network, one, added_in(plant, "stack", a, 1))
            return float(curve.limits(found.flow[row] / found.density[row], None, None)[0][0]) - a

        assert held.settled[i]
        assert held.added[0, i] == pytest.approx(brentq(off_curve, -2000, 100, xtol=1e-4), abs=2 * TOLERANCE)


def test_a_device_at_its_limit_says_so_and_by_how_much():
    plant = row_plant(2)
    states = all_states(plant)
    weak = Control("stack", Ideal(0.0, 5.0), "header", Q_(-12, "Pa"))
    held = hold(plant, SEASONS, states, (weak,))
    free = solve(plant, SEASONS, states)
    network = compile_network(plant, SEASONS)
    off = end_of_header.far_end_pressure(free, network) + 12.0
    runs = (states.codes > 0).any(axis=0)
    assert held.error[0][runs] == pytest.approx(np.where(off > 5, off - 5, np.minimum(off, 0))[runs], abs=TOLERANCE)
    assert (held.at[0][runs & (off > 5.1)] == 1).all() and (held.at[0][runs & (off < -0.1)] == -1).all()
    assert held.missed[0][runs & (off > 5.1)].all() and np.isnan(held.error[0][~runs]).all()
    assert (held.added[0][~runs] == 0.0).all()  # with nothing running the control does not act


def test_a_damper_at_every_outlet_holds_every_outlet():
    job_ = SWIM_HALL
    scan = firing_states.scan(job_.plant, job_.seasons)
    fan = Control(before_termination(job_.plant), Ideal(), "header", Q_(-0.15, "inH2O"))
    wanted = [Q_(p, "inH2O") for p in (-0.02, 0.0, 0.02)]
    dampers = tuple(
        Control(f"connector {i + 1}", Ideal(-1e4, 0.0), a.name, p)
        for i, (a, p) in enumerate(zip(job_.plant.appliances, wanted, strict=True))
    )
    held = hold(job_.plant, job_.seasons, scan.states, (fan, *dampers))
    assert held.settled.all()
    for i, p in enumerate(wanted):
        runs = scan.running(i) & (held.at[i + 1] == 0)
        assert runs.sum() > 0.9 * scan.running(i).sum()
        assert held.solution.outlet_pressure[i, runs] == pytest.approx(p.m_as("Pa"), abs=TOLERANCE)


@pytest.mark.parametrize("place", ["stack", "header 2"])
def test_a_second_device_moves_when_the_first_is_at_its_least(place):
    plant = row_plant(2, idle="leaking")
    states = all_states(plant)
    fan = Control("stack", Ideal(5.0, 1e4), "header", Q_(-45, "Pa"))
    held = hold(plant, SEASONS, states, (replace(fan, second=Second(place, Ideal(-1e4, -2.0))),))
    alone = hold(plant, SEASONS, states, (replace(fan, device=Ideal()),))
    acts = held.acts[0]
    assert held.settled.all() and not held.missed.any()
    # Both add together what one ideal device would, wherever they stand: only leaks feel where.
    assert (held.added + held.second)[0][acts] == pytest.approx(alone.added[0][acts], abs=1.5)
    shut = acts & (held.second[0] < -2.0 - TOLERANCE)
    assert 0 < shut.sum() < acts.sum()
    assert held.added[0][shut] == pytest.approx(5.0, abs=TOLERANCE)
    assert held.second[0][acts & ~shut] == pytest.approx(-2.0, abs=TOLERANCE)
    assert (held.added[0][~acts] == 0.0).all() and (held.second[0][~acts] == 0.0).all()


def test_a_second_device_at_its_limit_says_so():
    plant = row_plant(2)
    states = all_states(plant)
    control = Control("stack", Ideal(0.0, 5.0), "header", Q_(-45, "Pa"), second=Second("header 2", Ideal(-4.0, 0.0)))
    held = hold(plant, SEASONS, states, (control,))
    free = end_of_header.far_end_pressure(solve(plant, SEASONS, states), compile_network(plant, SEASONS)) + 45.0
    acts = held.acts[0]
    left = np.where(free > 5.0, free - 5.0, np.minimum(free + 4.0, 0.0))
    assert held.error[0][acts] == pytest.approx(left[acts], abs=TOLERANCE)
    assert (held.at[0][acts] == np.sign(np.where(np.abs(left) > TOLERANCE, left, 0.0))[acts]).mean() > 0.95


def test_without_controls_it_is_the_plain_solution():
    plant = row_plant(2, idle="leaking")
    states = some_states(plant, 9, 1)
    held = hold(plant, SEASONS, states, ())
    assert held.settled.all() and held.added.shape == (0, 9)
    assert held.solution.outlet_pressure == pytest.approx(solve(plant, SEASONS, states).outlet_pressure, abs=1e-3)


def test_the_stack_base_is_where_all_have_joined():
    assert stack_base(SWIM_HALL.plant) == "header 3" and before_termination(SWIM_HALL.plant) == "stack"
    assert stack_base(row_plant(1)) == "header 1" and stack_base(row_plant(4)) == "header 4"


def test_a_sensor_that_reads_too_much_is_held_too_low():
    plant = row_plant(2)
    states = all_states(plant)
    control = Control("stack", Ideal(), "header", Q_(-12, "Pa"), offset=np.linspace(-4.0, 4.0, len(states)))
    held = hold(plant, SEASONS, states, (control,))
    acts = held.acts[0]
    assert held.error[0][acts] == pytest.approx(-np.linspace(-4.0, 4.0, len(states))[acts], abs=TOLERANCE)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_random_trees_come_to_rest(seed):
    plant = random_tree(seed)
    states = some_states(plant, 300, seed)
    control = Control(before_termination(plant), Ideal(-300.0, 300.0), "header", Q_(-10, "Pa"))
    held = hold(plant, SEASONS, states, (control,))
    assert held.settled.mean() > 0.99  # a hood may rest in two ways; what does not settle is marked
    settled = held.settled & held.acts[0]
    inside = settled & (held.at[0] == 0)
    assert np.abs(held.error[0][inside]).max(initial=0.0) <= TOLERANCE


def test_unknown_places_are_named():
    plant = row_plant(2)
    states = some_states(plant, 2, 0)
    with pytest.raises(ValueError, match="section 'chimney': the plant has none of that name; choose"):
        hold(plant, SEASONS, states, (Control("chimney", Ideal(), "header", Q_(-12, "Pa")),))
    with pytest.raises(ValueError, match="sensor 'B9': the plant has none of that name; choose header, B1, B2"):
        hold(plant, SEASONS, states, (Control("stack", Ideal(), "B9", Q_(-12, "Pa")),))
    with pytest.raises(ValueError, match="two controls share a sensor"):
        hold(plant, SEASONS, states, (Control("stack", Ideal(), "header", Q_(-12, "Pa")),) * 2)
    with pytest.raises(TypeError, match="set point in stack needs a pressure"):
        hold(plant, SEASONS, states, (Control("stack", Ideal(), "header", Q_(-12, "K")),))


def test_before_release_a_fan_turns_at_its_least_speed_in_the_lighter_of_the_airs_and_a_damper_does_nothing():
    """By the fan laws pressure goes with density: by the gas law that of dry air at the warmer end of each season."""
    plant, states = row_plant(2), some_states(row_plant(2), 12, 1)
    fan, area = Drive(fan_table.fan("roof 12"), 0.25, 1.0), plant.section("stack").area
    control = held_pressure.Control("stack", fan, held_pressure.HEADER, Q_(-10.0, "Pa"))
    found = held_pressure.before_release(hold(plant, SEASONS, states, (control,)))
    row = [s.name for s in plant.order].index("stack")
    warmest = np.array([max(s.outdoor.m_as("K"), s.room.m_as("K")) for s in SEASONS])[states.season]
    nothing = np.zeros(len(states))
    by_hand = fan.limits(nothing, held_pressure.compile_network(plant, SEASONS).pressure / (287.05 * warmest), area)[0]
    assert found[row] == pytest.approx(by_hand, rel=0.012)  # humid air is up to 1 % lighter than dry
    assert not np.delete(found, row, axis=0).any()
    damper = replace(control, device=Damper("butterfly", Q_(350, "mm"), Q_(350, "mm"), leakage_class("EN class 2")))
    assert not held_pressure.before_release(hold(plant, SEASONS, states, (damper,))).any()


def test_draft_counts_as_proved_where_the_usual_settings_say():
    share = (usual_setting("proof") / usual_setting("set_point")).m_as("")
    assert share == pytest.approx(held_pressure.PROVED)


def test_a_device_that_varies_is_in_every_season_one_of_its_own():
    plant = row_plant(2)
    states, curve = all_states(plant), Curve(40.0, 5.0)
    shares = np.array([1.0, 0.8, 1.1])
    control = Control("stack", Varied(curve, shares), "header", Q_(-10.0, "Pa"), holds=False)
    many = hold(plant, SEASONS, states, (control,))
    for season, share in enumerate(shares):
        own = replace(control, device=Curve(40.0 * share, 5.0 * share))
        alone = hold(plant, SEASONS, states, (own,))
        here = states.season == season
        assert many.added[0, here] == pytest.approx(alone.added[0, here], abs=TOLERANCE)


def test_what_was_not_solved_or_not_brought_to_its_set_point_is_not_settled():
    """By hand: of four states one keeps a gap, one shares badly between its devices, one was not solved."""
    places = [Made(gap=lambda solution, pick, added: np.array([0.0, 2.0 * TOLERANCE, 0.0, 0.0]),
                   shares=lambda solution, pick, added: (added + np.array([0.0, 0.0, 2.0 * TOLERANCE, 0.0]), None),
                   limits=lambda solution: (np.full(4, -99.0), np.full(4, 0.0)), devices=[Made(row=0)],
                   acts=np.array([True, True, True, False]), error=lambda solution: np.arange(4.0))]  # fmt: skip
    solution = Made(converged=np.array([True] * 3 + [False]), flow=np.full((1, 4), 2.0), density=np.full((1, 4), 0.5))
    held = held_pressure._held((), places, solution, np.array([[0.0, -99.0, -5.0, 0.0]]), np.zeros((1, 4)))
    assert held.settled.tolist() == [True, False, False, False]
    assert held.at.tolist() == [[1, -1, 0, 0]] and held.flow.tolist() == [[4.0] * 4]
    assert np.isnan(held.error[0, 3]) and held.error[0, :3].tolist() == [0.0, 1.0, 2.0]


def test_draft_is_proved_at_two_fifths_of_the_set_point_of_whatever_holds_the_header():
    # 0.4 x -50 Pa = -20 Pa (`PROVED`), that far down or further; an outlet's control proves nothing.
    header = Control("stack", Ideal(), "header", Q_(-50.0, "Pa"))
    outlet = replace(header, sensor="B1", set_point=Q_(-5.0, "Pa"))
    pressure = np.array([-60.0, -20.0, -19.9, 3.0])
    for controls in ((header,), (outlet, header)):
        assert is_proved(controls, pressure).tolist() == [True, True, False, False]
    # Where no draft is asked of the header there is none to prove.
    for point in (0.0, 12.0):
        assert is_proved((replace(header, set_point=Q_(point, "Pa")),), pressure).all()
    assert is_proved((outlet, replace(header, holds=False)), pressure).all()
