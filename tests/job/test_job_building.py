"""Job building: wind, roof and terminals as a job file tells them."""

import pytest
from sample_files import FILES, edited

from ventcalc.job import job_file


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
