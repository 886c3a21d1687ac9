"""Spreadsheets: tables of figures for people who go on with them, as CSV and as one workbook.

A column has its unit in its header, "pressure, in. w.c."; a figure stands there as a number, not as text.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from ventcalc.units import Q_, Quantity, shown_unit, unit_text

Cell = str | float | int | bool | None

_NARROW, _WIDE = 8, 48  # characters of a column
_ODD = "[]:*?/\\"  # what a sheet's name must not have


@dataclass(frozen=True)
class Table:
    """A table of a ``name``: ``header`` and ``rows`` of texts and numbers; None is an empty cell."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def __post_init__(self):
        ragged = [row for row in self.rows if len(row) != len(self.header)]
        if ragged:
            raise ValueError(f"table {self.name}: a row of {len(ragged[0])} cells under {len(self.header)} headings")


def warned(table: Table, words: str) -> Table:
    """A table with a warning above all its rows; as it is where there is none."""
    above = ((words, *(None,) * (len(table.header) - 1)),) if words else ()
    return Table(table.name, table.header, (*above, *table.rows))


def heading(words: str, kind: str, system: str) -> str:
    """A column's heading with its unit: "pressure, in. w.c."."""
    return f"{words}, {unit_text(shown_unit(kind, system))}"


def figure(value: Quantity | float, kind: str, system: str, unit: str = "") -> float | None:
    """The number of a cell under `heading`; None where it is not finite. A plain number is in ``unit``."""
    quantity = value if isinstance(value, Quantity) else Q_(float(value), unit)
    number = float(quantity.m_as(shown_unit(kind, system)))
    return number if np.isfinite(number) else None


def csv_text(table: Table) -> str:
    """A table as CSV (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.header)
    writer.writerows(["" if cell is None else _plain(cell) for cell in row] for row in table.rows)
    return out.getvalue()


def _plain(cell: Cell) -> Cell:
    """A text that a spreadsheet would take for a formula is kept a text."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@")) else cell


def workbook(tables: Iterable[Table], path: Path | str) -> None:
    """Write tables as the sheets of one .xlsx file. Raises ValueError where two would have one name."""
    book = Workbook()
    book.remove(book.active)
    for table in tables:
        title = _title(table.name)
        if title in book.sheetnames:
            raise ValueError(f"two sheets of the name {title!r}")
        sheet = book.create_sheet(title)
        sheet.append(table.header)
        for row in table.rows:
            sheet.append(row)
        for row in sheet.iter_rows():
            for cell in row:
                cell.data_type = "s" if isinstance(cell.value, str) else cell.data_type  # never a formula
        _look(sheet, table)
    book.save(path)


def _title(name: str) -> str:
    return "".join(" " if c in _ODD else c for c in name)[:31]


def _look(sheet, table: Table) -> None:
    """Headings that wrap and stay in sight, columns as wide as what they hold, printed on the page's width."""
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    for k, width in enumerate(_widths(table), 1):
        sheet.column_dimensions[get_column_letter(k)].width = width
    sheet.freeze_panes = "A2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _widths(table: Table) -> Sequence[int]:
    longest = [max((len(_shown(row[k])) for row in table.rows), default=0) for k in range(len(table.header))]
    return [min(max(n, len(h) // 2, _NARROW) + 2, _WIDE) for n, h in zip(longest, table.header, strict=True)]


def _shown(cell: Cell) -> str:
    return f"{cell:.4g}" if isinstance(cell, float) else str(cell or "")
