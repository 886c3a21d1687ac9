"""Unit switch: a chapter changes its unit system by a button, and what it has shown is shown again.

Whatever goes through `in_units` follows: words, tables, figures through the display they were first shown in, live
controls and exercises with the places that a reader brought them to. A saved page keeps what was shown last, as if
it had been shown plainly.
"""

from base64 import b64encode
from collections.abc import Callable
from html import escape
from itertools import count
from typing import Any

import ipywidgets as widgets
from IPython import get_ipython
from IPython.display import HTML, Image, display
from matplotlib.figure import Figure
from traitlets import Enum, HasTraits

from ventcalc.show import unit_choice
from ventcalc.show.panels import folded, paragraph, with_static_text
from ventcalc.show.plots import png
from ventcalc.show.working import working
from ventcalc.units import SYSTEMS

FIGURE_WIDTH = 720  # px on the page

Make = Callable[[str], Any]


class Units(HasTraits):
    """The unit system that this kernel shows, and what follows it, by the cell that it was shown in."""

    system = Enum(SYSTEMS, default_value=SYSTEMS[0])

    def __init__(self, system: str):
        super().__init__(system=system)
        self._shown: dict[Any, tuple[Any, list[Callable[[str], None]]]] = {}
        self._numbers = count(1)
        self.observe(self._draw_again, names="system")

    def follow(self, draw: Callable[[str], None]) -> None:
        """Call ``draw`` with each system chosen from now on; a cell that is run again lets go of what it had shown."""
        cell, run = _this_cell()
        before, drawn = self._shown.get(cell, (run, []))
        self._shown[cell] = (run, [*(drawn if before == run else []), draw])

    def next_id(self) -> str:
        """The id of the widget that is shown next: the same whenever a chapter is run from its top.

        So a chapter that was run and saved differs only where its reader changed something.
        """
        return f"{next(self._numbers):032x}"

    def _draw_again(self, change: dict) -> None:
        for _, drawn in list(self._shown.values()):
            for draw in drawn:
                draw(change["new"])


UNITS = Units(unit_choice.chosen())


def _this_cell() -> tuple[Any, Any]:
    """The cell that is being run, and which run of it; outside a notebook one cell, run once."""
    shell = get_ipython()
    parent = shell.get_parent() if hasattr(shell, "get_parent") else {}
    run = parent.get("header", {}).get("msg_id")
    return parent.get("metadata", {}).get("cellId", run), run


_NAMES = {"US": "US units", "SI": "SI units"}
_STATIC = "Units shown here: {}. To change them, run the page (menu Run, then Run All Cells) and use the buttons."


class Switch(widgets.HBox):
    """Two buttons for the unit system of the chapter."""

    def __init__(self, units: Units):
        self.units, self.note = units, widgets.HTML()
        self.buttons = widgets.ToggleButtons(
            options=[(_NAMES[s], s) for s in SYSTEMS],
            value=units.system,
            tooltips=["ft, °F, in. w.c., lb/h, MBH", "m, °C, Pa, kg/s, kW"],
            style={"button_width": "90px"},
        )
        self.buttons.add_class("vc-units")
        self.buttons.observe(self._choose, names="value")
        units.observe(self._follow, names="system")
        super().__init__([self.buttons, self.note], model_id=units.next_id())

    def _choose(self, change: dict) -> None:
        if change["new"] != self.units.system:
            with working(self.note, "drawing again …"):
                unit_choice.remember(change["new"])
                self.units.system = change["new"]

    def _follow(self, change: dict) -> None:
        self.buttons.value = change["new"]

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        words = _STATIC.format(_NAMES[self.units.system])
        return with_static_text(super()._repr_mimebundle_(**kwargs), words, paragraph(words, "vc-live"))


def switch(units: Units = UNITS) -> None:
    """Show the buttons, at the top of a chapter."""
    display(Switch(units))


def in_units(make: Make, units: Units = UNITS, fold: str = "") -> None:
    """Show what ``make(system)`` returns, and show it again whenever the other system is chosen.

    It may return words (a text, a line a paragraph), a matplotlib Figure, HTML, Markdown or whatever a notebook shows,
    a live control, or a tuple of these, as many in either system. As a decorator it shows the function that follows.
    With ``fold`` it is shown under these words, for whoever opens them.
    """
    made = make(units.system)
    if isinstance(made, widgets.Widget):
        following = Following(make, made, model_id=units.next_id())
        display(following)
        units.follow(following.draw)
        return
    handles = [display(one, display_id=True) for one in _laid_out(made, fold)]

    def draw(system: str) -> None:
        for handle, one in zip(handles, _laid_out(make(system), fold), strict=True):
            if handle is not None:  # None outside a notebook
                handle.update(one)

    units.follow(draw)


def _laid_out(made: Any, fold: str) -> tuple:
    """What a notebook is given to show, one after the other, or all of it folded away under some words."""
    several = made if isinstance(made, tuple) else (made,)
    if not fold:
        return tuple(map(_shown, several))
    return (HTML(folded(fold, "".join(map(_inside, several)))),)


def _inside(one: Any) -> str:
    """HTML of what is folded: words, a figure, or HTML itself."""
    if isinstance(one, Figure):
        source = b64encode(png(one)).decode()
        return f'<img src="data:image/png;base64,{source}" width="{FIGURE_WIDTH}" alt="a figure">'
    return Words(one)._repr_html_() if isinstance(one, str) else one._repr_html_()


def _shown(one: Any) -> Any:
    """What a notebook is given to show."""
    if isinstance(one, Figure):
        return Image(png(one), width=FIGURE_WIDTH)
    return Words(one) if isinstance(one, str) else one


class Words:
    """Plain words, each line a paragraph."""

    def __init__(self, text: str):
        self.text = text.strip("\n")

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        lines = "<br>".join(escape(line) for line in self.text.splitlines())
        return f'<p style="line-height: 1.4; margin: 6px 0">{lines}</p>'


class Following(widgets.VBox):
    """Holds what is live in the unit system of the chapter; where that is made anew, it goes on from the one before."""

    def __init__(self, make: Make, made: widgets.Widget, **kwargs):
        self.make = make
        super().__init__([made], **kwargs)

    def draw(self, system: str) -> None:
        """Put the same in another system in its place."""
        (before,), made = self.children, self.make(system)
        if hasattr(made, "take_over"):
            made.take_over(before)
        self.children = (made,)

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        inner = self.children[0]._repr_mimebundle_(**kwargs)
        texts = {kind: told for kind, told in inner.items() if kind.startswith("text/")}
        return super()._repr_mimebundle_(**kwargs) | texts
