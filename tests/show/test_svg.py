"""SVG: words fit where they are measured to fit, shapes lie where they are put, nothing breaks the text."""

from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from PIL import ImageFont

from ventcalc.show import svg

FONTS = Path(matplotlib.get_data_path(), "fonts", "ttf")
WORDS = ["Boiler 1, high: -0.247 in. w.c.", "FLUE GAS INTO THE ROOM", "12: 1,234 °F", "connector 1 — ½"]


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("words", WORDS)
def test_words_take_what_another_library_measures(words, bold):
    font = ImageFont.truetype(str(FONTS / f"DejaVuSans{'-Bold' if bold else ''}.ttf"), 260)
    # Pairs of letters that are set closer than their own widths make words a little narrower than the sum.
    assert svg.text_width(words, 13.0, bold) == pytest.approx(font.getlength(words) / 20.0, rel=0.01)


def drawn(put):
    sheet = svg.Sheet(200.0, 12.0)
    put(sheet)
    return ElementTree.fromstring(sheet.drawing(100.0, "a <title>", "words & more").svg)


def test_a_drawing_tells_its_title_and_its_words_and_keeps_its_shape():
    root = drawn(lambda sheet: None)
    assert [child.text for child in root] == ["a <title>", "words & more"]
    assert root.get("viewBox") == "0 0 200 100" and root.get("role") == "img"


def test_words_are_escaped_and_stand_where_they_are_put():
    text = drawn(lambda sheet: sheet.words((10.0, 50.0), "p < 0 & p > 1", "black", "middle", True))[-1]
    assert text.text == "p < 0 & p > 1" and text.get("text-anchor") == "middle" and text.get("font-weight") == "bold"
    assert (
        float(text.get("x")) == 10.0 and 50.0 < float(text.get("y")) < 56.0
    )  # the line under letters whose middle is 50


def test_shapes_lie_where_they_are_put():
    root = drawn(lambda sheet: (sheet.line([(0, 1), (2.04, 3)], "black"), sheet.box((1, 2), (4, 8), "white"),
                                sheet.strokes(np.array([[(0, 0), (1, 1)], [(2, 2), (3, 3)]]), "black")))  # fmt: skip
    line, box, strokes = root[-3:]
    assert line.get("points") == "0.0,1.0 2.0,3.0"
    assert [float(box.get(k)) for k in ("x", "y", "width", "height")] == [1.0, 2.0, 3.0, 6.0]
    assert strokes.get("d") == "M0.0 0.0L1.0 1.0M2.0 2.0L3.0 3.0"
