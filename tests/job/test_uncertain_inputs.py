"""Uncertain inputs: the table against what it says it comes from, the distributions against scipy, who has which."""

from dataclasses import replace

import numpy as np
import pytest
from sample_chances import drawn_outcome, job_named, offered_outcome
from scipy import stats

from ventcalc import tables
from ventcalc.job.uncertain_inputs import BY_JOB, DISTRIBUTIONS, Input, inputs, table

KINDS = table()
POINTS = (np.arange(20_000) + 0.5) / 20_000


def test_every_row_says_where_its_figure_comes_from_and_none_is_called_published():
    """No row was read in a printed source: none may say so."""
    for row in tables.read("uncertain_inputs"):
        assert row["status"].startswith(("from memory", "common practice", "computed", "mixed")), row
        assert row["distribution"] in DISTRIBUTIONS and row["source"]
        assert row["spread"] == BY_JOB or float(row["spread"]) > 0.0
        if row["status"].startswith("common practice"):
            assert "no source" in row["source"] + row["status"]


def test_spread_of_fittings_is_that_of_the_authors():
    """Pooled over the cases of data/flow/fittings_authors.csv: deviations of the logarithm from each case's mean."""
    cases = {}
    for r in tables.read("fittings_authors"):
        cases.setdefault((r["case"], r["angle_deg"], r["radius_ratio"]), []).append(np.log(float(r["value"])))
    squares = sum(((np.array(v) - np.mean(v)) ** 2).sum() for v in cases.values())
    free = sum(len(v) - 1 for v in cases.values())
    assert KINDS["fitting"].spread == pytest.approx(np.sqrt(squares / free), abs=0.005)


@pytest.mark.parametrize(
    ("name", "spread", "like"),
    [
        ("share", 0.1, stats.norm(1.0, 0.1)),
        ("factor", 0.4, stats.lognorm(0.4)),
        ("normal", 3.0, stats.norm(0.0, 3.0)),
        ("uniform", 2.0, stats.uniform(-2.0, 4.0)),
        ("between", 1.5, stats.uniform(0.0, 1.5)),
    ],
)
def test_distributions_are_those_of_scipy(name, spread, like):
    found = DISTRIBUTIONS[name](POINTS, spread)
    assert found == pytest.approx(like.ppf(POINTS))
    assert (found.mean(), found.std()) == pytest.approx((like.mean(), like.std()), rel=0.01, abs=1e-6)


def test_a_choice_is_as_often_each():
    assert np.bincount(DISTRIBUTIONS["choice"](POINTS, 3.0).astype(int)) == pytest.approx(20_000 / 3, abs=1)
    assert DISTRIBUTIONS["choice"](np.array([1.0]), 3.0) == 2.0


def test_units_are_read():
    assert KINDS["oxygen"].spread == pytest.approx(0.005)
    assert KINDS["flue_temperature"].spread == pytest.approx(8.0)
    assert np.isnan(KINDS["sensor"].spread)


def test_a_vent_without_controls_has_none_of_theirs():
    job, outcome = drawn_outcome("lodge")
    found = {i.kind.key for i in inputs(job, outcome)}
    assert not found & {"sensor", "actuator", "fan", "tube", "set_point", "hood", "room_leakage"}
    assert {"friction", "junction_formula", "leak", "terminal_wind", "building_wind"} <= found


@pytest.mark.slow
def test_a_held_vent_has_its_sensor_by_its_span():
    job, outcome = offered_outcome("swim_hall")
    found = {i.kind.key: i for i in inputs(job, outcome)}
    assert found["sensor"].spread == outcome.sensors[0] > 0.0
    assert {"fan", "actuator", "set_point"} <= set(found)


def test_one_formula_serves_all_tees_and_each_junction_errs_by_itself():
    found = inputs(*drawn_outcome("swim_hall"))
    assert sum(i.kind.key == "junction_formula" for i in found) == 1
    assert sum(i.kind.key == "junction" for i in found) == 3


def test_fittings_in_one_section_make_up_for_one_another():
    """Independent errors of n equal parts: the whole errs by 1 / root n of one (theory of errors)."""
    job, outcome = drawn_outcome("laundry")
    plant = job.plant
    name = plant.order[0].name
    four = replace(plant, sections=tuple(
        replace(s, fittings=("elbow 90",) * 4, diameter=plant.appliances[0].outlet_diameter) if s.name == name else s
        for s in plant.sections
    ))  # fmt: skip
    outcome = replace(outcome, remedy=replace(outcome.remedy, plant=four))
    own = next(i for i in inputs(job, outcome) if (i.kind.key, i.subject) == ("fitting", name))
    whole = KINDS["fitting"].spread
    assert whole / 2.0 <= own.spread < 0.6 * whole


def test_names_tell_the_subject():
    assert Input(KINDS["oxygen"], "Boiler 1", 0.005).name == "oxygen in the flue gas of Boiler 1"
    assert job_named("lodge").name
