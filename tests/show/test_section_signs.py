"""Section signs: greys that follow the gas, arrows that follow the flow, a key for what is there and nothing else."""

from xml.etree import ElementTree

import numpy as np
import pytest
from sample_plants import SEASONS, one_state, row_plant

from ventcalc.show import section_signs, section_state
from ventcalc.show.plots import RUST
from ventcalc.show.svg import Sheet
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan

PLANT = row_plant(2, idle="leaking", stack_height=3.0, kilowatts=600.0, header_mm=250.0)


def state(*codes, cold=False, season=0):
    return section_state.read(Scan(PLANT, SEASONS, solve(PLANT, SEASONS, one_state(codes, season, cold)), 1, False))


def shapes(put):
    sheet = Sheet(760.0, 13.0)
    put(sheet)
    return list(ElementTree.fromstring(sheet.drawing(100.0, "", "").svg))[2:]


def points(shape):
    return np.array([[float(v) for v in p.split(",")] for p in shape.get("points").split()])


def test_hotter_gas_is_darker_and_the_ends_hold():
    greys = [int(section_signs.shade(k, 500.0)[1:3], 16) for k in (200.0, 273.15, 300.0, 400.0, 500.0, 900.0)]
    assert greys == sorted(greys, reverse=True) and greys[0] == greys[1] and greys[-1] == greys[-2]
    assert len(set(greys)) == 4
    assert section_signs.shades(400.0, 400.0, 500.0) == 1 < section_signs.shades(300.0, 490.0, 500.0)


def test_an_arrow_is_wider_with_more_flow_and_points_where_it_goes():
    widths = [section_signs.thickness(flow, 1.0) for flow in (0.0, 0.5, -0.5, 1.0, 3.0)]
    assert widths[0] < widths[1] == widths[2] < widths[3] == widths[4]
    _, inner = shapes(lambda sheet: section_signs.arrow(sheet, (0.0, 0.0), (30.0, 0.0), 4.0, False))
    tip = points(inner)[points(inner)[:, 0].argmax()]
    assert tip == pytest.approx([30.0, 0.0])
    _, heavy = shapes(lambda sheet: section_signs.arrow(sheet, (0.0, 0.0), (30.0, 0.0), 2.0, True))
    assert heavy.get("fill") == RUST and np.ptp(points(heavy)[:, 1]) > np.ptp(points(inner)[:, 1])


def test_verdicts_differ_in_shape():
    told = [shapes(lambda sheet, v=v: section_signs.verdict_sign(sheet, np.zeros(2), v, "black"))
            for v in ("inside", "above", "below", "idle", "spills")]  # fmt: skip
    assert [len(found) for found in told] == [1, 1, 1, 0, 4] and told[0][0].tag.endswith("polyline")
    up, down = (points(found[0]) for found in told[1:3])
    assert up[2, 1] < up[0, 1] and down[2, 1] > down[0, 1]  # y runs downward


def key(seen):
    return [s.text for s in shapes(lambda sheet: section_signs.key(sheet, seen, 10.0, "SI")) if s.tag.endswith("text")]


def test_the_key_has_what_is_there_and_nothing_else():
    # The narrow low stack cannot carry what one makes: some comes back through the other.
    calm, worst = key(state(2, 2)), key(state(0, 2, season=2, cold=True))
    assert "fires" in calm and "off" not in calm and "reversed flow" not in calm
    assert {"fires", "off", "reversed flow", "flow, by its width"} <= set(worst)
    assert calm[0] == "gas, 0 °C to 165 °C"


def test_hatching_stands_on_both_sides_of_a_pipe():
    (strokes,) = shapes(lambda sheet: section_signs.hatch(sheet, np.array([[0.0, 50.0], [40.0, 50.0]]), 10.0))
    feet = np.array([[float(v) for v in part.split("L")[0].split()] for part in strokes.get("d").split("M")[1:]])
    assert set(feet[:, 1]) == {44.0, 56.0} and len(feet) == 16
