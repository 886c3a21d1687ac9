"""The chapter on the common vent: questions worked again, live controls at both ends, the vent varied, checks."""

import io
import time
from dataclasses import replace
from statistics import median

import numpy as np
import pytest
import sample_studies
from independent_network import Vent
from PIL import Image
from sample_plants import SEASONS, row_plant

from ventcalc.checked import unexplained
from ventcalc.handbook import common_vent as chapter
from ventcalc.job import job_file
from ventcalc.show import panels
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent.common_vent import solve
from ventcalc.vent.states import States

JOBS = {name: job_file.demonstration(name) for name in sample_studies.JOBS}
HALL = JOBS["swim_hall"]
SLOWEST = 0.150  # s of processor time, so that a move feels immediate; the wall's clock would measure others as well


def is_a_drawing(data):
    picture = Image.open(io.BytesIO(data)).convert("L")
    return picture.width > 100 and len(np.unique(np.asarray(picture))) > 10


def start_values(chosen, system="US"):
    return {name: c.value for name, c in chapter.controls(system, chosen.plant, chosen.seasons).items()}


def answer(chosen, system="US", **changes):
    """Numbers and picture of a job's vent as the controls begin, but for some changes."""
    return chapter.explorer_answer(system, chosen.plant, chosen.seasons, **start_values(chosen, system) | changes)


# --- Questions ---


def expected(number, unit):
    """The expected answer in both unit systems; they are one."""
    us, si = (float(chapter.questions(system)[number].expected.m_as(unit)) for system in SYSTEMS)
    assert us == pytest.approx(si, rel=1e-9)
    return us


def test_handbook_draft_by_hand():
    # The handbook's formula with its US constant (from memory): B 29.92 inHg, H 40 ft, 20 and 300 degF.
    by_hand = 0.2554 * 29.92 * 40 * (1 / 479.67 - 1 / 759.67)
    assert expected(0, "inH2O") == pytest.approx(by_hand, rel=1e-4)
    in_si = 0.03413 * 101325 * 12.192 * (1 / 266.483 - 1 / 422.039)
    # The two constants as printed differ by 0.32 %.
    assert expected(0, "Pa") == pytest.approx(in_si, rel=4e-3)


def test_branch_of_a_tee_by_hand():
    # Gardel's branch at 90 degrees, sharp corner: the cosine terms vanish. a = (12/16)^2, q = 1/2.
    a, q = 0.5625, 0.5
    k = -0.92 * (1 - q) ** 2 + q**2 * (1.2 - 0.8 * (1 - 1 / a**2)) + (2 - a) * q * (1 - q)
    assert expected(1, "inH2O") == pytest.approx(0.020 * k, rel=1e-9)


def test_mixed_temperature_by_hand():
    assert expected(2, "degF") == pytest.approx((900 * 330 + 300 * 90) / 1200, abs=1e-6)


def test_swimming_hall_with_laterals_by_a_second_solver():
    sections = tuple(replace(s, junction=s.junction and "lateral") for s in HALL.plant.sections)
    state = Vent(replace(HALL.plant, sections=sections), HALL.seasons).state((3, 3, 3), 2, cold=True)
    drawn, _, _ = state.solve()
    assert expected(3, "Pa") == pytest.approx(state.at(drawn).outlet_pressure(0), abs=0.05)


# --- The two boilers, the prediction, and what the reader writes ---


def two_at_high(plant, outdoor):
    """Boiler 1's outlet pressure [Pa] with all at high on hot walls, by the second solver."""
    state = Vent(plant, (replace(chapter.WINTER, outdoor=outdoor),)).state((2,) * len(plant.appliances), 0)
    drawn, _, _ = state.solve()
    return state.at(drawn).outlet_pressure(0)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_by_a_second_solver(system):
    found, outdoor = chapter.second_boiler(Q_(20.0, "degF")), Q_(20.0, "degF")
    alone, both = (two_at_high(plant, outdoor) for plant in (chapter.one_boiler(), chapter.two_boilers()))
    assert found["alone"].m_as("Pa") == pytest.approx(alone, abs=0.05)
    assert found["figure"].m_as("Pa") == pytest.approx(both, abs=0.05)
    assert found["right"] == 1 and 0.4 < both / alone < 0.65
    assert "half" in chapter.prediction(system).choices[1]


def test_the_prediction_goes_with_the_weather():
    # In hot weather the stack makes too little for two: flue gas is pushed out.
    assert chapter.second_boiler(Q_(110.0, "degF"))["right"] == 2


def by_sum(losses, draft, top_head, cap, outlet_head, room):
    return losses + top_head + cap * top_head - (draft + outlet_head + room)


SLIPPED = {
    "exit_head": lambda losses, draft, top, cap, foot, room: losses + cap * top - draft - foot - room,
    "total": lambda losses, draft, top, cap, foot, room: losses + (1 + cap) * top - draft - room,
    "head_added": lambda losses, draft, top, cap, foot, room: losses + (1 + cap) * top - draft + foot - room,
    "room_added": lambda losses, draft, top, cap, foot, room: losses + (1 + cap) * top - draft - foot + room,
    "no_room": lambda losses, draft, top, cap, foot, room: losses + (1 + cap) * top - draft - foot,
    "as_draft": lambda *terms: -by_sum(*terms),
}


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_plain_numbers(system):
    task = chapter.writing(system)
    assert {tried(task, case, by_sum).kind for case in task.cases} == {"right"}
    assert set(SLIPPED) == set(task.slips)
    for slip, function in SLIPPED.items():
        assert {tried(task, case, function).words for case in task.cases} == {task.slips[slip]}, slip


def test_the_sum_at_an_outlet_is_the_solvers():
    # The terms of the solver's own state, summed: all along the way, the cap's by the fall from the top to the open.
    solution = chapter.in_state(chapter.one_boiler(), chapter.WINTER, "high")
    losses, drafts = (Q_(float(v[:, 0].sum()), "Pa") for v in (solution.loss, solution.draft))
    first, top = solution.row("connector 1"), Q_(float(solution.head_down[solution.row("stack"), 0]), "Pa")
    cap = float(solution.pressure_down[solution.row("stack"), 0]) / top.m
    room, foot = Q_(float(solution.room_gauge[0, 0]), "Pa"), Q_(float(solution.head_up[first, 0]), "Pa")
    found = chapter.outlet_pressure(losses, drafts, top, cap - 1.0, foot, room)
    # The solver has also what gas gives back that cools and slows down: little, and always on the side of draft.
    assert -0.2 < solution.outlet_pressure[0, 0] - found.m_as("Pa") < 0.0


@pytest.mark.parametrize("system", SYSTEMS)
def test_tables_tell_what_the_solver_says(system):
    solution = chapter.in_state(chapter.two_boilers(), chapter.WINTER, "high", "high")
    shown = [show(Q_(float(p), "Pa"), system) for p in solution.outlet_pressure[:, 0]]
    assert all(text in chapter.both_at_high(system).data for text in shown)
    assert show(Q_(float(solution.loss[0, 0]), "Pa"), system) in chapter.sections_table(solution, system).data
    told = chapter.by_hand_table({"both": (Q_(-30.0, "Pa"), solution)}, system).data
    assert shown[0] in told and show(Q_(-30.0, "Pa"), system) in told
    row = (chapter.two_boilers().section("stack"), Q_(1.0, "kg/s"), Q_(400.0, "K"), Q_(390.0, "K"))
    walk = chapter.walk_table([(*row, Q_(60.0, "Pa"), Q_(4.0, "Pa"))], system).data
    assert show(Q_(60.0, "Pa"), system) in walk and "stack" in walk


def test_the_second_boiler_is_off_at_first_and_firing_it_weakens_the_first():
    panel = chapter.two_explorer()
    control = panel.controls["does Boiler 2"]
    assert control.value == "off" and is_a_drawing(panel.picture.value)
    before = panel.numbers.value
    control.value = "high"
    assert panel.numbers.value != before and "-0.127 in. w.c." in panel.numbers.value


# --- Live controls ---


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", JOBS)
def test_explorer_at_both_ends_of_every_control(name, system):
    chosen = JOBS[name]
    for moved, control in chapter.controls(system, chosen.plant, chosen.seasons).items():
        values = [o[1] if isinstance(o, tuple) else o for o in control.options]
        for value in {values[0], values[-1]}:
            numbers, picture, *_ = answer(chosen, system, **{moved: value})
            told = (name, moved, value)
            assert "did not converge" not in numbers, told
            assert all(a.name in numbers for a in chosen.plant.appliances), told
            assert is_a_drawing(picture), told


@pytest.mark.parametrize("system", SYSTEMS)
def test_explorer_shows_what_the_solver_says(system):
    # At the job's own first season nothing is interpolated.
    codes = np.array([[3], [3], [3]])
    solution = solve(HALL.plant, HALL.seasons, States(codes, np.array([0]), np.array([False]), np.array([False])))
    numbers, *_ = answer(HALL, system)
    for pressure in solution.outlet_pressure[:, 0]:
        assert show(Q_(pressure, "Pa"), system) in numbers


def test_flue_gas_through_an_idle_boiler_is_shouted():
    worst = {"outdoor": 304.26, "cold": True, "does Boiler 1": "off", "does Boiler 2": "purge"}
    assert "FLUE GAS ENTERS THE ROOM" in answer(HALL, **worst)[0]


def test_off_and_purging_alone_is_no_flue_gas():
    doing = {"does Boiler 1": "off", "does Boiler 2": "purge", "does Boiler 3": "purge"}
    numbers, *_ = answer(HALL, outdoor=304.26, **doing)
    assert "FLUE GAS" not in numbers and "idle: its window does not count" in numbers


def test_moving_a_slider_changes_numbers_and_picture():
    panel = chapter.explorer("US", HALL.plant, HALL.seasons)
    numbers, picture = panel.numbers.value, panel.picture.value
    panel.controls["height"].index += 3
    assert panel.numbers.value != numbers and panel.picture.value != picture


def test_a_vent_that_cannot_be_built_is_refused_in_words():
    panel = chapter.explorer("US", row_plant(2), SEASONS)
    values = {name: control.value for name, control in panel.controls.items()}
    numbers, picture = panels.said(panel.answer, values | {"diameter": 100.0})
    assert numbers.startswith("<p><b>This cannot be built or solved:</b> section") and "20 mm to 10 m" in numbers
    assert picture == panels.no_picture()


@pytest.mark.slow
def test_a_move_is_answered_at_once():
    panel = chapter.explorer("US", HALL.plant, HALL.seasons)
    control, took = panel.controls["outdoor"], []
    for _move in range(20):
        began = time.process_time()
        control.index = (control.index + 1) % len(control.options)
        took.append(time.process_time() - began)
    assert median(took) < SLOWEST


# --- The vent, varied ---


def test_as_drawn_is_as_drawn():
    for chosen in JOBS.values():
        assert chapter.varied(chosen.plant).heights == chosen.plant.heights


@pytest.mark.parametrize("factor", [0.5, 1.5])
def test_a_higher_stack_changes_length_and_rise_alike(factor):
    changed = chapter.varied(HALL.plant, height=factor)
    for before, after in zip(HALL.plant.sections, changed.sections, strict=True):
        own = factor if before.name == "stack" else 1.0
        assert after.length.m_as("ft") == pytest.approx(own * before.length.m_as("ft"))
        assert after.rise.m_as("ft") == pytest.approx(own * before.rise.m_as("ft"))


def test_stack_and_header_are_found():
    assert chapter.stack_sections(HALL.plant) == {"stack"}
    assert chapter.shared_sections(HALL.plant) == {"header 1", "header 2", "header 3", "offset", "stack"}
    # In the lodge the shaft inside the building is stack as well.
    assert chapter.stack_sections(JOBS["lodge"].plant) == {"shaft", "above roof"}


def test_width_leaves_the_connectors_alone():
    changed = chapter.varied(HALL.plant, diameter=1.25)
    assert changed.section("stack").diameter.m_as("inch") == pytest.approx(20)
    assert changed.section("connector 1").diameter.m_as("inch") == pytest.approx(8)


def test_other_junctions():
    changed = chapter.varied(HALL.plant, junction="lateral")
    assert [s.junction for s in changed.sections if s.junction] == ["lateral"] * 3


def test_more_draft_and_less_loss_lower_the_pressure():
    plant, states = row_plant(2), States(np.full((2, 1), 2), np.zeros(1, int), np.zeros(1, bool), np.zeros(1, bool))

    def outlet(**changes):
        return float(solve(chapter.varied(plant, **changes), SEASONS, states).outlet_pressure[0, 0])

    drawn = outlet()
    assert outlet(height=1.5) < drawn < outlet(height=0.5)
    assert outlet(diameter=1.5) < drawn < outlet(diameter=0.8)
    assert outlet(junction="lateral") < outlet(junction="straight tee")


# --- The weather between the seasons ---


def test_weather_is_a_season_at_its_own_temperature():
    for season in HALL.seasons:
        found = chapter.weather(HALL.seasons, season.outdoor)
        assert found.room.m_as("K") == pytest.approx(season.room.m_as("K"))
        assert found.relative_humidity == pytest.approx(season.relative_humidity)


def test_weather_lies_between_and_stays_beyond():
    between = chapter.weather(HALL.seasons, Q_(69, "degF"))  # half way from 50 to 88 degF: room from 72 to 86 degF
    assert between.room.m_as("degF") == pytest.approx(79)
    assert chapter.weather(HALL.seasons, Q_(-40, "degF")).room.m_as("degF") == pytest.approx(68)
    assert between.wind.m_as("mph") == pytest.approx(15)  # the strongest of the job


def test_weather_has_the_places_of_the_job():
    hospital = job_file.load(sample_studies.ALL_JOBS["hospital"])
    (shaft,) = chapter.weather(hospital.seasons, Q_(71, "degF")).places  # half way from 50 to 92 degF
    assert shaft.name == "shaft" and shaft.temperature.m_as("degF") == pytest.approx((78 + 88) / 2)


# --- The picture, and what the chapter stands on ---


@pytest.mark.parametrize(("system", "unit"), [("US", "in. w.c."), ("SI", "Pa")])
def test_picture_names_its_unit_and_every_outlet(system, unit):
    outlets = [
        chapter.Outlet("Boiler 1", "high", -30.0, -10.0, (-60.0, -7.0), True, 0.0),
        chapter.Outlet("Boiler 2", "off", 4.0, 4.0, (-60.0, -7.0), False, 0.0),
    ]
    (axes,) = chapter.outlets_drawing(outlets, system).axes
    assert unit in axes.get_xlabel()
    assert [t.get_text() for t in axes.get_yticklabels()] == ["Boiler 1", "Boiler 2"]


def test_every_check_agrees_or_says_why():
    checks = chapter.checks()
    assert unexplained(checks) == []
    assert [c.id for c in checks if not c.agrees] == []
    assert {c.id[0] for c in checks} == {"L", "D"}
