"""As-found records: the sentence goes with the tick, whatever the study and its ends say."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from sample_remedies import small_job, small_study

from ventcalc.job import survey_causes
from ventcalc.job.calibrated_study import CalibratedStudy, End
from ventcalc.show import as_found_records
from ventcalc.units import SYSTEMS
from ventcalc.words import say

CAUSE = next(c for c in survey_causes.causes(small_job()) if c.code == "terminal_blocked")
ENDS = (End(CAUSE, 0.4, True, 3.0), End(CAUSE, 0.6, True, 1.0))


def studied(built: bool, remedied: bool, ends: bool):
    """A study with a design that is built or not, as drawn or a remedy, and that an end speaks against or not."""
    own = small_study("damper")
    judged = SimpleNamespace(buildable=built, outcome=own.outcome, judgement=own.judgement)
    whole = SimpleNamespace(reported=judged, buildable=built and not remedied)
    if not remedied:
        whole.reported = whole
        whole.outcome, whole.judgement = own.outcome, own.judgement
    return CalibratedStudy(whole, (), tuple(replace(end, cured=ends) for end in ENDS))


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("built", [True, False])
@pytest.mark.parametrize("remedied", [True, False])
@pytest.mark.parametrize("ends", [True, False])
def test_the_sentence_goes_with_the_tick(built, remedied, ends, system):
    told = as_found_records.records(studied(built, remedied, ends), system)
    assert told["cured"] is (built and ends)
    assert ("nothing that was checked speaks against" in told["sentence"]) is told["cured"]
    assert [end["cured"] for end in told["ends"]] == [ends, ends]
    assert told["ends"][0]["margin"]["shown"] == ("0.012 in. w.c." if system == "US" else "3.0 Pa")
    assert "40%" in told["ends"][0]["cause"]


def test_nothing_studied_is_nothing_told():
    assert as_found_records.records(None, "US") is None


@pytest.mark.parametrize(("remedied", "code"), [(False, "stands"), (True, "cured")])
def test_a_vent_that_may_stay_is_not_told_as_one_that_was_mended(remedied, code):
    """As it stands only where nothing was changed."""
    found = studied(True, remedied, True)
    figures = {"design": found.design.outcome.remedy.name}
    assert as_found_records.sentence(found) == say("show", "as_found", code, **figures)
    others = {say("show", "as_found", other, **figures) for other in ("stands", "cured")}
    assert len(others) == 2
