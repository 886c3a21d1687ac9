"""Vent changes: what is made wider, straighter, higher or narrower, and what the rest of the vent then is."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, all_states, appliance, meeting_at_the_foot, row_plant
from sample_remedies import JOBS as SIZED
from sample_remedies import compared_with, named, small_job

from ventcalc.flow.materials import Layer
from ventcalc.gas.fuels import fuel
from ventcalc.job import job_file, vent_changes
from ventcalc.units import Q_
from ventcalc.vent import area_rule, pieces
from ventcalc.vent.common_vent import solve

HALL, MASONRY = (job_file.demonstration(name).plant for name in ("swim_hall", "masonry_retrofit"))


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


def test_brick_of_the_file_s_own_is_masonry_too():
    # An old chimney without tile is told under [[material]]; its 8 in. of brick are lined as tile is, and neither
    # widened nor raised. Conductivity, density and heat of brick as of common handbooks, from memory.
    brick = Layer("brick", Q_(8, "inch"), Q_(0.7, "W/(m*K)"), Q_(1800, "kg/m**3"), Q_(840, "J/(kg*K)"))
    flue = MASONRY.order[-1]
    own = replace(flue.material, name="old brick", layers=(brick,))
    sections = tuple(replace(s, material=own) if s is flue else s for s in MASONRY.sections)
    old = replace(MASONRY, sections=sections)
    assert vent_changes.lined(old, Q_(5, "inch")).section(flue.name).material.name == vent_changes.LINERS[0]
    for change, by in ((vent_changes.wider, 1), (vent_changes.with_top, 1.2)):
        with pytest.raises(ValueError, match="of masonry"):
            change(old, by)


def test_an_oil_flue_is_lined_with_what_may_serve_oil():
    # Type B gas vent is listed for gas alone, Type L for oil too (UL 441 and UL 641, materials.csv).
    burning = tuple(replace(a, fuel=fuel("no. 2 oil")) for a in MASONRY.appliances)
    lined = vent_changes.lined(replace(MASONRY, appliances=burning), Q_(8, "inch"))
    kinds = {s.material.name for s in lined.order} - {s.material.name for s in MASONRY.order}
    assert kinds == {"Type L vent"}


def test_a_stack_indoors_is_not_cut():
    top = HALL.order[-1].name
    within = replace(HALL, sections=tuple(replace(s, place="room") if s.name == top else s for s in HALL.sections))
    vent_changes.with_top(within, 1.2)
    with pytest.raises(ValueError, match="is indoors: cut shorter"):
        vent_changes.with_top(within, 0.8)


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


def test_losses_say_where_to_begin():
    one, outcomes = compared_with("small", high=0)
    drawn = named(outcomes, "as drawn")
    e = max(drawn.envelopes, key=lambda e: e.above)
    found = vent_changes.losses(drawn.scan.solution, e.appliance, e.high_state)
    # All parts and the draft of the way make the outlet's pressure: outlet total = losses - draft, outdoors zero.
    plant, solution = one.plant, drawn.scan.solution
    rows = [plant.row(s.name) for s in plant.path(e.appliance)]
    top, first = rows[-1], rows[0]
    total = solution.pressure_up[first, e.high_state] - solution.pressure_down[top, e.high_state]
    within = sum(solution.pressure_up[r, e.high_state] - solution.pressure_down[r, e.high_state] for r in rows)
    assert total == pytest.approx(within + sum(found.joining.values()), abs=1e-6)
    # Pressure lost goes with the fourth power of the diameter: half the bore again takes four fifths of it away.
    wide = vent_changes.sized(plant, tuple(s.name for s in plant.sections if "connector" in s.name), 1)
    ratio = (150.0 / 160.0) ** 4
    own = found.own[f"connector {e.appliance[-1]}"]
    assert vent_changes.relief(plant, wide, found) == pytest.approx((1.0 - ratio) * own, rel=1e-6)


def test_new_pipe_is_the_area_of_what_is_made_anew():
    plant = small_job().plant
    wide = vent_changes.wider(plant, 1)
    lengths = {"header A": 2.0, "header B": 2.0, "stack": 8.0}
    assert vent_changes.new_pipe(plant, wide) == pytest.approx(np.pi * 0.3 * sum(lengths.values()))
    assert vent_changes.new_pipe(plant, vent_changes.with_top(plant, 1.5)) == pytest.approx(np.pi * 0.25 * 4.0)
    # Two laterals and a cap, each as long as two diameters.
    assert vent_changes.new_pipe(plant, vent_changes.with_laterals(plant)) == pytest.approx(4 * np.pi * 0.15**2)
    assert vent_changes.new_pipe(plant, plant) == 0.0 and vent_changes.differences(plant, plant) == ()
    (size,) = vent_changes.differences(plant, wide)
    assert (size.kind, set(size.sections)) == ("size", set(lengths)) and size.after.m_as("mm") == pytest.approx(300)


def test_gas_never_flows_from_a_wider_into_a_narrower_section_that_was_not_so_drawn():
    plant = small_job().plant
    with pytest.raises(ValueError, match="would be wider than header A, into which it leads"):
        vent_changes.sized(plant, ("connector A",), 6)
    with pytest.raises(ValueError, match="header B would be wider than stack"):
        vent_changes.sized(plant, ("header B",), 1)


def test_header_and_stack_begin_at_the_first_junction():
    hall = SIZED["swim_hall"].plant
    assert {s.name for s in vent_changes.shared(hall)} == {"header 1", "header 2", "header 3", "offset", "stack"}
    assert vent_changes.shared(row_plant(1)) == row_plant(1).order


def test_a_wider_vent_takes_the_next_size_as_it_is_sold():
    hall = SIZED["swim_hall"].plant
    for steps, inches in ((1, 18), (2, 20), (4, 24)):
        plant = vent_changes.wider(hall, steps)
        assert plant.section("header 1").diameter.m_as("inch") == pytest.approx(inches)
        assert plant.section("stack").diameter.m_as("inch") == pytest.approx(inches)
        assert plant.section("connector 1") == hall.section("connector 1")
    # A size in millimeters stays in millimeters, one of odd inches in inches.
    assert vent_changes.wider(SIZED["lodge"].plant, 1).section("shaft").diameter.m_as("mm") == pytest.approx(350)
    odd = replace(row_plant(1), sections=tuple(replace(s, diameter=Q_(12.4, "inch")) for s in row_plant(1).sections))
    assert vent_changes.wider(odd, 1).section("stack").diameter.m_as("inch") == pytest.approx(14)
    with pytest.raises(ValueError, match="series of vents ends at 800 mm: none 1 above 900 mm"):
        vent_changes.wider(row_plant(2, header_mm=900), 1)


def test_laterals_only_where_a_branch_enters_square():
    hall = SIZED["swim_hall"].plant
    changed = vent_changes.with_laterals(hall)
    assert [s.junction for s in changed.sections] == [s.junction and "lateral" for s in hall.sections]
    assert vent_changes.with_laterals(changed) == changed


def test_the_top_section_grows_and_nothing_else():
    hall = SIZED["swim_hall"].plant
    taller = vent_changes.with_top(hall, 1.5)
    assert taller.section("stack").rise.m_as("ft") == pytest.approx(57.0)
    assert taller.section("stack").length.m_as("ft") == pytest.approx(57.0)
    assert [s for s in taller.sections if s.name != "stack"] == [s for s in hall.sections if s.name != "stack"]
    with pytest.raises(ValueError, match="outside piece does not rise upright"):
        vent_changes.with_top(SIZED["laundry"].plant, 1.5)


def test_a_roof_fan_takes_the_place_of_the_cap_and_only_there():
    hall = SIZED["swim_hall"].plant
    assert [t.cap for t in vent_changes.with_free_end(hall).terminations] == ["open end"]
    own = appliance("apart")
    section = replace(hall.section("connector 1"), name="own vent", into="own end", junction=None)
    both = replace(
        hall,
        appliances=(*hall.appliances, own),
        feeds=(*hall.feeds, "own vent"),
        sections=(*hall.sections, section),
        terminations=(*hall.terminations, replace(hall.terminations[0], name="own end")),
    )
    assert {t.name: t.cap for t in vent_changes.with_free_end(both).terminations} == {
        "roof": "open end",
        "own end": "low-resistance cap",
    }


def test_a_whole_number_of_inches_goes_by_inches_however_it_is_written():
    """152.4 mm is 6 in., of which 7 in. is the next; 150 mm is a size of its own series, of which 160 mm is."""
    assert vent_changes.size(Q_(152.4, "mm"), 1).m_as("inch") == pytest.approx(7.0)
    assert vent_changes.size(Q_(150.0, "mm"), 1).m_as("mm") == pytest.approx(160.0)


def test_the_foot_of_a_stack_is_the_stack_s_and_stays_as_high():
    """A device stands there, one diameter above where the appliances meet; what is made taller stands above it."""
    cut = pieces.with_foot(meeting_at_the_foot())
    found = vent_changes.parts(cut)
    assert found["stack"] == ("foot of stack", "stack") and found["header"] == ("header 1",)
    assert vent_changes.rise_behind_header(cut)[0] == pytest.approx(20.0)
    taller = vent_changes.with_top(cut, 1.25)
    (grown,) = vent_changes.differences(cut, taller)
    assert (grown.kind, grown.sections) == ("height", ("stack",))
    assert vent_changes.rise_behind_header(taller)[0] == pytest.approx(25.0)
