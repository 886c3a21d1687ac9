"""Reports of the demo jobs as `report.write` leaves them, each written once in a run, and a page read tag by tag."""

import json
import re
import tempfile
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from sample_studies import JOBS, once, studied

from ventcalc.show import pictures, report

WRITTEN = [*((name, "US") for name in JOBS), ("swim_hall", "SI")]

VOID = {"meta", "img", "br", "hr", "link", "input", "col"}


class Page(HTMLParser):
    """A page read tag by tag: what is open, attributes, words."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.tags, self.words, self.faults = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append((tag, self.getpos()))

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@cache
def files(name: str, system: str = "US") -> dict[str, str]:
    """The texts of the files in the folder of a report, by their names."""

    def work():
        with tempfile.TemporaryDirectory() as folder:
            report.write(studied(name), Path(folder) / "out", system)
            written = (file for file in (Path(folder) / "out").iterdir() if file.suffix in (".html", ".json", ".csv"))
            return {file.name: file.read_text(encoding="utf-8") for file in written}

    return once(f"report {name} {system}", work)


@cache
def drawn(name: str, system: str = "US") -> dict[str, pictures.Picture]:
    """The pictures in the report of a demo job."""
    return once(f"pictures {name} {system}", lambda: pictures.figures(studied(name), system))


def html(name: str, system: str = "US") -> str:
    """report.html of a demo job."""
    return files(name, system)["report.html"]


def kept(name: str, system: str = "US") -> dict[str, Any]:
    """results.json of a demo job, as it is read."""
    return json.loads(files(name, system)["results.json"])


def text(name: str, system: str = "US") -> str:
    """The words of its page."""
    return Page(html(name, system)).text


def one_line(sentence: str) -> str:
    """A sentence as a page shows it, whatever its white space."""
    return re.sub(r"\s+", " ", sentence)
