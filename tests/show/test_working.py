"""Working: a word appears while something takes long, and goes when it is done; none for what is quick."""

import threading
import time

import ipywidgets as widgets
import pytest

from ventcalc.show import working


@pytest.fixture
def note(monkeypatch):
    """A note that remembers all that it said, and work that is long at once."""
    monkeypatch.setattr(working, "LONG", 0.01)
    shown = widgets.HTML()
    shown.said = []
    shown.observe(lambda change: shown.said.append(change["new"]), names="value")
    return shown


def wait_for_a_word(note):
    """However busy the machine is; a word that never comes fails what is asserted next."""
    late = time.monotonic() + 30
    while not note.value and time.monotonic() < late:
        time.sleep(0.01)


def test_long_work_is_named_while_it_lasts(note):
    with working.working(note, "drawing again …"):
        wait_for_a_word(note)
        assert note.value == "<i>drawing again …</i>"
    assert note.value == "" and note.said == ["<i>drawing again …</i>", ""]


def test_quick_work_needs_no_word(note, monkeypatch):
    monkeypatch.setattr(working, "LONG", 60.0)
    with working.working(note):
        (timer,) = (one for one in threading.enumerate() if isinstance(one, threading.Timer))
    timer.join(30)
    assert not timer.is_alive() and note.said == []


def test_the_word_goes_where_the_work_fails(note):
    with pytest.raises(ZeroDivisionError), working.working(note):
        wait_for_a_word(note)
        raise ZeroDivisionError
    assert note.value == "" and len(note.said) == 2
