"""Checked: our answers beside published ones, row by row, from the tables ``data/*_checks.csv``.

A chapter's "Checked against" table and the test of the same subject both come from `compare`, so that they
cannot disagree. Nothing published is typed here: value, unit, tolerance, source and status are those of
the row. Where ours does not meet the last printed digit, the ``*_remarks.csv`` beside it says why; a row of what was
measured (``measured_*.csv``) says it itself, under ``reason``.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

from ventcalc import tables
from ventcalc.units import Quantity, UnitsError

# Units as the tables write them. A unit that is not here (hp: boiler or shaft?) takes a plain number.
_UNITS = {
    "-": "", "%": "percent", "ppm": "ppm", "lb/lb": "",
    "in. w.c.": "inH2O", "in. w.c./ft": "inH2O/ft", "Pa": "Pa", "kPa": "kPa", "psia": "psi", "inHg": "inHg",
    "ft": "ft", "in": "inch", "in2": "inch**2", "ft3": "ft**3", "F": "degF", "C": "degC", "K": "K",
    "lb/ft3": "lb/ft**3", "kg/m3": "kg/m**3", "m3/s": "m**3/s", "MBH": "MBH", "kW": "kW", "min": "minute",
    "1/h": "1/hour",
    "kg/MJ": "kg/MJ", "lb/1000 Btu": "lb/MBH/hour", "J/(kg K)": "J/(kg*K)", "W/(m2 K)": "W/(m**2*K)",
    "Btu/(h ft2 F)": "Btu/(hour*ft**2*delta_degF)",
}  # fmt: skip

_NUMBER = r"(\d*\.?\d+(?:[eE][-+]?\d+)?)"
_TOLERANCE = re.compile(rf"{_NUMBER}\s*(%|abs\b|[^\s(]*)\s*(?:\(.*\))?")
_NOISE = 1e-9  # relative; a sum that should meet a limit exactly may miss it by rounding of floats


@dataclass(frozen=True)
class Check:
    """One published row and our answer to it, both in the row's ``unit``.

    ``difference`` is ours less published, ``allowed`` the row's tolerance as a number, ``decimals`` how many
    are printed; all None for a row of words. ``remark`` says why ours is off, where it is, and ``stated`` by how
    much, as text.
    """

    id: str
    quantity: str
    unit: str
    ours: float | str
    published: float | str
    difference: float | None
    tolerance: str
    allowed: float | None
    decimals: int | None
    source: str
    status: str
    note: str
    remark: str
    stated: str

    @property
    def to_the_last_digit(self) -> bool:
        """Whether ours rounds to what is printed."""
        if self.difference is None:
            return self.ours == self.published
        return abs(self.difference) <= _half_digit(self.decimals) + _NOISE * abs(self.published)

    @property
    def agrees(self) -> bool:
        """Whether ours lies within the row's tolerance."""
        if self.difference is None:
            return self.ours == self.published
        return abs(self.difference) <= self.allowed + _NOISE * abs(self.published)

    @property
    def verdict(self) -> str:
        """ "to the last digit", "within tolerance" or "misses", and the remark if there is one."""
        words = "to the last digit" if self.to_the_last_digit else "within tolerance" if self.agrees else "misses"
        return f"{words}: {self.remark}" if self.remark else words

    @property
    def printed(self) -> tuple[str, str, str]:
        """Ours, published and their difference as text; a difference that rounds to zero has no minus."""
        if self.difference is None:
            return str(self.ours), str(self.published), ""
        more = self.decimals + 1  # a digit more than is printed shows on which side of it ours lies
        return f"{self.ours:.{more}f}", f"{self.published:.{self.decimals}f}", f"{self.difference:+z.{more}f}"


def allowance(text: str, value: float, digit: float, unit: str = "") -> float:
    """The tolerance that a row suggests, as a number in the row's ``unit``.

    ``text`` is one of: "exact" (to the last printed digit, half a unit of which is ``digit``), "exact (rounding
    1)", "1%" (of ``value``), "0.005 abs", "1e-4", "0.5 Pa" or "2 in (chart reading)", where the unit must be the
    row's. Raises ValueError for anything else.
    """
    text = text.strip()
    if text.startswith("exact"):
        rounding = re.search(rf"rounding {_NUMBER}", text)
        return float(rounding[1]) if rounding else digit
    found = _TOLERANCE.fullmatch(text)
    if not found or found[2] not in ("", "abs", "%", unit):
        raise ValueError(f"tolerance {text!r} of a value in {unit or '-'} cannot be read; write 0.01 abs, 1% or exact")
    return float(found[1]) * (abs(value) / 100.0 if found[2] == "%" else 1.0)


def compare(table: str, ours: Mapping[str, Any]) -> tuple[Check, ...]:
    """Our answers beside rows of ``data/<table>.csv``, in the order of ``ours`` (id -> answer).

    An answer is a quantity, a plain number in the row's unit, or text where the row holds words. Raises
    ValueError for an unknown id or an unreadable tolerance, `UnitsError` where a quantity does not fit.
    """
    decimals = _decimals(table)
    return tuple(_check(tables.row(table, key), answer, decimals) for key, answer in ours.items())


@cache
def _remarks() -> Mapping[str, Mapping[str, str]]:
    """Every row of the ``*_remarks`` tables by the id of the row that it speaks of."""
    return {row["id"]: row for name in tables.names() if name.endswith("_remarks") for row in tables.read(name)}


def _check(row: Mapping[str, str], answer: Any, known: Mapping[tuple, int]) -> Check:
    published, allowed, decimals, difference = row["value"], None, None, None
    remark = _remarks().get(row["id"], {"remark": row.get("reason", ""), "difference": ""})
    if _is_number(published):
        published, decimals = float(published), known[_series(row)]
        allowed = allowance(row["tolerance_suggested"], published, _half_digit(decimals), row["unit"])
        answer = _plain(answer, row)
        difference = answer - published
    return Check(
        id=row["id"],
        quantity=row["quantity"],
        unit=row["unit"],
        ours=answer,
        published=published,
        difference=difference,
        tolerance=row["tolerance_suggested"],
        allowed=allowed,
        decimals=decimals,
        source=row["source"],
        status=row["status"],
        note=row["note"],
        remark=remark["remark"],
        stated=remark["difference"],
    )


def _plain(answer: Any, row: Mapping[str, str]) -> float:
    if not isinstance(answer, Quantity):
        return float(answer)
    unit = _UNITS.get(row["unit"])
    if unit is None or not answer.is_compatible_with(unit):
        raise UnitsError(
            f"{row['id']} is in {row['unit']}: give a quantity that fits or a plain number, not {answer:~P}"
        )
    return float(answer.m_as(unit))


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _series(row: Mapping[str, str]) -> tuple[str, str, str]:
    """Rows printed together: one source, one quantity, one unit."""
    return row["quantity"], row["unit"], row["source"]


def _decimals(table: str) -> dict[tuple, int]:
    """Decimals printed in each series, its most precise row deciding (0.5 beside 0.57 is 0.50)."""
    decimals: dict[tuple, int] = {}
    for row in tables.read(table):
        if _is_number(row["value"]):
            places = len(row["value"].partition(".")[2])
            decimals[_series(row)] = max(places, decimals.get(_series(row), 0))
    return decimals


def _half_digit(decimals: int) -> float:
    """Half a unit of the last printed digit."""
    return 0.5 * 10.0**-decimals


def unexplained(checks: Iterable[Check]) -> list[str]:
    """What the tables ``*_remarks`` fail to say of these rows, one sentence each; empty where all is said.

    A row that ours does not meet to the last digit needs a remark that states the difference; a row that it
    meets must have none.
    """
    return [f"{c.id}: {words}" for c in checks if (words := _unexplained(c))]


def _unexplained(check: Check) -> str:
    off = "by words" if check.difference is None else f"by {check.difference:.6g} {check.unit}"
    if not check.remark:
        return "" if check.to_the_last_digit else f"ours is off {off} and no remark says why"
    if check.to_the_last_digit:
        return "a remark explains a difference that is not there"
    stated, places = float(check.stated), len(check.stated.partition(".")[2])
    return (
        "" if abs(check.difference - stated) <= _half_digit(places) else f"ours is off {off}, the remark says {stated}"
    )


_HEADER = ("", "what", "ours", "published", "unit", "difference", "tolerance", "verdict", "status", "source")
_NUMBERS = {"ours", "published", "difference"}  # columns set flush right, unless they hold words


def _cells(check: Check) -> tuple[str, ...]:
    ours, published, difference = check.printed
    words = (check.tolerance, check.verdict, check.status, check.source)
    return (check.id, check.quantity, ours, published, check.unit, difference, *words)


def markdown(checks: Iterable[Check]) -> str:
    """The "Checked against" table as Markdown."""
    rows = [[re.sub(r"[|*_]", r"\\\g<0>", cell) for cell in _cells(c)] for c in checks]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (_HEADER, ("---",) * len(_HEADER), *rows))


def html(checks: Iterable[Check]) -> str:
    """The "Checked against" table as HTML: words flush left, numbers flush right."""
    checks = tuple(checks)
    head = _row("th", _HEADER, any(c.difference is not None for c in checks))
    body = "".join(_row("td", _cells(c), c.difference is not None) for c in checks)
    return f"<table><thead>{head}</thead><tbody>{body}</tbody></table>"


def _row(tag: str, cells: Iterable[str], numbers: bool) -> str:
    sides = ["right" if numbers and h in _NUMBERS else "left" for h in _HEADER]
    each = (f'<{tag} style="text-align:{s}">{escape(c)}</{tag}>' for s, c in zip(sides, cells, strict=True))
    return f"<tr>{''.join(each)}</tr>"
