"""Bodies of a scene as VTK draws them.

A body keeps its actors for life: a new mesh goes into the same ``vtkPolyData``, a new colour into the
same property.  What takes longer than a frame (shading split at the creases, thin edge lines, a coarse
stand-in, the search tree for the mouse) is a ``Dressing``, made in another thread once a mesh has come
to rest; VTK lets go of Python's lock while a filter runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkDataArray, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData, vtkStaticCellLocator
from vtkmodules.vtkFiltersCore import vtkFeatureEdges, vtkPolyDataNormals, vtkQuadricClustering
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper, vtkRenderer

from housingdesk.geometry.types import Floats, Mesh
from housingdesk.view3d.creases import crease_lines
from housingdesk.view3d.palette import channels, mixed
from housingdesk.view3d.scene import Item

CREASE_DEG = 30.0
COARSE_FROM = 60_000  # triangles; smaller meshes need no stand-in while the view moves
COARSE_CELLS = 90  # at most, of the stand-in's grid along each side
HEAVY_FROM = 300_000  # triangles; a finer mesh is drawn by a lighter copy, and only once that is made
HEAVY_CELLS = 128  # of that copy's grid along each side; a screen shows no more
VEIL_SHARE = 0.38  # how much of the ghost is seen through the halves that hide it


def poly_data(mesh: Mesh) -> vtkPolyData:
    """Return a mesh as VTK's own value; float32, which is 0.00003 mm at 500 mm."""
    out = vtkPolyData()
    fill(out, mesh)
    return out


def fill(target: vtkPolyData, mesh: Mesh) -> None:
    """Put a mesh into an existing ``vtkPolyData`` and drop what it held before."""
    points = vtkPoints()
    points.SetData(_vtk_array(mesh.vertices.astype(np.float32)))
    cells = vtkCellArray()
    cells.SetData(3, _vtk_array(mesh.faces.ravel()))
    target.Initialize()
    target.SetPoints(points)
    target.SetPolys(cells)


def _vtk_array(values: NDArray[np.float32] | NDArray[np.int32] | NDArray[np.uint8]) -> vtkDataArray:
    array: vtkDataArray = numpy_to_vtk(values, deep=True)  # type: ignore[no-untyped-call]  # VTK leaves it untyped
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Dressing:
    """What is worked out about a mesh at rest.

    Attributes
    ----------
    shaded : the mesh with normals, split where it bends by more than 30 degrees; of a heavy mesh, of a
        lighter copy.
    edges : those bends and open borders as lines; None where they are not wanted.
    coarse : a stand-in for moving views, or None where the mesh is light enough.
    locator : finds the triangle under a ray, always of the exact mesh; cell ids are face indices.
    normals : (m, 3) unit normals of the exact triangles, 0 where a triangle has none.
    """

    mesh: Mesh
    shaded: vtkPolyData
    edges: vtkPolyData | None
    coarse: vtkPolyData | None
    locator: vtkStaticCellLocator
    normals: Floats


def dress(mesh: Mesh, edges: bool) -> Dressing:
    """Work out a mesh's dressing.  Shares nothing with what is on screen, so any thread may call it."""
    raw = poly_data(mesh)
    locator = vtkStaticCellLocator()
    locator.SetDataSet(raw)
    locator.BuildLocator()
    drawn = raw if mesh.triangles < HEAVY_FROM else _clustered(raw, HEAVY_CELLS)
    normals = vtkPolyDataNormals()
    normals.SetInputData(drawn)
    normals.SetFeatureAngle(CREASE_DEG)
    normals.ConsistencyOff()  # parts are shown as found
    normals.Update()
    return Dressing(
        mesh,
        shaded=normals.GetOutput(),
        edges=_edges(drawn, mesh if drawn is raw else None) if edges else None,
        coarse=None if mesh.triangles < COARSE_FROM else _clustered(drawn, COARSE_CELLS),
        locator=locator,
        normals=face_normals(mesh),
    )


def face_normals(mesh: Mesh) -> Floats:
    """Return (m, 3) unit normals of a mesh's triangles, 0 where a triangle has none."""
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    lengths = np.linalg.norm(normals, axis=1)
    return np.asarray(normals / np.where(lengths > 0, lengths, 1.0)[:, None])


def _edges(drawn: vtkPolyData, mesh: Mesh | None) -> vtkPolyData:
    """Return bends and borders as lines; of a lighter copy of a mesh (``mesh`` None) as VTK finds them."""
    if mesh is not None:
        return _lines(mesh, crease_lines(mesh, CREASE_DEG))
    finder = vtkFeatureEdges()
    finder.SetInputData(drawn)
    finder.SetFeatureAngle(CREASE_DEG)
    finder.ColoringOff()
    finder.ManifoldEdgesOff()
    finder.NonManifoldEdgesOff()
    finder.Update()
    out: vtkPolyData = finder.GetOutput()
    return out


def _lines(mesh: Mesh, pairs: NDArray[np.int64]) -> vtkPolyData:
    """Return pairs of a mesh's vertices as VTK's lines."""
    used, number = np.unique(pairs, return_inverse=True)
    points = vtkPoints()
    points.SetData(_vtk_array(mesh.vertices[used].astype(np.float32)))
    cells = vtkCellArray()
    cells.SetData(2, _vtk_array(number.astype(np.int32).ravel()))
    out = vtkPolyData()
    out.SetPoints(points)
    out.SetLines(cells)
    return out


def _clustered(raw: vtkPolyData, cells: int) -> vtkPolyData:
    """Return a lighter copy: all vertices in one cell of a grid become one."""
    clusters = vtkQuadricClustering()
    clusters.SetInputData(raw)
    clusters.SetNumberOfDivisions(cells, cells, cells)
    clusters.Update()
    out: vtkPolyData = clusters.GetOutput()
    return out


@dataclass(frozen=True, slots=True)
class Layers:
    """The renderers bodies are drawn in, back to front.

    Attributes
    ----------
    solid : halves and frame; over : the ghost where nothing hides it; veil : the ghost once more,
        faintly, also where something does.
    """

    solid: vtkRenderer
    over: vtkRenderer
    veil: vtkRenderer


_VEIL = 2  # a ghost's skins from here on are in the veil


class _Skin:
    """One actor with its mapper, in one layer."""

    def __init__(self, layer: vtkRenderer, data: vtkPolyData) -> None:
        self.layer = layer
        self.mapper = vtkPolyDataMapper()
        self.mapper.SetInputData(data)
        self.mapper.ScalarVisibilityOff()
        self.actor = vtkActor()
        self.actor.SetMapper(self.mapper)
        layer.AddActor(self.actor)

    def remove(self) -> None:
        self.layer.RemoveActor(self.actor)


class Body:
    """An item on the bench, solid or ghost for life."""

    def __init__(self, item: Item, layers: Layers) -> None:
        self.item = item
        self.dressing: Dressing | None = None
        self._moving = False
        self._data = vtkPolyData()
        self._arrive()
        if item.opacity < 1:
            # Of a translucent body only the nearest surface is wanted, whatever the order and the
            # orientation of its triangles.  Two opaque passes give that without peeling: the first, of
            # no visible density, only writes depth; the second blends where it is still the nearest.
            passes = (layers.over, layers.over, layers.veil, layers.veil)
            self._skins = [_Skin(layer, self._data) for layer in passes]
            self._lines = [_Skin(layer, vtkPolyData()) for layer in (layers.over, layers.veil)]
            for skin in (*self._skins, *self._lines):
                skin.actor.ForceOpaqueOn()
        else:
            self._skins = [_Skin(layers.solid, self._data)]
            self._lines = [_Skin(layers.solid, vtkPolyData())]
        for skin in self._skins:
            # Lines and highlights lie on the surface; push it back a little so that they win.
            skin.mapper.SetResolveCoincidentTopologyToPolygonOffset()
            skin.mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(1.0, 1.0)
        for line in self._lines:
            line.actor.VisibilityOff()
            line.actor.GetProperty().LightingOff()
        self._paint()
        self._place()
        self._choose()

    @property
    def actors(self) -> tuple[vtkActor, ...]:
        """The surface's actors."""
        return tuple(skin.actor for skin in self._skins)

    @property
    def data(self) -> vtkPolyData:
        """The mesh as it arrived; one object for the body's life."""
        return self._data

    def suits(self, item: Item) -> bool:
        """Whether this body can become the item without new actors."""
        return (item.opacity < 1) == (self.item.opacity < 1)

    def update(self, item: Item) -> bool:
        """Apply what differs; return whether anything does."""
        old, self.item = self.item, item
        if item == old:
            return False
        if item.mesh is not old.mesh:
            self._arrive()
            self.dressing = None
            self._choose()
        elif item.edges != old.edges:
            self._choose()
        if (item.colour, item.opacity) != (old.colour, old.opacity):
            self._paint()
        if item.paint is not old.paint:
            self._tint()
        if item.lift_z != old.lift_z:
            self._place()
        return True

    def wants_dressing(self) -> bool:
        """Whether the mesh has not been dressed as the item asks."""
        return self.dressing is None or (self.item.edges and self.dressing.edges is None)

    def put_on(self, dressing: Dressing) -> bool:
        """Take a dressing made elsewhere; False when it is for a mesh that has gone."""
        if dressing.mesh is not self.item.mesh:
            return False
        self.dressing = dressing
        self._choose()
        return True

    def set_moving(self, moving: bool) -> None:
        """Draw more coarsely while the view or the plane moves."""
        if moving != self._moving:
            self._moving = moving
            self._choose()

    def set_line_width(self, pixels: float) -> None:
        """Draw edge lines this many device pixels wide."""
        for line in self._lines:
            line.actor.GetProperty().SetLineWidth(pixels)

    def remove(self) -> None:
        """Take the body off the bench."""
        for skin in (*self._skins, *self._lines):
            skin.remove()

    @property
    def heavy(self) -> bool:
        """Whether the mesh is too fine to be worked on in the window's thread."""
        return self.item.mesh.triangles >= HEAVY_FROM

    def _arrive(self) -> None:
        """Take the mesh as it came; a heavy one is not seen before its dressing."""
        if self.heavy:
            self._data.Initialize()
        else:
            fill(self._data, self.item.mesh)

    def _choose(self) -> None:
        """Choose what the mappers draw: as arrived, dressed, or the stand-in."""
        dressing = self.dressing
        data, smooth, lines = self._data, False, None
        if dressing is not None and self._moving and dressing.coarse is not None:
            data = dressing.coarse
        elif dressing is not None:
            data, smooth, lines = dressing.shaded, True, dressing.edges
        # Through the halves only the outlines of a ghost are made out: the stand-in always serves.
        veiled = dressing.coarse if dressing is not None and dressing.coarse is not None else data
        for i, skin in enumerate(self._skins):
            chosen = veiled if i >= _VEIL else data
            skin.mapper.SetInputData(chosen)
            prop = skin.actor.GetProperty()
            if smooth and chosen is data:
                prop.SetInterpolationToPhong()
            else:
                prop.SetInterpolationToFlat()
        for line in self._lines:
            if lines is not None:
                line.mapper.SetInputData(lines)
            line.actor.SetVisibility(lines is not None and self.item.edges)
        self._tint()

    def _tint(self) -> None:
        """Give each face its own colour where the item has one; stand-ins have other faces and keep one."""
        paint = self.item.paint
        for skin in self._skins:
            data = skin.mapper.GetInput()
            fits = paint is not None and data.GetNumberOfCells() == len(paint.rgb)
            skin.mapper.SetScalarVisibility(fits)
            if paint is not None and fits:
                data.GetCellData().SetScalars(_vtk_array(paint.rgb))
                skin.mapper.SetScalarModeToUseCellData()
                skin.mapper.SetColorModeToDirectScalars()

    def _paint(self) -> None:
        item = self.item
        solid = item.opacity == 1
        for skin in self._skins:
            prop = skin.actor.GetProperty()
            prop.SetColor(*channels(item.colour))
            prop.SetAmbient(0.34 if solid else 0.5)
            prop.SetDiffuse(1.0 if solid else 0.75)
        for line in self._lines:
            line.actor.GetProperty().SetColor(
                *channels(mixed(item.colour, "#000000", 0.55 if solid else 0.2))
            )
        if not solid:
            veil = item.opacity * VEIL_SHARE
            # Where nothing hides the ghost both layers are seen; together they make up its opacity.
            over = 1 - (1 - item.opacity) / (1 - veil)
            for skin, opacity in zip(self._skins, (0.001, over, 0.001, veil), strict=True):
                skin.actor.GetProperty().SetOpacity(opacity)
            for line, opacity in zip(self._lines, (item.opacity, veil), strict=True):
                line.actor.GetProperty().SetOpacity(opacity)

    def _place(self) -> None:
        for skin in (*self._skins, *self._lines):
            skin.actor.SetPosition(0.0, 0.0, self.item.lift_z)


def flat_around(
    mesh: Mesh, face: int, normals: Floats | None = None, angle_deg: float = 1.0, step_mm: float = 0.02
) -> NDArray[np.bool_]:
    """Return which triangles lie in the plane of one triangle.

    Parameters
    ----------
    face : index of the triangle clicked.
    normals : (m, 3) those of the mesh, where they are known already.
    angle_deg, step_mm : how far a triangle may lean and stand off and still count.

    Returns
    -------
    (m,) bool; every coplanar triangle that faces the same way, also beyond a groove.
    """
    normals = face_normals(mesh) if normals is None else normals
    plane = normals[face]
    out = np.asarray(normals @ plane > np.cos(np.radians(angle_deg)))
    alike = np.flatnonzero(out)
    corners = mesh.vertices[mesh.faces[alike]] - mesh.vertices[mesh.faces[face, 0]]
    out[alike] = np.abs(corners @ plane).max(axis=1) < step_mm
    out[face] = True
    return out
