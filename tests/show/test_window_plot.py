"""Window plot: ranges as shares of the window, the worst of many outlets, before and after."""

import numpy as np
import pytest

from ventcalc.show import window_plot
from ventcalc.vent.outlet_envelope import Envelope


def envelope(name, low, high, window=(-20.0, 20.0)):
    return Envelope(name, low, high, 0, 1, window)


def test_the_ends_of_the_window_are_0_and_1():
    assert window_plot.shares(envelope("A", -20.0, 20.0)) == (0.0, 1.0)
    assert window_plot.shares(envelope("A", -40.0, 0.0)) == (-0.5, 0.5)


def test_of_many_outlets_the_worst_are_drawn_in_their_order():
    before = [envelope(f"Boiler {k}", -5.0, 5.0) for k in range(14)]
    after = [envelope(f"Boiler {k}", -5.0 - k, 5.0) for k in range(14)]
    assert window_plot.worst(before, after) == list(range(14 - window_plot.MOST, 14))
    assert window_plot.worst(before[:3], ()) == [0, 1, 2]


@pytest.mark.parametrize("after", [True, False])
def test_every_outlet_has_its_lines(after):
    before = [envelope("Boiler A", -30.0, 25.0), envelope("Boiler B", -90.0, 10.0)]
    mended = [envelope("Boiler A", -5.0, 5.0), envelope("Boiler B", -8.0, 4.0)] if after else []
    (axes,) = window_plot.windows(before, mended, "SI").axes
    lines = [line.get_xdata() for line in axes.lines if len(line.get_xdata()) == 2 and line.get_linewidth() >= 2.0]
    assert len(lines) == 2 * (1 + after)
    assert any(np.allclose(x, window_plot.shares(before[0])) for x in lines)
    assert any("-90" in text.get_text() for text in axes.texts)  # what lies outside the picture is written


def test_a_pressure_that_is_held_is_seen():
    """Its lowest is its highest, and a line without length is none."""
    (axes,) = window_plot.windows([envelope("A", -30.0, 25.0)], [envelope("A", 5.0, 5.0)], "SI").axes
    held = next(line.get_xdata() for line in axes.lines if line.get_linewidth() == 4.0 and len(line.get_xdata()) == 2)
    assert np.mean(held) == pytest.approx(window_plot.shares(envelope("A", 5.0, 5.0))[0])
    assert held[1] - held[0] > 0.05  # a twentieth of its window can be seen on paper
