"""Sketches: all that are told can be drawn, and say what they are given."""

import pytest
from matplotlib.colors import to_rgba
from matplotlib.text import Annotation

from ventcalc.show import sketch
from ventcalc.show.plots import RUST, SIZE
from ventcalc.units import Q_


@pytest.mark.parametrize("name", sketch.sketches())
def test_every_sketch_is_drawn_within_its_limits(name):
    told = sketch.sketches()[name]
    figures = {key: "1 ft" for shape in told["shapes"] for key in _braces(shape.get("text", ""))}
    figure = sketch.sketch(name, "US", **figures)
    axes = figure.axes[0]
    for text in axes.texts:
        x, y = text.get_position()
        assert told["x"][0] <= x <= told["x"][1] and told["y"][0] <= y <= told["y"][1]
        assert isinstance(text, Annotation) or (text.get_fontsize() >= SIZE and "{" not in text.get_text())
    assert len(axes.texts) == sum("text" in s or "arrow" in s for s in told["shapes"])
    assert len(axes.patches) == sum(bool({"box", "polygon", "circle"} & set(s)) for s in told["shapes"])


def _braces(text):
    return [part.split("}")[0].split(":")[0] for part in text.split("{")[1:]]


def test_a_shape_has_the_look_of_its_kind_and_its_own(monkeypatch):
    shapes = [{"box": [0, 0, 1, 1]}, {"box": [1, 1, 1, 1], "ec": "rust"}, {"text": "{h:height} high", "at": [1, 1]}]
    told = {"height": 2.0, "x": [0, 3], "y": [0, 3], "look": {"box": {"lw": 3.0}}, "shapes": shapes}
    monkeypatch.setattr(sketch, "sketches", lambda: {"it": told})
    axes = sketch.sketch("it", "SI", h=Q_(10.0, "ft")).axes[0]
    assert [p.get_linewidth() for p in axes.patches] == [3.0, 3.0]
    assert axes.patches[1].get_edgecolor() == to_rgba(RUST) != axes.patches[0].get_edgecolor()
    assert [t.get_text() for t in axes.texts] == ["3.05 m high"]
