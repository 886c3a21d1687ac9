"""Job keys: each has a meaning, none is told that is none, and the demo files use no other."""

import tomllib

import pytest
from sample_studies import ALL_JOBS

from ventcalc import units
from ventcalc.building.roof_scene import MARKS, OBSTACLES, OPENINGS
from ventcalc.job import job_form, job_form_building, job_keys, permissions
from ventcalc.job.job_fields import Form, Leak

KEYS = {key.place: key for key in job_keys.all_keys()}
FORMS = {
    v.__name__: v
    for m in (job_form, job_form_building)
    for v in vars(m).values()
    if isinstance(v, type) and issubclass(v, Form) and v is not Form
} | {"Leak": Leak}


def test_every_key_of_every_form_is_told():
    told = {key.name for key in KEYS.values()}
    assert {name for form in FORMS.values() for name in form.model_fields} <= told
    assert all(key.meaning and not key.meaning.endswith(".") for key in KEYS.values()) and len(KEYS) > 200


def test_nothing_is_told_of_a_key_that_there_is_not():
    for form, told in job_keys.meanings().items():
        known = set(FORMS[form].model_fields) | {"count", "then"}
        assert set(told) <= known, form


@pytest.mark.parametrize("name", ALL_JOBS)
def test_the_keys_of_the_demo_files_are_among_them(name):
    def places(value, path):
        if isinstance(value, dict):
            for key, inner in value.items():
                here = f"{path}.{key}".lstrip(".")
                if not path.endswith("composition"):
                    yield here
                    yield from places(inner, here)
        elif isinstance(value, list):
            for inner in value:
                yield from places(inner, path)

    with ALL_JOBS[name].open("rb") as file:
        assert set(places(tomllib.load(file), "")) <= set(KEYS)


def test_examples_of_quantities_can_be_read_and_fit_their_usual_value():
    quantities = [key for key in KEYS.values() if key.example]
    assert len(quantities) > 90
    for key in quantities:
        assert units.parse(key.example) is not None
        if key.usual and key.usual != job_keys.REQUIRED:
            plain = units.Q_(1.0, "") if key.usual.replace(".", "").isdecimal() else units.parse(key.usual)
            assert plain.is_compatible_with(units.parse(key.example)), key.place


def test_what_must_be_told_is_said_to_be_required():
    assert KEYS["section.length"].usual == job_keys.REQUIRED and KEYS["section.rise"].usual == "0.0 m"
    assert KEYS["appliance.kind"].usual == "forced" and KEYS["remedy.fan"].usual == ""


@pytest.mark.parametrize(
    ("place", "taken"),
    [
        ("roof.obstacle.kind", OBSTACLES),
        ("roof.opening.kind", OPENINGS),
        ("roof.mark.kind", MARKS),
        ("permission.what", permissions.KINDS),
    ],
)
def test_the_help_names_the_words_that_are_taken_and_no_other(place, taken):
    told = KEYS[place].meaning.partition(": ")[2] or KEYS[place].meaning
    assert set(told.replace(" or ", ", ").split(", ")) == set(taken)
