"""Panels: what the controls show agrees with the library, at both ends of every control, in both unit systems."""

import io
import re
import time
from statistics import median

import numpy as np
import pytest
from PIL import Image
from sample_plants import SEASONS, row_plant

from ventcalc import exercises, firing_states, job, panels, tables
from ventcalc.common_vent import States, solve
from ventcalc.units import Q_, SYSTEMS, show

JOBS = {path.stem: job.load(path) for path in sorted((tables.DATA / "jobs").glob("*.toml"))}
HALL = JOBS["swim_hall"]
SCAN = firing_states.scan(HALL.plant, HALL.seasons)
# s of processor time from the move of a control to numbers and picture, so that it feels immediate; the clock on
# the wall would measure the other worker as well.
SLOWEST = 0.150


def is_a_drawing(data):
    picture = Image.open(io.BytesIO(data)).convert("L")
    return picture.width > 100 and len(np.unique(np.asarray(picture))) > 10


def ends_of(control):
    """A control's first and last value."""
    values = [o[1] if isinstance(o, tuple) else o for o in control.options]
    return {values[0], values[-1]}


def start_values(controls):
    return {name: control.value for name, control in controls.items()}


# --- Both ends of every control -----------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", JOBS)
def test_vent_answers_at_both_ends_of_every_control(name, system):
    chosen = JOBS[name]
    controls = panels.vent_controls(chosen.plant, chosen.seasons, system)
    start = start_values(controls)
    for moved, control in controls.items():
        for value in ends_of(control):
            numbers, picture = panels.said(
                lambda **v: panels.vent_answer(chosen.plant, chosen.seasons, system, **v), start | {moved: value}
            )
            told = (name, moved, value)
            assert "cannot be built" not in numbers and "did not converge" not in numbers, told
            assert all(a.name in numbers for a in chosen.plant.appliances), told
            assert is_a_drawing(picture), told


@pytest.mark.parametrize("system", SYSTEMS)
def test_states_answer_at_both_ends_of_every_control(system):
    panel = panels.states(SCAN, system)
    start = start_values(panel.controls)
    for moved, control in panel.controls.items():
        for value in ends_of(control):
            numbers, picture = panels.states_answer(SCAN, system, **start | {moved: value})
            assert re.search(r"\d of 640 states", numbers)
            assert is_a_drawing(picture)


# --- The numbers are the library's --------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_vent_shows_what_the_solver_says(system):
    # At the job's own first season nothing is interpolated.
    controls = panels.vent_controls(HALL.plant, HALL.seasons, system)
    numbers, _ = panels.vent_answer(HALL.plant, HALL.seasons, system, **start_values(controls))
    codes = np.array([[3], [3], [3]])
    solution = solve(HALL.plant, HALL.seasons, States(codes, np.array([0]), np.array([False]), np.array([False])))
    for pressure in solution.outlet_pressure[:, 0]:
        assert show(Q_(pressure, "Pa"), system) in numbers


def test_states_show_the_envelopes_of_the_scan():
    numbers, _ = panels.states_answer(SCAN, "US", **start_values(panels.states(SCAN).controls))
    for e in firing_states.envelopes(SCAN):
        for value in (e.low, e.high, e.swing, e.below, e.above):
            assert show(Q_(value, "Pa"), "US") in numbers
    for r in firing_states.reversals(SCAN):
        assert f"FLUE GAS ENTERS THE ROOM: {show(Q_(r.flow, 'kg/s'), 'US')}" in numbers


def test_narrowed_states_are_those_asked_for():
    start = start_values(panels.states(SCAN).controls)
    numbers, _ = panels.states_answer(SCAN, "US", **start | {"season": 2, "cold": True, "does Boiler 3": 0})
    # Summer has no wind: 4 x 4 states of the other two boilers.
    assert "16 of 640 states" in numbers
    assert "design winter" not in numbers and "hot stack" not in numbers
    assert "of flue gas into the room" in numbers  # through Boiler 3, which is off


def test_no_state_left_is_said_in_words():
    start = start_values(panels.states(SCAN).controls)
    numbers, picture = panels.said(
        lambda **v: panels.states_answer(SCAN, "US", **v), start | {"season": 2, "windy": True}
    )
    assert "no state of the scan fits" in numbers
    assert picture == panels.no_picture()


def test_flue_gas_through_an_idle_boiler_is_shouted():
    controls = panels.vent_controls(HALL.plant, HALL.seasons, "US")
    worst = start_values(controls) | {"outdoor": 304.26, "cold": True, "does Boiler 1": "off", "does Boiler 2": "purge"}
    numbers, _ = panels.vent_answer(HALL.plant, HALL.seasons, "US", **worst)
    assert "FLUE GAS ENTERS THE ROOM" in numbers


def test_off_and_purging_alone_is_no_flue_gas():
    controls = panels.vent_controls(HALL.plant, HALL.seasons, "US")
    doing = {"does Boiler 1": "off", "does Boiler 2": "purge", "does Boiler 3": "purge"}
    numbers, _ = panels.vent_answer(
        HALL.plant, HALL.seasons, "US", **start_values(controls) | {"outdoor": 304.26} | doing
    )
    assert "FLUE GAS" not in numbers and "idle: its window does not count" in numbers


# --- The vent, varied ---------------------------------------------------------------------------------------------


def test_as_drawn_is_as_drawn():
    for chosen in JOBS.values():
        assert panels.varied(chosen.plant).heights == chosen.plant.heights


@pytest.mark.parametrize("factor", [0.5, 1.5])
def test_a_higher_stack_changes_length_and_rise_alike(factor):
    changed = panels.varied(HALL.plant, height=factor)
    for before, after in zip(HALL.plant.sections, changed.sections, strict=True):
        own = factor if before.name == "stack" else 1.0
        assert after.length.m_as("ft") == pytest.approx(own * before.length.m_as("ft"))
        assert after.rise.m_as("ft") == pytest.approx(own * before.rise.m_as("ft"))


def test_stack_and_header_are_found():
    assert panels.stack_sections(HALL.plant) == {"stack"}
    assert panels.shared_sections(HALL.plant) == {"header 1", "header 2", "header 3", "offset", "stack"}
    # In the lodge the shaft inside the building is stack as well.
    assert panels.stack_sections(JOBS["lodge"].plant) == {"shaft", "above roof"}


def test_width_leaves_the_connectors_alone():
    changed = panels.varied(HALL.plant, diameter=1.25)
    assert changed.section("stack").diameter.m_as("inch") == pytest.approx(20)
    assert changed.section("connector 1").diameter.m_as("inch") == pytest.approx(8)


def test_other_junctions():
    changed = panels.varied(HALL.plant, junction="lateral")
    assert [s.junction for s in changed.sections if s.junction] == ["lateral"] * 3


def test_more_draft_and_less_loss_lower_the_pressure():
    plant, states = row_plant(2), States(np.full((2, 1), 2), np.zeros(1, int), np.zeros(1, bool), np.zeros(1, bool))

    def outlet(**changes):
        return float(solve(panels.varied(plant, **changes), SEASONS, states).outlet_pressure[0, 0])

    drawn = outlet()
    assert outlet(height=1.5) < drawn < outlet(height=0.5)
    assert outlet(diameter=1.5) < drawn < outlet(diameter=0.8)
    assert outlet(junction="lateral") < outlet(junction="straight tee")


def test_a_vent_that_cannot_be_built_is_refused_in_words():
    plant = row_plant(2)

    def answer(**values):
        return panels.vent_answer(plant, SEASONS, "US", **values)

    start = start_values(panels.vent_controls(plant, SEASONS, "US"))
    numbers, picture = panels.said(answer, start | {"diameter": 100.0})
    assert numbers.startswith("<p><b>This cannot be built or solved:</b> section") and "20 mm to 10 m" in numbers
    assert picture == panels.no_picture()


# --- The weather between the seasons ------------------------------------------------------------------------------


def test_weather_is_a_season_at_its_own_temperature():
    for season in HALL.seasons:
        found = panels.weather(HALL.seasons, season.outdoor)
        assert found.room.m_as("K") == pytest.approx(season.room.m_as("K"))
        assert found.relative_humidity == pytest.approx(season.relative_humidity)


def test_weather_lies_between_and_stays_beyond():
    between = panels.weather(HALL.seasons, Q_(69, "degF"))  # half way from 50 to 88 degF: room from 72 to 86 degF
    assert between.room.m_as("degF") == pytest.approx(79)
    assert panels.weather(HALL.seasons, Q_(-40, "degF")).room.m_as("degF") == pytest.approx(68)
    assert between.wind.m_as("mph") == pytest.approx(15)  # the strongest of the job


# --- The widgets --------------------------------------------------------------------------------------------------


def test_moving_a_slider_changes_numbers_and_picture():
    panel = panels.vent(HALL.plant, HALL.seasons)
    numbers, picture = panel.numbers.value, panel.picture.value
    slider = panel.controls["height"]
    assert not slider.continuous_update
    slider.index += 3
    assert panel.numbers.value != numbers and panel.picture.value != picture


def test_units_keep_the_controls_and_the_physics():
    chooser = panels.study(JOBS)
    assert chooser.job.value == next(iter(JOBS))
    chooser.job.value = "swim_hall"
    chooser.panel.controls["outdoor"].value = min(v for _, v in chooser.panel.controls["outdoor"].options)
    chooser.panel.controls["does Boiler 2"].value = "low"
    chooser.units.value = "SI"
    panel = chooser.panel
    assert panel.controls["does Boiler 2"].value == "low"
    assert panel.controls["outdoor"].label == "-40 °C"
    assert "Pa" in panel.numbers.value and "w.c." not in panel.numbers.value


def test_another_job_starts_afresh():
    chooser = panels.study(JOBS)
    chooser.job.value = "lodge"
    assert "Boiler A" in chooser.panel.numbers.value
    assert set(chooser.panel.controls) >= {"does Boiler A", "does Boiler B"}


def test_classes_for_the_page():
    panel = panels.vent(HALL.plant, HALL.seasons)
    assert "vc-numbers" in panel.numbers._dom_classes and "vc-picture" in panel.picture._dom_classes


def test_a_page_that_is_not_live_shows_the_numbers():
    panel = panels.vent(HALL.plant, HALL.seasons)
    for widget in (panel, panels.study(JOBS)):
        bundle = widget._repr_mimebundle_()
        assert "verdict" in bundle["text/html"] and "application/vnd.jupyter.widget-view+json" in bundle


def test_an_exercise_is_marked_when_it_is_answered():
    exercise = exercises.for_firing_states()[0]
    question, line, verdict = panels.ask(exercise).children
    assert exercise.question in question.value and "Your turn" in verdict.value
    line.value = "240"
    assert "No." in verdict.value and "Hint" in verdict.value
    line.value = "12288"
    assert "Right." in verdict.value
    line.value = ""
    assert "Your turn" in verdict.value


def test_names_are_escaped():
    assert "<b>" not in panels.table(("<b>",), [("<b>",)])


@pytest.mark.parametrize("make", [lambda: panels.vent(HALL.plant, HALL.seasons), lambda: panels.states(SCAN)])
def test_a_move_is_answered_at_once(make):
    panel = make()
    control = list(panel.controls.values())[2]
    took = []
    for _move in range(20):
        began = time.process_time()
        control.index = (control.index + 1) % len(control.options)
        took.append(time.process_time() - began)
    assert median(took) < SLOWEST
