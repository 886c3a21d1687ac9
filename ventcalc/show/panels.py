"""Panels: live controls for the chapters.

A panel is a few controls, numbers as HTML and a picture as PNG; some have a drawing that stands first, right under
the controls. What it shows is made by a plain function, from the values of its controls to (HTML, PNG) or (HTML, PNG,
`svg.Drawing`); that function stands in the chapter's module of `handbook` and is tested at both ends of every control.
Moving a control calls it and sets the values of two `HTML` widgets and an `Image`, and nothing else; a combination that
cannot be is answered in words.

A saved or printed page has no live controls. There a panel shows the numbers it had when the page was run, and the
words of its drawing.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from html import escape
from typing import Any

import ipywidgets as widgets
from matplotlib.figure import Figure

from ventcalc.show.exercises import Exercise
from ventcalc.show.plots import GREY, SIZE, WIDTH, png
from ventcalc.show.svg import Drawing
from ventcalc.units import Q_, UnitsError, show, shown_unit

PICTURE_WIDTH = 760  # px on the page

Answer = Callable[..., tuple[str, bytes] | tuple[str, bytes, Drawing]]

# A notebook would set words flush right, and a control's HTML would leave neither gaps nor tight lines.
_CELL = ' style="text-align: left; padding: 3px 14px 3px 0; line-height: 1.3"'
_TEXT = ' style="line-height: 1.4; margin: 6px 0"'


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """An HTML table of plain texts."""
    head = "".join(f"<th{_CELL}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(f"<td{_CELL}>{escape(str(c))}</td>" for c in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def paragraph(text: str) -> str:
    """An HTML paragraph of plain text."""
    return f"<p{_TEXT}>{escape(text)}</p>"


@cache
def no_picture() -> bytes:
    """The picture beside a refusal: nothing was solved, so nothing is drawn."""
    figure = Figure(figsize=(WIDTH, 0.6))
    figure.text(0.5, 0.5, "no result to draw", ha="center", va="center", color=GREY, size=SIZE)
    return png(figure)


class Panel(widgets.VBox):
    """Controls by name over the drawing, the numbers and the picture that ``answer(**values)`` makes of them."""

    def __init__(self, answer: Answer, controls: Mapping[str, widgets.Widget], **kwargs):
        self.answer, self.controls, self.words = answer, dict(controls), ""
        self.drawing = widgets.HTML(layout=widgets.Layout(width=f"{PICTURE_WIDTH}px", max_width="100%"))
        self.drawing.add_class("vc-drawing")
        self.numbers = widgets.HTML()
        self.numbers.add_class("vc-numbers")
        self.picture = widgets.Image(format="png", layout=widgets.Layout(width=f"{PICTURE_WIDTH}px", max_width="100%"))
        self.picture.add_class("vc-picture")
        grid = widgets.GridBox(
            list(self.controls.values()),
            layout=widgets.Layout(grid_template_columns="repeat(auto-fill, 380px)", grid_gap="2px 12px"),
        )
        super().__init__([grid, self.drawing, self.numbers, self.picture], **kwargs)
        for control in self.controls.values():
            control.observe(self.update, names="value")
        self.update()

    def update(self, _change: Any = None) -> None:
        """Show what the answer is for the values that the controls have now."""
        values = {name: control.value for name, control in self.controls.items()}
        self.numbers.value, self.picture.value, *drawn = said(self.answer, values)
        drawing = drawn[0] if drawn else Drawing("", "")
        self.drawing.value, self.words = drawing.svg, drawing.words
        self.drawing.layout.display = None if drawing.svg else "none"

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        static = (paragraph(self.words) if self.words else "") + self.numbers.value
        return with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", static)


def with_static_text(bundle: dict[str, Any], plain: str, html: str) -> dict[str, Any]:
    """What a widget shows of itself, with text for pages where it cannot live."""
    return bundle | {"text/plain": plain, "text/html": html}


def said(answer: Answer, values: Mapping[str, Any]) -> tuple[str, bytes] | tuple[str, bytes, Drawing]:
    """What an answer is for some values; a refusal in words where they cannot be."""
    try:
        return answer(**values)
    except (ValueError, UnitsError) as error:
        return f"<p><b>This cannot be built or solved:</b> {escape(str(error))}</p>", no_picture()


_WIDE = widgets.Layout(width="380px")
_STYLE = {"description_width": "130px"}


def slider(description: str, options: Sequence[tuple[str, Any]], value: Any) -> widgets.SelectionSlider:
    """A slider over (label, value) pairs, at the one nearest to ``value``; it answers when it is let go."""
    nearest = min((v for _, v in options), key=lambda v: abs(v - value))
    return widgets.SelectionSlider(
        options=list(options),
        value=nearest,
        description=description,
        continuous_update=False,
        layout=_WIDE,
        style=_STYLE,
    )


def steps(kind: str, system: str, us: Iterable[float], si: Iterable[float]) -> list[tuple[str, float]]:
    """(label, SI base value) pairs for a slider from round numbers in the unit that ``system`` shows ``kind`` in."""
    unit = shown_unit(kind, system)
    values = [Q_(float(v), unit) for v in (us if system == "US" else si)]
    return [(show(v, system, kind), float(v.to_base_units().m)) for v in values]


def choice(description: str, options: Iterable[Any], value: Any) -> widgets.Dropdown:
    """A list to choose from; options as for an ipywidgets Dropdown."""
    return widgets.Dropdown(options=list(options), value=value, description=description, layout=_WIDE, style=_STYLE)


def ask(exercise: Exercise) -> widgets.VBox:
    """An exercise with a line to type the answer in; it is marked when Enter is pressed."""
    question = widgets.HTML(paragraph(exercise.question))
    line = widgets.Text(
        placeholder=f"type, with its unit: {exercise.example}",
        continuous_update=False,
        layout=widgets.Layout(width="320px"),
    )
    verdict = widgets.HTML(exercise.check().html())
    verdict.add_class("vc-verdict")

    def mark(change):
        verdict.value = exercise.check(change["new"]).html()

    line.observe(mark, names="value")
    return _Asked([question, line, verdict], exercise)


class _Asked(widgets.VBox):
    def __init__(self, children, exercise: Exercise):
        super().__init__(children, layout=widgets.Layout(max_width="760px"))
        self.exercise = exercise

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        question = self.exercise.question
        return with_static_text(super()._repr_mimebundle_(**kwargs), question, paragraph(question))


def percents(values: Iterable[float]) -> list[tuple[str, float]]:
    """(label, ratio) pairs for a slider in percent."""
    return [(f"{value} %", value / 100) for value in values]


def counted(values: Iterable[float], unit: str = "") -> list[tuple[str, float]]:
    """(label, number) pairs for a slider from plain numbers of one unit: "0.5 s"."""
    return [(f"{value:,g} {unit}".rstrip(), float(value)) for value in values]
