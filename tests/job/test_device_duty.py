"""Device duty: what a fan takes in a year, worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import CALM, JOBS, job_of, named

from ventcalc.job import device_choice, device_remedies, remedies, remedy_words, study
from ventcalc.job.device_duty import NothingHeld, damper_duties, if_held
from ventcalc.job.job_control import Offered
from ventcalc.show import results
from ventcalc.units import Q_
from ventcalc.vent import firing_states


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


def test_a_device_that_acts_in_no_state_is_chosen_by_nothing(sealed):
    one, scan = sealed
    needed = device_choice.needed_in_stack(one, one.plant, one.set_point, scan.states)
    assert damper_duties(needed, "stack", -needed.added[0]).states.size
    never = replace(needed, error=np.full_like(needed.error, np.nan))
    with pytest.raises(NothingHeld):
        damper_duties(never, "stack", -never.added[0])
    for make in (device_remedies.fan_in_stack, device_remedies.fan_and_damper):
        at = (one, one.plant, one.set_point, scan.states)
        assert len(if_held(make, *at, needed=needed)) == 1 and if_held(make, *at, needed=never) == []


# A hood whose vent is held at the room's pressure: nothing draws, so nothing passes a device.
STILL = replace(job_of(row_plant(1, "draft hood", junction=None, stack_height=8.0), 30.0, CALM[:2]), existing=None)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["fan", "damper", "fan and damper"])
def test_a_remedy_that_holds_nothing_cannot_be_built_and_that_is_said(name):
    one = replace(STILL, offered=Offered(name, Q_(30.0, "Pa"), None, None))
    with pytest.raises(NothingHeld):
        remedies.offered(one, firing_states.scan(one.plant, one.seasons))
    found = study.study(one, compare=False)
    assert found.offered is None and found.impossible.startswith(f"The remedy offered ({name}) cannot be built: in no")


@pytest.mark.slow
def test_what_would_hold_nothing_is_told_to_be_left_out():
    hood = replace(STILL.plant.appliances[0], window=(Q_(-1.0, "Pa"), Q_(900.0, "Pa")))
    found = study.study(replace(STILL, plant=replace(STILL.plant, appliances=(hood,))))
    kinds, told = {o.remedy.kind for o in found.outcomes}, {r["name"] for r in results.results(found)["left_out"]}
    assert found.outcomes and {"fan", "damper", "fan and damper"} <= told - kinds
