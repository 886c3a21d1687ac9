"""Job form: the demo jobs use every table that a job file knows, and no other key is taken."""

import tomllib

import pytest
from pydantic import ValidationError
from sample_files import FILES, GOOD

from ventcalc.draft.start_settings import Settings
from ventcalc.job.job_form import SETTINGS, File


def test_every_table_is_shown_in_a_demo_job_or_in_a_test_of_its_own():
    used = {key for path in FILES.glob("*.toml") for key in tomllib.loads(path.read_text(encoding="utf-8"))}
    # A fuel, a material, a place and a permission of the file's own: tests/job/test_job_plant.py, test_permissions.py;
    # a year: test_job_year.py.
    assert set(File.model_fields) - used <= {"fuel", "material", "place", "permission", "sequence", "year"}
    assert used <= set(File.model_fields)


@pytest.mark.parametrize("table", ["job", "site", "control", "remedy", "room", "carbon_monoxide", "emissions", "roof"])
def test_an_unknown_key_is_refused_in_every_table(table):
    content = tomllib.loads(GOOD)
    content[table]["color"] = "red"
    with pytest.raises(ValidationError) as caught:
        File.model_validate(content)
    assert [(e["loc"], e["type"]) for e in caught.value.errors()] == [((table, "color"), "extra_forbidden")]


def test_every_setting_of_the_start_sequence_may_be_given():
    assert set(SETTINGS) | {"burners", "set_point"} == set(Settings.__dataclass_fields__)
    assert set(File.model_fields["sequence"].annotation.model_fields) == set(SETTINGS)
