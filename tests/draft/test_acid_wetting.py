"""Acid wetting: walls below the acid dew point of the oil burnt, by hand from the fuel's elements."""

from dataclasses import replace

import numpy as np
import pytest
from sample_combustion import OIL
from sample_plants import PLANTS, SEASONS

from ventcalc.draft import acid_wetting
from ventcalc.vent import firing_states

PLANT = PLANTS["head on"]


def burning(fuel, *names):
    made = (replace(a, fuel=fuel) if a.name in names else a for a in PLANT.appliances)
    return firing_states.scan(replace(PLANT, appliances=tuple(made)), SEASONS)


def by_hand(excess_air, pressure):
    """Verhoff and Banchero's dew point [K] of oil's gas, from moles per kg of its elements (stoichiometry)."""
    c, h, s = 0.869 / 0.012011, 0.129 / 0.001008, 0.002 / 0.03206
    oxygen = c + h / 4.0 + s
    whole = c + h / 2.0 + s + oxygen * ((1.0 + excess_air) / 0.20946 - 1.0)
    water, acid = (np.log(x / whole * pressure / 133.322) for x in (h / 2.0, 0.03 * s))
    return 1000.0 / (2.276 - 0.0294 * water - 0.0858 * acid + 0.0062 * water * acid)


def test_the_dew_point_is_that_of_the_least_excess_air_by_hand():
    appliance = replace(PLANT.appliances[0], fuel=OIL)
    least = min(float(level.excess_air) for level in appliance.levels)
    found = acid_wetting.acid_dew_point(appliance, 95000.0)
    assert found == pytest.approx(by_hand(least, 95000.0), abs=0.1)  # moles of rounded atomic masses
    # No. 2 oil's gas is commonly kept above 240 to 280 degF at the end of a stack (common practice, no source).
    assert 240.0 <= found * 1.8 - 459.67 <= 280.0


def test_no_acid_without_sulfur():
    assert acid_wetting.acid_wettings(firing_states.scan(PLANT, SEASONS)) == ()


def test_only_walls_that_its_gas_passes_count_each_by_its_coldest():
    name = PLANT.appliances[0].name
    scan = burning(OIL, name)
    found = acid_wetting.acid_wettings(scan)
    own = {s.name for s in scan.plant.order if name in {a.name for a in scan.plant.serves(s.name)}}
    assert found and {w.section for w in found} <= own < {s.name for s in scan.plant.order}
    for row, section in enumerate(scan.plant.order):
        states = np.flatnonzero(scan.firing(0) & ~scan.states.cold.astype(bool) & (scan.solution.flow[row] > 1e-3))
        coldest = scan.solution.wall[row, states].min()
        told = [w for w in found if w.section == section.name]
        if told:
            assert coldest < told[0].dew_point
            assert told[0].wall == pytest.approx(coldest, abs=2e-3) and told[0].state in states
        elif section.name in own:
            assert coldest >= acid_wetting.acid_dew_point(scan.plant.appliances[0], scan.solution.barometric)


def test_of_two_gases_on_one_wall_the_one_farther_above_it_is_told():
    # A tenth of the sulfur has a lower dew point. Whichever burns it, the other is told where both gases flow.
    clean = replace(OIL, sulfur=0.1 * OIL.sulfur)
    names = [a.name for a in PLANT.appliances[:2]]
    for fuels in ((OIL, clean), (clean, OIL)):
        made = [replace(a, fuel=f) for a, f in zip(PLANT.appliances, fuels, strict=False)]
        scan = firing_states.scan(replace(PLANT, appliances=(*made, *PLANT.appliances[2:])), SEASONS)
        shared = 0
        for w in acid_wetting.acid_wettings(scan):
            row, both = scan.plant.row(w.section), {a.name for a in scan.plant.serves(w.section)} >= set(names)
            shared += both
            for i in (0, 1) if both else ():
                flows = scan.firing(i) & ~scan.states.cold.astype(bool) & (scan.solution.flow[row] > 1e-3)
                point = acid_wetting.acid_dew_point(scan.plant.appliances[i], scan.solution.barometric)
                assert w.dew_point - w.wall >= point - scan.solution.wall[row, flows].min() - 2e-3
        assert shared
