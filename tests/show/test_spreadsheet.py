"""Spreadsheets: figures come back as numbers, texts as texts; the workbook opens in another program."""

import csv
import io
import shutil
import subprocess

import openpyxl
import pytest

from ventcalc.show.spreadsheet import Table, csv_text, figure, heading, warned, workbook
from ventcalc.units import Q_

TABLE = Table(
    "states: one/two",
    ("what", heading("pressure", "draft", "US"), "count"),
    (("all high, \"hot\"", -0.0512345678, 3), ("=1+1", None, 0), ("Ünïcode; 12 in.²", 1.5e-9, 12_000)),
)  # fmt: skip


def test_csv_comes_back():
    header, *rows = csv.reader(io.StringIO(csv_text(TABLE)))
    assert tuple(header) == ("what", "pressure, in. w.c.", "count")
    assert rows[0][0] == 'all high, "hot"' and float(rows[0][1]) == -0.0512345678
    assert rows[1][:2] == ["'=1+1", ""] and rows[2][0] == "Ünïcode; 12 in.²"


def test_workbook_comes_back_as_numbers_and_texts(tmp_path):
    workbook([TABLE], tmp_path / "a.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx")["states  one two"]
    found = tuple(sheet.iter_rows(values_only=True))
    assert found == (TABLE.header, *TABLE.rows)
    assert sheet["A3"].data_type == "s"  # no formula


def test_workbook_in_libreoffice_converts_back_to_the_same_numbers(tmp_path):
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("no LibreOffice on this machine")
    workbook([TABLE], tmp_path / "a.xlsx")
    subprocess.run(
        [office, "--headless", "--convert-to", "ods", "--outdir", str(tmp_path), str(tmp_path / "a.xlsx")],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    subprocess.run(
        [office, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(tmp_path / "back"),
         str(tmp_path / "a.ods")], check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    sheet = openpyxl.load_workbook(tmp_path / "back" / "a.xlsx").worksheets[0]
    for row, kept in zip(sheet.iter_rows(min_row=2, values_only=True), TABLE.rows, strict=True):
        assert row[1] == (pytest.approx(kept[1], rel=1e-12) if kept[1] is not None else None) and row[2] == kept[2]


def test_two_sheets_of_one_name_are_refused(tmp_path):
    with pytest.raises(ValueError, match="two sheets of the name"):
        workbook([TABLE, TABLE], tmp_path / "a.xlsx")


def test_a_ragged_table_is_refused():
    with pytest.raises(ValueError, match="a row of 1 cells under 2 headings"):
        Table("x", ("a", "b"), (("1",),))


def test_figures_are_in_the_unit_of_the_heading():
    # 1 in. w.c. = 249.089 Pa (NIST SP 811).
    assert figure(249.089, "draft", "US", "Pa") == pytest.approx(1.0, rel=1e-5)
    assert figure(Q_(1.0, "inH2O"), "draft", "SI") == pytest.approx(249.089, rel=1e-5)
    assert figure(float("nan"), "draft", "SI", "Pa") is None


def test_a_warning_stands_above_all_rows():
    found = warned(TABLE, "Not to be built.")
    assert found.rows == (("Not to be built.", None, None), *TABLE.rows) and found.header == TABLE.header
    assert warned(TABLE, "") == TABLE
