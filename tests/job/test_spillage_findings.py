"""Spillage findings: flue gas that enters the room, at what it leads to there."""

import pytest
from sample_commissioning import judged_with

from ventcalc.building import co_exposure, spillage, terminal
from ventcalc.gas import combustion, fuels
from ventcalc.job import findings, surroundings
from ventcalc.units import Q_


def test_the_kitchen_hood_pulls_flue_gas_out_of_the_water_heater(school):
    effect = next(e for e in school.around.effects if e.appliance == "Water heater")
    assert effect.flue_gas > effect.flue_gas_without > 0.0 and effect.lowest_room < 0.0
    told = next(f for f in school.judgement.of_weight("people") if f.code == "spillage")
    assert "Water heater" in told.subjects and told.figures["flow"].m >= effect.flue_gas


def test_flue_gas_in_the_room_is_judged_and_gone_with_the_remedy(hall):
    assert hall.around.spills and not any(s.exposure.co.max() <= 0.0 for s in hall.around.spills)
    for s in hall.around.spills:  # the room's steady state by hand: only outdoor air removes
        flow, own = s.exposure.flow, 14000.0 * 0.3048**3 / 3600.0
        assert s.exposure.steady[0] == pytest.approx(s.exposure.flow_co * flow / own, rel=1e-6)
    told = next(f for f in hall.judgement.of_weight("people") if f.code == "spillage")
    assert told.figures["failed"] > 0 and "carbon monoxide" in findings.sentence(told)
    whole = hall.offered
    assert not whole.around.spills and "spillage" not in {f.code for f in whole.judgement.findings}
    # Its fan makes the terminal mechanical draft, and throws the exhaust higher.
    assert [e.terminal.kind for e in whole.around.endings] == [terminal.FAN]
    assert whole.around.plumes[0].dilution > 1.5 * hall.around.plumes[0].dilution


def spilled(burnt: float, flow: float, **changes):
    """Carbon monoxide of one spill into a room of 400 m3 with one air change."""
    products = combustion.products(fuels.fuel("natural gas"), 0.3, 0.01)
    case = co_exposure.COCase(Q_(400.0, "m**3"), Q_(1.0, "1/hour"), Q_(400.0, "ppm"), **changes)
    spill = spillage.Spill("Boiler", 7, Q_(flow, "kg/s"), burnt, products)
    return surroundings.Spilled(spill, co_exposure.judge(case, spill.flow, products, Q_(1.0, "atm"), burnt), True)


@pytest.mark.parametrize(("flow", "harms"), [(0.0055, False), (0.030, True)])
def test_carbon_monoxide_is_told_by_the_first_limit_that_harms(school, flow, harms):
    one = spilled(1.0, flow)
    judged = judged_with(school, surroundings.Surroundings(spills=(one,)))
    told = next(f for f in judged.of_weight("people") if f.code == "spillage").figures
    # 9 ppm over 8 h is the outdoor standard, 25 ppm over 8 h the strictest limit of a workplace.
    assert bool(one.exposure.co.max() > 25.0) is harms and one.exposure.co.max() > 9.0
    assert told["co"] == one.exposure.co[0].max() and bool(one.exposure.harmful) is harms
    assert told["limit"] in {j.limit.cited for j in (one.exposure.harmful or one.exposure.failed)}
