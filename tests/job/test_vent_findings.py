"""Vent findings: materials where they may not stand."""

from dataclasses import replace

import pytest
from sample_studies import JOBS

from ventcalc.job import job_file, study


@pytest.mark.slow
@pytest.mark.parametrize(
    ("changes", "code"),
    [
        (
            (('fuel = "propane"', 'fuel = "no. 2 oil"'), ('"insulated chimney"', '"Type B gas vent"')),
            "material_fuel",
        ),
        ((('"insulated chimney"', '"single-wall galvanized connector"'),), "material_place"),
    ],
)
def test_oil_on_a_gas_vent_and_single_wall_outdoors_are_refused(changes, code):
    """Type B is for gas alone, single-wall pipe for the room of its appliances (NFPA 54, UL 441: see materials.csv)."""
    text = JOBS["lodge"].read_text(encoding="utf-8")
    for old, new in changes:
        text = text.replace(old, new)
    one = job_file.read(text.encode())
    found = study.study(replace(one, seasons=one.seasons[:1]), compare=False)  # a material stands in every season
    told = next(f for f in found.judgement.findings if f.code == "material")
    assert code in told.figures["objections"]
