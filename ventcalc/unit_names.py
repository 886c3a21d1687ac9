"""Unit names: numbers and units as people write them, and the one way in which the registry reads them.

"0.05 in. w.c.", "in wc" and "inwc" are one unit; so are "BTUH" and "Btu/h". Only spellings that mean one thing in the
trade stand here: "pa" is the pascal and no picoyear; a decimal comma is refused, since "1,500" would mean two things.
"""

import re
from fractions import Fraction
from unicodedata import normalize

_INCH = r"(?:in(?:ch(?:es)?)?\.?|[\"″”]|''|′′|’’)\s?(?:of\s)?"
_MILLIMETER = r"(?:mm|millimeters?|millimetres?)\.?\s?(?:of\s)?"
_WATER = r"(?:w\.?\s?[cg]\.?|water(?:\s(?:column|gau?ge))?|h2o|h₂o)"
_MERCURY = r"(?:hg|mercury)"
_SQUARED = r"(ft|feet|foot|in|inch|inches|m|meters?|metres?|mm|cm)\.?"

# Units of two words or with full stops, in the order in which they are looked for; capitals do not count.
_PHRASES = tuple(
    (re.compile(rf"(?<![A-Za-z]){pattern}(?![A-Za-z])", re.IGNORECASE), name)
    for pattern, name in (
        (rf"{_INCH}{_WATER}", "inH2O"),
        (rf"{_INCH}{_MERCURY}", "inHg"),
        (rf"{_MILLIMETER}{_WATER}", "mmH2O"),
        (rf"{_MILLIMETER}{_MERCURY}", "mmHg"),
        (r"iwc", "inH2O"),
        (r"(?:Δ|delta)[\s_]?(?:°|deg)?\s?([fc])", r"delta_deg\1"),
        (r"(?:°|deg(?:rees?)?\.?)\s?f(?:ahrenheit)?|fahrenheit|f°", "degF"),
        (r"(?:°|deg(?:rees?)?\.?)\s?c(?:elsius)?|celsius|c°", "degC"),
        (r"in\.", "inch"),
        (r"ft\.", "ft"),
        (r"boiler\s(?:hp|horsepower)", "boiler_horsepower"),
        (rf"(?:sq\.?|square)\s?{_SQUARED}", r"\1**2"),
        (rf"(?:cu\.?|cubic)\s?{_SQUARED}", r"\1**3"),
        (r"u\.?s\.?\s(gal(?:lons?)?)", r"\1"),
        (r"(%|ppm)\s?(?:by\s)?(?:vol(?:ume)?\.?|v)", r"\1"),
        (r"parts\sper\smillion", "ppm"),
        (r"per\scent", "percent"),
        (r"ach|air\schanges\s(?:per|an)\shour", "1/hour"),
        (r"per(?=\s)", "/"),
        (r"(?<=/)\s?h", "hour"),
        (r"(?<=/)mK", "(m*K)"),
        (r"(?-i:(kg|lb|m²|ft²)([KF]))", r"\1*\2"),
        (r"(?-i:(m|ft)2([KF]))", r"\1**2*\2"),
        (r"(ft|in|m|cm|mm)([23])", r"\1**\2"),
    )
)

# Single words, in small letters.
_WORDS = {
    spelled: name
    for name, all_spelled in {
        "inch": "in inches \" ″ ” ''",
        "ft": "ft feet foot ' ′ ’",
        "m": "meter meters metre metres",
        "mm": "mm",
        "cm": "cm",
        "Pa": "pa pascal pascals",
        "hPa": "hpa",
        "kPa": "kpa",
        "psi": "psi",
        "Btu": "btu",
        "Btu/hour": "btuh",
        "kBtu": "kbtu",
        "kBtu/hour": "kbtuh",
        "MBH": "mbh",
        "kW": "kw",
        "kWh": "kwh",
        "hp": "hp",
        "cfm": "cfm",
        "fpm": "fpm",
        "gallon/minute": "gpm",
        "m**3/hour": "cmh",
        "mph": "mph",
        "ppm": "ppm ppmv",
        "percent": "% pct percent",
        "K": "k kelvin kelvins",
        "s": "sec secs second seconds",
        "minute": "min mins minute minutes",
        "hour": "h hr hrs hour hours",
        "day": "d day days",
        "lb": "lb lbs lbm pound pounds",
        "lb/hour": "pph",
        "kg": "kg",
        "gallon": "gal gallon gallons",
        "liter": "l liter liters litre litres",
        "delta_degF": "delta_degf",
        "delta_degC": "delta_degc",
    }.items()
    for spelled in all_spelled.split()
}
_WORD = re.compile(r"''|[A-Za-z%\"″”'′’](?:[A-Za-z%]|_(?=deg[FCfc]))*")
_NOT_SMALL = ("H", "D")  # henry and debye: read as they stand, and so refused, not as an hour and a day
_FULL_STOP = re.compile(r"(?<=[A-Za-z])\.(?=$|[\s/)·*-])")
_RAISED = re.compile(r"([⁻]?)([¹²³])")

_WHOLE = r"\d{1,3}(?:,\d{3})+|\d+"
_NUMBER = re.compile(
    rf"(?P<sign>[-+]?)\s?(?:(?:(?P<whole>{_WHOLE})[\s-])?(?P<over>\d{{1,4}})/(?P<under>\d{{1,4}})(?=[^\d/]|$)"
    rf"|(?P<plain>(?:{_WHOLE})(?:\.\d*)?|\.\d+)(?P<power>e[-+]?\d+)?(?![\d,.])"
    r"|(?P<odd>nan|inf)\b)",
    re.IGNORECASE,
)
_SIGNS = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " ", "º": "°", "˚": "°", "⁄": "/"}
)
_HALVES = re.compile("(\\d?)\\s?([½⅓⅔¼¾⅛⅜⅝⅞])")
_TIMES_TEN = re.compile(r"\s?[x×*·]\s?10(?:(?:\^|\*\*)([-+]?\d{1,2})|([⁻⁺]?[⁰¹²³⁴⁵⁶⁷⁸⁹]{1,2}))(?!\d)")
_LONGEST_NUMBER = 40


def number_and_unit(text: str) -> tuple[float, str] | None:
    """The number that a text begins with, and the rest; None where it begins with none that can be read one way.

    "1,700 MBH", "1/4 hp", "1 1/2 in.", "1½ in.", "1.5 x 10^3 Pa", "\u22120.05 in. w.c.", "42.4ft"; not "0,05 ft".
    """
    text = text.strip().translate(_SIGNS)
    head, rest = _in_figures(text[: _LONGEST_NUMBER + 1]), text[_LONGEST_NUMBER + 1 :]
    found = _NUMBER.match(head)
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
    return sign * value, (head[found.end() :] + rest).strip()


def _in_figures(text: str) -> str:
    """Fractions of one sign as two numbers, powers of ten as computers write them: "1½" as "1 1/2"."""
    text = _HALVES.sub(lambda found: f"{found[1]} {normalize('NFKC', found[2])}".strip().replace("⁄", "/"), text)
    return _TIMES_TEN.sub(lambda found: "e" + (found[1] or normalize("NFKC", found[2]).replace("−", "-")), text)


# The larger unit of two that are written one behind the other: "5 ft 6 in.", "5'-6\"", "1 min 5 s"; not "ft3".
_LARGER = re.compile(
    r"(?P<unit>ft|feet|foot|['′’](?!['′’])|lbs?|days?|d|h|hrs?|hours?|mins?|minutes?)\.?"
    r"(?:-|\s-\s|,?\s(?:and\s)?|(?<=['′’])|(?=\d+\s?(?:in|[\"″”]|m|s)))(?=[\d½⅓⅔¼¾⅛⅜⅝⅞])",
    re.IGNORECASE,
)


def larger_and_smaller(unit: str) -> tuple[str, str] | None:
    """The larger unit and the rest, number and unit, of a quantity in two units; None where it is in one."""
    found = _LARGER.match(unit)
    return (found["unit"], unit[found.end() :]) if found else None


def spelled_out(unit: str) -> str:
    """A unit by the names that the registry reads, whichever way it was written; what is not known stays as it is."""
    unit = unit.translate(_SIGNS)
    for pattern, name in _PHRASES:
        unit = pattern.sub(name, unit)
    unit = _RAISED.sub(lambda found: f"**-{normalize('NFKC', found[2])}" if found[1] else found[2], unit)
    unit = _WORD.sub(lambda found: _named(found[0]), _FULL_STOP.sub("", unit)).strip()
    return f"1{unit}" if unit.startswith("/") else unit


def below_one_slash(unit: str) -> str | None:
    """Everything behind the slash below it, as "Btu/h-ft2-F" means it; None where nothing is left open."""
    over, slash, under = unit.partition("/")
    if not slash or "(" in under:
        return None
    factors = re.split(r"(?<!\*)\*(?!\*)|[·/\s-]+", under.strip())
    return f"{over}/({'*'.join(factors)})" if len(factors) > 1 and all(factors) else None


def _named(word: str) -> str:
    return word if word in _NOT_SMALL else _WORDS.get(word.lower(), word)
