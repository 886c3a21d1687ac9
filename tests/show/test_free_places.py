"""Free places: what is put on a drawing does not touch."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.patches import Circle

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import drawing, plots
from ventcalc.show.free_places import BOX, PIPE, Places

DEMO = {p.stem: job_file.demonstration(p.stem).plant for p in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.fixture(params=DEMO, ids=str)
def plant(request):
    return DEMO[request.param]


def test_numbers_do_not_touch_one_another(plant):
    axes = drawing.layout_drawing(plant).axes[0]
    points = np.ptp(axes.get_xlim()) / (axes.get_position().width * plots.WIDTH * plots.POINTS)
    rings = [p.center for p in axes.patches if isinstance(p, Circle) and p.get_zorder() == 9]
    assert len(rings) == len(plant.sections)
    apart = [np.hypot(*np.subtract(a, b)) / points for a, b in combinations(rings, 2)]
    assert min(apart, default=99.0) >= 15.9  # points across a ring


# --- A sheet without axes ---

SIZE = np.array([20.0, 10.0])


def test_the_nearest_free_place_is_taken_and_the_next_is_another():
    sheet = Places((200.0, 200.0))
    anchor = np.array([100.0, 100.0])
    taken = [sheet.place([anchor], SIZE)[0] for _ in range(4)]
    assert np.hypot(*(taken[0] - anchor)) <= np.hypot(6.0 + 10.0, 6.0 + 5.0)
    for a, b in combinations(taken, 2):
        assert (np.abs(a - b) >= SIZE).any()


def test_where_nothing_is_free_near_by_there_is_no_place():
    sheet = Places((200.0, 200.0))
    sheet.keep_box_clear((60.0, 60.0), (140.0, 140.0))
    assert sheet.place([(100.0, 100.0)], SIZE, led=False, most=20.0) is None
    far, _ = sheet.place([(100.0, 100.0)], SIZE, led=False)
    assert (np.abs(far - 100.0) >= 40.0 + SIZE / 2).any()
    assert sheet.place([(100.0, 100.0)], SIZE) is None  # a leader would run over the box


def test_a_leader_runs_over_a_pipe_only_where_it_must():
    sheet = Places((200.0, 200.0))
    sheet.keep_clear(np.array([[0.0, 140.0], [200.0, 140.0]]), 3.0)
    sheet.keep_box_clear((0.0, 0.0), (200.0, 105.0))
    assert sheet.crosses(np.array([100.0, 120.0]), np.array([100.0, 180.0])) == PIPE
    assert sheet.crosses(np.array([100.0, 120.0]), np.array([100.0, 60.0])) == BOX
    near, _ = sheet.place([(100.0, 120.0)], SIZE)
    assert 105.0 <= near[1] < 140.0
    sheet.keep_box_clear((0.0, 105.0), (200.0, 118.0))
    over, _ = sheet.place([(100.0, 120.0)], np.array([20.0, 30.0]))
    assert over[1] > 140.0
