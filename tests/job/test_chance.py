"""Chance: Wilson's interval against scipy, one outlet against the normal law, scrambles against each other."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_chances import drawn_outcome, job_named, outcome_of
from scipy.stats import binomtest, norm

from ventcalc.job import chance as chance_module
from ventcalc.job import chance_conditions, input_draws
from ventcalc.job.chance import QUANTILES, chance, wilson
from ventcalc.job.uncertain_inputs import inputs
from ventcalc.units import Q_
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE

_NORMAL = ("share", "factor", "normal")


@pytest.mark.parametrize(("failed", "draws"), [(0, 1024), (3, 64), (512, 1024), (1024, 1024)])
def test_interval_is_wilsons(failed, draws):
    """scipy.stats.binomtest, method wilson."""
    theirs = binomtest(failed, draws).proportion_ci(0.95, "wilson")
    assert wilson(failed, draws) == pytest.approx((theirs.low, theirs.high))


def with_margin(job, margin, high):
    """One outlet whose highest pressure ``high`` [Pa] leaves so much [Pa] to the upper edge of a wide window."""
    a = replace(job.plant.appliances[0], window=(Q_(high - 3000.0, "Pa"), Q_(high + margin, "Pa")))
    return replace(job, plant=replace(job.plant, appliances=(a,)))


@pytest.fixture(scope="module")
def alone():
    """The laundry, one boiler, in one calm season: job, its highest pressure, normal inputs, and the margin's spread.

    The inputs are small, so that the margin is straight in them; its standard deviation then is the root of the sum of
    the squares of the steps by one standard deviation of each input (theory of errors).
    """
    job = job_named("laundry")
    job = replace(job, seasons=(replace(job.seasons[0], wind=Q_(0.0, "m/s")),))
    outcome = outcome_of(job)
    high = float(np.nanmax(np.where(outcome.scan.running(0), outcome.scan.solution.outlet_pressure[0], np.nan)))
    job = with_margin(job, 0.0, high)
    outcome = outcome_of(job)
    own = [replace(i, spread=0.25 * i.spread) for i in inputs(job, outcome) if i.kind.distribution in _NORMAL]
    at = np.full((2 * len(own), len(own)), 0.5)
    for k in range(len(own)):
        at[2 * k, k], at[2 * k + 1, k] = norm.cdf(0.5), norm.cdf(-0.5)
    draws = input_draws.draws(compile_network(job.plant, job.seasons), (), own, at)
    every = np.arange(len(outcome.scan.states))
    column = int(chance_conditions.solve_draws(outcome, draws, every).gaps[0, 0].argmin())
    margin = chance_conditions.solve_draws(outcome, draws, np.array([column])).margin[0, :, 0]
    return job, high, own, float(np.sqrt(((margin[::2] - margin[1::2]) ** 2).sum()))


@pytest.mark.parametrize("times", [0.0, 1.0, -1.0])
def test_one_outlet_is_the_normal_law(alone, times):
    job, high, own, spread = alone
    job = with_margin(job, times * spread, high)
    found = chance(job, outcome_of(job), 1024, given=own)
    expected = norm.cdf(-times - READABLE / spread)
    assert abs(found.window.chance - expected) <= found.window.error
    assert found.unsolved.failed == 0
    assert found.margin == pytest.approx(spread * (times + norm.ppf(QUANTILES)), abs=0.12 * spread)


@pytest.mark.slow
def test_half_the_spread_changes_the_chance_as_the_normal_law_says(alone):
    """Outside by a standard deviation half the doubt makes it surer that the window is left, inside that it is not."""
    job, high, own, spread = alone
    half = [replace(i, spread=0.5 * i.spread) for i in own]
    for times in (-1.0, 1.0):
        there = with_margin(job, times * spread, high)
        whole, found = (chance(there, outcome_of(there), 1024, given=given).window for given in (own, half))
        expected = norm.cdf(-2.0 * times - 2.0 * READABLE / spread)
        assert abs(found.chance - expected) <= found.error
        assert (found.chance > whole.high) == (times < 0.0) and (found.chance < whole.low) == (times > 0.0)


def test_what_is_known_by_the_fit_is_what_is_known(alone):
    """Measured and found as reckoned: as if that input were not drawn at all."""
    job, high, own, spread = alone
    job = with_margin(job, 0.5 * spread, high)
    outcome = outcome_of(job)
    found = chance(job, outcome, 1024, given=own)
    assert found.fit.r2 > 0.98
    first = found.first[0]
    without = chance(job, outcome, 1024, given=[i for i in own if i != first.input])
    assert abs(first.known - without.window.chance) <= without.window.error
    assert first.known < found.window.chance
    assert min(first.found) < found.window.chance < max(first.found)
    assert [p.total for p in found.first] == sorted((p.total for p in found.first), reverse=True)


@pytest.mark.slow
def test_two_scrambles_agree_within_the_error_told_and_so_do_many_draws(alone):
    job, high, own, spread = alone
    job = with_margin(job, 0.8 * spread, high)
    outcome = outcome_of(job)
    one, two = (chance(job, outcome, 1024, seed, given=own).window for seed in (0, 1))
    many = chance(job, outcome, 16384, given=own).window
    assert abs(one.chance - two.chance) <= np.hypot(one.error, two.error)
    assert abs(one.chance - many.chance) <= one.error
    assert many.error < 0.3 * one.error


@pytest.mark.slow
def test_scrambles_and_many_draws_of_the_lodge_agree_within_the_error_told():
    """Flue gas in the lodge as drawn; 1,024 draws against 16,384 of it are in the benchmark."""
    job, outcome = drawn_outcome("lodge")
    one, two = (chance(job, outcome, 128, seed).flue_gas for seed in (0, 1))
    many = chance(job, outcome, 1024).flue_gas
    assert abs(one.chance - two.chance) <= np.hypot(one.error, two.error)
    assert abs(one.chance - many.chance) <= one.error and many.error < 0.5 * one.error
    assert 0 < many.failed < many.draws


def test_the_same_seed_gives_the_same_chance():
    job, outcome = drawn_outcome("laundry")
    assert chance(job, outcome, 64, 5).margin == pytest.approx(chance(job, outcome, 64, 5).margin, abs=0.0)


def test_progress_is_told_and_never_falls():
    heard = []
    chance(*drawn_outcome("laundry"), 64, told=lambda step, share: heard.append(share))
    assert heard == sorted(heard) and heard[0] == 0.0 and heard[-1] == pytest.approx(1.0)


@pytest.mark.slow
def test_page_one_tells_chance_and_error_and_what_it_rests_on():
    found = chance(*drawn_outcome("lodge"), 256)
    told = found.page_one
    assert f"{found.flue_gas.low:.1%} to {found.flue_gas.high:.1%}" in told.flue_gas
    assert len(told.first) == 3 and all("{" not in text for text in (*told.first, told.window, told.basis))
    assert str(found.draws) in told.basis and "Load changes" in told.basis


def test_page_one_says_where_the_proof_is_of_a_sample():
    found = chance(*drawn_outcome("laundry"), 64)
    few = replace(found, deciding=replace(found.deciding, total=40_000, looked=2_000))
    assert "2,000 conditions alone" in few.page_one.basis and "alone" not in found.page_one.basis


@pytest.mark.slow
def test_sources_name_every_kind_once_with_its_status():
    found = chance(*drawn_outcome("lodge"), 64)
    assert len(found.sources) == len({i.kind.key for i in found.inputs})
    assert all("common practice" in s or "from memory" in s or "computed" in s or "mixed" in s for s in found.sources)


def test_a_part_of_the_conditions_is_refused():
    job, outcome = drawn_outcome("laundry")
    with pytest.raises(ValueError, match="every condition"):
        chance(job, replace(outcome, everywhere=False))


def test_what_the_fit_leaves_over_stays_with_its_draw():
    """By hand: a margin of 10 u - 5 Pa and one pascal more or less than that, drawn at u = 0.9.

    With u found at 0.5 one of the two fails, at 0.1 (-4 Pa) both, at 0.9 (4 Pa) none.
    """
    fitted = SimpleNamespace(first=np.array([1.0]), total=np.array([1.0]), at=lambda u: 10.0 * u[:, 0] - 5.0)
    points, least = np.array([[0.9], [0.9]]), np.array([3.0, 5.0])
    (own,) = chance_module._first(["u"], points, least, np.zeros(2, bool), fitted)
    assert (own.known, own.found) == (0.5, (1.0, 0.0))
