"""Door: quantities that are checked as they come into a function and passed on as they are.

`units.quantities` makes plain SI of them, for an equation; this is for whatever hands a quantity on: to a drawing of
the vent, a rule, a search. It is for plain numbers as well, of a ratio or of those who work in SI throughout.
"""

import inspect
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

import numpy as np

from ventcalc.units import Q_, UnitsError, magnitude, ureg


def door(
    *,
    above: Mapping[str, float] | None = None,
    at_least: Mapping[str, float] | None = None,
    at_most: Mapping[str, float] | None = None,
    arrays: tuple[str, ...] = (),
    plain: Mapping[str, str] | None = None,
    **units: str,
) -> Callable:
    """Refuse what a function cannot take: ``@door(diameter="m", above={"diameter": 0.0})``.

    Each keyword names an argument and a unit in which it can be told. It must be one finite number, or any shape of
    them where it is among ``arrays``; ``above``, ``at_least`` and ``at_most`` are limits of the possible in that unit,
    and temperatures in kelvin are above absolute zero. ``plain`` are those told as a plain number, with the unit that
    it is in ("" for none): ``plain={"lasts": "s"}``. Left out (None) may be what is None by default or by its
    annotation. The function's own answer is left alone; what it ``.takes``, what ``.plain``, its ``.arrays`` and
    limits are told as well.

    Raises `UnitsError` at the call where a unit or kind does not fit, and ValueError where a number is impossible, each
    naming the argument, its value and what is valid.
    """
    above = {name: 0.0 for name, unit in units.items() if unit == "K"} | dict(above or {})
    at_least, at_most, plain = dict(at_least or {}), dict(at_most or {}), dict(plain or {})
    limits = (
        (above, np.greater, np.min, "above"),
        (at_least, np.greater_equal, np.min, "at least"),
        (at_most, np.less_equal, np.max, "at most"),
    )

    def decorate(function: Callable) -> Callable:
        signature = inspect.signature(function)
        limited = {*above, *at_least, *at_most, *arrays}
        unknown = {*units, *plain, *limited} - {*signature.parameters}
        if unknown or limited - {*units, *plain}:
            raise TypeError(f"{function.__name__} takes no quantity {', '.join(sorted(unknown)) or 'of a limit'}")
        optional = {n for n, p in signature.parameters.items() if p.default is None or "None" in str(p.annotation)}

        @wraps(function)
        def public(*args, **kwargs):
            told = signature.bind(*args, **kwargs).arguments
            for name, unit in (units | plain).items():
                if name in told and not (told[name] is None and name in optional):
                    what = f"{function.__name__}: {name}"
                    if name in plain:
                        value = _bare(told[name], what, name in arrays)
                    else:
                        value = magnitude(told[name], ureg.Unit(unit), what)
                    _refuse(what, value, unit, name, limits, arrays)
            return function(*args, **kwargs)

        public.takes, public.plain, public.arrays = dict(units), plain, arrays
        public.above, public.at_least, public.at_most = above, at_least, at_most
        return public

    return decorate


def _bare(value: Any, what: str, arrays: bool) -> Any:
    """A plain number, or an array of them, as it is, or an error: nothing that only turns into one."""
    held = np.asarray(value) if isinstance(value, (int, float, np.number, np.ndarray)) else np.asarray(None)
    if held.dtype.kind not in "iuf" or (held.ndim and not arrays):
        raise UnitsError(f"{what} must be {'plain numbers' if arrays else 'a plain number'}, got {str(value)[:60]!r}")
    return held


def _refuse(what: str, value: Any, unit: str, name: str, limits: tuple, arrays: tuple) -> None:
    if not np.size(value):
        raise ValueError(f"{what} is empty; give {'numbers' if name in arrays else 'one number'}")
    if np.ndim(value) and name not in arrays:
        raise ValueError(f"{what} must be one number, got shape {np.shape(value)}")
    if not np.all(np.isfinite(value)):
        raise ValueError(f"{what} must be finite, got {'NaN' if np.any(np.isnan(value)) else 'infinity'}")
    for limit, holds, worst, words in limits:
        if name in limit and not np.all(holds(value, limit[name])):
            told, edge = Q_(float(worst(value)), unit), Q_(limit[name], unit)
            raise ValueError(f"{what} = {told:.4g~P} must be {words} {edge:.4g~P}")
