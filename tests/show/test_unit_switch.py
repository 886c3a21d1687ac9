"""Unit switch: what was shown is shown again in the other system, where it stands, and a saved page stays plain."""

import ipywidgets as widgets
import pytest
from IPython.core.interactiveshell import InteractiveShell
from IPython.display import HTML
from matplotlib.figure import Figure

from ventcalc.show import panels, unit_switch
from ventcalc.show.plots import png
from ventcalc.show.unit_switch import Following, Switch, Units, in_units


class Page:
    """What a notebook would have been asked to show: by handle, the last of each."""

    def __init__(self):
        self.shown, self.plain = {}, []

    def display(self, one, display_id=False):
        if not display_id:
            self.plain.append(one)
            return None
        key = len(self.shown)
        self.shown[key] = one
        page = self

        class Handle:
            def update(self, new):
                page.shown[key] = new

        return Handle()


class Shell:
    """The cell that is being run, as a kernel tells it."""

    def __init__(self):
        self.cell, self.run = "a", 1

    def get_parent(self):
        return {"header": {"msg_id": self.run}, "metadata": {"cellId": self.cell}}


@pytest.fixture
def page(monkeypatch):
    page = Page()
    monkeypatch.setattr(unit_switch, "display", page.display)
    return page


@pytest.fixture
def shell(monkeypatch):
    shell = Shell()
    monkeypatch.setattr(unit_switch, "get_ipython", lambda: shell)
    return shell


@pytest.fixture
def units():
    return Units("US")


def test_words_tables_and_figures_follow(page, shell, units):
    def figure(system):
        drawn = Figure((2, 1))
        drawn.text(0.1, 0.5, system)
        return drawn

    in_units(lambda system: f"in {system} & words\n", units)
    in_units(lambda system: (HTML(f"<b>{system}</b>"), figure(system)), units)
    words, html, image = page.shown.values()
    assert str(words) == "in US & words" and "in US &amp; words" in words._repr_html_()
    assert html.data == "<b>US</b>" and image.data == png(figure("US"))
    units.system = "SI"
    words, html, image = page.shown.values()
    assert str(words) == "in SI & words" and html.data == "<b>SI</b>" and image.data == png(figure("SI"))


def test_as_a_decorator_it_shows_what_follows(page, shell, units):
    @in_units
    def ignored(system):  # the kernel's own switch
        return "shown"

    assert [str(s) for s in page.shown.values()] == ["shown"]


def test_a_cell_that_is_run_again_lets_go_of_what_it_had_shown(page, shell, units):
    made = []
    for run in (1, 2):
        shell.run = run
        in_units(lambda system, run=run: made.append((run, system)) or "", units)
    shell.cell, shell.run = "b", 3
    in_units(lambda system: made.append(("b", system)) or "", units)
    made.clear()
    units.system = "SI"
    assert made == [(2, "SI"), ("b", "SI")]


def test_two_displays_of_one_run_both_follow(page, shell, units):
    in_units(lambda system: f"one {system}", units)
    in_units(lambda system: f"two {system}", units)
    units.system = "SI"
    assert [str(s) for s in page.shown.values()] == ["one SI", "two SI"]


def doubled(system):
    """A panel that doubles feet or meters."""
    options = [(f"{n} {system}", float(n)) for n in ((1, 2, 3) if system == "US" else (1.1, 2.1, 3.2))]

    def answer(number):
        return f"<p>{system} {2 * number:.1f}</p>", png(Figure((1, 1)))

    return panels.Panel(answer, {"number": panels.slider("Number", options, 1.0)})


def test_live_controls_stay_where_a_reader_brought_them(page, shell, units):
    in_units(doubled, units)
    (following,) = page.plain
    following.children[0].controls["number"].value = 2.0
    units.system = "SI"
    (panel,) = following.children
    assert panel.numbers.value == "<p>SI 4.2</p>" and panel.controls["number"].value == 2.1
    panel.controls["number"].value = 3.2
    assert panel.numbers.value == "<p>SI 6.4</p>"


def test_a_saved_page_reads_what_was_shown():
    following = Following(doubled, doubled("US"))
    bundle = following._repr_mimebundle_()
    assert "US 2.0" in bundle["text/html"] and "application/vnd.jupyter.widget-view+json" in bundle
    assert following.model_id in str(bundle["application/vnd.jupyter.widget-view+json"])


def test_the_buttons_choose_and_follow(units, monkeypatch):
    remembered = []
    monkeypatch.setattr(unit_switch.unit_choice, "remember", remembered.append)
    one, two = Switch(units), Switch(units)
    one.buttons.value = "SI"
    assert units.system == "SI" and two.buttons.value == "SI" and remembered == ["SI"]
    assert "SI units" in one._repr_mimebundle_()["text/html"]


def test_outside_a_notebook_it_shows_and_follows_all_the_same(units, capsys):
    assert InteractiveShell.initialized() is False
    in_units(lambda system: f"in {system}", units)
    units.system = "SI"  # nothing to draw in; no error
    assert "in US" in capsys.readouterr().out


def test_a_widget_that_cannot_take_over_is_made_anew():
    following = Following(lambda system: widgets.HTML(system), widgets.HTML("US"))
    following.draw("SI")
    assert following.children[0].value == "SI"


def test_widgets_have_the_ids_that_a_saved_chapter_gives_them(page, shell, units):
    # As tests/run_chapters.py numbers them: by the order in which they are shown.
    unit_switch.switch(units)
    in_units(doubled, units)
    assert [shown.model_id for shown in page.plain] == [f"{k:032x}" for k in (1, 2)]


def test_what_is_folded_is_one_piece_and_follows_the_units(page):
    units, figure = Units("US"), Figure(figsize=(1, 1))
    in_units(lambda system: (f"a < b in {system}", HTML(f"<b>{system}</b>"), figure), units, fold="Open & see")
    (folded,) = page.shown.values()
    assert folded.data.startswith("<details><summary>Open &amp; see</summary>") and "a &lt; b in US" in folded.data
    assert "<b>US</b>" in folded.data and folded.data.count("data:image/png;base64,iVBOR") == 1
    units.system = "SI"
    (folded,) = page.shown.values()
    assert "a &lt; b in SI" in folded.data and "<b>SI</b>" in folded.data and "US" not in folded.data
