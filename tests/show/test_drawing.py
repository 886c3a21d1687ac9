"""The drawing of the vent: to scale, labeled, nothing written over anything else."""

import re
from itertools import combinations

import numpy as np
import pytest
from sample_figures import extents, lettering
from sample_plants import row_plant

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import drawing, plots
from ventcalc.units import SYSTEMS

DEMO = {p.stem: job_file.demonstration(p.stem).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.fixture(params=DEMO, ids=str)
def plant(request):
    return DEMO[request.param]


@pytest.mark.slow
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


@pytest.mark.parametrize("system", SYSTEMS)
def test_drawing_is_to_scale_with_a_labeled_height(plant, system):
    figure = drawing.layout_drawing(plant, system)
    axes = figure.axes[0]
    box = axes.get_position()
    wide = np.ptp(axes.get_xlim()) / (box.width * figure.get_figwidth())
    tall = np.ptp(axes.get_ylim()) / (box.height * figure.get_figheight())
    assert wide == pytest.approx(tall)  # one foot or meter is as long across as upward
    assert re.search(rf"height.*, {'ft' if system == 'US' else 'm'}$", axes.get_ylabel())


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
