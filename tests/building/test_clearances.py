"""Clearances: published distances recovered by probing verdicts, hand-drawn roofs, turned and mirrored scenes.

Random scenes are held against geometry by dense sampling that is coded apart.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from sample_roofs import FT, INCH, MM, STEPS, box, fill, flat, found, gable, m, scenes, terminals, turned, vent, verdict

from ventcalc import tables
from ventcalc.building import clearance_table, clearances, code_rules
from ventcalc.building.clearance_words import sentence
from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import FAIL, NONE, PASS, READING
from ventcalc.building.least_height import least_height
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.terminal import CHIMNEY, DIRECT, FAN, GAS_VENT, TYPE_L, WALL_VENT, at_height, moved, with_fan
from ventcalc.handbook import clearance_probes
from ventcalc.units import Q_


@pytest.mark.slow
def test_published_distances_are_recovered_by_probing_verdicts():
    # Each is found by halving an interval until the verdict turns; nothing of the rule's own row is read.
    checks = clearance_probes.checks()
    assert [c.id for c in checks if not c.to_the_last_digit] == []
    termination = {r["id"] for r in tables.read("clearances_checks")}
    assert {c.id for c in checks} == termination and len(checks) == 32


def test_gas_vent_on_a_roof_steeper_than_the_table_is_for_the_authority():
    scene, terminal = Scene(gable(22)), vent(GAS_VENT, 10.0, y=-15 * FT)
    one = found(scene, terminal, "gas vent by roof pitch")
    assert one.verdict == READING and "22 over 12" in one.reason.words() and "ends at 21" in one.reason.words()
    # The least height is then no lower than for the steepest roof of the table.
    assert least_height(scene, terminal).above_roof.m_as("ft") == pytest.approx(8.0)


def test_gas_vent_near_a_wall_loses_the_table():
    wall = Obstacle("tower", "tower", m(box(2.0, 4.0, -1.0, 1.0)), m(5.0))
    scene, terminal = Scene((flat(),), (wall,)), vent(GAS_VENT, 0.5)
    assert verdict(scene, terminal, "gas vent by roof pitch") == NONE
    assert least_height(scene, terminal).height.m_as("m") == pytest.approx(5.0 + 2 * FT)
    # A curb that stands lower than the roof there is no wall beside the vent.
    low = Obstacle("porch", "wall", m(box(2.0, 4.0, -1.0, 1.0)), m(-1.0), base=m(-4.0))
    assert verdict(Scene((flat(),), (low,)), terminal, "gas vent by roof pitch") == PASS


def test_why_the_table_by_roof_pitch_does_not_hold_is_said():
    # Figure of IFGC 503.6: vents up to 12 in., 8 ft or more from a vertical wall (CL05 of the table).
    wall = Obstacle("tower", "tower", m(box(2.0, 4.0, -1.0, 1.0)), m(5.0))
    terminal, rule = vent(GAS_VENT, 0.5), "gas vent by roof pitch"
    near = found(Scene((flat(),), (wall,)), terminal, rule)
    assert near.verdict == NONE and near.reason.words() == "for vents 8 ft (2.44 m) or more from a vertical wall"
    for inches, words in ((12.0, None), (12.5, "for vents up to 12 in. (305 mm)")):
        one = found(Scene((flat(),)), replace(terminal, diameter=Q_(inches, "inch")), rule)
        assert (one.verdict == NONE) == (words is not None)
        assert words is None or one.reason.words() == words


def test_terminal_eight_feet_from_an_intake_at_equal_height_says_so():
    intake = Opening("AHU-1", "forced-air intake", m([[8 * FT + 0.1, 0.0]]), m(4.0), m(4.0))
    scene = Scene((flat(),), openings=(intake,))
    for kind, rule in ((FAN, "forced-air inlet, fuel gas code"), (CHIMNEY, "outdoor-air intake, mechanical code")):
        one = found(scene, vent(kind, 4.0), rule)
        assert one.verdict == FAIL
        assert (one.raise_by.m_as("ft"), one.move_by.m_as("ft")) == pytest.approx((3.0, 2.0))
        text = sentence(one, "US")
        words = ("fail", "AHU-1, 8 ft away in plan", "at least 3 ft above", "within 10 ft",
                 "Raise it by 3 ft or move it 2 ft farther away", code_rules.CHECK_EDITION)  # fmt: skip
        assert [w for w in words if w not in text] == []


def test_a_fan_changes_the_roof_rules_and_never_the_distance_to_an_intake():
    # 15 ft away, where no code rule reaches: only the ridge rule binds the chimney, and the fan is freed from it.
    scene = Scene(gable(6))
    chimney = vent(CHIMNEY, 10.0, y=-5 * FT)
    fan = with_fan(chimney)
    assert verdict(scene, fan, "chimney above what is near") == NONE
    assert least_height(scene, fan).height < least_height(scene, chimney).height
    assert [f.rule for f in least_height(scene, fan).open_questions] == ["fan or direct vent above the roof"]
    for gap in np.linspace(0.0, 12.0, 13) * FT:
        intake = Opening("intake", "forced-air intake", m([[gap + 0.1, 0.0]]), m(3.0), m(4.0))
        by_intake = Scene((flat(),), openings=(intake,))
        for low in (2.0, 4.0, 4.5, 4.0 + 3 * FT):
            one, other = (
                found(by_intake, vent(kind, low), "outdoor-air intake, mechanical code") for kind in (CHIMNEY, FAN)
            )
            assert one.verdict == other.verdict and one.raise_by == other.raise_by


def test_window_forbids_a_band_of_heights():
    # 4 ft below, 4 ft beside or 1 ft above: a terminal 1 m beside a window from 5 to 7 m.
    window = Opening("window", "operable window", m([[1.1, -0.5], [1.1, 0.5]]), m(5.0), m(7.0))
    scene = Scene((), openings=(window,))
    rule = "window, door or gravity inlet"
    free = 5.0 - 4 * FT
    assert verdict(scene, vent(WALL_VENT, free - 0.3, cap=0.3), rule) == PASS
    one = found(scene, vent(WALL_VENT, free - 0.2, cap=0.3), rule)
    assert one.verdict == FAIL and one.lower_by.m_as("m") == pytest.approx(0.1)
    assert one.raise_by.m_as("m") == pytest.approx(7.0 + FT - (free - 0.2))
    assert one.move_by.m_as("m") == pytest.approx(4 * FT - 1.0)
    # No height below the ground is a cure: 4 ft below a window that begins at 3 ft would be in it.
    low = Scene((), openings=(replace(window, bottom=m(3 * FT), top=m(7 * FT)),))
    buried = found(low, vent(WALL_VENT, 6.6 * FT, cap=0.3), rule)
    assert buried.verdict == FAIL and buried.lower_by is None and buried.raise_by.m_as("m") == pytest.approx(1.4 * FT)
    # From the ground up the terminal may stay below the window.
    assert least_height(scene, vent(WALL_VENT, 3.0, cap=0.3)).height.m_as("m") == pytest.approx(12 * INCH)


def test_direct_vent_keeps_its_distance_in_space():
    # A 3-4-5 triangle: 0.3 m in plan and 0.4 m in height are half a meter, more than 12 in. and 9 in.
    window = Opening("window", "operable window", m([[0.4, 0.0]]), m(5.0), m(6.0))
    scene = Scene((), openings=(window,))
    terminal = vent(DIRECT, 5.0 - 0.4, through="wall")
    assert verdict(scene, terminal, "direct vent from an air opening") == PASS
    near = found(scene, at_height(terminal, m(5.0 - 0.05)), "direct vent from an air opening")
    assert near.verdict == PASS  # 0.3 m is more than 9 in. already
    closer = moved(terminal, m(0.2), m(0.0))
    assert verdict(scene, closer, "direct vent from an air opening") == PASS
    rise = np.sqrt((9 * INCH) ** 2 - 0.1**2)
    one = found(scene, at_height(closer, m(5.0 - 0.05)), "direct vent from an air opening")
    assert one.verdict == FAIL and one.lower_by.m_as("m") == pytest.approx(rise - 0.05)


def test_direct_vent_over_fifty_thousand_is_left_to_the_newer_edition():
    scene = Scene((), openings=(Opening("w", "operable window", m([[5.0, 0.0]]), m(1.0), m(2.0)),))
    small, large = (vent(DIRECT, 1.0, through="wall", heat_input=Q_(q, "MBH")) for q in (50, 50.1))
    rule = "direct vent from an air opening"
    assert verdict(scene, small, rule) == PASS
    assert verdict(scene, large, rule) == READING and "newer editions" in found(scene, large, rule).reason.words()
    unknown = replace(small, heat_input=None)
    assert verdict(scene, unknown, rule) == READING and "not given" in found(scene, unknown, rule).reason.words()


def test_condensate_over_a_walkway_at_any_height():
    path = Mark("path", "walkway", m(box(-1.0, 1.0, -1.0, 1.0)), m(0.0))
    scene = Scene((), marks=(path,))
    one = found(scene, vent(WALL_VENT, 20.0), "condensate over a walkway")
    assert one.verdict == FAIL and one.raise_by is None
    assert one.move_by.m_as("m") == pytest.approx(1.1)  # from the middle to the edge, and the vent's radius
    assert least_height(scene, vent(WALL_VENT, 3.0)).height is None


def test_moving_down_the_slope_is_enough_where_it_is_said_to_be():
    # Low enough beside the ridge that only what stands above the outlet less 2 ft must be out of reach.
    scene, terminal = Scene(gable(6)), vent(CHIMNEY, 10.0, y=-1.5)
    rule = "chimney above what is near"
    by = found(scene, terminal, rule).move_by.m_as("m")
    # The roof is 2 ft below the outlet 4 ft of plan from the ridge, on the near side; 10 ft and the radius from there.
    assert by == pytest.approx(4 * FT + 10 * FT + 0.1 - 1.5)
    assert verdict(scene, moved(terminal, m(0.0), m(-1.5 - by - MM)), rule) == PASS
    assert verdict(scene, moved(terminal, m(0.0), m(-1.5 - by + MM)), rule) == FAIL


def test_no_rule_is_silent_about_what_it_was_not_given():
    scene = Scene((flat(),))
    assert verdict(scene, vent(CHIMNEY, 2.0, hood=None), "above the draft hood") == READING
    assert verdict(scene, vent(CHIMNEY, 2.0), "outdoor-air intake, mechanical code") == NONE
    assert "the scene has no" in found(scene, vent(CHIMNEY, 2.0), "outdoor-air intake, mechanical code").reason.words()


def test_forced_draft_before_a_window_fails_whatever_it_is_declared_as():
    """IRC M1804.2.6: mechanical draft 4 ft beside a window that opens. Categories III and IV: IFGC definitions."""
    window = Opening("window", "operable window", m([[0.0, 1.25 * FT + 0.1]]), m(1.0), m(3.0))
    scene, rule = Scene((flat(),), (), (window,)), "window, door or gravity inlet"
    declared = vent(GAS_VENT, 2.0)
    assert verdict(scene, declared, rule) == NONE and clearances.overall(judge(scene, declared)) != PASS
    for more in ({"categories": ("IV",)}, {"categories": ("I", "III")}, {"fan": True}):
        held = replace(declared, **more)
        assert held.driven and held.kinds == (GAS_VENT, FAN)
        assert verdict(scene, held, rule) == FAIL
        assert found(scene, held, clearances.DECLARED).verdict == READING
        low = least_height(scene, held).height
        assert low.m_as("ft") >= 3.0 / FT + 1.0 - 1e-6  # a foot over the window, or what the roof asks for
    told = sentence(found(scene, replace(declared, categories=("IV",)), clearances.DECLARED), "US")
    assert "category IV" in told and "stricter" in told and GAS_VENT in told
    # What fits together is told nothing: natural draft behind a natural-draft terminal, forced draft behind a fan's.
    for fits in (replace(declared, categories=("I",)), vent(FAN, 2.0, categories=("IV",)), with_fan(declared)):
        assert not fits.contradiction and len(fits.kinds) == 1
        assert not [f for f in judge(scene, fits) if f.rule == clearances.DECLARED]


def test_mechanical_draft_that_nothing_drives_is_told_and_held_to_both():
    scene, declared = Scene(gable(6)), vent(FAN, 10.0, y=-15 * FT, categories=("I",))
    assert declared.kinds == (FAN, GAS_VENT) and "nothing drives it" in declared.contradiction.words()
    alone = [least_height(scene, vent(kind, 10.0, y=-15 * FT)).height.m_as("m") for kind in declared.kinds]
    assert least_height(scene, declared).height.m_as("m") == pytest.approx(max(alone))


def test_the_stricter_of_two_kinds_holds_rule_by_rule():
    window = Opening("window", "operable window", m([[0.0, 1.0]]), m(1.0), m(3.0))
    scene = Scene(gable(6), (), (window,))
    both = vent(GAS_VENT, 9.0, y=-2.0, categories=("IV",))
    single = [{f.rule: f.verdict for f in judge(scene, vent(kind, 9.0, y=-2.0))} for kind in both.kinds]
    for f in judge(scene, both):
        if f.rule != clearances.DECLARED:
            assert f.verdict == min((one[f.rule] for one in single), key=code_rules.VERDICTS.index), f.rule


def test_above_the_draft_hood_only_where_there_is_one():
    # The code's figure is for a vent with a draft hood connected (clearances_checks.csv T036).
    scene, rule = Scene((flat(),)), "above the draft hood"
    near = vent(CHIMNEY, 2.0, hood=m(1.9))
    assert verdict(scene, near, rule) == FAIL == verdict(scene, replace(near, hooded=True), rule)
    none = replace(near, hooded=False)
    assert verdict(scene, none, rule) == NONE and "no draft hood" in found(scene, none, rule).reason.words()
    assert least_height(scene, none).height < least_height(scene, near).height


def test_a_kind_that_no_roof_rule_names_needs_a_reading():
    rules = tuple(r for r in clearance_table.shipped_rules() if TYPE_L not in r.kinds)
    (last,) = [f for f in judge(Scene((flat(),)), vent(TYPE_L, 2.0), rules) if f.row is None]
    assert last.verdict == READING and TYPE_L in last.reason.words() and "type L" in sentence(last, "US")


def test_terminal_beside_the_building_passes_no_roof():
    scene = Scene((RoofPlane.flat("roof", m(box(0.0, 10.0, 0.0, 10.0)), m(6.0)),))
    beside = vent(CHIMNEY, 6.0 + 2 * FT, x=-1.0, y=5.0)
    assert verdict(scene, beside, "chimney above the roof") == NONE
    assert verdict(scene, beside, "chimney above what is near") == PASS
    assert verdict(scene, at_height(beside, m(6.0)), "chimney above what is near") == FAIL


def rearranged(scene, terminal, change):
    """The same scene with every place in plan changed by a rigid motion."""

    def plan(thing):
        return m(change(thing.shape))

    planes = tuple(replace(p, corners=m(np.column_stack([change(p.shape), p.points[:, 2]]))) for p in scene.planes)
    rest = {g: tuple(replace(t, plan=plan(t)) for t in getattr(scene, g)) for g in ("obstacles", "openings", "marks")}
    x, y = change(terminal.at)[0]
    return replace(scene, planes=planes, **rest), moved(terminal, m(x), m(y))


MOTIONS = {
    "turned": lambda p: turned(p, 1.234),
    "mirrored": lambda p: p * [-1.0, 1.0],
    "moved": lambda p: p + np.array([123.4, -56.7]),
    "all": lambda p: turned(p * [1.0, -1.0], -2.1) + np.array([40.0, 3.0]),
}


@pytest.mark.slow
@pytest.mark.parametrize("motion", MOTIONS)
@given(scene=scenes(), terminal=terminals())
@settings(max_examples=40)
def test_verdicts_do_not_depend_on_how_the_roof_is_laid_on_the_paper(motion, scene, terminal):
    other = rearranged(scene, terminal, MOTIONS[motion])
    for one, two in zip(judge(scene, terminal), judge(*other), strict=True):
        assert (one.rule, one.verdict) == (two.rule, two.verdict)
        for cure in ("raise_by", "lower_by", "move_by"):
            a, b = getattr(one, cure), getattr(two, cure)
            assert (a is None) == (b is None)
            if a is not None and a.m_as("m") > 2 * MM:
                assert a.m_as("m") == pytest.approx(b.m_as("m"), abs=1e-5)


def solids(scene):
    """Sample points (n, 3) on roof planes and on the tops of obstacles."""
    planes = [fill(p.corners.m_as("m")) for p in scene.planes]
    tops = []
    for o in scene.obstacles:
        plan = fill(o.plan.m_as("m"))
        tops.append(np.column_stack([plan, np.full(len(plan), o.top.m_as("m"))]))
    return np.concatenate([np.empty((0, 3)), *planes, *tops])


def along(thing):
    """Sample points in plan of an opening or a mark."""
    plan = thing.plan.m_as("m")
    if len(plan) == 1:
        return plan
    return fill(plan) if len(plan) == 4 else plan[0] + STEPS[:, None] * (plan[1] - plan[0])


class Sampled:
    """What sample points say of a terminal; figures of the codes typed here once more, as in the check rows."""

    def __init__(self, scene, terminal):
        self.scene, self.terminal = scene, terminal
        self.axis = np.array([terminal.x.m_as("m"), terminal.y.m_as("m")])
        self.r = terminal.diameter.m_as("m") / 2
        self.low, self.high = terminal.cap_bottom.m_as("m"), terminal.outlet.m_as("m")
        self.points = solids(scene)
        under = self.points[self.gap(self.points) < 0.0]
        self.passage = under[:, 2].max() if len(under) else None

    def gap(self, points):
        return np.hypot(points[:, 0] - self.axis[0], points[:, 1] - self.axis[1]) - self.r

    def lower_than(self, above, within):
        """Whether any sample within reach stands less than ``above`` under the lowest discharge opening."""
        near = self.points[self.gap(self.points) < within * FT - MM]
        return bool(len(near)) and self.low < near[:, 2].max() + above * FT - MM

    def below_passage(self, above):
        return self.passage is not None and self.low < self.passage + above * FT - MM

    def openings(self, *kinds, next_door=None):
        return [o for o in self.scene.openings if o.kind in kinds and next_door in (None, o.next_door)]

    def over(self, things, above, within):
        near = [t for t in things if (self.gap(along(t)) < within * FT - MM).any()]
        return any(self.low < t.top.m_as("m") + above * FT - MM for t in near)

    def around(self, things, below, beside, above):
        return any(
            (self.gap(along(t)) < beside * FT - MM).any()
            and self.low < t.top.m_as("m") + above * FT - MM
            and self.high > t.bottom.m_as("m") - below * FT + MM
            for t in things
        )

    def in_space(self, things, distance):
        for t in things:
            gap = np.maximum(self.gap(along(t)), 0.0)
            heights = np.linspace(t.bottom.m_as("m"), t.top.m_as("m"), 65)
            own = np.linspace(self.low, self.high, 17)
            rise = np.abs(heights[:, None] - own).min()
            if np.hypot(gap.min(), rise) < distance - MM:
                return True
        return False

    def marks(self, *kinds):
        return [t for t in self.scene.marks if t.kind in kinds]

    def beside(self, things, distance):
        return any((self.gap(along(t)) < distance * FT - MM).any() for t in things)

    def broken(self):
        """Rules that some sample breaks by more than a millimeter."""
        kind, roof = self.terminal.kind, self.terminal.through == "roof"
        mechanical = kind in (FAN, WALL_VENT)
        windows = self.openings("door", "operable window")
        inlets = self.openings("gravity air inlet")
        intakes = self.openings("forced-air intake")
        near = [t for t in self.scene.obstacles if t.kind == "adjacent building"]
        direct = {8.0: 6, 40.0: 9, 200.0: 12}[round(self.terminal.heat_input.m_as("MBH"), 6)] * INCH
        told = {
            "chimney above the roof": kind == CHIMNEY and self.below_passage(3),
            "chimney above what is near": kind == CHIMNEY and self.lower_than(2, 10),
            "type L vent above the roof": kind == TYPE_L and self.below_passage(2),
            "type L vent above what is near": kind == TYPE_L and self.lower_than(2, 10),
            "gas vent over 12 in.": kind == GAS_VENT and self.r > 0.16 and self.lower_than(2, 10),
            "gas vent": kind == GAS_VENT and self.below_passage(1),
            "fan or direct vent above the roof": kind in (FAN, DIRECT) and roof and self.below_passage(1),
            "forced-air inlet, fuel gas code": mechanical and self.over(intakes, 3, 10),
            "outdoor-air intake, mechanical code": self.over([*intakes, *inlets], 3, 10),
            "window, door or gravity inlet": mechanical and self.around([*windows, *inlets], 4, 4, 1),
            "direct vent from an air opening": kind == DIRECT and self.in_space([*windows, *inlets, *intakes], direct),
            "bottom above grade": mechanical and self.low < FT - MM,
            "bottom above grade, direct vent": kind == DIRECT and self.low < FT - MM,
            "interior corner": mechanical and self.beside(self.marks("interior corner"), 3),
            "gas meter or oil tank vent": mechanical and self.beside(self.marks("gas meter", "oil tank vent"), 3),
            "lot line or adjacent building": kind == FAN and self.beside([*self.marks("property line"), *near], 10),
            "over a walkway": mechanical and self.over(self.marks("walkway"), 7, 0),
            "condensate over a walkway": kind == WALL_VENT and self.beside(self.marks("walkway"), 0),
            "window next door": kind == WALL_VENT
            and self.around(self.openings("door", "operable window", "gravity air inlet", next_door=True), 25, 10, 2),
        }
        return {rule for rule, breaks in told.items() if breaks}


@pytest.mark.slow
@given(scene=scenes(), terminal=terminals())
@settings(max_examples=300)
def test_nothing_passes_that_sampling_fails(scene, terminal):
    told = {f.rule: f.verdict for f in judge(scene, terminal)}
    gas = [told[r] for r in told if "gas vent" in r]
    for rule in Sampled(scene, terminal).broken():
        if rule.startswith("gas vent"):  # by the pitch table or by the rule for large and walled vents
            assert FAIL in gas or READING in gas
        else:
            assert told[rule] == FAIL, rule


@pytest.mark.slow
@given(scene=scenes(), terminal=terminals())
@settings(max_examples=200)
def test_governing_point_is_on_its_thing_and_asks_for_what_is_said(scene, terminal):
    # The other way about: what fails does so at a point that anybody can measure.
    things = {t.name: t for t in (*scene.planes, *scene.placed)}
    axis, r, low = terminal.at[0], terminal.radius, terminal.low
    for f in judge(scene, terminal):
        if f.verdict != FAIL or f.thing not in things:
            continue
        point = f.point.m_as("m")
        gap = max(np.hypot(*(point[:2] - axis)) - r, 0.0)
        if f.row.form in ("above anything", "above"):
            assert gap < max(f.row.within, MM) and low < point[2] + f.row.value
            assert f.raise_by.m_as("m") == pytest.approx(point[2] + f.row.value - low)
        thing = things[f.thing]
        if isinstance(thing, RoofPlane):
            slope = thing.corners.m_as("m")
            normal = np.cross(slope[1] - slope[0], slope[3] - slope[0])
            assert (point - slope[0]) @ normal / np.linalg.norm(normal) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.slow
@given(scene=scenes(), terminal=terminals())
@settings(max_examples=100)
def test_what_would_cure_it_does(scene, terminal):
    for f in judge(scene, terminal):
        if not f.broken:
            continue
        if f.raise_by is not None:
            higher = at_height(terminal, m(terminal.low) + f.raise_by + m(1e-5))
            assert not found(scene, higher, f.rule).broken
        if f.lower_by is not None:
            lower = at_height(terminal, m(terminal.low) - f.lower_by - m(1e-5))
            assert not found(scene, lower, f.rule).broken
        if f.move_by is not None and len(scene.placed) + len(scene.planes) == 1:
            point, axis = f.point.m_as("m")[:2], terminal.at[0]
            way = axis - point
            if np.hypot(*way) > 0.1:
                x, y = axis + way / np.hypot(*way) * (f.move_by.m_as("m") + 1e-5)
                after = found(scene, moved(terminal, m(x), m(y)), f.rule)
                assert not after.broken or isinstance(scene.planes and scene.planes[0], RoofPlane)


def test_overall_is_the_worst():
    scene = Scene((flat(),))
    assert clearances.overall(judge(scene, vent(CHIMNEY, 0.1))) == FAIL
    assert clearances.overall(judge(scene, vent(FAN, 1.0))) == READING
    assert clearances.overall(judge(scene, vent(CHIMNEY, 2.0))) == PASS


@pytest.mark.parametrize("order", [1, -1])
def test_of_several_things_that_are_cleared_the_one_that_asks_for_most_is_named(order):
    """Two walls within ten feet, both two feet or more below the top (IRC R1003.9): what is to spare is over the
    higher one, whichever is drawn first; and a broken rule is told by the one that asks for most."""
    low, tall = (
        Obstacle(name, "wall", m(box(1.0, 1.2, y, y + 0.5)), m(top))
        for name, y, top in (("low", 0.0, 3.0), ("tall", -0.5, 5.0))
    )
    scene = Scene((flat(),), obstacles=(low, tall)[::order])
    rule = "chimney above what is near"
    met = found(scene, vent(CHIMNEY, 9.0), rule)
    assert (met.verdict, met.thing) == (PASS, "tall")
    assert met.need.m_as("m") == pytest.approx(5.0 + 2 * FT) and met.spare.m_as("m") == pytest.approx(4.0 - 2 * FT)
    broken = found(scene, vent(CHIMNEY, 2.0), rule)
    assert (broken.verdict, broken.thing) == (FAIL, "tall")
    assert broken.raise_by.m_as("m") == pytest.approx(3.0 + 2 * FT)
    # Above the one and not the other: the other.
    assert found(scene, vent(CHIMNEY, 4.0), rule).thing == "tall"


@pytest.mark.parametrize("z", [3.0, -1.0])
def test_how_far_to_move_from_an_intake_above_or_below_it_is_pythagoras(z):
    """Fifteen feet in space (ASHRAE 62.1 table 5.5.1) from an intake 0 to 1 m up, a meter beside the vent's outside."""
    intake = Opening("intake", "forced-air intake", m([[1.1, 0.0]]), m(0.0), m(1.0))
    one = found(Scene((flat(-5.0),), openings=(intake,)), vent(CHIMNEY, z), "outdoor-air intake, ventilation standard")
    rise = 2.0 if z > 0.0 else 1.0
    assert one.verdict == READING and one.gap.m_as("m") == pytest.approx(1.0)
    assert one.move_by.m_as("m") == pytest.approx(np.sqrt((15 * FT) ** 2 - rise**2) - 1.0)
    assert one.raise_by.m_as("m") == pytest.approx(1.0 + np.sqrt((15 * FT) ** 2 - 1.0) - z)
