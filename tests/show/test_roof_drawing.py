"""The roof drawing: to scale, what governs in it, lettering that can be read and does not overlap."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from ventcalc.building.clearance_words import length_text
from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import FAIL, READING
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.terminal import CHIMNEY, DIRECT, FAN, GAS_VENT, WALL_VENT, Terminal, moved
from ventcalc.show import roof_drawing
from ventcalc.show.roof_drawing import governing
from ventcalc.units import Q_, SYSTEMS


def m(value):
    return Q_(np.asarray(value, float), "m")


def box(x0, x1, y0, y1):
    return m([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def crowded():
    """A small roof with much on it, close together."""
    ridge = m([0.0, 5.0, 8.0])
    return Scene(
        planes=(
            RoofPlane.pitched("front", box(0, 12, 0, 5), ridge, Q_(90, "degree"), 6.0),
            RoofPlane.pitched("back", box(0, 12, 5, 10), ridge, Q_(-90, "degree"), 6.0),
        ),
        obstacles=(
            Obstacle("tower", "tower", box(9, 11, 6, 8), m(11.0)),
            Obstacle("parapet", "parapet", m([[0, 0], [0, 10]]), m(8.6)),
            Obstacle("cooling unit", "equipment", box(6.0, 7.0, 2.0, 3.0), m(8.0)),
            Obstacle("house next door", "adjacent building", box(16, 20, 0, 9), m(7.0)),
        ),
        openings=(
            Opening("intake", "forced-air intake", m([[6.0, 2.2], [6.0, 2.8]]), m(7.2), m(8.0)),
            Opening("dormer window", "operable window", m([[4.0, 1.0], [5.0, 1.0]]), m(6.4), m(7.4)),
            Opening("their window", "operable window", m([[16.0, 3.0], [16.0, 4.0]]), m(3.0), m(4.0), next_door=True),
        ),
        marks=(
            Mark("lot line", "property line", m([[14.0, -3.0], [14.0, 11.0]])),
            Mark("path", "walkway", box(0, 12, -2.0, -1.0), m(0.0)),
            Mark("meter", "gas meter", m([[1.0, -0.2]])),
            Mark("corner", "interior corner", m([[12.0, 0.0]]), m(4.0)),
        ),
    )


def terminal(kind=CHIMNEY, x=4.0, y=3.5, low=8.0, cap=0.2):
    through = "wall" if kind in (WALL_VENT, DIRECT) else "roof"
    return Terminal(
        "stack", m(x), m(y), m(low + cap), m(0.3), kind, cap_bottom=m(low), through=through,
        heat_input=Q_(40, "MBH"), hood=m(1.0),
    )  # fmt: skip


CASES = {
    "chimney": terminal(),
    "fan": terminal(FAN),
    "gas vent at the ridge": terminal(GAS_VENT, y=5.0),
    "beside the tower": terminal(CHIMNEY, 8.7, 7.0),
    "through the tower": terminal(CHIMNEY, 10.0, 7.0, 11.5),
    "high above all": terminal(CHIMNEY, low=15.0),
    "through a wall": terminal(WALL_VENT, 12.2, -0.3, 1.0),
    "direct vent by the window": terminal(DIRECT, 4.5, 0.9, 7.5),
}


def drawn(case, system="US"):
    one = CASES[case]
    figure = roof_drawing.roof_drawing(crowded(), one, governing(judge(crowded(), one)), system)
    FigureCanvasAgg(figure).draw()
    return figure


def lettering(figure):
    """Every visible text with its box on the paper."""
    texts = [*figure.texts]
    for axes in figure.axes:
        inside = []
        for axis, limits in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            places = zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=True)
            inside += [words for at, words in places if limits[0] <= at <= limits[1]]
        texts += [*axes.texts, axes.xaxis.label, axes.yaxis.label, *inside]
    return [(t, t.get_window_extent()) for t in texts if t.get_text().strip() and t.get_visible()]


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("case", CASES)
def test_lettering_does_not_overlap_and_can_be_read(case, system):
    figure = drawn(case, system)
    found = lettering(figure)
    assert all(t.get_size() >= 10 for t, _ in found)
    for (one, a), (two, b) in combinations(found, 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 2 or b.y1 <= a.y0 + 2
        assert apart, (one.get_text(), two.get_text())


@pytest.mark.parametrize("case", CASES)
def test_lettering_stays_on_the_paper(case):
    figure = drawn(case)
    width, height = figure.get_size_inches() * figure.dpi
    for text, extent in lettering(figure):
        assert extent.x0 >= -1 and extent.x1 <= width + 1 and extent.y0 >= -1 and extent.y1 <= height + 1, text


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("case", CASES)
def test_both_views_are_to_scale(case, system):
    for axes in drawn(case, system).axes:
        extent = axes.get_window_extent()
        across = extent.width / np.ptp(axes.get_xlim())
        assert across == pytest.approx(extent.height / np.ptp(axes.get_ylim()), rel=1e-6)


def test_every_thing_has_its_number_in_the_plan_and_its_name_in_the_key():
    figure = drawn("chimney")
    plan = figure.axes[0]
    numbers = {t.get_text() for t in plan.texts if t.get_text().isdigit()}
    names = "\n".join(t.get_text() for t in figure.texts)
    assert numbers == set(roof_drawing.numbered(crowded()))
    for thing in (*crowded().planes, *crowded().placed):
        assert thing.name in names


@pytest.mark.parametrize("system", SYSTEMS)
def test_governing_line_runs_to_the_governing_point_and_says_how_long_it_is(system):
    one = CASES["chimney"]
    finding = governing(judge(crowded(), one))
    figure = drawn("chimney", system)
    meter = 1.0 if system == "SI" else 1 / 0.3048
    plan, section = figure.axes
    ends = [line.get_xydata()[-1] for line in plan.lines if len(line.get_xydata()) == 2]
    assert any(np.allclose(end, finding.point.m_as("m")[:2] * meter) for end in ends)
    words = {t.get_text() for t in section.texts}
    assert length_text(finding.gap, system) in words
    assert any(w.startswith(length_text(finding.raise_by, system, up=True)) and "short" in w for w in words)
    caption = " ".join(t.get_text() for t in figure.texts)
    assert finding.rule in caption and finding.row.section in caption and finding.verdict in caption
    assert "check what your jurisdiction adopted" in caption


def test_section_shows_the_governing_height_where_it_is():
    one = CASES["chimney"]
    finding = governing(judge(crowded(), one))
    section = drawn("chimney", "SI").axes[1]
    level = [line for line in section.lines if line.get_linestyle() == "--"]
    heights = {round(float(y), 6) for line in level for y in line.get_ydata()}
    assert round(finding.need.m_as("m"), 6) in heights


def test_what_governs_is_the_worst_that_can_be_drawn():
    found = judge(crowded(), CASES["chimney"])
    chosen = governing(found)
    failing = [f for f in found if f.verdict == FAIL]
    assert chosen.raise_by == max(f.raise_by for f in failing)
    # Nothing fails: a reading; nothing to read: the pass with the least to spare.
    far = moved(CASES["high above all"], m(4.0), m(3.5))
    assert governing(judge(crowded(), far)).verdict != FAIL
    open_roof = Scene((RoofPlane.flat("roof", box(0, 9, 0, 9), m(5.0)),))
    fan = terminal(FAN, low=7.0)
    assert governing(judge(open_roof, fan)).verdict == READING
    passing = judge(open_roof, terminal(CHIMNEY, low=7.0))
    assert governing(passing).rule == "chimney above the roof"
    assert governing(()) is None


def test_a_scene_in_which_nothing_can_be_measured_is_still_drawn():
    figure = roof_drawing.roof_drawing(crowded(), CASES["chimney"], None, "US")
    FigureCanvasAgg(figure).draw()
    assert "nothing" in " ".join(t.get_text() for t in figure.texts) or "no rule" in figure.texts[0].get_text()
