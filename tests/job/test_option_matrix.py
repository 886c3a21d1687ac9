"""Option matrix: a cell is what the remedy's own judgement says with that make in its place."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from sample_studies import STUDIES

from ventcalc.job import job_file, option_matrix, remedy_outcome, remedy_reasons, study
from ventcalc.job.option_matrix import SPECIFIED, Cell, Option


@pytest.mark.slow
@pytest.mark.parametrize("name", STUDIES)
def test_a_row_is_every_remedy_once_and_as_specified_is_its_own_verdict(name):
    found = STUDIES[name]
    if not found.job.alternates:
        assert found.options == () and found.option is None
        return
    outcomes = {o.remedy.name: o for o in found.outcomes}
    compared = [o.remedy for o in found.options if not o.offered]
    assert len(set(compared)) == len(compared) and sum(o.offered for o in found.options) == bool(found.offered)
    assert set(outcomes) - set(compared) <= {o.remedy for o in found.options if o.offered}
    for o in found.options:
        own = found.offered.outcome if o.offered else outcomes[o.remedy]
        titles = remedy_reasons.against(own)
        assert o.cells[0] == Cell(SPECIFIED, own.cured, own.margin, own.everywhere, titles) and own.cured != bool(
            titles
        )
        assert len(o.cells) == 1 + len(found.job.alternates)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "remedies"), [("swim_hall", 3), ("hospital", 1)])
def test_a_cell_is_the_job_with_that_make_solved_again(name, remedies):
    """Solved from nothing in every condition of the other job, judged like any design."""
    found = STUDIES[name]
    for k, a in enumerate(found.job.alternates, 1):
        own = found.offered.outcome
        for o in found.outcomes[:remedies]:
            row = next(r for r in found.options if r.remedy == o.remedy.name and r.offered == (o is own))
            again = remedy_outcome.outcome(a.job, option_matrix.with_make(o.remedy, a))
            assert row.cells[k].margin == pytest.approx(again.margin, abs=0.5)  # held within 0.25 Pa either way
            assert row.cells[k].cured == (again.holds and study.assess(a.job, again, briefly=True).buildable)


@pytest.mark.slow
def test_with_every_make_an_idle_appliance_leaks_through_its_shut_damper():
    """Two resistances in a row (hydraulics): the damper's is what the make's own leak is rated less of."""
    found = STUDIES["swim_hall"]
    a = next(a for a in found.job.alternates if a.window is not None)
    remedy = next(o.remedy for o in found.outcomes if o.remedy.outlets)
    dampers = {c.sensor: c.device for c in remedy.controls}
    for made, own in zip(option_matrix.with_make(remedy, a).plant.appliances, a.job.plant.appliances, strict=True):
        assert made.window == own.window
        damper = dampers[own.name]
        through = damper.face * damper.leakage.velocity.m_as("m/s")
        shut = damper.leakage.pressure.m_as("Pa") / through**2  # Pa s2/m6
        whole, alone = (x.leak.pressure.m_as("Pa") / x.leak.flow.m_as("m**3/s") ** 2 for x in (made, own))
        assert whole - alone == pytest.approx(shut, rel=1e-6)


@pytest.mark.slow
def test_a_wider_window_is_served_and_a_narrow_one_is_not():
    """Decided by the window alone, since the gas is the same: one that bears anything, one that bears nothing."""
    found = STUDIES["hospital"]
    (a,) = found.job.alternates
    cured = next(o for o in found.outcomes if o.cured)

    def made(low: float, high: float) -> job_file.Alternate:
        window = tuple(job_file.Q_(p, "inH2O") for p in (low, high))
        plant = found.job.plant
        changed = tuple(replace(x, window=window) if x.name in a.appliances else x for x in plant.appliances)
        other = replace(found.job, plant=replace(plant, appliances=changed), alternates=(), offered=None)
        return replace(a, window=window, job=other)

    def judged(job, outcome):
        return study.assess(job, outcome, briefly=True).outcome

    def row(*makes) -> Option:
        return option_matrix.matrix(replace(found.job, alternates=makes), (cured,), None, (), judged)[0]

    assert row(made(-4.0, 4.0)).serves_all
    assert not row(made(-0.001, 0.001)).serves_all and not row(made(-4.0, 4.0), made(-0.001, 0.001)).serves_all


@pytest.mark.slow
def test_no_cure_is_found_in_fewer_conditions_than_all():
    for found in STUDIES.values():
        for o in found.options:
            for cell in o.cells:
                assert cell is None or cell.everywhere or not cell.cured
    hospital = STUDIES["hospital"]
    assert any(not cell.everywhere for o in hospital.options for cell in o.cells)


@pytest.mark.slow
def test_what_is_not_judged_serves_nobody():
    school = STUDIES["school"]
    rows = [o for o in school.options if o.remedy != "as drawn"]
    assert rows and all(o.cells[1] is None and not o.serves_all for o in rows)
    (drawn,) = (o for o in school.options if o.remedy == "as drawn")
    assert drawn.cells[1].cured == school.exchanged[0].buildable


@pytest.mark.parametrize(
    ("proved", "holds", "judged"), [(True, True, True), (True, False, False), (False, True, False)]
)
def test_only_what_holds_in_every_condition_is_judged_with_a_make(monkeypatch, proved, holds, judged):
    """What was seen in few conditions, or fails in them, is told as it was found."""
    monkeypatch.setattr(option_matrix.remedy_reasons, "against", lambda o: ())
    found = SimpleNamespace(proved=proved, holds=holds, cured=holds, margin=3.0)
    verdict = SimpleNamespace(proved=True, holds=True, cured=False, margin=1.0)
    # The make differs in more than its window: its own vent is solved, here to what is said above.
    monkeypatch.setattr(option_matrix.firing_states, "scan", lambda plant, seasons: None)
    monkeypatch.setattr(option_matrix, "with_make", lambda remedy, make: remedy)
    monkeypatch.setattr(option_matrix.remedy_outcome, "outcome", lambda job, remedy, scan: found)
    make = SimpleNamespace(name="make", job=SimpleNamespace(plant=None, seasons=()), window=(0.0, 1.0))
    cured = SimpleNamespace(remedy=SimpleNamespace(name="fan", kind="fan"), cured=True, proved=True, margin=9.0)
    drawn = Cell("make", False, 0.0, True, ())
    job = SimpleNamespace(alternates=(make,))
    (row,) = option_matrix.matrix(job, [cured], None, [drawn], lambda job, o: verdict)
    assert row.cells[0].margin == 9.0 and row.cells[1].make == "make"
    cell = row.cells[1]
    assert cell.margin == (1.0 if judged else 3.0) and cell.cured == (holds and proved and not judged)
