"""Compiled loops: fit a round surface to points, and let it grow over facets.

A *round* is a cylinder or a cone, both as one row of nine numbers: a point ``p`` (3) on the axis, the unit
axis ``a`` (3), the radius ``r`` at ``p``, the slope ``k`` (radius gained per mm along the axis; 0 for a
cylinder) and the side (+1 outside, -1 a hole).
"""



from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.facets import Index
from housingdesk.geometry.types import Floats

MAX_STEPS = 25
COS_OFF = float(np.cos(np.radians(25.0)))  # a facet's normal against the surface it shall lie on
MAX_WIDTH = float(np.radians(41.0))  # nine facets a turn and more are round, eight are an octagon
MAX_BEND_DEG = 41.0
WIDTH_RATIO = 1.7  # strips of one cylinder are alike; a milled flat is wider


@njit(cache=True, nogil=True)
def _solve(m: Floats, b: Floats, n: int) -> bool:
    """Cholesky in place: m (n, n) symmetric, the answer in b; False where m is not positive."""
    for i in range(n):
        for j in range(i + 1):
            s = m[i, j]
            for q in range(j):
                s -= m[i, q] * m[j, q]
            if i == j:
                if s <= 1e-300:
                    return False
                m[i, i] = np.sqrt(s)
            else:
                m[i, j] = s / m[j, j]
    for i in range(n):
        s = b[i]
        for q in range(i):
            s -= m[i, q] * b[q]
        b[i] = s / m[i, i]
    for i in range(n - 1, -1, -1):
        s = b[i]
        for q in range(i + 1, n):
            s -= m[q, i] * b[q]
        b[i] = s / m[i, i]
    return True


@njit(cache=True, nogil=True)
def _across(a: Floats, e1: Floats, e2: Floats) -> None:
    """Two unit vectors at right angles to a and each other."""
    least = 0
    for i in range(1, 3):
        if abs(a[i]) < abs(a[least]):
            least = i
    e1[:] = -a[least] * a
    e1[least] += 1.0
    e1 /= np.sqrt((e1 * e1).sum())
    e2[0] = a[1] * e1[2] - a[2] * e1[1]
    e2[1] = a[2] * e1[0] - a[0] * e1[2]
    e2[2] = a[0] * e1[1] - a[1] * e1[0]


@njit(cache=True, nogil=True)
def refine(points: Floats, which: Index, n: int, model: Floats, sloped: bool) -> float:
    """Improve a round by Gauss-Newton on the distances of points, in place; the rms in mm, or -1.

    Residual (rho - r - k h) / sqrt(1 + k^2), rho the distance from the axis, h along it.  Five unknowns
    (six with slope): turn of the axis (2), shift across it (2), radius, slope.
    """
    dof = 6 if sloped else 5
    jtj, jtr, row = np.empty((dof, dof)), np.empty(dof), np.empty(dof)
    e1, e2, a, p, mean = np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.zeros(3)
    trial, best = model.copy(), model.copy()
    for i in range(n):
        mean += points[which[i]]
    mean /= n
    cost_best = np.inf
    damping = 1e-9
    for _ in range(MAX_STEPS):
        a[:] = trial[3:6]
        # p: the axis point nearest the middle of the points, so that turn and shift do not mix
        h = ((mean - trial[:3]) * a).sum()
        p[:] = trial[:3] + h * a
        trial[:3] = p
        r, k = trial[6] + trial[7] * h, trial[7]
        trial[6] = r
        _across(a, e1, e2)
        jtj[:] = 0.0
        jtr[:] = 0.0
        cost = 0.0
        size = 0.0
        for i in range(n):
            d = points[which[i]] - p
            h = d[0] * a[0] + d[1] * a[1] + d[2] * a[2]
            x = d[0] * e1[0] + d[1] * e1[1] + d[2] * e1[2]
            y = d[0] * e2[0] + d[1] * e2[1] + d[2] * e2[2]
            rho = np.sqrt(x * x + y * y) + 1e-300
            x /= rho
            y /= rho
            res = rho - r - k * h
            cost += res * res
            size = max(size, abs(h))
            lever = h + k * rho
            row[0], row[1], row[2], row[3], row[4] = -x * lever, -y * lever, -x, -y, -1.0
            if sloped:
                row[5] = -h
            for u in range(dof):
                jtr[u] -= row[u] * res
                for v in range(u + 1):
                    jtj[u, v] += row[u] * row[v]
        cost /= 1 + k * k
        if not np.isfinite(cost):
            break
        if cost < cost_best:
            gain = cost_best - cost
            cost_best = cost
            best[:] = trial
            damping *= 0.2
            if gain <= 1e-14 * cost + 1e-26 * n:
                break
        else:
            damping = max(damping * 20, 1e-6)
            if damping > 1e3:
                break
            trial[:] = best
            continue
        for u in range(dof):
            jtj[u, u] = jtj[u, u] * (1 + damping) + 1e-18 * n * (1.0 + size * size)
            for v in range(u):
                jtj[v, u] = jtj[u, v]
        if not _solve(jtj, jtr, dof):
            break
        if jtr[0] * jtr[0] + jtr[1] * jtr[1] > 1.0:
            break
        trial[3:6] = a + jtr[0] * e1 + jtr[1] * e2
        trial[3:6] /= np.sqrt((trial[3:6] * trial[3:6]).sum())
        trial[:3] = p + jtr[2] * e1 + jtr[3] * e2
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
    mean = np.zeros(3)
    total = 0.0
    for i in range(n_facets):
        mean += weights[facets[i]] * normals[facets[i]]
        total += weights[facets[i]]
    mean /= total
    spread = np.zeros((3, 3))
    for i in range(n_facets):
        d = normals[facets[i]] - mean if sloped else normals[facets[i]]
        for u in range(3):
            for v in range(3):
                spread[u, v] += weights[facets[i]] * d[u] * d[v] / total
    values, vectors = np.linalg.eigh(spread)
    if values[1] < 1e-9:  # all normals one way: no direction to be had
        return False
    a = vectors[:, 0].copy()
    middle = np.zeros(3)
    for i in range(n):
        middle += points[which[i]]
    middle /= n
    e1, e2 = np.empty(3), np.empty(3)
    _across(a, e1, e2)
    m, b = np.zeros((3, 3)), np.zeros(3)
    if sloped:
        for i in range(n_facets):
            f = facets[i]
            reach = (normals[f] * (centres[f] - middle)).sum()
            for u in range(3):
                b[u] += weights[f] * normals[f, u] * reach
                for v in range(3):
                    m[u, v] += weights[f] * normals[f, u] * normals[f, v]
        for u in range(3):
            m[u, u] += 1e-12 * total
        if not _solve(m, b, 3):
            return False
        apex = middle + b
        if (a * (middle - apex)).sum() < 0:
            a = -a
        run, rise = 0.0, 0.0
        for i in range(n):
            d = points[which[i]] - apex
            h = (d * a).sum()
            run += h
            rise += np.sqrt(max(0.0, (d * d).sum() - h * h))
        if run <= 1e-9 * rise or rise <= 0 or rise > 50 * run:
            return False
        h = (a * (middle - apex)).sum()
        model[:3] = apex + h * a
        model[7] = rise / run
        model[6] = model[7] * h
    else:
        for i in range(n):
            d = points[which[i]] - middle
            x, y = (d * e1).sum(), (d * e2).sum()
            row = (x, y, 1.0)
            z = x * x + y * y
            for u in range(3):
                b[u] += row[u] * z
                for v in range(3):
                    m[u, v] += row[u] * row[v]
        if not _solve(m, b, 3):
            return False
        square = b[2] + (b[0] * b[0] + b[1] * b[1]) / 4
        if square <= 0:
            return False
        model[:3] = middle + b[0] / 2 * e1 + b[1] / 2 * e2
        model[6] = np.sqrt(square)
        model[7] = 0.0
    model[3:6] = a
    return bool(np.isfinite(model).all())


@njit(cache=True, nogil=True)
def _side(model: Floats, normals: Floats, centres: Floats, facets: Index, n: int) -> None:
    vote = 0.0
    for i in range(n):
        d = centres[facets[i]] - model[:3]
        d = d - (d * model[3:6]).sum() * model[3:6]
        length = np.sqrt((d * d).sum())
        if length > 0:
            vote += (d * normals[facets[i]]).sum() / length
    model[8] = 1.0 if vote >= 0 else -1.0


@njit(cache=True, nogil=True)
def _width(
    f: int,
    model: Floats,
    points: Floats,
    normals: Floats,
    corner_start: Index,
    corners: Index,
    tolerance: float,
    cos_off: float,
) -> float:
    """Angle a facet takes of the turn in radians, or -1 where it does not lie on the round."""
    first, last = corner_start[f], corner_start[f + 1]
    if last - first < 3:
        return -1.0
    a, k = model[3:6], model[7]
    scale = 1.0 / np.sqrt(1 + k * k)
    ux, uy, uz = 0.0, 0.0, 0.0
    for pass_ in range(2):
        least = 1.0
        for c in range(first, last):
            v = corners[c]
            dx, dy, dz = points[v, 0] - model[0], points[v, 1] - model[1], points[v, 2] - model[2]
            h = dx * a[0] + dy * a[1] + dz * a[2]
            dx, dy, dz = dx - h * a[0], dy - h * a[1], dz - h * a[2]
            rho = np.sqrt(dx * dx + dy * dy + dz * dz)
            if pass_ == 0:
                if abs(rho - model[6] - k * h) * scale > tolerance or model[6] + k * h < -tolerance:
                    return -1.0
                if rho > tolerance:
                    ux, uy, uz = ux + dx / rho, uy + dy / rho, uz + dz / rho
            elif rho > tolerance:
                least = min(least, (dx * ux + dy * uy + dz * uz) / rho)
        if pass_ == 0:
            length = np.sqrt(ux * ux + uy * uy + uz * uz)
            if length < 0.3:
                return -1.0
            ux, uy, uz = ux / length, uy / length, uz / length
            side = model[8] * scale
            dot = normals[f, 0] * (ux - k * a[0]) + normals[f, 1] * (uy - k * a[1])
            dot += normals[f, 2] * (uz - k * a[2])
            if dot * side < cos_off:
                return -1.0
    return float(2 * np.arccos(max(-1.0, least)))


@njit(cache=True, nogil=True)
def _corners_of(
    facets: Index, n: int, corner_start: Index, corners: Index, seen: Index, stamp: int, out: Index
) -> int:
    """Collect the distinct corners of facets."""
    count = 0
    for i in range(n):
        for c in range(corner_start[facets[i]], corner_start[facets[i] + 1]):
            v = corners[c]
            if seen[v] != stamp:
                seen[v] = stamp
                out[count] = v
                count += 1
    return count


@njit(cache=True, nogil=True)
def find_rounds(
    points: Floats,
    normals: Floats,
    areas: Floats,
    centres: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    near_deg: Floats,
    seeds: Index,
    claimed: Index,
    exact_or_noise: float,
    share: float,
    least_facets: int,
    least_corners: int,
    least_sag: float,
    least_deg: float,
    max_radius: float,
    hoods: Index,
    first_number: int,
) -> int:
    """Grow rounds from seeds over smooth edges; ``claimed`` (facets,) gets the number of each.

    From every seed (a pair of adjacent facets, (s, 2)) neighbourhoods of growing size are tried, first as
    a cylinder, then as a cone; what fits is grown to all adjacent facets within tolerance and fitted
    again, until it no longer grows.  On the surface is a corner within ``exact_or_noise`` mm, and within
    ``share`` of the radius.  The rounds are numbered from ``first_number``; the next is returned.
    """
    n_facets, n_points = len(areas), len(points)
    seen_p, seen_f = np.zeros(n_points, np.int64), np.zeros(n_facets, np.int64)
    dead = np.zeros(n_facets, np.uint8)
    which = np.empty(n_points, np.int64)
    region, kept = np.empty(n_facets, np.int64), np.empty(n_facets, np.int64)
    hood = np.empty(hoods.max() + 1, np.int64)
    model = np.zeros(9)
    stamp_p, stamp_f, number = 0, 0, first_number
    for s in range(len(seeds)):
        f, g = seeds[s, 0], seeds[s, 1]
        if claimed[f] >= 0 or claimed[g] >= 0 or (dead[f] and dead[g]):
            continue
        found = 0
        for size in hoods:
            stamp_f += 1
            hood[0], hood[1], n_hood = f, g, 2
            seen_f[f], seen_f[g] = stamp_f, stamp_f
            at = 0
            while at < n_hood and n_hood < size:
                for e in range(near_start[hood[at]], near_start[hood[at] + 1]):
                    q = near[e]
                    if n_hood < size and seen_f[q] != stamp_f and claimed[q] < 0 and near_deg[e] < MAX_BEND_DEG:
                        if (normals[q] * normals[f]).sum() > 0.17:
                            seen_f[q] = stamp_f
                            hood[n_hood] = q
                            n_hood += 1
                at += 1
            stamp_p += 1
            n_points_hood = _corners_of(hood, n_hood, corner_start, corners, seen_p, stamp_p, which)
            if n_points_hood < 5:
                continue
            best_area = 0.0
            for sloped in (False, True):
                model[:] = 0.0
                if not start(
                    points, normals, areas, hood, n_hood, centres, which, n_points_hood, model, sloped
                ):
                    continue
                rms = 0.0
                if n_hood > 2 or sloped:
                    rms = refine(points, which, n_points_hood, model, sloped and n_points_hood > 6)
                    if rms < 0 or rms > exact_or_noise:
                        continue
                if abs(model[6]) > max_radius:
                    continue
                tolerance = min(exact_or_noise, share * abs(model[6]))
                if rms > tolerance:
                    continue
                n_region, n_which, area = 0, 0, 0.0
                limit = 0.0
                _side(model, normals, centres, hood, n_hood)
                for i in range(n_hood):
                    w = _width(hood[i], model, points, normals, corner_start, corners, tolerance, COS_OFF)
                    limit = max(limit, w)
                limit = min(MAX_WIDTH, limit * WIDTH_RATIO + 1e-4)
                for _ in range(12):
                    before = n_region
                    _side(model, normals, centres, hood, n_hood)
                    stamp_f += 1
                    n_region, area, turn = 0, 0.0, 0.0
                    for i in range(2):
                        w = _width(hood[i], model, points, normals, corner_start, corners, tolerance, COS_OFF)
                        if 0 <= w <= limit:
                            region[n_region] = hood[i]
                            n_region += 1
                            seen_f[hood[i]] = stamp_f
                            area += areas[hood[i]]
                            turn += w * areas[hood[i]]
                    at = 0
                    while at < n_region:
                        for e in range(near_start[region[at]], near_start[region[at] + 1]):
                            q = near[e]
                            if seen_f[q] == stamp_f or claimed[q] >= 0 or near_deg[e] > MAX_BEND_DEG:
                                continue
                            seen_f[q] = stamp_f
                            w = _width(q, model, points, normals, corner_start, corners, tolerance, COS_OFF)
                            if 0 <= w <= limit:
                                region[n_region] = q
                                n_region += 1
                                area += areas[q]
                                turn += w * areas[q]
                        at += 1
                    if n_region < 2:
                        break
                    stamp_p += 1
                    n_which = _corners_of(region, n_region, corner_start, corners, seen_p, stamp_p, which)
                    limit = min(MAX_WIDTH, WIDTH_RATIO * turn / area + 1e-4)
                    if n_region <= before or n_which < least_corners:
                        break
                    if refine(points, which, n_which, model, sloped) < 0 or abs(model[6]) > max_radius:
                        n_region = 0
                        break
                if n_region < least_facets or n_which < least_corners:
                    # `which` was overwritten: the neighbourhood's own corners again for the next kind
                    stamp_p += 1
                    n_points_hood = _corners_of(hood, n_hood, corner_start, corners, seen_p, stamp_p, which)
                    continue
                if area > 1.2 * best_area and _bulges(normals, region, n_region, model, least_sag, least_deg):
                    best_area = area
                    found = n_region
                    kept[:n_region] = region[:n_region]
                stamp_p += 1
                n_points_hood = _corners_of(hood, n_hood, corner_start, corners, seen_p, stamp_p, which)
            if found:
                break
        if found:
            for i in range(found):
                claimed[kept[i]] = number
            number += 1
        else:
            dead[f] = 1
            dead[g] = 1
    return number


@njit(cache=True, nogil=True)
def _bulges(
    normals: Floats, region: Index, n: int, model: Floats, least_sag: float, least_deg: float
) -> bool:
    """Tell a round from a flat with noise: its normals turn far enough, and it rises off its chord."""
    mean = np.zeros(3)
    for i in range(n):
        mean += normals[region[i]]
    length = np.sqrt((mean * mean).sum())
    if length < 0.5 * n:
        return True
    mean /= length
    least = 1.0
    for i in range(n):
        least = min(least, (normals[region[i]] * mean).sum())
    half = np.arccos(max(-1.0, least))
    return bool(np.degrees(2 * half) > least_deg and abs(model[6]) * (1 - np.cos(half)) > least_sag)


@njit(cache=True, nogil=True)
def find_flats(
    points: Floats,
    normals: Floats,
    areas: Floats,
    corner_start: Index,
    corners: Index,
    near_start: Index,
    near: Index,
    seeds: Index,
    claimed: Index,
    tolerance: float,
    cos_off: float,
    least_facets: int,
    hood_size: int,
    first_number: int,
) -> int:
    """Grow flats with noise from seed facets (s,); numbers go into ``claimed`` as in `find_rounds`."""
    n_facets = len(areas)
    seen_f, seen_p = np.zeros(n_facets, np.int64), np.zeros(len(points), np.int64)
    dead = np.zeros(n_facets, np.uint8)
    region, which = np.empty(n_facets, np.int64), np.empty(len(points), np.int64)
    stamp, stamp_p, number = 0, 0, first_number
    for f in seeds:
        if claimed[f] >= 0 or dead[f]:
            continue
        n_region, before = 1, 0
        region[0] = f
        normal, at_point = normals[f].copy(), points[corners[corner_start[f]]].copy()
        for turn in range(8):
            stamp += 1
            before, n_region = n_region, 1
            region[0] = f
            seen_f[f] = stamp
            at = 0
            while at < n_region:
                if turn == 0 and n_region >= hood_size:
                    break
                for e in range(near_start[region[at]], near_start[region[at] + 1]):
                    q = near[e]
                    if seen_f[q] == stamp or claimed[q] >= 0:
                        continue
                    seen_f[q] = stamp
                    if (normals[q] * normal).sum() < cos_off:
                        continue
                    near_by = True
                    if turn > 0:
                        for c in range(corner_start[q], corner_start[q + 1]):
                            near_by &= abs(((points[corners[c]] - at_point) * normal).sum()) <= tolerance
                    if near_by:
                        region[n_region] = q
                        n_region += 1
                at += 1
            if n_region < 3 or (turn > 1 and n_region <= before):
                break
            stamp_p += 1
            n = _corners_of(region, n_region, corner_start, corners, seen_p, stamp_p, which)
            at_point[:] = 0.0
            for i in range(n):
                at_point += points[which[i]]
            at_point /= n
            spread = np.zeros((3, 3))
            for i in range(n):
                d = points[which[i]] - at_point
                for u in range(3):
                    for v in range(3):
                        spread[u, v] += d[u] * d[v]
            _, vectors = np.linalg.eigh(spread)
            side = (vectors[:, 0] * normal).sum()
            for u in range(3):
                normal[u] = vectors[u, 0] if side >= 0 else -vectors[u, 0]
        if n_region >= least_facets:
            for i in range(n_region):
                claimed[region[i]] = number
            number += 1
        else:
            for i in range(min(n_region, hood_size)):
                dead[region[i]] = 1
    return number
