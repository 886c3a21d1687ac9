"""Wall memory: cycles and hours of warming and cooling, held to a step by step integration of the same equation."""

import numpy as np
import pytest

from ventcalc.job import wall_memory


def stepped(tau, hours, most, step=0.5):
    """Walls by small steps of time: starts, mean on and mean off of each hour of (share, burns, burns at rest)."""
    w, found = 0.0, []
    for share, burns, at_rest in hours:
        starts = wall_memory.cycles(share, most) if share < 1.0 else 1.0
        period = 3600.0 / starts
        times = np.arange(0.0, 3600.0, step)
        on = (times % period) < share * period if share < 1.0 else np.ones(times.size, bool)
        heated = np.where(on, burns, at_rest)
        first, sums, counts = [], {True: 0.0, False: 0.0}, {True: 0, False: 0}
        before = False
        for now, gas in zip(on, heated, strict=True):
            if now and not before:
                first.append(1.0 - w)
            before = now
            sums[bool(now)] += 1.0 - w
            counts[bool(now)] += 1
            w += step / tau * ((1.0 if gas else 0.0) - w)
        means = [sums[part] / counts[part] for part in (True, False) if counts[part]]
        found.append((max(first), means[0], means[-1]))
    return np.array(found).T


@pytest.mark.parametrize("tau", [60.0, 400.0, 4000.0, 40_000.0])
def test_walls_are_those_of_small_steps(tau):
    # Six hours with whole numbers of cycles: 4 N f (1 - f) at half load with N = 6 and 3, a cold night, full fire.
    hours = [(0.5, True, False), (0.5, True, False), (1.0, True, True), (1.0, False, False), (0.5, True, False)]
    share, burns, rest = (np.array(v) for v in zip(*hours, strict=True))
    found = wall_memory.carry(np.array([tau]), burns[None], rest[None], share, 6.0)
    start, on, off = stepped(tau, hours, 6.0)
    cycling = share < 1.0
    assert found.start[0] == pytest.approx(start, abs=0.01)
    assert found.on[0] == pytest.approx(on, abs=0.01)
    assert found.off[0, cycling] == pytest.approx(off[cycling], abs=0.01)


def test_a_heavy_wall_remembers_the_night_and_a_light_one_does_not():
    lag = np.array([120.0, 20.0 * 3600.0])
    hours = np.arange(72)
    fires = np.broadcast_to((hours % 24 >= 6) & (hours % 24 < 22), (2, 72))
    found = wall_memory.carry(lag, fires, fires, np.ones(72), 6.0)
    light, heavy = found.on[:, 60]  # at noon of the third day
    assert light < 0.01 and 0.2 < heavy < 0.8
    # The last morning finds the heavy wall warmer than the first, and the light one as cold.
    assert found.start[1, 54] < found.start[1, 6] - 0.2
    assert found.start[0, 54] == pytest.approx(found.start[0, 6], abs=0.01)


def test_continuous_fire_warms_by_the_exponential():
    tau, fires = np.array([7200.0]), np.ones((1, 4), bool)
    found = wall_memory.carry(tau, fires, fires, np.ones(4), 6.0)
    assert found.start[0] == pytest.approx(np.exp(-np.arange(4) / 2.0))
    mean = 2.0 * (np.exp(-np.arange(4) / 2.0) - np.exp(-np.arange(1, 5) / 2.0))
    assert found.on[0] == pytest.approx(mean)


def test_starts_are_most_at_half_load():
    shares = np.array([0.01, 0.25, 0.5, 0.75, 0.99])
    assert wall_memory.cycles(shares, 6.0).tolist() == pytest.approx([0.2376, 4.5, 6.0, 4.5, 0.2376])


def test_coldness_stays_between_none_and_all():
    random = np.random.default_rng(1)
    burns = random.random((3, 500)) < 0.6
    share = np.where(random.random(500) < 0.5, 1.0, random.uniform(0.001, 0.999, 500))
    rest = burns & (share >= 1.0)
    found = wall_memory.carry(np.array([1.0, 500.0, 5e5]), burns, rest, share, 6.0)
    for part in (found.start, found.on, found.off):
        assert ((part >= -1e-12) & (part <= 1.0 + 1e-12)).all()
