"""Play against closed forms, against an independent kernel's overlaps, and against itself turned about."""

from __future__ import annotations

import math
from collections.abc import Callable

import manifold3d as m3
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from housingdesk.geometry.frames import rotation_about
from housingdesk.geometry.play import Play, play
from housingdesk.geometry.types import Floats, Mesh, joined

ORIGIN, Z = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def mesh(solid: m3.Manifold) -> Mesh:
    found = solid.to_mesh64()
    return Mesh(np.asarray(found.vert_properties)[:, :3], np.asarray(found.tri_verts))


def box(x: float, y: float, z: float, at: tuple[float, float, float] = ORIGIN) -> m3.Manifold:
    return m3.Manifold.cube((x, y, z), True).translate(at)


def rod(radius: float, length: float, sides: int = 64) -> m3.Manifold:
    return m3.Manifold.cylinder(length, radius, radius, sides, True)


def housing(cavity: m3.Manifold, outer: float = 80.0, at_z: float = 0.0) -> list[m3.Manifold]:
    """Split a block with a cavity into its two halves."""
    upper, lower = (box(outer, outer, outer) - cavity).split_by_plane((0, 0, 1), at_z)
    return [lower, upper]


def room(part: m3.Manifold, cavity: m3.Manifold, **more: float) -> Play:
    return play(mesh(part), [mesh(h) for h in housing(cavity)], ORIGIN, Z, **more)


def corner_angle(a: float, b: float, wide: float) -> float:
    """Angle at which the corner (a/2, b/2) of a bar turned about its middle reaches x = wide/2."""
    reach, start = math.hypot(a, b) / 2, math.atan2(b, a)
    if wide / 2 >= reach:
        return math.inf
    return math.degrees(start - math.acos(wide / 2 / reach))


# ---- shifts ------------------------------------------------------------------------------------------


@given(
    st.tuples(*[st.floats(2, 20)] * 3),
    st.tuples(*[st.floats(0.01, 3)] * 6),
)
@settings(max_examples=25)
def test_box_in_a_box_moves_by_its_gaps(size: tuple[float, ...], gaps: tuple[float, ...]) -> None:
    # closed form: the six gaps themselves
    low, high = np.array(gaps[:3]), np.array(gaps[3:])
    cavity = np.array(size) + low + high
    at = tuple(float(v) for v in (high - low) / 2)
    found = room(box(*size), box(*cavity, at=at))
    for pair, back, forth in zip((found.x_mm, found.y_mm, found.z_mm), low, high, strict=True):
        assert pair == pytest.approx((back, forth), abs=1e-6)


def test_round_shaft_moves_by_its_gap_where_facets_line_up() -> None:
    # closed form: equal regular 64-gons of circumradius 3 and 3.5, corner on corner along x and y: 0.5;
    # 30 long in 40: 5.
    found = room(rod(3, 30), rod(3.5, 40))
    assert found.x_mm == pytest.approx((0.5, 0.5), abs=1e-9)
    assert found.y_mm == pytest.approx((0.5, 0.5), abs=1e-9)
    assert found.z_mm == pytest.approx((5, 5), abs=1e-9)


def test_crossed_ridges_meet_edge_on_edge() -> None:
    # Closed form: a square bar of side a along y, standing on its edge, has its ridge at a/sqrt2; the
    # same along z, 12 away, has its own at 12 - a/sqrt2. No corner of either is near: the gap between
    # the ridges is 12 - sqrt2 a.
    side = 5.0
    bar = box(side, 60, side).rotate((0, 45, 0))
    post = box(side, side, 60).rotate((0, 0, 45)).translate((12, 0, 0))
    found = play(mesh(bar), [mesh(post)], ORIGIN, Z)
    assert found.x_mm == pytest.approx((10.0, 12 - math.sqrt(2) * side), abs=1e-9)


def test_turned_ridges_meet_edge_on_edge() -> None:
    # Closed form: the bar's ridge line x = 2, z = 0 along y turns about z. A post beside it has a sloping
    # ridge from (5, 1, -4) to (5, 9, 4), which crosses z = 0 at (5, 5, 0). The turned ridge line keeps the
    # distance 2 from the origin and passes that point where r cos(phi - t) = 2: t = phi - acos(2 / r).
    bar = m3.Manifold.hull_points(
        [(2, -20, 0), (2, 20, 0), (0, -20, 1), (0, 20, 1), (0, -20, -1), (0, 20, -1)]
    )
    post = m3.Manifold.hull_points(
        [(5, 1, -4), (5, 9, 4), (9, 1, -4), (9, 9, 4), (9, 5, -4), (9, 5, 4), (9, 0, 0), (9, 10, 0)]
    )
    found = play(mesh(bar), [mesh(post)], ORIGIN, Z)
    r, phi = math.hypot(5, 5), math.atan2(5, 5)
    angle = math.degrees(math.acos(2 / r) - phi)
    assert found.turn_deg[0] == pytest.approx(angle, abs=1e-6)


# ---- turns -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("bar", "hole"), [(10.0, 10.2), (10.0, 11.0), (6.0, 8.0)])
def test_square_bar_turned_in_a_square_hole(bar: float, hole: float) -> None:
    # Closed form: a (cos t + sin t) = A
    angle = math.degrees(brentq(lambda t: bar * (math.cos(t) + math.sin(t)) - hole, 0, math.pi / 4))
    found = room(box(bar, bar, 20), box(hole, hole, 22))
    assert found.turn_deg == pytest.approx((angle, angle), abs=1e-6)
    assert found.turn_z_deg == pytest.approx(found.turn_deg, abs=1e-9)
    assert not found.turns_freely


@given(st.floats(5, 20), st.floats(5, 20), st.floats(0.05, 1.5), st.floats(0.05, 1.5))
@settings(max_examples=25)
def test_rectangle_turned_in_a_rectangle(a: float, b: float, gap_x: float, gap_y: float) -> None:
    # closed form: the first of the corner reaching the one wall or the other
    found = room(box(a, b, 20), box(a + 2 * gap_x, b + 2 * gap_y, 22))
    angle = min(corner_angle(a, b, a + 2 * gap_x), corner_angle(b, a, b + 2 * gap_y), 180.0)
    assert found.turn_deg == pytest.approx((angle, angle), abs=1e-6)


def test_round_shaft_turns_freely_and_a_flat_holds_it() -> None:
    # closed form: a flat at f on a shaft of radius r reaches a flat at F after acos(f/r) - acos(F/r)
    free = room(rod(3, 30), rod(3.5, 40))
    assert free.turns_freely
    assert free.turn_deg == (180.0, 180.0)
    flat, wall, radius, sides = 2.0, 2.4, 3.0, 4096
    shaft = rod(radius, 30, sides) - box(10, 10, 40, (flat + 5, 0, 0))
    hole = rod(3.6, 40, 64) - box(10, 10, 50, (wall + 5, 0, 0))
    held = room(shaft, hole)
    angle = math.degrees(math.acos(flat / radius) - math.acos(wall / radius))
    assert held.turn_deg == pytest.approx((angle, angle), abs=0.01)


def test_axis_may_lie_anywhere_and_point_anywhere() -> None:
    # closed form: a bar pinned at its end, the far corner sweeps r = hypot(40, 2) up to the wall y = 3
    bar, cavity = box(40, 4, 4, (20, 0, 0)), box(100, 6, 6)
    halves = [mesh(h) for h in housing(cavity, 120)]
    angle = math.degrees(math.asin(3 / math.hypot(40, 2)) - math.atan2(2, 40))
    for way in (1.0, -2.5):
        found = play(mesh(bar), halves, ORIGIN, (0, 0, way))
        assert found.turn_deg == pytest.approx((angle, angle), abs=1e-6)
    one_sided = play(mesh(bar.translate((0, 0.5, 0))), halves, (0, 0.5, 0), Z)
    up = math.degrees(math.asin(2.5 / math.hypot(40, 2)) - math.atan2(2, 40))
    down = math.degrees(math.asin(3.5 / math.hypot(40, 2)) - math.atan2(2, 40))
    assert one_sided.turn_deg == pytest.approx((down, up), abs=1e-6)
    reverse = play(mesh(bar.translate((0, 0.5, 0))), halves, (0, 0.5, 0), (0, 0, -1))
    assert reverse.turn_deg == pytest.approx((up, down), abs=1e-6)


# ---- crush ribs ----------------------------------------------------------------------------------------


def ribbed(*ribs: m3.Manifold) -> list[Mesh]:
    return [mesh(half + rib) for half, rib in zip(housing(box(22, 22, 22)), _split(ribs), strict=True)]


def _split(ribs: tuple[m3.Manifold, ...]) -> list[m3.Manifold]:
    both = m3.Manifold.batch_boolean(list(ribs), m3.OpType.Add)
    upper, lower = both.split_by_plane((0, 0, 1), 0)
    return [lower, upper]


def test_a_crushed_rib_leaves_no_room_towards_it_and_does_not_hold_the_way_out() -> None:
    # closed form: the rib lies 0.2 deep in the part on the +x side; the gaps elsewhere are 1
    rib = box(3, 2, 22, (11.3, 0, 0))  # from x = 9.8, the part's side is at 10
    found = play(mesh(box(20, 20, 20)), ribbed(rib), ORIGIN, Z)
    assert found.x_mm == pytest.approx((1, 0), abs=1e-9)
    assert found.y_mm == pytest.approx((1, 1), abs=1e-9)
    assert found.z_mm == pytest.approx((1, 1), abs=1e-9)


def test_a_rib_short_of_the_part_leaves_its_gap() -> None:
    rib = box(3, 2, 22, (11.8, 0, 0))  # from x = 10.3
    found = play(mesh(box(20, 20, 20)), ribbed(rib), ORIGIN, Z)
    assert found.x_mm == pytest.approx((1, 0.3), abs=1e-9)
    assert found.y_mm == pytest.approx((1, 1), abs=1e-9)


def test_four_crushed_ribs_stop_the_turn() -> None:
    ribs = [
        box(3, 2, 22, (s * 11.4, t, 0)) for s in (-1, 1) for t in (-7, 7)
    ]  # 0.1 deep at both ends of both sides
    before = room(box(20, 20, 20), box(22, 22, 22))
    after = play(mesh(box(20, 20, 20)), ribbed(*ribs), ORIGIN, Z)
    assert min(before.turn_deg) > 2
    assert after.turn_deg == (0.0, 0.0)
    assert after.x_mm == (0.0, 0.0)
    assert after.y_mm == pytest.approx((1, 1), abs=1e-9)


# ---- against an independent kernel ---------------------------------------------------------------------


def lumpy(seed: int, steps: int, grow: float = 0.0) -> m3.Manifold:
    """A wavy closed body, the same surface pushed out along its normals by ``grow``."""
    rng = np.random.default_rng(seed)
    ball = m3.Manifold.sphere(1.0, steps).to_mesh64()
    v = np.asarray(ball.vert_properties)[:, :3]
    waves = rng.uniform(2, 5, (3, 3))
    size = 1 + 0.12 * np.sin(v @ waves[0]) * np.cos(v @ waves[1]) + 0.08 * np.sin(v @ waves[2])
    v = v * size[:, None] * rng.uniform(7, 16, 3)
    faces = np.asarray(ball.tri_verts)
    a, b, c = (v[faces[:, i]] for i in range(3))
    normals = np.zeros_like(v)
    for i in range(3):
        np.add.at(normals, faces[:, i], np.cross(b - a, c - a))
    v = v + grow * normals / np.linalg.norm(normals, axis=1)[:, None]
    return m3.Manifold(m3.Mesh64(v, faces.astype(np.uint64)))


def overlap(part: m3.Manifold, halves: list[m3.Manifold], matrix: Floats) -> float:
    return sum(float((part.transform(matrix[:3]) ^ half).volume()) for half in halves)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_wavy_body_against_overlap_volumes(seed: int) -> None:
    # manifold3d's boolean: nothing overlaps short of the first contact, something does just beyond
    part, halves = lumpy(seed, 24), housing(lumpy(seed, 24, 0.6), at_z=0.3)
    axis = np.array([1.0, 0.5, -0.2])
    found = play(mesh(part), [mesh(h) for h in halves], ORIGIN, axis)
    moves: list[tuple[tuple[float, float], Callable[[float], Floats]]] = []
    for i, pair in enumerate((found.x_mm, found.y_mm, found.z_mm)):
        moves.append((pair, lambda u, i=i: _shifted(i, u)))
    for pair, about in (
        (found.turn_deg, axis), (found.turn_x_deg, np.eye(3)[0]), (found.turn_z_deg, np.eye(3)[2]),
    ):  # fmt: skip
        moves.append((pair, lambda u, about=about: rotation_about(about, u)))
    for pair, at in moves:
        for way, first in zip((-1, 1), pair, strict=True):
            assert 0.05 < first < 20
            for share in (0.25, 0.5, 0.75, 0.98, 1 - 1e-4):
                assert overlap(part, halves, at(way * first * share)) < 1e-9
            assert overlap(part, halves, at(way * (first + 0.05))) > 1e-7


def _shifted(axis: int, by: float) -> Floats:
    out = np.eye(4)
    out[axis, 3] = by
    return out


def test_rigid_motion_of_everything_changes_nothing() -> None:
    part, halves = mesh(lumpy(4, 24)), [mesh(h) for h in housing(lumpy(4, 24, 0.5))]
    there = rotation_about(np.array([0.3, -1.0, 0.4]), 77.0)
    there[:3, 3] = (400.0, -250.0, 90.0)
    axis = np.array([0.2, 0.1, 1.0])
    here = play(part, halves, ORIGIN, axis)
    moved = play(part.moved(there), [h.moved(there) for h in halves], there[:3, 3], there[:3, :3] @ axis)
    assert moved.turn_deg == pytest.approx(here.turn_deg, abs=1e-6)
    turned = rotation_about(np.array([0.0, 0, 1]), 90.0)  # +x goes to +y
    quarter = play(part.moved(turned), [h.moved(turned) for h in halves], ORIGIN, axis)
    assert quarter.y_mm == pytest.approx(here.x_mm, abs=1e-6)
    assert quarter.x_mm == pytest.approx(here.y_mm[::-1], abs=1e-6)


def test_a_part_as_found_is_as_good_as_a_clean_one() -> None:
    clean = mesh(lumpy(5, 24))
    halves = [mesh(h) for h in housing(lumpy(5, 24, 0.4))]
    rng = np.random.default_rng(0)
    faces = clean.faces.copy()
    flip = rng.random(len(faces)) < 0.4
    faces[flip] = faces[flip][:, ::-1]
    soup = Mesh(clean.vertices[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3))
    crumb = Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]]))  # a triangle without area
    dirty = joined([soup, clean, mesh(box(2, 2, 2)), crumb])
    want, got = play(clean, halves, ORIGIN, Z), play(dirty, halves, ORIGIN, Z)
    for name in ("x_mm", "y_mm", "z_mm", "turn_deg", "turn_x_deg", "turn_y_deg"):
        assert getattr(got, name) == pytest.approx(getattr(want, name), abs=1e-9), name


# ---- bounds ----------------------------------------------------------------------------------------------


def test_search_is_bounded_and_says_so() -> None:
    found = room(box(4, 4, 4), box(40, 40, 40), limit_mm=2.0, limit_deg=30.0)
    assert found.x_mm == found.y_mm == found.z_mm == (2.0, 2.0)
    assert found.turn_deg == (30.0, 30.0)
    assert found.turns_freely


def test_wrong_axis_is_refused() -> None:
    part = mesh(box(1, 1, 1))
    with pytest.raises(ValueError, match="direction"):
        play(part, [part], ORIGIN, (0, 0, 0))
    with pytest.raises(ValueError, match="limit_deg"):
        play(part, [part], ORIGIN, Z, limit_deg=200)
    with pytest.raises(ValueError, match="empty"):
        play(part, [], ORIGIN, Z)


def test_a_part_without_triangles_meets_nothing() -> None:
    found = play(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)), [mesh(box(1, 1, 1))], ORIGIN, Z)
    assert found.x_mm == (10.0, 10.0)
    assert found.turns_freely


def test_a_part_without_gap_sideways_still_slides_along_its_walls() -> None:
    # closed form: 20 x 20 in 20 x 20 sideways, 1 at each end of z; the halves meet at mid height
    found = room(box(20, 20, 20), box(20, 20, 22))
    assert found.x_mm == found.y_mm == (0.0, 0.0)
    assert found.z_mm == pytest.approx((1, 1), abs=1e-9)
    assert found.turn_deg == (0.0, 0.0)
