"""Clearance words: findings on where a vent ends as plain sentences, with section, edition and status."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ventcalc.building.clearance_table import FOOT, INCH, Rule
from ventcalc.building.clearances import Finding
from ventcalc.building.code_rules import CHECK_EDITION, NONE, VERDICTS
from ventcalc.building.roof_scene import EXACT
from ventcalc.door import door
from ventcalc.units import Q_, Quantity
from ventcalc.words import say


@door(value="m")
def length_text(value: Quantity, system: str, up: bool = False) -> str:
    """A length as the trade writes it: feet to two decimals, inches below one foot; meters to the millimeter.

    ``up``: rounded up, so that whoever does what is said has done enough. Raises ValueError for an unknown system.
    """
    if system not in ("US", "SI"):
        raise ValueError(f"unit system {system!r}: choose US or SI")
    meters = float(value.m_as("m"))
    if system == "SI":
        return f"{_rounded(meters, 3, up):.3f}".rstrip("0").rstrip(".") + " m"
    feet = meters / FOOT
    if 0.0 < abs(feet) < 1.0 - 1e-9:
        return f"{_rounded(meters / INCH, 1, up):g} in."
    return f"{_rounded(feet, 2, up):g} ft"


def _rounded(value: float, decimals: int, up: bool) -> float:
    step = 10.0**decimals
    # What is a round number but for the rounding of floats stays one.
    return (np.ceil(value * step - 1e-4) if up else round(value * step)) / step + 0.0


@dataclass(frozen=True)
class Length:
    """A length of a sentence, told by `length_text`."""

    value: Quantity
    up: bool = False

    def words(self, system: str) -> str:
        """Its words."""
        return length_text(self.value, system, self.up)


def requirement(rule: Rule, system: str) -> str:
    """What a row asks for, in words."""
    form = rule.form
    if form == "above" and not rule.within:
        form = "overhung"
    elif form == "beside" and not rule.value:
        form = "not over"
    lengths = {name: Length(Q_(getattr(rule, name), "m")) for name in ("value", "within", "beside", "below")}
    things = _article(" or ".join(rule.objects))
    return say("building", "clearance_requirement", form, system, things=things, **lengths)


def _article(words: str) -> str:
    return f"an {words}" if words[:1] in tuple("aeiou") else f"a {words}"


def sentence(finding: Finding, system: str) -> str:
    """One finding as plain words, its section, edition and status with it."""
    head = {"rule": finding.rule, "verdict": finding.verdict, "said": _said(finding, system)}
    if finding.row is None or finding.verdict == NONE:
        return say("building", "clearance", "told", system, **head)
    where = {"reference": finding.row.reference, "status": finding.row.status, "check": CHECK_EDITION}
    return say("building", "clearance", "cited", system, **head, **where)


def sentences(findings: Iterable[Finding], system: str) -> tuple[str, ...]:
    """The findings as sentences, the worst verdicts first."""
    return tuple(sentence(f, system) for f in sorted(findings, key=lambda f: VERDICTS.index(f.verdict)))


def _said(f: Finding, system: str) -> str:
    reason = [] if f.reason is None else [_say(system, "reason", reason=_capital(f.reason.words(system)))]
    if not f.thing:
        return " ".join(reason)
    place = f.thing if f.gap is None else _say(system, "apart", thing=f.thing, gap=Length(f.gap))
    if f.broken:
        met = _say(system, "broken", place=place, cure=cure_text(f, system))
    elif f.spare is None:
        met = _say(system, "nearest", place=place)
    elif abs(f.spare.m_as("m")) < 2 * EXACT:
        met = _say(system, "just_met", place=place)
    else:
        met = _say(system, "governed", place=place, spare=Length(f.spare))
    return " ".join([_say(system, "required", requirement=requirement(f.row, system)), met, *reason])


def _say(system: str, name: str, **figures) -> str:
    return say("building", "clearance", name, system, **figures)


def cure_text(finding: Finding, system: str) -> str:
    """What would clear the thing that governs: raise, lower or move, rounded up."""
    ways = {name: getattr(finding, name) for name in ("raise_by", "lower_by", "move_by")}
    told = [_say(system, name, by=Length(by, up=True)) for name, by in ways.items() if by is not None]
    return _capital(" or ".join(told))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
