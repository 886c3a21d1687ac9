"""Every number typed by hand in the handbook's texts (predictions, questions, answers, notes), and what binds it.

A figure that its own question is given, its partner in the other units, or a row of text_numbers.csv.
"""

import csv
import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from inspect import getsource
from typing import Any, NamedTuple

import numpy as np
from sample_bindings import alike, book, partners, spelled, value_of
from sample_sentences import CHAPTERS, ROOT, Number, measures, numbers, plain

from ventcalc.show import chapter_texts
from ventcalc.units import Quantity

FOLDER = ROOT / "data" / "handbook"
TABLE = ROOT / "tests" / "handbook" / "text_numbers.csv"
SEEDS = range(6)

# What is no sentence: a quantity that is given, a form, the setting of a control, a heading, a case that is worked.
_NO_TEXT = {"given", "cases", "set", "read", "unit", "tolerance", "share", "example", "arguments", "name", "broken"}
_NO_TEXT |= {"at", "begins", "ends", "ways", "boxes", "inputs", "checks", "menu", "imports", "steps", "line", "start"}
_PLACEHOLDER = re.compile(r"\{[^{}]*\}|<[^<>]*>")


class Text(NamedTuple):
    """A text: its file, the keys that lead to it, and what it says."""

    file: str
    key: str
    says: str


class Row(NamedTuple):
    """A number that no function fills in: where ("*": in any file; how its key begins), and what works it out."""

    file: str
    key: str
    number: str
    near: str
    works_out: str
    source: str
    status: str

    def fits(self, text: Text, number: Number) -> bool:
        """Whether it is the row of a number of a text."""
        return (
            self.file in ("*", text.file)
            and text.key.startswith(self.key)
            and self.number == number.written
            and self.near in number.sentence
        )


class Bound(NamedTuple):
    """A number of a text and what binds it: "row", "partner", "its own", or nothing."""

    number: Number
    how: str
    row: Row | None = None


@cache
def rows() -> tuple[Row, ...]:
    """The rows of the table."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return tuple(Row(**row) for row in csv.DictReader(line for line in file if not line.startswith("#")))


def _texts(value: Any, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield ".".join(path), value
    elif isinstance(value, list):
        for n, part in enumerate(value):
            name = str(part.get("name", part.get("at", n)) if isinstance(part, dict) else n)
            yield from _texts(part, (*path, name))
    elif isinstance(value, dict):
        for key, part in value.items():
            if key not in _NO_TEXT or (key == "line" and isinstance(part, list)):
                yield from _texts(part, (*path, key))


@cache
def texts() -> tuple[Text, ...]:
    """Every text of the handbook's files; a sketch's are in a drawing."""
    return tuple(
        Text(path.stem, key, said)
        for path in sorted(FOLDER.glob("*.toml"))
        if path.stem != "sketches"
        for key, said in _texts(tomllib.loads(path.read_text(encoding="utf-8")), ())
    )


def chapter_of(file: str) -> str:
    """The chapter whose texts a file has, or ""."""
    return next((c for c in CHAPTERS if c.split("_", 1)[1] == file), "")


@cache
def _rows_of(file: str) -> Mapping[str, Any]:
    asked = chapter_texts.read(file)
    found = {f"question.{q['name']}": q for q in asked.get("question", ()) if "name" in q}
    return found | ({"predict": asked["predict"]} if "predict" in asked else {})


def _work(file: str, block: str):
    module = book(file)
    if block != "predict":
        return getattr(module, block.partition(".")[2])
    return getattr(module, re.search(r'\bpredict\("\w+", (\w+)', getsource(module))[1])


def block_of(text: Text) -> str:
    """The prediction or the question that a text belongs to, or ""."""
    return next((b for b in _rows_of(text.file) if f"{text.key}.".startswith(f"{b}.")), "")


@cache
def figures(file: str, block: str, system: str = "US", seed: int | None = None) -> Mapping[str, Any]:
    """What is given to a prediction or a question, and what its function works out of it."""
    draw = None if seed is None else np.random.default_rng([seed, len(block)])
    given = chapter_texts.given(_rows_of(file)[block].get("given", {}), system, draw)
    return chapter_texts.worked(_work(file, block), given, system)


def setting(file: str, of: int, control: str) -> float:
    """The first number that a control of a chapter's panel is set to for the of-th picture of its lesson."""
    return float(re.search(r"-?\d[\d.]*", str(chapter_texts.read(file)["teach"]["setting"][of]["set"][control]))[0])


def drawn(file: str, block: str) -> bool:
    """Whether a seed may draw other figures for it."""
    return any(isinstance(v, dict) and "is" in v for v in _rows_of(file)[block].get("given", {}).values())


def _its_own(text: Text, number: Number) -> bool:
    """Whether it is a figure, with its unit, that its question is given for good or that is told beside it."""
    block = block_of(text)
    if not block or not number.unit or not re.search(r"\d", number.text):
        return False
    system = text.key.rpartition(".")[2] if text.key.endswith((".US", ".SI")) else "US"
    fixed = {k: v for k, v in _rows_of(text.file)[block].get("given", {}).items()
             if not (isinstance(v, dict) and "is" in v)}  # fmt: skip
    found = chapter_texts.given(fixed, system).values()
    return any(isinstance(v, Quantity) and np.ndim(v.m) == 0 and alike(number, float(v.m), spelled(v)) for v in found)


def bindings(text: Text) -> list[Bound]:
    """Every typed number of a text that says how much, and what binds it; one behind a stroke divides."""
    says = plain(re.sub(r"/(?=\d)", " ", _PLACEHOLDER.sub(lambda m: " " * len(m[0]), text.says)))
    found = numbers(says)
    pairs = partners(found, says)
    return [_bound(text, n, found[pairs[i]] if i in pairs else None) for i, n in enumerate(found) if measures(n)]


def _bound(text: Text, number: Number, partner: Number | None) -> Bound:
    if partner and alike(number, partner.value, partner.unit):
        return Bound(number, "partner")
    row = next((r for r in rows() if r.fits(text, number)), None)
    if row:
        return Bound(number, "row", row)
    return Bound(number, "its own" if _its_own(text, number) else "")


def worked_out(text: Text, row: Row, number: Number) -> Iterator[float]:
    """What a row's expression gives; where a seed may draw the figures of its question, with some draws as well."""
    block = block_of(text)
    again = SEEDS if block and "its" in row.works_out and drawn(text.file, block) else ()
    for seed in (None, *again):
        its = figures(text.file, block, "US", seed) if block and "its" in row.works_out else {}
        yield value_of(row.works_out, chapter_of(text.file), number, its=its, figures=figures, setting=setting)
