"""Measuring bodies by slicing them with trimesh, which knows nothing of how they were made."""

from __future__ import annotations

import numpy as np
import trimesh
from numpy.typing import ArrayLike, NDArray

from housingdesk.geometry.solid import Solid

Floats = NDArray[np.float64]


def as_trimesh(solid: Solid) -> trimesh.Trimesh:
    mesh = solid.mesh()
    return trimesh.Trimesh(np.array(mesh.vertices), np.array(mesh.faces), process=True)


def loops(solid: Solid, origin: ArrayLike, normal: ArrayLike) -> list[Floats]:
    """Return the closed outlines, each (k, 3), in which a plane cuts a body."""
    cut = as_trimesh(solid).section(plane_origin=origin, plane_normal=normal)
    return [] if cut is None else [np.asarray(d, float) for d in cut.discrete]


def area_of(loop: Floats) -> float:
    """Return the area within a flat loop, (k, 3), by the vector area theorem."""
    return float(np.linalg.norm(np.cross(loop[:-1], loop[1:]).sum(axis=0)) / 2)


def holes(solid: Solid, origin: ArrayLike, normal: ArrayLike) -> list[Floats]:
    """Return the loops that lie within the largest one."""
    found = sorted(loops(solid, origin, normal), key=area_of, reverse=True)
    return found[1:]


def size_of(loop: Floats) -> Floats:
    """(3,) extents of a loop."""
    return np.asarray(np.ptp(loop, axis=0))


def round_of(loop: Floats) -> tuple[Floats, float, float]:
    """Return the middle of a round loop and the least and greatest radius of its sides about it."""
    middle = (loop.min(axis=0) + loop.max(axis=0)) / 2
    a, b = loop[:-1], loop[1:]
    along = b - a
    share = np.einsum("ij,ij->i", middle - a, along) / np.maximum(np.einsum("ij,ij->i", along, along), 1e-30)
    foot = a + np.clip(share, 0, 1)[:, None] * along
    sides = np.linalg.norm(foot - middle, axis=1)
    return middle, float(sides.min()), float(np.linalg.norm(a - middle, axis=1).max())
