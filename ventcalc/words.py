"""Words: sentences kept as data apart from the code that fills them, to be read and translated as a text.

Each Part keeps its sentences in ``data/<part>/words.toml``, a table for each subject. What stands in braces is a
figure; behind a colon stands how it is shown: the kind of a quantity ("{pressure:draft}"), its format and unit
("{time:.1f s}"), the format of a number ("{share:.2f}"), that a share is told in percent ("{share:percent}",
"{gain:+percent}" with its sign), or that a count up to twelve is spelled ("{boilers:word}",
"{boilers:Word}" where it begins a sentence), or what is counted, as of one and of many ("{days:day|days}").
A sentence may be told in two ways, ``{US = "...", SI = "..."}``.
"""

import difflib
import re
import string
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from ventcalc.tables import DATA
from ventcalc.units import SYSTEMS, Quantity, show, unit_text

_SPELLED = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")

MOST_TOLD = 200  # letters of a list beside the name that was probably meant
MOST_MEANT = 3  # names that are asked back
LEAST_SPAN = 4  # names that only count on are told as one from so many on


class _Formatter(string.Formatter):
    """Shows each figure of a sentence in one unit system."""

    def __init__(self, system: str):
        self.system = system

    def format_field(self, value, kind: str) -> str:
        if kind in ("percent", "+percent"):
            share = value.m_as("") if isinstance(value, Quantity) else value
            return f"{100.0 * share:{'+' if kind[0] == '+' else ''}.0f} %"
        if isinstance(value, Quantity):
            return _in_unit(value, kind) if kind.startswith((".", ",")) else show(value, self.system, kind or None)
        if isinstance(value, tuple):
            return listed(value)
        if "|" in kind:
            told, (one, many) = self.format_field(value, ""), kind.split("|")
            return f"{told} {one if told in ('1', 'less than 1') else many}"
        if kind in ("word", "Word"):
            return _SPELLED[value].capitalize() if kind == "Word" else _SPELLED[value]
        if isinstance(value, (int, float)):
            return format(value, kind or ("," if isinstance(value, int) else ",.3g"))
        return value.words(self.system) if hasattr(value, "words") else str(value)


def _in_unit(value: Quantity, told: str) -> str:
    """A quantity by a format and a unit; a ratio by its format alone."""
    form, _, unit = told.partition(" ")
    return f"{float(value.m_as(unit)):{form}} {unit_text(unit)}".rstrip()


def fill(text: str | Mapping[str, str], figures: Mapping[str, Any], system: str = "US") -> str:
    """A sentence with its figures, each a quantity, a number, names, or something with ``words(system)``.

    Raises KeyError where the sentence tells a figure that is not given.
    """
    chosen = text if isinstance(text, str) else text[system]
    return one_stop(_Formatter(system).vformat(chosen, (), figures))


def one_stop(text: str) -> str:
    """The text with one full stop where a unit that has its own ends a sentence."""
    return text.replace("w.c..", "w.c.").replace(" in..", " in.")


def meant(name: str, names: Iterable[str]) -> str:
    """Which names there are, for whoever wrote one that is none of them: the one that was probably meant first.

    Case, marks and the order of words do not matter: "Rain-Cap", "90 deg elbow".
    """
    names = tuple(names)
    told = f"known are: {', '.join(names)}"
    plain = {_in_order(each): each for each in reversed(names)}
    asked = _in_order(str(name))
    close = difflib.get_close_matches(asked, plain, 1) or _with_all_words(asked, plain)
    if not close:
        return told
    hint = " or ".join(repr(plain[each]) for each in close)
    hint = f"did you mean {hint}?"
    return f"{hint} {told}" if len(told) < MOST_TOLD else hint


def _with_all_words(asked: str, plain: Iterable[str]) -> list[str]:
    """Names that hold every word asked for, where they are few: "Type B" is a Type B gas vent."""
    found = [each for each in reversed(list(plain)) if asked and set(asked.split()) <= set(each.split())]
    return found if len(found) <= MOST_MEANT else []


def _in_order(name: str) -> str:
    """The words of a name without case, marks and turns of degree, in the order of the alphabet."""
    words = re.findall(r"[a-z0-9.]+", name.lower())
    return " ".join(sorted(w for w in words if w not in ("deg", "degree", "degrees")))


def listed(names: tuple[str, ...]) -> str:
    """Names in a row: "A, B and C"; numbered ones that follow each other as `together`."""
    *first, last = spans(names)
    return f"{', '.join(first)} and {last}" if first else last


def spans(names: Iterable[str]) -> tuple[str, ...]:
    """Names with four or more that only count on as one: "Boiler 1 to 10"."""
    return tuple(name for name, _ in together((name, None) for name in names))


def together(told: Iterable[tuple[str, Any]]) -> Iterator[tuple[str, Any]]:
    """Names and what is told of each, with four or more that only count on, of which the same is told, as one.

    ("Boiler 1", "off") to ("Boiler 10", "off") is ("Boiler 1 to 10", "off").
    """
    row: list[tuple[str, Any]] = []
    for name, what in told:
        if row and not (_follows(row[-1][0], name) and row[-1][1] == what):
            yield from _as_one(row)
            row = []
        row.append((name, what))
    yield from _as_one(row)


def _follows(name: str, other: str) -> bool:
    """Whether the other name is the first one, counted on by one."""
    (stem, _, number), (stem_2, _, number_2) = name.rpartition(" "), other.rpartition(" ")
    return stem == stem_2 and number.isdecimal() and number_2.isdecimal() and int(number_2) == int(number) + 1


def _as_one(row: list[tuple[str, Any]]) -> list[tuple[str, Any]]:
    if len(row) < LEAST_SPAN:
        return row
    (first, what), (last, _) = row[0], row[-1]
    return [(f"{first} to {last.rpartition(' ')[2]}", what)]


@cache
def sentences(part: str) -> Mapping[str, Mapping[str, Any]]:
    """The sentences of a Part, by subject and name. ValueError where it has none, or one lacks a system."""
    path = DATA / part / "words.toml"
    if not path.is_file():
        raise ValueError(f"no words of {part!r}: there is no {path.name} in data/{part}/")
    with path.open("rb") as file:
        found = tomllib.load(file)
    for subject, told in found.items():
        for name, text in told.items():
            if isinstance(text, dict) and set(text) != set(SYSTEMS):
                raise ValueError(f"{path.name} of {part}: {subject}.{name} is told in {', '.join(text)} alone")
    return found


def say(part: str, subject: str, name: str, system: str = "US", /, **figures: Any) -> str:
    """The sentence of that name with its figures."""
    return fill(sentences(part)[subject][name], figures, system)


@dataclass(frozen=True)
class Remark:
    """Something found, as the name of a sentence and its figures: whose ``part`` and ``subject``, and its ``code``.

    Words are made of it where it is shown; nothing is decided by reading them.
    """

    part: str
    subject: str
    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)

    def words(self, system: str = "US") -> str:
        """The sentence in "US" or "SI" units; KeyError where there is none, or a figure is missing."""
        return say(self.part, self.subject, self.code, system, **self.figures)


def told(remarks: tuple[Remark, ...], system: str = "US") -> tuple[str, ...]:
    """The sentences of remarks, in their order."""
    return tuple(remark.words(system) for remark in remarks)
