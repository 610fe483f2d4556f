"""The viewer's geometry, checked against VTK's own camera."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from vtkmodules.vtkRenderingCore import vtkCamera

from housingdesk.geometry.types import Floats
from housingdesk.view3d.camera import (
    STANDPOINTS,
    VIEW_ANGLE_DEG,
    Eye,
    Standpoint,
    View,
    clipping_mm,
    grip_anchor,
    snapped,
)

coordinate = st.floats(-80, 80)
points = st.tuples(coordinate, coordinate, coordinate)
views = st.builds(
    View,
    focus_mm=points,
    distance_mm=st.floats(200, 900),
    azimuth_deg=st.floats(-180, 180),
    elevation_deg=st.floats(-90, 90),
)
eyes = st.builds(Eye, view=views, width=st.floats(300, 2000), height=st.floats(300, 1500))


def vtk_pixels(eye: Eye, points_mm: Floats) -> Floats:
    """What VTK 9's vtkCamera makes of the same viewer; its picture has y upward from -1 to 1."""
    camera = vtkCamera()
    camera.SetViewAngle(VIEW_ANGLE_DEG)
    camera.SetFocalPoint(*eye.view.focus_mm)
    camera.SetPosition(*eye.view.eye())
    camera.SetViewUp(*eye.view.axes()[1])
    camera.SetClippingRange(1, 3000)
    m = camera.GetCompositeProjectionTransformMatrix(eye.width / eye.height, -1, 1)
    matrix = np.array([[m.GetElement(i, j) for j in range(4)] for i in range(4)])
    clip = np.column_stack([points_mm, np.ones(len(points_mm))]) @ matrix.T
    ndc = clip[:, :2] / clip[:, 3:]
    return np.column_stack([(ndc[:, 0] + 1) / 2 * eye.width, (1 - ndc[:, 1]) / 2 * eye.height])


@given(eyes, st.lists(points, min_size=1, max_size=8))
def test_pixels_are_vtks(eye: Eye, places: list[tuple[float, float, float]]) -> None:
    seen = eye.pixels(np.array(places))
    near = seen[:, 2] > 5.0  # close to the eye's plane a pixel means nothing
    ours, vtk = seen[near, :2], vtk_pixels(eye, np.array(places))[near]
    assert np.allclose(ours, vtk, rtol=1e-6, atol=1e-3)


@given(eyes, points)
def test_a_rays_points_are_seen_on_its_pixel(eye: Eye, at: tuple[float, float, float]) -> None:
    x, y = (at[0] + 80) / 160 * eye.width, (at[1] + 80) / 160 * eye.height
    origin, direction = eye.ray(x, y)
    assert np.linalg.norm(direction) == pytest.approx(1.0)
    seen = eye.pixels(origin + np.outer([50.0, 500.0], direction))
    assert np.allclose(seen[:, :2], [[x, y]] * 2, atol=1e-6)
    assert np.allclose(eye.pixels(np.array(eye.on_focus_plane(x, y)))[0, :2], [x, y], atol=1e-6)


@given(views)
def test_axes_are_upright(view: View) -> None:
    axes = view.axes()
    assert np.allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert axes[0, 2] == 0.0  # the horizon stays level
    assert axes[1, 2] >= -1e-12  # and up is never down


@given(eyes, st.floats(0.1, 1.0), points)
def test_coming_closer_keeps_the_point_on_its_pixel(
    eye: Eye, factor: float, point: tuple[float, float, float]
) -> None:
    before = eye.pixels(np.array(point))[0]
    after = Eye(eye.view.closer(point, factor), eye.width, eye.height).pixels(np.array(point))[0]
    if before[2] > 5:
        assert np.allclose(before[:2], after[:2], atol=1e-5)
        assert after[2] == pytest.approx(before[2] * factor)


@given(eyes, st.floats(-200, 200), st.floats(-200, 200))
def test_shoving_carries_the_focus_with_the_mouse(eye: Eye, dx: float, dy: float) -> None:
    old = np.array(eye.view.focus_mm)
    seen = Eye(eye.shifted(dx, dy), eye.width, eye.height).pixels(old)[0]
    assert np.allclose(seen[:2], [eye.width / 2 + dx, eye.height / 2 + dy], atol=1e-6)


def test_turning_carries_the_near_side_with_the_mouse() -> None:
    eye = Eye(View(elevation_deg=0.0, azimuth_deg=-90.0), 800, 600)
    near = np.array([0.0, -20.0, 0.0])  # in front of the focus
    right = Eye(eye.view.turned(40, 0), 800, 600).pixels(near)[0]
    down = Eye(eye.view.turned(0, 40), 800, 600).pixels(near)[0]
    assert right[0] > 400
    assert right[1] == pytest.approx(300)
    assert down[1] > 300
    assert eye.view.turned(0, 9999).elevation_deg == 90.0


@given(eyes, points, st.tuples(*[st.floats(1, 200)] * 3))
def test_a_fitted_box_fills_the_picture_and_no_more(
    eye: Eye, low: tuple[float, float, float], size: tuple[float, float, float]
) -> None:
    box = np.array([low, np.add(low, size)])
    fitted = Eye(eye.fitted(box, margin=0.1), eye.width, eye.height)
    corners = np.array([[box[i, 0], box[j, 1], box[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    seen = fitted.pixels(corners)
    assert (seen[:, 2] > 0).all()
    share = seen[:, :2] / [eye.width, eye.height]
    assert share.min() >= 0.1 - 1e-6
    assert share.max() <= 0.9 + 1e-6
    # The nearest such view: across or upward the picture is used to the margins.
    assert min(np.abs(share.min(axis=0) - 0.1).min(), np.abs(share.max(axis=0) - 0.9).min()) < 1e-6
    tight = np.abs(np.ptp(share, axis=0) - 0.8) < 1e-6
    assert tight.any()


@given(eyes, st.floats(-30, 60), st.tuples(coordinate, coordinate))
def test_the_height_under_the_pointer(eye: Eye, z: float, across: tuple[float, float]) -> None:
    """Point at a place on the upright line; the height found there is its height."""
    if abs(eye.view.elevation_deg) > 60:
        return
    x, y, depth = eye.pixels(np.array([*across, z]))[0]
    if depth > 20:
        assert eye.height_under(x, y, (*across, 7.0)) == pytest.approx(z, abs=1e-6)


def test_from_above_the_mouse_itself_is_up() -> None:
    eye = Eye(View(elevation_deg=90.0), 800, 600)
    x, y, _ = eye.pixels(np.array([0.0, 0.0, 5.0]))[0]
    scale = eye.mm_per_px((0.0, 0.0, 5.0))
    assert eye.height_under(x, y - 30, (0.0, 0.0, 5.0)) == pytest.approx(5.0 + 30 * scale)


def test_a_millimetre_in_pixels() -> None:
    eye = Eye(View(), 900, 700)
    right = eye.view.axes()[0]
    a, b = eye.pixels(np.array([eye.view.focus_mm, np.add(eye.view.focus_mm, right)]))
    assert eye.mm_per_px(eye.view.focus_mm) == pytest.approx(1 / (b[0] - a[0]))


@pytest.mark.parametrize(
    ("standpoint", "towards"),
    [
        # The spec's sides: left -X, right +X, front -Y, back +Y, floor -Z, roof +Z.
        ("left", (-1, 0, 0)),
        ("right", (1, 0, 0)),
        ("front", (0, -1, 0)),
        ("back", (0, 1, 0)),
        ("top", (0, 0, 1)),
        ("bottom", (0, 0, -1)),
    ],
)
def test_standpoints_are_where_their_names_say(
    standpoint: Standpoint, towards: tuple[float, float, float]
) -> None:
    assert np.allclose(View().towards(standpoint).axes()[2], towards, atol=1e-12)


def test_seen_from_the_corner_every_axis_shows() -> None:
    azimuth, elevation = STANDPOINTS["corner"]
    right, up, _ = View(azimuth_deg=azimuth, elevation_deg=elevation).axes()
    assert right[0] > 0.5
    assert up[2] > 0.5
    assert (np.hypot(right, up) > 0.3).all()


@given(views, views)
def test_a_flight_begins_and_ends_where_it_should(start: View, end: View) -> None:
    for share, target in ((0.0, start), (1.0, end)):
        there = start.between(end, share)
        assert np.allclose(there.eye(), target.eye(), atol=1e-6)
        assert np.allclose(there.axes(), target.axes(), atol=1e-6)
    assert abs(start.between(end, 0.5).azimuth_deg - start.azimuth_deg) <= 90.0 + 1e-9


@given(views, points, st.tuples(*[st.floats(0.5, 100)] * 3))
def test_clipping_holds_the_box(
    view: View, low: tuple[float, float, float], size: tuple[float, float, float]
) -> None:
    box = np.array([low, np.add(low, size)])
    near, far = clipping_mm(view, box)
    corners = np.array([[box[i, 0], box[j, 1], box[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    depth = Eye(view, 800, 600).pixels(corners)[:, 2]
    assert 0 < near < far
    assert far >= depth.max() or far == 1.0
    assert near <= max(depth.min(), far / 2000)


def test_snapping_takes_the_nearest_in_reach() -> None:
    assert snapped(10.0, (3.0, 10.4, 9.7), 0.5) == 9.7
    assert snapped(10.0, (3.0, 10.4), 0.5) == 10.4
    assert snapped(10.0, (3.0, 10.6), 0.5) is None
    assert snapped(10.0, (), 0.5) is None


RING = ((-30.0, -20.0), (30.0, -20.0), (30.0, 20.0), (-30.0, 20.0))


@given(st.floats(-180, 180), st.floats(-80, 80))
def test_the_grip_is_on_the_corner_farthest_right(azimuth: float, elevation: float) -> None:
    eye = Eye(View((0, 0, 5), 400, azimuth, elevation), 900, 700)
    anchor = grip_anchor(eye, RING, 5.0, 36)
    assert anchor in RING
    seen = eye.pixels(np.array([(*c, 5.0) for c in RING]))[:, 0]
    assert eye.pixels(np.array([*anchor, 5.0]))[0, 0] == pytest.approx(seen.max())


def test_from_close_by_the_grip_comes_into_the_picture() -> None:
    eye = Eye(View((0.0, -20.0, 5.0), 60.0), 900, 700)  # looking at the middle of the front side
    x, y = grip_anchor(eye, RING, 5.0, 36)
    assert (x, y) not in RING
    assert max(abs(x) / 30, abs(y) / 20) == pytest.approx(1.0)  # on the frame
    seen = eye.pixels(np.array([x, y, 5.0]))[0]
    assert 36 < seen[0] < 900 - 36
    assert 36 < seen[1] < 700 - 36


def test_with_the_frame_out_of_sight_the_grip_waits_at_a_corner() -> None:
    assert grip_anchor(Eye(View((0, 0, 400.0), 50.0), 900, 700), RING, 5.0, 36) in RING


@pytest.mark.parametrize("place", [(0.0, 10.0, 2.0), (-20.0, 0.0, 0.0), (5.0, 3.0, -5.0), (20.0, 10.0, -5.0)])
def test_a_place_on_the_far_side_is_turned_to_the_eye(place: tuple[float, float, float]) -> None:
    box = np.array([[-20.0, -10.0, -5.0], [20.0, 10.0, 5.0]])
    out = np.array(place) / box[1]
    assert out @ View().axes()[2] < 0.2 * np.linalg.norm(out)  # not seen from the corner
    assert out @ View().facing(place, box).axes()[2] > 0.2 * np.linalg.norm(out)


def test_a_place_in_sight_turns_nothing() -> None:
    box = np.array([[-20.0, -10.0, -5.0], [20.0, 10.0, 5.0]])
    assert View().facing((10.0, -10.0, 3.0), box) == View()
