"""Start findings: what starts in every order bring, what fails unseen or is seen late, and limits that do not fit."""

from collections.abc import Iterator

import numpy as np

from ventcalc.draft import load_changes
from ventcalc.draft.start_settings import usual_setting
from ventcalc.job import derived_limits, failures
from ventcalc.job.failures import Failure
from ventcalc.job.findings import Finding, Named, pascal
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope


def starts(op: Operation) -> Iterator[Finding]:
    """What starts in every order and season bring under a control, and what fails unseen or is seen late."""
    if op.tried is None:
        return
    starts = op.tried.starts
    spilling = [s for s in starts if s.into_room > load_changes.LEAST_SPILL]
    if spilling:
        most = max(spilling, key=lambda s: s.into_room)
        names = tuple(o.appliance for o in most.outlets if o.into_room > 0.0)
        yield Finding("start_spills", names, {"spilled": Q_(most.into_room, "kg"), "season": most.season})
    yield from _starts_outside(op)
    yield from _failures(op)
    yield from _limits(op)


def not_followed(op: Operation) -> Iterator[Finding]:
    """Dampers that hold their own outlets and not the header: none of their starts and failures is followed in time."""
    remedy = op.outcome.remedy
    if remedy.controlled and remedy.set_point is None:
        yield Finding("not_followed", remedy.outlets)


def _starts_outside(op: Operation) -> Iterator[Finding]:
    """Outlets that a start takes out of their windows, longer than a usual limit waits or not so long."""
    patience = float(usual_setting("high_delay").m_as("s"))
    out = [(s, o) for s in op.tried.starts for o in s.outlets if o.beyond > outlet_envelope.READABLE]
    for code, some in (
        ("start_outside", [so for so in out if so[1].outside > patience]),
        ("start_outside_briefly", [so for so in out if so[1].outside <= patience]),
    ):
        if some:
            start, worst = max(some, key=lambda so: so[1].beyond)
            figures = {
                "worst": worst.appliance,
                "beyond": pascal(worst.beyond),
                "lasts": Q_(max(o.outside for _, o in some), "s"),
                "season": start.season,
                "order": start.order,
                "orders": op.tried.coverage.orders,
                "possible": op.tried.coverage.possible,
            }
            yield Finding(code, tuple(dict.fromkeys(o.appliance for _, o in some)), figures)


def _failures(op: Operation) -> Iterator[Finding]:
    """What fails while an outlet leaves its window: unseen with gas in the room, unseen, or seen late.

    A sensor that fails is seen by nothing where it is the only one; that is told, and asks for a second one.
    """
    found: dict[str, list[Failure]] = {}
    for case in failures.CASES:
        worst = op.tried.worst(case)
        if worst is None or worst.beyond <= outlet_envelope.READABLE:
            continue
        code = "failure_seen_late"
        if worst.shutdown == np.inf and case != failures.FLAME:
            spills = worst.into_room > load_changes.LEAST_SPILL
            sensor = case in (failures.STILL, failures.BLOCKED)
            code = "failure_spills" if spills else "sensor_unseen" if sensor else "failure_unseen"
        found.setdefault(code, []).append(worst)
    for code, some in found.items():
        worst = max(some, key=lambda f: (f.spills, f.beyond))
        figures = {
            "cases": Named("failure", tuple(f.case for f in some)),
            "worst": Named("failure", (worst.case,)),
            "season": worst.season,
            "beyond": pascal(worst.beyond),
            "spilled": Q_(worst.into_room, "kg"),
            "shutdown": Q_(worst.shutdown if np.isfinite(worst.shutdown) else 0.0, "s"),
            "followed": Q_(failures.LONGEST, "s"),
            "count": op.tried.coverage.failures,
        }
        yield Finding(code, tuple(o.appliance for o in worst.outlets if o.beyond > outlet_envelope.READABLE), figures)


def _limits(op: Operation) -> Iterator[Finding]:
    """Where no limit of the header fits between what is normal and the first outlet outside its window."""
    sides = (("high", op.tried.limits.high), ("low", op.tried.limits.low))
    for code in (derived_limits.NO_ROOM, derived_limits.TRIPS_A_START, derived_limits.TOO_SLOW):
        own = [(side, limit) for side, limit in sides if code in limit.codes]
        if own:
            side, limit = own[0]
            has = min(limit.has, limit.soonest)
            figures = {
                "limits": Named("limits_told", ("both",) if len(own) > 1 else (side,)),
                "side": Named("limit_side", (side,)),
                "pressure": pascal(limit.pressure),
                "edge": pascal(limit.edge),
                "normal": pascal(limit.normal),
                "error": pascal(limit.error),
                "delay": Q_(limit.delay, "s"),
                "needs": Q_(limit.needs, "s"),
                "has": Q_(has if np.isfinite(has) else 0.0, "s"),
            }
            yield Finding(f"limit_{code}", tuple(dict.fromkeys(x.appliance for _, x in own)), figures)
    limits = op.tried.limits
    if limits.loses_proof:
        figures = {"pressure": pascal(limits.proof), "needs": Q_(limits.unproved, "s"), "delay": Q_(limits.wait, "s")}
        yield Finding("proof_lost", (), figures)
