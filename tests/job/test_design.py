"""Design: the vent as drawn and every remedy are one kind of thing."""

from dataclasses import replace

import pytest
from sample_studies import JOBS

from ventcalc.building import terminal
from ventcalc.draft import fan_table
from ventcalc.draft.fan_drive import Drive
from ventcalc.job import design, job_file
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_


@pytest.fixture(scope="module")
def school():
    return job_file.load(JOBS["school"])


def test_the_vent_as_drawn_is_a_design_that_changes_nothing(school):
    drawn = design.drawn(school)
    assert drawn.built.plant is school.plant and drawn.built.set_point == school.set_point
    assert drawn.fan is None and drawn.terminals == school.roof.terminals


def test_a_remedy_brings_its_own_vent_set_point_and_fan(school):
    fan = fan_table.fan("roof 12")
    plant = school.alternates[0].job.plant
    held = Remedy("fan", plant, fan=Drive(fan, 0.3, 1.0), set_point=2.0 * school.set_point)
    made = design.Design(school, held)
    assert made.built.plant is plant and made.built.set_point == 2.0 * school.set_point and made.fan is fan
    # A fan in the vent makes its terminal one of mechanical draft.
    assert all(t.fan or t.kind == terminal.FAN for t in made.terminals)


def test_the_roof_of_a_design_carries_the_vent_that_would_be_built(school):
    """A stack that is made 5 ft taller ends 5 ft higher on the roof."""
    top = next(s for s in school.plant.sections if s.into == school.plant.terminations[0].name)
    taller = replace(top, length=top.length + Q_(5, "ft"), rise=top.rise + Q_(5, "ft"))
    plant = replace(school.plant, sections=tuple(taller if s is top else s for s in school.plant.sections))
    built = design.Design(school, Remedy("taller stack", plant)).built
    moved = [(b.outlet - t.outlet).m_as("ft") for b, t in zip(built.roof.terminals, school.roof.terminals, strict=True)]
    assert moved == pytest.approx([5.0] * len(moved)) and moved
