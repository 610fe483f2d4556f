"""Compiled loops: guess a round surface from a few facets, near enough for `fitting.refine`."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.net import Net
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import ANY_ORDER, least_direction, mean_of, sides, solve
from housingdesk.geometry.types import Floats


@njit(cache=True, nogil=True, error_model="numpy")
def start(
    net: Net, facets: Index, n_facets: int, xyz: Floats, n: int, model: Floats, sloped: bool, m: Floats
) -> bool:
    """Guess a round from facet normals and corners.

    Cylinder: the normals lie on a great circle, the axis is the direction of least spread; the circle
    across it by Kasa's algebraic fit.  Cone: the normals lie on a small circle; the planes of the facets
    meet in the apex.
    """
    normals, weights = net.normals, net.areas
    x, y, z, total = 0.0, 0.0, 0.0, 0.0
    for i in range(n_facets):
        f = facets[i]
        w = weights[f]
        x, y, z, total = x + w * normals[f, 0], y + w * normals[f, 1], z + w * normals[f, 2], total + w
    if sloped:
        x, y, z = x / total, y / total, z / total
    else:
        x, y, z = 0.0, 0.0, 0.0
    xx, xy, xz, yy, yz, zz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n_facets):
        f = facets[i]
        w = weights[f] / total
        u, v, t = normals[f, 0] - x, normals[f, 1] - y, normals[f, 2] - z
        xx, xy, xz = xx + w * u * u, xy + w * u * v, xz + w * u * t
        yy, yz, zz = yy + w * v * v, yz + w * v * t, zz + w * t * t
    model[3], model[4], model[5], middle = least_direction(xx, xy, xz, yy, yz, zz)
    if middle < 1e-9:  # all normals one way: no direction to be had
        return False
    if sloped:
        found = _start_cone(net, facets, n_facets, total, xyz, n, model, m)
    else:
        found = _start_cylinder(xyz, n, model, m)
    return bool(found and np.isfinite(model.sum()))


@njit(cache=True, nogil=True, error_model="numpy", fastmath=ANY_ORDER)
def _start_cylinder(xyz: Floats, n: int, model: Floats, m: Floats) -> bool:
    """Complete a cylinder whose axis is known, from points."""
    cx, cy, cz = mean_of(xyz, n)
    ux, uy, uz, vx, vy, vz = sides(model[3], model[4], model[5])
    xx, xy, yy, x, y, xz, yz, zz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        dx, dy, dz = xyz[0, i] - cx, xyz[1, i] - cy, xyz[2, i] - cz
        u, v = dx * ux + dy * uy + dz * uz, dx * vx + dy * vy + dz * vz
        square = u * u + v * v
        xx, xy, yy, x, y = xx + u * u, xy + u * v, yy + v * v, x + u, y + v
        xz, yz, zz = xz + u * square, yz + v * square, zz + square
    m[0, 0], m[1, 0], m[1, 1], m[2, 0], m[2, 1], m[2, 2] = xx, xy, yy, x, y, float(n)
    m[0, 6], m[1, 6], m[2, 6] = xz, yz, zz
    if solve(m, 3) < 0:
        return False
    u, v = m[0, 6] / 2, m[1, 6] / 2
    square = m[2, 6] + u * u + v * v
    if square <= 0:
        return False
    model[0], model[1], model[2] = cx + u * ux + v * vx, cy + u * uy + v * vy, cz + u * uz + v * vz
    model[6] = np.sqrt(square)
    model[7] = 0.0
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _start_cone(
    net: Net, facets: Index, n_facets: int, total: float, xyz: Floats, n: int, model: Floats, m: Floats
) -> bool:
    """Complete a cone whose axis is known, from the planes of facets (of ``total`` area) and points."""
    cx, cy, cz = mean_of(xyz, n)
    normals, centres, weights = net.normals, net.centres, net.areas
    xx, xy, xz, yy, yz, zz, bx, by, bz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n_facets):
        f = facets[i]
        w, x, y, z = weights[f], normals[f, 0], normals[f, 1], normals[f, 2]
        reach = w * (x * (centres[f, 0] - cx) + y * (centres[f, 1] - cy) + z * (centres[f, 2] - cz))
        bx, by, bz = bx + x * reach, by + y * reach, bz + z * reach
        x, y, wz = w * x, w * y, w * z
        xx, xy, xz = xx + x * normals[f, 0], xy + x * normals[f, 1], xz + x * z
        yy, yz, zz = yy + y * normals[f, 1], yz + y * z, zz + wz * z
    little = 1e-12 * total
    m[0, 0], m[1, 0], m[1, 1], m[2, 0], m[2, 1], m[2, 2] = xx + little, xy, yy + little, xz, yz, zz + little
    m[0, 6], m[1, 6], m[2, 6] = bx, by, bz
    if solve(m, 3) < 0:
        return False
    bx, by, bz = m[0, 6], m[1, 6], m[2, 6]
    ax, ay, az = model[3], model[4], model[5]
    flip = -1.0 if ax * bx + ay * by + az * bz > 0 else 1.0  # from the apex (middle + b) to the middle
    run, rise = 0.0, 0.0
    for i in range(n):
        dx, dy, dz = xyz[0, i] - cx - bx, xyz[1, i] - cy - by, xyz[2, i] - cz - bz
        h = flip * (dx * ax + dy * ay + dz * az)
        run += h
        rise += np.sqrt(max(0.0, dx * dx + dy * dy + dz * dz - h * h))
    if run <= 1e-9 * rise or rise <= 0 or rise > 50 * run:
        return False
    h = -flip * (ax * bx + ay * by + az * bz)
    model[7] = rise / run
    model[6] = model[7] * h
    ax, ay, az = flip * ax, flip * ay, flip * az
    model[0], model[1], model[2] = cx + bx + h * ax, cy + by + h * ay, cz + bz + h * az
    model[3], model[4], model[5] = ax, ay, az
    return True
