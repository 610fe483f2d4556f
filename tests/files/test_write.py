from __future__ import annotations

import struct
from pathlib import Path

import lib3mf
import numpy as np
import pytest
import trimesh

from housingdesk.files.meshes import read_part
from housingdesk.files.write import in_single_precision, write_3mf, write_ply, write_stl
from housingdesk.geometry.types import Mesh
from tests.files.makers import BOX_MM, box, exported

BOX_VOLUME = 40.0 * 30.0 * 20.0


def ball(radius_mm: float = 10.0, subdivisions: int = 3) -> Mesh:
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius_mm)
    return Mesh(made.vertices, made.faces)


def closed(path: Path) -> trimesh.Trimesh:
    loaded = trimesh.load(path, force="mesh", process=False)
    loaded.merge_vertices()
    assert loaded.is_volume
    return loaded


@pytest.mark.parametrize("name", ["lower half", "solid block", "Höhle", "x" * 200])
def test_stl_keeps_the_size_law_and_its_normals_agree(name: str, tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    write_stl(path, ball(), name)
    data = path.read_bytes()
    count = struct.unpack("<I", data[80:84])[0]
    # STL size law 84 + 50 n and "the header should not begin with solid" (StereoLithography Interface
    # Specification, 1989)
    assert len(data) == 84 + 50 * count == 84 + 50 * ball().triangles
    assert not data.lower().startswith(b"solid")
    stated = trimesh.exchange.stl.load_stl_binary(path.open("rb"))["face_normals"]
    solid = closed(path)
    np.testing.assert_allclose(stated, solid.face_normals, atol=1e-5)
    assert solid.volume == pytest.approx(ball().volume_mm3, rel=1e-6)


def needle(width_mm: float) -> Mesh:
    """A box 100 mm away from the origin with one corner split into points a hair apart, still closed."""
    made = trimesh.creation.box(BOX_MM)
    made = made.subdivide().subdivide()
    v = made.vertices + 100.0
    pulled = v.copy()
    ring = np.unique(made.faces[(made.faces == 0).any(axis=1)])
    pulled[ring] = v[0] + (v[ring] - v[0]) * width_mm
    return Mesh(pulled, made.faces)


@pytest.mark.parametrize("width_mm", [1e-1, 1e-6, 1e-7, 1e-9, 0.0])
def test_points_that_fall_together_leave_the_surface_closed(width_mm: float, tmp_path: Path) -> None:
    mesh = needle(width_mm)
    write_stl(tmp_path / "a.stl", mesh, "needle")
    write_3mf(tmp_path / "a.3mf", {"needle": mesh})
    solid = closed(tmp_path / "a.stl")
    assert solid.volume == pytest.approx(mesh.volume_mm3, rel=1e-6)
    assert (solid.area_faces > 0).all() or width_mm > 0
    assert read_part(tmp_path / "a.3mf").facts.open_edges == 0


def test_a_flat_triangle_that_closes_the_surface_stays() -> None:
    # One edge of the box is split on one side only: a triangle without area bridges the T.
    v = np.vstack([box().vertices, box().vertices[[0, 1]].mean(axis=0)])
    split = [f for f in box().faces.tolist() if not {0, 1} <= set(f)]
    for f in [f for f in box().faces.tolist() if {0, 1} <= set(f)][:1]:
        i = next(i for i in range(3) if {f[i], f[(i + 1) % 3]} == {0, 1})
        a, b, c = f[i], f[(i + 1) % 3], f[(i + 2) % 3]
        split += [[a, 8, c], [8, b, c], [a, b, 8]]
    split += [f for f in box().faces.tolist() if {0, 1} <= set(f)][1:]
    mesh = Mesh(v, np.array(split))
    assert exported(mesh).is_watertight
    single = in_single_precision(mesh)
    assert single.triangles == mesh.triangles
    assert exported(single).is_watertight


def test_a_crumb_that_collapses_to_two_faces_on_each_other_is_left_out() -> None:
    # A tetrahedron far out whose height float32 cannot hold: its foot and its three sides coincide.
    v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1e-9, 1e-9, 1e-9]]) + 4096.0
    crumb = Mesh(v, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
    assert exported(crumb).is_watertight
    assert in_single_precision(crumb).triangles == 0
    whole = Mesh(np.vstack([v, box().vertices]), np.vstack([crumb.faces, box().faces + 4]))
    left = exported(in_single_precision(whole))
    assert left.is_watertight
    assert left.volume == pytest.approx(BOX_VOLUME)


def test_3mf_read_back_by_its_own_library(tmp_path: Path) -> None:
    path = tmp_path / "halves.3mf"
    other = Mesh(ball().vertices + np.array([50.0, 0, 0]), ball().faces)
    write_3mf(path, {"lower half": box(), "upper half µ": other})
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    items, seen = model.GetBuildItems(), {}
    while items.MoveNext():
        body = items.GetCurrent().GetObjectResource()
        assert body.IsMeshObject()
        assert body.IsManifoldAndOriented()
        vertices = np.array([list(p.Coordinates) for p in body.GetVertices()])
        faces = np.array([list(t.Indices) for t in body.GetTriangleIndices()])
        # "manifold and oriented" is true of an inside-out body too, so the volume is asked for
        seen[body.GetName()] = trimesh.Trimesh(vertices, faces, process=False).volume
    assert seen == pytest.approx({"lower half": BOX_VOLUME, "upper half µ": other.volume_mm3}, rel=1e-6)


def test_ply_is_exact(tmp_path: Path) -> None:
    mesh = Mesh(box().vertices / 3, box().faces)
    write_ply(tmp_path / "a.ply", mesh)
    outside = trimesh.load(tmp_path / "a.ply", process=False)
    np.testing.assert_array_equal(outside.vertices, mesh.vertices)
    np.testing.assert_array_equal(outside.faces, mesh.faces)


def test_the_same_mesh_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.stl", "b.stl"):
        write_stl(tmp_path / name, ball(), "half")
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()


def test_a_sliver_that_encloses_nothing_is_left_out() -> None:
    flat = np.array([[50.0, 0, 0], [51, 0, 0], [50, 1, 0], [51, 1, 0]])  # a tetrahedron pressed flat
    turns = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]], np.int32)
    whole = box()
    both = Mesh(np.vstack([whole.vertices, flat]), np.vstack([whole.faces, turns + len(whole.vertices)]))
    single = in_single_precision(both)
    assert single.triangles == whole.triangles
    assert exported(single).volume == pytest.approx(BOX_VOLUME)
