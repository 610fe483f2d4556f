"""The least distance between line stretches and triangles: closed form, found through a tree of boxes.

Compiled kernels of ``measure``; they share nothing with the engine.
"""

from __future__ import annotations

import numba as nb
import numpy as np

from housingdesk.geometry.boxtree import LEAF, BoxTree, box_tree
from housingdesk.geometry.types import Floats

_jit = nb.njit(cache=True, nogil=True, error_model="numpy")
_PIECE = 0.05  # a stretch is looked at in pieces of this share of the surface's size: tight boxes


class Ridges:
    """A surface made ready for finding what comes nearest to it."""

    def __init__(self, tris: Floats) -> None:
        self._tris = np.ascontiguousarray(tris)
        self._tree: BoxTree = box_tree(tris.min(axis=1), tris.max(axis=1))
        size = float(np.ptp(tris.reshape(-1, 3), axis=0).max()) if len(tris) else 1.0
        self._piece = max(_PIECE * size, 1e-6)

    def nearest(self, a: Floats, b: Floats, below_mm: float) -> tuple[float, Floats, Floats] | None:
        """Find the least distance of stretches to the surface, if it is below a bound.

        Parameters
        ----------
        a, b : (n, 3) ends of the stretches; equal ends are points.

        Returns
        -------
        Distance (0 where a stretch pierces a triangle), the point of the stretch, and that of the surface;
        None where nothing is nearer than the bound.
        """
        at = np.zeros((2, 3))
        found = _nearest(
            np.ascontiguousarray(a), np.ascontiguousarray(b), self._tris, self._tree.order, self._tree.low,
            self._tree.high, self._tree.leaves, self._piece, below_mm, at,
        )  # fmt: skip
        return None if found >= below_mm else (float(found), at[0], at[1])


@_jit
def _nearest(
    starts: Floats,
    ends: Floats,
    tris: Floats,
    order: np.ndarray,
    low: Floats,
    high: Floats,
    leaves: int,
    piece: float,
    below: float,
    at: Floats,
) -> float:
    """Return the least distance below a bound, and write the two points."""
    best = below
    stack = np.zeros(128, np.int64)
    a, b = np.zeros(3), np.zeros(3)
    for s in range(starts.shape[0]):
        length = np.sqrt(((ends[s] - starts[s]) ** 2).sum())
        pieces = max(1, int(np.ceil(length / piece)))
        for n in range(pieces):
            for x in range(3):
                along = ends[s, x] - starts[s, x]
                a[x] = starts[s, x] + along * (n / pieces)
                b[x] = ends[s, x] if n == pieces - 1 else starts[s, x] + along * ((n + 1) / pieces)
            depth = 1
            stack[0] = 1
            while depth:
                depth -= 1
                node = stack[depth]
                if _apart2(a, b, low[node], high[node]) >= best * best:
                    continue
                if node < leaves:
                    stack[depth], stack[depth + 1] = 2 * node + 1, 2 * node
                    depth += 2
                    continue
                for e in range((node - leaves) * LEAF, min((node - leaves + 1) * LEAF, order.shape[0])):
                    best = _meet(a, b, tris[order[e]], best, at)
                    if best == 0.0:
                        return best
    return best


@_jit
def _apart2(a: Floats, b: Floats, low: Floats, high: Floats) -> float:
    """Return the squared distance between a box and the box of a stretch."""
    total = 0.0
    for x in range(3):
        gap = max(low[x] - max(a[x], b[x]), min(a[x], b[x]) - high[x], 0.0)
        total += gap * gap
    return total


@_jit
def _meet(a: Floats, b: Floats, t: Floats, best: float, at: Floats) -> float:
    """Return the lesser of ``best`` and the distance of a stretch to a triangle; then write the points."""
    ux, uy, uz = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    vx, vy, vz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    if length > 0.0:
        nx, ny, nz = nx / length, ny / length, nz / length
        da = nx * (a[0] - t[0, 0]) + ny * (a[1] - t[0, 1]) + nz * (a[2] - t[0, 2])
        db = nx * (b[0] - t[0, 0]) + ny * (b[1] - t[0, 1]) + nz * (b[2] - t[0, 2])
        if min(da, db) >= best or max(da, db) <= -best:
            return best
        if da * db <= 0.0 and da != db:
            u = da / (da - db)
            x, y, z = a[0] + u * (b[0] - a[0]), a[1] + u * (b[1] - a[1]), a[2] + u * (b[2] - a[2])
            if _over(t, nx, ny, nz, x, y, z):
                at[0, 0], at[0, 1], at[0, 2] = x, y, z
                at[1] = at[0]
                return 0.0
        for end in range(2):
            p, d = (a, da) if end == 0 else (b, db)
            if abs(d) < best and _over(t, nx, ny, nz, p[0], p[1], p[2]):
                best = abs(d)
                at[0] = p
                at[1, 0], at[1, 1], at[1, 2] = p[0] - d * nx, p[1] - d * ny, p[2] - d * nz
    for e in range(3):
        best = _between(a, b, t[e], t[(e + 1) % 3], best, at)
    return best


@_jit
def _over(t: Floats, nx: float, ny: float, nz: float, x: float, y: float, z: float) -> bool:
    """Return whether a point's foot on the plane of a triangle lies in the triangle (rim included)."""
    for e in range(3):
        f = (e + 1) % 3
        ex, ey, ez = t[f, 0] - t[e, 0], t[f, 1] - t[e, 1], t[f, 2] - t[e, 2]
        px, py, pz = x - t[e, 0], y - t[e, 1], z - t[e, 2]
        if nx * (ey * pz - ez * py) + ny * (ez * px - ex * pz) + nz * (ex * py - ey * px) < 0.0:
            return False
    return True


@_jit
def _between(a: Floats, b: Floats, c: Floats, d: Floats, best: float, at: Floats) -> float:
    """Return the lesser of ``best`` and the distance between stretches a-b and c-d; then write the points.

    After C. Ericson, Real-Time Collision Detection, 2005, section 5.1.9.
    """
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = d[0] - c[0], d[1] - c[1], d[2] - c[2]
    rx, ry, rz = a[0] - c[0], a[1] - c[1], a[2] - c[2]
    uu, vv, uv = ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz, ux * vx + uy * vy + uz * vz
    ur, vr = ux * rx + uy * ry + uz * rz, vx * rx + vy * ry + vz * rz
    s = 0.0
    area = uu * vv - uv * uv
    if area > 1e-14 * uu * vv:
        s = min(1.0, max(0.0, (uv * vr - ur * vv) / area))
    t = (uv * s + vr) / vv if vv > 0.0 else 0.0
    if t < 0.0 or t > 1.0 or vv == 0.0:
        t = min(1.0, max(0.0, t))
        s = min(1.0, max(0.0, (uv * t - ur) / uu)) if uu > 0.0 else 0.0
    px, py, pz = a[0] + s * ux, a[1] + s * uy, a[2] + s * uz
    qx, qy, qz = c[0] + t * vx, c[1] + t * vy, c[2] + t * vz
    apart = np.sqrt((px - qx) ** 2 + (py - qy) ** 2 + (pz - qz) ** 2)
    if apart < best:
        at[0, 0], at[0, 1], at[0, 2] = px, py, pz
        at[1, 0], at[1, 1], at[1, 2] = qx, qy, qz
        return float(apart)
    return best
