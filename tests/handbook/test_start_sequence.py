"""The chapter on the start sequence: questions worked again, what the tables and figures say, live controls."""

import re
from dataclasses import replace

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.draft import start_proof
from ventcalc.draft.start_sequence import FAULTS, TRANSITIONS, Event, State
from ventcalc.draft.start_timeline import Cue
from ventcalc.handbook import sequence_drawing
from ventcalc.handbook import start_sequence as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_


def by_other_means(system):
    """Answers by hand: 40 ft3 of chamber, the pipes of the vent, 400 cfm; the decay stepped; the clock added up."""
    pipes = ((6, 8), (7, 16), (6, 8), (7, 16), (6, 6), (15, 16), (14, 16), (38, 16))  # ft long, inch wide, as drawn
    vent = sum(np.pi / 4.0 * (wide / 12.0) ** 2 * long for long, wide in pipes)
    left, changes = 1.0, 0.0
    while left > 0.0125:
        left, changes = left * (1.0 - 1e-4), changes + 1e-4
    return [
        Q_(4.0 * (40.0 + vent) / 400.0, "minute"),
        Q_(changes, ""),
        Q_(15 + 3 + 2 * 20 + 24 + 3 + 2, "s"),
        Q_(8, ""),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), by_other_means(system), strict=True):
        assert mark(question, answer).kind == "right", question.question


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_prediction_worked_again(system):
    # The vent's pipes as drawn, four changes of chamber and vent: 40 ft3 at 400 cfm and 20 ft3 at 200 cfm.
    pipes = ((6, 8), (7, 16), (6, 8), (7, 16), (6, 6), (15, 16), (14, 16), (38, 16))
    vent = sum(np.pi / 4.0 * (wide / 12.0) ** 2 * long for long, wide in pipes)
    found = chapter.with_the_vent(4.0)
    assert found["figure"].m_as("s") == pytest.approx(4.0 * (20.0 + vent) / 200.0 * 60.0, rel=0.01)
    assert found["others"].m_as("s") == pytest.approx(4.0 * (40.0 + vent) / 400.0 * 60.0, rel=0.01)
    assert found["alone"].m_as("s") == pytest.approx(24.0) and found["slowest"] == "Boiler 3"
    assert found["right"] == 2 and "smallest" in chapter.prediction(system).choices[2]


def test_the_prediction_goes_with_the_blowers(monkeypatch):
    usual = chapter.settings()

    def with_flows(*cfm):
        burners = tuple(replace(b, purge_flow=Q_(q, "cfm")) for b, q in zip(usual.burners, cfm, strict=True))
        monkeypatch.setattr(chapter, "settings", lambda **changed: replace(usual, burners=burners, **changed))
        return chapter.with_the_vent(4.0)["right"]

    assert with_flows(400.0, 400.0, 200.0) == 2
    assert with_flows(400.0, 400.0, 800.0) == 0
    vent = float(chapter.vent_volume(chapter.hall().plant).m_as("ft**3"))
    assert with_flows(400.0, 400.0, 400.0 * (20.0 + vent) / (40.0 + vent)) == 1


@pytest.mark.parametrize(("system", "second"), [("US", 60.0), ("SI", 1.0)])
def test_what_is_written_is_right_by_hand(system, second):
    task = chapter.writing(system)

    def right(left, chamber, vent, flow):
        return second * np.log(100.0 / left) * (chamber + vent) / flow

    for case in task.cases:
        assert tried(task, case, right).kind == "right"
        assert tried(task, case, lambda x, c, v, q: right(x, c, v, q) * 0.4342945).words == task.slips["base_ten"]
        assert tried(task, case, lambda x, c, v, q: right(100.0 * x, c, v, q)).words == task.slips["percent"]
        wrong = tried(task, case, lambda x, c, v, q: right(x, c, v, q) * (1.0 / 60.0 if second > 1.0 else 60.0))
        assert wrong.words == task.slips["unit"]
    assert tried(task, task.cases[1], lambda x, c, v, q: right(x, c, 0.0, q)).words == task.slips["alone"]


def test_tables_of_the_page():
    assert "166 s" in chapter.purges_told("US").data and "118 ft³" in chapter.purges_told("US").data
    assert chapter.failures_told().data.count("<tr>") == 1 + len(FAULTS)
    assert chapter.rules_told().count("\n") == len(start_proof.RULES)
    sheet = chapter.sheet_told("SI").data
    assert sheet.startswith("<details>") and "Boiler 3" in sheet


def test_checks_agree():
    checks = chapter.checks()
    assert unexplained(checks) == [] and all(c.agrees for c in checks)
    assert sum(c.status.startswith("published") for c in checks) == 15 and len(checks) == 18


def test_releases_apart_keep_the_first_boiler_in_its_window():
    runs = [chapter.start_pressure(s) for s in chapter.STAGGERS]
    peaks = [pressure[0].max() for _, pressure in runs]
    above = [chapter.longest_above(time, pressure[0], chapter.upper_edge()) for time, pressure in runs]
    # Apart they pass the edge for a moment only, while a fan runs up and the column is accelerated.
    assert peaks[0] > peaks[1] > peaks[2] > chapter.upper_edge() and above[0] > above[1] > 5.0 > 2.0 > above[2]
    cells = re.findall(r"<td[^>]*>(.*?)</td>", chapter.stagger_table())
    assert cells[3::4] == ["lockout", "lockout", "run"]


def test_longest_stretch_above_a_limit():
    times = np.arange(0.0, 60.0)
    pressure = np.where((times >= 10) & (times < 17), 30.0, 0.0) + np.where(times == 40, 30.0, 0.0)
    assert chapter.longest_above(times, pressure, 25.0) == 7.0
    assert chapter.longest_above(times, 0.0 * pressure, 25.0) == 0.0


def test_failures_are_told_as_the_machine_runs_them():
    rows = chapter.failures()
    assert [r[0] for r in rows] == [f.value for f in FAULTS] and all(
        len(r) == len(chapter.FAILURES_HEADER) for r in rows
    )
    assert all("manual reset" in r[-1] for r in rows if r[0] != "power lost")
    assert {r[1] for r in rows if r[0] == "flame lost"} == {"this burner"}


def test_way_back_in_words():
    assert chapter.back_words(State.IDLE) == "a full start" and chapter.back_words(State.RUN) == ""
    assert chapter.back_words(State.TRIPPED) == "time is up, manual reset, a full start"
    assert chapter.back_words(State.MAIN) == "flame proved"


def test_diagram_draws_every_arrow_of_the_table():
    drawn = sequence_drawing.arrows()
    for (state, event), to in TRANSITIONS.items():
        if to is not state and event not in FAULTS and event is not Event.FLAME:
            assert event in drawn[state, to]
    figure = sequence_drawing.state_diagram()
    texts = " ".join(t.get_text().replace("\n", " ") for t in figure.axes[0].texts)
    assert all(s.value in texts for s in State) and all(f.value in texts for f in FAULTS)


def test_diagram_s_words_stand_on_arrows_that_are_there():
    told = sequence_drawing.diagram()
    assert set(told["words"]) | set(told["ways"]) <= set(sequence_drawing.arrows()) and set(told["places"]) == set(
        State
    )
    for pair, row in told["words"].items():
        event = " ".join(e.value for e in sequence_drawing.arrows()[pair])
        assert row["text"].replace("\n", " ").split()[-1] in event


def test_bars_cover_all_time_and_the_fan_is_under_them():
    found = chapter.called(0, 30, 60, more=[Cue(Q_(150, "s"), Event.HIGH_PRESSURE)])
    axes = sequence_drawing.sequence_figure(found, [(150.0, "high pressure")]).axes[0]
    assert axes.get_xlabel() == "time, s"
    assert [t.get_text() for t in axes.get_yticklabels()] == [*found.names, "vent fan"]
    wide = sum(p.get_width() for p in axes.patches if p.get_y() == pytest.approx(3 - 0.1))
    assert wide == pytest.approx(150 + 5 + 15)  # the fan from the call to the end of the purge after the trip


def test_figures_have_units():
    for system, unit in (("US", "in. w.c."), ("SI", "Pa")):
        axes = chapter.pressure_figure(system).axes[0]
        assert axes.get_xlabel() == "time from the call, s" and axes.get_ylabel() == f"outlet of Boiler 1, {unit}"
    assert chapter.dilution_figure().axes[0].get_ylabel() == "first gas left, %"


START = {name: c.value for name, c in chapter.controls().items()}


def test_explorer_tells_where_it_ends():
    assert "lockout" in chapter.explorer_answer("US", **START)[0]
    short = chapter.explorer_answer("US", **START | {"lasts": 3.0})[0]
    assert "It makes no difference" in short and "lockout" not in short
    assert "lockout" not in chapter.explorer_answer("US", **START | {"high_delay": 20.0})[0]
    back = chapter.explorer_answer("US", **START | {"reset": 250.0})[0]
    assert "lockout" not in back and "ran for" in back
    own = chapter.explorer_answer("US", **START | {"event": Event.FLAME_LOST.value, "who": "Boiler 2"})[0]
    assert own.count("lockout") == 1 and "flame lost, in: run" in own


@pytest.mark.slow
def test_every_happening_is_answered():
    for event in chapter.controls()["event"].options:
        numbers, picture = chapter.explorer_answer("SI", **START | {"event": event, "lasts": 60.0})
        assert "Boiler 3" in numbers and picture.startswith(b"\x89PNG")


def test_purged_with_the_vent_takes_longer():
    rows = [re.findall(r"<td[^>]*>(.*?)</td>", chapter.explorer_answer("US", **START | {"vent": v})[0]) for v in (0, 1)]
    assert rows[0][1] == "24 s" and rows[1][1] == "95.1 s"


@pytest.mark.parametrize("system", ["US", "SI"])
def test_purge_calculator_answers_at_both_ends(system):
    panel = chapter.purge_explorer(system)
    start = {key: control.value for key, control in panel.controls.items()}
    for key, control in panel.controls.items():
        for value in (control.options[0][1], control.options[-1][1]):
            numbers, picture = panel.answer(**start | {key: value})
            assert not re.search(r"\b(nan|inf)\b", numbers) and picture.startswith(b"\x89PNG"), (key, value)


def test_purge_calculator_is_right():
    numbers, _ = chapter.purge_answer("SI", chamber=1.0, vent=1.0, flow=0.1, changes=3.0, tanks=1.0)
    assert "60 s" in numbers and "4.98 %" in numbers and "left is below the" in numbers
    assert "not below" in chapter.purge_answer("SI", chamber=1.0, vent=0.0, flow=0.1, changes=2.0, tanks=1.0)[0]
    assert "below a quarter" in chapter.purge_answer("SI", chamber=1.0, vent=0.0, flow=0.1, changes=2.0, tanks=1e4)[0]
