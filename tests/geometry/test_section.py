from __future__ import annotations

import manifold3d as m3
import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.geometry.section import area_mm2, section
from housingdesk.geometry.types import Mesh, joined

X, Y, Z = np.eye(3)


def mesh(solid: trimesh.Trimesh) -> Mesh:
    return Mesh(solid.vertices, solid.faces)


def soup(whole: Mesh) -> Mesh:
    """The same triangles, no corner shared."""
    return Mesh(whole.vertices[whole.faces].reshape(-1, 3), np.arange(3 * whole.triangles).reshape(-1, 3))


def signed(points: np.ndarray) -> float:
    x, y = points.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


@pytest.mark.parametrize("z", [-15.0, -14.999, -3.2, 0.0, 14.999])
def test_a_block_is_cut_in_its_rectangle_even_through_corners(z: float) -> None:
    loops = section(mesh(trimesh.creation.box((10, 20, 30))), (0, 0, z), X, Y)
    if z == -15.0:  # the floor itself lies just in front of the plane, and nothing behind it
        assert loops == ()
        return
    (loop,) = loops
    assert loop.closed
    assert signed(loop.points) == pytest.approx(200.0, abs=1e-9)
    assert np.abs(loop.points).max(axis=0) == pytest.approx([5, 10])


def test_a_plane_in_the_top_face_gives_the_top_face() -> None:
    (loop,) = section(mesh(trimesh.creation.box((10, 20, 30))), (0, 0, 15), X, Y)
    assert loop.closed
    assert signed(loop.points) == pytest.approx(200.0)


def test_a_tube_has_an_outline_and_a_hole_running_the_other_way() -> None:
    tube = mesh(trimesh.creation.annulus(r_min=3, r_max=5, height=10, sections=64))
    outer, inner = sorted(section(tube, (0, 0, 1), X, Y), key=lambda c: -abs(signed(c.points)))
    # A regular n-gon in a circle has the area n/2 r^2 sin(2 pi / n) (closed form).
    share = 32 * np.sin(2 * np.pi / 64)
    assert signed(outer.points) == pytest.approx(25 * share)
    assert signed(inner.points) == pytest.approx(-9 * share)
    assert area_mm2((outer, inner)) == pytest.approx(16 * share)


def test_drawing_axes_turn_and_move_the_outline() -> None:
    (loop,) = section(mesh(trimesh.creation.box((10, 20, 30))), (1, 2, 3), Y, Z)
    assert loop.points.min(axis=0) == pytest.approx([-12, -18])
    assert loop.points.max(axis=0) == pytest.approx([8, 12])


def test_an_open_tray_gives_an_open_line() -> None:
    tray = trimesh.creation.box((10, 10, 10))
    tray.update_faces(tray.face_normals[:, 0] < 0.5)  # its right wall is missing
    (loop,) = section(mesh(tray), (0, 0, 0.5), X, Y)
    assert not loop.closed
    ends = loop.points[[0, -1]]
    assert ends[:, 0] == pytest.approx([5, 5])
    assert sorted(ends[:, 1]) == pytest.approx([-5, 5])
    assert area_mm2((loop,)) == 0.0


def test_flipped_triangles_still_chain() -> None:
    ball = trimesh.creation.icosphere(3, 10)
    faces = ball.faces.copy()
    faces[::3] = faces[::3, ::-1]
    (loop,) = section(Mesh(ball.vertices, faces), (0, 0, 0.37), X, Y)
    assert loop.closed
    (clean,) = section(mesh(ball), (0, 0, 0.37), X, Y)
    assert area_mm2((loop,)) == pytest.approx(area_mm2((clean,)), abs=1e-9)


def test_no_corner_shared_changes_nothing() -> None:
    ball = mesh(trimesh.creation.icosphere(3, 10))
    (a,), (b,) = section(ball, (0, 0, 0), X, Y), section(soup(ball), (0, 0, 0), X, Y)
    assert a.closed and b.closed
    assert signed(a.points) == pytest.approx(signed(b.points))


@given(
    st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda n: np.linalg.norm(n) > 0.1),
    st.floats(-12, 12),
)
def test_areas_agree_with_an_outside_library(normal: tuple[float, float, float], offset: float) -> None:
    """Outside: the solid kernel's own slice of the turned body, at its lowest plane."""
    n = np.asarray(normal) / np.linalg.norm(normal)
    right = np.cross(n, np.eye(3)[np.argmin(np.abs(n))])
    right /= np.linalg.norm(right)
    up = np.cross(n, right)
    body = trimesh.creation.torus(10, 4, major_sections=24, minor_sections=12)
    loops = section(mesh(body), n * offset, right, up)
    assert all(c.closed for c in loops)
    turned = body.vertices @ np.array([right, up, n]).T
    kernel = m3.Manifold(m3.Mesh64(turned, body.faces.astype(np.uint64)))
    assert kernel.status() == m3.Error.NoError
    expected = kernel.slice(offset).area()
    assert area_mm2(loops) == pytest.approx(expected, abs=1e-3)
    assert sum(signed(c.points) for c in loops) == pytest.approx(expected, abs=1e-3)


def test_two_bodies_give_two_lines() -> None:
    a, b = trimesh.creation.box((2, 2, 2)), trimesh.creation.box((2, 2, 2))
    b.apply_translation((5, 0, 0))
    loops = section(joined((mesh(a), mesh(b))), (0, 0, 0.1), X, Y)
    assert [c.closed for c in loops] == [True, True]
    assert area_mm2(loops) == pytest.approx(8)


def test_nothing_cut_is_no_line() -> None:
    assert section(mesh(trimesh.creation.box((2, 2, 2))), (0, 0, 5), X, Y) == ()
    assert area_mm2(()) == 0.0
