"""Outlet findings: outlets outside their windows, at rest and in load changes, or inside by less than is uncertain;
and what the header does.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from ventcalc.draft import held_pressure, load_changes
from ventcalc.draft.load_changes import Passage
from ventcalc.draft.start_settings import usual_setting
from ventcalc.job.findings import Condition, Finding, pascal
from ventcalc.job.margins import LOSS_DOUBT, SENSOR_ACCURACY
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.words import listed

WORTH_TELLING = 1.0  # Pa that an outlet goes further in time than at rest


def outlets(op: Operation) -> Iterator[Finding]:
    """Outlets outside their windows at rest: all that rise above are one finding, all that fall below another."""
    every = [part for e in op.envelopes for part in (e, e.purge) if part is not None]
    for code, beyond, end in (("outlet_high", "above", "high"), ("outlet_low", "below", "low")):
        out = [e for e in every if getattr(e, beyond) > 0.0]
        if not out:
            continue
        worst = max(out, key=lambda e: getattr(e, beyond))
        figures = {
            "worst": worst.appliance,
            "pressure": pascal(getattr(worst, end)),
            "beyond": pascal(getattr(worst, beyond)),
            "limit": pascal(worst.window[end == "high"]),
            "state": Condition(op.scan, getattr(worst, f"{end}_state")),
            "purging": getattr(worst, f"{end}_purging") and worst.limits == "firing",
            "of_purge": worst.limits == "purge",
        }
        yield Finding(code, tuple(dict.fromkeys(e.appliance for e in out)), figures)


@dataclass(frozen=True)
class _Beyond:
    """An outlet that goes beyond a window in a load change, further than in any steady condition."""

    passage: Passage
    pressure: float
    by: float
    limit: float
    change: int
    at: float
    lasts: float
    too_long: bool


def in_time(op: Operation) -> Iterator[Finding]:
    """What outlets meet in load changes beyond what their steady conditions say; against usual delays."""
    told = {r.appliance for r in op.reversals} | {s.appliance for s in op.natural.starts}
    for p in op.passages:
        if p.spilled > 0.0 and p.appliance not in told:
            figures = {
                "spilled": Q_(p.spilled, "kg"),
                "after": Q_(load_changes.AFTER, "s"),
                "lasts": Q_(p.spilling, "s"),
                "change": op.changes.describe(p.spill_change),
            }
            yield Finding("spillage_in_time" if p.still > 0.0 else "spillage_at_start", (p.appliance,), figures)
    pairs = [(p, e) for p, e in zip(op.passages, op.envelopes, strict=False)]
    pairs += [(p.purge, e.purge) for p, e in pairs if p.purge and e.purge]
    found = [b for p, e in pairs for b in _beyond(p, e)]
    for code, too_long in (("outlet_in_time", True), ("outlet_in_time_briefly", False)):
        own = [b for b in found if b.too_long == too_long]
        if own:
            worst = max(own, key=lambda b: b.by)
            figures = {
                "worst": worst.passage.appliance,
                "pressure": pascal(worst.pressure),
                "beyond": pascal(worst.by),
                "limit": pascal(worst.limit),
                "change": op.changes.describe(worst.change),
                "at": Q_(worst.at, "s"),
                "lasts": Q_(max(b.lasts for b in own), "s"),
            }
            yield Finding(code, tuple(dict.fromkeys(b.passage.appliance for b in own)), figures)


def _beyond(p: Passage, e: Envelope) -> Iterator[_Beyond]:
    for pressure, at, change, lasts, limit, steady, side, delay in (
        (p.high, p.high_at, p.high_change, p.above, e.window[1], e.high, 1.0, "high_delay"),
        (p.low, p.low_at, p.low_change, p.below, e.window[0], e.low, -1.0, "low_delay"),
    ):
        by = side * (pressure - limit)
        if by > 0.0 and side * (pressure - steady) >= WORTH_TELLING:
            kept = side * (steady - limit) <= 0.0
            patience = float(usual_setting(delay).m_as("s"))
            yield _Beyond(p, pressure, by, limit, change, at, lasts, kept and lasts > patience)


def between_levels(op: Operation) -> Iterator[Finding]:
    """Outlets that leave their windows while burners modulate, and keep them at every level; one finding for all."""
    if op.between:
        worst = max(op.between, key=lambda b: b.beyond)
        figures = {
            "worst": worst.appliance,
            "pressure": pascal(worst.pressure),
            "beyond": pascal(worst.beyond),
            "limit": pascal(worst.limit),
            "burners": listed(worst.burners),
            "share": worst.share,
            "state": Condition(op.scan, worst.near),
        }
        yield Finding("between_levels", tuple(dict.fromkeys(b.appliance for b in op.between)), figures)


def thin_margins(op: Operation) -> Iterator[Finding]:
    """Outlets that stay inside their windows by no more than what is uncertain there; one finding for all."""
    margin, doubt = op.outcome.margins
    # What is outside by no more than can be read is not outside, but thin.
    thin = [k for k in range(margin.size) if -outlet_envelope.READABLE <= margin[k] <= doubt[k]]
    if thin:
        worst = min(thin, key=lambda k: margin[k] - doubt[k])
        names = [a.name for a in op.job.plant.appliances]
        figures = {
            "worst": names[worst],
            "margin": pascal(max(margin[worst], 0.0)),
            "doubt": pascal(doubt[worst]),
            "controlled": op.outcome.remedy.controlled,
            "accuracy": SENSOR_ACCURACY,
            "share": LOSS_DOUBT,
        }
        yield Finding("thin_margin", tuple(names[k] for k in thin), figures)


def header(op: Operation) -> Iterator[Finding]:
    """What the header does: what the vent alone gives, or where it is held."""
    low, high = (pascal(p) for p in op.header)
    if op.outcome.remedy.set_point is not None:
        fan = op.outcome.remedy.fan is not None
        yield Finding("held", (held_pressure.HEADER,), {"low": low, "high": high, "fan": fan})
        return
    figures = {
        "low": low,
        "high": high,
        "low_state": Condition(op.scan, op.header_states[0]),
        "high_state": Condition(op.scan, op.header_states[1]),
        "common": len(op.job.plant.appliances) > 1,
        "set_point": op.job.set_point,
        "lacking": pascal(op.lacking),
        "excess": pascal(op.excess),
    }
    yield Finding("header_with_fan" if op.outcome.remedy.fan else "header", (), figures)
