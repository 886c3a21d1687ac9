"""Typed answer: what people write around a number is taken off, and a count may be told in words.

More is let pass than in a job file, for the question is known, and with it the kind of answer: "about 65 s",
"K = 40", "40 ft (approx.)", "minus 12 Pa", "category III", "16 times". A number alone is taken in the unit that the
question names.
"""

import re

from ventcalc.unit_names import number_and_unit
from ventcalc.units import Q_, Quantity, parse

# "Dt =", "about", "~"; not "x", which could stand for anything but the answer.
_BEFORE = re.compile(
    r"^(?:[^\W\d][\w .,]{0,20}=|[=~≈]|about|approx(?:\.|imately)?|around|roughly|ca\.?(?=\s)|it is)\s*", re.I
)
_SIGN = re.compile(r"^(?:minus|negative|plus)\s+", re.I)
_BEHIND = re.compile(r"(?:(?<![/*·])\s+\([^()]*\)|\s*[;,!]|(?<=\d)\.)$")
_THOUSANDS = re.compile(r"(?<=\d) (?=\d{3}(?![\d/]))")

# What is counted: of these words nothing depends on which.
_COUNTED = re.compile(
    r"\s*(?:times|times as (?:large|much|wide)|x|×|fold|-fold|:\s*1|to 1|states?|events?|steps?|changes?)$", re.I
)
_NAMED = re.compile(r"^(?:category|cat\.?|class|no\.?|number)\s+", re.I)
_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII")
_WORDS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")

_LONGEST = 120


def quantity(text: str, expected: Quantity, unit: str = "") -> Quantity:
    """What was typed, as a quantity; ``expected`` tells its kind, ``unit`` the one that the question names.

    Raises `UnitsError` or ValueError where it cannot be read.
    """
    text = _bare(text[:_LONGEST])
    if expected.dimensionless:
        return _ratio(_figure(text), expected)
    found = number_and_unit(text)
    alone = found is not None and not found[1]
    return Q_(found[0], unit) if alone and unit else parse(text, expected.units)


def _bare(text: str) -> str:
    """The text without what stands around number and unit."""
    text = _BEFORE.sub("", text.strip())
    sign = _SIGN.match(text)
    if sign:
        text = text[sign.end() :].lstrip("+")
        text = text if sign[0].lower().startswith("plus") else f"-{text}"
    for _ in range(3):
        text = _BEHIND.sub("", text)
    return _THOUSANDS.sub("", text)


def _figure(text: str) -> str:
    """A count in words or Roman numerals as a figure, and what is counted left out."""
    word = _COUNTED.sub("", _NAMED.sub("", text))
    for numbers in (_ROMAN, _WORDS):
        if word.casefold() in map(str.casefold, numbers):
            return str([n.casefold() for n in numbers].index(word.casefold()) + 1)
    return word


def _ratio(text: str, expected: Quantity) -> Quantity:
    """A ratio or a count may go without a unit: in that of the answer ("45.1" of percent), or as a plain ratio."""
    found = number_and_unit(text)
    if found is None or found[1]:
        return parse(text, expected.units)
    if not abs(found[0]) < float("inf"):
        raise ValueError("the answer must be a finite number")
    return min((Q_(found[0], unit) for unit in (expected.units, "")), key=lambda way: abs((way - expected).m_as("")))
