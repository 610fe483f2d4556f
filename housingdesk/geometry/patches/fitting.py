"""Compiled loops: fit a round surface to points.

A *round* is a cylinder or a cone, both as one row of nine numbers: a point ``p`` (3) on the axis, the unit
axis ``a`` (3), the radius ``r`` at ``p``, the slope ``k`` (radius gained per mm along the axis; 0 for a
cylinder) and the side (+1 outside, -1 a hole).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.patches.vectors import across, add, dot, main_directions, mean_of, solve
from housingdesk.geometry.types import Floats

MAX_STEPS = 25
CONE_SLOPE = 2e-3  # below this (0.1 degree) a slope is no cone
JOIN_MM = 0.01  # a fit to calipers' last digit
EXACT = 1e-14  # of a square sum: what a last fit is driven to


@njit(cache=True, nogil=True)
def refine(
    points: Floats, which: Index, n: int, model: Floats, sloped: bool, enough: float, hopeless: float
) -> float:
    """Improve a round by Gauss-Newton on the distances of points, in place; the rms in mm, or -1.

    Residual (rho - r - k h) / sqrt(1 + k^2), rho the distance from the axis, h along it.  Five unknowns
    (six with slope): turn of the axis (2), shift across it (2), radius, slope.  It ends where a step gains
    less than ``enough`` of the square sum, or a tenth of it while the rms is beyond ``hopeless`` mm.
    """
    dof = 6 if sloped else 5
    jtj, jtr, row = np.empty((dof, dof)), np.empty(dof), np.empty(dof)
    e1, e2, a, p, mean, d = np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    trial, best = model.copy(), model.copy()
    mean_of(points, which, n, mean)
    cost_best = np.inf
    for _ in range(MAX_STEPS):
        a[:] = trial[3:6]
        # p: the axis point nearest the middle of the points, so that turn and shift do not mix
        h = dot(mean, a) - dot(trial[:3], a)
        add(trial[:3], h, a, p)
        trial[:3] = p
        r, k = trial[6] + trial[7] * h, trial[7]
        trial[6] = r
        across(a, e1, e2)
        jtj[:] = 0.0
        jtr[:] = 0.0
        cost = 0.0
        size = 0.0
        for i in range(n):
            add(points[which[i]], -1.0, p, d)
            h, x, y = dot(d, a), dot(d, e1), dot(d, e2)
            rho = np.sqrt(x * x + y * y) + 1e-300
            x /= rho
            y /= rho
            res = rho - r - k * h
            cost += res * res
            size = max(size, abs(h))
            lever = h + k * rho
            row[0] = -x * lever
            row[1] = -y * lever
            row[2] = -x
            row[3] = -y
            row[4] = -1.0
            if sloped:
                row[5] = -h
            for u in range(dof):
                jtr[u] -= row[u] * res
                for v in range(u + 1):
                    jtj[u, v] += row[u] * row[v]
        cost /= 1 + k * k
        if not np.isfinite(cost):
            break
        if cost >= cost_best:
            break
        gain = cost_best - cost
        cost_best = cost
        best[:] = trial
        if gain <= enough * cost + 1e-26 * n or (gain < cost / 10 and cost > n * hopeless**2):
            break
        for u in range(dof):
            jtj[u, u] = jtj[u, u] * (1 + 1e-9) + 1e-18 * n * (1.0 + size * size)
            for v in range(u):
                jtj[v, u] = jtj[u, v]
        if not solve(jtj, jtr, dof):
            break
        if jtr[0] * jtr[0] + jtr[1] * jtr[1] > 1.0:
            break
        length = np.sqrt(1.0 + jtr[0] * jtr[0] + jtr[1] * jtr[1])
        for i in range(3):
            trial[3 + i] = (a[i] + jtr[0] * e1[i] + jtr[1] * e2[i]) / length
            trial[i] = p[i] + jtr[2] * e1[i] + jtr[3] * e2[i]
        trial[6] = r + jtr[4]
        if sloped:
            trial[7] = k + jtr[5]
            if abs(trial[7]) > 50:
                break
    if not np.isfinite(cost_best):
        return -1.0
    model[:] = best
    return float(np.sqrt(cost_best / n))


@njit(cache=True, nogil=True)
def start(
    points: Floats,
    normals: Floats,
    weights: Floats,
    facets: Index,
    n_facets: int,
    centres: Floats,
    which: Index,
    n: int,
    model: Floats,
    sloped: bool,
) -> bool:
    """Guess a round from facet normals and corners.

    Cylinder: the normals lie on a great circle, the axis is the direction of least spread; the circle
    across it by Kasa's algebraic fit.  Cone: the normals lie on a small circle; the planes of the facets
    meet in the apex.
    """
    mean, d, middle = np.zeros(3), np.empty(3), np.empty(3)
    e1, e2, a = np.empty(3), np.empty(3), np.empty(3)
    total = 0.0
    for i in range(n_facets):
        add(mean, weights[facets[i]], normals[facets[i]], mean)
        total += weights[facets[i]]
    spread, m, b = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros(3)
    for i in range(n_facets):
        add(normals[facets[i]], -1.0 / total if sloped else 0.0, mean, d)
        for u in range(3):
            for v in range(3):
                spread[u, v] += weights[facets[i]] * d[u] * d[v] / total
    values, vectors = np.empty(3), np.empty((3, 3))
    main_directions(spread, values, vectors)
    if values[1] < 1e-9:  # all normals one way: no direction to be had
        return False
    for u in range(3):
        a[u] = vectors[u, 0]
    mean_of(points, which, n, middle)
    across(a, e1, e2)
    if sloped:
        for i in range(n_facets):
            f = facets[i]
            add(centres[f], -1.0, middle, d)
            reach = dot(normals[f], d)
            for u in range(3):
                b[u] += weights[f] * normals[f, u] * reach
                for v in range(3):
                    m[u, v] += weights[f] * normals[f, u] * normals[f, v]
        for u in range(3):
            m[u, u] += 1e-12 * total
        if not solve(m, b, 3):
            return False
        flip = -1.0 if dot(a, b) > 0 else 1.0  # the axis points from the apex (middle + b) to the middle
        run, rise = 0.0, 0.0
        for i in range(n):
            add(points[which[i]], -1.0, middle, d)
            add(d, -1.0, b, d)
            h = flip * dot(d, a)
            run += h
            rise += np.sqrt(max(0.0, dot(d, d) - h * h))
        if run <= 1e-9 * rise or rise <= 0 or rise > 50 * run:
            return False
        h = -flip * dot(a, b)
        model[7] = rise / run
        model[6] = model[7] * h
        for u in range(3):
            model[3 + u] = flip * a[u]
            model[u] = middle[u] + b[u] + h * flip * a[u]
    else:
        row = np.ones(3)
        for i in range(n):
            add(points[which[i]], -1.0, middle, d)
            row[0] = dot(d, e1)
            row[1] = dot(d, e2)
            z = row[0] * row[0] + row[1] * row[1]
            for u in range(3):
                b[u] += row[u] * z
                for v in range(3):
                    m[u, v] += row[u] * row[v]
        if not solve(m, b, 3):
            return False
        square = b[2] + (b[0] * b[0] + b[1] * b[1]) / 4
        if square <= 0:
            return False
        model[6] = np.sqrt(square)
        model[7] = 0.0
        for u in range(3):
            model[3 + u] = a[u]
            model[u] = middle[u] + b[0] / 2 * e1[u] + b[1] / 2 * e2[u]
    return bool(np.isfinite(model).all())


@njit(cache=True, nogil=True)
def set_side(model: Floats, normals: Floats, centres: Floats, facets: Index, n: int) -> None:
    """Set whether a round is an outside or a hole, from where its facets look."""
    vote = 0.0
    d = np.empty(3)
    for i in range(n):
        add(centres[facets[i]], -1.0, model[:3], d)
        add(d, -dot(d, model[3:6]), model[3:6], d)
        length = np.sqrt(dot(d, d))
        if length > 0:
            vote += dot(d, normals[facets[i]]) / length
    model[8] = 1.0 if vote >= 0 else -1.0


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
def distinct_corners(facets: Index, corner_start: Index, corners: Index) -> Index:
    """Distinct corners of some facets, ascending."""
    total = 0
    for f in facets:
        total += corner_start[f + 1] - corner_start[f]
    all_of, n = np.empty(total, np.int64), 0
    for f in facets:
        for c in range(corner_start[f], corner_start[f + 1]):
            all_of[n] = corners[c]
            n += 1
    return distinct(all_of)


@njit(cache=True, nogil=True)
def span_of(points: Floats, which: Index, model: Floats) -> tuple[float, float]:
    """Least and greatest height of points along a round's axis, mm from its point."""
    low, high, d = np.inf, -np.inf, np.empty(3)
    for v in which:
        add(points[v], -1.0, model[:3], d)
        h = dot(d, model[3:6])
        low, high = min(low, h), max(high, h)
    return low, high


@njit(cache=True, nogil=True)
def fit_round(
    points: Floats,
    normals: Floats,
    areas: Floats,
    centres: Floats,
    facets: Index,
    corner_start: Index,
    corners: Index,
    tolerance: float,
    best: Floats,
) -> tuple[float, float]:
    """Fit a cylinder, and where it does not serve a cone, to all corners of some facets.

    ``best`` gets the round at the middle of its length; returned are its rms and its length in mm, both -1
    where nothing fits.  The axis points up, a cone's to its wide end.
    """
    which = distinct_corners(facets, corner_start, corners)
    n = len(which)
    model = np.empty(9)
    best_rms, best_length = -1.0, -1.0
    for sloped in (False, True):
        if 0 <= best_rms <= tolerance / 5:  # nothing is left for a slope to explain
            break
        model[:] = 0.0
        if not start(points, normals, areas, facets, len(facets), centres, which, n, model, sloped):
            continue
        rms = refine(points, which, n, model, sloped, EXACT, np.inf)
        if rms < 0:
            continue
        set_side(model, normals, centres, facets, len(facets))
        low, high = span_of(points, which, model)
        # A free slope always fits a little better: it must explain what the cylinder does not.
        explains = best_rms < 0 or (
            rms < 0.5 * best_rms - tolerance / 10
            and abs(model[7]) * (high - low) > JOIN_MM / 2
            and abs(model[7]) > CONE_SLOPE
        )
        if not sloped or explains:
            best[:] = model
            best_rms, best_length = rms, high - low
            middle = (low + high) / 2
            best[6] += best[7] * middle
            add(best[:3], middle, best[3:6], best[:3])
            first, most = 0, np.abs(best[3:6]).max() - 1e-6
            while abs(best[3 + first]) <= most:
                first += 1
            if best[7] < 0 or (best[7] == 0 and best[3 + first] < 0):
                for u in range(3):
                    best[3 + u] = -best[3 + u]
                best[7] = -best[7]
    return best_rms, best_length


@njit(cache=True, nogil=True)
def rms_of(points: Floats, which: Index, n: int, model: Floats) -> float:
    """Root mean square distance of points from a round, mm."""
    total, d = 0.0, np.empty(3)
    for i in range(n):
        add(points[which[i]], -1.0, model[:3], d)
        h = dot(d, model[3:6])
        off = np.sqrt(max(0.0, dot(d, d) - h * h)) - model[6] - model[7] * h
        total += off * off
    return float(np.sqrt(total / n / (1 + model[7] * model[7])))


@njit(cache=True, nogil=True)
def bulges(normals: Floats, region: Index, n: int, model: Floats, least_sag: float, least_deg: float) -> bool:
    """Tell a round from a flat with noise: its normals turn far enough, and it rises off its chord."""
    mean = np.empty(3)
    mean_of(normals, region, n, mean)
    length = np.sqrt(dot(mean, mean))
    if length < 0.5:
        return True
    least = 1.0
    for i in range(n):
        least = min(least, dot(normals[region[i]], mean) / length)
    half = np.arccos(max(-1.0, least))
    return bool(np.degrees(2 * half) > least_deg and abs(model[6]) * (1 - np.cos(half)) > least_sag)
