"""Skins of no thickness: where two triangles of a body lie on each other, facing opposite ways."""

from __future__ import annotations

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from housingdesk.geometry.types import Mesh

Floats = NDArray[np.float64]
APART_MM = 0.002  # what lies nearer than this is no wall to any printer
LEAST_HEIGHT_MM = (
    0.01  # the direction of a narrower triangle is not known well, and it has no area to speak of
)
_ALIKE = 0.02  # how far directions and places of planes may differ to be looked at


def folded_mm2(body: Mesh | trimesh.Trimesh) -> float:
    """Return the area, mm2, over which a body's surface lies on itself, facing opposite ways."""
    corners = np.asarray(body.vertices, float)[np.asarray(body.faces)]
    sides = np.roll(corners, -1, axis=1) - corners
    across = np.cross(sides[:, 0], sides[:, 1])
    twice = np.linalg.norm(across, axis=1)
    broad = twice > LEAST_HEIGHT_MM * np.linalg.norm(sides, axis=2).max(axis=1)
    corners, normals = corners[broad], across[broad] / twice[broad, None]
    away = np.einsum("ij,ij->i", normals, corners.mean(axis=1))
    planes = np.column_stack([normals, away])
    tree = cKDTree(planes)
    total = 0.0
    for one, others in enumerate(tree.query_ball_point(-planes, _ALIKE)):
        for other in others:
            if one < other:
                total += _shared_mm2(corners[one], corners[other], normals[one])
    return total


def _shared_mm2(one: Floats, other: Floats, normal: Floats) -> float:
    """Return the area that two (3, 3) triangles share if they lie in one plane, of a unit (3,) normal."""
    if (one.max(axis=0) + APART_MM < other.min(axis=0)).any():
        return 0.0
    if (other.max(axis=0) + APART_MM < one.min(axis=0)).any():
        return 0.0
    if np.abs((other - one[0]) @ normal).max() > APART_MM:
        return 0.0
    u = (one[1] - one[0]) / np.linalg.norm(one[1] - one[0])
    flat = np.array([u, np.cross(normal, u)]).T
    window, seen = (one - one[0]) @ flat, (other - one[0]) @ flat
    for a, b in zip(window, np.roll(window, -1, axis=0), strict=True):
        seen = _left_of(seen, a, b)
        if len(seen) < 3:
            return 0.0
    x, y = seen.T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def _left_of(loop: Floats, a: Floats, b: Floats) -> Floats:
    """Return what of a convex loop, (k, 2), lies to the left of a line (Sutherland and Hodgman, 1974)."""
    way = b - a
    side = way[0] * (loop[:, 1] - a[1]) - way[1] * (loop[:, 0] - a[0])
    kept = []
    for i in range(len(loop)):
        j = (i + 1) % len(loop)
        if side[i] >= 0:
            kept.append(loop[i])
        if (side[i] > 0) != (side[j] > 0) and side[i] != side[j]:
            kept.append(loop[i] + (loop[j] - loop[i]) * side[i] / (side[i] - side[j]))
    return np.array(kept).reshape(-1, 2)
