"""Axes: figures of the page's width, numbers and labels in the unit that a reader chose."""

import itertools

import pytest

from ventcalc.show.axes import label, number, picture, plain, row_of_axes, two_axes
from ventcalc.show.plots import WIDTH


@pytest.mark.parametrize("count", [1, 2, 3])
def test_axes_stand_side_by_side_on_the_page(count):
    figure, axes = row_of_axes(count)
    places = [a.get_position() for a in axes]
    assert figure.get_figwidth() == WIDTH and len(axes) == count
    assert places[0].x0 > 0.0 and places[-1].x1 < 1.0
    assert all(left.x1 < right.x0 for left, right in itertools.pairwise(places))


def test_two_axes_leave_room_for_what_each_says():
    figure, (left, right) = two_axes(3.0, sharey=True)
    plain(left, "time, s", "pressure of the outlet, Pa")
    plain(right, "time, s", "pressure of the outlet, Pa")
    figure.draw_without_rendering()
    boxes = [axes.get_tightbbox() for axes in (left, right)]
    assert figure.get_figwidth() == WIDTH and left.get_ylim() == right.get_ylim()
    assert boxes[0].x0 >= 0.0 and boxes[0].x1 < boxes[1].x0 and boxes[1].x1 <= figure.bbox.x1


def test_labels_say_the_unit_and_the_picture_is_one():
    figure, (axes,) = row_of_axes()
    plain(axes, f"height, {label('height', 'US')}", "draft", "One")
    assert axes.get_xlabel() == "height, ft" and axes.get_title("left") == "One"
    assert picture(figure).startswith(b"\x89PNG")


def test_numbers_are_in_the_unit_of_their_label():
    # 1 ft is 0.3048 m by definition (international foot, NIST SP 811).
    assert number([0.3048, 3.048], "m", "height", "US") == pytest.approx([1.0, 10.0])
    assert number(12.0, "m", "height", "SI") == pytest.approx(12.0) and label("height", "SI") == "m"
