"""Year plots: every hour is in them, and a grey copy keeps their order."""

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from sample_commissioning import HALL

from ventcalc.building import climate
from ventcalc.job import year
from ventcalc.job.design import drawn
from ventcalc.show import plots, year_plots


@pytest.fixture(scope="module")
def hall():
    return year.year(drawn(HALL), climate.typical_year("cold"))


def test_tones_keep_their_order_in_grey():
    """Relative luminance (W3C, WCAG 2.2, definition of relative luminance) rises all the way."""
    colors = np.array([to_rgb(tone) for tone in year_plots.TONES])
    linear = np.where(colors <= 0.04045, colors / 12.92, ((colors + 0.055) / 1.055) ** 2.4)
    assert np.all(np.diff(linear @ [0.2126, 0.7152, 0.0722]) > 0.1)


@pytest.mark.slow
@pytest.mark.parametrize("system", ["US", "SI"])
def test_picture_by_day_shows_every_hour(hall, system):
    figure = year_plots.by_day(hall, system)
    for i in range(3):
        axes = figure.axes[i]
        cells = axes.collections[0].get_array().reshape(24, 365)
        out = (np.abs(hall.beyond[i]) > 1e-6).sum()
        assert (cells != 2).sum() == out
        crosses = next(line for line in axes.lines if line.get_marker() == "x")
        assert len(crosses.get_xdata()) == (hall.into_room[i] > 0.0).sum()
        # The first hours of the year stand at the lower left.
        assert (cells[0, 0] == 2) == (abs(hall.beyond[i, 0]) <= 1e-6)
    assert len(plots.png(figure, 60)) > 10_000


@pytest.mark.slow
@pytest.mark.parametrize("system", ["US", "SI"])
def test_picture_by_load_counts_every_hour(hall, system):
    figure = year_plots.by_load(hall, system)
    bars = figure.axes[0].containers
    sums = [sum(bar.get_height() for bar in of) for of in bars]
    assert sums[0] == pytest.approx(8760.0)
    assert sums[1] == pytest.approx(hall.outside.sum()) and sums[2] == pytest.approx(hall.into_room.max(axis=0).sum())
    assert len(plots.png(figure, 60)) > 5_000
