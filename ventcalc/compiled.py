"""Compiled laws: formulas that are written once and run both on arrays and, as machine code, on one state at a time.

A sweep through a vent takes thousands of short formulas; on arrays of a few states each costs a call and little else.
`law` marks a formula that compiled code may call: from Python it stays what it is, plain numpy. `loop` compiles a
function that goes through the states, when it is first called: whoever only reads a job or shows a number does not
wait for the compiler. The machine code is kept on disk beside the package, or in the user's cache folder where that
cannot be written, under the fingerprint of all sources that may hold a law: a formula that is changed is compiled anew.
Nowhere to write: it is compiled in every process.
"""

import hashlib
import shutil
import threading
from collections.abc import Callable
from functools import cache, wraps
from pathlib import Path

import numpy as np

from ventcalc import kept

_FOLDER = "machine_code"
_PARTS = ("gas", "flow", "vent", "draft", "building")  # with laws in them; what follows (job, show) holds none
# A loop makes no arrays: it is given room to work in (``room``). So nobody counts who holds which array, which took a
# seventh of the time of a study; numba refuses a loop that would make one.
_NO_ARRAYS = {"_nrt": False}
# Ways in that nobody takes, from C and for a law from Python, need not be compiled.
_FROM_PYTHON = {"no_cfunc_wrapper": True}
_BARE = {"no_cfunc_wrapper": True, "no_cpython_wrapper": True}


_waiting: list[Callable[[], None]] = []  # laws and loops the compiler has not been told of yet
_telling = threading.RLock()


@cache
def law(formula: Callable) -> Callable:
    """A formula that `loop` may call; called from Python it is unchanged. A division by nought gives inf, as in numpy.

    On one state it must stand for itself: `either` in place of `numpy.where`, `numpy.minimum` and `numpy.maximum` in
    place of `numpy.clip`. Of a formula with units it is the bare one: ``law(reynolds.bare)``.
    """
    return _waits(formula)


@cache
def part(formula: Callable) -> Callable:
    """A `law` that stands in the machine code of whoever calls it.

    For what is called again and again with many arrays: whoever holds one is counted at every call of a function.
    """
    return _waits(formula, forceinline=True)


def _waits(formula: Callable, **how) -> Callable:
    """The formula, of which the compiler is told when it is first needed."""

    def told():
        from numba.extending import register_jitable

        register_jitable(error_model="numpy", **_BARE, **how)(formula)

    _waiting.append(told)
    return formula


@part
def put(place, values) -> None:
    """Write the ``values`` of a row into its ``place``: ``place[:] = values``, which would make an array on its way."""
    for i in range(place.size):
        place[i] = values[i]


def either(condition, one, other):
    """``one`` where the condition holds, else the ``other``: `numpy.where`, and in a `law` on one state a number."""
    return np.where(condition, one, other)


def _tell_either() -> None:
    from numba.extending import overload

    @overload(either)
    def _(condition, one, other):
        return lambda condition, one, other: one if condition else other


_waiting.append(_tell_either)


def loop(through: Callable) -> Callable:
    """Compile a function that goes through states one by one; its arguments are arrays of always the same kinds.

    It makes no array and returns none: it fills what it is given. Other loops may call it. Other threads run meanwhile
    (`chance_conditions`)."""
    machine = None

    @wraps(through)
    def run(*arguments):
        nonlocal machine
        if machine is None:
            machine = _machine(through)
        return machine(*arguments)

    def told():
        from numba.extending import overload

        overload(run, jit_options={"error_model": "numpy", **_BARE}, strict=False)(lambda *_: through)

    _waiting.append(told)
    return run


def _machine(through: Callable) -> Callable:
    """The compiled function, which knows every law and loop written so far."""
    from numba import config, njit

    with _telling:
        while _waiting:
            _waiting.pop()()
        folder = _folder()
        before = config.CACHE_DIR
        config.CACHE_DIR = str(folder or before)  # read while the function is made, not later
        try:
            return njit(
                through, error_model="numpy", nogil=True, cache=folder is not None, **_NO_ARRAYS, **_FROM_PYTHON
            )
        finally:
            config.CACHE_DIR = before


@cache
def _fingerprint() -> str:
    """Of the sources of all `_PARTS`: what is compiled holds formulas and constants of other modules too."""
    found = hashlib.sha256()
    for path in sorted(
        [*kept.PACKAGE.glob("*.py"), *(path for part in _PARTS for path in (kept.PACKAGE / part).rglob("*.py"))]
    ):
        found.update(path.read_bytes())
    return found.hexdigest()[:16]


@cache
def _folder() -> Path | None:
    """Where machine code of these sources is kept; what was kept of others is removed. None: nowhere to write."""
    base = kept.folder(_FOLDER)
    if base is None:
        return None
    folder = base / _fingerprint()
    try:
        folder.mkdir(exist_ok=True)
    except OSError:
        return None
    for other in base.iterdir():
        if other != folder:
            shutil.rmtree(other, ignore_errors=True)  # another process compiles anew what it misses
    return folder


def is_kept() -> bool:
    """Whether machine code of these sources is kept on disk, so that nobody waits for the compiler."""
    folder = _folder()
    return folder is not None and any(folder.rglob("*.nbc"))
