"""Margins: what is uncertain of them, by hand."""

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from sample_remedies import compared_with, named, small_job

from ventcalc.draft.held_pressure import HEADER, Control, Ideal
from ventcalc.job import loop_settings, margins
from ventcalc.job.remedy import Remedy
from ventcalc.units import Q_


@pytest.mark.slow
def test_what_is_uncertain_of_a_margin_by_hand():
    one, outcomes = compared_with("small")
    drawn, held = named(outcomes, "as drawn"), named(outcomes, "fan")
    for o in (drawn, held):
        margin, doubt = margins.margins(o.scan), margins.uncertainty(o.scan, o.held, o.sensors)
        runs = o.scan.states.codes > 0
        assert (np.isnan(margin) == ~runs).all() and (doubt[runs] > 0.0).all()
        assert np.nanmin(margin, axis=1) == pytest.approx([e.margin for e in o.envelopes], abs=0.06)
        least, beside = o.margins
        assert (least - beside) == pytest.approx(np.nanmin(margin - doubt, axis=1))
    # Nothing held: a quarter of all that is lost on the way to the open. Held: sensor and what lies between.
    state = int(drawn.scan.states.codes.sum(axis=0).argmax())
    solution, plant = drawn.scan.solution, one.plant
    way = [plant.row(s.name) for s in plant.path("Boiler A")]
    lost = solution.loss[way, state].sum() + abs(solution.pressure_down[way[-1], state])
    lost += sum(abs(solution.pressure_down[a, state] - solution.pressure_up[b, state])
                for a, b in pairwise(way))  # fmt: skip
    assert margins.uncertainty(drawn.scan, drawn.held, ())[0, state] == pytest.approx(0.25 * lost)
    sensor = 0.01 * 0.5 * 249.08891
    assert sensor < margins.uncertainty(held.scan, held.held, held.sensors)[0].max() < sensor + 0.25 * lost
    assert held.held.controls[0].sensor == HEADER


@pytest.mark.parametrize(("pascal", "span"), [(-10, 0.5), (-40, 0.5), (-90, 0.75), (-150, 1.25)])
def test_a_set_point_that_asks_for_a_wider_sensor_leaves_more_in_doubt(pascal, span):
    """Low limit 0.04 in. w.c. below a set point that moved; the range sold that reaches 0.02 farther (common practice,
    no source); 1 % of it, with 1 in. w.c. = 249.089 Pa (NIST SP 811)."""
    one = replace(small_job(), set_point=Q_(pascal, "Pa"))
    control = Control("stack", Ideal(), HEADER, one.set_point)
    assert margins.sensor_errors(one, (control,)) == pytest.approx((0.01 * span * 249.08891,))
    # The sheet of the same remedy asks for that sensor.
    settings = loop_settings.settings_of(one, Remedy("fan", one.plant, set_point=one.set_point))
    assert (settings.sensor_most - settings.sensor_least).m_as("inH2O") == pytest.approx(span)


@pytest.mark.slow
def test_what_is_uncertain_of_the_header_by_hand():
    """Held by a fan: the sensor's error alone, since no actuator steps. Free: a quarter of what is lost in
    all the sections from where it begins, and where each leads into the next."""
    one, outcomes = compared_with("small")
    drawn, held = named(outcomes, "as drawn"), named(outcomes, "fan")
    assert margins.header_uncertainty(held.scan, held.held, held.sensors) == pytest.approx(0.01 * 0.5 * 249.08891)
    state, solution, plant = int(drawn.scan.states.codes.sum(axis=0).argmax()), drawn.scan.solution, one.plant
    way = [plant.row(name) for name in ("header A", "header B", "stack")]
    lost = solution.loss[way, state].sum() + abs(solution.pressure_down[way[-1], state])
    lost += sum(abs(solution.pressure_down[a, state] - solution.pressure_up[b, state])
                for a, b in pairwise(way))  # fmt: skip
    assert margins.header_uncertainty(drawn.scan, None, ())[state] == pytest.approx(0.25 * lost)


def test_a_margin_is_to_the_nearer_edge_and_in_purge_to_that_of_purge():
    """By hand: a window of -20 to 10 Pa, in purge -40 to 30 Pa; off it has none."""
    pascals = [tuple(Q_(p, "Pa") for p in window) for window in ((-20.0, 10.0), (-40.0, 30.0))]
    boiler = SimpleNamespace(window=pascals[0], purge_pressure=pascals[1])
    scan = SimpleNamespace(
        plant=SimpleNamespace(appliances=(boiler,)),
        solution=SimpleNamespace(outlet_pressure=np.array([[-15.0, 7.0, 25.0, -31.0, 0.0]])),
        purging=lambda i: np.array([False, False, True, True, False]),
        running=lambda i: np.array([True, True, True, True, False]),
    )
    assert margins.margins(scan)[0] == pytest.approx([5.0, 3.0, 5.0, 9.0, np.nan], nan_ok=True)


def test_all_that_is_uncertain_adds_up(monkeypatch):
    """By hand: a sensor off by 1 Pa, a step of 2 Pa and a quarter of 8 Pa are 5 Pa."""
    monkeypatch.setattr(margins, "steps", lambda *_: np.array([2.0, 0.0]))
    monkeypatch.setattr(margins, "loss_between", lambda *_: np.array([8.0, 4.0]))
    scan = SimpleNamespace(plant=SimpleNamespace(appliances=(SimpleNamespace(name="A"),)), states=range(2))
    held = SimpleNamespace(controls=(SimpleNamespace(sensor=HEADER, holds=True),))
    assert margins.uncertainty(scan, held, (1.0,))[0] == pytest.approx([5.0, 2.0])
    assert margins.header_uncertainty(scan, held, (1.0,)) == pytest.approx([3.0, 1.0])


def test_a_damper_is_asked_for_its_step_at_the_volume_that_goes_through_it(monkeypatch):
    """Volume flow is mass flow by density: 0.6 kg/s of 1.2 and 0.8 kg/m3 are 0.5 and 0.75 m3/s."""
    asked = []

    def size(duties, *_, **__):
        asked.append(duties)
        return [SimpleNamespace(step=np.array([1.0, 2.0]))]

    monkeypatch.setattr(margins, "Damper", SimpleNamespace)
    monkeypatch.setattr(margins.damper_sizing, "size", size)
    solution = SimpleNamespace(
        density=np.array([[1.2, 1.0, 0.8]]), flow=np.array([[0.6, 0.6, 0.6]]), row=lambda section: 0
    )
    control = SimpleNamespace(second=None, device=SimpleNamespace(), section="stack")
    held = SimpleNamespace(
        controls=(control,),
        added=np.array([[-3.0, -4.0, -5.0]]),
        acts=np.array([[True, False, True]]),
        settled=np.ones(3, bool),
    )
    found = margins.steps(SimpleNamespace(states=range(3), solution=solution), held, 0)
    (duties,) = asked
    assert duties.flow == pytest.approx([0.5, 0.75]) and found == pytest.approx([1.0, 0.0, 2.0])
