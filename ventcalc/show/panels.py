"""Panels: live controls for the chapters.

A panel is a few controls with a picture beside them, as PNG, and numbers under both, as HTML; some have a drawing that
stands first, over the picture. What it shows is made by a plain function, from the values of its controls to (HTML,
PNG) or (HTML, PNG, `svg.Drawing`); that function stands in the chapter's module of `handbook` and is tested at both
ends of every control. Moving a control calls it and sets the values of two `HTML` widgets and an `Image`, and nothing
else; a combination that cannot be is answered in words.

A saved or printed page has no live controls. There a panel shows its controls in grey, the words of its drawing, the
picture and the numbers that it had when the page was run, and how to make it live.
"""

from base64 import b64encode
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from html import escape
from typing import Any

import ipywidgets as widgets
from matplotlib.figure import Figure
from traitlets import Unicode

from ventcalc.show.exercises import Exercise, Verdict
from ventcalc.show.plots import GREY, SIZE, WIDTH, png
from ventcalc.show.svg import Drawing
from ventcalc.show.working import working
from ventcalc.units import Q_, UnitsError, show, shown_unit

# px on the page: what a window 1024 wide leaves beside JupyterLab's own bars is 880; in less the picture stands below.
CONTROLS_WIDTH, LEAST_PICTURE, PICTURE_WIDTH = 330, 440, 760

STILL_WIDTH = 620  # px, the picture of a saved page

LIVE = "To move the controls, run the page: menu Run, then Run All Cells."

Answer = Callable[..., tuple[str, bytes] | tuple[str, bytes, Drawing]]

# A notebook would set words flush right, and a control's HTML would leave neither gaps nor tight lines.
_CELL = ' style="text-align: left; padding: 3px 14px 3px 0; line-height: 1.3"'
_TEXT = ' style="line-height: 1.4; margin: 6px 0"'


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """An HTML table of plain texts."""
    head = "".join(f"<th{_CELL}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(f"<td{_CELL}>{escape(str(c))}</td>" for c in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def paragraph(text: str, kind: str = "") -> str:
    """An HTML paragraph of plain text; ``kind`` tells what takes a page apart: "vc-live" is for whoever can run it."""
    named = f' class="{kind}"' if kind else ""
    return f"<p{named}{_TEXT}>{escape(text)}</p>"


@cache
def no_picture() -> bytes:
    """The picture beside a refusal: nothing was solved, so nothing is drawn."""
    figure = Figure(figsize=(WIDTH, 0.6))
    figure.text(0.5, 0.5, "no result to draw", ha="center", va="center", color=GREY, size=SIZE)
    return png(figure)


class Panel(widgets.VBox):
    """Controls by name beside the drawing and the picture, and over the numbers, that ``answer(**values)`` makes of
    them."""

    def __init__(self, answer: Answer, controls: Mapping[str, widgets.Widget], **kwargs):
        self.answer, self.controls, self.words = answer, dict(controls), ""
        self.drawing = widgets.HTML(layout=widgets.Layout(width="100%", max_width=f"{PICTURE_WIDTH}px"))
        self.drawing.add_class("vc-drawing")
        self.numbers, self.note = widgets.HTML(), widgets.HTML()
        self.numbers.add_class("vc-numbers")
        self.note.add_class("vc-working")
        self.picture = widgets.Image(format="png", layout=widgets.Layout(width="100%", max_width=f"{PICTURE_WIDTH}px"))
        self.picture.add_class("vc-picture")
        left = [*(_labeled(control) for control in self.controls.values()), self.note]
        beside = widgets.Box(
            [
                widgets.VBox(left, layout=widgets.Layout(flex=f"0 1 {CONTROLS_WIDTH}px")),
                widgets.VBox(
                    [self.drawing, self.picture],
                    layout=widgets.Layout(flex=f"1 1 {LEAST_PICTURE}px", overflow="hidden"),
                ),
            ],
            layout=widgets.Layout(flex_flow="row wrap", align_items="flex-start"),
        )
        super().__init__([beside, self.numbers], **kwargs)
        for control in self.controls.values():
            control.observe(self.update, names="value")
        self.update()

    @property
    def values(self) -> dict[str, Any]:
        """What the controls stand at, by name."""
        return {name: control.value for name, control in self.controls.items()}

    def update(self, _change: Any = None) -> None:
        """Show what the answer is for the values that the controls have now."""
        with working(self.note):
            self.numbers.value, self.picture.value, *drawn = said(self.answer, self.values)
        drawing = drawn[0] if drawn else Drawing("", "")
        self.drawing.value, self.words = drawing.svg, drawing.words
        self.drawing.layout.display = None if drawing.svg else "none"

    def take_over(self, before: "Panel") -> None:
        """Bring the controls to where those of the same panel in the other unit system stood."""
        for control in self.controls.values():
            control.unobserve(self.update, names="value")
        for name, control in self.controls.items():
            carry_over(before.controls[name].value, control)
            control.observe(self.update, names="value")
        self.update()

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        told = [_dead(control) for control in self.controls.values()]
        controls = f'<p{_TEXT}><span style="color: {GREY}">{" · ".join(told)}</span></p>'
        image = still(self.picture, "what the controls show")
        words = paragraph(self.words) if self.words else ""
        html = paragraph(LIVE, "vc-live") + controls + words + image + self.numbers.value
        return with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", html)


def folded(words: str, html: str) -> str:
    """What is shown under some words, for whoever opens them."""
    return f"<details><summary>{escape(words)}</summary>{html}</details>"


def still(picture: widgets.Image, words: str) -> str:
    """A picture as it is now, for a page where it does not move."""
    source = f"data:image/png;base64,{b64encode(picture.value).decode()}"
    return f'<img src="{source}" alt="{escape(words)}" width="{STILL_WIDTH}">'


def _labeled(control: widgets.Widget) -> widgets.Widget:
    """A control with its name above it, so that its track has all the width; those who hear the page hear it too."""
    control.style.description_width = "0px"
    control.layout = widgets.Layout(width="98%")
    name = widgets.HTML(f'<span style="line-height: 1.2">{escape(control.description)}</span>')
    return widgets.VBox([name, control], layout=widgets.Layout(margin="0 0 2px 0"))


def _dead(control: widgets.Widget) -> str:
    """A control and what it stands at, for a page where it cannot be moved."""
    shown, index = control.value, getattr(control, "index", None)
    if index is not None:  # a label of its own a slider has only once it was moved
        option = control.options[index]
        shown = option[0] if isinstance(option, tuple) else option
    return f"{escape(control.description)}: {escape(str(shown))}"


def carry_over(value: Any, control: widgets.Widget) -> None:
    """Set a control to the value nearest to what it had in the other unit system."""
    if isinstance(control, widgets.SelectionSlider):
        value = min((v for _, v in control.options), key=lambda v: abs(v - value))
    control.value = value


def with_static_text(bundle: dict[str, Any], plain: str, html: str) -> dict[str, Any]:
    """What a widget shows of itself, with text for pages where it cannot live."""
    return bundle | {"text/plain": plain, "text/html": html}


def said(answer: Answer, values: Mapping[str, Any]) -> tuple[str, bytes] | tuple[str, bytes, Drawing]:
    """What an answer is for some values; a refusal in words where they cannot be."""
    try:
        return answer(**values)
    except (ValueError, UnitsError) as error:
        return f"<p><b>This cannot be built or solved:</b> {escape(str(error))}</p>", no_picture()


_WIDE = widgets.Layout(width="380px")  # where a control stands alone
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


class Asked(widgets.VBox):
    """An exercise with a line to type the answer in, which is marked when Enter is pressed, and a hint or the worked
    answer for whoever asks. ``kind`` is what was said last, one of `exercises.KINDS`."""

    kind = Unicode("not attempted")

    def __init__(self, exercise: Exercise, number: str = ""):
        self.exercise = exercise
        self.line = widgets.Text(
            placeholder=f"type, with its unit: {exercise.example}",
            continuous_update=False,
            layout=widgets.Layout(width="320px"),
        )
        self.line.observe(self._mark, names="value")
        self.verdict = widgets.HTML()
        self.verdict.add_class("vc-verdict")
        buttons = [_button("Hint", lambda: self._say(exercise.hint())), _button("Answer", self._tell)]
        question = f"{number}. {exercise.question}" if number else exercise.question
        children = [widgets.HTML(paragraph(question)), widgets.HBox([self.line, *buttons]), self.verdict]
        super().__init__(children, layout=widgets.Layout(max_width="760px"))
        self.told = False
        self._say(exercise.check())

    @property
    def right(self) -> bool:
        """Whether the last answer was right, and was not told before."""
        return self.kind == "right" and not self.told

    def _mark(self, change: dict) -> None:
        self._say(self.exercise.check(change["new"]))

    def _tell(self) -> None:
        self.told = self.told or self.kind != "right"
        self._say(self.exercise.tell())

    def _say(self, verdict: Verdict) -> None:
        self.verdict.value, self.kind = verdict.html(), verdict.kind

    def take_over(self, before: "Asked") -> None:
        """Go on from the same exercise in the other unit system: what was typed stays, and is not marked again."""
        now, was = self.exercise, before.exercise
        now.tries, now.hinted, now.wrong, self.told = was.tries, was.hinted, list(was.wrong), before.told
        self.line.unobserve(self._mark, names="value")
        self.line.value = before.line.value
        self.line.observe(self._mark, names="value")
        self._say({"right": Verdict("right", now.solution), "told": now.tell()}.get(before.kind, now.check()))

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        question = self.exercise.question
        return with_static_text(super()._repr_mimebundle_(**kwargs), question, paragraph(question))


def _button(words: str, act: Callable[[], None]) -> widgets.Button:
    """A button that calls ``act``."""
    button = widgets.Button(description=words, layout=widgets.Layout(width="auto"))
    button.on_click(lambda _button: act())
    return button


def ask(exercise: Exercise) -> Asked:
    """One exercise to be answered."""
    return Asked(exercise)


def percents(values: Iterable[float]) -> list[tuple[str, float]]:
    """(label, ratio) pairs for a slider in percent."""
    return [(f"{value} %", value / 100) for value in values]


def counted(values: Iterable[float], unit: str = "") -> list[tuple[str, float]]:
    """(label, number) pairs for a slider from plain numbers of one unit: "0.5 s"."""
    return [(f"{value:,g} {unit}".rstrip(), float(value)) for value in values]
