"""Device duty: what a fan takes in a year, worked by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import CALM, JOBS, job_of, named

from ventcalc.draft import fan_table
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import device_choice, device_remedies, remedies, remedy_words, study
from ventcalc.job.device_duty import NothingHeld, damper_duties, fan_work, if_held
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


@pytest.mark.parametrize("kind", ["roof", "in-line"])
def test_a_fan_turns_as_its_own_table_says_by_hand(kind):
    """What it adds in all is the table's static pressure and the head of what leaves: then it turns as it is rated.

    At half the speed and half the flow both are a quarter (fan laws). An outlet's own control is none of the fan's.
    """
    fan = next(f for f in map(fan_table.fan, fan_table.names(kind)) if f.least_speed <= 0.5)
    flow, static = fan.rated[-2].flow, fan.rated[-2].pressure
    plant, density = row_plant(1), float(fan.density.m_as("kg/m**3"))
    area = plant.section("stack").area if kind == "roof" else fan.area
    share = np.array([1.0, 0.5])
    added = share**2 * (static + 0.5 * density * (flow / area) ** 2)
    remedy = SimpleNamespace(plant=plant, fan=Drive(fan, 0.3, 1.0))
    controls = [SimpleNamespace(sensor="B1", section="connector 1"), SimpleNamespace(sensor=HEADER, section="stack")]
    rows = [np.array([np.full(2, np.nan), values]) for values in (share * flow, np.full(2, density), added)]
    held = SimpleNamespace(
        controls=controls, acts=np.array([[False, False], [True, True]]), flow=rows[0], density=rows[1], added=rows[2]
    )
    work = fan_work(remedy, held)
    assert work.static == pytest.approx(share**2 * static)
    assert work.speed == pytest.approx(share, rel=1e-3)
