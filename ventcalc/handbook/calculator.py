"""Calculator: a quick check as data: what it asks, how that is read, what it answers, and its line of Python.

A number box takes a number, in the unit of the menu beside it, or a number with a unit of its own ("12 m"). What cannot
be read or cannot be is answered in words.
"""

import re
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ventcalc.gas import combustion, combustion_analysis, flue_gas
from ventcalc.gas.fuels import Fuel, fuel
from ventcalc.units import Q_, SYSTEMS, OutOfRangeWarning, Quantity, UnitsError, parse, show, shown_unit, unit_text

# Gases that the cards about a run offer. What they burned matters little there: their densities lie within 4 %,
# viscosities and specific heats within 10 % of one another at 300 °F.
GASES = {
    "natural gas, 30 % excess air": ("natural gas", 0.3),
    "propane, 30 % excess air": ("propane", 0.3),
    "no. 2 oil, 30 % excess air": ("no. 2 oil", 0.3),
    "air": None,
}

ANALYZER = {"% O₂, dry": "o2", "% CO₂, dry": "co2"}  # what the number of an analyzer means


@dataclass(frozen=True)
class Number:
    """A number to fill in: its ``name``, the ``label`` of its box, the ``menu`` of units that fit, and what stands
    there at first in US and in SI units ("40 ft"). ``least`` and ``most`` are limits of sense, with unit."""

    name: str
    label: str
    menu: tuple[str, ...]
    start: tuple[str, str]
    least: str = ""
    most: str = ""

    def begin(self, system: str) -> tuple[str, str]:
        """Number and unit at first."""
        number, _, unit = self.start[SYSTEMS.index(system)].partition(" ")
        return number, unit

    @property
    def options(self) -> list[tuple[str, str]]:
        """Options of the unit menu, as a reader knows them."""
        return [(unit_text(unit) or "–", unit) for unit in self.menu]

    def known(self, unit: str) -> str:
        """The unit of the menu that a reader writes so ("°F"), or else what was written."""
        return {unit_text(u): u for u in self.menu if u}.get(unit, unit)

    def read(self, text: str, unit: str) -> tuple[Quantity, str]:
        """The quantity that was typed, and Python for it.

        Raises `UnitsError` where it is no number or the unit does not fit, ValueError outside the limits.
        """
        number, unit = _number_and_unit(text, unit, self.label)
        unit = self.known(unit)
        value = parse(f"{number} {unit}") if unit else Q_(float(number), "")
        if not value.is_compatible_with(self.menu[0]):
            fitting = " or ".join(unit_text(u) for u in self.menu if u) or "a plain number"
            raise UnitsError(f"{self.label} is wanted in {fitting}, not in {unit_text(unit) if unit else 'no unit'}")
        for limit, sign in ((self.least, 1), (self.most, -1)):
            if limit and sign * (value - parse(limit)).magnitude < 0:
                edge = " = ".join(show(parse(limit), system) for system in SYSTEMS)
                raise ValueError(
                    f"{self.label}: {number} {unit_text(unit)} is {'below' if sign > 0 else 'above'} {edge}"
                )
        return value, f'Q_({number}, "{unit}")' if unit else number


@dataclass(frozen=True)
class Choice:
    """Something to choose: its ``name``, ``label`` and ``options``, of which the first stands there at first."""

    name: str
    label: str
    options: tuple[str, ...]


@dataclass(frozen=True)
class Reading:
    """What an analyzer reads in the dry flue gas: ``gas`` "o2" or "co2", and the share of it."""

    gas: str
    share: Quantity

    def excess_air(self, burned: Fuel) -> Quantity:
        """The excess air it stands for."""
        from_gas = {"o2": combustion_analysis.excess_air_from_o2, "co2": combustion_analysis.excess_air_from_co2}
        return from_gas[self.gas](burned, self.share)


@dataclass(frozen=True)
class Result:
    """One number of an answer: what it is, the number, and its kind (see `units.show`; "ppm" besides)."""

    label: str
    value: Quantity
    kind: str

    def text(self, system: str) -> str:
        """The number for a reader."""
        if self.kind == "ppm":
            return f"{float(self.value.m_as('ppm')):.0f} ppm"
        return show(self.value, system, self.kind)

    def unit(self, system: str) -> str:
        """The unit it is shown in."""
        return "ppm" if self.kind == "ppm" else shown_unit(self.kind, system)


@dataclass(frozen=True)
class Answer:
    """What a card answers: results, the first of them the answer, and cautions in words."""

    results: tuple[Result, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Calculator:
    """One card as data.

    ``answer`` takes the inputs by name. ``line`` is Python for the first result: inputs in braces, and ``{oxygen}``,
    which follows from the reading; the names burned, gas, excess_air and pressure are set before it where it has
    them. ``formula`` and ``note`` are HTML.
    """

    name: str
    title: str
    inputs: tuple[Number | Choice, ...]
    answer: Callable[..., Answer]
    line: str
    formula: str
    source: str
    note: str = ""

    def work(self, texts: Mapping[str, Any], system: str) -> tuple[Answer, str]:
        """Answer and line of Python for what stands in the boxes (see `start`).

        Raises ValueError and `UnitsError` in words a reader of the card understands.
        """
        values, code = {}, {}
        for box in self.inputs:
            values[box.name], code[box.name] = _read(box, texts[box.name])
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always", OutOfRangeWarning)
            answer = self.answer(**values)
        answer = Answer(answer.results, (*answer.cautions, *dict.fromkeys(str(w.message) for w in caught)))
        return answer, self._line(values, code, answer.results[0].unit(system))

    def _line(self, values: Mapping[str, Any], code: dict[str, str], unit: str) -> str:
        """One line: the names that its last expression needs, then that expression."""
        steps = {"burned": code.get("fuel"), "gas": code.get("gas")}
        if "reading" in values:
            measured = values["reading"].gas
            steps["excess_air"] = f"combustion_analysis.excess_air_from_{measured}(burned, {code['reading']})"
            products = "combustion.products(burned, excess_air).o2_dry"
            code["oxygen"] = code["reading"] if measured == "o2" else products
        if "altitude" in values:
            steps["pressure"] = f"atmosphere.standard_pressure({code['altitude']})"
        line = f'{self.line.format(**code)}.to("{unit}")'
        for name, step in reversed(steps.items()):
            if step and re.search(rf"\b{name}\b", line):
                line = f"{name} = {step}; {line}"
        return line

    def start(self, system: str) -> dict[str, Any]:
        """What stands in the boxes at first: (number, unit) of a `Number`, the text of a `Choice`."""
        return {b.name: b.begin(system) if isinstance(b, Number) else b.options[0] for b in self.inputs}


_THOUSANDS = re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d*)?")
_WRITE = "write a number such as 40 or 0.5"


def _number_and_unit(text: str, unit: str, label: str) -> tuple[str, str]:
    """Number, as Python writes it, and unit of what was typed; ``unit`` stands where none was typed."""
    number, _, own = text.strip().partition(" ")
    if not number:
        raise UnitsError(f"{label} is empty: {_WRITE}")
    if _THOUSANDS.fullmatch(number):
        number = number.replace(",", "")
    try:
        value = float(number)
    except ValueError:
        point = ", with a point for the decimals" if "," in number else ""
        raise UnitsError(f"{label}: {number[:30]!r} is not a number; {_WRITE}{point}") from None
    if value != value or abs(value) == float("inf"):
        raise ValueError(f"{label} must be finite")
    return repr(int(value) if value == int(value) and abs(value) < 1e15 else value), own.strip() or unit


def _read(box: Number | Choice, given: Any) -> tuple[Any, str]:
    """Value of one input, and Python for it."""
    if isinstance(box, Choice):
        return _CHOSEN[box.name](given)
    text, unit = given
    if unit in ANALYZER:
        share, code = Number(box.name, box.label, ("percent",), box.start).read(text, "percent")
        return Reading(ANALYZER[unit], share), code
    return box.read(text, unit)


def _chosen_gas(name: str) -> tuple[flue_gas.Gas, str]:
    if GASES[name] is None:
        return flue_gas.Gas.dry_air(), "flue_gas.Gas.dry_air()"
    burned, excess_air = GASES[name]
    return combustion.products(fuel(burned), excess_air).gas, f'combustion.products(fuel("{burned}"), {excess_air}).gas'


_CHOSEN = {"fuel": lambda name: (fuel(name), f'fuel("{name}")'), "gas": _chosen_gas}
