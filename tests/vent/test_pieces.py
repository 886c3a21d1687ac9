"""Pieces: what is drawn in two, or in three, is one piece of vent."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, meeting_at_the_foot, one_state, row_plant

from ventcalc.draft import held_pressure
from ventcalc.flow.materials import material
from ventcalc.units import Q_
from ventcalc.vent import pieces
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Section

PIPE = Section("a", Q_(2, "m"), Q_(2, "m"), Q_(200, "mm"), material("insulated chimney"), "b")


def sloped(rise, **changes):
    return replace(PIPE, rise=Q_(rise, "m"), **changes)


@pytest.mark.parametrize(
    ("lower", "upper", "one"),
    [
        ({}, {}, True),
        ({}, {"fittings": ("elbow 90",)}, True),  # an offset in an upright flue
        ({}, {"diameter": Q_(210, "mm")}, False),
        ({}, {"material": material("tile-lined masonry chimney")}, False),
        ({}, {"place": "outdoors"}, False),
        ({"junction": "lateral"}, {}, False),
        ({}, {"rise": Q_(1.85, "m")}, True),
        ({}, {"rise": Q_(1.0, "m")}, False),
        ({"rise": Q_(1.0, "m")}, {"rise": Q_(1.0, "m")}, True),
        ({"rise": Q_(1.0, "m")}, {"rise": Q_(1.0, "m"), "fittings": ("elbow 90",)}, False),
        ({"rise": Q_(0.0, "m")}, {"rise": Q_(0.0, "m"), "length": Q_(7.0, "m")}, True),
    ],
)
def test_what_goes_on(lower, upper, one):
    assert pieces.goes_on(replace(PIPE, **lower), replace(PIPE, name="b", into="c", **upper)) is one


def test_upright_is_steep():
    """Nine tenths of its length at least, as `is_upright` says; down is not up."""
    assert [pieces.is_upright(sloped(r)) for r in (2.0, 1.8, 1.79, 0.0, -2.0)] == [True, True, False, False, False]


def in_three(plant, name):
    own = plant.section(name)
    third = {"length": own.length / 3.0, "rise": own.rise / 3.0, "fittings": ()}
    names = (name, "second", "third")
    ways = zip(names, ("second", "third", own.into), strict=True)
    parts = [replace(own, name=n, into=into, junction=None, **third) for n, into in ways]
    parts[0], parts[2] = replace(parts[0], fittings=own.fittings), replace(parts[2], junction=own.junction)
    return replace(plant, sections=(*(s for s in plant.sections if s.name != name), *parts))


@pytest.mark.parametrize("name", ["stack", "connector 1"])
def test_a_section_in_three_is_one_piece_whichever_is_asked_for(name):
    plant = in_three(row_plant(3), name)
    whole = (name, "second", "third")
    for each in whole:
        assert tuple(s.name for s in pieces.one_piece(plant, each)) == whole


def test_a_junction_parts_pieces():
    plant = row_plant(3)
    for section in plant.sections:
        assert pieces.one_piece(plant, section.name) == (section,), section.name


def test_a_stack_in_which_appliances_meet_is_cut_at_its_foot():
    plant = meeting_at_the_foot()
    cut = pieces.with_foot(plant)
    foot, stack, drawn = cut.section("foot of stack"), cut.section("stack"), plant.section("stack")
    assert (
        foot.length.m_as("m") == pytest.approx(drawn.diameter.m_as("m"))
        and foot.into == "stack"
        and stack.fittings == drawn.fittings
    )
    for name in ("length", "rise"):
        assert (getattr(foot, name) + getattr(stack, name)).m_as("m") == pytest.approx(getattr(drawn, name).m_as("m"))
    assert {s.name for s in cut.upstream("foot of stack")} == {"header 1", "connector 2"}
    assert cut.heights["stack"][1] == pytest.approx(plant.heights["stack"][1])
    assert held_pressure.stack_base(plant) == "stack" and held_pressure.stack_base(cut) == "foot of stack"
    assert pieces.with_foot(cut) == cut  # once
    level, lone = row_plant(2), row_plant(1)
    assert pieces.with_foot(level) is level and pieces.with_foot(lone) is lone


def right_under_its_stack():
    """One boiler that stands right under its stack, without a connector."""
    plant = row_plant(1)
    stack = plant.section("stack")
    return replace(plant, sections=(stack,), feeds=("stack",))


def test_a_lone_appliance_right_under_its_stack_has_a_foot_too():
    plant = right_under_its_stack()
    cut = pieces.with_foot(plant)
    assert [s.name for s in cut.order] == ["foot of stack", "stack"] and cut.feeds == ("foot of stack",)
    assert held_pressure.stack_base(cut) == "foot of stack"


def test_a_lone_appliance_with_a_riser_of_its_own_bore_has_its_damper_on_the_riser():
    """Riser and stack are one upright piece: its end would be the top of the stack."""
    plant = right_under_its_stack()
    stack = plant.section("stack")
    riser = replace(stack, name="riser", length=Q_(1, "m"), rise=Q_(1, "m"), into="stack")
    plant = replace(plant, sections=(riser, stack), feeds=("riser",))
    assert pieces.with_foot(plant) is plant and held_pressure.stack_base(plant) == "riser"


def test_the_cut_changes_nothing_of_the_vent():
    plant = meeting_at_the_foot()
    one, other = (solve(p, SEASONS, all_states(plant)) for p in (plant, pieces.with_foot(plant)))
    # Gas cools along two pieces as along one, but for the steps of the march: 0.1 Pa of some 100.
    assert other.outlet_pressure == pytest.approx(one.outlet_pressure, abs=0.1)
    assert other.downstream[-1] == pytest.approx(one.downstream[-1], abs=0.2)


def test_a_damper_at_the_foot_leaves_the_rise_under_draft_and_one_at_the_top_presses_it():
    """30 Pa taken before the rise or behind it: the same at the outlets, 30 Pa apart in the stack between."""
    cut, states = pieces.with_foot(meeting_at_the_foot()), one_state([2, 2])
    inside = []
    for name in ("foot of stack", "stack"):
        added = np.zeros((len(cut.order), 1))
        added[cut.row(name)] = -30.0
        found = solve(cut, SEASONS, states, added)
        inside.append((found.pressure_up[cut.row("stack"), 0], found.outlet_pressure[:, 0]))
    assert inside[1][0] - inside[0][0] == pytest.approx(30.0, abs=0.1)
    assert inside[0][1] == pytest.approx(inside[1][1], abs=0.1)
