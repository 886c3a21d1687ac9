"""Make-up air: the vent as drawn with the opening that its room lacks, solved and judged as a design of its own."""

from dataclasses import replace

import pytest

from ventcalc.job import job_file, remedy_outcome, study
from ventcalc.job.remedy import as_drawn
from ventcalc.show import page_one
from ventcalc.units import Q_
from ventcalc.vent import firing_states

JOB = """
[job]
name = "Boat house"
[site]
altitude = "100 ft"
air_opening_height = "1 ft"

[[season]]
name = "winter"
outdoor = "20 degF"
room = "68 degF"

[[season]]
name = "mild"
outdoor = "55 degF"
room = "70 degF"

[[appliance]]
name = "Heater"
fuel = "natural gas"
category = "I"
kind = "draft hood"
into = "connector"
outlet_diameter = "6 inch"
outlet_height = "5 ft"
window = ["-0.08 inH2O", "0 inH2O"]

[[appliance.level]]
name = "on"
input = "150 MBH"
co2 = "8 %"
flue_temperature = "420 degF"

[[section]]
name = "connector"
into = "stack"
length = "4 ft"
rise = "3 ft"
diameter = "6 inch"
material = "Type B gas vent"
fittings = ["elbow 90"]

[[section]]
name = "stack"
into = "roof"
length = "22 ft"
rise = "22 ft"
diameter = "6 inch"
material = "Type B gas vent"

[[termination]]
name = "roof"
cap = "low-resistance cap"

[room]
volume = "9000 ft**3"
leakage = { flow = "400 cfm", pressure = "50 Pa" }
infiltration = "0.5 1/hour"

[[room.opening]]
name = "high louver"
area = "60 inch**2"
place = "high"
[[room.opening]]
name = "low louver"
area = "60 inch**2"
place = "low"

[[room.exhaust]]
name = "paint hood"
flow = "500 cfm"
"""


@pytest.fixture(scope="module")
def boat_house(tmp_path_factory):
    """The job, its scan and the vent as drawn, without other remedies."""
    path = tmp_path_factory.mktemp("job") / "boat_house.toml"
    path.write_text(JOB, encoding="utf-8")
    job = job_file.load(path)
    scan = firing_states.scan(job.plant, job.seasons)
    return job, scan, study.assess(job, remedy_outcome.outcome(job, as_drawn(job), scan))


@pytest.fixture(scope="module")
def aired(boat_house):
    return study._aired(*boat_house, 0)


def told(drawn, aired):
    return " ".join(page_one._air(replace(drawn, aired=aired), "US"))


def test_the_opening_cures_what_the_exhaust_fan_does(boat_house, aired):
    """The fan turns the hood over; with the opening nothing speaks against it, and the house tests' limit is kept."""
    _, _, drawn = boat_house
    assert not drawn.buildable and {f.code for f in drawn.judgement.against} == {"spillage"}
    assert drawn.around.cure.states and aired.buildable
    # BPI's limit for a water heater by itself: -2 Pa (depressurization; the row names its source).
    assert all(e.limit == -2.0 and e.lowest_room >= -2.0 and not e.below_limit for e in aired.around.effects)
    assert not aired.around.cure.states  # it lacks nothing any more
    whole = replace(drawn, aired=aired, outcomes=(drawn.outcome,))
    assert "nothing speaks against the vent as drawn" in told(drawn, aired)
    assert page_one.page_one(whole, "US")["heading"] == "Give the room more air"
    assert whole.to_build is None  # the job as it stands is not to be built


def test_the_opening_is_as_large_as_it_must_be_and_little_more(boat_house, aired):
    """A tenth less would leave the room below the limit."""
    job, scan, drawn = boat_house
    (*own, added) = aired.job.room.openings
    assert tuple(own) == job.room.openings and added.area == drawn.around.cure.area
    less = replace(job, room=replace(job.room, openings=(*own, replace(added, area=0.9 * added.area))))
    found = study.assess(less, remedy_outcome.outcome(less, as_drawn(less), scan))
    assert any(e.below_limit for e in found.around.effects)


def test_what_air_does_not_cure_is_told(boat_house):
    """A vent whose outlet leaves its window without the fan too: air is no cure, and page one says by what it fails."""
    job, _, _ = boat_house
    a = job.plant.appliances[0]
    strict = replace(a, window=(Q_(-2.0, "Pa"), Q_(0.0, "Pa")))
    job = replace(job, plant=replace(job.plant, appliances=(strict,)))
    scan = firing_states.scan(job.plant, job.seasons)
    drawn = study.assess(job, remedy_outcome.outcome(job, as_drawn(job), scan))
    assert drawn.around.cure.beyond_air > 0
    found = study._aired(job, scan, drawn, 0)
    assert found is None or not found.buildable
    words = told(drawn, found)
    assert "alone is no cure" in words and "nothing speaks against" not in words


def test_vent_and_code_ask_for_a_supply_and_the_greater_governs(boat_house):
    """The code's rule by hand: 0.35 cfm for each MBH of 150, and what the exhaust fan takes, 500 cfm."""
    job, scan, _ = boat_house
    job = replace(job, room=replace(job.room, supply=Q_(60.0, "cfm"), interlocked=True))
    drawn = study.assess(job, remedy_outcome.outcome(job, as_drawn(job), scan))
    vent, code = drawn.around.supplies
    assert code.m_as("cfm") == pytest.approx(0.35 * 150.0 + 500.0, rel=1e-3)
    assert vent == drawn.around.cure.supply + Q_(60.0, "cfm")
    assert f"governs, {max(vent, code).m_as('cfm'):.0f} cfm" in told(drawn, None) + told(
        drawn, study._aired(job, scan, drawn, 0)
    )
