"""Pressure record: what a recorded pressure brings about, as cues of the sequencer."""

import numpy as np

from ventcalc.draft.start_sequence import Event
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Cue
from ventcalc.units import Q_


def pressure_cues(times: np.ndarray, reading: np.ndarray, settings: Settings) -> tuple[Cue, ...]:
    """The cues that lie in a recorded pressure: beyond a limit, out of the sensor's range, frozen.

    ``times`` [s] rising and ``reading`` [Pa], plain arrays of one length. A reading at either end of the sensor's
    range or beyond is no reading, and is still beyond the limit on that side; one that has not changed at all for
    ``frozen_after`` is frozen from then on. Each stretch becomes one cue with how long it lasts. Give a record from
    while the fan runs: at rest a draft may well be still. Raises ValueError where lengths differ or times do not rise.
    """
    times, reading = np.asarray(times, float), np.asarray(reading, float)
    if times.ndim != 1 or times.shape != reading.shape or times.size < 2:
        raise ValueError(f"times {times.shape} and reading {reading.shape} must be equally long, two or more values")
    if not (np.diff(times) > 0).all():
        raise ValueError("times must rise")
    limit = {n: getattr(settings, n).m_as("Pa") for n in ("high_limit", "low_limit", "sensor_least", "sensor_most")}
    outside = ~((reading > limit["sensor_least"]) & (reading < limit["sensor_most"]))  # NaN is outside as well
    frozen = _still(times, reading) >= settings.seconds("frozen_after")
    found = []
    for event, flags in (
        (Event.HIGH_PRESSURE, reading > limit["high_limit"]),
        (Event.LOW_PRESSURE, reading < limit["low_limit"]),
        (Event.SENSOR_FAILED, outside | frozen),
    ):
        found += [Cue(Q_(b, "s"), event, lasts=Q_(e - b, "s")) for b, e in _stretches(times, flags)]
    return tuple(sorted(found, key=lambda cue: cue.time))


def _still(times: np.ndarray, reading: np.ndarray) -> np.ndarray:
    """How long [s] the reading has not changed, at each time."""
    changed = np.concatenate([[True], np.diff(reading) != 0.0])
    return times - np.maximum.accumulate(np.where(changed, times, times[0]))


def _stretches(times: np.ndarray, flags: np.ndarray) -> list[tuple[float, float]]:
    """Begin and end of every stretch in which the flags are set; one that is still set at the end ends there."""
    edges = np.diff(np.concatenate([[0], flags.astype(int), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [(float(times[b]), float(times[min(e, times.size - 1)])) for b, e in zip(begins, ends, strict=True)]
