"""Bodies in VTK, without a window."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkIdList, vtkPoints
from vtkmodules.vtkRenderingCore import vtkRenderer

from housingdesk.view3d import bodies
from housingdesk.view3d.bodies import COARSE_FROM, Body, Layers, dress, flat_around, poly_data
from housingdesk.view3d.scene import Item
from tests.view3d.content import PART_MM, box, halves, mesh_of, part


@pytest.fixture
def layers() -> Layers:
    return Layers(vtkRenderer(), vtkRenderer(), vtkRenderer())


def item(opacity: float = 1.0) -> Item:
    return Item("lower", "half", halves()["lower"], "#C08A34", opacity)


def test_a_mesh_arrives_in_vtk_as_it_is() -> None:
    mesh = part()
    data = poly_data(mesh)
    assert np.allclose(vtk_to_numpy(data.GetPoints().GetData()), mesh.vertices, atol=1e-5)
    assert (vtk_to_numpy(data.GetPolys().GetConnectivityArray()).reshape(-1, 3) == mesh.faces).all()


def test_an_empty_mesh_is_no_trouble(layers: Layers) -> None:
    nothing = replace(item(), mesh=mesh_of(trimesh.Trimesh()))
    body = Body(nothing, layers)
    assert body.put_on(dress(nothing.mesh, True))


def test_edges_are_those_of_the_box() -> None:
    """A box has 12 edges of more than 30 degrees; trimesh finds the same length of them."""
    made = dress(box(PART_MM), edges=True)
    assert made.edges is not None
    points = vtk_to_numpy(made.edges.GetPoints().GetData()).astype(float)
    ends = vtk_to_numpy(made.edges.GetLines().GetConnectivityArray()).reshape(-1, 2)
    assert len(ends) == 12
    length = np.linalg.norm(points[ends[:, 0]] - points[ends[:, 1]], axis=1).sum()
    assert length == pytest.approx(4 * np.ptp(PART_MM, axis=0).sum())
    assert dress(box(PART_MM), edges=False).edges is None


def test_shading_is_split_at_creases_and_smooth_elsewhere() -> None:
    cube = dress(box(PART_MM), edges=False).shaded
    assert cube.GetNumberOfPoints() == 24  # each corner once for each of its three sides
    ball = trimesh.creation.icosphere(subdivisions=4)
    round_one = dress(mesh_of(ball), edges=False).shaded
    assert round_one.GetNumberOfPoints() == len(ball.vertices)


def test_heavy_bodies_get_a_stand_in_of_the_same_size() -> None:
    assert dress(part(), edges=False).coarse is None
    ball = mesh_of(trimesh.creation.icosphere(subdivisions=7, radius=20.0))
    assert ball.triangles > COARSE_FROM
    coarse = dress(ball, edges=False).coarse
    assert coarse is not None
    assert coarse.GetNumberOfCells() < ball.triangles / 3
    assert np.allclose(coarse.GetBounds(), (-20, 20) * 3, atol=0.5)


def test_a_new_mesh_goes_into_the_same_actor(layers: Layers) -> None:
    body = Body(item(), layers)
    actors, data = body.actors, body.data
    body.put_on(dress(body.item.mesh, True))
    other = halves(5.0)["lower"]
    assert body.update(replace(body.item, mesh=other))
    assert body.actors == actors
    assert body.data is data
    assert data.GetBounds()[5] == pytest.approx(5.0)
    mapper = actors[0].GetMapper()
    assert mapper.GetInput() is data  # not the old mesh's dressing
    assert layers.solid.GetActors().GetNumberOfItems() == 2  # surface and edges


def test_a_dressing_that_comes_too_late_is_refused(layers: Layers) -> None:
    body = Body(item(), layers)
    late = dress(body.item.mesh, True)
    body.update(replace(body.item, mesh=halves(5.0)["lower"]))
    assert not body.put_on(late)
    assert body.actors[0].GetMapper().GetInput() is body.data


def test_nothing_new_changes_nothing(layers: Layers) -> None:
    body = Body(item(), layers)
    before = [actor.GetMTime() for actor in body.actors]
    assert not body.update(body.item)
    assert [actor.GetMTime() for actor in body.actors] == before


def test_ghost_and_solid_are_not_the_same_body(layers: Layers) -> None:
    ghost = Body(item(0.35), layers)
    assert layers.solid.GetActors().GetNumberOfItems() == 0
    assert not ghost.suits(item())
    assert ghost.suits(item(0.8))
    ghost.remove()
    assert layers.over.GetActors().GetNumberOfItems() == 0
    assert layers.veil.GetActors().GetNumberOfItems() == 0


@pytest.mark.parametrize("opacity", [0.1, 0.35, 0.9])
def test_the_ghosts_two_layers_make_up_its_opacity(layers: Layers, opacity: float) -> None:
    """Two sheets of opacity a and b let (1 - a)(1 - b) through."""
    body = Body(item(opacity), layers)
    over, veil = (body.actors[i].GetProperty().GetOpacity() for i in (1, 3))
    assert (1 - over) * (1 - veil) == pytest.approx(1 - opacity)
    assert 0 < veil < over


def test_the_flat_around_a_face() -> None:
    mesh = part()
    top = next(i for i, face in enumerate(mesh.faces) if (mesh.vertices[face][:, 2] == 20).all())
    flat = flat_around(mesh, top)
    assert flat.sum() == 2  # a rectangle of two triangles
    assert (mesh.vertices[mesh.faces[flat]][..., 2] == 20).all()


def test_a_flat_with_a_groove_is_one_flat_and_its_underside_another() -> None:
    left = box(np.array([[0.0, 0, 0], [1, 4, 2]]))
    right = box(np.array([[3.0, 0, 0], [4, 4, 2]]))
    both = mesh_of(trimesh.util.concatenate([trimesh.Trimesh(m.vertices, m.faces) for m in (left, right)]))
    tops = np.flatnonzero((both.vertices[both.faces][..., 2] == 2).all(axis=1))
    assert set(np.flatnonzero(flat_around(both, int(tops[0])))) == set(tops)


def test_a_heavy_ghost_is_exact_in_front_and_a_stand_in_through_the_halves(layers: Layers) -> None:
    ball = mesh_of(trimesh.creation.icosphere(subdivisions=7, radius=20.0))
    body = Body(Item("part-0", "part", ball, "#7A4E9E", 0.35), layers)
    made = dress(ball, edges=True)
    body.put_on(made)
    drawn = [actor.GetMapper().GetInput() for actor in body.actors]
    assert drawn == [made.shaded, made.shaded, made.coarse, made.coarse]
    body.set_moving(True)
    assert all(actor.GetMapper().GetInput() is made.coarse for actor in body.actors)
    body.set_moving(False)
    assert body.actors[0].GetMapper().GetInput() is made.shaded


def test_a_heavy_mesh_waits_for_its_lighter_copy_and_is_measured_exactly(
    layers: Layers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bodies, "HEAVY_FROM", 5_000)
    monkeypatch.setattr(bodies, "HEAVY_CELLS", 16)
    ball = trimesh.creation.icosphere(subdivisions=5, radius=10.0)  # 20 x 4^5 = 20,480 triangles
    mesh = mesh_of(ball)
    body = Body(Item("part-0", "part", mesh, "#7A4E9E", 0.35, edges=False), layers)
    assert body.heavy
    assert body.data.GetNumberOfPolys() == 0
    made = dress(mesh, edges=False)
    assert body.put_on(made)
    drawn = body.actors[0].GetMapper().GetInput()
    assert 100 < drawn.GetNumberOfPolys() < 5_000
    assert np.abs(np.array(drawn.GetBounds()) - [-10, 10] * 3).max() < 1.0
    assert made.normals.shape == (20_480, 3)
    # On a ball about the origin every triangle's normal points along its middle, but for its own flatness.
    middle = ball.triangles_center / np.linalg.norm(ball.triangles_center, axis=1)[:, None]
    assert (made.normals * middle).sum(axis=1).min() > 0.9999
    # The ray meets an exact triangle, within its sagitta of the ball: less than 0.01 mm here.
    points, cells = vtkPoints(), vtkIdList()
    made.locator.IntersectWithLine([0.3, 0.2, 50.0], [0.3, 0.2, 0.0], points, cells)
    assert np.linalg.norm(points.GetPoint(0)) == pytest.approx(10.0, abs=0.01)
    assert mesh.vertices[mesh.faces[cells.GetId(0)]].shape == (3, 3)


def test_a_flat_is_found_alike_with_and_without_known_normals() -> None:
    mesh = part()
    for face in range(0, mesh.triangles, 7):
        assert (flat_around(mesh, face) == flat_around(mesh, face, bodies.face_normals(mesh))).all()
