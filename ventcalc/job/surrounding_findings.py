"""Surrounding findings: terminals, the room's air, its exhaust fans, and exhaust before an intake."""

from collections.abc import Iterator

from ventcalc.building import (
    clearance_words,
    clearances,
    code_rules,
    combustion_air_verdicts,
    combustion_air_words,
    re_entrainment_words,
    roof_scene,
)
from ventcalc.building.re_entrainment import Part
from ventcalc.job.findings import Condition, Finding, Told, pascal
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope

# Flue gas before an opening is a danger to people; a terminal too low over a roof is a fault of the vent.
_LETS_GAS_IN = (*roof_scene.OPENINGS, *(f"{o} {roof_scene.NEXT_DOOR}" for o in roof_scene.OPENINGS))


def terminals(op: Operation) -> Iterator[Finding]:
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


def sights(op: Operation) -> Iterator[Finding]:
    """Terminals that are seen from where none may be; the view that shows most of each."""
    for ending in op.around.endings:
        seen = [s for s in ending.sights if s.seen]
        if not seen:
            continue
        worst, least = max(seen, key=lambda s: s.shows.m), ending.least.height
        most = worst.hidden_below - Q_(ending.terminal.cap, "m")
        figures = {
            "worst": worst.view,
            "shows": worst.shows,
            "line": worst.hidden_below,
            "behind": worst.behind,
            "others": len(seen) - 1,
            "least": least,
            "most": most,
            "fits": least is not None and least <= most,
            "apart": least is not None and least > most,
            "fan": ending.terminal.fan,
        }
        yield Finding("terminal_seen", (ending.terminal.name,), figures)


def _rules(*about) -> str:
    """Rules of clearance in words; the last argument is the unit system."""
    *found, system = about
    return " ".join(clearance_words.sentence(f, system) for f in found)


def room_air(op: Operation) -> Iterator[Finding]:
    """What the room's air lacks: every way of bringing it, and single openings or interlocks."""
    found = op.around
    if not found.enough:
        tried = [v for v in found.air if v.verdict == code_rules.FAIL]
        yield Finding("no_air", (), {"reasons": Told(_ways, tuple(tried))})
    ways = combustion_air_verdicts.ways(op.job.plant, op.job.room) if found.air else ()
    for v in found.air:
        if v.verdict == code_rules.FAIL and v not in ways:
            yield Finding("air_detail", (), {"reason": Told(combustion_air_words.verdict_sentence, (v,))})


def exhausts(op: Operation) -> Iterator[Finding]:
    """What the room's exhaust fans do; what an outlet does without them as well is no doing of theirs."""
    effects = op.around.effects
    beyond = [e for e in effects if e.beyond > e.beyond_without + outlet_envelope.READABLE]
    if beyond:
        worst = max(beyond, key=lambda e: e.beyond)
        figures = {
            "worst": worst.appliance,
            "beyond": pascal(worst.beyond),
            "without": pascal(worst.beyond_without),
            "room": pascal(worst.lowest_room),
        }
        yield Finding("exhausts", tuple(e.appliance for e in beyond), figures)
    below = [e for e in effects if e.below_limit]
    if below:
        worst = max(below, key=lambda e: e.limit - e.lowest_room)
        figures = {"pressure": pascal(worst.lowest_room), "limit": pascal(worst.limit)}
        rule = f"{worst.limit_rule}: {code_rules.cited('combustion_air', worst.limit_rule)}"
        yield Finding("house_limit", tuple(e.appliance for e in below), figures, rule)
    unsettled = max((e.unsettled for e in effects), default=0)
    if unsettled:
        yield Finding("room_unsettled", (), {"conditions": unsettled})


def intakes(op: Operation) -> Iterator[Finding]:
    """Exhaust before an intake."""
    if op.around.no_plume:
        yield Finding("intake_unknown", (), {"reason": op.around.no_plume})
    for p in op.around.plumes:
        for part in p.parts:
            if part.verdict == code_rules.FAIL or part.perhaps:
                yield _arriving(op, p.intake, part)
    by_wall = [p for p in op.around.plumes if p.wall]
    if by_wall:
        near = min(by_wall, key=lambda p: p.distance)
        figures = {"nearest": near.intake, "distance": Q_(near.distance, "m")}
        yield Finding("intake_by_wall", tuple(p.intake for p in by_wall), figures)


def _ways(*about) -> str:
    """What every way of bringing air lacks; the last argument is the unit system."""
    *tried, system = about
    return " ".join(combustion_air_words.verdict_sentence(v, system) for v in tried)


def _arriving(op: Operation, intake: str, part: Part) -> Finding:
    """One gas of the exhaust that comes to an intake."""
    code = "intake_harm" if part.harmful else "intake_guideline"
    if part.perhaps:
        code = "intake_perhaps"
    key = part.harm_rule if part.harmful else part.rule
    figures = {
        "gas": re_entrainment_words.NAMES[part.gas],
        "added": re_entrainment_words.ppm_text(part.added),
        "at_most": re_entrainment_words.ppm_text(part.at_most),
        "limit": re_entrainment_words.ppm_text(part.harm if part.harmful else part.limit),
        "share": part.share is not None,
        "of_nox": float(part.share or 0.0),
        "wind": Q_(part.wind, "m/s"),
        "dilution": float(part.dilution),
        "state": Condition(op.scan, op.around.plume_states[part.state]),
    }
    return Finding(code, (intake,), figures, code_rules.cited("re_entrainment", key))
