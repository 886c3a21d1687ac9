"""Calculator card: a quick check on the page, with boxes, menus, answer, formula, source and its line to copy."""

import re
from collections.abc import Sequence
from html import escape
from typing import Any

import ipywidgets as widgets

from ventcalc.show.calculator import Answer, Calculator, Choice, Number
from ventcalc.show.panels import table, with_static_text
from ventcalc.units import SYSTEMS, UnitsError

_CELL = 'style="padding: 1px 16px 1px 0; text-align: left; white-space: nowrap"'


def results_html(answer: Answer) -> str:
    """The results in both unit systems, and the cautions."""
    rows = []
    for i, result in enumerate(answer.results):
        texts = [result.label, *dict.fromkeys(result.text(system) for system in SYSTEMS)]
        shown = [f"<b>{escape(t)}</b>" if i == 0 else escape(t) for t in texts]
        rows.append("<tr>" + "".join(f"<td {_CELL}>{t}</td>" for t in shown) + "</tr>")
    cautions = "".join(f"<p><b>Caution:</b> {escape(c)}</p>" for c in answer.cautions)
    return f"<table>{''.join(rows)}</table>{cautions}"


def basis_html(card: Calculator) -> str:
    """Formula, source and note of a card."""
    note = f"<br>{card.note}" if card.note else ""
    return f"<p>{card.formula}<br>Source: {escape(card.source)}.{note}</p>"


def inputs_text(card: Calculator, system: str) -> str:
    """What stands in a card's boxes at first, in a line."""
    return "; ".join(box.text(box.begin(system)) for box in card.inputs)


def overview(calculators: Sequence[Calculator], system: str = "US") -> str:
    """Calculators with their first inputs and answers, as an HTML table."""
    rows = []
    for number, card in enumerate(calculators, start=1):
        first = card.work(card.start(system), system)[0].results[0]
        both = dict.fromkeys(first.text(s) for s in SYSTEMS)
        rows.append((str(number), card.title, inputs_text(card, system), first.label, " = ".join(both)))
    return table(("", "card", "with", "gives", "answer"), rows)


class Card(widgets.VBox):
    """A calculator on the page: boxes and menus, answer, formula and source, and its line of Python to copy."""

    def __init__(self, card: Calculator, system: str = "US"):
        self.card, self.system = card, system
        self.boxes = {box.name: _widgets(box, system) for box in card.inputs}
        self.numbers = widgets.HTML()
        self.numbers.add_class("vc-numbers")
        self.line = widgets.Textarea(continuous_update=False, layout=widgets.Layout(width="98%"))
        self.line.add_class("vc-line")
        left = [widgets.HBox(row) for row in self.boxes.values()]
        sides = [
            widgets.VBox(left, layout=widgets.Layout(width="372px")),
            widgets.VBox([self.numbers], layout=widgets.Layout(flex="1 1 460px", padding="0 0 0 12px")),
        ]
        super().__init__(
            [
                widgets.HBox(sides, layout=widgets.Layout(flex_flow="row wrap")),
                widgets.HTML(_compact(basis_html(card) + "Python, to copy:")),
                self.line,
            ],
            layout=widgets.Layout(max_width="900px", border="1px solid #9aa1a9", padding="8px 12px"),
        )
        for row in self.boxes.values():
            for widget in row:
                widget.observe(self.update, names="value")
        self.update()

    @property
    def texts(self) -> dict[str, Any]:
        """What stands in the boxes."""
        return {n: row[0].value if len(row) == 1 else tuple(w.value for w in row) for n, row in self.boxes.items()}

    def update(self, _change: Any = None) -> None:
        """Show the answer to what stands in the boxes, or say what is wrong with it."""
        self._move_units()
        try:
            answer, line = self.card.work(self.texts, self.system)
        except (ValueError, UnitsError) as error:
            self.numbers.value = _compact(f"<p><b>No answer.</b> {escape(_plain(str(error)))}</p>")
            self.line.value = ""
            return
        copy = (self.card.python.imported(line), line)
        self.numbers.value, self.line.value = _compact(results_html(answer)), "\n".join(copy)
        self.line.rows = sum(-(-len(text) // _LINE_WIDTH) for text in copy)

    def _move_units(self) -> None:
        """A unit typed behind a number is chosen in the menu, where the menu has it."""
        for box in self.card.inputs:
            if isinstance(box, Number):
                text, menu = self.boxes[box.name]
                typed = box.typed(text.value)
                if typed:
                    menu.value, text.value = typed

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        asked = f"<p>{escape(inputs_text(self.card, self.system))}</p>"
        line = f"<p><code>{escape(self.line.value.splitlines()[-1])}</code></p>"
        html = asked + self.numbers.value + basis_html(self.card) + line
        return with_static_text(super()._repr_mimebundle_(**kwargs), f"calculator: {self.card.title}", html)


def _plain(message: str) -> str:
    """What the library says, without the names of functions and with words for those of arguments."""
    without = re.sub(r"^[a-z_]+: ", "", message)
    return re.sub(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b", lambda name: name[0].replace("_", " "), without)


_LINE_WIDTH = 92  # characters that the box of the line of Python takes side by side, with room for words moved down


def _compact(html: str) -> str:
    """The same closer together: a widget's HTML has the line spacing of a row of buttons."""
    return f'<div style="line-height: 1.45">{html}</div>'


_BOX_STYLE = {"description_width": "140px"}


def _widgets(box: Number | Choice, system: str) -> tuple[widgets.Widget, ...]:
    if isinstance(box, Choice):
        wide = widgets.Layout(width="364px")
        return (widgets.Dropdown(options=list(box.options), description=box.label, layout=wide, style=_BOX_STYLE),)
    number, unit = box.begin(system)
    narrow = widgets.Layout(width="240px")
    text = widgets.Text(number, description=box.label, continuous_update=False, layout=narrow, style=_BOX_STYLE)
    return text, widgets.Dropdown(options=box.options, value=unit, layout=widgets.Layout(width="120px"))
