"""The chapter on carbon monoxide: questions worked again, controls that follow, checks, what the text says."""

import re
from functools import cache

import numpy as np
import pytest

from ventcalc import tables
from ventcalc.building import co_buildup, co_exposure, co_limits, co_words, cohb, spillage
from ventcalc.checked import unexplained
from ventcalc.handbook import carbon_monoxide as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS
from ventcalc.vent import common_vent, firing_states, reversal
from ventcalc.vent.states import States

CHECKS = chapter.checks()
START = {name: control.value for name, control in chapter.controls("US").items()}


@cache
def morning():
    """What the chapter's morning comes to."""
    return chapter.morning(chapter.rooms())


# --- Questions ---


def answers(system="US"):
    """Worked with the numbers that are printed, so that rounding them for display cannot lead astray."""
    return (
        Q_(180.0 * 20.95 / 10.95, "ppm"),
        Q_(8.0 * 600.0 / 50.0, "ppm"),
        Q_(np.log(90.0 / 55.0) * 120.0, "minute"),
        Q_(6.0 * 250.0 / 9.0, "cfm") if system == "US" else Q_(0.003 * 250.0 / 9.0, "m**3/s"),
        Q_(30.0, "ppm"),
    )


@pytest.mark.parametrize("system", SYSTEMS)
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), answers(system), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    reading, end, wait, air, mean = chapter.questions("US")
    assert "half of that gas is air" in mark(reading, "180 ppm").sentence
    assert "wrong way around" in mark(reading, Q_(180.0 * 10.95 / 20.95, "ppm")).sentence
    assert "thins nothing" in mark(end, Q_(8.0 * 600.0 / 58.0, "ppm")).sentence
    assert "first slope" in mark(wait, Q_(35.0 / 90.0 / 0.5, "hour")).sentence
    assert "as air" in mark(air, Q_(6.0 * 241.0 / 9.0, "cfm")).sentence
    assert "six clean hours" in mark(mean, "40 ppm").sentence


# --- Prediction, and what the reader writes ---


def test_the_prediction_worked_again():
    # UL 2034's lowest test point is 70 ppm (O014 and its neighbors): below it nothing is asked. COHb by the equation of
    # Coburn, Forster and Kane in steps of a minute, 100 mmHg of oxygen in the capillaries and an affinity of 218.
    found, who = chapter.an_even_day(65), cohb.person("light work")
    resistance, share = who.resistance(101325.0), cohb.BACKGROUND
    for _ in range(480):
        bound = share * 100.0 * 133.322 / (218.0 * (1.0 - share))
        breathed = 65e-6 * (101325.0 - cohb.BODY_VAPOUR)
        share += 60.0 * (cohb.MADE + (breathed - bound) / resistance) / (cohb.BLOOD * cohb.CAPACITY)
    assert found["figure"].m_as("percent") == pytest.approx(100.0 * share, rel=0.01)
    assert found["right"] == 2 and found["day"] > found["figure"] > Q_(2.5, "percent")
    below = [x for x in co_limits.limits() if x.window <= 86400.0 and x.level < 65.0]
    assert found["fails"] == len(below) > 5 and "Never" in chapter.prediction().choices[2]


@pytest.mark.parametrize(("level", "right"), [(30, 2), (69, 2), (70, 0), (400, 0)])
def test_the_prediction_goes_with_the_level(level, right):
    assert chapter.an_even_day(level)["right"] == right  # at 70 ppm: between one and four hours


def fills(seconds):
    def function(time, volume, air, spill, inside):
        return spill * inside / air * (1.0 - np.exp(-air * time * 3600.0 / seconds / volume))

    return function


@pytest.mark.parametrize(("system", "seconds"), [("US", 60.0), ("SI", 1.0)])
def test_what_is_written_is_right_by_hand(system, seconds):
    task, right = chapter.writing(system), fills(seconds)
    assert {tried(task, case, right).kind for case in task.cases} == {"right"}
    for case in task.cases:
        assert tried(task, case, fills(3600.0)).words == task.slips["hours"]
        slope = tried(task, case, lambda t, v, a, s, c: s * c * t * 3600.0 / seconds / v)
        assert slope.words == task.slips["first_slope"]
        ended = tried(task, case, lambda t, v, a, s, c: s * c / a)
        assert ended.words == task.slips["in_the_end"]


# --- What the chapter stands on ---


def test_checks_agree_or_say_why():
    # Those that miss: OSHA's own rounding of its limit; 20.9 % oxygen for 20.95; a sheet that takes the whole barometer
    # for the air breathed; a range of COHb at 50 ppm that gathers studies of many people. Each says so in its remark.
    assert unexplained(CHECKS) == []
    assert {c.id for c in CHECKS if not c.agrees} == {"O002", "O029", "O030", "CM03", "CM31"}
    assert len(CHECKS) == len(tables.read("carbon_monoxide_checks")) == 67


def test_reference_rows_stand_as_they_were_given():
    recalled = {c.id for c in CHECKS if c.status.startswith("from memory")}
    assert recalled >= {"O014", "O015", "O016", "O017", "O018", "O032"}
    assert {c.id for c in CHECKS if c.id.startswith("O")} == {f"O{n:03d}" for n in range(1, 33)}


def test_recalled_table_with_another_start():
    # What the remark on CM10 to CM21 says: from 0.6 % COHb on, the equation is within 0.13 of all twelve.
    for row in tables.read("carbon_monoxide_checks"):
        if row["quantity"].endswith("predicted"):
            who, minutes = cohb.person(row["activity"]), float(row["minutes"])
            level = np.full(2, float(row["co_measured_ppm"]))
            bound = cohb.cohb.bare(np.array([0.0, 60.0 * minutes]), level, who, 0.006)[-1]
            assert 100.0 * bound == pytest.approx(float(row["value"]), abs=0.13)


def test_who_limits_keep_light_work_below_two_and_a_half_percent():
    # The table that O010 to O013 come from is headed by that aim (a journal article, 2018).
    who = cohb.person("light work")
    for limit in co_limits.limits():
        if limit.body == "WHO 2000":
            bound = cohb.cohb.bare(np.array([0.0, limit.window]), np.full(2, limit.level), who)
            assert bound[-1] < 0.025


# --- The morning, as the chapter tells it ---


def test_the_leak_is_that_of_the_whole_scan():
    job = chapter.swim_hall()
    scan = firing_states.scan(job.plant, job.seasons)
    s, summer = scan.states, [x.name for x in job.seasons].index("summer")
    top = [len(a.states) - 1 for a in job.plant.appliances]
    here = (s.codes[0] == 0) & (s.codes[1] == top[1]) & (s.codes[2] == top[2]) & (s.season == summer)
    state = int(np.flatnonzero(here & ~s.cold & ~s.windy)[0])
    assert chapter.leak().m_as("kg/s") == pytest.approx(-scan.solution.drawn[0, state], rel=1e-3)
    assert reversal.gas_in_room(scan)[0, state]
    assert (chapter.leak() / chapter.made()).m_as("percent") < 1.0


def test_the_gas_that_comes_back_is_boiler_twos():
    # In the header's first piece, where Boiler 1's gas would run, the stream runs backward from Boiler 2's junction.
    job = chapter.swim_hall()
    codes = np.array([[0], *([len(a.states) - 1] for a in job.plant.appliances[1:])])
    state = States(codes, np.array([2]), np.zeros(1), np.zeros(1))
    solved = common_vent.solve(job.plant, job.seasons, state)
    assert solved.flow[solved.row("header 1"), 0] < 0.0 < solved.flow[solved.row("header 2"), 0]


def test_seven_o_clock_lies_in_the_band():
    band = morning().alarms[1][0]
    assert band.standard == "UL 2034"
    assert band.earliest < (7.0 - chapter.BEGINS) * 3600.0 < band.latest
    as_tolerated = chapter.morning(chapter.rooms(chapter.AS_TOLERATED))
    assert all(not np.isfinite(b.earliest) for b in as_tolerated.alarms[1][:1]) and as_tolerated.failed


def test_tables_by_the_clock():
    assert chapter.o_clock(0.0) == "2:30" and chapter.o_clock(4.5 * 3600.0) == "7:00"
    assert chapter.o_clock(np.inf) == "never"
    rows = chapter.judged_rows(morning(), chapter.OFFICE)
    assert len(rows) == len(co_limits.limits())
    assert rows[0][4].startswith("fail by") and rows[-1][4] == "pass"
    assert any("authority" in row[4] for row in rows) and not any("safe" in row[4] for row in rows)
    sources = chapter.source_rows(morning(), chapter.OFFICE)
    assert [row[0] for row in sources] == [row[0] for row in rows] and all(row[2] and row[3] for row in sources)
    assert all(status.startswith(row[5]) for row, (*_, status) in zip(rows, sources, strict=True))
    assert {row[0] for row in chapter.fact_rows("interlock")} >= {"Texas", "Georgia"}


def test_six_air_changes_bring_it_to_the_outdoor_standard():
    case = chapter.rooms()
    flow, inside = spillage.spilled(
        chapter.leak(), chapter.burning(), case.co_air_free, case.room_temperature, chapter.place()
    )
    air = flow * (inside / Q_(9.0, "ppm")).to("")
    assert (air / case.room_volume).m_as("1/hour") == pytest.approx(6.0, abs=0.5)
    # 9000 ft3 changed 0.3 times an hour are 45 cfm; what the flue gas brings is thinned by them alone.
    assert co_buildup.steady_state(case.room_volume * case.air_changes, flow, inside).m == pytest.approx(
        inside.m * flow.m_as("ft**3/min") / 45.0, rel=1e-6
    )


# --- Live controls ---


def test_explorer_shows_what_the_library_judges():
    numbers, _ = chapter.explorer_answer("US", **START)
    assert "ppm CO in it" in numbers and "limits that fail" in numbers and co_words.CAUTION[:40] in numbers
    stopped, _ = chapter.explorer_answer("SI", **START | {"monitor": 35.0})
    assert "burners stopped after" in stopped and "kg/s" in stopped


def test_more_air_is_less_and_no_spill_is_none():
    def end(**values):
        words, _ = chapter.explorer_answer("SI", **START | values)
        return float(re.search(r"([\d,]+) ppm / ", words)[1].replace(",", ""))

    assert end(changes=8.0) < end(changes=0.5) < end(changes=0.0)
    assert end(share=0.0) == end(co=0.0) == 0.0


# --- Figures ---


def figures():
    return (
        chapter.morning_chart(morning()),
        chapter.blood_chart(morning(), 1),
        chapter.alarm_chart(),
        chapter.ventilation_chart(chapter.rooms()),
    )


def test_axes_are_labeled_with_their_units_and_can_be_read():
    for figure in figures():
        (axes,) = figure.axes
        assert axes.get_xlabel() and re.search(r"ppm|min|%", axes.get_ylabel())
        assert all(t.get_size() >= 10 for t in (*axes.get_xticklabels(), *axes.get_yticklabels(), *axes.texts))


def test_lines_differ_by_more_than_their_color():
    for figure in figures():
        styles = [
            (x.get_linestyle(), x.get_marker()) for x in figure.axes[0].lines if not x.get_label().startswith("_")
        ]
        assert len(set(styles)) == len(styles)


def test_sketch_names_the_rooms():
    words = {t.get_text() for t in chapter.sketch().axes[0].texts}
    assert {co_exposure.ROOM, chapter.OFFICE, "alarm", "stack"} <= words


def test_sketch_has_a_flue_from_every_boiler_to_the_header_over_the_rooms():
    axes = chapter.sketch().axes[0]
    boilers = [p for p in axes.patches if p.get_height() == 2.0]
    flues = {tuple(map(tuple, line.get_xydata())): line for line in axes.lines}
    rooms = [p for p in axes.patches if p.get_height() > 4.0]
    header = max(flues, key=len)[0][1]
    assert len(boilers) == 3
    for boiler in boilers:
        middle = boiler.get_x() + boiler.get_width() / 2
        flue = flues[(middle, 2.0), (middle, header)]
        assert all(flue.get_zorder() > room.get_zorder() for room in rooms)  # else the room would hide it


def test_judged_blood_lies_on_the_safe_side_of_what_is_printed():
    """CM10 to CM35: figures of the WHO, of OSHA, of measured people and of UL 2034 (each row names its own).

    The equation alone lies below 23 of the 26, by 5 % in the middle. Raised by the margin it lies below one: the middle
    of a printed range of 8 to 10 %, whose lower end it passes.
    """
    rows = [c for c in chapter.checks() if c.id.startswith("CM") and c.id >= "CM10"]
    short = {c.id: c.ours / float(c.published) for c in rows}
    assert len(rows) == 26 and sum(x < 1.0 for x in short.values()) == 23
    assert np.median(list(short.values())) == pytest.approx(0.95, abs=0.01)
    raised = {key: cohb.COHB_MARGIN * x for key, x in short.items()}
    assert [key for key, x in raised.items() if x < 1.0] == ["CM31"] and 9.0 * raised["CM31"] > 8.0
