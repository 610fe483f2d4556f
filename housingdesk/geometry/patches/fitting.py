"""Compiled loops: fit a round surface to points.

A *round* is a cylinder or a cone, both as one row of nine numbers: a point ``p`` (3) on the axis, the unit
axis ``a`` (3), the radius ``r`` at ``p``, the slope ``k`` (radius gained per mm along the axis; 0 for a
cylinder) and the side (+1 outside, -1 a hole).

Thousands of little fits are tried on a part, so these loops neither make arrays nor look up points: the
points come side by side (`net.gather`), and `new_room` is called once.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.guessing import start
from housingdesk.geometry.patches.net import Groups, Net, begin, gather, new_cloud
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import ANY_ORDER, mean_of, sides, solve
from housingdesk.geometry.types import Floats

MAX_STEPS = 25
CONE_SLOPE = 2e-3  # below this (0.1 degree) a slope is no cone
JOIN_MM = 0.01  # a fit to calipers' last digit
EXACT = 1e-14  # of a square sum: what a last fit is driven to


@njit(cache=True, nogil=True, error_model="numpy")
def new_room() -> Floats:
    """Room for normal equations (6, 6), with the right side in column 6."""
    return np.empty((6, 7))


@njit(cache=True, nogil=True, error_model="numpy", fastmath=ANY_ORDER)
def _equations(
    xyz: Floats, n: int,
    px: float, py: float, pz: float, ax: float, ay: float, az: float, r: float, k: float,
    ux: float, uy: float, uz: float, vx: float, vy: float, vz: float, m: Floats,
) -> tuple[float, float]:  # fmt: skip
    """Write the normal equations of one step into ``m`` (its lower half, and column 6); see `refine`.

    Returns the square sum of rho - r - k h, and that of h.
    """
    cost, hh, b0, b1, b2, b3, b4, b5 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    m00, m10, m11, m20, m21, m22, m31, m32, m33 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    m40, m41, m42, m43, m50, m51, m52, m53, m54 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        dx, dy, dz = xyz[0, i] - px, xyz[1, i] - py, xyz[2, i] - pz
        h = dx * ax + dy * ay + dz * az
        x = dx * ux + dy * uy + dz * uz
        y = dx * vx + dy * vy + dz * vz
        rho = np.sqrt(x * x + y * y) + 1e-300
        x, y = x / rho, y / rho
        off = rho - r - k * h
        lever = h + k * rho
        xl, yl = x * lever, y * lever
        cost, hh = cost + off * off, hh + h * h
        b0, b1, b2, b3, b4, b5 = (
            b0 + xl * off, b1 + yl * off, b2 + x * off, b3 + y * off, b4 + off, b5 + h * off,
        )  # fmt: skip
        m00, m10, m11 = m00 + xl * xl, m10 + xl * yl, m11 + yl * yl
        m20, m21, m22 = m20 + xl * x, m21 + yl * x, m22 + x * x
        m31, m32, m33 = m31 + yl * y, m32 + x * y, m33 + y * y
        m40, m41, m42, m43 = m40 + xl, m41 + yl, m42 + x, m43 + y
        m50, m51, m52, m53, m54 = m50 + xl * h, m51 + yl * h, m52 + x * h, m53 + y * h, m54 + h
    m[0, 6], m[1, 6], m[2, 6], m[3, 6], m[4, 6], m[5, 6] = b0, b1, b2, b3, b4, b5
    m[0, 0], m[1, 0], m[1, 1], m[2, 0], m[2, 1], m[2, 2] = m00, m10, m11, m20, m21, m22
    m[3, 0], m[3, 1], m[3, 2], m[3, 3] = m21, m31, m32, m33
    m[4, 0], m[4, 1], m[4, 2], m[4, 3], m[4, 4] = m40, m41, m42, m43, float(n)
    m[5, 0], m[5, 1], m[5, 2], m[5, 3], m[5, 4], m[5, 5] = m50, m51, m52, m53, m54, hh
    return cost, hh


@njit(cache=True, nogil=True, error_model="numpy")
def refine(
    xyz: Floats, n: int, model: Floats, sloped: bool, enough: float, hopeless: float, m: Floats
) -> float:
    """Improve a round by Gauss-Newton on the distances of points, in place; the rms in mm, or -1.

    Residual (rho - r - k h) / sqrt(1 + k^2), rho the distance from the axis, h along it.  Five unknowns
    (six with slope): turn of the axis (2), shift across it (2), radius, slope.  It ends where a step gains
    less than ``enough`` of the square sum, or a tenth of it while the rms is beyond ``hopeless`` mm.
    """
    dof = 6 if sloped else 5
    too_much = n * hopeless * hopeless
    cx, cy, cz = mean_of(xyz, n)
    px, py, pz, ax, ay, az, r, k = (
        model[0], model[1], model[2], model[3], model[4], model[5], model[6], model[7]
    )  # fmt: skip
    best_cost = np.inf
    for _ in range(MAX_STEPS):
        # the axis point nearest the middle of the points, so that turn and shift do not mix
        h = (cx - px) * ax + (cy - py) * ay + (cz - pz) * az
        px, py, pz, r = px + h * ax, py + h * ay, pz + h * az, r + h * k
        ux, uy, uz, vx, vy, vz = sides(ax, ay, az)
        cost, far = _equations(xyz, n, px, py, pz, ax, ay, az, r, k, ux, uy, uz, vx, vy, vz, m)
        scale = 1 + k * k
        cost /= scale
        if not cost < best_cost:  # also where it is no number
            break
        gain, best_cost = best_cost - cost, cost
        model[0], model[1], model[2], model[3], model[4], model[5] = px, py, pz, ax, ay, az
        model[6], model[7] = r, k
        if gain <= enough * cost + 1e-26 * n or (gain < cost / 10 and cost > too_much):
            break
        for i in range(dof):
            m[i, i] = m[i, i] * (1 + 1e-9) + 1e-18 * n * (1.0 + far)
        if solve(m, dof) < 0:
            break
        u, v = m[0, 6], m[1, 6]
        if u * u + v * v > 1.0:
            break
        length = np.sqrt(1.0 + u * u + v * v)
        ax, ay, az = (
            (ax + u * ux + v * vx) / length,
            (ay + u * uy + v * vy) / length,
            (az + u * uz + v * vz) / length,
        )
        u, v = m[2, 6], m[3, 6]
        px, py, pz, r = px + u * ux + v * vx, py + u * uy + v * vy, pz + u * uz + v * vz, r + m[4, 6]
        if sloped:
            k += m[5, 6]
            if abs(k) > 50:
                break
    return float(np.sqrt(best_cost / n)) if best_cost < np.inf else -1.0


@njit(cache=True, nogil=True, error_model="numpy")
def set_side(model: Floats, net: Net, facets: Index, n: int) -> None:
    """Set whether a round is an outside or a hole, from where its facets look."""
    centres, normals, vote = net.centres, net.normals, 0.0
    ax, ay, az = model[3], model[4], model[5]
    for i in range(n):
        f = facets[i]
        x, y, z = centres[f, 0] - model[0], centres[f, 1] - model[1], centres[f, 2] - model[2]
        h = x * ax + y * ay + z * az
        x, y, z = x - h * ax, y - h * ay, z - h * az
        length = np.sqrt(x * x + y * y + z * z)
        if length > 0:
            vote += (x * normals[f, 0] + y * normals[f, 1] + z * normals[f, 2]) / length
    model[8] = 1.0 if vote >= 0 else -1.0


@njit(cache=True, nogil=True, error_model="numpy")
def distinct(values: Index) -> Index:
    """Return distinct values, ascending; what is given is left sorted."""
    values.sort()
    n = 0
    for i in range(len(values)):
        if i == 0 or values[i] != values[i - 1]:
            n += 1
    out = np.empty(n, np.int64)
    n = 0
    for i in range(len(values)):
        if i == 0 or values[i] != values[i - 1]:
            out[n] = values[i]
            n += 1
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def span_of(xyz: Floats, n: int, model: Floats) -> tuple[float, float]:
    """Least and greatest height of points along a round's axis, mm from its point."""
    low, high = np.inf, -np.inf
    for i in range(n):
        h = (xyz[0, i] - model[0]) * model[3] + (xyz[1, i] - model[1]) * model[4]
        h += (xyz[2, i] - model[2]) * model[5]
        low, high = min(low, h), max(high, h)
    return low, high


@njit(cache=True, nogil=True, error_model="numpy")
def centred(model: Floats, low: float, high: float) -> None:
    """Move the point of a round to the middle of a span of heights."""
    middle = (low + high) / 2
    model[6] += model[7] * middle
    for i in range(3):
        model[i] += middle * model[3 + i]


@njit(cache=True, nogil=True, error_model="numpy")
def fit_round(
    net: Net, facets: Index, xyz: Floats, n: int, tolerance: float, best: Floats, model: Floats, m: Floats
) -> tuple[float, float]:
    """Fit a cylinder, and where it does not serve a cone, to the corners of some facets.

    ``best`` gets the round at the middle of its length; returned are its rms and its length in mm, both -1
    where nothing fits.  The axis points up, a cone's to its wide end.
    """
    best_rms, best_length = -1.0, -1.0
    for sloped in (False, True):
        if 0 <= best_rms <= tolerance / 5:  # nothing is left for a slope to explain
            break
        if not start(net, facets, len(facets), xyz, n, model, sloped, m):
            continue
        rms = refine(xyz, n, model, sloped, EXACT, np.inf, m)
        if rms < 0:
            continue
        set_side(model, net, facets, len(facets))
        low, high = span_of(xyz, n, model)
        # A free slope always fits a little better: it must explain what the cylinder does not.
        explains = best_rms < 0 or (
            rms < 0.5 * best_rms - tolerance / 10
            and abs(model[7]) * (high - low) > JOIN_MM / 2
            and abs(model[7]) > CONE_SLOPE
        )
        if not sloped or explains:
            best[:] = model
            best_rms, best_length = rms, high - low
            centred(best, low, high)
            first, most = 0, np.abs(best[3:6]).max() - 1e-6
            while abs(best[3 + first]) <= most:
                first += 1
            if best[7] < 0 or (best[7] == 0 and best[3 + first] < 0):
                for u in range(3):
                    best[3 + u] = -best[3 + u]
                best[7] = -best[7]
    return best_rms, best_length


@njit(cache=True, nogil=True, error_model="numpy")
def fit_rounds(net: Net, cores: Groups, tolerance: float) -> tuple[Floats, Floats, Floats]:
    """Fit a round to each group of facets: rounds (r, 9), rms (r,) and lengths (r,); see `fit_round`."""
    n = len(cores.start) - 1
    models, rms, lengths = np.zeros((n, 9)), np.empty(n), np.empty(n)
    cloud, room, trial = new_cloud(net.points), new_room(), np.zeros(9)
    for i in range(n):
        facets = cores.members[cores.start[i] : cores.start[i + 1]]
        begin(cloud)
        count = gather(net, facets, len(facets), cloud, 0)
        rms[i], lengths[i] = fit_round(net, facets, cloud.xyz, count, tolerance, models[i], trial, room)
    return models, rms, lengths


@njit(cache=True, nogil=True, error_model="numpy", fastmath=ANY_ORDER)
def rms_of(xyz: Floats, n: int, model: Floats) -> float:
    """Root mean square distance of points from a round, mm."""
    total = 0.0
    for i in range(n):
        x, y, z = xyz[0, i] - model[0], xyz[1, i] - model[1], xyz[2, i] - model[2]
        h = x * model[3] + y * model[4] + z * model[5]
        off = np.sqrt(max(0.0, x * x + y * y + z * z - h * h)) - model[6] - model[7] * h
        total += off * off
    return float(np.sqrt(total / n / (1 + model[7] * model[7])))


@njit(cache=True, nogil=True, error_model="numpy")
def bulges(normals: Floats, region: Index, n: int, model: Floats, least_sag: float, least_deg: float) -> bool:
    """Tell a round from a flat with noise: its normals turn far enough, and it rises off its chord."""
    x, y, z = 0.0, 0.0, 0.0
    for i in range(n):
        f = region[i]
        x, y, z = x + normals[f, 0], y + normals[f, 1], z + normals[f, 2]
    length = np.sqrt(x * x + y * y + z * z)
    if length < 0.5 * n:
        return True
    least = length
    for i in range(n):
        f = region[i]
        least = min(least, normals[f, 0] * x + normals[f, 1] * y + normals[f, 2] * z)
    half = np.arccos(min(1.0, max(-1.0, least / length)))
    return bool(np.degrees(2 * half) > least_deg and abs(model[6]) * (1 - np.cos(half)) > least_sag)
