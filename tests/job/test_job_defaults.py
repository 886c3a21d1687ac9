"""Job defaults: whatever a file left out is listed, with what was taken."""

import re
from dataclasses import replace

import pytest
from sample_files import FILES, GOOD, SILENT

from ventcalc.job import job_defaults, job_file
from ventcalc.units import Q_


def test_what_is_not_told_of_the_wind_is_listed():
    text = GOOD.replace('air_opening_side = "north"\nshielding = "semi-sheltered"\n', "")
    loaded = job_file.read(text.encode())
    assert not loaded.plant.exposure.told
    assert "site.shielding = exposed" in loaded.defaults
    assert any(d.startswith("wind: an opening's side is not told") for d in loaded.defaults)
    roofless = (FILES / "lodge.toml").read_text(encoding="utf-8").replace('place = "clear"\n', "")
    assert (
        'termination "top".place = near roof, where wind blows down on it' in job_file.read(roofless.encode()).defaults
    )
    assert not any("wind:" in d for d in job_file.load(FILES / "swim_hall.toml").defaults)


def test_every_default_is_listed():
    loaded = job_file.load(FILES / "laundry.toml")
    assert "site.air_opening_height = 0.984 ft" in loaded.defaults  # 0.3 m of 0.3048 m to a foot (exact, NIST SP 811)
    assert "control.set_point = -0.05 in. w.c." in loaded.defaults
    assert 'section "riser".place = room' in loaded.defaults
    assert not any(".length" in d for d in loaded.defaults)
    # What has no usual value, and what is empty unless it is told, matters to no result.
    assert not any(d.endswith((" = None", " = []", " = ")) for d in loaded.defaults)


def test_where_a_shaft_opens_is_listed_where_it_is_not_told():
    """It sets the weight of the shaft's air, against which the stack in it is judged: tall, that is much."""
    text = (FILES / "hospital.toml").read_text(encoding="utf-8")
    told = 'place "shaft".air_opening_height = 8 ft, as of the boiler room'  # site.air_opening_height of the file
    assert told in job_file.read(text.encode()).defaults
    opened = text.replace('[[place]]\nname = "shaft"', '[[place]]\nname = "shaft"\nair_opening_height = "60 ft"')
    assert not any("as of the boiler room" in d for d in job_file.read(opened.encode()).defaults)


def test_a_stack_that_is_cut_at_its_foot_is_told():
    """Without its connector the boiler of the file stands right under the flue."""
    text = (FILES / "masonry_retrofit.toml").read_text(encoding="utf-8")
    loaded = job_file.read(text.encode())
    assert not any("is told apart" in d for d in loaded.defaults)
    lone = re.sub(r"\[\[section\]\]\nname = \"connector\".*?(?=\[\[section\]\])", "", text, flags=re.DOTALL)
    cut = job_file.read(lone.replace('into = "connector"', 'into = "flue"').encode())
    flue = loaded.plant.section("flue")
    assert [s.name for s in cut.plant.order] == ["foot of flue", "flue"]
    told = f'section "flue": its first {flue.diameter.m_as("ft"):.3g} ft is told apart as "foot of flue"'
    assert any(d.startswith(told) for d in cut.defaults)


def test_defaults_are_told_in_the_units_of_the_file():
    """By NIST SP 811: 0.1 inch is 2.54 mm, -0.05 in. w.c. are -12.45 Pa (249.0889 Pa each)."""
    text = (FILES / "laundry.toml").read_text(encoding="utf-8")
    metric = job_defaults._told
    assert metric(Q_(-0.05, "inH2O"), "SI") == "-12.5 Pa" and metric(Q_(0.1, "inch"), "SI") == "2.54 mm"
    assert metric(Q_(1.0, "m/s"), "US") == "2.24 mph" and metric(Q_(0.0, "m"), "US") == "0 ft"
    assert metric(Q_(4000, "hour"), "US") == "4000 h" and metric(Q_(60.0, "percent"), "US") == "60 %"
    told = " ".join(job_file.read(text.encode()).defaults).split()
    assert not {"m", "Pa", "m/s", "m³"} & set(told)
    silent = " ".join(d for d in job_file.read(SILENT.encode()).defaults if ".idle" in d)
    assert "cfm at" in silent and "in. w.c." in silent and "Pa" not in silent


def test_what_is_not_told_of_idle_is_the_worse_and_listed():
    loaded = job_file.read(SILENT.encode())
    told = job_file.read(GOOD.encode())
    for silent, said in zip(loaded.plant.appliances, told.plant.appliances, strict=True):
        assert silent.idle == "leaking"
        # Flow at one pressure by dp = R q^2: the one not told leaks more.
        at_25 = [float(a.leak.flow.m_as("cfm") * (25.0 / a.leak.pressure.m_as("Pa")) ** 0.5) for a in (silent, said)]
        assert at_25[0] > at_25[1]
    assert sum("].idle = leaking" in d or '".idle = leaking, ' in d for d in loaded.defaults) == 3
    assert not any("idle" in d for d in told.defaults)


def test_a_flap_against_backflow_can_be_told():
    flap = job_file.read(SILENT.replace('purge_flow = "400', 'backflow_flap = true\npurge_flow = "400').encode())
    open_, shut = job_file.read(SILENT.encode()).plant.appliances[0], flap.plant.appliances[0]
    assert shut.idle == "leaking" and 0.0 < shut.leak.flow.m < open_.leak.flow.m
    assert any('"Boiler 1".idle = leaking' in d and "with its flap shut" in d for d in flap.defaults)


def test_a_leak_that_is_told_counts_though_idle_is_not():
    loaded = job_file.read(GOOD.replace('idle = "leaking"\n', "").encode())
    boiler = loaded.plant.appliances[0]
    assert boiler.idle == "leaking" and boiler.leak.flow.m_as("cfm") == pytest.approx(25.0)
    assert 'appliance "Boiler 1".idle = leaking' in loaded.defaults


def test_an_appliance_alone_has_no_neighbor_to_fear():
    loaded = job_file.load(FILES / "laundry.toml")
    assert loaded.plant.appliances[0].idle == "sealed"
    assert 'appliance "Boiler".idle = sealed' in loaded.defaults


def test_a_season_of_which_no_humidity_is_told_has_sixty_percent():
    """Common practice, no source: between a dry winter day and a humid summer one."""
    silent = "\n".join(line for line in GOOD.splitlines() if not line.startswith("relative_humidity"))
    loaded = job_file.read(silent.encode())
    assert [s.relative_humidity for s in loaded.seasons] == pytest.approx([0.6] * len(loaded.seasons))
    assert sum("relative_humidity = 60" in d for d in loaded.defaults) == len(loaded.seasons)


def test_a_chamber_that_is_not_told_is_sized_by_the_greatest_input_and_sets_the_purge():
    """0.4 m3 for a megawatt (common practice, no source: some 2.5 MW/m3 in a boiler's furnace), by hand.

    A chamber of 2000 MBH, 586 kW, so has 0.234 m3, 8.3 ft3; four changes of it at 400 cfm last 5 s, and the least
    purge of the table counts.
    """
    silent = "\n".join(line for line in GOOD.splitlines() if not line.startswith("chamber"))
    loaded = job_file.read(silent.encode())
    for burner, appliance in zip(loaded.sequence.burners, loaded.plant.appliances, strict=True):
        greatest = max(float(level.heat_input.m_as("MW")) for level in appliance.levels)
        assert float(burner.chamber.m_as("m**3")) == pytest.approx(0.4 * greatest)
    assert sum("chamber" in d for d in loaded.defaults) >= len(loaded.plant.appliances)
    settings = replace(loaded.sequence, least_purge=loaded.sequence.least_purge * 0.0 + Q_(1.0, "s"))
    burner = settings.burners[0]
    by_hand = settings.changes * (burner.chamber + settings.vent_volume) / burner.purge_flow
    assert float(settings.purge(burner).m_as("s")) == pytest.approx(max(float(by_hand.m_as("s")), 1.0))
