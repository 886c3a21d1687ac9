"""What binds a number of a chapter's sentences.

An output that prints it, what the chapter is given, its partner in the other units, or a row of prose_numbers.csv,
whose expression the library works out.
"""

import csv
import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from inspect import getsource
from pkgutil import iter_modules
from types import ModuleType
from typing import NamedTuple

from sample_sentences import CHAPTERS, ROOT, Number, chapter, given, measures, numbers, plain

from ventcalc import tables, units
from ventcalc.handbook import evidence
from ventcalc.units import Q_, Quantity

TABLE = ROOT / "tests" / "handbook" / "prose_numbers.csv"
PARTS = ("gas", "flow", "vent", "draft", "building", "job", "handbook")
_DEGREES = ("degF", "degC", "K")
_REACH = 90  # characters from a number to its partner in brackets


class Row(NamedTuple):
    """A number that no output prints: chapter ("*": any), number, a word near it, what works it out or its source."""

    chapter: str
    number: str
    near: str
    works_out: str
    source: str
    status: str

    def fits(self, name: str, number: Number) -> bool:
        """Whether it is the row of a number of a chapter."""
        return self.chapter in ("*", name[:2]) and self.number == number.written and self.near in number.sentence


@cache
def rows() -> tuple[Row, ...]:
    """The rows of the table."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return tuple(Row(**row) for row in csv.DictReader(line for line in file if not line.startswith("#")))


@cache
def _kind(unit: str) -> str:
    """What two numbers must have alike to be of one kind."""
    if unit in ("times", "diameters", ""):
        return unit
    return "temperature" if unit in _DEGREES else "%" if unit == "%" else str(Q_(1.0, unit).dimensionality)


def _in(value: float, have: str, want: str) -> Iterator[float]:
    """A value in another unit of its kind; a difference of temperatures is told in K."""
    yield Q_(value, have).m_as(want)
    if {have, want} <= set(_DEGREES) and have != want and "K" in (have, want):
        yield Q_(value, "K" if have == "K" else f"delta_{have}").m_as("K" if want == "K" else f"delta_{want}")


def alike(number: Number, value: float, unit: str) -> bool:
    """Whether a value with its unit rounds to what is written."""
    return _kind(unit) == _kind(number.unit) and (
        number.is_(value) if unit == number.unit else any(number.is_(v) for v in _in(value, unit, number.unit))
    )


def partners(found: list[Number], text: str) -> dict[int, int]:
    """Which number in brackets says what which number before it says, in the other system's units."""
    pairs = {}
    for match in re.finditer(r"\(([^()]*)\)|\bor\b([^,;:.]*)", text):
        inside = [n for n, f in enumerate(found) if match.start() <= f.at < match.end() and f.unit]
        before = [n for n, f in enumerate(found) if 0 < match.start() - f.at < _REACH and f.unit]
        ahead = before[-len(inside) :]
        if "for each" in match[0] or not inside or len(ahead) < len(inside):
            continue
        both = list(zip(inside, ahead, strict=True))
        if all(_kind(found[a].unit) == _kind(found[b].unit) and found[a].unit != found[b].unit for a, b in both):
            pairs |= dict(both)
    return pairs


@cache
def outputs(name: str) -> tuple[Number, ...]:
    """Every number that a chapter's outputs print."""
    return tuple(n for text in chapter(name).outputs for n in numbers(text))


@cache
def inputs(name: str) -> tuple[tuple[float, str], ...]:
    """Every quantity that a chapter's code, its module and its texts give."""
    code = chapter(name).code
    texts = [code]
    for module in re.findall(r"from ventcalc\.handbook import (\w+)", code):
        for path in (ROOT / "ventcalc" / "handbook" / f"{module}.py", ROOT / "data" / "handbook" / f"{module}.toml"):
            if module not in ("evidence", "calculation_sheet") and path.exists():
                texts.append(path.read_text(encoding="utf-8"))
    return tuple((q.m, spelled(q)) for text in texts for q in given(text))


def spelled(quantity: Quantity) -> str:
    """The unit of a quantity, as the reader of sentences spells it."""
    unit = f"{quantity.units:~C}"
    return {"°F": "degF", "°C": "degC", "Δ°F": "degF", "Δ°C": "degC", "percent": "%"}.get(unit, unit)


def printed(name: str, number: Number) -> bool:
    """Whether an output prints it: with its unit, or as written if it has none and is too long for a coincidence."""
    if number.unit:
        return _kind(number.unit) not in ("times", "diameters") and any(
            o.unit and alike(number, o.value, o.unit) for o in outputs(name)
        )
    return _long(number) and any(o.text == number.text for o in outputs(name))


def is_given(name: str, number: Number) -> bool:
    """Whether the chapter's code gives it, with its unit."""
    if number.unit:
        return number.unit != "%" and any(alike(number, value, unit) for value, unit in inputs(name))
    digits = re.escape(number.text.replace(",", ""))
    return _long(number) and re.search(rf"(?<![\d.]){digits}0*(?![\d.])", chapter(name).code) is not None


def _long(number: Number) -> bool:
    return len(re.sub(r"\D", "", number.text).strip("0")) >= 3


class Bound(NamedTuple):
    """A number and what binds it: "row", "partner", "printed", "given", or nothing; and the row if it is one."""

    number: Number
    how: str
    row: Row | None = None


def bindings(name: str, cell: str) -> list[Bound]:
    """Every number of a markdown cell that says how much, and what binds it."""
    text = plain(cell)
    found = numbers(text)
    pairs = partners(found, text)
    return [_bound(name, n, found[pairs[i]] if i in pairs else None) for i, n in enumerate(found) if measures(n)]


def _bound(name: str, number: Number, partner: Number | None) -> Bound:
    if partner and alike(number, partner.value, partner.unit):
        return Bound(number, "partner")
    row = next((r for r in rows() if r.fits(name, number)), None)
    if row:
        return Bound(number, "row", row)
    if partner:
        return Bound(number, "")
    if not re.search(r"\d", number.text):
        return Bound(number, "")  # a word is too near to others to be found by chance
    return Bound(number, "printed" if printed(name, number) else "given" if is_given(name, number) else "")


class _Names(dict):
    """Names of an expression: what a chapter prints, quantities, and every module of the library by its own name."""

    def __missing__(self, name: str):
        for part in PARTS:
            if any(m.name == name for m in iter_modules(import_module(f"ventcalc.{part}").__path__)):
                return import_module(f"ventcalc.{part}.{name}")
        raise KeyError(name)


def worked_out(row: Row, name: str, number: Number) -> float:
    """What a row's expression gives, in the unit of the number."""
    return value_of(row.works_out, name, number)


def book(name: str):
    """A chapter's module."""
    return import_module(f"ventcalc.handbook.{name}")


def value_of(expression: str, name: str, number: Number, **others) -> float:
    """What an expression gives in the unit of a number; chapter ``name`` prints, ``others`` are names of its own."""

    def whole(start: str) -> str:
        return next(c for c in CHAPTERS if c.startswith(start or name) and not c.startswith("00_contents"))

    def cell(label: str, column: int = 1, of: int = 0, where: str = "") -> float:
        """The first number in a column of the of-th row that begins with a label ("tee | purge": of two cells)."""
        hits = [r for r in chapter(whole(where)).rows if " | ".join(r).startswith(label)]
        return _first(hits[of][column])

    def said(before: str, of: int = 0, where: str = "") -> float:
        """The first number that the outputs print after some words."""
        text = "\n".join(chapter(whole(where)).outputs)
        places = [m.end() for m in re.finditer(re.escape(before), text)]
        return _first(text[places[of] :])

    def coded(before: str, of: int = 0, module: ModuleType | None = None) -> float:
        """The first number that the chapter's code, or a module's, gives after some words."""
        code = getsource(module) if module else chapter(name).code
        return _first(code[[m.end() for m in re.finditer(re.escape(before), code)][of] :])

    def published(subject: str, check: str) -> float:
        """What a row of a chapter's evidence has, as published."""
        return float(next(c.published for c in evidence.checks_of(subject) if c.id == check))

    names = _Names(
        published=published,
        cell=cell,
        said=said,
        coded=coded,
        Q_=Q_,
        tables=tables,
        units=units,
        checks=evidence.checks_of,
        np=__import__("numpy"),
        book=book,
        **others,
    )
    return _plain(eval(expression, names), number.unit)


def _plain(value: Quantity | float, want: str) -> float:
    """A value as a bare number of a unit as sentences have it."""
    if not isinstance(value, Quantity):
        return float(value)
    if value.dimensionless:
        return value.m_as({"%": "percent", "degree": "degree", "ppm": "ppm"}.get(want, ""))
    if want in ("degF", "degC") and "delta" in str(value.units):
        want = f"delta_{want}"
    return float(value.m_as(want))


def _first(text: str) -> float:
    return float(re.search(r"[-−+]?\d[\d,]*(?:\.\d+)?", text)[0].replace(",", "").replace("−", "-"))
