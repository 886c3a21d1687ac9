"""Fittings: the table against its source rows, the spread between sources, changes of size against a library."""

import re

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventcalc import friction, tables
from ventcalc.appliance import ENTRY_LOSS
from ventcalc.checked import compare, unexplained
from ventcalc.fittings import fitting, names, size_change
from ventcalc.units import Q_

ROWS = {row["id"]: row for row in tables.read("losses_checks")}

# Each row of data/fittings.csv names the row of losses_checks.csv it comes from.
ORIGIN = {}
for _row in tables.read("fittings"):
    if _found := re.search(r"losses\.csv (L\d+)", _row["note"]):
        ORIGIN[_found[1]] = _row["name"]


def head_change(upstream, downstream):
    """Rise of velocity head through a change of size, over the head of the wider end (upstream)."""
    speed = [friction.velocity.bare(1.0, 1.0, d) for d in (upstream, downstream)]
    before, after = (friction.velocity_head.bare(1.0, v) for v in speed)
    return (after - before) / before


OURS = {key: fitting(name).loss for key, name in ORIGIN.items()} | {
    # What the handbook counts at an inlet holds the gas's own velocity head; ours is the loss alone.
    "L005": ENTRY_LOSS["draft hood"] + 1.0,
    "L006": ENTRY_LOSS["barometric"],
    "L007": 0.0,  # a direct connection: the appliance's own flow, no inlet of the vent's
    # The handbook's cone and reducer are changes of static pressure: the velocity head that is gained, on the head
    # before it (cone) or after it (reducer). A total-pressure sum has them without a coefficient.
    "L014": head_change(1.0, 0.8),
    "L015": head_change(1.0, 0.8) / (1.0 + head_change(1.0, 0.8)),
    # A room's air enters past a sharp edge.
    "L051": ENTRY_LOSS["barometric"],
    # An exit to the open is a step to an infinite width.
    "L054": size_change(Q_(0.2, "m"), Q_(2e5, "m"), Q_(180, "degree")),
}
CHECKS = compare("losses_checks", OURS)

# Rows of this table that belong to other subjects, or that are shown as spread (see below).
FRICTION = {"L013", "L050", *(f"L{n:03d}" for n in range(55, 67))}
JUNCTIONS = {f"L{n:03d}" for n in range(69, 70)} | {f"L{n:03d}" for n in range(76, 92)}
SPREAD = {"L011", "L012", "L052", "L053"} | {f"L{n:03d}" for n in range(16, 50)} - set(ORIGIN)
# Flow that divides: no vent is meant to, so the library has no coefficients for it.
DIVIDING = {"L067", "L068"} | {f"L{n:03d}" for n in range(70, 76)}
# Rules of thumb of the steam book in in. w.c.: inputs of its worked problem (test_stack_effect).
RULES = {"L092", "L093"}


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_published_value(check):
    assert check.agrees, check.verdict


def test_every_difference_is_explained():
    assert unexplained(CHECKS) == []


def test_every_row_is_used_or_named():
    assert set(OURS) | FRICTION | JUNCTIONS | SPREAD | DIVIDING | RULES == set(ROWS)


@pytest.mark.parametrize("key", ORIGIN)
def test_source_and_status_are_those_of_the_row(key):
    found = fitting(ORIGIN[key])
    assert (found.source, found.status) == (ROWS[key]["source"], ROWS[key]["status"])


def test_fittings_without_a_row_say_so():
    without = [name for name in names() if name not in ORIGIN.values()]
    assert without == ["wall terminal"]
    assert fitting("wall terminal").status == "common practice: no source"


def test_steam_book_rules_are_the_same_in_both_tables():
    for key, other in (("L092", "D150"), ("L093", "D151")):
        assert ROWS[key]["value"] == tables.row("draft_checks", other)["value"]


# --- How far the sources lie apart ---


def published(fitting_name, **columns):
    return [
        float(row["value"])
        for row in ROWS.values()
        if fitting_name in row["fitting"] and all(row[k] == v for k, v in columns.items())
    ]


def test_spread_of_a_90_degree_elbow():
    # One word, "90 degree elbow": 0.12 (smooth, r/D 2.5) to 1.2 (mitred) in the duct tables; 0.75 in the chimney
    # handbook (from memory), which matches the tightest smooth bend (r/D 0.5: 0.71). A factor of ten: a K is worth no
    # more than what is known of the elbow's shape.
    tables_90 = published("round smooth", quantity="elbow loss coefficient C")
    tables_90 += published("piece elbow", angle_deg="90") + published("mitered", angle_deg="90")
    assert (min(tables_90), max(tables_90)) == (0.12, 1.2)
    handbook = fitting("elbow 90").loss
    assert min(tables_90) < handbook < max(tables_90)
    assert handbook == pytest.approx(published("smooth", radius_ratio="0.5")[0], abs=0.05)


@pytest.mark.parametrize("ratio", ["0.75", "1.0", "1.5", "2.0"])
def test_more_pieces_cost_less(ratio):
    smooth = published("smooth", radius_ratio=ratio)[0]
    five, four, three = (published(f"{n}-piece", radius_ratio=ratio)[0] for n in (5, 4, 3))
    assert smooth < five < four < three


def test_smooth_elbow_against_a_library():
    # fluids: Rennels's rounded bend at Re 2e5 with a smooth wall, 90 degrees. The duct tables of smooth elbows count no
    # friction along the bend; within 0.08 of each other from r/D 1 up.
    for key in ("L018", "L019", "L020"):
        ratio = float(ROWS[key]["radius_ratio"])
        library = fluids.fittings.bend_rounded(Di=0.2, angle=90.0, fd=0.016, rc=0.2 * ratio, method="Rennels")
        assert float(ROWS[key]["value"]) == pytest.approx(library, abs=0.08)


def test_spread_of_a_sharp_entrance():
    values = [float(ROWS[key]["value"]) for key in ("L051", "L052", "L053")]
    assert (min(values), max(values)) == (0.5, 0.57)
    assert fluids.entrance_sharp() == pytest.approx(float(ROWS["L052"]["value"]))


def test_spread_of_other_caps():
    # One sheet prints 2 for "other caps"; the handbook gives 1.5 to 4.5 (from memory).
    assert float(ROWS["L012"]["value"]) <= fitting("rain cap").loss <= 4.5


# --- Changes of size ---

ANGLES = [5.0, 20.0, 44.0, 46.0, 60.0, 90.0, 180.0]


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("narrow", [0.1, 0.2, 0.28])
def test_change_of_size_against_crane_in_a_library(narrow, angle):
    increaser = fluids.diffuser_conical(narrow, 0.3, angle=angle, method="Crane")
    reducer = fluids.contraction_conical_Crane(0.3, narrow, angle=angle)
    assert size_change.bare(narrow, 0.3, angle) == pytest.approx(increaser)
    assert size_change.bare(0.3, narrow, angle) == pytest.approx(reducer)


@pytest.mark.parametrize("angle", [20.0, 60.0, 90.0])
def test_change_of_size_against_another_author(angle):
    # Rennels, Pipe Flow (2012), as in fluids with f = 0.02, for 200 to 300 mm. His diffusers are within 0.07 of
    # Crane's; his contractions cost up to 0.11 less, so ours is the cautious one.
    increaser = fluids.diffuser_conical(0.2, 0.3, angle=angle, fd=0.02, method="Rennels")
    reducer = fluids.contraction_conical(0.3, 0.2, angle=angle, fd=0.02, method="Rennels")
    assert size_change.bare(0.2, 0.3, angle) == pytest.approx(increaser, abs=0.07)
    assert 0.0 < size_change.bare(0.3, 0.2, angle) - reducer < 0.11


def test_sudden_step_is_borda_and_carnot():
    # Momentum: K = (1 - A1/A2)^2 on the narrow side; a sudden contraction half of 1 - A2/A1 (any textbook).
    assert size_change.bare(0.2, 0.4, 180.0) == pytest.approx((1 - 0.25) ** 2)
    assert size_change.bare(0.4, 0.2, 180.0) == pytest.approx(0.5 * (1 - 0.25))


def test_no_step_where_crane_changes_formula():
    # Crane's two ranges meet within 1.1 % at 45 degrees (0.995 and 1 of the increaser, 0.306 and 0.309 of the reducer).
    for ends in ((0.2, 0.3), (0.3, 0.2)):
        below, above = size_change.bare(*ends, np.array([45.0, 45.001]))
        assert above == pytest.approx(below, rel=0.012)


@given(st.floats(0.05, 2.0), st.floats(0.05, 2.0), st.floats(1.0, 180.0))
def test_change_of_size_costs_at_most_a_head(upstream, downstream, angle):
    loss = size_change.bare(upstream, downstream, angle)
    assert 0.0 <= loss <= 1.0
    assert size_change.bare(upstream, upstream, angle) == 0.0


def test_arrays_of_both_kinds():
    found = size_change.bare(np.array([0.2, 0.3]), np.array([0.3, 0.2]), 60.0)
    assert list(found) == [size_change.bare(0.2, 0.3, 60.0), size_change.bare(0.3, 0.2, 60.0)]


def test_same_case_in_us_and_si_units():
    us = size_change(Q_(8, "inch"), Q_(1, "ft"), Q_(60, "degree"))
    assert us.m_as("") == pytest.approx(size_change(Q_(203.2, "mm"), Q_(0.3048, "m"), Q_(np.pi / 3, "rad")).m_as(""))


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((Q_(0, "m"), Q_(1, "m"), Q_(60, "degree")), "upstream_diameter"),
        ((Q_(1, "m"), Q_(-1, "m"), Q_(60, "degree")), "downstream_diameter"),
        ((Q_(1, "m"), Q_(2, "m"), Q_(0, "degree")), "angle"),
        ((Q_(1, "m"), Q_(2, "m"), Q_(181, "degree")), "angle"),
    ],
)
def test_impossible_input_is_refused_by_name(arguments, named):
    with pytest.raises(ValueError, match=named):
        size_change(*arguments)


# --- The table ---


def test_kinds():
    assert {kind: len(names(kind)) for kind in ("elbow", "screen", "terminal")} == {
        "elbow": 10,
        "screen": 1,
        "terminal": 4,
    }
    assert set(names()) == {name for kind in ("elbow", "screen", "terminal") for name in names(kind)}
    assert names("no such kind") == ()


def test_wind_belongs_to_terminals():
    for name in names():
        found = fitting(name)
        assert found.loss >= 0 and (found.wind == 0.0 or found.kind == "terminal")
    # A free outlet is sucked on by the wind, a terminal on a windward wall is pushed at.
    assert fitting("open end").wind < 0 < fitting("wall terminal").wind


def test_unknown_fitting_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match=r"unknown fitting 'elbow 91'; known are: elbow 90, .*wall terminal"):
        fitting("elbow 91")
