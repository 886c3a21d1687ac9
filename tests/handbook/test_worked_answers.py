"""Worked answers and hints: the arithmetic that is printed gives what is printed, units and all; each in its own units.

What is printed is worked again by Python's own arithmetic on what stands there, with the units of pint: nothing of the
library but the reader of quantities.
"""

import math
import re
from importlib import import_module
from itertools import pairwise
from pkgutil import iter_modules

import pytest

from ventcalc import handbook
from ventcalc.units import Q_, SYSTEMS, Quantity, UnitsError, parse

ASKING = [
    m.name
    for m in iter_modules(handbook.__path__)
    if hasattr(import_module(f"ventcalc.handbook.{m.name}"), "questions")
]

# Written so that a full stop ends a sentence, and x is a sign.
_PLAIN = {"in. w.c.": "inH2O", "in.²": "inch**2", "in.": "inch", "lb/1000 Btu": "lb/kBtu", ",": "", "−": "-"}
_SIGNS = {
    "²": "**2",
    "³": "**3",
    "⁵": "**5",
    "^": "**",
    " x ": " * ",
    " less ": " - ",
    "√": "sqrt",
    "π": "pi",
}
_QUANTITY = re.compile(
    r"(?<![\w.])(\d[\d.]*)\s?(inH2O|inHg|inch\*\*2|inch|lb/ft³|kg/m³|lb/kBtu|lb/h|kg/MJ|kg/s|MBH|kW|cfm|m³/s|ft/s|m/s|mph"
    r"|mm|kPa|Pa|hp|cm²|ft|lb|°R|kg|ppm|%|W|K|s|m)(?![\w/³²])"
)
_ALLOWED = re.compile(r"(?:Q\[\d+\]|sqrt|exp|ln|pi|[\d.\s+*/()-])+")
_ROUNDING = 0.012  # of figures printed with two digits, such as 67 % and 9.2 Pa


def _worked(said: str):
    """What the printed arithmetic gives, or None where there is none that could be worked."""
    found = []

    def kept(match):
        found.append(parse(match[0]))
        return f" Q[{len(found) - 1}] "

    text = _QUANTITY.sub(kept, said)
    for sign, python in _SIGNS.items():
        text = text.replace(sign, python)
    if not _ALLOWED.fullmatch(text) or not re.search(r"[*/+-]", text.strip("- ")):
        return None
    names = {"Q": found, "sqrt": lambda v: v**0.5, "exp": math.exp, "ln": math.log, "pi": math.pi, "__builtins__": {}}
    try:
        return Q_(eval(text, names))
    except SyntaxError:
        return None


def _equations(text: str):
    """Every "this = that" of a text whose left side can be worked: what it gives, and what is printed."""
    for spelled, plain in _PLAIN.items():
        text = text.replace(spelled, plain)
    for sentence in re.split(r"[:;]\s|\.\s|\.$|,\s", text):
        sides = sentence.split(" = ")
        for left, right in pairwise(sides):
            printed = re.match(r"-?[\d.]+(?:\s?[^\s\d]\S*)?", right)
            gives = _worked(left)
            if gives is None or not printed:
                continue
            # Figures without units give one; a unit behind it is that of the answer.
            bare = not _QUANTITY.search(left) and not printed[0].endswith("%")
            number = Q_(float(re.match(r"-?[\d.]*\d", printed[0])[0]), "")
            yield left, gives, number if bare else _read(printed[0], number)


def _read(printed: str, number: Quantity) -> Quantity:
    """A printed quantity; a word behind a number is none of its unit."""
    try:
        return parse(printed)
    except UnitsError:
        return number


def _texts(name: str, system: str):
    for question in import_module(f"ventcalc.handbook.{name}").questions(system):
        yield from (question.solution, *question.hints)


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_printed_arithmetic_gives_what_is_printed(system):
    seen = 0
    for name in ASKING:
        for text in _texts(name, system):
            for left, gives, that in _equations(text):
                assert gives.m_as(that.units) == pytest.approx(that.m, rel=_ROUNDING), (name, text, left)
                seen += 1
    assert seen >= 40  # of some 55 that a reader can work


# Codes, plates and instruments tell some figures in one system alone; then both stand there.
_FOREIGN = {
    "US": r"\d\s?(?:Pa|kPa|mm|cm|kW|kg|°C|m/s|m³/s|MJ|kJ|K(?! D)|m)\b|\bkelvin\b|\bpascals?\b",
    "SI": r"\d\s?(?:in\. w\.c\.|inHg|ft|°F|lb|cfm|MBH|hp|mph|°R)(?!\w)|\bRankine\b",
}
# The code's own feet and the plate's own kilowatts are what is asked about.
_MEANT = ("clearances", "writing_a_job")


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_hints_and_worked_answers_are_in_the_units_asked_for(system):
    for name in ASKING:
        if name in _MEANT:
            continue
        for text in _texts(name, system):
            bare = re.sub(r"\([^()]*\)", "", text)
            both = re.search(r"\d[^.;:]*\((?:about )?[\d.,]+ ?(?:Pa|kPa|mm|m|°C|m/s)\)", text)
            assert both or not re.search(_FOREIGN[system], bare), (name, text)
