"""Sources: the "Checked against" rows of a chapter gathered by where they were printed.

The same rows and words as `checked.html`, for long tables: source, status and remark are said once and
not in every row.
"""

from collections.abc import Iterable
from html import escape

from ventcalc.checked import Check
from ventcalc.panels import table

_HEADER = ("", "what", "ours", "published", "unit", "difference", "tolerance", "verdict")


def by_source(checks: Iterable[Check]) -> str:
    """HTML: for each source and status a table of its rows, and under it what the remarks say of which rows."""
    groups: dict[tuple[str, str], list[Check]] = {}
    for check in checks:
        groups.setdefault((check.source, check.status), []).append(check)
    return "".join(_group(source, status, rows) for (source, status), rows in groups.items())


def _group(source: str, status: str, rows: list[Check]) -> str:
    remarks: dict[str, list[str]] = {}
    for check in rows:
        if check.remark:
            remarks.setdefault(check.remark, []).append(check.id)
    said = "".join(f"<li>{escape(', '.join(ids))}: {escape(words)}</li>" for words, ids in remarks.items())
    head = f"<p><b>{escape(source)}</b><br>{escape(status)}; {len(rows)} rows</p>"
    return head + table(_HEADER, map(_cells, rows)) + (f"<ul>{said}</ul>" if said else "")


def _cells(check: Check) -> tuple[str, ...]:
    verdict = check.verdict.partition(":")[0]
    if check.difference is None:
        return (
            check.id,
            check.quantity,
            str(check.ours),
            str(check.published),
            check.unit,
            "",
            check.tolerance,
            verdict,
        )
    more = check.decimals + 1  # a digit more than is printed shows on which side of it ours lies
    return (
        check.id,
        check.quantity,
        f"{check.ours:.{more}f}",
        f"{check.published:.{check.decimals}f}",
        check.unit,
        f"{check.difference:+.{more}f}",
        check.tolerance,
        verdict,
    )
