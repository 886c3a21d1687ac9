"""Door: quantities that are checked as they come into a function and passed on as they are.

`units.quantities` makes plain SI of them, for an equation; this is for whatever hands a quantity on: to a drawing of
the vent, a rule, a search.
"""

import inspect
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

import numpy as np

from ventcalc.units import Q_, magnitude, ureg


def door(
    *,
    above: Mapping[str, float] | None = None,
    at_least: Mapping[str, float] | None = None,
    arrays: tuple[str, ...] = (),
    **units: str,
) -> Callable:
    """Refuse what a function cannot take: ``@door(diameter="m", above={"diameter": 0.0})``.

    Each keyword names an argument and a unit in which it can be told. It must be one finite number, or any shape of
    them where it is among ``arrays``; ``above`` and ``at_least`` are limits of the possible in that unit, and
    temperatures in kelvin are above absolute zero. Left out (None) may be what is None by default or by its annotation.
    The function's own answer is left alone; what it ``.takes``, its ``.arrays`` and limits are told as well.

    Raises `UnitsError` at the call where a unit or kind does not fit, and ValueError where a number is impossible, each
    naming the argument, its value and what is valid.
    """
    above = {name: 0.0 for name, unit in units.items() if unit == "K"} | dict(above or {})
    at_least = dict(at_least or {})

    def decorate(function: Callable) -> Callable:
        signature = inspect.signature(function)
        unknown = {*units, *above, *at_least, *arrays} - {*signature.parameters}
        if unknown or {*above, *at_least, *arrays} - {*units}:
            raise TypeError(f"{function.__name__} takes no quantity {', '.join(sorted(unknown)) or 'of a limit'}")
        optional = {n for n, p in signature.parameters.items() if p.default is None or "None" in str(p.annotation)}

        @wraps(function)
        def public(*args, **kwargs):
            told = signature.bind(*args, **kwargs).arguments
            for name, unit in units.items():
                if name in told and not (told[name] is None and name in optional):
                    _refuse(f"{function.__name__}: {name}", told[name], unit, name, above, at_least, arrays)
            return function(*args, **kwargs)

        public.takes, public.above, public.at_least, public.arrays = dict(units), above, at_least, arrays
        return public

    return decorate


def _refuse(what: str, value: Any, unit: str, name: str, above: Mapping, at_least: Mapping, arrays: tuple) -> None:
    plain = magnitude(value, ureg.Unit(unit), what)
    if not np.size(plain):
        raise ValueError(f"{what} is empty; give {'numbers' if name in arrays else 'one number'}")
    if np.ndim(plain) and name not in arrays:
        raise ValueError(f"{what} must be one number, got shape {np.shape(plain)}")
    if not np.all(np.isfinite(plain)):
        raise ValueError(f"{what} must be finite, got {'NaN' if np.any(np.isnan(plain)) else 'infinity'}")
    for limits, holds, words in ((above, np.greater, "above"), (at_least, np.greater_equal, "at least")):
        if name in limits and not np.all(holds(plain, limits[name])):
            told, limit = Q_(float(np.min(plain)), unit), Q_(limits[name], unit)
            raise ValueError(f"{what} = {told:.4g~P} must be {words} {limit:.4g~P}")
