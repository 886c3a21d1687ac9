"""The chapters by name, and what a reader must find of each in a hand-out."""

import re
from html import unescape

import nbformat

from ventcalc.show import handout

CHAPTERS = handout.chapters()
EVIDENCE = {"Evidence", "Checked against"}  # headings of what a class does not see


def texts_of(chapter: str, taught: bool = False) -> list[str]:
    """Words of the outputs and of the headings of a chapter; ``taught``: those that a class sees, which has neither
    the tables of evidence nor the live panel as it stood."""
    found = []
    evidence, panel = False, taught and not chapter.startswith("00")
    for cell in nbformat.read(handout.find(chapter), as_version=4).cells:
        for heading in handout.headings(cell.source) if cell.cell_type == "markdown" else ():
            evidence = heading in EVIDENCE
        if taught and evidence:
            continue
        if panel and any(o.get("data", {}).get("text/plain") == "live controls" for o in cell.get("outputs", ())):
            panel = False
            continue
        if cell.cell_type == "markdown":
            found += re.findall(r"(?m)^#+ ([\w ,.:·'-]+)$", cell.source)
        for output in cell.get("outputs", ()):
            if output.get("name") == "stdout":
                found += output.text.splitlines()
            html = output.get("data", {}).get("text/html", "")
            found += [unescape(t) for t in re.findall(r">([^<>]+)</td>", html)]
    return [t.strip() for t in found if t.strip() and not (taught and t in EVIDENCE)]
