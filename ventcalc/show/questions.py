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

import re
import tomllib
import zlib
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from inspect import signature
from typing import Any

import numpy as np

from ventcalc.show.exercises import Exercise, Slip, mark
from ventcalc.tables import DATA
from ventcalc.units import Q_, SYSTEMS, Quantity, parse
from ventcalc.words import fill

REQUIRED = ("name", "prompt", "hints", "solution", "example")
OPTIONAL = ("given", "tolerance", "share", "slips", "words", "unit")

MOST_DRAWS = 50  # of one question, until its example is not the answer

Work = Callable[..., Mapping[str, Any]]


@cache
def _file(chapter: str) -> tuple[Mapping[str, Any], ...]:
    with (DATA / "handbook" / f"{chapter}.toml").open("rb") as file:
        return tuple(tomllib.load(file)["question"])


def load(chapter: str, works: Iterable[Work], system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """The questions of a chapter in the order of its file, each worked by the function of ``works`` of its name.

    ``seed`` draws other figures, the same for everyone who gives it. Raises ValueError, naming file and question, where
    a key is unknown or lacking, a text tells a figure that is not there, or a question has no function.
    """
    by_name = {work.__name__: work for work in works}
    asked = _file(chapter)
    _refuse(chapter, "questions", {q.get("name", "without a name") for q in asked}, set(by_name))
    return tuple(_question(chapter, q, by_name[q["name"]], system, seed) for q in asked)


def _refuse(where: str, what: str, told: set[str], known: set[str]) -> None:
    if told != known:
        odd = sorted(told ^ known)
        raise ValueError(f"{where}: {what} {', '.join(odd)} stand in the file or in the code, not in both")


def _question(chapter: str, row: Mapping[str, Any], work: Work, system: str, seed: int | None) -> Exercise:
    where = f"{chapter}.toml, {row['name']}"
    unknown = set(row) - set(REQUIRED) - set(OPTIONAL)
    lacking = set(REQUIRED) - set(row)
    if unknown or lacking or ("tolerance" in row) == ("share" in row):
        raise ValueError(
            f"{where}: unknown {sorted(unknown)}, lacking {sorted(lacking)}; it needs tolerance or share, not both"
        )
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
    given = {name: _given(value, system, draw) for name, value in row.get("given", {}).items()}
    told = {"system": system} if "system" in signature(work).parameters else {}
    figures = {**given, **work(**given, **told)}

    def text(value) -> str:
        return fill(" ".join(_of(value, system).split()), figures, system)

    figures |= {name: text(value) for name, value in row.get("words", {}).items()}
    answer = figures["answer"]
    near = _quantity(_of(row["tolerance"], system)) if "tolerance" in row else float(row["share"]) * abs(answer)
    slips = ((figures[name], text(reason)) for name, reason in row.get("slips", {}).items())
    return Exercise(
        question=text(row["prompt"]),
        expected=answer,
        tolerance=near,
        hints=tuple(text(hint) for hint in _of(row["hints"], system)),
        solution=text(row["solution"]),
        # Drawn figures may bring a slip so near the answer that it is right.
        slips=tuple(Slip(wrong, reason) for wrong, reason in slips if draw is None or abs(wrong - answer) > 2.0 * near),
        example=text(row["example"]),
        unit=_of(row.get("unit", ""), system),
    )


def _of(value: Any, system: str) -> Any:
    """A value as one system tells it."""
    return value[system] if isinstance(value, Mapping) and set(value) == set(SYSTEMS) else value


def _given(value: Any, system: str, draw: np.random.Generator | None) -> Any:
    """What is given: as the book has it, or drawn from what may be asked instead."""
    value = _of(value, system)
    if not isinstance(value, Mapping):
        return _plain(value)
    if draw is None:
        return _plain(value["is"])
    if "among" in value:
        return _plain(value["among"][draw.integers(len(value["among"]))])
    return _between(_plain(value["from"]), _plain(value["to"]), int(draw.integers(value["steps"] + 1)), value["steps"])


def _between(low: Any, high: Any, step: int, steps: int) -> Any:
    """A quantity or number so many of ``steps`` above the low one; whole where both ends and the steps are."""
    if isinstance(low, Quantity):
        return Q_(_between(low.m, high.m_as(low.u), step, steps), low.u)
    whole = isinstance(low, int) and isinstance(high, int) and (high - low) % steps == 0
    return low + step * (high - low) // steps if whole else round(low + step * (high - low) / steps, 10)


def _plain(value: Any) -> Any:
    """A text that begins with a number is a quantity."""
    return parse(value) if isinstance(value, str) and re.match(r"[-+]?[\d.]", value) else value


def _quantity(value: Any) -> Quantity:
    return Q_(float(value), "") if isinstance(value, (int, float)) else parse(value)
