"""Remedies: all that apply are compared, few states first, and the one that a job names is sized alike."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import CALM, JOBS, job_of, named

from ventcalc.draft import dampers, fan_table
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import device_choice, remedies, remedy_reasons, remedy_words
from ventcalc.job.job_control import Offered
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, firing_states, outlet_envelope


@pytest.mark.slow
def test_the_remedy_offered_is_sized_as_in_the_comparison(compared):
    scan, outcomes = compared["lodge"]
    offered, ours = remedies.offered(JOBS["lodge"], scan), named(outcomes, "fan and damper")
    assert (offered.remedy.fan, offered.remedy.damper) == (ours.remedy.fan, ours.remedy.damper)
    for a, b in zip(offered.envelopes, ours.envelopes, strict=True):
        assert a.appliance == b.appliance and (a.low, a.high) == pytest.approx((b.low, b.high), abs=0.05)
    assert remedies.offered(replace(JOBS["lodge"], offered=None), scan) is None


@pytest.mark.slow
def test_a_fan_and_a_damper_that_are_given_are_taken(compared):
    scan, _ = compared["lodge"]
    fan = fan_table.fan("roof 12")
    damper = dampers.Damper("butterfly", Q_(250, "mm"), Q_(250, "mm"), device_choice.LEAKAGE)
    for name in ("fan", "damper", "fan and damper"):
        given_ = Offered(name, Q_(-10, "Pa"), fan if "fan" in name else None, damper if "damper" in name else None)
        o = remedies.offered(replace(JOBS["lodge"], offered=given_), scan)
        assert (o.remedy.fan and o.remedy.fan.fan) == given_.fan
        # The damper as told, and what the transitions cost from the lodge's 300 mm flue to it and back.
        fitted = given_.damper and dampers.fitted(given_.damper, Q_(300, "mm"))
        assert o.remedy.damper == fitted and (fitted is None or fitted.transitions > 0.0)
        assert o.remedy.set_point.m_as("Pa") == pytest.approx(-10) and o.remedy.name == name


@pytest.mark.slow
def test_of_many_states_a_sample_is_compared_with_the_ends_of_every_range():
    one = job_of(row_plant(3, idle="leaking"), seasons=CALM[:2])
    whole = firing_states.scan(one.plant, one.seasons)
    assert len(whole.states) > 100
    found = remedies.compare(one, whole, 60)
    drawn = named(found, "as drawn")
    assert 60 <= len(drawn.scan.conditions) < len(whole.conditions) and not drawn.scan.complete
    assert [(e.low, e.high) for e in drawn.envelopes] == [
        pytest.approx((e.low, e.high), abs=1e-3) for e in outlet_envelope.envelopes(whole)
    ]
    for o in found:
        told = {r.code for r in remedy_reasons.reasons(o)}
        assert ("sample" in told) == o.everywhere and ("governing states" in told) == (not o.everywhere)
        if o.everywhere:
            assert (o.scan.conditions.codes == drawn.scan.conditions.codes).all()
            assert f"These states are a sample of {whole.possible:,}." in remedy_words.reasons(o)
    assert len(drawn.scan.states) < whole.possible


@pytest.mark.slow
def test_what_governs_is_enough_to_see_a_fault_and_all_states_prove_a_cure(compared):
    # In the states that govern every remedy fails that fails in all, or it is solved in all and fails there.
    for name, one in JOBS.items():
        scan, every = compared[name]
        found = remedies.compare(one, scan)
        assert {o.remedy.name for o in found} == {o.remedy.name for o in every}
        # What holds is found either way, in the same order, and was solved in all.
        hold = [o.remedy.name for o in every if o.holds]
        assert hold and [o.remedy.name for o in found[: len(hold)]] == hold
        assert all(o.holds and o.everywhere and o.scan.conditions.codes.shape[1] == len(scan.conditions)
                   for o in found[: len(hold)])  # fmt: skip
        assert not any(o.holds for o in found[len(hold) :])
        # None is a cure by that: its materials, starts and margins are judged elsewhere (`study.compare`).
        assert not any(o.cured for o in found)
        assert all(len(o.scan.conditions) < 100 for o in found if not o.everywhere)


def test_a_search_for_all_states_begins_with_what_the_header_lacks():
    """By hand: a header that stands 8 Pa above its set point asks 8 Pa of a fan, and one 5 Pa below it 5 Pa of a
    damper, which can only take; where nothing runs nothing is asked."""
    plant = row_plant(2)
    scan = firing_states.scan(plant, CALM)
    header = end_of_header.header_pressure(scan)
    held = Q_(float(np.nanmin(header)) + 5.0, "Pa")
    few, control = SimpleNamespace(whole=SimpleNamespace(first=scan)), SimpleNamespace(sensor=HEADER)
    lacks = np.nan_to_num(header - held.m_as("Pa"))
    for fan, expected in (("fan", lacks), (None, np.minimum(lacks, 0.0))):
        begun = remedies._from_here(few, Remedy("fan", plant, controls=(control,), fan=fan, set_point=held)).start
        assert begun[0] == pytest.approx(expected) and begun[0].min() == pytest.approx(-5.0)
