"""Site CSV: a table filled on site, as its rows and numbers: what a record of a test and a survey's readings share.

Columns are known by their names, in any order; a line that begins with # is a remark. A number may have its unit;
without one it is in that of its row. What cannot be read is refused with its line, all at once.
"""

import csv
import difflib
import io
from collections.abc import Sequence
from pathlib import Path

from ventcalc.unit_names import number_and_unit
from ventcalc.units import UnitsError, magnitude, parse, ureg

MOST_BYTES = 1_000_000
MOST_CELL = 200  # characters
REMARK = "#"  # a line that begins so is for people

Row = dict[str, str]  # cells by the names of their columns


class SiteFileError(ValueError):
    """A file from site that cannot be read; ``problems`` holds one sentence each, with its line."""

    def __init__(self, problems: Sequence[str]):
        super().__init__("\n".join(problems))
        self.problems = list(problems)


def load(path: str | Path) -> bytes:
    """The bytes of a file. Raises `SiteFileError` where it is not there or larger than `MOST_BYTES`."""
    path = Path(path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        raise SiteFileError([f"{path.name}: cannot be read ({error.strerror}); give the path of a .csv file"]) from None
    if size > MOST_BYTES:
        raise SiteFileError([f"{path.name}: {size:,} bytes; a file from site has at most {MOST_BYTES:,}"])
    return data


def rows(data: bytes, needed: Sequence[str], other: Sequence[str] | None = None) -> list[tuple[int, Row]]:
    """Rows that hold anything, each with the line that it begins on; columns ``needed`` must be there.

    Beside them there may be the ``other`` ones and no more, or, where that is None, any.
    Raises `SiteFileError` with everything that is no such table.
    """
    lines, problems = _lines(_text(data))
    (first, header), *rest = lines or [(1, [])]
    names = _header(header, first, needed, other)
    for line, cells in rest:
        if len(cells) != len(names):
            problems.append(f"line {line}: {len(cells)} cells under {len(names)} headings; {_COMMAS}")
        elif any(len(cell) > MOST_CELL for cell in cells):
            problems.append(f"line {line}: a cell of more than {MOST_CELL} characters")
    if not rest and not problems:
        problems.append(f"line {first + 1}: no rows below the headings; start from a blank file")
    if problems:
        raise SiteFileError(problems)
    return [(line, dict(zip(names, cells, strict=True))) for line, cells in rest]


def number(row: Row, column: str, unit: str) -> float:
    """A cell as a number in an SI unit, with its own unit or else that in the row's cell ``unit``.

    Raises ValueError or `UnitsError` naming the column, its cell and what is valid.
    """
    wanted, text = ureg.Unit(unit), row[column].removeprefix("'").strip()
    if "," in text:
        raise ValueError(f"{column} {text!r}: write a decimal point, not a comma")
    alone = number_and_unit(text)
    try:
        value = parse(f"{text} {row.get('unit', '')}".strip() if alone and not alone[1] else text, wanted)
        return float(magnitude(value, wanted, "it"))
    except UnitsError as error:
        raise UnitsError(f"{column} {text!r}: {error}") from None


def unknown(what: str, given: str, known: Sequence[str], where: str) -> str:
    """That a name is not known ``where``, with the nearest that is, or all."""
    close = difflib.get_close_matches(given, known, 1)
    return f"no {what} {given!r}; " + (f"did you mean {close[0]!r}?" if close else f"{where} has {', '.join(known)}")


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at = data.count(b"\n", 0, error.start) + 1
        raise SiteFileError([f"line {at}: not UTF-8 text; save the file as CSV UTF-8"]) from None
    if "\0" in text:
        at = text.count("\n", 0, text.index("\0")) + 1
        raise SiteFileError([f"line {at}: not text; save the file as CSV, not as a workbook"])
    if not text.strip():
        raise SiteFileError(["line 1: the file is empty; start from a blank one"])
    return text


def _lines(text: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Lines that hold anything but a remark by their numbers, as cells; and what is wrong where they end too soon."""
    reader, found, line = csv.reader(io.StringIO(text, newline=""), strict=True), [], 1
    try:
        for cells in reader:
            if any(c.strip() for c in cells) and not cells[0].lstrip().startswith(REMARK):
                found.append((line, [c.strip() for c in cells]))
            line = reader.line_num + 1
    except csv.Error as error:
        return found, [f"line {line}: not CSV ({error}); a cell in quotes ends with one"]
    return found, []


_COMMAS = "a cell with a comma stands in quotes, and numbers have a decimal point"


def _header(cells: list[str], line: int, needed: Sequence[str], other: Sequence[str] | None) -> list[str]:
    names = [c.lower() for c in cells]
    if len(names) == 1 and any(mark in names[0] for mark in (";", "\t")):
        raise SiteFileError([f"line {line}: columns are parted by commas; save the file as CSV with commas"])
    known = (*needed, *(other or ()))
    twice = [n for n in dict.fromkeys(names) if n and names.count(n) > 1]
    problems = [f"line {line}: the column {n!r} stands twice" for n in twice]
    for n in needed:
        if n not in names:
            close = difflib.get_close_matches(n, [m for m in names if m not in known], 1)
            hint = f"; is {close[0]!r} meant for it?" if close else f"; needed are {', '.join(needed)}"
            problems.append(f"line {line}: the column {n!r} is missing{hint}")
    if other is not None:
        odd = [n for n in names if n not in ("", *known)]
        problems += [f"line {line}: {unknown('column', n, known, 'a blank file')}" for n in odd]
    if problems:
        raise SiteFileError(problems)
    return names
