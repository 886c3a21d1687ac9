"""Compiled laws: formulas that are written once and run both on arrays and, as machine code, on one state at a time.

A sweep through a vent takes thousands of short formulas; on arrays of a few states each costs a call and little else.
`law` marks a formula that compiled code may call: from Python it stays what it is, plain numpy. `loop` compiles a
function that goes through the states. The machine code is kept on disk beside the package, or in the user's cache
folder where that cannot be written, under the fingerprint of all the package's sources: a formula that is changed is
compiled anew. Nowhere to write: it is compiled in every process.
"""

import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from numba import config, njit
from numba.extending import overload, register_jitable

_PACKAGE = Path(__file__).parent
_FOLDER = "machine_code"
# Ways in that nobody takes, from C and for a law from Python, need not be compiled.
_FROM_PYTHON = {"no_cfunc_wrapper": True}
_BARE = {"no_cfunc_wrapper": True, "no_cpython_wrapper": True}


@cache
def law(formula: Callable) -> Callable:
    """A formula that `loop` may call; called from Python it is unchanged. A division by nought gives inf, as in numpy.

    On one state it must stand for itself: `either` in place of `numpy.where`, `numpy.minimum` and `numpy.maximum` in
    place of `numpy.clip`. Of a formula with units it is the bare one: ``law(reynolds.bare)``.
    """
    return register_jitable(error_model="numpy", **_BARE)(formula)


def either(condition, one, other):
    """``one`` where the condition holds, else the ``other``: `numpy.where`, and in a `law` on one state a number."""
    return np.where(condition, one, other)


@overload(either)
def _either(condition, one, other):
    return lambda condition, one, other: one if condition else other


def loop(through: Callable) -> Callable:
    """Compile a function that goes through states one by one; its arguments are arrays of always the same kinds.

    Other threads run meanwhile (`chance_conditions`)."""
    folder = _folder()
    if folder is None:
        return njit(through, error_model="numpy", nogil=True, **_FROM_PYTHON)
    before, config.CACHE_DIR = config.CACHE_DIR, str(folder)  # read while the function is made, not later
    try:
        return njit(through, error_model="numpy", nogil=True, cache=True, **_FROM_PYTHON)
    finally:
        config.CACHE_DIR = before


@cache
def _fingerprint() -> str:
    """Of all sources: what is compiled holds formulas and constants of other modules too."""
    found = hashlib.sha256()
    for path in sorted(_PACKAGE.rglob("*.py")):
        found.update(path.read_bytes())
    return found.hexdigest()[:16]


@cache
def _folder() -> Path | None:
    """Where machine code of these sources is kept; what was kept of others is removed. None: nowhere to write."""
    users = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or Path.home() / ".cache"
    chosen = [Path(config.CACHE_DIR)] if config.CACHE_DIR else [_PACKAGE / "__pycache__", Path(users)]
    for base in chosen:
        folder = base / _FOLDER / _fingerprint()
        try:
            folder.mkdir(parents=True, exist_ok=True)
            tempfile.TemporaryFile(dir=folder).close()
        except OSError:
            continue
        for other in folder.parent.iterdir():
            if other != folder:
                shutil.rmtree(other, ignore_errors=True)  # another process compiles anew what it misses
        return folder
    return None
