"""Finding records: the verdict claims no more than was checked, and counts are those of the judgement."""

from collections import Counter
from dataclasses import replace

import pytest
from sample_studies import JOBS, STUDIES

from ventcalc.job import findings, job_file, study
from ventcalc.show import batch, finding_records
from ventcalc.words import sentences


def test_verdict_of_a_dangerous_and_of_a_faulty_job():
    assert finding_records.verdict(STUDIES["swim_hall"])["sentence"].startswith(
        "No, it is not safe to build as drawn: 1 danger to people"  # three boilers that leak backward: one cause
    )
    laundry = finding_records.verdict(STUDIES["laundry"])
    # Too long, above its window against the wind, and below it where the terminal stands in the lee.
    assert laundry["sentence"] == "No, it should not be built as drawn: 3 faults were found."
    assert (laundry["people"], laundry["faults"], laundry["buildable"]) == (0, 3, False)


@pytest.mark.parametrize(
    ("weights", "says"),
    [
        ((), "Nothing that was checked speaks against building it as drawn."),
        (("note",), "Nothing that was checked speaks against building it as drawn."),
        (("fault",), "No, it should not be built as drawn: 1 fault was found."),
        (("people",), "No, it is not safe to build as drawn: 1 danger to people was found."),
        (("people", "people"), "No, it is not safe to build as drawn: 2 dangers to people were found."),
        (("people", "fault"), "No, it is not safe to build as drawn: 1 danger to people and 1 fault were found."),
    ],
)
def test_verdict_counts_what_speaks_against(weights, says):
    code = {"people": "spillage", "fault": "outlet_high", "note": "air_back"}
    judged = findings.judgement(findings.Finding(code[weight]) for weight in weights)
    told = finding_records.verdict(replace(STUDIES["laundry"], judgement=judged, offered=None))
    assert told["sentence"] == says and told["offered"] == ""
    assert told["buildable"] == (not told["people"] + told["faults"]) == says.startswith("Nothing")


def test_what_is_said_of_the_remedy_offered():
    hall, lodge = STUDIES["swim_hall"], STUDIES["lodge"]
    for found in (hall, lodge):
        told = finding_records.verdict(found)["offered"]
        assert told.startswith(f"With the remedy offered ({found.offered.outcome.remedy.name}): ")
        assert told.endswith("nothing that was checked speaks against it.") == found.offered.judgement.cured
    assert "material" in {f.code for f in lodge.offered.judgement.against}  # its roof piece is wet
    one = findings.judgement((findings.Finding("outlet_high"),))
    told = finding_records.verdict(replace(hall, offered=replace(hall.offered, judgement=one)))["offered"]
    assert told == "With the remedy offered (fan and damper, the job's own): 1 fault remains."
    two = findings.judgement((findings.Finding("outlet_high"), findings.Finding("spillage")))
    told = finding_records.verdict(replace(hall, offered=replace(hall.offered, judgement=two)))["offered"]
    assert told == "With the remedy offered (fan and damper, the job's own): 1 danger to people and 1 fault remain."
    assert finding_records.verdict(replace(hall, impossible="It cannot be."))["offered"] == "It cannot be."


@pytest.mark.parametrize(
    ("drawn", "offered", "impossible", "asked"),
    [
        (True, None, "", True),
        (False, None, "", False),
        (False, True, "", True),
        (False, False, "", False),
        (True, False, "", False),
        (True, None, "It cannot be.", False),
    ],
)
def test_what_a_job_asks_for_is_the_remedy_that_it_names_else_the_vent_as_drawn(drawn, offered, impossible, asked):
    """README: the exit status is 0 where nothing speaks against that."""
    sound, faulty = findings.judgement(()), findings.judgement((findings.Finding("outlet_high"),))
    laundry = STUDIES["laundry"]
    other = None if offered is None else replace(laundry, judgement=sound if offered else faulty)
    found = replace(laundry, judgement=sound if drawn else faulty, offered=other, impossible=impossible)
    assert finding_records.verdict(found)["asked"] == asked
    assert batch.status(found) == (batch.CURED if asked else batch.AGAINST)


def test_verdict_claims_no_more_than_was_checked():
    laundry = JOBS["laundry"].read_text(encoding="utf-8")
    mended = laundry.replace('window = ["-0.03 inH2O", "0.40 inH2O"]', 'window = ["-2 inH2O", "4 inH2O"]')
    found = study.study(job_file.read(mended.replace('longest_run = "85 ft"', 'longest_run = "200 ft"').encode()))
    told = finding_records.verdict(found)
    assert told["sentence"] == "Nothing that was checked speaks against building it as drawn." and told["buildable"]
    named = finding_records.not_checked(found)
    assert set(sentences("show")["not_checked"].values()) <= set(named)
    assert sum("the job file says nothing about it" in n for n in named) == 4  # roof, room, emissions, carbon monoxide


def test_a_room_whose_openings_face_nowhere_is_named():
    for found in STUDIES.values():
        named = any("which way its openings face" in n for n in finding_records.not_checked(found))
        assert named == (bool(found.scan.states.windy.any()) and not found.job.plant.exposure.told)


def test_findings_come_as_they_were_judged():
    for found in STUDIES.values():
        told = finding_records.findings(found, "SI")
        assert [(f["code"], f["weight"]) for f in told] == [(f.code, f.weight) for f in found.judgement.findings]
        assert [f["sentence"] for f in told] == [findings.sentence(f, "SI") for f in found.judgement.findings]


def test_unsolved_states_are_counted_and_named():
    found = STUDIES["laundry"]
    converged = found.scan.solution.converged.copy()
    converged[:2] = False
    broken = replace(found, scan=replace(found.scan, solution=replace(found.scan.solution, converged=converged)))
    told = finding_records.scan(broken, "US")
    assert told["unsolved_count"] == 2 == len(told["unsolved"])
    assert told["unsolved"][0]["state"]["words"] == found.scan.describe(0)
    found = STUDIES["school"]
    converged = found.scan.solution.converged
    none = replace(found, scan=replace(found.scan, solution=replace(found.scan.solution, converged=converged & False)))
    told = finding_records.scan(none, "US")
    assert told["unsolved_count"] == told["solved"] > finding_records.MOST_NAMED == len(told["unsolved"])


def test_what_must_not_be_built_says_so_and_why():
    told = finding_records.not_to_build(STUDIES["laundry"])
    assert told.startswith("NOT TO BUILD. 3 faults found: ")
    titles = {f.title for f in STUDIES["laundry"].judgement.against}
    assert titles and all(title in told for title in titles)
    assert finding_records.not_to_build(replace(STUDIES["laundry"], judgement=findings.Judgement(()))) == ""


def test_conditions_that_hang_on_the_past_are_those_with_more_than_one_state():
    """Counted anew; in the school each of them has just two."""
    found = STUDIES["school"]
    states = Counter(found.scan.condition.tolist())
    several = [condition for condition, count in states.items() if count > 1]
    told = finding_records.scan(found, "US")
    assert several and told["pasts"] == len(several)
    assert (told["solved"], told["rows"]) == (len(states), sum(states.values()))
