"""Device findings: what speaks against fan, damper and control, and where a control misses its set point."""

from collections.abc import Iterator

import numpy as np

from ventcalc.job import remedy_reasons, remedy_words
from ventcalc.job.device_duty import DAMPER_TOLERANCE
from ventcalc.job.findings import Condition, Finding, Named, pascal
from ventcalc.job.operation import Operation
from ventcalc.vent import outlet_envelope


def devices(op: Operation) -> Iterator[Finding]:
    """What speaks against fan, damper and control."""
    yield from _unfit(op)
    yield from _stopped(op)
    yield from _not_released(op)
    yield from _missed(op)


def _unfit(op: Operation) -> Iterator[Finding]:
    """A fan that does not do its duty, is too hot or may not be wet; a damper whose actuator is too coarse."""
    o = op.outcome
    if o.remedy.unfit:
        yield Finding("fan_unfit", (), {"reason": Named("unfit", (o.remedy.unfit,))})
    for reason in remedy_reasons.reasons(o):
        if reason.code in ("fan too hot", "fan wet"):
            yield Finding(reason.code.replace(" ", "_"), reason.subjects, reason.figures)
    if o.step > DAMPER_TOLERANCE.m_as("Pa"):
        figures = {
            "stroke": 100.0 * o.actuator_step,
            "step": pascal(o.step),
            "allowed": DAMPER_TOLERANCE,
        }
        yield Finding("actuator_coarse", (), figures)


def _not_released(op: Operation) -> Iterator[Finding]:
    """Where draft is not proved from idle and no fan helps, so that burners are never let start."""
    held = op.outcome.held
    if held is None or held.released is None:
        return
    stuck = np.flatnonzero(~held.released & op.scan.any_firing)
    if stuck.size:
        figures = {
            "conditions": op.scan.count(stuck),
            "total": len(op.scan.conditions),
            "state": Condition(op.scan, int(stuck[0])),
        }
        yield Finding("no_release", tuple(a.name for a in op.job.plant.appliances), figures)


def _missed(op: Operation) -> Iterator[Finding]:
    """Controls that cannot hold their set points, where each is farthest off."""
    held = op.outcome.held
    for k, control in enumerate(held.controls if held else ()):
        missed = np.flatnonzero(held.missed[k])
        if missed.size:
            at = int(missed[np.abs(held.error[k, missed]).argmax()])
            figures = {
                "conditions": op.scan.count(missed),
                "total": len(op.scan.conditions),
                "error": pascal(held.error[k, at]),
                "state": Condition(op.scan, at),
            }
            yield Finding("control_misses", (remedy_words.sensed(op.scan.plant, control.sensor),), figures)


def exhaust_duty(op: Operation) -> Iterator[Finding]:
    """A fan that works harder than its duty says while the room's exhaust fans run."""
    work, duty = op.exhaust_work, op.outcome.duty
    if work is None or work.static.max() <= duty.static.max() + outlet_envelope.READABLE:
        return
    figures = {
        "static": pascal(work.static.max()),
        "speed": float(work.speed.max()),
        "without": pascal(duty.static.max()),
        "slower": float(duty.speed.max()),
    }
    yield Finding("exhaust_duty", (op.outcome.remedy.fan.fan.name,), figures)


def _stopped(op: Operation) -> Iterator[Finding]:
    """A fan that stands there already and turns at one speed: what is left when it stops."""
    left = op.stopped
    if left is None:
        return
    existing = op.design.job.existing
    above = left.scan.count(outlet_envelope.sides(left.scan)[1].any(axis=0))
    high = max(left.envelopes, key=lambda e: e.high - e.window[1])
    figures = {
        "fan": existing.drive.fan.name,
        "speed": existing.drive.most_speed,
        "total": len(left.scan.conditions),
        "above": above,
        "gas": left.gas_in_room,
        "worst": high.appliance,
        "pressure": pascal(high.high),
        "state": Condition(left.scan, high.high_state),
    }
    if existing.interlocked or not (above or left.gas_in_room):
        code = "fan_proved"
    else:
        code = "fan_stops_spills" if left.gas_in_room else "fan_stops"
    yield Finding(code, tuple(a.name for a in op.job.plant.appliances), figures)
