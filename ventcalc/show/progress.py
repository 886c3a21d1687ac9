"""Progress: how far long work has come and how long it will take yet, on standard error, where someone watches."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from tqdm import tqdm

from ventcalc import compiled

_DONE = 100  # per cent


@contextmanager
def bar() -> Iterator[Callable[[str, float], None]]:
    """A bar for work that says what it is at and the share that is done: ``told(step, share)``."""
    with tqdm(total=_DONE, bar_format="{desc} {percentage:3.0f} % |{bar}| {remaining} left", **_look()) as shown:

        def told(step: str, share: float) -> None:
            shown.set_description_str(step)
            shown.update(max(_DONE * share - shown.n, 0.0))

        yield told


@contextmanager
def count(total: int, unit: str) -> Iterator[Callable[[str], None]]:
    """A bar for things done one by one: ``step(name)``."""
    with tqdm(total=total, unit=unit, **_look()) as shown:

        def step(name: str) -> None:
            shown.set_description_str(name)
            shown.update()

        yield step


def first_time() -> None:
    """Say what takes so long, where someone watches, as long as no machine code is kept (`compiled`)."""
    if sys.stderr.isatty() and not compiled.is_kept():
        print("The first time, formulas are compiled: about a minute, once on this machine.", file=sys.stderr)


def _look() -> dict[str, Any]:
    """No bar where standard error is no terminal; it is gone when the work is done."""
    return {"file": sys.stderr, "disable": not sys.stderr.isatty(), "leave": False, "dynamic_ncols": True}
