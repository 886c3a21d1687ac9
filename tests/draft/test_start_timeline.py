"""Start timeline: what an appliance sends into the vent, as codes with their ramps."""

from dataclasses import replace

import numpy as np
import pytest
from sample_starts import BOILERS, CALL, E, one, seconds

from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_settings import Burner, Settings
from ventcalc.draft.start_timeline import Cue
from ventcalc.units import Q_


def test_codes_for_the_vent():
    found = one(CALL, (200, E.CALL_ENDS, "Boiler 1"))
    at = {
        10: 0.0,
        20.5: 0.5,
        40: 1.0,
        46: 1.5,
        60: 2.0,
        107: 2.5,
        150: 3.0,
        199.99: 3.0,
        200.01: 1.0,
        217.5: 0.5,
        230: 0.0,
    }
    assert found.codes(np.array(list(at)), "Boiler 1") == pytest.approx(list(at.values()), abs=1e-3)
    assert found.codes(np.array([150.0]), 0, load=0.4) == pytest.approx([2.4])
    every = found.codes(np.linspace(0, 600, 6001), 0)
    assert every.min() == 0.0 and every.max() == 3.0
    assert found.times[0] == 0.0 and 47.0 in found.times


def test_codes_of_a_burner_without_purge():
    hood = Settings((Burner("hood", Q_(1, "ft**3"), Q_(10, "cfm"), (0.0, 1.0, 1.0)),))
    found = timeline([Cue(seconds(0), E.CALL, "hood")], hood, seconds(300)).codes(np.array([40.0, 290.0]), 0)
    assert found == pytest.approx([0.0, 1.0])


def test_a_main_flame_that_stands_at_once_is_a_step_to_low_fire():
    """As usual the main valve opens at 45 s; with no time to its flame low fire is there with it, and stays."""
    found = one(CALL, settings=replace(Settings(BOILERS[:1]), main_light=seconds(0)))
    assert found.codes(np.array([44.9, 45.1, 50.0, 60.0]), 0) == pytest.approx([1.0, 2.0, 2.0, 2.0])
    times, codes = found.corners(0)
    assert (np.diff(times) >= 0.0).all() and (codes[times > 45.1] >= 2.0).all()
