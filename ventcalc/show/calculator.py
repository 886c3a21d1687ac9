"""Calculator: a quick check as data: what it asks, how that is read, what it answers, and its line of Python.

A number box takes a number, in the unit of the menu beside it, or a number with a unit of its own ("12 m"). What cannot
be read or cannot be is answered in words.
"""

import re
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ventcalc.show.svg import Drawing
from ventcalc.unit_names import number_and_unit
from ventcalc.units import (
    Q_,
    SYSTEMS,
    OutOfRangeWarning,
    Quantity,
    UnitsError,
    parse,
    show,
    shown_unit,
    unit_text,
    ureg,
)
from ventcalc.words import fill

DIGITS = 5  # of a number that is told in another unit


@dataclass(frozen=True)
class Number:
    """A number to fill in: its ``name``, the ``label`` of its box, the ``menu`` of units that fit, and what stands
    there at first in US and in SI units ("40 ft"). ``least`` and ``most`` are limits of sense, with unit; what lies
    outside ``usual`` can be, but is looked at twice."""

    name: str
    label: str
    menu: tuple[str, ...]
    start: Mapping[str, str]
    least: str = ""
    most: str = ""
    usual: tuple[str, str] | None = None

    converts = True  # another unit of the menu tells the same quantity

    def begin(self, system: str) -> tuple[str, str]:
        """Number and unit at first."""
        number, _, unit = self.start[system].partition(" ")
        return number, unit

    @property
    def options(self) -> list[tuple[str, str]]:
        """Options of the unit menu, as a reader knows them."""
        return [(unit_text(unit) or "–", unit) for unit in self.menu]

    def text(self, given: tuple[str, str]) -> str:
        """What stands in the box, for a reader."""
        number, unit = given
        written = next((text for text, of_menu in self.options if unit and of_menu == unit), "")
        return f"{self.label} {number} {written}".strip()

    def given(self, text: str) -> tuple[str, str]:
        """A number with a unit of its own as it stands in the box."""
        return text, ""

    def typed(self, text: str) -> tuple[str, str] | None:
        """Unit of the menu and number that were typed; None where no unit of the menu was."""
        try:
            number, unit = self._number(text)
            value, name = self._quantity(number, unit) if unit else (None, "")
        except (UnitsError, ValueError):
            return None
        if name not in self.menu or value is None:
            return None
        one = value.m == float(number)  # else it was told in two units, such as "5 ft 6 in."
        return name, text.strip().removesuffix(unit).strip() if one else f"{value.m:.10g}"

    def told_in(self, unit: str, value: Quantity) -> str:
        """The number of a quantity in another unit of the menu, with the digits that a reader would write."""
        return f"{float(f'{value.m_as(unit):.{DIGITS}g}'):.10g}"

    def odd(self, value: Quantity) -> str:
        """What is said of a quantity that can be and is not usual; nothing where it is."""
        for limit, sign, side in zip(self.usual or (), (1, -1), ("below", "above"), strict=False):
            if sign * (value - parse(limit)).magnitude < 0:
                edge = " = ".join(dict.fromkeys(show(parse(limit), system) for system in SYSTEMS))
                return f"{self.label} is {side} what is usual, {edge}. Is the unit right?"
        return ""

    def read(self, given: tuple[str, str]) -> tuple[Any, Mapping[str, str]]:
        """The quantity that was typed, by number and unit of the menu, and Python for it by name.

        Raises `UnitsError` where it is no number or the unit does not fit, ValueError outside the limits.
        """
        text, of_menu = given
        number, own = self._number(text)
        value, unit = self._quantity(number, own or of_menu)
        number = number if value.m == float(number) else repr(float(value.m))
        for limit, sign in ((self.least, 1), (self.most, -1)):
            if limit and sign * (value - parse(limit)).magnitude < 0:
                edge = " = ".join(show(parse(limit), system) for system in SYSTEMS)
                side = "below" if sign > 0 else "above"
                raise ValueError(f"{self.label}: {number} {unit_text(unit)} is {side} {edge}")
        return value, {self.name: f'Q_({number}, "{unit}")' if unit else number}

    def _quantity(self, number: str, unit: str) -> tuple[Quantity, str]:
        """The quantity, and its unit by its name in the menu, or by its own."""
        written = {unit_text(u): u for u in self.menu if u}.get(unit, unit)
        value = parse(f"{number} {written}", ureg.Unit(self.menu[0])) if unit else Q_(float(number), "")
        if not value.is_compatible_with(self.menu[0]):
            fitting = " or ".join(unit_text(u) for u in self.menu if u) or "a plain number"
            raise UnitsError(f"{self.label} is wanted in {fitting}, not in {unit or 'no unit'}")
        same = (u for u in self.menu if ureg.Unit(u) == value.units)
        return value, next(same, str(value.units)) if unit else ""

    def _number(self, text: str) -> tuple[str, str]:
        """Number, as Python writes it, and the unit typed behind it."""
        found = number_and_unit(text)
        if found is None:
            wrong = f": {text.strip()[:30]!r} is not a number" if text.strip() else " is empty"
            raise UnitsError(f"{self.label}{wrong}; write a number such as 40 or 0.5, with a point for the decimals")
        value, unit = found
        if value != value or abs(value) == float("inf"):
            raise ValueError(f"{self.label} must be finite")
        return repr(int(value) if value.is_integer() and abs(value) < 1e15 else value), unit


@dataclass(frozen=True)
class Choice:
    """Something to choose: its ``name``, ``label`` and, by what a reader knows them by, ``options``: what each stands
    for and Python for it. The first stands there at first."""

    name: str
    label: str
    options: Mapping[str, tuple[Any, str]]

    def begin(self, system: str) -> str:
        """What is chosen at first, in whichever system."""
        return next(iter(self.options))

    def text(self, given: str) -> str:
        """What is chosen, for a reader."""
        return given

    def read(self, given: str) -> tuple[Any, Mapping[str, str]]:
        """What is chosen, and Python for it by name."""
        value, code = self.options[given]
        return value, {self.name: code}


@dataclass(frozen=True)
class Result:
    """One number of an answer: what it is, the number, and its kind (see `units.show`)."""

    label: str
    value: Quantity
    kind: str

    def text(self, system: str) -> str:
        """The number for a reader."""
        return show(self.value, system, self.kind)

    def unit(self, system: str) -> str:
        """The unit it is shown in."""
        return shown_unit(self.kind, system)


@dataclass(frozen=True)
class Answer:
    """What a card answers: results, the first of them the answer, cautions in words, what is odd about the inputs, and
    all that was asked and found, by name."""

    results: tuple[Result, ...]
    cautions: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()
    told: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Python:
    """What lines of Python may use: ``steps`` are names that are set before where a line has them, and ``imports``
    names by the module that they come from."""

    steps: Mapping[str, str]
    imports: Mapping[str, tuple[str, ...]]

    def line(self, last: str, code: Mapping[str, str]) -> str:
        """One line: the names that its last expression needs, then that expression, with Python for the inputs."""
        line = last.format(**code)
        for name, step in reversed(self.steps.items()):
            if re.search(rf"(?<![.\w]){name}\b", line):
                line = f"{name} = {step.format(**code)}; {line}"
        return line

    def imported(self, line: str) -> str:
        """The import line that a line of Python needs."""
        needed = {m: [n for n in names if re.search(rf"\b{n}[.(]", line)] for m, names in self.imports.items()}
        return "; ".join(f"from {module} import {', '.join(names)}" for module, names in needed.items() if names)


@dataclass(frozen=True)
class Calculator:
    """One card as data.

    ``answer`` takes the inputs by name and returns what it found by name: ``results`` tells label and kind of each that
    is shown, in that order, and ``cautions`` the sentence that is said where one is found. ``line`` is Python for the
    first result with inputs in braces. ``formula`` and ``note`` are HTML. ``about`` says what it is for; ``sketch``
    draws what was asked and found.
    """

    name: str
    title: str
    inputs: tuple[Number | Choice, ...]
    answer: Callable[..., Mapping[str, Any]]
    results: Mapping[str, tuple[str, str]]
    line: str
    python: Python
    formula: str
    source: str
    note: str = ""
    cautions: Mapping[str, str] = field(default_factory=dict)
    about: str = ""
    sketch: Callable[[Mapping[str, Any], str], Drawing] | None = None

    def work(self, texts: Mapping[str, Any], system: str) -> tuple[Answer, str]:
        """Answer and line of Python for what stands in the boxes (see `start`).

        Raises ValueError and `UnitsError` in words a reader of the card understands.
        """
        values, code = {}, {}
        for box in self.inputs:
            values[box.name], told = box.read(texts[box.name])
            code |= told
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always", OutOfRangeWarning)
            found = self.answer(**values)
        results = tuple(Result(label, found[n], kind) for n, (label, kind) in self.results.items() if n in found)
        said = [fill(sentence, found, system) for name, sentence in self.cautions.items() if found.get(name)]
        odd = tuple(filter(None, (box.odd(values[box.name]) for box in self.inputs if isinstance(box, Number))))
        cautions = tuple(dict.fromkeys([*said, *(str(w.message) for w in caught)]))
        answer = Answer(results, cautions, odd, {**values, **found})
        return answer, self.python.line(f'{self.line}.to("{results[0].unit(system)}")', code)

    def start(self, system: str) -> dict[str, Any]:
        """What stands in the boxes at first: (number, unit) of a `Number`, the text of a `Choice`."""
        return {box.name: box.begin(system) for box in self.inputs}
