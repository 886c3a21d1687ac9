"""Pressure record: limits, ends of range and frozen readings in recorded pressures."""

import numpy as np
import pytest
from sample_starts import BOILERS, USUAL, E, S, seconds

from ventcalc.draft.pressure_record import pressure_cues
from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Cue


def recorded(*pieces):
    """Pressure [Pa] once a second, alive by a little: pieces of (seconds, pressure)."""
    values = np.concatenate([np.full(n, p) for n, p in pieces])
    return np.arange(values.size, dtype=float), values + 0.01 * (np.arange(values.size) % 2)


def test_limits_in_a_recorded_pressure():
    times, pressure = recorded((50, -12.0), (9, 30.0), (41, -12.0), (20, -40.0), (30, -12.0))
    found = [(c.event, c.time.m_as("s"), c.lasts.m_as("s")) for c in pressure_cues(times, pressure, USUAL)]
    assert found == [(E.HIGH_PRESSURE, 50.0, 9.0), (E.LOW_PRESSURE, 100.0, 20.0)]


@pytest.mark.parametrize("value", [-62.5, 80.0, np.nan])
def test_a_reading_at_the_end_of_the_range_is_none(value):
    times, pressure = recorded((50, -12.0), (30, value), (20, -12.0))
    # No reading, and beyond the limit on that side all the same: a sensor that saturates must not hide the pressure.
    beyond = {-62.5: [E.LOW_PRESSURE], 80.0: [E.HIGH_PRESSURE]}.get(value, [])
    wanted = [(event, seconds(30)) for event in (*beyond, E.SENSOR_FAILED)]
    assert [(c.event, c.lasts) for c in pressure_cues(times, pressure, USUAL)] == wanted


def test_a_still_reading_is_frozen():
    times, pressure = recorded((50, -12.0), (150, -12.0), (20, -12.0))
    pressure[50:200] = -12.0
    (cue,) = pressure_cues(times, pressure, USUAL)
    assert cue.event is E.SENSOR_FAILED and cue.time.m_as("s") == pytest.approx(50.0 + 60.0, abs=1.0)


def test_a_recorded_spike_trips_or_does_not():
    times, pressure = recorded((100, -12.0), (8, 30.0), (300, -12.0))
    cues = [Cue(seconds(0), E.CALL, "Boiler 1"), *pressure_cues(times, pressure, USUAL)]
    assert timeline(cues, Settings(BOILERS[:1]), seconds(400)).ends == (S.LOCKOUT,)
    assert timeline(cues, Settings(BOILERS[:1], high_delay=seconds(10)), seconds(400)).ends == (S.RUN,)


def test_a_record_that_is_none_is_refused():
    with pytest.raises(ValueError, match="times must rise"):
        pressure_cues(np.array([0.0, 0.0]), np.zeros(2), USUAL)
    with pytest.raises(ValueError, match="equally long"):
        pressure_cues(np.arange(3.0), np.zeros(2), USUAL)


def test_a_pressure_at_a_limit_is_not_beyond_it():
    low, high = (getattr(USUAL, n).m_as("Pa") for n in ("low_limit", "high_limit"))
    times, swinging = np.arange(20.0), np.where(np.arange(20) % 2, low, high)
    assert pressure_cues(times, swinging, USUAL) == ()
    beyond = np.where(np.arange(20) % 2, low - 0.01, high + 0.01)
    assert {c.event for c in pressure_cues(times, beyond, USUAL)} == {E.LOW_PRESSURE, E.HIGH_PRESSURE}


def test_a_stretch_that_lasts_to_the_end_ends_there_and_a_still_beginning_counts():
    times, pressure = recorded((50, -12.0), (30, 30.0))
    (cue,) = pressure_cues(times, pressure, USUAL)
    assert (cue.event, cue.time.m_as("s"), cue.lasts.m_as("s")) == (E.HIGH_PRESSURE, 50.0, 29.0)
    times, pressure = recorded((100, -12.0), (20, -12.0))
    pressure[:100] = -12.0
    (still,) = pressure_cues(times + 7.0, pressure, USUAL)
    assert still.event is E.SENSOR_FAILED and still.time.m_as("s") == 7.0 + 60.0
