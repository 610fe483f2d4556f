"""The reference part is what the speed table says it is."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh

from tests.reference import SIZE_MM, gear_motor, refined


def exported(mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def test_it_is_closed_and_of_the_stated_size_and_fineness():
    mesh = gear_motor()
    assert exported(mesh).is_volume  # trimesh: closed, consistently wound, facing outward
    np.testing.assert_allclose(mesh.size_mm, SIZE_MM, atol=1e-9)
    assert 950 <= mesh.triangles <= 1050


def test_its_triangles_are_long_and_thin():
    """Half of them are at least ten times as long as high: what a motor's drawing really gives."""
    corners = gear_motor().vertices[gear_motor().faces]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    assert np.median(longest**2 / (2 * area)) >= 10


@pytest.mark.parametrize("triangles", [1_500, 5_000, 25_000])
def test_refining_moves_no_point_of_the_surface(triangles):
    coarse = gear_motor()
    fine = refined(coarse, triangles)
    assert fine.triangles - triangles in {0, 1}
    assert exported(fine).is_volume
    assert exported(fine).area == pytest.approx(exported(coarse).area, rel=1e-12)
    assert fine.volume_mm3 == pytest.approx(coarse.volume_mm3, rel=1e-12)
    faces = coarse.faces.astype(np.int64)
    squared, _, _ = igl.point_mesh_squared_distance(fine.vertices, coarse.vertices, faces)
    assert np.sqrt(squared.max()) < 1e-9
