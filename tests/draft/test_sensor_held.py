"""The vent held by a wrong sensor: off by the sensor's error, out of a window, within what is not known."""

import numpy as np
import pytest
from sample_taps import HALL, HALL_SCAN

from ventcalc.draft.sensor_held import held, set_points
from ventcalc.draft.sensor_location import taps
from ventcalc.draft.sensor_reading import WALL, Tap, read
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, outlet_envelope

INCH = 249.089  # Pa
SET_POINT = Q_(-0.018, "inH2O")
PERFECT = held(HALL_SCAN, SET_POINT)


def true_header(found):
    return end_of_header.header_pressure(found.scan(HALL_SCAN))


def test_perfect_sensor_holds_the_header():
    assert PERFECT.settled.all()
    assert true_header(PERFECT)[HALL_SCAN.any_running] == pytest.approx(SET_POINT.m_as("Pa"), abs=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("place", ["end cap", "behind a reducer"])
def test_a_wrong_sensor_holds_the_set_point_less_its_error(place):
    tap = next(t for t in taps(HALL.plant) if t.name == place)
    found = held(HALL_SCAN, SET_POINT, tap)
    reading = read(found.scan(HALL_SCAN), tap).pressure[HALL_SCAN.any_running]
    assert reading == pytest.approx(SET_POINT.m_as("Pa"), abs=0.3)  # what the passes leave, and the control's own
    # The header's true pressure is off by the error in the vent as held: both ends of it.
    error, off = read(found.scan(HALL_SCAN), tap).error, true_header(found) - SET_POINT.m_as("Pa")
    assert np.nanmax(off) == pytest.approx(-np.nanmin(error), abs=0.3)
    assert np.nanmin(off) == pytest.approx(-np.nanmax(error), abs=0.3)


@pytest.mark.slow
def test_the_reducer_trips_what_the_cap_holds():
    lowest, highest = set_points(PERFECT, HALL_SCAN)
    assert lowest < SET_POINT.m_as("Pa") < highest
    by_name = {t.name: t for t in taps(HALL.plant)}
    cap, reducer = (held(HALL_SCAN, SET_POINT, by_name[n]).scan(HALL_SCAN) for n in ("end cap", "behind a reducer"))
    assert all(e.margin > 0.0 for e in outlet_envelope.envelopes(cap))
    assert any(e.above > 0.1 * INCH for e in outlet_envelope.envelopes(reducer))


def test_set_points_are_where_an_outlet_meets_its_window():
    for edge, side in zip(set_points(PERFECT, HALL_SCAN), ("low", "high"), strict=True):
        found = outlet_envelope.envelopes(held(HALL_SCAN, Q_(edge, "Pa")).scan(HALL_SCAN))
        margins = [e.low - e.window[0] if side == "low" else e.window[1] - e.high for e in found]
        assert min(margins) == pytest.approx(0.0, abs=0.3)  # leaks answer a little to what is held


def test_doubt_moves_the_header_by_what_is_not_known():
    tap = Tap("wall", "header 1")
    low, high = (true_header(held(HALL_SCAN, SET_POINT, tap, doubt=d)) for d in (-1.0, 1.0))
    doubt = read(HALL_SCAN, tap).doubt
    runs = HALL_SCAN.any_running
    assert (low - high)[runs] == pytest.approx(2.0 * doubt[runs], abs=0.2)
    assert read(HALL_SCAN, Tap("flush", "header 1", hole=WALL)).doubt[runs] == pytest.approx(doubt[runs])
