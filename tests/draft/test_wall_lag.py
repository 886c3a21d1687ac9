"""Wall lag: only a heavy wall outdoors keeps the cold of a night."""

from dataclasses import replace

import pytest
from sample_natural_draft import MILD, PLANT, SUMMER, found
from scipy.optimize import brentq

from ventcalc.draft import light_off, wall_lag
from ventcalc.draft.light_off import NIGHT, STEADY, STILL
from ventcalc.flow import heat_loss
from ventcalc.flow.materials import Layer
from ventcalc.handbook import area_rule as chapter
from ventcalc.units import Q_
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


def test_a_wall_of_the_job_files_own_lags_by_what_its_layers_hold():
    rise = single_vent.rise_section(PLANT)
    steel = Layer("steel", Q_(1.0, "mm"), Q_(50.0, "W/(m*K)"), Q_(7800.0, "kg/m**3"), Q_(450.0, "J/(kg*K)"))
    own = replace(rise, material=replace(rise.material, name="in no table", layers=(steel,)))
    # A thin plate: thickness x density x specific heat over the film (lumped capacity, any heat transfer textbook).
    assert wall_lag.lag(own) == pytest.approx(1e-3 * 7800.0 * 450.0 / heat_loss.OUTDOOR_FILM, rel=0.01)


@pytest.mark.parametrize(("hours", "heavy"), [(0.95, False), (1.05, True), (0.1, False), (10.0, True)])
def test_a_wall_is_heavy_from_an_hour_on(hours, heavy):
    # A tube of steel of bore d and thickness t, by geometry: density x specific heat x t (d + t) / ((d + 2 t) film).
    rise = single_vent.rise_section(PLANT)
    bore = rise.diameter.m_as("m")

    def lag(t):
        return 7800.0 * 450.0 * t * (bore + t) / ((bore + 2.0 * t) * heat_loss.OUTDOOR_FILM)

    thick = brentq(lambda t: lag(t) - 3600.0 * hours, 1e-4, 2.0)
    steel = Layer("steel", Q_(thick, "m"), Q_(50.0, "W/(m*K)"), Q_(7800.0, "kg/m**3"), Q_(450.0, "J/(kg*K)"))
    own = replace(rise, material=replace(rise.material, name="in no table", layers=(steel,)))
    assert wall_lag.lag(own) == pytest.approx(3600.0 * hours, rel=0.01) and wall_lag.heavy(own) is heavy
