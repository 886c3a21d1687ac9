"""Combustion air verdicts: rooms as the rules want them, a little less, and what else is asked."""

from dataclasses import replace

import pytest
from sample_plants import row_plant
from sample_rooms import HOUR, room

from ventcalc.building import combustion_air, combustion_air_verdicts, combustion_air_words, room_air
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_


def by_rule(found):
    return {v.rule: v for v in found}


def test_two_openings_as_the_rule_wants_pass():
    plant = row_plant(2, "draft hood", kilowatts=300.0)  # 600 kW = 2047 MBH: 512 in2 of free area each
    need = combustion_air.opening_area(Q_(600, "kW"), "direct").m_as("m**2")
    pair = tuple(room_air.Opening(p, Q_(1.001 * need / 0.75, "m**2"), louver="metal", place=p) for p in ("high", "low"))
    found = by_rule(combustion_air_verdicts.judge(plant, room(openings=pair, exhausts=())))
    assert found["all air from outdoors, one opening high and one low"].verdict == "pass"
    assert found["all air from outdoors, a single opening high"].verdict == "fail"  # 3000 Btu/h per in2, not 4000
    assert found["louver of high"].verdict == "needs the authority's reading"
    named = (replace(pair[0], name="louver high"), pair[1])  # an opening whose name says so is not named twice
    assert "louver high" in by_rule(combustion_air_verdicts.judge(plant, room(openings=named)))
    wood = tuple(replace(o, louver="wood") for o in pair)
    assert by_rule(combustion_air_verdicts.judge(plant, room(openings=wood)))[
        "all air from outdoors, one opening high and one low"
    ].verdict == "fail"  # fmt: skip


def test_combined_air_takes_the_reduced_openings():
    plant = row_plant(1, "draft hood", kilowatts=100.0)
    volume = 0.6 * combustion_air.standard_volume(Q_(100, "kW"))
    need = 0.4 * combustion_air.opening_area(Q_(100, "kW"), "direct").m_as("m**2")
    pair = tuple(room_air.Opening(p, Q_(1.001 * need, "m**2"), place=p) for p in ("high", "low"))
    found = by_rule(combustion_air_verdicts.judge(plant, room(volume=volume, openings=pair)))
    assert found["air from indoors and outdoors together, two openings"].verdict == "pass"
    assert found["all air from outdoors, one opening high and one low"].verdict == "fail"


def test_joined_rooms_count_only_through_large_enough_openings():
    plant = row_plant(1, "draft hood", kilowatts=100.0)
    doors = tuple(room_air.Opening(n, Q_(0.3, "m**2"), "same story") for n in ("a", "b"))
    space = {"volume": Q_(100, "m**3"), "joined": Q_(600, "m**3"), "openings": doors}
    found = by_rule(combustion_air_verdicts.judge(plant, room(**space)))["all air from indoors, standard volume"]
    assert found.verdict == "pass" and found.provided == Q_(700, "m**3")
    small = tuple(replace(d, area=Q_(0.1, "m**2")) for d in doors)
    found = by_rule(combustion_air_verdicts.judge(plant, room(**space | {"openings": small})))[
        "all air from indoors, standard volume"
    ]
    assert found.verdict == "fail" and found.provided == Q_(100, "m**3") and found.notes[0].code == "joined_not_counted"


def test_supply_must_replace_the_exhaust_and_be_interlocked():
    plant = row_plant(1, "draft hood", kilowatts=293.07107)  # 1000 MBH: 350 cfm, and 500 for the hood
    for cfm, interlocked, wanted in ((851, True, ("pass", "pass")), (849, False, ("fail", "fail"))):
        found = by_rule(combustion_air_verdicts.judge(plant, room(supply=Q_(cfm, "cfm"), interlocked=interlocked)))
        names = "mechanical supply of all the air", "interlock of the mechanical supply"
        assert tuple(found[n].verdict for n in names) == wanted


def test_known_tight_room_may_not_use_the_standard_method():
    found = by_rule(combustion_air_verdicts.judge(row_plant(1, "draft hood"), room(infiltration=0.3 * HOUR)))
    assert "all air from indoors, standard volume" not in found
    loose = by_rule(combustion_air_verdicts.judge(row_plant(1, "draft hood"), room(infiltration=0.9 * HOUR)))
    at_most = by_rule(combustion_air_verdicts.judge(row_plant(1, "draft hood"), room(infiltration=0.6 * HOUR)))
    rule = "all air from indoors, known infiltration"
    assert loose[rule].required == at_most[rule].required


def test_sealed_and_forced_appliances():
    plant = row_plant(2, "forced")
    assert combustion_air_verdicts.judge(plant, room(sealed=("B1", "B2"))) == ()
    natural, fan = room_air.inputs(plant, room(sealed=("B1",)))
    assert natural.m == 0.0 and fan.m_as("kW") == pytest.approx(300.0)
    assert (
        by_rule(combustion_air_verdicts.judge(plant, room()))["appliances not of category I"].verdict
        == "needs the authority's reading"
    )


def test_what_burns_oil_is_told_to_have_a_code_of_its_own():
    """NFPA 31 is that of oil burners, NFPA 54 that of gas (their titles); oil has no category to be told of."""
    plant = row_plant(2, "forced")
    oil = replace(plant.appliances[0], fuel=fuel("no. 2 oil"), category="III")
    found = by_rule(combustion_air_verdicts.judge(replace(plant, appliances=(oil, plant.appliances[1])), room()))
    told = found["oil burners"]
    assert told.verdict == "needs the authority's reading" and "NFPA 31" in told.source and "memory" in told.source
    assert "the code for oil burners governs B1," in combustion_air_words.verdict_sentence(told)
    assert combustion_air_words.verdict_sentence(found["appliances not of category I"]).count("B1") == 0
    assert "oil burners" not in by_rule(combustion_air_verdicts.judge(plant, room()))


def test_a_supply_counts_only_with_its_interlock():
    """Neither an interlock without air nor air without an interlock is a way to supply it."""
    plant = row_plant(1)
    for supply, interlocked, wanted in ((1e-3, True, False), (50.0, False, False), (50.0, True, True)):
        air = room(openings=(), leakage=room_air.Leakage(Q_(0.01, "m**3/s")), volume=Q_(20.0, "m**3"),
                   supply=Q_(supply, "m**3/s"), interlocked=interlocked)  # fmt: skip
        ways = combustion_air_verdicts.ways(plant, air)
        assert any(v.verdict == "pass" for v in ways) is wanted
        assert not any("interlock of" in v.rule for v in ways)
        assert any("interlock of" in v.rule for v in combustion_air_verdicts.judge(plant, air))


SINGLE = "all air from outdoors, a single opening high"
PAIR = "all air from outdoors, one opening high and one low"


def connectors_100_mbh(square_inches):
    """A hood of 100 MBH on a connector of so much area."""
    side = (4.0 * square_inches / 3.141592653589793) ** 0.5
    return row_plant(1, "draft hood", kilowatts=29.307107, connector_mm=25.4 * side)


@pytest.mark.parametrize(
    ("place", "free", "connector", "verdict"),
    [
        # NFPA 54 9.3.3.2: 3000 Btu/h an in2, so 33.3 in2 for 100 MBH; high; not less than the connectors' areas.
        ("high", 33.4, 20.0, "pass"),
        ("high", 33.2, 20.0, "fail"),
        ("high", 50.1, 50.0, "pass"),
        ("high", 49.9, 50.0, "fail"),
        ("low", 60.0, 20.0, "fail"),
    ],
)
def test_a_single_opening_stands_high_and_serves_its_area(place, free, connector, verdict):
    opening = room_air.Opening("one", Q_(free, "in**2"), place=place)
    plant = connectors_100_mbh(connector)
    found = by_rule(combustion_air_verdicts.judge(plant, room(openings=(opening,))))
    assert found[SINGLE].verdict == verdict and found[PAIR].verdict == "fail"
    served = 3000.0 * free if place == "high" else 0.0
    assert found[SINGLE].provided.m_as("Btu/hour") == pytest.approx(served, rel=1e-5)
    small = place == "low" or free < connector
    assert [n.code for n in found[SINGLE].notes] == (["smaller_than_connectors"] if small else [])


def test_the_smaller_of_a_pair_counts_whichever_it_is():
    """NFPA 54 9.3.3.1: 4000 Btu/h an in2 directly, 2000 through horizontal ducts; each of the two openings."""
    plant = connectors_100_mbh(20.0)
    for high, low, way, served in ((10.0, 40.0, "direct", 40e3), (40.0, 10.0, "direct", 40e3),
                                   (30.0, 40.0, "horizontal duct", 60e3)):  # fmt: skip
        pair = (room_air.Opening("a", Q_(high, "in**2"), way, place="high"),
                room_air.Opening("b", Q_(low, "in**2"), way, place="low"))  # fmt: skip
        found = by_rule(combustion_air_verdicts.judge(plant, room(openings=pair)))[PAIR]
        assert found.provided.m_as("Btu/hour") == pytest.approx(served, rel=1e-5)


def test_doors_to_other_rooms_serve_appliances_with_a_fan_as_well():
    """NFPA 54 9.3.2.3(1): 1000 Btu/h an in2: two doors of 150 in2 serve a hood of 100 MBH, and not a second boiler."""
    hood = connectors_100_mbh(20.0)
    both = row_plant(2, "draft hood", kilowatts=29.307107)
    both = replace(both, appliances=(both.appliances[0], row_plant(2, kilowatts=29.307107).appliances[1]))
    doors = tuple(room_air.Opening(n, Q_(150.0, "in**2"), "same story") for n in ("a", "b"))
    for plant, joins in ((hood, True), (both, False)):
        found = by_rule(combustion_air_verdicts.judge(plant, room(joined=Q_(600, "m**3"), openings=doors)))
        provided = found["all air from indoors, standard volume"].provided
        assert provided == Q_(900 if joins else 300, "m**3")


def test_openings_of_just_the_area_asked_for_join_the_rooms():
    """IFGC 304.5.3.1: an inch squared for each 1000 Btu/h: 100 and 100 in2 for 100 MBH, and no less."""
    plant, free = row_plant(1, "draft hood"), combustion_air.opening_area
    total = plant.appliances[0].levels[-1].heat_input
    for share, provided in ((1.0, 900.0), (0.999, 300.0)):
        doors = tuple(room_air.Opening(n, share * free(total, "same story"), "same story") for n in ("a", "b"))
        found = by_rule(combustion_air_verdicts.judge(plant, room(joined=Q_(600, "m**3"), openings=doors)))
        assert found["all air from indoors, standard volume"].provided.m_as("m**3") == provided


def test_a_room_of_just_the_volume_asked_for_passes():
    """IFGC 304.5.1: 50 ft3 for each 1000 Btu/h, no more."""
    plant = connectors_100_mbh(20.0)
    least = combustion_air.standard_volume(Q_(100.0, "MBH"))
    assert least.m_as("ft**3") == pytest.approx(5000.0)
    for share, verdict in ((1.0 + 1e-6, "pass"), (0.999, "fail")):
        found = by_rule(combustion_air_verdicts.judge(plant, room(volume=share * least)))
        assert found["all air from indoors, standard volume"].verdict == verdict
