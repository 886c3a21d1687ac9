"""Dampers: position and loss, stops, thick blades, square sections in round ducts by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_dampers import KINDS, LOSSES, TIGHT, WINTER, disk, one_state, square
from sample_plants import row_plant

from ventcalc.draft import damper_loss, dampers, held_pressure
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper, square_in_round
from ventcalc.units import Q_, UnitsError


def test_between_angles_it_stays_between_the_tabled_values():
    for blades in damper_loss.blade_kinds():
        angles = np.linspace(0.0, 70.0, 281)
        k = damper_loss.blade_loss.bare(blades, angles, 1.0)
        nodes = [float(r["angle_deg"]) for r in LOSSES if r["name"] == blades and r["perimeter_ratio"] in ("", "1.0")]
        at = damper_loss.blade_loss.bare(blades, np.array([a for a in nodes if a <= 70.0]), 1.0)
        straight = np.exp(np.interp(angles, [a for a in nodes if a <= 70.0], np.log(at)))
        assert k.min() == pytest.approx(at.min()) and k.max() == pytest.approx(at.max())
        # No more than 15 % off straight lines of ln K: the cubic does not invent a shape.
        assert np.abs(np.log(k / straight)).max() < 0.15


def test_the_curve_has_no_corner():
    for damper in KINDS:
        positions = np.linspace(0.0, 1.0, 2001)
        slope = damper.steepness(positions)
        numeric = -np.gradient(np.log(damper.loss(positions)), positions)
        assert slope[5:-5] == pytest.approx(numeric[5:-5], abs=0.15)
        assert (slope >= -1e-9).all()


@pytest.mark.parametrize("damper", KINDS, ids=lambda d: d.blades)
def test_its_ends_are_the_table_and_the_leakage(damper):
    assert damper.loss(1.0) == pytest.approx(damper_loss.blade_loss.bare(damper.blades, 0.0, 1.0))
    # Shut it must leak what its class allows, worked the other way round with plain numbers.
    velocity = np.sqrt(100.0 / (0.5 * 0.075 * 0.45359237 / 0.3048**3 * damper.loss(0.0)))
    assert velocity == pytest.approx(0.008, rel=1e-9)


@pytest.mark.parametrize("damper", KINDS, ids=lambda d: d.blades)
def test_position_and_loss_are_each_others_inverse(damper):
    positions = np.linspace(0.0, 1.0, 101)
    assert damper.position_of_loss(damper.loss(positions)) == pytest.approx(positions, abs=1e-9)
    assert (np.diff(damper.loss(positions)) < 0.0).all()


@given(
    flow=st.floats(0.01, 3.0),
    density=st.floats(0.5, 1.4),
    pressure=st.floats(0.1, 300.0),
    least=st.floats(0.0, 0.4),
    most=st.floats(0.6, 1.0),
)
def test_at_its_position_it_destroys_what_was_asked_or_stands_at_a_stop(flow, density, pressure, least, most):
    damper = square(least=least, most=most)
    position = damper.position_for(pressure, flow, density)
    lost = damper.loss(position) * 0.5 * density * (flow / 0.16) ** 2
    if least < position < most:
        assert lost == pytest.approx(pressure, rel=1e-6)
    elif position == most:
        assert lost >= pressure * (1 - 1e-9)
    else:
        assert position == least and lost <= pressure * (1 + 1e-9)


@given(flow=st.floats(1e-3, 3.0), density=st.floats(0.5, 1.4), area=st.floats(0.01, 1.0))
def test_limits_turn_round_with_the_flow(flow, density, area):
    damper = square()
    least, most = damper.limits(flow, density, area)
    back = damper.limits(-flow, density, area)
    assert least <= most < 0.0 and back[0] == -most and back[1] == -least
    # The head is that of the face, whatever section it stands in: by hand at the open end.
    assert most == pytest.approx(-0.52 * 0.5 * density * (flow / 0.16) ** 2, rel=1e-9)


def test_limits_work_on_arrays_and_at_rest():
    least, most = square().limits(np.array([-1.0, 0.0, 1.0]), np.array([1.2, 1.2, 0.8]), 0.1)
    assert least.shape == most.shape == (3,)
    assert least[1] == most[1] == 0.0
    assert square().position_for(np.array([-5.0, 0.0, 10.0]), 0.0, 1.0).tolist()[:2] == [1.0, 1.0]


def test_thick_blades_raise_the_velocity_between_them():
    # Four blades of 10 mm in 0.4 m: a tenth of the face; K over 0.9 squared, but not shut, where leakage is given.
    thick = square(thickness=Q_(10, "mm"))
    assert thick.free_share == pytest.approx(0.9)
    assert thick.loss(1.0) == pytest.approx(0.52 / 0.81)
    assert thick.loss(0.0) == pytest.approx(square().loss(0.0))
    thick_disk = disk(thickness=Q_(10, "mm"))
    assert thick_disk.free_share == pytest.approx(1.0 - 0.4 * 0.01 / (np.pi * 0.04))
    assert thick_disk.face == pytest.approx(np.pi * 0.04)


def test_a_fixed_damper_has_one_limit():
    fixed = square().at(0.3)
    least, most = fixed.limits(0.5, 1.0, 0.1)
    assert least == pytest.approx(most, rel=1e-4)
    assert -most == pytest.approx(square().loss(0.3) * square().head(0.5, 1.0), rel=1e-4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"width": Q_(0, "m")}, "width of the damper 0 m must be above 0"),
        ({"count": 0}, "0 blades"),
        ({"count": 8}, "perimeter_ratio = 2 must be 0.3 to 1.5"),
        ({"thickness": Q_(0.2, "m")}, "leave no free area"),
        ({"thickness": Q_(-1, "mm")}, "must not be negative"),
        ({"transitions": -0.1}, "must not be negative"),
        ({"least": 0.5, "most": 0.5}, "must run from lower to higher"),
        ({"blades": "butterfly", "count": 1, "height": Q_(0.5, "m")}, "are its diameter"),
        ({"blades": "butterfly"}, "butterfly: 4 blades; a round damper has one"),
        ({"blades": "shutter"}, "choose opposed"),
    ],
)
def test_impossible_dampers(change, words):
    with pytest.raises(ValueError, match=words):
        replace(square(), **change)


def test_a_damper_has_units():
    with pytest.raises(UnitsError, match="width of the damper"):
        replace(square(), width=Q_(3, "Pa"))


def test_square_sections_by_hand():
    duct = np.pi / 4.0 * 0.4**2
    inside, around = (square_in_round(Q_(0.4, "m"), place, "opposed", 4, TIGHT) for place in ("inside", "around"))
    assert inside.face / duct == pytest.approx(2.0 / np.pi) and around.face / duct == pytest.approx(4.0 / np.pi)
    # The plate: half a head where the gas contracts, 0.5 (1 - a), and Borda and Carnot where it spreads, (1 - a)^2.
    free = 2.0 / np.pi
    assert inside.transitions == pytest.approx(0.5 * (1 - free) + (1 - free) ** 2)
    # The transitions: on the duct's head (1 - a)^2 and 0.5 sqrt(sin 30) (1 - a), a = pi/4; on the face's, over a^2.
    a = np.pi / 4.0
    assert around.transitions == pytest.approx(((1 - a) ** 2 + 0.5 * np.sqrt(0.5) * (1 - a)) / a**2)
    # On the duct's head the one inside costs 4.5 to 5 times as much.
    heads = [d.loss(1.0) * (duct / d.face) ** 2 for d in (inside, around)]
    assert 4.5 < heads[0] / heads[1] < 5.0
    with pytest.raises(ValueError, match="place 'above'; choose inside, around"):
        square_in_round(Q_(0.4, "m"), "above", "opposed", 4, TIGHT)


@given(diameter=st.floats(0.1, 2.0), count=st.integers(2, 6))
def test_square_sections_do_not_depend_on_size(diameter, count):
    small = square_in_round(Q_(0.1, "m"), "inside", "opposed", count, TIGHT)
    other = square_in_round(Q_(diameter, "m"), "inside", "opposed", count, TIGHT)
    assert other.loss(0.5) == pytest.approx(small.loss(0.5), rel=1e-9)
    assert other.perimeter_ratio == pytest.approx(count / 4.0)


def test_held_by_a_damper_the_loss_is_that_of_its_position():
    plant, states = row_plant(2), one_state(row_plant(2), 1, 0)
    damper = Damper("opposed", Q_(0.35, "m"), Q_(0.35, "m"), TIGHT, 4)
    control = held_pressure.Control("stack", damper, held_pressure.HEADER, Q_(-12, "Pa"))
    held = held_pressure.hold(plant, (WINTER,), states, (control,))
    assert held.settled.all() and abs(held.error[0, 0]) < 0.02 and held.at[0, 0] == 0
    position = damper.position_for(-held.added[0], held.flow[0], held.density[0])
    fixed = replace(control, device=damper.at(float(position[0])))
    again = held_pressure.hold(plant, (WINTER,), states, (fixed,))
    assert again.error[0, 0] == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize("place", ["inside", "around"])
def test_a_damper_told_by_its_face_is_fitted_as_the_one_chosen(place):
    made = dampers.square_in_round(Q_(10, "inch"), place, "opposed", 3, leakage_class("EN class 2"))
    assert dampers.fitted(replace(made, transitions=0.0), Q_(10, "inch")).transitions == pytest.approx(made.transitions)
    assert made.transitions > 0.0


def test_a_round_damper_of_the_ducts_own_size_costs_no_transition():
    butterfly = Damper("butterfly", Q_(10, "inch"), Q_(10, "inch"), leakage_class("EN class 2"))
    assert dampers.fitted(butterfly, Q_(10, "inch")).transitions == pytest.approx(0.0, abs=1e-9)
    assert dampers.fitted(butterfly, Q_(12, "inch")).transitions > 0.0
