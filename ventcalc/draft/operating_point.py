"""Operating point: the flow and pressure at which a fan's curve crosses that of the system it stands in."""

import numpy as np

from ventcalc.draft.fan_curve import Fan, static_pressure
from ventcalc.units import quantities
from ventcalc.vent.false_position import zero_between


@quantities(
    ("m**3/s", "Pa"),
    speed="",
    density="kg/m**3",
    constant="Pa",
    coefficient="Pa*s**2/m**6",
    at_least={"speed": 0.0},
    above={"density": 0.0, "coefficient": 0.0},
    source="equilibrium of fan and system",
)
def operating_point(fan: Fan, speed, density, constant, coefficient):
    """Flow and pressure where the fan's curve crosses the system's, p = a + k q|q|.

    fan: `Fan`; speed: over the rated one, at least 0; density: of the gas at the fan, kg/m3; constant: a, static
    pressure that the system asks for without flow, Pa, negative where it has draft to spare; coefficient: k, its
    resistance, Pa s2/m6, above 0, at this density; numbers or arrays that broadcast.

    Where a curve with a hump is crossed more than once, the crossing with the greatest flow, which is stable.
    Source: equilibrium.
    """
    speed, density, constant, coefficient = np.broadcast_arrays(speed, density, constant, coefficient)

    def surplus(flow):
        return static_pressure.bare(fan, flow, speed, density) - constant - coefficient * flow * np.abs(flow)

    # Far enough out the system asks for more than the fan gives, far enough backwards for less.
    start = fan.abreast * fan.free_flow * (speed + 0.1)
    flow = _last_crossing(surplus, _until(surplus, -0.01 * start, -1.0), _until(surplus, start, 1.0))
    return flow, constant + coefficient * flow * np.abs(flow)


@quantities(
    ("m**3/s", "Pa"),
    flows="m**3/s",
    pressures="Pa",
    speed="",
    density="kg/m**3",
    at_least={"speed": 0.0},
    above={"density": 0.0},
    shapes={"flows": "list", "pressures": "list"},
    allow={"return": "nan"},
    source="equilibrium of fan and system",
)
def operating_point_on(fan: Fan, flows, pressures, speed, density):
    """Flow and pressure where the fan's curve crosses a system given by points, straight between them.

    fan: `Fan`; flows: rising, m3/s, array (n,); pressures: static pressure asked for at each, Pa, array (n,); speed:
    over the rated one, at least 0; density: of the gas at the fan, kg/m3; both numbers or arrays that broadcast.

    The crossing with the greatest flow; NaN where there is none between the first and the last point.
    Raises ValueError where the flows do not rise. Source: equilibrium.
    """
    flows, pressures = np.asarray(flows, float), np.asarray(pressures, float)
    if flows.ndim != 1 or flows.size < 2 or flows.shape != pressures.shape or np.any(np.diff(flows) <= 0.0):
        raise ValueError("flows must be two or more and rise, with one pressure each")
    speed, density = np.broadcast_arrays(np.asarray(speed, float), np.asarray(density, float))

    def surplus(flow):
        return static_pressure.bare(fan, flow, speed, density) - np.interp(flow, flows, pressures)

    ends = (np.full(speed.shape, flows[at]) for at in (0, -1))
    flow = _last_crossing(surplus, *ends)
    return flow, np.where(np.isnan(flow), np.nan, np.interp(flow, flows, pressures))[()]


_STEPS = 240  # of the search for the last crossing: a hump narrower than 1/240 of the range would be missed


def _last_crossing(surplus, low, high):
    """Greatest flow between two, where what the fan gives beyond what is asked falls through zero; NaN without one."""
    grid = low + (high - low) * np.linspace(0.0, 1.0, _STEPS + 1).reshape(-1, *([1] * np.ndim(low)))
    given = surplus(grid)
    falls = (given[:-1] >= 0.0) & (given[1:] < 0.0)
    last = np.where(falls.any(axis=0), _STEPS - 1 - np.argmax(falls[::-1], axis=0), 0)
    low, high = (np.take_along_axis(grid, (last + k)[None], axis=0)[0] for k in (0, 1))
    return np.where(falls.any(axis=0), zero_between(surplus, low, high), np.nan)[()]


_DOUBLINGS = 52  # further out than any vent


def _until(surplus, flow, sign):
    """A flow far enough out on its side that ``surplus`` there has the other sign than ``sign``."""
    for _ in range(_DOUBLINGS):
        near = sign * surplus(flow) >= 0.0
        if not near.any():
            break
        flow = np.where(near, 2.0 * flow, flow)
    return flow
