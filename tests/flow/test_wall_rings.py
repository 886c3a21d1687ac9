"""Wall rings: what they hold and conduct is that of the layers."""

import numpy as np
import pytest

from ventcalc.flow import materials
from ventcalc.flow.heat_loss import (
    layer_resistance,
)
from ventcalc.flow.materials import layers
from ventcalc.flow.wall_rings import rings


def test_rings_are_the_layers():
    for name in materials.names():
        wall, radius, resistance, held = rings(0.2, layers(name)), 0.1, 0.0, 0.0
        for part in layers(name):
            thickness, conductivity = part.thickness.m_as("m"), part.conductivity.m_as("W/(m*K)")
            resistance += layer_resistance.bare(2 * radius, thickness, conductivity) / (2 * np.pi * radius)
            heat = (part.density * part.specific_heat).m_as("J/(m**3*K)")
            held += heat * np.pi * ((radius + thickness) ** 2 - radius**2)
            radius += thickness
        assert wall.resistance.sum() == pytest.approx(resistance)
        assert wall.capacity.sum() == pytest.approx(held)
        assert wall.outer_diameter == pytest.approx(2 * radius)
