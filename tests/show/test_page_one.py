"""Page one: short, the figures of the report, and an instruction to build if and only if nothing speaks against it."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_remedies import small_job, small_study
from sample_studies import STUDIES

from ventcalc.building.room_air import Opening, RoomAir
from ventcalc.job import study
from ventcalc.job.study import SetPoints
from ventcalc.show import page_one, pictures, results
from ventcalc.units import Q_, SYSTEMS, show

KINDS = ("fan", "damper", "fan and damper", "damper at each outlet", "damper at each outlet and a fan")


def words(told):
    return sum(len(sentence.split()) for sentence in (told["heading"], *told["instruction"], *told["agree"]))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", STUDIES)
def test_the_demo_jobs(name, system):
    found, told = STUDIES[name], page_one.page_one(STUDIES[name], system)
    assert words(told) <= page_one.MOST_WORDS
    assert told["heading"].startswith("Build") == (found.to_build is not None)
    titles = [a["title"] for a in told["against"]]
    assert set(titles) == {f.title for f in found.judgement.against} and len({*map(str, told["against"])}) == len(
        titles
    )


ORDINARY = ("fan and damper", "damper at each outlet and a fan")  # the others are sweeps


@pytest.fixture(
    scope="module", params=[k if k in ORDINARY else pytest.param(k, marks=pytest.mark.sweep) for k in KINDS]
)
def built(request):
    """A study whose offered remedy is taken for one that nothing speaks against."""
    found = small_study(request.param)
    good = replace(found.offered, judgement=replace(found.offered.judgement, findings=()))
    return replace(found, offered=good)


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_what_to_build_has_the_figures_of_the_report(built, system):
    told, whole = page_one.page_one(built, system), results.results(built, system)
    text = " ".join(told["instruction"])
    assert built.to_build is built.offered and told["heading"] == "Build this instead"
    assert words(told) <= page_one.MOST_WORDS
    o = built.offered.outcome
    if o.remedy.set_point is not None:
        assert show(o.remedy.set_point, system, "draft") in text
    if o.duty is not None:
        flow = Q_(float(o.duty.flow[o.duty.speed.argmax()]), "m**3/s")
        assert show(flow, system, "volume flow") in text and o.remedy.fan.fan.name in text
    assert all(name in text for name in o.remedy.outlets)
    if built.offered.trial is not None:
        sheet = {row["name"]: row["value"] for row in whole["offered"]["sheet"]}
        for name in ("low pressure limit", "high pressure limit", "delay of the low limit", "delay of the high limit"):
            assert sheet[name].split(" ")[0] in text


def test_as_drawn_where_nothing_speaks_against_it():
    found = STUDIES["laundry"]
    good = replace(found, judgement=replace(found.judgement, findings=()), outcomes=())
    told = page_one.page_one(good, "US")
    assert told["heading"] == "Build it as drawn" and not told["against"]


@pytest.mark.parametrize("name", STUDIES)
def test_the_least_margin_is_that_of_the_design(name):
    """By hand: the least of every outlet, and of every outlet the one with least left beyond the doubt in it."""
    found = STUDIES[name].reported
    told = page_one.page_one(STUDIES[name], "SI")["trust"]
    least = min(found.envelopes, key=lambda e: e.margin)
    assert (told["appliance"], told["margin"]["value"]) == (least.appliance, least.margin) and told["doubt"][
        "value"
    ] > 0
    thin = told["thinnest"]
    assert thin["margin"]["value"] - thin["doubt"]["value"] <= least.margin - told["doubt"]["value"] + 1e-9
    if not found.outcome.outside:
        doubtful = any(f.code == "thin_margin" for f in found.judgement.findings)
        assert (thin["margin"]["value"] < thin["doubt"]["value"]) == doubtful


def test_letters_in_the_drawing_have_a_key():
    """B and a number is the tag of a burner on every paper (`tags`); ten that count on are told by their ends."""
    found = STUDIES["laundry"]
    first, *_ = found.job.plant.appliances
    assert f"A: {first.name} (B-1)" in page_one.page_one(found, "US")["key"]
    row = tuple(replace(first, name=f"Boiler {n}") for n in range(1, 11))
    many = SimpleNamespace(outcome=found.outcome, job=SimpleNamespace(plant=SimpleNamespace(
        appliances=row, order=(), terminations=())))  # fmt: skip
    assert page_one.key(many) == "A to J: Boiler 1 to 10 (B-1 to B-10)"


def test_what_no_set_point_serves_is_told():
    """By hand: of two makes the one that asks for the highest header, and the one that asks for the lowest."""
    found = STUDIES["laundry"]
    ranges = np.array([[-40.0, -20.0], [-30.0, -10.0], [-15.0, 0.0]])
    told = page_one.page_one(replace(found, set_points=SetPoints(("as specified", "One", "Two"), ranges)), "SI")
    assert any("Two (the header at -15.0 Pa or above) and as specified (at -20.0 Pa or below)" in t
               for t in told["instruction"])  # fmt: skip
    alone = SetPoints(("as specified", "One"), np.array([[-10.0, -20.0], [-30.0, 0.0]]))
    told = page_one.page_one(replace(found, set_points=alone), "SI")
    assert any("No set point serves as specified" in t for t in told["instruction"])
    meeting = SetPoints(("as specified", "One"), ranges[:2])
    told = page_one.page_one(replace(found, set_points=meeting), "SI")
    assert not any("set point serves" in t for t in told["instruction"])


def test_the_thinnest_margin_is_told_where_it_says_more():
    """Beside the least one where it is of another outlet, or short of what is uncertain where the least one is not."""
    found = STUDIES["laundry"]
    for least, thinnest, tells in (
        (("A", 5.0, 1.0), ("A", 6.0, 3.0), False),
        (("A", 5.0, 1.0), ("A", 6.0, 7.0), True),
        (("A", 5.0, 1.0), ("B", 6.0, 3.0), True),
        (("A", 5.0, 6.0), ("A", 6.0, 9.0), True),
        (("A", -5.0, 1.0), ("A", -4.0, 9.0), False),
    ):
        outcome = replace(found.outcome)
        vars(outcome).update(least=least, thinnest=thinnest)  # cached: not worked out again
        good = replace(found, outcome=outcome, judgement=replace(found.judgement, findings=()), outcomes=())
        assert page_one.page_one(good, "US")["trust"]["tells_thinnest"] is tells


def test_what_was_judged_at_rest_alone_is_told_so():
    """Of what nothing cures: the remedy offered first and whole, others with how far they were judged."""
    found = next(s for s in STUDIES.values() if s.to_build is None and s.offered is not None and s.outcomes)
    told = page_one.page_one(found, "US")["instruction"]
    assert told[0].startswith(f"{found.offered.outcome.remedy.name}: ") and "not followed" not in told[0]
    assert all(f.title.lower() in told[0] for f in found.offered.judgement.against)
    # Told or counted, every remedy but the vent as drawn, which is none; the figure of remedies counts the same.
    names = {found.offered.outcome.remedy.name, *(o.remedy.name for o in found.outcomes)} - {"as drawn"}
    others = next((s for s in told if " other remed" in s), "0")
    counted = int(others.split()[0]) if len(names) > 3 else 0
    assert counted == len(names) - 3 and not any(s.startswith("as drawn") for s in told)
    assert f"Of {len(names)} looked at" in pictures.figures(found)["remedies"].see
    for sentence in told[1:3]:
        o = next(o for o in found.outcomes if sentence.startswith(f"{o.remedy.name}: "))
        assert ("not followed" in sentence) == (o.judgement is not None and not o.followed)


TIGHT = RoomAir(Q_(20, "m**3"), openings=(Opening("grille", Q_(50, "cm**2")),))  # no code lets two boilers burn in it
TALL = {"height": 30, "connector": 250, "header": 350, "low": -40, "set_point": -12}


@pytest.mark.slow
def test_what_lacks_beside_the_vent_hides_no_remedy_of_it():
    """The same tall vent with and without a room that lacks air: a fan and a damper hold it in both."""
    job = small_job(high=10, **TALL)
    cured, lacking = study.study(job), study.study(replace(job, room=TIGHT))
    assert cured.to_build is cured.best and cured.best.outcome.remedy.name == "fan and damper"
    assert {f.code for f in lacking.judgement.against} == {"outlet_low", "no_air"} and lacking.to_build is None
    told = page_one.page_one(lacking, "SI")
    assert told["heading"].startswith("No cure") and words(told) <= page_one.MOST_WORDS
    assert "With fan and damper nothing of the vent speaks against it." in told["instruction"][-1]
    assert "Still to be mended, beside the vent: combustion air." in told["instruction"][-1]
    # Its starts and failures were followed, as those of a cure are; a cure has no such line.
    row = next(o for o in lacking.outcomes if o.remedy.name == "fan and damper")
    assert row.followed and not row.cured and row.judgement.only_beside
    assert not any(o.judgement.only_beside for o in cured.outcomes if o.judgement)
    assert not any("beside the vent" in line for line in page_one.page_one(cured, "SI")["instruction"])


@pytest.mark.slow
def test_a_vent_that_lacks_nothing_but_air_is_told_no_remedy():
    fits = replace(small_job(high=60, **TALL | {"low": -150}), room=TIGHT)
    found = study.study(fits)
    assert {f.code for f in found.judgement.against} == {"no_air"}
    (line,) = (x for x in page_one.page_one(found, "US")["instruction"] if "beside the vent" in x)
    assert line.startswith("Nothing of the vent as drawn speaks against it.")
