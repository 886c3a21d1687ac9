"""The unfolded elevation keeps what a drawing to scale must keep: lengths, heights, and that pipes meet."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from sample_plants import random_tree, row_plant

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import elevation
from ventcalc.units import Q_

DEMO = {p.stem: job_file.demonstration(p.stem).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}
PLANTS = DEMO | {f"tree {seed}": random_tree(seed) for seed in range(6)} | {"row": row_plant(5)}


def length(line):
    return float(sum(np.hypot(*(b - a)) for a, b in pairwise(line)))


@pytest.fixture(params=PLANTS, ids=str)
def plant(request):
    return PLANTS[request.param]


def test_every_section_stands_at_its_heights(plant):
    drawn = elevation.unfold(plant)
    for section in plant.sections:
        low, high = plant.heights[section.name]
        for point, height in ((0, low), (-1, high)):
            above = drawn.cut[1] if height > drawn.cut[0] and drawn.cut[1] else 0.0
            assert drawn.lines[section.name][point, 1] == pytest.approx(height - above)


def test_every_section_has_its_length_or_is_seen_end_on(plant):
    drawn = elevation.unfold(plant)
    for section in plant.sections:
        true, shown = float(section.length.m_as("m")), length(drawn.lines[section.name])
        rise = abs(float(section.rise.m_as("m")))
        low, high = plant.heights[section.name]
        left_out = drawn.cut[1] if drawn.cut[1] and low < drawn.cut[0] < high else 0.0  # a tall stack is drawn broken
        assert shown == pytest.approx(true - left_out, rel=1e-9) or shown == pytest.approx(rise - left_out, abs=1e-9)


def test_pipes_meet_unless_drawn_apart(plant):
    drawn = elevation.unfold(plant)
    apart = {words for _, words, _ in drawn.words if words.startswith("part")}
    loose = 0
    for section in plant.sections:
        if section.into in drawn.lines:
            gap = np.abs(drawn.lines[section.name][-1] - drawn.lines[section.into][0])
            loose += bool(gap[0] > 1e-9 or gap[1] > 0.05)  # 0.05 m: how well two ways to one point must agree
    assert loose == len(apart)


def test_appliances_stand_on_the_floor_side_by_side(plant):
    drawn = elevation.unfold(plant)
    assert all(box[0, 1] == 0.0 and box[1, 1] > 0.0 for box in drawn.boxes)
    spans = sorted((box[0, 0], box[1, 0]) for box in drawn.boxes)
    assert all(b[0] >= a[1] - 1e-9 for a, b in pairwise(spans))


def test_a_very_tall_stack_is_broken_and_the_rest_stays_true():
    plant = row_plant(3, stack_height=90.0)
    drawn = elevation.unfold(plant)
    at, left_out = drawn.cut
    assert left_out > 0 and drawn.bounds[1][1] == pytest.approx(max(plant.heights["stack"]) - left_out)
    assert plant.heights["stack"][0] < at < drawn.bounds[1][1]
    assert elevation.unfold(row_plant(3, stack_height=8.0)).cut == (0.0, 0.0)


def test_a_narrow_plant_of_few_stories_is_drawn_whole():
    """Nobody understands a chimney of which more than half is left out."""
    plant = DEMO["masonry_retrofit"]
    drawn = elevation.unfold(plant)
    assert drawn.cut == (0.0, 0.0) and np.ptp(drawn.lines["flue"][:, 1]) == pytest.approx(Q_(26, "ft").m_as("m"))


def test_a_point_at_a_share_of_a_line():
    line = np.array([[0.0, 0.0], [0.0, 3.0], [1.0, 3.0]])
    assert [list(elevation.point_at(line, share)) for share in (0.0, 0.5, 0.75, 1.0)] == [
        [0, 0],
        [0, 2],
        [0, 3],
        [1, 3],
    ]


def test_connectors_that_stand_close_are_seen_end_on():
    plant = row_plant(3)
    close = replace(
        plant,
        sections=tuple(
            replace(s, length=Q_(0.6, "m")) if s.name.startswith("header") else replace(s, length=Q_(2.5, "m"))
            if s.name.startswith("connector")
            else s
            for s in plant.sections
        ),
    )  # fmt: skip
    line = elevation.unfold(close).lines["connector 2"]
    assert np.ptp(line[:, 0]) == 0.0 and np.ptp(line[:, 1]) == pytest.approx(1.0)
