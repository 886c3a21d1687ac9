"""Job control: set point, limits and the remedy that a file offers."""

import pytest
from sample_files import GOOD

from ventcalc.job import job_file


@pytest.mark.parametrize(
    ("set_point", "proof", "low", "high"),
    [("-0.05", -0.02, -0.09, 0.08), ("-0.02", -0.008, -0.09, 0.08), ("-0.15", -0.06, -0.19, -0.02)],
)
def test_limits_and_proof_fit_the_set_point(set_point, proof, low, high):
    """Proof is draft, at 40 % of a set point that is; limits stay where they usually are as long as they can."""
    text = GOOD.replace(
        'name = "fan and damper"\nset_point = "-0.02', f'name = "fan and damper"\nset_point = "{set_point}'
    )
    found = job_file.read(text.encode()).sequence
    shown = [found.proof, found.low_limit, found.high_limit]
    assert [float(v.m_as("inH2O")) for v in shown] == pytest.approx([proof, low, high], abs=1e-9)
