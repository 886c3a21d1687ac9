"""Coming to rest: the next stable root on the side to which the mismatch points, or no rest."""

import numpy as np
import pytest
from sample_hoods import at_room_pressures, in_every_season, near, one_hood

from ventcalc.vent import coming_to_rest, root_census, stability
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.network import compile_network
from ventcalc.vent.pressure_balance import PressureBalance


@pytest.mark.parametrize("seed", range(6))
def test_a_vent_goes_to_the_next_stable_root_on_the_side_the_mismatch_points_to(seed):
    seasons = at_room_pressures(np.linspace(-5.0, 0.5, 23))
    network, states = compile_network(one_hood(seed), seasons), in_every_season([2], 23)
    whole = root_census.census(network, states)
    prescribed = Boundary(network, states).prescribed[0]
    for share in (-4.0, -2.5, -1.5, -1.1, -0.9, 0.0, 1.0, 3.0):
        begin = share * prescribed
        ended = coming_to_rest.follow(network, states, begin[None])
        assert ended.converged.all()
        points_up = stability.mismatch(network, Boundary(network, states), begin[None])[0] > 0.0
        for k in range(23):
            stable = np.sort(whole.drawn[(whole.state == k) & whole.stable])
            beyond = stable[stable > begin[k]] if points_up[k] else stable[stable < begin[k]][::-1]
            assert near(ended.drawn[0, k], beyond[0], prescribed[k]), (share, k)


def test_a_walk_to_and_fro_is_given_up_early(monkeypatch):
    """The jump is made: 5 Pa up or down by the side on which the flow lies. The worse side is what is told."""
    plant, seasons = one_hood(0), at_room_pressures([-4.0])
    network, states = compile_network(plant, seasons), in_every_season([2], 1)
    looks = []

    class Jumping(PressureBalance):
        @property
        def residual(self):
            looks.append(1)
            self.at.mismatch[:, 0] = np.where(self.drawn[0] < 0.02, 5.0, -5.0)
            return np.full(self.drawn.shape[1], 5.0)

    monkeypatch.setattr(coming_to_rest, "PressureBalance", Jumping)
    ended = coming_to_rest.follow(network, states, np.array([[-0.03]]))
    assert not ended.converged[0] and ended.drawn[0, 0] == pytest.approx(0.02, abs=0.01)
    assert len(looks) < 80
