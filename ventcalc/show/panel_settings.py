"""Panel settings: a live panel at chosen settings of its controls, as pictures for slides and paper.

The panel is the one of the chapter: its controls are set and it answers as it would to a hand. Nothing is solved twice:
all controls move before it answers.
"""

import re
import struct
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from html.parser import HTMLParser
from typing import Any

import ipywidgets as widgets
from pint import DimensionalityError

from ventcalc.show import chapter_texts
from ventcalc.show.lesson import Lesson, Setting
from ventcalc.show.panels import Panel, said
from ventcalc.units import Quantity, UnitsError, parse

HEADING = "What moves what"
_UNDER, _BESIDE = (1160, 450), (790, 548)  # px, width and height that a slide has for the picture, by its caption
_DRAWN = 1060  # px across, of a drawing without a size of its own


@dataclass(frozen=True)
class Shown:
    """A panel at one setting: controls that are ``set``, what it ``shows``, the ``figure`` read off, the ``image``, and
    its ``size``, width and height."""

    set: str
    shows: str
    figure: str
    image: str
    size: tuple[float, float]


def shown(panel: Panel, lesson: Lesson) -> tuple[Shown, ...]:
    """A panel at the settings of a lesson. ValueError for a control, a value or a figure that it does not have."""
    return tuple(_shown(panel, setting, lesson.read) for setting in lesson.settings)


def _shown(panel: Panel, setting: Setting, read: tuple[str, str]) -> Shown:
    values, told = dict(panel.values), []
    for name, wanted in setting.set.items():
        if name not in panel.controls:
            raise ValueError(f"no control {name!r}; choose {', '.join(panel.controls)}")
        label, values[name] = option(panel.controls[name], wanted)
        told.append(f"{panel.controls[name].description}: {label}")
    numbers, picture, *drawn = said(panel.answer, values)
    svg = drawn[0].svg if drawn else ""
    return Shown(" · ".join(told), setting.shows, figure(numbers, *read), *_image(svg, picture))


def option(control: widgets.Widget, wanted: Any) -> tuple[str, Any]:
    """Label and value of what a control offers: by its label, or the nearest to a quantity or number."""
    offered = [o if isinstance(o, tuple) else (str(o), o) for o in control.options]
    named = [pair for pair in offered if pair[0] == str(wanted)]
    if named:
        return named[0]
    asked = chapter_texts.plain(wanted)
    away = [_away(*pair, asked) for pair in offered]
    if None in away:
        raise ValueError(f"{control.description}: {wanted!r}; choose {', '.join(label for label, _ in offered)}")
    return offered[away.index(min(away))]


def _away(label: str, value: Any, asked: Any) -> float | None:
    """How far what a control offers is from what is asked; by its label where that tells a unit, as a slider's may."""
    if isinstance(asked, Quantity):
        try:
            return abs(float((parse(label) - asked).to_base_units().m))
        except (UnitsError, DimensionalityError):  # the unit stands in the control's name: its value is in SI
            asked = float(asked.to_base_units().m)
    plain = isinstance(value, (int, float)) and isinstance(asked, (int, float))
    return abs(value - asked) if plain else None


def figure(numbers: str, row: str, column: str = "") -> str:
    """A cell of the tables that a panel shows: in the first row whose name begins so and that has the column.

    ValueError where there is none.
    """
    for table in _tables(numbers):
        head, *body = table
        for cells in body:
            at = 1 if not column else head.index(column) if column in head else len(cells)
            if cells[0].startswith(row) and at < len(cells):
                return cells[at]
    raise ValueError(f"no figure {row!r}, {column!r} in {re.sub('<[^>]*>', ' ', numbers)[:200]}")


class _Cells(HTMLParser):
    """Texts of the cells of all tables of a page."""

    def __init__(self):
        super().__init__()
        self.tables: list[list[list[str]]] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")
            self.inside = True

    def handle_endtag(self, tag: str) -> None:
        self.inside = self.inside and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.tables[-1][-1][-1] += data


def _tables(html: str) -> list[list[list[str]]]:
    parser = _Cells()
    parser.feed(html)
    return [table for table in parser.tables if table]


def _image(svg: str, png: bytes) -> tuple[str, tuple[float, float]]:
    """The drawing where the panel has one, else its picture; as the source of an image, and its size."""
    if not svg:
        return f"data:image/png;base64,{b64encode(png).decode()}", struct.unpack(">II", png[16:24])
    # An image has the size that its file names, and the panel's takes that of the page.
    width, height = (float(n) for n in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())
    sized = svg.replace("<svg ", f'<svg width="{_DRAWN}" height="{_DRAWN * height / width:.0f}" ', 1)
    return f"data:image/svg+xml;base64,{b64encode(sized.encode()).decode()}", (width, height)


def html(panel: Panel, lesson: Lesson) -> str:
    """A slide for each setting, and one that holds the figures side by side."""
    found = shown(panel, lesson)
    return "\n".join([*_slides(found, _read(lesson)), _compared(found, _read(lesson))])


def _read(lesson: Lesson) -> str:
    return ", ".join(name for name in lesson.read if name)


def _slides(found: tuple[Shown, ...], read: str) -> Iterator[str]:
    for number, one in enumerate(found, 1):
        yield f"<h2>{HEADING} <small>{number} of {len(found)}</small></h2>"
        told = f"<small>{escape(one.set)}</small> · {escape(read)}: <b>{escape(one.figure)}</b>"
        under, beside = (_fitted(one.size, room) for room in (_UNDER, _BESIDE))
        high = max(under, beside)
        caption = f'<p style="font-size: 22px">{escape(one.shows)}<br>{told}</p>'
        image = f'<img src="{one.image}" alt="{escape(one.set)}" style="height: {high:.0f}px; object-fit: contain">'
        # Its lettering is the larger the larger it is: a tall picture has its caption beside it.
        side = "display: grid; grid-template-columns: 1fr auto; gap: 24px"
        yield f'<div style="{side}">{caption}{image}</div>' if beside > under else f"{caption}\n{image}"


def _fitted(size: tuple[float, float], room: tuple[float, float]) -> float:
    """Height of a picture that is as large as its room lets it be."""
    return size[1] * min(room[0] / size[0], room[1] / size[1])


def _compared(found: tuple[Shown, ...], read: str) -> str:
    rows = "".join(f"<tr><td>{escape(one.set)}</td><td><b>{escape(one.figure)}</b></td></tr>" for one in found)
    head = f"<thead><tr><th>set</th><th>{escape(read)}</th></tr></thead>"
    return f"<h2>{HEADING}: side by side</h2>\n<table>{head}<tbody>{rows}</tbody></table>"
