"""Clearance table: the requirements of codes on where a vent may end, as rows, and those of your own code book.

Each is a row of ``data/building/clearances.csv``: a fact with its section, edition, source and status. A reader adds
rows of another code book in the same form (`read_rules`). What a form of rule asks for, `clearance_rules` works out.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from ventcalc import tables
from ventcalc.building.code_rules import FAIL, PASS, READING, names_in
from ventcalc.building.roof_scene import MARKS, NEXT_DOOR, OBSTACLES, OPENINGS, one_of
from ventcalc.building.terminal import KINDS

FOOT, INCH = 0.3048, 0.0254  # m


@dataclass(frozen=True)
class Rule:
    """One row of a table of rules; lengths in m, pitch as a rise over 12, input in Btu/h. See the table's first lines.

    ``pitch`` and ``input`` are (over, up to); None where the row does not ask.
    """

    id: str
    rule: str
    form: str
    kinds: tuple[str, ...]
    objects: tuple[str, ...]
    value: float
    within: float
    beside: float
    below: float
    diameter_to: float | None
    diameter_over: float | None
    wall_from: float | None
    wall_nearer: float | None
    pitch: tuple[float, float] | None
    input: tuple[float, float] | None
    instead_of: str
    met: str
    broken: str
    section: str
    edition: str
    source: str
    status: str
    note: str

    @property
    def reference(self) -> str:
        """Section and edition."""
        return f"{self.section} ({self.edition})" if self.edition else self.section


# The forms of rules, and the columns that each needs besides a value.
FORMS = {
    "above roof": (),
    "above anything": ("within",),
    "above": ("objects", "within"),
    "around": ("objects", "beside", "below"),
    "away": ("objects",),
    "beside": ("objects",),
    "above grade": (),
    "above outlet": (),
}
ROOF_FORMS = ("above roof", "above anything")

_TEXTS = ("id", "rule", "form", "met", "broken", "section", "edition", "source", "status")
_LENGTHS = ("value", "within", "beside", "below")
_CONDITIONS = {
    "diameter_to": ("diameter_to_in", INCH),
    "diameter_over": ("diameter_over_in", INCH),
    "wall_from": ("wall_from_ft", FOOT),
    "wall_nearer": ("wall_nearer_ft", FOOT),
}
_RANGES = {"pitch": "pitch_to_12", "input": "input_to_btu_h"}
_COLUMNS = (*_TEXTS, *_LENGTHS, "kinds", "objects", "unit", "instead_of", "note", *_RANGES.values(),
            *(column for column, _ in _CONDITIONS.values()))  # fmt: skip
_UNIT = {"ft": FOOT, "in": INCH, "m": 1.0, "mm": 1e-3}
_OBJECTS = (*OBSTACLES, *OPENINGS, *MARKS, *(f"{o} {NEXT_DOOR}" for o in OPENINGS))
_SAID = {"met": (PASS, READING), "broken": (FAIL, READING)}


def _rules(rows: Iterable[Mapping[str, str]]) -> tuple[Rule, ...]:
    """Rows of one table as rules; in a rule of many rows each reaches from where the one before it ends."""
    made, ends = [], {}
    for row in rows:
        _sound_row(row)
        ranges = {}
        for name, column in _RANGES.items():
            start, end = ends.get((row["rule"], name)), _number(row, column)
            if start is not None or end is not None:
                ranges[name] = (-np.inf if start is None else start, np.inf if end is None else end)
                ends[row["rule"], name] = ranges[name][1]
        made.append(
            Rule(
                **{name: row[name] for name in (*_TEXTS, "instead_of", "note")},
                **{name: _number(row, name, _UNIT[row["unit"]]) or 0.0 for name in _LENGTHS},
                **{name: _number(row, *column) for name, column in _CONDITIONS.items()},
                **{name: ranges.get(name) for name in _RANGES},
                kinds=names_in(row["kinds"]),
                objects=names_in(row["objects"]),
            )
        )
    return tuple(made)


def _sound_row(row: Mapping[str, str]) -> None:
    """Raises ValueError naming row, column and what is valid."""
    where = f"rule {row.get('id') or row.get('rule') or '?'}"
    missing = [c for c in _COLUMNS if row.get(c) is None]
    if missing:
        raise ValueError(f"{where}: these columns are missing: {', '.join(missing)}")
    valid = {"form": tuple(FORMS), "unit": tuple(_UNIT), **_SAID}
    for column, words in valid.items():
        one_of(row[column], words, f"{where}: {column}")
    for word in names_in(row["kinds"]):
        one_of(word, KINDS, f"{where}: kinds")
    for word in names_in(row["objects"]):
        one_of(word, _OBJECTS, f"{where}: objects")
    wanted = ["rule", "value", "kinds", *FORMS[row["form"]]]
    empty = [c for c in wanted if not row[c].strip()]
    if empty:
        raise ValueError(f"{where}: give {', '.join(empty)}")
    if not row["source"].strip() or not row["status"].startswith(tables.STATUSES):
        raise ValueError(f"{where}: give a source, and a status that begins with: {', '.join(tables.STATUSES)}")


def _number(row: Mapping[str, str], column: str, factor: float = 1.0) -> float | None:
    text = row[column].strip()
    try:
        value = float(text) if text else None
        if value is None or (np.isfinite(value) and value >= 0.0):
            return None if value is None else value * factor
    except ValueError:
        pass
    raise ValueError(f"rule {row['id']}: {column} is {text!r}; give a number of 0 or more")


@cache
def shipped_rules() -> tuple[Rule, ...]:
    """The rules of ``data/building/clearances.csv``."""
    return _rules(tables.read("clearances"))


def read_rules(path: Path | str) -> tuple[Rule, ...]:
    """The shipped rules with those of your own code book: a CSV file of the same form.

    A rule of the same name replaces the shipped one, row for row. Raises ValueError naming row, column and what
    is valid.
    """
    with Path(path).open(encoding="utf-8", newline="") as lines:
        own = _rules(csv.DictReader(line for line in lines if not line.startswith("#")))
    names = {r.rule for r in own}
    return (*(r for r in shipped_rules() if r.rule not in names), *own)


def in_force(rules: Sequence[Rule] | None = None, habit: bool = False) -> tuple[Rule, ...]:
    """The rules that count; ``habit`` puts "three feet within ten" in the place of the table by roof pitch."""
    rules = shipped_rules() if rules is None else tuple(rules)
    replaced = {r.instead_of for r in rules if r.instead_of} if habit else set()
    return tuple(r for r in rules if r.rule not in replaced and (habit or not r.instead_of))
