"""Flats, cylinders and cones against solids whose axes and sizes are known by construction."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from housingdesk.geometry.patches import Patch, describe, find_patches, patch_at, segment
from housingdesk.geometry.patches.outlines import narrowest_box
from housingdesk.geometry.patches.vectors import main_directions
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Mesh, joined

MM = 0.01  # what the contract asks


def _mesh(solid: trimesh.Trimesh) -> Mesh:
    return Mesh(solid.vertices, solid.faces)


def _motion(seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    out = np.asarray(trimesh.transformations.random_rotation_matrix(rng.random(3)))
    out[:3, 3] = rng.uniform(-80, 80, 3)
    return out


def _shift(x: float, y: float, z: float) -> Floats:
    return np.asarray(trimesh.transformations.translation_matrix((x, y, z)))


def _kind(patches: tuple[Patch, ...], kind: str) -> list[Patch]:
    return [p for p in patches if p.kind == kind]


def _d_shaft(sections: int) -> trimesh.Trimesh:
    """Shaft Ø6 x 22 with a flat 0.5 deep on its upper 9 mm."""
    cutter = trimesh.creation.box((10, 10, 12), transform=_shift(7.5, 0, 8))
    shaft = trimesh.creation.cylinder(3, 22, sections=sections)
    return trimesh.boolean.difference([shaft, cutter], engine="manifold")


def _rounded_bar(radius: float, steps: int) -> trimesh.Trimesh:
    """Bar 20 x 12 (over all), 30 long, its four long edges rounded in quarter cylinders of some strips."""
    turn = np.linspace(0, np.pi / 2, steps + 1)
    ring = []
    for k, (x, y) in enumerate([(1, 1), (-1, 1), (-1, -1), (1, -1)]):
        middle = np.array([x * (10 - radius), y * (6 - radius)])
        a = turn + k * np.pi / 2
        ring.append(middle + radius * np.stack([np.cos(a), np.sin(a)], 1))
    outline = np.vstack(ring)
    n = len(outline)
    vertices = np.vstack([np.c_[outline, np.full(n, z)] for z in (0.0, 30.0)] + [[[0, 0, 0], [0, 0, 30]]])
    faces = []
    for i in range(n):
        j = (i + 1) % n
        faces += [[i, j, n + j], [i, n + j, n + i], [2 * n, j, i], [2 * n + 1, n + i, n + j]]
    out = trimesh.Trimesh(vertices, faces, process=False)
    assert out.is_volume
    return out


@pytest.mark.parametrize("sections", [9, 12, 16, 48, 200])
@pytest.mark.parametrize("cut", [0, 2])
def test_cylinder_coarse_and_fine_has_its_diameter_length_and_axis(sections: int, cut: int) -> None:
    solid = trimesh.creation.cylinder(3, 22, sections=sections)
    for _ in range(cut):  # finer triangles on the same chords: their vertices are no corners
        solid = solid.subdivide()
    move = _motion(sections)
    patches = find_patches(_mesh(solid).moved(move))
    (shaft,) = _kind(patches, "cylinder")
    assert shaft.diameter_mm == pytest.approx(6, abs=MM)
    assert shaft.length_mm == pytest.approx(22, abs=MM)
    assert shaft.side == "outside"
    assert shaft.turn == pytest.approx(1, abs=1e-6)
    assert abs(shaft.axis @ move[:3, 2]) == pytest.approx(1, abs=1e-9)
    np.testing.assert_allclose(shaft.centre_mm, move[:3, 3], atol=MM)
    ends = _kind(patches, "flat")
    assert len(ends) == 2
    for end in ends:
        assert abs(end.axis @ move[:3, 2]) == pytest.approx(1, abs=1e-9)
        assert end.axis @ (end.centre_mm - move[:3, 3]) == pytest.approx(11, abs=MM)  # looks outward
    assert sum(len(p.faces) for p in patches) == len(solid.faces)


def test_eight_sided_and_six_sided_bars_are_flats() -> None:
    for sides in (6, 8):
        patches = find_patches(_mesh(trimesh.creation.cylinder(5, 8, sections=sides)))
        assert [p.kind for p in patches] == ["flat"] * (sides + 2)


def test_tube_has_a_shaft_and_a_hole() -> None:
    move = _motion(3)
    patches = find_patches(_mesh(trimesh.creation.annulus(2, 5, 10, sections=40)).moved(move))
    outer, inner = _kind(patches, "cylinder")
    assert (outer.side, inner.side) == ("outside", "inside")
    assert outer.diameter_mm == pytest.approx(10, abs=MM)
    assert inner.diameter_mm == pytest.approx(4, abs=MM)


def test_box_is_six_flats_with_their_outlines() -> None:
    patches = find_patches(_mesh(trimesh.creation.box((24, 18, 5))).moved(_motion(4)))
    assert [p.kind for p in patches] == ["flat"] * 6
    sizes = [(24, 18), (24, 18), (24, 5), (24, 5), (18, 5), (18, 5)]
    np.testing.assert_allclose([(p.length_mm, p.width_mm) for p in patches], sizes, atol=1e-9)
    np.testing.assert_allclose([p.area_mm2 for p in patches], [a * b for a, b in sizes], atol=1e-9)
    assert max(p.rms_mm for p in patches) < 1e-9


def test_cone_has_its_half_angle() -> None:
    patches = find_patches(_mesh(trimesh.creation.cone(4, 6, sections=40)).moved(_motion(5)))
    (cone,) = _kind(patches, "cone")
    assert cone.half_angle_deg == pytest.approx(np.degrees(np.arctan2(4, 6)), abs=1e-6)
    assert cone.diameter_mm == pytest.approx(8, abs=MM)
    assert cone.length_mm == pytest.approx(6, abs=MM)


def test_ball_ended_pin_is_one_cylinder_and_a_ball_none() -> None:
    pin = find_patches(_mesh(trimesh.creation.capsule(20, 4)).moved(_motion(6)))
    assert [p.kind for p in pin] == ["cylinder"]
    assert pin[0].diameter_mm == pytest.approx(8, abs=MM)
    assert pin[0].length_mm == pytest.approx(20, abs=MM)
    for free in (
        trimesh.creation.icosphere(4, 5),
        trimesh.creation.uv_sphere(5),
        trimesh.creation.torus(8, 2),
    ):
        assert find_patches(_mesh(free)) == ()


@pytest.mark.parametrize("sections", [12, 48])
def test_shaft_with_a_milled_flat_is_one_cylinder_and_one_flat(sections: int) -> None:
    move = _motion(7)
    patches = find_patches(_mesh(_d_shaft(sections)).moved(move))
    (shaft,) = _kind(patches, "cylinder")
    assert shaft.diameter_mm == pytest.approx(6, abs=MM)
    assert shaft.length_mm == pytest.approx(22, abs=MM)
    beside = [p for p in _kind(patches, "flat") if abs(p.axis @ move[:3, 2]) < 1e-6]
    assert len(beside) == 1
    assert beside[0].length_mm == pytest.approx(9, abs=MM)
    # the flat lies 2.5 mm off the axis
    assert beside[0].axis @ (beside[0].centre_mm - move[:3, 3]) == pytest.approx(2.5, abs=MM)
    assert beside[0].axis @ move[:3, 0] == pytest.approx(1, abs=1e-9)
    assert len(patches) == 5  # and both ends and the step


@pytest.mark.parametrize("steps", [3, 8, 20])
def test_rounded_edges_are_quarter_cylinders_beside_untouched_flats(steps: int) -> None:
    patches = find_patches(_mesh(_rounded_bar(2, steps)).moved(_motion(steps)))
    edges, flats = _kind(patches, "cylinder"), _kind(patches, "flat")
    assert len(edges) == 4
    assert len(flats) == 6
    for edge in edges:
        assert edge.diameter_mm == pytest.approx(4, abs=MM)
        assert edge.length_mm == pytest.approx(30, abs=MM)
        assert edge.turn == pytest.approx(0.25, abs=1e-6)
        assert not edge.is_whole
    sides = sorted(p.area_mm2 for p in flats if p.length_mm > 29)
    np.testing.assert_allclose(sides, [240, 240, 480, 480], atol=1e-6)  # (12 - 4) x 30 and (20 - 4) x 30


def test_length_goes_over_a_broken_edge_as_calipers_read_it() -> None:
    """Ø10 x 20 over all, a 1 mm chamfer at one end, a 1 mm rounding at the other."""
    arc = np.linspace(0, np.pi / 2, 9)
    profile = np.vstack([[[0, 0], [4, 0]], [[5, 1]], np.c_[4 + np.cos(arc), 19 + np.sin(arc)], [[0, 20]]])
    solid = trimesh.creation.revolve(profile, sections=48)
    (shaft,) = _kind(find_patches(_mesh(solid).moved(_motion(8))), "cylinder")
    assert shaft.diameter_mm == pytest.approx(10, abs=MM)
    assert shaft.length_mm == pytest.approx(20, abs=MM)
    assert shaft.straight_mm == pytest.approx(18, abs=MM)


def test_plate_with_a_motor_hole_pattern() -> None:
    """Four Ø3.4 holes on a 31 mm square about a Ø22 hole: the figures of the NEMA 17 face (NEMA ICS 16)."""
    plate = trimesh.creation.box((42, 42, 5))
    at = [(x, y, 1.7) for x in (-15.5, 15.5) for y in (-15.5, 15.5)] + [(0, 0, 11.0)]
    drills = [trimesh.creation.cylinder(r, 9, sections=32, transform=_shift(x, y, 0)) for x, y, r in at]
    solid = trimesh.boolean.difference([plate, *drills], engine="manifold")
    move = _motion(9)
    holes = _kind(find_patches(_mesh(solid).moved(move)), "cylinder")
    assert {h.side for h in holes} == {"inside"}
    np.testing.assert_allclose([h.diameter_mm for h in holes], [22, 3.4, 3.4, 3.4, 3.4], atol=MM)
    np.testing.assert_allclose([h.length_mm for h in holes], 5, atol=MM)
    back = np.linalg.inv(move)
    found = sorted(tuple(np.round(back[:3, :3] @ h.centre_mm + back[:3, 3], 2) + 0.0) for h in holes)
    assert found == sorted((x, y, 0.0) for x, y, _ in at)


def test_halves_of_one_hole_are_joined_and_far_apart_journals_are_not() -> None:
    half = trimesh.creation.annulus(2, 6, 10, sections=40)
    keep = [trimesh.creation.box((20, 10, 20), transform=_shift(0, s * 5.0, 0)) for s in (1, -1)]
    halves = [trimesh.boolean.intersection([half, k], engine="manifold") for k in keep]
    both = joined([_mesh(h) for h in halves])
    assert len(_kind(find_patches(both), "cylinder")) == 2  # the hole and the outside
    apart = [_mesh(trimesh.creation.cylinder(3, 4, transform=_shift(0, 0, z))) for z in (0, 20)]
    assert len(_kind(find_patches(joined(apart)), "cylinder")) == 2


@pytest.mark.parametrize("what", ["unshared", "flipped", "doubled", "open", "inside out", "two bodies"])
def test_dirty_meshes_read_the_same(what: str) -> None:
    solid = trimesh.creation.cylinder(3, 22, sections=32)
    vertices, faces = np.array(solid.vertices), np.array(solid.faces)
    rng = np.random.default_rng(1)
    if what == "unshared":
        vertices, faces = vertices[faces.reshape(-1)], np.arange(faces.size).reshape(-1, 3)
    elif what == "flipped":
        some = rng.random(len(faces)) < 0.3
        faces[some] = faces[some][:, ::-1]
    elif what == "doubled":
        faces = np.vstack([faces, faces[5:25], faces[30:50][:, ::-1]])
    elif what == "open":
        faces = faces[np.sort(rng.choice(len(faces), len(faces) - 3, replace=False))]
    elif what == "inside out":
        faces = faces[:, ::-1]
    mesh = Mesh(vertices, faces)
    if what == "two bodies":
        mesh = joined([mesh, Mesh(vertices + np.array([20.0, 0, 0]), faces)])
    patches = find_patches(mesh)
    shafts = _kind(patches, "cylinder")
    assert len(shafts) == (2 if what == "two bodies" else 1)
    for shaft in shafts:
        assert shaft.diameter_mm == pytest.approx(6, abs=MM)
        assert shaft.length_mm == pytest.approx(22, abs=MM)
        assert shaft.side == "outside"
    for flat in _kind(patches, "flat"):
        assert flat.axis @ flat.centre_mm == pytest.approx(11, abs=0.3)
    if what == "doubled":  # a double belongs to its twin's patch
        assert sum(len(p.faces) for p in patches) == len(faces)


def test_noise_of_a_scan_hides_nothing() -> None:
    """0.005 mm on every vertex of a cylinder Ø10 x 20 in a grid of 0.3 x 1 mm, and of a finely cut box."""
    rng = np.random.default_rng(2)
    rings, steps = 21, 96
    a = np.arange(steps) * 2 * np.pi / steps
    wall = [np.c_[5 * np.cos(a), 5 * np.sin(a), np.full(steps, z)] for z in np.linspace(-10, 10, rings)]
    vertices = np.vstack([*wall, [[0, 0, -10], [0, 0, 10]]])
    i, j = np.arange(steps), np.roll(np.arange(steps), -1)
    faces = [
        np.vstack([np.c_[k + i, k + j, k + steps + j], np.c_[k + i, k + steps + j, k + steps + i]])
        for k in np.arange(rings - 1) * steps
    ]
    low, top = rings * steps, (rings - 1) * steps
    faces += [np.c_[np.full(steps, low), j, i], np.c_[np.full(steps, low + 1), top + i, top + j]]
    mesh = Mesh(vertices + rng.normal(0, 0.005, vertices.shape), np.vstack(faces))
    patches = find_patches(mesh)
    (shaft,) = _kind(patches, "cylinder")
    assert shaft.diameter_mm == pytest.approx(10, abs=MM)
    assert shaft.length_mm == pytest.approx(20, abs=0.05)
    assert 0.003 < shaft.rms_mm < 0.007
    assert shaft.is_whole
    ends = _kind(patches, "flat")
    assert len(ends) == 2
    assert all(abs(p.axis[2]) > 0.99999 for p in ends)
    assert all(p.area_mm2 > 0.9 * np.pi * 25 for p in ends)

    box = trimesh.creation.box((24, 18, 5)).subdivide().subdivide().subdivide()
    box.vertices += rng.normal(0, 0.005, box.vertices.shape)
    flats = find_patches(_mesh(box))
    assert [p.kind for p in flats[:6]] == ["flat"] * 6
    np.testing.assert_allclose([p.area_mm2 for p in flats[:6]], [432, 432, 120, 120, 90, 90], rtol=0.02)


@settings(max_examples=12)
@given(st.integers(0, 10_000), st.floats(0.02, 40))
def test_rigid_motion_changes_nothing_and_scale_only_the_scale(seed: int, scale: float) -> None:
    part = trimesh.util.concatenate(
        [_d_shaft(36), _rounded_bar(2, 8).apply_translation((20, 0, 0)), trimesh.creation.cone(4, 6)]
    )
    still = find_patches(_mesh(part))
    moved = find_patches(_mesh(part).moved(_motion(seed)))
    key = [sorted((p.kind, len(p.faces)) for p in ps) for ps in (still, moved)]
    assert key[0] == key[1]
    for kind in ("cylinder", "cone"):
        sizes = [sorted(p.diameter_mm for p in _kind(ps, kind)) for ps in (still, moved)]
        np.testing.assert_allclose(sizes[0], sizes[1], rtol=1e-6)
    scaled = find_patches(_mesh(part).moved(np.diag([scale, scale, scale, 1.0])))
    if scale > 0.6:  # below, edges get smaller than anyone measures
        sizes = [sorted(p.diameter_mm for p in _kind(ps, "cylinder")) for ps in (still, scaled)]
        np.testing.assert_allclose(np.array(sizes[0]) * scale, sizes[1], rtol=1e-6)


def test_largest_first_and_every_face_in_at_most_one_patch() -> None:
    mesh = _mesh(_d_shaft(48))
    patches = find_patches(mesh)
    assert all(a.area_mm2 >= b.area_mm2 for a, b in pairwise(patches))
    owners = np.bincount(np.concatenate([p.faces for p in patches]), minlength=mesh.triangles)
    assert owners.max() == 1
    for i in range(mesh.triangles):
        found = patch_at(patches, i)
        assert (found is not None) == bool(owners[i])
        assert found is None or i in found.faces


@pytest.mark.parametrize(
    ("solid", "words"),
    [
        (trimesh.creation.cylinder(3, 22), {"Ø6.0, 22 long"}),
        (trimesh.creation.box((24, 18, 5)), {"Flat 24 x 18", "Flat 24 x 5", "Flat 18 x 5"}),
        (trimesh.creation.annulus(1.6, 4, 8), {"Ø8.0, 8 long", "hole Ø3.2, 8 deep"}),
        (trimesh.creation.cone(3, 3), {"cone Ø6.0, 45° a side, 3 long"}),
        (_rounded_bar(2, 8), {"rounded edge R2.0, 30 long"}),
    ],
)
def test_words_under_the_pointer(solid: trimesh.Trimesh, words: set[str]) -> None:
    assert words <= {describe(p) for p in find_patches(_mesh(solid))}


@pytest.mark.parametrize(
    "mesh",
    [
        Mesh(np.zeros((0, 3)), np.zeros((0, 3))),
        Mesh(np.zeros((3, 3)), [[0, 1, 2]]),
        Mesh([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]]),
    ],
)
def test_nothing_to_measure_is_no_error(mesh: Mesh) -> None:
    assert find_patches(mesh) == ()


def test_of_a_triangle_the_longest_of_its_three_equal_rectangles_is_read() -> None:
    # Each rectangle on a side of a 3-4-5 triangle has twice its area, 12 mm2; the longest lies on the 5.
    corners = np.array([[0.0, 0, 0], [3, 0, 0], [0, 4, 0]])
    prism = trimesh.creation.extrude_triangulation(corners[:, :2], np.array([[0, 1, 2]]), height=8.0)
    for seed in range(4):
        ends = [p for p in find_patches(_mesh(prism).moved(_motion(seed))) if p.area_mm2 == pytest.approx(6)]
        assert len(ends) == 2
        for end in ends:
            assert (end.length_mm, end.width_mm) == pytest.approx((5.0, 2.4), abs=1e-6)


def test_the_narrowest_rectangle_about_many_points_is_the_one_that_trimesh_finds() -> None:
    rng = np.random.default_rng(4)
    for count in (9, 40, 300):
        points = np.zeros((count, 3))
        points[:, :2] = rng.normal(size=(count, 2)) * (5.0, 1.0)
        _, extents = trimesh.bounds.oriented_bounds_2D(points[:, :2])
        found = narrowest_box(points, np.array([0.0, 0, 1]))
        assert found == pytest.approx(sorted(extents.tolist(), reverse=True), rel=1e-9)


def test_flats_at_an_open_side_are_read_whole() -> None:
    box = trimesh.creation.box((24, 18, 5))
    box.update_faces(box.face_normals[:, 2] < 0.5)  # no lid
    patches = find_patches(_mesh(box).moved(_motion(6)))
    sizes = [(24, 18), (24, 5), (24, 5), (18, 5), (18, 5)]
    np.testing.assert_allclose([(p.length_mm, p.width_mm) for p in patches], sizes, atol=1e-9)


def test_the_rectangle_about_points_of_one_line_has_no_width() -> None:
    for points in (np.zeros((4, 3)), np.outer([0.0, 3, 1, 1, 2], [0.6, 0.8, 0])):
        length, width = narrowest_box(points, np.array([0.0, 0, 1]))
        assert (length, width) == pytest.approx((np.ptp(np.linalg.norm(points, axis=1)), 0.0), abs=1e-12)


def test_main_directions_are_the_library_s() -> None:
    rng = np.random.default_rng(9)
    for i in range(300):
        root = rng.normal(size=(3, 3)) * 10.0 ** rng.uniform(-6, 2, 3)
        m = root @ root.T if i % 3 else np.diag(rng.integers(0, 3, 3).astype(float))
        values, vectors = np.empty(3), np.empty((3, 3))
        main_directions(m.copy(), values, vectors)
        size = max(np.abs(m).max(), 1e-300)
        np.testing.assert_allclose(values / size, np.linalg.eigvalsh(m) / size, atol=1e-13)
        np.testing.assert_allclose(m @ vectors / size, vectors * values / size, atol=1e-13)
        np.testing.assert_allclose(vectors.T @ vectors, np.eye(3), atol=1e-13)


def test_a_very_large_part_goes_without_noisy_rounds_but_keeps_its_exact_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    exact = trimesh.creation.cylinder(radius=4, height=20, sections=64)
    scan = trimesh.creation.cylinder(radius=6, height=20, sections=48).subdivide().subdivide()
    beside = scan.vertices[:, :2] / np.linalg.norm(scan.vertices[:, :2], axis=1).clip(1e-9)[:, None]
    rng = np.random.default_rng(2)
    on_side = np.abs(np.linalg.norm(scan.vertices[:, :2], axis=1) - 6) < 0.1
    scan.vertices[on_side, :2] = beside[on_side] * (6 + rng.normal(0, 0.004, on_side.sum()))[:, None]
    scan.apply_translation((30, 0, 0))
    both = _mesh(trimesh.util.concatenate([exact, scan]))
    assert sorted(round(p.diameter_mm, 1) for p in _kind(find_patches(both), "cylinder")) == [8.0, 12.0]
    monkeypatch.setattr(segment, "MAX_NOISY", 100)
    find_patches.cache_clear()
    assert [round(p.diameter_mm, 1) for p in _kind(find_patches(both), "cylinder")] == [8.0]


def _flats_of(outline: Floats, hole_mm: float = 0.0) -> list[str]:
    """What the two large flats of a prism over an outline, (k, 2), are called, aslant in space."""
    body = Solid.prism(Outline.polygon(outline), 0.0, 4.0)
    if hole_mm:
        body -= Solid.from_mesh(_mesh(trimesh.creation.cylinder(hole_mm / 2, 20.0, sections=48)))
    flats = sorted(_kind(find_patches(body.mesh().moved(_motion(7))), "flat"), key=lambda p: -p.area_mm2)
    return [describe(p).split(" ")[0] for p in flats[:2]]


@pytest.mark.parametrize(("sides", "hole_mm"), [(8, 0.0), (10, 0.0), (12, 0.0), (48, 0.0), (48, 9.0)])
def test_a_round_end_is_called_round(sides: int, hole_mm: float) -> None:
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = 8.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    assert _flats_of(ring, hole_mm) == ["round", "round"]


@pytest.mark.parametrize("hole_mm", [0.0, 22.0])  # with that hole it has the area of a circle
def test_a_square_a_cross_and_half_a_circle_are_not_called_round(hole_mm: float) -> None:
    square = 21.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    a, b = 21.0, 12.0
    cross = [
        (a, b),
        (b, b),
        (b, a),
        (-b, a),
        (-b, b),
        (-a, b),
        (-a, -b),
        (-b, -b),
        (-b, -a),
        (b, -a),
        (b, -b),
    ]
    turn = np.linspace(0, np.pi, 24)
    half = 21.0 * np.column_stack([np.cos(turn), np.sin(turn)]) - [0.0, 12.0]
    for outline in (square, np.array([*cross, (a, -b)]), half):
        assert _flats_of(outline, hole_mm) == ["Flat", "Flat"]
