"""The chapters by name, and what a reader must find of each in a hand-out."""

import re
from html import unescape

import nbformat

from ventcalc.show import handout

CHAPTERS = handout.chapters()


def texts_of(chapter: str) -> list[str]:
    """Words of the outputs and of the headings of a chapter."""
    found = []
    for cell in nbformat.read(handout.find(chapter), as_version=4).cells:
        if cell.cell_type == "markdown":
            found += re.findall(r"(?m)^#+ ([\w ,.:·'-]+)$", cell.source)
        for output in cell.get("outputs", ()):
            if output.get("name") == "stdout":
                found += output.text.splitlines()
            html = output.get("data", {}).get("text/html", "")
            found += [unescape(t) for t in re.findall(r">([^<>]+)</td>", html)]
    return [t.strip() for t in found if t.strip()]
