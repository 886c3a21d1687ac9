"""Job control: set point, limits and the remedy that a file offers."""

import re
from types import SimpleNamespace

import pytest
from sample_files import FILES, GOOD

from ventcalc.job import job_control, job_file
from ventcalc.units import Q_


@pytest.mark.parametrize(
    ("set_point", "proof", "low", "high"),
    [("-0.05", -0.02, -0.09, 0.08), ("-0.02", -0.008, -0.09, 0.08), ("-0.15", -0.06, -0.19, -0.02)],
)
def test_limits_and_proof_fit_the_set_point(set_point, proof, low, high):
    """Proof is draft, at 40 % of a set point that is; limits stay where they usually are as long as they can."""
    text = GOOD.replace(
        'name = "fan and damper"\nset_point = "-0.02', f'name = "fan and damper"\nset_point = "{set_point}'
    )
    found = job_file.read(text.encode()).sequence
    shown = [found.proof, found.low_limit, found.high_limit]
    assert [float(v.m_as("inH2O")) for v in shown] == pytest.approx([proof, low, high], abs=1e-9)


HOSPITAL = (FILES / "hospital.toml").read_text(encoding="utf-8")


def test_a_fan_that_stands_there_turns_at_one_speed():
    found = job_file.read(HOSPITAL.encode()).existing
    assert found.drive.fan.name == "roof 24" and found.interlocked
    assert found.drive.least_speed == found.drive.most_speed == pytest.approx(0.70)
    plain = job_file.read(HOSPITAL.replace('speed = "70 %"\ninterlocked = true\n', "").encode())
    assert plain.existing.drive.most_speed == 1.0 and not plain.existing.interlocked  # burners that nothing stops
    assert any(line.startswith("existing_fan.speed = 100") for line in plain.defaults)
    assert any(line.startswith("existing_fan.interlocked = False") for line in plain.defaults)
    assert job_file.read(GOOD.encode()).existing is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('name = "roof 24"', 'name = "roof 25"', "existing_fan: no fan named 'roof 25'; did you mean"),
        ('speed = "70 %"', 'speed = "5 %"', "existing_fan: speed 5% of rated: roof 24 turns at"),
        ('speed = "70 %"', 'speed = "300 %"', "existing_fan: speed 300% of rated"),
        ('speed = "70 %"', "speed = 70", "existing_fan.speed: the unit is missing"),
        ("interlocked = true", 'interlocked = "yes"', "existing_fan.interlocked"),
        (
            'cap = "open end"',
            'cap = "rain cap"',
            'existing_fan: roof 24 is a roof fan and ends the vent: the cap of "roof"',
        ),
    ],
)
def test_a_fan_that_cannot_stand_there_is_refused(old, new, words):
    assert old in HOSPITAL
    with pytest.raises(job_file.JobError, match=words):
        job_file.read(HOSPITAL.replace(old, new).encode())


@pytest.mark.parametrize(("states", "flow", "codes"), [
    (("off", "low", "mid", "high"), None, (0.0, 1.0, 3.0)),
    (("off", "purge", "low", "mid", "high"), Q_(0.02, "m**3/s"), (1.0, 2.0, 4.0)),
])  # fmt: skip
def test_a_burner_purges_lights_and_runs_in_the_states_of_these_names(states, flow, codes):
    """By hand: low fire is the first state after the purge, high fire the last of all."""
    boiler = SimpleNamespace(name="A", states=states, purge_flow=flow)
    assert job_control._burner(boiler, SimpleNamespace(chamber=Q_(0.1, "m**3"))).codes == codes


@pytest.mark.parametrize(("told", "share"), [("0.2 %", 0.002), ("10 %", 0.1), ("0.001 %", 1e-5)])
def test_the_step_of_an_actuator_is_read_or_usual(told, share):
    assert job_file.read(GOOD.encode()).actuator_step == 0.01
    text = re.sub(r"\[control\]\n", f'[control]\nactuator_step = "{told}"\n', GOOD)
    assert job_file.read(text.encode()).actuator_step == pytest.approx(share)


@pytest.mark.parametrize("told", ["0 %", "11 %", "1", "-1 %", "2 ft"])
def test_a_step_that_no_actuator_has_is_refused(told):
    text = re.sub(r"\[control\]\n", f'[control]\nactuator_step = "{told}"\n', GOOD)
    with pytest.raises(job_file.JobError, match="actuator_step"):
        job_file.read(text.encode())
