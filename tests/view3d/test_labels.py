"""Labels over the picture: none covers another, all stay inside, each as near as it can be."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.view3d.labels import GAP_PX, INSET_PX, Box, beside, covered_px, laid, overlap

WIDTH, HEIGHT = 800.0, 500.0
BOXES = st.tuples(st.floats(-60, 860), st.floats(-60, 560), st.floats(20, 90), st.floats(12, 24))


def test_labels_that_do_not_meet_stay_where_they_are_wanted() -> None:
    wanted = [(10.0, 10.0, 50.0, 20.0), (200.0, 10.0, 50.0, 20.0)]
    assert laid(wanted, [], WIDTH, HEIGHT) == wanted


def test_one_of_two_on_one_place_goes_the_shortest_way() -> None:
    first, second = laid([(100.0, 100.0, 60.0, 20.0), (110.0, 104.0, 60.0, 20.0)], [], WIDTH, HEIGHT)
    assert first == (100.0, 100.0, 60.0, 20.0)
    assert second == pytest.approx((110.0, 120.0 + GAP_PX, 60.0, 20.0))  # 19 px down; up it would be 27


def test_at_the_border_they_come_in() -> None:
    (box,) = laid([(790.0, -30.0, 60.0, 20.0)], [], WIDTH, HEIGHT)
    assert box == (WIDTH - INSET_PX - 60.0, INSET_PX, 60.0, 20.0)


def test_what_is_taken_is_kept_free() -> None:
    grip: Box = (100.0, 100.0, 36.0, 32.0)
    (box,) = laid([(110.0, 105.0, 50.0, 20.0)], [grip], WIDTH, HEIGHT)
    assert not overlap(box, grip)


def test_without_any_room_a_label_stays_inside_all_the_same() -> None:
    everything: Box = (0.0, 0.0, WIDTH, HEIGHT)
    assert laid([(100.0, 100.0, 50.0, 20.0)], [everything], WIDTH, HEIGHT) == [(100.0, 100.0, 50.0, 20.0)]


@given(st.lists(BOXES, max_size=12))
def test_a_dozen_labels_never_meet_and_never_leave(wanted: list[Box]) -> None:
    """A dozen of at most 96 by 27 pixels, spread over 800 by 500, always find room."""
    boxes = laid(wanted, [], WIDTH, HEIGHT)
    assert [b[2:] for b in boxes] == [w[2:] for w in wanted]
    for one, other in combinations(boxes, 2):
        assert not overlap(one, other)
    for left, top, width, height in boxes:
        assert left >= INSET_PX
        assert top >= INSET_PX
        assert left + width <= WIDTH
        assert top + height <= HEIGHT


SQUARE = np.array([[[100, 100], [300, 100]], [[300, 100], [300, 300]], [[300, 300], [100, 300]]], float)


def test_what_a_box_covers_of_a_drawing() -> None:
    assert covered_px(SQUARE, (0.0, 0.0, 800.0, 500.0)) == pytest.approx(600.0)
    assert covered_px(SQUARE, (150.0, 90.0, 40.0, 20.0)) == pytest.approx(40.0)
    assert covered_px(SQUARE, (290.0, 90.0, 40.0, 20.0)) == pytest.approx(20.0)  # a corner: 10 of either
    assert covered_px(SQUARE, (150.0, 150.0, 40.0, 20.0)) == 0.0


def test_words_about_a_place_go_where_nothing_is_drawn() -> None:
    place: Box = (290.0, 190.0, 20.0, 20.0)  # on the right side of the square
    box = beside((90.0, 22.0), place, SQUARE, (), WIDTH, HEIGHT)
    assert covered_px(SQUARE, box) == 0.0
    taken: Box = (310.0, 0.0, 490.0, 500.0)  # nothing to the right of it
    assert beside((90.0, 22.0), place, SQUARE, (taken,), WIDTH, HEIGHT)[0] < 200.0


@given(
    st.tuples(st.floats(0, 780), st.floats(0, 480)),
    st.lists(st.tuples(*[st.floats(-50, 850)] * 4), max_size=8),
)
def test_words_never_cover_what_they_are_about_and_stay_inside(
    at: tuple[float, float], ends: list[tuple[float, float, float, float]]
) -> None:
    place = (*at, 20.0, 20.0)
    box = beside((110.0, 24.0), place, np.array(ends).reshape(-1, 2, 2), (), WIDTH, HEIGHT)
    assert not overlap(box, place)
    assert INSET_PX <= box[0] <= WIDTH - INSET_PX - box[2]
    assert INSET_PX <= box[1] <= HEIGHT - INSET_PX - box[3]
