"""Tables of data/: each parses, each row says where its numbers come from and how far to trust them."""

import csv
import re

import pytest
from test_import_order import PARTS

from ventcalc import tables

FILES = list(tables.names().values())

# A machine's own path: a root directory followed by more, or a drive letter.
ABSOLUTE_PATH = re.compile(r"(?<![\w.:/])/(?:home|root|tmp|usr|var|work|mnt|opt|Users)/|\b[A-Za-z]:\\")


def lines_of(path):
    return path.read_text(encoding="utf-8").splitlines()


def test_every_table_stands_once_in_the_folder_of_a_part():
    files = [f for f in tables.DATA.rglob("*.csv") if f.parent.name != "surveys"]  # readings of demo jobs, no tables
    assert sorted(files) == sorted(FILES)
    assert {path.parent.name for path in FILES} <= set(PARTS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_table_opens_with_what_it_holds(path):
    assert lines_of(path)[0].startswith("# ")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_table_is_rectangular_under_one_header(path):
    header, *rows = csv.reader(line for line in lines_of(path) if not line.startswith("#"))
    assert rows
    assert all(name.strip() == name != "" for name in header)
    assert len(set(header)) == len(header)
    ragged = [row for row in rows if len(row) != len(header)]
    assert not ragged
    assert len(tables.read(path.stem)) == len(rows)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_rows_state_source_and_status(path):
    for row in tables.read(path.stem):
        if "status" in row:
            assert row["status"].startswith(tables.STATUSES), row
        if "source" in row:
            assert row["source"].strip(), row


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_source_and_a_status_stand_in_every_table(path):
    # A computed table may state both once, in its first lines, for all rows.
    comment = " ".join(line for line in lines_of(path) if line.startswith("#")).lower()
    columns = set(tables.read(path.stem)[0])
    for word in ("source", "status"):
        assert word in columns or word in comment


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_ids_are_unique(path):
    ids = [row["id"] for row in tables.read(path.stem) if "id" in row]
    assert len(set(ids)) == len(ids)


def test_an_id_means_one_row_of_all_tables():
    # Remarks have no rows of their own: their ids are those of the rows they speak of, in the same folder.
    owner = {}
    for path in FILES:
        if path.stem.endswith("_remarks"):
            continue
        for row in tables.read(path.stem):
            if "id" in row:
                assert row["id"] not in owner, f"{row['id']} stands in {owner[row['id']]} and in {path.stem}"
                owner[row["id"]] = path
    for path in FILES:
        if path.stem.endswith("_remarks"):
            assert {owner[row["id"]].parent for row in tables.read(path.stem)} == {path.parent}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_path_of_a_machine(path):
    assert not [line for line in lines_of(path) if ABSOLUTE_PATH.search(line)]


def test_path_pattern_sees_paths_and_spares_units():
    assert ABSOLUTE_PATH.search("see /" + "home/someone/table.csv") and ABSOLUTE_PATH.search(r"C:\tables")
    assert not ABSOLUTE_PATH.search("Btu/h, https://example.org/" + "home/page, 1/2 in.")


def test_row_finds_exactly_one():
    path = next(p for p in FILES if "id" in tables.read(p.stem)[0])
    first = tables.read(path.stem)[0]
    assert tables.row(path.stem, first["id"]) == first
    with pytest.raises(ValueError, match="'no such id' stands 0 times"):
        tables.row(path.stem, "no such id")


@pytest.mark.parametrize("name", ["no_such_table", "../README", ""])
def test_unknown_table_is_refused_with_the_known_ones(name):
    with pytest.raises(ValueError, match=f"no table named .*{FILES[0].stem}"):
        tables.read(name)
