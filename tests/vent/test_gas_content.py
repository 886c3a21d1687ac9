"""Gas content: what a volume holds is its density times what a kilogram holds; fog takes no room."""

import numpy as np
import pytest
from sample_columns import NETWORK

from ventcalc.gas import streams
from ventcalc.gas.streams import GAS_R, VAPOUR_CONSTANT, WATER
from ventcalc.vent.gas_content import CONTENT_FLUE, CONTENT_WATER, CONTENTS, GAS, HEAT, MASS, content

PRESSURE = NETWORK.pressure


def burner(celsius):
    """What a volume of a burner's gas holds at a temperature, and the gas with its share of flue gas."""
    gas = np.concatenate([NETWORK.gas[0][:, 0, -1], [1.0]])[:, None]
    kelvin = np.array([celsius + 273.15])
    return content(gas, kelvin, streams.enthalpy(gas, kelvin, PRESSURE), PRESSURE, PRESSURE)[:, 0], gas[:, 0]


def test_a_volume_holds_density_times_what_a_kilogram_holds():
    held, gas = burner(160.0)
    assert held.size == CONTENTS
    assert held[MASS] == pytest.approx(PRESSURE / (gas[GAS_R] * 433.15))  # ideal gas law
    assert held[GAS] / held[MASS] == pytest.approx(gas)
    assert held[CONTENT_FLUE] == held[MASS]  # all of it is flue gas
    assert held[CONTENT_WATER] == pytest.approx(gas[WATER] * held[MASS])
    assert held[HEAT] / held[MASS] == pytest.approx(streams.enthalpy(gas, 433.15, PRESSURE))


def test_water_that_is_fog_fills_no_volume():
    held, gas = burner(30.0)  # below the dew point of the gas
    vapor = gas[GAS_R] - held[MASS] ** -1 * PRESSURE / 303.15
    assert 0.0 < vapor / VAPOUR_CONSTANT < gas[WATER]  # kg of fog per kg, by the ideal gas law
    assert held[CONTENT_WATER] == pytest.approx(gas[WATER] * held[MASS])  # the fog counts as water
