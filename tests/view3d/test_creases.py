"""Lines on the bench: where a mesh bends, and nowhere on a flat, whatever slivers lie in it."""

from __future__ import annotations

import numpy as np
import trimesh

from housingdesk.geometry.types import Mesh
from housingdesk.view3d.bodies import _edges, dress, poly_data
from housingdesk.view3d.creases import crease_lines
from tests.ui.inline import as_mesh


def lengths(mesh: Mesh) -> list[float]:
    ends = mesh.vertices[crease_lines(mesh, 30.0)]
    return sorted(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).tolist())


def slivered_box() -> Mesh:
    """A 40 x 20 x 10 mm box whose roof has a point right beside its diagonal, lifted by rounding."""
    box = trimesh.creation.box(extents=(40, 20, 10))
    roof = np.flatnonzero(box.face_normals[:, 2] > 0.9)
    corners = np.unique(box.faces[roof])
    shared = [c for c in corners if (box.faces[roof] == c).sum() == 2]  # the diagonal's ends
    others = [c for c in corners if c not in shared]
    beside = np.mean(box.vertices[shared], axis=0) + np.array([0.0001, 0.0002, 0.0004])
    points = np.vstack([box.vertices, beside])
    new = len(points) - 1
    faces = [f for i, f in enumerate(box.faces.tolist()) if i not in roof]
    a, b = shared
    for first, second in ((a, others[0]), (others[0], b), (b, a)):
        faces.append([first, second, new])
    faces.append([a, b, others[1]])
    mesh = trimesh.Trimesh(points, faces, process=False)
    trimesh.repair.fix_normals(mesh)
    return as_mesh(mesh)


def test_a_box_has_its_twelve_edges() -> None:
    box = as_mesh(trimesh.creation.box(extents=(40, 20, 10)))
    assert lengths(box) == [10.0] * 4 + [20.0] * 4 + [40.0] * 4


def test_a_sliver_in_a_flat_draws_no_line() -> None:
    mesh = slivered_box()
    assert mesh.triangles == 14
    assert lengths(mesh) == [10.0] * 4 + [20.0] * 4 + [40.0] * 4
    assert _edges(poly_data(mesh), None).GetNumberOfLines() > 12  # as it was drawn before
    edges = dress(mesh, edges=True).edges
    assert edges is not None
    assert edges.GetNumberOfLines() == 12


def test_a_sliver_at_a_true_edge_keeps_that_edge() -> None:
    # A strip 0.002 mm wide along the edge between two flats at a right angle.
    points = np.array([[0, 0, 0], [9, 0, 0], [9, 5, 0], [0, 5, 0], [9, 0, -0.002], [0, 0, -4], [9, 0, -4.0]])
    faces = np.array([[0, 1, 2], [0, 2, 3], [0, 4, 1], [0, 5, 4], [5, 6, 4]], np.int32)
    assert lengths(Mesh(points, faces)).count(9.0) == 3  # the bend, and the borders at both ends


def test_open_borders_are_lines_and_points_count_once() -> None:
    two = np.array([[0, 0, 0], [4, 0, 0], [0, 3, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0.0]])
    assert lengths(Mesh(two, np.arange(6, dtype=np.int32).reshape(2, 3))) == [3.0, 3.0, 4.0, 4.0]
    assert len(crease_lines(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)), 30.0)) == 0
