from __future__ import annotations

import numpy as np
import trimesh

from housingdesk.geometry.patches import find_patches, grow_pick, shrink_pick
from housingdesk.geometry.types import Mesh


def _cylinder() -> Mesh:
    solid = trimesh.creation.cylinder(3, 22, sections=24).subdivide()
    return Mesh(solid.vertices, solid.faces)


def test_pick_grows_round_a_shaft_strip_by_strip_and_stops_at_its_ends() -> None:
    mesh = _cylinder()
    shaft = next(p for p in find_patches(mesh) if p.kind == "cylinder")
    strip = len(shaft.faces) // 24
    pick = shaft.faces[:1]
    for strips in (3, 5, 7):  # one more on both sides each time
        pick = grow_pick(mesh, pick, 20)
        assert len(pick) == strips * strip
    for _ in range(12):
        pick = grow_pick(mesh, pick, 20)
    np.testing.assert_array_equal(pick, shaft.faces)


def test_shrink_undoes_grow() -> None:
    mesh = _cylinder()
    shaft = next(p for p in find_patches(mesh) if p.kind == "cylinder")
    once = grow_pick(mesh, shaft.faces[:1], 20)
    np.testing.assert_array_equal(shrink_pick(mesh, grow_pick(mesh, once, 20), 20), once)


def test_sharp_edges_hold_a_pick_and_a_greater_angle_lets_it_over() -> None:
    solid = trimesh.creation.box((24, 18, 5))
    mesh = Mesh(solid.vertices, solid.faces)
    top = next(p for p in find_patches(mesh) if p.axis[2] > 0.9)
    np.testing.assert_array_equal(grow_pick(mesh, top.faces[:1], 30), top.faces)
    np.testing.assert_array_equal(shrink_pick(mesh, top.faces, 30), top.faces)
    assert len(grow_pick(mesh, top.faces, 91)) == 10  # all but the floor
