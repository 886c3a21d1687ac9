"""Sources: the "Checked against" rows of a chapter gathered by where they were printed.

The same rows and words as `checked.html`, for long tables: source, status and remark are said once and
not in every row.
"""

from collections.abc import Iterable, Mapping
from html import escape

from ventcalc import tables
from ventcalc.checked import Check
from ventcalc.show.panels import table

_HEADER = ("", "what", "case", "ours", "published", "unit", "difference", "tolerance", "verdict")
# Columns of a table of checks that `Check` holds already; the others say of which case a row is.
_HELD = {"id", "quantity", "value", "unit", "tolerance_suggested", "source", "status", "note"}
_UNITS = {
    "W_m2K": "W/(m² K)", "J_kgK": "J/(kg K)", "W_mK": "W/(m K)", "kg_s": "kg/s", "lb_s": "lb/s", "m_s": "m/s",
    "psia_in": "psia", "atm_m": "atm·m",
    "psia": "psia", "inwc": "in. w.c.", "inHg": "inHg", "mmHg": "mmHg", "kPa": "kPa", "Pa": "Pa", "pct": "%",
    "MBH": "MBH", "deg": "°", "ft2": "ft²", "ft": "ft", "in": "in.", "m": "m", "F": "°F", "C": "°C", "K": "K",
}  # fmt: skip


def by_source(checks: Iterable[Check], *names: str) -> str:
    """HTML: for each source and status a table of its rows, and under it what the remarks say of which rows.

    ``names``: the tables of `data/` that the rows stand in, where each should say of which fuel, altitude,
    temperature and so on it is.
    """
    cases = {row["id"]: case(row) for name in names for row in tables.read(name)}
    groups: dict[tuple[str, str], list[Check]] = {}
    for check in checks:
        groups.setdefault((check.source, check.status), []).append(check)
    return "".join(_group(source, status, rows, cases) for (source, status), rows in groups.items())


def case(row: Mapping[str, str]) -> str:
    """The case of a row of checks in words: "natural gas, o2 dry 2.0 %"; of one measured: "men at rest, 60 s"."""
    if "given_unit" in row:
        figures = (f"{row[name]} {row[f'{name}_unit']}" for name in ("given", "also") if row.get(name))
        return ", ".join((row["case"], *figures))
    return ", ".join(_part(column, value) for column, value in row.items() if column not in _HELD and value)


def _part(column: str, value: str) -> str:
    for suffix, unit in _UNITS.items():
        if column.endswith("_" + suffix):
            return f"{column.removesuffix('_' + suffix).replace('_', ' ')} {value} {unit}"
    is_number = value.replace(".", "", 1).replace("-", "", 1).isdigit()
    return f"{column.replace('_', ' ')} {value}" if is_number else value


def _group(source: str, status: str, rows: list[Check], cases: Mapping[str, str]) -> str:
    remarks: dict[str, list[str]] = {}
    for check in rows:
        if check.remark:
            remarks.setdefault(check.remark, []).append(check.id)
    said = "".join(f"<li>{escape(', '.join(ids))}: {escape(words)}</li>" for words, ids in remarks.items())
    count = "1 row" if len(rows) == 1 else f"{len(rows)} rows"
    head = f"<p><b>{escape(source)}</b><br>{escape(status)}; {count}</p>"
    body = [_cells(check, cases.get(check.id, "")) for check in rows]
    if not any(cells[2] for cells in body):
        return head + table(_HEADER[:2] + _HEADER[3:], [cells[:2] + cells[3:] for cells in body]) + _list(said)
    return head + table(_HEADER, body) + _list(said)


def _list(items: str) -> str:
    return f"<ul>{items}</ul>" if items else ""


def _cells(check: Check, words: str) -> tuple[str, ...]:
    ours, published, difference = check.printed
    verdict = check.verdict.partition(":")[0]
    return (check.id, check.quantity, words, ours, published, check.unit, difference, check.tolerance, verdict)
