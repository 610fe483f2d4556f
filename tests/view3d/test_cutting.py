"""The section's cutting line on the bench: where it runs, and dragging it by its knobs."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.ui.gauge import cut_plane
from housingdesk.view3d.camera import Eye, View
from housingdesk.view3d.cutting import cut_frame, directions, settled
from housingdesk.view3d.knob import knobs_of, take_knob
from housingdesk.view3d.scene import Look, scene_of
from tests.view3d.content import OUTER_MM, Z_MM, halves, part

EYE = Eye(View(distance_mm=200.0), 900, 640)
ANGLES = [0.0, 30.0, 90.0, 135.0, -60.0]


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("offset", [0.0, 7.5, -4.0])
def test_the_ring_lies_in_the_cutting_plane_and_around_the_housing(angle: float, offset: float) -> None:
    ring = np.array(cut_frame(angle, offset, OUTER_MM, lift_mm=12.0).corners)
    a = np.radians(angle)
    normal = np.array([np.sin(a), np.cos(a), 0.0])  # the strip's plane: turned clockwise about the pull
    assert (ring - OUTER_MM.mean(axis=0)) @ normal == pytest.approx([offset] * 4)
    assert ring[:2, 2].max() < OUTER_MM[0, 2]
    assert ring[2:, 2].min() > OUTER_MM[1, 2] + 12.0
    # Its upright sides stand outside the block, by no more than a sliver of it along the line.
    out = np.maximum(OUTER_MM[0, :2] - ring[:, :2], ring[:, :2] - OUTER_MM[1, :2]).max(axis=1)
    assert (out > 0).all()
    assert (out < 2.0).all()


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 91.0, -89.0, -90.0, 180.0, 270.0, -170.0])
def test_a_settled_cut_is_the_same_line_and_never_shifts_to_the_front(angle: float) -> None:
    turn, shift = settled(angle, 7.0)
    (along, normal), (was_along, was_normal) = directions(turn), directions(angle)
    assert -90.0 < turn <= 90.0
    assert np.array(normal) * shift == pytest.approx(np.array(was_normal) * 7.0, abs=1e-9)
    assert abs(np.dot(along, was_along)) == pytest.approx(1.0)
    assert normal[1] > -1e-9
    assert settled(turn, shift) == (turn, shift)


def test_a_cut_is_looked_at_the_way_its_shift_goes() -> None:
    """From the front the drawing's right is the housing's; from the left it is the front."""
    for angle, right, on in ((0.0, (1, 0), (0, 1)), (90.0, (0, -1), (1, 0))):
        along, normal = directions(angle)
        assert along == pytest.approx(right)
        assert normal == pytest.approx(on)
        plane = cut_plane(angle, 3.0, (0.0, 0.0, 0.0))
        assert -np.cross(plane.right, plane.up) == pytest.approx((*on, 0))  # where `section` looks
        assert np.array(plane.origin_mm) == pytest.approx(3.0 * np.array((*on, 0)))


def test_a_cut_that_the_housing_has_left_stays_at_its_edge() -> None:
    frame = cut_frame(0.0, 999.0, OUTER_MM)
    assert frame.offset_mm == pytest.approx(18.0 - 0.05)  # half of 36 mm
    assert cut_frame(0.0, -999.0, OUTER_MM).offset_mm == -frame.offset_mm


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("index", [0, 1])
def test_the_knob_follows_the_pointer(angle: float, index: int) -> None:
    frame = cut_frame(angle, 2.0, OUTER_MM)
    knobs = knobs_of(EYE, frame)
    if not knobs:
        pytest.fail("the corner view shows every knob")
    drag = take_knob(EYE, frame, (knobs[index][0] + 3, knobs[index][1] - 2))
    assert drag is not None
    # Where the taken corner is seen when the cut is 5 mm further on, plus where it was held.
    target = EYE.pixels(np.array(drag.knob) + 5.0 * np.array(frame.normal))[0]
    moved = drag.moved(EYE, frame, (target[0] + 3, target[1] - 2), free=False)
    assert moved.offset_mm == pytest.approx(7.0)
    far = EYE.pixels(np.array(drag.knob) + 500.0 * np.array(frame.normal))[0]
    away = drag.moved(EYE, frame, (far[0], far[1]), free=False)
    assert abs(away.offset_mm) <= frame.most_mm
    assert moved.given_back().offset_mm == 2.0


def test_beside_a_knob_nothing_is_taken() -> None:
    frame = cut_frame(0.0, 0.0, OUTER_MM)
    (x, y), _ = knobs_of(EYE, frame)
    assert take_knob(EYE, frame, (x + 12, y)) is None
    assert take_knob(EYE, frame, (x + 6, y)) is not None


def test_seen_along_its_shift_a_cut_has_no_knobs() -> None:
    front = Eye(View(azimuth_deg=-90.0, elevation_deg=0.0), 900, 640)
    assert knobs_of(front, cut_frame(0.0, 0.0, OUTER_MM)) == ()
    assert len(knobs_of(front, cut_frame(90.0, 0.0, OUTER_MM))) == 2


def test_the_line_comes_and_goes_with_the_plane() -> None:
    def shown(look: Look, cut: tuple[float, float] | None = (0.0, 0.0)) -> bool:
        return scene_of((part(),), halves(), OUTER_MM, Z_MM, look, cut=cut).cut is not None

    assert shown(Look())
    assert not shown(Look(plane_shown=False))
    assert not shown(Look(pick_faces=True))
    assert not shown(Look(), cut=None)
