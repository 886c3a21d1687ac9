"""Vent changes: what is made wider, straighter, higher or narrower, and what the rest of the vent then is."""

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, row_plant
from sample_studies import JOBS

from ventcalc.job import job_file, vent_changes
from ventcalc.units import Q_
from ventcalc.vent import area_rule
from ventcalc.vent.common_vent import solve

HALL, MASONRY = (job_file.load(JOBS[name]).plant for name in ("swim_hall", "masonry_retrofit"))


def diameters(plant, unit="inch"):
    return {s.name: round(s.diameter.m_as(unit), 3) for s in plant.order}


def test_parts_are_every_section_once():
    parts = vent_changes.parts(HALL)
    single = [names for key, names in parts.items() if key != "header and stack"]
    assert sorted(n for names in single for n in names) == sorted(s.name for s in HALL.order)
    assert parts["header and stack"] == (*parts["header"], *parts["stack"])
    assert vent_changes.parts(MASONRY) == {"vent": tuple(s.name for s in MASONRY.order)}


@pytest.mark.parametrize(("inches", "steps", "found"), [(12, 1, 14), (12, -1, 10), (6, 3, 9), (48, -1, 44)])
def test_sizes_follow_the_series_that_is_sold(inches, steps, found):
    assert vent_changes.size(Q_(inches, "inch"), steps).m_as("inch") == pytest.approx(found)


def test_a_series_ends():
    with pytest.raises(ValueError, match="ends at 48 inch"):
        vent_changes.size(Q_(48, "inch"), 1)


def test_only_what_is_named_changes():
    names = vent_changes.parts(HALL)["header and stack"]
    wide = vent_changes.sized(HALL, names, 1)
    for name, before in diameters(HALL).items():
        assert (diameters(wide)[name] > before) == (name in names)
    assert vent_changes.wider(HALL, 1) == wide


def test_gas_is_never_led_from_wide_into_narrow():
    stack = vent_changes.parts(HALL)["stack"]
    with pytest.raises(ValueError, match="wider than"):
        vent_changes.sized(HALL, stack, -3)


def test_masonry_is_lined_and_keeps_its_size_otherwise():
    with pytest.raises(ValueError, match="of masonry"):
        vent_changes.wider(MASONRY, 1)
    with pytest.raises(ValueError, match="of masonry"):
        vent_changes.with_top(MASONRY, 1.2)
    lined = vent_changes.lined(MASONRY, Q_(5, "inch"))
    flue = MASONRY.order[-1].name
    assert lined.section(flue).diameter.m_as("inch") == pytest.approx(5.0)
    assert lined.section(flue).material != MASONRY.section(flue).material
    with pytest.raises(ValueError, match="no flue of masonry"):
        vent_changes.lined(HALL, Q_(5, "inch"))


def test_square_branches_become_laterals_and_nothing_else():
    changed = vent_changes.with_laterals(HALL)
    assert {s.junction for s in changed.sections} <= {"lateral", None}
    assert diameters(changed) == diameters(HALL) and vent_changes.with_laterals(changed) == changed


def test_a_taller_stack_is_taller_by_its_last_section():
    top = HALL.order[-1]
    changed = vent_changes.with_top(HALL, 1.5)
    assert changed.section(top.name).rise == 1.5 * top.rise
    assert changed.section(top.name).length - top.length == 0.5 * top.rise


@pytest.mark.parametrize("plant", [HALL, MASONRY])
def test_the_area_rule_is_that_of_its_own_module(plant):
    """The stack against the smallest outlet, seven times at most (IFGC 503.5.5, section from memory)."""
    smallest = min((a.outlet_diameter for a in plant.appliances), key=lambda d: d.m_as("m"))
    allowed = area_rule.allows(Q_(plant.order[-1].area, "m**2"), area_rule.round_area(smallest))
    assert vent_changes.breaks_area_rule(plant) is not bool(allowed)
    ratio = (plant.order[-1].diameter / smallest).m_as("") ** 2
    assert bool(allowed) is (ratio <= 7.0)


def test_losses_of_a_way_are_all_there_is():
    """What an outlet's way costs is its total pressure at the outlet plus the draft made on the way, less wind."""
    plant = row_plant(3)
    solution = solve(plant, SEASONS, all_states(plant))
    name = plant.appliances[0].name
    rows = [plant.row(s.name) for s in plant.path(name)]
    state = int(solution.flow[rows[0]].argmax())
    found = vent_changes.losses(solution, name, state)
    assert set(found.own) == {s.name for s in plant.path(name)} and found.cap >= 0.0
    between = sum(found.own.values()) + sum(found.joining.values())
    ends = solution.pressure_up[rows[0], state] - solution.pressure_down[rows[-1], state]
    draft = solution.draft[rows, state].sum()
    # What is left is the gas's change of velocity head as it cools: little.
    assert between == pytest.approx(ends + draft, abs=0.05 * np.abs(between) + 0.5)
