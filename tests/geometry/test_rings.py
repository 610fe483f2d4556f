"""Loops moved inward and least circles, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from housingdesk.errors import SolidError
from housingdesk.geometry.circle import least_circle
from housingdesk.geometry.rings import inset, without_straight_corners
from housingdesk.geometry.solid import Outline, Solid

SQUARE = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])


def area(loop: np.ndarray) -> float:
    x, y = loop.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def test_a_square_moves_in_by_its_sides() -> None:
    assert inset(SQUARE, 2.0) == pytest.approx(np.array([[2.0, 2], [8, 2], [8, 8], [2, 8]]))
    assert inset(SQUARE, -1.0)[0] == pytest.approx([-1, -1])
    with pytest.raises(SolidError):
        inset(SQUARE, 6.0)


def test_an_inner_corner_moves_along_its_bisector() -> None:
    angle = np.array([[0.0, 0], [10, 0], [10, 4], [4, 4], [4, 10], [0, 10]])
    assert inset(angle, 1.0)[3] == pytest.approx([3, 3])
    assert area(inset(angle, 1.0)) == pytest.approx(area(angle) - 40 * 1.0 + 4 * 1.0)


def test_small_rounds_close_to_a_corner() -> None:
    """A square with corners of 1 mm radius, moved in by 3 mm, is a sharp square of 4 mm."""
    loop = Outline.rectangle((0, 0), (10, 10), 1.0).loops[0]
    moved = inset(loop, 3.0)
    assert len(moved) == len(loop)
    assert area(moved) == pytest.approx(16.0, rel=1e-6)
    assert len(np.unique(np.round(moved, 6), axis=0)) == 4


@settings(max_examples=40, deadline=None)
@given(
    radii=st.lists(st.floats(8, 20), min_size=5, max_size=24),
    by=st.floats(0.1, 2.0),
)
def test_moving_a_star_in_agrees_with_the_kernel(radii: list[float], by: float) -> None:
    """Mitred offset of the same loop by Clipper, which shares no code, where both stay one piece."""
    angle = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    loop = np.array(radii)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    outline = Outline.polygon(loop)
    sharp = outline.grown(-by, corners="sharp")
    if len(sharp.pieces()) != 1 or len(sharp.loops) != 1:
        return
    try:
        moved = inset(loop, by)
    except SolidError:
        return
    mine = Outline.polygon(moved)
    if abs(mine.area_mm2 - abs(area(moved))) > 1e-6:
        return  # it crosses itself: rims refuse it
    # The kernel cuts mitres longer than four times the offset; those tips are all that may differ.
    assert (mine - sharp).area_mm2 + (sharp - mine).area_mm2 <= len(radii) * 4 * by**2 * 0.1


def test_corners_in_line_are_left_out() -> None:
    loop = np.array([[0.0, 0], [3, 0], [5, 0], [10, 0], [10, 10], [0, 10], [0, 5]])
    assert without_straight_corners(loop) == pytest.approx(SQUARE)


def test_a_loft_between_two_squares_is_a_frustum() -> None:
    rings = np.array([inset(SQUARE, 2.0), SQUARE])
    solid = Solid.loft(rings, [0.0, 6.0])
    # Frustum: h / 3 (A + sqrt(A B) + B).
    assert solid.volume_mm3 == pytest.approx(6 / 3 * (36 + 60 + 100))


def test_the_least_circle_of_known_figures() -> None:
    centre, radius = least_circle(SQUARE)
    assert centre == pytest.approx([5, 5]) and radius == pytest.approx(np.sqrt(50))
    # An obtuse triangle's least circle has its longest side as diameter.
    centre, radius = least_circle(np.array([[0.0, 0], [10, 0], [4, 1]]))
    assert centre == pytest.approx([5, 0]) and radius == pytest.approx(5)
    # An equilateral triangle's is its circumcircle, side / sqrt(3).
    centre, radius = least_circle(np.array([[0.0, 0], [6, 0], [3, 3 * np.sqrt(3)]]))
    assert radius == pytest.approx(6 / np.sqrt(3))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=1, max_size=40))
def test_the_least_circle_holds_all_points_and_cannot_shrink(points: list[tuple[float, float]]) -> None:
    p = np.array(points)
    centre, radius = least_circle(p)
    away = np.hypot(*(p - centre).T)
    assert away.max() <= radius + 1e-6
    # Points on the border are not all within half a turn of it: otherwise a smaller circle would do.
    if radius > 1e-3:
        rim = p[away >= radius - 1e-6 * max(radius, 1.0)] - centre
        turn = np.sort(np.arctan2(rim[:, 1], rim[:, 0]))
        gaps = np.diff(np.append(turn, turn[0] + 2 * np.pi))
        assert gaps.max() <= np.pi + 1e-3


def test_the_shadow_of_a_ball_of_loose_triangles_is_a_disc() -> None:
    import trimesh

    ball = trimesh.creation.icosphere(5, 20.0)
    tris = np.array(ball.vertices[ball.faces])
    tris[::3] = tris[::3, ::-1]  # flipped faces do no harm
    shadow = Outline.shadow(tris[np.random.default_rng(1).permutation(len(tris))])
    assert shadow.area_mm2 == pytest.approx(np.pi * 400, rel=2e-3)
    assert len(shadow.filled().loops) == 1


def test_an_outline_drawn_out_sweeps_its_width() -> None:
    disc = Outline.circle((0, 0), 5.0)
    assert disc.stretched((7.0, 0.0)).area_mm2 == pytest.approx(disc.area_mm2 + 7 * 10, rel=1e-4)
    ring = Outline.circle((0, 0), 5.0) - Outline.circle((0, 0), 2.0)
    drawn = ring.stretched((0.0, 1.0))
    # The hole is left where both ends have it: a lens of two circles 1 mm apart.
    lens = 2 * 4 * np.arccos(0.25) - 0.5 * np.sqrt(16 - 1)
    assert drawn.area_mm2 == pytest.approx(np.pi * 25 + 10 - lens, rel=1e-3)
