"""Every number of a chapter's sentences, and every number that its outputs and its code give."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from html import unescape
from pathlib import Path

from ventcalc.units import Q_, Quantity, UnitsError, parse

ROOT = Path(__file__).parent.parent
CHAPTERS = sorted(p.stem for p in (ROOT / "chapters").glob("*.ipynb"))

_SMALL = [
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
]
WORDS = {word: float(n) for n, word in enumerate(_SMALL, 2)} | {
    **{"one": 1.0, "twenty": 20.0, "thirty": 30.0, "forty": 40.0, "fifty": 50.0, "sixty": 60.0, "seventy": 70.0},
    **{"eighty": 80.0, "ninety": 90.0, "hundred": 100.0, "thousand": 1e3, "million": 1e6, "dozen": 12.0},
}
_PARTS = ["third", "quarter", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]
PARTS = {"half": 0.5, "halve": 0.5} | {word: 1.0 / n for n, word in enumerate(_PARTS, 3)}
PARTS |= {"twentieth": 0.05, "hundredth": 0.01, "thousandth": 0.001}
TIMES = {"twice": 2.0, "doubles": 2.0, "doubled": 2.0, "double": 2.0, "thrice": 3.0, "trebles": 3.0}

# As chapters write units, longest first, and as the library reads them.
_UNITS = {
    "million Btu": "MBH*hour", "Btu/(h·ft²·°F)": "Btu/(hour*ft**2*delta_degF)",
    "Btu/(lb·°F)": "Btu/(lb*delta_degF)", "kJ/(kg·K)": "kJ/(kg*K)", "mL/min": "mL/min",
    "kW/m²": "kW/m**2", "W/m²": "W/m**2", "Btu/h": "Btu/hour", "fpm": "ft/min", "rpm": "rpm", "L/min": "L/min",
    "cfm/ft²": "ft**3/min/ft**2", "m²/kW": "m**2/kW", "horsepower": "hp", "Btu per cubic foot": "Btu/ft**3",
    "in. w.c.": "inH2O", "inches of water": "inH2O",
    "inch of water": "inH2O", "m³/(s m²)": "m/s", "J/(mol K)": "J/(mol*K)", "J/(kg K)": "J/(kg*K)",
    "W/(m² K)": "W/(m**2*K)", "W/(m K)": "W/(m*K)", "m² K/W": "m**2*K/W", "kg/mol": "kg/mol", "g/mol": "g/mol",
    "lb/ft³": "lb/ft**3", "kg/m³": "kg/m**3", "lb/ft²": "lb/ft**2", "lb/h": "lb/hour", "kg/s": "kg/s", "g/s": "g/s",
    "kg/h": "kg/hour", "kg/kg": "", "MJ/kg": "MJ/kg", "kJ/kg": "kJ/kg", "J/kg": "J/kg", "MJ/m³": "MJ/m**3",
    "mg/m³": "mg/m**3", "kg/MJ": "kg/MJ", "K/m": "K/m", "Pa/s": "Pa/s", "Pa/m": "Pa/m", "ft/min": "ft/min",
    "ft/s": "ft/s", "m³/h": "m**3/hour", "m³/s": "m**3/s", "m/s²": "m/s**2", "m²/s": "m**2/s", "m/s": "m/s",
    "L/s": "L/s", "km/h": "km/hour", "mph": "mph", "cfm": "ft**3/min", "inHg": "inHg", "psia": "psi", "psi": "psi",
    "MBH": "MBH", "kBtu": "kBtu", "Btu": "Btu", "kWh": "kWh", "kW": "kW", "W": "W", "GJ": "GJ", "MJ": "MJ",
    "kJ": "kJ", "J": "J", "kPa": "kPa", "hPa": "hPa", "Pa": "Pa", "°F": "degF", "°C": "degC", "°R": "degR",
    "kelvin": "K", "K": "K", "ft²": "ft**2", "ft³": "ft**3", "square feet": "ft**2", "feet": "ft", "foot": "ft",
    "ft": "ft", "in.²": "inch**2", "in²": "inch**2", "square inches": "inch**2", "square inch": "inch**2",
    "inches": "inch", "inch": "inch", "in.": "inch", "mm²": "mm**2", "mm": "mm", "cm²": "cm**2", "cm": "cm",
    "km": "km", "m²": "m**2", "m³": "m**3", "meters": "m", "meter": "m", "m": "m", "lb": "lb", "pounds": "lb",
    "pound": "lb", "kg": "kg", "g": "g", "gal": "gal", "L": "L", "liters": "L", "hp": "hp", "ppm": "ppm",
    "percentage points": "%", "percent": "%", "points": "%", "%": "%", "degrees": "degree", "°": "degree",
    "milliseconds": "ms", "ms": "ms", "seconds": "s", "second": "s", "s": "s", "minutes": "min", "minute": "min",
    "min": "min", "hours": "hour", "hour": "hour", "h": "hour", "days": "day", "day": "day", "weeks": "week",
    "week": "week", "months": "month", "years": "year", "year": "year", "Hz": "Hz", "dB": "dB", "V": "V", "mA": "mA",
    "times": "times", "fold": "times", "diameters": "diameters",
}  # fmt: skip
_UNIT = "|".join(re.escape(u) for u in sorted(_UNITS, key=len, reverse=True))
_DIGITS = r"(?<![\w.,/])[-−]?\d+(?:,\d{3})*(?:\.\d+)?(?!\d|[.,]\d)"
_WORD = r"\b(?:" + "|".join([*WORDS, *TIMES]) + r")\b"
_PART = r"\b(?:(?:" + "|".join(WORDS) + r")[ -])?(?:" + "|".join(PARTS) + r")s?\b"
_NUMBER = re.compile(
    rf"(?P<part>{_PART})|(?P<digits>{_DIGITS})|(?P<word>{_WORD})(?:[ -](?P<scale>hundredth|thousand|million)s?)?", re.I
)
_AFTER = re.compile(rf"(?:[\s-]|(?=[°%]))(?P<unit>{_UNIT})(?![\w³²/°·])")
_JOINED = re.compile(
    r"\s*(?: (?:to|and|or|by|against|x|then)|, (?:then|to)|,|×|–|/)\s*(?:the |at |from |in |about |another )?$"
)

# What a number names, and does not measure: a chapter, a table, a standard, a section, a code's edition, a Part.
_CALLED = (
    "Table|Figure|section|Section|equation|category|EN|NFPA|ASHRAE|ISO|UL|CSA|ANSI|DIN|ASME|SR1|R14|RP|IAPWS|Z|Schedule",
    "type|no\\.|No\\.|Boiler|Boilers|boiler|boilers|line|Part|Appliance|Heater|Unit|tag|step|row|Report|Bulletin|NBS|NOAA",
    "VDI|example|Example|Note|Paper|number|SP|ch\\.|formulas|CR|CFR|Appendix|Method|Examples",
    "JCGM|Chem\\.\\*|Phys\\.\\*|Re =|Test",
)
_NAMES = re.compile(
    r"\]\([^)]*\)|`[^`]*`|"  # links, code
    r"\*[^*\n]+\*,? \d+[^;\n]{0,12}\((?:19|20)\d\d\) ?\d*(?:, and [A-Z][\w ]+, \d+)?|"  # *Journal* 18 (1950) 517
    r"\b[Cc]hapters? \d+(?:(?:, | and | to )\d+)*|\[\d\d [^\]]*\](?:\([^)]*\))?|^#+ \d+ ·|"
    rf"\b(?:{'|'.join(_CALLED)})[ -]?[A-Z]{{0,2}}[ -]?\d[\w./:()-]*(?:(?:, | and | or | to )\d\b)*|"
    r"(?<![\d.,])(?:1[89]|20)\d\d(?![\d,.]\d|\s?(?:Btu|ft|fpm|f|MBH|°|cfm|to|K|in|lb))\b|"  # a year
    r"\b\d\d(?:th|st|nd|rd)\b|^\d+\. |\b[A-Z]\d+\b|\b[A-Z]{2}\d+-\d+\b|"
    r"\[\d\d\]\([^)]*\)|\*[^*\n]+\* \d+, (?:19|20)\d\d|codes, \d{3}\.\d+|"  # a linked chapter, a volume, a section
    r"eq\. \(\d+\)|\(\d(?:, \d)?\)|\bSteps \d to \d|\(1/[a-zA-Z]+\)|"  # things told by their number, a unit
    r"[Hh]alf-li(?:fe|ves)|[Dd]ouble-wall|two points|third (?:boiler|library|one|elbow)\b",
    re.M,
)
_MATH = re.compile(r"\$\$.*?\$\$|\$[^$]*\$", re.S)
_SOURCES = re.compile(r"^## Further reading.*", re.M | re.S)
_FENCE = re.compile(r"```.*?```", re.S)


@dataclass(frozen=True)
class Number:
    """A number as it is written: value, half of its last digit, unit as the library spells it, and what is around."""

    value: float
    half: float
    unit: str
    text: str
    at: int
    end: int
    sentence: str
    written: str

    def is_(self, value: float, slack: float = 1.0) -> bool:
        """Whether ``value`` rounds to what is written, sign aside."""
        return abs(abs(value) - abs(self.value)) <= self.half * slack * (1.0 + 1e-9) + 1e-9 * abs(self.value)

    def quantity(self) -> Quantity:
        """The number with its unit."""
        return Q_(self.value, self.unit)


def _read(match: re.Match) -> tuple[float, float]:
    """Value and half of the last digit; of a word, within a tenth and a bit of it."""
    if match["digits"]:
        text = match["digits"].replace(",", "").replace("−", "-")
        decimals = len(text.partition(".")[2])
        return float(text), 0.5 * 10.0**-decimals
    if match["part"]:
        words = re.split(r"[ -]", match["part"].lower())
        value = PARTS[words[-1].removesuffix("s") if words[-1] != "halves" else "half"]
        value *= WORDS[words[0]] if len(words) > 1 else 1.0
        return value, 0.13 * value
    word = match["word"].lower()
    value = WORDS.get(word, TIMES.get(word)) * {"hundredth": 0.01, "thousand": 1e3, "million": 1e6}.get(
        (match["scale"] or "").lower(), 1.0
    )
    return value, 0.13 * value


def plain(text: str) -> str:
    """A markdown text without formulas, code and what only names; as long as before, so that places are kept."""
    for pattern in (_SOURCES, _FENCE, _MATH, _NAMES):
        text = pattern.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), text)
    return text


def numbers(text: str) -> list[Number]:
    """Every number of a text with its unit; one without a unit has that of the next it is joined with."""
    found: list[Number] = []
    matches: list[re.Match] = []
    for match in _NUMBER.finditer(text):
        after = _AFTER.match(text, matches[-1].end()) if matches else None
        if not after or match.start() >= after.end():  # "500,000 million Btu" is one number
            matches.append(match)
    breaks = [
        0,
        *(m.end() for m in re.finditer(r"[.?!:;](?=\s)(?<!in\.)(?<!w\.c\.)(?<!no\.)|\n\n|\n- ", text)),
        len(text),
    ]
    for match in matches:
        value, half = _read(match)
        after = _AFTER.match(text, match.end())
        unit = _UNITS[after["unit"]] if after else ("times" if match["word"] and match["word"].lower() in TIMES else "")
        at = max(b for b in breaks if b <= match.start())
        end = min(b for b in breaks if b >= match.end())
        sentence = re.sub(r"\s+", " ", text[at:end]).strip()
        found.append(
            Number(
                value,
                half,
                unit,
                match[0],
                match.start(),
                (after or match).end(),
                sentence,
                re.sub(r"\s+", " ", text[match.start() : (after or match).end()]).lower(),
            )
        )
    for n in range(len(found) - 2, -1, -1):
        this, that = found[n], found[n + 1]
        if not this.unit and that.unit and _JOINED.fullmatch(text[this.end : that.at]):
            found[n] = replace(this, unit=that.unit)
    return found


def measures(number: Number) -> bool:
    """Whether it says how much; a small count in words ("the two densities") is told by what it counts."""
    if number.text[0].isdigit() or number.text[0] in "-−" or number.unit:
        return not (
            number.text.lower() == "one"
            or (number.text.lower() in WORDS and number.unit in ("", "times") and number.value <= 1)
        )
    return number.text.lower() not in WORDS or number.value >= 10


@dataclass(frozen=True)
class Chapter:
    """A chapter: its markdown cells, and the texts of its code and of its outputs."""

    name: str
    cells: tuple
    texts: tuple[str, ...]
    code: str
    outputs: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def _stripped(html: str) -> str:
    html = re.sub(r"<svg.*?</svg>|<style.*?</style>|<script.*?</script>", " ", html, flags=re.S)
    return unescape(re.sub(r"<[^>]*>", " ", re.sub(r"</(?:p|tr|li)>|<br>", "\n", html)))


def _output_html(cell: dict) -> Iterator[str]:
    for output in cell.get("outputs", ()):
        data = output.get("data", {})
        yield "".join(data.get("text/html", output.get("text", "")))


@cache
def chapter(name: str) -> Chapter:
    """The chapter as it is saved."""
    cells = json.loads((ROOT / "chapters" / f"{name}.ipynb").read_text(encoding="utf-8"))["cells"]
    texts = tuple("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
    code = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
    html = [h for c in cells for h in _output_html(c) if h and "vc-questions" not in h]
    rows = tuple(
        tuple(_stripped(cell).strip() for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.S))
        for h in html
        for row in re.findall(r"<tr>(.*?)</tr>", h, re.S)
    )
    return Chapter(name, tuple(cells), texts, code, tuple(_stripped(h) for h in html), rows)


_GIVEN = re.compile(r"""Q_\(\s*(-?[\d_.]+(?:e-?\d+)?),\s*["']([^"']*)["']\)|["'](-?[\d.]+ [A-Za-z%][\w*/ ]*)["']""")


def given(code: str) -> Iterator[Quantity]:
    """The quantities that a piece of code, or of data, gives."""
    for value, unit, told in _GIVEN.findall(code):
        try:
            yield parse(told) if told else Q_(float(value), unit)
        except (UnitsError, ValueError):
            continue
        except Exception:
            continue
