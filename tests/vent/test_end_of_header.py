"""End of the header: where it is, and against which room its pressure is read."""

from dataclasses import replace

import pytest
from sample_plants import SEASONS, one_state, row_plant, with_sections

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Place
from ventcalc.vent.network import PlaceAir, compile_network

JOBS = tables.DATA / "jobs"


def test_far_end_is_where_the_farthest_appliance_enters(swim_hall):
    assert end_of_header.far_end(swim_hall.plant) == "header 1"
    assert end_of_header.far_end(job_file.load(JOBS / "laundry.toml").plant) == "riser"


def read(place, attic=-4.0, boiler_room=3.0):
    """Pressure [Pa] read at the end of the header that runs through a place, and its static pressure in the vent."""
    plant = row_plant(2)
    other = replace(plant.appliances[1], room="attic")
    plant = replace(plant, places=(Place("attic"), Place("shaft")), appliances=(plant.appliances[0], other))
    plant = with_sections(plant, header_1={"place": place})
    winter = SEASONS[0]
    air = tuple(PlaceAir(name, winter.room, Q_(gauge, "Pa")) for name, gauge in (("attic", attic), ("shaft", -9.0)))
    season = replace(winter, room_pressure=Q_(boiler_room, "Pa"), places=air)
    found = solve(plant, (season,), one_state([2, 2]))
    row = found.row("header 1")
    static = found.pressure_up[row, 0] - found.head_up[row, 0]
    return end_of_header.far_end_pressure(found, compile_network(plant, (season,)))[0], static


@pytest.mark.parametrize(("place", "against"), [("room", 3.0), ("attic", -4.0), ("shaft", 3.0), ("outdoors", 3.0)])
def test_the_header_is_read_against_the_room_it_runs_through(place, against):
    """By hand: static pressure in the vent less the room's, at the height of the boiler room's gauge: +3 and -4 Pa
    at the floor. A shaft has no boiler and no sensor: there the boiler room's counts."""
    pressure, static = read(place)
    floor, _ = read(place, attic=0.0, boiler_room=0.0)
    assert floor - pressure == pytest.approx(against, abs=1e-6)
    assert abs(static - pressure - against) < 5.0  # the rest is what the room's own air weighs up to that height


@pytest.mark.parametrize("header_mm", [250.0, 400.0])
def test_what_is_read_is_static_and_lacks_the_velocity_head(header_mm):
    """Bernoulli by hand: total pressure at the section's beginning less half the density times the square of the speed
    there; air outdoors as warm as the room's, so that the room weighs nothing against it."""
    plant = row_plant(2, header_mm=header_mm)
    season = replace(SEASONS[1], outdoor=SEASONS[1].room, room_pressure=Q_(0.0, "Pa"))
    found = solve(plant, (season,), one_state([2, 2]))
    row, section = found.row("header 1"), plant.section("header 1")
    flow, density = float(found.flow[row, 0]), float(found.density[row, 0])
    head = 0.5 * density * (flow / density / float(section.area)) ** 2
    read = end_of_header.far_end_pressure(found, compile_network(plant, (season,)))[0]
    assert found.pressure_up[row, 0] - read == pytest.approx(head, rel=0.05) and head > 0.5
