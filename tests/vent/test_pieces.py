"""Pieces: what is drawn in two, or in three, is one piece of vent."""

from dataclasses import replace

import pytest
from sample_plants import row_plant

from ventcalc.flow.materials import material
from ventcalc.units import Q_
from ventcalc.vent import pieces
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
