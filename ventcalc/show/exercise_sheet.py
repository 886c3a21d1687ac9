"""Exercise sheet: all exercises of a chapter, how many are right, and fresh numbers for whoever wants to go again."""

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets

from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Asked, paragraph, with_static_text
from ventcalc.show.unit_switch import UNITS, Units, in_units

Questions = Callable[[str, int | None], tuple[Exercise, ...]]

HOW = "To answer here, run the page: menu Run, then Run All Cells."


class Sheet(widgets.VBox):
    """The exercises that ``questions(system, seed)`` gives."""

    def __init__(self, questions: Questions, system: str, seed: int | None = None):
        self.questions, self.system, self.seed = questions, system, seed
        self.progress = widgets.HTML()
        self.progress.add_class("vc-progress")
        self.fresh = widgets.Button(
            description="Fresh numbers", tooltip="the same questions with other figures", layout={"width": "auto"}
        )
        self.fresh.add_class("vc-fresh")
        self.fresh.on_click(lambda _button: self.draw((self.seed or 0) + 1))
        super().__init__()
        self.draw(seed)

    def draw(self, seed: int | None) -> None:
        """Begin afresh with the figures of a seed; None: with those of the book."""
        self.seed = seed
        exercises = self.questions(self.system, seed)
        self.asked = tuple(Asked(exercise, str(number)) for number, exercise in enumerate(exercises, start=1))
        for asked in self.asked:
            asked.observe(self._count, names="kind")
        self.children = (widgets.HBox([self.progress, self.fresh]), *self.asked)
        self._count()

    def _count(self, _change: Any = None) -> None:
        told = sum(asked.told for asked in self.asked)
        words = f"{sum(asked.right for asked in self.asked)} of {len(self.asked)} right"
        self.progress.value = f"<b>{words}{f', {told} told' if told else ''}</b>"

    def take_over(self, before: "Sheet") -> None:
        """Go on from the same sheet in the other unit system."""
        if before.seed != self.seed:
            self.draw(before.seed)
        for asked, was in zip(self.asked, before.asked, strict=True):
            asked.take_over(was)
        self._count()

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        texts = [asked.exercise.question for asked in self.asked]
        html = "".join(f"<li>{escape(text)}</li>" for text in texts)
        plain = "\n".join(f"{number}. {text}" for number, text in enumerate(texts, start=1))
        told = f'<ol class="vc-questions">{html}</ol>{paragraph(HOW, "vc-live")}'
        return with_static_text(super()._repr_mimebundle_(**kwargs), plain, told)


def show(questions: Questions, seed: int | None = None, units: Units = UNITS) -> None:
    """Show the exercises of a chapter; ``seed`` gives a class figures of its own."""
    in_units(lambda system: Sheet(questions, system, seed), units)
