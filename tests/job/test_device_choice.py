"""Device choice: the fan that fits and makes least too much, and what is said where none does."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import CALM, compared_with, job_of, named

from ventcalc.draft import fan_table
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import device_remedies, remedies, remedy_outcome, remedy_reasons, remedy_words
from ventcalc.job.job_control import Offered
from ventcalc.units import show


def test_of_the_fans_that_fit_the_one_that_makes_least_too_much(sealed):
    # In a strong draft every fan at its least speed adds to it; a large one more than a small one.
    one, scan = sealed
    errors = {}
    for name in fan_table.names("roof"):
        remedy = device_remedies.fan_in_stack(one, one.plant, one.set_point, scan.states, fan_table.fan(name))
        o = remedy_outcome.outcome(one, remedy, scan)
        if not remedy.unfit and remedy.fan.fan.most_speed / o.duty.speed.max() >= 1.1:
            errors[name] = np.nanmean(np.maximum(-o.held.error[0], 0.0))
    chosen = device_remedies.fan_in_stack(one, one.plant, one.set_point, scan.states).fan.fan.name
    assert len(errors) > 1 and chosen == min(errors, key=errors.get)


@pytest.mark.slow
def test_the_fan_suits_the_end(compared):
    laundry = compared["laundry"][1]
    for o in laundry:
        if o.remedy.fan:  # a vent that ends flat in a wall keeps its terminal and gets a fan in its line
            assert o.remedy.fan.fan.kind == "in-line" and o.remedy.plant.terminations[0].cap == "wall terminal"
    for o in compared["swim_hall"][1]:
        assert not o.remedy.fan or (o.remedy.fan.fan.kind, o.remedy.top) == ("roof", "stack")


@pytest.mark.slow
def test_where_no_fan_fits_the_nearest_is_shown_and_cures_nothing():
    plant = row_plant(2, kilowatts=8000, header_mm=900, connector_mm=600)
    one = job_of(plant, seasons=CALM)
    found = remedies.compare(one)
    for name in ("fan", "fan and damper", "damper at each outlet and a fan"):
        o = named(found, name)
        largest = max((fan_table.fan(n) for n in fan_table.names("roof")), key=lambda f: f.free_flow)
        assert o.remedy.unfit and not o.holds and o.remedy.fan.fan is largest
        said = remedy_words.reasons(o)
        assert f"No roof fan in the table does this duty; {largest.name} comes nearest." in said
        # Alone it is too strong in the cold as well, by more; that must not hide where it is too weak.
        assert any("the fan at its highest speed" in text for text in said)
        assert o.held.at[0].max() == 1 and o.unheld
        told = sum(
            r.figures["states"] for r in remedy_reasons.reasons(o) if r.code == "not held" and r.subjects == (HEADER,)
        )
        assert told == o.held.missed[0].sum()
    assert remedies.offered(replace(one, offered=Offered("fan", None, None, None))) is None
    own = remedies.offered(replace(one, offered=Offered("fan", None, fan_table.fan("roof 12"), None)))
    assert not own.holds and "Roof 12 does not do its duty." in remedy_words.reasons(own)


def test_gas_too_hot_for_the_fan_is_said():
    named_ = Offered("fan", None, fan_table.fan("roof 12"), None)
    o = remedies.offered(replace(job_of(row_plant(2, celsius=500)), offered=named_))
    stands = show(fan_table.fan("roof 12").highest_temperature, "SI")
    assert not o.holds and any(f"and its limit is {stands}." in text for text in remedy_words.reasons(o, "SI"))


@pytest.mark.slow
def test_a_job_too_small_and_one_too_large_for_the_table_are_said():
    small, large = (compared_with("small", **c)[1] for c in (
        {"kilowatts": 61, "set_point": -12, "low": -5},
        {"kilowatts": 30_000, "connector": 800, "header": 800},
    ))  # fmt: skip
    assert any(r.code == "no fan fits" for o in large for r in remedy_reasons.reasons(o))
    codes = {r.code for o in small for r in remedy_reasons.reasons(o) if o.remedy.fan}
    assert "fan too large" in codes
