"""Judgement: what speaks against a design, from what it does; the one place where that is decided.

`judge` reads an `operation` and gives findings as records. A design is cured where none of them is of weight people or
fault (`findings.Judgement.cured`): the tick in a table, page one, ``results.json`` and the exit status all ask that.
One cause is one finding, however many outlets or sections it touches.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ventcalc.building import (
    clearance_words,
    clearances,
    co_limits,
    code_rules,
    combustion_air_verdicts,
    combustion_air_words,
    re_entrainment_words,
    roof_scene,
)
from ventcalc.building.re_entrainment import Part
from ventcalc.draft import damper_sizing, held_pressure, light_off, load_changes
from ventcalc.draft.load_changes import Passage
from ventcalc.draft.start_settings import usual_setting
from ventcalc.flow import junctions, materials
from ventcalc.flow.materials import Objection
from ventcalc.gas import appliance
from ventcalc.job import failures, findings, permissions, remedies, remedy_words
from ventcalc.job.failures import Failure
from ventcalc.job.findings import Finding, Judgement
from ventcalc.job.operation import Operation
from ventcalc.units import Q_, Quantity
from ventcalc.vent import outlet_envelope, reversal
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.outlet_envelope import Envelope

# Which categories may share a vent that natural draft serves.
COMMON_VENT_RULE = (
    "IFGC chapter 5 on vent connectors and mechanical draft (from memory; check the adopted edition): a connector "
    "serving a Category I appliance shall not join any part of a vent under positive pressure, such as those of "
    "Category III or IV appliances"
)

WORTH_TELLING = 1.0  # Pa that an outlet goes further in time than at rest


@dataclass(frozen=True)
class Condition:
    """One operating condition of a scan, as a figure of a finding."""

    scan: Scan
    column: int

    def words(self, system: str = "US") -> str:
        """The condition in words."""
        return self.scan.describe(self.column, system)


@dataclass(frozen=True)
class Told:
    """A figure whose words another module makes of what it is ``about``, in one unit system."""

    tell: Callable[..., str]
    about: tuple

    def words(self, system: str = "US") -> str:
        """Its words."""
        return self.tell(*self.about, system)


def judge(operation: Operation) -> Judgement:
    """Everything that was found of a design, the gravest first."""
    parts = (
        *(
            _terminals,
            _spillage,
            _categories,
            _outlets,
            _margins,
            _in_time,
            _natural,
            _around,
            _materials,
            _runs,
            _devices,
        ),
        *(_starts, _permissions, _unsettled, _header, _wet, _junctions),
    )
    return findings.judgement(f for part in parts for f in part(operation))


def _pa(value: float) -> Quantity:
    return Q_(float(value), "Pa")


# --- People ------------------------------------------------------------------------------------------------------


def _spillage(op: Operation) -> Iterator[Finding]:
    """Flue gas into the room, at rest: without exhaust fans and with them, and what it would lead to there."""
    back = [r for r in op.reversals if r.dangerous]
    pulled = [e for e in op.around.effects if e.dangerous]
    worst = [(r.flue_gas, r.flow, r.state, r.appliance, None) for r in back]
    worst += [(e.flue_gas, e.spill, e.spill_state, e.appliance, e) for e in pulled]
    if worst:
        flue_gas, flow, state, name, effect = max(worst, key=lambda s: s[0])
        scan = op.around.exhausted if effect else op.scan
        entering = (reversal.flue_gas_in_room(scan)[0] > reversal.REVERSAL_FLOW).any(axis=0)
        figures = {
            "flue_gas": Q_(flue_gas, "kg/s"),
            "flow": Q_(flow, "kg/s"),
            "worst": name,
            "conditions": scan.count(entering),
            "total": len(scan.conditions),
            "state": Condition(scan, state),
            # In these conditions the vent drafts as well, by what was before.
            "either": int(np.intersect1d(scan.condition[entering], scan.condition[~entering]).size),
            "exhausts": effect is not None,
            "without": Q_(effect.flue_gas_without if effect else flue_gas, "kg/s"),
        }
        yield Finding("spillage", tuple(dict.fromkeys(s[3] for s in worst)), figures | _monoxide(op))
    yield from _purge_air(op)


def _purge_air(op: Operation) -> Iterator[Finding]:
    """Air with which a neighbor purges, and no flue gas, that comes back into the room."""
    told = {r.appliance for r in op.reversals if r.dangerous} | {e.appliance for e in op.around.effects if e.dangerous}
    pulled = [e for e in op.around.effects if e.back > reversal.REVERSAL_FLOW and e.appliance not in told]
    if pulled:
        worst = max(pulled, key=lambda e: e.back)
        figures = {"worst": worst.appliance, "flow": Q_(worst.back, "kg/s"), "without": Q_(worst.back_without, "kg/s")}
        yield Finding("purge_air_drawn", tuple(e.appliance for e in pulled), figures)
    told |= {e.appliance for e in pulled}
    back = [r for r in op.reversals if r.appliance not in told]
    if back:
        worst = max(back, key=lambda r: r.most)
        figures = {
            "worst": worst.appliance,
            "flow": Q_(worst.most, "kg/s"),
            "conditions": worst.most_states,
            "total": len(op.scan.conditions),
            "state": Condition(op.scan, worst.most_state),
        }
        yield Finding("purge_air", tuple(dict.fromkeys(r.appliance for r in back)), figures)


def _monoxide(op: Operation) -> dict:
    """What the worst of the spills leads to in the room, where the job tells of it and some limit fails."""
    failed = [s.exposure for s in op.around.spills if s.exposure.failed]
    if not failed:
        return {}
    e = max(failed, key=lambda e: (bool(e.harmful), e.co[0].max()))
    first = min(e.harmful or e.failed, key=lambda j: j.over)
    return {
        "co": f"{e.co[0].max():,.0f}",
        "lasting": co_limits.clock(e.times[-1]),
        "failed": len(e.failed),
        "judged": len(e.judged),
        "kind": "of those for harm to people" if e.harmful else "a guideline of air, and none of those for harm",
        "first": "at once" if first.over <= 0.0 else f"after {co_limits.clock(first.over)}",
        "limit": first.limit.cited,
    }


def _categories(op: Operation) -> Iterator[Finding]:
    """Appliances that may not share a vent by their categories, and sections pressed under a category I or II.

    An appliance made for negative vent pressure may share with one made for positive only where the shared vent is
    under draft in every condition: a fan or a control that holds it so, never nature alone.
    """
    plant, controlled = op.scan.plant, bool(op.outcome.remedy.controls)
    for section, met in zip(plant.order, op.extremes, strict=True):
        sides = _by_category(plant.serves(section.name))
        if all(sides) and not (controlled and met.pressure[1] <= 0.0):
            negative, positive = sides
            figures = {
                "negative": tuple(a.name for a in negative),
                "positive": tuple(a.name for a in positive),
                "negative_categories": tuple(dict.fromkeys(a.category for a in negative)),
                "positive_categories": tuple(dict.fromkeys(a.category for a in positive)),
                "controlled": controlled,
            }
            yield Finding("categories", (section.name,), figures, COMMON_VENT_RULE)
            break
    if op.outcome.pressed:
        met = [m for m in op.extremes if m.section in op.outcome.pressed]
        highest = _pa(max(m.pressure[1] for m in met))
        yield Finding("positive_pressure", op.outcome.pressed, {"pressure": highest}, COMMON_VENT_RULE)


def _by_category(served) -> tuple[list, list]:
    """Appliances made for negative vent pressure, and those that may put the vent under positive pressure."""
    positive = {c: appliance.CATEGORIES[c].positive for c in {a.category for a in served}}
    return [a for a in served if not positive[a.category]], [a for a in served if positive[a.category]]


# --- Outlets -----------------------------------------------------------------------------------------------------


def _outlets(op: Operation) -> Iterator[Finding]:
    """Outlets outside their windows at rest: all that rise above are one finding, all that fall below another."""
    every = [part for e in op.envelopes for part in (e, e.purge) if part is not None]
    for code, beyond, end in (("outlet_high", "above", "high"), ("outlet_low", "below", "low")):
        out = [e for e in every if getattr(e, beyond) > 0.0]
        if not out:
            continue
        worst = max(out, key=lambda e: getattr(e, beyond))
        figures = {
            "worst": worst.appliance,
            "pressure": _pa(getattr(worst, end)),
            "beyond": _pa(getattr(worst, beyond)),
            "limit": _pa(worst.window[end == "high"]),
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


def _in_time(op: Operation) -> Iterator[Finding]:
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
                "pressure": _pa(worst.pressure),
                "beyond": _pa(worst.by),
                "limit": _pa(worst.limit),
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


def _margins(op: Operation) -> Iterator[Finding]:
    """Outlets that stay inside their windows by no more than what is uncertain there; one finding for all."""
    margin, doubt = op.outcome.margins
    # What is outside by no more than can be read is not outside, but thin.
    thin = [k for k in range(margin.size) if -outlet_envelope.READABLE <= margin[k] <= doubt[k]]
    if thin:
        worst = min(thin, key=lambda k: margin[k] - doubt[k])
        names = [a.name for a in op.job.plant.appliances]
        figures = {
            "worst": names[worst],
            "margin": _pa(max(margin[worst], 0.0)),
            "doubt": _pa(doubt[worst]),
            "controlled": bool(op.outcome.remedy.controls),
            "accuracy": f"{remedies.SENSOR_ACCURACY:.1%}",
            "share": f"{remedies.LOSS_DOUBT:.0%}",
        }
        yield Finding("thin_margin", tuple(names[k] for k in thin), figures)


def _runs(op: Operation) -> Iterator[Finding]:
    """Runs longer than the instructions allow."""
    for r in op.runs:
        if r.allowed is not None and r.equivalent > r.allowed:
            yield Finding("run_too_long", (r.appliance,), {"run": Q_(r.equivalent, "m"), "allowed": Q_(r.allowed, "m")})


# --- Natural draft -----------------------------------------------------------------------------------------------


def _natural(op: Operation) -> Iterator[Finding]:
    """The area rule, light-off from every stack, and the liner that would mend a flue."""
    for a in op.natural.oversized:
        figures = {"ratio": f"{a.ratio:.1f}", "appliance": a.appliance, "times": f"{a.times:g}"}
        yield Finding("oversized_flue", (a.section,), figures, f"{a.source} ({a.status})")
    starts = op.natural.starts
    for code, some in (
        ("no_light_off", [s for s in starts if s.fails and s.spills]),
        ("no_draft_at_light_off", [s for s in starts if s.fails and not s.spills]),
        ("slow_light_off", [s for s in starts if not s.fails and s.spills]),
        ("pressed_at_light_off", [s for s in starts if not s.fails and not s.spills and s.draws_after > PRESSED_FOR]),
    ):
        if some:
            worst = max(some, key=lambda s: (s.spilled, s.draws_after or 0.0))
            figures = {
                "season": worst.season,
                "stack": _STANDS[worst.stack],
                "within": Q_(worst.within, "s"),
                "after": Q_(worst.draws_after or worst.within, "s"),
                "spilled": Q_(worst.spilled, "kg"),
                "still": Q_(worst.still, "kg/s"),
            }
            yield Finding(code, tuple(dict.fromkeys(s.appliance for s in some)), figures)
    for x in op.natural.liners[:1]:
        if x.fits:
            figures = {
                "material": x.material,
                "diameter": Q_(x.diameter, "m"),
                "ratio": f"{x.ratio:.1f}",
                "times": f"{x.times:g}",
                "capacity": Q_(x.capacity, "W"),
                "needed": Q_(x.needed, "W"),
                "clearance": Q_(x.clearance, "delta_degC"),
            }
            yield Finding("liner", (x.section,), figures)


PRESSED_FOR = 5.0  # s at light-off that no one need hear of (common practice, no source)
_STANDS = {
    light_off.STEADY: "as it idles",
    light_off.STILL: "full of air as cold as outdoors",
    light_off.ROOM: "full of air as warm as the room",
    light_off.NIGHT: "cold from the night, in air that has warmed",
}


# --- Vent and devices --------------------------------------------------------------------------------------------


def objections(op: Operation) -> tuple[Objection, ...]:
    """What speaks against the material of each section, over all conditions."""
    found = []
    for section, met in zip(op.job.plant.order, op.extremes, strict=True):
        served = op.job.plant.serves(section.name)
        service = materials.Service(
            section.name,
            tuple(a.category for a in served),
            tuple(a.fuel.kind for a in served),
            section.place,
            Q_(met.gas[1], "K"),
            Q_(met.pressure[1], "Pa"),
            met.condensing > 0.0,
            all(section.material.name in a.named_materials for a in served),
        )
        found += materials.objections(section.material, service)
    return tuple(found)


def _materials(op: Operation) -> Iterator[Finding]:
    """One finding for all materials, with what speaks against each and the sections that are made of it."""
    found = objections(op)
    if found:
        figures = {
            "objections": tuple(dict.fromkeys(o.code for o in found)),
            "reason": Told(_reasons, _gravest(found)),
        }
        yield Finding("material", tuple(dict.fromkeys(o.section for o in found)), figures)


def _gravest(found: tuple[Objection, ...]) -> tuple[Objection, ...]:
    """Of the objections of one kind to one material the one with the greatest pressure or temperature."""

    def figure(o: Objection) -> float:
        return next((v.m_as(v.to_base_units().units) for n, v in o.figures.items() if n in ("gas", "pressure")), 0.0)

    grave: dict[tuple[str, str], Objection] = {}
    for o in found:
        key = o.material, o.code
        if key not in grave or figure(o) > figure(grave[key]):
            grave[key] = o
    return tuple(grave.values())


def _reasons(*about) -> str:
    """Objections in words, material by material; the last argument is the unit system."""
    *found, system = about
    told = {m: "; ".join(materials.sentence(o, system) for o in found if o.material == m)
            for m in dict.fromkeys(o.material for o in found)}  # fmt: skip
    return ". ".join(f"{material}: {reasons}" for material, reasons in told.items())


def _permissions(op: Operation) -> Iterator[Finding]:
    """What somebody must still say yes to, and what somebody said no to."""
    given = op.job.permissions
    for code, listed in (
        ("permission_refused", permissions.refused_permissions(op.job.plant, given)),
        ("permission_open", permissions.open_permissions(op.job.plant, given)),
    ):
        for what in dict.fromkeys(p.what for p in listed):
            yield Finding(code, tuple(p.of for p in listed if p.what == what), {"what": what})


def _devices(op: Operation) -> Iterator[Finding]:
    """What speaks against fan, damper and control."""
    o = op.outcome
    if o.remedy.unfit:
        yield Finding("fan_unfit", (), {"reason": o.remedy.unfit})
    for reason in o.reasons:
        if reason.code in ("fan too hot", "fan wet"):
            yield Finding(reason.code.replace(" ", "_"), reason.subjects, reason.figures)
    if o.step > remedies.DAMPER_TOLERANCE.m_as("Pa"):
        figures = {
            "stroke": f"{damper_sizing.ACTUATOR_STEP:.0%}",
            "step": _pa(o.step),
            "allowed": remedies.DAMPER_TOLERANCE,
        }
        yield Finding("actuator_coarse", (), figures)
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
                "error": _pa(o.held.error[k, at]),
                "state": Condition(op.scan, at),
            }
            yield Finding("control_misses", (remedy_words.sensed(op.scan.plant, control.sensor),), figures)


def _starts(op: Operation) -> Iterator[Finding]:
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
                "beyond": _pa(worst.beyond),
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
        worst = max(some, key=lambda f: (f.into_room, f.beyond))
        figures = {
            "cases": tuple(_FAILS[f.case] for f in some),
            "worst": _FAILS[worst.case],
            "season": worst.season,
            "beyond": _pa(worst.beyond),
            "spilled": Q_(worst.into_room, "kg"),
            "shutdown": Q_(worst.shutdown if np.isfinite(worst.shutdown) else 0.0, "s"),
            "followed": Q_(failures.LONGEST, "s"),
            "count": op.tried.coverage.failures,
        }
        yield Finding(code, tuple(o.appliance for o in worst.outlets if o.beyond > outlet_envelope.READABLE), figures)


_FAILS = {
    failures.FAN: "the fan stops",
    failures.POWER: "the power fails",
    failures.OPEN: "a damper sticks open",
    failures.SHUT: "a damper sticks shut",
    failures.STILL: "the sensor freezes",
    failures.BLOCKED: "the sensor's line is blocked",
    failures.FLAME: "a burner loses its flame",
}


def _limits(op: Operation) -> Iterator[Finding]:
    """Where no limit of the header fits between what is normal and the first outlet outside its window."""
    sides = (("high", op.tried.limits.high), ("low", op.tried.limits.low))
    for code in (failures.NO_ROOM, failures.TRIPS_A_START, failures.TOO_SLOW):
        own = [(side, limit) for side, limit in sides if code in limit.codes]
        if own:
            side, limit = own[0]
            has = min(limit.has, limit.soonest)
            figures = {
                "sides": tuple(side for side, _ in own),
                "side": side,
                "pressure": _pa(limit.pressure),
                "edge": _pa(limit.edge),
                "normal": _pa(limit.normal),
                "error": _pa(limit.error),
                "delay": Q_(limit.delay, "s"),
                "needs": Q_(limit.needs, "s"),
                "has": Q_(has if np.isfinite(has) else 0.0, "s"),
            }
            yield Finding(f"limit_{code}", tuple(dict.fromkeys(x.appliance for _, x in own)), figures)


def _unsettled(op: Operation) -> Iterator[Finding]:
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


# --- Room and roof -----------------------------------------------------------------------------------------------

# Flue gas before an opening is a danger to people; a terminal too low over a roof is a fault of the vent.
_LETS_GAS_IN = (*roof_scene.OPENINGS, *(f"{o} {roof_scene.NEXT_DOOR}" for o in roof_scene.OPENINGS))


def _terminals(op: Operation) -> Iterator[Finding]:
    """What fails at a terminal, and what needs the authority's reading: one finding a terminal and weight."""
    for ending in op.around.endings:
        told: dict[str, list] = {}
        for f in ending.findings:
            if f.verdict == code_rules.FAIL:
                opening = f.row is not None and set(f.row.objects) & set(_LETS_GAS_IN)
                told.setdefault("terminal_opening" if opening else "terminal", []).append(f)
            elif f.verdict == code_rules.READING:
                code = "terminal_contradicted" if f.rule == clearances.DECLARED else "terminal_reading"
                told.setdefault(code, []).append(f)
        for code, own in told.items():
            figures = {"rules": tuple(f.rule for f in own), "reason": Told(_rules, tuple(own))}
            yield Finding(code, (ending.terminal.name,), figures)


def _rules(*about) -> str:
    """Rules of clearance in words; the last argument is the unit system."""
    *found, system = about
    return " ".join(clearance_words.sentence(f, system) for f in found)


def _around(op: Operation) -> Iterator[Finding]:
    """The room's air, what its exhaust fans do, and exhaust before an intake."""
    found = op.around
    if not found.enough:
        tried = [v for v in found.air if v.verdict == code_rules.FAIL]
        yield Finding("no_air", (), {"reasons": Told(_ways, tuple(tried))})
    ways = combustion_air_verdicts.ways(op.job.plant, op.job.room) if found.air else ()
    for v in found.air:
        if v.verdict == code_rules.FAIL and v not in ways:
            yield Finding("air_detail", (), {"reason": Told(combustion_air_words.verdict_sentence, (v,))})
    # What an outlet does without the fans as well is no doing of theirs.
    beyond = [e for e in found.effects if e.beyond > e.beyond_without + outlet_envelope.READABLE]
    if beyond:
        worst = max(beyond, key=lambda e: e.beyond)
        figures = {
            "worst": worst.appliance,
            "beyond": _pa(worst.beyond),
            "without": _pa(worst.beyond_without),
            "room": _pa(worst.lowest_room),
        }
        yield Finding("exhausts", tuple(e.appliance for e in beyond), figures)
    below = [e for e in found.effects if e.below_limit]
    if below:
        worst = max(below, key=lambda e: e.limit - e.lowest_room)
        figures = {"pressure": _pa(worst.lowest_room), "limit": _pa(worst.limit)}
        rule = f"{worst.limit_rule}: {code_rules.cited('combustion_air', worst.limit_rule)}"
        yield Finding("house_limit", tuple(e.appliance for e in below), figures, rule)
    unsettled = max((e.unsettled for e in found.effects), default=0)
    if unsettled:
        yield Finding("room_unsettled", (), {"conditions": unsettled})
    if found.no_plume:
        yield Finding("intake_unknown", (), {"reason": found.no_plume})
    for p in found.plumes:
        for part in p.parts:
            if part.verdict != code_rules.PASS:
                yield _arriving(op, p.intake, part)


def _ways(*about) -> str:
    """What every way of bringing air lacks; the last argument is the unit system."""
    *tried, system = about
    return " ".join(combustion_air_words.verdict_sentence(v, system) for v in tried)


def _arriving(op: Operation, intake: str, part: Part) -> Finding:
    """One gas of the exhaust that comes to an intake."""
    code = "intake_harm" if part.harmful else "intake_guideline"
    if part.verdict == code_rules.READING:
        code = "intake_perhaps"
    key = part.harm_rule if part.harmful else part.rule
    figures = {
        "gas": re_entrainment_words.NAMES[part.gas],
        "added": re_entrainment_words.ppm_text(part.added),
        "at_most": re_entrainment_words.ppm_text(part.at_most),
        "limit": re_entrainment_words.ppm_text(part.harm if part.harmful else part.limit),
        "share": part.share is not None,
        "of_nox": f"{part.share or 0.0:.0%}",
        "wind": Q_(part.wind, "m/s"),
        "dilution": f"{part.dilution:,.0f}",
        "state": Condition(op.scan, op.around.plume_states[part.state]),
    }
    return Finding(code, (intake,), figures, code_rules.cited("re_entrainment", key))


# --- Notes -------------------------------------------------------------------------------------------------------


def _header(op: Operation) -> Iterator[Finding]:
    low, high = (_pa(p) for p in op.header)
    if op.outcome.remedy.set_point is not None:
        yield Finding("held", (held_pressure.HEADER,), {"low": low, "high": high})
        return
    figures = {
        "low": low,
        "high": high,
        "low_state": Condition(op.scan, op.header_states[0]),
        "high_state": Condition(op.scan, op.header_states[1]),
        "common": len(op.job.plant.appliances) > 1,
        "set_point": op.job.set_point,
        "lacking": _pa(op.lacking),
        "excess": _pa(op.excess),
    }
    yield Finding("header", (), figures)


def _wet(op: Operation) -> Iterator[Finding]:
    """Where walls lie below the dew point, in one finding for all sections; and the ice of it."""
    wet = [w for w in op.natural.wettings if w.lasting > 0.0]
    if wet:
        most = max(wet, key=lambda w: w.lasting)
        figures = {"worst": most.section, "rate": Q_(most.lasting, "kg/s"), "a_day": Q_(most.a_day, "m**3")}
        yield Finding("wet", tuple(w.section for w in wet), figures)
    for code, at_end in (("ice_at_terminal", True), ("ice", False)):
        icy = [i for i in op.natural.icings if (i.terminal is not None) == at_end]
        if icy:
            most = max(icy, key=lambda i: i.rate)
            figures = {
                "rate": Q_(most.rate, "kg/s"),
                "wall": Q_(most.wall, "K"),
                "state": Condition(op.scan, most.state),
                "warming": not most.hot,
            }
            yield Finding(code, tuple(i.section for i in icy), figures)


def _junctions(op: Operation) -> Iterator[Finding]:
    """Junctions whose branch is narrower than those that the coefficients were measured on."""
    outside = junctions.untested(op.job.plant.sections)
    if outside:
        low, high = junctions.TESTED_AREA_RATIO
        names = tuple(f"{name} ({ratio:.2f})" for name, ratio in outside)
        yield Finding("junctions", names, {"low": f"{low:g}", "high": f"{high:g}"})
