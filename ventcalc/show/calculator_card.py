"""Calculator card: a quick check on the page, with boxes, menus, answer, formula, source and its line to copy."""

import re
from collections.abc import Sequence
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from ventcalc.show.calculator import Answer, Calculator, Choice, Number
from ventcalc.show.panels import table, with_static_text
from ventcalc.units import SYSTEMS, Quantity, UnitsError

_ODD = 'style="border-left: 5px solid #e09f00; padding-left: 8px"'  # amber; the mark and the word say it too
_CELL = 'style="padding: 1px 16px 1px 0; text-align: left; white-space: nowrap"'


def results_html(answer: Answer) -> str:
    """The results in both unit systems, the cautions, and what is odd."""
    rows = []
    for i, result in enumerate(answer.results):
        texts = [result.label, *dict.fromkeys(result.text(system) for system in SYSTEMS)]
        shown = [f"<b>{escape(t)}</b>" if i == 0 else escape(t) for t in texts]
        rows.append("<tr>" + "".join(f"<td {_CELL}>{t}</td>" for t in shown) + "</tr>")
    cautions = "".join(f"<p><b>Caution:</b> {escape(c)}</p>" for c in answer.cautions)
    odd = "".join(f'<p class="vc-odd" {_ODD}><b>⚠ Unusual:</b> {escape(words)}</p>' for words in answer.odd)
    return f"<table>{''.join(rows)}</table>{odd}{cautions}"


def basis_html(card: Calculator) -> str:
    """Formula, source and note of a card."""
    note = f"<br>{card.note}" if card.note else ""
    return f"<p>{card.formula}<br>Source: {escape(card.source)}.{note}</p>"


def head_html(card: Calculator, number: int | None = None) -> str:
    """Title of a card, with its number where it has one, and what it is for."""
    counted = f"{number} · " if number else ""
    return f"<h3>{counted}{escape(card.title)}</h3>" + (f"<p>{escape(card.about)}</p>" if card.about else "")


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


class Cards(widgets.VBox):
    """Calculators below each other: the Tab key goes from box to box and on to the next card."""

    def __init__(self, calculators: Sequence[Calculator], system: str = "US"):
        super().__init__(
            [Card(each, system, k) for k, each in enumerate(calculators, start=1)],
            layout=widgets.Layout(grid_gap="14px"),
        )

    def take_over(self, before: "Cards") -> None:
        """Go on from the same cards in the other unit system."""
        for ours, theirs in zip(self.children, before.children, strict=True):
            ours.take_over(theirs)

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        inside = [card._repr_mimebundle_(**kwargs) for card in self.children]
        plain, html = ("\n".join(each[kind] for each in inside) for kind in ("text/plain", "text/html"))
        return with_static_text(super()._repr_mimebundle_(**kwargs), plain, html)


class Card(widgets.VBox):
    """A calculator on the page: boxes and menus, answer, formula and source, and its line of Python to copy."""

    def __init__(self, card: Calculator, system: str = "US", number: int | None = None):
        self.card, self.system, self.head = card, system, head_html(card, number)
        self.boxes = {box.name: _widgets(box, system) for box in card.inputs}
        self.numbers = widgets.HTML()
        self.numbers.add_class("vc-numbers")
        self.line = widgets.Textarea(continuous_update=False, layout=widgets.Layout(width="98%"))
        self.line.add_class("vc-line")
        left = [widgets.HBox(row) for row in self.boxes.values()]
        self.picture = widgets.HTML()
        self.picture.add_class("vc-picture")
        sides = [
            widgets.VBox(left, layout=widgets.Layout(width="372px")),
            widgets.VBox([self.numbers, self.picture], layout=widgets.Layout(flex="1 1 460px", padding="0 0 0 12px")),
        ]
        super().__init__(
            [
                widgets.HTML(_compact(self.head)),
                widgets.HBox(sides, layout=widgets.Layout(flex_flow="row wrap")),
                widgets.HTML(_compact(basis_html(card) + "Python, to copy:")),
                self.line,
            ],
            layout=widgets.Layout(max_width="1080px", border="1px solid #9aa1a9", padding="8px 12px"),
        )
        self._exact: dict[str, tuple[str, Quantity]] = {}
        self._moving = False
        for name, row in self.boxes.items():
            if len(row) == 2:
                row[1].observe(partial(self._convert, name), names="value")
            for widget in row:
                widget.observe(self.update, names="value")
        self.update()

    def take_over(self, before: "Card") -> None:
        """Go on from the same card in the other unit system: its numbers, told in the units of this one."""
        for box in self.card.inputs:
            theirs, ours = before.boxes[box.name], self.boxes[box.name]
            if isinstance(box, Choice):
                ours[0].value = theirs[0].value
            elif (theirs[0].value, theirs[1].value) != box.begin(before.system):
                unit = ours[1].value
                self._moving = True
                ours[0].value, ours[1].value = theirs[0].value, theirs[1].value
                self._moving = False
                if box.name in before._exact:
                    self._exact[box.name] = before._exact[box.name]
                ours[1].value = unit
        self.update()

    def _convert(self, name: str, change: Any) -> None:
        """Another unit was chosen: the number follows, so that the quantity stays."""
        box, text = next(b for b in self.card.inputs if b.name == name), self.boxes[name][0]
        if self._moving or not box.converts:
            return
        shown, exact = self._exact.get(name, ("", None))
        if shown != text.value:
            try:
                exact = Number(box.name, box.label, box.menu, box.start).read((text.value, change["old"]))[0]
            except (ValueError, UnitsError):
                return  # what is no number is left as it is
        self._moving = True
        text.value = box.told_in(change["new"], exact)
        self._moving = False
        self._exact[name] = text.value, exact

    @property
    def texts(self) -> dict[str, Any]:
        """What stands in the boxes."""
        return {n: row[0].value if len(row) == 1 else tuple(w.value for w in row) for n, row in self.boxes.items()}

    def update(self, _change: Any = None) -> None:
        """Show the answer to what stands in the boxes, or say what is wrong with it."""
        if self._moving:
            return
        self._move_units()
        try:
            answer, line = self.card.work(self.texts, self.system)
        except (ValueError, UnitsError) as error:
            self.numbers.value = _compact(f"<p><b>✘ No answer.</b> {escape(_plain(str(error)))}</p>")
            self.line.value = self.picture.value = ""
            return
        copy = (self.card.python.imported(line), line)
        self.numbers.value, self.line.value = _compact(results_html(answer)), "\n".join(copy)
        self.picture.value = self.card.sketch(answer.told, self.system).svg if self.card.sketch else ""
        self.line.rows = sum(-(-len(text) // _LINE_WIDTH) for text in copy)

    def _move_units(self) -> None:
        """A unit typed behind a number is chosen in the menu, where the menu has it."""
        for box in self.card.inputs:
            if isinstance(box, Number):
                text, menu = self.boxes[box.name]
                typed = box.typed(text.value)
                if typed:
                    self._moving = True  # the number was typed in that unit
                    menu.value, text.value = typed
                    self._moving = False

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        asked = f"<p>{escape(inputs_text(self.card, self.system))}</p>"
        line = f"<p><code>{escape(self.line.value.splitlines()[-1])}</code></p>"
        html = self.head + asked + self.numbers.value + self.picture.value + basis_html(self.card) + line
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
