"""Varied streams: what an appliance sends into the vent when it is set up otherwise than its sheet says.

A burner is a little off in its oxygen, its firing rate and the temperature at which its flue gas leaves. For many
variants at once the streams are interpolated between points that are worked out whole, condensing appliances with the
water that they drain (`appliance.firing_stream`).
"""

from typing import TYPE_CHECKING

import numpy as np

from ventcalc.gas import appliance as appliances
from ventcalc.gas import combustion, combustion_analysis, streams
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.vent.network import Network, room_vapor

if TYPE_CHECKING:
    from scipy.interpolate import RegularGridInterpolator

# In oxygen and in temperature; the straight lines between them err by less than 0.1 % of the flow, beside the dew point
# of a condensing appliance by less than 0.3 % (see the tests).
POINTS = 5, 9
LEAST_EXCESS = 0.02  # with less air there is carbon monoxide, of which this balance knows nothing
_MOST_OXYGEN = 0.2  # dry mole fraction; leaner burns nothing


def varied_stream(network: Network, i: int, oxygen: np.ndarray, hotter: np.ndarray, rate: np.ndarray):
    """Flow, temperature and gas of an appliance, tables (variants, seasons, codes), as `varied_network` takes them.

    In every variant its dry flue gas holds ``oxygen`` more (mole fraction), leaves ``hotter`` [K] and its heat input is
    ``rate`` times that of its levels.
    """
    axes = (_points(values, count) for values, count in zip((oxygen, hotter), POINTS, strict=True))
    return StreamTable(network, i, *axes).stream(network, i, oxygen, hotter, rate)


class StreamTable:
    """Streams of an appliance at points of added oxygen (mole fraction) and temperature [K], to be read many times.

    What lies outside the points is read at the nearest of them.
    """

    def __init__(self, network: Network, i: int, oxygen: np.ndarray, hotter: np.ndarray):
        self.axes, a = (oxygen, hotter), network.plant.appliances[i]
        self.found = [self._worked(network, a, level) for level in a.levels]

    def _worked(self, network: Network, a: Appliance, level: FiringLevel) -> list["RegularGridInterpolator"]:
        """Flow at the level's own heat input, then the properties of the gas, at every point; one table a season."""
        vapor = np.array([room_vapor(season, network.pressure, a.room) for season in network.seasons])[:, None, None]
        heat_input, sheet = float(level.heat_input.m_as("W")), float(level.flue_temperature.m_as("K"))
        own = combustion.products.bare(a.fuel, level.excess_air, vapor).o2_dry
        burnt = combustion.products.bare(a.fuel, _excess(a, own + self.axes[0][:, None]), vapor)
        s = appliances.firing_stream(burnt, heat_input, sheet + self.axes[1], network.pressure)
        points = np.moveaxis(np.stack([s.mass_flow, *streams.stream_properties(s.gas)]), 0, -1)
        from scipy.interpolate import RegularGridInterpolator  # slow to import

        return [RegularGridInterpolator(self.axes, season) for season in points]

    def stream(self, network: Network, i: int, oxygen: np.ndarray, hotter: np.ndarray, rate: np.ndarray):
        """As `varied_stream`, of an appliance like the one the table was made of."""
        a, shape = network.plant.appliances[i], (oxygen.size, *network.prescribed[i].shape)
        flow, temperature = (np.broadcast_to(t[i], shape).copy() for t in (network.prescribed, network.temperature))
        gas = np.broadcast_to(network.gas[i][:, None], (streams.ROWS, *shape)).copy()
        first = len(a.states) - len(a.levels)
        inside = [np.clip(v, axis[0], axis[-1]) for v, axis in zip((oxygen, hotter), self.axes, strict=True)]
        for k, level in enumerate(a.levels):
            for j in range(shape[1]):
                own = self.found[k][j](np.stack(inside, axis=-1)).T
                flow[:, j, first + k], gas[:, :, j, first + k] = own[0] * rate, own[1:]
                temperature[:, j, first + k] = float(level.flue_temperature.m_as("K")) + hotter
        return flow, temperature, gas


def _points(values: np.ndarray, count: int) -> np.ndarray:
    """Points over the range of values; nought is one of them, so that what is not varied is as it was."""
    low, high = min(float(values.min()), -1e-9), max(float(values.max()), 1e-9)
    half = count // 2
    return np.concatenate([np.linspace(low, 0.0, half + 1), np.linspace(0.0, high, half + 1)[1:]])


def _excess(a: Appliance, oxygen: np.ndarray) -> np.ndarray:
    """Excess air that leaves so much oxygen in the dry flue gas, no less than `LEAST_EXCESS`."""
    kept = np.clip(oxygen, 0.0, _MOST_OXYGEN)
    return np.maximum(combustion_analysis.excess_air_from_o2.bare(a.fuel, kept), LEAST_EXCESS)
