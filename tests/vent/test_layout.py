"""Layout: a drawing that is not a tree, or does not meet, is refused by a message that names its sections."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import appliance, random_tree, row_plant, with_sections

from ventcalc.flow.materials import material
from ventcalc.units import Q_, UnitsError
from ventcalc.vent.layout import HEIGHT_TOLERANCE, Place, Plant, Section, Termination

WALL = material("Type B gas vent")
OPEN = (Termination("top"),)


def section(name, into, length=2.0, rise=0.0, **more):
    return Section(name, Q_(length, "m"), Q_(rise, "m"), Q_(200, "mm"), WALL, into, **more)


def plant(appliances, feeds, *sections, terminations=OPEN):
    return Plant("drawn", Q_(0, "m"), Q_(0, "m"), tuple(appliances), tuple(feeds), sections, terminations)


def two(junction_one, junction_two, rise_one=1.0, rise_two=1.0):
    """Two appliances at one height that meet at the foot of a stack."""
    return plant(
        (appliance("A"), appliance("B")),
        ("left", "right"),
        section("left", "stack", rise=rise_one, junction=junction_one),
        section("right", "stack", rise=rise_two, junction=junction_two),
        section("stack", "top", length=8, rise=8),
    )


def refused(*words):
    """The message holds every one of these words."""
    return pytest.raises(ValueError, match="".join(f"(?=.*{w})" for w in words))


def test_a_loop_names_its_sections():
    with refused("loop", "one", "two", "three"):
        plant(
            [appliance("A")],
            ["feed"],
            section("feed", "one"),
            section("one", "two"),
            section("two", "three"),
            section("three", "one"),
        )


def test_a_section_that_leads_nowhere():
    with refused("'feed' leads into 'stak'", "no section or termination"):
        plant([appliance("A")], ["feed"], section("feed", "stak"), section("stack", "top"))


def test_an_appliance_that_leads_nowhere():
    with refused("appliance 'A' leads into 'fed'", "sections are feed"):
        plant([appliance("A")], ["fed"], section("feed", "top"))


def test_a_section_that_nothing_feeds():
    with refused("nothing leads into section 'orphan'"):
        plant(
            [appliance("A")],
            ["feed"],
            section("feed", "stack"),
            section("orphan", "stack", junction="lateral"),
            section("stack", "top"),
        )


def test_two_appliances_into_one_section():
    with refused("two appliances lead into section 'feed'"):
        plant([appliance("A"), appliance("B")], ["feed", "feed"], section("feed", "top"))


def test_an_appliance_and_a_section_into_one():
    with refused("an appliance and section 'feed' both lead into 'stack'"):
        plant([appliance("A"), appliance("B")], ["feed", "stack"], section("feed", "stack"), section("stack", "top"))


def test_three_sections_into_one():
    with refused("3 sections lead into 'stack'", "two at a time"):
        plant(
            [appliance(n) for n in "ABC"],
            ["a", "b", "c"],
            section("a", "stack"),
            section("b", "stack", junction="lateral"),
            section("c", "stack", junction="lateral"),
            section("stack", "top"),
        )


def test_two_sections_into_one_termination():
    with refused("2 sections lead into termination 'top'"):
        plant([appliance("A"), appliance("B")], ["a", "b"], section("a", "top"), section("b", "top"))


def test_a_termination_that_nothing_reaches():
    with refused("0 sections lead into termination 'spare'"):
        plant([appliance("A")], ["a"], section("a", "top"), terminations=(*OPEN, Termination("spare")))


@pytest.mark.parametrize(
    ("one", "other"), [(None, None), ("lateral", "lateral"), ("opposed tee", None), ("opposed tee", "lateral")]
)
def test_a_junction_needs_one_branch_or_two_opposed(one, other):
    with refused("'left'", "'right'", "lead into 'stack'", "name the junction"):
        two(one, other)


@pytest.mark.parametrize(("one", "other"), [(None, "lateral"), ("boot tee", None), ("opposed tee", "opposed tee")])
def test_junctions_that_are_allowed(one, other):
    assert [s.name for s in two(one, other).upstream("stack")] == (
        ["right", "left"] if one == "boot tee" else ["left", "right"]
    )


def test_an_opposed_tee_without_a_partner():
    with refused("'left' names an opposed tee", "partner"):
        plant([appliance("A")], ["left"], section("left", "stack", junction="opposed tee"), section("stack", "top"))


def test_opposed_legs_of_two_diameters_are_refused():
    # Idelchik's symmetric tee is a form for two equal legs; no coefficient of unequal ones is at hand.
    with refused("opposed tee needs two equal legs", "'left' is 200 mm", "'right' is 250 mm"):
        with_sections(two("opposed tee", "opposed tee"), right={"diameter": Q_(250, "mm")})


def test_heights_that_do_not_meet():
    with refused("lead into 'stack' do not meet", r"'left' ends 8.20 ft \(2.50 m\)", r"'right' ends 10.17 ft"):
        two(None, "lateral", rise_one=1.0, rise_two=1.6)
    # A hand's breadth: drawn by the same tape, two ends of one point are closer than that.
    with refused("'left' ends 8.20 ft", r"'right' ends 8.53 ft \(2.60 m\)"):
        two(None, "lateral", rise_one=1.0, rise_two=1.1)
    near = two(None, "lateral", rise_one=1.0, rise_two=1.0 + 0.9 * HEIGHT_TOLERANCE)
    assert near.heights["stack"][0] == pytest.approx(2.5)  # the run's height counts


def test_with_which_rise_a_connector_meets_the_run_is_told():
    """A header that rises by 0.3 m to where the second of two equal connectors comes in."""
    row = row_plant(2)
    sections = [replace(s, rise=Q_(0.3, "m")) if s.name == "header 1" else s for s in row.sections]
    with refused("do not meet", r"or give 'connector 2' a rise of 4.27 ft \(1.30 m\)$"):
        replace(row, sections=tuple(sections))
    mended = [replace(s, rise=Q_(1.3, "m")) if s.name == "connector 2" else s for s in sections]
    assert replace(row, sections=tuple(mended)).heights["header 2"][0] == pytest.approx(2.8)


def test_names_that_stand_twice():
    with refused("name 'feed' stands twice among sections"):
        plant([appliance("A")], ["feed"], section("feed", "top"), section("feed", "top"))
    with refused("name 'A' stands twice among appliances"):
        plant([appliance("A")] * 2, ["a", "b"], section("a", "b"), section("b", "top"))


def test_several_problems_in_one_message():
    with refused("'nowhere'", "appliance 'B' leads into 'none'"):
        plant([appliance("A"), appliance("B")], ["a", "none"], section("a", "nowhere"))


def test_a_row_of_an_unknown_section_is_refused():
    parts = section("one", "two"), section("two", "top")
    plant = Plant("drawn", Q_(0, "m"), Q_(0, "m"), (appliance("A"),), ("one",), parts, OPEN)
    assert [plant.row("one"), plant.row("two")] == [0, 1]
    with pytest.raises(ValueError, match="section 'three' is not in the plant 'drawn'; sections are one, two"):
        plant.row("three")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"length": Q_(-1, "m")}, "length -1 m must not be negative"),
        ({"rise": Q_(3, "m")}, "rise 3 m is more than its length 2.0 m"),
        ({"rise": Q_(-3, "m")}, "rise -3 m is more than its length"),
        ({"diameter": Q_(200, "m")}, "diameter 200 m must be 20 mm to 10 m"),
        ({"fittings": ("elbow 91",)}, "elbow 91"),
        ({"fittings": ("rain cap",)}, "'rain cap' is a terminal"),
        ({"junction": "cross"}, "unknown junction 'cross'"),
    ],
)
def test_impossible_sections(change, words):
    with pytest.raises(ValueError, match=words):
        replace(section("one", "top"), **change)


def test_wrong_unit_names_section_and_field():
    with pytest.raises(UnitsError, match="section one: diameter"):
        replace(section("one", "top"), diameter=Q_(200, "Pa"))


def test_an_elbow_is_no_cap():
    with pytest.raises(ValueError, match="termination top: cap 'elbow 90'; known are: open end"):
        Termination("top", "elbow 90")


def test_a_plant_needs_its_parts():
    with refused("at least one appliance"):
        plant([], [], section("a", "top"))


def test_paths_order_and_heights_of_a_row():
    # Worked by hand: outlets at 1.5 m, connectors rise 1 m, a level header, a stack of 20 m.
    row = row_plant(3)
    assert [s.name for s in row.path("B2")] == ["connector 2", "header 2", "header 3", "stack"]
    assert row.heights["header 1"] == (2.5, 2.5) and row.heights["stack"] == (2.5, 22.5)
    assert [a.name for a in row.serves("header 2")] == ["B1", "B2"]
    assert [s.name for s in row.upstream("header 2")] == ["header 1", "connector 2"]
    assert [s.name for s in row.upstream("top")] == ["stack"]


@given(seed=st.integers(0, 10_000))
def test_every_section_comes_after_those_that_lead_into_it(seed):
    tree = random_tree(seed)
    names = [s.name for s in tree.order]
    assert sorted(names) == sorted(s.name for s in tree.sections)
    for s in tree.sections:
        assert s.into == "top" or names.index(s.into) > names.index(s.name)
        assert tree.heights[s.name][1] - tree.heights[s.name][0] == pytest.approx(s.rise.m_as("m"))
    for a in tree.appliances:
        assert tree.path(a.name)[-1].into == "top"


def test_places_are_known_by_name():
    shaft = (Place("shaft"),)
    parts = (section("one", "top", place="shaft"),)
    ends = OPEN
    inside = Plant("drawn", Q_(0, "m"), Q_(0, "m"), (appliance("A"),), ("one",), parts, ends, places=shaft)
    assert inside.section("one").place == "shaft"
    with pytest.raises(
        ValueError, match="section 'one': place 'shaft'; choose room, outdoors, or tell of it as a place"
    ):
        replace(inside, places=())
    with pytest.raises(ValueError, match="section 'one': place 'shaft'; did you mean 'shafts'"):
        replace(inside, places=(Place("shafts"),))
    with pytest.raises(ValueError, match="appliance 'A': room 'outdoors'; choose room, shaft"):
        replace(inside, appliances=(replace(appliance("A"), room="outdoors"),))
    with pytest.raises(ValueError, match="'shaft' stands twice among places"):
        replace(inside, places=shaft * 2)
    with pytest.raises(ValueError, match="place 'room': give it a name other than"):
        Place("room")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"place": "top"}, "termination top: place 'top'; choose clear, near roof, wall"),
        ({"side": "up"}, "termination top: side 'up'; choose north, east, south, west"),
        ({"cap": "wall terminal", "place": "clear"}, "a wall terminal stands on a wall, not clear"),
    ],
)
def test_impossible_terminations(change, words):
    with pytest.raises(ValueError, match=words):
        replace(Termination("top"), **change)
