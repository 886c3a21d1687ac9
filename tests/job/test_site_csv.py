"""Site CSV: rows by the names of their columns, numbers with units, and tables that cannot be read."""

import pytest

from ventcalc.job import site_csv
from ventcalc.job.site_csv import SiteFileError

NEEDED = ("place", "value", "unit")
GOOD = "place,value,unit\nheader,-0.05,in. w.c.\nfoot,180,F\n"


def test_rows_go_by_their_columns_in_any_order_with_the_lines_they_begin_on():
    found = site_csv.rows(b"unit, Value ,PLACE,more\n\n# a remark, of people\nPa,-12,header,x\n", NEEDED)
    assert found == [(4, {"unit": "Pa", "value": "-12", "place": "header", "more": "x"})]
    assert site_csv.rows(GOOD.encode("utf-8-sig"), NEEDED)[1] == (3, {"place": "foot", "value": "180", "unit": "F"})


@pytest.mark.parametrize(
    ("cell", "unit", "pascal"),
    [
        ("-0.05", "in. w.c.", -0.05 * 249.089),  # conventional inch of water: NIST SP 811, appendix B.8 (from memory)
        ("-0.05 inH2O", "Pa", -0.05 * 249.089),
        ("'-12.5", "Pa", -12.5),  # as a spreadsheet writes a text
        ("\u221212.5", "Pa", -12.5),  # a true minus sign
        ("0.12 mbar", "Pa", 12.0),
    ],
)
def test_a_number_has_its_own_unit_or_that_of_its_row(cell, unit, pascal):
    assert site_csv.number({"value": cell, "unit": unit}, "value", "Pa") == pytest.approx(pascal, rel=1e-5)


def test_an_unknown_name_is_told_the_nearest_or_all():
    assert site_csv.unknown("place", "heder", ["header", "foot"], "the job") == (
        "no place 'heder'; did you mean 'header'?"
    )
    assert site_csv.unknown("place", "attic", ["header", "foot"], "the job").endswith("the job has header, foot")


BROKEN = {
    "empty": (b"", "line 1: the file is empty"),
    "blank lines": (b"\n\n , ,\n", "line 1: the column 'place' is missing"),
    "no rows": (GOOD.splitlines()[0].encode(), "line 2: no rows"),
    "another encoding": (GOOD.replace("180,F", "180,\u00b0F").encode("latin-1"), "line 3: not UTF-8"),
    "a workbook": (b"PK\x03\x04\x00\x00", "line 1: not text; save the file as CSV"),
    "semicolons": (GOOD.replace(",", ";").encode(), "line 1: columns are parted by commas"),
    "tabs": (GOOD.replace(",", "\t").encode(), "line 1: columns are parted by commas"),
    "a column missing": (GOOD.replace("value", "reading", 1).encode(), "line 1: the column 'value' is missing"),
    "a column misspelled": (GOOD.replace("value", "valu", 1).encode(), "is 'valu' meant for it?"),
    "a column twice": (GOOD.replace("unit", "value", 1).encode(), "line 1: the column 'value' stands twice"),
    "a cell too many": (GOOD.replace("foot,", "foot,,").encode(), "line 3: 4 cells under 3 headings"),
    "a cell too few": (GOOD.replace("180,F", "180").encode(), "line 3: 2 cells under 3 headings"),
    "a quote left open": (GOOD.replace("foot", '"foot').encode(), "line 3: not CSV"),
    "a long cell": (GOOD.replace("foot", "x" * 201).encode(), "line 3: a cell of more than 200 characters"),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_a_table_that_cannot_be_read_is_refused_with_its_line(kind):
    data, said = BROKEN[kind]
    with pytest.raises(SiteFileError) as refused:
        site_csv.rows(data, NEEDED)
    assert said in str(refused.value)
    assert all(problem.startswith("line ") for problem in refused.value.problems)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("-0,05", "value '-0,05': write a decimal point, not a comma"),
        ("1,500", "write a decimal point, not a comma"),
        ("low", "value 'low'"),
        ("1 2", "value '1 2'"),
        ("nan", "the number must be finite"),
        ("-0.05 ft", "needs a pressure such as"),
        ("-0.05 furlong/x", "unknown unit"),
    ],
)
def test_a_number_that_cannot_be_read_is_refused(cell, said):
    with pytest.raises((ValueError, TypeError)) as refused:
        site_csv.number({"value": cell, "unit": "Pa"}, "value", "Pa")
    assert said in str(refused.value)


def test_a_file_that_is_not_there_or_too_large_is_refused(tmp_path):
    with pytest.raises(SiteFileError, match=r"none\.csv: cannot be read"):
        site_csv.load(tmp_path / "none.csv")
    with pytest.raises(SiteFileError, match="cannot be read"):
        site_csv.load(tmp_path)
    (tmp_path / "large.csv").write_bytes(b"x" * 1_000_001)
    with pytest.raises(SiteFileError, match="1,000,001 bytes; a file from site has at most 1,000,000"):
        site_csv.load(tmp_path / "large.csv")
    (tmp_path / "good.csv").write_text(GOOD, encoding="utf-8", newline="")
    assert site_csv.load(tmp_path / "good.csv") == GOOD.encode()
