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
    yield from _stopped(op)
    if o.held is not None and o.held.released is not None:
        stuck = np.flatnonzero(~o.held.released & op.scan.any_firing)
        if stuck.size:
            figures = {
                "conditions": op.scan.count(stuck),
                "total": len(op.scan.conditions),
                "state": Condition(op.scan, int(stuck[0])),
            }
            yield Finding("no_release", tuple(a.name for a in op.job.plant.appliances), figures)
    for k, control in enumerate(o.held.controls if o.held else ()):
        missed = np.flatnonzero(o.held.missed[k])
        if missed.size:
            at = int(missed[np.abs(o.held.error[k, missed]).argmax()])
            figures = {
                "conditions": op.scan.count(missed),
                "total": len(op.scan.conditions),
                "error": pascal(o.held.error[k, at]),
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
