"""Exposure plot: the hours, the concentration and the blood that were found, and when an alarm may sound."""

import pytest
from sample_figures import extents

from ventcalc.building import co_exposure
from ventcalc.gas.combustion import products
from ventcalc.gas.fuels import fuel
from ventcalc.show import exposure_plot
from ventcalc.units import Q_


@pytest.fixture(scope="module")
def found():
    """Five grams of flue gas a second with 2000 ppm into a small room."""
    case = co_exposure.COCase(Q_(50.0, "m**3"), Q_(0.5, "1/hour"), Q_(2000.0, "ppm"), Q_(4.0, "hour"))
    burnt = products(fuel("natural gas"), 0.3)
    return co_exposure.judge(case, Q_(5.0, "g/s"), burnt, Q_(1.0, "atm"))


def test_lines_are_what_was_found(found):
    left, right = exposure_plot.exposure(found).axes
    hours, ppm = left.lines[0].get_data()
    assert hours == pytest.approx(found.times / 3600.0) and ppm == pytest.approx(found.co[0])
    assert right.lines[0].get_ydata() == pytest.approx(100.0 * found.blood[0])


def test_what_is_hatched_is_told_only_where_something_is(found):
    """Thinned a hundredfold no alarm sounds in the time followed: 20 ppm is below every point of UL 2034."""
    thin = co_exposure.COCase(Q_(50.0, "m**3"), Q_(0.5, "1/hour"), Q_(20.0, "ppm"), Q_(4.0, "hour"))
    burnt = products(fuel("natural gas"), 0.3)
    quiet = co_exposure.judge(thin, Q_(5.0, "g/s"), burnt, Q_(1.0, "atm"))
    for exposure, hatched in ((found, True), (quiet, False)):
        left, _ = exposure_plot.exposure(exposure).axes
        assert (bool(left.patches), "hatched" in left.get_xlabel()) == (hatched, hatched)


def test_nothing_written_leaves_the_paper(found):
    figure = exposure_plot.exposure(found)
    width, height = figure.bbox.size
    written = extents(figure)
    assert all(b.x0 >= -1 and b.y0 >= -1 and b.x1 <= width + 1 and b.y1 <= height + 1 for _, b in written)
    assert {"carbon monoxide, ppm", "COHb, %"} <= {words for words, _ in written}
