"""Warming time: that of a thin sheet by hand."""

from dataclasses import replace
from math import pi

import pytest
from sample_plants import SEASONS, row_plant

from ventcalc.draft import warming_time
from ventcalc.flow import materials
from ventcalc.flow.wall_rings import rings


def test_walls_warm_with_the_time_constant_of_a_thin_sheet(hall):
    # A bare sheet is one lump: C / (h_in + h_out) per area, common textbook form. Along a run the gas at its end
    # waits for the walls before it as well, so its 63 % come later, but less than twice as late at these cooling
    # numbers.
    bare = materials.material("stainless special gas vent single wall")
    sections = tuple(replace(s, material=bare) if s.name == "stack" else s for s in hall.plant.sections)
    plant = replace(hall.plant, sections=sections)
    found = warming_time.warming_time(plant, hall.seasons, ("high", "off", "off"), 1).m_as("s")
    wall = rings(0.4064, materials.layers(bare.name))
    outside, inside = 23.0, 7.0  # W/(m2 K); the inner film of 0.19 kg/s in 16 in. is 6 to 8 by Gnielinski
    lump = wall.capacity.sum() / (pi * 0.4064 * (outside + inside))
    assert 0.8 * lump < found < 2.0 * lump
    heavy = warming_time.warming_time(hall.plant, hall.seasons, ("high", "off", "off"), 1).m_as("s")
    assert heavy > found  # its air gap holds the heat in, so the inner sheet goes further and takes longer
    with pytest.raises(ValueError, match="no gas rises"):
        warming_time.warming_time(row_plant(2), SEASONS, ("off",) * 2)
