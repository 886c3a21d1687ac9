"""The spike test: the same seed, the same plants; what is not cut off makes no difference, and what is does."""

import numpy as np
import pytest

from ventcalc.draft import spike_test


@pytest.fixture(scope="module")
def spikes():
    return spike_test.spike_test(60, seed=7, lasts=180.0)


@pytest.mark.slow
def test_the_same_seed_draws_the_same_plants(spikes):
    again = spike_test.spike_test(60, seed=7, lasts=180.0)
    assert np.array_equal(spikes.one_sided, again.one_sided) and np.array_equal(spikes.both, again.both)


def test_a_spike_that_does_not_reach_zero_is_the_same_to_both_sensors(spikes):
    seen = spikes.clipped == 0.0
    if seen.any():
        assert np.array_equal(spikes.one_sided[seen], spikes.both[seen])
    found = spike_test._spike(10.0, -20.0, 4.0, 0.5, 1.5, 0.7, 120.0)
    assert found[0] == found[1]


def test_the_more_of_the_spike_is_cut_off_the_longer_it_takes(spikes):
    # The error that drives the loop is cut to the set point's own size. Common practice, no source, says that the
    # sensor that reads both signs settles 50 to 60 % faster. What comes out here has no one number: nothing is gained
    # where little is cut off, more than 60 % where nearly all is.
    few, much = spikes.clipped < 0.5, spikes.clipped > 0.85
    assert few.sum() >= 5 and much.sum() >= 5
    assert np.median(spikes.ratio[few]) > 0.9
    assert np.median(spikes.ratio[much]) < 0.4
    assert (spikes.ratio <= 1.0).mean() > 0.95  # a rare one overshoots more when it sees all, and settles later


@pytest.mark.slow
def test_pin_of_the_spike_test():
    # A pin of our own numbers, no evidence: 200 plants, seed 1.
    found = spike_test.spike_test()
    assert np.percentile(found.ratio, [25, 50, 75]) == pytest.approx([0.49, 0.72, 0.94], abs=0.01)
    assert ((found.ratio >= 0.4) & (found.ratio <= 0.5)).mean() == pytest.approx(0.075, abs=0.01)


def test_a_spike_comes_within_two_seconds_and_stays(monkeypatch):
    seen, follow = [], spike_test.follow
    monkeypatch.setattr(spike_test, "follow", lambda loop, vent, step: seen.append(vent) or follow(loop, vent, step))
    spike_test._spike(10.0, -20.0, 4.0, 0.5, 1.5, 0.7, 120.0)
    # Of 10 Pa, from 1 s to 3 s; a device of 15 Pa stands against it at a tenth before.
    for vent in seen:
        came = [vent.at(t)[0] for t in (0.0, 1.0, 2.0, 3.0, 30.0, vent.time[-1])]
        assert [p[0] + 18.5 for p in came] == pytest.approx([0.0, 0.0, 5.0, 10.0, 10.0, 10.0])
        assert [p[0] - p[1] for p in came] == pytest.approx([15.0] * 6)
    assert seen
