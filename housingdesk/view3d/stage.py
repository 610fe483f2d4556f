"""The VTK side of the bench: layers, light, camera, bodies and the plane's frame.  No Qt."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkCommonCore import vtkIdList, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
)

from housingdesk.geometry.types import Floats, Mesh
from housingdesk.view3d.bodies import Body, Dressing, Layers, dress, fill, flat_around
from housingdesk.view3d.camera import VIEW_ANGLE_DEG, Eye, clipping_mm
from housingdesk.view3d.palette import channels
from housingdesk.view3d.scene import EMPTY, PlaneFrame, Point, Scene, Spot

SOFTWARE_RENDERERS = ("llvmpipe", "softpipe", "swrast", "swiftshader", "gdi generic")
SAMPLES = 4  # a pixel
SMOOTH_TRIANGLES = 150_000  # without a graphics card, more than these are drawn with plain outlines
FRAME_PX = 2.0  # width of the plane's frame
HIDES_MM = 1.0  # a body that a place lies in by less does not hide it
CUT_PX = 1.3  # of the section's cutting line


class Stage:
    """Draws scenes into a render window that somebody else owns."""

    def __init__(self, window: vtkRenderWindow, first: vtkRenderer) -> None:
        self._window = window
        self.scene = EMPTY
        self.bodies: dict[str, Body] = {}
        self.layers = Layers(first, vtkRenderer(), vtkRenderer())
        window.SetNumberOfLayers(3)
        self._lights = _lights()
        renderers = (first, self.layers.over, self.layers.veil)
        for depth, renderer in enumerate(renderers):
            renderer.SetLayer(depth)
            renderer.SetInteractive(depth == 0)
            renderer.SetActiveCamera(first.GetActiveCamera())
            renderer.AutomaticLightCreationOff()
            renderer.RemoveAllLights()
            for light in self._lights:
                renderer.AddLight(light)
            if depth:
                window.AddRenderer(renderer)
        self.layers.over.PreserveDepthBufferOn()  # the ghost goes behind what is before it
        self._frame, self._frame_data = _line_actor(FRAME_PX)
        self._cut, self._cut_data = _line_actor(CUT_PX)
        self._flat, self._flat_data = _flat_actor()
        first.AddActor(self._cut)
        first.AddActor(self._frame)
        first.AddActor(self._flat)
        self._flat_key: tuple[Mesh, NDArray[np.bool_]] | None = None
        self._line_ratio = 1.0
        self._slow = False
        self._colour_ground()

    def show(self, scene: Scene) -> None:
        """Apply the difference between this scene and the last."""
        old, self.scene = self.scene, scene
        wanted = {item.name: item for item in scene.items}
        for name, body in list(self.bodies.items()):
            if name not in wanted or not body.suits(wanted[name]):
                body.remove()
                del self.bodies[name]
        for name, item in wanted.items():
            if name in self.bodies:
                self.bodies[name].update(item)
            else:
                self.bodies[name] = Body(item, self.layers)
                self.bodies[name].set_line_width(self._line_ratio)
        if scene.palette != old.palette:
            self._colour_ground()
        if scene.plane != old.plane:
            self._draw_frame(old.plane, scene.plane)
        if scene.cut != old.cut:
            self._cut.SetVisibility(scene.cut is not None)
            if scene.cut is not None:
                _draw_ring(self._cut_data, scene.cut.corners)
        if scene.items != old.items:
            self.highlight(None)

    def set_frame_z(self, z_mm: float) -> None:
        """Move the plane's frame, ahead of the next scene while it is being dragged."""
        self._frame.SetPosition(0.0, 0.0, z_mm)

    def set_eye(self, eye: Eye) -> None:
        """Put the camera where the viewer stands."""
        camera = self.layers.solid.GetActiveCamera()
        camera.SetViewAngle(VIEW_ANGLE_DEG)
        camera.SetFocalPoint(*eye.view.focus_mm)
        camera.SetPosition(*(float(v) for v in eye.view.eye()))
        camera.SetViewUp(*(float(v) for v in eye.view.axes()[1]))
        camera.SetClippingRange(*clipping_mm(eye.view, self.bounds_mm()))

    def bounds_mm(self) -> Floats:
        """(2, 3) corners around everything drawn; a hand's breadth when the bench is empty."""
        box = self.scene.bounds_mm()
        if box is None:
            return np.array([[-50.0, -50, 0], [50, 50, 50]])
        plane = self.scene.plane
        if plane is not None:
            ring = np.asarray(plane.corners)
            box[0, :2] = np.minimum(box[0, :2], ring.min(axis=0))
            box[1, :2] = np.maximum(box[1, :2], ring.max(axis=0))
        return box

    def spot_at(self, eye: Eye, x: float, y: float, wait: bool) -> Spot | None:
        """Return what a pixel shows.

        Parameters
        ----------
        wait : work out bodies that are not dressed yet; otherwise, and heavy ones, they are passed by.
        """
        origin, direction = eye.ray(x, y)
        reach = eye.view.distance_mm + float(np.linalg.norm(np.ptp(self.bounds_mm(), axis=0)))
        best: tuple[float, Spot] | None = None
        for body in self.bodies.values():
            if body.dressing is None and wait and not body.heavy:
                body.put_on(dress(body.item.mesh, body.item.edges))
            if body.dressing is None:
                continue
            lift = np.array([0.0, 0.0, body.item.lift_z])
            hit = _hit(body.dressing, origin - lift, direction, 2 * reach)
            if hit is not None and (best is None or hit[0] < best[0]):
                best = hit[0], Spot(body.item.name, *hit[1:])
        return best[1] if best else None

    def hidden(self, eye: Eye, places_mm: Floats) -> tuple[bool, ...]:
        """Return of each (n, 3) place whether a solid body, once it is dressed, lies before it."""
        solid = [b for b in self.bodies.values() if b.item.opacity >= 1.0 and b.dressing is not None]
        out = []
        for place in np.asarray(places_mm, float).reshape(-1, 3):
            way = place - eye.view.eye()
            far = float(np.linalg.norm(way))
            reach = far - HIDES_MM
            out.append(reach > 0 and any(_bars(b, eye.view.eye(), way / far, reach) for b in solid))
        return tuple(out)

    def highlight(self, spot: Spot | None) -> bool:
        """Colour the flat a spot lies on; return whether that changes the picture."""
        body = self.bodies.get(spot.item) if spot else None
        if spot is None or body is None:
            changed, self._flat_key = self._flat_key is not None, None
            self._flat.VisibilityOff()
            return changed
        mesh = body.item.mesh
        if self._flat_key and self._flat_key[0] is mesh and self._flat_key[1][spot.face]:
            return False  # another triangle of the same flat
        normals = body.dressing.normals if body.dressing is not None else None
        flat = flat_around(mesh, spot.face, normals)
        self._flat_key = (mesh, flat)
        fill(self._flat_data, _part_of(mesh, flat))
        self._flat.SetPosition(0.0, 0.0, body.item.lift_z)
        self._flat.VisibilityOn()
        return True

    def set_moving(self, moving: bool) -> None:
        """Draw more coarsely while something moves."""
        for body in self.bodies.values():
            body.set_moving(moving)
        if self._slow:
            heavy = sum(body.item.mesh.triangles for body in self.bodies.values()) > SMOOTH_TRIANGLES
            self._window.SetMultiSamples(0 if moving or heavy else SAMPLES)

    def set_line_scale(self, ratio: float) -> None:
        """Widen the lines on dense screens."""
        self._line_ratio = ratio
        self._frame.GetProperty().SetLineWidth(FRAME_PX * ratio)
        self._cut.GetProperty().SetLineWidth(CUT_PX * ratio)
        for body in self.bodies.values():
            body.set_line_width(ratio)

    def smooth(self) -> None:
        """Turn on the smoothing of outlines, once the graphics are up.

        On a graphics card it costs nothing; without one it is left off while something moves.
        """
        drawn_by = self._window.ReportCapabilities().lower()
        self._slow = any(name in drawn_by for name in SOFTWARE_RENDERERS)
        self._window.SetMultiSamples(SAMPLES)

    def clear(self) -> None:
        """Take everything off, so that nothing outlives the window."""
        for body in self.bodies.values():
            body.remove()
        self.bodies.clear()
        for renderer in (self.layers.over, self.layers.veil):
            self._window.RemoveRenderer(renderer)

    def _colour_ground(self) -> None:
        colours = self.scene.palette
        self.layers.solid.GradientBackgroundOff()
        self.layers.solid.SetBackground(*channels(colours.paper))
        self._frame.GetProperty().SetColor(*channels(colours.ink))
        self._cut.GetProperty().SetColor(*channels(colours.ink))
        self._flat.GetProperty().SetColor(*channels(colours.snap))

    def _draw_frame(self, old: PlaneFrame | None, new: PlaneFrame | None) -> None:
        self._frame.SetVisibility(new is not None)
        if new is None:
            return
        self.set_frame_z(new.z_mm)
        if old is None or old.corners != new.corners:
            _draw_ring(self._frame_data, [(x, y, 0.0) for x, y in new.corners])


def _part_of(mesh: Mesh, faces: NDArray[np.bool_]) -> Mesh:
    """Return some faces of a mesh with their own vertices alone."""
    used, where = np.unique(mesh.faces[faces], return_inverse=True)
    return Mesh(mesh.vertices[used], where.reshape(-1, 3).astype(np.int32))


def _draw_ring(target: vtkPolyData, corners: Sequence[Point]) -> None:
    points, ring = vtkPoints(), vtkCellArray()
    ring.InsertNextCell(len(corners) + 1)
    for corner in corners:
        ring.InsertCellPoint(points.InsertNextPoint(*corner))
    ring.InsertCellPoint(0)
    target.SetPoints(points)
    target.SetLines(ring)


def _bars(body: Body, origin: Floats, direction: Floats, reach_mm: float) -> bool:
    """Tell whether a body, where it is drawn, meets a ray within a reach."""
    assert body.dressing is not None
    lift = np.array([0.0, 0.0, body.item.lift_z])
    return _hit(body.dressing, origin - lift, direction, reach_mm) is not None


def _hit(
    dressing: Dressing, origin: Floats, direction: Floats, reach_mm: float
) -> tuple[float, tuple[float, float, float], tuple[float, float, float], int] | None:
    """Return distance, point, normal towards the viewer and face of the first triangle on a ray."""
    far = origin + reach_mm * direction
    points, cells = vtkPoints(), vtkIdList()
    dressing.locator.IntersectWithLine(list(origin), list(far), points, cells)
    if not cells.GetNumberOfIds():
        return None
    at, face = points.GetPoint(0), cells.GetId(0)  # nearest first
    a, b, c = dressing.mesh.vertices[dressing.mesh.faces[face]]
    normal = np.cross(b - a, c - a)
    normal /= max(float(np.linalg.norm(normal)), 1e-300)
    if normal @ direction > 0:
        normal = -normal
    return (
        float(np.linalg.norm(np.asarray(at) - origin)),
        (at[0], at[1], at[2]),
        (float(normal[0]), float(normal[1]), float(normal[2])),
        face,
    )


def _lights() -> tuple[vtkLight, ...]:
    """Return a soft light from the viewer's upper left, a weaker one from the right, a little from the front.

    They travel with the viewer, so that three sides of a block are always three tones.
    """
    out = []
    for position, strength in (((-0.35, 0.6, 0.9), 0.62), ((0.8, -0.1, 0.6), 0.2), ((0.0, 0.0, 1.0), 0.25)):
        light = vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetPosition(*position)
        light.SetFocalPoint(0.0, 0.0, 0.0)
        light.SetIntensity(strength)
        out.append(light)
    return tuple(out)


def _line_actor(width: float) -> tuple[vtkActor, vtkPolyData]:
    data = vtkPolyData()
    actor = _actor(data)
    actor.GetProperty().SetLineWidth(width)
    actor.GetProperty().LightingOff()
    return actor, data


def _flat_actor() -> tuple[vtkActor, vtkPolyData]:
    data = vtkPolyData()
    actor = _actor(data)
    actor.GetProperty().SetAmbient(0.7)
    actor.GetProperty().SetDiffuse(0.5)
    return actor, data


def _actor(data: vtkPolyData) -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.VisibilityOff()
    return actor
