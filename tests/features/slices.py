"""Measuring bodies as exported, by slicing them with trimesh, which knows nothing of how they were made.

Everything here takes a body of ours, which is first written as STL and read back, or what trimesh has read.
"""

from __future__ import annotations

import io
from collections.abc import Iterable

import numpy as np
import trimesh
from numpy.typing import ArrayLike, NDArray

from housingdesk.files.write import stl_bytes
from housingdesk.geometry.solid import Solid

Floats = NDArray[np.float64]
UP = (0.0, 0.0, 1.0)


def exported(body: Solid | trimesh.Trimesh) -> trimesh.Trimesh:
    """Return a body as its STL file has it."""
    if isinstance(body, trimesh.Trimesh):
        return body
    mesh = trimesh.load(io.BytesIO(stl_bytes(body.mesh(), "half")), file_type="stl", force="mesh")
    assert mesh.is_watertight
    return mesh


def loops(body: Solid | trimesh.Trimesh, origin: ArrayLike, normal: ArrayLike) -> list[Floats]:
    """Return the closed outlines, each (k, 3), in which a plane cuts a body."""
    cut = exported(body).section(plane_origin=origin, plane_normal=normal)
    return [] if cut is None else [np.asarray(d, float) for d in cut.discrete]


def area_of(loop: Floats) -> float:
    """Return the area within a flat loop, (k, 3), by the vector area theorem."""
    return float(np.linalg.norm(np.cross(loop[:-1], loop[1:]).sum(axis=0)) / 2)


def holes(body: Solid | trimesh.Trimesh, origin: ArrayLike, normal: ArrayLike) -> list[Floats]:
    """Return the loops that lie within the largest one."""
    found = sorted(loops(body, origin, normal), key=area_of, reverse=True)
    return found[1:]


def size_of(loop: Floats) -> Floats:
    """(3,) extents of a loop."""
    return np.asarray(np.ptp(loop, axis=0))


def round_of(loop: Floats) -> tuple[Floats, float, float]:
    """Return the middle of a round loop and the least and greatest radius of its sides about it."""
    middle = (loop.min(axis=0) + loop.max(axis=0)) / 2
    return middle, *_radii(loop, middle)


def bore_at(body: Solid | trimesh.Trimesh, xy: ArrayLike, z: float) -> tuple[float, float]:
    """Return the least and greatest diameter of the hole or pin round an upright axis in a level slice."""
    at = np.array([*np.asarray(xy, float), z])
    round_it = [loop for loop in loops(body, at, UP) if _turns(loop[:, :2] - at[:2])]
    assert round_it, "no line runs round the axis here"
    least, most = _radii(min(round_it, key=lambda line: float(size_of(line).max())), at)
    return 2 * least, 2 * most


def hole_about(bodies: Iterable[trimesh.Trimesh], at: ArrayLike, out: ArrayLike, slack_mm: float) -> Floats:
    """Return the (3,) extents of the smallest loop round a place, on the plane across a direction."""
    place = np.asarray(at, float)
    sizes = [
        size_of(line)
        for body in bodies
        for line in loops(body, place, out)
        if (line.min(axis=0) <= place + slack_mm).all() and (line.max(axis=0) >= place - slack_mm).all()
    ]
    return min(sizes, key=lambda s: float(np.linalg.norm(s)))


def free_radius(
    bodies: Iterable[Solid | trimesh.Trimesh], mouth: ArrayLike, axis: ArrayLike, deep_mm: float
) -> float:
    """Return the least distance of material to an axis, so far inside the mouth of a hole."""
    at = np.asarray(mouth, float) - deep_mm * np.asarray(axis, float)
    return min(_radii(loop, at)[0] for body in bodies for loop in loops(body, at, axis))


def crossings(body: Solid | trimesh.Trimesh, at: ArrayLike, along: ArrayLike, normal: ArrayLike) -> Floats:
    """Return how far from a place a line crosses the outlines of the slice it lies in, rising, (n,) mm.

    Parameters
    ----------
    at, along : a (3,) place and the line's (3,) direction.
    normal : (3,) of the slice, across the line.
    """
    place, way = np.asarray(at, float), np.asarray(along, float) / np.linalg.norm(along)
    across = np.cross(np.asarray(normal, float) / np.linalg.norm(normal), way)
    found = []
    for loop in loops(body, place, normal):
        u, v = (loop - place) @ way, (loop - place) @ across
        i = np.flatnonzero((v[:-1] > 0) != (v[1:] > 0))
        found.append(u[i] - v[i] * (u[i + 1] - u[i]) / (v[i + 1] - v[i]))
    return np.sort(np.concatenate(found)) if found else np.zeros(0)


def free(
    bodies: Iterable[Solid | trimesh.Trimesh], at: ArrayLike, along: ArrayLike, normal: ArrayLike
) -> tuple[float, float]:
    """Return how far it is from a free place to the next outline of any body, back and ahead; see above."""
    every = np.concatenate([crossings(body, at, along, normal) for body in bodies])
    return float(-every[every < 0].max(initial=-np.inf)), float(every[every > 0].min(initial=np.inf))


def _radii(loop: Floats, middle: Floats) -> tuple[float, float]:
    """Return how near the sides of a loop come to a place, and how far its corners are from it."""
    a, along = loop[:-1], np.diff(loop, axis=0)
    share = np.einsum("ij,ij->i", middle - a, along) / np.maximum(np.einsum("ij,ij->i", along, along), 1e-30)
    sides = np.linalg.norm(a + np.clip(share, 0, 1)[:, None] * along - middle, axis=1)
    return float(sides.min()), float(np.linalg.norm(a - middle, axis=1).max())


def _turns(loop: Floats) -> bool:
    """Tell whether a closed line, (k, 2), runs round the origin: its angle adds up to a whole turn."""
    angle = np.unwrap(np.arctan2(loop[:, 1], loop[:, 0]))
    return bool(abs(angle[-1] - angle[0]) > np.pi)
