"""Weaving the points of cells into a closed surface.

One quad for each crossed grid edge, between the points of the four cells around it, gives a closed surface.
Where some of the four cells were merged (``tiles``) the quad is a triangle, or nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.marks import IN, find
from housingdesk.geometry.nearest import jit
from housingdesk.geometry.types import Floats


@jit
def weave(
    state: NDArray[np.uint8],
    x_from: int,
    x_to: int,
    starts: NDArray[np.int64],
    height: NDArray[np.int32],
    point: NDArray[np.int32],
    points: Floats,
    faces: NDArray[np.int32],
) -> int:
    """Write the faces of the edges that leave the cells' lowest corners; return how many.

    Parameters
    ----------
    x_from, x_to : the cell columns looked at.
    starts, height : all crossed cells of the grid.
    point : (cells,) number of each cell's point in ``points``.
    faces : (f, 3), changed in place: counter-clockwise seen from outside.  With no rows, faces are only
        counted.
    """
    ny = state.shape[1] - 1
    n = 0
    write = faces.shape[0] > 0
    cell = np.zeros(3, np.int64)
    q = np.zeros(4, np.int64)
    for i in range(x_from, x_to):
        for j in range(ny):
            column = i * ny + j
            for here in range(starts[column], starts[column + 1]):
                k = height[here]
                low = state[i, j, k] & IN
                for axis in range(3):
                    if axis == 0:
                        high = state[i + 1, j, k] & IN
                    elif axis == 1:
                        high = state[i, j + 1, k] & IN
                    else:
                        high = state[i, j, k + 1] & IN
                    if low == high:
                        continue
                    u, w = (axis + 1) % 3, (axis + 2) % 3
                    corners = 0
                    for c in range(4):
                        cell[0], cell[1], cell[2] = i, j, k
                        # (-1, -1), (0, -1), (0, 0), (-1, 0): counter-clockwise seen from the + end
                        if c == 0 or c == 3:
                            cell[u] -= 1
                        if c < 2:
                            cell[w] -= 1
                        at = cell[0] * ny + cell[1]
                        one = point[find(height, starts[at], starts[at + 1], cell[2])]
                        if corners == 0 or one != q[corners - 1]:
                            q[corners] = one
                            corners += 1
                    if q[corners - 1] == q[0]:
                        corners -= 1
                    if corners < 3:
                        continue
                    if not write:
                        n += corners - 2
                        continue
                    if not low:  # the free end is the - end
                        q[0], q[2] = q[2], q[0]
                    if corners == 3:
                        faces[n, 0], faces[n, 1], faces[n, 2] = q[0], q[1], q[2]
                        n += 1
                        continue
                    a, b, c, d = q[0], q[1], q[2], q[3]
                    if _quality(points, a, b, c, d) < _quality(points, b, c, d, a):
                        a, b, c, d = b, c, d, a
                    faces[n, 0], faces[n, 1], faces[n, 2] = a, b, c
                    faces[n + 1, 0], faces[n + 1, 1], faces[n + 1, 2] = a, c, d
                    n += 2
    return n


@jit
def _quality(points: Floats, a: int, b: int, c: int, d: int) -> float:
    """Return how well a quad takes the diagonal a-c: least quality of its triangles, below 0 if one folds."""
    worst = np.inf
    e, f = points[c] - points[a], points[d] - points[b]
    n = np.array([e[1] * f[2] - e[2] * f[1], e[2] * f[0] - e[0] * f[2], e[0] * f[1] - e[1] * f[0]])
    n /= max(np.sqrt(n[0] ** 2 + n[1] ** 2 + n[2] ** 2), 1e-30)
    for t in range(2):
        x, y, z = (a, b, c) if t == 0 else (a, c, d)
        ux, uy, uz = points[y, 0] - points[x, 0], points[y, 1] - points[x, 1], points[y, 2] - points[x, 2]
        vx, vy, vz = points[z, 0] - points[x, 0], points[z, 1] - points[x, 1], points[z, 2] - points[x, 2]
        area = n[0] * (uy * vz - uz * vy) + n[1] * (uz * vx - ux * vz) + n[2] * (ux * vy - uy * vx)
        wx, wy, wz = vx - ux, vy - uy, vz - uz
        longest = max(ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, wx * wx + wy * wy + wz * wz)
        worst = min(worst, area / max(longest, 1e-30))
    return worst
