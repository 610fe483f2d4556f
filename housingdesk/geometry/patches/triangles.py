"""Compiled loops: what is measured on every triangle, or over every edge, in one pass each."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from housingdesk.geometry.types import Floats

Index = NDArray[np.int64]


@njit(cache=True, nogil=True, error_model="numpy")
def shapes(points: Floats, faces: Index) -> tuple[Floats, Floats, Floats, Floats]:
    """Measure unit normals (m, 3), areas (m,), longest edges (m,) and middles (m, 3) of triangles.

    A triangle without area has a normal of zeros.
    """
    m = len(faces)
    normals, areas, longest, middles = np.empty((m, 3)), np.empty(m), np.empty(m), np.empty((m, 3))
    for i in range(m):
        a, b, c = faces[i, 0], faces[i, 1], faces[i, 2]
        ux, uy, uz = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1], points[b, 2] - points[a, 2]
        vx, vy, vz = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1], points[c, 2] - points[a, 2]
        wx, wy, wz = points[c, 0] - points[b, 0], points[c, 1] - points[b, 1], points[c, 2] - points[b, 2]
        x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        doubled = np.sqrt(x * x + y * y + z * z)
        length = doubled if doubled > 0 else 1.0
        normals[i, 0], normals[i, 1], normals[i, 2] = x / length, y / length, z / length
        areas[i] = doubled / 2
        square = max(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, wx * wx + wy * wy + wz * wz)
        longest[i] = np.sqrt(square)
        for j in range(3):
            middles[i, j] = (points[a, j] + points[b, j] + points[c, j]) / 3
    return normals, areas, longest, middles


@njit(cache=True, nogil=True, error_model="numpy")
def bends(normals: Floats, one: Index, two: Index) -> Floats:
    """Angle between the normals of each pair, (e,) degrees; exact for small ones, too."""
    out = np.empty(len(one))
    for i in range(len(one)):
        a, b = normals[one[i]], normals[two[i]]
        x, y, z = a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
        along = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
        out[i] = np.degrees(np.arctan2(np.sqrt(x * x + y * y + z * z), along))
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def off_plane(points: Floats, faces: Index, label: Index, centres: Floats, normals: Floats) -> Floats:
    """Greatest distance of each triangle's corners from the plane of its group, (m,) mm."""
    out = np.empty(len(faces))
    for i in range(len(faces)):
        c, n, most = centres[label[i]], normals[label[i]], 0.0
        for j in range(3):
            p = points[faces[i, j]]
            off = (p[0] - c[0]) * n[0] + (p[1] - c[1]) * n[1] + (p[2] - c[2]) * n[2]
            most = max(most, abs(off))
        out[i] = most
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def boxes(points: Floats, faces: Index, label: Index, count: int) -> tuple[Floats, Floats]:
    """Find the least and greatest corner of each group of triangles, (count, 3) each."""
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    for i in range(len(faces)):
        for v in faces[i]:
            for j in range(3):
                low[label[i], j] = min(low[label[i], j], points[v, j])
                high[label[i], j] = max(high[label[i], j], points[v, j])
    return low, high
