"""Outlet findings: a margin that is less than what is uncertain of it."""

from dataclasses import replace

from sample_jobs import against
from sample_studies import JOBS, STUDIES

from ventcalc.job import job_file, study
from ventcalc.units import Q_


def test_a_thin_margin_is_no_cure():
    """An outlet inside its window by less than is uncertain there speaks against the design."""
    found = STUDIES["laundry"]
    e = found.envelopes[0]
    one = job_file.load(JOBS["laundry"])
    room = 0.5  # Pa, beside a loss of a hundred and more, a quarter of which is in doubt
    window = (Q_(e.low - room, "Pa"), Q_(e.high + room, "Pa"))
    plant = one.plant
    wide = replace(plant, appliances=(replace(plant.appliances[0], window=window, longest_run=None),))
    tight = study.study(replace(one, plant=wide), compare=False)
    assert "thin_margin" in against(tight) and "outlet_high" not in against(tight)
    window = (Q_(e.low - 400.0, "Pa"), Q_(e.high + 400.0, "Pa"))
    wide = replace(plant, appliances=(replace(plant.appliances[0], window=window, longest_run=None),))
    assert study.study(replace(one, plant=wide), compare=False).buildable
