"""Working: "solving ..." beside whatever takes longer than half a second, so that nobody thinks that it hangs."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, Timer

import ipywidgets as widgets

LONG = 0.5  # s; common practice, no source: what comes sooner needs no word


@contextmanager
def working(note: widgets.HTML, words: str = "solving …") -> Iterator[None]:
    """Say ``words`` in ``note`` if the work inside takes longer than `LONG`, and take them away when it is done."""
    lock, done = Lock(), []

    def say() -> None:
        with lock:
            if not done:
                note.value = f"<i>{words}</i>"

    timer = Timer(LONG, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        with lock:
            done.append(True)
            note.value = ""
