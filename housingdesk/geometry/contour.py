"""From exact grid crossings to the points of a surface: one point for each crossed cell.

Dual contouring (T. Ju, F. Losasso, S. Schaefer, J. Warren, Dual Contouring of Hermite Data, 2002): the point
of a cell is the least-squares meeting of the tangent planes at the cell's crossings, so flats come out flat
and inside corners sharp on any grid.  Two things are ours:

* The grid was made well-composed first (``marks.untangle``), so the surface that ``quilt`` weaves is closed
  with exactly two faces at every edge, by construction and not by luck.
* Where the surface is curved the tangent planes do not meet in a point.  The point is then moved outward by
  the greatest of the misses.  On an outward round it ends outside all its planes, hence so do the faces
  (they circumscribe the round); on an inward round it ends on the surface or beyond, and the faces are
  chords on the far side.  Either way the grown part is never cut into, and flats have no misses, so they
  stay exact.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.marks import IN, STEPS, find
from housingdesk.geometry.nearest import jit
from housingdesk.geometry.types import Floats

SAME_MM = 2e-5  # points so near one plane or line lie in it: a part's file has coordinates no finer
SAME_TURN = 1e-8  # one less the cosine of 0.008 degrees

# Eigenvalues below this share of the greatest count as "no plane faces this way".
FLAT_SHARE = 0.05


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
def _one_plane(at: Floats, normal: Floats, n: int) -> bool:
    """Return whether the first n crossings have the same tangent plane."""
    for c in range(1, n):
        along, off = 0.0, 0.0
        for x in range(3):
            along += normal[c, x] * normal[0, x]
            off += normal[0, x] * (at[c, x] - at[0, x])
        if along < 1.0 - SAME_TURN or abs(off) > SAME_MM:
            return False
    return True


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
    x_from: int,
    x_to: int,
    out: Floats,
    flat: Floats,
) -> None:
    """Write one surface point for each crossed cell of the cell columns ``x_from <= i < x_to``.

    Parameters
    ----------
    rim_starts, rim_height, entry, normal : the rim nodes from node column ``x_from`` on, and their crossings.
    cell_starts, cell_height : the cells from cell column ``x_from`` on.
    out, flat : (n, 3), changed in place; ``flat`` gets the normal of cells whose planes are one, else zero.
    """
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
    for i in range(x_from, x_to):
        for j in range(ny - 1):
            cells = (i - x_from) * (ny - 1) + j
            for cell in range(cell_starts[cells], cell_starts[cells + 1]):
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
                        column = (node[0] - x_from) * ny + node[1]
                        rim = find(rim_height, rim_starts[column], rim_starts[column + 1], node[2])
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
                if planes == n and _one_plane(at, nor, n):
                    out[cell] = mid
                    flat[cell] = nor[0]
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
