"""Wall rings: a round wall cut into rings that conduct heat and store it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.flow.materials import Layer

THICKEST_RING = 0.015  # m; a layer is divided into rings no thicker, each at one temperature


@dataclass(frozen=True)
class Rings:
    """A round wall cut into rings, per meter of run, plain SI.

    ``capacity`` [J/(m K)] of each ring; ``resistance`` [m K/W] between the inner surface, the middles of the rings
    and the outer surface in turn, one more than there are rings; ``outer_diameter`` [m].
    """

    capacity: np.ndarray
    resistance: np.ndarray
    outer_diameter: float


@door(plain={"inner_diameter": "m"}, above={"inner_diameter": 0.0})
def rings(inner_diameter: float, layers: Sequence[Layer]) -> Rings:
    """The wall of these layers, from the inside out, around a bore of ``inner_diameter`` [m].

    Between two radii a ring conducts with ``ln(r2/r1)/(2 pi k)`` (Fourier) and holds ``rho c pi (r2^2 - r1^2)``.
    Raises ValueError where there is no layer, or one has a property that is not positive.
    """
    if not layers:
        raise ValueError("layers: a wall needs at least one layer")
    radius, capacity, halves = 0.5 * inner_diameter, [], []
    for layer in layers:
        thickness, conductivity, heat = _plain(layer)
        count = int(np.ceil(thickness / THICKEST_RING))
        for inner in radius + thickness / count * np.arange(count):
            middle, outer = inner + 0.5 * thickness / count, inner + thickness / count
            capacity.append(heat * np.pi * (outer**2 - inner**2))
            halves += [np.log(r2 / r1) / (2.0 * np.pi * conductivity) for r1, r2 in ((inner, middle), (middle, outer))]
        radius += thickness
    between = [a + b for a, b in zip(halves[1:-1:2], halves[2::2], strict=True)]
    return Rings(np.array(capacity), np.array([halves[0], *between, halves[-1]]), 2.0 * radius)


@door(plain={"inner_diameter": "m"}, above={"inner_diameter": 0.0})
def wall(inner_diameter: float, layers: Sequence[Layer]) -> tuple[float, float]:
    """Resistance of a wall on its inner surface [m2 K/W] and its outer over its inner diameter, from its `rings`."""
    found = rings(inner_diameter, layers)
    return float(found.resistance.sum() * np.pi * inner_diameter), found.outer_diameter / inner_diameter


def _plain(layer: Layer) -> tuple[float, float, float]:
    """Thickness [m], conductivity [W/(m K)] and heat held per volume [J/(m3 K)] of a layer."""
    found = {
        "thickness": float(layer.thickness.m_as("m")),
        "conductivity": float(layer.conductivity.m_as("W/(m*K)")),
        "density": float(layer.density.m_as("kg/m**3")),
        "specific heat": float(layer.specific_heat.m_as("J/(kg*K)")),
    }
    for name, value in found.items():
        if not value > 0.0:
            raise ValueError(f"{name} of the layer {layer.what} = {value:g} must be above 0")
    return found["thickness"], found["conductivity"], found["density"] * found["specific heat"]
