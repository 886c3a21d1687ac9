"""Device duty: what a fan takes in a year, worked by hand."""

import numpy as np
import pytest
from sample_remedies import JOBS, named

from ventcalc.job import remedy_words


@pytest.mark.slow
def test_energy_by_hand(compared):
    o = named(compared["swim_hall"][1], "fan and damper")
    fan, states = o.remedy.fan.fan, o.scan.states
    flow, power = ([getattr(p, part) for p in fan.rated] for part in ("flow", "power"))
    watts = []
    for k, state in enumerate(o.duty.states):
        if states.cold[state] or states.windy[state]:
            continue
        n = o.duty.speed[k]
        at_rated = np.interp(o.duty.flow[k] / n, flow, power)  # straight lines between the points of the table
        watts.append(at_rated * n**3 * o.duty.density[k] / fan.density.m_as("kg/m**3"))
    by_hand = np.mean(watts) / 0.7 * JOBS["swim_hall"].hours.m_as("hour") / 1000.0
    # The library's curve is smooth where this one has corners.
    assert o.duty.yearly / 3.6e6 == pytest.approx(by_hand, rel=0.02)
    assert f"about {o.duty.yearly / 3.6e6:,.0f} kWh a year" in " ".join(remedy_words.reasons(o))
