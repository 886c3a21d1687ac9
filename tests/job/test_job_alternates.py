"""Job alternates: what may stand in place of an appliance."""

import pytest
from sample_files import FILES, SCHOOL

from ventcalc.job import job_file, loop_settings
from ventcalc.job.remedy import Remedy

HEATER = """
[[alternate]]
name = "a smaller heater"
appliances = ["Water heater"]

[alternate.appliance]
fuel = "natural gas"
category = "I"
kind = "draft hood"
outlet_diameter = "5 inch"
outlet_height = "6 ft"
window = ["-0.06 inH2O", "0 inH2O"]

[[alternate.appliance.level]]
name = "on"
input = "100 MBH"
co2 = "7 %"
flue_temperature = "400 degF"
"""


def test_an_appliance_replaced_keeps_its_place_and_name():
    (_, changed) = job_file.read((SCHOOL + HEATER).encode()).alternates
    heater, plant = changed.job.plant.appliances[0], changed.job.plant
    assert (heater.name, plant.feeds[0]) == ("Water heater", "hood connector") and changed.job.name == changed.name
    assert heater.outlet_diameter.m_as("inch") == pytest.approx(5.0)
    assert changed.window[0].m_as("inH2O") == pytest.approx(-0.06)
    # The roof's terminal counts the input that is behind it.
    assert changed.job.roof.terminals[0].heat_input.m_as("MBH") == pytest.approx(1700.0)


def test_a_window_in_another_unit_than_the_file_is_the_same_window():
    """By hand: 12.454 Pa is 0.05 in. w.c. (NIST SP 811: 249.0889 Pa); the appliance told its own in inches."""
    told = HEATER[: HEATER.index("[alternate.appliance]")] + 'window = ["-12.454 Pa", "24.909 Pa"]\n'
    (_, changed) = job_file.read((SCHOOL + told).encode()).alternates
    for window in (changed.window, changed.job.plant.appliances[0].window):  # told, and judged
        assert [float(w.m_as("inH2O")) for w in window] == pytest.approx([-0.05, 0.10], abs=1e-5)


def test_burners_start_by_the_same_settings_with_every_make():
    """What the file says of sensor and limits belongs to the remedy that it offers, whatever stands on the vent."""
    given = '[sequence]\nproof = "-0.012 inH2O"\nsensor_most = "1 inH2O"\nlow_limit = "-0.15 inH2O"\n\n[control]'
    one = job_file.read((FILES / "swim_hall.toml").read_text(encoding="utf-8").replace("[control]", given, 1).encode())
    assert one.offered.set_point.m_as("inH2O") == pytest.approx(-0.02) != one.set_point.m_as("inH2O")
    remedy = Remedy("fan and damper", one.plant, set_point=one.offered.set_point)
    settings = loop_settings.settings_of(one, remedy)
    assert settings.proof.m_as("inH2O") == pytest.approx(-0.012)
    for a in one.alternates:
        assert loop_settings.settings_of(a.job, remedy) == settings
        assert a.job.offered is None and a.job.alternates == ()


def test_what_is_taken_away_takes_its_own_sections_along():
    (orphan,) = job_file.read(SCHOOL.encode()).alternates
    plant = orphan.job.plant
    assert [a.name for a in plant.appliances] == ["Water heater"] and orphan.window is None
    assert [s.name for s in plant.order] == ["hood connector", "header 3", "stack"]
    assert plant.section("hood connector").junction == "straight tee"  # the header is capped behind it


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("removed = true", 'removed = true\nwindow = ["0 Pa", "9 Pa"]', "exactly one of window, appliance and removed"),
        ("removed = true", "", "exactly one of window, appliance and removed"),
        ('appliances = ["Boiler 1", "Boiler 2"]\nremoved', 'appliances = ["Boiler 9"]\nremoved', "no appliance named"),
        (
            'appliances = ["Boiler 1", "Boiler 2"]\nremoved',
            'appliances = ["Water heater", "Boiler 1", "Boiler 2"]\nremoved',
            "nothing would be left",
        ),
    ],
)
def test_an_alternate_says_one_thing(old, new, said):
    with pytest.raises(job_file.JobError, match='alternate "boilers on a vent of their own"') as caught:
        job_file.read(SCHOOL.replace(old, new).encode())
    assert said in str(caught.value)


def test_a_faulty_appliance_of_an_alternate_is_told_with_its_place():
    with pytest.raises(job_file.JobError, match='alternate "a smaller heater"'):
        job_file.read((SCHOOL + HEATER.replace('category = "I"', 'category = "V"')).encode())
