"""Start settings: the usual ones are those of the table, and what cannot be is refused by name."""

from dataclasses import replace

import numpy as np
import pytest
from sample_starts import BOILERS, USUAL, seconds

from ventcalc import tables
from ventcalc.draft.start_settings import SENSOR_RANGES, Burner, Settings, beside, sensor_end
from ventcalc.units import Q_


def test_usual_settings_are_those_of_the_table():
    rows = {r["name"]: r for r in tables.read("start_sequence")}
    for name, row in rows.items():
        value = getattr(USUAL, name)
        assert value.m_as(row["unit"]) == pytest.approx(float(row["value"]))
        assert float(row["least"]) <= float(row["value"]) <= float(row["most"])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pilot_trial": seconds(20)}, "pilot_trial = 20.0 s: must be 1.0 s to 15.0 s"),
        ({"changes": Q_(2, "")}, "changes = 2: must be 3.0"),
        ({"high_limit": Q_(40, "percent")}, "high_limit.*needs a quantity such as 0.08"),
        ({"set_point": -0.05}, "set_point -0.05: needs a quantity"),
        ({"proof": Q_(-0.06, "inH2O")}, "set_point = -0.05 inH2O must be below proof = -0.06"),
        ({"sensor_most": Q_(0.0, "inH2O")}, "high_limit = 0.08 inH2O must be below sensor_most = 0.0"),
        ({"pilot_light": seconds(12)}, "pilot_light = 12.0 s must be below pilot_trial = 10.0 s, or every trial"),
        # What must be below may not be as much either.
        ({"proof": Q_(-0.05, "inH2O")}, "set_point = -0.05 inH2O must be below proof = -0.05 inH2O"),
        ({"pilot_light": seconds(10)}, "pilot_light = 10.0 s must be below pilot_trial = 10.0 s"),
        ({"filter": seconds(12)}, "filter = 12.0 s must be below integral_time = 10.0 s"),
        ({"burners": ()}, "give at least one"),
        # Flame lost must end the fuel within 4 s (US practice for flame safeguards, NFPA 85, from memory).
        ({"flame_response": seconds(40)}, "flame_response = 40.0 s: must be 0.2 s to 4.0 s"),
        ({"flame_response": seconds(4.1)}, "flame_response = 4.1 s: must be 0.2 s to 4.0 s"),
        ({"burners": (BOILERS[0], BOILERS[0])}, "a name of its own"),
    ],
)
def test_settings_refuse_by_name_value_and_what_is_valid(change, words):
    with pytest.raises(ValueError, match=words):
        replace(USUAL, **change)


def test_settings_tell_all_at_once():
    with pytest.raises(ValueError) as told:
        replace(USUAL, changes=Q_(9, ""), stagger=seconds(-1), post_purge=seconds(1))
    assert all(name in str(told.value) for name in ("changes = 9", "stagger = -1.0 s", "post_purge = 1.0 s"))


def test_burner_refuses_what_cannot_be():
    with pytest.raises(ValueError, match="flow = 0"):
        Burner("x", Q_(1, "m**3"), Q_(0, "m**3/s"))
    with pytest.raises(ValueError, match="codes"):
        Burner("x", Q_(1, "m**3"), Q_(1, "m**3/s"), (2.0, 1.0, 3.0))


def test_a_burner_without_a_blower_has_the_code_of_one_that_is_idle_before_it_fires():
    hood = Burner("hood", Q_(1, "m**3"), None, (0.0, 1.0, 1.0))
    assert Settings((hood,)).purge(hood) == USUAL.least_purge
    with pytest.raises(ValueError, match="codes"):
        Burner("x", Q_(1, "m**3"), Q_(1, "m**3/s"), (1.0, 1.0, 3.0))


def test_purge_of_a_burner():
    assert USUAL.purge(BOILERS[0]).m_as("s") == pytest.approx(4 * 40 / 400 * 60)
    whole = replace(USUAL, vent_volume=Q_(100, "ft**3"))
    assert whole.purge(BOILERS[2]).m_as("s") == pytest.approx(4 * 120 / 200 * 60)
    tiny = Settings((Burner("small", Q_(1, "ft**3"), Q_(400, "cfm")),))
    assert tiny.purge(tiny.burners[0]) == tiny.least_purge


def inches(found):
    return {name: value.m_as("inH2O") for name, value in found.items()}


@pytest.mark.parametrize(
    ("set_point", "proof", "low", "high"),
    [
        # Usual: set point -0.05, proof at 0.4 of it, limits -0.09 and 0.08. Nearer to one than 0.02 both go along.
        (-0.065, 0.4 * -0.065, -0.09, 0.08),
        (-0.08, 0.4 * -0.08, -0.12, 0.05),
        # Above nought proof lies as far above the set point as usual, 0.03, ...
        (0.02, 0.05, -0.09, 0.08),
        (0.07, 0.10, 0.03, 0.20),
        # ... but 0.02 below the high limit, or half way to it.
        (0.035, 0.06, -0.09, 0.08),
        (0.05, 0.065, -0.09, 0.08),
        (0.06, 0.07, -0.09, 0.08),
        (-0.3, -0.19, -0.34, -0.17),
    ],
)
def test_limits_and_proof_beside_a_set_point_by_hand(set_point, proof, low, high):
    found = inches(beside(USUAL, Q_(set_point, "inH2O")))
    wanted = {"proof": proof, "low_limit": low, "high_limit": high}
    assert {n: found[n] for n in wanted} == pytest.approx(wanted)
    assert found["sensor_least"] <= low - 0.02 + 1e-9 and high + 0.02 - 1e-9 <= found["sensor_most"]


def test_what_is_set_beside_a_set_point_fits_it():
    for at in (Q_(float(p), "inH2O") for p in np.linspace(-0.4, 0.4, 161)):
        fits = replace(USUAL, set_point=at, **beside(USUAL, at))  # refuses what does not
        assert fits.set_point < fits.proof < fits.high_limit


def test_a_sensor_has_the_smallest_range_that_is_sold_and_reaches():
    ends = [sensor_end(Q_(n, "inH2O")).m_as("inH2O") for n in (-0.3, 0.1, 0.11, 0.25, 0.7, 1.01, 2.01, 6.0, 25.0, 40.0)]
    assert ends == [0.1, 0.1, 0.25, 0.25, 1.0, 2.0, 5.0, 10.0, 25.0, 25.0]  # those sold: common practice, no source
    assert list(SENSOR_RANGES) == sorted(SENSOR_RANGES)
