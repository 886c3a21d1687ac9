"""Code rules: what rules of codes and standards share: a figure by its name, where it stands, verdicts, the caution."""

from functools import cache

from ventcalc import tables
from ventcalc.units import Q_, Quantity

PASS, FAIL, READING, NONE = "pass", "fail", "needs the authority's reading", "does not apply"
VERDICTS = (FAIL, READING, PASS, NONE)  # the worst first

CHECK_EDITION = "check what your jurisdiction adopted"

# Units as the tables of rules write them, where pint would not read them so.
_UNITS = {
    "ft3 per 1000 Btu/h": "ft**3/MBH", "Btu/h per in2": "Btu/hour/inch**2", "in2 per 1000 Btu/h": "inch**2/MBH",
    "cfm per 1000 Btu/h": "cfm/MBH", "in2": "inch**2", "in": "inch", "1/h": "1/hour", "-": "",
    "ft3": "ft**3/hour/MBH", "ft per cfm^0.5": "ft/cfm**0.5",
}  # fmt: skip


@cache
def figure(table: str, rule: str) -> Quantity:
    """The number of a ``rule`` in ``data/building/<table>.csv``, by its name; ValueError where there is none."""
    row = tables.row(table, rule, "rule")
    return Q_(float(row["value"]), _UNITS.get(row["unit"], row["unit"]))


def plain(table: str, rule: str, unit: str) -> float:
    """`figure` as a plain number in a unit."""
    return float(figure(table, rule).m_as(unit))


def cited(table: str, rule: str) -> str:
    """Where a rule stands: source, edition, and to check it."""
    row = tables.row(table, rule, "rule")
    unsure = ", from memory" if row["status"].startswith("from memory") else ""
    return f"{row['source']} (edition: {row['edition']}{unsure}; {CHECK_EDITION})"


def names_in(cell: str) -> tuple[str, ...]:
    """The names that stand in a cell of a table, parted by ";"."""
    return tuple(name.strip() for name in cell.split(";") if name.strip())
