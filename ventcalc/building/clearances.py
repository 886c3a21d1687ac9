"""Clearances: the verdict of every rule of a code on where a vent ends, what governs it, and what would clear it.

Against the roof, walls, windows, intakes, the lot line and walkways. Nothing here says that a place is safe; the
authority that adopted a code reads it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.building.clearance_rules import (
    Span,
    View,
    climb,
    gate_holds,
    names_kind,
    row_fits,
    spans,
    view_of,
)
from ventcalc.building.clearance_table import FOOT, INCH, ROOF_FORMS, Rule, in_force
from ventcalc.building.code_rules import NONE, READING, VERDICTS
from ventcalc.building.plan_geometry import nearest, part_above
from ventcalc.building.roof_scene import EXACT, Scene
from ventcalc.building.terminal import Terminal
from ventcalc.units import Q_, Quantity
from ventcalc.words import Remark


@dataclass(frozen=True, eq=False)
class Finding:
    """What one rule says of one terminal.

    ``verdict`` is one of `VERDICTS`, ``reason`` why, where it is a reading or does not apply. ``thing`` is the
    name of what governs and ``point`` where on it (x, y, z); ``gap`` is the distance to it in plan from the vent's
    outside, ``need`` the height that the lowest discharge opening must have beside it (None: none does or is asked).
    Of a rule that is broken: ``raise_by`` and ``lower_by``, out of all that it forbids at this place, and ``move_by``,
    away from the point until this thing no longer counts (from a roof plane: from what of it stands too high); each
    None where that does not cure it. ``spare`` is how much higher than needed it stands.
    """

    rule: str
    row: Rule | None
    verdict: str
    reason: Remark | None = None
    thing: str = ""
    point: Quantity | None = None
    gap: Quantity | None = None
    need: Quantity | None = None
    raise_by: Quantity | None = None
    lower_by: Quantity | None = None
    move_by: Quantity | None = None
    spare: Quantity | None = None

    @property
    def broken(self) -> bool:
        """Whether the requirement is not met, whatever the verdict on that is."""
        return any(cure is not None for cure in (self.raise_by, self.lower_by, self.move_by))


def judge(
    scene: Scene, terminal: Terminal, rules: Sequence[Rule] | None = None, habit: bool = False
) -> tuple[Finding, ...]:
    """What every rule says of the terminal, one `Finding` a rule, in the order of the table.

    ``rules``: those of `read_rules`, or the shipped ones. ``habit``: "three feet within ten" in place of the table by
    roof pitch. Where the terminal's kind is contradicted the rules of both kinds count, and a finding says so.
    """
    view = view_of(scene, terminal, terminal.at)
    rules = in_force(rules, habit)
    names = dict.fromkeys(r.rule for r in rules)
    found = [_find(view, name, [r for r in rules if r.rule == name]) for name in names]
    return (*found, *_not_named(view, rules), *_contradicted(terminal))


def overall(findings: Iterable[Finding]) -> str:
    """The worst of the verdicts; "does not apply" only where nothing else was said."""
    return min((f.verdict for f in findings), key=VERDICTS.index)


DECLARED = "kind of terminal as declared"


def _contradicted(terminal: Terminal) -> list[Finding]:
    """A reading where kind, categories and fan do not fit each other."""
    if not terminal.contradiction:
        return []
    reason = _reason("contradicted", contradiction=terminal.contradiction, kinds=terminal.kinds)
    return [Finding(DECLARED, None, READING, reason)]


def _not_named(view: View, rules: Sequence[Rule]) -> list[Finding]:
    """A reading where the terminal passes the roof and no rule on the roof names its kind."""
    named = any(r.form in ROOF_FORMS and names_kind(r, view.terminal) for r in rules)
    if named or view.terminal.through != "roof":
        return []
    reason = _reason("not_named", kind=view.terminal.kind)
    return [Finding("height above the roof", None, READING, reason)]


def _find(view: View, name: str, rows: list[Rule]) -> Finding:
    """The finding of one rule at the one place of the view."""
    named = [r for r in rows if names_kind(r, view.terminal)]
    if not named:
        return Finding(name, rows[0], NONE, _reason("other_kinds", kinds=", ".join(rows[0].kinds)))
    first = named[0]
    if first.form in ROOF_FORMS and view.terminal.through == "wall":
        return Finding(name, first, NONE, _reason("through_wall"))
    gated = [r for r in named if gate_holds(view, r)[0]]
    if not gated:
        return Finding(name, first, NONE, _gate_reason(view, first))
    fitting = [r for r in gated if row_fits(view, r)[0]]
    if not fitting:
        return Finding(name, gated[-1], READING, _row_reason(view, gated))
    row = fitting[0]
    forbidden = spans(view, row)
    if not forbidden:
        return _nothing_there(view, name, row)
    return _verdict(view, name, row, forbidden)


def _nothing_there(view: View, name: str, row: Rule) -> Finding:
    if row.form == "above outlet" and view.terminal.hooded is False:
        return Finding(name, row, NONE, _reason("no_hood"))
    if row.form == "above outlet":
        return Finding(name, row, READING, _reason("hood_not_given"))
    if row.form in ROOF_FORMS:
        return Finding(name, row, NONE, _reason("over_no_roof"))
    return Finding(name, row, NONE, _reason("no_such_thing", things=" or ".join(row.objects)))


def _reason(name: str, **figures) -> Remark:
    return Remark("building", "clearance_reason", name, figures)


def _note(row: Rule) -> Remark | None:
    """What the row itself notes."""
    return _reason("note", note=row.note) if row.note else None


def _gate_reason(view: View, row: Rule) -> Remark:
    if row.diameter_to is not None and 2.0 * view.terminal.radius > row.diameter_to + EXACT:
        return _reason("smaller_vents", inches=row.diameter_to / INCH, millimeters=1e3 * row.diameter_to)
    if row.wall_from is not None:
        return _reason("far_from_wall", feet=row.wall_from / FOOT, meters=row.wall_from)
    return _reason("larger_or_near_wall")


def _row_reason(view: View, rows: list[Rule]) -> Remark:
    if rows[-1].pitch is not None:
        return _reason("beyond_pitch", pitch=view.ground.pitch[0], end=rows[-1].pitch[1])
    if view.terminal.input is None:
        return _reason("input_not_given")
    return _reason("beyond_input", end=rows[-1].input[1])


def _verdict(view: View, name: str, row: Rule, forbidden: list[Span]) -> Finding:
    """The finding of a row that applies: by the thing that asks for most, else by the one that comes nearest to it."""
    z = view.terminal.low
    broken = [s for s in forbidden if s.low[0] + EXACT < z < s.high[0] - EXACT]
    if broken:
        worst = max(broken, key=lambda s: s.high[0])
        reason = _note(row) if row.broken == READING else None
        return _finding(name, row, row.broken, reason, worst, z, _cures(view, row, worst, forbidden, z))
    asking = [s for s in forbidden if s.high[0] > -np.inf]
    if asking:
        tightest = max(asking, key=lambda s: s.high[0] if z >= s.high[0] - EXACT else -np.inf)
    else:
        tightest = min(forbidden, key=lambda s: s.gap[0])
    if not asking and row.form in ROOF_FORMS:
        return Finding(name, row, NONE, _reason("over_no_roof"))
    return _finding(name, row, row.met, _note(row) if row.met == READING else None, tightest, z, {})


def _cures(view: View, row: Rule, worst: Span, forbidden: list[Span], z: float) -> dict[str, Quantity]:
    """How far to raise or lower it, out of all spans of this rule, or to move it away from the worst thing."""
    low, high = (np.array([getattr(s, end) for s in forbidden]) for end in ("low", "high"))
    up, down = climb(low, high, np.array([z]))[0], -climb(-high, -low, np.array([-z]))[0]
    roof = view.ground.height[0]
    # Above the roof it cannot be lowered to below it, and nowhere into the ground.
    buried = down <= view.scene.ground or z > roof > down
    cures = {"raise_by": up - z, "lower_by": np.inf if buried else z - down}
    if worst.reach is not None:
        cures["move_by"] = _move(view, row, worst, z)
    return {name: Q_(by, "m") for name, by in cures.items() if np.isfinite(by)}


def _move(view: View, row: Rule, span: Span, z: float) -> float:
    """How far away in plan [m] the requirement ends, at the height ``z`` [m] of the lowest discharge opening."""
    gap = span.gap[0]
    plane = next((p for p in view.scene.planes if p.name == span.thing), None)
    if plane is not None:  # only what stands too high must be out of reach
        part = part_above(plane, z - row.value + EXACT)
        if len(part) > 2:
            gap = nearest(view.p, part, closed=True)[0][0] - view.terminal.radius
        return max(span.reach - gap, 0.0)
    thing = next(t for t in view.scene.placed if t.name == span.thing)
    flat_gap = nearest(view.p, thing.shape, thing.closed)[0][0] - view.terminal.radius
    if row.form != "away":
        return span.reach - flat_gap
    bottom, top = thing.span
    rise = max(bottom - (z + view.terminal.cap), z - top, 0.0)
    return float(np.sqrt(max(row.value**2 - rise**2, 0.0))) - flat_gap


def _finding(name, row, verdict, reason, span: Span, z: float, cures: Mapping[str, Quantity]) -> Finding:
    high = z + cures["raise_by"].m_as("m") if "raise_by" in cures else span.high[0]
    need = Q_(high, "m") if np.isfinite(high) else None
    spare = Q_(z - high, "m") if not cures and need is not None and z >= high - EXACT else None
    gap = None if span.reach is None else Q_(max(span.gap[0], 0.0), "m")
    at = Q_(span.at[0], "m")
    return Finding(name, row, verdict, reason, span.thing, at, gap=gap, need=need, spare=spare, **cures)
