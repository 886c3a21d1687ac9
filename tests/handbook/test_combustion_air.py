"""The chapter on combustion air: what its questions, checks, figures and live controls say."""

import re

import numpy as np
import pytest

from ventcalc.building import combustion_air_verdicts, depressurization, makeup_air, room_pressure
from ventcalc.checked import unexplained
from ventcalc.gas import combustion
from ventcalc.handbook import combustion_air as chapter
from ventcalc.handbook import combustion_air_checks, room_curves
from ventcalc.show.axes import one_axes
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS, parse, show, unit_text
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

START = {name: control.value for name, control in chapter.controls("SI").items()} | {
    "exhaust": chapter.KITCHEN.flow.m_as("m**3/s")
}


# --- Questions, worked again by other means -------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_answers_by_hand(system):
    louver, altitude, hood, tight = (q.expected for q in chapter.questions(system))
    # 1,200,000 Btu/h over 2000 Btu/h per in2, over 0.75.
    assert louver.m_as("inch**2") == pytest.approx(800.0)
    # Pressure by the handbook's form 14.696 (1 - 6.8754e-6 z)^5.2559 psia; sea-level air by mass: 0.722 lb per 1000 Btu
    # (theoretical), half as much again, at 0.0763 lb/ft3.
    z = 8000.0 if system == "US" else 2400.0 / 0.3048
    sea = 800.0 * 0.722 * 1.5 / 60.0 / 0.0763
    assert altitude.m_as("cfm") == pytest.approx(sea / (1.0 - 6.8754e-6 * z) ** 5.2559, rel=0.01)
    # 2000 cfm through 300 in2: 0.9439 m3/s over 0.6 x 0.19355 m2 is 8.128 m/s; 0.083 lb/ft3 is 1.3295 kg/m3.
    assert hood.m_as("Pa") == pytest.approx(-0.5 * 1.3295 * 8.128**2, rel=1e-3)
    assert tight.m_as("Pa") == pytest.approx(-50.0 * np.exp(np.log(1.0 / 3.0) / 0.65), rel=1e-9)


def test_slips_are_told_apart():
    louver, altitude, hood, tight = chapter.questions("US")
    assert "take a quarter" in mark(louver, Q_(600.0, "inch**2")).sentence
    assert "thinner" in mark(altitude, altitude.slips[0].answer).sentence
    assert "below outdoors" in mark(hood, -hood.expected).sentence
    assert "square law" in mark(tight, Q_(-50.0 / 9.0, "Pa")).sentence


# --- Prediction, and what the reader writes --------------------------------------------------------------------


def test_the_prediction_worked_by_the_other_path():
    # The prediction takes the short way over curves; here the library's own path over all firing states.
    found, mild = chapter.which_ran_first(Q_(55, "degF"), Q_(1500, "cfm")), chapter.state_of(2, 1)
    lit, hooded = chapter.boilers_first(), chapter.solved(1.0)
    assert found["figure"].m_as("kg/s") == pytest.approx(lit.solution.drawn[:, mild].sum(), rel=0.01)
    assert found["turned"].m_as("kg/s") == pytest.approx(-hooded.solution.drawn[:, mild].sum(), rel=0.01)
    assert found["held"].m_as("Pa") == pytest.approx(lit.pressure[mild], abs=0.02)
    assert found["after"].m_as("Pa") == pytest.approx(hooded.pressure[mild], abs=0.02)
    # Read from those: lit first they draw, lit last they spill, and the room that spills is nearer to outdoors.
    assert found["right"] == 1 and found["after"] > found["held"]
    assert "after a pause" in chapter.prediction("US").choices[1]


@pytest.mark.parametrize(
    ("outdoor", "exhaust", "right"), [("10 degF", 1500, 2), ("55 degF", 3000, 0), ("55 degF", 200, 2)]
)
def test_the_prediction_goes_with_weather_and_hood(outdoor, exhaust, right):
    assert chapter.which_ran_first(parse(outdoor), Q_(exhaust, "cfm"))["right"] == right


def in_us(flow, free, density):
    return density / 0.075 * (flow / (0.6 * free / 144.0) / 4005.0) ** 2


def in_si(flow, free, density):
    return 0.5 * density * (flow / (0.6 * free)) ** 2


@pytest.mark.parametrize(("system", "function", "standard"), [("US", in_us, 0.075), ("SI", in_si, 1.2014)])
def test_what_is_written_is_right_by_hand(system, function, standard):
    task = chapter.writing(system)
    assert {tried(task, case, function).kind for case in task.cases} == {"right"}
    for case in task.cases:
        assert tried(task, case, lambda q, a, r: function(q, a / 0.6, r)).words == task.slips["whole_area"]
        assert tried(task, case, lambda q, a, r: 0.6 * function(q, a, r)).words == task.slips["after_squaring"]
        assert tried(task, case, lambda q, a, r: function(q, a, standard)).words == task.slips["standard_air"]


# --- Checks -----------------------------------------------------------------------------------------------------


def test_checks_agree_or_say_why():
    checks = combustion_air_checks.checks()
    assert unexplained(checks) == []
    assert all(c.agrees for c in checks) and len(checks) == 85
    assert [c.id for c in checks if c.status.startswith("from memory")] == ["A055"]


# --- What the chapter says -------------------------------------------------------------------------------------


def test_louvers_pass_the_rule_and_the_room_spills():
    rules = {v.rule: v.verdict for v in combustion_air_verdicts.judge(chapter.plant(), chapter.room())}
    assert rules["all air from outdoors, one opening high and one low"] == "pass"
    without, with_hood = chapter.solved(0.0), chapter.solved(1.0)
    assert without.balanced.all() and with_hood.balanced.all()
    found = depressurization.effects(chapter.states(), without, with_hood)
    assert all(e.verdict == "fail" and e.spill > 0.1 and e.flue_gas_without == 0.0 for e in found)
    # A hood that is turned over lets out all its burner makes: flue gas per heat (stoichiometry) times its input.
    for boiler, effect in zip(chapter.plant().appliances, found, strict=True):
        level = boiler.levels[0]
        own = float(level.heat_input.m_as("W")) * float(
            combustion.products(boiler.fuel, level.excess_air).mass_per_heat
        )
        assert effect.flue_gas == pytest.approx(own, rel=0.02) and effect.flue_gas < effect.spill
    # All on mild days, with the stack cold and hot alike; never in winter.
    bad = (with_hood.solution.drawn < 0.0).any(axis=0) & chapter.states().any_firing
    assert bad.sum() == 6 and set(chapter.states().states.season[bad]) == {1}


def test_order_decides_on_a_mild_day_only():
    mild, winter = chapter.state_of(2, 1), chapter.state_of(2, 0)
    first, last = chapter.boilers_first(), chapter.solved(1.0)
    assert (first.solution.drawn[:, mild] > 0.0).all() and (last.solution.drawn[:, mild] < 0.0).all()
    assert first.pressure[winter] == pytest.approx(last.pressure[winter], abs=1e-2)


@pytest.mark.parametrize("cured", ["opening", "supply"])
def test_cure_of_the_chapter(cured):
    remedy = makeup_air.cure(chapter.states(), chapter.solved(1.0))
    more = chapter.more_opening(remedy.area) if cured == "opening" else chapter.with_supply(remedy.supply)
    found = room_pressure.from_idle(chapter.plant(), chapter.SEASONS, chapter.states().states, more)
    assert not ((found.solution.drawn < 0.0).any(axis=0) & chapter.states().any_firing).any()


def test_balance_table_closes():
    found, state = chapter.solved(1.0), chapter.state_of(2, 0)
    rows = re.findall(r"<td[^>]*>([^<]*)</td>", chapter.balance_table(found, state, "SI"))
    cells = [rows[i : i + 3] for i in range(0, len(rows), 3)]
    into = sum(float(c[1]) for c in cells[:-1] if c[1])
    out = sum(float(c[2]) for c in cells[:-1] if c[2])
    assert into == pytest.approx(out, abs=5e-4) and cells[-1][0] == "sum"


# --- Live controls --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("order", ["hood", "boilers"])
@pytest.mark.parametrize("outdoor", [262.0, 285.0, 296.0])
def test_explorer_stands_where_the_library_says(order, outdoor):
    # Its short way over curves against the library's own path.
    season = (Season("now", Q_(outdoor, "K"), chapter.WINTER.room),)
    own, one = chapter.room(), States(np.ones((2, 1)), np.array([0]), np.array([0.0]), np.array([False]))
    lines = room_curves.curves(chapter.plant(), season[0], own, 2)
    short = room_curves.stands(lines, chapter.plant(), season, own, 2, order)
    whole = (room_pressure.from_idle if order == "hood" else room_pressure.coupled)(chapter.plant(), season, one, own)
    assert short.balanced.all() and whole.balanced.all()
    assert short.pressure == pytest.approx(whole.pressure, abs=1e-2)


@pytest.mark.slow
def test_explorer_says_what_happens():
    spilling, _ = chapter.explorer_answer("US", **START | {"outdoor": 285.0})
    assert "FLUE GAS ENTERS THE ROOM" in spilling and "pass" in spilling and "spills" in spilling
    drawing, _ = chapter.explorer_answer("US", **START | {"outdoor": 285.0, "order": "boilers"})
    assert "Both hoods draw" in drawing
    tight, _ = chapter.explorer_answer("US", **START | {"free": 0.0, "changes": 0.5})
    assert "nothing balances" in tight or "No opening" in tight
    idle, _ = chapter.explorer_answer("US", **START | {"outdoor": 285.0, "firing": 0})
    assert "Cold air comes down the vent" in idle


# --- Figures ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
def test_axes_are_labeled_and_can_be_read(system):
    season = chapter.MILD
    lines = room_curves.curves(chapter.plant(), season, chapter.room(), 2)
    chart, chart_axes = one_axes()
    room_curves.draw_fan(chart_axes, lines, -8.0, 0.7, -3.0, system)
    charts = {
        chapter.altitude_chart(system): {"US": "cfm per MBH", "SI": "L/s per kW"}[system],
        chart: unit_text({"US": "inH2O", "SI": "Pa"}[system]),
    }
    for figure, unit in charts.items():
        (axes,) = figure.axes
        assert unit in axes.get_ylabel() and axes.get_xlabel()
        assert all(t.get_size() >= 10 for t in (*axes.get_xticklabels(), *axes.get_yticklabels()))


@pytest.mark.parametrize("system", SYSTEMS)
def test_drawing_shows_the_flows(system):
    found, state = chapter.solved(1.0), chapter.state_of(2, 1)
    words = " ".join(t.get_text() for t in chapter.room_drawing(system, found, state).axes[0].texts)
    for flow in (*found.openings[:, state], found.exhausts[0, state], *found.solution.drawn[:, state]):
        assert show(Q_(abs(flow), "kg/s"), system) in words
    assert "down the vent" in words  # on a mild day, the hood first
    assert "Boiler 1" in " ".join(t.get_text() for t in chapter.room_drawing(system).axes[0].texts)


def test_the_kitchens_hood_hangs_in_the_kitchen_behind_the_transfer():
    axes = chapter.room_drawing("US").axes[0]
    at = {t.get_text(): t.get_position() for t in axes.texts}
    rooms = sorted((p.get_x(), p.get_x() + p.get_width()) for p in axes.patches if getattr(p, "get_height", int)() == 5)
    (room, wall), (also, end) = rooms
    assert wall == also and room < at["Boiler 1"][0] < at["transfer"][0] < wall < at["hood"][0] < end
