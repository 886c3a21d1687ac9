"""The chapter on junctions: questions worked again, live controls at both ends, checks, and the row by hand."""

from functools import cache

import numpy as np
import pytest

from ventcalc.checked import unexplained
from ventcalc.flow import junctions
from ventcalc.gas import combustion
from ventcalc.gas.fuels import fuel
from ventcalc.handbook import junctions as chapter
from ventcalc.show.exercises import mark
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS
from ventcalc.vent import network

CHECKS = chapter.checks()
FORMS = ("straight tee", "boot tee", "lateral")


@cache
def row(form):
    """The chapter's boilers on a header of a form, all firing."""
    return chapter.firing(chapter.row_of_boilers(form))


@cache
def header_of(form):
    return chapter.header_of(row(form))


# --- Questions ---


def static_behind_a_facing_tube():
    """-0.050 in. w.c. less rho v^2 / 2 of 0.8 kg/m3 at 20 ft/s, plain numbers."""
    return Q_(-0.050 * 249.089 - 0.5 * 0.8 * 6.096**2, "Pa")


def by_momentum():
    """Force on the gas over the header's length: rho v^2 A, in velocity heads of 0.010 in. w.c. each."""
    density, area, head = 0.8, 0.1, 0.010 * 249.089
    speed = (2 * head / density) ** 0.5
    return Q_(density * speed**2 * area / area, "Pa")


def by_hand(form):
    """What the far boiler loses in the junctions behind its own, and in its own: coefficients times heads [Pa]."""
    solution, shape = row(form), junctions.junction(form)
    heads = [solution.head[solution.row(f"header {i}"), 0] for i in range(1, chapter.COUNT + 1)]
    ratio = (12 / 18) ** 2
    lost = junctions.branch_loss.bare(1.0, ratio, shape.angle, shape.rounding) * heads[0]
    for i in range(1, chapter.COUNT):
        lost += junctions.run_loss.bare(1.0 / (i + 1), ratio, shape.angle, shape.rounding) * heads[i]
    return lost


def answers():
    # Both rows have the same draft, friction and cap within a Pascal's fraction: what differs is the junctions.
    return [
        static_behind_a_facing_tube(),
        Q_((0.4 * 16.0**2) ** 0.5, "inch"),
        by_momentum(),
        Q_(by_hand("straight tee") - by_hand("lateral"), "Pa"),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions_are_worked_right(system):
    for question, answer in zip(chapter.questions(system), answers(), strict=True):
        assert mark(question, answer).kind == "right", question.question


def test_slips_that_come_from_doing_it_wrong():
    questions = chapter.questions("US")
    assert "sign" in mark(questions[0], Q_(-0.050 * 249.089 + 0.5 * 0.8 * 6.096**2, "Pa")).sentence
    assert "diameters" in mark(questions[1], Q_(6.4, "inch")).sentence
    assert "momentum" in mark(questions[2], Q_(0.010, "inH2O")).sentence
    assert "positive" in mark(questions[3], -answers()[3]).sentence


# --- Live controls ---


def test_explorer_says_what_lies_outside_the_tested_range():
    start = {name: c.value for name, c in chapter.controls("US").items()}
    assert "within the tested 0.4 to 1" in chapter.explorer_answer("US", **start)[0]
    narrow = chapter.explorer_answer("US", **start | {"connector": Q_(8.0, "inch").m_as("m")})[0]
    assert "Area ratio 0.20: Gardel's formulas were tested for 0.4 to 1" in narrow


# --- What the chapter says ---


def test_checks_agree_or_say_why():
    assert unexplained(CHECKS) == []
    assert all(c.agrees for c in CHECKS)
    # Gardel's ten are recalled from memory: data, no evidence.
    assert len(CHECKS) == 7 and not {f"L{n:03d}" for n in range(82, 92)} & {c.id for c in CHECKS}


def test_spread_of_the_authors():
    # Gardel, Idelchik and Crane (as in fluids) on the branch of equal legs: 0.2 to 0.68 velocity heads apart.
    branch = [[g, i, c] for leg, _, _, g, i, c in chapter.author_spread() if leg == "branch"]
    apart = [max(v) - min(v) for v in branch]
    assert len(apart) == 6
    assert min(apart) > 0.2 and max(apart) < 0.68


def test_momentum_limits():
    # q = 0: nothing joins, nothing is lost. q = 1 at a right angle: one head of total pressure, two of static.
    assert not chapter.momentum(0.0, 90.0)
    assert chapter.momentum(1.0, 90.0) == pytest.approx(1.0)
    assert chapter.momentum(1.0, 45.0) < 0


def test_the_far_boiler_by_hand():
    # Everything but the junctions is the same within 0.3 Pa: the gas is as hot, the flows are forced.
    gain = row("straight tee").outlet_pressure[0, 0] - row("lateral").outlet_pressure[0, 0]
    assert gain == pytest.approx(by_hand("straight tee") - by_hand("lateral"), abs=0.3)
    assert gain > 5.0


def test_straight_tees_throw_draft_away_most_where_most_has_gathered():
    tee, boot, lateral = (header_of(form).outlets for form in FORMS)
    assert np.all(lateral < tee)
    assert np.all(lateral <= boot) and np.all(boot <= tee)
    assert np.all(np.diff(tee - lateral) < 0)  # the farther from the stack, the more junctions behind


def test_header_holds_together():
    for form, header in ((form, header_of(form)) for form in FORMS):
        assert np.all(header.total >= header.static)
        assert np.all(np.diff(header.distance) >= 0)
        assert len(header.distance) == 2 * chapter.COUNT
        # By momentum the cap stands above the stream of a tee, and below that of a lateral into so narrow a branch.
        assert bool(header.cap > header.static[0]) == (form != "lateral")
        assert row(form).converged.all()


def test_cap_is_the_static_pressure_and_its_excess():
    header, solution = header_of("straight tee"), row("straight tee")
    head = solution.head_up[solution.row("header 1"), 0]  # at the junction, where the cap is
    room = network.compile_network(solution.plant, solution.seasons).room_gauge(9 * 0.3048)[0]
    assert header.static[0] == pytest.approx(solution.pressure_up[solution.row("header 1"), 0] - head - room)
    # 1 + K_run(q = 1) of Gardel for a = (12/18)^2, at a right angle: 1 + 1.62 - 1 + 0.38 (1 - a).
    assert header.cap - header.static[0] == pytest.approx((1.62 + 0.38 * (1 - (12 / 18) ** 2)) * head)


def test_a_cold_leg_by_hand():
    # With flue gas in both legs the coefficients of equal flows, on the combined head.
    volumes, head = chapter.cold_leg_volumes(), {}
    ratio, lean = (12 / 18) ** 2, {"straight tee": 90.0, "lateral": 45.0}
    area = np.pi / 4 * 0.4572**2
    flow = (chapter.INPUT * Q_(combustion.products.bare(fuel("natural gas"), 0.28).mass_per_heat, "kg/J")).m_as("kg/s")
    head = 0.5 * (2 * flow / area) ** 2 * volumes["flue gas"]
    for form, angle in lean.items():
        branch, run = chapter.cold_leg(form, volumes["flue gas"], own=True)
        assert branch == pytest.approx(junctions.branch_loss.bare(0.5, ratio, angle) * head)
        assert run == pytest.approx(junctions.run_loss.bare(0.5, ratio, angle) * head)
    # Where the branch brings the room's air, the balance of momentum of a right angle, each leg at its own density:
    # of the run, p + rho v^2 of run = p + rho v^2 of combined; Gardel measured less (0.03 and 0.1 to 0.4 heads).
    cold = volumes["purge air"]
    mixed = 0.5 * (volumes["flue gas"] + cold)
    static = (2 * flow / area) ** 2 * mixed - (flow / area) ** 2 * volumes["flue gas"]
    total = static + 0.5 * (flow / area) ** 2 * volumes["flue gas"] - 0.5 * (2 * flow / area) ** 2 * mixed
    run = chapter.cold_leg("straight tee", cold, own=True)[1]
    combined = 0.5 * (2 * flow / area) ** 2 * mixed
    assert -0.4 * combined < run - total < 0.0
    # A cold leg is slower: it pays less than a hot one, and less than the mixture's density would have it pay.
    own, one = (chapter.cold_leg("straight tee", cold, own=v)[0] for v in (True, False))
    assert own < one < chapter.cold_leg("straight tee", volumes["flue gas"], own=True)[0]


def test_full_size_to_the_cap_keeps_the_far_end_quiet():
    # Heads go with 1/D^4: the header's 18 in. against the connector's 12 in.
    (_, wide), (_, narrow) = (chapter.far_end_velocity(Q_(d, "inch")) for d in (18.0, 12.0))
    assert (narrow / wide).m_as("") == pytest.approx(1.5**4)


@pytest.mark.parametrize("which", chapter.FIRING)
def test_only_some_fire(which):
    solution = chapter.firing(chapter.row_of_boilers("lateral"), which)
    flows = [solution.flow[solution.row(f"connector {i + 1}"), 0] > 1e-3 for i in range(chapter.COUNT)]
    assert flows == chapter.FIRING[which](chapter.COUNT)


# --- Prediction, and what the reader writes ---


def test_the_prediction_worked_again():
    # Gardel by hand at a right angle: -0.92 (1-q)^2 - q^2 [-1.2 + 0.8 (1 - 1/a^2)] + (2-a) q (1-q).
    q, a, tee = 0.1, (12 / 18) ** 2, row("straight tee")
    k = -0.92 * (1 - q) ** 2 - q**2 * (-1.2 + 0.8 * (1 - 1 / a**2)) + (2 - a) * q * (1 - q)
    found = chapter.little_gas(q)
    head = tee.head[tee.row("header 4"), 0]
    assert found["k"] == pytest.approx(k) and found["figure"].m_as("Pa") == pytest.approx(k * head)
    assert k < -0.3 and chapter.momentum(q, 90.0) > 0  # the run pays
    for system in SYSTEMS:
        prediction = chapter.prediction(system)
        assert prediction.choices[prediction.right].startswith("Less than nothing")


@pytest.mark.parametrize(("share", "right"), [(0.5, 0), (0.1, 2)])
def test_the_prediction_goes_with_the_share(share, right):
    assert chapter.little_gas(share)["right"] == right


def by_forces(head, share, angle, ratio):
    """Forces on the gas in a header of 1 m2, from speeds in m/s at 0.8 kg/m3."""
    speed = (2 * head / 0.8) ** 0.5
    run, branch = (1 - share) * speed, share * speed / ratio
    return 0.8 * (speed**2 - run**2 - branch**2 * ratio * np.cos(np.radians(angle)))


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_other_means(system):
    task = chapter.writing(system)

    def slipped(h, q, t, a):
        cosine = np.cos(np.radians(t))
        return {
            "degrees": 2 * h * (1 - (1 - q) ** 2 - q**2 * np.cos(t) / a),
            "no_ratio": 2 * h * (1 - (1 - q) ** 2 - q**2 * cosine),
            "no_run": 2 * h * (1 - q**2 * cosine / a),
            "one_head": h * (1 - (1 - q) ** 2 - q**2 * cosine / a),
            "total": h * (1 - (1 - q) ** 2 - 2 * q**2 * cosine / a),
        }

    for case in task.cases:
        assert tried(task, case, by_forces).kind == "right"
        for name, wrong in slipped(*case.given).items():
            found = tried(task, case, lambda *_, wrong=wrong: wrong)
            # At a right angle, or with equal areas, a slip may change nothing, or lead where another does.
            assert found.kind == "right" or found.words in task.slips.values(), name
    lateral = task.cases[2]
    for name, wrong in slipped(*lateral.given).items():
        assert tried(task, lateral, lambda *_, wrong=wrong: wrong).words == task.slips[name], name


def test_tables_of_the_chapter():
    far = Q_(float(row("lateral").outlet_pressure[0, 0]), "Pa")
    assert f"{far.m_as('inH2O'):.3f} in. w.c." in chapter.outlet_table("US").data
    assert f"{far.m_as('Pa'):.1f} Pa" in chapter.outlet_table("SI").data
    assert chapter.author_table().data.count("<tr>") == 1 + len(chapter.author_spread())
    assert chapter.cold_leg_table("SI").data.count("Pa") == 16
    # A facing tube at the stack errs by about the set point of 0.05 in. w.c., as the text says.
    tee = row("straight tee")
    assert Q_(tee.head[tee.row("header 4"), 0], "Pa").m_as("inH2O") == pytest.approx(0.05, rel=0.25)
    assert "at the stack" in chapter.sensor_table().data
    # And the cap of a tapered end is half a set point above the stream beside a straight tee.
    excess = (1.62) * chapter.far_end_velocity(chapter.CONNECTOR)[1]
    assert excess.m_as("inH2O") == pytest.approx(0.025, abs=0.006)
    assert f"{excess.m_as('Pa'):.1f} Pa" in chapter.cap_table("SI").data


# --- Figures ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_axes_are_labeled_and_can_be_read(system):
    two = {form: header_of(form) for form in ("straight tee", "lateral")}
    for figure in (chapter.row_drawing(two, system), chapter.coefficient_chart()):
        for number, axes in enumerate(axes for axes in figure.axes if axes.axison):
            assert axes.xaxis.label.get_text()
            assert axes.yaxis.label.get_text() or number == 1  # two panels share one label
            assert all(t.get_size() >= 10 for t in (*axes.get_xticklabels(), *axes.get_legend().get_texts()))


def test_the_row_is_drawn_in_the_units_chosen_with_both_junctions():
    two = {form: header_of(form) for form in ("straight tee", "lateral")}
    us, si = (chapter.row_drawing(two, system).axes for system in SYSTEMS)
    assert "ft" in us[-1].get_xlabel() and "in. w.c." in us[-1].get_ylabel()
    assert ", m " in si[-1].get_xlabel() and "Pa" in si[-1].get_ylabel()
    words = [text.get_text() for axes in us[:2] for text in axes.texts if text.get_text()]
    assert words == ["boiler", "straight tee: 90°", "boiler", "lateral: 45°"]
