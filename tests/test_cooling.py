"""Cooling: one section between its two ends."""

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc import heat_loss
from ventcalc.cooling import cool
from ventcalc.network import compile_network


def test_a_dry_run_follows_the_exponential_of_its_own_film():
    # The same run worked from heat_loss, with the cooling number that the run reports.
    network = compile_network(row_plant(1), SEASONS)
    pipe, gas = network.pipes[0], network.gas[0][:, 0, -1]
    one = np.ones(1)
    run = cool(pipe, network.pressure, 0.2 * one, 430.0 * one, gas[:, None], 290.0 * one, one, None)
    assert run.outlet[0] == pytest.approx(heat_loss.outlet_temperature.bare(430.0, 290.0, run.cooling[0]), abs=1e-6)
    assert run.mean[0] == pytest.approx(heat_loss.mean_temperature.bare(430.0, 290.0, run.cooling[0]), abs=1e-6)
