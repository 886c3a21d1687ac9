"""Site record: blank, filled and read back; files that cannot be read."""

import csv
import io

import pytest
from sample_records import (
    blank_filled,
    csv_filled,
    expected,
    hall,
)

from ventcalc.job import site_record
from ventcalc.job.performance_test import SPEED
from ventcalc.job.record_judgement import judge
from ventcalc.job.site_csv import SiteFileError
from ventcalc.job.site_record import Reading
from ventcalc.units import SYSTEMS


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("written", ["bare", "with its unit", "in the other system"])
def test_blank_filled_and_read_gives_what_was_written(system, written):
    text, values = blank_filled(system, written)
    record = site_record.read(text.encode(), hall())
    assert {key: r.value for key, r in record.readings.items()} == pytest.approx(values, rel=1e-6, abs=1e-6)
    assert record.weather.outdoor.m_as("degF") == pytest.approx(40.0)
    assert judge(hall(), record).passed


def rows_of(text):
    return list(csv.reader(io.StringIO(text, newline="")))


def text_of(rows):
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue()


def test_columns_are_known_by_their_names_in_any_order():
    text, values = blank_filled("US", "bare")
    header, *rows = rows_of(text)
    keep = [header.index(name) for name in ("measured", "unit", "quantity", "place", "condition")]
    record = site_record.read(text_of([row[k] for k in keep] for row in (header, *rows)).encode(), hall())
    assert {key: r.value for key, r in record.readings.items()} == pytest.approx(values, rel=1e-6, abs=1e-6)


def test_what_stands_beside_a_reading_is_kept_and_blank_lines_are_not_counted():
    header, *rows = rows_of(blank_filled("SI", "bare")[0])
    rows[5][7:] = ["gauge 7", "A. Reader", "9:40"]
    record = site_record.read(text_of([header, *rows[:2], [], *rows[2:]]).encode("utf-8-sig"), hall())
    (kept,) = [r for r in record.readings.values() if r.who]
    assert (kept.instrument, kept.who, kept.when, kept.line) == ("gauge 7", "A. Reader", "9:40", 8)


def good() -> str:
    return blank_filled("US", "bare")[0]


OFF = "all off,outlet of Boiler 1,pressure,"


def line_with(old: str, new: str):
    """The good file with one text in it changed."""

    def changed() -> bytes:
        text = good()
        assert old in text, old
        return text.replace(old, new, 1).encode()

    return changed


def measured(cell: str, row: str = OFF):
    """The good file with another cell measured in one row."""
    return lambda: csv_filled(good(), lambda key, old: cell if ",".join(key) + "," == row else old).encode()


BROKEN = {
    "a column missing": (line_with("measured", "reading"), "line 1: the column 'measured' is missing"),
    "an unknown condition": (line_with(OFF, OFF.replace("all off", "al off")), "line 6: al off, outlet of Boiler 1, "
                             "pressure: no condition 'al off'; did you mean 'all off'?"),
    "an unknown place": (line_with(OFF, OFF.replace("Boiler 1", "Boiler 9")), "did you mean 'outlet of Boiler"),
    "an unknown quantity": (line_with(OFF, OFF.replace("pressure", "draught")), "line 6: all off, outlet of Boiler 1, "
                            "draught: no quantity there 'draught'; the sheet has pressure"),
    "a row twice": (line_with(OFF.replace("1", "2"), OFF), "line 7: all off, outlet of Boiler 1, pressure: stands on "
                    "line 6 already"),
    "a decimal comma": (measured("-0,05"), "line 6: all off, outlet of Boiler 1, pressure: measured '-0,05': write a "
                        "decimal point, not a comma"),
    "a comma that may part thousands": (measured("1,500"), "write a decimal point, not a comma"),
    "a word": (measured("low"), "line 6: all off, outlet of Boiler 1, pressure: measured 'low'"),
    "two numbers": (measured("-0.04 -0.05"), "line 6"),
    "no number": (measured("nan"), "the number must be finite"),
    "endless": (measured("inf"), "the number must be finite"),
    "a unit of something else": (measured("-0.05 ft"), "needs a pressure such as"),
    "an unknown unit": (measured("-0.05 furlong/x"), "unknown unit"),
    "more than can be read": (measured("40"), "measured 40: only -20.000 in. w.c. to 20.000 in. w.c. can be read"),
    "oxygen above that of air": (measured("25", "all at their lowest,outlet of Boiler 1,O2,"), "only 0.0 % to 21.0 %"),
    "a damper beyond its stroke": (measured("140 %", "all at their lowest,damper in the stack,damper position,"),
                                   "only 0.0 % to 100.0 %"),
    "below absolute zero": (measured("-500", "all at their lowest,outlet of Boiler 1,gas temperature,"), "line"),
    "no weather": (measured("", "weather of the day,outdoors,temperature,"), "weather of the day, outdoors, "
                   "temperature: missing; measure it, such as 50 degF"),
    "weather that cannot be": (measured("190", "weather of the day,outdoors,temperature,"), "must be -60 to 60 degC"),
    "a barometer at sea level": (measured("20.0", "weather of the day,outdoors,barometric pressure,"), "not reduced"),
    "a gale": (measured("400", "weather of the day,outdoors,wind,"), "must be 0 to 60 m/s"),
}  # fmt: skip


@pytest.mark.parametrize("kind", BROKEN)
def test_a_file_that_cannot_be_read_is_refused_with_its_line(kind):
    data, said = BROKEN[kind]
    with pytest.raises(SiteFileError) as refused:
        site_record.read(data(), hall())
    assert said in str(refused.value)
    assert all("line" in p or p.startswith("weather of the day") for p in refused.value.problems)


def test_all_that_is_wrong_is_told_at_once():
    text = good().replace("all off", "al off", 1)
    text = csv_filled(text, lambda key, old: "x" if key[1:] == ("fan", SPEED) else old)
    with pytest.raises(SiteFileError) as refused:
        site_record.read(text.encode(), hall())
    assert len(refused.value.problems) == 1 + sum(e.asked.quantity == SPEED for e in expected())


def test_a_file_is_loaded_as_its_bytes_are_read(tmp_path):
    (tmp_path / "good.csv").write_text(good(), encoding="utf-8")
    assert isinstance(next(iter(site_record.load(tmp_path / "good.csv", hall()).readings.values())), Reading)
    with pytest.raises(SiteFileError, match=r"none\.csv: cannot be read"):
        site_record.load(tmp_path / "none.csv", hall())
