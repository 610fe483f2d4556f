from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from housingdesk.geometry import measure
from housingdesk.geometry.measure import distances, first_met, inside, least_gap, path, samples, way_gap
from housingdesk.geometry.types import Mesh
from tests.proof.halves import block, both, boxed, common, mesh, minus

TOLERANCE = 0.002 + measure.FLAT_MM
KERNEL = 1e-6  # the kernel behind the test halves rounds coordinates to 32 bits


@pytest.mark.parametrize("gap", [0.05, 0.5, 1.0, 3.0])
def test_a_block_in_a_block_has_the_gap_it_was_given(gap: float) -> None:
    housing = boxed(gap)
    for half in housing.halves.values():
        found = least_gap(housing.parts[0], half)
        assert found.distance_mm == pytest.approx(gap, abs=KERNEL)
        away = np.linalg.norm(np.subtract(found.at_part_mm, found.at_half_mm))
        assert away == pytest.approx(found.distance_mm)


def test_a_ball_in_a_block_is_nearest_at_its_pole() -> None:
    ball = trimesh.creation.icosphere(4, 10)  # has a corner at each pole
    half = minus(block([-15] * 3, [15, 15, 0]), block([-12, -12, -10.7], [12, 12, 1]))
    found = least_gap(mesh(ball), mesh(half))
    lowest = -ball.vertices[:, 2].min()
    assert found.distance_mm == pytest.approx(10.7 - lowest, abs=KERNEL)
    assert found.at_part_mm == pytest.approx((0, 0, -lowest), abs=1e-6)


def test_crossing_ridges_are_found_between_their_corners() -> None:
    """Two long bars cross at right angles, edge to edge: no corner of either is near the other."""
    bar = trimesh.creation.box((40, 2, 2))
    bar.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 4, (1, 0, 0)))
    other = trimesh.creation.box((2, 40, 2))
    other.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 4, (0, 1, 0)))
    other.apply_translation((3.3, 0.9, 2 * np.sqrt(2) + 0.25))  # each ridge stands sqrt 2 from its axis
    found = least_gap(mesh(bar), mesh(other), tolerance_mm=1e-4)
    assert found.distance_mm == pytest.approx(0.25, abs=1e-4)
    assert found.at_part_mm[:2] == pytest.approx((3.3, 0.0), abs=0.05)


def test_a_needle_through_a_wall_has_no_gap() -> None:
    """Its corners are all far from the wall, and no ridge of the wall is near."""
    needle = Mesh(np.array([[0.0, 0, -20], [0.01, 0, 20], [0, 0.01, 20]]), np.array([[0, 1, 2]], np.int32))
    wall = mesh(block([-30, -30, -1], [30, 30, 1]))
    assert least_gap(needle, wall).distance_mm == 0.0


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_least_gap_agrees_with_brute_force(seed: int) -> None:
    """Outside: libigl distances of some 40 000 sample points and 20 000 points along all edges."""
    random = np.random.default_rng(seed)
    part = trimesh.convex.convex_hull(random.normal(size=(8, 3)) * 4)
    half = trimesh.convex.convex_hull(random.normal(size=(8, 3)) * 4 + [14.0, 0, 0])
    found = least_gap(mesh(part), mesh(half))
    along = np.linspace(0, 1, 1000)[:, None, None]
    tries = []
    for a, b in ((part, half), (half, part)):
        edges = a.vertices[a.edges_unique]
        on_edges = (edges[:, 0] * (1 - along) + edges[:, 1] * along).reshape(-1, 3)
        points = np.vstack([on_edges, trimesh.sample.sample_surface(a, 20_000, seed=1)[0]])
        tries.append(igl.point_mesh_squared_distance(points, b.vertices, b.faces.astype(np.int64))[0].min())
    sampled = float(np.sqrt(min(tries)))
    if sampled < 0.05:  # nearly touching: sampling says too little
        assert found.distance_mm < 0.06
    else:
        assert sampled - 0.01 <= found.distance_mm <= sampled + TOLERANCE


def test_a_ridge_over_a_fine_surface_is_measured_to_the_last_hundred_nanometre() -> None:
    """Closed form: an upright cylinder of radius 10, one of its 512 corners along x, and a ridge along y at
    x = 10.5 between the ends of both."""
    part = trimesh.creation.cylinder(10, 30, sections=512)
    ridge = trimesh.creation.cylinder(2, 40, sections=4)  # a square bar, its ridge towards the part
    ridge.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    ridge.apply_translation((12.5, 0, 3.7))
    found = least_gap(mesh(part), mesh(ridge))
    assert found.distance_mm == pytest.approx(0.5, abs=1e-7)
    assert found.at_part_mm == pytest.approx((10, 0, 3.7), abs=1e-6)


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_inside_agrees_with_solid_angles(seed: int) -> None:
    """Outside: libigl's exact winding number; points also straight over corners, edges and upright faces."""
    random = np.random.default_rng(seed)
    body = trimesh.util.concatenate(
        [trimesh.creation.box((4, 3, 2)), trimesh.creation.icosphere(1, 3), trimesh.creation.annulus(1, 5, 2)]
    )
    body = trimesh.boolean.union(body.split())
    corners = body.vertices[random.integers(len(body.vertices), size=60)]
    middles = body.vertices[body.edges[random.integers(len(body.edges), size=60)]].mean(axis=1)
    points = np.vstack([corners, middles, corners.round()])
    points[:, 2] += random.uniform(-4, 4, len(points))
    points = np.vstack([points, random.uniform(-5, 5, (200, 3))])
    points = points[distances(points, mesh(body)) > 1e-6]
    exact = igl.winding_number(body.vertices, body.faces.astype(np.int64), points)
    assert np.array_equal(inside(points, mesh(body)), exact > 0.5)


def test_inside_and_distances_of_a_block() -> None:
    body = mesh(block([0, 0, 0], [10, 20, 30]))
    points = np.array([[5, 5, 5], [9.9, 1, 1], [10.5, 5, 5], [-3, -4, 0], [100, 0, 0]], float)
    assert inside(points, body).tolist() == [True, True, False, False, False]
    assert distances(points, body) == pytest.approx([5, 0.1, 0.5, 5, 90])


def test_samples_lie_on_the_surface_in_proportion_to_its_area() -> None:
    body = mesh(block([0, 0, 0], [10, 20, 30]))
    points = samples(body, 60_000, 3)
    assert np.array_equal(points, samples(body, 60_000, 3))
    assert distances(points, body).max() < 1e-9
    on_top = np.count_nonzero(points[:, 2] > 30 - 1e-9) / len(points)
    assert on_top == pytest.approx(200 / 2200, abs=0.006)  # five standard deviations
    assert samples(Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]], np.int32)), 10, 0).shape == (0, 3)


@settings(max_examples=15)
@given(st.integers(0, 10_000))
def test_the_path_is_everything_that_lies_between_the_parts_places(seed: int) -> None:
    """Distances from far beside the path equal the least over many places of the part (libigl)."""
    random = np.random.default_rng(seed)
    part = trimesh.convex.convex_hull(random.normal(size=(9, 3)) * 4)
    way = path(mesh(part), 1, 30.0)
    points = random.uniform([20, -15, -10], [30, 15, 12], (50, 3))
    places = [
        igl.point_mesh_squared_distance(points - [0, 0, t], part.vertices, part.faces.astype(np.int64))[0]
        for t in np.linspace(0, 30, 601)
    ]
    least = np.sqrt(np.min(places, axis=0))
    near = distances(points, way)
    assert np.all(near <= least + 1e-9)
    assert near == pytest.approx(least, abs=0.01)


def test_a_part_drops_straight_into_a_straight_pocket() -> None:
    housing = boxed(1.0)
    gap, hits = way_gap(housing.parts[0], housing.halves["lower"], 1, 18.0)
    assert gap.distance_mm == pytest.approx(1.0, abs=KERNEL)
    assert hits == 0


def test_an_undercut_is_met_on_the_way() -> None:
    """A dumb-bell lying in a cavity of its own form cannot come in from above past the lip."""
    part = both(block([-5, -5, 0], [5, 5, 4]), block([-2, -2, 3], [2, 2, 12]))
    cavity = both(block([-6, -6, -1], [6, 6, 5]), block([-3, -3, 4], [3, 3, 20]))
    half = minus(block([-9, -9, -3], [9, 9, 10]), cavity)
    gap, hits = way_gap(mesh(part), mesh(half), 1, 15.0)
    assert gap.distance_mm == 0.0
    assert hits > 0
    # The same body comes out freely the other way once there is no floor in the way.
    open_below = common(half, block([-9, -9, 0], [9, 9, 10]))
    gap, hits = way_gap(mesh(part), mesh(open_below), -1, 15.0)
    assert gap.distance_mm == pytest.approx(1.0, abs=KERNEL)
    assert hits == 0


def test_a_crumb_in_the_way_is_hit_though_no_surface_of_the_path_meets_it() -> None:
    housing = boxed(1.0)
    crumb = trimesh.creation.icosphere(2, 2.0)
    crumb.apply_translation((0, 0, 20))
    lower = housing.halves["lower"]
    whole = Mesh(
        np.vstack([lower.vertices, crumb.vertices]),
        np.vstack([lower.faces, crumb.faces + len(lower.vertices)]),
    )
    _, hits = way_gap(housing.parts[0], whole, 1, 20.0)
    assert hits > 0


def test_a_point_that_no_triangle_uses_is_no_part() -> None:
    housing = boxed(1.0)
    part, lower = housing.parts[0], housing.halves["lower"]
    stray = Mesh(np.vstack([[0, 0, -0.9], part.vertices]), part.faces + 1)
    assert least_gap(stray, lower).distance_mm == pytest.approx(1.0, abs=KERNEL)


def test_a_finer_part_has_the_same_path() -> None:
    """Upright faces in many triangles stand in for the walls above their inner edges."""
    coarse = both(block([-5, -5, 0], [5, 5, 4]), block([-2, -2, 3], [2, 2, 12]))
    fine = coarse.subdivide().subdivide().subdivide()
    points = np.random.default_rng(2).uniform([-8, -8, -2], [8, 8, 20], (500, 3))
    for direction in (1, -1):
        ways = [path(mesh(body), direction, 25.0) for body in (coarse, fine)]
        beside = ~inside(points, mesh(block([-5, -5, -30], [5, 5, 40])))
        apart = [distances(points[beside], way) for way in ways]
        assert apart[0] == pytest.approx(apart[1], abs=1e-6)
        # Foot and neck sweep a prism each; distance to a prism is a closed form.
        q = points[beside]
        prisms = []
        for wide, z in ((5, [0, 4]), (2, [3, 12])):
            z[(1 + direction) // 2] += 25 * direction
            low, high = np.array([-wide, -wide, z[0]]), np.array([wide, wide, z[1]])
            prisms.append(np.linalg.norm(np.maximum(0, np.maximum(low - q, q - high)), axis=1))
        assert apart[0] == pytest.approx(np.min(prisms, axis=0), abs=1e-6)


def test_rays_meet_the_first_triangle_or_none() -> None:
    floors = [np.array([[0, 0, z], [4, 0, z], [0, 4, z + 1.0]]) for z in (7.0, 5.0)]
    met, away = first_met(np.array(floors), np.array([[1.0, 1.0, 0.0], [9, 9, 0]]), np.array([0, 0, 1.0]))
    assert met.tolist() == [1, -1]
    assert away.tolist() == pytest.approx([5.25, np.inf])
