"""The listed slips: each still stands in its file, and has tests to notice it."""

from pathlib import Path

import pytest
import slips


@pytest.mark.parametrize("slip", slips.listed(), ids=lambda s: f"{Path(s.file).stem}: {s.new[:40]}")
def test_what_a_slip_replaces_stands_in_its_file_once(slip):
    assert slip.planted() != (slips.ROOT / slip.file).read_text(encoding="utf-8")
    assert all((slips.ROOT / name).exists() for name in slip.tests.split())
