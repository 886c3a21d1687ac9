"""Working: a word appears while something takes long, and goes when it is done; none for what is quick."""

import time

import ipywidgets as widgets
import pytest

from ventcalc.show import working


@pytest.fixture
def note(monkeypatch):
    """A note that remembers all that it said, and a patience short enough for a test."""
    monkeypatch.setattr(working, "LONG", 0.05)
    shown = widgets.HTML()
    shown.said = []
    shown.observe(lambda change: shown.said.append(change["new"]), names="value")
    return shown


def test_long_work_is_named_while_it_lasts(note):
    with working.working(note, "drawing again …"):
        time.sleep(0.3)
        assert note.value == "<i>drawing again …</i>"
    assert note.value == "" and note.said == ["<i>drawing again …</i>", ""]


def test_quick_work_needs_no_word(note):
    with working.working(note):
        pass
    time.sleep(0.15)
    assert note.said == []


def test_the_word_goes_where_the_work_fails(note):
    with pytest.raises(ZeroDivisionError), working.working(note):
        time.sleep(0.2)
        raise ZeroDivisionError
    assert note.value == "" and len(note.said) == 2
