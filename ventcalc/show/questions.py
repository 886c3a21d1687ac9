"""Questions: the exercises of a chapter, read from its file of texts and filled with figures.

``data/handbook/<chapter>.toml`` has a table ``[[question]]`` for each, to be changed or translated without touching
code:

- ``name``: the function of the chapter's module that works it, from what is given (and, where a slip depends on it, the
  ``system``) to its ``answer``, the answers that slips lead to, and other figures that its texts tell;
- ``given``: by name a quantity ("0.25 inH2O"), a number or a word; or what may be asked instead where a seed draws the
  figures of a class: ``{is = "0.25 inH2O", from = "0.15 inH2O", to = "0.40 inH2O", steps = 25}`` or
  ``{is = "propane", among = ["natural gas", "propane"]}``;
- ``prompt``, ``hints``, ``solution``: texts; figures stand in braces, as `words.fill` shows them;
- ``tolerance``: how near is near enough, a quantity; or ``share``, of the answer;
- ``example``: the form of an answer, not a right one;
- ``unit``: the one in which the prompt asks for a number ("How many seconds"), which may then go without;
- ``slips``: by the name of its figure, what to say to whoever makes it;
- ``words``: by name, words that several of its texts use.

Any value may be told in two ways, ``{US = ..., SI = ...}``.
"""

import zlib
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from ventcalc.show import chapter_texts
from ventcalc.show.chapter_texts import Work, told
from ventcalc.show.exercises import Exercise, Slip, mark
from ventcalc.units import Q_, Quantity, parse

REQUIRED = ("name", "prompt", "hints", "solution", "example")
OPTIONAL = ("given", "tolerance", "share", "slips", "words", "unit")

MOST_DRAWS = 50  # of one question, until its example is not the answer


def load(chapter: str, works: Iterable[Work], system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """The questions of a chapter in the order of its file, each worked by the function of ``works`` of its name.

    ``seed`` draws other figures, the same for everyone who gives it. Raises ValueError, naming file and question, where
    a key is unknown or lacking, a text tells a figure that is not there, or a question has no function.
    """
    by_name = {work.__name__: work for work in works}
    asked = chapter_texts.read(chapter)["question"]
    _refuse(chapter, "questions", {q.get("name", "without a name") for q in asked}, set(by_name))
    return tuple(_question(chapter, q, by_name[q["name"]], system, seed) for q in asked)


def _refuse(where: str, what: str, told: set[str], known: set[str]) -> None:
    if told != known:
        odd = sorted(told ^ known)
        raise ValueError(f"{where}: {what} {', '.join(odd)} stand in the file or in the code, not in both")


def _question(chapter: str, row: Mapping[str, Any], work: Work, system: str, seed: int | None) -> Exercise:
    where = f"{chapter}.toml, {row['name']}"
    chapter_texts.refuse_keys(where, row, set(REQUIRED), set(OPTIONAL))
    if ("tolerance" in row) == ("share" in row):
        raise ValueError(f"{where}: it needs tolerance or share, not both")
    for attempt in range(MOST_DRAWS):
        try:
            found = _filled(row, work, system, _draw(where, seed, attempt))
        except KeyError as missing:
            raise ValueError(f"{where}: no figure of the name {missing}") from missing
        if seed is None or mark(found, found.example).kind == "wrong":
            return found
    raise ValueError(f"{where}: the example {found.example!r} gives the answer away in {MOST_DRAWS} draws")


def _draw(where: str, seed: int | None, attempt: int) -> np.random.Generator | None:
    """Draws of one question: its own for each name, the same on every machine."""
    return None if seed is None else np.random.default_rng([seed, zlib.crc32(where.encode()), attempt])


def _filled(row: Mapping[str, Any], work: Work, system: str, draw: np.random.Generator | None) -> Exercise:
    figures = chapter_texts.worked(work, chapter_texts.given(row.get("given", {}), system, draw), system)

    def text(value) -> str:
        return chapter_texts.text(value, figures, system)

    figures |= {name: text(value) for name, value in row.get("words", {}).items()}
    answer = figures["answer"]
    near = _quantity(told(row["tolerance"], system)) if "tolerance" in row else float(row["share"]) * abs(answer)
    slips = ((figures[name], text(reason)) for name, reason in row.get("slips", {}).items())
    return Exercise(
        question=text(row["prompt"]),
        expected=answer,
        tolerance=near,
        hints=tuple(text(hint) for hint in told(row["hints"], system)),
        solution=text(row["solution"]),
        # Drawn figures may bring a slip so near the answer that it is right.
        slips=tuple(Slip(wrong, reason) for wrong, reason in slips if draw is None or abs(wrong - answer) > 2.0 * near),
        example=text(row["example"]),
        unit=told(row.get("unit", ""), system),
    )


def _quantity(value: Any) -> Quantity:
    return Q_(float(value), "") if isinstance(value, (int, float)) else parse(value)
