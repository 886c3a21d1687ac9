"""Year records: hours, patterns and hard days of a design as plain data, beside other designs, in both systems."""

import json
from dataclasses import replace

import numpy as np
import pytest
from sample_commissioning import HALL

from ventcalc.building import climate
from ventcalc.job import remedies, year, year_findings
from ventcalc.job.design import Design, drawn
from ventcalc.show import year_records
from ventcalc.units import SYSTEMS
from ventcalc.words import sentences

WEATHER = climate.year("cold", 3)[: 24 * 12]


@pytest.fixture(scope="module")
def hall():
    """Twelve winter days of the hall as drawn, with its remedy, and the hard days of two of them."""
    designs = (drawn(HALL), Design(HALL, remedies.offered(HALL).remedy))
    return *year.years(designs, WEATHER), year.hard_days(designs[0], (WEATHER[:96], WEATHER[96:]))


@pytest.fixture(scope="module")
def told(hall):
    bare, held, hard = hall
    return {system: year_records.records(held, system, (bare,), hard) for system in SYSTEMS}


@pytest.mark.slow
def test_it_is_plain_data(told):
    for found in told.values():
        assert json.loads(json.dumps(found, allow_nan=False)) == found


@pytest.mark.slow
def test_totals_are_those_of_the_hours_counted_by_hand(told, hall):
    bare, held, _ = hall
    totals = told["US"]["totals"]
    assert totals["wet"]["value"] == pytest.approx(held.wet.max(axis=0).sum())
    assert totals["starts"]["value"] == pytest.approx(held.hours.starts.sum())
    # 1 kWh = 3.6 MJ, 1 US gallon = 231 cubic inches = 3.785411784 L: NIST SP 811, appendix B.8; water of 1,000 kg/m3.
    kwh = held.fan_energy.sum() / 3.6e6
    assert totals["fan_energy"]["shown"] == f"{kwh:,.0f} kWh" and kwh > 1.0
    gallons = bare.condensate.sum() / 1000.0 / 3.785411784e-3
    cells = {row["code"]: row["cells"] for row in told["US"]["compared"]["totals"]}
    assert cells["condensate"][1]["shown"] == f"{gallons:,.0f} gal" and gallons > 1.0
    assert cells["outside"][1]["value"] == pytest.approx(np.minimum((bare.below + bare.above).max(axis=0), 1).sum())


def test_designs_stand_beside_each_other_this_one_first(told, hall):
    bare, held, _ = hall
    for found in told.values():
        compared = found["compared"]
        assert (
            compared["designs"] == [held.design.remedy.name, bare.design.remedy.name]
            and found["design"] in (compared["designs"][0])
        )
        assert all(len(row["cells"]) == 2 for row in compared["totals"] + compared["failures"])
        below = {r["subject"]: r["cells"] for r in compared["failures"] if r["kind"] == "below window"}
        assert below["Boiler 1"][1]["value"] == pytest.approx(bare.below[0].sum()) and bare.below[0].sum() > 10.0
    starts = next(r["cells"] for r in compared["failures"] if r["kind"] == "start outside window")
    count = bare.bad_starts.sum()  # starts, not hours
    assert starts[1] == {"value": pytest.approx(count), "unit": "", "shown": f"{count:.0f}"} and count > 1.0
    titles = [r["title"] for r in told["US"]["compared"]["failures"]]
    assert len(set(titles)) == len(titles)


def test_page_one_tells_the_hours_of_both(told, hall):
    bare, _held, _ = hall
    text = " ".join(told["US"]["words"])
    assert f"{bare.outside.sum():,.0f} hours outside a window" in text
    assert f"{bare.into_room.max(axis=0).sum():,.0f} with flue gas in the room" in text
    assert "Coldest day of the years looked at" in text and "Windiest day of the years looked at" in text


def test_hard_days_are_told_with_their_weather_and_their_worst(told, hall):
    _, _, hard = hall
    for found, day in zip(told["SI"]["hard_days"], hard, strict=True):
        own = day.year
        assert found["outdoors"]["value"] == pytest.approx(own.hours.weather.temperature.mean())
        assert abs(found["beyond"]["value"]) == pytest.approx(np.abs(own.beyond).max())
        assert found["outside"]["value"] == pytest.approx(own.outside.sum()) and found["appliance"]
        assert found["date"].startswith("January ") and "°C" in found["outdoors"]["shown"]
    assert told["SI"]["hard_days"][0]["kind"] == "coldest"


def test_systems_differ_in_what_is_shown_and_not_in_what_is(told):
    us, si = (told[system]["weather"] for system in SYSTEMS)
    assert us["coldest"]["value"] == si["coldest"]["value"] and us["coldest"]["shown"] != si["coldest"]["shown"]
    assert told["US"]["totals"]["starts"] == told["SI"]["totals"]["starts"]


@pytest.mark.parametrize(("hours", "shown"), [(0.0, "0 h"), (0.3, "under 1 h"), (0.6, "1 h"), (1234.4, "1,234 h")])
def test_a_few_minutes_are_not_told_as_never(hours, shown):
    assert year_records._hours(hours)["shown"] == shown


@pytest.mark.parametrize(("hours", "often"), [(0.0, "never"), (0.2, "some"), (8000.0, "some"), (8760.0, "always")])
def test_how_often(hours, often):
    assert year_records._often(hours, 8760.0) == often


def test_a_day_on_which_nothing_leaves_its_window_is_said_so(hall):
    _, _, (cold, wind) = hall
    calm = [year.HardDay(d.kind, replace(d.year, beyond=np.zeros_like(d.year.beyond))) for d in (cold, wind)]
    for day in calm:
        found = year_records._hard_day(day, "US")
        assert found["appliance"] == "" and "no outlet leaves its window" in found["words"]


def test_another_weather_is_refused(hall):
    bare, held, _ = hall
    other = year.year(held.design, WEATHER[:24])
    with pytest.raises(ValueError, match="only years of one weather"):
        year_records.records(bare, "US", (other,))


def test_every_failure_and_every_total_has_its_title(told):
    words = sentences("show")
    assert set(words["year_title"]) == set(sentences("job")["year_failure"])
    assert set(words["year_total"]) == set(told["US"]["totals"])
    assert {f["when"] for f in told["US"]["failures"]} and all(
        f["words"].endswith(".") and f["when"] in f["words"] for f in told["US"]["failures"]
    )


def test_hours_of_a_file_are_told_by_its_source(hall):
    bare, _, _ = hall
    weather = replace(WEATHER, invented=False, name="Somewhere", source="x.epw: a station")
    measured = replace(bare, hours=replace(bare.hours, weather=weather))
    basis = year_records.records(measured, "US")["basis"]
    assert "Somewhere (x.epw: a station)" in basis and f"{len(WEATHER)} hours" in basis
    assert "nobody's" in year_records.records(bare, "US")["basis"]
    assert year_findings.totals(bare).hours == pytest.approx(len(WEATHER))
