"""Job form of the year: everything has a usual value, and what is no quantity is refused."""

import pytest
from pydantic import ValidationError

from ventcalc.job.job_form_year import Year


def test_an_empty_table_is_usual():
    year = Year()
    assert year.climate is None and year.design_load is None and year.modulating is None
    assert (year.terrain, year.firing_order, year.workdays_only) == ("open", "lead-lag", False)
    # 65 degF, the base of degree-days of the trade (common practice).
    assert year.heating_limit.m_as("degF") == pytest.approx(65.0) and year.setback.m_as("") == 1.0
    assert year.heated_to.m_as("hour") == 24.0 and year.most_starts.m_as("1/hour") == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("key", "value"), [("design_load", 400), ("setback", "half"), ("heated_from", "6 ft"), ("lead", "first")]
)
def test_what_cannot_be_read_is_refused(key, value):
    with pytest.raises(ValidationError, match=key):
        Year(**{key: value})
