"""Job form of the building: what is left out of a room or a roof, and what must be there."""

import pytest
from pydantic import ValidationError

from ventcalc.job.job_form_building import CarbonMonoxide, Roof, Room, Terminal


def test_a_room_needs_its_volume_alone():
    room = Room(volume="9000 ft**3")
    assert room.opening == room.exhaust == [] and room.supply.m == 0.0 and not room.interlocked
    with pytest.raises(ValidationError, match="volume"):
        Room()


def test_a_roof_has_a_plane_and_a_terminal():
    terminal = {"name": "top", "x": "1 m", "y": "1 m", "kind": "vent with listed cap"}
    with pytest.raises(ValidationError) as caught:
        Roof(plane=[], terminal=[terminal])
    assert caught.value.errors()[0]["loc"] == ("plane",)
    assert Terminal(**terminal).through == "roof"


def test_carbon_monoxide_is_followed_for_eight_hours_of_light_work():
    """The usual working day of the limits of a workplace (8 h averages, from memory)."""
    case = CarbonMonoxide(air_changes="0.5 1/hour", co_air_free="400 ppm")
    assert case.hours.m_as("hour") == 8.0 and case.activity == "light work" and case.monitor is None
