"""Evidence line: what the checks of a chapter come to, in one sentence, and what kind of evidence each row is.

Only what was printed by others is evidence. Rows recalled from memory and rows computed from a definition are counted
apart; what was read in a secondary source says so.
"""

from collections.abc import Iterable
from functools import cache
from html import escape

from ventcalc import tables
from ventcalc.checked import Check
from ventcalc.show import sources
from ventcalc.words import one_stop

PAGE = "00_evidence.ipynb"

PUBLISHED, MEMORY, COMPUTED = "published", "from memory", "computed"
KINDS = (PUBLISHED, MEMORY, COMPUTED)

# Statuses of the tables that mean a restatement by others, and how a reader is told.
_SECONDARY = ("published: read in a secondary source", "published: read in a restatement")
SECONDARY = "published: secondary source, original not seen"


def kind(check: Check) -> str:
    """What a row is as evidence, one of `KINDS`; common practice and mixed rows count as from memory."""
    return next((k for k in (PUBLISHED, COMPUTED) if check.status.startswith(k)), MEMORY)


def without_recalled(checks: Iterable[Check]) -> tuple[Check, ...]:
    """The checks without those of rows recalled from memory: these stay data, marked so, and are no evidence."""
    return tuple(check for check in checks if kind(check) != MEMORY)


def status(check: Check) -> str:
    """The status of a row as a reader is told it."""
    return SECONDARY if check.status.startswith(_SECONDARY) else check.status


def case(check: Check) -> str:
    """What a row is about: its quantity and the case that its table tells of it."""
    told = sources.case({column: value for column, value in _rows()[check.id].items() if value != "-"})
    return f"{check.quantity} ({told})" if told else check.quantity


@cache
def _rows() -> dict[str, dict[str, str]]:
    """Every row of the tables of checks, and of what was measured, by its id."""
    held = [name for name in tables.names() if name.endswith("_checks") or name.startswith("measured_")]
    return {row["id"]: row for name in held for row in tables.read(name)}


def words(checks: Iterable[Check]) -> str:
    """What the checks come to, in words."""
    unique = tuple({check.id: check for check in checks}.values())
    groups = {k: [c for c in unique if kind(c) == k] for k in KINDS}
    apart = [f"{len(rows)} {words}{_off(rows)}" for k, words in _APART.items() if (rows := groups[k])]
    return _published(groups[PUBLISHED]) + (f" Counted apart, no evidence: {', '.join(apart)}." if apart else "")


_APART = {MEMORY: "from memory, to be confirmed", COMPUTED: "computed, for consistency"}


def _published(rows: list[Check]) -> str:
    if not rows:
        return "No published figure checks this chapter."
    missing = [c for c in rows if not c.agrees]
    within = f"{len(rows) - len(missing)} of {len(rows)} published rows within tolerance"
    second = sum(status(c) == SECONDARY for c in rows)
    many = "all" if second == len(rows) else second
    origin = f" ({many} read in a secondary source, original not seen)" if second else ""
    return one_stop(f"{within}{origin}{_missing(missing)}.")


def _missing(rows: list[Check]) -> str:
    """The row that misses, or of several the one that is farthest outside its tolerance."""
    if not rows:
        return ""
    worst = max(rows, key=lambda c: abs(c.difference) / c.allowed if c.allowed else float("inf"))
    which = "the one that misses" if len(rows) == 1 else f"of the {len(rows)} that miss the farthest off"
    return f"; {which} is {case(worst)}, {_by(worst)}"


def _by(check: Check) -> str:
    return (
        f"by {check.printed[2].lstrip('+-')} {check.unit}".rstrip(" -") if check.difference is not None else "by words"
    )


def _off(rows: list[Check]) -> str:
    """How many of rows that are no evidence miss; nothing where none does."""
    missing = sum(not c.agrees for c in rows)
    return f" ({missing} off)" if missing else ""


def html(checks: Iterable[Check]) -> str:
    """The line, with a link to the page where every row stands."""
    link = f'<a href="{PAGE}">Every row, with its source</a>'
    return f'<p style="line-height: 1.4; margin: 6px 0"><b>Checked:</b> {escape(words(checks))} {link}.</p>'
