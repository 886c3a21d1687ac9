"""Where a chapter's formulas and pictures are: what each is, and the text that tells of it."""

import re
from typing import NamedTuple

from sample_formulas import displays, symbol
from sample_sentences import chapter

_DISPLAY = re.compile(r"\$\$.*?\$\$", re.S)
_LEAD = 400  # characters ahead of a formula


class Place(NamedTuple):
    """A "formula" or "picture", what it ``is_`` (left side; the function that draws it), and the text beside it."""

    kind: str
    is_: str
    text: str


def places(cells: list) -> list[Place]:
    """Every display formula and every picture of a notebook's cells, in order."""
    found = []
    for at, cell in enumerate(cells):
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            found += _formulas(source)
        elif any(_drawn(output.get("data", {})) for output in cell.get("outputs", ())):
            found.append(Place("picture", drawn_by(source), _beside(cells, at)))
    return found


def _drawn(data: dict) -> bool:
    """Whether an output is a picture, be it folded away."""
    html = "".join(data.get("text/html", ""))
    return "image/png" in data or (html.startswith("<details>") and "data:image/png" in html)


def _formulas(source: str) -> list[Place]:
    found = []
    for match, latex in zip(_DISPLAY.finditer(source), displays(source), strict=True):
        lead = _DISPLAY.split(source[: match.start()])[-1][-_LEAD:]
        found.append(Place("formula", symbol(re.split(r"=|\\l?ge|\\l?le|<", latex)[0]), lead))
    return found


def drawn_by(source: str) -> str:
    """What a cell calls to have it drawn: ``in_units(chapter.wet_gas)`` is ``wet_gas``."""
    inside = re.findall(r"plots\.png\((?:\w+\.)?(\w+)", source)
    called = [name for name in re.findall(r"\bchapter\.(\w+)", source) if name.islower()]
    defined = re.findall(r"@in_units\ndef (\w+)", source)
    return " ".join(dict.fromkeys(inside or called or defined)) or re.findall(r"[A-Za-z_]\w+", source)[-1]


def _beside(cells: list, at: int) -> str:
    """The markdown ahead of a code cell and behind it."""
    texts = []
    for step in (-1, 1):
        n = at + step
        while 0 <= n < len(cells) and cells[n]["cell_type"] == "code":
            n += step
        texts.append("".join(cells[n]["source"]) if 0 <= n < len(cells) else "")
    return "\n".join(texts)


def places_of(name: str) -> list[Place]:
    """Those of a saved chapter."""
    return places(list(chapter(name).cells))
