"""Clearance rules: every row of the table at its limit, a millimeter inside and outside."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from sample_roofs import MM, box, flat, found, gable, m, vent

from ventcalc.building import clearance_rules, clearance_table, roof_scene
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, Scene
from ventcalc.building.terminal import at_height, moved
from ventcalc.units import Q_

RULES = clearance_table.shipped_rules()


def plain_scene(rule):
    """A scene in which this row counts, and the height at which its requirement is just met (or None)."""
    kind = rule.kinds[0]
    size = 0.4 if rule.diameter_over else 0.2
    terminal = vent(kind, 0.0, size=size, heat_input=Q_(min(max(rule.input[0], 0) + 1.0, 1e5), "Btu/hour")
                    if rule.input else Q_(40, "MBH"))  # fmt: skip
    roof = (flat(),) if terminal.through == "roof" else ()
    if rule.pitch:
        roof = gable(rule.pitch[1], half=40.0)
        terminal = moved(terminal, m(0.0), m(-30.0))
    return roof, terminal, size / 2


def thing_at(label, gap, radius, low, high):
    """A thing of the kind that a rule names, a point or a wall ``gap`` beside the vent."""
    x = gap + radius
    kind = label.removesuffix(f" {roof_scene.NEXT_DOOR}")
    if kind in roof_scene.OPENINGS:
        return "openings", Opening("it", kind, m([[x, 0.0]]), m(low), m(high), next_door=kind != label)
    if kind in roof_scene.OBSTACLES:
        return "obstacles", Obstacle("it", kind, m(box(x, x + 1.0, -1.0, 1.0)), m(high))
    line = {"property line": [[x, -9.0], [x, 9.0]], "walkway": box(x, x + 2.0, -1.0, 1.0)}.get(kind, [[x, 0.0]])
    return "marks", Mark("it", kind, m(line), m(high) if kind == "walkway" else None)


def at_limit(rule, label, off):
    """Scenes ``off`` [m] from each limit of a row, positive on the side where it is met."""
    roof, terminal, radius = plain_scene(rule)
    base = Scene(roof)
    if rule.form == "above roof":
        z = clearance_rules.view_of(base, terminal, terminal.at).ground.height[0] + rule.value
        yield base, at_height(terminal, m(z + off))
    elif rule.form == "above grade":
        yield base, at_height(terminal, m(rule.value + off))
    elif rule.form == "above outlet":
        yield base, at_height(replace(terminal, hood=m(7.0)), m(7.0 + rule.value + off))
    elif rule.form == "above anything":
        for gap, z in ((rule.within - 0.5, 5.0 + rule.value + off), (rule.within + off, 4.0)):
            wall = Obstacle("it", "wall", m(box(gap + radius, gap + radius + 1.0, -1.0, 1.0)), m(5.0))
            yield replace(base, obstacles=(wall,)), at_height(terminal, m(z))
    else:
        for gap, z in gaps_and_heights(rule, off):
            where, thing = thing_at(label, gap, radius, 5.0, 6.0)
            yield replace(base, **{where: (thing,)}), at_height(terminal, m(z))


def gaps_and_heights(rule, off):
    """(gap, height) of a terminal beside a thing from 5 to 6 m, just at each limit of a row."""
    reach = {"above": rule.within, "around": rule.beside, "away": rule.value, "beside": rule.value}[rule.form]
    yield reach + off, 5.5
    if rule.form == "above":
        yield reach - 0.1, 6.0 + rule.value + off
    if rule.form == "around":
        yield reach - 0.1, 6.0 + rule.value + off
        yield reach - 0.1, 5.0 - rule.below - off
    if rule.form == "away":
        yield 0.0, 6.0 + rule.value + off
        yield 0.0, 5.0 - rule.value - off


def test_the_limits_cover_every_form():
    assert {r.form for r in RULES} == set(clearance_table.FORMS) == set(clearance_rules._SPANS)


@pytest.mark.parametrize(("off", "met"), [(-MM, False), (0.0, True), (MM, True)], ids=["inside", "at", "outside"])
@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)
def test_rule_fires_and_clears_at_its_limit(rule, off, met):
    cases = [case for label in rule.objects or ("",) for case in at_limit(rule, label, off)]
    assert cases
    for scene, terminal in cases:
        one = found(scene, terminal, rule.rule, habit=bool(rule.instead_of))
        assert one.row.id == rule.id
        assert one.verdict == (rule.met if met else rule.broken)
        assert one.broken == (not met)


@pytest.mark.parametrize(
    ("size", "gap", "asks", "holds"),
    [
        # A row for large vents, for those near a wall, or for both: either makes it count (IFGC 503.6 as quoted).
        (13.0, 99.0, {"diameter_over": 12.0, "wall_nearer": 8.0}, True),
        (11.0, 7.0, {"diameter_over": 12.0, "wall_nearer": 8.0}, True),
        (11.0, 9.0, {"diameter_over": 12.0, "wall_nearer": 8.0}, False),
        (13.0, 99.0, {"diameter_over": 12.0}, True),
        (11.0, 1.0, {"diameter_over": 12.0}, False),
        (11.0, 7.0, {"wall_nearer": 8.0}, True),
        (11.0, 8.0, {"wall_nearer": 8.0}, False),
        (13.0, 9.0, {"wall_nearer": 8.0}, False),
        # A row for small vents far from walls: both must hold.
        (12.0, 8.0, {"diameter_to": 12.0, "wall_from": 8.0}, True),
        (12.0, 7.9, {"diameter_to": 12.0, "wall_from": 8.0}, False),
        (12.1, 8.0, {"diameter_to": 12.0, "wall_from": 8.0}, False),
        (30.0, 0.0, {}, True),
    ],
)
def test_rows_for_size_and_wall_by_hand(size, gap, asks, holds):
    """Sizes in inches of the outside, gaps in feet."""
    length = {"diameter_to": 0.0254, "diameter_over": 0.0254, "wall_from": 0.3048, "wall_nearer": 0.3048}
    given = {name: value * length[name] for name, value in asks.items()}
    rule = replace(RULES[0], **dict.fromkeys(length) | given)
    vent_of_size, ground = Made(radius=0.5 * size * 0.0254), Made(wall=np.array([gap * 0.3048]))
    view = clearance_rules.View(None, vent_of_size, np.zeros((1, 2)), ground)
    assert clearance_rules.gate_holds(view, rule).tolist() == [holds]
