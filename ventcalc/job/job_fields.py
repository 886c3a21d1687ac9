"""Job fields: what one value of a job file may be, a name or a quantity with its unit written out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from ventcalc.units import EXAMPLES, Quantity, UnitsError, magnitude, parse, ureg

NAME = re.compile(r"[\w][\w .,:()/#+&'’°-]{0,59}")
_NAME_RULE = (
    "a name holds 1 to 60 letters, digits, spaces and . , : - _ ( ) / # + & ' and begins with a letter or digit"
)


# Sizes of numbers in SI units, smallest but nought and largest, that some building may have: far wider than any of them
# (common practice, no source), but beyond them a solver works on nothing real.
SIZES = {
    "m": (1e-7, 1e4),  # a roughness, a tunnel
    "m**2": (1e-6, 1e4),
    "m**3": (1e-6, 1e6),
    "K": (1.0, 1e5),
    "Pa": (1e-4, 1e7),  # a room's draft, the rating of a plastic pipe
    "W": (1.0, 1e9),
    "m/s": (1e-3, 150.0),
    "m**3/s": (1e-9, 1e4),
    "s": (1e-3, 1e9),
    "1/s": (1e-9, 1e3),
    "": (1e-12, 1e4),
    "W/(m*K)": (1e-4, 1e4),
    "kg/m**3": (1e-2, 3e4),
    "J/(kg*K)": (1.0, 1e5),
}


# Heating values, rounded (common practice, no source): only to show whoever reads it what to write.
_BY_ITS_FUEL = (
    "; it is heat that is asked for: a gal/h of no. 2 oil is about 140 MBH, a ft3/h of natural gas about 1 MBH"
)


def as_written(value: Quantity) -> str:
    """A value as the file has it, so that it can be found there."""
    return f"{value.m:,.12g} {value.units:~P}"


@dataclass(frozen=True)
class Bounds:
    """What a value may be at all, ``least`` to ``most`` in plain SI, and ``what`` that is."""

    least: float
    most: float
    what: str

    def check(self, quantity: Quantity, unit: str) -> None:
        """Raises ValueError for a value beyond them."""
        if not self.least <= float(quantity.m_as(unit)) <= self.most:
            ends = (float(ureg.Quantity(end, unit).m_as(quantity.units)) for end in (self.least, self.most))
            least, most = (f"{float(f'{end:.4g}'):,.12g}" for end in ends)
            raise ValueError(f"{as_written(quantity)} must be {least} to {most} {quantity.units:~P}: {self.what}")


_INCH = ureg.Quantity(1.0, "inH2O").m_as("Pa")
# Wider than what any listed appliance allows at its outlet, and than any burner of a building (common practice, no
# source): but not so wide that absolute pressure, or BTU/h for MBH, would pass.
DRAFTS = Bounds(-5.0 * _INCH, 5.0 * _INCH, "gauge against the room, negative is draft")
HEAT_INPUTS = Bounds(500.0, 60e6, "the heat input of one burner")
# A thousandth of a percent is finer, and a tenth coarser, than what moves any damper (common practice, no source).
ACTUATOR_STEPS = Bounds(1e-5, 0.1, "the smallest move that a damper's actuator repeats, of its stroke")
# Of methanol to that of a light petroleum (common practice, no source).
LIQUID_HEAT = Bounds(20e6, 50e6, "the higher heating value of a liquid, a kilogram or a pound of it")


def _sized(quantity: Quantity, unit: str) -> None:
    """Raises ValueError for a number that no building has."""
    least, most = SIZES.get(unit, (0.0, inf))
    size = abs(float(quantity.m_as(unit)))
    if size > most or 0.0 < size < least:
        end, most_or_least = (most, "most") if size > most else (least, "least")
        told = ureg.Quantity(end, unit).to(quantity.units)
        raise ValueError(f"{quantity:~P} is no size of this world; at {most_or_least} {told:.3g~P}")


def _by_its_fuel(value: str, unit: str) -> str:
    """What to write where a burner's heat is told by the fuel it burns, as a nozzle or a gas meter tells it."""
    per_time = re.search(
        r"(gal|ft3|ft\*\*3|cu ?ft|cf|m3|m\*\*3|l)[a-z]* ?(/|per)? ?(h|hr|hour|min)\b|\b(gph|cfh)\b", value.lower()
    )
    return _BY_ITS_FUEL if unit == "W" and per_time else ""


def quantity(unit: str, sized: bool = True, bounds: Bounds | None = None):
    """A field that takes text such as "40 ft" and gives a quantity that fits ``unit``.

    It has some size (`SIZES`), unless its bounds are told elsewhere, and lies within its own ``bounds``.
    """
    wanted = ureg.Unit(unit)

    def read(value: Any) -> Quantity:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError(f"write a quantity as text, such as {EXAMPLES[unit]!r}")
        if not isinstance(value, str):
            raise ValueError(f"the unit is missing; write it out, such as {EXAMPLES[unit]!r}")
        try:
            quantity = parse(value, wanted)
            magnitude(quantity, wanted, "it")
            if sized:
                _sized(quantity, unit)
            if bounds is not None:
                bounds.check(quantity, unit)
        except UnitsError as error:
            raise ValueError(f"{error}{_by_its_fuel(value, unit)}") from None
        return quantity

    told = {"type": "string", "examples": [EXAMPLES[unit]], "x-unit": unit}
    return Annotated[Any, BeforeValidator(read), WithJsonSchema(told)]


def _name(value: Any) -> str:
    if not isinstance(value, str) or not NAME.fullmatch(value):
        raise ValueError(_NAME_RULE)
    return value


Name = Annotated[str, BeforeValidator(_name), WithJsonSchema({"type": "string", "minLength": 1, "maxLength": 60})]
Altitude = quantity("m", sized=False)  # `atmosphere` bounds it
Length, Temperature, Pressure, Power = (quantity(u) for u in ("m", "K", "Pa", "W"))
Speed, VolumeFlow, Ratio, Duration, Volume = (quantity(u) for u in ("m/s", "m**3/s", "", "s", "m**3"))
Area, Rate = (quantity(u) for u in ("m**2", "1/s"))
Conductivity, Density, SpecificHeat = (quantity(u) for u in ("W/(m*K)", "kg/m**3", "J/(kg*K)"))
Draft, HeatInput = quantity("Pa", bounds=DRAFTS), quantity("W", bounds=HEAT_INPUTS)
HeatingValue = quantity("J/kg", sized=False, bounds=LIQUID_HEAT)
Step = quantity("", sized=False, bounds=ACTUATOR_STEPS)
Window = Annotated[list[Draft], Field(min_length=2, max_length=2)]
Point = Annotated[list[Length], Field(min_length=2, max_length=2)]
Corner = Annotated[list[Length], Field(min_length=3, max_length=3)]


class Form(BaseModel):
    """A table of the file: it knows its own keys and no others."""

    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True)


class Leak(Form):
    """What leaks at one pressure: of an idle appliance, of a room."""

    flow: VolumeFlow
    pressure: Pressure


def quantities(value: Any) -> Iterator[Quantity]:
    """Every quantity that a form or a list of the file was given, as it is written; not what it left out."""
    if isinstance(value, Quantity):
        yield value
    elif isinstance(value, list):
        for each in value:
            yield from quantities(each)
    elif isinstance(value, Form):
        for key in value.model_fields_set:
            yield from quantities(getattr(value, key))
