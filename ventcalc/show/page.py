"""Page: the report as one HTML page, filled by templates from its results and pictures.

``templates/report/report.html`` names the chapters in their order; each is a template of its own and holds the words
that the page alone says. ``templates/submittal`` holds the papers handed over, to be named in it;
``templates/record`` is that of `record_page`, ``templates/survey`` those of a survey, ``templates/class`` those of
what a class and its trainer get.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from ventcalc.job.performance_test import KINDS, QUANTITIES
from ventcalc.show.pictures import Picture
from ventcalc.show.status import LEGEND, marked
from ventcalc.units import shown_unit, unit_text
from ventcalc.words import spans, together

# Of more appliances than FEW, only the LONGEST worst are told of at length.
FEW, LONGEST = 6, 3

TEMPLATES = Environment(
    loader=FileSystemLoader(
        [Path(__file__).parent / "templates" / part for part in ("report", "submittal", "record", "survey", "class")]
    ),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def html(found: Mapping[str, Any], pictures: Mapping[str, Picture], paper: str = "") -> str:
    """The HTML page of `results.results` and `pictures.figures`; ``paper`` fixes the size for printing (A4, letter)."""
    return TEMPLATES.get_template("report.html").render(r=found, pictures=pictures, paper=paper, legend=LEGEND)


def worst(records: Iterable[Mapping[str, Any]], key: str) -> Mapping[str, Any]:
    """The record whose number of that name is the greatest, the first of equals; one that is none counts as nought."""
    return max(records, key=lambda record: record[key]["value"] or 0.0)


def worst_start(starts: Iterable[Mapping[str, Any]]) -> Mapping[str, Any]:
    """The start in which some outlet goes farthest beyond its window."""
    return max(starts, key=lambda start: worst(start["outlets"], "beyond")["beyond"]["value"] or 0.0)


def alike(records: Iterable[Mapping[str, Any]], *keys: str) -> list[list[Mapping[str, Any]]]:
    """Records that show the same under all these keys, together; in the order in which each first comes."""
    groups: dict[str, list[Mapping[str, Any]]] = {}
    for record in records:
        groups.setdefault(repr([_shown(record[key]) for key in keys]), []).append(record)
    return list(groups.values())


def _shown(value: Any) -> Any:
    return value.get("shown", value) if isinstance(value, Mapping) else value


def counted_on(records: Iterable[Mapping[str, Any]], name: str, *keys: str) -> Iterator[dict[str, Any]]:
    """Records, but four or more whose names only count on and that show the same under these keys are one."""
    for called, told in together((record[name], {key: record[key] for key in keys}) for record in records):
        yield told | {name: called}


def worst_of_many(records: Sequence[Mapping[str, Any]], least: str = "", most: Sequence[str] = ()) -> list[int]:
    """Which of many records, by their places, to tell of at length: all of few, else those `LONGEST` with the ``least``
    number of one name, or with the greatest of the names ``most``, the first that differs deciding."""
    if len(records) <= FEW:
        return list(range(len(records)))

    def rank(place: int) -> list[float]:
        record = records[place]
        signed = [(1.0, least)] if least else [(-1.0, key) for key in most]
        return [sign * (record[key]["value"] or 0.0) for sign, key in signed]

    return sorted(sorted(range(len(records)), key=rank)[:LONGEST])


def ends(records: Sequence[Mapping[str, Any]], key: str) -> str:
    """What records that say the same are called; numbered ones that follow each other by the first and the last."""
    return ", ".join(spans(str(record[key]) for record in records))


def grid(readings: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Readings as a table: ``conditions`` are its columns, ``rows`` its places and quantities, ``cells`` what is read.

    Rows are sorted by quantity, and within one as in the condition that asks for most.
    """
    counts = Counter(r["condition"] for r in readings)
    fullest_first = sorted(readings, key=lambda r: -counts[r["condition"]])
    rows = dict.fromkeys((r["place"], r["quantity"]) for r in fullest_first)
    return {
        "conditions": list(counts),
        "rows": sorted(rows, key=lambda row: QUANTITIES.index(row[1])),
        "cells": {(r["place"], r["quantity"], r["condition"]): r for r in readings},
    }


def reading_unit(quantity: str, system: str) -> str:
    """What a quantity of a site record is written in."""
    return unit_text(shown_unit(KINDS[quantity], system))


def cite(what: str, sources: Sequence[str]) -> str:
    """The number under which the list of sources has what something rests on, in brackets; "" where it has none."""
    found = (k for k, source in enumerate(sources, 1) if source.startswith((f"{what}:", f"{what},")))
    number = next(found, None)
    return "" if number is None else f"[{number}]"


def in_css(text: str) -> str:
    """Text between quotes of a style sheet: all but letters, digits and spaces by their numbers."""
    return "".join(c if c.isalnum() or c == " " else f"\\{ord(c):x} " for c in text)


TEMPLATES.filters |= {
    "cite": cite,
    "in_css": in_css,
    "counted_on": counted_on,
    "worst_of_many": worst_of_many,
    "grid": grid,
    "reading_unit": reading_unit,
    "worst": worst,
    "worst_start": worst_start,
    "marked": marked,
    "alike": alike,
    "ends": ends,
}
