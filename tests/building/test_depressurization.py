"""Depressurization: what is the exhaust fans' doing, and which house limit holds for whom."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_rooms import room, spilling_room

from ventcalc.building import combustion_air_words, depressurization
from ventcalc.building.code_rules import CHECK_EDITION
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.states import States


def test_effects_tell_the_fan_from_the_rest():
    scan, _, off, on = spilling_room()
    for e in depressurization.effects(scan, off, on):
        # 300 kW is no house appliance: the vent's own solution is all that judges it.
        assert e.lowest_room == on.pressure.min() and e.limit is None and "10 CFR 431.82" in e.no_limit.words()
        assert e.flue_gas <= e.spill <= e.back
        assert e.verdict == "fail" and e.beyond > e.beyond_without == 0.0 and e.states > 0


def small(count, kind="forced", **changes):
    """Equal appliances of 60 kW (205 MBH) of category I, as houses have them."""
    plant = row_plant(count, kind, kilowatts=60.0)
    changes = {"category": "I", **changes}
    return replace(plant, appliances=tuple(replace(a, **changes) for a in plant.appliances))


def house_limit(plant, **of_room):
    found = depressurization.depressurization_limit(plant, "B1", room(**of_room))
    return found.limit and found.limit.m


def test_house_limits_by_kind():
    # That the kind picks the right row; the rows themselves stand in data/building/combustion_air.csv with source
    # and status.
    limits = {kind: house_limit(small(1, kind)) for kind in ("draft hood", "barometric", "forced")}
    assert limits == {"draft hood": -2.0, "barometric": -5.0, "forced": -15.0}
    assert house_limit(small(2, "draft hood")) == -3.0
    assert house_limit(small(1, category="IV"), sealed=("B1",)) == -50.0
    # A fan-assisted burner of category I that shares its vent with a hood is held to the hood's limit.
    pair = small(2, "draft hood")
    mixed = replace(pair, appliances=(small(1).appliances[0], pair.appliances[1]))
    assert house_limit(mixed) == -3.0


@pytest.mark.parametrize("category", ["III", "IV"])
def test_house_limits_are_not_for_categories_they_were_not_made_for(category):
    # ASTM E1998, scope: category I under a hood or with an induced-draft fan; not III or IV.
    pair = small(2, "draft hood")
    mixed = replace(pair, appliances=(small(1, category=category).appliances[0], pair.appliances[1]))
    found = depressurization.depressurization_limit(mixed, "B1", room())
    assert found.limit is None and "ASTM E1998" in found.why.words() and CHECK_EDITION in found.why.words()
    assert depressurization.depressurization_limit(mixed, "B2", room()).limit.m == -3.0  # the hood keeps its own


@pytest.mark.parametrize(("kilowatts", "limited"), [(87.9, True), (87.93, False), (300.0, False)])
def test_house_limits_end_where_commercial_boilers_begin(kilowatts, limited):
    # 10 CFR 431.82: a commercial packaged boiler has an input of 300,000 Btu/h (87.92 kW) or more.
    plant = row_plant(1, "draft hood", kilowatts=kilowatts)
    plant = replace(plant, appliances=tuple(replace(a, category="I") for a in plant.appliances))
    assert (house_limit(plant) is not None) is limited


def test_without_a_house_limit_the_vent_alone_is_judged():
    scan, _, off, on = spilling_room()
    one = depressurization.effects(scan, off, on)[0]
    well = replace(one, beyond=0.0, back=0.0, flue_gas=0.0, spill=0.0)
    assert well.verdict == "pass" and not well.below_limit
    assert "house tests have no limit" in combustion_air_words.effect_sentence(well, "US")
    limited = replace(well, limit=-3.0, limit_rule="limit, natural draft shared", no_limit=None)
    assert limited.below_limit and limited.verdict == "needs the authority's reading"
    for source, words in (("purge", "air of a purge comes"), ("outdoors", "falls down the vent"), ("room", "room air")):
        air = replace(one, flue_gas=0.0, beyond=0.0, back=0.01, air=source)
        assert air.verdict == "fail" and not air.dangerous and words in combustion_air_words.effect_sentence(air, "US")


@pytest.mark.parametrize(("low", "high", "beyond"), [(-30.0, -10.0, 10.0), (-15.0, 3.0, 7.0), (-15.0, -10.0, 0.0)])
def test_too_strong_a_draft_is_an_effect_as_much_as_too_weak_a_one(low, high, beyond):
    met = Envelope("A", low, high, 0, 0, (-20.0, -4.0))
    assert depressurization._beyond_window(met) == pytest.approx(beyond)
    of_purge = Envelope("A", -40.0, -10.0, 0, 0, (-20.0, -4.0))
    assert depressurization._beyond_window(replace(met, purge=of_purge)) == pytest.approx(20.0)


def test_the_house_tests_are_made_without_wind_where_there_is_a_case_without():
    """By hand: of three states in cases 0, 1 and 2 the first; where all are in wind, or no case is told, every one."""

    def states(case):
        return States(np.zeros((1, 3), int), np.zeros(3, int), np.zeros(3), np.ones(3), case)

    assert depressurization.without_wind(states(np.array([0, 1, 2]))).tolist() == [True, False, False]
    assert depressurization.without_wind(states(np.array([1, 1, 2]))).all()
    assert depressurization.without_wind(states(None)).all()
