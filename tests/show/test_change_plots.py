"""Figures of load changes: the window, the ends at rest, and the lines of the two worst changes."""

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_hex

from ventcalc.draft import load_changes
from ventcalc.job import job_file
from ventcalc.show import change_plots
from ventcalc.show.plots import BLUE, RUST, png

LAUNDRY = Path(__file__).parents[2] / "data" / "jobs" / "laundry.toml"


@lru_cache
def followed():
    told = job_file.load(LAUNDRY)
    return load_changes.follow(told.plant, told.seasons, load_changes.usual(told.plant, told.seasons))


@pytest.mark.parametrize(("system", "pascal"), [("US", 249.08891), ("SI", 1.0)])
def test_lines_are_the_worst_changes_in_the_units_asked_for(system, pascal):
    (found,) = load_changes.passages(followed())
    figure = change_plots.passage(followed(), found, (-10.0, 40.0), system)
    lines = {to_hex(line.get_color()): line for line in figure.axes[0].get_lines() if len(line.get_xdata()) > 2}
    up, down = (lines[to_hex(c)].get_ydata() for c in (RUST, BLUE))
    assert np.nanmax(up) * pascal == pytest.approx(found.high, rel=1e-6)
    assert np.nanmin(down) * pascal == pytest.approx(found.low, rel=1e-6)
    rest = sorted(line.get_ydata()[0] * pascal for line in figure.axes[0].get_lines() if len(line.get_xdata()) == 2)
    assert rest == pytest.approx([-10.0, 0.0, 40.0], rel=1e-6)
    assert png(figure).startswith(b"\x89PNG")
