"""Survey file: what was read comes back as it was written, and files that cannot be read are refused by line."""

import csv
import io
from functools import cache

import numpy as np
import pytest
from sample_studies import ALL_JOBS

from ventcalc.job import job_file, survey_file
from ventcalc.job.performance_test import FAN, FOOT, GAUGE, OUTLET
from ventcalc.job.site_csv import SiteFileError
from ventcalc.job.survey import ROOM, TAP, Place
from ventcalc.units import Q_

INCH = 249.0889  # Pa, conventional inch of water: NIST SP 811, appendix B.8 (from memory)


@cache
def hall():
    return job_file.load(ALL_JOBS["swim_hall"])


HEADER = (
    "Boiler 1 at,Boiler 2 at,Boiler 3 at,stack,outdoors,room,wind,barometer,place,share,quantity,value,unit,error,time"
)
FIRST = "high,off,low,hot,41 degF,72 degF,5 mph,,outlet of Boiler 1,,pressure,-0.05,in. w.c.,,9:40"
SECOND = ",,,,,,,,tap in header 2,50 %,gas temperature,140,F,4 F,9:45"
THIRD = ",,,,,,,,boiler room against outdoors,,pressure,-3,Pa,1,"
FOURTH = "off,off,off,cold,,,,,header by a gauge,,pressure,-0.01,in. w.c.,0.002,10:10"
UNREAD = ",,,,,,,,foot of the stack,,gas temperature,,F,,"
GOOD = "\n".join((HEADER, FIRST, SECOND, THIRD, UNREAD, FOURTH)) + "\n"


def read(text):
    return survey_file.read(text.encode(), hall())


def test_rows_come_back_as_readings_in_si():
    taken = read(GOOD)
    outlet, tap, room, gauge = taken.survey.readings
    assert [r.place for r in taken.survey.readings] == [
        Place(OUTLET, "Boiler 1"), Place(TAP, section="header 2", share=0.5), Place(ROOM), Place(GAUGE)]  # fmt: skip
    assert outlet.value == pytest.approx(-0.05 * INCH) and gauge.value == pytest.approx(-0.01 * INCH)
    assert tap.value == pytest.approx((140.0 - 32.0) / 1.8 + 273.15) and room.value == -3.0
    assert taken.times == ("9:40", "9:45", "", "10:10") and [r.line for r in taken.survey.readings] == [2, 3, 4, 6]


def test_an_error_is_a_limit_and_one_sigma_of_it_is_that_of_a_rectangle():
    outlet, tap, room, gauge = read(GOOD).survey.readings
    # JCGM 100:2008, 4.3.7: a half width a has the variance a^2/3. A difference of 4 F is 4/1.8 K.
    assert [tap.error, room.error, gauge.error] == pytest.approx(
        np.array([4.0 / 1.8, 1.0, 0.002 * INCH]) / np.sqrt(3.0), rel=1e-4
    )
    # Left out: 0.002 in. w.c. and 1 % of the reading, as data/job/instruments.csv has it of a draft gauge.
    assert outlet.error == pytest.approx((0.002 + 0.01 * 0.05) * INCH / np.sqrt(3.0), rel=1e-4)


def test_a_condition_goes_on_until_another_is_told():
    conditions = [r.condition for r in read(GOOD).survey.readings]
    assert conditions[0] is conditions[1] is conditions[2] and conditions[0].levels == ("high", "off", "low")
    assert not conditions[0].cold and conditions[3].cold and conditions[3].levels == ("off",) * 3
    for c in conditions:
        assert c.weather.outdoor == Q_(41.0, "degF") and c.weather.room == Q_(72.0, "degF")
        assert c.weather.wind == Q_(5.0, "mph") and c.weather.barometer is None


def test_a_row_without_a_value_still_tells_the_condition_of_those_below():
    begun = "low,low,low,hot,30 degF,70 degF,,,foot of the stack,,gas temperature,,F,,"
    (only,) = read("\n".join((HEADER, begun, THIRD))).survey.readings
    assert only.condition.levels == ("low",) * 3 and only.condition.weather.outdoor == Q_(30.0, "degF")


def test_columns_are_known_by_their_names_in_any_order_and_some_may_be_left_out():
    header, *rows = list(csv.reader(io.StringIO(GOOD)))
    keep = [k for k in reversed(range(len(header))) if header[k] not in ("time", "barometer", "error", "wind")]
    text = "\n".join(",".join(row[k] for k in keep) for row in (header, *rows))
    ours, whole = (read(t).survey.readings for t in (text, GOOD))
    assert [(r.place, r.quantity, r.value) for r in ours] == [(r.place, r.quantity, r.value) for r in whole]


@pytest.mark.parametrize("job", ALL_JOBS)
def test_every_place_of_a_job_has_a_name_of_its_own(job):
    one = job_file.load(ALL_JOBS[job])
    known = survey_file.places(one)
    plant = one.plant
    rooms = sum(a.room != "room" for a in plant.appliances)
    fans = one.existing is not None
    assert len(known) == len(plant.appliances) + len(plant.sections) + 4 + rooms + fans
    assert known["foot of the stack"] == Place(FOOT) and ("fan" in known) == fans
    assert not fans or known["fan"] == Place(FAN)
    assert len(survey_file.columns(one)) == len(set(survey_file.columns(one)))


def test_a_tap_is_said_with_where_it_is():
    assert survey_file.said(Place(TAP, section="header 2", share=0.5)) == "tap in header 2, 50% along"
    assert survey_file.said(Place(ROOM)) == "boiler room against outdoors"


def changed(old, new):
    assert old in GOOD, old
    return GOOD.replace(old, new, 1)


BROKEN = {
    "empty": ("", "line 1: the file is empty"),
    "no rows": (HEADER, "line 2: no rows"),
    "nothing was read": ("\n".join((HEADER, FIRST.replace("-0.05", ""))), "no reading"),
    "a level column missing": (changed("Boiler 2 at,", "Boiler 2,"), "'boiler 2 at' is missing; is 'boiler 2' meant"),
    "a column unknown": (changed(",time", ",tyme"), "line 1: no column 'tyme'; did you mean 'time'?"),
    "a column of another appliance": (changed(",time", ",Boiler 9 at"), "line 1: no column 'boiler 9 at'; did you"),
    "value missing": (changed(",value,", ",measured,"), "line 1: the column 'value' is missing"),
    "unit missing": (changed(",unit,", ",,"), "line 1: the column 'unit' is missing"),
    "a cell too many": (changed("5 mph,", "5 mph,,"), "line 2: 16 cells under 15 headings"),
    "no condition above": (changed(FIRST, SECOND), "line 2: 'Boiler 1 at', 'Boiler 2 at', "),
    "a level left out": (changed("high,off,low,hot", "high,,low,hot"), "line 2: 'Boiler 2 at' empty; tell all of"),
    "stack left out": (changed("high,off,low,hot", "high,off,low,"), "line 2: 'stack' empty; tell all of Boiler 1 at"),
    "an unknown level": (changed("high,off", "hihg,off"), "line 2: Boiler 1 at: no level 'hihg'; did you mean 'high'?"),
    "a level that it does not have": (changed("high,off", "medium,off"), "Boiler 1 has off, purge, low, high"),
    "neither hot nor cold": (changed(",hot,", ",warm,"), "line 2: stack 'warm': write hot, or cold"),
    "no outdoor temperature": (changed("41 degF", ""), "line 2: outdoors: empty, and not told above; measure"),
    "no room temperature": (changed("72 degF", ""), "line 2: room: empty, and not told above; measure"),
    "weather without a unit": (changed("41 degF", "41"), "line 2: outdoors '41': '41': the unit is missing"),
    "weather in another unit": (changed("72 degF", "72 Pa"), "line 2: room '72 Pa': it needs a temperature"),
    "weather that cannot be": (changed("41 degF", "410 degF"), "must be -60 to 60 degC"),
    "a gale": (changed("5 mph", "500 mph"), "must be 0 to 60 m/s"),
    "a barometer at sea level": (changed("5 mph,", "5 mph,26 inHg").replace("26 inHg,outlet", "26 inHg,outlet"),
                                 "not reduced to sea level"),
    "an unknown place": (changed("outlet of Boiler 1", "outlet of Boiler 7"), "line 2: no place 'outlet of Boiler 7'; "
                         "did you mean"),
    "no place": (changed("outlet of Boiler 1", ""), "line 2: no place ''; the vent has outlet of Boiler 1"),
    "a fan that is not there": (changed("boiler room against outdoors", "fan"), "line 4: no place 'fan'"),
    "a tap without its share": (changed("50 %", ""), "line 3: share: empty; tell where in its section"),
    "a share beyond the section": (changed("50 %", "150 %"), "line 3: share '150 %': must be 0 to 100 %"),
    "a share of no tap": (changed("Boiler 1,,", "Boiler 1,50 %,"), "line 2: share '50 %': told of a tap"),
    "an unknown quantity": (changed("pressure", "presure"), "line 2: no quantity 'presure'; did you mean 'pressure'?"),
    "a quantity not read there": (changed("gauge,,pressure", "gauge,,O2"), "no quantity 'O2'; header by a gauge has"),
    "a decimal comma": (changed("-0.05", '"-0,05"'), "line 2: value '-0,05': write a decimal point, not a comma"),
    "a word": (changed("-0.05", "low"), "line 2: value 'low'"),
    "no unit": (changed("in. w.c.", ""), "line 2: value '-0.05': '-0.05': the unit is missing"),
    "a unit of something else": (changed("in. w.c.", "ft"), "line 2: value '-0.05': it needs a pressure"),
    "no number": (changed("-0.05", "nan"), "line 2: '" + "nan in. w.c.': the number must be finite"),
    "more than can be read": (changed("-0.05", "-50"), "line 2: value -50: only -20.000 in. w.c. to 20.000 in. w.c."),
    "below absolute zero": (changed("140,F", "-600,F"), "line 3: value -600: only -76 °F to 1,832 °F can be read"),
    "an error of nought": (changed("0.002", "0"), "line 6: error '0': must be above 0"),
    "a negative error": (changed("0.002", "-0.002"), "line 6: error '-0.002': must be above 0"),
    "an error in another unit": (changed("4 F", "4 Pa"), "line 3: error '4 Pa': it needs a temperature difference"),
    "a reading twice": (GOOD.replace(THIRD, THIRD + "\n" + THIRD), "line 5: the same is read on line 4 already"),
}  # fmt: skip


@pytest.mark.parametrize("kind", BROKEN)
def test_a_file_that_cannot_be_read_is_refused_with_its_line(kind):
    text, said = BROKEN[kind]
    with pytest.raises(SiteFileError) as refused:
        read(text)
    assert said in str(refused.value)
    assert all(problem.startswith(("line ", "no reading")) for problem in refused.value.problems)


def test_all_that_is_wrong_is_told_at_once_and_what_goes_on_below_is_told_once():
    text = GOOD.replace("high,off,low", "hgh,off,low").replace("-3,Pa", "low,Pa").replace("cold", "tepid")
    with pytest.raises(SiteFileError) as refused:
        read(text)
    assert [p.partition(":")[0] for p in refused.value.problems] == ["line 2", "line 4", "line 6"]


def test_a_file_is_loaded_as_its_bytes_are_read(tmp_path):
    (tmp_path / "readings.csv").write_text(GOOD, encoding="utf-8", newline="")
    assert survey_file.load(tmp_path / "readings.csv", hall()) == read(GOOD)
    with pytest.raises(SiteFileError, match="cannot be read"):
        survey_file.load(tmp_path / "none.csv", hall())
