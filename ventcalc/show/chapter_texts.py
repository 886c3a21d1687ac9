"""Chapter texts: what a chapter keeps as data in ``data/handbook/<chapter>.toml``, read and told in one unit system.

Questions, the prediction and what is to be written stand there, to be changed or translated without touching code. Any
value may be told in two ways, ``{US = ..., SI = ...}``; what is given may be drawn by a seed: see `questions`.
"""

import re
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from inspect import signature
from typing import Any

import numpy as np

from ventcalc.tables import DATA
from ventcalc.units import Q_, SYSTEMS, Quantity, parse
from ventcalc.words import fill

Work = Callable[..., Mapping[str, Any]]


@cache
def read(chapter: str) -> Mapping[str, Any]:
    """All that the file of a chapter holds."""
    with (DATA / "handbook" / f"{chapter}.toml").open("rb") as file:
        return tomllib.load(file)


def told(value: Any, system: str) -> Any:
    """A value as one system tells it."""
    return value[system] if isinstance(value, Mapping) and set(value) == set(SYSTEMS) else value


def text(value: Any, figures: Mapping[str, Any], system: str) -> str:
    """A text on one line, with its figures. Raises KeyError where it tells one that is not there."""
    return fill(" ".join(told(value, system).split()), figures, system)


def given(values: Mapping[str, Any], system: str, draw: np.random.Generator | None = None) -> dict[str, Any]:
    """What is given, by name: as the book has it, or drawn from what may be asked instead."""
    return {name: _given(told(value, system), draw) for name, value in values.items()}


def worked(work: Work, given: Mapping[str, Any], system: str) -> dict[str, Any]:
    """What is given, and what a function of the chapter works out of it; it is told the ``system`` if it asks."""
    return {**given, **work(**given, **({"system": system} if "system" in signature(work).parameters else {}))}


def refuse_keys(where: str, row: Mapping[str, Any], required: set[str], optional: set[str]) -> None:
    """Raise ValueError where a key of a table is unknown or lacking."""
    unknown, lacking = set(row) - required - optional, required - set(row)
    if unknown or lacking:
        raise ValueError(f"{where}: unknown {sorted(unknown)}, lacking {sorted(lacking)}")


def _given(value: Any, draw: np.random.Generator | None) -> Any:
    if not isinstance(value, Mapping):
        return plain(value)
    if draw is None:
        return plain(value["is"])
    if "among" in value:
        return plain(value["among"][draw.integers(len(value["among"]))])
    return _between(plain(value["from"]), plain(value["to"]), int(draw.integers(value["steps"] + 1)), value["steps"])


def _between(low: Any, high: Any, step: int, steps: int) -> Any:
    """A quantity or number so many of ``steps`` above the low one; whole where both ends and the steps are."""
    if isinstance(low, Quantity):
        return Q_(_between(low.m, high.m_as(low.u), step, steps), low.u)
    whole = isinstance(low, int) and isinstance(high, int) and (high - low) % steps == 0
    return low + step * (high - low) // steps if whole else round(low + step * (high - low) / steps, 10)


def plain(value: Any) -> Any:
    """A text that begins with a number is a quantity."""
    return parse(value) if isinstance(value, str) and re.match(r"[-+]?[\d.]", value) else value
