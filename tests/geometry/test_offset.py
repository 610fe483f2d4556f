"""Growing and sweeping, against closed forms and an outside distance library."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh

from housingdesk.geometry import offset
from housingdesk.geometry.frames import rotation_about
from housingdesk.geometry.grid import grid_for
from housingdesk.geometry.offset import grow, sweep_cavity
from housingdesk.geometry.profile import profile
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.surface import surface
from housingdesk.geometry.types import Mesh


def exact_distance(points, mesh: trimesh.Trimesh):
    """libigl's exact distances, an outside reference."""
    v, f = np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)
    return np.sqrt(igl.point_mesh_squared_distance(np.ascontiguousarray(points, float), v, f)[0])


def over(mesh: trimesh.Trimesh, clearance: float, **kw):
    """Grow and return the surface with its distances to the part, less the clearance."""
    v, f = grow(mesh.vertices, mesh.faces, clearance, **kw)
    grown = trimesh.Trimesh(v, f, process=False)
    points = np.vstack([v, trimesh.sample.sample_surface(grown, 20000, seed=1)[0]])
    return grown, exact_distance(points, mesh) - clearance


def tilted(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    return mesh.copy().apply_transform(rotation_about(np.array([1.0, 2.0, 0.5]), 33.0))


BODIES = {
    "box": trimesh.creation.box((40, 30, 20)),
    "tilted box": tilted(trimesh.creation.box((40, 30, 20))),
    "cylinder": trimesh.creation.cylinder(12, 26, sections=256),
    "ball": trimesh.creation.icosphere(5, 10),
    "ring": tilted(trimesh.creation.annulus(6, 12, 9, sections=128)),
}


@pytest.mark.parametrize("name", BODIES)
@pytest.mark.parametrize("clearance", [0.3, 1.0])
def test_never_less_and_on_flats_hardly_more(name, clearance):
    grown, error = over(BODIES[name], clearance)
    assert grown.is_watertight and grown.is_winding_consistent and grown.volume > 0
    assert error.min() >= -0.01  # the promise of DESIGN.md section 3
    assert np.percentile(error, 90) <= 0.05


# Steiner's formula V + S r + M r^2 + 4/3 pi r^3, values of check-values.md section 10 (en.wikipedia.org
# "Steiner-Minkowski formula", recomputed there) for r = 0.3.
@pytest.mark.parametrize(
    ("mesh", "volume"),
    [
        (trimesh.creation.box((40, 30, 20)), 25585.5600),
        (trimesh.creation.cylinder(12, 26, sections=1024), 12639.7862),
        (
            trimesh.convex.convex_hull(
                30 / np.sqrt(8) * np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])
            ),
            3665.2235,
        ),
        (trimesh.creation.icosphere(6, 10), 4577.2042),
    ],
)
def test_grown_volume_is_steiners(mesh, volume):
    previous = np.inf
    for tolerance in (0.08, 0.01):
        v, f = grow(mesh.vertices, mesh.faces, 0.3, tolerance)
        miss = abs(trimesh.Trimesh(v, f, process=False).volume - volume)
        assert miss <= tolerance * mesh.area  # the surface nowhere further off than the tolerance
        assert miss < previous  # a finer tolerance is truer
        previous = miss


def test_a_rigid_motion_changes_nothing():
    mesh = BODIES["ring"]
    v, f = grow(mesh.vertices, mesh.faces, 0.7)
    far = mesh.copy().apply_transform(rotation_about(np.array([0.2, -1.0, 3.0]), 71.0))
    far.apply_translation([900.0, -700.0, 300.0])
    w, g = grow(far.vertices, far.faces, 0.7)
    a, b = (trimesh.Trimesh(x, y, process=False).volume for x, y in ((v, f), (w, g)))
    assert abs(a - b) <= 0.02 * mesh.area


def test_the_same_input_gives_the_same_bytes():
    mesh = BODIES["tilted box"]
    a, b = grow(mesh.vertices, mesh.faces, 0.5), grow(mesh.vertices, mesh.faces, 0.5)
    assert a[0].tobytes() == b[0].tobytes() and a[1].tobytes() == b[1].tobytes()


def test_one_clearance_a_face():
    box = trimesh.creation.box((20, 20, 20))
    reach = np.where(box.face_normals[:, 0] > 0.5, 2.0, 0.5)
    v, _ = grow(box.vertices, box.faces, reach)
    # Common practice, no source: a body's end gets more room than its sides.
    assert np.allclose(v.max(axis=0), [12.0, 12.0, 12.0], atol=0.02)
    assert np.isclose(v[:, 0].min(), -10.5, atol=0.02)


def test_holes_flips_and_overlaps_do_no_harm():
    whole = trimesh.creation.box((40, 30, 20))
    other = trimesh.creation.box((10, 10, 30)).apply_translation([5, 0, 0])
    fine = trimesh.util.concatenate([whole, other])
    dirty = fine.copy()
    dirty.faces[::3] = dirty.faces[::3, ::-1]
    a = trimesh.Trimesh(*grow(fine.vertices, fine.faces, 0.5), process=False)
    b = trimesh.Trimesh(*grow(dirty.vertices, dirty.faces, 0.5), process=False)
    # Turning a triangle over only changes the rounding of its plane, and with it what is simplified.
    assert np.isclose(a.volume, b.volume, rtol=1e-4)
    both = trimesh.boolean.union([whole, other])
    c = trimesh.Trimesh(*grow(both.vertices, both.faces, 0.5), process=False)
    assert abs(a.volume - c.volume) <= 0.01 * both.area


def test_hollows_are_filled():
    outer, inner = trimesh.creation.box((20, 20, 20)), trimesh.creation.box((10, 10, 10))
    inner.invert()
    hollow = trimesh.util.concatenate([outer, inner])
    grown = trimesh.Trimesh(*grow(hollow.vertices, hollow.faces, 0.5), process=False)
    solid = trimesh.Trimesh(*grow(outer.vertices, outer.faces, 0.5), process=False)
    assert np.isclose(grown.volume, solid.volume, rtol=1e-9)


def mushroom() -> trimesh.Trimesh:
    stem = trimesh.creation.box((10, 10, 20))
    head = trimesh.creation.box((30, 20, 6)).apply_translation([0, 0, 13])
    return trimesh.boolean.union([stem, head])


@pytest.mark.parametrize("clearance", [0.0, 0.2, 1.0])
@pytest.mark.parametrize("up", [True, False])
def test_a_sweep_leaves_room_on_the_whole_way(clearance, up):
    mesh = mushroom().apply_transform(rotation_about(np.array([0, 0, 1.0]), 20.0))
    tris = np.asarray(mesh.vertices)[mesh.faces]
    cavity = sweep_cavity(tris, np.full(len(tris), clearance), up=up, seal_mm=1.0)
    assert len(cavity.bodies()) == 1
    surface = trimesh.Trimesh(*vars_of(cavity.mesh()), process=False)
    points = np.vstack([surface.vertices, trimesh.sample.sample_surface(surface, 8000, seed=1)[0]])
    low, high = mesh.bounds[:, 2]
    points = points[points[:, 2] < high] if up else points[points[:, 2] > low]
    least = np.full(len(points), np.inf)
    for shift in np.linspace(0, 30, 61):
        moved = points - [0, 0, shift if up else -shift]
        least = np.minimum(least, exact_distance(moved, mesh))
    assert least.min() >= clearance - 0.01
    assert np.percentile(least, 80) <= clearance + 0.05 + (0.02 if clearance == 0 else 0)


@pytest.mark.parametrize("clearance", [0.0, 0.05, 0.2])
@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 45.0])
def test_a_skin_without_a_bottom_has_its_room_too(clearance, turn_deg):
    """Four upright sheets, thinner than any grid cell: nothing under them is swept through them."""
    box = trimesh.creation.box((30, 20, 10))
    open_box = box.submesh([np.flatnonzero(np.abs(box.face_normals[:, 2]) < 0.5)], append=True)
    skin = open_box.apply_transform(rotation_about(np.array([0, 0, 1.0]), turn_deg))
    tris = np.asarray(skin.vertices)[skin.faces]
    cavity = sweep_cavity(tris, np.full(len(tris), clearance), up=True, seal_mm=1.0)
    surface = trimesh.Trimesh(*vars_of(cavity.mesh()), process=False)
    points = trimesh.sample.sample_surface(skin, 4000, seed=1)[0]
    assert surface.contains(points).all()
    away = exact_distance(points, surface)
    assert away.min() >= clearance - 0.01
    assert np.percentile(away, 80) <= max(clearance, 0.1) + 0.05
    # The room inside is free: four walls, not one block.
    assert cavity.volume_mm3 < 0.2 * 30 * 20 * 10


@pytest.mark.parametrize("name", BODIES)
def test_the_wide_grid_of_a_large_part_costs_no_clearance(name, monkeypatch):
    """A small body is taken for a large one here, so that its grid is as wide as its clearance."""
    mesh, clearance = BODIES[name], 0.3
    tris, reach = np.asarray(mesh.vertices)[mesh.faces], np.full(len(mesh.faces), clearance)
    usual = sweep_cavity(tris, reach, up=True, seal_mm=1.0)
    monkeypatch.setattr(offset, "USUAL_NODES", 20_000)
    wide = sweep_cavity(tris, reach, up=True, seal_mm=1.0)
    assert wide.triangles != usual.triangles
    surface = trimesh.Trimesh(*vars_of(wide.mesh()), process=False)
    points = np.vstack([surface.vertices, trimesh.sample.sample_surface(surface, 20000, seed=1)[0]])
    away = exact_distance(points[points[:, 2] < mesh.bounds[1, 2]], mesh)
    assert away.min() >= clearance - 0.01


def test_no_side_at_the_rim_of_a_wide_grid_dips_under_a_round():
    """Where a flat end meets a round, the middles of sides and faces keep the reach nearly as points do."""
    mesh, reach = trimesh.creation.cylinder(radius=15, height=10, sections=160), 0.5
    tris = np.asarray(mesh.vertices)[mesh.faces] + np.array([0.11, 0.07, 0.05])
    grid = grid_for(np.array([tris.min(axis=(0, 1)), tris.max(axis=(0, 1))]), reach, 0.75 * reach)
    points, faces = surface(tris, np.full(len(tris), reach), grid=grid, swept=True, lift_sides=True)
    corners = points[faces]
    middles = np.vstack([corners.mean(axis=1), *((corners[:, i] + corners[:, i - 1]) / 2 for i in range(3))])
    below = middles[middles[:, 2] < tris[:, :, 2].max()]
    moved = trimesh.Trimesh(tris.reshape(-1, 3), np.arange(3 * len(tris)).reshape(-1, 3), process=False)
    assert exact_distance(below, moved).min() >= reach - 0.003  # drawn back into the box at once it is 0.018


def test_flats_of_a_large_part_keep_the_promise_too(monkeypatch):
    monkeypatch.setattr(offset, "USUAL_NODES", 20_000)
    mesh = BODIES["box"]
    tris, reach = np.asarray(mesh.vertices)[mesh.faces], np.full(len(mesh.faces), 0.3)
    room = sweep_cavity(tris, reach, up=True, seal_mm=1.0).below(10.0).bounds - mesh.bounds
    assert -room[0] == pytest.approx([0.325] * 3, abs=0.025)
    assert room[1, :2] == pytest.approx([0.325] * 2, abs=0.025)


def vars_of(mesh: Mesh):
    return mesh.vertices, mesh.faces


def test_relief_of_a_mushroom_is_the_ring_under_its_head():
    mesh = mushroom()
    tris = np.asarray(mesh.vertices)[mesh.faces]
    costs = profile(tris, np.full(len(tris), 0.5), seal_mm=0.0)
    low = mesh.bounds[0, 2]
    # Parted at the head's underside nothing is in the way of either half (closed form by inspection).
    lower, upper = costs.relief_at(10.0 - 0.5)
    # Relief is counted in cells: the layer that the plane runs through may be off by half.
    assert lower <= 0.02 * mesh.volume
    assert upper <= 0.02 * mesh.volume
    # Parted 10 mm below it, the upper half loses the ring between grown head and grown stem.
    ring = (31 * 21 - 11 * 11) * 10.0
    lower, upper = costs.relief_at(low + 10.0 - 0.5)
    assert lower <= 0.02 * mesh.volume
    assert abs(upper - ring) <= 0.05 * ring


def test_narrow_gaps_are_sealed_and_wide_ones_kept():
    def comb(gap: float) -> Solid:
        teeth = [trimesh.creation.box((3, 20, 15)).apply_translation([i * (3 + gap), 0, 0]) for i in range(4)]
        mesh = trimesh.util.concatenate(teeth)
        tris = np.asarray(mesh.vertices)[mesh.faces]
        return sweep_cavity(tris, np.full(len(tris), 0.3), up=True, seal_mm=1.2), mesh

    narrow, mesh = comb(1.2)  # 0.6 mm are left between grown teeth
    box = np.ptp(mesh.bounds, axis=0) + 0.6
    low = mesh.bounds[0, 2] - 0.3
    slab = narrow.below(low + 10.0).volume_mm3
    assert slab == pytest.approx(box[0] * box[1] * 10.0, rel=0.02)
    wide, mesh = comb(4.0)  # 3.4 mm are left
    slab = wide.below(low + 10.0).volume_mm3
    assert slab == pytest.approx(4 * 3.6 * 20.6 * 10.0, rel=0.03)


def test_the_usual_pockets():
    """Common practice, no source: a 15 mm body with 1 mm a side, a 6 mm shaft with 0.5 mm a side."""
    body = trimesh.creation.box((15, 15, 15))
    v, _ = grow(body.vertices, body.faces, 1.0)
    assert np.allclose(np.ptp(v, axis=0), 17.0, atol=0.02)
    shaft = trimesh.creation.cylinder(3, 20, sections=128)
    v, _ = grow(shaft.vertices, shaft.faces, 0.5)
    assert np.allclose(np.ptp(v, axis=0), [7.0, 7.0, 21.0], atol=0.03)
