"""Capacity tables: the code's worked examples end to end, the rules around them, gaps that are said to be gaps."""

import pytest
from sample_cells import CELLS, cell, ft, inch, vent

from ventcalc.units import Q_
from ventcalc.vent import capacity_tables
from ventcalc.vent.capacity_rules import common, connector, single
from ventcalc.vent.capacity_tables import MissingCell, NotAllowed, OutsideTable, look_up


def test_every_sampled_cell_is_found_and_lies_on_a_line_of_its_table():
    # The sampled cells are facts of the printed tables; the lines of data/vent/capacity_tables.csv are from memory.
    # All of the one lie on the other.
    count = 0
    for c in CELLS:
        lines = capacity_tables.table(c.table).lines
        assert c.height in lines and (c.second is None or c.second in lines[c.height])
        for column, value in c.values.items():
            if value is None:
                continue
            second = None if c.second is None else ft(c.second)
            area = Q_(c.area, "inch**2") if c.diameter is None else None
            diameter = None if c.diameter is None else inch(c.diameter)
            found = look_up(CELLS, c.table, column, ft(c.height), second, diameter, area)
            assert (found.value, found.ids) == (value, (c.id,)), c.id
            count += 1
    assert count > 300


def test_no_cell_stands_twice_and_none_is_an_interpolated_answer():
    keys = [(c.table, c.height, c.second, c.diameter, c.area) for c in CELLS]
    assert len(set(keys)) == len(keys)
    assert "V203" not in {c.id for c in CELLS}


def test_interpolates_in_height_as_example_3():
    found = vent(12.0, 5.0, 4.0)
    assert found.maximum.m_as("MBH") == pytest.approx(77.0 + 2.0 / 5.0 * 10.0)
    told = next(r.figures for r in found.how if r.code == "between")
    assert (told["low"], told["at"], told["high"]) == (10.0, 12.0, 15.0) and told["share"] == pytest.approx(0.4)


def test_interpolates_in_lateral_and_in_both():
    # 10 ft, 10 in.: 560 at 2 ft (V020), 547 at 5 (V021), 525 at 10 (V025); the middle of each.
    assert vent(10.0, 3.5, 10.0).maximum.m_as("MBH") == pytest.approx(0.5 * (560.0 + 547.0))
    assert vent(10.0, 7.5, 10.0).maximum.m_as("MBH") == pytest.approx(0.5 * (547.0 + 525.0))
    given = (cell(), cell(second=5.0, values={"NAT max": 77.0}), cell(height=15.0, values={"NAT max": 94.0}),
             cell(height=15.0, second=5.0, values={"NAT max": 87.0}))  # fmt: skip
    assert vent(12.0, 3.5, given=given).maximum.m_as("MBH") == pytest.approx(79.0 + 0.4 * (90.5 - 79.0))


def test_a_short_lateral_takes_the_first_line_with_a_lateral_and_not_the_straight_vent():
    assert vent(10.0, 1.0).maximum == vent(10.0, 2.0).maximum
    assert vent(10.0, 0.0).maximum.m_as("MBH") == 100.0  # V012
    with pytest.raises(NotAllowed, match="no elbows"):
        vent(10.0, 0.0, elbows=(90.0,))


def test_more_rise_than_the_last_line_counts_as_the_last_line():
    high = connector(CELLS, "504.3(2)", "NAT", ft(30), ft(5), inch(5), ft(7), outlet=inch(5))
    assert high.maximum.m_as("MBH") == 120.0


def test_a_gap_is_said_to_be_a_gap():
    with pytest.raises(MissingCell, match="height 10 ft, lateral 2 ft, 7 in."):
        vent(10.0, 2.0, 7.0)
    # 15 ft is a line of the table: from 10 to 20 ft it may not be jumped.
    given = (cell(), cell(height=20.0))
    with pytest.raises(MissingCell, match="height 15 ft"):
        vent(12.0, given=given)
    assert vent(12.0, given=(*given, cell(height=15.0, values={"NAT max": 91.0}))).maximum.m_as("MBH") == 85.0


@pytest.mark.parametrize(("height", "lateral", "words"), [
    (4.0, 2.0, "height 4 ft: .* runs from 6 to 100 ft"),
    (120.0, 2.0, "height 120 ft"),
    (10.0, 40.0, r"lateral 40 ft \(at height 10 ft\): .* to 10 ft"),
    (12.0, 12.0, r"lateral 12 ft \(at height 10 ft\)"),
])  # fmt: skip
def test_outside_the_table(height, lateral, words):
    with pytest.raises(OutsideTable, match=words):
        vent(height, lateral)


def test_rise_below_the_first_line_is_outside():
    with pytest.raises(OutsideTable, match="rise 0.5 ft"):
        connector(CELLS, "504.3(2)", "NAT", ft(30), ft(0.5), inch(5), ft(4), outlet=inch(5))


def test_same_vent_in_si_units():
    si = single(CELLS, "504.2(1)", "NAT", Q_(3.6576, "m"), Q_(1.524, "m"), Q_(101.6, "mm"))
    assert si.maximum.m_as("kW") == pytest.approx(81.0 * 0.29307107)


def test_flue_smaller_than_the_first_column():
    with pytest.raises(OutsideTable, match="begins at 12 in2"):
        common(CELLS, "504.3(4)", "FAN+NAT", ft(30), flue_area=Q_(10.0, "inch**2"))


def test_unknown_names_are_told():
    with pytest.raises(ValueError, match=r"known are|there are"):
        vent(number="504.9(9)")
    with pytest.raises(ValueError, match="choose FAN, NAT"):
        vent(kind="fan")
    with pytest.raises(ValueError, match="no column"):
        vent(diameter=4.5)
    with pytest.raises(ValueError, match="choose FAN"):
        common(CELLS, "504.3(2)", "NAT", ft(30), diameter=inch(6))
    with pytest.raises(ValueError, match="one of the two"):
        look_up(CELLS, "504.3(2)", "NAT+NAT", ft(30), None)
    with pytest.raises(ValueError, match="choose FAN min"):
        look_up(CELLS, "504.2(1)", "NAT min", ft(10), ft(2), inch(4))


HEADER = "table,height_ft,lateral_ft,diameter_in,fan_min_MBH,fan_max_MBH,nat_max_MBH,source\n"


def write(tmp_path, text):
    path = tmp_path / "mine.csv"
    path.write_text("# my own\n" + text, encoding="utf-8")
    return path


def test_reads_a_reader_s_own_rows(tmp_path):
    mine = capacity_tables.read_cells(write(tmp_path, HEADER + "504.2(1),10,2,7,38,400,NA,my code book\n"))
    assert vent(10.0, 2.0, 7.0, kind="FAN", given=mine).maximum.m_as("MBH") == 400.0
    with pytest.raises(NotAllowed):
        vent(10.0, 2.0, 7.0, given=mine)


@pytest.mark.parametrize(("text", "words"), [
    ("table,height_ft\n504.2(1),10\n", "needs rows with the columns"),
    (HEADER + "504.8,10,2,7,1,2,3,x\n", "row 1: unknown table '504.8'"),
    (HEADER + "504.2(1),11,2,7,1,2,3,x\n", "row 1: .*no line for height 11 ft"),
    (HEADER + "504.2(1),10,2,7,1,2,3,x\n504.2(1),10,2,7,1,2,many,x\n", "row 2: not a number"),
    (HEADER + "504.2(1),10,2,7,,,,x\n", "row 1: no capacity"),
])  # fmt: skip
def test_rows_that_cannot_be_used_are_told(tmp_path, text, words):
    with pytest.raises(ValueError, match=words):
        capacity_tables.read_cells(write(tmp_path, text))
