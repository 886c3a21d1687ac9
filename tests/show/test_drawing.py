"""The drawing of the vent: to scale, labelled, nothing written over anything else."""

import re
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import Circle
from matplotlib.text import Text
from sample_plants import row_plant

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import drawing, plots
from ventcalc.units import SYSTEMS

DEMO = {p.stem: job_file.load(p).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.fixture(params=DEMO, ids=str)
def plant(request):
    return DEMO[request.param]


def lettering(figure):
    """Every visible text of a figure; ticks beyond the ends of an axis are not drawn and do not count."""
    beyond = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    beyond |= {tick.label1, tick.label2}
    return [t for t in figure.findobj(Text) if t.get_text() and t.get_visible() and t not in beyond]


def extents(figure):
    """What is written on a figure: its words and the box they take in pixels."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw(renderer)
    return [(t.get_text(), t.get_window_extent(renderer)) for t in lettering(figure)]


@pytest.mark.parametrize("system", SYSTEMS)
def test_no_words_overlap_or_leave_the_paper(plant, system):
    figure = drawing.layout_drawing(plant, system)
    written = extents(figure)
    width, height = figure.bbox.size
    assert all(b.x0 >= 0 and b.y0 >= 0 and b.x1 <= width and b.y1 <= height for _, b in written)
    overlapping = [
        (a, b) for (a, x), (b, y) in combinations(written, 2) if x.shrunk(0.9, 0.9).overlaps(y.shrunk(0.9, 0.9))
    ]
    assert not overlapping


def test_numbers_do_not_touch_one_another(plant):
    axes = drawing.layout_drawing(plant).axes[0]
    points = np.ptp(axes.get_xlim()) / (axes.get_position().width * plots.WIDTH * plots.POINTS)
    rings = [p.center for p in axes.patches if isinstance(p, Circle) and p.get_zorder() == 9]
    assert len(rings) == len(plant.sections)
    apart = [np.hypot(*np.subtract(a, b)) / points for a, b in combinations(rings, 2)]
    assert min(apart, default=99.0) >= 15.9  # points across a ring


@pytest.mark.parametrize("system", SYSTEMS)
def test_drawing_is_to_scale_with_a_labelled_height(plant, system):
    figure = drawing.layout_drawing(plant, system)
    axes = figure.axes[0]
    box = axes.get_position()
    wide = np.ptp(axes.get_xlim()) / (box.width * figure.get_figwidth())
    tall = np.ptp(axes.get_ylim()) / (box.height * figure.get_figheight())
    assert wide == pytest.approx(tall)  # one foot or metre is as long across as upward
    assert re.search(rf"height.*, {'ft' if system == 'US' else 'm'}$", axes.get_ylabel())


def test_schedule_names_every_section_appliance_and_fitting(plant):
    words = " ".join(text for text, _ in extents(drawing.layout_drawing(plant)))
    for name in [s.name for s in plant.sections] + [a.name for a in plant.appliances]:
        assert name in words
    for fitting in {f for s in plant.sections for f in s.fittings}:
        assert fitting in words


def test_lettering_is_ten_points_and_more(plant):
    figure = drawing.layout_drawing(plant)
    assert min(text.get_size() for text in lettering(figure)) >= 10.0


def test_pipe_is_as_wide_as_its_diameter():
    """A 574 mm header beside 200 mm connectors: the inner lines' widths stand in that ratio."""
    plant = row_plant(8)
    lines = [line for line in drawing.layout_drawing(plant, "SI").axes[0].lines if line.get_zorder() == 4]
    widths = sorted({round(line.get_linewidth(), 6) for line in lines})
    header, connector = (float(plant.section(n).diameter.m_as("mm")) for n in ("header 1", "connector 1"))
    assert widths[-1] / widths[0] == pytest.approx(header / connector)


def test_a_broken_stack_says_what_is_left_out():
    figure = drawing.layout_drawing(row_plant(3, stack_height=90.0), "SI")
    assert any(re.fullmatch(r"[\d.]+ m left out", text) for text, _ in extents(figure))
    heights = [float(t.get_text()) for t in figure.axes[0].get_yticklabels()]
    assert max(heights) > 80  # m: ticks above the break tell true heights


def test_letters_go_on_after_z():
    assert plots.letters(28)[-3:] == ["Z", "AA", "AB"]
