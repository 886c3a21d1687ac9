"""The chapter on appliance categories: questions worked again, controls at their ends, checks and figures."""

import cantera
import numpy as np
import pytest

from ventcalc import tables
from ventcalc.checked import unexplained
from ventcalc.flow import materials
from ventcalc.gas.appliance import CATEGORIES, classify
from ventcalc.handbook import appliance_category as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

# --- Questions, worked again by other means ---


def dry_enough():
    # Methane stands for natural gas: CH4 + 2 O2 in 9.547 mol of air, 30 % excess; Magnus' formula for the dew point.
    water = 2.0 / (1.0 + 1.3 * 9.547)
    log = np.log(water * 1013.25 / 6.112)
    dew = 243.12 * log / (17.62 - log)  # degC
    return Q_(dew * 1.8 + 32.0 + 140.0, "degF")


def loss_of_methane(excess, flue, room):
    # Enthalpies of methane products: Cantera, GRI-Mech 3.0. HHV 890.6 kJ/mol, 44.0 kJ/mol of water: any table.
    gas = cantera.Solution("gri30.yaml")
    air = (1.0 + excess) * 2.0 / 0.2095
    products = {"CO2": 1.0, "H2O": 2.0, "O2": excess * 2.0, "N2": air - (1.0 + excess) * 2.0}

    def enthalpy(parts, kelvin):
        gas.TPX = kelvin, 101325.0, parts
        return sum(parts.values()) * gas.enthalpy_mole / 1e6  # kJ per mol of fuel

    warmth = enthalpy(products, Q_(flue, "degF").m_as("K")) - enthalpy(products, Q_(room, "degF").m_as("K"))
    return (warmth + 2.0 * 44.0) / 890.6


def loss():
    return Q_(loss_of_methane(0.3, 400.0, 70.0), "")


def return_water():
    return Q_(140.0 - 20.0, "degF")


WORKED = (lambda: Q_(3.0, ""), dry_enough, loss, return_water)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("number", range(len(WORKED)))
def test_question_worked_again(system, number):
    question = chapter.questions(system)[number]
    assert mark(question, WORKED[number]()).kind == "right"
    assert mark(question, question.expected).kind == "right"
    assert mark(question, 1.3 * question.expected.to_base_units()).kind == "wrong"


def test_the_loss_of_the_question_is_above_the_threshold_as_its_solution_says():
    assert chapter.questions()[2].expected.m_as("percent") > 17.0


# --- Live controls ---


def ends(panel):
    start = {name: control.value for name, control in panel.controls.items()}
    for name, control in panel.controls.items():
        values = [v[1] if isinstance(v, tuple) else v for v in control.options]
        for value in values if name in ("name", "pipe") else (values[0], values[-1]):
            yield start | {name: value}


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_controls_answer_at_their_ends(system):
    panel = chapter.explorer(system)
    for settings in ends(panel):
        numbers, picture = panel.answer(**settings)
        told = [*CATEGORIES] if settings["name"] != "no. 2 oil" else ["none"]
        assert "Kinds that may serve" in numbers and any(f">{c}</td>" in numbers for c in told)
        assert picture.startswith(b"\x89PNG")


def test_controls_together_at_their_far_ends():
    panel = chapter.explorer()
    for pick in (0, -1):
        values = {name: control.options[pick] for name, control in panel.controls.items()}
        values = {name: v[1] if isinstance(v, tuple) else v for name, v in values.items()}
        assert "Dew point" in panel.answer(**values)[0]


def test_cold_gas_under_pressure_in_plain_plastic():
    case = {"pressure": 50.0, "flue": 320.0, "excess_air": 0.3, "name": "natural gas"}
    numbers, _ = chapter.explorer_answer("US", **case, pipe="PVC pipe")
    assert numbers.count(">IV</td>") == 2 and "not a listed vent by itself" in numbers


# --- What the text says ---


def test_cases_cover_the_four_categories_and_one_quarrel():
    assert {c.by_margin.name for c in chapter.CASES} == set(CATEGORIES)
    differing = [c.name for c in chapter.CASES if c.by_margin is not c.by_loss]
    assert differing == ["boiler of 84 % efficiency"]
    assert 100.0 - chapter.CASES[-1].loss.m_as("percent") == pytest.approx(84.0, abs=0.5)


@pytest.mark.slow
def test_suitable_pipe_has_no_objection_but_the_plastic_one():
    for case in chapter.CASES:
        for name in materials.names():
            said = chapter.against(case, name)
            assert (name in chapter.suitable(case)) == all(o.code == "material_unlisted" for o in said)
            assert len(chapter.objections(case, name)) == len(said)


def test_oil_in_a_vent_for_gas():
    case = {"pressure": -5.0, "flue": 450.0, "excess_air": 0.3, "name": "no. 2 oil"}
    numbers, _ = chapter.explorer_answer("US", **case, pipe="Type B gas vent")
    assert "listed for the flue gas of gas, not of oil" in numbers


def test_an_oil_burner_has_no_category_and_may_use_type_l():
    # Categories are defined for gas (IFGC). 17 % of loss says nothing of oil, whose water
    # carries away some 6 % of the heat (HHV) and not 10 %.
    oil = chapter.Case("", Q_(-5.0, "Pa"), Q_(0.0, "degF"), 0.3, "no. 2 oil")
    flue = Q_(oil.dew_point.m_as("K") + Q_(249.0, "delta_degF").m_as("delta_degC"), "K")
    oil = chapter.Case("", Q_(-5.0, "Pa"), flue, 0.3, "no. 2 oil")
    assert oil.loss.m_as("percent") < 17.0 and oil.by_loss is oil.by_margin is chapter.taken_as(oil) is None
    assert not oil.wets and chapter.against(oil, "Type L vent") == ()
    numbers, _ = chapter.explorer_answer(
        "US", pressure=-5.0, flue=float(flue.m_as("K")), excess_air=0.3, name="no. 2 oil", pipe="Type L vent"
    )
    assert "an oil burner has none" in numbers and "nothing here rules it out" in numbers
    pushing = chapter.Case("", Q_(20.0, "Pa"), flue, 0.3, "no. 2 oil")
    assert [o.code for o in chapter.against(pushing, "Type L vent")] == ["material_pressure"]
    cool = chapter.Case("", Q_(-5.0, "Pa"), Q_(200.0, "degF"), 0.3, "no. 2 oil")
    assert [o.code for o in chapter.against(cool, "Type L vent")] == ["material_wet"]


def test_a_condensing_boiler_under_draft_keeps_the_category_of_its_plate():
    under_draft = chapter.CASES[2]
    assert under_draft.by_margin.name == under_draft.by_loss.name == "II"
    assert chapter.taken_as(under_draft).name == under_draft.plate == "IV"
    assert [c.plate for c in chapter.CASES if chapter.taken_as(c).name != c.plate] == []
    # Only where the plate and the rules differ is the plate news.
    assert [c.name for c in chapter.CASES if c.plate not in (c.by_loss.name, c.by_margin.name)] == [under_draft.name]


def test_the_callers_boiler_lies_between_the_two_lines():
    boiler = chapter.CASES[-1]
    margin = boiler.margin.m_as("delta_degF")
    assert 140.0 < margin < chapter._loss_line(boiler, "delta_degF")
    assert chapter.taken_as(boiler).name == "IV" and boiler.wets


def test_plain_plastic_serves_only_condensing_boilers():
    for case in chapter.CASES:
        assert ("PVC pipe" in chapter.suitable(case)) == case.name.startswith("condensing boiler")


def test_limits_meet_their_own_rules():
    excess = np.array([0.1, 0.3, 0.8])
    dew, by_margin, by_loss = chapter.limits(excess)
    assert np.all(np.diff(dew) < 0) and np.all(np.diff(by_loss) < 0)
    for e, margin, loss_limit in zip(excess, by_margin, by_loss, strict=True):
        edge = chapter.Case("", Q_(0.0, "Pa"), Q_(margin, "K"), e)
        assert edge.margin.m_as("delta_degF") == pytest.approx(140.0)
        assert chapter.Case("", Q_(0.0, "Pa"), Q_(loss_limit, "K"), e).loss.m_as("percent") == pytest.approx(17.0)


# --- Checks and figures ---


def test_checks_agree():
    found = chapter.checks()
    # K007 is recalled from memory: data, no evidence.
    assert {c.id for c in found} == {"K005", "K006", "K008", "K009", "K010", "K011"}
    assert unexplained(found) == [] and all(c.agrees for c in found)


def test_definitions_agree_with_what_classify_says():
    # IFGC definitions, K001 to K004 of data/gas/categories_checks.csv; 10 % of flue loss condenses, 25 % does not.
    rows = [row for row in tables.read("categories_checks") if row["quantity"] == "definition"]
    assert [row["item"] for row in rows] == [f"Category {name}" for name in CATEGORIES]
    for row in rows:
        pressure = Q_(1.0 if row["static_pressure"] == "positive" else -1.0, "Pa")
        loss = Q_(10.0 if row["condensing"] == "yes" else 25.0, "percent")
        assert row["item"] == f"Category {classify(pressure, flue_loss=loss).name}"


def test_every_rule_is_shown():
    subjects = {row["subject"] for row in tables.read("category_rules")}
    shown = "".join(chapter.rules_table(s) for s in subjects)
    assert all(row["id"] in shown for row in tables.read("category_rules"))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("draw", [chapter.fields, chapter.two_rules])
def test_figures_have_labels_with_units(system, draw):
    for axes in draw(system).axes:
        for label in (axes.xaxis.label, axes.yaxis.label):
            assert ", " in label.get_text() and label.get_size() >= 10


# --- Tables, prediction, and what the reader writes ---


@pytest.mark.parametrize(("system", "unit"), [("US", "°F"), ("SI", "°C")])
def test_tables_follow_the_units(system, unit):
    for table in (chapter.all_cases, chapter.all_pipes, chapter.plastic):
        assert unit in table(system).data
    assert chapter.pipes_of_cases(system).data.count("<tr>") == 1 + len(chapter.CASES)
    assert chapter.sharing(system).data.count("<tr>") == 1 + len(chapter.PAIRS)
    assert ("in. w.c." if system == "US" else "Pa") in chapter.sharing(system).data


def test_two_condensing_boilers_may_share_a_vent_under_draft_only():
    told = chapter.sharing().data.split("<tr>")
    assert "none by category alone" in told[5] and "none by category alone" not in told[6]


def test_lines_that_the_text_names_at_30_percent_excess_air():
    _, by_margin, by_loss = (Q_(float(t[0]), "K").m_as("degF") for t in chapter.limits(np.array([0.3])))
    assert (round(by_margin), round(by_loss)) == (269, 351)
    assert loss_of_methane(0.3, by_loss, 70.0) == pytest.approx(0.17, abs=2e-3)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    # 2 mol of water of 44.0 kJ in 890.6 kJ of methane: 9.9 % latent, and 17 less that is warmth.
    found = chapter.warmth_on_the_line(0.2)
    assert found["figure"].m_as("percent") == pytest.approx(17.0 - 100.0 * 88.0 / 890.6, abs=0.15)
    assert loss_of_methane(0.2, found["at"].m_as("degF"), 70.0) == pytest.approx(0.17, abs=2e-3)
    assert found["right"] == 2 and "Less than half" in chapter.prediction(system).choices[2]


def in_fahrenheit(flue, room, excess_air):
    return 9.8 + 0.0205 * (1.0 + 0.00855 * excess_air) * (flue - room)


def in_celsius(flue, room, excess_air):
    return 9.8 + 0.0369 * (1.0 + 0.00855 * excess_air) * (flue - room)


@pytest.mark.parametrize(("system", "function"), [("US", in_fahrenheit), ("SI", in_celsius)])
def test_what_is_written_is_right_by_other_means(system, function):
    task = chapter.writing(system)
    assert {tried(task, case, function).kind for case in task.cases} == {"right"}
    for case in task.cases:
        flue, room, excess = case.given
        to_fahrenheit = (lambda t: t) if system == "US" else (lambda t: 1.8 * t + 32.0)
        methane = 100.0 * loss_of_methane(excess / 100.0, to_fahrenheit(flue), to_fahrenheit(room))
        assert case.expected == pytest.approx(methane, rel=0.015)  # methane holds a little more hydrogen
    slips = {
        "no_latent": lambda f, r, e: function(f, r, e) - 9.8,
        "no_room": lambda f, r, e: function(f, 0.0, e),
        "no_excess": lambda f, r, e: function(f, r, 0.0),
        "percent_as_ratio": lambda f, r, e: function(f, r, 100.0 * e),
    }
    for slip, wrong in slips.items():
        assert task.slips[slip] in {tried(task, case, wrong).words for case in task.cases}
