"""Measuring exported halves with outside libraries: trimesh slices, nothing of the program's own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

from housingdesk.files.write import write_stl
from housingdesk.geometry.solid import Outline, Solid


def exported(half: Solid, folder: Path, name: str = "half") -> trimesh.Trimesh:
    """Write a half as STL and read it back."""
    path = folder / f"{name}.stl"
    write_stl(path, half.mesh(), name)
    mesh = trimesh.load(path, force="mesh")
    assert mesh.is_watertight
    return mesh


def loops_at(mesh: trimesh.Trimesh, z: float) -> list[np.ndarray]:
    """Return the closed lines of a level slice, each (k, 2)."""
    cut = mesh.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
    return [] if cut is None else [np.asarray(line)[:, :2] for line in cut.discrete]


def bore_at(mesh: trimesh.Trimesh, xy: tuple[float, float], z: float) -> tuple[float, float]:
    """Return the least and greatest diameter of the hole round an axis in a level slice."""
    round_it = [loop for loop in loops_at(mesh, z) if _turns(loop, xy)]
    assert round_it, "no line runs round the axis here"
    loop = min(round_it, key=lambda line: float(np.ptp(line, axis=0).max()))
    return 2 * _segment_distance(loop, xy), 2 * float(np.linalg.norm(loop - xy, axis=1).max())


def _turns(loop: np.ndarray, xy: tuple[float, float]) -> bool:
    """Tell whether a closed line runs round a point: its angle seen from there adds up to a whole turn."""
    angle = np.unwrap(np.arctan2(loop[:, 1] - xy[1], loop[:, 0] - xy[0]))
    return abs(angle[-1] - angle[0]) > np.pi


def _segment_distance(loop: np.ndarray, xy: tuple[float, float]) -> float:
    a, b = loop[:-1], loop[1:]
    way = b - a
    t = np.clip(((xy - a) * way).sum(1) / np.maximum((way * way).sum(1), 1e-30), 0, 1)
    return float(np.linalg.norm(a + t[:, None] * way - xy, axis=1).min())


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
