"""Nearest points on triangles, and on triangles swept upward for ever.  Compiled kernels.

All take plain floats and return plain floats, so that they inline into the loops of ``band``.

Swept triangle: the convex set {p + t ez : p in T, t >= 0}.  For a point x at height z the distance to it is
min over p in T of |(x - p)_xy|^2 + max(0, p_z - z)^2, convex in p.  If the nearest point of T itself lies at
or above z it is the minimum; otherwise the minimum lies in the part of T not above z, where only the
horizontal distance counts.
"""

from __future__ import annotations

import numba as nb
import numpy as np

from housingdesk.geometry.types import Floats

jit = nb.njit(cache=True, nogil=True, error_model="numpy")


@jit
def nearest_on_triangle(t: Floats, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return the point of triangle ``t`` (3, 3) nearest to (x, y, z).

    By the Voronoi regions of the corners, edges and the face (C. Ericson, Real-Time Collision Detection,
    2005, section 5.1.5).  Triangles of no area are treated as their longest edge.
    """
    ax, ay, az = t[0, 0], t[0, 1], t[0, 2]
    abx, aby, abz = t[1, 0] - ax, t[1, 1] - ay, t[1, 2] - az
    acx, acy, acz = t[2, 0] - ax, t[2, 1] - ay, t[2, 2] - az
    apx, apy, apz = x - ax, y - ay, z - az
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0.0 and d2 <= 0.0:
        return ax, ay, az
    ab2 = abx * abx + aby * aby + abz * abz
    ac2 = acx * acx + acy * acy + acz * acz
    abac = abx * acx + aby * acy + abz * acz
    d3, d4 = d1 - ab2, d2 - abac
    if d3 >= 0.0 and d4 <= d3:
        return t[1, 0], t[1, 1], t[1, 2]
    d5, d6 = d1 - abac, d2 - ac2
    if d6 >= 0.0 and d5 <= d6:
        return t[2, 0], t[2, 1], t[2, 2]
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v = d1 / (d1 - d3)
        return ax + v * abx, ay + v * aby, az + v * abz
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        w = d2 / (d2 - d6)
        return ax + w * acx, ay + w * acy, az + w * acz
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and (d4 - d3) >= 0.0 and (d5 - d6) >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        return (
            t[1, 0] + w * (t[2, 0] - t[1, 0]),
            t[1, 1] + w * (t[2, 1] - t[1, 1]),
            t[1, 2] + w * (t[2, 2] - t[1, 2]),
        )
    s = va + vb + vc
    if s <= 0.0:
        return ax, ay, az
    v, w = vb / s, vc / s
    return ax + v * abx + w * acx, ay + v * aby + w * acy, az + v * abz + w * acz


@jit
def _segment_xy(
    px: float, py: float, ax: float, ay: float, bx: float, by: float
) -> tuple[float, float, float, float]:
    """Return squared distance, nearest point and its parameter on a segment in the plane."""
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    u = 0.0
    if length2 > 0.0:
        u = ((px - ax) * dx + (py - ay) * dy) / length2
        u = min(1.0, max(0.0, u))
    qx, qy = ax + u * dx, ay + u * dy
    return (px - qx) ** 2 + (py - qy) ** 2, qx, qy, u


@jit
def _height_over(t: Floats, x: float, y: float) -> tuple[bool, float]:
    """Return whether (x, y) lies in the projected triangle, and the triangle's height there."""
    x0, y0 = t[0, 0], t[0, 1]
    ux, uy = t[1, 0] - x0, t[1, 1] - y0
    vx, vy = t[2, 0] - x0, t[2, 1] - y0
    det = ux * vy - uy * vx
    if abs(det) < 1e-14:
        return False, 0.0
    a = ((x - x0) * vy - (y - y0) * vx) / det
    b = (ux * (y - y0) - uy * (x - x0)) / det
    if a < 0.0 or b < 0.0 or a + b > 1.0:
        return False, 0.0
    return True, t[0, 2] + a * (t[1, 2] - t[0, 2]) + b * (t[2, 2] - t[0, 2])


@jit
def nearest_below(t: Floats, x: float, y: float) -> tuple[float, float]:
    """Return the squared horizontal distance to the projected triangle, and the height of a nearest point.

    From that height upward the distance to the swept triangle no longer changes.
    """
    hit, height = _height_over(t, x, y)
    if hit:
        return 0.0, height
    best, at = np.inf, 0.0
    for e in range(3):
        f = (e + 1) % 3
        d2, _, _, u = _segment_xy(x, y, t[e, 0], t[e, 1], t[f, 0], t[f, 1])
        z = t[e, 2] + u * (t[f, 2] - t[e, 2])
        if d2 < best or (d2 == best and z < at):
            best, at = d2, z
    return best, at


@jit
def nearest_on_swept(t: Floats, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return the point of the upward-swept triangle nearest to (x, y, z)."""
    cx, cy, cz = nearest_on_triangle(t, x, y, z)
    if cz >= z:
        return cx, cy, cz
    hit, height = _height_over(t, x, y)
    if hit and height <= z:
        return x, y, z
    best, bx, by = np.inf, x, y
    crossings = 0
    ex, ey, fx, fy = 0.0, 0.0, 0.0, 0.0
    for e in range(3):
        f = (e + 1) % 3
        z0, z1 = t[e, 2], t[f, 2]
        if z0 > z and z1 > z:
            continue
        ax, ay, qx, qy = t[e, 0], t[e, 1], t[f, 0], t[f, 1]
        if z0 > z or z1 > z:
            u = (z - z0) / (z1 - z0)
            mx, my = ax + u * (qx - ax), ay + u * (qy - ay)
            if crossings == 0:
                ex, ey = mx, my
            else:
                fx, fy = mx, my
            crossings += 1
            if z0 > z:
                ax, ay = mx, my
            else:
                qx, qy = mx, my
        d2, nx, ny, _ = _segment_xy(x, y, ax, ay, qx, qy)
        if d2 < best:
            best, bx, by = d2, nx, ny
    if crossings == 2:
        d2, nx, ny, _ = _segment_xy(x, y, ex, ey, fx, fy)
        if d2 < best:
            best, bx, by = d2, nx, ny
    return bx, by, z
