"""Each formula and picture of a chapter is beside the text that tells of it, and a saved picture is its own cell's."""

import base64
import csv
import inspect
import io
import re
from collections.abc import Iterator
from importlib import import_module
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image
from sample_places import places, places_of
from sample_sentences import CHAPTERS, chapter

from ventcalc.show.plots import png

TABLE = Path(__file__).with_name("prose_places.csv")
# Of 255, on the average over a picture made small: other pictures are 9 and more apart, one drawn anew less than 0.1.
ALIKE = 3.0
QUICK = ("01", "02", "03", "04", "05", "06", "07", "12")  # their pictures are drawn in a second or two
_SMALL = (96, 64)


def _listed(name: str) -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return [
            r for r in csv.DictReader(line for line in file if not line.startswith("#")) if r["chapter"] == name[:2]
        ]


def _out_of_place(listed: list[dict[str, str]], found: list) -> list[str]:
    """What is not where the table has it; by kind, in order."""
    wrong = []
    for kind in ("formula", "picture"):
        rows, there = ([r for r in listed if r["kind"] == kind], [p for p in found if p.kind == kind])
        if len(rows) != len(there):
            wrong.append(f"{len(there)} times {kind}, in the table {len(rows)} times")
        wrong += [
            f"{kind} {place.is_!r}: the table has {row['is']!r} beside {row['near']!r}"
            for row, place in zip(rows, there, strict=False)
            if place.is_ != row["is"] or row["near"] not in place.text
        ]
    return wrong


# Chapter 00's pages have none, or the same in every card.
@pytest.mark.parametrize("name", [c for c in CHAPTERS if c[:2] != "00"])
def test_formulas_and_pictures_are_beside_their_text(name):
    assert not _out_of_place(_listed(name), places_of(name))


@pytest.mark.parametrize("name", ["06_stack_effect", "10_junctions", "27_study"])
def test_two_that_change_places_are_noticed(name):
    # Two formulas, then two pictures with their cells: whichever two of a chapter they are.
    cells = list(chapter(name).cells)
    text = next(("".join(c["source"]) for c in cells if "$$" in "".join(c["source"])), "")
    shown = [n for n, c in enumerate(cells) if any("image/png" in o.get("data", {}) for o in c.get("outputs", ()))]
    for one, two in pairwise(shown):
        swapped = [cells[{one: two, two: one}.get(n, n)] for n in range(len(cells))]
        assert _out_of_place(_listed(name), places(swapped)), (name, one, two)
    formulas = re.findall(r"\$\$.*?\$\$", text, re.S)
    for one, two in pairwise(formulas):
        turned = text.replace(one, "@").replace(two, one).replace("@", two)
        swapped = [c | {"source": turned} if "".join(c["source"]) == text else c for c in cells]
        assert _out_of_place(_listed(name), places(swapped)), (name, one, two)


def _grey(picture: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(picture)).convert("L").resize(_SMALL), dtype=float)


def _drawn(name: str) -> Iterator[tuple[str, np.ndarray, list[np.ndarray]]]:
    """Each function that a cell shows a figure of, the figure drawn anew, and the saved pictures of that cell."""
    drawer = re.search(r"from ventcalc\.handbook import (\w+) as chapter", chapter(name).code)
    for cell in chapter(name).cells:
        data = [o.get("data", {}) for o in cell.get("outputs", ())]
        saved = [_grey(base64.b64decode(d["image/png"])) for d in data if "image/png" in d]
        for shown in re.findall(r"^in_units\((?:lambda system: )?chapter\.(\w+)\b", "".join(cell["source"]), re.M):
            function = getattr(import_module(f"ventcalc.handbook.{drawer[1]}"), shown)
            needed = [p.name for p in inspect.signature(function).parameters.values() if p.default is p.empty]
            if saved and set(needed) <= {"system"} and "system" in inspect.signature(function).parameters:
                made = function(system="US")
                for figure in made if isinstance(made, tuple) else (made,):
                    if isinstance(figure, Figure):
                        yield shown, _grey(png(figure)), saved


@pytest.mark.parametrize(
    "name",
    [pytest.param(c, marks=() if c[:2] in QUICK else pytest.mark.sweep) for c in CHAPTERS if c[:2] != "00"],
)
def test_a_saved_picture_is_what_its_cell_draws(name):
    seen = 0
    for shown, fresh, saved in _drawn(name):
        apart = min(float(np.abs(fresh - picture).mean()) for picture in saved)
        assert apart < ALIKE, (name, shown, apart)
        seen += 1
    assert seen or name[:2] not in QUICK
