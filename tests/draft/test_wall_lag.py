"""Wall lag: only a heavy wall outdoors keeps the cold of a night."""

from dataclasses import replace

import pytest
from sample_natural_draft import MILD, PLANT, SUMMER, found

from ventcalc.draft import light_off, wall_lag
from ventcalc.draft.light_off import NIGHT, STEADY, STILL
from ventcalc.handbook import area_rule as chapter
from ventcalc.vent import single_vent


def test_only_a_heavy_wall_outdoors_keeps_the_cold_of_a_night_and_no_frost_is_colder_than_the_design_day():
    starts = found("masonry_retrofit").starts
    assert {s.season for s in starts if s.stack == NIGHT} == {MILD.name, SUMMER.name}
    lined, _ = chapter.ways()["lined"]
    assert NIGHT not in {s.stack for s in light_off.light_offs(lined, (MILD,))}
    indoors = tuple(replace(s, place="room") for s in PLANT.sections)
    assert {s.stack for s in light_off.light_offs(replace(PLANT, sections=indoors), (MILD,))} == {STEADY, STILL}
    # A wall of 116 mm at 1900 kg/m3 and 0.84 kJ/(kg K) (ASHRAE's clay brick, from memory) behind 23 W/(m2 K): 2.2 h.
    assert wall_lag.lag(single_vent.rise_section(PLANT)) == pytest.approx(2.2 * 3600.0, rel=0.3)
    assert not wall_lag.heavy(single_vent.rise_section(lined))
