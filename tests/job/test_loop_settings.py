"""Loop settings: the gains of a remedy are those of the vent itself."""

import numpy as np
import pytest
from sample_commissioning import HALL, LODGE

from ventcalc.draft import closed_loop
from ventcalc.draft.firing_schedule import Schedule
from ventcalc.job import loop_settings, trial_run
from ventcalc.units import Q_


@pytest.mark.slow
def test_gains_stand_on_the_sheet(run):
    assert run.gains.plain[0] > 0.0 and run.settings.integral_time == run.gains.ti
    assert run.settings.gain.m_as("1/Pa") == pytest.approx(run.gains.plain[0])
    assert run.gains.ti >= loop_settings.LEAST_INTEGRAL


@pytest.mark.slow
def test_gains_are_those_of_the_vent_followed_in_time(run, offered):
    """Found from steady states of every phase; against the same steps on what the start itself answered."""
    phases = np.array([*run.timeline.times[1:], run.trace.time[-1]])
    plans, seasons = [run.timeline] * 3, range(3)
    found = trial_run.started(HALL, offered.remedy, run.settings, plans, seasons)
    gains = [loop_settings.tuned(found.loop, found.response(k, phases)) for k in seasons]
    gentlest = min(loop_settings.briskness(g) for g in gains if g is not None)
    assert loop_settings.briskness(run.gains) == pytest.approx(gentlest, rel=0.35)


def test_a_fan_has_run_up_when_its_start_is_over(held_lodge):
    """A first-order lag has come 95 % of the way after three time constants, 1 - exp(-3)."""
    settings = loop_settings.settings_of(LODGE, held_lodge.remedy)
    run_up = loop_settings.devices_of(held_lodge.remedy, settings).run_up
    assert 1.0 - np.exp(-settings.fan_start.m_as("s") / run_up) == pytest.approx(0.95, abs=0.001)


def test_before_the_first_release_draft_can_be_proved(held_lodge):
    """Devices at their start position, every burner idle: a release waits for a header below the proof of draft, which
    lies above the set point. A fan at its least makes (n / n0)^2 of its pressure (fan law): here too little in summer.
    """
    settings = loop_settings.settings_of(LODGE, held_lodge.remedy)
    devices = loop_settings.devices_of(held_lodge.remedy, settings)
    off = tuple(a.states[0] for a in devices.plant.appliances)
    seasons = range(len(LODGE.seasons))
    idle = [Schedule(Q_(60.0, "s"), off, (), season=k, cold=1.0) for k in seasons]
    loop = loop_settings.start_loop(settings, devices, LODGE.seasons)
    stood = closed_loop.simulate(LODGE.seasons, idle, devices, loop, [np.inf] * len(idle))
    held = float(settings.set_point.m_as("Pa"))
    assert stood.setting[-1] == pytest.approx(loop.start) and loop.start >= devices.open
    assert stood.pressure[-1].max() == pytest.approx(held, abs=0.5)  # what gauges read
    assert (stood.pressure[-1] < float(settings.proof.m_as("Pa"))).all()
    assert (stood.position[-1] == 1.0).all()  # open, as it is to be proved
