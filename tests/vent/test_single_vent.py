"""Single vent: one appliance, a rise, a run."""

from dataclasses import replace

import pytest
from sample_single_vents import HOOD, SPRING

from ventcalc.flow.materials import material
from ventcalc.job import job_file
from ventcalc.vent import single_vent, vent_sizing


def test_one_appliance_only():
    school = job_file.demonstration("school")
    with pytest.raises(ValueError, match="for one on its own vent"):
        vent_sizing.capacity(school.plant, school.seasons[0])


def test_a_rise_in_pieces_is_one_where_nothing_tells_them_apart():
    rise = HOOD.sections[1]
    third = {"length": rise.length / 3.0, "rise": rise.rise / 3.0}
    pieces = [replace(rise, name=name, into=into, **third) for name, into in (("rise", "b"), ("b", "c"), ("c", "top"))]

    def joined(**upper):
        plant = replace(HOOD, sections=(HOOD.sections[0], *pieces[:2], replace(pieces[2], **upper)))
        return single_vent.with_joined_rise(plant)

    assert single_vent.with_joined_rise(HOOD) is HOOD
    (one,) = joined().sections[1:]
    assert (one.name, one.into) == ("rise", "top")
    for size in ("length", "rise", "diameter"):
        assert getattr(one, size).m_as("m") == pytest.approx(getattr(rise, size).m_as("m"), rel=1e-12)
    assert single_vent.with_joined_rise(joined()) == joined()
    # What differs in its bore, its material or its place is another piece; and so is what lies below it.
    for upper in (
        {"diameter": 1.01 * rise.diameter},
        {"material": material("tile-lined masonry chimney")},
        {"place": "outdoors"},
    ):
        assert len(joined(**upper).sections) == 4


def test_a_vent_must_have_what_is_asked_for():
    flat = replace(HOOD, sections=(replace(HOOD.sections[0], into="top"),))
    with pytest.raises(ValueError, match="no section of the vent is upright"):
        vent_sizing.least_height(flat, SPRING)
    upright = replace(HOOD, sections=(HOOD.sections[1],), feeds=("rise",))
    with pytest.raises(ValueError, match="every section of the vent is upright"):
        vent_sizing.longest_run(upright, SPRING)
