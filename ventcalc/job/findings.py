"""Findings: what a judgement says of a design, as records, and the one table of all their codes.

A finding is data: its code, whom or what it concerns, figures with units. The table (``findings.toml``) gives every
code its weight, its title, its sentence and what to do about it. Sentences are made from it where they are
shown (`sentence`); nothing reads a sentence to decide something.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from ventcalc.tables import DATA
from ventcalc.units import Q_, Quantity
from ventcalc.vent.firing_states import Scan
from ventcalc.words import fill, listed, say

WEIGHTS = ("people", "fault", "note")  # the gravest first
AGAINST = WEIGHTS[:2]  # what speaks against a design


@dataclass(frozen=True)
class Code:
    """A row of the table; ``clauses`` are (figure, text) told where that figure is there and not nought.

    ``beside`` the vent is what no change of its pipe or devices is for: the room's air, and the place where it ends.
    """

    name: str
    weight: str
    title: str
    sentence: str
    todo: str
    clauses: tuple[tuple[str, str], ...] = ()
    beside: bool = False


@cache
def table() -> dict[str, Code]:
    """Every code by its name. Raises ValueError where the file has an unknown weight."""
    with (DATA / "job" / "findings.toml").open("rb") as file:
        rows = tomllib.load(file)
    for name, row in rows.items():
        if row["weight"] not in WEIGHTS:
            raise ValueError(f"findings.toml: weight of {name} is {row['weight']!r}, not one of {', '.join(WEIGHTS)}")
    return {
        name: Code(name, **{**row, "clauses": tuple(map(tuple, row.get("clauses", ())))}) for name, row in rows.items()
    }


@dataclass(frozen=True)
class Finding:
    """One thing found. ``subjects`` are names (appliances, sections, terminals); ``figures`` what the sentence tells.

    A figure is a quantity, a number, a name, or something with ``words(system)``, such as an operating condition.
    ``rule`` names what it rests on, with its source and status, where that is a rule.
    """

    code: str
    subjects: tuple[str, ...] = ()
    figures: Mapping[str, Any] = field(default_factory=dict)
    rule: str = ""

    @property
    def weight(self) -> str:
        """One of `WEIGHTS`."""
        return table()[self.code].weight

    @property
    def title(self) -> str:
        """What it is about, in a word or two."""
        return table()[self.code].title

    @property
    def todo(self) -> str:
        """What to do about it."""
        return table()[self.code].todo

    @property
    def beside(self) -> bool:
        """Whether it is beside the vent: of the room's air, or of the place where the vent ends."""
        return table()[self.code].beside

    @property
    def speaks_against(self) -> bool:
        """Whether a design with it may not be built so."""
        return self.weight in AGAINST


@dataclass(frozen=True)
class Condition:
    """One operating condition of a scan, as a figure of a finding."""

    scan: Scan
    column: int

    def words(self, system: str = "US") -> str:
        """The condition in words."""
        return self.scan.describe(self.column, system)


@dataclass(frozen=True)
class Named:
    """Codes as a figure of a finding, told by their words in ``words.toml``; ``figures`` where those tell some."""

    subject: str
    codes: tuple[str, ...]
    figures: Mapping[str, Any] = field(default_factory=dict)

    def words(self, system: str = "US") -> str:
        """The words of each, in a row."""
        return listed(tuple(say("job", self.subject, code, system, **self.figures) for code in self.codes))


@dataclass(frozen=True)
class Told:
    """A figure whose words another module makes of what it is ``about``, in one unit system."""

    tell: Callable[..., str]
    about: tuple

    def words(self, system: str = "US") -> str:
        """Its words."""
        return self.tell(*self.about, system)


def pascal(value: float) -> Quantity:
    """A pressure as a figure of a finding."""
    return Q_(float(value), "Pa")


@dataclass(frozen=True)
class Judgement:
    """All findings of one design, the gravest first."""

    findings: tuple[Finding, ...]

    @property
    def cured(self) -> bool:
        """Whether nothing that was checked speaks against the design: the one meaning of the word."""
        return not self.against

    @property
    def against(self) -> tuple[Finding, ...]:
        """What speaks against it."""
        return tuple(f for f in self.findings if f.speaks_against)

    @property
    def only_beside(self) -> bool:
        """Whether something speaks against it, and all of that is beside the vent: it is mended there, not by pipe."""
        return not self.cured and all(f.beside for f in self.against)

    def of_weight(self, weight: str) -> tuple[Finding, ...]:
        """Findings of one weight."""
        return tuple(f for f in self.findings if f.weight == weight)


def judgement(found) -> Judgement:
    """A judgement of findings, sorted by weight, else in the order they come."""
    return Judgement(tuple(sorted(found, key=lambda f: WEIGHTS.index(f.weight))))


# --- In words ------------------------------------------------------------------------------------------------


def sentence(finding: Finding, system: str = "US") -> str:
    """A finding in words. Raises KeyError where it lacks a figure that its sentence tells."""
    code = table()[finding.code]
    figures = {"subjects": finding.subjects, **finding.figures}
    texts = [code.sentence, *(text for key, text in code.clauses if figures.get(key))]
    rule = [f"{finding.rule}."] if finding.rule else []
    return " ".join([*(fill(text, figures, system) for text in texts), *rule])
