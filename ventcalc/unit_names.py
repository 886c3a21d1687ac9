"""Unit names: numbers and units as people write them, and the one way in which the registry reads them.

"0.05 in. w.c.", "in wc" and "inwc" are one unit; so are "BTUH" and "Btu/h". Only spellings that mean one thing in the
trade stand here: "pa" is the pascal and no picoyear; a decimal comma is refused, since "1,500" would mean two things.
"""

import re
from fractions import Fraction

_INCH = r"in(?:ch(?:es)?)?\.?\s?(?:of\s)?"

# Units of two words or with full stops, in the order in which they are looked for; capitals do not count.
_PHRASES = tuple(
    (re.compile(rf"(?<![A-Za-z]){pattern}(?![A-Za-z])", re.IGNORECASE), name)
    for pattern, name in (
        (rf"{_INCH}(?:w\.?\s?[cg]\.?|water(?:\scolumn)?|h2o|h₂o)", "inH2O"),
        (rf"{_INCH}hg", "inHg"),
        (r"iwc", "inH2O"),
        (r"(?:°|deg(?:rees?)?)\s?f(?:ahrenheit)?", "degF"),
        (r"(?:°|deg(?:rees?)?)\s?c(?:elsius)?", "degC"),
        (r"in\.", "inch"),
        (r"ft\.", "ft"),
        (r"boiler\s(?:hp|horsepower)", "boiler_horsepower"),
        (r"(ft|in|m|cm|mm)([23])", r"\1**\2"),
    )
)

# Single words, in small letters.
_WORDS = {
    spelled: name
    for name, all_spelled in {
        "inch": 'in inches " ″',
        "ft": "feet foot ' ′",
        "m": "meter meters metre metres",
        "Pa": "pa pascal pascals",
        "kPa": "kpa",
        "psi": "psi",
        "Btu": "btu",
        "Btu/hour": "btuh",
        "MBH": "mbh",
        "kW": "kw",
        "kWh": "kwh",
        "hp": "hp",
        "cfm": "cfm",
        "fpm": "fpm",
        "mph": "mph",
        "ppm": "ppm",
        "percent": "% pct percent",
        "s": "sec secs second seconds",
        "minute": "min mins minute minutes",
        "hour": "h hr hrs hour hours",
        "day": "d day days",
        "lb": "lb lbs pound pounds",
        "kg": "kg",
        "gallon": "gal gallon gallons",
        "liter": "l liter liters litre litres",
    }.items()
    for spelled in all_spelled.split()
}
_WORD = re.compile(r"[A-Za-z%\"″'′]+")
_NOT_SMALL = ("H", "D")  # henry and debye: read as they stand, and so refused, not as an hour and a day

_WHOLE = r"\d{1,3}(?:,\d{3})+|\d+"
_NUMBER = re.compile(
    rf"(?P<sign>[-+]?)(?:(?:(?P<whole>{_WHOLE})\s)?(?P<over>\d{{1,4}})/(?P<under>\d{{1,4}})(?=[^\d/]|$)"
    rf"|(?P<plain>(?:{_WHOLE})(?:\.\d*)?|\.\d+)(?P<power>e[-+]?\d+)?(?![\d,.])"
    r"|(?P<odd>nan|inf)\b)",
    re.IGNORECASE,
)
_MINUS = str.maketrans({"\u2212": "-", "\u2013": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " "})
_LONGEST_NUMBER = 40


def number_and_unit(text: str) -> tuple[float, str] | None:
    """The number that a text begins with, and the rest; None where it begins with none that can be read one way.

    "1,700 MBH", "1/4 hp", "1 1/2 in.", "\u22120.05 in. w.c.", "42.4ft"; not "0,05 ft".
    """
    text = text.strip().translate(_MINUS)
    found = _NUMBER.match(text[: _LONGEST_NUMBER + 1])
    if not found or found.end() > _LONGEST_NUMBER:
        return None
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["under"]:
        if not int(found["under"]):
            return None
        value = float(Fraction(int(found["over"]), int(found["under"]))) + float(
            (found["whole"] or "0").replace(",", "")
        )
    else:
        value = float(found["odd"] or found["plain"].replace(",", "") + (found["power"] or ""))
    return sign * value, text[found.end() :].strip()


def spelled_out(unit: str) -> str:
    """A unit by the names that the registry reads, whichever way it was written; what is not known stays as it is."""
    for pattern, name in _PHRASES:
        unit = pattern.sub(name, unit)
    return _WORD.sub(lambda found: _named(found[0]), unit).strip()


def _named(word: str) -> str:
    return word if word in _NOT_SMALL else _WORDS.get(word.lower(), word)
