"""Junctions: what two streams gain and lose where they join.

A coefficient here is the fall of **total** pressure from a leg to the combined stream, over the velocity
head of the combined stream. It depends on the branch's share q of the flow, on the ratio a of branch to
combined area and on the angle. A leg can gain: the slower stream is dragged along by the faster one,
and its coefficient is then negative. A straight tee throws the branch's momentum away; a lateral
keeps part of it as draft.

The solver uses Gardel's formulas because they are quadratic in the two flows: they need no division by a
flow that may vanish. Idelchik's form stands beside them to show the spread.

Total and static pressure are kept apart: the coefficients speak of total pressure, a gauge in a wall or in an end
cap reads static pressure. The last part of this module says by how much a badly placed sensor errs.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from ventcalc.compiled import law
from ventcalc.door import door
from ventcalc.flow import friction
from ventcalc.units import quantities
from ventcalc.words import meant

GARDEL = (
    "Gardel (1957), Bulletin technique de la Suisse romande 83: combining flow in tees; sharp corners read in two "
    "open flow solvers that name it, not in the paper; the term of the corner's rounding from memory"
)

# Branch over combined area for which Gardel's formulas were tested: from memory, to be confirmed in the paper.
TESTED_AREA_RATIO = (0.4, 1.0)


@dataclass(frozen=True)
class Junction:
    """A junction's form: ``angle`` of the branch to the run [degree] and ``rounding`` of its corner, r/D [-]."""

    name: str
    angle: float
    rounding: float
    note: str


# A boot is a branch whose foot widens towards the run. No coefficient of its own was found; it is taken
# as a tee with a well-rounded corner (common practice, no source), between straight tee and lateral.
JUNCTIONS = {
    j.name: j
    for j in (
        Junction("straight tee", 90.0, 0.0, "90 degree branch, sharp corner"),
        Junction("boot tee", 90.0, 0.25, "90 degree branch, widened foot; common practice, no source"),
        Junction("lateral", 45.0, 0.0, "45 degree branch, sharp corner"),
        Junction("opposed tee", 90.0, 0.0, "two streams meet head on and leave at right angles"),
    )
}


def junction(name: str) -> Junction:
    """The junction of that name; ValueError lists the known names."""
    if name not in JUNCTIONS:
        raise ValueError(f"unknown junction {name!r}; {meant(name, JUNCTIONS)}")
    return JUNCTIONS[name]


class Coefficients(NamedTuple):
    """Pressure fall of both legs as quadratic forms in the leg flows, per ``1 / (2 rho A_combined^2)``.

    Branch: ``branch_run2 ms^2 + branch_own2 mb^2 + cross mb ms``; run likewise. Plain floats.
    """

    branch_run2: float
    branch_own2: float
    branch_cross: float
    run_own2: float
    run_branch2: float
    run_cross: float


@door(
    plain={"area_ratio": "", "angle": "degree", "rounding": ""},
    arrays=("area_ratio", "angle", "rounding"),
    above={"area_ratio": 0.0},
    at_least={"rounding": 0.0},
)
def gardel(area_ratio: float, angle: float, rounding: float) -> Coefficients:
    """Gardel's combining tee as quadratic forms; area_ratio a, angle [degree], rounding r/D; plain floats."""
    a, cosine, root = area_ratio, np.cos(np.radians(angle)), np.sqrt(rounding)
    return Coefficients(
        branch_run2=-0.92,
        branch_own2=-((1.2 - root) * (cosine / a - 1.0) + 0.8 * (1.0 - 1.0 / a**2) - (1.0 / a - 1.0) * cosine),
        branch_cross=2.0 - a,
        run_own2=0.03,
        run_branch2=-(1.0 + (1.62 - root) * (cosine / a - 1.0) - 0.38 * (1.0 - a)),
        run_cross=2.0 - a,
    )


@door(plain={"area_ratio": ""}, arrays=("area_ratio",), above={"area_ratio": 0.0})
def opposed(area_ratio: float) -> Coefficients:
    """Two equal legs head on, Idelchik's symmetric tee: ``1 + 1/a^2 + 3 (q^2 - q) / a^2`` for each leg.

    In leg flows: ``(1 + 1/a^2)(mb + ms)^2 - 3 mb ms / a^2``. Idelchik's diagram 7-29 without its free factor
    (0.5 to 1), read in two open flow solvers, not in the book; this is the upper of the two.
    """
    own, cross = 1.0 + 1.0 / area_ratio**2, 2.0 * (1.0 + 1.0 / area_ratio**2) - 3.0 / area_ratio**2
    return Coefficients(own, own, cross, own, own, cross)


@door(plain={"area_ratio": "", "angle": "degree"}, arrays=("area_ratio", "angle"), above={"area_ratio": 0.0})
def idelchik(area_ratio: float, angle: float) -> Coefficients:
    """Idelchik's converging wye (`branch_loss_idelchik`) as quadratic forms; its run by the balance of momentum.

    Of the run that is ``1 - (1-q)^2 - 2 cos t q^2 / a``: what Idelchik and Crane give but for a tee at 90 degrees.
    """
    a, cosine = area_ratio, np.cos(np.radians(angle))
    k = -0.0001766 * angle**2 - 0.007536 * angle + 2.1043
    return Coefficients(-1.0, 1.0 + 1.0 / a**2 - k / a, 2.0, 0.0, 1.0 - 2.0 * cosine / a, 2.0)


CRANE_WIDE = 0.35  # branch over combined area above which Crane's branch has a factor below 1
CRANE_FACTOR = 0.55  # that factor where the branch brings more than 0.4 of the flow; below that 0.9 (1 - q)


@door(plain={"area_ratio": "", "angle": "degree"}, arrays=("area_ratio", "angle"), above={"area_ratio": 0.0})
def crane(area_ratio: float, angle: float) -> Coefficients:
    """Crane's converging tee or wye as quadratic forms, as read in an open flow library; the paper not read.

    Branch ``C (1 + (q/a)^2 - 2 (1-q)^2 - F q^2/a)`` with F = 2 cos t (printed 1.74, 1.41, 1 and 0 at 30, 45, 60, 90
    degrees), run ``1 - (1-q)^2 - F q^2/a``, at 90 degrees ``1.55 q - q^2``. C is `CRANE_FACTOR` in branches wider than
    `CRANE_WIDE`, else 1: for flow shares below 0.4, where it is up to 0.9, this is the lower end.
    """
    a, slant = area_ratio, 2.0 * np.cos(np.radians(angle))
    c = np.where(a > CRANE_WIDE, CRANE_FACTOR, 1.0)
    upright = angle == 90.0
    run = (0.55, 1.55) if upright else (1.0 - slant / a, 2.0)
    return Coefficients(-c, c * (1.0 + 1.0 / a**2 - slant / a), 2.0 * c, 0.0, *run)


OPPOSED_LEAST = 0.5  # the lower end of Idelchik's free factor of an opposed tee

# The formulas for one and the same junction that stand beside each other, by who gives them.
AUTHORS = ("Gardel", "Idelchik", "Crane")


@door(plain={"area_ratio": ""}, arrays=("area_ratio",), above={"area_ratio": 0.0})
def by_author(author: str, form: Junction, area_ratio: float) -> Coefficients:
    """The quadratic forms of a junction by one of `AUTHORS`; rounded corners are known to Gardel alone.

    An opposed tee is Idelchik's with all of them; in Crane's place stands the lower end of its free factor.
    """
    if author not in AUTHORS:
        raise ValueError(f"author {author!r}; choose {', '.join(AUTHORS)}")
    if form.name == "opposed tee":
        factor = OPPOSED_LEAST if author == "Crane" else 1.0
        return Coefficients(*(factor * value for value in opposed(area_ratio)))
    if author == "Gardel":
        return gardel(area_ratio, form.angle, form.rounding)
    return {"Idelchik": idelchik, "Crane": crane}[author](area_ratio, form.angle)


@door(plain={"area_ratio": ""}, arrays=("area_ratio",), above={"area_ratio": 0.0})
def coefficients(form: Junction, area_ratio: float) -> Coefficients:
    """The quadratic forms of one junction for its area ratio (branch over combined)."""
    return opposed(area_ratio) if form.name == "opposed tee" else gardel(area_ratio, form.angle, form.rounding)


_TEE = {"area_ratio": "", "angle": "degree", "rounding": ""}
_LEG = {"flow_share": "", **_TEE}
_LEG_LIMITS = {
    "at_least": {"flow_share": 0.0, "angle": 30.0, "rounding": 0.0},
    "at_most": {"flow_share": 1.0, "angle": 135.0, "area_ratio": 1.0, "rounding": 0.25},
    "above": {"area_ratio": 0.0},
    "valid": {"area_ratio": TESTED_AREA_RATIO},
}


@quantities("", **_LEG, **_LEG_LIMITS, source=GARDEL)
def branch_loss(flow_share, area_ratio, angle, rounding=0.0):
    """Coefficient of the branch of a combining tee (Gardel), on the combined velocity head.

    ``K = -0.92 (1-q)^2 - q^2 [(1.2 - sqrt(r)) (cos t/a - 1) + 0.8 (1 - 1/a^2) - (1/a - 1) cos t]
    + (2 - a) q (1 - q)``

    flow_share q of the branch (0 to 1), area_ratio a = branch/combined (above 0, to 1; tested range
    0.4 to 1, warns below), angle t [degree] 30 to 135, rounding r = corner radius/D; scalars or arrays.
    Run and combined leg have one diameter. Raises outside the limits.
    """
    c = gardel(area_ratio, angle, rounding)
    s = 1.0 - flow_share
    return c.branch_run2 * s**2 + c.branch_own2 * flow_share**2 + c.branch_cross * flow_share * s


@quantities("", **_LEG, **_LEG_LIMITS, source=GARDEL)
def run_loss(flow_share, area_ratio, angle, rounding=0.0):
    """Coefficient of the straight run of a combining tee (Gardel), on the combined velocity head.

    ``K = 0.03 (1-q)^2 - q^2 [1 + (1.62 - sqrt(r)) (cos t/a - 1) - 0.38 (1 - a)] + (2 - a) q (1 - q)``

    flow_share q of the branch (0 to 1), area_ratio a = branch/combined (above 0, to 1; tested range
    0.4 to 1, warns below), angle t [degree] 30 to 135, rounding r = corner radius/D; scalars or arrays.
    Raises outside the limits.
    """
    c = gardel(area_ratio, angle, rounding)
    s = 1.0 - flow_share
    return c.run_own2 * s**2 + c.run_branch2 * flow_share**2 + c.run_cross * flow_share * s


@quantities(
    "",
    flow_share="",
    area_ratio="",
    angle="degree",
    at_least={"flow_share": 0.0, "angle": 0.0},
    at_most={"flow_share": 1.0, "angle": 90.0, "area_ratio": 1.0},
    above={"area_ratio": 0.0},
    source="Idelchik, Handbook of Hydraulic Resistance (1960 ed.), converging wye, without its free factor",
)
def branch_loss_idelchik(flow_share, area_ratio, angle):
    """Coefficient of the branch by Idelchik's converging wye: ``1 + (q/a)^2 - 2 (1-q)^2 - k(t) q^2 / a``.

    With ``k(t) = -0.0001766 t^2 - 0.007536 t + 2.1043`` (t in degrees), run and combined leg of one
    diameter, on the combined velocity head. flow_share q, area_ratio a (above 0, to 1), angle [degree]
    0 to 90; scalars or arrays. His further factor (0.55 to 1) is left out: this is the upper of the two.
    """
    k = -0.0001766 * angle**2 - 0.007536 * angle + 2.1043
    return 1.0 + (flow_share / area_ratio) ** 2 - 2.0 * (1.0 - flow_share) ** 2 - k * flow_share**2 / area_ratio


@law
def leg_pressures(c, volumes, area, branch, run):
    """Fall of total pressure [Pa] from each leg to the combined stream, and its slopes; plain numbers or arrays.

    ``c``: `Coefficients` of the junction. ``volumes`` [m3/kg] of the gas in branch, run and combined stream; ``area``
    [m2] of the combined leg. Returns (fall_branch, fall_run, d_branch/d_branch, d_branch/d_run, d_run/d_branch,
    d_run/d_run), flows in kg/s towards the terminal. Combining flow follows the quadratic forms. The coefficients were
    measured with one fluid; where the legs bring gas of different density, the combined stream's share of a coefficient
    (its momentum less its velocity head, 1 of each squared term and 2 of the product) counts at its own density, and
    what is left of each squared term at the density of the leg whose flow is squared, as the momentum balance has it.
    For a leg that runs backward its own squared term keeps the sign of the flow, so that what enters a leg loses
    pressure, and what one stream does to the other leg (drag, loss of momentum) ends with that stream: no state gains
    energy and no value has a jump; the slope has a kink where a leg turns round while the other flows on. The loss of
    flow that divides is that of the leg alone, less than the true one.
    """
    b_abs, s_abs = np.abs(branch), np.abs(run)
    b_forward, s_forward = 0.5 * (branch + b_abs), 0.5 * (run + s_abs)
    b_on, s_on = branch > 0.0, run > 0.0
    cross = b_forward * s_forward
    square = 2.0 * area * area
    v_branch, v_run, v_combined = volumes[0] / square, volumes[1] / square, volumes[2] / square
    branch_own2, run_branch2 = (
        (c.branch_own2 - 1.0) * v_branch + v_combined,
        (c.run_branch2 - 1.0) * v_branch + v_combined,
    )
    branch_run2, run_own2 = (c.branch_run2 - 1.0) * v_run + v_combined, (c.run_own2 - 1.0) * v_run + v_combined
    branch_cross, run_cross = c.branch_cross * v_combined, c.run_cross * v_combined
    d_cross_b, d_cross_s = b_on * s_forward, s_on * b_forward
    return (
        branch_own2 * branch * b_abs + branch_run2 * s_forward * run + branch_cross * cross,
        run_own2 * run * s_abs + run_branch2 * b_forward * branch + run_cross * cross,
        2.0 * branch_own2 * b_abs + branch_cross * d_cross_b,
        2.0 * branch_run2 * s_forward + branch_cross * d_cross_s,
        2.0 * run_branch2 * b_forward + run_cross * d_cross_b,
        2.0 * run_own2 * s_abs + run_cross * d_cross_s,
    )


# --- Which junctions of a drawing lie outside the tested range ------------------------------------------------


def area_ratio(branch_diameter: float, combined_diameter: float) -> float:
    """Branch over combined area; a branch wider than the combined leg is taken as reduced to it first. Plain numbers or
    arrays."""
    return np.minimum(1.0, branch_diameter / combined_diameter) ** 2


def untested(sections: Iterable[Any]) -> tuple[tuple[str, float], ...]:
    """Branches whose area ratio lies outside `TESTED_AREA_RATIO`: (name of the branch, its ratio), in their order.

    ``sections`` are those of a layout (name, diameter, into, junction). An opposed tee has no range of its own.
    """
    sections = tuple(sections)
    meters = {s.name: float(s.diameter.m_as("m")) for s in sections}
    ratios = {
        s.name: area_ratio(meters[s.name], meters[s.into])
        for s in sections
        if s.junction not in (None, "opposed tee") and s.into in meters
    }
    low, high = TESTED_AREA_RATIO
    return tuple((name, ratio) for name, ratio in ratios.items() if not low <= ratio <= high)


# --- What a pressure sensor reads ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """Where a sensor's hole sits, and what it reads above static pressure: ``low`` to ``high`` velocity heads [-]."""

    name: str
    low: float
    high: float
    source: str
    status: str


SENSOR_PLACES = {
    p.name: p
    for p in (
        Place("flush in a straight wall", 0.0, 0.0, "Pressure does not vary across parallel flow", "computed"),
        Place("tube that faces the flow", 1.0, 1.0, "Bernoulli: the flow is stopped at the hole", "computed"),
        Place(
            "hole in the side of a tube across the flow",
            -1.2,
            -0.9,
            "Measured pressure on a circular cylinder, any fluid mechanics textbook; frictionless flow would give -3",
            "from memory: to be confirmed",
        ),
    )
}


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    coefficient="",
    above={"density": 0.0},
    at_least={"coefficient": -3.0},
    at_most={"coefficient": 1.0},
    source="Definition of the pressure coefficient; 1 (Bernoulli) and -3 (frictionless cylinder) are its limits",
)
def sensor_error(density, velocity, coefficient):
    """What a sensor in the stream reads above the static pressure there: ``c rho v^2 / 2``.

    density [kg/m3] and velocity [m/s] of the stream at the sensor, coefficient c [-] of its place (see
    `SENSOR_PLACES`): 1 where it faces the flow, 0 flush in the wall, about -1 in the side of a tube across it; scalars
    or arrays. Raises for a density that is not positive and for c outside -3 to 1.
    """
    return coefficient * friction.velocity_head.bare(density, velocity)


@quantities("", **_TEE, **_LEG_LIMITS, source=GARDEL)
def end_cap_excess(area_ratio, angle, rounding=0.0):
    """What a capped end reads above the static pressure behind the first branch, in combined velocity heads.

    Nothing flows towards the cap, so it holds the total pressure of a run without flow: ``1 + K_run`` at q = 1. By
    momentum it would be ``2 - 2 cos t / a``: at a right angle the cap stands two heads above the stream that
    has to be set going, in a lateral below it. area_ratio a = branch/combined (above 0, to 1; tested 0.4 to
    1, warns below), angle t [degree] 30 to 135, rounding r/D; scalars or arrays. Raises outside the limits.
    """
    return 1.0 + run_loss.bare(1.0, area_ratio, angle, rounding)
