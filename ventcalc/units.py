"""Units: one registry, the trade's own units, and the door between quantities and plain numbers.

Every equation of the library is written once, on plain SI floats or arrays. The decorator
`quantities` makes the public function of it: quantities in, a quantity out, wrong units and
impossible values refused by name. The bare function stays reachable as ``function.bare`` for code
that runs in loops.

Pressures are gauge unless a name says "absolute" or "barometric"; negative is draft.
"""

import inspect
import re
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache, wraps
from numbers import Integral
from types import GenericAlias, UnionType
from typing import Any

import numpy as np
import pint
from pint.util import UnitsContainer

from ventcalc import kept
from ventcalc.unit_names import below_one_slash, larger_and_smaller, number_and_unit, spelled_out


class _Quantity(pint.registry.Quantity):
    """pint's quantity, with the factor between two units found once: a study asks for some thirty thousand numbers in
    a unit and hashes some eight thousand, which took a tenth of its time."""

    def m_as(self, units):
        factor = _factor(self._units, units) if isinstance(units, (str, pint.Unit)) else None
        if factor is None:
            return super().m_as(units)
        return self._magnitude if factor == 1.0 else self._magnitude * factor

    def __hash__(self):
        base = _base_units(self._units)
        if base is None:
            return super().__hash__()
        return hash((type(self), self._magnitude * _factor(self._units, base), base))


class _Registry(pint.UnitRegistry):
    Quantity = _Quantity


@cache
def _factor(held: UnitsContainer, wanted: str | pint.Unit) -> float | None:
    """What a number in the unit held is multiplied with; None where that is not all, as with degrees."""
    unit = ureg.Unit(wanted)
    return ureg.convert(1.0, held, unit) if ureg.convert(0.0, held, unit) == 0.0 else None


@cache
def _base_units(held: UnitsContainer) -> pint.Unit | None:
    """The base units of what has a dimension and is a number of them; else None, and pint decides."""
    base = Q_(1.0, held).to_base_units().units
    return None if base.dimensionless or _factor(held, base) is None else base


def _register() -> _Registry:
    """All units of pint, read from disk where they are kept: to parse their definitions takes a tenth of a second."""
    try:
        return _Registry(cache_folder=kept.folder("units"))
    except Exception:  # a file that was cut off may raise anything
        return _Registry()


ureg = _register()
Quantity = Q_ = ureg.Quantity

# pint would read "cfm" as a centi-femtometer; the trade means cubic feet per minute.
ureg.define("cubic_foot_per_minute = foot**3 / minute = cfm = CFM")
ureg.define("thousand_btu_per_hour = 1000 * Btu / hour = MBH = mbh")
ureg.define("foot_per_minute = foot / minute = fpm")
# pint's inH2O is the conventional one, 249.089 Pa (1000 kg/m3 and standard gravity).
ureg.define("@alias inch_H2O = inwc")

GRAVITY = 9.80665  # m/s2, standard gravity (CGPM 1901)
GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
ZERO_CELSIUS = 273.15  # K

# Words that the trade or pint reads two ways, and what to write instead. MBtu is a thousand to some and
# a million to others; a standard cubic foot is defined at 60, 68 or 70 °F; pint's F, C and R are the
# farad, the coulomb and the gas constant.
_HEAT_RATE = "MBH (a thousand Btu/h), Btu/hour or kW"
_STANDARD_FLOW = "cfm at the density meant, or lb/hour"
AMBIGUOUS_UNITS = {
    **dict.fromkeys(
        (
            *("MBtu", "MBTU", "mBtu", "mmBtu", "MMBtu", "MMBTU"),
            *("MBtuh", "MBTUH", "MBTUh", "mBtuh", "MMBtuh", "MMBTUH", "MMBTUh"),
        ),
        _HEAT_RATE,
    ),
    **dict.fromkeys(("scfm", "SCFM"), _STANDARD_FLOW),
    "F": "degF for a temperature, delta_degF for a difference",
    "C": "degC for a temperature, delta_degC for a difference",
    "R": "degR",
    **dict.fromkeys(("bhp", "BHP"), "boiler hp, or hp where it is the power at a shaft"),
}


class UnitsError(TypeError):
    """A value has no unit, or one that does not fit."""


class OutOfRangeWarning(UserWarning):
    """A value lies outside the range for which a correlation was published."""


# How a quantity of each unit is written, to show in a message.
EXAMPLES = {"m": "40 ft", "K": "20 degF", "Pa": "-0.05 inH2O", "W": "1700 MBH", "m/s": "12 mph",
            "m**3/s": "100 cfm", "": "30 %", "s": "4000 hour", "m**3": "10 ft**3",
            "1/Pa": "100 percent/inH2O", "m**2": "200 inch**2", "1/s": "0.5 1/hour",
            "W/(m*K)": "0.2 W/(m*K)", "kg/m**3": "900 kg/m**3", "J/(kg*K)": "900 J/(kg*K)",
            "J/kg": "19500 Btu/lb"}  # fmt: skip


def _example(wanted: pint.Unit | None) -> str:
    fits = (
        text for unit, text in EXAMPLES.items() if wanted is not None and wanted.is_compatible_with(ureg.Unit(unit))
    )
    return repr(next(fits, EXAMPLES["m"]))


def parse(text: str, wanted: pint.Unit | None = None) -> Quantity:
    """A quantity from text with its unit, as people write it: "40 ft", "-0.05 in. w.c.", "1/4 hp", "5 ft 6 in."

    ``wanted``: a unit of what is asked for, where that is known. It tells a temperature ("200 F") from a difference,
    and what stands below the slash of "W/m2-K"; it is no check: see `magnitude`. Raises `UnitsError` where the number
    or the unit is missing or unknown or the trade reads it two ways (MBtu), ValueError where the number is not finite.
    """
    shown = repr(str(text)[:60])
    found = number_and_unit(str(text))
    if found is None:
        raise UnitsError(
            f"{shown}: write a number with a decimal point, a space and a unit, such as {_example(wanted)}"
        )
    value, unit = found
    if not np.isfinite(value):
        raise ValueError(f"{shown}: the number must be finite")
    if not unit:
        raise UnitsError(f"{shown}: the unit is missing; write it out, such as {_example(wanted)}")
    if len(unit) > _LONGEST_UNIT:
        raise UnitsError(f"{shown}: {_UNKNOWN}")
    both = larger_and_smaller(unit)
    if both:
        return _in_two_units(shown, value, *both)
    unit = _told_apart(spelled_out(unit), wanted)
    for word in re.findall(r"[\w°]+", unit):
        if word in AMBIGUOUS_UNITS:
            raise UnitsError(f"{shown}: {word} is read two ways; write {AMBIGUOUS_UNITS[word]}")
    return Q_(value, _unit(shown, unit, wanted))


def _in_two_units(shown: str, value: float, larger: str, rest: str) -> Quantity:
    """A quantity such as "5 ft 6 in.": the smaller part is less than one of the larger unit, and has no sign."""
    whole, found = Q_(abs(value), spelled_out(larger)), number_and_unit(rest)
    unit = _registered(spelled_out(found[1])) if found else None
    if unit is None or not unit.is_compatible_with(whole.units) or not 0.0 <= Q_(found[0], unit) < Q_(1.0, whole.units):
        raise UnitsError(f"{shown}: two numbers that do not make one; write it in one unit, or as in '5 ft 6 in.'")
    return np.copysign(1.0, value) * (whole + Q_(found[0], unit))


def _unit(shown: str, unit: str, wanted: pint.Unit | None) -> pint.Unit:
    """The unit of a spelling; where it does not fit what is wanted, with all that stands behind its slash below it."""
    spread = below_one_slash(unit) if wanted is not None else None
    found = [u for u in (_registered(unit), _registered(spread) if spread else None) if u is not None]
    if not found:
        raise UnitsError(f"{shown}: {_UNKNOWN}")
    return next((u for u in found if wanted is not None and u.is_compatible_with(wanted)), found[0])


def _registered(unit: str) -> pint.Unit | None:
    """A unit of the registry, or None where it knows none of the name."""
    if len(unit) > 2 * _LONGEST_UNIT or not _UNIT_FORM.fullmatch(unit):
        return None
    try:
        return ureg.Unit(unit)
    except Exception:  # pint raises many kinds for a malformed unit, tokenizer errors among them
        return None


def _told_apart(unit: str, wanted: pint.Unit | None) -> str:
    """F and C as degrees of a temperature or of a difference, where it is known which of the two is wanted."""
    if wanted is not None and "/" in unit and "[temperature]" in wanted.dimensionality:
        return re.sub(r"\b([FC])\b", r"delta_deg\1", unit)
    degrees = {"F": "degF", "C": "degC"}.get(unit, unit)
    if wanted is None or degrees not in ("degF", "degC") or not wanted.is_compatible_with("K"):
        return unit
    return f"delta_{degrees}" if _is_difference(wanted) else degrees


def _is_difference(unit: pint.Unit) -> bool:
    return str(unit).startswith("delta_")


# Names with a one-digit power, multiplied and divided, in brackets, or one over that: nothing costly to evaluate.
# The possessive *+ keeps the match itself cheap on hostile text.
_NAME = r"(?:%|[°µΔ]*+[A-Za-z]\w*+)(?:[²³]|\s?(?:\*\*|\^)\s?-?\d)?+"
_UNIT_FORM = re.compile(rf"(?:1\s?/\s?)?\(*{_NAME}(?:\)*\s?(?:[*/·]\s?)?\(*{_NAME})*\)*")
_LONGEST_UNIT = 60  # as typed; spelled out it may be twice as long
_UNKNOWN = "unknown unit; write one such as ft, inch, m, mm, degF, degC, inH2O, Pa, MBH, kW"


def magnitude(value: Any, unit: pint.Unit, name: str) -> Any:
    """Plain number or array of ``value`` in ``unit``; raises `UnitsError` naming ``name``."""
    problem = _misfit(value, unit)
    if problem:
        raise UnitsError(f"{name} {problem}")
    return np.asarray(value.m_as(unit) if isinstance(value, Quantity) else value, float)[()]


def require(value: Quantity, unit: str, name: str, least: float = 0.0, above: bool = False) -> None:
    """Refuse a quantity, or an array of which any is, below ``least`` (in ``unit``), or at it where it must lie
    ``above``; and one that is empty or not a number.

    Raises `UnitsError` or ValueError naming ``name``, the value and what is valid.
    """
    plain = magnitude(value, ureg.Unit(unit), name)
    if not np.size(plain) or not np.all(plain > least if above else plain >= least):
        raise ValueError(f"{name} = {value:.4g~P} must be {'above' if above else 'at least'} {least:g} {unit}")


def seconds(value: Quantity, name: str, least: float = 0.0) -> float:
    """A time in s; raises ValueError naming ``name`` where it is below ``least``, not a number or more than one."""
    found = magnitude(value, ureg.Unit("s"), name)
    if np.ndim(found):
        raise ValueError(f"{name} must be one time, got an array of shape {np.shape(found)}")
    found = float(found)
    if not found >= least:
        raise ValueError(f"{name} = {value:~P} must be at least {least:g} s")
    return found


_WRITE = {
    "meter": "a length such as 12 m or 40 ft",
    "kelvin": "a temperature such as 20 degC or 70 degF",
    "delta_degree_Celsius": "a temperature difference such as 30 delta_degC or 50 delta_degF",
    "pascal": "a pressure such as 12 Pa or 0.05 inH2O",
    "watt": "a heat rate such as 500 kW or 1700 MBH",
    "kilogram / second": "a mass flow such as 0.2 kg/s or 1500 lb/hour",
    "meter / second": "a velocity such as 3 m/s or 600 fpm",
    "dimensionless": "a plain ratio such as 0.3 or 30 percent",
}


def _misfit(value: Any, unit: pint.Unit) -> str | None:
    """What is wrong with ``value`` where ``unit`` is wanted, or None."""
    if isinstance(value, Quantity):
        fault = _unit_fault(value.u, unit)
        return _not_numbers(value.m) if fault is None else f"{_needs(unit)}, got {fault}{value:~P}"
    if isinstance(value, str):
        return f"{_needs(unit)}, got the text {value!r} (use units.parse)"
    if isinstance(value, pint.Quantity):
        return f"{_needs(unit)}, got {value:~P} of another pint registry (make it with units.Q_)"
    plain = isinstance(value, (int, float, np.number, np.ndarray, list, tuple)) and not isinstance(value, bool)
    return _not_numbers(value) if unit.dimensionless and plain else f"{_needs(unit)}, got {value!r} without a unit"


def _needs(unit: pint.Unit) -> str:
    return f"needs {_WRITE.get(f'{unit:D}', f'a quantity in {unit:D}')}"


@cache
def _unit_fault(held: pint.Unit, wanted: pint.Unit) -> str | None:
    """What a value is in words where its unit does not fit what is wanted ("" if just another unit), else None."""
    if not held.is_compatible_with(wanted):
        return ""
    names = re.findall(r"\w+", f"{held:D}")
    if f"{wanted:D}" == "kelvin" and any(name.startswith("delta_") for name in names):
        return "the difference "
    if f"{wanted:D}".startswith("delta_") and any(name in ("degree_Celsius", "degree_Fahrenheit") for name in names):
        return "the temperature "
    return None


def _not_numbers(held: Any) -> str | None:
    """What is wrong with a magnitude that is no number or array of numbers, or None."""
    if np.ma.is_masked(held):
        return "is an array with masked values; leave them out or fill them"
    try:
        kind = np.asarray(held).dtype
    except ValueError:
        return "is a list of lists of different lengths"
    return None if kind.kind in "iuf" else f"holds values of the kind {kind}; numbers are needed"


def quantities(
    returns: str | tuple[str, ...] | None,
    *,
    source: str,
    at_least: Mapping[str, float] | None = None,
    above: Mapping[str, float] | None = None,
    at_most: Mapping[str, float] | None = None,
    valid: Mapping[str, tuple[float, float]] | None = None,
    shapes: Mapping[str, str] | None = None,
    allow: Mapping[str, str] | None = None,
    **units: str,
) -> Callable:
    """Make a public function of a bare one: ``@quantities("Pa", height="m", gas="K", source="...")``.

    Each keyword names an argument and the SI unit in which the bare function takes it; of arguments not named, the
    annotation is held, where it is a class. ``at_least``, ``above`` and ``at_most`` are limits of the possible, in that
    SI unit: outside them a ValueError. ``valid`` is the range of a correlation: outside it an `OutOfRangeWarning`.
    Arguments are numbers or arrays that broadcast with one another, but those with `SHAPES` of their own in
    ``shapes``: "one" number, or a "list" (one axis), "array" or "any" that the function itself holds against the
    others. Left out (None) may be what is None by default. Values and answers are finite but where ``allow`` says
    "inf", "nan" or "inf nan" of an argument, or of the answer as "return"; temperatures in kelvin, answers too, are
    above absolute zero. The bare function is ``.bare``, its origin ``.source``; its ``.units``, ``.shapes`` and what it
    may ``.allow`` are told as well.

    Raises `UnitsError` at the call, naming every argument whose unit or kind does not fit, and ValueError naming those
    whose value or shape is impossible, or all of them where they give no finite answer.
    """
    wanted = {name: ureg.Unit(unit) for name, unit in units.items()}
    result = ureg.Unit(returns) if isinstance(returns, str) else returns and tuple(ureg.Unit(r) for r in returns)
    above = {name: 0.0 for name, unit in wanted.items() if f"{unit:D}" == "kelvin"} | dict(above or {})
    checks = [
        (above, np.greater, np.nanmin, "must be above"),
        (dict(at_least or {}), np.greater_equal, np.nanmin, "must be at least"),
        (dict(at_most or {}), np.less_equal, np.nanmax, "must be at most"),
    ]
    shapes, allow = dict(shapes or {}), dict(allow or {})

    def decorate(bare: Callable) -> Callable:
        signature = inspect.signature(bare)
        unknown = {*wanted, *shapes, *allow} - {*signature.parameters, "return"}
        if unknown:
            raise TypeError(f"{bare.__name__} has no argument {', '.join(sorted(unknown))}")
        optional = {name for name, parameter in signature.parameters.items() if parameter.default is None}
        kinds = _kinds(signature, wanted)

        @wraps(bare)
        def public(*args, **kwargs):
            call = signature.bind(*args, **kwargs)
            told = {name: v for name, v in call.arguments.items() if not (v is None and name in optional)}
            given = {name: v for name, v in told.items() if name in wanted}
            problems = [f"{name} {p}" for name, v in given.items() if (p := _misfit(v, wanted[name]))]
            problems += [f"{name} {p}" for name, v in told.items() if name in kinds and (p := _alien(v, kinds[name]))]
            if problems:
                raise UnitsError(f"{bare.__name__}: " + "; ".join(problems))
            plain = {name: magnitude(v, wanted[name], name) for name, v in given.items()}
            _refuse_shapes(bare.__name__, plain, shapes)
            _refuse_impossible(bare.__name__, plain, wanted, checks, allow)
            _warn_outside(bare.__name__, plain, wanted, valid or {})
            call.arguments.update(plain)
            answer = bare(*call.args, **call.kwargs)
            _refuse_answer(bare.__name__, answer, result, {n: Q_(v, wanted[n]) for n, v in plain.items()}, allow)
            return _attach(answer, result)

        public.bare = bare
        public.source = source
        public.units = wanted
        public.shapes = shapes
        public.allow = allow
        return public

    return decorate


def _kinds(signature: inspect.Signature, wanted: Mapping) -> dict[str, Any]:
    """The class of each argument without a unit that is annotated with one."""
    return {
        name: parameter.annotation
        for name, parameter in signature.parameters.items()
        if name not in wanted
        and isinstance(parameter.annotation, (type, UnionType, GenericAlias))
        and parameter.annotation is not inspect.Parameter.empty
    }


def _alien(value: Any, kind: Any) -> str | None:
    """What is wrong with ``value`` where one of a class is wanted, or None."""
    if _is_of(value, kind):
        return None
    return f"needs {getattr(kind, '__name__', kind)}, got {repr(value)[:60]}"


def _is_of(value: Any, kind: Any) -> bool:
    """`isinstance`, and of ``Sequence[Fan]`` every member's as well."""
    if isinstance(kind, UnionType):
        return any(_is_of(value, each) for each in kind.__args__)
    if isinstance(kind, GenericAlias):
        listed = isinstance(value, kind.__origin__) and not isinstance(value, str)
        return listed and all(isinstance(each, kind.__args__[0]) for each in value)
    return isinstance(value, Integral if kind is int else kind)


# Shapes of an argument that does not broadcast with the others, and how many axes each has.
SHAPES = {"one": ("one number", (0, 0)), "list": ("a list of values", (1, 1)), "array": ("an array", (1, np.inf)),
          "any": ("a number or an array", (0, np.inf))}  # fmt: skip


def _refuse_shapes(function: str, plain: Mapping, shapes: Mapping[str, str]) -> None:
    problems = [f"{name} is empty" for name, v in plain.items() if np.size(v) == 0]
    for name, shape in shapes.items():
        words, (least, most) = SHAPES[shape]
        if name in plain and not least <= np.ndim(plain[name]) <= most:
            problems.append(f"{name} must be {words}, got shape {np.shape(plain[name])}")
    free = {name: np.shape(v) for name, v in plain.items() if name not in shapes}
    try:
        np.broadcast_shapes(*free.values())
    except ValueError:
        listed = ", ".join(f"{name} {shape}" for name, shape in free.items() if shape)
        problems.append(f"arrays of shapes that do not fit one another: {listed}")
    if problems:
        raise ValueError(f"{function}: " + "; ".join(problems))


def _refuse_impossible(function: str, plain: Mapping, wanted: Mapping, checks: list, allow: Mapping) -> None:
    problems = [f"{name} is not a number (NaN)" for name, v in plain.items() if _holds(np.isnan, v, "nan", name, allow)]
    problems += [f"{name} must be finite" for name, v in plain.items() if _holds(np.isinf, v, "inf", name, allow)]
    for limits, holds, worst, words in checks:
        for name, limit in limits.items():
            if name in plain and not np.all(holds(plain[name], limit) | np.isnan(plain[name])):
                unit = wanted[name]
                problems.append(f"{name} = {Q_(worst(plain[name]), unit):.6g~P} {words} {Q_(limit, unit):.6g~P}")
    if problems:
        raise ValueError(f"{function}: " + "; ".join(problems))


def _holds(is_such: Callable, value: Any, word: str, name: str, allow: Mapping[str, str]) -> bool:
    """Whether a value is anywhere ``is_such`` (`np.isnan`, `np.isinf`) and may not be."""
    return word not in allow.get(name, "").split() and bool(np.any(is_such(value)))


def _refuse_answer(function: str, answer: Any, result: Any, given: Mapping[str, Quantity], allow: Mapping) -> None:
    """A correlation carried too far, or values that cancel or overflow, must not pass for an answer."""
    for value, unit in _answered(answer, result):
        wrong = None
        if _holds(np.isnan, value, "nan", "return", allow) or _holds(np.isinf, value, "inf", "return", allow):
            wrong = "no finite answer"
        elif unit is not None and f"{unit:D}" == "kelvin" and np.any(np.asarray(value) <= 0.0):
            wrong = f"an answer of {np.nanmin(value):.4g} K, below absolute zero,"
        if wrong:
            raise ValueError(f"{function}: {wrong} for {', '.join(f'{n} = {_ends(q)}' for n, q in given.items())}")


def _answered(answer: Any, result: Any) -> list[tuple[Any, pint.Unit | None]]:
    """The numbers of an answer, each with its unit; of a dataclass those that it holds itself, plain."""
    if result is not None:
        return list(zip(answer, result, strict=True)) if isinstance(result, tuple) else [(answer, result)]
    held = [getattr(answer, field.name) for field in fields(answer)] if is_dataclass(answer) else []
    return [(v, None) for v in held if isinstance(v, float) or (isinstance(v, np.ndarray) and v.dtype.kind == "f")]


def _ends(value: Quantity) -> str:
    """A quantity in a message; of an array its least and greatest."""
    if not np.ndim(value.m):
        return f"{value:.4g~P}"
    return f"{Q_(np.nanmin(value.m), value.units):.4g~P} to {Q_(np.nanmax(value.m), value.units):.4g~P}"


def _warn_outside(function: str, plain: Mapping, wanted: Mapping, valid: Mapping) -> None:
    for name, (low, high) in valid.items():
        if name in plain and np.any((plain[name] < low) | (plain[name] > high)):
            shown = f"{np.min(plain[name]):.6g} to {np.max(plain[name]):.6g}"
            message = (
                f"{function}: {name} = {shown} lies outside the published range {low:g} to {high:g} {wanted[name]:~P}"
            )
            warnings.warn(message.rstrip(), OutOfRangeWarning, stacklevel=3)


def _attach(value: Any, result: Any) -> Any:
    if result is None:
        return value
    if isinstance(result, tuple):
        return tuple(Q_(v, unit) for v, unit in zip(value, result, strict=True))
    return Q_(value, result)


# What each kind of quantity is shown in: US unit, SI unit, and decimals for each.
_SHOWN = {
    "draft": ("inH2O", "Pa", 3, 1),
    "height": ("ft", "m", 1, 2),
    "diameter": ("inch", "mm", 1, 0),
    "temperature": ("degF", "degC", 0, 0),
    "temperature difference": ("delta_degF", "delta_degC", 0, 0),
    "wind": ("mph", "m/s", 0, 1),
    "wind at roof height": ("mph", "m/s", 1, 1),
    "velocity": ("ft/s", "m/s", 1, 2),
    "mass flow": ("lb/hour", "kg/s", 0, 4),
    "mass": ("lb", "kg", 2, 3),
    "volume flow": ("cfm", "m**3/s", 0, 3),
    "heat rate": ("MBH", "kW", 0, 1),
    "density": ("lb/ft**3", "kg/m**3", 4, 3),
    "barometric pressure": ("inHg", "kPa", 2, 2),
    "area": ("inch**2", "cm**2", 1, 0),
    "surface": ("ft**2", "m**2", 0, 1),
    "condensate": ("lb/hour", "kg/hour", 1, 1),
    "condensate a day": ("lb/day", "kg/day", 0, 0),
    "water": ("gallon", "liter", 1, 0),
    "water a year": ("gallon", "liter", 0, 0),
    "heat transfer": ("Btu/(hour*ft**2*delta_degF)", "W/(m**2*K)", 2, 2),
    "ratio": ("percent", "percent", 1, 1),
    "time": ("s", "s", 0, 0),
    "energy": ("kWh", "kWh", 0, 0),
    "altitude": ("ft", "m", 0, 0),
    "ppm": ("ppm", "ppm", 0, 0),
    "specific heat": ("Btu/(lb*delta_degF)", "J/(kg*K)", 4, 0),
    "viscosity": ("lb/(ft*hour)", "uPa*s", 4, 1),
    "conductivity": ("Btu/(hour*ft*delta_degF)", "mW/(m*K)", 5, 1),
}

SYSTEMS = ("US", "SI")

# The kind that a bare dimension is taken for when `show` is not told.
_KIND_OF_UNIT = {"Pa": "draft", "m": "height", "K": "temperature", "m/s": "velocity", "kg/s": "mass flow", "kg": "mass",
                 "m**3/s": "volume flow", "W": "heat rate", "kg/m**3": "density", "m**2": "area",
                 "W/(m**2*K)": "heat transfer", "s": "time", "J": "energy", "": "ratio"}  # fmt: skip


def system_of(quantities: Iterable[Quantity]) -> str:
    """The system, "US" or "SI", whose units most quantities are written in; US where neither prevails."""
    used = Counter(name for q in quantities for name, _ in q.unit_items())
    written = [sum(used[name] for name in _own_units(system)) for system in SYSTEMS]
    return SYSTEMS[int(written[1] > written[0])]


@cache
def _own_units(system: str) -> frozenset[str]:
    """Names of the units that one system is shown in and the other is not."""
    names = [{n for row in _SHOWN.values() for n, _ in Q_(1.0, row[k]).unit_items()} for k in range(len(SYSTEMS))]
    plain = {"meter", "kilogram", "watt", "pascal", "kelvin", "bar", "millibar"} if system == "SI" else set()
    own = SYSTEMS.index(system)
    return frozenset(names[own] - names[1 - own] | plain)


def shown_unit(kind: str, system: str) -> str:
    """The unit in which a kind of quantity ("draft", "height", ...) is shown in "US" or "SI"."""
    if system not in SYSTEMS:
        raise ValueError(f"unit system {system!r}: choose US or SI")
    if kind not in _SHOWN:
        raise ValueError(f"kind of quantity {kind!r}: choose one of {', '.join(_SHOWN)}")
    return _SHOWN[kind][SYSTEMS.index(system)]


def show(value: Quantity, system: str = "US", kind: str | None = None) -> str:
    """Text of one quantity in US or SI units, with the digits the trade would write.

    ``kind`` tells a diameter from a height ("diameter", "height", "draft", ...); left out, it follows
    from the dimension. Display only: nothing computed depends on it.
    """
    kind = kind or _kind(value)
    if kind is None:
        return f"{value:.4g~P}"
    unit = shown_unit(kind, system)
    decimals = _SHOWN[kind][2 + SYSTEMS.index(system)]
    number = round(float(value.m_as(unit)), decimals) + 0.0  # + 0.0 turns -0.0 into 0.0
    return f"{number:,.{decimals}f} {_UNIT_TEXT.get(unit, f'{ureg.Unit(unit):~P}')}"


def _kind(value: Quantity) -> str | None:
    """The kind that the dimension of ``value`` stands for, or None where `_SHOWN` has none."""
    if value.units == ureg.ppm:
        return "ppm"
    if any(name.startswith("delta_") and power == 1 for name, power in value.unit_items()):
        return "temperature difference" if value.is_compatible_with("K") else None
    return next((kind for unit, kind in _KIND_OF_UNIT.items() if value.is_compatible_with(unit)), None)


# How a unit is written for a reader where pint's short form is not the trade's.
_UNIT_TEXT = {"inH2O": "in. w.c.", "degF": "°F", "degC": "°C", "percent": "%", "inch": "in.",
              "delta_degF": "°F", "delta_degC": "K",
              "inch**2": "in.²", "lb/hour": "lb/h", "kg/hour": "kg/h",
              "Btu/(hour*ft**2*delta_degF)": "Btu/(h·ft²·°F)", "W/(m**2*K)": "W/(m²·K)",
              "Btu/(lb*delta_degF)": "Btu/(lb·°F)", "J/(kg*K)": "J/(kg·K)", "lb/(ft*hour)": "lb/(ft·h)",
              "uPa*s": "µPa·s", "Btu/(hour*ft*delta_degF)": "Btu/(h·ft·°F)",
              "mW/(m*K)": "mW/(m·K)"}  # fmt: skip


def unit_text(unit: str) -> str:
    """How a unit of `shown_unit` is written for a reader: "in. w.c.", "°F"."""
    return _UNIT_TEXT.get(unit, f"{ureg.Unit(unit):~P}")
