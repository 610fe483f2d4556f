"""How often a closed surface winds about points, exactly, by upright rays.

A ray goes up from each point; every triangle it leaves through counts +1, every one it enters through -1.
Which triangles it meets is decided by the signs of three areas in the plan.  An edge's area is always
computed from the same end, so that both its triangles see the same sign, and a ray through an edge or a
corner is moved aside by an infinitesimal (-d^2, d), the same for all: nothing is met twice or missed.
"""

from __future__ import annotations

import numba as nb
import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.types import Floats

_jit = nb.njit(cache=True, nogil=True, error_model="numpy")
_MOST_CELLS = 1024  # a side of the plan


class Rays:
    """A surface sorted by cells of the plan, made ready for many points."""

    def __init__(self, tris: Floats) -> None:
        self._tris = np.ascontiguousarray(tris)
        flat = self._tris[:, :, :2].reshape(-1, 2)
        self._low = flat.min(axis=0) if len(flat) else np.zeros(2)
        size = np.maximum(np.ptp(flat, axis=0), 1e-9) if len(flat) else np.ones(2)
        self._side = min(_MOST_CELLS, max(1, int(np.sqrt(len(tris)))))
        self._cell = size * (1 + 1e-9) / self._side
        self._starts = np.zeros(self._side**2 + 1, np.int64)
        _file(self._tris, self._low, self._cell, self._side, self._starts, np.zeros(0, np.int64))
        self._starts = np.concatenate([[0], np.cumsum(self._starts[:-1])])
        self._filed = np.zeros(self._starts[-1], np.int64)
        _file(self._tris, self._low, self._cell, self._side, self._starts.copy(), self._filed)

    def winding(self, points: Floats) -> NDArray[np.int64]:
        """Return the (n,) winding number about (n, 3) points; meaningless where the surface is open."""
        out = np.zeros(len(points), np.int64)
        points = np.ascontiguousarray(points, np.float64)
        _wind(self._tris, self._low, self._cell, self._side, self._starts, self._filed, points, out)
        return out


@_jit
def _file(
    tris: Floats, low: Floats, cell: Floats, side: int, next_: NDArray[np.int64], filed: NDArray[np.int64]
) -> None:
    """Write each triangle to all cells its box touches; with nowhere to write, count them."""
    for m in range(tris.shape[0]):
        t = tris[m]
        x0 = int((min(t[0, 0], t[1, 0], t[2, 0]) - low[0]) / cell[0])
        x1 = int((max(t[0, 0], t[1, 0], t[2, 0]) - low[0]) / cell[0])
        y0 = int((min(t[0, 1], t[1, 1], t[2, 1]) - low[1]) / cell[1])
        y1 = int((max(t[0, 1], t[1, 1], t[2, 1]) - low[1]) / cell[1])
        for x in range(x0, min(x1, side - 1) + 1):
            for y in range(y0, min(y1, side - 1) + 1):
                c = x * side + y
                if filed.shape[0]:
                    filed[next_[c]] = m
                next_[c] += 1


@_jit
def _left(px: float, py: float, qx: float, qy: float, x: float, y: float) -> bool:
    """Return whether (x, y) lies left of the way from p to q."""
    if px < qx or (px == qx and py < qy):
        return bool((qx - px) * (y - py) - (qy - py) * (x - px) >= 0.0)
    return bool((px - qx) * (y - qy) - (py - qy) * (x - qx) < 0.0)


@_jit
def _wind(
    tris: Floats,
    low: Floats,
    cell: Floats,
    side: int,
    starts: NDArray[np.int64],
    filed: NDArray[np.int64],
    points: Floats,
    out: NDArray[np.int64],
) -> None:
    """Write the winding number about each point."""
    for p in range(points.shape[0]):
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        i, j = int(np.floor((x - low[0]) / cell[0])), int(np.floor((y - low[1]) / cell[1]))
        if i < 0 or j < 0 or i >= side or j >= side:
            continue
        for a in range(starts[i * side + j], starts[i * side + j + 1]):
            t = tris[filed[a]]
            if z >= t[0, 2] and z >= t[1, 2] and z >= t[2, 2]:
                continue
            left = _left(t[0, 0], t[0, 1], t[1, 0], t[1, 1], x, y)
            if _left(t[1, 0], t[1, 1], t[2, 0], t[2, 1], x, y) != left:
                continue
            if _left(t[2, 0], t[2, 1], t[0, 0], t[0, 1], x, y) != left:
                continue
            ux, uy, uz = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
            vx, vy, vz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
            area = ux * vy - uy * vx
            height = np.inf
            if area != 0.0:
                u = ((x - t[0, 0]) * vy - (y - t[0, 1]) * vx) / area
                v = (ux * (y - t[0, 1]) - uy * (x - t[0, 0])) / area
                height = t[0, 2] + u * uz + v * vz
            height = min(max(height, min(t[0, 2], t[1, 2], t[2, 2])), max(t[0, 2], t[1, 2], t[2, 2]))
            if height > z:
                out[p] += 1 if left else -1
