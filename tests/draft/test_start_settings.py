"""Start settings: the usual ones are those of the table, and what cannot be is refused by name."""

from dataclasses import replace

import pytest
from sample_starts import BOILERS, USUAL, seconds

from ventcalc import tables
from ventcalc.draft.start_settings import Burner, Settings
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


def test_purge_of_a_burner():
    assert USUAL.purge(BOILERS[0]).m_as("s") == pytest.approx(4 * 40 / 400 * 60)
    whole = replace(USUAL, vent_volume=Q_(100, "ft**3"))
    assert whole.purge(BOILERS[2]).m_as("s") == pytest.approx(4 * 120 / 200 * 60)
    tiny = Settings((Burner("small", Q_(1, "ft**3"), Q_(400, "cfm")),))
    assert tiny.purge(tiny.burners[0]) == tiny.least_purge
