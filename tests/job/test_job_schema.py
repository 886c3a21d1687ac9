"""Job schema: the demo jobs are accepted, what a schema can see is rejected; judged by the library jsonschema."""

import copy
import tomllib

import jsonschema
import pytest
from sample_studies import ALL_JOBS

from ventcalc.job import job_schema

SCHEMA = job_schema.schema()
CHECK = jsonschema.Draft202012Validator(SCHEMA)


def content(name):
    with ALL_JOBS[name].open("rb") as file:
        return tomllib.load(file)


def test_it_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", ALL_JOBS)
def test_demo_jobs_are_accepted(name):
    assert not list(CHECK.iter_errors(content(name)))


def unknown(job):
    job["site"]["altitud"] = "1 ft"


def missing(job):
    del job["section"][0]["length"]


def number(job):
    job["section"][0]["length"] = 40


def no_list(job):
    job["season"] = job["season"][0]


def empty(job):
    job["appliance"] = []


def nested(job):
    job["appliance"][0]["level"][0]["inputs"] = "3 kW"


def three(job):
    job["appliance"][0]["window"] = ["1 Pa", "2 Pa", "3 Pa"]


def text(job):
    job["room"]["interlocked"] = "yes"


def whole(job):
    job["apliance"] = []


@pytest.mark.parametrize("slip", [unknown, missing, number, no_list, empty, nested, three, text, whole])
def test_what_a_schema_can_see_is_rejected(slip):
    job = copy.deepcopy(content("swim_hall"))
    slip(job)
    assert list(CHECK.iter_errors(job))


def test_every_key_has_its_meaning():
    for told in (SCHEMA, *SCHEMA["$defs"].values()):
        assert told["additionalProperties"] is False
        assert all(value["description"] for value in told["properties"].values())


def test_it_is_written_beside_a_file(tmp_path):
    assert job_schema.write(tmp_path).name == job_schema.FILE_NAME
