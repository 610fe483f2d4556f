"""From exact grid crossings to a closed surface: one point a cell, one quad a crossed edge.

Dual contouring (T. Ju, F. Losasso, S. Schaefer, J. Warren, Dual Contouring of Hermite Data, 2002): the point
of a cell is the least-squares meeting of the tangent planes at the cell's crossings, so flats come out flat
and inside corners sharp on any grid.  Two things are ours:

* The grid was made well-composed first (``band.untangle``), so the surface is closed with exactly two faces
  at every edge, by construction and not by luck.
* Where the surface is curved the tangent planes do not meet in a point.  The point is then moved outward by
  the greatest of the misses.  On an outward round it ends outside all its planes, hence so do the faces
  (they circumscribe the round); on an inward round it ends on the surface or beyond, and the faces are
  chords on the far side.  Either way the grown part is never cut into, and flats have no misses, so they
  stay exact.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.band import IN, STEPS
from housingdesk.geometry.nearest import jit
from housingdesk.geometry.types import Floats

# Eigenvalues below this share of the greatest count as "no plane faces this way".
FLAT_SHARE = 0.05


@jit
def count_cells(state: NDArray[np.uint8], starts: NDArray[np.int64]) -> None:
    """Count the crossed cells of each column; ``starts`` (ny-1 columns a row) gets the running sum."""
    nx, ny, nz = state.shape
    starts[0] = 0
    for i in range(nx - 1):
        for j in range(ny - 1):
            n = 0
            before = (state[i, j, 0] & IN) + (state[i + 1, j, 0] & IN) + (state[i, j + 1, 0] & IN)
            before += state[i + 1, j + 1, 0] & IN
            for k in range(1, nz):
                here = (state[i, j, k] & IN) + (state[i + 1, j, k] & IN) + (state[i, j + 1, k] & IN)
                here += state[i + 1, j + 1, k] & IN
                if 0 < before + here < 8:
                    n += 1
                before = here
            starts[i * (ny - 1) + j + 1] = starts[i * (ny - 1) + j] + n


@jit
def list_cells(state: NDArray[np.uint8], starts: NDArray[np.int64], height: NDArray[np.int32]) -> None:
    """Write the k of the crossed cells, column by column."""
    nx, ny, nz = state.shape
    for i in range(nx - 1):
        for j in range(ny - 1):
            at = starts[i * (ny - 1) + j]
            if starts[i * (ny - 1) + j + 1] == at:
                continue
            before = (state[i, j, 0] & IN) + (state[i + 1, j, 0] & IN) + (state[i, j + 1, 0] & IN)
            before += state[i + 1, j + 1, 0] & IN
            for k in range(1, nz):
                here = (state[i, j, k] & IN) + (state[i + 1, j, k] & IN) + (state[i, j + 1, k] & IN)
                here += state[i + 1, j + 1, k] & IN
                if 0 < before + here < 8:
                    height[at] = k - 1
                    at += 1
                before = here


@jit
def _find(height: NDArray[np.int32], low: int, high: int, k: int) -> int:
    """Return the place of ``k`` in height[low:high] (ascending); it is there."""
    while high - low > 1:
        middle = (low + high) // 2
        if height[middle] <= k:
            low = middle
        else:
            high = middle
    return low


@jit
def _jacobi(a: Floats, v: Floats) -> None:
    """Diagonalise the symmetric (3, 3) ``a`` in place; the columns of ``v`` become its eigenvectors."""
    for i in range(3):
        for j in range(3):
            v[i, j] = 1.0 if i == j else 0.0
    for _ in range(12):
        off = abs(a[0, 1]) + abs(a[0, 2]) + abs(a[1, 2])
        if off < 1e-14:
            return
        for p in range(2):
            for q in range(p + 1, 3):
                if abs(a[p, q]) < 1e-18:
                    continue
                theta = (a[q, q] - a[p, p]) / (2.0 * a[p, q])
                t = 1.0 / (abs(theta) + np.sqrt(theta * theta + 1.0))
                if theta < 0.0:
                    t = -t
                c = 1.0 / np.sqrt(t * t + 1.0)
                s = t * c
                for k in range(3):
                    x, y = a[k, p], a[k, q]
                    a[k, p], a[k, q] = c * x - s * y, s * x + c * y
                for k in range(3):
                    x, y = a[p, k], a[q, k]
                    a[p, k], a[q, k] = c * x - s * y, s * x + c * y
                for k in range(3):
                    x, y = v[k, p], v[k, q]
                    v[k, p], v[k, q] = c * x - s * y, s * x + c * y


@jit
def place_points(
    state: NDArray[np.uint8],
    origin: Floats,
    h: float,
    rim_starts: NDArray[np.int64],
    rim_height: NDArray[np.int32],
    entry: Floats,
    normal: Floats,
    cell_starts: NDArray[np.int64],
    cell_height: NDArray[np.int32],
    i_from: int,
    i_to: int,
    out: Floats,
) -> None:
    """Write one surface point for each crossed cell of the cell columns ``i_from <= i < i_to``."""
    ny = state.shape[1]
    at = np.zeros((12, 3))
    nor = np.zeros((12, 3))
    a = np.zeros((3, 3))
    v = np.zeros((3, 3))
    b = np.zeros(3)
    mid = np.zeros(3)
    mean = np.zeros(3)
    p = np.zeros(3)
    node = np.zeros(3, np.int64)
    for i in range(i_from, i_to):
        for j in range(ny - 1):
            for cell in range(cell_starts[i * (ny - 1) + j], cell_starts[i * (ny - 1) + j + 1]):
                k = cell_height[cell]
                n = 0
                planes = 0
                mid[:] = 0.0
                mean[:] = 0.0
                for axis in range(3):
                    u, w = (axis + 1) % 3, (axis + 2) % 3
                    for e in range(4):
                        node[0], node[1], node[2] = i, j, k
                        node[u] += e & 1
                        node[w] += e >> 1
                        low = state[node[0], node[1], node[2]] & IN
                        node[axis] += 1
                        high = state[node[0], node[1], node[2]] & IN
                        if low == high:
                            continue
                        s = 2 * axis + 1
                        if not low:
                            node[axis] -= 1
                            s = 2 * axis
                        column = node[0] * ny + node[1]
                        rim = _find(rim_height, rim_starts[column], rim_starts[column + 1], node[2])
                        for x in range(3):
                            at[n, x] = origin[x] + h * node[x] + entry[rim, s] * STEPS[s, x]
                            nor[n, x] = normal[rim, s, x]
                            mid[x] += at[n, x]
                            mean[x] += nor[n, x]
                        if nor[n, 0] != 0.0 or nor[n, 1] != 0.0 or nor[n, 2] != 0.0:
                            planes += 1
                        n += 1
                for x in range(3):
                    mid[x] /= n
                if planes == 0:
                    out[cell] = mid
                    continue
                a[:] = 0.0
                b[:] = 0.0
                for c in range(n):
                    miss = 0.0
                    for x in range(3):
                        miss += nor[c, x] * (at[c, x] - mid[x])
                    for x in range(3):
                        b[x] += nor[c, x] * miss
                        for y in range(3):
                            a[x, y] += nor[c, x] * nor[c, y]
                _jacobi(a, v)
                most = max(a[0, 0], a[1, 1], a[2, 2])
                p[:] = mid
                for e in range(3):
                    if a[e, e] > FLAT_SHARE * most:
                        along = (v[0, e] * b[0] + v[1, e] * b[1] + v[2, e] * b[2]) / a[e, e]
                        for x in range(3):
                            p[x] += along * v[x, e]
                # Outside its own cell a point could fold the surface over.
                p[0] = min(max(p[0], origin[0] + h * i), origin[0] + h * (i + 1))
                p[1] = min(max(p[1], origin[1] + h * j), origin[1] + h * (j + 1))
                p[2] = min(max(p[2], origin[2] + h * k), origin[2] + h * (k + 1))
                length = np.sqrt(mean[0] ** 2 + mean[1] ** 2 + mean[2] ** 2)
                if length > 1e-3 * planes:
                    worst = 0.0
                    for c in range(n):
                        miss = 0.0
                        for x in range(3):
                            miss += nor[c, x] * (p[x] - at[c, x])
                        worst = max(worst, abs(miss))
                    worst = min(worst, 0.5 * h)
                    for x in range(3):
                        p[x] += worst * mean[x] / length
                out[cell] = p


@jit
def weave(
    state: NDArray[np.uint8],
    rim_starts: NDArray[np.int64],
    rim_height: NDArray[np.int32],
    mask: NDArray[np.uint8],
    cell_starts: NDArray[np.int64],
    cell_height: NDArray[np.int32],
    points: Floats,
    faces: NDArray[np.int32],
) -> int:
    """Write two triangles for each crossed edge, counter-clockwise seen from outside; return how many."""
    ny = state.shape[1]
    n = 0
    cell = np.zeros(3, np.int64)
    q = np.zeros(4, np.int64)
    for column in range(rim_starts.shape[0] - 1):
        i, j = column // ny, column % ny
        for r in range(rim_starts[column], rim_starts[column + 1]):
            for s in range(6):
                if not mask[r] & (1 << s):
                    continue
                axis = s // 2
                u, w = (axis + 1) % 3, (axis + 2) % 3
                for c in range(4):
                    cell[0], cell[1], cell[2] = i, j, rim_height[r]
                    if s & 1:
                        cell[axis] -= 1
                    # (-1, -1), (0, -1), (0, 0), (-1, 0): counter-clockwise seen from the + end
                    if c == 0 or c == 3:
                        cell[u] -= 1
                    if c < 2:
                        cell[w] -= 1
                    at = cell[0] * (ny - 1) + cell[1]
                    q[c] = _find(cell_height, cell_starts[at], cell_starts[at + 1], cell[2])
                if not s & 1:  # the free end is the - end
                    q[1], q[3] = q[3], q[1]
                if _bend(points, q[0], q[1], q[2], q[3]) <= _bend(points, q[1], q[2], q[3], q[0]):
                    faces[n, 0], faces[n, 1], faces[n, 2] = q[0], q[1], q[2]
                    faces[n + 1, 0], faces[n + 1, 1], faces[n + 1, 2] = q[0], q[2], q[3]
                else:
                    faces[n, 0], faces[n, 1], faces[n, 2] = q[1], q[2], q[3]
                    faces[n + 1, 0], faces[n + 1, 1], faces[n + 1, 2] = q[1], q[3], q[0]
                n += 2
    return n


@jit
def _bend(points: Floats, a: int, b: int, c: int, d: int) -> float:
    """Return how ill a quad takes the diagonal a-c: least quality of its two triangles, negated."""
    worst = np.inf
    for t in range(2):
        x, y, z = (a, b, c) if t == 0 else (a, c, d)
        ux, uy, uz = points[y, 0] - points[x, 0], points[y, 1] - points[x, 1], points[y, 2] - points[x, 2]
        vx, vy, vz = points[z, 0] - points[x, 0], points[z, 1] - points[x, 1], points[z, 2] - points[x, 2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        area = np.sqrt(nx * nx + ny * ny + nz * nz)
        wx, wy, wz = vx - ux, vy - uy, vz - uz
        longest = max(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, wx * wx + wy * wy + wz * wz)
        worst = min(worst, area / max(longest, 1e-30))
    return -worst
