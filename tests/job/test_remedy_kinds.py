"""Every kind of remedy, offered by some small job and solved; a page for every kind that moves something."""

import pytest
from sample_remedies import DEVICES, KINDS, compared_with, named, small_study

from ventcalc.job import remedy_words
from ventcalc.show import page, pictures, plots, results
from ventcalc.vent.common_vent import solve


@pytest.mark.slow
@pytest.mark.parametrize("name", KINDS)
def test_every_kind_is_offered_by_some_job_and_solved(name):
    one, outcomes = compared_with(**KINDS[name])
    o = named(outcomes, name)
    assert o.settled.all() and o.scan.solution.converged.all() and not o.unsettled
    assert len(o.envelopes) == len(one.plant.appliances)
    assert (
        remedy_words.words(o.remedy) != "nothing is changed"
        and remedy_words.reasons(o)
        and remedy_words.listed(o.remedy)
    )
    moves = "fan" in name or "damper" in name
    assert bool(o.remedy.devices) == moves == bool(o.held)
    assert o.remedy.rebuilt == (name not in DEVICES)
    # A remedy that moves nothing, solved again from nothing; a flue that may turn over has more roots behind the first.
    if not moves:
        first = o.scan.first
        again = solve(o.remedy.plant, one.seasons, first.states)
        runs = first.states.codes > 0
        assert again.outlet_pressure[runs] == pytest.approx(first.solution.outlet_pressure[runs], abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("kind", DEVICES)
def test_the_page_of_every_remedy_that_moves_something(kind, monkeypatch):
    found = small_study(kind)
    assert found.offered is not None and found.offered.outcome.remedy.name.startswith(kind)
    # The pictures have tests of their own; what is asked here is that the page has all it asks for.
    monkeypatch.setattr(plots, "png", lambda *_, **__: b"")
    for system in ("US", "SI"):
        html = page.html(results.results(found, system), pictures.figures(found, system))
        assert kind in html and "the remedy proposed" in html.lower()
