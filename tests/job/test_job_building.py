"""Job building: wind, roof and terminals as a job file tells them."""

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
