"""Job building: wind, roof and terminals as a job file tells them."""

from dataclasses import replace

import pytest
from sample_files import FILES, edited

from ventcalc.job import design, job_building, job_file, vent_changes
from ventcalc.job.remedy import Remedy


def test_wind_of_a_job():
    """The scene shows that the terminal stands low over its roof; the louvers stand where the site's opening does."""
    plant = job_file.load(FILES / "swim_hall.toml").plant
    assert plant.terminations[0].place == "near roof"  # 5 ft over a roof that the wind recirculates over for 18 ft
    assert plant.exposure.pitch == "below 10" and plant.exposure.shielding == "semi-sheltered"
    assert plant.exposure.told and [way.side for way in plant.exposure.ways] == ["north", "north", "all"]
    high = job_file.read(edited('x = "30 ft"', 'x = "30 ft"\noutlet = "90 ft"')).plant
    assert high.terminations[0].place == "clear"
    given = job_file.read(edited('cap = "low-resistance cap"', 'cap = "low-resistance cap"\nplace = "clear"')).plant
    assert given.terminations[0].place == "clear"


def test_a_terminal_knows_what_stands_behind_it():
    school = job_file.load(FILES / "school.toml").roof.terminals[0]
    assert set(school.categories) == {"I", "IV"} and school.hooded and "category IV" in school.contradiction.words()
    hall = job_file.load(FILES / "swim_hall.toml").roof.terminals[0]
    assert set(hall.categories) == {"IV"} and hall.hooded is False and not hall.contradiction


def test_heights_of_a_terminal_are_counted_from_where_the_scene_counts_them():
    """The same vent in a scene whose zero lies ten feet under the boiler room's floor: hood and outlet ten higher."""
    as_drawn = job_file.load(FILES / "school.toml").roof.terminals[0]
    text = (FILES / "school.toml").read_text(encoding="utf-8")
    assert "\n[roof]\n" in text and "\nfloor" not in text
    higher = job_file.read(text.replace("\n[roof]\n", '\n[roof]\nfloor = "10 ft"\n').encode()).roof.terminals[0]
    assert float((higher.hood - as_drawn.hood).m_as("ft")) == pytest.approx(10.0)
    assert float((higher.outlet - as_drawn.outlet).m_as("ft")) == pytest.approx(10.0)
    # The hood is the highest of the appliances' outlets behind it.
    plant = job_file.load(FILES / "school.toml").plant
    highest = max(float(a.outlet_height.m_as("m")) for a in plant.appliances)
    assert float(as_drawn.hood.m_as("m")) == pytest.approx(highest)


STACK = 'length = "38 ft"\nrise = "38 ft"\ndiameter = "16 inch"'


@pytest.mark.parametrize(("feet", "place"), [(19.0, "near roof"), (57.0, "clear")])
def test_a_stack_of_another_height_ends_where_a_file_with_that_height_has_its_end(feet, place):
    """As a remedy, and written into the file: one height over the roof, one place in the wind."""
    drawn = job_file.load(FILES / "swim_hall.toml")
    by_hand = job_file.read(edited(STACK, STACK.replace("38 ft", f"{feet} ft")))
    changed = vent_changes.with_top(drawn.plant, feet / 38.0)
    placed = job_building.in_the_wind(drawn.roof, drawn.plant, changed)
    assert placed.terminations == by_hand.plant.terminations and placed.terminations[0].place == place
    built = design.Design(drawn, Remedy("taller stack", placed, drawn.plant)).built
    (ours,), (theirs,) = built.roof.terminals, by_hand.roof.terminals
    assert ours.low == pytest.approx(theirs.low) and ours.radius == pytest.approx(theirs.radius)
    assert drawn.roof.terminals[0].low - ours.low == pytest.approx((38.0 - feet) * 0.3048)
    assert built.roof.scene is drawn.roof.scene


def test_a_wider_stack_has_a_wider_terminal():
    drawn = job_file.load(FILES / "swim_hall.toml")
    by_hand = job_file.read(edited(STACK, STACK.replace("16 inch", "20 inch")))
    changed = vent_changes.sized(drawn.plant, ("stack",), 2)
    built = design.Design(drawn, Remedy("larger vent", changed, drawn.plant)).built
    assert built.roof.terminals[0].radius == pytest.approx(by_hand.roof.terminals[0].radius)
    assert job_building.in_the_wind(drawn.roof, drawn.plant, changed) is changed


def test_a_place_that_the_file_gives_against_its_scene_stays():
    given = job_file.read(edited('cap = "low-resistance cap"', 'cap = "low-resistance cap"\nplace = "clear"'))
    shorter = vent_changes.with_top(given.plant, 0.5)
    assert job_building.in_the_wind(given.roof, given.plant, shorter).terminations[0].place == "clear"
    # What is given for the bottom of a cap, or for the outlet, moves along.
    told = 'x = "30 ft"\noutlet = "60 ft"\ncap_bottom = "58 ft"'
    drawn = job_file.read(edited('x = "30 ft"', told))
    (end,) = job_building.rebuilt(drawn.roof, drawn.plant, vent_changes.with_top(drawn.plant, 0.5)).terminals
    assert (end.outlet.m_as("ft"), end.cap_bottom.m_as("ft")) == pytest.approx((41.0, 39.0))
    assert job_building.in_the_wind(None, drawn.plant, replace(drawn.plant)) == drawn.plant
