"""The keys command: every key, one table alone, and the schema."""

import json

from ventcalc.__main__ import main
from ventcalc.job import job_keys, job_schema


def test_every_key_is_printed(capsys):
    assert main(["keys"]) == 0
    told = capsys.readouterr().out
    assert all(f"  {key.name}" in told and key.meaning in told for key in job_keys.all_keys())


def test_one_table_alone(capsys):
    assert main(["keys", "appliance.level"]) == 0
    told = capsys.readouterr().out
    assert "flue_temperature" in told and "[site]" not in told and "required" in told


def test_an_unknown_table_is_refused_with_those_there_are(capsys):
    assert main(["keys", "apliance"]) == 2
    assert "appliance.level" in capsys.readouterr().err


def test_the_schema(capsys):
    assert main(["keys", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out) == job_schema.schema()
