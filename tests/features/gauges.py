"""Gauges to try finished halves with: nuts, and lines that run along an axis."""

from __future__ import annotations

import numpy as np
import trimesh

from housingdesk.geometry.solid import Outline, Solid


def nut_solid(xy: tuple[float, float], flats: float, high: float, low_z: float, turn: float = 0.0) -> Solid:
    """A nut as a hexagon bar, flats along x unless turned."""
    angle = turn + np.arange(6) * np.pi / 3
    corners = np.asarray(xy) + flats / np.sqrt(3) * np.column_stack([np.cos(angle), np.sin(angle)])
    return Solid.prism(Outline.polygon(corners), low_z, low_z + high)


def bearing(half: Solid, xy: tuple[float, float], radius: float) -> float:
    """Return the height of the lowest material over a line beside an axis, found by the line's own body."""
    line = Solid.rod((xy[0] + radius, xy[1], -200.0), (xy[0] + radius, xy[1], 200.0), 0.01)
    return max(float(body.bounds[0, 2]) for body in (half & line).bodies())


def hits_along(mesh: trimesh.Trimesh, xy: tuple[float, float], radius: float) -> np.ndarray:
    """Return the heights at which an upright line, ``radius`` beside an axis, passes the surface."""
    start = np.array([[xy[0] + radius * np.cos(0.3), xy[1] + radius * np.sin(0.3), -1000.0]])
    places, _, _ = mesh.ray.intersects_location(start, np.array([[0.0, 0.0, 1.0]]), multiple_hits=True)
    return np.unique(np.round(places[:, 2], 5))
