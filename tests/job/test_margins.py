"""Margins: what is uncertain of them, by hand."""

from itertools import pairwise

import numpy as np
import pytest
from sample_remedies import compared_with, named

from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import margins


def test_what_is_uncertain_of_a_margin_by_hand():
    one, outcomes = compared_with("small")
    drawn, held = named(outcomes, "as drawn"), named(outcomes, "fan")
    for o in (drawn, held):
        margin, doubt = margins.margins(o.scan), margins.uncertainty(o.scan, o.held)
        runs = o.scan.states.codes > 0
        assert (np.isnan(margin) == ~runs).all() and (doubt[runs] > 0.0).all()
        assert np.nanmin(margin, axis=1) == pytest.approx([e.margin for e in o.envelopes], abs=0.06)
        least, beside = o.margins
        assert (least - beside) == pytest.approx(np.nanmin(margin - doubt, axis=1))
    # Nothing held: a quarter of all that is lost on the way to the open. Held: sensor and what lies between.
    state = int(drawn.scan.states.codes.sum(axis=0).argmax())
    solution, plant = drawn.scan.solution, one.plant
    way = [plant.row(s.name) for s in plant.path("Boiler A")]
    lost = solution.loss[way, state].sum() + abs(solution.pressure_down[way[-1], state])
    lost += sum(abs(solution.pressure_down[a, state] - solution.pressure_up[b, state])
                for a, b in pairwise(way))  # fmt: skip
    assert margins.uncertainty(drawn.scan, drawn.held)[0, state] == pytest.approx(0.25 * lost)
    sensor = 0.01 * 0.5 * 249.08891
    assert sensor < margins.uncertainty(held.scan, held.held)[0].max() < sensor + 0.25 * lost
    assert held.held.controls[0].sensor == HEADER
