"""Numbers: what a report says with a unit, as plain data, and the counts and operating conditions it names.

A number is ``{"value": plain SI number or null, "unit": its unit, "shown": text in the chosen unit system}``.
"""

import math
from collections.abc import Iterable
from typing import Any

from ventcalc.draft import startup_sheet
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent.firing_states import Scan
from ventcalc.words import say

NONE_SHOWN = "–"

# The unit in which the plain number of each kind of quantity is written.
_SI_UNIT = {
    "area": "m**2",
    "draft": "Pa",
    "barometric pressure": "Pa",
    "height": "m",
    "altitude": "m",
    "diameter": "m",
    "temperature": "K",
    "temperature difference": "delta_degC",
    "heat rate": "W",
    "energy": "J",
    "volume flow": "m**3/s",
    "mass flow": "kg/s",
    "mass": "kg",
    "water a year": "m**3",
    "density": "kg/m**3",
    "condensate": "kg/s",
    "condensate a day": "kg/s",
    "wind": "m/s",
    "velocity": "m/s",
    "time": "s",
    "ratio": "dimensionless",
}

# The units in which the plain number of a setting is written.
_SET_UNITS = ("Pa", "s", "1/Pa", "m**3", "dimensionless")


def number(value: Quantity | float | None, kind: str, system: str) -> dict[str, Any]:
    """A quantity, or a plain number in the SI unit of its kind, with how it is shown; null where there is none."""
    unit = _SI_UNIT[kind]
    if isinstance(value, Quantity):
        value = value.m_as(unit)
    if value is None or not math.isfinite(value):
        return {"value": None, "unit": unit, "shown": NONE_SHOWN}
    return {"value": float(value), "unit": unit, "shown": show(Q_(float(value), unit), system, kind)}


def numbers(values: Iterable[Quantity | float | None], kind: str, system: str) -> list[dict[str, Any]]:
    """Several of one kind, such as a lowest and a highest."""
    return [number(value, kind, system) for value in values]


def setting(value: Quantity, system: str) -> dict[str, Any]:
    """What something is set to, shown as on the start-up sheet."""
    unit = next(u for u in _SET_UNITS if value.is_compatible_with(u))
    return {"value": float(value.m_as(unit)), "unit": unit, "shown": startup_sheet.shown(value, system)}


def state(scan: Scan, index: int, system: str) -> dict[str, Any]:
    """An operating condition of a scan: in words, and what each appliance does in which season, stack and wind."""
    states = scan.states
    doing = {a.name: a.states[c] for a, c in zip(scan.plant.appliances, states.codes[:, index], strict=True)}
    return {
        "index": int(index),
        "words": scan.describe(index, system),
        "appliances": doing,
        "season": scan.seasons[states.season[index]].name,
        "cold_stack": bool(states.cold[index]),
        "wind": bool(states.windy[index]),
    }


def of_number(name: str, count: int) -> str:
    """The name of a sentence that is told otherwise of one than of none or several."""
    return f"{name}_one" if count == 1 else name


def counted(what: str, count: int) -> str:
    """A count with its noun: "1 fault", "2 faults"; ``what`` as in the table ``count`` of the words."""
    return say("show", "count", of_number(what, count), number=count)
