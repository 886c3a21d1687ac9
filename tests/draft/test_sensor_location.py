"""Sensor location: the places of a plant, their order, and what is said of them."""

import numpy as np
from sample_plants import row_plant, with_sections
from sample_taps import HALL, ROW, scanned

from ventcalc.draft import sensor_reading
from ventcalc.draft.error_spread import errors
from ventcalc.draft.sensor_location import farthest, rank, reason, shares_seen, taps
from ventcalc.draft.sensor_reading import Leg, Tap


def test_places_of_the_hall():
    names = [t.name for t in taps(HALL.plant)]
    assert names[0] == "end cap" and len(set(names)) == len(names) == 8
    assert farthest(HALL.plant) == "Boiler 1"
    # In a row of boilers the header is shared from the last junction on, and the wall at the stack is tapped there.
    row = {t.name: t.section for t in taps(row_plant(3))}
    assert row["wall of the header at the stack"] == row["tube facing the gas at the stack"] == "header 3"
    # The stack is the section that ends in the open; the header ends in the section before the elbow.
    stack = {t.section for t in taps(HALL.plant)[-2:]}
    assert {HALL.plant.section(s).into for s in stack} <= {t.name for t in HALL.plant.terminations}
    # Walls of the header, the tube and the stack are tapped halfway along.
    assert [t.share for t in taps(HALL.plant)] == [0.0, 0.5, 0.0, 0.5, 0.5, 1.0, 0.0, 0.5]
    # A header that goes on from its first connector has no cap to put a sensor in.
    turned = with_sections(ROW, connector_1={"junction": None})
    assert "end cap" not in [t.name for t in taps(turned)]


def test_places_of_a_single_boiler():
    alone = row_plant(1)
    assert [e.target for e in rank(scanned(alone))] == ["header"] * len(taps(alone))


def test_rank_goes_by_what_no_offset_cures(swim_hall):
    order = rank(swim_hall)
    assert [e.spread for e in order] == sorted(e.spread for e in order)
    assert {e.tap.name for e in order[:2]} == {"end cap", "wall of the header, at its end"}
    assert order[-1].tap.name == "behind a reducer" and order[-1].cause == "velocity"
    legs = (sensor_reading.PLAIN, Leg("outdoors", reference="outdoors"))
    assert len(rank(swim_hall, legs=legs)) == 2 * len(order)


def test_windy_reference_is_the_legs_fault(swim_hall):
    found = errors(swim_hall, Tap("cap", "header 1", capped=True), Leg("out", reference="outdoors", wind=0.6))
    assert found.cause == "leg"
    assert "reference" in reason(found, 1.0).words()


def test_reason_says_what_to_do(swim_hall):
    cap = errors(swim_hall, taps(HALL.plant)[0])
    assert reason(cap, 4.0).words().startswith("Good")
    assert "not to be cured" in reason(cap, 1.0).words().lower()
    assert "Pa" in reason(cap, 1.0).words("SI")


def test_a_transducer_sees_what_lies_between_its_ends():
    # Of five that count three lie within 0 to 50 Pa, one of them at its very end; one below, one above.
    pressure = np.array([-20.0, 0.0, np.nan, 30.0, 50.0, 80.0])
    assert shares_seen(pressure, 0.0, 50.0) == 3 / 5
    assert shares_seen(pressure, -25.0, 100.0) == 1.0 and shares_seen(pressure, -25.0, -10.0) == 1 / 5
