"""Prediction: what a reader expects, asked before it is worked out, and answered after.

``data/handbook/<chapter>.toml`` has a table ``[predict]``:

- ``question`` and three ``choices``;
- ``given``: figures, as for a question of `questions`;
- ``because``: why it is so, with ``{figure}`` and whatever else the chapter's function works out.

A function of the chapter's module takes what is given and returns ``right`` (the place of the right choice, from 0) and
``figure``. What a reader chose is kept by the `Guess` that the chapter makes, as long as its kernel runs.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

import ipywidgets as widgets
from traitlets import HasTraits, Int

from ventcalc.show import chapter_texts
from ventcalc.show.chapter_texts import Work
from ventcalc.show.panels import paragraph, with_static_text
from ventcalc.show.unit_switch import UNITS, Units, in_units

CHOICES = 3


@dataclass(frozen=True)
class Prediction:
    """A question with its ``choices``; the place of the one that is right, and why it is, are worked out (``solve``)
    when somebody asks: the question stands on the page at once."""

    question: str
    choices: tuple[str, ...]
    solve: Callable[[], tuple[int, str]]

    @property
    def right(self) -> int:
        """The place of the right choice."""
        return self.solve()[0]

    @property
    def because(self) -> str:
        """Why it is."""
        return self.solve()[1]

    def answer(self, said: int | None) -> str:
        """What is said to whoever chose ``said`` (its place; None: nothing)."""
        right, because = self.solve()
        is_so = f"it is “{self.choices[right]}”. {because}"
        if said is None:
            return f"You made no prediction: {is_so}"
        return f"{'✔ Right' if said == right else '✘ No'}. You said “{self.choices[said]}”; {is_so}"


def load(chapter: str, work: Work, system: str = "US") -> Prediction:
    """The prediction of a chapter, answered by ``work``.

    Raises ValueError, naming the file, where a key is unknown or lacking, there are not three choices or ``because``
    tells no figure; and, once it is solved, where a text tells a figure that is not there or ``work`` returns no place
    of a choice. A question or choice that tells a figure which is worked out is solved at once.
    """
    where, row = f"{chapter}.toml, predict", chapter_texts.read(chapter).get("predict", {})
    chapter_texts.refuse_keys(where, row, {"question", "choices", "because"}, {"given"})
    given, choices = chapter_texts.given(row.get("given", {}), system), chapter_texts.told(row["choices"], system)
    if len(choices) != CHOICES:
        raise ValueError(f"{where}: {len(choices)} choices; there must be three")
    if "{figure" not in chapter_texts.told(row["because"], system):
        raise ValueError(f"{where}: because does not tell {{figure}}")
    asked = (row["question"], *choices)

    @cache
    def figures() -> Mapping[str, Any]:
        return chapter_texts.worked(work, given, system)

    def solve() -> tuple[int, str]:
        right = figures().get("right")
        if right not in range(CHOICES):
            raise ValueError(f"{where}: {right!r} of three choices is right; it must be 0, 1 or 2")
        return right, _text(where, row["because"], figures(), system)

    try:
        told = [chapter_texts.text(value, given, system) for value in asked]
    except KeyError:
        told = [_text(where, value, figures(), system) for value in asked]
    return Prediction(told[0], tuple(told[1:]), solve)


def _text(where: str, value: Any, figures: Mapping[str, Any], system: str) -> str:
    try:
        return chapter_texts.text(value, figures, system)
    except KeyError as missing:
        raise ValueError(f"{where}: no figure of the name {missing}") from missing


class Guess(HasTraits):
    """What a reader said to a prediction, ``make(system)``: `ask` early, `answer` where it is worked out."""

    said = Int(None, allow_none=True)

    def __init__(self, make: Callable[[str], Prediction], units: Units = UNITS):
        super().__init__()
        self.make, self.units = make, units

    def ask(self) -> None:
        """Show the question with its choices."""
        in_units(lambda system: _Asked(self, self.make(system)), self.units)

    def answer(self) -> None:
        """Show what it is, and what the reader said; it follows a choice that is made later."""
        in_units(lambda system: _Answered(self, self.make(system)), self.units)


class _Asked(widgets.VBox):
    def __init__(self, guess: Guess, prediction: Prediction):
        self.prediction = prediction
        self.buttons = widgets.RadioButtons(
            options=[(choice, place) for place, choice in enumerate(prediction.choices)],
            value=guess.said,
            layout=widgets.Layout(width="auto", max_width="760px"),
        )
        self.buttons.add_class("vc-predict")
        self.buttons.observe(lambda change: setattr(guess, "said", change["new"]), names="value")
        super().__init__([widgets.HTML(self._question()), self.buttons])

    def _question(self) -> str:
        return paragraph(f"Predict before you read on: {self.prediction.question}", "vc-words")

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        choices = self.prediction.choices
        html = f"{self._question()}<ul>{''.join(f'<li>{escape(choice)}</li>' for choice in choices)}</ul>"
        plain = "\n".join([self.prediction.question, *(f"- {choice}" for choice in choices)])
        return with_static_text(super()._repr_mimebundle_(**kwargs), plain, html)


class _Answered(widgets.VBox):
    def __init__(self, guess: Guess, prediction: Prediction):
        self.guess, self.prediction, self.words = guess, prediction, widgets.HTML()
        self.words.add_class("vc-predicted")
        super().__init__([self.words])
        guess.observe(self._say, names="said")
        self._say()

    def _say(self, _change: Any = None) -> None:
        self.words.value = paragraph(self.prediction.answer(self.guess.said))

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        words = self.prediction.answer(self.guess.said)
        return with_static_text(super()._repr_mimebundle_(**kwargs), words, paragraph(words, "vc-words"))
