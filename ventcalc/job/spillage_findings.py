"""Spillage findings: flue gas, or air alone, that comes back into the room; and what has no state of rest."""

from collections.abc import Iterator

import numpy as np

from ventcalc.building import co_limits
from ventcalc.building.depressurization import Effect
from ventcalc.job.findings import Condition, Finding, Named, pascal
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.vent import reversal
from ventcalc.vent.firing_states import Scan
from ventcalc.words import Remark

_UNMIXED = 1.01  # times the flue gas: what comes in is all but that alone


def spillage(op: Operation) -> Iterator[Finding]:
    """What comes back into the room at rest, without exhaust fans and with them; and what a flap alone keeps out."""
    yield from _flue_gas(op)
    yield from _air(op)
    yield from _behind_flaps(op)


def _flue_gas(op: Operation) -> Iterator[Finding]:
    """Flue gas into the room, through whatever appliances, in one finding; of all spills the worst has its figures."""
    back = [r for r in op.reversals if r.dangerous]
    pulled = [e for e in op.around.effects if e.dangerous]
    worst = [(r.flue_gas, r.flow, r.state, r.appliance, None) for r in back]
    worst += [(e.flue_gas, e.spill, e.spill_state, e.appliance, e) for e in pulled]
    if not worst:
        return
    flue_gas, flow, state, name, effect = max(worst, key=lambda s: s[0])
    scan = op.around.exhausted if effect else op.scan
    entering = reversal.flue_gas_enters(scan).any(axis=0)
    figures = {
        "flue_gas": Q_(flue_gas, "kg/s"),
        "flow": Q_(flow, "kg/s"),
        "mixed": Q_(flow if flow > _UNMIXED * flue_gas else 0.0, "kg/s"),
        "worst": name,
        "conditions": scan.count(entering),
        "total": len(scan.conditions),
        "state": Condition(scan, state),
        # In these conditions the vent drafts as well, by what was before.
        "either": int(np.intersect1d(scan.condition[entering], scan.condition[~entering]).size),
        "exhausts": effect is not None,
        # Only through what stands idle: what shuts there tight would stop it.
        "idle": not pulled and all(r.kind == "idle" for r in back),
        "without": Q_(effect.flue_gas_without if effect else flue_gas, "kg/s"),
    }
    if effect is None and pulled:
        figures |= _pulled(op.around.exhausted, pulled)
    yield Finding("spillage", tuple(dict.fromkeys(s[3] for s in worst)), figures | _monoxide(op))


def _pulled(exhausted: Scan, pulled: list[Effect]) -> dict:
    """The part of their own that exhaust fans have, though a spill without them is as large."""
    return {
        "pulled": exhausted.count(reversal.flue_gas_enters(exhausted).any(axis=0)),
        "pulled_total": len(exhausted.conditions),
        "pulled_flue_gas": Q_(max(e.flue_gas for e in pulled), "kg/s"),
    }


def _behind_flaps(op: Operation) -> Iterator[Finding]:
    """Idle appliances that only a flap keeps from a vent under pressure."""
    if shut := op.shut_off:
        figures = {
            "pressure": pascal(shut.pressure),
            "worst": shut.worst,
            "flue_gas": Q_(shut.flue_gas, "kg/s"),
            "state": Condition(op.scan, shut.state),
        }
        yield Finding("shut_off", shut.appliances, figures)


def _air(op: Operation) -> Iterator[Finding]:
    """Air and no flue gas that comes back into the room, by where it is from."""
    told = {r.appliance for r in op.reversals if r.dangerous} | {e.appliance for e in op.around.effects if e.dangerous}
    pulled = [e for e in op.around.effects if e.back > reversal.REVERSAL_FLOW and e.appliance not in told]
    for source in reversal.SOURCES:
        if of := [e for e in pulled if e.air == source]:
            worst = max(of, key=lambda e: e.back)
            flows = {"flow": Q_(worst.back, "kg/s"), "without": Q_(worst.back_without, "kg/s")}
            figures = {"air": _of(source), "worst": worst.appliance} | flows
            yield Finding("air_drawn_back", tuple(e.appliance for e in of), figures)
    told |= {e.appliance for e in pulled}
    airs = [(r.appliance, air) for r in op.reversals if r.appliance not in told for air in r.airs]
    for source in reversal.SOURCES:
        if of := [(name, air) for name, air in airs if air.source == source]:
            name, air = max(of, key=lambda pair: pair[1].flow)
            figures = {
                "air": _of(source),
                "worst": name,
                "flow": Q_(air.flow, "kg/s"),
                "conditions": air.states,
                "total": len(op.scan.conditions),
                "state": Condition(op.scan, air.state),
            }
            yield Finding("air_back", tuple(dict.fromkeys(name for name, _ in of)), figures)


def _of(source: str) -> Remark:
    """Where air is from, in words."""
    return Remark("vent", "air_back", source)


def _monoxide(op: Operation) -> dict:
    """What the worst of the spills leads to in the room, where the job tells of it and some limit fails."""
    failed = [s.exposure for s in op.around.spills if s.exposure.failed]
    if not failed:
        return {}
    e = max(failed, key=lambda e: (bool(e.harmful), e.co[0].max()))
    first = min(e.harmful or e.failed, key=lambda j: j.over)
    return {
        "co": float(e.co[0].max()),
        "lasting": co_limits.clock(e.times[-1]),
        "failed": len(e.failed),
        "judged": len(e.judged),
        "kind": Named("limit_of_air", ("harm" if e.harmful else "guideline",)),
        "first": Named("over", ("at once" if first.over <= 0.0 else "later",), {"time": co_limits.clock(first.over)}),
        "limit": first.limit.cited,
    }


def unsettled(op: Operation) -> Iterator[Finding]:
    """What has no state of rest, or was not solved."""
    scan = op.scan
    if op.restless:
        gas = scan.restless & reversal.gas_in_room(scan).any(axis=0)
        worst = int(np.where(scan.restless, np.maximum(-scan.solution.drawn, 0.0).sum(axis=0), -1.0).argmax())
        figures = {
            "conditions": op.restless,
            "total": len(scan.conditions),
            "spilling": scan.count(gas),
            "state": Condition(scan, worst),
        }
        yield Finding("no_rest", (), figures)
    if op.unsolved > op.restless:
        yield Finding("unsolved", (), {"conditions": op.unsolved - op.restless})
