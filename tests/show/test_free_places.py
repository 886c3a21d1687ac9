"""Free places: what is put on a drawing does not touch."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.patches import Circle

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import drawing, plots

DEMO = {p.stem: job_file.load(p).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.fixture(params=DEMO, ids=str)
def plant(request):
    return DEMO[request.param]


def test_numbers_do_not_touch_one_another(plant):
    axes = drawing.layout_drawing(plant).axes[0]
    points = np.ptp(axes.get_xlim()) / (axes.get_position().width * plots.WIDTH * plots.POINTS)
    rings = [p.center for p in axes.patches if isinstance(p, Circle) and p.get_zorder() == 9]
    assert len(rings) == len(plant.sections)
    apart = [np.hypot(*np.subtract(a, b)) / points for a, b in combinations(rings, 2)]
    assert min(apart, default=99.0) >= 15.9  # points across a ring
