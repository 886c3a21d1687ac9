"""Permissions: what each demo job needs, what counts as an answer, and what a file may not say."""

import pytest

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.job.permissions import KINDS, Permission, needed, open_permissions, refused_permissions

JOBS = tables.DATA / "jobs"
SCHOOL = (JOBS / "school.toml").read_text(encoding="utf-8")


def asked(text):
    return [(p.what, p.of) for p in job_file.open_permissions(job_file.read(text.encode()))]


def test_every_condensing_boiler_of_a_common_vent_asks_its_maker():
    # Categories II, III and IV are vented by their maker's instructions: NFPA 54 12.5 and IFGC 503.4 (from memory).
    hall = job_file.load(JOBS / "swim_hall.toml")
    assert [(p.what, p.of) for p in job_file.open_permissions(hall)] == [
        ("common vent", f"Boiler {n}") for n in (1, 2, 3)
    ]  # fmt: skip
    assert all(p.granted is None for p in job_file.open_permissions(hall))


@pytest.mark.parametrize("name", ["laundry", "masonry_retrofit", "lodge"])
def test_alone_or_of_category_i_nobody_is_asked(name):
    assert job_file.open_permissions(job_file.load(JOBS / f"{name}.toml")) == ()


def test_mixed_categories_ask_the_authority_as_well():
    # R06 of category_rules.csv: a connector of natural draft and a vent under positive pressure.
    assert asked(SCHOOL) == [("common vent", "Boiler 1"), ("common vent", "Boiler 2"), ("authority", "roof")]


CONSENT = """
[[permission]]
what = "common vent"
name = "Boiler 1"
granted = {granted}
by = "an invented maker, letter of May 3"
"""


@pytest.mark.parametrize(("granted", "left"), [("true", 2), ("false", 2), ('"open"', 3)])
def test_an_answer_closes_its_question_and_silence_does_not(granted, left):
    text = SCHOOL + CONSENT.format(granted=granted)
    assert len(asked(text)) == left
    loaded = job_file.read(text.encode())
    refused = refused_permissions(loaded.plant, loaded.permissions)
    assert [(p.of, p.by) for p in refused] == (
        [("Boiler 1", "an invented maker, letter of May 3")] if granted == "false" else []
    )


def test_silence_is_open():
    text = SCHOOL + '\n[[permission]]\nwhat = "common vent"\nname = "Boiler 1"\n'
    assert len(asked(text)) == 3


TWO = SCHOOL.replace('material = "Type B gas vent"', 'material = "stainless vent of two listings"')
LISTING = (
    '\n[[permission]]\nwhat = "listing"\nname = "stainless vent of two listings"\ngranted = true\nby = "a sheet"\n'
)


def test_two_standards_want_a_listing_that_names_both():
    of = ("listing", "stainless vent of two listings")
    assert asked(TWO).count(of) == 1
    assert of in asked(TWO + LISTING)
    assert of in asked(TWO + LISTING + 'standards = ["UL 1738"]\n')
    assert of not in asked(TWO + LISTING + 'standards = ["UL 103", "UL 1738"]\n')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (CONSENT.format(granted="true").replace("common vent", "comon vent"), "choose common vent, listing, authority"),
        (CONSENT.format(granted="true").replace("Boiler 1", "Boiler 7"), "choose Water heater, Boiler 1, Boiler 2"),
        (CONSENT.format(granted='"yes"'), "granted 'yes'; write true, false or \"open\""),
        (CONSENT.format(granted="true").replace("by =", "from ="), "from: unknown key"),
        (CONSENT.format(granted="true").split("by =")[0], "not by whom; give by"),
        (CONSENT.format(granted="true") * 2, "common vent stands twice"),
        (CONSENT.format(granted="true") + 'standards = ["UL 103"]\n', "standards belong to a listing"),
        (LISTING, "choose stainless special gas vent single wall, Type B gas vent"),
    ],
)
def test_a_faulty_permission_says_place_and_remedy(text, said):
    with pytest.raises(job_file.JobError) as caught:
        job_file.read((SCHOOL + text).encode())
    assert "permission" in str(caught.value) and said in str(caught.value)


def test_needs_are_of_the_known_kinds_and_none_comes_twice():
    plant = job_file.read(TWO.encode()).plant
    found = needed(plant)
    assert {p.what for p in found} == set(KINDS) and len(set(found)) == len(found)
    assert open_permissions(plant, ()) == found
    assert refused_permissions(plant, (Permission("common vent", "nobody", False, "x"),)) == ()


REFUSALS = {
    # A maker's instructions govern the vent of a listed appliance of any category (NFPA 54 9.1.1, from memory).
    "common vent": ("lodge", "Boiler A"),
    # The authority having jurisdiction may refuse what no rule here asks about (NFPA 54 1.5, from memory).
    "authority": ("laundry", "wall"),
    "listing": ("masonry_retrofit", "tile-lined masonry chimney"),
}


@pytest.mark.parametrize("what", REFUSALS)
@pytest.mark.parametrize("granted", ["false", '"open"', "true"])
def test_a_no_and_an_open_question_count_where_no_rule_would_have_asked(what, granted):
    name, of = REFUSALS[what]
    told = f'\n[[permission]]\nwhat = "{what}"\nname = "{of}"\ngranted = {granted}\nby = "a letter"\n'
    job = job_file.read((JOBS / f"{name}.toml").read_bytes() + told.encode())
    assert all((n.what, n.of) != (what, of) for n in needed(job.plant))
    found = {
        "false": [(p.what, p.of) for p in refused_permissions(job.plant, job.permissions)],
        '"open"': [(p.what, p.of) for p in open_permissions(job.plant, job.permissions)],
    }
    assert found.get(granted, [(what, of)]) == [(what, of)]
    assert all(not listed for key, listed in found.items() if key != granted)


def test_a_maker_who_refuses_a_common_vent_says_nothing_of_a_vent_of_its_own():
    told = b'\n[[permission]]\nwhat = "common vent"\nname = "Boiler"\ngranted = false\nby = "a letter"\n'
    job = job_file.read((JOBS / "laundry.toml").read_bytes() + told)
    assert refused_permissions(job.plant, job.permissions) == ()
