from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.geometry.inspect import inspect
from housingdesk.geometry.types import Mesh, joined
from housingdesk.geometry.weld import same_points, welded
from tests.files.makers import box


def moved(mesh: Mesh, x: float, scale: float = 1.0) -> Mesh:
    matrix = np.diag([scale, scale, scale, 1.0])
    matrix[0, 3] = x
    return mesh.moved(matrix)


def test_a_clean_box_has_nothing_odd() -> None:
    facts = inspect(box())
    assert (facts.triangles, facts.bodies, facts.voids, facts.notes) == (12, 1, 0, ())
    assert facts.open_edges == facts.crowded_edges == facts.duplicate_triangles == facts.flat_triangles == 0


def test_a_missing_triangle_opens_three_edges() -> None:
    facts = inspect(Mesh(box().vertices, box().faces[1:]))
    assert facts.open_edges == 3
    assert [n for n in facts.notes if "3 open edges" in n and "housing is made all the same" in n]


def test_a_doubled_triangle_crowds_three_edges_in_any_order_of_corners() -> None:
    for corners in ([0, 1, 2], [1, 2, 0], [2, 1, 0]):
        facts = inspect(Mesh(box().vertices, np.vstack([box().faces, box().faces[:1, corners]])))
        assert (facts.duplicate_triangles, facts.crowded_edges, facts.open_edges) == (1, 3, 0)


def test_a_void_is_told_from_a_body_and_from_a_part_inside_out() -> None:
    inner = moved(box(), 0.0, 0.5)
    inside_out = Mesh(inner.vertices, inner.faces[:, ::-1])
    facts = inspect(joined([box(), inside_out]))
    assert (facts.bodies, facts.voids) == (2, 1)
    assert not [n for n in facts.notes if "inward" in n or "separate bodies" in n]
    assert inspect(joined([box(), inner])).voids == 0
    whole = inspect(Mesh(box().vertices, box().faces[:, ::-1]))
    assert whole.voids == 0
    assert [n for n in whole.notes if "inward" in n]


def test_one_turned_face_is_told() -> None:
    faces = box().faces.copy()
    faces[0] = faces[0, ::-1]
    facts = inspect(Mesh(box().vertices, faces))
    assert facts.open_edges == 0
    assert [n for n in facts.notes if "inward" in n]


def test_flat_triangles_of_both_kinds() -> None:
    v = np.vstack([box().vertices, box().vertices[:2].mean(axis=0)])
    line, point = [0, 1, 8], [0, 0, 1]
    facts = inspect(Mesh(v, np.vstack([box().faces, [line, point]])))
    assert facts.flat_triangles == 2


def test_notes_use_no_word_the_user_does_not_know() -> None:
    inner = moved(box(), 0.0, 0.5)
    parts = [
        box(),
        Mesh(inner.vertices, inner.faces[:, ::-1]),
        moved(box(), 90.0),
        Mesh(box().vertices, box().faces[:1]),
    ]
    notes = " ".join(inspect(joined(parts)).notes).lower()
    assert notes
    for word in ("mesh", "triangle", "manifold", "vertex", "vertices", "boolean", "winding"):
        assert word not in notes


def test_points_within_single_precision_are_one_point() -> None:
    corners = box().vertices[box().faces].reshape(-1, 3)
    noise = np.random.default_rng(1).uniform(-1e-9, 1e-9, corners.shape)
    loose = Mesh(corners + noise + 1.0, np.arange(36).reshape(-1, 3))
    assert len(welded(loose).vertices) > 8  # reading joins equal points only
    assert inspect(loose).open_edges == 0


@given(st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.1, 1e-300, 5e300])] * 3), min_size=1))
def test_same_points_agrees_with_numpy(rows: list[tuple[float, float, float]]) -> None:
    points = np.array(rows)
    first, group = same_points(points)
    np.testing.assert_array_equal(points[first][group], points)
    assert len(first) == len(np.unique(points + 0.0, axis=0))
    assert (np.diff(first) > 0).all()
