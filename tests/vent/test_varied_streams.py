"""Varied streams: against appliances whose sheet says so in the first place."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.gas import combustion, combustion_analysis
from ventcalc.units import Q_
from ventcalc.vent.network import compile_network
from ventcalc.vent.varied_streams import varied_stream

OXYGEN, HOTTER, RATE = (
    np.array([0.0, 0.013, -0.017, 0.004]),
    np.array([0.0, 7.0, -21.0, 13.0]),
    np.array([1, 1.04, 0.9, 1]),
)


@pytest.mark.parametrize("celsius", [150.0, 45.0], ids=["dry", "condensing"])
def test_streams_are_those_of_appliances_set_up_so(celsius):
    plant = row_plant(2, celsius=celsius)
    a = plant.appliances[1]
    found = varied_stream(compile_network(plant, SEASONS), 1, OXYGEN, HOTTER, RATE)
    for v in range(OXYGEN.size):
        levels = []
        for level in a.levels:
            oxygen = combustion.products.bare(a.fuel, level.excess_air).o2_dry + OXYGEN[v]
            set_up = {
                "heat_input": RATE[v] * level.heat_input,
                "excess_air": float(combustion_analysis.excess_air_from_o2.bare(a.fuel, oxygen)),
                "flue_temperature": Q_(float(level.flue_temperature.m_as("K")) + HOTTER[v], "K"),
            }
            levels.append(replace(level, **set_up))
        other = replace(plant, appliances=(plant.appliances[0], replace(a, levels=tuple(levels))))
        alone = compile_network(other, SEASONS)
        # Beside the dew point water bends between two points.
        assert found[0][v] == pytest.approx(alone.prescribed[1], rel=1e-3 if celsius > 100.0 else 3e-3)
        assert found[1][v] == pytest.approx(alone.temperature[1], abs=1e-9)
        assert found[2][:, v] == pytest.approx(alone.gas[1], rel=1e-3 if celsius > 100.0 else 2e-2, abs=1e-6)


def test_what_is_not_varied_is_as_compiled():
    network = compile_network(row_plant(2, celsius=45.0), SEASONS)
    flow, temperature, gas = varied_stream(network, 0, np.zeros(3), np.zeros(3), np.ones(3))
    for v in range(3):
        assert flow[v] == pytest.approx(network.prescribed[0], rel=1e-12)
        assert temperature[v] == pytest.approx(network.temperature[0], rel=1e-12)
        assert gas[:, v] == pytest.approx(network.gas[0], rel=1e-12)
