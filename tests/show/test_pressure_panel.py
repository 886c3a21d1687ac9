"""Pressure panel: the line begins at the outlet, its scale holds the window, and sections keep their numbers."""

from xml.etree import ElementTree

import numpy as np
import pytest
from sample_plants import SEASONS, one_state, row_plant

from ventcalc.show import pressure_panel, section_state
from ventcalc.show.plots import RUST
from ventcalc.show.svg import Sheet, broken, text_width
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan

PLANT = row_plant(2, stack_height=12.0)
CORNERS = np.array([60.0, 40.0]), np.array([700.0, 240.0])


@pytest.fixture(scope="module")
def seen():
    return section_state.read(Scan(PLANT, SEASONS, solve(PLANT, SEASONS, one_state((2, 2))), 1, False))


@pytest.fixture(scope="module", params=["US", "SI"])
def shapes(request, seen):
    sheet = Sheet(760.0, 13.0)
    pressure_panel.pressure_panel(sheet, seen, seen.outlets[0], CORNERS, request.param)
    return list(ElementTree.fromstring(sheet.drawing(300.0, "", "").svg))[2:]


def points(shape):
    return np.array([[float(v) for v in p.split(",")] for p in shape.get("points").split()])


def scale(shapes):
    """Pressure by height on the sheet, from two of the printed ticks."""
    ticks = [(float(s.get("y")), float(s.text)) for s in shapes if s.get("text-anchor") == "end"]
    (first, low), (last, high) = ticks[0], ticks[-1]
    return lambda y: low + (high - low) * (np.asarray(y) - first) / (last - first)


def test_the_line_goes_from_the_outlet_to_the_open(shapes, seen):
    line = max((s for s in shapes if s.tag.endswith("polyline")), key=lambda s: len(s.get("points").split()))
    (bracket,) = [s for s in shapes if s.get("stroke") == RUST]
    pressure = scale(shapes)
    outlet = seen.outlets[0]
    span = (outlet.pressure - outlet.window[0]) / (outlet.window[1] - outlet.window[0])
    low, high = pressure(points(bracket)[[0, -1], 1])
    assert (pressure(points(line)[0, 1]) - low) / (high - low) == pytest.approx(span, abs=0.01)
    assert points(line)[-1, 0] == pytest.approx(CORNERS[1][0], abs=0.2)


def test_the_scale_holds_all_that_is_drawn(shapes):
    for shape in shapes:
        if shape.tag.endswith("polyline"):
            assert (points(shape)[:, 1] >= CORNERS[0][1] - 0.1).all() and (
                points(shape)[:, 1] <= CORNERS[1][1] + 0.1
            ).all()


def test_every_section_on_the_way_has_its_number_or_too_little_room(shapes, seen):
    told = [s.text for s in shapes if s.get("text-anchor") == "middle"]
    numbers = [str(seen.pieces[PLANT.row(s.name)].number) for s in PLANT.path(seen.outlets[0].name)]
    assert told and set(told) <= set(numbers) and numbers[-1] in told


def test_words_are_broken_at_the_width():
    words = "a vent that is wet must drain and a vent that drains must be listed for it"
    lines = broken(words, 120.0, 13.0, False)
    assert " ".join(lines) == words and len(lines) > 2
    assert all(text_width(line, 13.0, False) <= 120.0 for line in lines)
    assert broken("", 120.0, 13.0, True) == [""]
