"""Chance findings: what is not likely enough loses its tick everywhere; what fails already is not told twice.

The limits are settings of the library (common practice, no source); Wilson's score interval (1927), by scipy.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_chances import job_named
from scipy.stats import binomtest

from ventcalc.job import findings, study
from ventcalc.job.chance import Outlet, Share
from ventcalc.job.chance_findings import MOST_FAULT, MOST_PEOPLE, chances
from ventcalc.job.remedy import AS_DRAWN
from ventcalc.show import results
from ventcalc.units import Q_

DRAWS = 512  # 0 of 256 may still be 1.5 %


def sure_of(window, gas, draws=1024, lost=0):
    """A chance with one outlet, as `chances` reads it."""
    outlet = Outlet("Boiler", Share(window, draws), Share(gas, draws), np.zeros(7))
    pinned = SimpleNamespace(input=SimpleNamespace(name="the cap"))
    return SimpleNamespace(
        draws=draws, window=Share(window, draws), flue_gas=Share(gas, draws), unsolved=Share(lost, draws),
        outlets=(outlet,), first=(pinned,),
    )  # fmt: skip


def told(*share, **more):
    return list(chances(SimpleNamespace(sure=sure_of(*share, **more))))


@pytest.mark.parametrize("draws", [64, 256, 1024, 16384])
def test_counts_on_either_side_of_a_limit(draws):
    """The count at which the upper end of scipy's interval reaches the limit."""
    for most, code, at in ((MOST_FAULT, "chance_window", 0), (MOST_PEOPLE, "chance_flue_gas", 1)):
        for failed in range(draws // 10):
            high = binomtest(failed, draws).proportion_ci(0.95, "wilson").high
            share = [0, 0]
            share[at] = failed
            assert (code in [f.code for f in told(*share, draws=draws)]) == (high >= most)


def test_weights_and_words():
    gas, window = told(400, 300, lost=5)
    window_alone, gas = sorted([gas, window], key=lambda f: f.weight)
    assert (gas.code, gas.weight) == ("chance_flue_gas", "people")
    assert (window_alone.code, window_alone.weight) == ("chance_window", "fault")
    assert gas.subjects == window_alone.subjects == ("Boiler",)
    said = findings.sentence(gas)
    assert "29.3% of 1,024" in said and "less than 1%" in said and "0.5% were not solved" in said and "the cap" in said
    few = findings.sentence(told(0, 0, draws=64)[1])
    assert "0.0% of 64" in few and "draw more" in few


@pytest.mark.parametrize("at", [0, 1])
def test_figures_are_those_of_the_interval(at):
    """Both ends by scipy; what is asked for is told to the whole percent, and is a whole percent."""
    (found,) = [
        f for f in told(*((300, 0) if at == 0 else (0, 300))) if f.code == ("chance_window", "chance_flue_gas")[at]
    ]
    ends = binomtest(300, 1024).proportion_ci(0.95, "wilson")
    assert (found.figures["low"], found.figures["high"]) == (pytest.approx(ends.low), pytest.approx(ends.high))
    most = found.figures["most"]
    assert f"less than {100 * most:g}%" in findings.sentence(found) and most == (MOST_FAULT, MOST_PEOPLE)[at]


def test_few_draws_are_to_blame_only_below_the_limit():
    """Exactly at it, more draws would not help: 5 of 100 are 5 %, 1 of 100 is 1 %."""
    for failed, few in (((5, 1), [False, False]), ((4, 0), [True, True])):
        found = {f.code: f.figures["few"] for f in told(*failed, draws=100)}
        assert [found["chance_window"], found["chance_flue_gas"]] == few


def test_whom_it_concerns_is_told_by_the_upper_end():
    """8 of 1,024 are below 1 %, and by scipy may be above; 45 are below 5 %, and may be above."""
    for failed, most in ((8, MOST_PEOPLE), (45, MOST_FAULT)):
        ends = binomtest(failed, 1024).proportion_ci(0.95, "wilson")
        assert ends.low < failed / 1024 < most < ends.high
    assert [f.subjects for f in told(45, 8)] == [("Boiler",), ("Boiler",)]


def test_where_it_was_not_asked_nothing_is_found():
    assert not list(chances(SimpleNamespace(sure=None)))


def laundry(margin):
    """The laundry's boiler, of any length of run, with so much [Pa] to the upper end of its window by mean figures."""
    job = job_named("laundry")
    high = study.study(job, compare=False).envelopes[0].high
    a = replace(job.plant.appliances[0], window=(Q_(-3000.0, "Pa"), Q_(high + margin, "Pa")), longest_run=None)
    return replace(job, plant=replace(job.plant, appliances=(a,)))


@pytest.mark.slow
def test_a_design_that_works_by_mean_figures_alone_has_no_tick():
    sure, unsure = laundry(400.0), laundry(30.0)
    held, left = study.study(sure, draws=DRAWS), study.study(unsure, draws=DRAWS)
    assert held.buildable and held.sure.window.high < MOST_FAULT
    assert not left.buildable and left.sure.window.high >= MOST_FAULT
    assert [f.code for f in left.judgement.against] == ["chance_window"]
    # One verdict everywhere.
    numbers = results.results(left)
    assert not numbers["verdict"]["buildable"] and numbers["verdict"]["faults"] == 1
    assert not next(o for o in left.outcomes if o.remedy.kind == AS_DRAWN).cured
    assert numbers["page_one"]["against"]


@pytest.mark.slow
def test_of_a_thin_margin_the_chance_decides():
    """So many margins stay thin by a quarter of the loss, and are likely enough to hold."""
    decided = set()
    for margin in (25.0, 55.0):
        job = laundry(margin)
        plain, asked = study.study(job, compare=False), study.study(job, compare=False, draws=1024)
        thin = "thin_margin" in [f.code for f in plain.judgement.against]
        assert "thin_margin" not in [f.code for f in asked.judgement.findings]
        assert asked.buildable == (asked.sure.window.high < MOST_FAULT and asked.sure.flue_gas.high < MOST_PEOPLE)
        decided.add((thin, asked.buildable))
    assert decided == {(True, False), (True, True)}


def test_what_fails_by_mean_figures_is_told_once_and_its_chance_beside_it():
    found = study.study(job_named("laundry"), compare=False, draws=64)
    assert not found.buildable and found.sure.window.chance == 1.0
    assert not {f.code for f in found.judgement.findings} & {"chance_window", "chance_flue_gas"}
    assert results.results(found)["chance"]["window"]["chance"] == 1.0
