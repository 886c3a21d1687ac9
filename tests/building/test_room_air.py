"""Room air: leakage in air changes, who breathes there, and rooms that cannot be."""

from dataclasses import replace

import pytest
from sample_plants import row_plant
from sample_rooms import HOUR, room

from ventcalc import tables
from ventcalc.building import room_air
from ventcalc.draft import fan_table
from ventcalc.units import Q_

ROWS = {row["id"]: row for row in tables.read("combustion_air_checks")}


def test_leakage_in_air_changes():
    # R005: 1200 cfm at 50 Pa in 18,000 ft3 are 4.00 changes an hour; so 4 of them leak 1200 cfm.
    leak = room_air.Leakage.of_changes(float(ROWS["R005"]["value"]) * HOUR, Q_(18000, "ft**3"))
    assert leak.flow.m_as("cfm") == pytest.approx(1200.0)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: room_air.Opening("wall", Q_(0, "m**2")), "opening wall: area"),
        (lambda: room_air.Opening("wall", Q_(1, "m**2"), "single"), "way 'single'"),
        (lambda: room_air.Opening("wall", Q_(1, "m**2"), place="middle"), "place 'middle'"),
        (lambda: room_air.Opening("wall", Q_(1, "m**2"), coefficient=2.0), "coefficient 2 must be"),
        (lambda: room_air.Leakage(Q_(1, "cfm"), exponent=0.3), "exponent 0.3"),
        (lambda: room_air.Exhaust("hood", Q_(-1, "cfm")), "exhaust hood: flow"),
        (lambda: room_air.RoomAir(Q_(0, "m**3")), "room: volume"),
        (lambda: room_air.RoomAir(Q_(10, "m**3")), "nothing lets air in"),
        (
            lambda: room_air.RoomAir(Q_(10, "m**3"), (room_air.Opening("a", Q_(1, "m**2"), "same story"),)),
            "nothing lets air in",
        ),
        (lambda: room(openings=(room_air.Opening("a", Q_(1, "m**2")),) * 2), "two openings share a name"),
        (
            lambda: room_air.inputs(row_plant(2, "draft hood"), room(sealed=("B9",))),
            "no appliance named B9",
        ),
        (
            lambda: room_air.inputs(row_plant(2, "draft hood"), room(sealed=("B2",))),
            "B2 cannot be sealed",
        ),
    ],
)
def test_impossible_rooms_are_refused_by_name(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_only_what_takes_its_air_from_the_room_counts():
    # `row_plant` has boilers of 300 kW: under a hood one takes the room's air, with a fan of its own it may be sealed.
    natural, fan = room_air.inputs(row_plant(2, "draft hood"), room())
    assert (natural.m_as("kW"), fan.m) == pytest.approx((600.0, 0.0))
    natural, fan = room_air.inputs(row_plant(2, "forced"), room(sealed=("B1",)))
    assert (natural.m, fan.m_as("kW")) == pytest.approx((0.0, 300.0))


def test_the_wind_sees_openings_to_outdoors_and_the_leakage_on_all_walls():
    own = room(openings=(room_air.Opening("wall", Q_(0.1, "m**2"), side="north"),
                         room_air.Opening("door", Q_(1, "m**2"), "same story")))  # fmt: skip
    north, leak = room_air.wind_ways(own)
    assert (north.side, leak.side) == ("north", "all") and north.area == pytest.approx(0.6 * 0.1)
    assert len(room_air.wind_ways(replace(own, leakage=None))) == 1


@pytest.mark.parametrize(("abreast", "speed"), [(1, 1.0), (2, 1.0), (1, 0.5), (3, 0.6)])
def test_an_exhaust_fan_runs_between_its_stall_and_its_free_flow(abreast, speed):
    # By the fan laws both go with the speed (AMCA 201, from memory); fans abreast each take their part.
    one = fan_table.fan(fan_table.names("in-line")[0])
    fans = replace(one, abreast=abreast)
    least, most = (flow * abreast * speed for flow in (one.stall_flow.m_as("m**3/s"), one.free_flow))
    for flow in (1.001 * least, 0.999 * most):
        room_air.Exhaust("hood", Q_(flow, "m**3/s"), fans, speed)
    for flow in (0.999 * least, 1.001 * most):
        with pytest.raises(ValueError, match="exhaust hood: flow .* must lie between the fan's stall"):
            room_air.Exhaust("hood", Q_(flow, "m**3/s"), fans, speed)


def test_what_a_room_is_not_given_it_does_not_have():
    bare = room_air.RoomAir(Q_(10, "m**3"), (room_air.Opening("a", Q_(1, "m**2")),))
    assert bare.supply.m == 0.0 and bare.joined.m == 0.0 and bare.infiltration is None
    assert not bare.interlocked and not bare.sealed and not bare.exhausts and bare.leakage is None
    assert room_air.Exhaust("hood", Q_(100, "cfm")).speed == 1.0


def test_walls_that_leak_nothing_let_no_air_in():
    with pytest.raises(ValueError, match="nothing lets air in"):
        room_air.RoomAir(Q_(10, "m**3"), leakage=room_air.Leakage(Q_(0, "cfm")))
