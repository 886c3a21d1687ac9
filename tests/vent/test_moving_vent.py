"""Moving vent: what a device sees of it before every step."""

import numpy as np
import pytest
from sample_plants import SEASONS
from sample_runs import PLANTS, course

from ventcalc.vent.moving_vent import entering
from ventcalc.vent.transient import run


def test_a_device_sees_the_vent_step_by_step():
    plant, seen = PLANTS["hoods"], []
    row = plant.row("stack")

    def fan(now):
        seen.append((now.time, now.flow, now.density, now.outlet_pressure, now))
        added = np.zeros((len(plant.order), 1))
        added[row] = 40.0 if now.time < 10.0 else 0.0  # it stops
        return added

    result = run(plant, SEASONS, course([[2, 2], [0, 0], [0, 0]], [0, 20], [2, 0, 0], cold=0.0), fan)
    assert [now[0] for now in seen[:3]] == pytest.approx([0.0, 0.0, 0.05])
    assert seen[50][1].shape == seen[50][2].shape == (len(plant.order), 1)
    kept = result.outlet_pressure[:, 40, 0]  # at 8 s, seen before the step that follows
    assert seen[161][3][:, 0] == pytest.approx(kept, abs=1e-9)
    assert seen[161][1][:, 0] == pytest.approx(result.flow_out[:, 40, 0], rel=1e-9)
    assert seen[161][2][:, 0] == pytest.approx(result.density_out[:, 40, 0], rel=1e-9)
    with pytest.raises(ValueError, match="before the vent moves on"):
        assert seen[161][4].outlet_pressure is None
    drawn = result.drawn.sum(axis=0)[:, 0]
    assert drawn[45] > drawn[-1] + 0.05  # while it ran it drew more room air


def test_a_device_of_another_shape_is_refused():
    with pytest.raises(ValueError, match=r"added has shape \(1, 1\), need"):
        run(PLANTS["hoods"], SEASONS, course([[0, 0], [0, 0], [0, 0]], [0, 1]), np.zeros((1, 1)))


def test_what_enters_takes_the_volume_of_the_gas_it_is_by_hand():
    """Burner's gas of 0.8 kg/m3 and room air of 1.2: drawn beside it both enter; spilled, what is left of the burner's
    enters as it is; where more comes out than the burner sends it is gas of the first cell, of 0.9 kg/m3."""
    drawn = np.array([0.6, 0.0, -0.3, -2.4])
    found = entering(np.full(4, 0.8), drawn, 0.8, 1.2, 0.9)
    assert found == pytest.approx([1.0 + 0.5, 1.0, 0.5 / 0.8, -1.6 / 0.9])
